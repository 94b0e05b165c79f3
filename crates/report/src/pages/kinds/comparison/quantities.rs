//! Every quantity before and after, with the difference and what it can tell.

use tangmark_core::{
    record::{Dimensions, Quantity, Record},
    units::Unit,
};
use tangmark_measure::{
    Estimate,
    decision::{Against, against_estimate},
    print::fixed,
};

use super::super::super::{dimensions, words};
use crate::{
    Speech,
    drawing::stations::{Match, datums_differ, matched, measures},
    layout::{Cell, Flow, Table, Width, style},
    speech::{Pair, pair},
};

/// A quantity of both records, or of one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row<'a> {
    pub(super) name: Pair,
    pub(super) before: Option<&'a Quantity>,
    pub(super) after: Option<&'a Quantity>,
    /// Whether both were measured from the same place, as far as it matters.
    comparable: bool,
}

impl Row<'_> {
    /// After less before; nothing where one is missing, or units or datums differ.
    fn difference(&self) -> Option<Estimate> {
        let (before, after) = self.both()?;
        Some(Estimate::from(after) - Estimate::from(before))
    }

    fn both(&self) -> Option<(&Quantity, &Quantity)> {
        let (before, after) = (self.before?, self.after?);
        (self.comparable && before.unit == after.unit).then_some((before, after))
    }

    /// Where the second value lies against the first one.
    fn against(&self) -> Option<Against> {
        let (before, after) = self.both()?;
        Some(against_estimate(
            Estimate::from(after),
            Estimate::from(before),
        ))
    }
}

/// An estimate with sign and expanded uncertainty: `−2.20 ± 0.34 g`. `digits` after the full stop are the most it keeps.
pub(in super::super) fn stated(value: Estimate, digits: usize, unit: Unit) -> String {
    let decimals = (
        fixed(value.value, digits),
        fixed(value.standard_uncertainty, digits + 3),
    );
    let (Ok(shown), Ok(standard)) = decimals else {
        return words::NOTHING.to_owned();
    };
    let text = words::stated(shown, standard, unit);
    // A plus says that the sign was looked at.
    if shown.to_f64() > 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

fn digits(quantity: &Quantity) -> usize {
    quantity.value.digits().into()
}

/// Whether the value of a quantity hangs on where lengths along the blade start.
fn starts_at_datum(dimensions: &Dimensions, quantity: &Quantity) -> bool {
    [
        &dimensions.blade_length,
        &dimensions.curvature,
        &dimensions.curvature_at,
        &dimensions.tang_length,
    ]
    .into_iter()
    .filter_map(|length| length.as_deref())
    .any(|length| std::ptr::eq(length, quantity))
}

/// Every named quantity of either record, in the order of the list.
pub(super) fn named<'a>(before: &'a Record, after: &'a Record) -> Vec<Row<'a>> {
    let unlike = datums_differ(before, after);
    let list = |record: &'a Record| {
        record.dimensions.iter().flat_map(move |dimensions| {
            dimensions::named(dimensions)
                .into_iter()
                .map(move |(name, quantity)| Row {
                    name,
                    before: Some(quantity),
                    after: None,
                    comparable: !(unlike && starts_at_datum(dimensions, quantity)),
                })
        })
    };
    let mut rows: Vec<Row<'a>> = list(before).collect();
    for second in list(after) {
        match rows.iter_mut().find(|row| row.name == second.name) {
            Some(row) => row.after = second.before,
            None => rows.push(Row {
                before: None,
                after: second.before,
                ..second
            }),
        }
    }
    rows
}

/// A station of both records or of one: its place, in the first record where it has it, and the measures.
pub(super) struct StationPair<'a> {
    pub(super) at: &'a Quantity,
    pub(super) rows: Vec<Row<'a>>,
}

