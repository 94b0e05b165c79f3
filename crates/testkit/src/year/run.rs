//! The whole year: the workshop is made, blades come in three batches that overlap, keys are changed in between, and at
//! the end everything is looked at.

use std::collections::VecDeque;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError, RwLock};
use std::time::Instant;

use serde::Serialize;
use tangmark_workshop::demo::GIVEN;

use super::YearError;
use super::actor::{Actor, Shared, Step};
use super::cast::{self, Role};
use super::closing::{self, Verified};
use super::hand::Hand;
use super::ledger::{Fact, Ledger, Line};
use super::life::Life;
use super::truth::{self, Totals};

/// What year to live.
#[derive(Clone, Copy, Debug)]
pub struct Order<'a> {
    /// The command `tangmark`.
    pub binary: &'a Path,
    /// A new folder.
    pub out: &'a Path,
    /// Blades.
    pub blades: usize,
    /// Commands to kill.
    pub kills: usize,
    /// Where the chances start.
    pub seed: u64,
    /// Blades that are worked on at the same time.
    pub threads: usize,
}

/// What the year came to.
#[derive(Clone, Debug, Serialize)]
pub struct YearReport {
    /// What was acknowledged, and found again at the end.
    pub totals: Totals,
    /// Records, packages and reports that were verified.
    pub verified: Verified,
    /// Commands that changed something.
    pub commands: usize,
    /// Commands that only looked.
    pub looks: usize,
    /// Kills.
    pub kills: Kills,
    /// How long it took, in s.
    pub passed_s: f64,
}

/// Kills that were met.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Kills {
    /// All.
    pub all: usize,
    /// Those after a write had begun and before it was committed.
    pub inside: usize,
    /// Those whose command had done its work all the same.
    pub found: usize,
    /// By the step at which they were met.
    pub at: std::collections::BTreeMap<String, usize>,
}

impl Kills {
    fn of(lines: &[Line]) -> Self {
        let mut kills = Self::default();
        for kill in lines.iter().flat_map(|line| &line.kills) {
            kills.all += 1;
            kills.inside += usize::from(kill.inside);
            kills.found += usize::from(kill.found);
            *kills.at.entry(kill.at.clone()).or_default() += 1;
        }
        kills
    }
}

/// Batches and their parts in the order of the year. What stands in one line happens side by side.
const SCHEDULE: [&[(usize, usize)]; 7] = [
    &[(0, 0)],
    &[(0, 1)],
    &[(0, 2), (1, 0)],
    &[(1, 1)],
    &[(1, 2), (2, 0)],
    &[(2, 1)],
    &[(2, 2)],
];
/// Lines of the schedule before which a new key takes over.
const ROTATIONS: [usize; 2] = [2, 5];
/// Line before which the plugin that holds blades is taken away for a while.
const WITHOUT_TRIAGE: usize = 3;

/// Lives the year.
///
/// # Errors
/// When a command ends otherwise than it should, or something that was acknowledged is not there.
pub fn run(order: &Order<'_>, say: &mut (dyn FnMut(&str) + Send)) -> Result<YearReport, YearError> {
    let start = Instant::now();
    let shared = begin(order)?;
    let roles = cast::cast(order.blades, order.seed);
    // A few meet commands about the workshop itself.
    let own = order.kills / 20;
    let kills = shares(&roles, order.kills - own);
    let lives: Vec<Mutex<Life<'_>>> = roles
        .into_iter()
        .zip(kills)
        .map(|(role, kills)| Life::new(&shared, role, kills).map(Mutex::new))
        .collect::<Result<_, _>>()?;
    let mut workshop = Actor::new(&shared, usize::MAX, None, own)?;
    lay_out(&mut workshop)?;
    let say = Mutex::new(say);
    for (line, parts) in SCHEDULE.iter().enumerate() {
        if ROTATIONS.contains(&line) {
            rotate(&mut workshop)?;
        }
        if line + 1 == SCHEDULE.len() {
            // Its commands are given: others make the kills it did not meet.
            workshop.give_back_kills();
        }
        if line == WITHOUT_TRIAGE {
            without_triage(&mut workshop, &lives)?;
        }
        side_by_side(&lives, parts, order.threads)?;
        let mut say = say.lock().unwrap_or_else(PoisonError::into_inner);
        say(&format!(
            "year: {} of {} parts, {} commands, {:.0} s",
            line + 1,
            SCHEDULE.len(),
            shared.ledger.lines().len(),
            start.elapsed().as_secs_f64()
        ));
    }
    let totals = truth::whole(&workshop)?;
    let verified = closing::verify(&workshop, order.threads)?;
    let lines = shared.ledger.lines();
    let kills = Kills::of(&lines);
    if kills.all < order.kills {
        return Err(YearError::Untrue(format!(
            "{} commands were killed, {} wanted",
            kills.all, order.kills
        )));
    }
    Ok(YearReport {
        totals,
        verified,
        commands: lines.len(),
        looks: shared.looks.load(Ordering::Relaxed),
        kills,
        passed_s: start.elapsed().as_secs_f64(),
    })
}

