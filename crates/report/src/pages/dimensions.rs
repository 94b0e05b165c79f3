//! Measurements with their uncertainties, and the station table.

use tangmark_core::record::{Dimensions, Quantity, Record, Station, Term as _};

use super::words;
use crate::layout::{Cell, Column, Flow, Span, Table, Width, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    flow.heading("Measurements", 24.0);
    let Some(dimensions) = &record.dimensions else {
        flow.paragraph(
            &[Span::plain("No measurement is in this record.")],
            style::BODY,
        );
        return;
    };
    let intro = "± gives the expanded uncertainty for a coverage factor k = 2 (a level of confidence of about 95 %), here and everywhere in this report.";
    flow.paragraph(&[Span::plain(intro)], style::NOTE);
    let mut datum = vec![Span::plain("Lengths along the blade start at: ")];
    datum.extend(words::term(dimensions.datum));
    flow.paragraph(&datum, style::NOTE);
    flow.y += 1.0;
    measures(flow, record, dimensions);
    shape(flow, dimensions);
    stations(flow, dimensions);
    back_line(flow, dimensions);
    grooves(flow, dimensions);
}

fn named(dimensions: &Dimensions) -> Vec<(String, &Quantity)> {
    let convention = dimensions
        .point_convention
        .map_or_else(String::new, |convention| {
            format!(", {}", convention.gloss())
        });
    let mass = dimensions
        .mass_state
        .map_or_else(String::new, |state| format!(", {}", state.gloss()));
    let list = [
        (
            "blade length · nagasa 長さ".to_owned(),
            dimensions.blade_length.as_deref(),
        ),
        (
            "curvature · sori 反り".to_owned(),
            dimensions.curvature.as_deref(),
        ),
        (
            "place of the greatest curvature".to_owned(),
            dimensions.curvature_at.as_deref(),
        ),
        (
            "overall length".to_owned(),
            dimensions.overall_length.as_deref(),
        ),
        (
            "width at the base · motohaba 元幅".to_owned(),
            dimensions.width_at_base.as_deref(),
        ),
        (
            "width at the point line · sakihaba 先幅".to_owned(),
            dimensions.width_at_point.as_deref(),
        ),
        (
            "thickness at the base · motokasane 元重".to_owned(),
            dimensions.thickness_at_base.as_deref(),
        ),
        (
            "thickness of the back at the base".to_owned(),
            dimensions.back_thickness_at_base.as_deref(),
        ),
        (
            "thickness at the point line · sakikasane 先重".to_owned(),
            dimensions.thickness_at_point.as_deref(),
        ),
        (
            format!("length of the point · kissaki 鋒{convention}"),
            dimensions.point_length.as_deref(),
        ),
        (
            "depth of the edge notch · hamachi 刃区".to_owned(),
            dimensions.edge_notch_depth.as_deref(),
        ),
        (
            "depth of the back notch · munemachi 棟区".to_owned(),
            dimensions.back_notch_depth.as_deref(),
        ),
        (
            "length of the tang · nakago 茎".to_owned(),
            dimensions.tang_length.as_deref(),
        ),
        (
            "curvature of the tang".to_owned(),
            dimensions.tang_curvature.as_deref(),
        ),
        (
            "whole span of the cross".to_owned(),
            dimensions.cross_span.as_deref(),
        ),
        (format!("mass{mass}"), dimensions.mass.as_deref()),
    ];
    list.into_iter()
        .filter_map(|(name, quantity)| quantity.map(|quantity| (name, quantity)))
        .collect()
}

fn measures(flow: &mut Flow, record: &Record, dimensions: &Dimensions) {
    let mut table = Table::new(vec![
        Column::words("measure", Width::Share(1.0)),
        Column::numbers("value", Width::Fixed(16.0)),
        Column::numbers("± U (k = 2)", Width::Fixed(16.0)),
        Column::words("unit", Width::Fixed(7.0)),
        Column::words("as read", Width::Fixed(30.0)),
        Column::words("instrument", Width::Fixed(27.0)),
    ]);
    for (name, quantity) in named(dimensions) {
        table.rows.push(vec![
            Cell::plain(name),
            Cell::figures(words::number(quantity.value)),
            Cell::figures(words::expanded(quantity.standard_uncertainty)),
            Cell::plain(words::unit(quantity.unit)),
            Cell::plain(words::readings(quantity)),
            Cell::plain(instrument(record, quantity)),
        ]);
    }
    // One row alone needs no name to be told from others.
    table.row_headers = table.rows.len() > 1;
    flow.table(&table);
    let methods: Vec<Vec<Span>> = named(dimensions)
        .into_iter()
        .filter_map(|(name, quantity)| {
            quantity.method.as_ref().map(|method| {
                vec![
                    Span::quiet(format!("{name}: ")),
                    Span::plain(method.clone()),
                ]
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
    let mut table = Table::pairs(46.0);
    if let Some(kind) = dimensions.curvature_kind {
        table.pair("kind of curvature", words::term(kind));
    }
    if let Some(class) = dimensions.point_class {
        table.pair("size of the point", words::term(class));
    }
    if let Some(fukura) = dimensions.fukura {
        table.pair("edge of the point · fukura", words::term(fukura));
    }
    if table.rows.is_empty() {
        return;
    }
    flow.subheading("Shape, in the examiner's view", 8.0);
    flow.table(&table);
}

fn instrument(record: &Record, quantity: &Quantity) -> String {
    let Some(key) = &quantity.instrument else {
        return String::new();
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
        || Cell::plain("–"),
        |quantity| Cell::figures(words::bare(quantity)),
    )
}

fn stations(flow: &mut Flow, dimensions: &Dimensions) {
    station_table(flow, "Stations", &dimensions.stations);
}

/// Sets a station table; also used for readings at passes.
pub(super) fn station_table(flow: &mut Flow, title: &str, stations: &[Station]) {
    if stations.is_empty() {
        return;
    }
    flow.subheading(title, 16.0);
    let share = Width::Share(1.0);
    let mut table = Table::new(vec![
        Column::numbers("from the datum, mm", share),
        Column::numbers("width, mm", share),
        Column::numbers("thickness at the ridge, mm", share),
        Column::numbers("thickness of the back, mm", share),
        Column::numbers("ridge to back, mm", share),
    ]);
    for station in stations {
        table.rows.push(vec![
            cell(Some(&station.at)),
            cell(station.width.as_deref()),
            cell(station.ridge_thickness.as_deref()),
            cell(station.back_thickness.as_deref()),
            cell(station.ridge_width.as_deref()),
        ]);
    }
    flow.table(&table);
}

fn back_line(flow: &mut Flow, dimensions: &Dimensions) {
    if dimensions.back_line.is_empty() {
        return;
    }
    flow.subheading("Line of the back", 16.0);
    let mut table = Table::new(vec![
        Column::numbers("along the chord, mm", Width::Fixed(40.0)),
        Column::numbers("back above the chord, mm", Width::Fixed(46.0)),
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
    flow.subheading("Grooves · hi 樋", 16.0);
    let share = Width::Share(1.0);
    let mut table = Table::new(vec![
        Column::words("face", share),
        Column::numbers("from, mm", share),
        Column::numbers("to, mm", share),
        Column::numbers("width, mm", share),
        Column::numbers("depth, mm", share),
    ]);
    for groove in &dimensions.grooves {
        table.rows.push(vec![
            Cell(words::term(groove.face)),
            cell(Some(&groove.from)),
            cell(Some(&groove.to)),
            cell(Some(&groove.width)),
            cell(groove.depth.as_deref()),
        ]);
    }
    flow.table(&table);
}
