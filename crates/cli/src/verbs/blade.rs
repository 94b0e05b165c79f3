//! `tangmark blade`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;
use tangmark_workshop::record::Term as _;
use tangmark_workshop::{BladeLine, BladeState, ShownValue, Workshop};

use crate::outcome::{Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;

/// List the blades of the workshop, show one, or write a sealed record of one out again
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark blade list
  tangmark blade show reed
  tangmark blade record reed --number 1 --out reed-first.json")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List the blades by key: where each stands, its records, its last decision, its stage
    #[command(after_help = "Examples:
  tangmark blade list
  tangmark blade list --limit 50
  tangmark blade list --limit 50 --after reed
  tangmark blade list --json

`held` counts the stops that stand; `?`: the sheet was not judged since its last change.")]
    List {
        /// List at most so many [default: all]
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
        limit: Option<u32>,
        /// Begin after this key: the last one of the part before
        #[arg(long, value_name = "BLADE")]
        after: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show one blade: where it stands, its sealed records, the stops on the newest of them
    #[command(after_help = "Examples:
  tangmark blade show reed
  tangmark blade show reed --json")]
    Show {
        /// Key of the blade
        blade: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Write the bytes of a sealed record to a file, as they were sealed
    ///
    /// For a copy that was lost. An existing file is never overwritten.
    #[command(after_help = "Examples:
  tangmark blade record reed --out reed.json
  tangmark blade record reed --number 1 --out reed-first.json")]
    Record {
        /// Key of the blade
        blade: String,
        /// Number of the record in the blade's chain [default: the newest]
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
        number: Option<u32>,
        /// File to write
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::List { limit, after, json } => list(&workshop, *limit, after.as_deref(), *json),
        What::Show { blade, json } => show_one(&workshop, blade, *json),
        What::Record {
            blade,
            number,
            out,
            json,
        } => {
            let exported = workshop.export_record(blade, *number, out)?;
            if *json {
                print_json(&exported)?;
                return Ok(code::GOOD);
            }
            print(&format!("{}\n", exported.file.display()))?;
            say(&format!(
                "record {} of {} ({}), as it was sealed; its name is {}",
                exported.sequence,
                exported.blade,
                exported.purpose.key(),
                exported.record
            ));
            Ok(code::GOOD)
        }
    }
}

/// Its stage, or a dash.
fn stage(line: &BladeLine) -> &'static str {
    line.stage.map_or("-", |stage| stage.key())
}

/// Says where a blade stands.
fn stands(state: BladeState) -> &'static str {
    match state {
        BladeState::Draft => "draft",
        BladeState::Sealed => "sealed",
        BladeState::Received => "received, not examined",
        BladeState::ChangedSinceSealed => "changed since sealed",
    }
}

fn list(workshop: &Workshop, limit: Option<u32>, after: Option<&str>, json: bool) -> Outcome {
    let most = limit.map_or(usize::MAX, |limit| {
        usize::try_from(limit).unwrap_or(usize::MAX)
    });
    // One more, to know whether there are more.
    let mut blades = workshop.blades(after, most.saturating_add(1))?;
    let more = blades.len() > most;
    blades.truncate(most);
    if let Some(last) = blades.last().filter(|_| more) {
        say(&format!(
            "more follow: `tangmark blade list --limit {most} --after {}`",
            last.id
        ));
    }
    let not_judged = blades.iter().filter(|line| line.stops.is_none());
    show::say_not_judged(not_judged.map(|line| line.id.as_str()));
    if json {
        print_json(&blades)?;
        return Ok(code::GOOD);
    }
    if blades.is_empty() {
        say(match after {
            None => {
                "no blades yet; begin with `tangmark intake BLADE --as bought` when one arrives"
            }
            Some(_) => "no blades after that key",
        });
        return Ok(code::GOOD);
    }
    let heading = [
        "blade", "kind", "stands", "stage", "held", "records", "newest", "decision", "title",
    ]
    .map(str::to_owned)
    .to_vec();
    let rows = blades.into_iter().map(|line| {
        let stage = stage(&line).to_owned();
        let newest = line.newest.unwrap_or_else(|| "-".to_owned());
        let decision = line.decision.unwrap_or_else(|| "-".to_owned());
        let kind = line.kind.unwrap_or_else(|| "-".to_owned());
        vec![
            line.id,
            kind,
            stands(line.state).to_owned(),
            stage,
            show::held(line.stops),
            line.records.to_string(),
            newest,
            decision,
            show::cut(&line.title, 60),
        ]
    });
    print(&show::table(
        &std::iter::once(heading).chain(rows).collect::<Vec<_>>(),
    ))?;
    Ok(code::GOOD)
}