/// How many commands of each blade are to be killed: spread over those that are worked on, which have many.
fn shares(roles: &[Role], kills: usize) -> Vec<usize> {
    let worked = roles.iter().filter(|role| role.fate.is_worked()).count();
    let share = |to: usize| to * kills / worked.max(1);
    let mut before = 0;
    roles
        .iter()
        .map(|role| {
            if !role.fate.is_worked() {
                return 0;
            }
            before += 1;
            share(before) - share(before - 1)
        })
        .collect()
}

/// Makes folder, workshop and ledger.
fn begin(order: &Order<'_>) -> Result<Shared, YearError> {
    let out = absolute(order.out)?;
    let binary = absolute(order.binary)?;
    fs::create_dir(&out).map_err(|error| YearError::file("make", &out, &error))?;
    write(&out.join("pass.txt"), "eight dry stones\n")?;
    let hand = Hand::new(&binary, &out, "setup")?;
    let words = [
        "setup",
        "w",
        "--name",
        cast::WORKSHOP,
        "--passphrase-file",
        "pass.txt",
    ];
    let words = words.map(str::to_owned);
    let ran = hand.run(&words)?;
    if ran.code != Some(0) {
        return Err(YearError::unexpected(&words, 0, &ran));
    }
    for (plugin, name, text) in GIVEN {
        // The stones are entered one by one, as people do.
        if *name != "stones.csv" {
            let folder = out.join("w/plugins").join(plugin);
            fs::create_dir_all(&folder)
                .map_err(|error| YearError::file("make", &folder, &error))?;
            write(&folder.join(name), text)?;
        }
    }
    Ok(Shared {
        ledger: Ledger::create(&out.join("ledger.jsonl"))?,
        folder: out,
        binary,
        quiet: RwLock::new(()),
        owed: AtomicUsize::new(0),
        looks: AtomicUsize::new(0),
        seed: order.seed,
    })
}

fn absolute(path: &Path) -> Result<PathBuf, YearError> {
    std::path::absolute(path).map_err(|error| YearError::file("find", path, &error))
}

fn write(path: &Path, text: &str) -> Result<(), YearError> {
    fs::write(path, text).map_err(|error| YearError::file("write", path, &error))
}

