//! A quantity that was read twice: its change, with the error that both readings share.

use tangmark_core::{
    record::{Quantity, Record},
    units::Dimension,
};
use tangmark_measure::{
    Estimate,
    reading::{GAUGE_REPEATS, Reading, SCALE_REPEATS, Term, difference, sum},
};

use super::state;

/// How much of an instrument's error two readings share, by what was read.
pub(super) fn repeats(quantity: &Quantity) -> f64 {
    match quantity.unit.dimension() {
        Dimension::Mass => SCALE_REPEATS,
        _ => GAUGE_REPEATS,
    }
}

/// A quantity of a state taken apart into what repeats and what does not; `added` is a further standard uncertainty in its
/// unit. A weighing counts a step of the scale for how well it repeats.
pub(super) fn reading(state: &Record, quantity: &Quantity, added: f64) -> Reading {
    let reading = Reading::of(quantity, state::instruments(state));
    let reading = match quantity.unit.dimension() {
        Dimension::Mass => reading.weighed(None),
        _ => reading,
    };
    reading.with_own(added)
}

/// A quantity of each of two states, in one unit: second less first.
pub(super) fn change(
    (before, first): (&Record, &Quantity),
    (after, second): (&Record, &Quantity),
    added: f64,
) -> Estimate {
    difference(
        &reading(after, second, added),
        &reading(before, first, added),
        repeats(second),
    )
}

/// What went between the two weighings of each pair, all together, g; the weighings stand in one state.
pub(crate) fn lost(state: &Record, pairs: &[(&Quantity, &Quantity)]) -> Estimate {
    let readings: Vec<(f64, Reading)> = pairs
        .iter()
        .flat_map(|(before, after)| [(1.0, *before), (-1.0, *after)])
        .map(|(coefficient, mass)| (coefficient, reading(state, mass, 0.0)))
        .collect();
    let terms: Vec<Term<'_>> = readings
        .iter()
        .enumerate()
        .map(|(session, (coefficient, reading))| Term {
            coefficient: *coefficient,
            reading,
            session,
        })
        .collect();
    sum(&terms, SCALE_REPEATS)
}
