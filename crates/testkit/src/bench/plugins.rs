//! A whole check through the sandboxed processes, beside direct calls of the same plugins in one process.
//!
//! Times are those that passed, not those the processor worked: starting processes is waiting, and waiting is what the
//! user sees.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

use serde::Serialize;
use tangmark_plugin::wire::{self, MAX_DESCRIPTION_BYTES};
use tangmark_plugin::{CheckRequest, DescribeRequest, Loaded};
use tangmark_workshop::{SHIPPED_PLUGINS, Surroundings, Workshop};

use super::{BenchError, Order, median};
use crate::golden;

/// Rounds; the middle one is told.
const ROUNDS: usize = 20;
/// The blade of the tour with two sealed records and the fullest sheet.
const BLADE: &str = "reed";
/// Longest reply of a direct call, in bytes: the host's own limit.
const REPLY_BYTES: usize = 4 << 20;

/// Times of a check, in ms that passed; medians.
#[derive(Clone, Debug, Serialize)]
pub struct PluginBench {
    /// Plugins that were built, of those that come with the program.
    pub plugins: Vec<&'static str>,
    /// Those that were not.
    pub missing: Vec<&'static str>,
    /// Bytes of the question without settings and tables.
    pub question_bytes: usize,
    /// Bytes of all libraries.
    pub library_bytes: u64,
    /// Bytes of the runner.
    pub runner_bytes: u64,
    /// A check of the workshop, the files read before.
    pub warm_ms: f64,
    /// The slowest of the warm ones.
    pub warm_worst_ms: f64,
    /// The same with libraries and runner as new files.
    pub cold_ms: f64,
    /// The same without any plugin: reading sheet and records, deriving the hold.
    pub without_ms: f64,
    /// Direct calls one after the other, each library opened before.
    pub direct_ms: f64,
    /// One direct call each.
    pub direct_each_ms: Vec<(String, f64)>,
    /// Asking one plugin what it is, through a process of its own.
    pub describe_ms: f64,
}

/// Goals on a quiet machine, in ms.
pub const WARM_GOAL_MS: f64 = 50.0;
/// See [`WARM_GOAL_MS`].
pub const COLD_GOAL_MS: f64 = 150.0;

/// Calls `work` [`ROUNDS`] times after one that does not count; returns the times in ms, the quickest first.
fn rounds(mut work: impl FnMut() -> Result<f64, BenchError>) -> Result<Vec<f64>, BenchError> {
    work()?;
    let mut times = (0..ROUNDS).map(|_| work()).collect::<Result<Vec<_>, _>>()?;
    times.sort_by(f64::total_cmp);
    Ok(times)
}

fn since(start: Instant) -> f64 {
    start.elapsed().as_secs_f64() * 1e3
}

#[allow(clippy::needless_pass_by_value, reason = "handed to `map_err`")]
fn broken(what: impl ToString) -> BenchError {
    BenchError::Program {
        program: "plugins".to_owned(),
        what: what.to_string(),
    }
}

fn file_name(plugin: &str) -> String {
    format!("libtangmark_{plugin}.so")
}

/// Copies libraries and runner into the new folder `to`; returns the runner there.
fn copy(plugins: &[&str], from: &Path, runner: &Path, to: &Path) -> Result<PathBuf, BenchError> {
    fs::create_dir_all(to).map_err(broken)?;
    for plugin in plugins {
        let file = file_name(plugin);
        fs::copy(from.join(&file), to.join(&file)).map_err(broken)?;
    }
    let copied = to.join("tangmark");
    fs::copy(runner, &copied).map_err(broken)?;
    Ok(copied)
}

/// Checks the blade once; returns the time in ms. A plugin that fails would make it a time of nothing.
fn check(
    workshop: &Workshop,
    plugins: &[&str],
    folder: &Path,
    runner: &Path,
    scratch: &Path,
) -> Result<f64, BenchError> {
    let mut no_random = |_: &mut [u8]| {};
    let around = surroundings(&mut no_random, runner, folder, scratch)?;
    let start = Instant::now();
    let report = workshop.check(BLADE, &around).map_err(broken)?;
    let passed = since(start);
    for plugin in plugins {
        let run = report
            .runs
            .iter()
            .find(|run| run.plugin.as_str() == *plugin);
        match run {
            Some(run) if run.fault.is_none() => {}
            Some(run) => return Err(broken(run.fault.clone().unwrap_or_default())),
            None => return Err(broken(format!("`{plugin}` did not run"))),
        }
    }
    Ok(passed)
}

pub(super) fn surroundings<'a>(
    random: &'a mut dyn FnMut(&mut [u8]),
    runner: &Path,
    folder: &Path,
    scratch: &Path,
) -> Result<Surroundings<'a>, BenchError> {
    Ok(Surroundings {
        now: "2026-06-01T00:00:00Z".parse().map_err(broken)?,
        random,
        runner: runner.to_owned(),
        plugin_folders: vec![folder.to_owned()],
        scratch: scratch.to_owned(),
    })
}