/// Enters the stones of the workshop, each with a command.
fn lay_out(workshop: &mut Actor<'_>) -> Result<(), YearError> {
    let stones = GIVEN.iter().find(|(_, name, _)| *name == "stones.csv");
    let text = stones.map_or("", |(_, _, text)| text);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let fault = |error: csv::Error| YearError::Understood(format!("stones.csv: {error}"));
    let columns = reader.headers().map_err(fault)?.clone();
    for row in reader.records() {
        let row = row.map_err(fault)?;
        let cell = |name: &str| {
            let at = columns.iter().position(|column| column == name)?;
            row.get(at).filter(|cell| !cell.is_empty())
        };
        let together = |one: &str, between: &str, other: &str| {
            Some(format!("{}{between}{}", cell(one)?, cell(other)?))
        };
        let one = |name: &str| cell(name).map(str::to_owned);
        let options = [
            ("--origin", one("origin")),
            ("--stage", one("stage")),
            ("--grit", together("grit_system", ":", "grit")),
            ("--d50", one("d50_um")),
            ("--d50-range", together("d50_low_um", "..", "d50_high_um")),
            ("--rate", one("rate_um_per_min")),
            ("--rate-uncertainty", one("rate_u_um_per_min")),
            ("--wear", one("wear_g_per_g")),
            ("--price", together("price_per_g", " ", "currency")),
        ];
        let mut words = vec![
            "stone".to_owned(),
            "add".to_owned(),
            one("name").unwrap_or_default(),
        ];
        for (option, value) in options {
            words.extend(
                value
                    .into_iter()
                    .flat_map(|value| [option.to_owned(), value]),
            );
        }
        workshop.give(Step::new(&words))?;
    }
    Ok(())
}

/// A new key signs from now on.
fn rotate(workshop: &mut Actor<'_>) -> Result<(), YearError> {
    let step = Step::new(&["key", "rotate", "--reason", "every few months", "--yes"])
        .and(&[
            "--passphrase-file",
            "pass.txt",
            "--new-passphrase-file",
            "pass.txt",
        ])
        .moments(6)
        .fact(Fact::Rotated);
    workshop.give(step).map(drop)
}

/// While the plugin that holds blades is not approved, no pass is logged; approved again, all is as before.
fn without_triage(workshop: &mut Actor<'_>, lives: &[Mutex<Life<'_>>]) -> Result<(), YearError> {
    let second = lives
        .iter()
        .map(|life| life.lock().unwrap_or_else(PoisonError::into_inner));
    let Some(mut life) = second
        .into_iter()
        .find(|life| life.role.batch == 1 && life.role.fate.is_worked())
    else {
        return Ok(());
    };
    workshop.give(Step::new(&["plugin", "withdraw", "triage"]))?;
    life.try_pass()?;
    workshop
        .give(Step::new(&["plugin", "approve", "--shipped"]))
        .map(drop)
}

/// Lives parts of blades, so many at a time; the first fault ends it.
fn side_by_side(
    lives: &[Mutex<Life<'_>>],
    parts: &[(usize, usize)],
    threads: usize,
) -> Result<(), YearError> {
    let mut waiting = VecDeque::new();
    for (batch, part) in parts {
        for life in lives {
            let number = life
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .role
                .batch;
            if number == *batch {
                waiting.push_back((life, *part));
            }
        }
    }
    let waiting = Mutex::new(waiting);
    let next = || {
        waiting
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .pop_front()
    };
    let hand = || -> Result<(), YearError> {
        while let Some((life, part)) = next() {
            let mut life = life.lock().unwrap_or_else(PoisonError::into_inner);
            if let Err(error) = life.part(part) {
                // Nobody takes up another blade.
                waiting
                    .lock()
                    .unwrap_or_else(PoisonError::into_inner)
                    .clear();
                return Err(error);
            }
        }
        Ok(())
    };
    std::thread::scope(|scope| {
        let hands: Vec<_> = (0..threads.max(1)).map(|_| scope.spawn(hand)).collect();
        hands.into_iter().try_for_each(|hand| {
            hand.join()
                .unwrap_or_else(|_| Err(YearError::Untrue("a hand stopped".to_owned())))
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kills_are_spread_over_blades_that_are_worked_on() {
        let roles = cast::cast(60, 1);
        for kills in [0, 20, 200] {
            let shares = shares(&roles, kills);
            assert_eq!(shares.iter().sum::<usize>(), kills);
            for (role, share) in roles.iter().zip(&shares) {
                assert!(role.fate.is_worked() || *share == 0);
                assert!(*share <= kills / 50 + 1, "{share}");
            }
        }
    }
}
