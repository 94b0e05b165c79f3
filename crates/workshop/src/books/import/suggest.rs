//! A map to begin with: every column of a table with samples, and a guess where its name says enough.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

use tangmark_core::units::import::Table;
use tangmark_core::units::reading::read as read_value;

use super::cells::Writing;
use super::map::{Dates, Numbers};
use super::places::{Holds, holds, steps};
use super::read;
use crate::WorkshopError;

/// Samples shown of a column.
const SAMPLES: usize = 4;
/// Longest sample, in characters.
const LONGEST: usize = 40;
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

/// What the sheet needs beside what columns fill: part, place, value.
const NEEDED: &[(&str, &str, &str)] = &[
    ("dimensions", "dimensions.datum", "back_notch"),
    ("dimensions.mass", "dimensions.mass_state", "bare"),
    ("tang", "tang.shape", "other"),
    ("tang", "tang.state", "unknown"),
    ("tang.inscriptions[0]", "tang.inscriptions[0].kind", "other"),
    ("blade.maker[0]", "blade.maker[0].author.role", "unknown"),
    ("blade.maker[0]", "blade.maker[0].basis", "as in the table"),
    ("blade.maker[0]", "blade.maker[0].confidence", "low"),
    ("blade.period[0]", "blade.period[0].author.role", "unknown"),
    (
        "blade.period[0]",
        "blade.period[0].basis",
        "as in the table",
    ),
    ("blade.period[0]", "blade.period[0].confidence", "low"),
    ("custody[0]", "custody[0].kind", "bought"),
    ("custody[0]", "custody[0].to.role", "polisher"),
    ("custody[0].from", "custody[0].from.role", "seller"),
];

/// A column with what is guessed of it.
struct Guess<'t> {
    name: &'t str,
    samples: Vec<String>,
    to: Option<&'static str>,
    unit: Option<String>,
    /// It is written so that it counts.
    active: bool,
}

/// Name of a column without its unit, and the unit: `Länge (cm)`, `length_cm`, `Gewicht [g]`.
fn apart(name: &str) -> (String, Option<String>) {
    let lower = name.trim().to_lowercase();
    let known = |unit: &str| {
        ["dimensions.mass", "dimensions.blade_length"]
            .iter()
            .filter_map(|place| holds(&steps(place)?))
            .any(|found| matches!(found, Holds::Quantity(dimension) if read_value(&format!("1 {unit}"), dimension).is_ok()))
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

/// How numbers of the table seem to be written.
fn numbers(table: &Table) -> Numbers {
    let mut commas = 0_usize;
    let mut stops = 0_usize;
    for at in 0..table.header.len() {
        for cell in samples(table, at, ROWS) {
            let number = cell.trim_matches(|letter: char| !letter.is_ascii_digit());
            let parts = |mark: char| {
                number.split_once(mark).is_some_and(|(one, other)| {
                    let digits = |text: &str| {
                        !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
                    };
                    digits(one) && digits(other) && other.len() != 3
                })
            };
            commas += usize::from(parts(','));
            stops += usize::from(parts('.'));
        }
    }
    if commas > stops {
        Numbers {
            decimal: ',',
            thousands: Some('.'),
        }
    } else {
        Numbers {
            decimal: '.',
            thousands: None,
        }
    }
}

/// How dates of the table seem to be written: the form that reads most cells, the plain one among equals.
fn dates(table: &Table) -> Dates {
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
            let text = tangmark_core::units::import::with_unit(&plain, guess.unit.as_deref());
            tangmark_core::units::reading::read_signed(&text, dimension).is_ok()
        }),
        _ => true,
    }
}

/// A text as TOML writes it.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

/// Writes a map for a table: what was found out of it, every column with samples, and a guess where the name of a column
/// says enough. What is not sure stands as a comment.
///
/// # Errors
/// When the table cannot be read.
pub fn suggest_map(file: &Path) -> Result<String, WorkshopError> {
    let found = read(file, None, None)?;
    let table = &found.table;
    let writing = Writing {
        numbers: numbers(table),
        dates: dates(table),
        currency: Some("EUR".to_owned()),
    };
    let mut taken = BTreeSet::new();
    let mut guesses: Vec<Guess<'_>> = Vec::new();
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
        guess.active = readable(&guess, &writing);
        guesses.push(guess);
    }
    Ok(written(file, &found, &writing, &guesses))
}

