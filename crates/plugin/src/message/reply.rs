//! What a plugin answers: it can add, never change.

use serde::{Deserialize, Deserializer, Serialize};

use super::Artefact;

/// The answer to a check. Empty when there is nothing to say.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckReply {
    /// Judgements, each with its reason.
    pub findings: Vec<FindingDraft>,
    /// Numbers derived from the sheet.
    pub quantities: Vec<QuantityDraft>,
    /// Curves and tables that reports and pages can draw.
    pub artefacts: Vec<Artefact>,
}

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Level {
    /// Worth knowing.
    Info,
    /// Look again before going on.
    Caution,
    /// Holds the blade until it is answered.
    Stop,
}

/// One judgement of a plugin. The host's caller adds the plugin's name, version, file digest and
/// the digest of what it was asked before it goes into a record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FindingDraft {
    /// Identifier of a rule in the plugin's description.
    pub rule: String,
    /// How much it weighs.
    pub level: Level,
    /// The reason, one line for people.
    pub message: String,
    /// JSON Pointers (RFC 6901) into the sheet: at least one, each present there. A finding about
    /// something missing names the nearest part that is there ([`crate::evidence::nearest_present`]).
    pub evidence: Vec<String>,
    /// The numbers the judgement rests on.
    pub numbers: Vec<NumberDraft>,
    /// Where the rule comes from; may be closer than the source in the description.
    pub source: String,
}

/// A number in a finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NumberDraft {
    /// What it is.
    pub name: String,
    /// Decimal number, exact: optional `-`, digits, optional `.` and digits.
    pub value: String,
    /// UCUM code; `1` for a ratio or count.
    pub unit: String,
    /// Standard uncertainty (k = 1) in the same unit, where it is known.
    #[serde(
        default,
        deserialize_with = "present",
        skip_serializing_if = "Option::is_none"
    )]
    pub standard_uncertainty: Option<String>,
}

/// A number derived from the sheet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuantityDraft {
    /// Identifier, unique in the reply.
    pub name: String,
    /// Decimal number, as in [`NumberDraft::value`].
    pub value: String,
    /// UCUM code.
    pub unit: String,
    /// Standard uncertainty (k = 1) in the same unit, where it is known.
    #[serde(
        default,
        deserialize_with = "present",
        skip_serializing_if = "Option::is_none"
    )]
    pub standard_uncertainty: Option<String>,
    /// Formula and where it comes from.
    pub source: String,
}

/// A plugin will not judge this request; the text says why.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Refusal(String);

impl Refusal {
    /// Refuses with a reason, one line for people.
    pub fn new(reason: impl Into<String>) -> Self {
        Self(reason.into())
    }
}

/// Reads an optional member that, when it is there, is not `null`: absence has one spelling.
pub(super) fn present<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<String>, D::Error> {
    String::deserialize(deserializer).map(Some)
}
