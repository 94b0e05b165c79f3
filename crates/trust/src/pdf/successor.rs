//! A report that another key signed than the record in it: a later key of the same workshop, by the history it carries.

use super::PdfExamination;
use crate::history::{HistoryError, KeyHistory, Standing};
use crate::key::PublicKey;

/// Why the key that signed a report does not go with the embedded record.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SuccessorProblem {
    /// Two keys, and nothing that joins them.
    #[error("the pages were signed with another key than the embedded record")]
    OtherKey,
    /// One key, and a history all the same.
    #[error(
        "the report carries `key-history.json`, although one key signed pages and embedded record"
    )]
    Needless,
    /// The history cannot be relied on.
    #[error("embedded `key-history.json`: {0}")]
    History(#[from] HistoryError),
    /// The history does not lead from the record's key to the report's.
    #[error("by the embedded key history no later key of the record's workshop signed the pages")]
    NotLater,
    /// The key that signed the pages was given up.
    #[error(
        "by the embedded key history the key that signed the pages, {fingerprint}, is revoked since {since}"
    )]
    Revoked {
        /// Fingerprint of the key.
        fingerprint: String,
        /// Since when.
        since: String,
    },
    /// The record's key did not sign at the time that the record states.
    #[error(
        "by the embedded key history the key of the embedded record did not sign at {issued_at}"
    )]
    NotInForce {
        /// The time that the record states.
        issued_at: String,
    },
}

impl PdfExamination {
    /// Checks that the key in the certificate goes with `record_key`, the key whose signature on the embedded record was
    /// found to hold. Returns the key history that joins the two, where they are not the same key.
    ///
    /// `issued_at` is the record's time in its own spelling. Source: rules K2 and K3 of `schemas/report-format.md`.
    ///
    /// # Errors
    /// When they do not go together: the report is altered.
    pub fn joining_history(
        &self,
        record_key: &PublicKey,
        issued_at: &str,
    ) -> Result<Option<KeyHistory>, SuccessorProblem> {
        let signer = self.certificate_key.as_ref();
        let same = signer == Some(record_key);
        let (Some(signer), Some(bytes)) = (signer, &self.history_bytes) else {
            return if same {
                Ok(None)
            } else {
                Err(SuccessorProblem::OtherKey)
            };
        };
        if same {
            return Err(SuccessorProblem::Needless);
        }
        let history = KeyHistory::read(bytes)?;
        let place = |key: &PublicKey| history.terms().position(|term| term.key == *key);
        let later =
            matches!((place(record_key), place(signer)), (Some(from), Some(to)) if from < to);
        let Some(term) = history.term(signer).filter(|_| later) else {
            return Err(SuccessorProblem::NotLater);
        };
        if let Some(revoked) = &term.revoked {
            return Err(SuccessorProblem::Revoked {
                fingerprint: signer.fingerprint().to_string(),
                since: revoked.since.clone(),
            });
        }
        match history.standing(record_key, issued_at, None) {
            Standing::InForce | Standing::RevokedUnproved => Ok(Some(history)),
            _ => Err(SuccessorProblem::NotInForce {
                issued_at: issued_at.to_owned(),
            }),
        }
    }
}
