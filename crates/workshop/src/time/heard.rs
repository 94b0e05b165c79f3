//! What time authorities say of a file that is verified: answers handed in beside it, and the token in a report.

use serde::Serialize;
use tangmark_trust::history::KeyHistory;
use tangmark_trust::pdf::time_token;
use tangmark_trust::timestamp::{Evidence, TimestampError, Token};
use tangmark_trust::verdict::Judged;

use super::{Circle, read_answer};
use crate::verify::Verify;
use crate::{Workshop, WorkshopError};

/// A timestamp that was handed in and is none for the file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RefusedTimestamp {
    /// The file, as it can be shown: not every name of a file is text.
    pub file: String,
    /// Which rule it breaks.
    pub reason: String,
    /// The next step.
    pub hint: &'static str,
}

/// What was heard.
#[derive(Clone, Debug, Default)]
pub(crate) struct Heard {
    /// Timestamps that fit the file.
    pub(crate) evidence: Vec<Evidence>,
    /// Those that do not.
    pub(crate) refused: Vec<RefusedTimestamp>,
}

/// Judges the timestamps of a file whose bytes were judged already.
///
/// # Errors
/// When a file of them cannot be read, or one of certificates holds none.
pub(crate) fn hear(
    order: &Verify<'_>,
    bytes: &[u8],
    judged: &Judged,
    histories: &[KeyHistory],
) -> Result<Heard, WorkshopError> {
    let mut heard = Heard::default();
    let inside = bytes
        .starts_with(b"%PDF")
        .then(|| time_token(bytes))
        .flatten();
    if order.timestamps.is_empty() && inside.as_ref().is_none_or(|(_, token)| token.is_none()) {
        return Ok(heard);
    }
    // Of a file that was altered or cannot be read nobody can say what was stamped; its first line says that it is so.
    if judged.verdict.record.is_none() {
        return Ok(heard);
    }
    let circle = circle(order, judged, histories)?;
    // What may be stamped: the record's name, and the signature of the report around it.
    let mut stamped: Vec<_> = judged.verdict.record.into_iter().collect();
    if let Some((signature, token)) = inside {
        stamped.push(signature);
        if let Some(token) = token
            && let Ok(evidence) = token.check(&signature, &circle.authorities())
        {
            heard.evidence.push(evidence);
        }
    }
    for file in order.timestamps {
        let bytes = read_answer(file)?;
        let judged = Token::read(&bytes).and_then(|token| {
            let found = token.stamped();
            if !stamped.contains(&found) {
                let wanted: Vec<String> = stamped.iter().map(ToString::to_string).collect();
                return Err(TimestampError::OtherDigest {
                    found: found.to_string(),
                    wanted: wanted.join(" or "),
                });
            }
            token.check(&found, &circle.authorities())
        });
        match judged {
            Ok(evidence) => heard.evidence.push(evidence),
            Err(error) => heard.refused.push(RefusedTimestamp {
                file: file.display().to_string(),
                reason: error.to_string(),
                hint: error.hint(),
            }),
        }
    }
    Ok(heard)
}

/// Whom the reader trusts, and which keys are those of the workshop that the file is of.
fn circle(
    order: &Verify<'_>,
    judged: &Judged,
    histories: &[KeyHistory],
) -> Result<Circle, WorkshopError> {
    let mut circle = order
        .workshop
        .map(Workshop::circle)
        .transpose()?
        .unwrap_or_default();
    circle.keys.clear();
    for path in order.authorities {
        circle.trust_file(path)?;
    }
    if let Some(key) = &judged.key {
        circle.keys.push(*key);
        let about = histories
            .iter()
            .filter(|history| history.term(key).is_some());
        circle
            .keys
            .extend(about.flat_map(KeyHistory::terms).map(|term| term.key));
    }
    // A report tells more keys of its workshop: the one that signed the pages, and those of the history in it.
    if let Some((pages, history)) = &judged.joined {
        circle.keys.push(*pages);
        let about = histories
            .iter()
            .filter(|history| history.term(pages).is_some())
            .chain([history]);
        circle
            .keys
            .extend(about.flat_map(KeyHistory::terms).map(|term| term.key));
    }
    Ok(circle)
}
