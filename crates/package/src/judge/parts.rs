//! Reports, key histories and time evidence, one file at a time.

use std::collections::BTreeMap;

use tangmark_core::Digest;
use tangmark_trust::PublicKey;
use tangmark_trust::history::{Agreement, KeyHistory, LARGEST};
use tangmark_trust::pdf::{self, PdfExamination};
use tangmark_trust::timestamp::{Authorities, Evidence, TOKEN_LIMIT, Token};
use tangmark_trust::verdict::{self, BytesLine, SignerLine, Weight};

use super::PackageReader;
use super::hash::refusal;
use super::records::{Light, Numbered, Records, reasons};
use super::verdict::{
    KeysState, KeysVerdict, RecordState, ReportState, ReportVerdict, TimestampState,
    TimestampVerdict,
};
use crate::open::{Package, ReadError, Refusal};
use crate::path::Place;

/// Key histories of the package: the verdict on each, and those that count.
pub(super) fn keys(
    package: &Package,
    records: &Records,
    reader: &PackageReader<'_>,
) -> Result<(BTreeMap<String, KeysVerdict>, Vec<KeyHistory>), Refusal> {
    let (mut verdicts, mut held) = (BTreeMap::new(), Vec::new());
    for file in package.files() {
        let Place::KeyHistory(fingerprint) = Place::of(&file.path) else {
            continue;
        };
        let bytes = match package.read(&file.path, LARGEST as u64) {
            Ok(bytes) => bytes,
            Err(error @ ReadError::TooLong { .. }) => {
                let reason = error.to_string();
                verdicts.insert(file.path.clone(), refused_keys(reason));
                continue;
            }
            Err(error) => return Err(refusal(error)),
        };
        let history = match KeyHistory::read(&bytes) {
            Ok(history) => history,
            Err(error) => {
                verdicts.insert(file.path.clone(), refused_keys(error.to_string()));
                continue;
            }
        };
        let first = history.first().key.fingerprint().to_string();
        if first != fingerprint {
            let reason = format!("its first key is {first}, the file name says {fingerprint}");
            verdicts.insert(file.path.clone(), refused_keys(reason));
            continue;
        }
        let names_one = records
            .all
            .iter()
            .filter(|light| light.verdict.state != RecordState::Altered)
            .filter_map(|light| light.key.as_ref())
            .any(|key| history.term(key).is_some());
        let verdict = KeysVerdict {
            state: if names_one {
                KeysState::Fits
            } else {
                KeysState::NoIssuer
            },
            first: Some(first),
            in_force: Some(history.in_force().key.fingerprint().to_string()),
            reason: None,
        };
        verdicts.insert(file.path.clone(), verdict);
        held.push((file.path.clone(), history));
    }
    for (path, history) in &held {
        let beside = held.iter().filter(|(other, _)| other != path);
        let reason = fork(history, reader.histories.iter(), "that you have")
            .or_else(|| fork(history, beside.map(|(_, other)| other), "in the package"));
        if let (Some(verdict), Some(_)) = (verdicts.get_mut(path), &reason) {
            verdict.state = KeysState::Fork;
            verdict.reason = reason;
        }
    }
    let histories = held.into_iter().map(|(_, history)| history).collect();
    Ok((verdicts, histories))
}

/// How one of the others disagrees with a history: it goes on otherwise, or has a key of it and another first key.
fn fork<'h>(
    history: &KeyHistory,
    mut others: impl Iterator<Item = &'h KeyHistory>,
    whose: &str,
) -> Option<String> {
    others.find_map(|other| match history.compare(other) {
        Agreement::Fork { entry } => {
            Some(format!("another one {whose} differs from entry {entry} on"))
        }
        Agreement::Other => {
            let shared = history
                .terms()
                .find(|term| other.term(&term.key).is_some())?;
            Some(format!(
                "another one {whose} has the key {} too and begins with {}",
                shared.key.fingerprint(),
                other.first().key.fingerprint()
            ))
        }
        Agreement::Same | Agreement::Longer | Agreement::Shorter => None,
    })
}

