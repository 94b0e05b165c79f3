//! From received bytes to a verdict.

use std::collections::BTreeSet;

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::chain::Link;
use tangmark_core::check;
use tangmark_core::json::{self, Limits};
use tangmark_core::record::withhold::RULES;
use tangmark_core::record::{Record, SCHEMA_ID, SCHEMA_VERSION};

use super::{
    BytesLine, Completeness, FileKind, Reader, SignerLine, TimeLine, Verdict, notices, signer,
    withdrawals,
};
use crate::history::KeyHistory;
use crate::key::PublicKey;
use crate::pdf::{self, PdfJudgement};
use crate::proof;
use crate::timestamp::Evidence;
use crate::withhold;

/// A verdict, with the record where it could be read.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// The record, when its bytes and form hold.
    pub record: Option<Record>,
    /// The key that signed, when the signature holds.
    pub key: Option<PublicKey>,
    /// The later key that signed the pages of a report, and the history in it that joins the two keys.
    pub joined: Option<(PublicKey, KeyHistory)>,
}

/// Judges a file: a sealed record or a signed PDF report.
pub fn judge(bytes: &[u8], reader: &Reader<'_>) -> Judged {
    let first = bytes.iter().find(|byte| !byte.is_ascii_whitespace());
    if bytes.starts_with(b"%PDF") {
        judge_report(bytes, reader)
    } else if matches!(first, Some(b'{')) || bytes.starts_with(b"\xef\xbb\xbf{") || is_marked(bytes)
    {
        judge_record(bytes, reader, None)
    } else {
        cannot_judge("neither a record nor a PDF report")
    }
}

fn blank(kind: FileKind, bytes: BytesLine) -> Verdict {
    let reason = match &bytes {
        BytesLine::Altered { .. } => "the bytes are not what was signed",
        _ => "there is no signature that holds",
    };
    Verdict {
        kind,
        bytes,
        signer: SignerLine::CannotJudge {
            reason: reason.to_owned(),
        },
        time: TimeLine::CannotJudge,
        completeness: Completeness::default(),
        record: None,
        fingerprint: None,
        key: None,
        issuer: None,
        notices: Vec::new(),
    }
}

fn altered(kind: FileKind, reason: impl Into<String>) -> Judged {
    let bytes = BytesLine::Altered {
        reasons: vec![reason.into()],
    };
    Judged {
        verdict: blank(kind, bytes),
        record: None,
        key: None,
        joined: None,
    }
}

fn cannot_judge(reason: impl Into<String>) -> Judged {
    let bytes = BytesLine::CannotJudge {
        reasons: vec![reason.into()],
    };
    Judged {
        verdict: blank(FileKind::Unknown, bytes),
        record: None,
        key: None,
        joined: None,
    }
}

/// Whether bytes that are broken or that no proof holds for were once a sealed record: a stranger's file must not be
/// called altered.
fn is_marked(bytes: &[u8]) -> bool {
    bytes
        .windows(SCHEMA_ID.len())
        .any(|window| window == SCHEMA_ID.as_bytes())
}

/// What is said of bytes that cannot be read, or that no proof of ours holds for.
fn unproved(bytes: &[u8], reason: String) -> Judged {
    if is_marked(bytes) {
        altered(FileKind::Record, reason)
    } else {
        cannot_judge(format!("this is no record: {reason}"))
    }
}

