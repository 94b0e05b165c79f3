//! Looking at a package: opened, judged, its reports drawn again. Nothing is written.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::record::UtcTime;
use tangmark_package::judge::{self, PackageReader, PackageVerdict, RecordState, Watch};
use tangmark_package::open::{self, Limits, Package};
use tangmark_trust::history::{self, About, KeyHistory};
use tangmark_trust::memory::{self, Assessment, Memory, MemoryFileError, SeenKey, histories};
use tangmark_trust::verdict::{BytesLine, Reader, Weight, known_key};
use tangmark_trust::{Fingerprint, PublicKey};

use super::pages::drawn_again;
use super::take_in;
use crate::keys::KeysError;
use crate::rerender::Pages;
use crate::time::Circle;
use crate::verify::{overruled_by_card, read_history};
use crate::{Workshop, WorkshopError};

/// Order to judge a package.
#[derive(Clone, Debug)]
pub struct VerifyPackage<'a> {
    /// Folder or zip file.
    pub package: &'a Path,
    /// Key histories handed in beside it.
    pub keys: &'a [PathBuf],
    /// Certificates of time authorities that the reader trusts, beside those of the reader's own workshop.
    pub authorities: &'a [PathBuf],
    /// Fingerprint from the workshop's card, as typed: it must be that of the newest record's signer or of another key of
    /// its history, and the key is known from then on.
    pub fingerprint: Option<&'a str>,
    /// Folder with the memory of keys seen before.
    pub memory: Option<&'a Path>,
    /// The reader's own workshop, if there is one.
    pub workshop: Option<&'a Workshop>,
    /// The time now.
    pub now: &'a UtcTime,
}

/// What came of judging a package.
#[derive(Debug)]
pub struct VerifiedPackage {
    /// The verdict; its exit code is that of the pages too.
    pub verdict: PackageVerdict,
    /// Whether the pages of each unaltered report are those of the record in it, by its path in the bag.
    pub pages: BTreeMap<String, Pages>,
    /// Who sealed records with another key than that of the newest one, and what the reader knows of each.
    pub signers: Vec<OtherSigner>,
    /// The key whose fingerprint was typed: to be remembered by [`VerifiedPackage::remember`].
    compared: Option<SeenKey>,
}

/// Somebody who sealed earlier records of a package. What the reader knows of them weighs nothing: a blade goes from
/// workshop to workshop, and whoever seals the newest record answers for having taken the chain over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OtherSigner {
    /// Numbers of the records.
    pub records: Vec<u64>,
    /// Name that the issuer gives itself.
    pub issuer: String,
    /// Fingerprint of the key.
    pub fingerprint: String,
    /// Whether the reader knows the key.
    pub known: bool,
    /// What is said of the key.
    pub line: String,
}

/// Judges a package, and draws its reports again. Nothing is asked from a network, and nothing is written.
///
/// # Errors
/// When what the reader brings cannot be read, or the fingerprint that was typed is of no key of the newest record's
/// signer. What is wrong with the package is in the verdict.
pub fn verify_package(
    order: &VerifyPackage<'_>,
    watch: &Watch<'_>,
) -> Result<VerifiedPackage, WorkshopError> {
    let looked = look(order, watch)?;
    Ok(VerifiedPackage {
        verdict: looked.verdict,
        pages: looked.pages,
        signers: looked.signers,
        compared: looked.compared,
    })
}

impl VerifiedPackage {
    /// Remembers the key whose fingerprint was typed as one that was compared with its card, unless anything in the package
    /// is rejected or cannot be checked. Tells whether it was new.
    ///
    /// # Errors
    /// When the memory cannot be written.
    pub fn remember(&self, folder: &Path) -> Result<bool, MemoryFileError> {
        match &self.compared {
            Some(key) if matches!(self.verdict.exit, 0 | 2) => {
                memory::remember(folder, key.clone())
            }
            _ => Ok(false),
        }
    }
}

/// A package that was looked at.
pub(super) struct Looked {
    /// None where it is refused.
    pub(super) package: Option<Package>,
    pub(super) verdict: PackageVerdict,
    pub(super) pages: BTreeMap<String, Pages>,
    /// Key histories that the reader brought.
    pub(super) histories: Vec<KeyHistory>,
    /// Keys of the reader's own workshop.
    pub(super) own_keys: Vec<PublicKey>,
    /// Keys that the reader remembers.
    pub(super) seen: Memory,
    /// Signers of records that have another key than the newest.
    pub(super) signers: Vec<OtherSigner>,
    /// The key whose fingerprint was typed.
    compared: Option<SeenKey>,
}