fn refused_keys(reason: String) -> KeysVerdict {
    KeysVerdict {
        state: KeysState::Refused,
        first: None,
        in_force: None,
        reason: Some(reason),
    }
}

/// Time evidence of the package: the verdict on each, and what fits.
pub(super) fn timestamps(
    package: &Package,
    records: &Records,
    histories: &[KeyHistory],
    reader: &PackageReader<'_>,
) -> Result<(BTreeMap<String, TimestampVerdict>, Vec<Evidence>), Refusal> {
    let (mut verdicts, mut evidence) = (BTreeMap::new(), Vec::new());
    for file in package.files() {
        let Place::Timestamp(number) = Place::of(&file.path) else {
            continue;
        };
        let mut verdict = TimestampVerdict {
            state: TimestampState::Refused,
            time: None,
            authority: None,
            standing: None,
            reason: None,
        };
        match records.numbered(number) {
            Numbered::None => verdict.state = TimestampState::NoRecord,
            Numbered::CannotJudge => verdict.state = TimestampState::CannotJudge,
            Numbered::Stands(light) => {
                match token(package, &file.path, light, histories, reader)? {
                    Ok(seen) => {
                        verdict.state = TimestampState::Fits;
                        verdict.time = Some(seen.time.clone());
                        verdict.authority = Some(seen.authority.clone());
                        verdict.standing = Some(seen.standing);
                        evidence.push(seen);
                    }
                    Err(reason) => verdict.reason = Some(reason),
                }
            }
        }
        verdicts.insert(file.path.clone(), verdict);
    }
    Ok((verdicts, evidence))
}

fn token(
    package: &Package,
    path: &str,
    light: &Light,
    histories: &[KeyHistory],
    reader: &PackageReader<'_>,
) -> Result<Result<Evidence, String>, Refusal> {
    let bytes = match package.read(path, TOKEN_LIMIT as u64) {
        Ok(bytes) => bytes,
        Err(error @ ReadError::TooLong { .. }) => return Ok(Err(error.to_string())),
        Err(error) => return Err(refusal(error)),
    };
    let (Some(name), Some(key)) = (light.verdict.name, &light.key) else {
        return Ok(Err("the record has no name".to_owned()));
    };
    let workshop_keys = keys_of_workshop(key, histories);
    let authorities = Authorities {
        trusted: reader.authorities,
        own: reader.own_authorities,
        workshop_keys: &workshop_keys,
    };
    Ok(Token::read_response(&bytes)
        .and_then(|token| token.check(&name, &authorities))
        .map_err(|error| error.to_string()))
}

/// The issuer's key, and those of every history that names it.
fn keys_of_workshop(issuer: &PublicKey, histories: &[KeyHistory]) -> Vec<PublicKey> {
    let mut keys = vec![*issuer];
    for history in histories.iter().filter(|one| one.term(issuer).is_some()) {
        for term in history.terms() {
            if !keys.contains(&term.key) {
                keys.push(term.key);
            }
        }
    }
    keys
}

/// Reports of the package.
pub(super) fn reports(
    package: &Package,
    records: &Records,
    histories: &[KeyHistory],
    reader: &PackageReader<'_>,
) -> Result<BTreeMap<String, ReportVerdict>, Refusal> {
    let mut verdicts = BTreeMap::new();
    let subject = records.subject().map(|light| light.file.as_str());
    for file in package.files() {
        if Place::of(&file.path) != Place::Report {
            continue;
        }
        let verdict = match package.read(&file.path, pdf::PDF_LIMIT as u64) {
            Ok(bytes) => report(&bytes, records, subject, histories, reader),
            Err(error @ ReadError::TooLong { .. }) => ReportVerdict {
                state: ReportState::CannotJudge,
                record: None,
                reasons: vec![error.to_string()],
            },
            Err(error) => return Err(refusal(error)),
        };
        verdicts.insert(file.path.clone(), verdict);
    }
    Ok(verdicts)
}

