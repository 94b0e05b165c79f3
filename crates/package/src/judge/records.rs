//! Records and the disclosures beside them, one at a time.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, PoisonError};

use serde_json::{Map, Value};
use tangmark_core::chain::Link;
use tangmark_core::json::{self, Limits};
use tangmark_core::record::withhold::RULES;
use tangmark_core::record::{Photo, Purpose, Record, Term as _};
use tangmark_core::{Digest, check};
use tangmark_trust::PublicKey;
use tangmark_trust::verdict::{self, BytesLine, FileKind};
use tangmark_trust::withhold::{self, DisclosureError, Withheld};

use super::hash::refusal;
use super::photos::NamedPhotos;
use super::verdict::{DisclosuresState, DisclosuresVerdict, RecordState, RecordVerdict};
use super::{PackageReader, work};
use crate::open::{Package, Refusal};
use crate::path::Place;

/// What is kept of a record after it was read.
#[derive(Debug)]
pub(super) struct Light {
    pub(super) file: String,
    pub(super) verdict: RecordVerdict,
    pub(super) key: Option<PublicKey>,
    pub(super) link: Option<Link>,
    /// SHA-256 over the file.
    pub(super) digest: Digest,
}

impl Light {
    /// Whether what it says counts.
    pub(super) fn stands(&self) -> bool {
        matches!(
            self.verdict.state,
            RecordState::Intact | RecordState::SameContent
        )
    }

    /// Whether it is part of the chain.
    pub(super) fn in_chain(&self) -> bool {
        self.stands() || self.verdict.state == RecordState::Misnamed
    }
}

/// All records of a package, by file.
#[derive(Debug, Default)]
pub(super) struct Records {
    pub(super) all: Vec<Light>,
    pub(super) disclosures: BTreeMap<String, DisclosuresVerdict>,
    pub(super) photos: NamedPhotos,
}

/// A record file of the list.
struct File<'p> {
    path: &'p str,
    number: u64,
    purpose: Purpose,
    digest: Digest,
    /// Another file has the number too.
    shared: bool,
}

impl Records {
    /// Reads every record, and the disclosures for it. `digests` are those of all files.
    ///
    /// # Errors
    /// When a file shows that the package must be refused.
    pub(super) fn read(
        package: &Package,
        digests: &[Digest],
        reader: &PackageReader<'_>,
    ) -> Result<Self, Refusal> {
        let mut numbers: BTreeMap<u64, usize> = BTreeMap::new();
        let mut files = Vec::new();
        for (file, digest) in package.files().iter().zip(digests) {
            if let Place::Record { number, purpose } = Place::of(&file.path) {
                *numbers.entry(number).or_default() += 1;
                files.push(File {
                    path: &file.path,
                    number,
                    purpose,
                    digest: *digest,
                    shared: false,
                });
            }
        }
        for file in &mut files {
            file.shared = numbers.get(&file.number).is_some_and(|count| *count > 1);
        }
        let photos = Mutex::new(NamedPhotos::default());
        let read = work::all(&files, |file| one(package, file, reader, &photos));
        let mut records = Self::default();
        for one in read {
            let (light, disclosures) = one?;
            records.all.push(light);
            records.disclosures.extend(disclosures);
        }
        records.photos = photos.into_inner().unwrap_or_else(PoisonError::into_inner);
        records.add_lone_disclosures(package)?;
        Ok(records)
    }

    /// Disclosures whose record does not stand.
    fn add_lone_disclosures(&mut self, package: &Package) -> Result<(), Refusal> {
        for file in package.files() {
            let Place::Disclosures(number) = Place::of(&file.path) else {
                continue;
            };
            if self.disclosures.contains_key(&file.path) {
                continue;
            }
            let bytes = package.read(&file.path, u64::MAX).map_err(refusal)?;
            // What is no file of disclosures is refused, whatever record it is said to belong to.
            let reason = unfit(&bytes);
            let state = match (&reason, self.numbered(number)) {
                (Some(_), _) => DisclosuresState::Refused,
                (None, Numbered::CannotJudge) => DisclosuresState::CannotJudge,
                (None, _) => DisclosuresState::NoRecord,
            };
            let verdict = DisclosuresVerdict {
                state,
                places: Vec::new(),
                reason,
            };
            self.disclosures.insert(file.path.clone(), verdict);
        }
        Ok(())
    }

