//! What was handed over with each blade that left: every sale and return that was acknowledged is complete, and its folder
//! holds the package, the reports and nothing else, each with the digest that the sale was closed with.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;
use tangmark_core::Digest;

use super::YearError;
use super::actor::Actor;
use super::ledger::{Fact, Line};

/// Packages and reports by their paths.
#[derive(Debug, Default)]
pub(super) struct HandedOver {
    pub(super) packages: Vec<PathBuf>,
    pub(super) reports: Vec<PathBuf>,
}

/// Folder of the papers of a blade, in the folder of the year.
pub(super) fn folder_of(blade: &str) -> String {
    format!("sold/{blade}")
}

/// The blades that left, as the ledger acknowledged it, each with its way.
fn left(ledger: &[Line]) -> BTreeMap<String, &'static str> {
    let way = |line: &Line| match line.fact.as_ref()? {
        Fact::Sold { .. } => Some((line.blade.clone()?, "sale")),
        Fact::Returned { .. } => Some((line.blade.clone()?, "return")),
        _ => None,
    };
    ledger.iter().filter_map(way).collect()
}

/// Holds what was handed over against the ledger.
pub(super) fn handed_over(workshop: &Actor<'_>) -> Result<HandedOver, YearError> {
    let listed = workshop.json(&["sale", "list", "--json"])?;
    compare(
        &left(&workshop.shared.ledger.lines()),
        &listed,
        &workshop.shared.folder,
    )
}

fn compare(
    left: &BTreeMap<String, &'static str>,
    listed: &Value,
    folder: &Path,
) -> Result<HandedOver, YearError> {
    let lines = listed
        .as_array()
        .ok_or_else(|| YearError::Understood("`sale list --json`".to_owned()))?;
    if lines.len() != left.len() {
        return Err(YearError::Untrue(format!(
            "{} sales and returns are listed, {} were acknowledged",
            lines.len(),
            left.len()
        )));
    }
    let mut all = HandedOver::default();
    for (blade, way) in left {
        let untrue = |what: &str| YearError::Untrue(format!("{way} of {blade}: {what}"));
        let line = lines
            .iter()
            .find(|line| line["blade"] == **blade && line["way"] == *way)
            .ok_or_else(|| untrue("was acknowledged and is not listed"))?;
        if line["complete"] != true {
            return Err(untrue("is listed as not complete"));
        }
        let papers = line["papers"].as_array().map_or(&[][..], Vec::as_slice);
        let folder = folder.join(folder_of(blade));
        let mut there = files(&folder)?;
        let (packages, reports) = (all.packages.len(), all.reports.len());
        for paper in papers {
            let name = paper["file"].as_str().unwrap_or_default();
            let bytes = there
                .remove(name)
                .ok_or_else(|| untrue(&format!("`{name}` was handed over and is not there")))?;
            let digest = Digest::of(&bytes).to_string();
            let closed_with = paper["digest"].as_str().unwrap_or_default();
            if closed_with != digest {
                return Err(untrue(&format!(
                    "`{name}` is {digest}, handed over was {closed_with}"
                )));
            }
            match Path::new(name).extension().and_then(|end| end.to_str()) {
                Some("zip") => all.packages.push(folder.join(name)),
                Some("pdf") => all.reports.push(folder.join(name)),
                _ => {}
            }
        }
        if let Some(more) = there.keys().next() {
            return Err(untrue(&format!(
                "`{more}` is there and was not handed over"
            )));
        }
        let packages = all.packages.len() - packages;
        if packages != 1 {
            return Err(untrue(&format!("{packages} packages found, one expected")));
        }
        if all.reports.len() == reports {
            return Err(untrue("no report was handed over"));
        }
    }
    Ok(all)
}

/// The files in a folder by name; none where the folder is not there. Parts that a killed command left are no papers: their
/// names begin with a full stop and end in `.part`.
fn files(folder: &Path) -> Result<BTreeMap<String, Vec<u8>>, YearError> {
    if !folder.is_dir() {
        return Ok(BTreeMap::new());
    }
    let fault = |error| YearError::file("read", folder, &error);
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder).map_err(fault)? {
        let entry = entry.map_err(fault)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let ends = Path::new(&name).extension();
        if name.starts_with('.') && ends.is_some_and(|end| end == "part") {
            continue;
        }
        let bytes = fs::read(entry.path())
            .map_err(|error| YearError::file("read", &entry.path(), &error))?;
        files.insert(name, bytes);
    }
    Ok(files)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    fn told(complete: bool, papers: &[(&str, &str)]) -> Value {
        let papers: Vec<Value> = papers
            .iter()
            .map(|(file, bytes)| json!({ "file": file, "digest": Digest::of(bytes.as_bytes()).to_string() }))
            .collect();
        json!([{ "blade": "reed", "way": "sale", "complete": complete, "papers": papers }])
    }

    #[test]
    fn a_sale_that_left_out_a_paper_is_found() {
        let left = BTreeMap::from([("reed".to_owned(), "sale")]);
        let folder = tempfile::tempdir().unwrap();
        let sold = folder.path().join(folder_of("reed"));
        let fault = |told: &Value| {
            compare(&left, told, folder.path())
                .err()
                .map(|error| error.to_string())
        };
        let whole = told(true, &[("reed.pdf", "report"), ("reed.zip", "package")]);
        // No folder at all.
        assert_eq!(
            fault(&whole).unwrap(),
            "sale of reed: `reed.pdf` was handed over and is not there"
        );
        fs::create_dir_all(&sold).unwrap();
        fs::write(sold.join("reed.pdf"), "report").unwrap();
        assert_eq!(
            fault(&told(true, &[("reed.pdf", "report")])).unwrap(),
            "sale of reed: 0 packages found, one expected"
        );
        fs::write(sold.join("reed.zip"), "package").unwrap();
        fs::write(sold.join(".report-x.part"), "half").unwrap();
        let found = compare(&left, &whole, folder.path()).unwrap();
        assert_eq!((found.packages.len(), found.reports.len()), (1, 1));
        assert_eq!(
            fault(&told(true, &[("reed.zip", "package")])).unwrap(),
            "sale of reed: `reed.pdf` is there and was not handed over"
        );
        let other = told(true, &[("reed.pdf", "another"), ("reed.zip", "package")]);
        let (is, was) = (Digest::of(b"report"), Digest::of(b"another"));
        assert_eq!(
            fault(&other).unwrap(),
            format!("sale of reed: `reed.pdf` is {is}, handed over was {was}")
        );
        let begun = told(false, &[]);
        assert_eq!(
            fault(&begun).unwrap(),
            "sale of reed: is listed as not complete"
        );
        assert_eq!(
            fault(&json!([])).unwrap(),
            "0 sales and returns are listed, 1 were acknowledged"
        );
        let nothing = compare(&BTreeMap::new(), &json!([]), folder.path()).unwrap();
        assert!(nothing.packages.is_empty());
    }
}
