//! `tangmark handover receive`.

use std::io::{self, BufRead as _, IsTerminal as _};
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tangmark_workshop::WorkshopError;
use tangmark_workshop::handover::HandOverError;
use tangmark_workshop::receive::{Incoming, ReceivePlan, Received, VerifyPackage};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;
use crate::verbs::key::confirmed;

/// Exit code where a signer has to be confirmed and nobody compared the fingerprint.
const TO_BE_CONFIRMED: u8 = 2;

/// Receive a blade: judge its package and take it into your workshop
///
/// Nothing is taken in of a package in which anything is rejected or cannot be checked, or of which a report has other pages
/// than its record. Unless the newest record is your own, or you compared its signer's card before, type the fingerprint from
/// the workshop's card: all twenty characters are compared, and the key is remembered. That you met a key is not enough. The
/// card of an earlier key will do where the key history leads from it to the signer's by changes of key alone.
///
/// Added are the blade, all records, photos, shown values, reports, key histories and time evidence, and a sheet made of
/// the newest record, without examination: yours is the next. Receiving the same again changes nothing, a longer chain adds
/// its new records, another story about the same blade is refused.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark handover receive reed-handover.zip
  tangmark handover receive reed-handover --fingerprint ABCDE-FGHIJ-KLMNO-PQRST --yes

Exit codes:
  0  received, or here already
  1  not received: rejected, or it could not be written
  2  not received: the signer has to be confirmed, compare the fingerprint first
  4  the command line is not understood")]
pub(super) struct Arguments {
    /// The package: a folder or a zip file
    package: PathBuf,
    /// Fingerprint on the card of the workshop that hands over
    #[arg(long, value_name = "ABCDE-…")]
    fingerprint: Option<String>,
    /// A key history that you have from elsewhere (can be repeated)
    #[arg(long, value_name = "FILE")]
    keys: Vec<PathBuf>,
    /// Certificate of a time authority that you trust (can be repeated)
    #[arg(long, value_name = "PEM")]
    authority: Vec<PathBuf>,
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    memory: Option<PathBuf>,
    /// Do not ask
    #[arg(long)]
    yes: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// The answer as JSON.
#[derive(Serialize)]
struct Answer<'a> {
    #[serde(flatten)]
    plan: &'a ReceivePlan,
    #[serde(flatten)]
    received: &'a Received,
}

pub(super) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let memory = arguments.memory.clone().or_else(surroundings::data_folder);
    surroundings::with(|around| {
        let order = VerifyPackage {
            package: &arguments.package,
            keys: &arguments.keys,
            authorities: &arguments.authority,
            fingerprint: None,
            memory: memory.as_deref(),
            workshop: Some(&workshop),
            now: &around.now,
        };
        let looked = workshop.look_at_package(&order, &|_| ());
        let mut incoming = looked.map_err(|error| match error {
            WorkshopError::HandOver(HandOverError::Unproved { .. }) => {
                Failure::from(error).with_code(TO_BE_CONFIRMED)
            }
            error => error.into(),
        })?;
        let plan = incoming.plan().clone();
        let plan = &plan;
        let asks = asks_for_card(arguments, plan);
        if !arguments.json {
            say(plan_text(plan, !asks).trim_end());
        }
        let compared = compare(arguments, &mut incoming)?;
        if asks && !arguments.json {
            say(&format!(
                "the fingerprint is that of the workshop's card; the newest record is signed with the key {}",
                plan.fingerprint
            ));
            // Once the key is remembered nothing tells it again.
            say(&format!(
                "what was known of it before you typed: {}",
                plan.signer_line
            ));
        }
        if !plan.new_records.is_empty() {
            confirmed(arguments.yes, &question(plan))?;
        }
        let received = workshop.take_in(&incoming, memory.as_deref(), around)?;
        if arguments.json {
            let received = &received;
            print_json(&Answer { plan, received })?;
        } else {
            print(&text(plan, &received, compared))?;
        }
        Ok(code::GOOD)
    })
}