fn written(
    file: &Path,
    found: &super::ReadTable,
    writing: &Writing,
    guesses: &[Guess<'_>],
) -> String {
    let name = file
        .file_name()
        .map(|name| name.to_string_lossy())
        .unwrap_or_default();
    let mut text = format!(
        "# How the columns of {} become blades. Look at every guess, then try it:\n\
         #   tangmark book import {} --map THIS-FILE --dry-run\n\
         # Places of a sheet are written like dimensions.blade_length or custody[0].price; `tangmark schema show` lists them.\n\
         # Entries of the books: cost.amount, cost.for, cost.paid_to, cost.on; income.amount, income.for, income.from, income.on;\n\
         # hours.time, hours.for, hours.on; stage.stage, stage.note, stage.on. Several: cost[0].amount, cost[1].amount.\n\n",
        name.escape_debug(),
        name.escape_debug()
    );
    let numbers = writing.numbers;
    let thousands = numbers.thousands.map_or_else(
        || {
            "# thousands = \",\"            # between thousands, where something stands there\n"
                .to_owned()
        },
        |mark| {
            format!(
                "thousands = {}              # between thousands\n",
                quoted(&mark.to_string())
            )
        },
    );
    let _ = write!(
        text,
        "[table]\nencoding = {}\nseparator = {}\ndecimal = {}                # before decimals\n{thousands}\
         dates = {}           # {}\n# currency = \"EUR\"           # of amounts that name none\n\n",
        quoted(found.encoding.name()),
        quoted(&found.separator.to_string()),
        quoted(&numbers.decimal.to_string()),
        quoted(writing.dates.form()),
        Dates::ALL.map(Dates::form).join(", ")
    );
    let key = guesses
        .iter()
        .find(|guess| guess.to == Some(""))
        .or_else(|| guesses.iter().find(|guess| guess.to == Some("blade.title")))
        .or_else(|| guesses.first());
    let _ = write!(
        text,
        "# The column of which the key of each blade is made: letters, digits and hyphens of it.\n\
         [key]\ncolumn = {}\nrepeated = \"refuse\"          # or \"number\": a key that is taken becomes key-2\n\n",
        quoted(key.map_or("", |guess| guess.name))
    );
    for guess in guesses {
        column(&mut text, guess);
    }
    text.push_str("# What is the same in every row; taken where a column of the row fills that part of the sheet.\n\n");
    values(&mut text, guesses);
    text
}

fn column(text: &mut String, guess: &Guess<'_>) {
    let samples: Vec<String> = guess
        .samples
        .iter()
        .map(|sample| {
            let cut: String = sample.chars().take(LONGEST).collect();
            cut.escape_debug().to_string()
        })
        .collect();
    let samples = if samples.is_empty() {
        "empty".to_owned()
    } else {
        samples.join(" | ")
    };
    let _ = writeln!(text, "# {}: {samples}", guess.name.escape_debug());
    if guess.to == Some("") {
        text.push_str("# (the key, see above)\n\n");
        return;
    }
    let mut lines = vec![
        "[[column]]".to_owned(),
        format!("name = {}", quoted(guess.name)),
        format!("to = {}", quoted(guess.to.unwrap_or("blade.related"))),
    ];
    let found = guess.to.and_then(steps).and_then(|steps| holds(&steps));
    match (&found, &guess.unit) {
        (Some(Holds::Quantity(_)), Some(unit)) => lines.push(format!("unit = {}", quoted(unit))),
        (Some(Holds::Quantity(_)), None) if !guess.active => {
            lines.push("unit = \"cm\"               # of bare numbers: which?".to_owned());
        }
        _ => {}
    }
    if found.is_none() || guess.to == Some("blade.related") {
        lines.push(format!("prefix = {}", quoted(&format!("{}: ", guess.name))));
    }
    if let Some(Holds::Term(terms)) = &found {
        let known = |cell: &str| {
            let plain = cell.trim().to_lowercase().replace([' ', '-'], "_");
            terms
                .iter()
                .any(|term| term.key == plain || (!term.kanji.is_empty() && term.kanji == cell))
        };
        let unknown: Vec<String> = guess
            .samples
            .iter()
            .filter(|cell| !known(cell))
            .map(|cell| format!("{} = \"other\"", quoted(cell)))
            .collect();
        if !unknown.is_empty() {
            lines.push(format!(
                "words = {{ {} }}   # which term is each?",
                unknown.join(", ")
            ));
        }
    }
    for line in lines {
        let mark = if guess.active { "" } else { "# " };
        let _ = writeln!(text, "{mark}{line}");
    }
    text.push('\n');
}

fn values(text: &mut String, guesses: &[Guess<'_>]) {
    let places: Vec<&str> = guesses
        .iter()
        .filter(|guess| guess.active)
        .filter_map(|guess| guess.to)
        .collect();
    let filled = |part: &str| {
        places.iter().any(|place| {
            place.strip_prefix(part).is_some_and(|rest| {
                rest.is_empty() || rest.starts_with('.') || rest.starts_with('[')
            })
        })
    };
    let mut all: Vec<(&str, &str)> = Vec::new();
    for (place, value) in [
        ("blade.title", "Blade"),
        ("blade.object_type", "edged blade"),
        ("blade.kind_by_make", "other"),
        ("blade.construction", "other"),
    ] {
        if !places.contains(&place) {
            all.push((place, value));
        }
    }
    let needed = NEEDED.iter().filter(|(part, ..)| filled(part));
    all.extend(needed.map(|(_, place, value)| (*place, *value)));
    for (place, value) in all {
        let _ = writeln!(
            text,
            "[[value]]\nto = {}\nvalue = {}\n",
            quoted(place),
            quoted(value)
        );
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::TableMap;
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
    fn a_suggested_map_can_be_read() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("list.csv");
        std::fs::write(
            &file,
            "Nr.;Titel;Länge (cm);Gewicht (g);Gekauft am;Preis;Schublade\n7;Kurzschwert;45,5;412,6;03.11.2026;240,00 EUR;\"3\"\"\"\n",
        )
        .unwrap();
        let text = suggest_map(&file).unwrap();
        let map = TableMap::read(Path::new("m.toml"), &text)
            .unwrap_or_else(|error| panic!("{error}\n{text}"));
        assert_eq!(map.key, "Nr.");
        let names: Vec<&str> = map.columns.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(
            names,
            ["Titel", "Länge (cm)", "Gewicht (g)", "Gekauft am", "Preis"]
        );
        assert_eq!(map.writing.dates, Dates::DayMonthYearDots);
        assert_eq!(map.writing.numbers.decimal, ',');
        assert!(text.contains("# Schublade: 3"), "{text}");
        assert!(text.contains("# name = \"Schublade\""), "{text}");
    }
}
