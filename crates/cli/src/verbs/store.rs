//! `tangmark store`.

use std::path::Path;

use clap::{Args, Subcommand};
use serde::Serialize;
use tangmark_workshop::{AdoptedKey, MadeOn, Rebuilt, Workshop, rebuild};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::passphrase;
use crate::show::{self, say};
use crate::surroundings;

/// Check what the workshop keeps, or rebuild its index
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark store check
  tangmark store rebuild")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Look at everything: hash each object again, hold the index against it, follow every chain
    #[command(after_help = "Examples:
  tangmark store check
  tangmark store check --json

Exit codes: 0 nothing is wrong, 1 something is, or the store cannot be read.")]
    Check {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Make the index `workshop.db` anew from the objects
    ///
    /// Sealed records, reports and photos come from `objects/` alone; sheets that are not sealed, approvals and
    /// settings come from the old index as far as it can be read. An index that cannot be read whole is kept aside.
    /// Where the index was lost the passphrase of the signing key is asked for: a key file is taken as the workshop's
    /// when it opens and records here were sealed with it. Plugins have to be approved again then.
    #[command(after_help = "Examples:
  tangmark store rebuild
  tangmark --workshop my-workshop store rebuild --passphrase-file words.txt")]
    Rebuild {
        /// Print JSON
        #[arg(long)]
        json: bool,
        #[command(flatten)]
        passphrase: passphrase::Source,
    },
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    match &arguments.what {
        What::Check { json } => check(workshop, *json),
        What::Rebuild { json, passphrase } => make_anew(workshop, *json, passphrase),
    }
}

fn check(workshop: Option<&Path>, json: bool) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let found = workshop.check_store(&mut show::progress("objects checked"))?;
    let exit = if found.problems.is_empty() {
        code::GOOD
    } else {
        code::FAILED
    };
    if json {
        print_json(&found)?;
        return Ok(exit);
    }
    print(&format!(
        "{} ({} bytes) and {} checked, {} found\n",
        show::counted(found.objects, "object"),
        found.bytes,
        show::counted(found.records, "sealed record"),
        show::counted(found.problems.len(), "problem"),
    ))?;
    for notice in &found.notices {
        say(&format!("note: {}", show::plain(notice)));
    }
    for problem in &found.problems {
        say(&format!("error: {}", show::plain(&problem.what)));
        say(&format!("hint: {}", problem.hint));
    }
    Ok(exit)
}

/// What a rebuild made, with the keys that were taken back.
#[derive(Serialize)]
struct Made<'a> {
    #[serde(flatten)]
    rebuilt: &'a Rebuilt,
    adopted_keys: &'a [AdoptedKey],
}

fn make_anew(workshop: Option<&Path>, json: bool, passphrase: &passphrase::Source) -> Outcome {
    let folder = surroundings::folder(workshop)?;
    let mut rebuilt = rebuild(&folder, &mut show::progress("objects read"))?;
    if !json {
        print(&text(&rebuilt))?;
    }
    // The index stands whatever comes of the keys, and the same command again tries them again.
    let mut adopted = Vec::new();
    let outcome = adopt(&folder, &mut rebuilt, passphrase, &mut adopted);
    if json {
        print_json(&Made {
            rebuilt: &rebuilt,
            adopted_keys: &adopted,
        })?;
    } else {
        print(&adopted_text(&adopted))?;
    }
    for remark in &rebuilt.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    for file in &rebuilt.unlisted_keys {
        say(&format!(
            "note: key file `{}` is not the workshop's yet, and nothing can be sealed with it: run the same again with `--passphrase-file PATH`",
            show::plain(file)
        ));
    }
    if adopted
        .iter()
        .any(|key| key.created_from == MadeOn::FirstRecord)
    {
        say(
            "note: `keys/key-history.json` is gone: nothing is sealed or signed before it is back, from a backup, a package or a card; the certificate of new reports begins at the first record",
        );
    }
    outcome.map(|()| code::GOOD)
}

/// Takes the key files back that the index lost, where a passphrase can be had.
fn adopt(
    folder: &Path,
    rebuilt: &mut Rebuilt,
    passphrase: &passphrase::Source,
    adopted: &mut Vec<AdoptedKey>,
) -> Result<(), Failure> {
    if rebuilt.unlisted_keys.is_empty() || !passphrase.can_be_had() {
        return Ok(());
    }
    let passphrase = passphrase.existing()?;
    let workshop = Workshop::open(folder)?;
    let mut failure = None;
    for file in std::mem::take(&mut rebuilt.unlisted_keys) {
        match workshop.adopt_key(&file, passphrase.as_bytes()) {
            Ok(key) => adopted.push(key),
            Err(error) => {
                rebuilt.unlisted_keys.push(file);
                failure = failure.or(Some(error));
            }
        }
    }
    failure.map_or(Ok(()), |error| Err(error.into()))
}

fn text(made: &Rebuilt) -> String {
    show::table(&[
        vec!["objects listed:".to_owned(), made.objects.to_string()],
        vec!["sealed records:".to_owned(), made.records.to_string()],
        vec!["attached papers:".to_owned(), made.attachments.to_string()],
        vec!["old index:".to_owned(), made.old_index.clone()],
    ])
}

fn adopted_text(adopted: &[AdoptedKey]) -> String {
    let rows: Vec<Vec<String>> = adopted
        .iter()
        .flat_map(|key| {
            [
                vec!["key taken back:".to_owned(), show::plain(&key.file_name)],
                vec!["  name:".to_owned(), show::plain(&key.name)],
                vec!["  fingerprint:".to_owned(), key.fingerprint.clone()],
                vec!["  made:".to_owned(), key.created_at.clone()],
            ]
        })
        .collect();
    show::table(&rows)
}
