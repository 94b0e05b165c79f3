//! The work itself: pass after pass, each weighed before and after; what is refused and what is questioned on the way.

use super::YearError;
use super::actor::Step;
use super::cast::{Fate, POLISHER};
use super::ledger::Fact;
use super::life::Life;
use super::shape::{self, grams};

/// One kind of pass.
#[derive(Clone, Copy, Debug)]
struct Kind {
    operation: &'static str,
    stone: Option<&'static str>,
    zones: &'static [&'static str],
    /// Tenths of a gram that it takes of a long blade, least and span.
    takes: (usize, usize),
    /// Minutes, least and span.
    minutes: (usize, usize),
}

const ALL_OVER: &[&str] = &["ground", "ridge", "back", "edge"];
const FACES: &[&str] = &["ground", "edge"];

/// The passes in their order. The ones in the middle are made again where more are wanted.
const PASSES: [Kind; 10] = [
    pass(
        "derust",
        Some("soft finger stone with oil"),
        ALL_OVER,
        (9, 12),
        (60, 120),
    ),
    pass(
        "grind",
        Some("first foundation stone"),
        FACES,
        (5, 6),
        (90, 120),
    ),
    pass(
        "grind",
        Some("second foundation stone"),
        FACES,
        (3, 5),
        (90, 150),
    ),
    pass(
        "grind",
        Some("second foundation stone"),
        FACES,
        (3, 4),
        (90, 150),
    ),
    pass("polish", Some("middle stone"), FACES, (1, 3), (60, 120)),
    pass("polish", Some("fine slate stone"), FACES, (1, 2), (60, 120)),
    pass(
        "polish",
        Some("soft finishing stone"),
        &["edge"],
        (0, 2),
        (60, 90),
    ),
    pass(
        "finger_finish",
        Some("thin finger stones"),
        FACES,
        (0, 1),
        (120, 120),
    ),
    pass("wipe_polish", None, &["ground"], (0, 1), (30, 30)),
    pass("oil", None, ALL_OVER, (0, 1), (10, 10)),
];
/// Which of them are made again, in turn.
const AGAIN: [usize; 3] = [3, 4, 5];

const fn pass(
    operation: &'static str,
    stone: Option<&'static str>,
    zones: &'static [&'static str],
    takes: (usize, usize),
    minutes: (usize, usize),
) -> Kind {
    Kind {
        operation,
        stone,
        zones,
        takes,
        minutes,
    }
}

/// The kinds of `count` passes: as listed, those in the middle made again.
fn kinds(count: usize) -> Vec<Kind> {
    let mut times = [1; PASSES.len()];
    for extra in 0..count.saturating_sub(PASSES.len()) {
        times[AGAIN[extra % AGAIN.len()]] += 1;
    }
    let made = PASSES.iter().zip(times);
    made.flat_map(|(kind, times)| std::iter::repeat_n(*kind, times))
        .take(count)
        .collect()
}

/// What so many passes may take of a blade at most, in tenths of a gram.
pub(super) fn most_taken(count: usize, mass: i64) -> i64 {
    kinds(count)
        .iter()
        .map(|kind| scaled(kind.takes.0 + kind.takes.1, mass))
        .sum()
}

/// Scaled from a long blade to one of another mass.
fn scaled(tenths: usize, mass: i64) -> i64 {
    let tenths = i64::try_from(tenths).unwrap_or(0);
    (tenths * mass + 7480 / 2) / 7480
}

