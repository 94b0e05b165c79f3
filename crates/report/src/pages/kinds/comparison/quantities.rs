//! Every quantity before and after, with the difference and what it can tell.

use std::cmp::Ordering;

use tangmark_core::{
    record::{Quantity, Record, Station},
    units::Unit,
};
use tangmark_measure::{
    Estimate,
    decision::{Against, COVERAGE, against_estimate},
    print::fixed,
};

use super::super::super::{dimensions, words};
use crate::{
    Speech,
    layout::{Cell, Flow, Table, Width, style},
    speech::{Pair, pair},
};

/// A quantity of both records, or of one.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row<'a> {
    pub(super) name: Pair,
    pub(super) before: Option<&'a Quantity>,
    pub(super) after: Option<&'a Quantity>,
}

impl Row<'_> {
    /// After less before; nothing where one is missing or the units differ.
    fn difference(&self) -> Option<Estimate> {
        let (before, after) = self.both()?;
        Some(Estimate::from(after) - Estimate::from(before))
    }

    fn both(&self) -> Option<(&Quantity, &Quantity)> {
        let (before, after) = (self.before?, self.after?);
        (before.unit == after.unit).then_some((before, after))
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

/// Every named quantity of either record, in the order of the list.
pub(super) fn named<'a>(before: &'a Record, after: &'a Record) -> Vec<Row<'a>> {
    let list = |record: &'a Record| {
        record
            .dimensions
            .as_ref()
            .map(|dimensions| dimensions::named(dimensions))
            .unwrap_or_default()
    };
    let mut rows: Vec<Row<'a>> = list(before)
        .into_iter()
        .map(|(name, quantity)| Row {
            name,
            before: Some(quantity),
            after: None,
        })
        .collect();
    for (name, quantity) in list(after) {
        match rows.iter_mut().find(|row| row.name == name) {
            Some(row) => row.after = Some(quantity),
            None => rows.push(Row {
                name,
                before: None,
                after: Some(quantity),
            }),
        }
    }
    rows
}

/// A station of both records: its place in the first one, and the four measures.
pub(super) struct StationPair<'a> {
    pub(super) at: &'a Quantity,
    pub(super) rows: Vec<Row<'a>>,
}

/// Stations of the first record with the station of the second one at the same place, as far as the places can tell.
pub(super) fn stations<'a>(before: &'a Record, after: &'a Record) -> Vec<StationPair<'a>> {
    let list = |record: &'a Record| -> &'a [Station] {
        record
            .dimensions
            .as_ref()
            .map_or(&[], |dimensions| &dimensions.stations)
    };
    let second = list(after);
    list(before)
        .iter()
        .map(|station| {
            let place = Estimate::from(&*station.at);
            let same = second
                .iter()
                .map(|other| (other, Estimate::from(&*other.at) - place))
                .filter(|(_, apart)| apart.value.abs() <= COVERAGE * apart.standard_uncertainty)
                .min_by(|(_, first), (_, second)| {
                    first
                        .value
                        .abs()
                        .partial_cmp(&second.value.abs())
                        .unwrap_or(Ordering::Equal)
                })
                .map(|(other, _)| other);
            StationPair {
                at: &station.at,
                rows: station_rows(station, same),
            }
        })
        .collect()
}

/// Picks a measure of a station.
type Measure = fn(&Station) -> Option<&Quantity>;

fn station_rows<'a>(before: &'a Station, after: Option<&'a Station>) -> Vec<Row<'a>> {
    let measures: [(Pair, Measure); 4] = [
        (pair("width", "身幅"), |station| station.width.as_deref()),
        (pair("thickness at the ridge", "鎬重"), |station| {
            station.ridge_thickness.as_deref()
        }),
        (pair("thickness of the back", "棟重"), |station| {
            station.back_thickness.as_deref()
        }),
        (pair("ridge to back", "鎬から棟"), |station| {
            station.ridge_width.as_deref()
        }),
    ];
    measures
        .into_iter()
        .map(|(name, of)| Row {
            name,
            before: of(before),
            after: after.and_then(of),
        })
        .filter(|row| row.before.is_some() || row.after.is_some())
        .collect()
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

/// In one sentence: how many quantities changed by more than the measurement can tell.
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
    if all == 0 {
        return pair(
            "No quantity was measured both times.",
            "二度とも計測した項目はない。",
        );
    }
    let quantities = if all == 1 { "quantity" } else { "quantities" };
    let differ = if told == 1 { "differs" } else { "differ" };
    pair(
        format!(
            "Of {all} {quantities} measured both times {told} {differ} by more than the measurement can tell (k = 2)."
        ),
        format!(
            "二度とも計測した {all} 項目のうち、測定で判別できる差（k = 2）があるものは {told} 項目。"
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
    names
}

/// Sets both tables.
pub(super) fn set(flow: &mut Flow, before: &Record, after: &Record) {
    let rows = named(before, after);
    let stations = stations(before, after);
    words::heading(
        flow,
        &pair("Quantities before and after", "計測値の比較"),
        24.0,
    );
    if rows.is_empty() && stations.is_empty() {
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
            "± gives the expanded uncertainty for k = 2. That of a difference combines both measurements, taken as independent. Where a difference is no larger than its uncertainty, the measurement cannot tell whether anything changed.",
            "± は k = 2 の拡張不確かさ。差の不確かさは、二つの計測を独立として合成した。差がその不確かさを超えないとき、変化の有無は測定では判別できない。",
        ),
        style::NOTE,
    );
    flow.y += 0.8;
    table(flow, &rows);
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
        for (index, row) in station.rows.iter().enumerate() {
            let place = if index == 0 {
                Cell::figures(words::bare(station.at))
            } else {
                Cell::default()
            };
            table.rows.push(vec![
                place,
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
    use crate::sample;

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
        // 100 mm was not measured again: 150 mm is another place.
        assert!(pairs[1].rows[0].after.is_none());
        let missing: Vec<String> = not_measured_again(&before, &after)
            .into_iter()
            .map(|name| name.en.into_owned())
            .collect();
        assert_eq!(missing.len(), 2, "{missing:?}");
        assert!(missing[0].starts_with("length of the tang"));
        assert!(missing[1].starts_with("thickness at the ridge at 100.0"));
    }

    #[test]
    fn the_summary_counts_what_can_be_told() {
        let (before, after) = records();
        // Mass, blade length and one station measured both times; only the mass can be told.
        assert_eq!(
            summary(&before, &after).en,
            "Of 3 quantities measured both times 1 differs by more than the measurement can tell (k = 2)."
        );
        let bare: Record = serde_json::from_value(sample::bare()).unwrap();
        assert_eq!(
            summary(&bare, &bare).en,
            "No quantity was measured both times."
        );
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
