//! The commands that make golden records and measure.

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::{Args, ValueEnum};
use tangmark_testkit::{bench, coverage, golden};
use tangmark_workshop::{RUNNER_COMMAND, runner_main};

use crate::tables;

/// Order of `testkit golden`.
#[derive(Args)]
pub(crate) struct Golden {
    /// Folder for the records (made when missing)
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Folder with the plugins' libraries
    #[arg(long, value_name = "DIR")]
    plugins: PathBuf,
}

/// Order of `testkit bench`.
#[derive(Args)]
pub(crate) struct Bench {
    /// Rounds; the median is told
    #[arg(long, default_value_t = 5)]
    rounds: usize,
    /// Milliseconds for each part in each round
    #[arg(long, default_value_t = 400, value_name = "MS")]
    slice: u64,
    /// OpenSSL's command
    #[arg(long, value_name = "PATH", default_value = "openssl")]
    openssl: PathBuf,
    /// A Python that has reportlab 5.1.0 and pyHanko 0.38.0; left out, that side is not run
    #[arg(long, value_name = "PATH")]
    python: Option<PathBuf>,
    /// Measure only one of the five
    #[arg(long, value_enum)]
    only: Option<Only>,
    /// Folder with the plugins' libraries and the command `tangmark` [default: that of this program]
    #[arg(long, value_name = "DIR")]
    plugins: Option<PathBuf>,
    /// Reports made in one process to see its memory; 0 leaves that out
    #[arg(long, default_value_t = 1000, value_name = "N")]
    reports: usize,
    /// Photos of the package that is judged, in MB
    #[arg(long, default_value_t = 2048, value_name = "N", value_parser = clap::value_parser!(u32).range(8..=8000))]
    size_mb: u32,
    /// Run neither OpenSSL nor Python, nor `sha256sum`
    #[arg(long)]
    alone: bool,
    /// Print one JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// Blades of the workshop in which lists and searches are timed
    #[arg(long, default_value_t = 1000, value_name = "N", value_parser = clap::value_parser!(u32).range(100..=200_000))]
    blades: u32,
    /// Fail when the memory that judging the package held, or the lists, searches and growth of the store with many
    /// blades, pass their goals; other times are told and never judged
    #[arg(long)]
    hold: bool,
}

/// Order of `testkit coverage`.
#[derive(Args)]
pub(crate) struct Coverage {
    /// Blades for each set of instruments, three full polishes each
    #[arg(long, default_value_t = 1000)]
    polishes: u64,
    /// Where the chances start
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Print JSON instead of a table
    #[arg(long)]
    json: bool,
}

/// Order of `testkit reports`.
#[derive(Args)]
pub(crate) struct Reports {
    /// Reports to make, one after the other
    #[arg(long, default_value_t = 200, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    count: u32,
    /// Print one JSON object
    #[arg(long)]
    json: bool,
}

/// A part of the benchmark.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Only {
    /// Verification of records
    Verify,
    /// Making of reports
    Report,
    /// A check by the plugins
    Plugins,
    /// Judging a package
    Package,
    /// Lists and searches in a workshop of many blades
    Blades,
}

/// The tour of `testkit golden` starts this very program to run plugins.
pub(crate) fn as_runner() -> Option<ExitCode> {
    let arguments: Vec<_> = std::env::args_os().collect();
    if arguments.get(1).is_none_or(|first| first != RUNNER_COMMAND) {
        return None;
    }
    let code = runner_main(&arguments[2..], std::io::stdin(), std::io::stdout());
    Some(ExitCode::from(u8::try_from(code).unwrap_or(1)))
}

fn failed(error: &str, hint: Option<&str>) -> ExitCode {
    eprintln!("error: {error}");
    if let Some(hint) = hint {
        eprintln!("hint: {hint}");
    }
    ExitCode::FAILURE
}

pub(crate) fn golden(order: &Golden) -> ExitCode {
    let made = tempfile::tempdir().and_then(|scratch| Ok((std::env::current_exe()?, scratch)));
    let (runner, scratch) = match made {
        Ok(made) => made,
        Err(error) => return failed(&error.to_string(), None),
    };
    let folder = scratch.path().join("workshop");
    let made = golden::make(&order.out, &folder, &runner, &order.plugins, &mut |line| {
        eprintln!("{line}");
    });
    match made {
        Ok(files) => {
            for file in files {
                println!("{}", file.display());
            }
            ExitCode::SUCCESS
        }
        Err(error) => failed(&error.to_string(), Some(&error.hint())),
    }
}