/// Whether somebody is asked to type the fingerprint. Then it is not shown before: what stands right above is copied, and
/// nobody looks at the card.
fn asks_for_card(arguments: &Arguments, plan: &ReceivePlan) -> bool {
    arguments.fingerprint.is_none()
        && plan.needs_fingerprint
        && !arguments.yes
        && io::stdin().is_terminal()
}

/// Holds the fingerprint on the card against the package, where it was typed or is needed; tells whether it was.
fn compare(arguments: &Arguments, incoming: &mut Incoming) -> Result<bool, Failure> {
    if let Some(typed) = &arguments.fingerprint {
        incoming.compare(typed)?;
        return Ok(true);
    }
    let plan = incoming.plan();
    if !plan.needs_fingerprint {
        return Ok(false);
    }
    let signer = show::cut(&plan.signer, 120);
    if asks_for_card(arguments, plan) {
        say(&format!(
            "Type the fingerprint from the card of `{signer}`:"
        ));
        let mut typed = String::new();
        if io::stdin().lock().read_line(&mut typed).is_ok() && !typed.trim().is_empty() {
            incoming.compare(&typed)?;
            return Ok(true);
        }
    }
    let error = HandOverError::NotCompared {
        package: arguments.package.clone(),
        line: incoming.plan().signer_line.clone(),
    };
    Err(Failure::from(WorkshopError::from(error)).with_code(TO_BE_CONFIRMED))
}

fn numbers(list: &[u32]) -> String {
    let list: Vec<String> = list.iter().map(ToString::to_string).collect();
    list.join(", ")
}

fn plan_text(plan: &ReceivePlan, with_key: bool) -> String {
    let mut text = format!("blade {}: {}\n", plan.blade, show::plain(&plan.title));
    if !plan.known_records.is_empty() {
        add!(
            text,
            "here already: record {}\n",
            numbers(&plan.known_records)
        );
    }
    if !plan.new_records.is_empty() {
        add!(text, "new: record {}\n", numbers(&plan.new_records));
    }
    let key = if with_key {
        plan.signer_line.as_str()
    } else {
        "whose key is shown once you typed the fingerprint from the card"
    };
    add!(
        text,
        "newest record signed by: `{}`, {key}\n",
        show::cut(&plan.signer, 120)
    );
    for (name, fingerprint) in &plan.other_signers {
        add!(
            text,
            "earlier ones by: `{}`, fingerprint {fingerprint}\n",
            show::cut(name, 120)
        );
    }
    for open in &plan.to_be_confirmed {
        add!(text, "look at: {}\n", show::plain(open));
    }
    text
}

fn question(plan: &ReceivePlan) -> String {
    format!(
        "Record {} of blade `{}` will be added; a record is never taken out again.",
        numbers(&plan.new_records),
        plan.blade
    )
}

fn text(plan: &ReceivePlan, received: &Received, compared: bool) -> String {
    let mut text = if received.added.is_empty() {
        format!("blade {}: no new records\n", plan.blade)
    } else {
        format!(
            "blade {}: received record {}\n",
            plan.blade,
            numbers(&received.added)
        )
    };
    let parts = [
        (received.photos, "photo file"),
        (received.reports, "report"),
        (received.shown.len(), "shown value"),
        (received.timestamps, "time token"),
    ];
    let parts: Vec<String> = parts
        .into_iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| show::counted(count, what))
        .collect();
    if !parts.is_empty() {
        add!(text, "with {}\n", parts.join(", "));
    }
    if compared {
        add!(
            text,
            "the key of `{}` was compared with the card now\n",
            show::cut(&plan.signer, 120)
        );
    }
    if received.sheet.is_some() {
        add!(
            text,
            "a sheet was made of the newest record, without examination; go on with `tangmark examine show {}`\n",
            plan.blade
        );
    }
    for remark in &received.remarks {
        add!(text, "note: {}\n", show::plain(remark));
    }
    text
}