/// Stations of the first record with those of the second at the same place, then those of the second alone; as far as
/// anything was measured at them.
pub(super) fn stations<'a>(before: &'a Record, after: &'a Record) -> Vec<StationPair<'a>> {
    matched(before, after)
        .into_iter()
        .filter_map(|one| {
            let station = one.before.or(one.after)?;
            let rows = station_rows(one);
            (!rows.is_empty()).then_some(StationPair {
                at: &station.at,
                rows,
            })
        })
        .collect()
}

fn station_rows(one: Match<'_>) -> Vec<Row<'_>> {
    measures()
        .into_iter()
        .map(|(name, measure)| Row {
            name,
            before: one.before.and_then(measure).map(|length| &**length),
            after: one.after.and_then(measure).map(|length| &**length),
            comparable: true,
        })
        .filter(|row| row.before.is_some() || row.after.is_some())
        .collect()
}

/// Whether anything was measured from the datum of a record: stations, or a quantity that hangs on it.
fn measured_from_datum(record: &Record) -> bool {
    record.dimensions.as_ref().is_some_and(|dimensions| {
        !dimensions.stations.is_empty()
            || dimensions::named(dimensions)
                .into_iter()
                .any(|(_, quantity)| starts_at_datum(dimensions, quantity))
    })
}

/// Says of records with different datums what is not compared.
fn not_compared(before: &Record, after: &Record) -> Option<Pair> {
    let differ = datums_differ(before, after);
    if !differ || !(measured_from_datum(before) || measured_from_datum(after)) {
        return None;
    }
    let of = |record: &Record| Some(words::gloss(record.dimensions.as_ref()?.datum));
    let (first, second) = (of(before)?, of(after)?);
    let (then, now) = (before.sequence, after.sequence);
    Some(pair(
        format!(
            "Stations, and lengths that start at the datum, are not compared: record {then} measures from: {}; record {now} from: {}.",
            first.en, second.en
        ),
        format!(
            "測点、および起点から測る長さは比較しない。起点が異なる（記録 {then}：{}、記録 {now}：{}）。",
            first.ja, second.ja
        ),
    ))
}

/// What a difference says, in words.
fn verdict(against: Option<Against>) -> Pair {
    match against {
        Some(Against::Below) => pair("less", "減少"),
        Some(Against::Above) => pair("more", "増加"),
        Some(Against::Undecided) => pair("cannot be told", "判別できず"),
        None => pair("no comparison", "比較できず"),
    }
}

/// Fewest equal quantities that are called taken over: one or two can be read the same twice.
const FEWEST_TAKEN_OVER: usize = 3;

/// Whether every quantity of both records is the same, reading by reading: so they look when nothing was measured again.
fn taken_over<'r>(rows: impl Iterator<Item = &'r Row<'r>>) -> bool {
    let mut both = 0;
    // How it was measured is left out: what was taken over from another workshop says so there.
    let all_equal = rows.filter_map(Row::both).all(|(before, after)| {
        both += 1;
        before.as_read == after.as_read
            && before.value == after.value
            && before.unit == after.unit
            && before.standard_uncertainty == after.standard_uncertainty
    });
    all_equal && both >= FEWEST_TAKEN_OVER
}

/// In one sentence: how many quantities changed by more than their uncertainty.
pub(super) fn summary(before: &Record, after: &Record) -> Pair {
    let rows = named(before, after);
    let stations = stations(before, after);
    let compared: Vec<Against> = rows
        .iter()
        .chain(stations.iter().flat_map(|station| &station.rows))
        .filter_map(Row::against)
        .collect();
    let told = compared
        .iter()
        .filter(|against| **against != Against::Undecided)
        .count();
    let all = compared.len();
    let left_out = rows
        .iter()
        .any(|row| row.before.is_some() && row.after.is_some() && row.both().is_none());
    if all == 0 {
        return if left_out {
            pair(
                "No quantity that was measured both times can be compared.",
                "二度とも計測した項目のうち、比較できるものはない。",
            )
        } else {
            pair(
                "No quantity was measured both times.",
                "二度とも計測した項目はない。",
            )
        };
    }
    if taken_over(
        rows.iter()
            .chain(stations.iter().flat_map(|station| &station.rows)),
    ) {
        return pair(
            format!(
                "All {all} quantities of both records are equal to the last digit: taken over, not measured again. They do not tell whether anything changed."
            ),
            format!(
                "両記録に共通する {all} 項目は末位まで同じ値。引き写しであり、再計測ではない。変化の有無は判別できない。"
            ),
        );
    }
    let quantities = if all == 1 { "quantity" } else { "quantities" };
    let (that, which) = if left_out {
        (" that can be compared", "比較できる ")
    } else {
        ("", " ")
    };
    let differ = if told == 1 { "differs" } else { "differ" };
    pair(
        format!(
            "Of {all} {quantities} measured both times{that} {told} {differ} by more than its uncertainty (k = 2)."
        ),
        format!(
            "二度とも計測した{which}{all} 項目のうち、測定で判別できる差（k = 2）があるものは {told} 項目。"
        ),
    )
}

