//! The commands that make golden records and measure.

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::{Args, ValueEnum};
use tangmark_testkit::{bench, coverage, golden};
use tangmark_workshop::{RUNNER_COMMAND, runner_main};

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
    /// Measure only one of the four
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
    /// Fail when judging the package held more memory than the goal; times are told and never judged
    #[arg(long)]
    hold_memory: bool,
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
        (order.hold_memory && !fits).then_some(held)
    });
    let judged = measured.as_ref().ok().and_then(|measured| {
        let package = measured.package.as_ref()?;
        Some(2 * (package.records + package.photos))
    });
    let code = tell(order, measured);
    match too_much {
        None => {
            if let (true, Some(judged)) = (order.hold_memory, judged) {
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
            tables(&measured);
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
            many_table(&made);
            ExitCode::SUCCESS
        }
        Err(error) => failed(&error.to_string(), None),
    }
}

fn many_table(made: &bench::ManyReports) {
    println!(
        "{} reports of {} pages in one process: {:.1} ms each to render and sign, {:.1} s passed in all, {} bytes",
        made.reports, made.pages, made.each_ms, made.passed_s, made.pdf_bytes
    );
    let told = |kb: Option<u64>| kb.map_or("not told".to_owned(), |kb| format!("{kb} kB"));
    println!(
        "  memory held: {} after the first, {} after the last, growth {}; at most {} until the first, {} in all (goal: {} kB)",
        told(made.held_at_start_kb),
        told(made.held_at_end_kb),
        told(made.growth_kb()),
        told(made.peak_at_start_kb),
        told(made.peak_kb),
        bench::MEMORY_GOAL_KB,
    );
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

fn tables(measured: &bench::Bench) {
    if cfg!(debug_assertions) {
        println!("built without optimisation: these numbers say nothing (build with --release)");
    }
    if let Some(verify) = &measured.verify {
        verify_table(verify);
    }
    if let Some(report) = &measured.report {
        report_table(report);
    }
    if let Some(plugins) = &measured.plugins {
        plugins_table(plugins);
    }
    if let Some(package) = &measured.package {
        package_table(package);
    }
    match measured.peak_memory_kb {
        Some(peak) => println!("most memory held by this process: {peak} kB"),
        None => println!("this system does not tell how much memory was held"),
    }
}

fn verify_table(verify: &bench::VerifyBench) {
    for record in &verify.records {
        println!("record of {} bytes", record.bytes);
        for (part, time) in &record.parts {
            println!(
                "  {part:<28}{time:>10.1} µs {:>12.0} in a second on one core",
                1e6 / time
            );
        }
        if let Some(part) = record.of_openssl {
            println!(
                "  together without schema: {:.0} % of OpenSSL's rate (goal at 4 KB: 60 %)",
                part * 100.0
            );
        }
    }
    if let (Some(rate), Some(version)) = (verify.openssl_per_second, &verify.openssl_version) {
        println!(
            "{version}: {rate:.0} verifications of P-256 in a second on one core, {:.1} µs each",
            1e6 / rate
        );
    }
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

fn package_table(package: &bench::PackageBench) {
    let mb = package.photo_bytes as f64 / f64::from(1 << 20);
    println!(
        "package of {} records and {} photos, {mb:.0} MB of them",
        package.records, package.photos
    );
    println!(
        "  judged in {:>18.2} s: {:.0} MB of photos in a second; every byte hashed after {:.2} s",
        package.passed_s,
        mb / package.passed_s,
        package.hashed_s
    );
    match package.peak_kb {
        Some(peak) => println!(
            "  most memory held {:>11} kB (goal: {} kB)",
            peak,
            bench::PACKAGE_MEMORY_GOAL_KB
        ),
        None => println!("  this system does not tell how much memory was held"),
    }
    println!(
        "  as one zip file {:>11.2} s: {:.0} MB in a second, most memory held {}",
        package.zip_passed_s,
        mb / package.zip_passed_s,
        package
            .zip_peak_kb
            .map_or("not told".to_owned(), |peak| format!("{peak} kB"))
    );
    if let (Some(other), Some(part)) = (package.sha256sum_s, package.of_sha256sum) {
        println!(
            "  sha256sum alone {:>12.2} s: {:.0} MB in a second; judging has {:.0} % of its rate (goal: {:.0} %)",
            other,
            mb / other,
            100.0 * part,
            100.0 * bench::PACKAGE_RATE_GOAL
        );
    }
}

fn plugins_table(check: &bench::PluginBench) {
    println!(
        "check by {} plugins ({}), question {} bytes, libraries {} bytes, runner {} bytes",
        check.plugins.len(),
        check.plugins.join(", "),
        check.question_bytes,
        check.library_bytes,
        check.runner_bytes
    );
    if !check.missing.is_empty() {
        println!("  not built: {}", check.missing.join(", "));
    }
    println!(
        "  warm {:>24.1} ms that passed (goal on a quiet machine: {} ms), at worst {:.1} ms",
        check.warm_ms,
        bench::WARM_GOAL_MS,
        check.warm_worst_ms
    );
    println!(
        "  cold {:>24.1} ms (goal: {} ms)",
        check.cold_ms,
        bench::COLD_GOAL_MS
    );
    println!("  without plugins {:>13.1} ms", check.without_ms);
    println!("  one describes itself {:>8.1} ms", check.describe_ms);
    println!("  direct calls {:>16.1} ms", check.direct_ms);
    for (name, time) in &check.direct_each_ms {
        println!("    {name:<16}{time:>9.2} ms");
    }
}

fn report_table(report: &bench::ReportBench) {
    println!(
        "{} report of {} pages, {} photos, {} runs of text; record {} bytes, PDF {} bytes",
        report.kind,
        report.pages,
        report.photos,
        report.texts,
        report.record_bytes,
        report.pdf_bytes
    );
    for (part, time) in &report.parts {
        let goal = match *part {
            "sign" => format!(" (goal: {:.0} ms)", bench::SIGN_GOAL_MS),
            "render and sign" => format!(
                " (goal on a quiet machine: {:.0} ms)",
                bench::REPORT_GOAL_MS
            ),
            _ => String::new(),
        };
        println!(
            "  {part:<28}{:>10.2} ms, from {:.2} to {:.2}{goal}",
            time.median / 1000.0,
            time.least / 1000.0,
            time.most / 1000.0
        );
    }
    if let Some(many) = &report.many {
        many_table(many);
    }
    if let (Some(other), Some(times), Some(placed)) = (
        &report.other,
        report.times_faster,
        report.times_faster_placed,
    ) {
        println!(
            "{}: PDF {} bytes, at most {} kB of memory",
            other.versions, other.pdf_bytes, other.peak_memory_kb
        );
        println!(
            "  {:<28}{:>10.2} ms: we are {times:.1} times faster (goal: 20)",
            "laid out by it",
            other.microseconds / 1000.0
        );
        println!(
            "  {:<28}{:>10.2} ms: {placed:.1} times",
            "every place told to it",
            other.microseconds_placed / 1000.0
        );
    }
}
