//! Receiving a blade: a package is judged as a whole, and what is sound of it is taken into the workshop.

pub(crate) mod draft;
mod look;
mod pages;
mod steps;
mod take_in;
pub(crate) mod told;

use std::collections::BTreeMap;
use std::path::PathBuf;

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::Record;
use tangmark_package::judge::{PackageVerdict, RecordState};
use tangmark_package::open::Package;
use tangmark_store::{RecordRow, Store as _};
use tangmark_trust::history::{self, About, KeyHistory};
use tangmark_trust::verdict::{Reader, SignerLine, Weight, known_key};
use tangmark_trust::{Fingerprint, PublicKey};

use crate::handover::HandOverError;
use crate::rerender::Pages;
use crate::{Workshop, WorkshopError};

use look::{Looked, look};
pub use look::{OtherSigner, VerifiedPackage, VerifyPackage, verify_package};
pub(crate) use pages::drawn_again;
pub use tangmark_package::judge::{Progress, Watch};
pub use tangmark_package::{judge as verdict, page};

/// A package that was found sound, and what would come of taking it in.
#[derive(Debug)]
pub struct Incoming {
    path: PathBuf,
    package: Package,
    verdict: PackageVerdict,
    records: Vec<IncomingRecord>,
    plan: ReceivePlan,
    /// Whether the pages of each unaltered report are those of the record in it.
    pages: BTreeMap<String, Pages>,
    /// Key of the newest record's signer, and those of its history from which rotations alone lead to it.
    joined: Vec<PublicKey>,
    /// The other keys of that history.
    apart: Vec<PublicKey>,
    /// The key whose fingerprint was compared with the card.
    compared: Option<PublicKey>,
}

/// A record of the package.
#[derive(Debug)]
struct IncomingRecord {
    name: Digest,
    bytes: Vec<u8>,
    record: Record,
}

/// What would come of receiving a package.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReceivePlan {
    /// Blade.
    pub blade: String,
    /// Title, as the newest record has it.
    pub title: String,
    /// Records that are new here, by number.
    pub new_records: Vec<u32>,
    /// Records that are here already, by number.
    pub known_records: Vec<u32>,
    /// Name that the signer of the newest record gives itself.
    pub signer: String,
    /// Fingerprint of its key.
    pub fingerprint: String,
    /// What is said of that key.
    pub signer_line: String,
    /// The fingerprint on the card is needed: the key has to be confirmed, or was met before and no more.
    pub needs_fingerprint: bool,
    /// Others who sealed records here, by name and fingerprint.
    pub other_signers: Vec<(String, String)>,
    /// What is not rejected and yet has to be looked at, in words.
    pub to_be_confirmed: Vec<String>,
}

/// What was taken in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Received {
    /// Records that were added, by number.
    pub added: Vec<u32>,
    /// Photo files that are here now.
    pub photos: usize,
    /// Withheld values that were shown, by number of record and place.
    pub shown: Vec<(u32, String)>,
    /// Reports.
    pub reports: usize,
    /// Key histories.
    pub histories: usize,
    /// Time evidence.
    pub timestamps: usize,
    /// Revision of the sheet that was made of the newest record; none where the own sheet was left as it is.
    pub sheet: Option<u64>,
    /// What a person should read.
    pub remarks: Vec<String>,
}

impl Incoming {
    /// What would come of it.
    pub fn plan(&self) -> &ReceivePlan {
        &self.plan
    }

    /// The whole verdict.
    pub fn verdict(&self) -> &PackageVerdict {
        &self.verdict
    }

    /// Whether the pages of each unaltered report are those of the record in it, by its path in the bag.
    pub fn pages(&self) -> &BTreeMap<String, Pages> {
        &self.pages
    }

    /// Compares the fingerprint on the card, as typed, with that of the newest record's signer, or of another key of its
    /// history from which rotations alone lead to it: all twenty characters, whatever stands between them. Only then a
    /// package whose signer has to be confirmed can be taken in.
    ///
    /// # Errors
    /// When it is no whole fingerprint, or that of none of them.
    pub fn compare(&mut self, typed: &str) -> Result<(), WorkshopError> {
        let letters: String = typed.chars().filter(char::is_ascii_alphanumeric).collect();
        // Some letters of a card are no card of somebody else.
        let typed: Fingerprint = letters.parse()?;
        let named = |key: &&PublicKey| key.fingerprint() == typed;
        self.compared = self.joined.iter().find(named).copied();
        if self.compared.is_some() {
            return Ok(());
        }
        let found = self.plan.fingerprint.clone();
        let typed = typed.to_string();
        Err(match self.apart.iter().find(named) {
            Some(_) => HandOverError::Recovered { typed, found },
            None => HandOverError::OtherFingerprint { typed, found },
        }
        .into())
    }
}