/// A sealed record of a blade.
#[derive(Serialize)]
struct RecordLine {
    sequence: u32,
    purpose: String,
    issued_at: String,
    record: String,
    decision: Option<String>,
    stops: Vec<String>,
    overrides: Vec<String>,
    worked_under_hold: usize,
    /// Withheld from others, shown to this workshop.
    shown: Vec<ShownValue>,
}

/// A blade with its records.
#[derive(Serialize)]
struct Shown {
    #[serde(flatten)]
    line: BladeLine,
    records_sealed: Vec<RecordLine>,
}

fn show_one(workshop: &Workshop, blade: &str, json: bool) -> Outcome {
    // The store's own error names an unknown blade.
    let mut shown = workshop.shown_values(blade)?;
    let records_sealed: Vec<RecordLine> = workshop
        .records(blade)?
        .into_iter()
        .map(|(name, _, record)| RecordLine {
            sequence: record.sequence,
            purpose: record.purpose.key().to_owned(),
            issued_at: record.issued_at.to_string(),
            record: name.to_string(),
            decision: record
                .decision
                .map(|decision| decision.verdict.key().to_owned()),
            stops: record
                .findings
                .iter()
                .filter(|finding| finding.level.key() == "stop")
                .map(|finding| format!("{}/{}: {}", finding.plugin, finding.rule, finding.message))
                .collect(),
            overrides: record
                .overrides
                .iter()
                .map(|entry| format!("{} by {}: {}", entry.rule, entry.name, entry.reason))
                .collect(),
            worked_under_hold: record.worked_under_hold.len(),
            shown: shown.remove(&record.sequence).unwrap_or_default(),
        })
        .collect();
    let line = workshop.blade(blade)?;
    let shown = Shown {
        line,
        records_sealed,
    };
    if json {
        print_json(&shown)?;
    } else {
        print(&text(&shown))?;
    }
    Ok(code::GOOD)
}

/// A text as it is, anything else as JSON.
fn value_text(value: &serde_json::Value) -> String {
    value
        .as_str()
        .map_or_else(|| value.to_string(), str::to_owned)
}

fn text(shown: &Shown) -> String {
    let line = &shown.line;
    let none = || "-".to_owned();
    let mut text = show::table(&[
        vec!["blade:".to_owned(), line.id.clone()],
        vec!["title:".to_owned(), show::plain(&line.title)],
        vec!["kind:".to_owned(), line.kind.clone().unwrap_or_else(none)],
        vec!["stands:".to_owned(), stands(line.state).to_owned()],
        vec!["stage:".to_owned(), stage(line).to_owned()],
        vec!["held:".to_owned(), show::held(line.stops)],
        vec![
            "sheet:".to_owned(),
            line.revision
                .map_or_else(none, |revision| format!("revision {revision}")),
        ],
    ]);
    for record in &shown.records_sealed {
        let decision = record.decision.as_deref().unwrap_or("no decision");
        add!(
            text,
            "\nrecord {}: {}, {}, {decision}\n",
            record.sequence,
            record.purpose,
            record.issued_at
        );
        add!(text, "  name: {}\n", record.record);
        for stop in &record.stops {
            add!(text, "  stop: {}\n", show::plain(stop));
        }
        for entry in &record.overrides {
            add!(text, "  override: {}\n", show::plain(entry));
        }
        for one in &record.shown {
            add!(
                text,
                "  shown to you, withheld from others: {}: {}\n",
                show::plain(&one.place),
                show::plain(&value_text(&one.value))
            );
        }
        if record.worked_under_hold > 0 {
            add!(
                text,
                "  worked under hold: {}\n",
                show::counted(record.worked_under_hold, "line")
            );
        }
    }
    text
}
