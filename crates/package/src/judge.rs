//! From an opened package to a verdict.
//!
//! Every file is hashed once, in blocks and on all cores; of a record little is kept once it is read, and PDFs are read
//! one at a time. So memory grows with the number of files, not with their lengths. The verdict depends on the bytes of
//! the package and on what the reader brings, and on nothing else.

mod hash;
mod header;
mod parts;
mod photos;
mod records;
#[cfg(test)]
mod tests;
mod verdict;
mod work;

use std::collections::BTreeSet;
use std::path::Path;

use tangmark_core::{Digest, schema};
use tangmark_trust::PublicKey;
use tangmark_trust::history::{self, About, KeyHistory};
use tangmark_trust::memory::Memory;
use tangmark_trust::timestamp::{Authority, AuthorityCertificate, Evidence};
use tangmark_trust::verdict::{self as trust, Reader};

pub use verdict::{
    AidState, AidVerdict, BagVerdict, ChainState, ChainVerdict, DisclosuresState,
    DisclosuresVerdict, KeyStanding, KeysState, KeysVerdict, PackageVerdict, PageState,
    PhotoDifference, PhotoState, PhotoVerdict, RecordState, RecordVerdict, Refused, ReportState,
    ReportVerdict, SchemaState, Subject, TimestampState, TimestampVerdict,
};

use crate::aids;
use crate::open::{self, Limits, Package, Refusal};
use crate::page::{self, Known};
use crate::path::Place;
use hash::refusal;
use records::{Light, NO_DISCLOSURES, Records};

/// What the reader brings to a package. Nothing is asked from a network or a clock.
#[derive(Clone, Copy, Debug)]
pub struct PackageReader<'a> {
    /// Keys the reader's own workshop signs with.
    pub own_keys: &'a [PublicKey],
    /// Keys seen before.
    pub memory: &'a Memory,
    /// The time now (UTC text), to notice times in the future.
    pub now: &'a str,
    /// Key histories the reader has: remembered, handed in, its own.
    pub histories: &'a [KeyHistory],
    /// Certificates of time authorities that the reader trusts.
    pub authorities: &'a [AuthorityCertificate],
    /// Certificates of time authorities that the workshop runs itself.
    pub own_authorities: &'a [AuthorityCertificate],
}

impl<'a> PackageReader<'a> {
    /// The reader of one file, with nothing beside it.
    fn bare(&self) -> Reader<'a> {
        Reader {
            own_keys: self.own_keys,
            memory: self.memory,
            now: self.now,
            others: &[],
            histories: &[],
            evidence: &[],
        }
    }
}

/// How far the judging is: bytes that were hashed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Bytes hashed.
    pub done: u64,
    /// Bytes in all.
    pub all: u64,
}

/// Is told how far the judging is, from several threads.
pub type Watch<'a> = dyn Fn(Progress) + Sync + 'a;

/// Opens and judges the package at `path`; one that is refused has a verdict too.
pub fn judge_path(path: &Path, reader: &PackageReader<'_>, watch: &Watch<'_>) -> PackageVerdict {
    match open::open(path, &Limits::default()) {
        Ok(package) => judge(&package, reader, watch),
        Err(refusal) => PackageVerdict::refused(refusal),
    }
}

/// Opens and judges a package that is a zip file at hand; one that is refused has a verdict too.
pub fn judge_bytes(bytes: Vec<u8>, reader: &PackageReader<'_>) -> PackageVerdict {
    match open::open_bytes(bytes, &Limits::default()) {
        Ok(package) => judge(&package, reader, &|_| ()),
        Err(refusal) => PackageVerdict::refused(refusal),
    }
}

/// Judges a package.
pub fn judge(package: &Package, reader: &PackageReader<'_>, watch: &Watch<'_>) -> PackageVerdict {
    judge_whole(package, reader, watch).unwrap_or_else(PackageVerdict::refused)
}

fn judge_whole(
    package: &Package,
    reader: &PackageReader<'_>,
    watch: &Watch<'_>,
) -> Result<PackageVerdict, Refusal> {
    let digests = hash::digests(package, watch)?;
    let mut verdict = PackageVerdict::blank();
    verdict.bag = bag(package, &digests);
    let paths = package.files().iter().map(|file| file.path.clone());
    verdict.digests = paths.zip(digests.iter().copied()).collect();
    let mut records = Records::read(package, &digests, reader)?;
    let (keys, mut histories) = parts::keys(package, &records, reader)?;
    verdict.keys = keys;
    histories.extend_from_slice(reader.histories);
    let (timestamps, evidence) = parts::timestamps(package, &records, &histories, reader)?;
    verdict.timestamps = timestamps;
    for light in &mut records.all {
        light.verdict.standing = standing(light, &histories, &evidence);
    }
    verdict.reports = parts::reports(package, &records, &histories, reader)?;
    photos(package, &digests, &records, &mut verdict)?;
    for (file, digest) in package.files().iter().zip(&digests) {
        match Place::of(&file.path) {
            Place::Schema => {
                let published = *digest == schema::record_digest();
                verdict.schema = Some(if published {
                    SchemaState::Fits
                } else {
                    SchemaState::Other
                });
            }
            Place::Page => {
                let bytes = package.read(&file.path, u64::MAX).map_err(refusal)?;
                verdict.page = match page::known(&bytes) {
                    Known::Released { .. } => PageState::Released,
                    Known::Other => PageState::Other,
                };
            }
            Place::Aid => {
                let state = if aids::is_released(&file.path, digest) {
                    AidState::Released
                } else {
                    AidState::Other
                };
                verdict.aids.insert(file.path.clone(), AidVerdict { state });
            }
            _ => {}
        }
    }
    verdict.chain = chain(&records);
    subject(
        package,
        &records,
        &histories,
        &evidence,
        reader,
        &mut verdict,
    )?;
    verdict.withdrawals = records
        .all
        .iter()
        .filter(|light| light.in_chain() && light.verdict.purpose == Some("withdrawal"))
        .map(|light| light.file.clone())
        .collect();
    verdict.disclosures = records.disclosures;
    verdict.records = records
        .all
        .into_iter()
        .map(|light| (light.file, light.verdict))
        .collect();
    verdict.exit = verdict.exit_code();
    Ok(verdict)
}

