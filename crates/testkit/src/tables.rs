//! The tables of the benchmark, for people.

use tangmark_core::counted;
use tangmark_testkit::bench;

pub(crate) fn all(measured: &bench::Bench) {
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
    if let Some(blades) = &measured.blades {
        blades_table(blades);
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

fn blades_table(bench: &bench::BladesBench) {
    println!(
        "workshop of {}, {} of them with a sealed record, {} in the journal",
        counted(bench.blades, "blade"),
        bench.sealed,
        counted(bench.entries, "entry")
    );
    println!(
        "  {:<28}{:>12}{:>10}{:>12}{:>10}   goal: {} ms in 95 of 100",
        "",
        "call ms",
        "95th",
        "command ms",
        "95th",
        bench::BLADES_GOAL_MS
    );
    for asked in &bench.asked {
        println!(
            "  {:<28}{:>12.2}{:>10.2}{:>12.1}{:>10.1}",
            asked.what,
            asked.call_ms.median,
            asked.call_ms.p95,
            asked.run_ms.median,
            asked.run_ms.p95
        );
    }
    for quarter in &bench.growth {
        println!(
            "  up to blade {:>7}: {:>8.0} bytes and {:>6.2} ms for each",
            quarter.blades, quarter.bytes_each, quarter.ms_each
        );
    }
    let ratio = |of: fn(&bench::Quarter) -> f64| {
        let (first, last) = (bench.growth.first().map(of), bench.growth.last().map(of));
        last.unwrap_or(f64::NAN) / first.unwrap_or(f64::NAN)
    };
    println!(
        "  last quarter over first: bytes {:.2}, time {:.2} (goal: at most {})",
        ratio(|quarter| quarter.bytes_each),
        ratio(|quarter| quarter.ms_each),
        bench::GROWTH_GOAL
    );
}

fn package_table(package: &bench::PackageBench) {
    let mb = package.photo_bytes as f64 / f64::from(1 << 20);
    println!(
        "package of {} and {}, {mb:.0} MB of them",
        counted(package.records, "record"),
        counted(package.photos, "photo")
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
        "check by {} ({}), question {} bytes, libraries {} bytes, runner {} bytes",
        counted(check.plugins.len(), "plugin"),
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
        "{} report of {}, {}, {}; record {} bytes, PDF {} bytes",
        report.kind,
        counted(report.pages, "page"),
        counted(report.photos, "photo"),
        counted(report.texts, "run of text"),
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
        self::many(many);
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

pub(crate) fn many(made: &bench::ManyReports) {
    println!(
        "{} of {} in one process: {:.1} ms each to render and sign, {:.1} s passed in all, {} bytes",
        counted(made.reports, "report"),
        counted(made.pages, "page"),
        made.each_ms,
        made.passed_s,
        made.pdf_bytes
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