/// Asks the loaded plugin once, as a runner does, and reads its answer strictly.
fn call(loaded: &Loaded, request: &CheckRequest, bytes: &[u8]) -> Result<(), BenchError> {
    let asked = wire::to_bytes(&DescribeRequest {
        abi: tangmark_plugin::ABI,
        features: Vec::new(),
    })
    .map_err(broken)?;
    let described = loaded
        .describe(&asked, MAX_DESCRIPTION_BYTES)
        .map_err(broken)?;
    let description = wire::description_from_bytes(&described).map_err(broken)?;
    let answered = loaded.check(bytes, REPLY_BYTES).map_err(broken)?;
    let reply = wire::reply_from_bytes(&answered, REPLY_BYTES).map_err(broken)?;
    reply.audit(&description, &request.sheet).map_err(broken)
}

pub(super) fn run(order: &Order<'_>, say: &mut dyn FnMut(&str)) -> Result<PluginBench, BenchError> {
    let built = order.plugins;
    let (plugins, missing): (Vec<&str>, Vec<&str>) = SHIPPED_PLUGINS
        .into_iter()
        .partition(|name| built.join(file_name(name)).is_file());
    if plugins.is_empty() {
        return Err(broken(format!(
            "no library of a plugin in {}",
            built.display()
        )));
    }
    let scratch = order.scratch.join("plugins");
    let warm_folder = scratch.join("warm");
    let runner = copy(&plugins, built, order.runner, &warm_folder)?;
    say("plugins: taking the tour for its records");
    let tour = scratch.join("tour");
    golden::make(
        &scratch.join("records"),
        &tour,
        &runner,
        &warm_folder,
        &mut |_| {},
    )
    .map_err(broken)?;
    let workshop = Workshop::open(&tour).map_err(broken)?;

    say("plugins: warm");
    let warm = rounds(|| check(&workshop, &plugins, &warm_folder, &runner, &scratch))?;
    let empty = scratch.join("empty");
    fs::create_dir_all(&empty).map_err(broken)?;
    let without = rounds(|| check(&workshop, &[], &empty, &runner, &scratch))?;
    say("plugins: cold");
    let mut number = 0;
    let cold = rounds(|| {
        number += 1;
        let folder = scratch.join(format!("cold-{number}"));
        let runner = copy(&plugins, built, order.runner, &folder)?;
        let passed = check(&workshop, &plugins, &folder, &runner, &scratch)?;
        fs::remove_dir_all(&folder).map_err(broken)?;
        Ok(passed)
    })?;

    say("plugins: direct calls");
    let mut no_random = |_: &mut [u8]| {};
    let around = surroundings(&mut no_random, &runner, &warm_folder, &scratch)?;
    let questions = workshop.questions(BLADE, &around).map_err(broken)?;
    let mut loaded = BTreeMap::new();
    let mut question_bytes = usize::MAX;
    for (name, request) in &questions {
        let bytes = wire::to_bytes(request).map_err(broken)?;
        question_bytes = question_bytes.min(bytes.len());
        let library = Loaded::open(&warm_folder.join(file_name(name))).map_err(broken)?;
        loaded.insert(name.as_str(), (library, request, bytes));
    }
    let mut direct_each_ms = Vec::new();
    for (name, (library, request, bytes)) in &loaded {
        let times = rounds(|| {
            let start = Instant::now();
            call(library, request, bytes)?;
            Ok(since(start))
        })?;
        direct_each_ms.push(((*name).to_owned(), median(times)));
    }
    let direct = rounds(|| {
        let start = Instant::now();
        for (library, request, bytes) in loaded.values() {
            call(library, request, bytes)?;
        }
        Ok(since(start))
    })?;

    let single = scratch.join("single");
    let first = plugins.first().copied().unwrap_or_default();
    let alone = copy(&[first], built, order.runner, &single)?;
    let describe = rounds(|| {
        let mut no_random = |_: &mut [u8]| {};
        let around = surroundings(&mut no_random, &alone, &single, &scratch)?;
        let start = Instant::now();
        let lines = workshop.plugins(&around).map_err(broken)?;
        let passed = since(start);
        match lines.first() {
            Some(line) if line.version.is_some() => Ok(passed),
            _ => Err(broken(format!("`{first}` does not say what it is"))),
        }
    })?;

    let size = |path: &Path| fs::metadata(path).map(|file| file.len()).map_err(broken);
    let mut library_bytes = 0;
    for plugin in &plugins {
        library_bytes += size(&warm_folder.join(file_name(plugin)))?;
    }
    Ok(PluginBench {
        plugins,
        missing,
        question_bytes,
        library_bytes,
        runner_bytes: size(&runner)?,
        warm_worst_ms: warm.last().copied().unwrap_or(f64::NAN),
        warm_ms: median(warm),
        cold_ms: median(cold),
        without_ms: median(without),
        direct_ms: median(direct),
        direct_each_ms,
        describe_ms: median(describe),
    })
}
