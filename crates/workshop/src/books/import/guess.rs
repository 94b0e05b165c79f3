//! What the columns of a table may be, by their names and what stands in them.

use std::collections::BTreeSet;

use tangmark_core::units::import::{Table, with_unit};
use tangmark_core::units::reading::{read, read_signed};

use super::super::guard::as_it_was;
use super::cells::Writing;
use super::map::{Dates, Numbers};
use super::places::{Holds, holds, steps};

/// Samples shown of a column.
const SAMPLES: usize = 4;
/// Rows that are looked at.
const ROWS: usize = 200;

/// What columns are often called, and where they go; the first that fits is taken.
///
/// Words of the trade and of plain inventories, from memory.
const NAMES: &[(&str, &[&str])] = &[
    (
        "",
        &[
            "no",
            "nr",
            "number",
            "nummer",
            "id",
            "key",
            "inventory",
            "inventory no",
            "番号",
            "整理番号",
        ],
    ),
    (
        "blade.title",
        &["title", "name", "titel", "bezeichnung", "名称", "品名"],
    ),
    (
        "blade.object_type",
        &["object", "type of object", "objekt", "品目"],
    ),
    (
        "blade.kind_by_make",
        &["kind", "type", "art", "typ", "種別", "刀種"],
    ),
    (
        "dimensions.overall_length",
        &["overall length", "total length", "gesamtlänge", "全長"],
    ),
    (
        "dimensions.blade_length",
        &[
            "length",
            "blade length",
            "nagasa",
            "länge",
            "klingenlänge",
            "刃長",
            "長さ",
        ],
    ),
    (
        "dimensions.curvature",
        &["curvature", "sori", "krümmung", "biegung", "反り"],
    ),
    (
        "dimensions.width_at_base",
        &["width", "width at base", "motohaba", "breite", "元幅"],
    ),
    (
        "dimensions.width_at_point",
        &["width at point", "sakihaba", "先幅"],
    ),
    (
        "dimensions.thickness_at_base",
        &["thickness", "kasane", "motokasane", "dicke", "元重", "重ね"],
    ),
    (
        "dimensions.tang_length",
        &["tang", "tang length", "nakago", "angel", "茎長"],
    ),
    (
        "dimensions.mass",
        &["mass", "weight", "gewicht", "重量", "重さ"],
    ),
    (
        "tang.inscriptions[0].reading",
        &["inscription", "signature", "mei", "signatur", "銘"],
    ),
    (
        "blade.maker[0].statement",
        &["maker", "smith", "schmied", "刀工", "作者"],
    ),
    (
        "blade.period[0].statement",
        &["period", "age", "epoche", "zeit", "時代"],
    ),
    (
        "custody[0].price",
        &[
            "price",
            "paid",
            "bought for",
            "preis",
            "kaufpreis",
            "価格",
            "購入価格",
        ],
    ),
    (
        "custody[0].when",
        &[
            "date",
            "bought",
            "bought on",
            "datum",
            "gekauft",
            "kaufdatum",
            "gekauft am",
            "購入日",
            "日付",
        ],
    ),
    (
        "custody[0].from.name",
        &[
            "seller",
            "from",
            "bought from",
            "verkäufer",
            "von",
            "購入先",
        ],
    ),
    (
        "blade.related",
        &[
            "note",
            "notes",
            "remark",
            "remarks",
            "bemerkung",
            "bemerkungen",
            "notiz",
            "備考",
        ],
    ),
];

/// A column with what is guessed of it.
pub(super) struct Guess<'t> {
    pub(super) name: &'t str,
    pub(super) samples: Vec<String>,
    pub(super) to: Option<&'static str>,
    pub(super) unit: Option<String>,
    /// It is written so that it counts.
    pub(super) active: bool,
}

