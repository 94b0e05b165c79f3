//! Photos: a sheet of all of them, then the important ones larger, each with the beginning of the digest that binds it to
//! the record.

mod entry;
mod scale_bar;
mod sentences;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use tangmark_core::{
    Digest,
    record::{Photo, PhotoFile, Record, Shows},
};

use super::{Content, words};
use crate::{
    layout::{Flow, style},
    scene::Role,
    speech::pair,
};
use entry::Entry;

/// Space between two photos, mm.
const GUTTER: f64 = 6.0;
/// Greatest height of a larger photo, mm.
const HIGHEST: f64 = 66.0;
/// Photos in a row of the sheet, and their greatest height, mm.
const IN_A_ROW: usize = 3;
const SMALL_HIGHEST: f64 = 34.0;
/// Photos from which on there is a sheet of all; fewer are set larger at once.
const SHEET_FROM: usize = 3;
/// Most photos that are set larger after the sheet.
const MOST_LARGER: usize = 8;
/// Width over height from which on a photo takes the whole width.
const LONG: f64 = 2.2;

/// The files of a photo that a report can show, the preferred one first: those made from the original, which carry no data
/// of the camera; then the original, unless it is kept private. Only JPEG files are embedded.
pub(super) fn candidates(photo: &Photo) -> impl Iterator<Item = &PhotoFile> {
    let original = photo
        .original
        .as_ref()
        .filter(|_| !photo.original_kept_private);
    photo
        .derivatives
        .iter()
        .map(|derivative| &derivative.file)
        .chain(original)
        .filter(|file| file.media_type == "image/jpeg")
}

/// Digests of the pictures a report of this record can show.
pub(super) fn wanted(record: &Record) -> Vec<Digest> {
    record
        .photos
        .iter()
        .flat_map(candidates)
        .map(|file| file.digest)
        .collect()
}

/// Whether a picture of a photo can be shown.
pub(super) fn at_hand(content: &Content<'_>, photo: &Photo) -> bool {
    candidates(photo).any(|file| content.pictures.contains_key(&file.digest))
}

/// Sets the section of the photos.
pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let photos: Vec<&Photo> = content.record.photos.iter().collect();
    words::heading(flow, &pair("Photographs", "写真"), 50.0);
    if photos.is_empty() {
        flow.say(
            &pair("No photograph is in this record.", "この記録に写真はない。"),
            style::BODY,
        );
        return;
    }
    flow.say(
        &pair(
            "The digest with each picture is the beginning of the SHA-256 digest over its file, as the record has it.",
            "各写真に添えたのは、記録にあるファイルのSHA-256ダイジェストの先頭である。",
        ),
        style::NOTE,
    );
    made_from_originals(flow, content, &photos);
    flow.y += 1.6;
    if photos.len() < SHEET_FROM {
        larger(flow, content, &photos, true);
        return;
    }
    for chunk in photos.chunks(IN_A_ROW) {
        let width = column(flow, IN_A_ROW);
        let entries = entries(flow, content, chunk, width, SMALL_HIGHEST, true);
        row(flow, &entries, width);
    }
    larger(flow, content, &important(content, &photos), false);
}

/// The photos that are worth more room: whole blade, point, temper line, flaws, in this order; only those at hand.
fn important<'a>(content: &Content<'_>, photos: &[&'a Photo]) -> Vec<&'a Photo> {
    [Shows::Whole, Shows::Point, Shows::TemperLine, Shows::Flaw]
        .into_iter()
        .flat_map(|shows| photos.iter().filter(move |photo| photo.shows == shows))
        .copied()
        .filter(|photo| at_hand(content, photo))
        .take(MOST_LARGER)
        .collect()
}

/// Sets photos large: long ones over the whole width, the others two in a row. With `whole`, the caption says all that is
/// known, else what the sheet before does not say.
fn larger(flow: &mut Flow, content: &Content<'_>, photos: &[&Photo], whole: bool) {
    let (full, half) = (flow.frame.text_width(), column(flow, 2));
    let mut waiting: Vec<&Photo> = Vec::new();
    for photo in photos {
        if entry::proportion(content, photo).is_some_and(|proportion| proportion >= LONG) {
            set_row(flow, content, &waiting, half, whole);
            waiting.clear();
            set_row(flow, content, &[photo], full, whole);
        } else {
            waiting.push(photo);
        }
        if waiting.len() == 2 {
            set_row(flow, content, &waiting, half, whole);
            waiting.clear();
        }
    }
    set_row(flow, content, &waiting, half, whole);
}

fn set_row(flow: &mut Flow, content: &Content<'_>, photos: &[&Photo], width: f64, whole: bool) {
    if !photos.is_empty() {
        let entries = entries(flow, content, photos, width, HIGHEST, whole);
        row(flow, &entries, width);
    }
}

/// Sets two photos beside each other: the state before and after.
pub(super) fn side_by_side(flow: &mut Flow, content: &Content<'_>, before: &Photo, after: &Photo) {
    let width = column(flow, 2);
    let entries = entries(flow, content, &[before, after], width, HIGHEST, true);
    row(flow, &entries, width);
}

/// Sets photos beside each other, none higher than `highest` mm.
pub(super) fn in_a_row(flow: &mut Flow, content: &Content<'_>, photos: &[&Photo], highest: f64) {
    let width = column(flow, photos.len());
    let entries = entries(flow, content, photos, width, highest, true);
    row(flow, &entries, width);
}

/// Width of one of so many columns.
fn column(flow: &Flow, number: usize) -> f64 {
    let number = number.max(1) as f64;
    (flow.frame.text_width() - GUTTER * (number - 1.0)) / number
}

fn entries<'a>(
    flow: &mut Flow,
    content: &'a Content<'_>,
    photos: &[&'a Photo],
    width: f64,
    highest: f64,
    whole: bool,
) -> Vec<Entry<'a>> {
    photos
        .iter()
        .map(|photo| Entry::new(flow, content, photo, [width, highest], whole))
        .collect()
}

fn row(flow: &mut Flow, entries: &[Entry<'_>], width: f64) {
    let highest = entries.iter().map(Entry::height).fold(0.0, f64::max);
    flow.ensure(highest);
    let top = flow.y;
    for (column, entry) in entries.iter().enumerate() {
        let x = column as f64 * (width + GUTTER);
        flow.y = top;
        entry.place(flow, x);
        flow.y = top + entry.figure_height() + entry::GAP;
        let node = flow.node(Role::Paragraph);
        let left = flow.frame.left + x;
        flow.set_lines(node, &entry.caption, style::NOTE, left);
    }
    flow.y = top + highest;
    flow.gap(5.0);
}

/// Says how the files that are shown in place of originals were made, each way once.
fn made_from_originals(flow: &mut Flow, content: &Content<'_>, photos: &[&Photo]) {
    let mut ways: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for photo in photos {
        if let Some(way) = entry::made(content, photo) {
            ways.entry(way).or_default().push(photo.id.to_string());
        }
    }
    for (way, ids) in ways {
        flow.say(&sentences::made(&ids, way), style::NOTE);
    }
}
