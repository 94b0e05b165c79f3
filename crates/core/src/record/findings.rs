//! Findings of plugins, the decision, answers and overrides.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::scalar::{Key, UtcTime};
use super::term::terms;
use crate::Digest;
use crate::units::{Decimal, Unit};

terms! {
    /// Weight of a finding. `stop` holds the blade until the right answer comes.
    Level {
        Info "info" "" "information" "参考";
        Caution "caution" "" "caution" "注意";
        Stop "stop" "" "stop" "停止";
    }
}

/// A number behind a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Number {
    /// What it is.
    #[schemars(length(min = 1, max = 100))]
    pub name: String,
    /// Value in `unit`.
    pub value: Decimal,
    /// UCUM code.
    pub unit: Unit,
    /// Standard uncertainty (k = 1) in `unit`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard_uncertainty: Option<Decimal>,
}

/// A finding of a plugin.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Finding {
    /// Plugin, as named in `runs`; `tangmark` for what the host itself finds.
    pub plugin: Key,
    /// Rule, as the plugin describes it.
    #[schemars(regex(pattern = r"^[a-z0-9][a-z0-9._-]{0,79}$"))]
    pub rule: String,
    /// Weight.
    pub level: Level,
    /// What was found, in words.
    #[schemars(length(min = 1, max = 2000))]
    pub message: String,
    /// JSON Pointers (RFC 6901) into the record.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 100))]
    pub evidence: Vec<String>,
    /// Numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 100))]
    pub numbers: Vec<Number>,
    /// Source of the rule.
    #[schemars(length(min = 1, max = 400))]
    pub source: String,
}

/// A series of numbers a plugin computed, to be drawn.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Column {
    /// Heading.
    #[schemars(length(min = 1, max = 100))]
    pub name: String,
    /// UCUM code; left out for words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// Cells.
    #[schemars(length(max = 2000))]
    pub cells: Vec<String>,
}

terms! {
    /// How an artefact is meant to be shown.
    ArtefactKind {
        Series "series" "" "curve: first column across, others up" "曲線";
        Table "table" "" "table" "表";
    }
}

/// A table or series of a plugin.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Artefact {
    /// Kind.
    pub kind: ArtefactKind,
    /// Title.
    #[schemars(length(min = 1, max = 200))]
    pub title: String,
    /// Columns of equal length.
    #[schemars(length(min = 1, max = 20))]
    pub columns: Vec<Column>,
}

/// One run of one plugin.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Plugin.
    pub plugin: Key,
    /// Its version.
    #[schemars(length(min = 1, max = 40))]
    pub version: String,
    /// Digest of its file.
    pub digest: Digest,
    /// Digest of its input, withheld values replaced by `_sd`.
    pub input: Digest,
    /// What the workshop set for it, one line each: `name = value`, or a table with its number of rows; left out when
    /// it ran with nothing but its defaults. Amounts of money are not shown.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 100), inner(length(min = 1, max = 300)))]
    pub settings: Vec<String>,
    /// What went wrong, where it failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub fault: Option<String>,
    /// Numbers it derived.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 200))]
    pub quantities: Vec<Number>,
    /// Tables and series.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 20))]
    pub artefacts: Vec<Artefact>,
}

terms! {
    /// What is to happen with the blade.
    Verdict {
        Work "work" "" "work" "作業実施";
        SetAside "set_aside" "" "set aside" "作業保留";
        Refer "refer" "" "refer to a senior specialist" "上級の専門家へ照会";
    }
}

terms! {
    /// How a stop was answered.
    AnswerKind {
        TwoNegativeSightings "two_negative_sightings" "" "two independent looks did not find it" "独立した二度の調査で認められず";
        SpecialistReply "specialist_reply" "" "reply of a specialist" "専門家の回答";
        Override "override" "" "override by a named person" "記名者による例外措置";
        NewBudget "new_budget" "" "new examination with a new budget" "新たな研ぎ代による再調査";
        FollowsTheStop "follows_the_stop" "" "the decision follows the stop" "停止に従う決定";
    }
}

/// An answer to a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// Plugin and rule answered, as `plugin/rule`.
    #[schemars(regex(pattern = r"^[a-z0-9-]{1,40}/[a-z0-9][a-z0-9._-]{0,79}$"))]
    pub rule: String,
    /// How.
    pub kind: AnswerKind,
    /// In words.
    #[schemars(length(min = 1, max = 1000))]
    pub how: String,
    /// The record that answers, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub record: Option<Digest>,
}

/// The decision.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Decision {
    /// Verdict.
    pub verdict: Verdict,
    /// By whom; never withheld.
    #[schemars(length(min = 1, max = 200))]
    pub by: String,
    /// Reason.
    #[schemars(length(min = 1, max = 2000))]
    pub reason: String,
    /// Findings that were answered, and how.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 100))]
    pub answers: Vec<Answer>,
}

/// An override of a stop; stands on page 1 of every later report and is never withheld.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Override {
    /// Plugin and rule overridden, as `plugin/rule`.
    #[schemars(regex(pattern = r"^[a-z0-9-]{1,40}/[a-z0-9][a-z0-9._-]{0,79}$"))]
    pub rule: String,
    /// Who overrides.
    #[schemars(length(min = 1, max = 200))]
    pub name: String,
    /// Why.
    #[schemars(length(min = 1, max = 2000))]
    pub reason: String,
    /// When.
    pub at: UtcTime,
}

/// A pass that was logged while a stop stood unanswered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WorkedUnderHold {
    /// Pass.
    pub pass: Key,
    /// Plugin and rule of the stop, as `plugin/rule`.
    #[schemars(regex(pattern = r"^[a-z0-9-]{1,40}/[a-z0-9][a-z0-9._-]{0,79}$"))]
    pub rule: String,
    /// Message of the stop.
    #[schemars(length(min = 1, max = 2000))]
    pub message: String,
}