/// Names of what was measured the first time only.
pub(super) fn not_measured_again(before: &Record, after: &Record) -> Vec<Pair> {
    let mut names: Vec<Pair> = named(before, after)
        .into_iter()
        .filter(|row| row.after.is_none())
        .map(|row| row.name)
        .collect();
    for station in stations(before, after) {
        let missing: Vec<Pair> = station
            .rows
            .into_iter()
            .filter(|row| row.after.is_none())
            .map(|row| row.name)
            .collect();
        if missing.is_empty() {
            continue;
        }
        let at = words::quantity(station.at);
        let list = |of: fn(&Pair) -> &str, comma: &str| {
            missing.iter().map(of).collect::<Vec<_>>().join(comma)
        };
        names.push(pair(
            format!("{} at {at}", list(|name| &name.en, ", ")),
            format!("{at} の{}", list(|name| &name.ja, "、")),
        ));
    }
    if datums_differ(before, after) && measured_from_datum(before) {
        let number = before.sequence;
        names.push(pair(
            format!("what starts at the datum of record {number}"),
            format!("記録 {number} の起点による計測値"),
        ));
    }
    names
}

/// Sets both tables.
pub(super) fn set(flow: &mut Flow, before: &Record, after: &Record) {
    let rows = named(before, after);
    let stations = stations(before, after);
    let not_compared = not_compared(before, after);
    words::heading(
        flow,
        &pair("Quantities before and after", "計測値の比較"),
        24.0,
    );
    if rows.is_empty() && stations.is_empty() && not_compared.is_none() {
        flow.say(
            &pair(
                "No measurement is in either record.",
                "どちらの記録にも計測値はない。",
            ),
            style::BODY,
        );
        return;
    }
    flow.say(
        &pair(
            "± gives the expanded uncertainty for k = 2. That of a difference combines both measurements, taken as independent. Where a difference is no larger than its uncertainty, the measurement cannot tell whether anything changed. A check that knows which errors two readings share weighs them otherwise and can judge otherwise.",
            "± は k = 2 の拡張不確かさ。差の不確かさは、二つの計測を独立として合成した。差がその不確かさを超えないとき、変化の有無は測定では判別できない。読みに共通する誤差を知る検査は、別の判断をすることがある。",
        ),
        style::NOTE,
    );
    flow.y += 0.8;
    if !rows.is_empty() {
        table(flow, &rows);
    }
    if let Some(said) = not_compared {
        flow.gap(1.4);
        flow.say(&said, style::BODY);
    }
    if !stations.is_empty() {
        let title = pair("At the stations", "測点ごとの比較");
        words::subheading(flow, &title, 16.0);
        station_table(flow, &stations);
    }
}

fn value(quantity: Option<&Quantity>) -> Cell {
    quantity.map_or_else(
        || Cell::plain(words::NOTHING),
        |quantity| Cell::figures(words::bare(quantity)),
    )
}

fn difference(row: &Row<'_>) -> Cell {
    let Some(difference) = row.difference() else {
        return Cell::plain(words::NOTHING);
    };
    let most = [row.before, row.after]
        .into_iter()
        .flatten()
        .map(digits)
        .max()
        .unwrap_or(0);
    Cell::figures(stated(difference, most, Unit::One))
}