/// `signature`: what a token over the signature of the report around the record stamps. The signature covers the record,
/// so such a token speaks for it as one over its name does.
fn judge_record(bytes: &[u8], reader: &Reader<'_>, signature: Option<Digest>) -> Judged {
    let value = match json::read_value(bytes, &Limits::default()) {
        Ok(value) => value,
        Err(error) if is_marked(bytes) => {
            return altered(
                FileKind::Record,
                format!("no sealed record reads like this: {error}"),
            );
        }
        Err(error) => return cannot_judge(format!("no record reads like this: {error}")),
    };
    if value.get("proof").is_none() && !is_marked(bytes) {
        return cannot_judge("a JSON file without proof that is no record");
    }
    let verified = match proof::verify(&value) {
        Ok(verified) => verified,
        Err(error) => return unproved(bytes, error.to_string()),
    };
    if let Err(error) = proof::verify_policy(&value, &verified) {
        return unproved(bytes, error.to_string());
    }
    let name = value
        .pointer("/issuer/name")
        .and_then(Value::as_str)
        .unwrap_or_default()
        .to_owned();
    let mut verdict = blank(FileKind::Record, BytesLine::Intact);
    verdict.record = Some(verified.record_digest);
    verdict.fingerprint = Some(verified.key.fingerprint().to_string());
    verdict.key = Some(verified.key.did_key());
    let stated = verified.created.as_deref();
    let evidence: Vec<&Evidence> = reader
        .evidence
        .iter()
        .filter(|seen| seen.record == verified.record_digest || Some(seen.record) == signature)
        .collect();
    let signer = signer::signer(
        reader,
        &name,
        &verified.key,
        stated.unwrap_or_default(),
        &evidence,
    );
    verdict.signer = signer.line;
    verdict.notices.extend(signer.notice);
    verdict.issuer = Some(name);
    verdict.time = TimeLine::judge(stated, reader.now, &evidence);

    if let Some(reason) = unknown_schema(&value) {
        // The signature was judged; what the record says cannot be.
        verdict.bytes = BytesLine::CannotJudge {
            reasons: vec![reason],
        };
        return Judged {
            verdict,
            record: None,
            key: Some(verified.key),
            joined: None,
        };
    }
    let record = match check::record(&value) {
        Ok(record) => record,
        Err(problems) => {
            // Somebody signed it, but no program that follows the schema seals such a record.
            let mut reasons =
                vec!["the signature holds, but this is no record of its schema".to_owned()];
            reasons.extend(
                problems
                    .iter()
                    .take(5)
                    .map(|problem| format!("{}: {}", problem.pointer, problem.what)),
            );
            verdict.bytes = BytesLine::Altered { reasons };
            return Judged {
                verdict,
                record: None,
                key: Some(verified.key),
                joined: None,
            };
        }
    };
    // The twin of a signature holds too, and leaves every other byte as it was: sealing never writes it.
    if !verified.low_s || verified.canonical != bytes {
        verdict.bytes = BytesLine::SameContent;
    }
    let beside = beside(&record, reader);
    verdict.completeness = completeness(&value, &record, verified.record_digest, &beside, reader);
    withdrawals::tell(&mut verdict, &record, &beside.records);
    verdict.notices.extend(notices(&record));
    Judged {
        verdict,
        record: Some(record),
        key: Some(verified.key),
        joined: None,
    }
}

fn unknown_schema(value: &Value) -> Option<String> {
    let id = value.pointer("/schema/id").and_then(Value::as_str);
    let version = value.pointer("/schema/version").and_then(Value::as_u64);
    match (id, version) {
        (Some(SCHEMA_ID), Some(version)) if version == u64::from(SCHEMA_VERSION) => None,
        (Some(SCHEMA_ID), Some(version)) => Some(format!(
            "signature holds, but schema version {version} is not known here (version {SCHEMA_VERSION} is): contents cannot be interpreted"
        )),
        _ => Some("signature holds, but the document follows no schema known here".to_owned()),
    }
}

/// What was handed in beside the record judged.
#[derive(Default)]
struct Beside {
    /// Records that count, by name.
    records: Vec<(Digest, Record)>,
    /// Why the others do not.
    ignored: Vec<String>,
}

fn beside(judged: &Record, reader: &Reader<'_>) -> Beside {
    let mut found = Beside::default();
    for (index, bytes) in reader.others.iter().enumerate() {
        match read_other(bytes, judged) {
            Ok(other) => found.records.push(other),
            Err(reason) => found.ignored.push(format!("file {}: {reason}", index + 1)),
        }
    }
    found
}

fn completeness(
    value: &Value,
    record: &Record,
    digest: Digest,
    beside: &Beside,
    reader: &Reader<'_>,
) -> Completeness {
    let mut found = Completeness {
        sequence: Some(record.sequence),
        withheld: count_withheld(value),
        photos_named: record.photos.len(),
        ignored: beside.ignored.clone(),
        ..Completeness::default()
    };
    let others: Vec<Link> = beside
        .records
        .iter()
        .map(|(digest, other)| Link::of(*digest, other))
        .collect();
    found.follow(
        &Link::of(digest, record),
        &others,
        &BTreeSet::new(),
        reader.histories,
    );
    found
}