    /// What stands under a number.
    pub(super) fn numbered(&self, number: u64) -> Numbered<'_> {
        let mut files = self
            .all
            .iter()
            .filter(|light| light.verdict.number == number);
        // Where two files have the number, both are misnamed.
        match files.clone().find(|light| light.stands()) {
            Some(light) => Numbered::Stands(light),
            None if files.any(|light| light.verdict.state == RecordState::CannotJudge) => {
                Numbered::CannotJudge
            }
            None => Numbered::None,
        }
    }

    /// The record that the verdict is about.
    pub(super) fn subject(&self) -> Option<&Light> {
        let newest = |light: &&Light| (light.verdict.number, light.file.clone());
        let standing = self.all.iter().filter(|light| light.stands());
        standing
            .max_by_key(newest)
            .or_else(|| self.all.iter().max_by_key(newest))
    }

    /// Links of the chain, and the numbers of files that have a verdict of their own.
    pub(super) fn chain(&self) -> (Vec<Link>, BTreeSet<u32>) {
        let links = self.all.iter().filter(|light| light.in_chain());
        let told = self.all.iter().filter(|light| !light.in_chain());
        (
            links.filter_map(|light| light.link.clone()).collect(),
            told.filter_map(|light| u32::try_from(light.verdict.number).ok())
                .collect(),
        )
    }
}

/// What stands under a number.
#[derive(Debug)]
pub(super) enum Numbered<'r> {
    /// A record that stands.
    Stands(&'r Light),
    /// A file that cannot be judged.
    CannotJudge,
    /// Nothing.
    None,
}

type One = Result<(Light, Option<(String, DisclosuresVerdict)>), Refusal>;

fn one(
    package: &Package,
    file: &File<'_>,
    reader: &PackageReader<'_>,
    photos: &Mutex<NamedPhotos>,
) -> One {
    let bytes = package.read(file.path, u64::MAX).map_err(refusal)?;
    // Histories and evidence are not read yet; bytes and name do not depend on them.
    let judged = verdict::judge(&bytes, &reader.bare());
    let mut light = Light {
        file: file.path.to_owned(),
        verdict: RecordVerdict {
            state: state(&judged.verdict),
            number: file.number,
            sequence: None,
            purpose: None,
            name: judged.verdict.record,
            issuer: judged.verdict.issuer.clone(),
            key: judged.verdict.key.clone(),
            fingerprint: judged.verdict.fingerprint.clone(),
            issued_at: judged.verdict.time.stated().map(str::to_owned),
            standing: None,
            reasons: reasons_of_record(&judged.verdict),
        },
        key: judged.key,
        link: None,
        digest: file.digest,
    };
    let Some(record) = judged.record.filter(|_| light.in_chain()) else {
        return Ok((light, None));
    };
    light.verdict.sequence = Some(record.sequence);
    light.verdict.purpose = Some(record.purpose.key());
    light.link = light.verdict.name.map(|name| Link::of(name, &record));
    if let Some(reason) = misnamed(file, &record) {
        light.verdict.state = RecordState::Misnamed;
        light.verdict.reasons.push(reason);
        return Ok((light, None));
    }
    let add = |shown: &[Photo]| {
        let mut photos = photos.lock().unwrap_or_else(PoisonError::into_inner);
        photos.add(file.number, shown);
    };
    let beside = format!("data/disclosures/{:02}.json", file.number);
    let disclosures = match package.read(&beside, u64::MAX) {
        Ok(disclosures) => disclosures,
        Err(crate::open::ReadError::NoSuchFile(_)) => {
            add(&record.photos);
            return Ok((light, None));
        }
        Err(error) => return Err(refusal(error)),
    };
    let verdict = match open(&bytes, &disclosures) {
        Ok(opened) => {
            add(&opened.record.photos);
            DisclosuresVerdict {
                state: DisclosuresState::Fit,
                places: opened.places,
                reason: None,
            }
        }
        Err(reason) => {
            add(&record.photos);
            DisclosuresVerdict {
                state: DisclosuresState::Refused,
                places: Vec::new(),
                reason: Some(reason),
            }
        }
    };
    Ok((light, Some((beside, verdict))))
}

