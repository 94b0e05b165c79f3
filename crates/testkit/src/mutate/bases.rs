//! What mutants begin with: the failure cases as they are, and chains of the committed records.

use std::collections::BTreeMap;

use super::loose::is_named;
use super::{Form, Maker, Mutant, ReaderFacts};
use crate::cases;
use crate::failures::bag::Bag;
use crate::failures::{Case, Kind, MakeError};

/// Longest file of a case that is compared: what is longer is refused by its length, which the cases themselves hold.
const LONGEST: usize = 1 << 20;

/// The cases that are compared: of the many that flip one byte those in the proof.
pub(super) fn cases(all: Vec<Case>) -> Vec<Case> {
    let fits = |case: &Case| case.files.iter().all(|(_, bytes)| bytes.len() <= LONGEST);
    all.into_iter()
        .filter(|case| case.number != 14 || case.name.contains("/proof"))
        .filter(fits)
        .collect()
}

/// A case as a mutant. Two of three readers know the workshop's key; who certified the authority is trusted.
pub(super) fn mutant(case: &Case, number: u64, maker: &Maker) -> Mutant {
    let class = format!("case {} {}", case.number, case.name.replace('+', " "));
    let mut mutant = match case.kind {
        Kind::Package => Mutant::zip(&[&class], case.judged().to_vec()),
        Kind::Keys => {
            // A history is judged beside a record.
            let mut files = vec![("file".to_owned(), maker.material.records[0].bytes.clone())];
            files.extend(case.files.iter().cloned());
            Mutant::new(&[&class], Form::Loose, files)
        }
        Kind::Record | Kind::Pdf | Kind::Json => {
            let mut files = vec![("file".to_owned(), case.judged().to_vec())];
            let beside = case.files.iter().skip(1);
            files.extend(beside.filter(|(name, _)| !is_named(name, "pem")).cloned());
            Mutant::new(&[&class], Form::Loose, files)
        }
    };
    mutant.reader = ReaderFacts {
        authorities: vec![maker.root.clone()],
        ..ReaderFacts::default()
    };
    if !number.is_multiple_of(3) {
        let key = maker.material.keys.workshop.public_key();
        mutant
            .reader
            .fingerprints
            .push(key.fingerprint().to_string());
        mutant.keys.push(key);
    }
    mutant
}

/// The committed records as packages, one for each blade.
pub(super) fn samples() -> Result<Vec<Bag>, MakeError> {
    let mut blades: BTreeMap<String, Bag> = BTreeMap::new();
    for case in cases::golden()? {
        let file = case.name.split_once('-').map_or("", |(_, file)| file);
        let bag = blades.entry(case.record.blade.id.to_string()).or_default();
        bag.put(&format!("records/{file}.json"), case.bytes.clone());
    }
    Ok(blades.into_values().collect())
}
