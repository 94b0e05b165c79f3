//! Putting a package together.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::record::withhold::RULES;
use tangmark_core::sheet::dotted;
use tangmark_package::write::Content;
use tangmark_store::{Role, Store as _};
use tangmark_trust::history::{Agreement, KeyHistory};
use tangmark_trust::timestamp::{Authorities, Authority, AuthorityCertificate, Token};
use tangmark_trust::withhold::{self, Disclosure};
use tangmark_trust::{PublicKey, history};

use super::{
    HandOverSummary, HandOverWish, PackedRecord, PackedSigner, Prepared, TimestampLeftOut, aids,
    photos,
};
use crate::blades::Kept;
use crate::{Press, Workshop, WorkshopError, reveal};

/// A record with the values that go with it.
pub(super) struct Shown {
    pub(super) kept: Kept,
    pub(super) chosen: Vec<Disclosure>,
}

pub(super) fn gather(
    workshop: &Workshop,
    blade: &str,
    wish: &HandOverWish,
    press: Option<&mut Press<'_>>,
) -> Result<Prepared, WorkshopError> {
    let kept = workshop.history(blade)?;
    if kept.is_empty() {
        return Err(WorkshopError::NoRecord(blade.to_owned()));
    }
    let known = kept
        .iter()
        .map(|kept| workshop.disclosures(&kept.row.name))
        .collect::<Result<Vec<_>, _>>()?;
    let lists: Vec<&[Disclosure]> = known.iter().map(Vec::as_slice).collect();
    let chosen = reveal::choose(&lists, &wish.reveal)?;
    let mut content = Content::new();
    let mut summary = HandOverSummary {
        blade: blade.to_owned(),
        ..HandOverSummary::default()
    };
    let records: Vec<Shown> = kept
        .into_iter()
        .zip(chosen)
        .map(|(kept, chosen)| Shown { kept, chosen })
        .collect();
    for (shown, known) in records.iter().zip(&known) {
        summary
            .records
            .push(add_record(shown, known, &mut content)?);
    }
    let mut private = private_originals(workshop)?;
    let photos_of_all = records.iter().flat_map(|shown| &shown.kept.record.photos);
    private.extend(
        photos_of_all
            .filter(|photo| photo.original_kept_private)
            .filter_map(|photo| photo.original.as_ref().map(|original| original.digest)),
    );
    let plain = records.iter().map(|shown| &shown.kept.record);
    let chosen = photos::add(workshop, plain, &private, wish.photos, &mut content)?;
    summary.photos = chosen.packed;
    summary.photos_left_out = chosen.left_out;
    super::report::add(
        workshop,
        blade,
        &records,
        wish,
        press,
        &mut content,
        &mut summary,
    )?;
    add_keys(workshop, &records, &mut content, &mut summary)?;
    add_timestamps(workshop, &records, &mut content, &mut summary)?;
    aids::add(&mut content, &summary)?;
    let size = content.size();
    (summary.files, summary.bytes) = (size.files, size.bytes);
    Ok(Prepared { summary, content })
}

/// Adds a record and the disclosures that go with it.
fn add_record(
    shown: &Shown,
    known: &[Disclosure],
    content: &mut Content,
) -> Result<PackedRecord, WorkshopError> {
    let Shown { kept, chosen } = shown;
    let fault = |error: withhold::DisclosureError| WorkshopError::Disclosure(error.to_string());
    let number = kept.record.sequence;
    let file = format!("data/records/{number:02}-{}.json", kept.row.purpose);
    content.add_bytes(file.clone(), kept.bytes.clone())?;
    if !chosen.is_empty() {
        // What a reader would refuse is not handed over.
        withhold::reveal(&kept.value, chosen, RULES).map_err(fault)?;
        let text = withhold::print_file(chosen).map_err(fault)?;
        content.add_bytes(format!("data/disclosures/{number:02}.json"), text)?;
    }
    let places = |list: &[Disclosure]| list.iter().map(|one| dotted(&one.path)).collect();
    let left: Vec<Disclosure> = known
        .iter()
        .filter(|one| !chosen.contains(one))
        .cloned()
        .collect();
    Ok(PackedRecord {
        file,
        sequence: number,
        purpose: kept.row.purpose.clone(),
        record: kept.row.name,
        issuer: kept.record.issuer.name.clone(),
        fingerprint: fingerprint(&kept.record.issuer.id)?,
        shown: places(chosen),
        withheld: places(&left),
    })
}

