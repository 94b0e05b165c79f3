//! Weighings and steps of the account in the making.

use tangmark_core::record::{MassState, Operation, Pass, PassReadings, Quantity, Record};
use tangmark_measure::{
    Estimate,
    reading::{SCALE_REPEATS, Term, sum},
};

use super::{
    super::{change::reading, quantities::same_reading},
    EtchEvent, Place, Step, Weighing, Went,
};

/// Weighings in the making.
pub(super) struct Book<'a, 'b> {
    pub(super) passes: &'b [&'a Pass],
    pub(super) states: &'b [&'a Record],
    pub(super) weighings: Vec<Weighing<'a>>,
    /// The mass of the state before.
    pub(super) last_of_state: Option<&'a Quantity>,
}

impl<'a> Book<'a, '_> {
    pub(super) fn pass(&mut self, index: usize) {
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

    pub(super) fn state(&mut self, state: &'a Record, mass: &'a Quantity, done: usize) {
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
pub(super) fn mass_of(state: &Record) -> Option<(&Quantity, MassState)> {
    let dimensions = state.dimensions.as_ref()?;
    let on_scale = dimensions.mass_state.unwrap_or(MassState::Bare);
    Some((dimensions.mass.as_deref()?, on_scale))
}

/// What is on the scale in the account: the bare blade where a pass or a state was weighed so, else as in the first state.
pub(super) fn usual_state(states: &[&Record], passes: &[&Pass]) -> MassState {
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
pub(super) fn weigh(weighings: &[Weighing<'_>], weights: &[f64]) -> Estimate {
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
pub(super) fn steps<'a>(weighings: &[Weighing<'a>], passes: &[&'a Pass]) -> Option<Vec<Step<'a>>> {
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

pub(super) fn etches<'a>(
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