pub(crate) fn bench(order: &Bench) -> ExitCode {
    let scratch = match tempfile::tempdir() {
        Ok(scratch) => scratch,
        Err(error) => return failed(&error.to_string(), None),
    };
    let beside = std::env::current_exe()
        .ok()
        .and_then(|own| own.parent().map(PathBuf::from));
    let plugins = order.plugins.clone().or(beside).unwrap_or_default();
    let runner = plugins.join("tangmark");
    let testkit = std::env::current_exe().ok();
    let part = |part| order.only.is_none_or(|only| only == part);
    let measured = bench::run(
        &bench::Order {
            rounds: order.rounds.max(1),
            slice: Duration::from_millis(order.slice),
            openssl: (!order.alone).then_some(order.openssl.as_path()),
            python: order.python.as_deref().filter(|_| !order.alone),
            verify: part(Only::Verify),
            report: part(Only::Report),
            check: part(Only::Plugins),
            package: part(Only::Package),
            many_blades: part(Only::Blades),
            blades: usize::try_from(order.blades).unwrap_or(usize::MAX),
            size_mb: usize::try_from(order.size_mb).unwrap_or(usize::MAX),
            plugins: &plugins,
            runner: &runner,
            testkit: testkit.as_deref(),
            reports: order.reports,
            scratch: scratch.path(),
        },
        &mut |line| eprintln!("{line}"),
    );
    let too_much = measured.as_ref().ok().and_then(|measured| {
        let held = measured.package.as_ref()?.most_kb();
        let fits = held.is_some_and(|held| held <= bench::PACKAGE_MEMORY_GOAL_KB);
        (order.hold && !fits).then_some(held)
    });
    let judged = measured.as_ref().ok().and_then(|measured| {
        let package = measured.package.as_ref()?;
        Some(2 * (package.records + package.photos))
    });
    let (beyond, held) = measured
        .as_ref()
        .ok()
        .and_then(|measured| measured.blades.as_ref())
        .map_or_else(Default::default, |blades| (blades.beyond(), blades.held()));
    let code = tell(order, measured);
    if order.hold && !beyond.is_empty() {
        return failed(
            &beyond.join("; "),
            Some(
                "see what of crates/store/src/folder/standing.rs or search.rs reads more than it shows; on a busy machine, again",
            ),
        );
    }
    if order.hold && held > 0 {
        println!("count blades {held}");
    }
    match too_much {
        None => {
            if let (true, Some(judged)) = (order.hold, judged) {
                println!("count large-package {judged}");
            }
            code
        }
        Some(held) => failed(
            &format!(
                "judging the package: {} held, at most {} kB allowed",
                held.map_or("memory that is not told".to_owned(), |held| format!(
                    "{held} kB"
                )),
                bench::PACKAGE_MEMORY_GOAL_KB
            ),
            Some("see which part of crates/package/src/judge keeps more of a file than it needs"),
        ),
    }
}

fn tell(order: &Bench, measured: Result<bench::Bench, bench::BenchError>) -> ExitCode {
    match measured {
        Ok(measured) if order.json => match serde_json::to_string_pretty(&measured) {
            Ok(text) => {
                println!("{text}");
                ExitCode::SUCCESS
            }
            Err(error) => failed(&error.to_string(), None),
        },
        Ok(measured) => {
            tables::all(&measured);
            ExitCode::SUCCESS
        }
        Err(error) => failed(&error.to_string(), error.hint()),
    }
}

pub(crate) fn reports(order: &Reports) -> ExitCode {
    let total = usize::try_from(order.count).unwrap_or(usize::MAX);
    let step = (total / 10).max(1);
    let quiet = order.json;
    let made = bench::many(total, &mut |number| {
        if !quiet && number % step == 0 {
            eprintln!("{number} of {total}");
        }
    });
    match made {
        Ok(made) if order.json => {
            println!("{}", serde_json::to_string(&made).unwrap_or_default());
            ExitCode::SUCCESS
        }
        Ok(made) => {
            tables::many(&made);
            ExitCode::SUCCESS
        }
        Err(error) => failed(&error.to_string(), None),
    }
}

pub(crate) fn coverage(order: &Coverage) -> ExitCode {
    let found = match coverage::run(order.polishes, order.seed) {
        Ok(found) => found,
        Err(error) => return failed(&error.to_string(), None),
    };
    let text = if order.json {
        serde_json::to_string_pretty(&found).unwrap_or_default()
    } else {
        coverage::table(&found)
    };
    println!("{text}");
    ExitCode::SUCCESS
}

/// Order of `testkit judge-package`.
#[derive(Args)]
pub(crate) struct JudgePackage {
    /// The package
    path: PathBuf,
}

pub(crate) fn judge_package(order: &JudgePackage) -> ExitCode {
    let run = bench::judge_package(&order.path);
    println!("{}", serde_json::to_string(&run).unwrap_or_default());
    ExitCode::SUCCESS
}
