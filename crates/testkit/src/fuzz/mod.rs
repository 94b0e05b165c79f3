//! Bytes that nobody meant, by the million, and what must hold for each.
//!
//! Whatever is read: no panic, an answer within [`SLOWEST`], and never "intact" for bytes that nobody sealed. Two ways use
//! the same checks: the loop here, which changes seeds blindly and needs nothing but this program, and the targets in
//! `tests/fuzz`, which are led by coverage.

mod check;
mod sealed;
mod seeds;

use std::fs;
use std::panic;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

pub use check::{Known, check};
pub use seeds::{Seeds, write};

use crate::failures::MakeError;
use crate::mutate::{Chance, scramble};
use crate::sealed::fault;

/// Longest time that one input may take. Inputs have at most [`LONGEST`] bytes, and take a few milliseconds; the rest is for
/// slow machines.
pub const SLOWEST: Duration = Duration::from_secs(5);
/// Longest input in bytes.
pub const LONGEST: usize = 1 << 20;
/// Most memory that a run may have held, in kilobytes: inputs of 1 MiB that claim anything.
pub const MEMORY_KB: u64 = 512 << 10;

/// What reads the bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// A sealed record.
    Record,
    /// A signed report.
    Pdf,
    /// A hand-over package as zip file.
    Package,
    /// A key history.
    History,
    /// A document with a proof.
    Proof,
}

impl Target {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Record,
        Self::Pdf,
        Self::Package,
        Self::History,
        Self::Proof,
    ];

    /// Its name, as folders and commands write it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Record => "record",
            Self::Pdf => "pdf",
            Self::Package => "package",
            Self::History => "history",
            Self::Proof => "proof",
        }
    }
}

/// What is to be run.
#[derive(Clone, Debug)]
pub struct Order {
    /// How long each target is run.
    pub each: Duration,
    /// Which ones.
    pub targets: Vec<Target>,
    /// Where the chances start.
    pub seed: u64,
    /// Threads.
    pub threads: usize,
    /// Folder for inputs that break a rule.
    pub keep: PathBuf,
}

/// An input that broke a rule.
#[derive(Clone, Debug)]
pub struct Broken {
    /// Which rule, in words.
    pub what: String,
    /// The file it was written to.
    pub file: PathBuf,
}

/// What became of one target.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// Which one.
    pub target: Target,
    /// Inputs read.
    pub runs: u64,
    /// Longest time that one took.
    pub slowest: Duration,
    /// Inputs that broke a rule; at most ten are kept.
    pub broken: Vec<Broken>,
}

/// Runs the targets one after the other.
///
/// # Errors
/// When the seeds cannot be made or an input cannot be kept.
pub fn run(order: &Order, say: &mut dyn FnMut(&Outcome)) -> Result<Vec<Outcome>, MakeError> {
    let seeds = Seeds::new()?;
    // Panics are told as what they are: a broken rule, with its input.
    let before = panic::take_hook();
    panic::set_hook(Box::new(|_| {}));
    let mut outcomes = Vec::new();
    let mut result = Ok(());
    for target in &order.targets {
        match run_target(order, *target, &seeds) {
            Ok(outcome) => {
                say(&outcome);
                outcomes.push(outcome);
            }
            Err(error) => {
                result = Err(error);
                break;
            }
        }
    }
    panic::set_hook(before);
    result.map(|()| outcomes)
}