/// Name of a column without its unit, and the unit: `Länge (cm)`, `length_cm`, `Gewicht [g]`.
fn apart(name: &str) -> (String, Option<String>) {
    let lower = name.trim().to_lowercase();
    let known = |unit: &str| {
        ["dimensions.mass", "dimensions.blade_length"]
            .iter()
            .filter_map(|place| holds(&steps(place)?))
            .any(|found| matches!(found, Holds::Quantity(dimension) if read(&format!("1 {unit}"), dimension).is_ok()))
    };
    let words = |text: &str| {
        let parts: Vec<&str> = text
            .split([' ', '_', '.', ':', '/'])
            .filter(|part| !part.is_empty())
            .collect();
        parts.join(" ")
    };
    for (open, close) in [('(', ')'), ('[', ']'), ('（', '）')] {
        if let Some((before, rest)) = lower.split_once(open) {
            let inner = rest.split(close).next().unwrap_or_default().trim();
            let unit = inner.trim_start_matches("in ").trim();
            return (words(before), known(unit).then(|| unit.to_owned()));
        }
    }
    let plain = words(&lower);
    if let Some((before, last)) = plain.rsplit_once(' ')
        && known(last)
    {
        return (
            before.trim_end_matches(" in").to_owned(),
            Some(last.to_owned()),
        );
    }
    (plain, None)
}

/// Up to some samples of a column, each once.
fn samples(table: &Table, at: usize, most: usize) -> Vec<String> {
    let mut seen = BTreeSet::new();
    let mut all = Vec::new();
    for row in table.rows.iter().take(ROWS) {
        if let Ok(Some(cell)) = row.cell(at)
            && let cell = as_it_was(&cell).to_owned()
            && seen.insert(cell.clone())
        {
            all.push(cell);
            if all.len() == most {
                break;
            }
        }
    }
    all
}

/// What a number tells about how numbers are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tells {
    /// The mark stands before decimals; the other mark between thousands, where it says so.
    Decimal(char, Option<char>),
    /// Three digits stand behind the only mark: thousands or decimals.
    Either(char),
    /// Nothing.
    Nothing,
}

/// What a cell tells, by the marks between its first and its last digit.
fn tells(cell: &str) -> Tells {
    let is_space = |letter: char| matches!(letter, ' ' | '\u{a0}' | '\u{202f}' | '\'');
    let number: String = cell
        .trim_matches(|letter: char| !letter.is_ascii_digit())
        .chars()
        .filter(|letter| !is_space(*letter))
        .collect();
    let is_mark = |letter: char| matches!(letter, '.' | ',');
    let groups: Vec<&str> = number.split(is_mark).collect();
    let plain = |group: &&str| !group.is_empty() && group.bytes().all(|byte| byte.is_ascii_digit());
    let marks: Vec<char> = number.chars().filter(|letter| is_mark(*letter)).collect();
    let (Some(first), Some(last), true) = (marks.first(), marks.last(), groups.iter().all(plain))
    else {
        return Tells::Nothing;
    };
    let other = |mark: char| if mark == '.' { ',' } else { '.' };
    // Between thousands: at most three digits, then three behind each mark.
    let thousands = |groups: &[&str]| {
        groups.split_first().is_some_and(|(head, rest)| {
            head.len() <= 3 && !head.starts_with('0') && rest.iter().all(|group| group.len() == 3)
        })
    };
    let (head, end) = groups.split_at(groups.len() - 1);
    if first != last {
        let alike = marks[..marks.len() - 1].iter().all(|mark| mark == first);
        return if alike && thousands(head) {
            Tells::Decimal(*last, Some(*first))
        } else {
            Tells::Nothing
        };
    }
    match (marks.len(), thousands(&groups)) {
        (1, true) => Tells::Either(*last),
        (1, false) if end.iter().all(|group| !group.is_empty()) => Tells::Decimal(*last, None),
        (_, true) => Tells::Decimal(other(*last), Some(*last)),
        _ => Tells::Nothing,
    }
}