fn report(
    bytes: &[u8],
    records: &Records,
    subject: Option<&str>,
    histories: &[KeyHistory],
    reader: &PackageReader<'_>,
) -> ReportVerdict {
    let judged = verdict::judge_report(
        bytes,
        &verdict::Reader {
            histories,
            ..reader.bare()
        },
    );
    let mut found = ReportVerdict {
        state: match &judged.verdict.bytes {
            BytesLine::Altered { .. } => ReportState::Altered,
            BytesLine::CannotJudge { .. } => ReportState::CannotJudge,
            BytesLine::Intact | BytesLine::SameContent => ReportState::Unaltered,
        },
        record: None,
        reasons: reasons(&judged.verdict),
    };
    if found.state != ReportState::Unaltered {
        return found;
    }
    let examined = pdf::examine(bytes);
    let digest = examined.record_bytes.as_deref().map(Digest::of);
    let record = records
        .all
        .iter()
        .find(|light| Some(light.digest) == digest);
    found.record = record.map(|light| light.file.clone());
    let Some(light) = record else {
        found.state = ReportState::OtherRecord;
        found
            .reasons
            .push("the record in it is not byte for byte one of the package".to_owned());
        return found;
    };
    let pages = pages(&examined, light, histories, reader);
    let weight = pages.as_ref().map(|pages| pages.line.weight());
    let asks = pages.as_ref().is_some_and(|pages| pages.asks);
    found.state = if weight == Some(Weight::Rejected) {
        ReportState::KeyRejected
    } else if Some(light.file.as_str()) != subject {
        ReportState::Older
    } else if asks && weight == Some(Weight::ToBeConfirmed) {
        ReportState::KeyOpen
    } else {
        ReportState::Unaltered
    };
    let told = matches!(found.state, ReportState::KeyRejected | ReportState::KeyOpen);
    if let Some(pages) = pages.filter(|_| told) {
        found
            .reasons
            .push(format!("the key that signed the pages: {}", pages.line));
    }
    found
}

/// What is said of the key that signed the pages of a report.
struct PagesKey {
    line: SignerLine,
    /// It is not the record's key, or is revoked: what stands open of it is not told with the record.
    asks: bool,
}

/// Judges the key that signed the pages, with the history in the report and those at hand. Only a token over the report's
/// signature is evidence for the pages: whoever has a stolen key can put old records into new pages.
fn pages(
    examined: &PdfExamination,
    light: &Light,
    histories: &[KeyHistory],
    reader: &PackageReader<'_>,
) -> Option<PagesKey> {
    let (signer, key) = (examined.certificate_key.as_ref()?, light.key.as_ref()?);
    let issued_at = light.verdict.issued_at.as_deref()?;
    // Both keys fit each other, or the report would be altered.
    let joining = examined.joining_history(key, issued_at).ok()?;
    let from = joining
        .as_ref()
        .and_then(|history| history.term(signer))
        .map(|term| term.from.clone());
    let stated = from.as_deref().unwrap_or(issued_at);
    let histories: Vec<KeyHistory> = histories.iter().cloned().chain(joining).collect();
    let mut workshop_keys = keys_of_workshop(key, &histories);
    workshop_keys.extend(keys_of_workshop(signer, &histories));
    let authorities = Authorities {
        trusted: reader.authorities,
        own: reader.own_authorities,
        workshop_keys: &workshop_keys,
    };
    let evidence: Vec<Evidence> = examined
        .signature_digest
        .zip(examined.token.as_ref())
        .and_then(|(digest, token)| token.check(&digest, &authorities).ok())
        .into_iter()
        .collect();
    let reader = verdict::Reader {
        histories: &histories,
        evidence: &evidence,
        ..reader.bare()
    };
    let name = light.verdict.issuer.as_deref().unwrap_or_default();
    let line = verdict::signer_of_pages(&reader, name, signer, stated);
    // A token over the record's name clears the record of a revoked key, never the pages.
    let asks = signer != key || matches!(line, SignerLine::RevokedUnproved { .. });
    Some(PagesKey { line, asks })
}
