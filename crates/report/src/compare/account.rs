//! The steel account: every weighing from one state to another, and what went between each and the next.
//!
//! What goes from one weighing to the next is booked to the passes that lie between them; where none lies there it is
//! unexplained. The steps add up to the whole by their making, so nothing is lost and nothing counted twice. Readings of one
//! scale share its error, and every sum counts with that.

use tangmark_core::record::{
    Etch, MassState, Operation, Pass, PassReadings, Purpose, Quantity, Record,
};
use tangmark_measure::{
    Estimate,
    reading::{Reading, SCALE_REPEATS, Term, sum},
};

use super::{change::reading, quantities::same_reading};
use crate::{
    drawing::passes_of,
    pages::words,
    speech::{Pair, pair},
};

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
                let state = super::state::name(state);
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

/// Weighings in the making.
struct Book<'a, 'b> {
    passes: &'b [&'a Pass],
    states: &'b [&'a Record],
    weighings: Vec<Weighing<'a>>,
    /// The mass of the state before.
    last_of_state: Option<&'a Quantity>,
}

impl<'a> Book<'a, '_> {
    fn pass(&mut self, index: usize) {
        let pass = self.passes[index];
        let mass = |side: &'a Option<PassReadings>| {
            side.as_ref().and_then(|readings| readings.mass.as_deref())
        };
        // The state that tells the pass names its instruments.
        let told_in = self.states.iter().rev().copied();
        let state = told_in
            .clone()
            .find(|state| state.passes.iter().any(|one| std::ptr::eq(one, pass)))
            .or_else(|| told_in.clone().next());
        let Some(state) = state else { return };
        if let Some(mass) = mass(&pass.before) {
            self.add(Place::Before(pass), state, mass, index);
        }
        if let Some(mass) = mass(&pass.after) {
            self.add(Place::After(pass), state, mass, index + 1);
        }
    }

    fn state(&mut self, state: &'a Record, mass: &'a Quantity, done: usize) {
        let taken_over = self.last_of_state.is_some_and(|last| same(last, mass));
        let moved_on = self
            .weighings
            .last()
            .is_some_and(|last| !same(last.mass, mass));
        self.last_of_state = Some(mass);
        // The number of an earlier state, though the passes since say otherwise: it was not weighed again.
        if taken_over && moved_on {
            return;
        }
        self.add(Place::State(state), state, mass, done);
    }

    fn add(&mut self, place: Place<'a>, state: &'a Record, mass: &'a Quantity, done: usize) {
        // One reading that stands in two places is one weighing.
        let again = self
            .weighings
            .last()
            .is_some_and(|last| last.done == done && same(last.mass, mass));
        if !again {
            self.weighings.push(Weighing {
                place,
                mass,
                reading: reading(state, mass, 0.0),
                done,
            });
        }
    }
}

fn same(first: &Quantity, second: &Quantity) -> bool {
    same_reading(first, second) && first.instrument == second.instrument
}

/// Mass of a state with what was on the scale.
fn mass_of(state: &Record) -> Option<(&Quantity, MassState)> {
    let dimensions = state.dimensions.as_ref()?;
    let on_scale = dimensions.mass_state.unwrap_or(MassState::Bare);
    Some((dimensions.mass.as_deref()?, on_scale))
}

/// What is on the scale in the account: the bare blade where a pass or a state was weighed so, else as in the first state.
fn usual_state(states: &[&Record], passes: &[&Pass]) -> MassState {
    let weighed = |side: &Option<PassReadings>| side.as_ref().is_some_and(|one| one.mass.is_some());
    let bare = passes
        .iter()
        .any(|pass| weighed(&pass.before) || weighed(&pass.after));
    let mut on_scale = states.iter().filter_map(|state| Some(mass_of(state)?.1));
    if bare || on_scale.clone().any(|one| one == MassState::Bare) {
        return MassState::Bare;
    }
    on_scale.next().unwrap_or(MassState::Bare)
}

/// Sums weighings, each with its weight.
fn weigh(weighings: &[Weighing<'_>], weights: &[f64]) -> Estimate {
    let terms: Vec<Term<'_>> = weighings
        .iter()
        .zip(weights)
        .enumerate()
        .filter(|(_, (_, weight))| **weight != 0.0)
        .map(|(session, (weighing, weight))| Term {
            coefficient: *weight,
            reading: &weighing.reading,
            session,
        })
        .collect();
    sum(&terms, SCALE_REPEATS)
}

/// Steps between weighings; nothing where there are not two.
fn steps<'a>(weighings: &[Weighing<'a>], passes: &[&'a Pass]) -> Option<Vec<Step<'a>>> {
    let steps: Vec<Step<'a>> = weighings
        .windows(2)
        .filter_map(|both| {
            let [first, second] = both else { return None };
            let passes = passes
                .get(first.done..second.done)
                .unwrap_or_default()
                .to_vec();
            Some(Step {
                went: Went::by(&passes),
                gone: weigh(both, &[1.0, -1.0]),
                passes,
            })
        })
        .collect();
    (!steps.is_empty()).then_some(steps)
}

fn etches<'a>(
    states: &[&'a Record],
    passes: &[&'a Pass],
    steps: &[Step<'a>],
) -> Vec<EtchEvent<'a>> {
    let weighed = |pass: &Pass| {
        let alone = steps
            .iter()
            .find(|step| matches!(step.passes.as_slice(), [one] if one.id == pass.id))?;
        Some(alone.gone)
    };
    let work = passes
        .iter()
        .filter(|pass| pass.operation == Operation::Etch)
        .map(|pass| EtchEvent {
            pass: Some(pass),
            state: None,
            etch: pass.etch.as_ref(),
            gone: weighed(pass),
        });
    let looks = states.windows(2).filter_map(|both| {
        let [before, state] = both else { return None };
        let of = |state: &'a Record| state.examination.as_ref();
        let examination = of(state)?;
        // The same examination in a later state is no second etch.
        let again = of(before).is_some_and(|earlier| {
            earlier.etch == examination.etch && earlier.on == examination.on
        });
        let etch = examination.etch.as_ref().filter(|_| !again)?;
        Some(EtchEvent {
            pass: None,
            state: Some(state),
            etch: Some(etch),
            gone: None,
        })
    });
    work.chain(looks).collect()
}

#[cfg(test)]
mod tests;