/// How numbers of the table seem to be written; else a cell that can be read in two ways.
pub(super) fn numbers(table: &Table) -> Result<Numbers, String> {
    let (mut commas, mut stops) = (0_usize, 0_usize);
    let mut comma_between = false;
    let mut either: Option<String> = None;
    for at in 0..table.header.len() {
        for cell in samples(table, at, ROWS) {
            match tells(&cell) {
                Tells::Decimal(mark, between) => {
                    commas += usize::from(mark == ',');
                    stops += usize::from(mark == '.');
                    comma_between |= between == Some(',');
                }
                Tells::Either(mark) => {
                    comma_between |= mark == ',';
                    either.get_or_insert(cell);
                }
                Tells::Nothing => {}
            }
        }
    }
    if commas > stops {
        return Ok(Numbers {
            decimal: ',',
            thousands: Some('.'),
        });
    }
    match either {
        Some(cell) if commas == stops => Err(cell),
        _ => Ok(Numbers {
            decimal: '.',
            thousands: comma_between.then_some(','),
        }),
    }
}

/// How dates of the table seem to be written: the form that reads most cells, the plain one among equals.
pub(super) fn dates(table: &Table) -> Dates {
    let cells: Vec<String> = (0..table.header.len())
        .flat_map(|at| samples(table, at, ROWS))
        .filter(|cell| cell.len() >= 8 && cell.starts_with(|first: char| first.is_ascii_digit()))
        .collect();
    let mut best = (Dates::Iso, 0);
    for form in Dates::ALL {
        let read = cells.iter().filter(|cell| form.read(cell).is_ok()).count();
        if read > best.1 {
            best = (form, read);
        }
    }
    best.0
}

/// Whether every sample can be read as what its place holds.
fn readable(guess: &Guess<'_>, writing: &Writing) -> bool {
    let Some(found) = guess.to.and_then(steps).and_then(|steps| holds(&steps)) else {
        return false;
    };
    match found {
        Holds::Quantity(dimension) => guess.samples.iter().all(|cell| {
            let plain = writing.numbers.plain(cell).unwrap_or_default();
            let text = with_unit(&plain, guess.unit.as_deref());
            read_signed(&text, dimension).is_ok()
        }),
        _ => true,
    }
}

/// Guesses each column of a table; a place is guessed once.
pub(super) fn guesses<'t>(table: &'t Table, writing: &Writing) -> Vec<Guess<'t>> {
    let mut taken = BTreeSet::new();
    let mut all: Vec<Guess<'_>> = Vec::new();
    for (at, name) in table.header.iter().enumerate() {
        let (plain, unit) = apart(name);
        let to = NAMES
            .iter()
            .find(|(_, names)| names.contains(&plain.as_str()))
            .map(|(to, _)| *to)
            .filter(|to| taken.insert(*to));
        let mut guess = Guess {
            name,
            samples: samples(table, at, SAMPLES),
            to,
            unit,
            active: false,
        };
        guess.active = readable(&guess, writing);
        all.push(guess);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_guessed_by_their_names() {
        for (name, plain, unit) in [
            ("Länge (cm)", "länge", Some("cm")),
            ("length_mm", "length", Some("mm")),
            ("Gewicht [g]", "gewicht", Some("g")),
            ("長さ（cm）", "長さ", Some("cm")),
            ("Nr.", "nr", None),
            ("Notes (private)", "notes", None),
        ] {
            let (found, of) = apart(name);
            assert_eq!((found.as_str(), of.as_deref()), (plain, unit), "{name}");
        }
    }

    #[test]
    fn groups_of_three_alone_tell_nothing() {
        for (cell, told) in [
            ("1.200", Tells::Either('.')),
            ("1,200 mm", Tells::Either(',')),
            ("EUR 1.200,50", Tells::Decimal(',', Some('.'))),
            ("1,200.5", Tells::Decimal('.', Some(','))),
            ("1.200.000", Tells::Decimal(',', Some('.'))),
            ("1 200,50", Tells::Decimal(',', None)),
            ("70,15", Tells::Decimal(',', None)),
            ("0.125", Tells::Decimal('.', None)),
            ("1234.567", Tells::Decimal('.', None)),
            ("3.2.2024", Tells::Nothing),
            ("2024-02-03", Tells::Nothing),
            ("1,200.500,3", Tells::Nothing),
            ("850", Tells::Nothing),
            ("2 shaku 3 sun, old", Tells::Nothing),
        ] {
            assert_eq!(tells(cell), told, "{cell}");
        }
    }
}
