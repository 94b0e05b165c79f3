//! The steel account: every weighing from one state to another, and what went between each and the next.
//!
//! What goes from one weighing to the next is booked to the passes that lie between them; where none lies there it is
//! unexplained. The steps add up to the whole by their making, so nothing is lost and nothing counted twice. Readings of one
//! scale share its error, and every sum counts with that.

use tangmark_core::record::{Etch, Operation, Pass, Purpose, Quantity, Record};
use tangmark_measure::{Estimate, reading::Reading};

mod book;

use crate::{
    drawing::passes_of,
    pages::words,
    speech::{Pair, pair},
};
use book::{Book, etches, mass_of, steps, usual_state, weigh};

/// What went in a step, by the passes in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Went {
    /// Rust, by passes that remove it.
    Rust,
    /// Steel, by passes that take it.
    Steel,
    /// Steel, by an etch alone.
    Etch,
    /// Rust and steel, by passes of both kinds that were not weighed apart.
    Mixed,
    /// Something, by passes that take no steel on purpose: oil, dirt, what was wiped off.
    Other,
    /// Something between weighings without a pass.
    Unexplained,
}

impl Went {
    /// All of them, in the order in which they are told.
    pub(crate) const ALL: [Self; 6] = [
        Self::Rust,
        Self::Steel,
        Self::Etch,
        Self::Mixed,
        Self::Other,
        Self::Unexplained,
    ];

    fn by(passes: &[&Pass]) -> Self {
        let any = |is: fn(Operation) -> bool| passes.iter().any(|pass| is(pass.operation));
        let rust = any(|operation| operation == Operation::Derust);
        let etch = any(|operation| operation == Operation::Etch);
        let stone = any(|operation| operation.takes_steel() && operation != Operation::Etch);
        match (rust, stone, etch) {
            (true, false, false) => Self::Rust,
            (true, _, _) => Self::Mixed,
            (false, true, _) => Self::Steel,
            (false, false, true) => Self::Etch,
            _ if passes.is_empty() => Self::Unexplained,
            _ => Self::Other,
        }
    }

    /// Returns its key, for programs.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Rust => "rust",
            Self::Steel => "steel",
            Self::Etch => "etch",
            Self::Mixed => "rust_and_steel",
            Self::Other => "other",
            Self::Unexplained => "unexplained",
        }
    }

    /// Returns it in words.
    pub(crate) fn said(self) -> Pair {
        match self {
            Self::Rust => pair("rust", "錆"),
            Self::Steel => pair("steel", "鋼"),
            Self::Etch => pair("steel, by etching", "鋼（腐食）"),
            Self::Mixed => pair("rust and steel, not apart", "錆と鋼（区別なし）"),
            Self::Other => pair("wiped or washed off", "拭き取り・洗浄"),
            Self::Unexplained => pair("no pass says why", "該当する工程なし"),
        }
    }

    /// Whether it is steel alone.
    const fn is_steel(self) -> bool {
        matches!(self, Self::Steel | Self::Etch)
    }
}

/// Where in the work a weighing stands.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Place<'a> {
    State(&'a Record),
    Before(&'a Pass),
    After(&'a Pass),
}

impl Place<'_> {
    /// Returns the place in words.
    pub(crate) fn said(self) -> Pair {
        match self {
            Self::State(state) => super::state::name(state),
            Self::Before(pass) => pair(
                format!("before pass {}", pass.id),
                format!("工程 {} の前", pass.id),
            ),
            Self::After(pass) => pair(
                format!("after pass {}", pass.id),
                format!("工程 {} の後", pass.id),
            ),
        }
    }

    /// Returns the day, as far as it is known.
    pub(crate) fn on(self) -> Option<String> {
        match self {
            Self::State(state) => state
                .examination
                .as_ref()
                .map(|examination| examination.on.to_string()),
            Self::Before(pass) | Self::After(pass) => Some(pass.on.to_string()),
        }
    }
}

/// A weighing.
#[derive(Debug, Clone)]
pub(crate) struct Weighing<'a> {
    pub(crate) place: Place<'a>,
    pub(crate) mass: &'a Quantity,
    reading: Reading,
    /// How many passes were finished before it.
    done: usize,
}

