//! From a record to a request, and from an answer to evidence beside the record.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_store::{Attachment, ObjectKind, Role, Store as _};
use tangmark_trust::timestamp::{Evidence, Request, TimestampError, Token, request};

use super::{TimeError, read_answer};
use crate::output::NewFile;
use crate::{Surroundings, Workshop, WorkshopError};

/// Carries a request to an address and returns the answer, or says in words why there is none.
pub type Ask<'a> = dyn FnMut(&str, &[u8]) -> Result<Vec<u8>, String> + 'a;

/// A request that was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TimeRequest {
    /// What is to be stamped: a record's name, or the digest of a report's signature.
    pub digest: Digest,
    /// Number of the record in its blade's chain; nothing for a report.
    pub sequence: Option<u64>,
    /// File with the request.
    pub file: PathBuf,
}

/// A timestamp that the store keeps.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeptTimestamp {
    /// Number of the record in its blade's chain.
    pub sequence: u64,
    /// The record's name.
    pub record: Digest,
    /// The object that holds the answer.
    pub object: Digest,
    /// What it says; nothing when it is no longer sound here.
    pub evidence: Option<Evidence>,
    /// Why it is not.
    pub refused: Option<String>,
}

/// A timestamp that was added.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Stamped {
    /// Blade.
    pub blade: String,
    /// Number of the record in its blade's chain.
    pub sequence: u64,
    /// What the timestamp says.
    pub evidence: Evidence,
    /// It was kept already.
    pub known: bool,
    /// What a person should know beside it.
    pub remarks: Vec<String>,
}

/// Order to add a timestamp.
#[derive(Clone, Copy, Debug)]
pub struct TimestampOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// The authority's answer.
    pub answer: &'a Path,
    /// Number of the record that must be the stamped one; left out, the one that is.
    pub record: Option<u32>,
    /// The request that was answered: its nonce is then compared.
    pub request: Option<&'a Path>,
}

/// Writes a request for a digest, with a fresh nonce, into a new file.
pub(super) fn write_request(
    digest: &Digest,
    out: &Path,
    random: &mut dyn FnMut(&mut [u8]),
) -> Result<Vec<u8>, WorkshopError> {
    let file = NewFile::open(out)?;
    let mut nonce = [0; 8];
    random(&mut nonce);
    let bytes = request(digest, Some(nonce)).map_err(TimeError::Request)?;
    file.write(&bytes)?;
    Ok(bytes)
}

/// Reads an answer, and holds it against the request where that is at hand.
pub(super) fn read_token(answer: &Path, asked: Option<&Path>) -> Result<Token, WorkshopError> {
    let refused = |path: &Path| {
        let path = path.to_owned();
        move |error| TimeError::Refused { path, error }
    };
    let token = Token::read(&read_answer(answer)?).map_err(refused(answer))?;
    if let Some(path) = asked {
        let asked = Request::read(&read_answer(path)?).map_err(refused(path))?;
        token.check_request(&asked).map_err(refused(answer))?;
    }
    Ok(token)
}

impl Workshop {
    /// Writes a request for a timestamp over the name of a record: the newest, or the one of that number.
    ///
    /// # Errors
    /// When there is no such record, or the file exists or cannot be written.
    pub fn time_request(
        &self,
        blade: &str,
        record: Option<u32>,
        out: &Path,
        around: &mut Surroundings<'_>,
    ) -> Result<TimeRequest, WorkshopError> {
        let row = self.row(blade, record)?;
        write_request(&row.name, out, around.random)?;
        Ok(TimeRequest {
            digest: row.name,
            sequence: Some(row.sequence),
            file: out.to_owned(),
        })
    }

    /// Checks an authority's answer and keeps it beside the record that it stamps.
    ///
    /// # Errors
    /// When the answer breaks a rule, stamps no record of the blade or another than the one asked for, or answers another
    /// request.
    pub fn add_timestamp(&self, order: &TimestampOrder<'_>) -> Result<Stamped, WorkshopError> {
        let token = read_token(order.answer, order.request)?;
        let refused = |error| TimeError::Refused {
            path: order.answer.to_owned(),
            error,
        };
        if order.record.is_some() {
            let row = self.row(order.blade, order.record)?;
            if row.name != token.stamped() {
                return Err(refused(TimestampError::OtherDigest {
                    found: token.stamped().to_string(),
                    wanted: row.name.to_string(),
                })
                .into());
            }
        }
        let rows = self.store.records(order.blade)?;
        let row = rows.into_iter().find(|row| row.name == token.stamped());
        let row = row.ok_or_else(|| TimeError::NoRecord {
            path: order.answer.to_owned(),
            stamped: token.stamped(),
            blade: order.blade.to_owned(),
        })?;
        let evidence = token
            .check(&row.name, &self.circle()?.authorities())
            .map_err(refused)?;
        // Always as an answer: that is what packages hold and OpenSSL reads.
        let answer = token.response().map_err(TimeError::Request)?;
        let object = self.store.put_object(&answer, ObjectKind::Timestamp)?;
        let tie = Attachment {
            record: row.name,
            object,
            role: Role::Timestamp,
        };
        let known = self.store.attachments(&row.name)?.contains(&tie);
        self.store.attach(&tie)?;
        Ok(Stamped {
            blade: order.blade.to_owned(),
            sequence: row.sequence,
            evidence,
            known,
            remarks: Vec::new(),
        })
    }

