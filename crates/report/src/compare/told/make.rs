//! How a comparison is put into words and numbers.

use tangmark_core::{
    record::{Quantity, Record, Term as _},
    units::{Decimal, Unit},
};
use tangmark_measure::{Against, Estimate, print};

use super::{
    super::{
        Comparison,
        account::{Account, EtchEvent, Went},
        flaws::FlawChange,
        quantities::{self, Row, told},
        state,
        summary::summary,
    },
    AccountTold, EtchTold, FlawTold, Number, PhotoTold, QuantityTold, SizeTold, StateTold,
    StationTold, StepTold, Told, TotalTold,
};
use crate::{Speech, pages::words, speech::Pair};

impl Told {
    /// Compares two states of a blade; `between` are its records after the first and before the second, oldest first.
    pub fn of(before: &Record, after: &Record, between: &[Record], speech: Speech) -> Self {
        let comparison = Comparison::of(before, after, between);
        let text = |words: &Pair| said(speech, words);
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
        name: said(speech, &state::name(state)),
        purpose: (!is_sheet).then(|| state.purpose.key()),
        examined_on: examination.map(|one| one.on.to_string()),
        surface: examination.map(|one| one.surface.key()),
    }
}

/// Words for terminals and programs, without the spaces that keep words together on paper.
fn said(speech: Speech, words: &Pair) -> String {
    plain(&speech.text(words))
}

fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ")
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
        name: said(speech, &row.name),
        before: row.before.map(of_quantity),
        after: row.after.map(of_quantity),
        difference: row
            .difference
            .map(|difference| number(difference, row.digits(), unit)),
        judged,
        said: said(speech, &row.judged()),
    }
}

fn flaw_told(change: &FlawChange<'_>, speech: Speech) -> Option<FlawTold> {
    let flaw = change.flaw()?;
    Some(FlawTold {
        id: flaw.id.to_string(),
        kind: flaw.kind.key(),
        kind_said: said(speech, &words::gloss(flaw.kind)),
        zone: flaw.zone.key(),
        at: of_quantity(&flaw.at),
        fate: change.fate.key(),
        fate_said: said(speech, &change.fate.said()),
        rule: change.rule,
        why: said(speech, &change.why),
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
                    said: plain(&format!("{} {}", said(speech, &size.name), size.stated)),
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
                from: said(speech, &first.place.said()),
                to: said(speech, &second.place.said()),
                on: second.place.on(),
                passes: step.passes.iter().map(|pass| pass.id.to_string()).collect(),
                said: said(speech, &step.said()),
                went: step.went.key(),
                before: of_quantity(first.mass),
                after: of_quantity(second.mass),
                gone: grams(step.gone),
                told: told(step.gone) != Against::Undecided,
            })
        })
        .collect();
    let total = |went, name: &Pair, gone: Estimate| TotalTold {
        went,
        said: said(speech, name),
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
            .map(|state| said(speech, &state::name(state)))
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
        said: said(speech, &event.said()),
    }
}
