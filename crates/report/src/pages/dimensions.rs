//! Measurements with their uncertainties, and the station table.

use tangmark_core::record::{Dimensions, Quantity, Record, Station};

use super::words;
use crate::{
    Speech,
    drawing::stations,
    layout::{Cell, Column, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Measurements", "計測値"), 24.0);
    let Some(dimensions) = &record.dimensions else {
        flow.say(
            &pair(
                "No measurement is in this record.",
                "この記録に計測値はない。",
            ),
            style::BODY,
        );
        return;
    };
    flow.say(
        &pair(
            "± gives the expanded uncertainty for a coverage factor k = 2 (a level of confidence of about 95 %), here and everywhere in this report.",
            "± は包含係数 k = 2（信頼の水準およそ 95 %）の拡張不確かさを示す。本報告書のすべてに共通する。",
        ),
        style::NOTE,
    );
    datum(flow, dimensions);
    flow.y += 1.0;
    measures(flow, record, dimensions);
    shape(flow, dimensions);
    let stations = pair("Stations", "測点");
    station_table(flow, &stations, &dimensions.stations);
    back_line(flow, dimensions);
    grooves(flow, dimensions);
}

fn datum(flow: &mut Flow, dimensions: &Dimensions) {
    let speech = flow.speech;
    let english = || {
        let mut spans = vec![Span::plain("Lengths along the blade start at: ")];
        spans.extend(words::term(Speech::English, dimensions.datum));
        spans
    };
    let japanese = || {
        let mut spans = vec![Span::plain("刀身に沿う長さの起点：")];
        spans.extend(words::term(Speech::Japanese, dimensions.datum));
        spans
    };
    match speech {
        Speech::English => flow.paragraph(&english(), style::NOTE),
        Speech::Japanese => flow.paragraph(&japanese(), style::NOTE),
        Speech::Both => flow.side_by_side(&english(), &japanese(), style::NOTE),
    }
}

/// Every measure of the list with its name, in the order of the list.
pub(crate) fn named(dimensions: &Dimensions) -> Vec<(Pair, &Quantity)> {
    let with = |name: Pair, addition: Option<Pair>| match addition {
        None => name,
        Some(addition) => pair(
            format!("{}, {}", name.en, addition.en),
            format!("{}（{}）", name.ja, addition.ja),
        ),
    };
    let list = [
        (
            pair("blade length · nagasa 長さ", "長さ"),
            dimensions.blade_length.as_deref(),
        ),
        (
            pair("curvature · sori 反り", "反り"),
            dimensions.curvature.as_deref(),
        ),
        (
            pair("place of the greatest curvature", "反りの最も深い位置"),
            dimensions.curvature_at.as_deref(),
        ),
        (
            pair("overall length", "全長"),
            dimensions.overall_length.as_deref(),
        ),
        (
            pair("width at the base · motohaba 元幅", "元幅"),
            dimensions.width_at_base.as_deref(),
        ),
        (
            pair("width at the point line · sakihaba 先幅", "先幅"),
            dimensions.width_at_point.as_deref(),
        ),
        (
            pair("thickness at the base · motokasane 元重", "元重"),
            dimensions.thickness_at_base.as_deref(),
        ),
        (
            pair("thickness of the back at the base", "元の棟重"),
            dimensions.back_thickness_at_base.as_deref(),
        ),
        (
            pair("thickness at the point line · sakikasane 先重", "先重"),
            dimensions.thickness_at_point.as_deref(),
        ),
        (
            with(
                pair("length of the point · kissaki 鋒", "鋒の長さ"),
                dimensions.point_convention.map(words::gloss),
            ),
            dimensions.point_length.as_deref(),
        ),
        (
            pair("depth of the edge notch · hamachi 刃区", "刃区の深さ"),
            dimensions.edge_notch_depth.as_deref(),
        ),
        (
            pair("depth of the back notch · munemachi 棟区", "棟区の深さ"),
            dimensions.back_notch_depth.as_deref(),
        ),
        (
            pair("length of the tang · nakago 茎", "茎の長さ"),
            dimensions.tang_length.as_deref(),
        ),
        (
            pair("curvature of the tang", "茎反り"),
            dimensions.tang_curvature.as_deref(),
        ),
        (
            pair("whole span of the cross", "十文字の総幅"),
            dimensions.cross_span.as_deref(),
        ),
        (
            with(
                pair("mass", "質量"),
                dimensions.mass_state.map(words::gloss),
            ),
            dimensions.mass.as_deref(),
        ),
    ];
    list.into_iter()
        .filter_map(|(name, quantity)| quantity.map(|quantity| (name, quantity)))
        .collect()
}

fn measures(flow: &mut Flow, record: &Record, dimensions: &Dimensions) {
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, Width::Fixed(width));
    let numbers = |title: &Pair| words::numbers(speech, title, Width::Fixed(16.0));
    let mut table = Table::new(vec![
        words::column(speech, &pair("measure", "項目"), Width::Share(1.0)),
        numbers(&pair("value", "値")),
        numbers(&pair("± U (k = 2)", "± U (k = 2)")),
        column(&pair("unit", "単位"), 7.0),
        column(&pair("as read", "読み取り"), 30.0),
        column(&pair("instrument", "計器"), 27.0),
    ]);
    for (name, quantity) in named(dimensions) {
        let (value, uncertainty) =
            words::value_and_uncertainty(quantity.value, quantity.standard_uncertainty);
        table.rows.push(vec![
            words::label(speech, &name),
            Cell::figures(value),
            Cell::figures(uncertainty),
            Cell::plain(words::unit(quantity.unit)),
            Cell::plain(words::readings(quantity)),
            Cell::plain(instrument(record, quantity)),
        ]);
    }
    // One row alone needs no name to be told from others.
    table.row_headers = table.rows.len() > 1;
    words::table(flow, table);
    let methods: Vec<Vec<Span>> = named(dimensions)
        .into_iter()
        .filter_map(|(name, quantity)| {
            quantity.method.as_ref().map(|method| {
                let name = format!("{}{}", speech.text(&name), words::colon(speech));
                vec![Span::quiet(name), Span::plain(method.clone())]
            })
        })
        .collect();
    if !methods.is_empty() {
        flow.gap(1.6);
        flow.list(&methods, style::NOTE);
    }
}