impl Workshop {
    /// Opens and judges a package and finds out what would come of receiving it. Nothing is written.
    ///
    /// # Errors
    /// When the package is refused, anything in it is rejected or cannot be checked, the key of its newest record is
    /// revoked and nothing proves the record older, it tells another story than the records here, or its blade's key is
    /// taken.
    pub fn look_at_package(
        &self,
        order: &VerifyPackage<'_>,
        watch: &Watch<'_>,
    ) -> Result<Incoming, WorkshopError> {
        let Looked {
            package,
            verdict,
            pages,
            mut histories,
            own_keys,
            seen,
            ..
        } = look(order, watch)?;
        let path = order.package.to_owned();
        if let Some(refused) = &verdict.refused {
            let hint = if is_single_file(&path) {
                "give the hand-over package, a folder or a .zip; a record or a report by itself is judged with `tangmark verify FILE`"
            } else {
                refused.hint
            };
            return Err(HandOverError::Refused {
                package: path,
                what: refused.what.clone(),
                hint: hint.to_owned(),
            }
            .into());
        }
        let unsound = |reasons| {
            let package = path.clone();
            WorkshopError::from(HandOverError::Unsound { package, reasons })
        };
        let (Some(package), Some(subject)) = (package, verdict.subject.as_ref()) else {
            return Err(unsound(vec!["there is no record to speak of".to_owned()]));
        };
        if matches!(verdict.exit, 1 | 3) {
            let mut reasons = told::rejected(&verdict);
            reasons.extend(told::pages(&pages, Weight::Rejected));
            return Err(unsound(reasons));
        }
        let records = read_records(&package, &verdict, &unsound)?;
        let Some(newest) = records.last() else {
            return Err(unsound(vec!["it holds no record".to_owned()]));
        };
        let blade = newest.record.blade.id.to_string();
        let (known_records, new_records) = self.divide(&blade, &records, &unsound)?;
        let line = &subject.verdict;
        if matches!(line.signer, SignerLine::RevokedUnproved { .. }) {
            let line = line.signer.to_string();
            let package = path.clone();
            return Err(HandOverError::Unproved { package, line }.into());
        }
        let mut other_signers: Vec<(String, String)> = Vec::new();
        for record in verdict.records.values() {
            if let (Some(issuer), Some(fingerprint)) = (&record.issuer, &record.fingerprint) {
                let signer = (issuer.clone(), fingerprint.clone());
                if Some(fingerprint) != line.fingerprint.as_ref()
                    && !other_signers.contains(&signer)
                {
                    other_signers.push(signer);
                }
            }
        }
        let signer = PublicKey::from_did(line.key.as_deref().unwrap_or_default())?;
        let name = line.issuer.clone().unwrap_or_default();
        histories.extend(take_in::histories_of(&package, &verdict)?);
        // A key that was met and no more is no reason to take in what its holder hands over.
        let compared = seen.compared();
        let by_card = known_key(
            &Reader {
                own_keys: &own_keys,
                memory: &compared,
                now: order.now.as_str(),
                others: &[],
                histories: &histories,
                evidence: &[],
            },
            &name,
            &signer,
        );
        let known = line.signer.weight() == Weight::Accepted;
        let needs_fingerprint = !known || by_card.weight() != Weight::Accepted;
        let mut signer_line = line.signer.to_string();
        if known && needs_fingerprint {
            signer_line.push_str("; its fingerprint was not compared with a card yet");
        }
        let (joined, apart) = relatives(&signer, &histories);
        let mut to_be_confirmed = told::to_be_confirmed(&verdict);
        to_be_confirmed.extend(told::pages(&pages, Weight::ToBeConfirmed));
        let plan = ReceivePlan {
            title: newest.record.blade.title.clone(),
            new_records,
            known_records,
            signer: name,
            fingerprint: line.fingerprint.clone().unwrap_or_default(),
            signer_line,
            needs_fingerprint,
            other_signers,
            to_be_confirmed,
            blade,
        };
        Ok(Incoming {
            path,
            package,
            verdict,
            records,
            plan,
            pages,
            joined,
            apart,
            compared: None,
        })
    }

