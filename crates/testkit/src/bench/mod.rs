//! How fast: verifying records beside OpenSSL's verification, making reports beside ReportLab and pyHanko, checking
//! through processes beside direct calls, judging a package beside `sha256sum`, listing and searching many blades.
//!
//! Times are those the processor worked, as OpenSSL counts them too, not those that passed; rounds of all sides are
//! interleaved, and medians are told. Numbers belong to the machine and the hour; only ratios travel.

mod blades;
mod many;
mod package;
mod plugins;
mod report;
mod verify;

use std::path::Path;
use std::time::Duration;

use serde::Serialize;

pub use blades::{Asked, BLADES_GOAL_MS, BladesBench, GROWTH_GOAL, Quarter, Times};
pub use many::{ManyReports, many};
pub use package::{
    PACKAGE_MEMORY_GOAL_KB, PACKAGE_RATE_GOAL, PackageBench, PackageRun, judge_package,
};
pub use plugins::{COLD_GOAL_MS, PluginBench, WARM_GOAL_MS};
pub use report::{MEMORY_GOAL_KB, REPORT_GOAL_MS, ReportBench, SIGN_GOAL_MS, Spread};
pub use verify::VerifyBench;

use crate::sealed::MakeError;

/// What to measure, and how long.
#[derive(Clone, Copy, Debug)]
// A switch for each part.
#[allow(clippy::struct_excessive_bools)]
pub struct Order<'a> {
    /// Rounds; the median is told.
    pub rounds: usize,
    /// Time for each part in each round.
    pub slice: Duration,
    /// The `openssl` command; left out: none is run.
    pub openssl: Option<&'a Path>,
    /// A Python with reportlab and pyHanko; left out: none is run.
    pub python: Option<&'a Path>,
    /// Measure verification.
    pub verify: bool,
    /// Measure reports.
    pub report: bool,
    /// Measure a check by the plugins.
    pub check: bool,
    /// Measure judging a package.
    pub package: bool,
    /// Photos of that package, in MB.
    pub size_mb: usize,
    /// Measure a workshop of many blades.
    pub many_blades: bool,
    /// Blades of that workshop.
    pub blades: usize,
    /// Folder with the plugins' libraries.
    pub plugins: &'a Path,
    /// The program that runs plugins.
    pub runner: &'a Path,
    /// This very program, which makes many reports and judges a package in a process of its own; left out: neither is
    /// measured.
    pub testkit: Option<&'a Path>,
    /// Reports made there.
    pub reports: usize,
    /// Folder for short-lived files.
    pub scratch: &'a Path,
}

/// Everything that was measured.
#[derive(Clone, Debug, Serialize)]
pub struct Bench {
    /// Verification of records.
    pub verify: Option<VerifyBench>,
    /// Making of reports.
    pub report: Option<ReportBench>,
    /// A check by the plugins.
    pub plugins: Option<PluginBench>,
    /// Judging a package.
    pub package: Option<PackageBench>,
    /// A workshop of many blades.
    pub blades: Option<BladesBench>,
    /// Most memory this process held, in kB (`VmHWM`), where the system tells it.
    pub peak_memory_kb: Option<u64>,
}

/// Why nothing could be measured.
#[derive(Debug, thiserror::Error)]
pub enum BenchError {
    /// A trial record or report could not be made.
    #[error(transparent)]
    Make(#[from] MakeError),
    /// A step that must succeed failed, so its time would mean nothing.
    #[error("the step `{0}` failed on a sound record")]
    Step(&'static str),
    /// Another program could not be run, or said something that is not understood.
    #[error("{program}: {what}")]
    Program {
        /// The program.
        program: String,
        /// What happened.
        what: String,
    },
}

impl BenchError {
    /// Returns the next step, where there is one.
    pub fn hint(&self) -> Option<&'static str> {
        match self {
            Self::Program { program, .. } if program == "plugins" => Some(
                "build the plugins and the command (`cargo build --release`), or name their folder with --plugins",
            ),
            Self::Program { .. } => {
                Some("name the program with --openssl or --python, or leave it out with --alone")
            }
            _ => None,
        }
    }
}

/// Measures everything.
///
/// # Errors
/// When a trial record cannot be made or another program cannot be run.
pub fn run(order: &Order<'_>, say: &mut dyn FnMut(&str)) -> Result<Bench, BenchError> {
    let verify = order.verify.then(|| verify::run(order, say)).transpose()?;
    let report = order.report.then(|| report::run(order, say)).transpose()?;
    let plugins = order.check.then(|| plugins::run(order, say)).transpose()?;
    let package = order
        .package
        .then(|| package::run(order, say))
        .transpose()?;
    let blades = order
        .many_blades
        .then(|| blades::run(order, say))
        .transpose()?;
    Ok(Bench {
        verify,
        report,
        plugins,
        package,
        blades,
        peak_memory_kb: peak_memory_kb(),
    })
}

/// Repeats `work` until `slice` is over; returns the mean time of one, in µs of the processor.
fn time(
    slice: Duration,
    mut work: impl FnMut() -> bool,
    step: &'static str,
) -> Result<f64, BenchError> {
    let start = processor_time();
    let mut count = 0_u32;
    loop {
        if !work() {
            return Err(BenchError::Step(step));
        }
        count += 1;
        let passed = processor_time().saturating_sub(start);
        if passed >= slice {
            return Ok(passed.as_secs_f64() * 1e6 / f64::from(count));
        }
    }
}

/// Time the processor has worked for this thread.
fn processor_time() -> Duration {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(
        u64::try_from(now.tv_sec).unwrap_or_default(),
        u32::try_from(now.tv_nsec).unwrap_or_default(),
    )
}

/// The middle one; of an even number the mean of the two.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    match values.len() % 2 {
        1 => values[middle],
        _ if values.is_empty() => f64::NAN,
        _ => f64::midpoint(values[middle - 1], values[middle]),
    }
}

/// Most memory that this process held, in kB, where the system tells it.
pub fn peak_memory_kb() -> Option<u64> {
    status_kb("VmHWM:")
}

/// A count of memory from what the system says of this process. Source: proc(5), `VmHWM` and `VmRSS`.
fn status_kb(name: &str) -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix(name))?;
    line.trim().strip_suffix("kB")?.trim().parse().ok()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_median_is_the_middle() {
        assert!((median(vec![9.0, 1.0, 2.0]) - 2.0).abs() < 1e-12);
        assert!((median(vec![4.0, 1.0, 2.0, 9.0]) - 3.0).abs() < 1e-12);
        assert!(median(Vec::new()).is_nan());
    }

    #[test]
    fn a_step_that_fails_is_not_timed() {
        let error = time(Duration::ZERO, || false, "strict read").unwrap_err();
        assert_eq!(
            error.to_string(),
            "the step `strict read` failed on a sound record"
        );
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn the_peak_of_memory_is_read() {
        assert!(peak_memory_kb().unwrap() > 500);
    }
}