    /// Lists the timestamps of a blade's records, oldest record first, judged anew.
    ///
    /// # Errors
    /// When there is no such blade, or a kept answer is missing or rotten.
    pub fn timestamps(&self, blade: &str) -> Result<Vec<KeptTimestamp>, WorkshopError> {
        let circle = self.circle()?;
        let mut found = Vec::new();
        for row in self.store.records(blade)? {
            for tie in self.store.attachments(&row.name)? {
                if tie.role != Role::Timestamp {
                    continue;
                }
                let judged = Token::read(&self.store.object(&tie.object)?)
                    .and_then(|token| token.check(&row.name, &circle.authorities()));
                let (evidence, refused) = match judged {
                    Ok(evidence) => (Some(evidence), None),
                    Err(error) => (None, Some(error.to_string())),
                };
                found.push(KeptTimestamp {
                    sequence: row.sequence,
                    record: row.name,
                    object: tie.object,
                    evidence,
                    refused,
                });
            }
        }
        Ok(found)
    }

    /// Asks an authority for a timestamp over the name of a record and keeps its answer. `ask` carries the request; nothing
    /// but the request is given to it.
    ///
    /// # Errors
    /// When the authority has no address or one that needs TLS, does not answer, or its answer breaks a rule. With TLS the
    /// request is written, and the hint says how to carry it.
    pub fn fetch_timestamp(
        &self,
        blade: &str,
        record: Option<u32>,
        authority: &str,
        around: &mut Surroundings<'_>,
        ask: &mut Ask<'_>,
    ) -> Result<Stamped, WorkshopError> {
        let row = self.row(blade, record)?;
        let authority = self.time_authority(authority)?;
        let url = authority.url.clone();
        let url = url.ok_or_else(|| TimeError::NoAddress(authority.name.clone()))?;
        let mut mark = [0; 4];
        (around.random)(&mut mark);
        let mark = u32::from_be_bytes(mark);
        let base = self
            .out_folder()
            .join(format!("{blade}-{:02}-{mark:08x}", row.sequence));
        let (question, answer) = (base.with_extension("tsq"), base.with_extension("tsr"));
        let request = write_request(&row.name, &question, around.random)?;
        if !url.starts_with("http://") {
            return Err(TimeError::Secure {
                name: authority.name,
                by_hand: by_hand(blade, &url, &question, &answer),
            }
            .into());
        }
        let unanswered = |what| TimeError::Unanswered {
            url: url.clone(),
            what,
        };
        let answered = ask(&url, &request);
        let asked = Request::read(&request).map_err(TimeError::Request)?;
        let keep = || -> Result<Stamped, WorkshopError> {
            let token = Token::read(&answered.map_err(unanswered)?)
                .and_then(|token| token.check_request(&asked).map(|()| token))
                .map_err(|error| unanswered(error.to_string()))?;
            // An answer may have been paid for: it is kept before anything else is done.
            NewFile::open(&answer)?.write(&token.response().map_err(TimeError::Request)?)?;
            self.add_timestamp(&TimestampOrder {
                blade,
                answer: &answer,
                record: u32::try_from(row.sequence).ok(),
                request: None,
            })
        };
        let kept = keep();
        // What was asked is of no use once it was carried: the next question has another nonce.
        let left = match std::fs::remove_file(&question) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => Some(format!(
                "the request, which is of no use any more, could not be removed: {}: {error}",
                question.display()
            )),
            _ => None,
        };
        let mut kept = kept?;
        kept.remarks.extend(left);
        Ok(kept)
    }
}

/// The commands that carry a request by hand.
fn by_hand(blade: &str, url: &str, question: &Path, answer: &Path) -> String {
    let quoted = |path: &Path| format!("'{}'", path.display().to_string().replace('\'', r"'\''"));
    let (question, answer) = (quoted(question), quoted(answer));
    format!(
        "the request is written; run `curl -sS -H 'Content-Type: application/timestamp-query' --data-binary @{question} -o {answer} '{url}'`, then `tangmark time add {blade} {answer} --request {question}`"
    )
}