fn fingerprint(did: &str) -> Result<String, WorkshopError> {
    Ok(PublicKey::from_did(did)?.fingerprint().to_string())
}

/// Digests of the originals that any record here keeps back; wherever else they are named, they stay.
fn private_originals(workshop: &Workshop) -> Result<BTreeSet<Digest>, WorkshopError> {
    let mut originals = BTreeSet::new();
    for blade in workshop.store().blades()? {
        for row in workshop.store().records(&blade.id)? {
            let known = workshop.disclosures(&row.name)?;
            let kept_back = known.iter().filter(|disclosure| {
                disclosure.path.starts_with("/photos/") && disclosure.path.ends_with("/original")
            });
            originals.extend(kept_back.filter_map(|disclosure| {
                let value = disclosure.value()?;
                let digest = value.get("digest").and_then(Value::as_str)?;
                digest.parse::<Digest>().ok()
            }));
        }
    }
    Ok(originals)
}

/// Adds the key histories that speak of a key that sealed one of the records, and lists the signers.
fn add_keys(
    workshop: &Workshop,
    records: &[Shown],
    content: &mut Content,
    summary: &mut HandOverSummary,
) -> Result<(), WorkshopError> {
    let own: Vec<String> = workshop.keys()?.iter().map(PublicKey::did_key).collect();
    let mut signers: BTreeMap<&str, Vec<&Shown>> = BTreeMap::new();
    let mut order: Vec<&str> = Vec::new();
    for shown in records {
        let did = shown.kept.record.issuer.id.as_str();
        if !order.contains(&did) {
            order.push(did);
        }
        signers.entry(did).or_default().push(shown);
    }
    let histories = histories(workshop, records)?;
    for did in order {
        let key = PublicKey::from_did(did)?;
        let sealed = signers.remove(did).unwrap_or_default();
        let mut path = None;
        if let Some((bytes, history)) = histories
            .iter()
            .find(|(_, history)| history.term(&key).is_some())
        {
            let name = format!("data/keys/{}.json", history.first().key.fingerprint());
            if !content.files().any(|(there, _)| there == name) {
                content.add_bytes(name.clone(), bytes.clone())?;
            }
            path = Some(name);
        }
        summary.signers.push(PackedSigner {
            name: sealed
                .last()
                .map(|shown| shown.kept.record.issuer.name.clone())
                .unwrap_or_default(),
            fingerprint: key.fingerprint().to_string(),
            records: sealed
                .iter()
                .map(|shown| shown.kept.record.sequence)
                .collect(),
            own: own.iter().any(|one| one == did),
            history: path,
        });
    }
    Ok(())
}

/// The key histories at hand, of each first key the longest: the own one, and those that came with records.
fn histories(
    workshop: &Workshop,
    records: &[Shown],
) -> Result<Vec<(Vec<u8>, KeyHistory)>, WorkshopError> {
    let mut found: Vec<(Vec<u8>, KeyHistory)> = Vec::new();
    let own = [
        workshop.folder().join("keys/key-history.json"),
        workshop.out_folder().join("card/key-history.json"),
    ];
    for path in own {
        match fs::read(&path) {
            Ok(bytes) => {
                let history = KeyHistory::read(&bytes)?;
                found.push((bytes, history));
                break;
            }
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
            Err(error) => return Err(WorkshopError::file("read", &path, error)),
        }
    }
    for shown in records {
        for bytes in workshop.papers(&shown.kept.row.name)? {
            let Ok(history) = KeyHistory::read(&bytes) else {
                continue;
            };
            keep_longer(&mut found, bytes, history);
        }
    }
    Ok(found)
}

/// Adds a history, or puts it in the place of a shorter one of the same first key.
fn keep_longer(found: &mut Vec<(Vec<u8>, KeyHistory)>, bytes: Vec<u8>, history: KeyHistory) {
    let same = found
        .iter_mut()
        .find(|(_, other)| other.first().key == history.first().key);
    match same {
        None => found.push((bytes, history)),
        Some(there) if history.compare(&there.1) == Agreement::Longer => *there = (bytes, history),
        Some(_) => {}
    }
}