/// In a place for records, what is none is none that was sealed.
fn state(verdict: &verdict::Verdict) -> RecordState {
    match (&verdict.bytes, verdict.kind) {
        (_, FileKind::Pdf) => RecordState::Altered,
        (BytesLine::Intact, _) => RecordState::Intact,
        (BytesLine::SameContent, _) => RecordState::SameContent,
        (BytesLine::CannotJudge { .. }, _) if verdict.record.is_some() => RecordState::CannotJudge,
        _ => RecordState::Altered,
    }
}

pub(super) fn reasons(verdict: &verdict::Verdict) -> Vec<String> {
    match &verdict.bytes {
        BytesLine::Altered { reasons } | BytesLine::CannotJudge { reasons } => reasons.clone(),
        _ => Vec::new(),
    }
}

/// What is wrong with a file in the place of a record.
fn reasons_of_record(verdict: &verdict::Verdict) -> Vec<String> {
    let mut found = reasons(verdict);
    if found.is_empty() && verdict.kind == FileKind::Pdf {
        found.push("a PDF, no record".to_owned());
    }
    found
}

fn misnamed(file: &File<'_>, record: &Record) -> Option<String> {
    if (u64::from(record.sequence), record.purpose) != (file.number, file.purpose) {
        let (sequence, purpose) = (record.sequence, record.purpose.key());
        return Some(format!(
            "it is number {sequence} with the purpose {purpose}; its file name says {} and {}",
            file.number,
            file.purpose.key()
        ));
    }
    file.shared
        .then(|| format!("another file has the number {}", file.number))
}

/// A record with what a reader is shown of it.
pub(super) struct Opened {
    pub(super) record: Record,
    /// Places of the values shown; sorted.
    pub(super) places: Vec<String>,
    pub(super) withheld: Vec<Withheld>,
}

/// Opens disclosures for a record whose own proof holds. Without any, what is withheld is told all the same.
///
/// # Errors
/// The first thing that does not fit, without any value.
pub(super) fn open(record: &[u8], disclosures: &[u8]) -> Result<Opened, String> {
    let public = json::read_value(record, &Limits::default()).map_err(|error| error.to_string())?;
    let disclosures = withhold::parse_file(disclosures).map_err(|error| error.to_string())?;
    let (revealed, withheld) =
        withhold::reveal(&public, &disclosures, RULES).map_err(|error| error.to_string())?;
    let record = check::opened(&revealed).map_err(|problems| {
        // What was found there is not repeated: it is a withheld value.
        let places = problems
            .iter()
            .take(5)
            .map(|problem| format!("`{}`", problem.pointer));
        let places: Vec<String> = places.collect();
        format!(
            "with the disclosed values it is no record of its schema: {}",
            places.join(", ")
        )
    })?;
    // Each fits its digest at its path, so the paths are those of the values.
    let mut places: Vec<String> = disclosures.into_iter().map(|one| one.path).collect();
    places.sort();
    Ok(Opened {
        record,
        places,
        withheld,
    })
}

/// Nothing is shown.
pub(super) const NO_DISCLOSURES: &[u8] = br#"{"disclosures":[],"format":"tangmark disclosures 1"}"#;

/// What is wrong with a file of disclosures, as far as that can be told without its record.
fn unfit(bytes: &[u8]) -> Option<String> {
    let disclosures = match withhold::parse_file(bytes) {
        Ok(disclosures) => disclosures,
        Err(error) => return Some(error.to_string()),
    };
    match withhold::reveal(&Value::Object(Map::new()), &disclosures, RULES) {
        // A record without digests refers to none.
        Ok(_) | Err(DisclosureError::Unreferenced { .. }) => {}
        Err(error) => return Some(error.to_string()),
    }
    let other = disclosures.iter().position(|one| {
        let text = data_encoding::BASE64URL_NOPAD.decode(one.disclosure.as_bytes());
        let parts = text
            .ok()
            .and_then(|text| serde_json::from_slice::<Value>(&text).ok());
        let name = parts
            .as_ref()
            .and_then(|parts| parts.get(1))
            .and_then(Value::as_str);
        one.path.rsplit_once('/').map(|(_, last)| last) != name
    });
    other.map(|index| format!("disclosure {}: its path ends in another name", index + 1))
}
