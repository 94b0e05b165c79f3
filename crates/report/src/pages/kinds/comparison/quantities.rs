//! Every quantity before and after, in tables.

use tangmark_core::record::Quantity;

use super::super::super::words;
use crate::{
    Speech,
    compare::{
        Comparison,
        quantities::{Row, StationPair, not_compared},
    },
    layout::{Cell, Flow, Table, Width, style},
    speech::{Pair, pair},
};

/// Sets both tables.
pub(super) fn set(flow: &mut Flow, comparison: &Comparison<'_>) {
    let (rows, stations) = (&comparison.rows, &comparison.stations);
    let not_compared = not_compared(comparison.before, comparison.after);
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
            "± gives the expanded uncertainty for k = 2. Where one instrument read both, its error counts once as far as it repeats (this tool's assumption: 80 % for a scale, 50 % for a gauge); at a station 1 mm of doubt of the place is in it. Where a difference is no larger than its uncertainty, the measurement cannot tell whether anything changed. A check whose settings say otherwise can judge otherwise.",
            "± は k = 2 の拡張不確かさ。同じ計器で二度計測したとき、計器の誤差のうち共通する分（本ツールの仮定：秤 80 %、ゲージ 50 %）は差に入らない。測点では位置の不確かさ 1 mm を含む。差がその不確かさを超えないとき、変化の有無は測定では判別できない。設定の異なる検査は、別の判断をすることがある。",
        ),
        style::NOTE,
    );
    flow.y += 1.6;
    if !rows.is_empty() {
        table(flow, rows);
    }
    if let Some(said) = not_compared {
        flow.gap(1.4);
        flow.say(&said, style::BODY);
    }
    if !stations.is_empty() {
        let title = pair("At the stations", "測点ごとの比較");
        words::subheading(flow, &title, 16.0);
        station_table(flow, stations);
    }
}

fn value(quantity: Option<&Quantity>) -> Cell {
    quantity.map_or_else(
        || Cell::plain(words::NOTHING),
        |quantity| Cell::figures(words::bare(quantity)),
    )
}

fn judged(speech: Speech, row: &Row<'_>) -> Cell {
    if row.is_told() {
        return Cell(words::bold(speech.label(&row.judged())));
    }
    // Each language on a line of its own: the column is narrow, and these words are long.
    Cell::plain(words::two_lines(speech, &row.judged()))
}

fn table(flow: &mut Flow, rows: &[Row<'_>]) {
    let speech = flow.speech;
    // As narrow as the values allow: the names of measures are long.
    let numbers = |title: &Pair| words::numbers(speech, title, Width::Fixed(21.5));
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
            Cell::figures(row.stated()),
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
                Cell::figures(row.stated()),
                judged(speech, row),
            ]);
        }
    }
    flow.table(&table);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;
    use tangmark_core::record::{Datum, Record};

    use super::*;
    use crate::{PageSize, layout::page_format::Frame, sample};

    fn record(value: &str) -> Record {
        let quantity = |value: &str| json!({ "value": value, "unit": "mm", "standard_uncertainty": "0.02", "uncertainty_from": "instrument", "as_read": [{ "text": format!("{value} mm"), "unit": "mm" }] });
        let mut made = sample::bare();
        made["dimensions"] = json!({ "datum": "back_notch", "width_at_base": quantity(value), "stations": [{ "at": quantity("100.00"), "width": quantity(value) }] });
        serde_json::from_value(made).unwrap()
    }

    /// Words of the section on a page.
    fn shown(before: &Record, after: &Record, speech: Speech) -> String {
        let mut flow = Flow::new(Frame::of(PageSize::A4), speech);
        set(&mut flow, &Comparison::of(before, after, &[]));
        crate::pages::tests::words(&flow.scene).replace('\u{a0}', " ")
    }

    #[test]
    fn differences_stand_in_both_languages() {
        let (before, after) = (record("30.00"), record("29.80"));
        // 29.80 − 30.00 = −0.20 mm; U = 2·0.02·√2 = 0.057 mm: told.
        let said = shown(&before, &after, Speech::English);
        assert!(
            said.contains("−0.20 ± 0.06") && said.contains("less"),
            "{said}"
        );
        let said = shown(&before, &after, Speech::Japanese);
        assert!(
            said.contains("減少") && said.contains("測点ごとの比較"),
            "{said}"
        );
    }

    #[test]
    fn what_was_measured_the_second_time_only_is_shown() {
        let bare: Record = serde_json::from_value(sample::bare()).unwrap();
        let said = shown(&bare, &record("30.00"), Speech::English);
        assert!(!said.contains("No measurement"), "{said}");
        assert!(said.contains("not measured before"), "{said}");
    }

    #[test]
    fn places_from_different_datums_are_not_compared() {
        let (before, mut after) = (record("30.00"), record("29.80"));
        after.dimensions.as_mut().unwrap().datum = Datum::Shoulder;
        let said = shown(&before, &after, Speech::English);
        assert!(said.contains("are not compared: record 1"), "{said}");
        assert!(!said.contains("At the stations"), "{said}");
    }
}
