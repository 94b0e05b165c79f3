//! Reports, key histories and time evidence, one file at a time.

use std::collections::BTreeMap;

use tangmark_core::Digest;
use tangmark_trust::PublicKey;
use tangmark_trust::history::{Agreement, KeyHistory, LARGEST};
use tangmark_trust::pdf;
use tangmark_trust::timestamp::{Authorities, Evidence, TOKEN_LIMIT, Token};
use tangmark_trust::verdict::{self, BytesLine};

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
    let (mut verdicts, mut histories) = (BTreeMap::new(), Vec::new());
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
        let forked = reader
            .histories
            .iter()
            .find_map(|other| match history.compare(other) {
                Agreement::Fork { entry } => Some(entry),
                _ => None,
            });
        let names_one = records
            .all
            .iter()
            .filter(|light| light.verdict.state != RecordState::Altered)
            .filter_map(|light| light.key.as_ref())
            .any(|key| history.term(key).is_some());
        let state = match (forked, names_one) {
            (Some(_), _) => KeysState::Fork,
            (None, true) => KeysState::Fits,
            (None, false) => KeysState::NoIssuer,
        };
        let verdict = KeysVerdict {
            state,
            first: Some(first),
            in_force: Some(history.in_force().key.fingerprint().to_string()),
            reason: forked
                .map(|entry| format!("another one that you have differs from entry {entry} on")),
        };
        verdicts.insert(file.path.clone(), verdict);
        histories.push(history);
    }
    Ok((verdicts, histories))
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
    let inside = pdf::examine(bytes).record_bytes;
    let digest = inside.as_deref().map(Digest::of);
    let record = records
        .all
        .iter()
        .find(|light| Some(light.digest) == digest);
    found.record = record.map(|light| light.file.clone());
    match record {
        None => {
            found.state = ReportState::OtherRecord;
            found
                .reasons
                .push("the record in it is not byte for byte one of the package".to_owned());
        }
        Some(light) if Some(light.file.as_str()) != subject => found.state = ReportState::Older,
        Some(_) => {}
    }
    found
}
