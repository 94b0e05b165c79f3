//! Drawings of a record as files of their own.

use std::collections::BTreeSet;

use tangmark_core::{
    Digest,
    record::{Artefact, Blade, CustodyEvent, Record},
};

use crate::{
    PageSize, Speech, compared_with,
    drawing::{self, Drawing, MonthBars, Seat, StageBar},
    svg,
};

/// A drawing that stands alone.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawingFile {
    /// What it is, for a file name: small letters and hyphens.
    pub name: String,
    /// What it is, for people.
    pub title: String,
    /// What it shows, in words.
    pub alternative: String,
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// The SVG document; its sizes are in mm.
    pub svg: String,
    /// Characters no font has; they stand as code points.
    pub missing: BTreeSet<char>,
}

/// Returns the drawings that the numbers of a record allow, each `width` mm wide without its margins: faces, back and
/// edge, sections, curvature, tang, loss, passes, steel against what is left, line of time.
///
/// `earlier` are the records of the same blade before this one, oldest first; what went is shown against
/// [`compared_with`] of them.
pub fn drawings(
    record: &Record,
    earlier: &[Record],
    width: f64,
    speech: Speech,
) -> Vec<DrawingFile> {
    let before = compared_with(earlier, None);
    let made = [
        ("faces", drawing::faces(record, width, speech)),
        (
            "back-and-edge",
            drawing::back_and_edge(record, width, speech),
        ),
        ("sections", drawing::sections(record, before, width, speech)),
        ("curvature", drawing::curvature(record, width, speech)),
        ("tang", drawing::tang(record, width, speech)),
        (
            "loss",
            before.and_then(|before| drawing::loss_strip(record, before, width, speech)),
        ),
        (
            "passes",
            drawing::pass_history(record, earlier, width, speech),
        ),
        ("trade-off", drawing::trade_off(record, width, speech)),
        (
            "line-of-time",
            drawing::custody(&record.blade, &record.custody, width, speech),
        ),
    ];
    made.into_iter()
        .filter_map(|(name, drawing)| Some((name, drawing?)))
        .map(|(name, drawing)| file(name, &drawing.alone(speech), speech))
        .collect()
}

/// Returns mass and thickness from pass to pass, `width` mm wide without its margins; none where neither was read twice.
pub fn pass_history(
    record: &Record,
    earlier: &[Record],
    width: f64,
    speech: Speech,
) -> Option<DrawingFile> {
    let drawn = drawing::pass_history(record, earlier, width, speech)?;
    Some(file("passes", &drawn.alone(speech), speech))
}

/// Returns the life of a blade on a line of time, `width` mm wide without its margins; nothing without an event.
pub fn line_of_time(
    blade: &Blade,
    events: &[CustodyEvent],
    width: f64,
    speech: Speech,
) -> Option<DrawingFile> {
    let drawing = drawing::custody(blade, events, width, speech)?;
    Some(file("line-of-time", &drawing.alone(speech), speech))
}

/// Returns the blade in true size on sheets of paper laid lengthwise; none when its numbers make no blade that fits
/// across the paper.
///
/// Each sheet bears a control bar that measures 100 mm when it was printed without scaling.
pub fn true_size_sheets(record: &Record, page: PageSize, speech: Speech) -> Vec<DrawingFile> {
    let sheets = drawing::true_size(record, page, speech);
    let numbered = sheets.iter().enumerate();
    numbered
        .map(|(index, sheet)| file(&format!("true-size-{:02}", index + 1), sheet, speech))
        .collect()
}

/// Returns both faces of a blade, as SVG about `width` mm wide; nothing when its numbers make no blade that could be
/// drawn.
pub fn blade_map_svg(record: &Record, width: f64) -> Option<String> {
    let drawing = drawing::faces(record, width, Speech::English)?;
    Some(svg_of(&drawing.alone(Speech::English)))
}

/// Returns the chart of a plugin's series, as SVG about `width` mm wide; nothing for a table, or when fewer than two of
/// its points are numbers.
pub fn chart_svg(artefact: &Artefact, width: f64) -> Option<String> {
    let drawing = drawing::chart(artefact, width, Speech::English)?;
    Some(svg_of(&drawing.alone(Speech::English)))
}

/// Returns a fitting against a blade, to scale and about `width` mm wide; nothing where nothing of it was measured on both.
pub fn seat_drawing(seat: &Seat<'_>, width: f64, speech: Speech) -> Option<DrawingFile> {
    let drawing = drawing::seat(seat, width, speech)?;
    Some(file("fit", &drawing.alone(speech), speech))
}

/// Returns the way of a blade through the stages of work as bars of days, about `width` mm wide; nothing without a bar.
pub fn stage_drawing(
    title: &str,
    bars: &[StageBar<'_>],
    width: f64,
    speech: Speech,
) -> Option<DrawingFile> {
    let drawing = drawing::stages(title, bars, width, speech)?;
    Some(file("stages", &drawing.alone(speech), speech))
}

/// Returns what came in and went out in the months of a year, one field for each currency, as SVG about `width` mm wide;
/// nothing where no amount is above zero.
pub fn bars_svg(year: &str, fields: &[MonthBars<'_>], width: f64) -> Option<String> {
    let drawing = drawing::months(year, fields, width, Speech::English)?;
    Some(svg_of(&drawing.alone(Speech::English)))
}

fn file(name: &str, drawing: &Drawing, speech: Speech) -> DrawingFile {
    file_with(name, drawing, speech, &ToString::to_string)
}

/// As [`file`]; `picture` gives the address under which the bytes of a picture are found.
pub(crate) fn file_with(
    name: &str,
    drawing: &Drawing,
    speech: Speech,
    picture: &dyn Fn(&Digest) -> String,
) -> DrawingFile {
    DrawingFile {
        name: name.to_owned(),
        title: speech.text(&drawing.title),
        alternative: drawing.alternative.clone(),
        width: drawing.width,
        height: drawing.height,
        svg: svg_with(drawing, picture),
        missing: drawing.missing.clone(),
    }
}

fn svg_of(drawing: &Drawing) -> String {
    svg_with(drawing, &ToString::to_string)
}

fn svg_with(drawing: &Drawing, picture: &dyn Fn(&Digest) -> String) -> String {
    let bounds = [0.0, 0.0, drawing.width, drawing.height];
    svg::drawing(&drawing.draws, bounds, &drawing.alternative, picture)
}
