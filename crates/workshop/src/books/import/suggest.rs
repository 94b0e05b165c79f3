//! A map to begin with: every column of a table with samples, and a guess where its name says enough.

use std::fmt::Write as _;
use std::path::Path;

use super::cells::Writing;
use super::guess::{Guess, dates, guesses, numbers};
use super::map::{Dates, Numbers};
use super::places::{Holds, holds, steps};
use super::run::{ReadTable, read};
use crate::WorkshopError;

/// Longest sample, in characters.
const LONGEST: usize = 40;

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
    let numbers = numbers(table);
    let writing = Writing {
        numbers: numbers.clone().unwrap_or(Numbers {
            decimal: '.',
            thousands: None,
        }),
        dates: dates(table),
        currency: Some("EUR".to_owned()),
    };
    let guesses = guesses(table, &writing);
    Ok(written(file, &found, &numbers, writing.dates, &guesses))
}

/// The lines about numbers; where they can be read in two ways, one to fill in, without which the map is refused.
fn numbers_lines(numbers: &Result<Numbers, String>) -> String {
    let none = "# thousands = \",\"            # between thousands, where something stands there\n";
    match numbers {
        Err(cell) => {
            let cut: String = cell.chars().take(LONGEST).collect();
            format!(
                "# `{}` can be read in two ways: fill in what stands before decimals, \".\" or \",\".\n\
                 decimal = \"\"\n{none}",
                cut.escape_debug()
            )
        }
        Ok(numbers) => {
            let thousands = numbers.thousands.map_or_else(
                || none.to_owned(),
                |mark| {
                    format!(
                        "thousands = {}              # between thousands\n",
                        quoted(&mark.to_string())
                    )
                },
            );
            let decimal = quoted(&numbers.decimal.to_string());
            format!("decimal = {decimal}                # before decimals\n{thousands}")
        }
    }
}

fn written(
    file: &Path,
    found: &ReadTable,
    numbers: &Result<Numbers, String>,
    dates: Dates,
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
         # hours.time, hours.for, hours.on; stage.stage, stage.note, stage.on; intake.as, intake.carrier, intake.came, intake.on. Several: cost[0].amount, cost[1].amount.\n\n",
        name.escape_debug(),
        name.escape_debug()
    );
    let _ = write!(
        text,
        "[table]\nencoding = {}\nseparator = {}\n{}\
         dates = {}           # {}\n# currency = \"EUR\"           # of amounts that name none\n\n",
        quoted(found.encoding.name()),
        quoted(&found.separator.to_string()),
        numbers_lines(numbers),
        quoted(dates.form()),
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

    #[test]
    fn numbers_that_can_be_read_in_two_ways_are_asked_for() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("list.csv");
        let begin = "Nr.;Titel;Gekauft am;Preis\n1;A;3.2.2024;1.200\n2;B;4.2.2024;850\n";
        std::fs::write(&file, begin).unwrap();
        let text = suggest_map(&file).unwrap();
        assert!(text.contains("# `1.200` can be read in two ways"), "{text}");
        let error = TableMap::read(Path::new("m.toml"), &text).unwrap_err();
        assert!(
            error.to_string().starts_with("m.toml: table.decimal: ``"),
            "{error}"
        );
        let filled = text
            .replace("decimal = \"\"", "decimal = \",\"")
            .replace("# thousands = \",\"", "thousands = \".\"");
        let map = TableMap::read(Path::new("m.toml"), &filled).unwrap();
        assert_eq!(map.writing.numbers.plain("1.200").unwrap(), "1200");
        // One number that can be read in one way only is enough.
        std::fs::write(&file, format!("{begin}3;C;5.2.2024;2.400,50\n")).unwrap();
        let map = TableMap::read(Path::new("m.toml"), &suggest_map(&file).unwrap()).unwrap();
        assert_eq!(map.writing.numbers.decimal, ',');
    }
}