/// What went from one weighing to the next.
#[derive(Debug, Clone)]
pub(crate) struct Step<'a> {
    pub(crate) passes: Vec<&'a Pass>,
    pub(crate) went: Went,
    /// Mass before less mass after, g.
    pub(crate) gone: Estimate,
}

impl Step<'_> {
    /// Returns the passes of the step in words.
    pub(crate) fn said(&self) -> Pair {
        let name = |pass: &Pass| {
            let operation = words::gloss(pass.operation);
            pair(
                format!("{} {}", pass.id, operation.en),
                format!("{} {}", pass.id, operation.ja),
            )
        };
        match self.passes.as_slice() {
            [] => pair("between passes", "工程の間"),
            [one] => name(one),
            [one, other] => {
                let (one, other) = (name(one), name(other));
                pair(
                    format!("{}, {}", one.en, other.en),
                    format!("{}、{}", one.ja, other.ja),
                )
            }
            [first, .., last] => pair(
                format!("{} to {}, {} passes", first.id, last.id, self.passes.len()),
                format!("{} ～ {}、{} 工程", first.id, last.id, self.passes.len()),
            ),
        }
    }
}

/// An etch since the first state.
#[derive(Debug, Clone, Copy)]
pub(crate) struct EtchEvent<'a> {
    /// The pass, where it was one; else it was made to look.
    pub(crate) pass: Option<&'a Pass>,
    /// State whose examination it belongs to, where it was made to look.
    pub(crate) state: Option<&'a Record>,
    pub(crate) etch: Option<&'a Etch>,
    /// What went, where it was weighed by itself.
    pub(crate) gone: Option<Estimate>,
}

impl EtchEvent<'_> {
    /// Returns the etch in words: which, with what, and whether it was ended.
    pub(crate) fn said(&self) -> Pair {
        let what = match (self.pass, self.state) {
            (Some(pass), _) => pair(format!("pass {}", pass.id), format!("工程 {}", pass.id)),
            (None, Some(state)) => {
                let state = super::state::in_text(state);
                pair(
                    format!("to look, in {}", state.en),
                    format!("{}の調査のため", state.ja),
                )
            }
            (None, None) => words::not_recorded(),
        };
        let Some(etch) = self.etch else {
            return pair(
                format!("{}: agent not recorded", what.en),
                format!("{}：薬剤の記載なし", what.ja),
            );
        };
        let mut missing: Vec<(&str, &str)> = Vec::new();
        for (done, en, ja) in [
            (etch.neutralised, "not neutralised", "中和なし"),
            (etch.rinsed, "not rinsed", "すすぎなし"),
            (etch.dried, "not dried", "乾燥なし"),
        ] {
            if !done {
                missing.push((en, ja));
            }
        }
        let (en, ja): (Vec<&str>, Vec<&str>) = missing.into_iter().unzip();
        let (en, ja) = if en.is_empty() {
            (
                "neutralised, rinsed and dried".to_owned(),
                "中和・すすぎ・乾燥済み".to_owned(),
            )
        } else {
            (en.join(", "), ja.join("・"))
        };
        pair(
            format!("{}: {}; {en}", what.en, etch.agent),
            format!("{}：{}。{ja}", what.ja, etch.agent),
        )
    }
}

/// The account.
#[derive(Debug, Clone)]
pub(crate) struct Account<'a> {
    /// At least two.
    pub(crate) weighings: Vec<Weighing<'a>>,
    /// One fewer.
    pub(crate) steps: Vec<Step<'a>>,
    pub(crate) etches: Vec<EtchEvent<'a>>,
    /// Passes before the first weighing or after the last: what they took is not in the account.
    pub(crate) outside: Vec<&'a Pass>,
    /// States whose mass is not of the bare blade, and so not compared.
    pub(crate) left_out: Vec<&'a Record>,
}

