//! A comparison in words and numbers, for terminals and programs.

use serde::Serialize;
use tangmark_core::{
    record::{Quantity, Record, Term as _},
    units::{Decimal, Unit},
};
use tangmark_measure::{Against, Estimate, print};

use super::{
    Comparison,
    account::{Account, EtchEvent, Went},
    flaws::FlawChange,
    quantities::{self, Row, told},
    state,
    summary::summary,
};
use crate::{Speech, pages::words, speech::Pair};

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

impl Told {
    /// Compares two states of a blade; `between` are its records after the first and before the second, oldest first.
    pub fn of(before: &Record, after: &Record, between: &[Record], speech: Speech) -> Self {
        let comparison = Comparison::of(before, after, between);
        let text = |words: &Pair| speech.text(words);
        Self {
            summary: text(&summary(&comparison)),
            before: state_told(before, speech),
            after: state_told(after, speech),
            not_compared: quantities::not_compared(before, after).map(|said| text(&said)),
            quantities: comparison
                .rows
                .iter()
                .map(|row| row_told(row, speech))
                .collect(),
            stations: comparison
                .stations
                .iter()
                .map(|station| StationTold {
                    at: of_quantity(station.at),
                    measures: station
                        .rows
                        .iter()
                        .map(|row| row_told(row, speech))
                        .collect(),
                })
                .collect(),
            not_measured_again: quantities::not_measured_again(&comparison)
                .iter()
                .map(text)
                .collect(),
            flaws: comparison
                .flaws
                .iter()
                .filter_map(|flaw| flaw_told(flaw, speech))
                .collect(),
            photos: comparison
                .photos
                .iter()
                .map(|(first, second)| PhotoTold {
                    shows: second.shows.key(),
                    before: first.id.to_string(),
                    after: second.id.to_string(),
                })
                .collect(),
            account: comparison
                .account
                .as_ref()
                .map(|account| account_told(account, speech)),
        }
    }
}

fn state_told(state: &Record, speech: Speech) -> StateTold {
    let is_sheet = state::is_sheet(state);
    let examination = state.examination.as_ref();
    StateTold {
        record: (!is_sheet).then_some(state.sequence),
        name: speech.text(&state::name(state)),
        purpose: (!is_sheet).then(|| state.purpose.key()),
        examined_on: examination.map(|one| one.on.to_string()),
        surface: examination.map(|one| one.surface.key()),
    }
}

/// Plain ASCII for programs.
fn ascii(text: &str) -> String {
    text.replace('−', "-")
}

fn of_quantity(quantity: &Quantity) -> Number {
    number_of(quantity.value, quantity.standard_uncertainty, quantity.unit)
}

fn number_of(value: Decimal, standard: Decimal, unit: Unit) -> Number {
    let (value, expanded) = words::value_and_uncertainty(value, standard);
    Number {
        value: ascii(&value),
        expanded_uncertainty: Some(expanded),
        unit,
    }
}

/// An estimate with at most `digits` after the full stop.
fn number(estimate: Estimate, digits: usize, unit: Unit) -> Number {
    let decimals = (
        print::fixed(estimate.value, digits),
        print::fixed(estimate.standard_uncertainty, digits + 3),
    );
    match decimals {
        (Ok(value), Ok(standard)) if estimate.standard_uncertainty > 0.0 => {
            number_of(value, standard, unit)
        }
        (Ok(value), _) => Number {
            value: value.to_string(),
            expanded_uncertainty: None,
            unit,
        },
        (Err(_), _) => Number {
            value: "none".to_owned(),
            expanded_uncertainty: None,
            unit,
        },
    }
}

const fn against_key(against: Against) -> &'static str {
    match against {
        Against::Below => "less",
        Against::Above => "more",
        Against::Undecided => "cannot_be_told",
    }
}

