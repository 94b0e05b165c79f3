//! A workshop of many blades: how long lists, a search and opening one blade take, and how the store grows.
//!
//! Each is measured as a call in this process and as a run of the command. Times are those that passed: waiting for
//! the disk is what the user sees.

mod growth;
mod questions;

use serde::Serialize;
use tangmark_store::{FolderStore, Store as _};
use tangmark_workshop::Workshop;

use super::{BenchError, Order, median};

/// What a list, a search and opening a blade may take, in ms: what a person takes for at once.
pub const BLADES_GOAL_MS: f64 = 50.0;
/// How much more the last quarter of the blades may cost than the first, each.
pub const GROWTH_GOAL: f64 = 1.2;

/// How long one question took, in ms.
#[derive(Clone, Debug, Serialize)]
pub struct Asked {
    /// The question.
    pub what: &'static str,
    /// A call in this process.
    pub call_ms: Times,
    /// A run of the command, its start included.
    pub run_ms: Times,
}

/// The middle one and the one that 95 in a hundred do not pass.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Times {
    /// Median.
    pub median: f64,
    /// 95th of a hundred.
    pub p95: f64,
}

/// What a quarter of the blades cost, each.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Quarter {
    /// Blades at its end.
    pub blades: usize,
    /// Bytes on the disk for each of its blades.
    pub bytes_each: f64,
    /// Milliseconds to enter each of them.
    pub ms_each: f64,
}

/// What was measured.
#[derive(Clone, Debug, Serialize)]
pub struct BladesBench {
    /// Blades.
    pub blades: usize,
    /// Those with a sealed record.
    pub sealed: usize,
    /// Entries of the journal.
    pub entries: usize,
    /// Questions.
    pub asked: Vec<Asked>,
    /// Growth of the store.
    pub growth: Vec<Quarter>,
}

impl BladesBench {
    /// What is beyond its goal, in words.
    pub fn beyond(&self) -> Vec<String> {
        let mut beyond = Vec::new();
        for asked in &self.asked {
            for (how, times) in [("call", asked.call_ms), ("run", asked.run_ms)] {
                if times.p95 > BLADES_GOAL_MS {
                    beyond.push(format!(
                        "{}, as a {how}: {:.1} ms in 95 of 100, at most {BLADES_GOAL_MS} ms allowed",
                        asked.what, times.p95
                    ));
                }
            }
        }
        let ratio =
            |of: fn(&Quarter) -> f64| Some(of(self.growth.last()?) / of(self.growth.first()?));
        let ratios = [
            ("bytes", ratio(|quarter| quarter.bytes_each)),
            ("time", ratio(|quarter| quarter.ms_each)),
        ];
        for (what, ratio) in ratios {
            if ratio.is_none_or(|ratio| ratio > GROWTH_GOAL) {
                beyond.push(format!(
                    "{what} for each blade of the last quarter: {:.2} times those of the first, at most {GROWTH_GOAL} allowed",
                    ratio.unwrap_or(f64::NAN)
                ));
            }
        }
        beyond
    }

    /// Numbers that were held against a goal.
    pub fn held(&self) -> usize {
        4 * self.asked.len() + 2 * self.growth.len()
    }
}

#[allow(clippy::needless_pass_by_value, reason = "handed to `map_err`")]
fn broken(what: impl ToString) -> BenchError {
    BenchError::Program {
        program: "blades".to_owned(),
        what: what.to_string(),
    }
}

pub(super) fn run(order: &Order<'_>, say: &mut dyn FnMut(&str)) -> Result<BladesBench, BenchError> {
    let folder = order.scratch.join("blades");
    let store = FolderStore::create(&folder).map_err(broken)?;
    store
        .set_setting("workshop_name", Some("Workshop of many blades (invented)"))
        .map_err(broken)?;
    drop(store);
    let (growth, sealed, entries) = growth::enter(&folder, order.blades, say)?;
    let workshop = Workshop::open(&folder).map_err(broken)?;
    let asked = questions::ask(&workshop, order, &folder, say)?;
    Ok(BladesBench {
        blades: order.blades,
        sealed,
        entries,
        asked,
        growth,
    })
}

impl Times {
    fn of(mut times: Vec<f64>) -> Self {
        times.sort_by(f64::total_cmp);
        let at = (times.len() * 95).div_ceil(100).saturating_sub(1);
        Self {
            p95: times.get(at).copied().unwrap_or(f64::NAN),
            median: median(times),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::growth::enter;
    use super::questions::questions;
    use super::*;
    use crate::bench::plugins::surroundings;

    #[test]
    fn the_95th_is_one_of_the_slow_ones() {
        let times = Times::of((1..=100).rev().map(f64::from).collect());
        assert!((times.median - 50.5).abs() < 1e-9 && (times.p95 - 95.0).abs() < 1e-9);
    }

    #[test]
    fn blades_are_entered_in_quarters_and_found() {
        let folder = tempfile::tempdir().unwrap();
        drop(FolderStore::create(&folder.path().join("w")).unwrap());
        let (growth, sealed, entries) = enter(&folder.path().join("w"), 100, &mut |_| ()).unwrap();
        assert_eq!((growth.len(), sealed, entries), (4, 10, 300));
        assert!(
            growth
                .iter()
                .all(|quarter| quarter.bytes_each > 1000.0 && quarter.ms_each > 0.0)
        );
        let workshop = Workshop::open(&folder.path().join("w")).unwrap();
        let mut no_random = |_: &mut [u8]| {};
        let at = folder.path();
        let around = surroundings(&mut no_random, at, at, at).unwrap();
        for (what, call, _) in questions(&workshop, 100, &around) {
            let found = call().unwrap();
            assert_eq!(
                found.min(1),
                usize::from(!what.ends_with("nothing")),
                "{what}"
            );
        }
    }

    #[test]
    fn what_is_beyond_its_goal_is_told() {
        let quarter = |bytes_each| Quarter {
            blades: 1,
            bytes_each,
            ms_each: 1.0,
        };
        let slow = Times {
            median: 10.0,
            p95: 50.1,
        };
        let fast = Times {
            median: 10.0,
            p95: 49.9,
        };
        let mut bench = BladesBench {
            blades: 4,
            sealed: 0,
            entries: 0,
            asked: vec![Asked {
                what: "list",
                call_ms: fast,
                run_ms: fast,
            }],
            growth: vec![quarter(100.0), quarter(119.0)],
        };
        assert!(bench.beyond().is_empty());
        bench.asked[0].run_ms = slow;
        bench.growth[1] = quarter(121.0);
        let beyond = bench.beyond();
        assert_eq!(beyond.len(), 2, "{beyond:?}");
        assert!(beyond[0].starts_with("list, as a run: 50.1 ms"));
    }
}
