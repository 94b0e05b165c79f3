//! Do the intervals of the `removal` plugin cover the truth as often as they say?
//!
//! Invented blades are polished on a grid of strips (`steel`), weighed and measured by instruments that err, written into
//! sheets, and judged by the plugin as any sheet is. The simulator shares no formula with the plugin.

mod life;
mod pages;
mod steel;
mod stream;
mod workshop;

use std::collections::BTreeMap;

use serde::Serialize;
use tangmark_plugin::CheckReply;

use life::{Life, live};
use workshop::SETS;

/// Coverage of one kind of interval.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Coverage {
    /// Intervals that were given.
    pub given: usize,
    /// Of these, how many hold the truth.
    pub holds: usize,
    /// Mean of (stated − true)/u: 0 without bias. Not told for polishes left.
    pub bias: f64,
    /// Root mean square of (stated − true)/u: 1 where the stated uncertainty is right. Not told for polishes left.
    pub spread: f64,
    /// Mean half-width of the interval, in the unit of the quantity. Not told for polishes left.
    pub half_width: f64,
}

impl Coverage {
    /// Share that holds the truth; 0 where none was given.
    pub fn share(self) -> f64 {
        if self.given == 0 {
            return 0.0;
        }
        self.holds as f64 / self.given as f64
    }

    fn count(&mut self, stated: f64, doubt: f64, truth: f64) {
        self.given += 1;
        self.holds += usize::from((stated - truth).abs() <= 2.0 * doubt);
        let before = (self.given - 1) as f64 / self.given as f64;
        let part = 1.0 / self.given as f64;
        self.bias = self.bias * before + part * (stated - truth) / doubt;
        let square = ((stated - truth) / doubt).powi(2);
        self.spread = (self.spread * self.spread * before + part * square).sqrt();
        self.half_width = self.half_width * before + part * 2.0 * doubt;
    }
}

/// Coverage of one set of instruments.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetCoverage {
    /// Name.
    pub set: &'static str,
    /// What the workshop says of itself is true.
    pub honest: bool,
    /// Blades.
    pub blades: usize,
    /// Coverage by kind of interval, k = 2.
    pub kinds: BTreeMap<&'static str, Coverage>,
}

/// Why a simulated blade could not be judged.
#[derive(Debug, thiserror::Error)]
#[error("set `{set}`, blade {blade}: {what}")]
pub struct CoverageError {
    set: &'static str,
    blade: u64,
    what: String,
}

/// Polishes `blades` invented blades with each set of instruments, three full polishes each.
///
/// # Errors
/// [`CoverageError`] when the plugin refuses a sheet or leaves out a number that it must give.
pub fn run(blades: u64, seed: u64) -> Result<Vec<SetCoverage>, CoverageError> {
    let mut all = Vec::new();
    for (index, set) in SETS.iter().enumerate() {
        let mut kinds = BTreeMap::new();
        let writer = pages::Writer::new(*set);
        for blade in 0..blades {
            let failed = |what: String| CoverageError {
                set: set.name,
                blade,
                what,
            };
            // The same blades for every set would tie their chances together.
            let chances = stream::mixed(stream::mixed(seed, index as u64), blade);
            let life = live(*set, &writer, chances);
            let reply = tangmark_removal::check(&life.request)
                .map_err(|refusal| failed(refusal.to_string()))?;
            count(&life, &reply, &mut kinds).map_err(failed)?;
        }
        all.push(SetCoverage {
            set: set.name,
            honest: set.honest,
            blades: usize::try_from(blades).unwrap_or(usize::MAX),
            kinds,
        });
    }
    Ok(all)
}

fn count(
    life: &Life,
    reply: &CheckReply,
    kinds: &mut BTreeMap<&'static str, Coverage>,
) -> Result<(), String> {
    let stated = |name: &str| {
        let found = reply.quantities.iter().find(|one| one.name == name);
        let parsed = |text: &str| text.parse::<f64>().ok();
        found.and_then(|one| {
            let doubt = one.standard_uncertainty.as_deref().and_then(parsed);
            Some((parsed(&one.value)?, doubt.unwrap_or(0.0)))
        })
    };
    let needed = |name: &str| stated(name).ok_or_else(|| format!("no quantity `{name}`"));
    let truth = &life.truth;
    for (kind, name, true_value) in [
        ("steel gone, g", "steel-gone", truth.steel),
        ("rust gone, g", "rust-gone", truth.rust),
        ("mean depth, µm", "mean-depth", truth.depth),
    ] {
        let (value, doubt) = needed(name)?;
        kinds
            .entry(kind)
            .or_default()
            .count(value, doubt, true_value);
    }
    for (field, at, true_value) in &truth.local {
        let kind = match *field {
            "width" => "loss of width, mm",
            "ridge_thickness" => "loss of ridge, mm",
            _ => "loss of back, mm",
        };
        let (value, doubt) = needed(&format!("loss.{field}.{at:.1}"))?;
        kinds
            .entry(kind)
            .or_default()
            .count(value, doubt, *true_value);
    }
    let (least, _) = needed("polishes-left-least")?;
    let most = stated("polishes-left-most").map(|one| one.0);
    let left = kinds.entry("polishes left").or_default();
    left.given += 1;
    left.holds += usize::from(truth.left >= least && most.is_none_or(|most| truth.left <= most));
    Ok(())
}

/// Writes the coverage as a table for people.
pub fn table(all: &[SetCoverage]) -> String {
    let mut lines = Vec::new();
    for set in all {
        let word = if set.honest {
            ""
        } else {
            " (what is said of it is not true: it should miss)"
        };
        lines.push(format!(
            "{}, {}{word}",
            set.set,
            tangmark_core::counted(set.blades, "blade")
        ));
        for (kind, coverage) in &set.kinds {
            let share = 100.0 * coverage.share();
            let verdict = match (set.honest, share) {
                (_, share) if (93.0..=97.0).contains(&share) => "",
                (_, share) if share < 93.0 => "  below 93 %",
                _ => "  above 97 %",
            };
            let rest = if coverage.half_width > 0.0 {
                format!(
                    "  U {:>9.4}  bias {:>5.2} u  spread {:>4.2} u",
                    coverage.half_width, coverage.bias, coverage.spread
                )
            } else {
                String::new()
            };
            lines.push(format!(
                "  {kind:<20}{share:>6.1} % of {:>6}{rest}{verdict}",
                coverage.given
            ));
        }
    }
    lines.join("\n")
}