impl Workshop {
    /// The papers kept with a record that are no longer than a key history can be.
    pub(crate) fn papers(&self, record: &Digest) -> Result<Vec<Vec<u8>>, WorkshopError> {
        let mut papers = Vec::new();
        for attachment in self.store().attachments(record)? {
            let row = self.store().object_row(&attachment.object)?;
            let short = row.is_some_and(|row| row.length <= history::LARGEST as u64);
            if attachment.role == Role::Document && short {
                papers.push(self.store().object(&attachment.object)?);
            }
        }
        Ok(papers)
    }
}

/// Adds the time evidence that is kept with the records, as far as it fits them, and the certificates it leads to.
fn add_timestamps(
    workshop: &Workshop,
    records: &[Shown],
    content: &mut Content,
    summary: &mut HandOverSummary,
) -> Result<(), WorkshopError> {
    let authorities = workshop.time_authorities()?;
    let mut read = Vec::new();
    for authority in &authorities {
        read.push(authority.read()?);
    }
    let mut used: BTreeSet<usize> = BTreeSet::new();
    for shown in records {
        let sequence = shown.kept.record.sequence;
        for attachment in workshop.store().attachments(&shown.kept.row.name)? {
            if attachment.role != Role::Timestamp {
                continue;
            }
            let bytes = workshop.store().object(&attachment.object)?;
            let name = &shown.kept.row.name;
            let fits = Token::read_response(&bytes)
                .and_then(|token| token.check(name, &Authorities::default()).map(|_| token));
            let token = match fits {
                Ok(token) => token,
                Err(error) => {
                    // A reader would reject the whole package for it.
                    summary.timestamps_left_out.push(TimestampLeftOut {
                        sequence,
                        why: error.to_string(),
                    });
                    continue;
                }
            };
            let digest = attachment.object.to_string();
            let path = format!("data/timestamps/{sequence:02}-token-{}.tsr", &digest[..12]);
            content.add_bytes(path.clone(), bytes)?;
            if let Some(index) = read.iter().position(|one| leads_to(&token, name, one)) {
                used.insert(index);
                let file = authority_path(&authorities[index].name);
                summary.vouched.insert(path.clone(), file);
            }
            summary.timestamps.push(path);
        }
    }
    // As a help: they make nobody trusted.
    for index in used {
        let authority = &authorities[index];
        let path = authority_path(&authority.name);
        content.add_bytes(path.clone(), authority.certificates.concat())?;
        summary.authorities.push(path);
    }
    Ok(())
}

fn authority_path(name: &str) -> String {
    format!("data/timestamps/authorities/{name}.pem")
}

/// Whether a chain of certificates leads from a token to one of these.
fn leads_to(token: &Token, name: &Digest, certificates: &[AuthorityCertificate]) -> bool {
    let authorities = Authorities {
        trusted: certificates,
        ..Authorities::default()
    };
    let found = token.check(name, &authorities);
    found.is_ok_and(|seen| seen.standing == Authority::Trusted)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use tangmark_trust::PrivateKey;
    use tangmark_trust::history::{Statement, first_entry};

    use super::*;

    #[test]
    fn the_longer_of_two_histories_goes_in() {
        let old = PrivateKey::from_entropy([1; 32]).unwrap();
        let new = PrivateKey::from_entropy([2; 32]).unwrap();
        let paper = Digest::of(b"recovery");
        let short = first_entry(&old, "2026-01-01T00:00:00Z", "first key", paper).unwrap();
        let read = |text: &str| KeyHistory::read(text.as_bytes()).unwrap();
        let statement = Statement {
            key: &new,
            from: "2026-02-01T00:00:00Z",
            reason: "new card",
            recovery_digest: paper,
        };
        let long = read(&short).rotate(&old, &statement).unwrap();
        for order in [[&short, &long], [&long, &short]] {
            let mut found = Vec::new();
            for text in order {
                keep_longer(&mut found, text.clone().into_bytes(), read(text));
            }
            assert_eq!(found.len(), 1);
            assert_eq!(found[0].0, long.as_bytes());
        }
    }
}