impl Life<'_> {
    /// Logs all passes of the blade.
    pub(super) fn work(&mut self) -> Result<(), YearError> {
        let all = kinds(self.role.passes);
        for (number, kind) in all.iter().enumerate() {
            self.wait(2);
            if number == 2 && self.role.number % 7 == 4 {
                self.impossible_reading(kind)?;
            }
            let stops = self.pass(kind)?;
            if stops && number + 1 < all.len() {
                self.refused(&all[number + 1])?;
                self.answer_budget()?;
            }
        }
        Ok(())
    }

    /// The words of a pass, but for masses and time.
    fn words(&self, kind: &Kind) -> Step {
        let mut rest = vec!["--do", kind.operation];
        for zone in kind.zones {
            rest.extend(["--zone", zone]);
        }
        if let Some(stone) = kind.stone {
            rest.extend(["--stone", stone]);
        }
        self.step(&["pass", "add"], &rest)
    }

    /// Logs one pass; says whether a stop stands afterwards.
    fn pass(&mut self, kind: &Kind) -> Result<bool, YearError> {
        let takes = kind.takes.0 + self.chance.below(kind.takes.1 + 1);
        let minutes = kind.minutes.0 + self.chance.below(kind.minutes.1 + 1);
        let before = self.steel.mass;
        let mut step = self.words(kind);
        let reading = |tenths| grams(tenths);
        self.steel.take(scaled(takes, self.steel.first_mass()));
        step = step.and(&[
            "--time",
            &format!("{minutes} min"),
            "--before-mass",
            &reading(before),
            "--after-mass",
            &reading(self.steel.mass),
            "--scale",
            "scale",
        ]);
        if self.passes % 5 == 4 {
            let (at, width, ridge) = self.steel.gauge();
            let along = format!("{at} width={width} ridge={ridge}");
            step = step.and(&["--reading", &along, "--gauge", "caliper"]);
        }
        let fact = Fact::Pass {
            on: self.on(),
            operation: kind.operation,
            minutes: minutes as u64,
            before,
            after: self.steel.mass,
        };
        self.actor.give(step.fact(fact))?;
        self.passes += 1;
        // Only those whose budget runs out are asked about it.
        Ok(self.role.fate.spends_its_budget() && !self.stops()?.is_empty())
    }

    /// Tries a pass on a blade that is held: refused, and nothing of the sheet changes.
    pub(super) fn try_pass(&mut self) -> Result<(), YearError> {
        let kind = PASSES[1];
        self.refused(&kind)
    }

    fn refused(&mut self, kind: &Kind) -> Result<(), YearError> {
        let on = self.on();
        let step = self.words(kind).and(&["--time", "45 min"]);
        let step = step.code(1).fact(Fact::Refused { on });
        self.actor.give(step).map(drop)
    }

    /// Reads a mass that cannot be: questioned, and not kept as a pass.
    fn impossible_reading(&mut self, kind: &Kind) -> Result<(), YearError> {
        let on = self.on();
        let heavier = grams(self.steel.mass + 50);
        let step = self.words(kind).and(&[
            "--time",
            "60 min",
            "--before-mass",
            &self.steel.reading(),
            "--after-mass",
            &heavier,
            "--scale",
            "scale",
        ]);
        let told = format!("after.mass: {heavier} found, at most ");
        let step = step.code(1).says(told).fact(Fact::Questioned { on });
        self.actor.give(step).map(drop)
    }

    /// The steel that may go is gone: answered by a new examination with a new budget, or by an override.
    fn answer_budget(&mut self) -> Result<(), YearError> {
        self.wait(1);
        if self.role.fate == Fate::NewBudget {
            let mut sheet = self.sheet()?;
            self.budget = 2 * most_taken(self.role.passes, self.steel.first_mass()) + 60;
            sheet["examination"] =
                shape::examination(&self.on(), "during_work", "stained_or_scratched");
            sheet["dimensions"] = self.steel.dimensions();
            sheet["plan"] = shape::plan(self.budget, "3.00 mm");
            return self.put(&sheet);
        }
        let stops = self.stops()?;
        let mut more = Vec::new();
        for rule in &stops {
            more.extend(["--override", rule, "--override-name", POLISHER]);
            more.extend([
                "--override-reason",
                "the owner was asked and wants it finished",
            ]);
        }
        let verdict = ("work", "two light passes more, then it is done");
        self.seal("in_work", Some(verdict), &more)?;
        self.catch_up()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passes_are_as_many_as_wanted_and_in_order() {
        for count in [10, 16, 19] {
            let made = kinds(count);
            assert_eq!(made.len(), count);
            assert_eq!(made[0].operation, "derust");
            assert_eq!(made[count - 1].operation, "oil");
        }
        // Of a long blade: less than 12 g, rust among it.
        let most = most_taken(19, 7480);
        assert!((60..=120).contains(&most), "{most}");
        assert!(most_taken(19, 1730) < most / 3);
    }
}
