//! Fonts of a file read once: their programs, the codes they show, the characters of the codes.

use std::collections::{BTreeMap, BTreeSet};

use lopdf::Dictionary;

use super::Facts;
use super::content::Show;
use super::facts::{Sheet, dictionary_of, nothing, unpacked};

/// One composite font.
pub(super) struct Font<'f> {
    pub(super) place: String,
    pub(super) dictionary: &'f Dictionary,
    /// The font below it, which has the outlines.
    pub(super) below: &'f Dictionary,
    pub(super) descriptor: &'f Dictionary,
    pub(super) program: Option<Vec<u8>>,
    /// Code → text.
    pub(super) characters: BTreeMap<u16, String>,
    /// Codes shown anywhere.
    pub(super) codes: BTreeSet<u16>,
    /// Codes whose text stands as a whole in place of its characters.
    pub(super) replaced: BTreeSet<u16>,
}

/// All fonts of a file, by the place of their dictionary in memory.
pub(super) struct Fonts<'f> {
    pub(super) fonts: Vec<Font<'f>>,
}

/// Codes of two bytes.
fn codes(bytes: &[u8]) -> impl Iterator<Item = u16> {
    bytes
        .chunks_exact(2)
        .map(|pair| u16::from_be_bytes([pair[0], pair[1]]))
}

impl<'f> Fonts<'f> {
    pub(super) fn read(facts: &'f Facts<'_>) -> Self {
        let mut fonts: Vec<Font<'f>> = facts
            .resources("Font")
            .into_iter()
            .filter_map(|(place, object)| Some(font(facts, place, dictionary_of(object)?)))
            .collect();
        for sheet in &facts.sheets {
            for show in &sheet.content.shows {
                let Some(shown) = shown_font(facts, sheet, show) else {
                    continue;
                };
                if let Some(font) = fonts
                    .iter_mut()
                    .find(|font| std::ptr::eq(font.dictionary, shown))
                {
                    font.codes.extend(codes(&show.bytes));
                    if show.marks.iter().any(|mark| mark.actual_text) {
                        font.replaced.extend(codes(&show.bytes));
                    }
                }
            }
        }
        Self { fonts }
    }

    /// Text of a string, by the font's own table.
    pub(super) fn text(&self, facts: &Facts<'_>, sheet: &Sheet<'_>, show: &Show) -> String {
        let shown = shown_font(facts, sheet, show);
        let font = self
            .fonts
            .iter()
            .find(|font| shown.is_some_and(|shown| std::ptr::eq(font.dictionary, shown)));
        codes(&show.bytes)
            .filter_map(|code| font?.characters.get(&code).map(String::as_str))
            .collect()
    }
}

fn shown_font<'f>(facts: &'f Facts<'_>, sheet: &Sheet<'f>, show: &Show) -> Option<&'f Dictionary> {
    let fonts = sheet.resources.get(b"Font").ok()?;
    let fonts = dictionary_of(facts.follow(fonts))?;
    dictionary_of(facts.follow(fonts.get(&show.font).ok()?))
}

fn font<'f>(facts: &'f Facts<'_>, place: String, dictionary: &'f Dictionary) -> Font<'f> {
    let below = facts
        .array(dictionary, "DescendantFonts")
        .first()
        .and_then(|object| dictionary_of(facts.follow(object)))
        .unwrap_or(nothing());
    let descriptor = facts
        .dictionary(below, "FontDescriptor")
        .or_else(|| facts.dictionary(dictionary, "FontDescriptor"))
        .unwrap_or(nothing());
    let program = ["FontFile2", "FontFile3", "FontFile"]
        .iter()
        .find_map(|key| facts.stream(descriptor, key))
        .and_then(|stream| unpacked(stream).ok());
    let characters = facts
        .stream(dictionary, "ToUnicode")
        .and_then(|stream| unpacked(stream).ok())
        .map(|bytes| to_unicode(&bytes))
        .unwrap_or_default();
    Font {
        place,
        dictionary,
        below,
        descriptor,
        program,
        characters,
        codes: BTreeSet::new(),
        replaced: BTreeSet::new(),
    }
}

/// Reads the `bfchar` and `bfrange` sections of a ToUnicode CMap (ISO 32000-1, 9.10.3, from memory).
pub(super) fn to_unicode(bytes: &[u8]) -> BTreeMap<u16, String> {
    let source = String::from_utf8_lossy(bytes);
    let spaced = source
        .replace('<', " <")
        .replace('>', "> ")
        .replace('[', " [ ")
        .replace(']', " ] ");
    let mut found = BTreeMap::new();
    let (mut section, mut row): (&str, Vec<Vec<u16>>) = ("", Vec::new());
    let (mut listed, mut next): (bool, u16) = (false, 0);
    for token in spaced.split_whitespace() {
        match token {
            "beginbfchar" | "beginbfrange" => {
                section = token;
                row.clear();
            }
            "endbfchar" | "endbfrange" => section = "",
            "[" => listed = section == "beginbfrange" && row.len() == 2,
            "]" => {
                listed = false;
                row.clear();
            }
            _ if section.is_empty() => {}
            _ => {
                let Some(units) = units(token) else { continue };
                if listed {
                    let first = row
                        .first()
                        .and_then(|row| row.first())
                        .copied()
                        .unwrap_or(0);
                    let code = first.wrapping_add(next);
                    found.insert(code, String::from_utf16_lossy(&units));
                    next = next.wrapping_add(1);
                    continue;
                }
                next = 0;
                row.push(units);
                let wanted = if section == "beginbfchar" { 2 } else { 3 };
                if row.len() == wanted {
                    insert_row(&mut found, &row);
                    row.clear();
                }
            }
        }
    }
    found
}

fn insert_row(found: &mut BTreeMap<u16, String>, row: &[Vec<u16>]) {
    let (Some(first), Some(to)) = (row.first().and_then(|first| first.first()), row.last()) else {
        return;
    };
    let last = if row.len() == 3 {
        row[1].first().copied().unwrap_or(*first)
    } else {
        *first
    };
    for (step, code) in (*first..=last).enumerate() {
        let mut units = to.clone();
        if let (Some(unit), Ok(step)) = (units.last_mut(), u16::try_from(step)) {
            *unit = unit.wrapping_add(step);
        }
        found.insert(code, String::from_utf16_lossy(&units));
    }
}

fn units(token: &str) -> Option<Vec<u16>> {
    let digits = token.strip_prefix('<')?.strip_suffix('>')?;
    (0..digits.len())
        .step_by(4)
        .map(|at| u16::from_str_radix(digits.get(at..digits.len().min(at + 4))?, 16).ok())
        .collect()
}