/// Opens and judges a package and draws its reports again.
pub(super) fn look(order: &VerifyPackage<'_>, watch: &Watch<'_>) -> Result<Looked, WorkshopError> {
    // A place that is not there is no package that was refused.
    std::fs::symlink_metadata(order.package)
        .map_err(|error| WorkshopError::file("read", order.package, error))?;
    let mut known = order
        .keys
        .iter()
        .map(|path| read_history(path))
        .collect::<Result<Vec<_>, _>>()?;
    let (mut own_keys, mut circle) = (Vec::new(), Circle::default());
    if let Some(workshop) = order.workshop {
        known.extend(workshop.key_histories()?);
        own_keys = workshop.keys()?;
        circle = workshop.circle()?;
    }
    for path in order.authorities {
        circle.trust_file(path)?;
    }
    let mut seen = Memory::default();
    if let Some(folder) = order.memory {
        known.extend(histories::load(folder)?);
        seen = memory::load(folder)?;
    }
    let judge = |package: &Package, seen: &Memory| {
        let reader = PackageReader {
            own_keys: &own_keys,
            memory: seen,
            now: order.now.as_str(),
            histories: &known,
            authorities: &circle.trusted,
            own_authorities: &circle.own,
        };
        judge::judge(package, &reader, watch)
    };
    let (mut package, mut verdict) = match open::open(order.package, &Limits::default()) {
        Ok(package) => {
            let verdict = judge(&package, &seen);
            (Some(package), verdict)
        }
        Err(refusal) => (None, PackageVerdict::refused(refusal)),
    };
    let (mut pages, mut signers, mut compared) = (BTreeMap::new(), Vec::new(), None);
    if verdict.refused.is_some() {
        package = None;
    }
    if let Some(package) = &package {
        let mut histories = take_in::histories_of(package, &verdict)?;
        histories.extend_from_slice(&known);
        if let Some(typed) = order.fingerprint {
            compared = by_card(order, typed, &verdict, &histories, &seen)?;
        }
        if let Some(key) = &compared {
            let subject = verdict.subject.as_ref();
            let overruled = subject.and_then(|subject| overruled_by_card(&subject.verdict.signer));
            seen.take_along(key.clone())
                .map_err(MemoryFileError::Entry)?;
            verdict = judge(package, &seen);
            if let Some(subject) = &mut verdict.subject {
                subject.verdict.notices.splice(0..0, overruled);
            }
        }
        let reader = Reader {
            own_keys: &own_keys,
            memory: &seen,
            now: order.now.as_str(),
            others: &[],
            histories: &histories,
            evidence: &[],
        };
        signers = other_signers(&verdict, &reader);
        pages = drawn_again(package, &verdict);
        verdict.exit = pages
            .values()
            .fold(verdict.exit, |exit, pages| pages.exit_code(exit));
    }
    Ok(Looked {
        package,
        verdict,
        pages,
        histories: known,
        own_keys,
        seen,
        signers,
        compared,
    })
}

/// Holds the signer of the newest record, and the other keys of its history, against the fingerprint that was typed; the key
/// as it is remembered. None where the newest record does not hold, or the card is that of somebody else's key until the
/// name is explained.
fn by_card(
    order: &VerifyPackage<'_>,
    typed: &str,
    verdict: &PackageVerdict,
    histories: &[KeyHistory],
    seen: &Memory,
) -> Result<Option<SeenKey>, WorkshopError> {
    let typed: Fingerprint = typed.parse()?;
    let Some(subject) = &verdict.subject else {
        return Ok(None);
    };
    let line = &subject.verdict;
    let sound = matches!(line.bytes, BytesLine::Intact | BytesLine::SameContent);
    let (Some(did), Some(name), true) = (&line.key, &line.issuer, sound) else {
        return Ok(None);
    };
    let key = PublicKey::from_did(did)?;
    let mut candidates = vec![key];
    if let About::One(history) = history::about(histories, &key) {
        candidates.extend(history.terms().map(|term| term.key));
    }
    let Some(named) = candidates.iter().find(|one| one.fingerprint() == typed) else {
        return Err(KeysError::OtherFingerprint {
            typed: typed.to_string(),
            found: key.fingerprint().to_string(),
        }
        .into());
    };
    if *named != key && matches!(seen.assess(name, named), Assessment::OtherNameForKey { .. }) {
        return Ok(None);
    }
    let source = order.package.file_name().unwrap_or_default();
    let source = source.to_string_lossy();
    Ok(Some(
        SeenKey::new(name, named, order.now.as_str(), &source).with_card(),
    ))
}

/// What the reader knows of those who sealed the other records that stand.
fn other_signers(verdict: &PackageVerdict, reader: &Reader<'_>) -> Vec<OtherSigner> {
    let newest = verdict.subject.as_ref();
    let newest = newest.and_then(|subject| subject.verdict.key.as_deref());
    let mut signers: Vec<OtherSigner> = Vec::new();
    for record in verdict.records.values() {
        let stands = matches!(record.state, RecordState::Intact | RecordState::SameContent);
        let (Some(issuer), Some(did), true) = (&record.issuer, &record.key, stands) else {
            continue;
        };
        let Ok(key) = PublicKey::from_did(did) else {
            continue;
        };
        if newest == Some(did.as_str()) {
            continue;
        }
        let fingerprint = key.fingerprint().to_string();
        let there = signers
            .iter_mut()
            .find(|one| one.issuer == *issuer && one.fingerprint == fingerprint);
        if let Some(there) = there {
            there.records.push(record.number);
            continue;
        }
        let line = known_key(reader, issuer, &key);
        signers.push(OtherSigner {
            records: vec![record.number],
            issuer: issuer.clone(),
            fingerprint,
            known: line.weight() == Weight::Accepted,
            line: line.to_string(),
        });
    }
    signers
}