/// Reads a record that was handed in beside the one judged; it counts only when its own proof holds.
fn read_other(bytes: &[u8], judged: &Record) -> Result<(Digest, Record), String> {
    let value = json::read_value(bytes, &Limits::default())
        .map_err(|error| format!("no record: {error}"))?;
    let verified = proof::verify(&value).map_err(|error| format!("altered: {error}"))?;
    proof::verify_policy(&value, &verified).map_err(|error| format!("altered: {error}"))?;
    let record = check::record(&value).map_err(|problems| {
        problems.first().map_or_else(String::new, |problem| {
            format!("{}: {}", problem.pointer, problem.what)
        })
    })?;
    if record.blade.id != judged.blade.id {
        return Err(format!("about another blade, `{}`", record.blade.id));
    }
    Ok((verified.record_digest, record))
}

fn count_withheld(value: &Value) -> usize {
    match value {
        Value::Object(members) => {
            let here = members
                .get("_sd")
                .and_then(Value::as_array)
                .map_or(0, Vec::len);
            here + members.values().map(count_withheld).sum::<usize>()
        }
        Value::Array(items) => items.iter().map(count_withheld).sum(),
        _ => 0,
    }
}

/// Judges a file that is said to be a signed report, however it begins.
pub fn judge_report(bytes: &[u8], reader: &Reader<'_>) -> Judged {
    let examined = pdf::examine(bytes);
    let reasons: Vec<String> = examined
        .problems
        .iter()
        .take(5)
        .map(ToString::to_string)
        .collect();
    match examined.judgement {
        PdfJudgement::Altered => {
            return Judged {
                verdict: blank(FileKind::Pdf, BytesLine::Altered { reasons }),
                record: None,
                key: None,
                joined: None,
            };
        }
        PdfJudgement::CannotJudge => {
            return Judged {
                verdict: blank(FileKind::Pdf, BytesLine::CannotJudge { reasons }),
                record: None,
                key: None,
                joined: None,
            };
        }
        PdfJudgement::Unaltered => {}
    }
    let Some(record_bytes) = &examined.record_bytes else {
        return altered(FileKind::Pdf, "the report carries no record");
    };
    let mut judged = judge_record(record_bytes, reader, examined.signature_digest);
    judged.verdict.kind = FileKind::Pdf;
    // Before all else, since it outranks a record that cannot be interpreted.
    if let Some(key) = &judged.key {
        let issued_at = judged.verdict.time.stated().unwrap_or_default();
        let signature = examined.signature_digest;
        match (
            examined.joining_history(key, issued_at),
            &examined.certificate_key,
        ) {
            (Ok(Some(history)), Some(signer)) => {
                judged = judge_joined(record_bytes, reader, signer, &history, signature);
                judged.joined = Some((*signer, history));
                judged.verdict.kind = FileKind::Pdf;
            }
            (Ok(None), Some(signer)) => {
                let issued_at = issued_at.to_owned();
                weigh_pages(&mut judged.verdict, reader, signer, &issued_at, signature);
            }
            (Ok(_), None) => {}
            (Err(problem), _) => return altered(FileKind::Pdf, problem.to_string()),
        }
    }
    if let Some(reason) = other_time(examined.stated_time.as_deref(), &judged.verdict.time) {
        return altered(FileKind::Pdf, reason);
    }
    match &mut judged.verdict.bytes {
        BytesLine::Altered { reasons } | BytesLine::CannotJudge { reasons } => {
            for reason in reasons.iter_mut() {
                *reason = format!("embedded record: {reason}");
            }
        }
        BytesLine::SameContent => {
            judged.verdict.bytes = BytesLine::Altered {
                reasons: vec!["the embedded record is not in its sealed bytes".to_owned()],
            };
        }
        BytesLine::Intact => {}
    }
    // Of a record that cannot be interpreted nobody can say which values fit.
    let interpreted = judged.record.is_some();
    if let Some(bytes) = examined.disclosures_bytes.as_ref().filter(|_| interpreted) {
        match disclosed(record_bytes, bytes) {
            Ok(count) => {
                let completeness = &mut judged.verdict.completeness;
                completeness.disclosed = count;
                completeness.withheld = completeness.withheld.saturating_sub(count);
            }
            Err(reason) => {
                return altered(
                    FileKind::Pdf,
                    format!(
                        "the embedded disclosures do not belong to the embedded record: {reason}"
                    ),
                );
            }
        }
    }
    judged
}