fn row_told(row: &Row<'_>, speech: Speech) -> QuantityTold {
    let unit = row.before.or(row.after).map_or(Unit::One, |one| one.unit);
    let judged = match (row.before, row.after, row.against()) {
        (Some(_), None, _) => "not_measured_again",
        (None, Some(_), _) => "not_measured_before",
        (_, _, Some(against)) => against_key(against),
        (_, _, None) => "no_comparison",
    };
    QuantityTold {
        field: row.field,
        name: speech.text(&row.name),
        before: row.before.map(of_quantity),
        after: row.after.map(of_quantity),
        difference: row
            .difference
            .map(|difference| number(difference, row.digits(), unit)),
        judged,
        said: speech.text(&row.judged()),
    }
}

fn flaw_told(change: &FlawChange<'_>, speech: Speech) -> Option<FlawTold> {
    let flaw = change.flaw()?;
    Some(FlawTold {
        id: flaw.id.to_string(),
        kind: flaw.kind.key(),
        kind_said: speech.text(&words::gloss(flaw.kind)),
        zone: flaw.zone.key(),
        at: of_quantity(&flaw.at),
        fate: change.fate.key(),
        fate_said: speech.text(&change.fate.said()),
        rule: change.rule,
        why: speech.text(&change.why),
        sizes: change
            .sizes
            .iter()
            .map(|size| {
                let (digits, unit) = match size.field {
                    "count" => (0, Unit::One),
                    "area" => (3, Unit::SquareMillimetre),
                    _ => (3, Unit::Millimetre),
                };
                SizeTold {
                    field: size.field,
                    difference: number(size.difference, digits, unit),
                    judged: against_key(size.against()),
                    said: format!("{} {}", speech.text(&size.name), size.stated),
                }
            })
            .collect(),
    })
}

fn account_told(account: &Account<'_>, speech: Speech) -> AccountTold {
    let digits = account.digits();
    let grams = |gone: Estimate| number(gone, digits, Unit::Gram);
    let steps = account
        .steps
        .iter()
        .zip(account.weighings.windows(2))
        .filter_map(|(step, both)| {
            let [first, second] = both else { return None };
            Some(StepTold {
                from: speech.text(&first.place.said()),
                to: speech.text(&second.place.said()),
                on: second.place.on(),
                passes: step.passes.iter().map(|pass| pass.id.to_string()).collect(),
                said: speech.text(&step.said()),
                went: step.went.key(),
                before: of_quantity(first.mass),
                after: of_quantity(second.mass),
                gone: grams(step.gone),
                told: told(step.gone) != Against::Undecided,
            })
        })
        .collect();
    let total = |went, said: &Pair, gone: Estimate| TotalTold {
        went,
        said: speech.text(said),
        gone: grams(gone),
        told: told(gone) != Against::Undecided,
    };
    let mut totals: Vec<TotalTold> = Went::ALL
        .into_iter()
        .filter_map(|went| Some(total(went.key(), &went.said(), account.of_kind(went)?)))
        .collect();
    if let (Some(steel), Some(_)) = (account.steel(), account.of_kind(Went::Etch)) {
        let said = crate::speech::pair("steel, by stone and etch", "鋼（砥石・腐食）");
        totals.push(total("steel_and_etch", &said, steel));
    }
    let all = crate::speech::pair("all that went", "減少の合計");
    totals.push(total("all", &all, account.all()));
    AccountTold {
        steps,
        totals,
        etches: account
            .etches
            .iter()
            .map(|etch| etch_told(etch, speech, &grams))
            .collect(),
        not_weighed: account
            .outside
            .iter()
            .map(|pass| pass.id.to_string())
            .collect(),
        left_out: account
            .left_out
            .iter()
            .map(|state| speech.text(&state::name(state)))
            .collect(),
    }
}

fn etch_told(
    event: &EtchEvent<'_>,
    speech: Speech,
    grams: &dyn Fn(Estimate) -> Number,
) -> EtchTold {
    let on = event.pass.map(|pass| pass.on.to_string()).or_else(|| {
        let examination = event.state?.examination.as_ref()?;
        Some(examination.on.to_string())
    });
    EtchTold {
        pass: event.pass.map(|pass| pass.id.to_string()),
        on,
        agent: event.etch.map(|etch| etch.agent.clone()),
        ended: event
            .etch
            .map(|etch| etch.neutralised && etch.rinsed && etch.dried),
        gone: event.gone.map(grams),
        said: speech.text(&event.said()),
    }
}
