//! `tangmark check`.

use std::path::{Path, PathBuf};

use clap::Args;
use tangmark_workshop::record::{Finding, Level, Term as _};
use tangmark_workshop::{Answered, CheckReport};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::{results, surroundings};

/// Check the newest sheet of a blade, which stays as it is
///
/// The approved plugins look at it. Findings come with the stops first, then cautions and information. A stop holds the blade until the right answer
/// comes: the report says who may answer it, and how. The lists of blades show from then on how many stops stand.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark check reed
  tangmark check reed --tables --charts charts    also what the plugins derived, and curves as SVG
  tangmark check reed --json

Exit codes: 0 the check was done, also where stops stand; 1 it could not be done.")]
pub(crate) struct Arguments {
    /// Key of the blade
    blade: String,
    /// Also print the numbers, tables and curves that the plugins derived
    #[arg(long)]
    tables: bool,
    /// Write the curves as SVG files into DIR
    #[arg(long, value_name = "DIR")]
    charts: Option<PathBuf>,
    /// Print JSON, which holds everything
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let report = surroundings::with(|around| Ok(workshop.check(&arguments.blade, around)?))?;
    if arguments.json {
        print_json(&report)?;
    } else {
        print(&text(&report, arguments.tables))?;
    }
    if let Some(folder) = &arguments.charts {
        charts(&report, folder)?;
    }
    Ok(code::GOOD)
}

/// Writes the curves of a report as files and says which.
pub(crate) fn charts(report: &CheckReport, folder: &Path) -> Result<(), Failure> {
    let files = report.write_charts(folder)?;
    if files.is_empty() {
        say("no curve to draw");
    }
    for file in files {
        say(&format!("wrote {}", file.display()));
    }
    Ok(())
}

/// Every finding, the heaviest first, below the blade's key.
pub(crate) fn findings(report: &CheckReport) -> String {
    let mut text = format!(
        "blade {}, sheet revision {}\n",
        report.blade, report.revision
    );
    for (finding, private) in ordered(report) {
        text.push('\n');
        text.push_str(&told(finding, private, answer(report, finding)));
    }
    text
}

fn ordered(report: &CheckReport) -> Vec<(&Finding, bool)> {
    let mut all: Vec<(&Finding, bool)> = report
        .findings
        .iter()
        .map(|finding| (finding, false))
        .collect();
    all.extend(
        report
            .private_findings
            .iter()
            .map(|finding| (finding, true)),
    );
    // A stable sort: within a level the order of the plugins stays.
    all.sort_by_key(|(finding, _)| std::cmp::Reverse(finding.level));
    all
}

fn text(report: &CheckReport, tables: bool) -> String {
    let all = ordered(report);
    let mut text = findings(report);
    if tables {
        text.push_str(&results::all(report));
    }
    let count = |level| {
        all.iter()
            .filter(|(finding, _)| finding.level == level)
            .count()
    };
    add!(
        text,
        "\nfound: {}, {}, {} of information\n",
        stop_count(report, count(Level::Stop)),
        show::counted(count(Level::Caution), "caution"),
        show::counted(count(Level::Info), "line")
    );
    let runs: Vec<String> = report
        .runs
        .iter()
        .map(|run| {
            let fault = run
                .fault
                .as_ref()
                .map(|fault| format!(" (failed: {})", show::plain(fault)))
                .unwrap_or_default();
            format!("{} {}{fault}", run.plugin, show::plain(&run.version))
        })
        .collect();
    add!(
        text,
        "asked: {}\n",
        if runs.is_empty() {
            "no plugin".to_owned()
        } else {
            runs.join(", ")
        }
    );
    for (stop, by) in &report.stops {
        add!(
            text,
            "held: {}: {}\n",
            stop.rule,
            show::plain(&stop.message)
        );
        add!(text, "  answer: {by}\n");
    }
    add!(
        text,
        "suggestion: {}; the decision is yours\n",
        report.suggestion.gloss()
    );
    text
}

/// Longest message of a finding, in characters: as long as a record holds.
const MESSAGE: usize = 2000;

/// What answered the stop of a finding.
fn answer<'a>(report: &'a CheckReport, finding: &Finding) -> Option<&'a Answered> {
    if finding.level != Level::Stop {
        return None;
    }
    let name = format!("{}/{}", finding.plugin, finding.rule);
    let found = report.answered.iter().find(|stop| stop.rule == name)?;
    Some(&found.answer)
}

/// `2 stops, 1 of them answered`
fn stop_count(report: &CheckReport, stops: usize) -> String {
    let all = show::counted(stops, "stop");
    match report.answered.len() {
        0 => all,
        answered => format!("{all}, {answered} of them answered"),
    }
}

pub(crate) fn finding_text(finding: &Finding, private: bool) -> String {
    told(finding, private, None)
}

fn told(finding: &Finding, private: bool, answer: Option<&Answered>) -> String {
    let answer = match answer {
        None => String::new(),
        Some(Answered::Override { name, on, reason }) => format!(
            ", overridden by {} on {on}: {}",
            show::plain(name),
            show::plain(reason)
        ),
        Some(Answered::Reply { record }) => {
            format!(", answered by the reply in record {record}")
        }
    };
    let mut text = format!(
        "{}: {}/{}{answer}",
        finding.level.key(),
        finding.plugin,
        finding.rule
    );
    if private {
        text.push_str(" (withheld from others by default)");
    }
    add!(text, "\n  {}\n", show::cut(&finding.message, MESSAGE));
    for number in &finding.numbers {
        add!(text, "  {}\n", results::number(number));
    }
    if !finding.evidence.is_empty() {
        let fields: Vec<String> = finding
            .evidence
            .iter()
            .map(|pointer| show::dotted(pointer))
            .collect();
        add!(text, "  evidence: {}\n", show::plain(&fields.join(", ")));
    }
    add!(text, "  source: {}\n", show::plain(&finding.source));
    text
}
