//! Every bad sheet and record of `samples/invalid` is refused with exactly the text that stands beside it.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use tangmark_core::json::{self, Limits};
use tangmark_core::record::{PhotoFile, Record, Sheet};
use tangmark_core::sheet::{self, SheetError, SheetFormat};
use tangmark_core::{Digest, check, schema};

/// Files that must have run at least; raise it when files are added.
const SHEETS: usize = 107;
const RECORDS: usize = 39;

/// Stands in sample records for the digest of the published schema.
const ANY_SCHEMA: &str = "0000000000000000000000000000000000000000000000000000000000000000";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../samples/invalid")
}

fn any_photo(path: &str) -> Result<PhotoFile, String> {
    if path.contains("missing") {
        return Err(format!("no file at `{path}`"));
    }
    Ok(PhotoFile {
        digest: Digest::of(path.as_bytes()),
        length: 1,
        media_type: "image/jpeg".to_owned(),
        width_px: 1600,
        height_px: 380,
        orientation: None,
    })
}

fn read_sheet(path: &Path) -> Result<Sheet, SheetError> {
    let format = if path
        .extension()
        .is_some_and(|extension| extension == "toml")
    {
        SheetFormat::Toml
    } else {
        SheetFormat::Json
    };
    sheet::read(&fs::read(path).unwrap(), format, &mut any_photo)
}

/// Reads a record as a verifier does; the text is what a person would see.
fn read_record(path: &Path) -> Result<Record, String> {
    let mut bytes = fs::read(path).unwrap();
    if let Ok(text) = std::str::from_utf8(&bytes) {
        bytes = text
            .replace(ANY_SCHEMA, &schema::record_digest().to_string())
            .into_bytes();
    }
    let document = json::read(&bytes, &Limits::default())
        .map_err(|error| format!("{error}\nhint: {}", error.hint()))?;
    check::record(&document.value)
        .map_err(|problems| shown(&SheetError::in_json(problems, document.positions)))
}

fn shown(error: &SheetError) -> String {
    format!("{error}\nhint: {}", error.hint())
}

/// The sample files of a folder, by name.
fn samples(name: &str) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder().join(name))
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let files: BTreeSet<PathBuf> = entries
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension != "expected")
        })
        .collect();
    files.into_iter().collect()
}

/// Compares what came out with the text beside the sample.
fn compare(path: &Path, found: Result<(), String>, wrong: &mut Vec<String>) {
    let Err(found) = found else {
        wrong.push(format!("{} is read as if it were sound", path.display()));
        return;
    };
    let found = found.replace(
        &schema::record_digest().to_string(),
        "<digest of the schema>",
    ) + "\n";
    let expected = path.with_extension("expected");
    if std::env::var_os("BLESS").is_some() {
        fs::write(&expected, &found).unwrap();
    }
    let wanted = fs::read_to_string(&expected).unwrap_or_default();
    if wanted != found {
        wrong.push(format!(
            "{}\n--- expected\n{wanted}--- found\n{found}",
            path.display()
        ));
    }
}

#[test]
fn the_good_ones_are_read() {
    let toml =
        read_sheet(&folder().join("good.toml")).unwrap_or_else(|error| panic!("{}", shown(&error)));
    let json =
        read_sheet(&folder().join("good.json")).unwrap_or_else(|error| panic!("{}", shown(&error)));
    assert_eq!(toml, json, "the two ways to write a sheet say the same");
    let record =
        read_record(&folder().join("good-record.json")).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(record.blade.id, toml.blade.id);
}

#[test]
fn bad_sheets_are_refused_with_a_text_that_helps() {
    let mut wrong = Vec::new();
    let files = samples("sheets");
    for path in &files {
        compare(
            path,
            read_sheet(path).map(|_| ()).map_err(|error| shown(&error)),
            &mut wrong,
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(
        files.len() >= SHEETS,
        "{} bad sheets ran, {SHEETS} are committed",
        files.len()
    );
}

#[test]
fn bad_records_are_refused_with_a_text_that_helps() {
    let mut wrong = Vec::new();
    let files = samples("records");
    for path in &files {
        compare(path, read_record(path).map(|_| ()), &mut wrong);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(
        files.len() >= RECORDS,
        "{} bad records ran, {RECORDS} are committed",
        files.len()
    );
}

#[test]
fn every_text_names_place_and_next_step() {
    for path in samples("sheets").iter().chain(&samples("records")) {
        let text = fs::read_to_string(path.with_extension("expected")).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        assert!(
            lines.len() >= 2 && text.ends_with('\n'),
            "{}",
            path.display()
        );
        let (problems, hint) = lines.split_at(lines.len() - 1);
        assert!(
            problems.iter().all(|line| line.starts_with("line ")),
            "{}: {text}",
            path.display()
        );
        assert!(
            hint[0].starts_with("hint: ") && hint[0].len() > 12,
            "{}: {text}",
            path.display()
        );
        // One flaw, one problem.
        assert!(problems.len() == 1, "{}: {text}", path.display());
    }
}

/// The record files without their flaw are the good one: the flaw is in one place.
#[test]
fn bad_records_stay_near_the_good_one() {
    let good: Value =
        serde_json::from_slice(&fs::read(folder().join("good-record.json")).unwrap()).unwrap();
    let good = good.as_object().unwrap();
    for path in samples("records") {
        let Ok(Value::Object(bad)) = serde_json::from_slice(&fs::read(&path).unwrap()) else {
            continue;
        };
        let names: BTreeSet<&String> = good.keys().chain(bad.keys()).collect();
        let differing = names
            .into_iter()
            .filter(|name| good.get(*name) != bad.get(*name))
            .count();
        assert!(
            differing <= 1,
            "{}: {differing} members differ",
            path.display()
        );
    }
}
