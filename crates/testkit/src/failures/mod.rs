//! The failure cases that are files: what somebody could hand to a reader, made from fixed keys.
//!
//! Each case has the number it has in the list of failures that `tests/tests/failure_cases` speaks of, and a kind that says
//! how its files belong together:
//!
//! | kind | files |
//! |---|---|
//! | `json` | one text for the strict reader |
//! | `record` | the record that is judged; beside it further records, `disclosures….json`, `keys….json`, `….tsr`, `….pem` |
//! | `pdf` | the report that is judged; beside it further records |
//! | `package` | one zip file |
//! | `keys` | one key history; beside it further ones, or a record that it is asked about |
//!
//! No expectation stands in the corpus: whoever judges it has a list of his own.

pub mod authority;
pub mod bag;
mod cases_chain;
mod cases_json;
mod cases_keys;
mod cases_package;
mod cases_pdf;
mod cases_proof;
mod cases_time;
mod cases_withheld;
pub mod der;
pub mod histories;
pub mod material;
pub mod package;
pub mod pictures;
pub mod report;
pub mod zip;

use std::fs;
use std::path::Path;

use serde::Serialize;

pub use crate::sealed::MakeError;
use crate::sealed::fault;
pub use cases_pdf::sound_report;
use material::Material;

/// How the files of a case belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A text for the strict reader.
    Json,
    /// A sealed record.
    Record,
    /// A signed report.
    Pdf,
    /// A hand-over package.
    Package,
    /// A key history.
    Keys,
}

/// A case: the first file is judged, the others are handed in beside it.
#[derive(Clone, Debug)]
pub struct Case {
    /// Number in the list of failures.
    pub number: u32,
    /// What was done, in words.
    pub name: String,
    /// How the files belong together.
    pub kind: Kind,
    /// Name and bytes of each file.
    pub files: Vec<(String, Vec<u8>)>,
}

impl Case {
    /// The file that is judged.
    pub fn judged(&self) -> &[u8] {
        self.files.first().map_or(&[], |(_, bytes)| bytes)
    }

    /// Files beside it whose names end so.
    pub fn beside(&self, ending: &str) -> impl Iterator<Item = &(String, Vec<u8>)> {
        self.files
            .iter()
            .skip(1)
            .filter(move |(name, _)| name.ends_with(ending))
    }
}

/// A list of cases that grows.
#[derive(Debug, Default)]
struct Corpus {
    cases: Vec<Case>,
}

impl Corpus {
    fn add(&mut self, number: u32, kind: Kind, name: &str, files: Vec<(&str, Vec<u8>)>) {
        self.cases.push(Case {
            number,
            name: name.to_owned(),
            kind,
            files: files
                .into_iter()
                .map(|(name, bytes)| (name.to_owned(), bytes))
                .collect(),
        });
    }

    fn json(&mut self, number: u32, name: &str, bytes: impl Into<Vec<u8>>) {
        self.add(number, Kind::Json, name, vec![("text.json", bytes.into())]);
    }

    fn record(&mut self, number: u32, name: &str, bytes: impl Into<Vec<u8>>) {
        self.add(
            number,
            Kind::Record,
            name,
            vec![("record.json", bytes.into())],
        );
    }

    fn pdf(&mut self, number: u32, name: &str, bytes: impl Into<Vec<u8>>) {
        self.add(number, Kind::Pdf, name, vec![("report.pdf", bytes.into())]);
    }

    fn package(&mut self, number: u32, name: &str, bytes: impl Into<Vec<u8>>) {
        self.add(
            number,
            Kind::Package,
            name,
            vec![("package.zip", bytes.into())],
        );
    }
}

/// All cases, in the order of their numbers.
///
/// # Errors
/// When the project's own types refuse what is made here.
pub fn all() -> Result<Vec<Case>, MakeError> {
    let material = Material::new()?;
    let mut corpus = Corpus::default();
    cases_json::add(&mut corpus, &material)?;
    cases_proof::add(&mut corpus, &material)?;
    cases_keys::add(&mut corpus, &material)?;
    cases_chain::add(&mut corpus, &material)?;
    cases_withheld::add(&mut corpus, &material)?;
    cases_package::add(&mut corpus, &material)?;
    cases_pdf::add(&mut corpus, &material)?;
    cases_time::add(&mut corpus, &material)?;
    corpus.cases.sort_by_key(|case| case.number);
    Ok(corpus.cases)
}

#[derive(Serialize)]
struct Line<'a> {
    case: u32,
    name: &'a str,
    kind: Kind,
    files: Vec<String>,
}

/// Writes all cases below a folder, with `index.json`; returns how many there are.
///
/// # Errors
/// When a file cannot be written.
pub fn write(out: &Path) -> Result<usize, MakeError> {
    let cases = all()?;
    let mut lines = Vec::new();
    for case in &cases {
        let folder = format!("{:02}/{}", case.number, folder_name(&case.name));
        fs::create_dir_all(out.join(&folder)).map_err(fault("failure cases"))?;
        let mut files = Vec::new();
        for (name, bytes) in &case.files {
            let path = format!("{folder}/{name}");
            fs::write(out.join(&path), bytes).map_err(fault("failure cases"))?;
            files.push(path);
        }
        lines.push(Line {
            case: case.number,
            name: &case.name,
            kind: case.kind,
            files,
        });
    }
    let mut index = serde_json::to_string_pretty(&lines).map_err(fault("failure cases"))?;
    index.push('\n');
    fs::write(out.join("index.json"), index).map_err(fault("failure cases"))?;
    Ok(cases.len())
}

fn folder_name(name: &str) -> String {
    let words: Vec<String> = name
        .split(|sign: char| !sign.is_ascii_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    words.join("-")
}
