//! `tangmark correct`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use tangmark_workshop::correct::{Corrected, Correction, CorrectionLine};

use crate::outcome::{Outcome, code, print, print_json};
use crate::passphrase;
use crate::show::{self, add, say};
use crate::surroundings;
use crate::verbs::seal::words;
use crate::who::Who;

/// Put right a sealed record, or withdraw it
///
/// What was sealed is never changed: the correction or withdrawal is a record of its own, which names the earlier one and
/// says what was wrong and what holds. It holds the sheet as it is now, so put the right values on the sheet first. The
/// sheet itself does not speak of the earlier record afterwards.
///
/// Whoever has the blade does not have the new record yet: send it on. A reader of a package in which a record is withdrawn
/// is told so before anything else.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:
  tangmark correct reed --record 2 --statement \"The mass before work was 748.3 g, not 784.3 g\"
  tangmark correct reed --record 3 --withdraw --statement \"Sealed for another blade by mistake\"
  tangmark correct list reed

Exit codes: 0 sealed or listed; 1 nothing was sealed; 4 the command line is not understood."
)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    verb: Option<Verb>,
    #[command(flatten)]
    give: Give,
}

#[derive(Debug, Subcommand)]
enum Verb {
    List(List),
}

/// List what was corrected and withdrawn
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark correct list reed")]
struct List {
    /// Key of the blade
    blade: String,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
struct Give {
    /// Key of the blade
    #[arg(required = true)]
    blade: Option<String>,
    /// Number of the record that is put right
    #[arg(long, value_name = "N", required = true, value_parser = clap::value_parser!(u32).range(1..))]
    record: Option<u32>,
    /// What was wrong, and what holds
    #[arg(long, value_name = "TEXT", required = true)]
    statement: Option<String>,
    /// Withdraw the record: nothing in it is to be relied on
    #[arg(long)]
    withdraw: bool,
    /// File for a copy of the new record [default: a name in `out/` of the workshop]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    match &arguments.verb {
        Some(Verb::List(arguments)) => list(arguments, workshop),
        None => correct(&arguments.give, workshop),
    }
}

fn correct(arguments: &Give, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let blade = arguments.blade.as_deref().unwrap_or_default();
    let statement = words(
        "--statement",
        arguments.statement.as_deref().unwrap_or_default(),
    )?;
    surroundings::with(|around| {
        let passphrase = arguments.passphrase.existing()?;
        let corrected = workshop.correct(
            &Correction {
                blade,
                record: arguments.record.unwrap_or_default(),
                statement: &statement,
                withdraw: arguments.withdraw,
                passphrase: passphrase.as_bytes(),
                out: arguments.out.as_deref(),
                who: arguments.who.who(),
            },
            around,
        )?;
        if arguments.json {
            print_json(&corrected)?;
        } else {
            let file = corrected
                .sealed
                .as_ref()
                .and_then(|sealed| sealed.file.as_ref());
            if let Some(file) = file {
                print(&format!("{}\n", file.display()))?;
            }
            tell(blade, &corrected);
        }
        Ok(code::GOOD)
    })
}

fn tell(blade: &str, corrected: &Corrected) {
    let does = if corrected.withdraws {
        "withdraws"
    } else {
        "corrects"
    };
    if corrected.sealed.is_none() {
        say(
            "note: the record was sealed by an earlier run that ended before it was noted; it is noted now, and nothing was sealed again",
        );
    }
    if let Some(why) = corrected
        .sealed
        .as_ref()
        .and_then(|sealed| sealed.no_file.as_ref())
    {
        say(&format!(
            "note: the record is sealed, but its copy could not be written: {}",
            show::plain(why)
        ));
    }
    say(&format!(
        "record {} of {blade} {does} record {}; its name is {}",
        corrected.sequence, corrected.of_sequence, corrected.record
    ));
    if corrected.to_be_told.is_empty() {
        say("whoever has a copy of the earlier record does not know of it yet");
    }
    for name in &corrected.to_be_told {
        say(&format!(
            "{} has the blade and does not know of it yet",
            show::quoted(name)
        ));
    }
    say(&format!(
        "next: send it on: `tangmark report {blade}` for people, `tangmark handover {blade} --zip` for the whole chain"
    ));
}

fn list(arguments: &List, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let lines = workshop.corrections(&arguments.blade)?;
    if arguments.json {
        print_json(&lines)?;
        return Ok(code::GOOD);
    }
    if lines.is_empty() {
        say(&format!(
            "no record of {} was corrected or withdrawn",
            arguments.blade
        ));
        return Ok(code::GOOD);
    }
    print(&text(&lines))?;
    Ok(code::GOOD)
}

fn text(lines: &[CorrectionLine]) -> String {
    let mut text = String::new();
    for line in lines {
        let does = if line.withdraws {
            "withdraws"
        } else {
            "corrects"
        };
        let of = line.of_sequence.map_or_else(
            || format!("a record that is not here, {}", line.of),
            |number| format!("record {number}"),
        );
        let by = line
            .by
            .as_ref()
            .map(|by| format!(", entered by {}", show::cut(by, 120)))
            .unwrap_or_default();
        add!(
            text,
            "record {} {does} {of}, {}, sealed by {}{by}\n  {}\n",
            line.sequence,
            line.issued_at,
            show::quoted(&line.issuer),
            show::plain(&line.statement)
        );
    }
    text
}
