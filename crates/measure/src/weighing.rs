//! The weighings of a blade in the order in which they were taken, and what went between them.
//!
//! A pass that was not weighed before began with the mass of the last weighing: after the pass before it, else at an
//! examination. Every sum of steel gone goes by this one rule.

use tangmark_core::record::{
    Dimensions, Examination, Mass, MassState, Operation, Pass, Purpose, Reason, Record, Sheet,
};

use crate::Estimate;

/// Where a weighing stands; passes by their place in the log, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// `dimensions.mass` of the sealed record at this place in the history.
    Record(usize),
    /// `dimensions.mass` of the sheet.
    Sheet,
    /// Before a pass.
    Before(usize),
    /// After a pass.
    After(usize),
}

impl Place {
    const fn is_of_pass(self) -> bool {
        matches!(self, Self::Before(_) | Self::After(_))
    }
}

/// One weighing of the bare blade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Weighing<'a> {
    /// Where it stands.
    pub place: Place,
    /// What was read.
    pub mass: &'a Mass,
    /// How many passes were done by then.
    pub done: usize,
}

/// The weights with which weighings make up what went; one for each weighing, in their order.
#[derive(Clone, Debug, PartialEq)]
pub struct Went {
    /// Of all that went: first less last.
    pub all: Vec<f64>,
    /// Of what went in passes that remove rust and were weighed by themselves.
    pub rust: Vec<f64>,
    /// How many passes that is.
    pub rust_passes: usize,
    /// Rust came off in a pass that was not weighed by itself.
    pub rust_inside: bool,
    /// Place of the first weighing among all.
    pub first: usize,
    /// Place of the last.
    pub last: usize,
}

impl Went {
    /// Weights of steel: all less rust. A weighing that stands on both sides drops out.
    pub fn steel(&self) -> Vec<f64> {
        let both = self.all.iter().zip(&self.rust);
        both.map(|(all, rust)| all - rust).collect()
    }
}

/// What an examination of the blade says of its mass.
struct State<'a> {
    place: Place,
    dimensions: &'a Dimensions,
    examination: Option<&'a Examination>,
    passes: &'a [Pass],
}

fn states<'a>(records: impl Iterator<Item = &'a Record>) -> Vec<State<'a>> {
    let mut all: Vec<State<'a>> = Vec::new();
    for (index, record) in records.enumerate() {
        let Some(dimensions) = &record.dimensions else {
            continue;
        };
        match record.purpose {
            Purpose::Withdrawal => continue,
            Purpose::Correction => {
                all.pop();
            }
            _ => {}
        }
        all.push(State {
            place: Place::Record(index),
            dimensions,
            examination: record.examination.as_ref(),
            passes: &record.passes,
        });
    }
    all
}

/// How many passes were done when a state was measured: those of days before its examination, and of its own day where it
/// says that work is finished. Without an examination, none.
fn done(state: &State<'_>, passes: &[&Pass]) -> usize {
    let Some(examination) = state.examination else {
        return 0;
    };
    let after_work = examination.reason == Reason::AfterWork;
    let (from, to) = (examination.on.first_day(), examination.on.last_day());
    let before = |pass: &&&Pass| {
        let named = state.passes.iter().any(|one| one.id == pass.id);
        pass.on.last_day() < from || (after_work && named && pass.on.first_day() <= to)
    };
    passes.iter().take_while(before).count()
}

/// Collects the weighings of the bare blade: masses of sealed records and of the sheet, and those of its passes, as
/// `passes` has them in the order of the log.
///
/// A mass that a later state only takes over, though passes were logged since, was not weighed again and is left out.
pub fn weighings<'a>(
    records: &'a [Record],
    sheet: &'a Sheet,
    passes: &[&'a Pass],
) -> Vec<Weighing<'a>> {
    let mut all = states(records.iter());
    all.extend(sheet.dimensions.as_ref().map(|dimensions| State {
        place: Place::Sheet,
        dimensions,
        examination: sheet.examination.as_ref(),
        passes: &sheet.passes,
    }));
    in_order(all, passes)
}