    /// Tells which records are here and which are new, by number.
    fn divide(
        &self,
        blade: &str,
        records: &[IncomingRecord],
        unsound: &dyn Fn(Vec<String>) -> WorkshopError,
    ) -> Result<(Vec<u32>, Vec<u32>), WorkshopError> {
        let mut here = Vec::new();
        if self.store().blades()?.iter().any(|row| row.id == blade) {
            here = self.store().records(blade)?;
            // A blade with neither record nor sheet is what an interrupted receiving leaves.
            if here.is_empty() && self.store().draft(blade)?.is_some() {
                return Err(HandOverError::KeyTaken(blade.to_owned()).into());
            }
        }
        let (mut known, mut new) = (Vec::new(), Vec::new());
        let mut next = here.len() as u64 + 1;
        for incoming in records {
            let sequence = incoming.record.sequence;
            let same = here
                .iter()
                .find(|row: &&RecordRow| row.sequence == u64::from(sequence));
            match same {
                Some(row) if row.name == incoming.name => known.push(sequence),
                Some(_) if sequence == 1 => {
                    return Err(HandOverError::KeyTaken(blade.to_owned()).into());
                }
                Some(row) => {
                    return Err(HandOverError::Fork {
                        blade: blade.to_owned(),
                        sequence,
                        kept: row.name,
                        offered: incoming.name,
                    }
                    .into());
                }
                None if u64::from(sequence) != next => {
                    return Err(unsound(vec![format!(
                        "record {next} is missing, here and in the package"
                    )]));
                }
                None => {
                    let before = here.last().map(|row| row.name);
                    if new.is_empty() && next > 1 && incoming.record.previous != before {
                        // The package lacks the record in between, and follows another one.
                        return Err(HandOverError::Fork {
                            blade: blade.to_owned(),
                            sequence: sequence - 1,
                            kept: before.unwrap_or(incoming.name),
                            offered: incoming.record.previous.unwrap_or(incoming.name),
                        }
                        .into());
                    }
                    new.push(sequence);
                    next += 1;
                }
            }
        }
        Ok((known, new))
    }
}

/// Whether it begins as a record or a report, which people hand over beside a package.
fn is_single_file(path: &std::path::Path) -> bool {
    let start = crate::input::up_to(path, 5).unwrap_or_default();
    path.is_file() && (start.starts_with(b"{") || start.starts_with(b"%PDF"))
}

/// The key and those of its one history from which rotations alone lead to it; then the other keys of that history.
fn relatives(key: &PublicKey, histories: &[KeyHistory]) -> (Vec<PublicKey>, Vec<PublicKey>) {
    let (mut joined, mut apart) = (vec![*key], Vec::new());
    if let About::One(history) = history::about(histories, key) {
        for term in history.terms().filter(|term| term.key != *key) {
            let by_rotations = history
                .path(&term.key, key)
                .is_some_and(|path| !path.recovery);
            if by_rotations {
                joined.push(term.key);
            } else {
                apart.push(term.key);
            }
        }
    }
    (joined, apart)
}

/// Reads the records of the chain once more, by number; each must be the one that was judged.
fn read_records(
    package: &Package,
    verdict: &PackageVerdict,
    unsound: &dyn Fn(Vec<String>) -> WorkshopError,
) -> Result<Vec<IncomingRecord>, WorkshopError> {
    let mut records = Vec::new();
    for (file, judged) in &verdict.records {
        if judged.state != RecordState::Intact {
            return Err(unsound(vec![format!(
                "{file} is not in the bytes that were sealed, and only those can be kept"
            )]));
        }
        let bytes = take_in::read(package, file)?;
        let (name, record) = take_in::record_of(&bytes).map_err(|what| unsound(vec![what]))?;
        if Some(name) != judged.name {
            return Err(unsound(vec![format!("{file} changed while it was read")]));
        }
        records.push(IncomingRecord {
            name,
            bytes,
            record,
        });
    }
    records.sort_by_key(|incoming| incoming.record.sequence);
    Ok(records)
}