fn judged(speech: Speech, row: &Row<'_>) -> Cell {
    let against = row.against();
    let said = match (row.before, row.after) {
        (Some(_), None) => pair("not measured again", "再計測せず"),
        (None, Some(_)) => pair("not measured before", "前回計測なし"),
        _ => verdict(against),
    };
    let spans = speech.label(&said);
    let told = matches!(against, Some(Against::Below | Against::Above));
    Cell(if told { words::bold(spans) } else { spans })
}

fn table(flow: &mut Flow, rows: &[Row<'_>]) {
    let speech = flow.speech;
    let numbers = |title: &Pair| words::numbers(speech, title, Width::Fixed(24.0));
    let mut table = Table::new(vec![
        words::column(speech, &pair("measure", "項目"), Width::Share(1.0)),
        numbers(&pair("before", "前")),
        numbers(&pair("after", "後")),
        numbers(&pair("difference", "差")),
        words::column(speech, &pair("unit", "単位"), Width::Fixed(8.0)),
        words::column(speech, &pair("told apart", "判別"), Width::Fixed(25.0)),
    ]);
    for row in rows {
        let unit = row
            .before
            .or(row.after)
            .map_or("", |quantity| words::unit(quantity.unit));
        table.rows.push(vec![
            Cell::plain(words::two_lines(speech, &row.name)),
            value(row.before),
            value(row.after),
            difference(row),
            Cell::plain(unit),
            judged(speech, row),
        ]);
    }
    table.row_headers = table.rows.len() > 1;
    flow.table(&table);
}

fn station_table(flow: &mut Flow, stations: &[StationPair<'_>]) {
    let speech = flow.speech;
    let numbers = |title: &Pair| words::numbers(speech, title, Width::Fixed(24.0));
    let mut table = Table::new(vec![
        numbers(&pair("from datum, mm", "起点から mm")),
        words::column(speech, &pair("measure, mm", "項目 mm"), Width::Share(1.0)),
        numbers(&pair("before", "前")),
        numbers(&pair("after", "後")),
        numbers(&pair("difference", "差")),
        words::column(speech, &pair("told apart", "判別"), Width::Fixed(25.0)),
    ]);
    for station in stations {
        // The place stands in each row: a page may turn between them.
        for row in &station.rows {
            table.rows.push(vec![
                Cell::figures(words::bare(station.at)),
                Cell::plain(words::two_lines(speech, &row.name)),
                value(row.before),
                value(row.after),
                difference(row),
                judged(speech, row),
            ]);
        }
    }
    flow.table(&table);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::{Value, json};
    use tangmark_core::units::Dimension;

    use super::*;
    use crate::{PageSize, layout::page_format::Frame, sample};

    fn quantity(value: &str, standard: &str, unit: &str) -> Value {
        json!({ "value": value, "unit": unit, "standard_uncertainty": standard, "uncertainty_from": "instrument", "as_read": [{ "text": format!("{value} {unit}"), "unit": unit }] })
    }

    fn records() -> (Record, Record) {
        let station = |at: &str, thickness: &str| json!({ "at": quantity(at, "0.29", "mm"), "ridge_thickness": quantity(thickness, "0.018", "mm") });
        let mut before = sample::bare();
        before["dimensions"] = json!({
            "datum": "back_notch",
            "mass": quantity("748.30", "0.12", "g"), "mass_state": "bare",
            "blade_length": quantity("698.17", "0.20", "mm"),
            "tang_length": quantity("205.00", "0.31", "mm"),
            "stations": [station("0.0", "6.980"), station("100.0", "6.700")],
        });
        let mut after = sample::bare();
        after["dimensions"] = json!({
            "datum": "back_notch",
            "mass": quantity("742.60", "0.12", "g"), "mass_state": "bare",
            "blade_length": quantity("698.00", "0.20", "mm"),
            "curvature": quantity("16.50", "0.12", "mm"),
            "stations": [station("0.4", "6.950"), station("150.0", "6.600")],
        });
        (
            serde_json::from_value(before).unwrap(),
            serde_json::from_value(after).unwrap(),
        )
    }

    #[test]
    fn differences_are_those_of_a_calculation_by_hand() {
        let (before, after) = records();
        let rows = named(&before, &after);
        let row = |name: &str| {
            rows.iter()
                .find(|row| row.name.en.starts_with(name))
                .unwrap()
        };
        let cell = |row: &Row<'_>| difference(row).0[0].text.clone();
        // 742.60 − 748.30 = −5.70 g; u = 0.12·√2 = 0.1697 g, U = 0.339 g.
        let mass = row("mass");
        assert_eq!(cell(mass), "−5.70\u{a0}±\u{a0}0.34");
        assert_eq!(mass.against(), Some(Against::Below));
        // 698.00 − 698.17 = −0.17 mm; U = 2·0.20·√2 = 0.566 mm: cannot be told.
        let length = row("blade length");
        assert_eq!(cell(length), "−0.17\u{a0}±\u{a0}0.57");
        assert_eq!(length.against(), Some(Against::Undecided));
        assert_eq!(row("length of the tang").against(), None);
        assert!(row("curvature").before.is_none());
    }

    #[test]
    fn stations_are_matched_by_their_place() {
        let (before, after) = records();
        let pairs = stations(&before, &after);
        // 0.4 mm apart with U = 2·0.29·√2 = 0.82 mm: the same place. 6.950 − 6.980 = −0.030 mm, U = 2·0.018·√2 = 0.0509 mm.
        let row = &pairs[0].rows[0];
        assert_eq!(difference(row).0[0].text, "−0.030\u{a0}±\u{a0}0.051");
        assert_eq!(row.against(), Some(Against::Undecided));
        // 100 mm was not measured again: 150 mm is another place, which was not measured before.
        assert!(pairs[1].rows[0].after.is_none());
        assert_eq!(pairs.len(), 3);
        assert!((pairs[2].at.to_f64() - 150.0).abs() < 1e-9);
        assert!(pairs[2].rows[0].before.is_none() && pairs[2].rows[0].after.is_some());
        let missing: Vec<String> = not_measured_again(&before, &after)
            .into_iter()
            .map(|name| name.en.into_owned())
            .collect();
        assert_eq!(missing.len(), 2, "{missing:?}");
        assert!(missing[0].starts_with("length of the tang"));
        assert!(missing[1].starts_with("thickness at the ridge at 100.0"));
    }

    #[test]
    fn what_was_measured_the_second_time_only_is_shown() {
        let (_, after) = records();
        let bare: Record = serde_json::from_value(sample::bare()).unwrap();
        let mut stations_only = after;
        let dimensions = stations_only.dimensions.as_mut().unwrap();
        (
            dimensions.mass,
            dimensions.blade_length,
            dimensions.curvature,
        ) = (None, None, None);
        assert!(named(&bare, &stations_only).is_empty());
        let pairs = stations(&bare, &stations_only);
        let said: Vec<String> = pairs
            .iter()
            .flat_map(|one| &one.rows)
            .map(|row| judged(Speech::English, row).0[0].text.clone())
            .collect();
        assert_eq!(said, ["not measured before"; 2]);
        let shown = shown(&bare, &stations_only);
        assert!(!shown.contains("No measurement"), "{shown}");
        assert!(shown.contains("not measured before"), "{shown}");
    }

    /// Words of the section on a page.
    fn shown(before: &Record, after: &Record) -> String {
        let mut flow = Flow::new(Frame::of(PageSize::A4), Speech::English);
        set(&mut flow, before, after);
        crate::pages::tests::words(&flow.scene)
    }

    #[test]
    fn places_from_different_datums_are_not_compared() {
        let (before, mut after) = records();
        after.dimensions.as_mut().unwrap().datum = tangmark_core::record::Datum::Shoulder;
        assert!(stations(&before, &after).is_empty());
        let rows = named(&before, &after);
        let row = |name: &str| {
            let found = rows.iter().find(|row| row.name.en.starts_with(name));
            let row = found.unwrap();
            let judged = judged(Speech::English, row).0[0].text.clone();
            (judged, difference(row).0[0].text.clone())
        };
        assert_eq!(
            row("blade length"),
            ("no comparison".to_owned(), words::NOTHING.to_owned())
        );
        assert_eq!(row("length of the tang").0, "not measured again");
        // What hangs on no datum is compared as ever.
        assert_eq!(row("mass").0, "less");
        assert_eq!(
            not_compared(&before, &after).unwrap().en,
            "Stations, and lengths that start at the datum, are not compared: record 1 measures from: notch of the back, at the tang; record 1 from: shoulder of a blade without notches."
        );
        assert_eq!(
            summary(&before, &after).en,
            "Of 1 quantity measured both times that can be compared 1 differs by more than its uncertainty (k = 2)."
        );
        let missing = not_measured_again(&before, &after);
        assert_eq!(
            missing.last().unwrap().en,
            "what starts at the datum of record 1"
        );
        let said = shown(&before, &after);
        assert!(said.contains("are not compared: record 1"), "{said}");
        assert!(!said.contains("At the stations"), "{said}");
        let (before, after) = records();
        assert!(not_compared(&before, &after).is_none());
    }

    #[test]
    fn the_summary_counts_what_can_be_told() {
        let (before, after) = records();
        // Mass, blade length and one station measured both times; only the mass can be told.
        assert_eq!(
            summary(&before, &after).en,
            "Of 3 quantities measured both times 1 differs by more than its uncertainty (k = 2)."
        );
        let bare: Record = serde_json::from_value(sample::bare()).unwrap();
        assert_eq!(
            summary(&bare, &bare).en,
            "No quantity was measured both times."
        );
    }

    #[test]
    fn numbers_that_nobody_measured_again_are_no_second_measurement() {
        let (before, _) = records();
        // Mass, two lengths and two stations.
        let said = summary(&before, &before).en;
        assert_eq!(
            said,
            "All 5 quantities of both records are equal to the last digit: taken over, not measured again. They do not tell whether anything changed."
        );
        // As a sheet made of a received record has it.
        let mut received = before.clone();
        let mass = received.dimensions.as_mut().unwrap().mass.as_mut().unwrap();
        mass.0.method = Some("as record 1 has it".to_owned());
        assert_eq!(summary(&before, &received).en, said);
        // One reading more is a measurement, though the value is the same.
        let mut again = before.clone();
        let mass = again.dimensions.as_mut().unwrap().mass.as_mut().unwrap();
        let reading = mass.0.as_read[0].clone();
        mass.0.as_read.push(reading);
        assert!(summary(&before, &again).en.starts_with("Of 5 quantities"));
    }

    #[test]
    fn another_state_of_the_mass_is_another_quantity() {
        let (before, _) = records();
        let mut mounted = before.clone();
        let dimensions = mounted.dimensions.as_mut().unwrap();
        dimensions.mass_state = Some(tangmark_core::record::MassState::Mounted);
        let rows = named(&before, &mounted);
        let masses = rows.iter().filter(|row| row.name.en.starts_with("mass"));
        assert_eq!(
            masses
                .map(|row| (row.before.is_some(), row.after.is_some()))
                .collect::<Vec<_>>(),
            [(true, false), (false, true)]
        );
    }

    #[test]
    fn a_gain_has_its_sign() {
        let gain = Estimate::new(0.25, 0.02);
        assert_eq!(stated(gain, 2, Unit::Gram), "+0.25\u{a0}±\u{a0}0.04\u{a0}g");
        assert_eq!(
            stated(Estimate::new(f64::NAN, 0.1), 2, Unit::Gram),
            words::NOTHING
        );
        let read = sample::read("5 mm", Dimension::Length);
        let read: Quantity = serde_json::from_value(read).unwrap();
        assert!((Estimate::from(&read).value - 5.0).abs() < 1e-12);
    }
}