impl<'a> Account<'a> {
    /// Draws up the account from one state to another; `between` are the records between them, oldest first. Nothing
    /// where the blade was not weighed twice.
    pub(crate) fn of(before: &'a Record, after: &'a Record, between: &'a [Record]) -> Option<Self> {
        let known = |pass: &Pass| before.passes.iter().any(|one| one.id == pass.id);
        let passes: Vec<&'a Pass> = passes_of(after, between)
            .into_iter()
            .filter(|pass| !known(pass))
            .collect();
        let states: Vec<&'a Record> = std::iter::once(before)
            .chain(between)
            .chain([after])
            .filter(|state| state.purpose != Purpose::Withdrawal)
            .collect();
        let on_scale = usual_state(&states, &passes);
        let mut book = Book {
            passes: &passes,
            states: &states,
            weighings: Vec::new(),
            last_of_state: None,
        };
        let mut left_out = Vec::new();
        let mut told = 0;
        for (number, state) in states.iter().enumerate() {
            let is_last = number + 1 == states.len();
            let new = passes[told..]
                .iter()
                .take_while(|pass| is_last || state.passes.iter().any(|one| one.id == pass.id));
            let end = told + new.count();
            for index in told..end {
                book.pass(index);
            }
            told = end;
            let Some((mass, of)) = mass_of(state) else {
                continue;
            };
            if of == on_scale {
                book.state(state, mass, told);
            } else {
                left_out.push(*state);
            }
        }
        let weighings = book.weighings;
        let (first, last) = (weighings.first()?, weighings.last()?);
        let outside: Vec<&'a Pass> = passes
            .iter()
            .enumerate()
            .filter(|(index, _)| *index < first.done || *index >= last.done)
            .map(|(_, pass)| *pass)
            .collect();
        let steps = steps(&weighings, &passes)?;
        let etches = etches(&states, &passes, &steps);
        Some(Self {
            weighings,
            steps,
            etches,
            outside,
            left_out,
        })
    }

    /// What went in all the steps that are chosen, g; nothing where none is.
    fn total(&self, chosen: impl Fn(usize, &Step<'a>) -> bool) -> Option<Estimate> {
        let mut weights = vec![0.0_f64; self.weighings.len()];
        let mut any = false;
        for (index, step) in self.steps.iter().enumerate() {
            if chosen(index, step) {
                any = true;
                weights[index] += 1.0;
                weights[index + 1] -= 1.0;
            }
        }
        any.then(|| weigh(&self.weighings, &weights))
    }

    /// Everything that went from the first weighing to the last, g.
    pub(crate) fn all(&self) -> Estimate {
        self.total(|_, _| true)
            .unwrap_or_else(|| Estimate::exact(0.0))
    }

    /// What went in the steps from one to another, both counted, g.
    pub(crate) fn in_steps(&self, first: usize, last: usize) -> Estimate {
        self.total(|index, _| (first..=last).contains(&index))
            .unwrap_or_else(|| Estimate::exact(0.0))
    }

    /// What went of one kind, g; nothing where no step is of that kind.
    pub(crate) fn of_kind(&self, went: Went) -> Option<Estimate> {
        self.total(|_, step| step.went == went)
    }

    /// Steel that went, by stone or etch, g; nothing where no step is of steel alone.
    pub(crate) fn steel(&self) -> Option<Estimate> {
        self.total(|_, step| step.went.is_steel())
    }

    /// Steel or rust that went up to each weighing, g: the first of them is nothing.
    pub(crate) fn running(&self, steel: bool) -> Vec<Estimate> {
        let counts = |step: &Step<'a>| {
            if steel {
                step.went.is_steel()
            } else {
                step.went == Went::Rust
            }
        };
        (0..self.weighings.len())
            .map(|end| {
                self.total(|index, step| index < end && counts(step))
                    .unwrap_or_else(|| Estimate::exact(0.0))
            })
            .collect()
    }

    /// Most digits after the full stop of the weighings.
    pub(crate) fn digits(&self) -> usize {
        let masses = self.weighings.iter();
        masses
            .map(|one| usize::from(one.mass.value.digits()))
            .max()
            .unwrap_or(0)
    }
}

#[cfg(test)]
mod tests;