/// Judges the record of a report that a later key of the workshop signed, with the history that joins the two keys. The
/// reader must know both: of their two lines the one that weighs more is told.
fn judge_joined(
    record: &[u8],
    reader: &Reader<'_>,
    signer: &PublicKey,
    history: &KeyHistory,
    signature: Option<Digest>,
) -> Judged {
    let from = history.term(signer).map(|term| term.from.clone());
    let from = from.unwrap_or_default();
    let at_hand = reader.histories.iter().chain([history]);
    let histories: Vec<KeyHistory> = at_hand.cloned().collect();
    let reader = Reader {
        histories: &histories,
        ..*reader
    };
    let mut judged = judge_record(record, &reader, signature);
    let verdict = &mut judged.verdict;
    let notice = weigh_pages(verdict, &reader, signer, &from, signature);
    if let Some(notice) = notice.filter(|notice| !verdict.notices.contains(notice)) {
        verdict.notices.insert(0, notice);
    }
    verdict.notices.insert(
        0,
        format!(
            "the pages were signed by a later key of the workshop, {}, which signs from {from} on",
            signer.fingerprint()
        ),
    );
    judged
}

/// Judges the key that signed the pages as if it did so at `at`, and tells its line where it weighs more than the
/// record's. Only a token over this report's signature is evidence for the pages: whoever holds a revoked key can put new
/// pages around an old record. Returns what must be told of the key.
fn weigh_pages(
    verdict: &mut Verdict,
    reader: &Reader<'_>,
    signer: &PublicKey,
    at: &str,
    signature: Option<Digest>,
) -> Option<String> {
    let evidence: Vec<&Evidence> = reader
        .evidence
        .iter()
        .filter(|seen| Some(seen.record) == signature)
        .collect();
    let name = verdict.issuer.clone().unwrap_or_default();
    let pages = signer::signer(reader, &name, signer, at, &evidence);
    if pages.line.weight() > verdict.signer.weight() {
        verdict.signer = pages.line;
    }
    pages.notice
}

/// Opens the disclosures beside a record whose own proof holds; returns how many there are.
fn disclosed(record: &[u8], disclosures: &[u8]) -> Result<usize, String> {
    let public = json::read_value(record, &Limits::default()).map_err(|error| error.to_string())?;
    let disclosures = withhold::parse_file(disclosures).map_err(|error| error.to_string())?;
    if disclosures.is_empty() {
        return Err("the list is empty, at least one disclosure is needed".to_owned());
    }
    let (revealed, _) =
        withhold::reveal(&public, &disclosures, RULES).map_err(|error| error.to_string())?;
    // A value that is none of its property would be shown by no program that follows the schema. What was found there
    // is not repeated: it is a withheld value.
    check::opened(&revealed).map_err(|problems| {
        let places: Vec<String> = problems
            .into_iter()
            .take(5)
            .map(|problem| format!("`{}`", problem.pointer))
            .collect();
        format!(
            "with the disclosed values it is no record of its schema: {}",
            places.join(", ")
        )
    })?;
    Ok(disclosures.len())
}

/// Compares the time the report states (`/M`) with the record's; both are written from `issued_at`.
///
/// Source: ISO 32000-1, 7.9.4 (date strings).
fn other_time(report: Option<&str>, record: &TimeLine) -> Option<String> {
    let stated = record.stated()?;
    let digits: String = stated.chars().filter(char::is_ascii_digit).collect();
    let report = report.unwrap_or("no time");
    (report != format!("D:{digits}Z")).then(|| {
        // Written by somebody else: shown, but not without bounds.
        let found: String = report
            .chars()
            .take(40)
            .flat_map(char::escape_debug)
            .collect();
        format!("the report states the time `{found}`, the embedded record {stated}")
    })
}
