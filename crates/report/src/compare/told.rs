//! A comparison in words and numbers, for terminals and programs.

mod make;

use serde::Serialize;
use tangmark_core::units::Unit;

/// A value with its expanded uncertainty (k = 2), both to the same decimal, in one unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Number {
    /// Value; after less before where it is a difference, before less after where it is a loss.
    pub value: String,
    /// Expanded uncertainty (k = 2); nothing for a count.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expanded_uncertainty: Option<String>,
    /// UCUM code of the unit.
    pub unit: Unit,
}

/// One of the two states.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StateTold {
    /// Number of the record; nothing for the sheet.
    pub record: Option<u32>,
    /// How it is called.
    pub name: String,
    /// Purpose of the record.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub purpose: Option<&'static str>,
    /// Day of its examination.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub examined_on: Option<String>,
    /// Surface as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub surface: Option<&'static str>,
}

/// A quantity of both states, or of one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct QuantityTold {
    /// Field of the sheet.
    pub field: &'static str,
    /// Name for people.
    pub name: String,
    /// Before.
    pub before: Option<Number>,
    /// After.
    pub after: Option<Number>,
    /// After less before, with what both readings share of one instrument's error.
    pub difference: Option<Number>,
    /// `less`, `more`, `cannot_be_told`, `not_measured_again`, `not_measured_before` or `no_comparison`.
    pub judged: &'static str,
    /// The same for people.
    pub said: String,
}

/// A station of both states, or of one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StationTold {
    /// Its place from the datum.
    pub at: Number,
    /// What was measured there.
    pub measures: Vec<QuantityTold>,
}

/// Change of a size of a flaw.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SizeTold {
    /// Field of the flaw.
    pub field: &'static str,
    /// After less before.
    pub difference: Number,
    /// `less`, `more` or `cannot_be_told`.
    pub judged: &'static str,
    /// The same for people.
    pub said: String,
}

/// What became of a flaw.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FlawTold {
    /// Key, the same in every record.
    pub id: String,
    /// Kind.
    pub kind: &'static str,
    /// Kind for people.
    pub kind_said: String,
    /// Zone.
    pub zone: &'static str,
    /// Place from the datum.
    pub at: Number,
    /// `gone`, `ruled_out`, `not_looked_at`, `smaller`, `same`, `changed`, `larger`, `newly_visible`, `newly_made` or
    /// `new`: this program's reading by the rule.
    pub fate: &'static str,
    /// The same for people.
    pub fate_said: String,
    /// Key of the rule.
    pub rule: &'static str,
    /// The rule, as it applies here.
    pub why: String,
    /// Sizes that were measured both times.
    pub sizes: Vec<SizeTold>,
}

/// Photographs of the same thing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhotoTold {
    /// What they show.
    pub shows: &'static str,
    /// Key of the first.
    pub before: String,
    /// Key of the second.
    pub after: String,
}

/// What went from one weighing to the next.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepTold {
    /// Where the first weighing stands.
    pub from: String,
    /// Where the second weighing stands.
    pub to: String,
    /// Day of the second weighing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// Keys of the passes between them.
    pub passes: Vec<String>,
    /// The passes for people.
    pub said: String,
    /// `rust`, `steel`, `etch`, `rust_and_steel`, `other` or `unexplained`.
    pub went: &'static str,
    /// Mass before.
    pub before: Number,
    /// Mass after.
    pub after: Number,
    /// Mass before less mass after.
    pub gone: Number,
    /// Whether that is more than the scale can tell from nothing.
    pub told: bool,
}

/// What went of one kind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TotalTold {
    /// `all`, `steel_and_etch`, or as in a step.
    pub went: &'static str,
    /// The same for people.
    pub said: String,
    /// Mass gone.
    pub gone: Number,
    /// Whether that is more than the scale can tell from nothing.
    pub told: bool,
}

/// An etch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EtchTold {
    /// Key of the pass; nothing where it was made to look.
    pub pass: Option<String>,
    /// Day.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    /// Agent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub agent: Option<String>,
    /// Whether it was neutralised, rinsed and dried afterwards; nothing where that is not recorded.
    pub ended: Option<bool>,
    /// What went, where it was weighed by itself.
    pub gone: Option<Number>,
    /// The same for people.
    pub said: String,
}

/// The steel account.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AccountTold {
    /// Every step from weighing to weighing.
    pub steps: Vec<StepTold>,
    /// Sums by kind, then of all.
    pub totals: Vec<TotalTold>,
    /// Etches since the first state.
    pub etches: Vec<EtchTold>,
    /// Passes before the first weighing or after the last.
    pub not_weighed: Vec<String>,
    /// States whose mass is not of the same thing on the scale.
    pub left_out: Vec<String>,
}

/// Everything that two states say against each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Told {
    /// All in one line.
    pub summary: String,
    /// The first state.
    pub before: StateTold,
    /// The second state.
    pub after: StateTold,
    /// What is not compared, since the states measure from different places.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_compared: Option<String>,
    /// Named quantities.
    pub quantities: Vec<QuantityTold>,
    /// Stations.
    pub stations: Vec<StationTold>,
    /// What was measured the first time only.
    pub not_measured_again: Vec<String>,
    /// Flaws.
    pub flaws: Vec<FlawTold>,
    /// Photographs of the same thing in two states.
    pub photos: Vec<PhotoTold>,
    /// The steel account; nothing where the blade was not weighed twice.
    pub account: Option<AccountTold>,
}
