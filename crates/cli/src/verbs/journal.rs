//! `tangmark journal`.

mod told;

use std::path::Path;

use clap::{Args, Subcommand};
use serde_json::json;
use tangmark_workshop::{JournalLine, Workshop};

use crate::outcome::{Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;

/// List what was entered around the blades, or strike an entry out; nothing is erased
///
/// Stages, hours, costs, timers, moves of fittings, sales and referrals are entries of one journal. A correction takes
/// the place of the entry it corrects, a strike-out ends it; both leave the old one to be read, with who entered it
/// and when.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark journal list reed
  tangmark journal list --kind cost --whole
  tangmark journal show 12
  tangmark journal strike 12 --reason \"entered twice\"")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List entries, oldest first
    #[command(after_help = "Examples:
  tangmark journal list
  tangmark journal list reed --kind stage
  tangmark journal list --whole --json")]
    List {
        /// Only those about this blade
        blade: Option<String>,
        /// Only those of this kind, such as `stage` or `cost`
        #[arg(long, value_name = "KIND")]
        kind: Option<String>,
        /// Also those that were replaced or struck out
        #[arg(long)]
        whole: bool,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show an entry with what was there before it and came after it
    #[command(after_help = "Examples:
  tangmark journal show 12
  tangmark journal show 12 --json")]
    Show {
        /// Number of the entry
        number: u64,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Strike an entry out; it stays to be read, with the reason
    #[command(after_help = "Examples:
  tangmark journal strike 12 --reason \"entered twice\"")]
    Strike {
        /// Number of the entry
        number: u64,
        /// Why
        #[arg(long, value_name = "TEXT")]
        reason: String,
        /// Who strikes it out [default: the workshop's name]
        #[arg(long, value_name = "NAME")]
        by: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::List {
            blade,
            kind,
            whole,
            json,
        } => list(
            &workshop.journal(blade.as_deref(), kind.as_deref(), *whole)?,
            *json,
        ),
        What::Show { number, json } => show_one(&workshop, *number, *json),
        What::Strike {
            number,
            reason,
            by,
            json,
        } => {
            let made = surroundings::with(|around| {
                Ok(workshop.strike(*number, reason, by.as_deref(), around)?)
            })?;
            if *json {
                print_json(&json!({ "struck_out": number, "by_entry": made }))?;
            } else {
                print(&format!("{made}\n"))?;
                say(&format!(
                    "entry {number} is struck out by entry {made}; see both with `tangmark journal show {number}`"
                ));
            }
            Ok(code::GOOD)
        }
    }
}

/// What became of an entry.
fn state(line: &JournalLine) -> String {
    match (line.replaced_by, &line.content, line.replaces) {
        (_, None, Some(old)) => format!("strikes out {old}"),
        (Some(by), _, _) => format!("replaced by {by}"),
        (None, _, Some(old)) => format!("in place of {old}"),
        _ => "-".to_owned(),
    }
}

fn list(lines: &[JournalLine], json: bool) -> Outcome {
    if json {
        print_json(&lines)?;
        return Ok(code::GOOD);
    }
    if lines.is_empty() {
        say("no entries");
        return Ok(code::GOOD);
    }
    let heading = [
        "entry", "day", "kind", "blade", "about", "standing", "content",
    ];
    let heading = heading.map(str::to_owned).to_vec();
    let rows = lines.iter().map(|line| {
        let or_none = |text: &str| {
            if text.is_empty() {
                "-".to_owned()
            } else {
                show::cut(text, 40)
            }
        };
        vec![
            line.number.to_string(),
            line.on.clone(),
            line.kind.clone(),
            or_none(line.blade.as_deref().unwrap_or_default()),
            or_none(&line.subject),
            state(line),
            line.content.as_ref().map_or_else(
                || "-".to_owned(),
                |content| show::cut(&told::summary(&line.kind, content), 90),
            ),
        ]
    });
    print(&show::table(
        &std::iter::once(heading).chain(rows).collect::<Vec<_>>(),
    ))?;
    Ok(code::GOOD)
}

fn show_one(workshop: &Workshop, number: u64, json: bool) -> Outcome {
    let lines = workshop.journal_entry(number)?;
    if json {
        print_json(&lines)?;
        return Ok(code::GOOD);
    }
    let mut text = String::new();
    for (index, line) in lines.iter().enumerate() {
        if index > 0 {
            text.push('\n');
        }
        add!(
            text,
            "entry {} ({}), {}, entered {} by {}\n",
            line.number,
            line.kind,
            line.on,
            line.at,
            show::plain(&line.by)
        );
        if let Some(blade) = &line.blade {
            add!(text, "  blade: {blade}\n");
        }
        if let Some(content) = &line.content {
            if !line.subject.is_empty() {
                add!(text, "  about: {}\n", show::plain(&line.subject));
            }
            let laid_out = serde_json::to_string_pretty(content).unwrap_or_default();
            for row in laid_out.lines() {
                add!(text, "  {}\n", show::plain(row));
            }
        } else {
            add!(text, "  struck out: {}\n", show::plain(&line.subject));
        }
        if let Some(by) = line.replaced_by {
            add!(text, "  replaced by entry {by}\n");
        }
    }
    print(&text)?;
    Ok(code::GOOD)
}