/// The same for sealed records alone, oldest first.
pub fn of_records<'a>(
    records: impl Iterator<Item = &'a Record>,
    passes: &[&'a Pass],
) -> Vec<Weighing<'a>> {
    in_order(states(records), passes)
}

fn in_order<'a>(states: Vec<State<'a>>, passes: &[&'a Pass]) -> Vec<Weighing<'a>> {
    let mut measured: Vec<Weighing<'a>> = Vec::new();
    for state in states {
        let bare = matches!(state.dimensions.mass_state, None | Some(MassState::Bare));
        let Some(mass) = state.dimensions.mass.as_ref().filter(|_| bare) else {
            continue;
        };
        let done = done(&state, passes);
        let place = state.place;
        match measured.iter_mut().rev().find(|one| one.mass == mass) {
            Some(known) if known.done == done => known.place = place,
            Some(_) => {}
            None => measured.push(Weighing { place, mass, done }),
        }
    }
    let mut all = Vec::new();
    for index in 0..=passes.len() {
        all.extend(measured.iter().filter(|one| one.done == index));
        let Some(pass) = passes.get(index) else {
            continue;
        };
        let sides = [
            (Place::Before(index), &pass.before, index),
            (Place::After(index), &pass.after, index + 1),
        ];
        all.extend(sides.into_iter().filter_map(|(place, readings, done)| {
            let mass = readings.as_ref()?.mass.as_ref()?;
            Some(Weighing { place, mass, done })
        }));
    }
    all
}

/// What the blade weighed before a pass, as a place among the weighings: its own weighing, else the one after the pass
/// before it or of an examination since. `None` where something lies between that was not weighed.
pub fn before(weighings: &[Weighing<'_>], pass: usize) -> Option<usize> {
    weighings.iter().rposition(|one| one.done == pass)
}

/// What the blade weighed after a pass: its own weighing.
pub fn after(weighings: &[Weighing<'_>], pass: usize) -> Option<usize> {
    weighings
        .iter()
        .position(|one| one.place == Place::After(pass))
}

/// Tells what went in the passes from `from` on: from the last weighing before that pass (where there is none, the first
/// after it) to the last weighing of a pass. `None` unless passes lie between the two.
pub fn went(weighings: &[Weighing<'_>], passes: &[&Pass], from: usize) -> Option<Went> {
    let first = weighings
        .iter()
        .rposition(|one| one.done <= from)
        .or_else(|| {
            let least = weighings.iter().map(|one| one.done).min()?;
            before(weighings, least)
        })?;
    let of_passes = || weighings.iter().filter(|one| one.place.is_of_pass());
    let most = of_passes().map(|one| one.done).max()?;
    let last = weighings
        .iter()
        .position(|one| one.place.is_of_pass() && one.done == most)?;
    if weighings[first].done >= most {
        return None;
    }
    let mut went = Went {
        all: vec![0.0; weighings.len()],
        rust: vec![0.0; weighings.len()],
        rust_passes: 0,
        rust_inside: false,
        first,
        last,
    };
    went.all[first] += 1.0;
    went.all[last] -= 1.0;
    let within = weighings[first].done..most;
    for (index, pass) in passes.iter().enumerate() {
        if pass.operation != Operation::Derust || !within.contains(&index) {
            continue;
        }
        match (before(weighings, index), after(weighings, index)) {
            (Some(before), Some(after)) => {
                went.rust[before] += 1.0;
                went.rust[after] -= 1.0;
                went.rust_passes += 1;
            }
            _ => went.rust_inside = true,
        }
    }
    Some(went)
}

/// Sums weighings with their weights, in g, each with its own doubt.
pub fn sum(weighings: &[Weighing<'_>], weights: &[f64]) -> Estimate {
    weighings
        .iter()
        .zip(weights)
        .filter(|(_, weight)| **weight != 0.0)
        .map(|(one, weight)| Estimate::from(&one.mass.0).scaled(*weight))
        .sum()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::{Value, json};

    fn sheet(examined: Option<(&str, &str)>, passes: &Value) -> Sheet {
        let mut value = json!({
            "blade": { "id": "b", "title": "B", "object_type": "sword blade", "kind_by_make": "katana",
                "construction": "shinogi_zukuri", "materials_and_techniques": ["steel"] },
            "dimensions": { "datum": "back_notch", "mass": "712.4 g", "mass_state": "bare" },
            "passes": passes,
        });
        if let Some((on, reason)) = examined {
            value["examination"] = json!({ "on": on, "by": { "role": "polisher", "name": "A. Polisher" }, "where": "bench", "light": "north window",
                "reason": reason, "methods": ["naked_eye"], "examined": ["mass"], "surface": "rusted", "completeness": "complete" });
        }
        tangmark_core::sheet::from_value(value).unwrap()
    }

    fn pass(id: &str, operation: &str, before: Option<&str>, after: Option<&str>) -> Value {
        let mut pass =
            json!({ "id": id, "on": "2026-04-01", "operation": operation, "zones": ["ground"] });
        for (side, mass) in [("before", before), ("after", after)] {
            if let Some(mass) = mass {
                pass[side] = json!({ "mass": mass });
            }
        }
        pass
    }

    /// Steel and rust gone, g.
    fn gone(sheet: &Sheet) -> Option<(f64, f64)> {
        let passes: Vec<&Pass> = sheet.passes.iter().collect();
        let all = weighings(&[], sheet, &passes);
        let went = went(&all, &passes, 0)?;
        let round = |weights: &[f64]| (sum(&all, weights).value * 100.0).round() / 100.0;
        Some((round(&went.steel()), round(&went.rust)))
    }

    const INTAKE: Option<(&str, &str)> = Some(("2026-03-01", "before_work"));

    /// 712.4 − 702 = 10.4 g, 712.4 − 695 = 17.4 g.
    #[test]
    fn a_pass_weighed_after_only_began_with_the_last_weighing() {
        let first = pass("p1", "grind", None, Some("702.0 g"));
        let second = pass("p2", "grind", None, Some("695.0 g"));
        let one = sheet(INTAKE, &json!([first]));
        assert_eq!(gone(&one), Some((10.4, 0.0)));
        let two = sheet(INTAKE, &json!([first, second]));
        assert_eq!(gone(&two), Some((17.4, 0.0)));
        let undated = sheet(None, &json!([first, second]));
        assert_eq!(gone(&undated), Some((17.4, 0.0)));
    }

    #[test]
    fn rust_is_kept_apart_without_a_weighing_before() {
        let passes = json!([
            pass("p1", "derust", None, Some("710.0 g")),
            pass("p2", "grind", None, Some("706.0 g")),
            pass("p3", "derust", None, Some("705.5 g")),
        ]);
        assert_eq!(gone(&sheet(INTAKE, &passes)), Some((4.0, 2.9)));
    }

    #[test]
    fn a_late_weighing_before_hides_nothing() {
        let passes = json!([
            pass("p1", "grind", None, None),
            pass("p2", "grind", Some("660.5 g"), Some("660.0 g")),
        ]);
        assert_eq!(gone(&sheet(INTAKE, &passes)), Some((52.4, 0.0)));
    }

    #[test]
    fn a_mass_after_work_is_no_mass_before_it() {
        let passes = json!([pass("p1", "grind", None, Some("702.0 g"))]);
        for examined in [("2026-04-02", "before_work"), ("2026-04-01", "after_work")] {
            assert_eq!(gone(&sheet(Some(examined), &passes)), None, "{examined:?}");
        }
        let own = json!([pass("p1", "grind", Some("705.0 g"), Some("702.0 g"))]);
        assert_eq!(gone(&sheet(INTAKE, &own)), Some((3.0, 0.0)));
    }
}