fn run_target(order: &Order, target: Target, seeds: &Seeds) -> Result<Outcome, MakeError> {
    let inputs = seeds.of(target);
    let end = Instant::now() + order.each;
    let next = AtomicU64::new(0);
    let slowest = AtomicU64::new(0);
    let broken: Mutex<Vec<(String, Vec<u8>)>> = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..order.threads.max(1) {
            scope.spawn(|| {
                while Instant::now() < end {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    let input = input(inputs, order.seed, number);
                    let start = Instant::now();
                    let found = tried(target, &input, seeds.known());
                    let took = start.elapsed();
                    slowest.fetch_max(
                        u64::try_from(took.as_micros()).unwrap_or(u64::MAX),
                        Ordering::Relaxed,
                    );
                    let found = found.and_then(|()| {
                        if took <= SLOWEST {
                            Ok(())
                        } else {
                            Err(format!(
                                "took {} ms, at most {} ms allowed",
                                took.as_millis(),
                                SLOWEST.as_millis()
                            ))
                        }
                    });
                    if let Err(what) = found
                        && let Ok(mut broken) = broken.lock()
                        && broken.len() < 10
                    {
                        broken.push((what, input));
                    }
                }
            });
        }
    });
    let mut kept = Vec::new();
    for (number, (what, input)) in broken
        .into_inner()
        .unwrap_or_default()
        .into_iter()
        .enumerate()
    {
        fs::create_dir_all(&order.keep).map_err(fault("broken input"))?;
        let file = order
            .keep
            .join(format!("{}-{}-{number}", target.name(), order.seed));
        fs::write(&file, input).map_err(fault("broken input"))?;
        kept.push(Broken { what, file });
    }
    Ok(Outcome {
        target,
        runs: next.into_inner(),
        slowest: Duration::from_micros(slowest.into_inner()),
        broken: kept,
    })
}

/// Checks one input; a panic is a broken rule.
pub fn tried(target: Target, input: &[u8], known: &Known) -> Result<(), String> {
    panic::catch_unwind(|| check(target, input, known)).unwrap_or_else(|panic| {
        let words = panic
            .downcast_ref::<String>()
            .map(String::as_str)
            .or_else(|| panic.downcast_ref::<&str>().copied())
            .unwrap_or("no words");
        Err(format!("panic: {words}"))
    })
}

/// Input `number` of a seed: one of the seeds, changed; sometimes with a part of another in it.
fn input(seeds: &[Vec<u8>], seed: u64, number: u64) -> Vec<u8> {
    let mut chance = Chance::new(seed, number);
    let mut bytes = chance.pick(seeds).cloned().unwrap_or_default();
    if chance.percent(12)
        && let Some(other) = chance.pick(seeds)
    {
        let from = chance.below(other.len());
        let length = chance.below(400).min(other.len() - from);
        let at = chance.below(bytes.len());
        bytes.splice(at..at, other[from..from + length].to_vec());
    }
    for _ in 0..=chance.below(4) {
        scramble(&mut chance, &mut bytes);
    }
    bytes.truncate(LONGEST);
    bytes
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_short_run_breaks_nothing_and_reads_every_target() {
        let scratch = tempfile::tempdir().unwrap();
        let order = Order {
            each: Duration::from_millis(300),
            targets: Target::ALL.to_vec(),
            seed: 3,
            threads: 1,
            keep: scratch.path().join("broken"),
        };
        let outcomes = run(&order, &mut |_| {}).unwrap();
        assert_eq!(outcomes.len(), 5);
        for outcome in outcomes {
            assert!(outcome.runs > 3, "{outcome:?}");
            assert!(outcome.broken.is_empty(), "{outcome:?}");
        }
    }

    #[test]
    fn seeds_are_sound_and_a_sealed_stranger_would_be_told() {
        let seeds = Seeds::new().unwrap();
        for target in Target::ALL {
            assert!(seeds.of(target).len() > 2, "{}", target.name());
            for input in seeds.of(target) {
                assert_eq!(
                    tried(target, input, seeds.known()),
                    Ok(()),
                    "{}",
                    target.name()
                );
            }
        }
        // With nobody known, the sealed record is the fault that the check is there for.
        let sealed = seeds
            .of(Target::Record)
            .iter()
            .find(|input| input.starts_with(b"{\"_sd\"") || input.starts_with(b"{\"agreement\""))
            .unwrap();
        let told = tried(Target::Record, sealed, &Known::default()).unwrap_err();
        assert!(told.starts_with("intact"), "{told}");
    }
}