/// What the examiner says of the shape beside the numbers.
fn shape(flow: &mut Flow, dimensions: &Dimensions) {
    let speech = flow.speech;
    let mut table = Table::pairs(46.0);
    if let Some(kind) = dimensions.curvature_kind {
        let name = pair("kind of curvature", "反りの種類");
        words::row(&mut table, speech, &name, words::term(speech, kind));
    }
    if let Some(class) = dimensions.point_class {
        let name = pair("size of the point", "鋒の大きさ");
        words::row(&mut table, speech, &name, words::term(speech, class));
    }
    if let Some(fukura) = dimensions.fukura {
        let name = pair("edge of the point · fukura ふくら", "ふくら");
        words::row(&mut table, speech, &name, words::term(speech, fukura));
    }
    if table.rows.is_empty() {
        return;
    }
    words::subheading(
        flow,
        &pair("Shape, in the examiner's view", "姿（調査者の所見）"),
        8.0,
    );
    words::table(flow, table);
}

fn instrument(record: &Record, quantity: &Quantity) -> String {
    let Some(key) = &quantity.instrument else {
        return words::NOTHING.to_owned();
    };
    let known = record
        .examination
        .iter()
        .flat_map(|examination| &examination.instruments)
        .find(|instrument| instrument.id == *key);
    known.map_or_else(|| key.to_string(), |instrument| instrument.name.clone())
}

fn cell(quantity: Option<&Quantity>) -> Cell {
    quantity.map_or_else(
        || Cell::plain(words::NOTHING),
        |quantity| Cell::figures(words::bare(quantity)),
    )
}

/// Columns of numbers that share the width.
fn shared(speech: Speech, titles: &[Pair]) -> Vec<Column> {
    titles
        .iter()
        .map(|title| words::numbers(speech, title, Width::Share(1.0)))
        .collect()
}

/// Sets a station table; also used for readings at passes.
pub(super) fn station_table(flow: &mut Flow, title: &Pair, stations: &[Station]) {
    if stations.is_empty() {
        return;
    }
    words::subheading(flow, title, 16.0);
    let measures = stations::measures();
    let mut titles = vec![pair("from the datum, mm", "起点から mm")];
    titles.extend(
        measures
            .iter()
            .map(|(name, _)| pair(format!("{}, mm", name.en), format!("{} mm", name.ja))),
    );
    let mut table = Table::new(shared(flow.speech, &titles));
    for station in stations {
        let mut row = vec![cell(Some(&station.at))];
        row.extend(
            measures
                .iter()
                .map(|(_, measure)| cell(measure(station).map(|length| &**length))),
        );
        table.rows.push(row);
    }
    words::table(flow, table);
}

fn back_line(flow: &mut Flow, dimensions: &Dimensions) {
    if dimensions.back_line.is_empty() {
        return;
    }
    words::subheading(flow, &pair("Line of the back", "棟線"), 16.0);
    let numbers = |title: &Pair, width| words::numbers(flow.speech, title, Width::Fixed(width));
    let mut table = Table::new(vec![
        numbers(&pair("along the chord, mm", "弦に沿って mm"), 40.0),
        numbers(&pair("back above the chord, mm", "弦から棟まで mm"), 46.0),
    ]);
    for point in &dimensions.back_line {
        table
            .rows
            .push(vec![cell(Some(&point.at)), cell(Some(&point.height))]);
    }
    flow.table_at(&table, 0.0, 90.0);
}

fn grooves(flow: &mut Flow, dimensions: &Dimensions) {
    if dimensions.grooves.is_empty() {
        return;
    }
    words::subheading(flow, &pair("Grooves · hi 樋", "樋"), 16.0);
    let speech = flow.speech;
    let mut columns = vec![words::column(
        speech,
        &pair("face", "面"),
        Width::Share(1.0),
    )];
    columns.extend(shared(
        speech,
        &[
            pair("from, mm", "始まり mm"),
            pair("to, mm", "終わり mm"),
            pair("width, mm", "幅 mm"),
            pair("depth, mm", "深さ mm"),
        ],
    ));
    let mut table = Table::new(columns);
    for groove in &dimensions.grooves {
        table.rows.push(vec![
            Cell(words::term(speech, groove.face)),
            cell(Some(&groove.from)),
            cell(Some(&groove.to)),
            cell(Some(&groove.width)),
            cell(groove.depth.as_deref()),
        ]);
    }
    words::table(flow, table);
}
