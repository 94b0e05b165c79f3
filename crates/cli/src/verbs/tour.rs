//! `tangmark tour`.

use std::path::PathBuf;

use clap::Args;
use tangmark_workshop::tour::{self, TourBench, TourReport};

use crate::outcome::{Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;

/// Take a tour: a demonstration workshop with five invented blades, from sheet to verdict
///
/// Every blade, name and photo is invented, and the key is a throw-away that says so in every record. Ends with the
/// reports that were made and what `tangmark verify` says of an own, a stranger's and a tampered file. One blade more goes
/// from the parcel to the sale: stages, passes, a comparison, the books.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark tour demo
  tangmark tour demo --json > made.json")]
pub(crate) struct Arguments {
    /// Folder to make the workshop in; new or empty, or an earlier tour, which is moved aside
    dir: PathBuf,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments) -> Outcome {
    let report = surroundings::with(|around| {
        Ok(tour::take(&arguments.dir, around, &mut |line| {
            say(&show::plain(line));
        })?)
    })?;
    if arguments.json {
        print_json(&report)?;
    } else {
        print(&text(&report))?;
    }
    Ok(code::GOOD)
}

fn text(report: &TourReport) -> String {
    let heading = ["blade", "kind", "decision", "records"]
        .map(str::to_owned)
        .to_vec();
    let rows = report.blades.iter().map(|blade| {
        vec![
            blade.id.clone(),
            blade.kind.clone(),
            blade.decision.clone(),
            blade.records.len().to_string(),
        ]
    });
    let mut text = show::table(&std::iter::once(heading).chain(rows).collect::<Vec<_>>());
    text.push_str("\nreports:\n");
    for file in report.blades.iter().flat_map(|blade| &blade.reports) {
        add!(text, "  {}\n", file.display());
    }
    text.push_str("\nplan of the first blade, as charts:\n");
    for file in &report.charts {
        add!(text, "  {}\n", file.display());
    }
    if !report.refusals.is_empty() {
        text.push_str("\nrefused on purpose:\n");
    }
    for refusal in &report.refusals {
        let (asked, answer) = (show::plain(&refusal.asked), show::plain(&refusal.answer));
        add!(text, "  {asked}: {answer}\n");
    }
    for verdict in &report.verdicts {
        add!(
            text,
            "\nverify: {}\n  file:         {}\n  bytes:        {}\n  signer:       {}\n  time:         {}\n  completeness: {}\n  exit code:    {}\n",
            verdict.what,
            verdict.file.display(),
            show::plain(&verdict.verdict.bytes.to_string()),
            show::plain(&verdict.verdict.signer.to_string()),
            show::plain(&verdict.verdict.time.to_string()),
            show::plain(&verdict.verdict.completeness.to_string()),
            verdict.exit_code
        );
    }
    if let Some(handed) = &report.handover {
        add!(
            text,
            "\nhanded over: {}\n  folder:       {}\n  zip file:     {}\n  received by:  {}\n",
            handed.blade,
            handed.folder.display(),
            handed.zip.display(),
            handed.receiver.display()
        );
        if let Some(verdict) = &handed.verdict {
            add!(
                text,
                "  bytes:        {}\n  signer:       {}\n",
                show::plain(&verdict.bytes.to_string()),
                show::plain(&verdict.signer.to_string())
            );
        }
        add!(text, "  exit code:    {}\n", handed.exit_code);
    }
    bench(&mut text, &report.bench);
    add!(
        text,
        "\nworkshop:    {}\nfingerprint: {}\npassphrase:  {}\ncertificate: {}\n",
        report.workshop.folder.display(),
        report.workshop.fingerprint,
        report.passphrase,
        report.certificate.display()
    );
    text
}

/// The blade that went from the parcel to the sale.
fn bench(text: &mut String, bench: &TourBench) {
    let stages: Vec<&str> = bench
        .stages
        .iter()
        .map(|(stage, _)| stage.as_str())
        .collect();
    add!(
        text,
        "\nfrom the parcel to the sale: {}\n  stages:       {}\n  passes:       {}\n  compared:     {}\n",
        bench.blade,
        stages.join(", "),
        bench.passes.join(", "),
        show::plain(&bench.compared)
    );
    for refusal in bench.refused.iter().chain(&bench.questioned) {
        let answer = refusal.answer.lines().next().unwrap_or_default();
        let (asked, answer) = (show::plain(&refusal.asked), show::plain(answer));
        add!(text, "  refused:      {asked}: {answer}\n");
    }
    for account in &bench.account {
        add!(
            text,
            "  books:        bought {}, costs {}, sold {}, left {} {}\n",
            account.bought,
            account.costs,
            account.sold,
            account.margin,
            account.currency
        );
    }
    add!(text, "  papers:       {}\n", bench.sold.display());
}
