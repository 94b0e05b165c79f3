//! Putting a package together.

use std::collections::BTreeSet;

use tangmark_core::Digest;
use tangmark_core::record::withhold::RULES;
use tangmark_core::sheet::dotted;
use tangmark_package::write::Content;
use tangmark_store::{Role, Store as _};
use tangmark_trust::PublicKey;
use tangmark_trust::timestamp::{Authorities, Authority, AuthorityCertificate, Token};
use tangmark_trust::withhold::{self, Disclosure};

use super::private::Private;
use super::{
    Giver, HandOverSummary, HandOverWish, PackedRecord, Prepared, TimestampLeftOut, aids, judged,
    keys, photos,
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
    giver: &Giver<'_>,
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
    let choices: Vec<reveal::Choice<'_>> = kept
        .iter()
        .zip(&known)
        .map(|(kept, known)| reveal::Choice {
            sequence: kept.record.sequence,
            public: &kept.value,
            known,
        })
        .collect();
    let chosen = reveal::choose(&choices, &wish.reveal)?;
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
    let private = Private::of(workshop, records.iter().map(|shown| &shown.kept))?;
    let plain = records.iter().map(|shown| &shown.kept.record);
    let chosen = photos::add(workshop, plain, &private, wish.photos, &mut content)?;
    summary.photos = chosen.packed;
    summary.photos_left_out = chosen.left_out;
    let made = super::report::add(
        workshop,
        blade,
        &records,
        wish,
        press,
        &mut content,
        &mut summary,
    )?;
    let at_hand = keys::at_hand(workshop, giver)?;
    let histories = keys::add(workshop, at_hand, &records, &mut content, &mut summary)?;
    add_timestamps(workshop, &records, &mut content, &mut summary)?;
    summary.judged = judged::judge(workshop, giver, &histories, &content, !made)?;
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
        shown_of: chosen
            .iter()
            .filter_map(|one| {
                let words = reveal::element_in_words(&kept.value, &one.path)?;
                Some((dotted(&one.path), words))
            })
            .collect(),
        withheld: places(&left),
    })
}

fn fingerprint(did: &str) -> Result<String, WorkshopError> {
    Ok(PublicKey::from_did(did)?.fingerprint().to_string())
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