/// Compares every file with its manifest.
fn bag(package: &Package, digests: &[Digest]) -> BagVerdict {
    let mut bag = BagVerdict {
        ignored_manifests: package.other_manifests().to_vec(),
        ..BagVerdict::default()
    };
    for (file, digest) in package.files().iter().zip(digests) {
        let path = &file.path;
        let place = Place::of(path);
        let manifest = if path.starts_with("data/") {
            package.payload_manifest()
        } else {
            package.tag_manifest()
        };
        let listed = manifest.get(path);
        let needs_none = matches!(place, Place::TagManifest | Place::OtherManifest);
        if listed.is_some_and(|listed| listed != digest) {
            bag.changed.push(path.clone());
        } else if place == Place::Extra || (listed.is_none() && !needs_none) {
            bag.unlisted.push(path.clone());
        }
        if place == Place::NotLookedAt {
            bag.not_looked_at.push(path.clone());
        }
    }
    let listed = package
        .payload_manifest()
        .keys()
        .chain(package.tag_manifest().keys());
    bag.missing = listed
        .filter(|path| {
            let files = package.files();
            files.binary_search_by(|file| file.path.cmp(path)).is_err()
        })
        .cloned()
        .collect();
    bag.missing.sort();
    bag
}

fn photos(
    package: &Package,
    digests: &[Digest],
    records: &Records,
    verdict: &mut PackageVerdict,
) -> Result<(), Refusal> {
    let mut here = BTreeSet::new();
    for (file, digest) in package.files().iter().zip(digests) {
        let Place::Photo(name) = Place::of(&file.path) else {
            continue;
        };
        let judged = records.photos.judge(package, &file.path, name, *digest);
        let judged = judged.map_err(refusal)?;
        if judged.state != PhotoState::NotTheSame {
            here.insert(name);
        }
        verdict.photos.insert(file.path.clone(), judged);
    }
    verdict.photos_not_packed = records.photos.not_among(&here);
    Ok(())
}

/// How a record's key stands in the histories.
fn standing(light: &Light, histories: &[KeyHistory], evidence: &[Evidence]) -> Option<KeyStanding> {
    if light.verdict.state == RecordState::Altered {
        return None;
    }
    let (key, name) = (light.key.as_ref()?, light.verdict.name?);
    let issued_at = light.verdict.issued_at.as_deref()?;
    let seen = evidence
        .iter()
        .filter(|seen| seen.record == name && seen.standing == Authority::Trusted)
        .map(|seen| seen.time.as_str())
        .min();
    Some(match history::about(histories, key) {
        About::Nothing => KeyStanding::NotInHistory,
        About::One(history) => history.standing(key, issued_at, seen).into(),
        About::Two { .. } => KeyStanding::TwoHistories,
    })
}

fn chain(records: &Records) -> ChainVerdict {
    let (links, told) = records.chain();
    let mut chain = ChainVerdict {
        state: ChainState::Incomplete,
        supplied: links.len(),
        not_supplied: 0,
        reason: None,
    };
    match tangmark_core::chain::check_links(&links, &told) {
        Ok(state) => {
            chain.supplied = state.supplied;
            chain.not_supplied = state.not_supplied;
            if state.not_supplied == 0 && state.supplied > 0 {
                chain.state = ChainState::Whole;
            }
        }
        Err(error) => {
            chain.state = ChainState::Broken;
            chain.reason = Some(error.to_string());
        }
    }
    chain
}

/// Judges the record that the verdict is about, now with everything beside it.
fn subject(
    package: &Package,
    records: &Records,
    histories: &[KeyHistory],
    evidence: &[Evidence],
    reader: &PackageReader<'_>,
    verdict: &mut PackageVerdict,
) -> Result<(), Refusal> {
    let Some(light) = records.subject() else {
        return Ok(());
    };
    let bytes = package.read(&light.file, u64::MAX).map_err(refusal)?;
    if bytes.starts_with(b"%PDF") {
        // Whatever it is, it is no record to speak of.
        return Ok(());
    }
    let reader = Reader {
        histories,
        evidence,
        ..reader.bare()
    };
    let mut judged = trust::judge(&bytes, &reader).verdict;
    if let Some(own) = light.link.as_ref() {
        let (links, told) = records.chain();
        // Not by its name: two files may hold one record.
        let mut others = links;
        if let Some(place) = others.iter().position(|link| link == own) {
            others.remove(place);
        }
        judged.completeness.follow(own, &others, &told, histories);
    }
    if light.stands() {
        let beside = format!("data/disclosures/{:02}.json", light.verdict.number);
        let fits = records.disclosures.get(&beside);
        let fits = fits.is_some_and(|one| one.state == DisclosuresState::Fit);
        let disclosures = if fits {
            package.read(&beside, u64::MAX).map_err(refusal)?
        } else {
            NO_DISCLOSURES.to_vec()
        };
        if let Ok(opened) = records::open(&bytes, &disclosures) {
            let completeness = &mut judged.completeness;
            completeness.disclosed = opened.places.len();
            completeness.withheld = completeness.withheld.saturating_sub(opened.places.len());
            verdict.withheld = opened.withheld;
        }
    }
    verdict.subject = Some(Subject {
        file: light.file.clone(),
        verdict: judged,
    });
    Ok(())
}
