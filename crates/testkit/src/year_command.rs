//! The command that lives a scripted year.

use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use tangmark_core::counted;
use tangmark_testkit::year::{self, Table, YearReport};

/// Order of `testkit year`.
#[derive(Args)]
pub(crate) struct Year {
    /// The command `tangmark`, built with the test kit where commands are to be killed inside a write
    #[arg(long, value_name = "FILE")]
    binary: PathBuf,
    /// A new folder: workshop, ledger, papers
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
    /// Blades
    #[arg(long, default_value_t = 60, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=10_000))]
    blades: u32,
    /// Commands to kill; a third of them at least inside a write
    #[arg(long, default_value_t = 0, value_name = "N")]
    kills: u32,
    /// Where the chances start
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Blades that are worked on at the same time
    #[arg(long, default_value_t = 2, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=16))]
    threads: u32,
    /// Print one JSON object instead of lines
    #[arg(long)]
    json: bool,
}

/// What a year of sixty blades holds at least; of fewer blades a part of it.
const AT_LEAST: [(Table, usize); 2] = [(Table::Pass, 900), (Table::Sold, 25)];

pub(crate) fn year(order: &Year) -> ExitCode {
    let count = |number: u32| usize::try_from(number).unwrap_or(usize::MAX);
    let asked = year::Order {
        binary: &order.binary,
        out: &order.out,
        blades: count(order.blades),
        kills: count(order.kills),
        seed: order.seed,
        threads: count(order.threads),
    };
    let lived = match year::run(&asked, &mut |line| eprintln!("{line}")) {
        Ok(lived) => lived,
        Err(error) => {
            eprintln!("error: {error}\nhint: {}", error.hint());
            return ExitCode::FAILURE;
        }
    };
    if order.json {
        println!(
            "{}",
            serde_json::to_string_pretty(&lived).unwrap_or_default()
        );
    } else {
        print!("{}", summary(&lived));
    }
    let few = too_few(&lived, asked.blades);
    for line in &few {
        eprintln!("error: {line}");
    }
    if few.is_empty() {
        ExitCode::SUCCESS
    } else {
        eprintln!(
            "hint: see which blades did less than they were cast for in crates/testkit/src/year/cast.rs"
        );
        ExitCode::FAILURE
    }
}

fn of(lived: &YearReport, table: Table) -> usize {
    lived.totals.lines.get(&table).copied().unwrap_or(0)
}

/// What a year of so many blades lacks.
fn too_few(lived: &YearReport, blades: usize) -> Vec<String> {
    let totals = &lived.totals;
    let mut few: Vec<String> = AT_LEAST
        .iter()
        .map(|(table, least)| {
            (
                format!("{table:?} lines"),
                of(lived, *table),
                // A short year holds other blades in other shares: four fifths of its part are enough.
                least * blades * if blades < 60 { 4 } else { 5 } / (60 * 5),
            )
        })
        .chain([("blades".to_owned(), totals.blades, blades)])
        .chain((blades >= 60).then(|| ("referrals".to_owned(), totals.referrals, 4)))
        .chain([("changes of the key".to_owned(), totals.rotations, 2)])
        // The record that was withdrawn, and the one that says so.
        .chain([(
            "withdrawals told".to_owned(),
            lived.verified.withdrawn,
            2 * totals.withdrawals,
        )])
        .filter(|(_, found, least)| found < least)
        .map(|(what, found, least)| format!("{what}: {found} found, {least} at least wanted"))
        .collect();
    let kills = &lived.kills;
    if kills.all > 0 && kills.inside * 10 < kills.all * 3 {
        few.push(format!(
            "kills inside a write: {} of {} found, 3 of 10 at least wanted",
            kills.inside, kills.all
        ));
    }
    few
}

fn summary(lived: &YearReport) -> String {
    let totals = &lived.totals;
    let of = |table| of(lived, table);
    let mut text = format!(
        "year: {}, {}, {}, {}, {}, {}, {}\n\
         year: {} h at the stones, {}.{} g gone, {} refused, {} questioned, {}, {}\n\
         year: {}, {} of hours, {} used up, {}\n\
         year: verified {}, {}, {}; {} found by the search\n\
         year: {} and {} in {:.0} s\n",
        counted(totals.blades, "blade"),
        counted(of(Table::Pass), "pass"),
        counted(of(Table::Sold), "sale"),
        counted(totals.returns, "return"),
        counted(totals.referrals, "referral"),
        counted(totals.rotations, "change of the key"),
        counted(of(Table::Record), "sealed record"),
        totals.pass_minutes / 60,
        totals.gone_tenths / 10,
        totals.gone_tenths % 10,
        counted(of(Table::Refused), "pass"),
        counted(totals.questioned, "reading"),
        counted(totals.corrections, "correction"),
        counted(totals.withdrawals, "withdrawal"),
        counted(of(Table::Cost), "cost"),
        of(Table::Hours),
        of(Table::Used),
        counted(of(Table::Fitting), "fitting"),
        counted(lived.verified.records, "record"),
        counted(lived.verified.packages, "package"),
        counted(lived.verified.papers, "paper"),
        counted(lived.verified.found, "title"),
        counted(lived.commands, "command"),
        counted(lived.looks, "look"),
        lived.passed_s,
    );
    let kills = &lived.kills;
    if kills.all > 0 {
        let at: Vec<String> = kills
            .at
            .iter()
            .map(|(at, count)| format!("{at} {count}"))
            .collect();
        let _ = writeln!(
            text,
            "year: {} killed, {} of them inside a write, {} done with the work all the same: {}",
            counted(kills.all, "command"),
            kills.inside,
            kills.found,
            at.join(", ")
        );
    }
    if lived.verified.page_not_released > 0 {
        let _ = writeln!(
            text,
            "year: the verifier page of {} is not the released one",
            counted(lived.verified.page_not_released, "package")
        );
    }
    let _ = writeln!(text, "year: totals {}", totals.digest);
    text
}
