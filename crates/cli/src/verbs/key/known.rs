//! Keys of others that you remember.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use tangmark_workshop::keys;

use super::confirmed;
use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;

/// List the keys of others that you remember, or forget one
///
/// They were remembered by `tangmark verify` when you first met them.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark key known
  tangmark key known forget \"Mill Workshop\"
  tangmark key known forget ABCDE-FGHIJ-KLMNO-PQRST --yes")]
pub(super) struct Arguments {
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR", global = true)]
    memory: Option<PathBuf>,
    /// Print JSON
    #[arg(long, global = true)]
    json: bool,
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Forget every key of a name, or the key of a fingerprint, and the key histories that name it
    ///
    /// A history stays as long as another key that you remember stands in it.
    #[command(after_help = "Example:
  tangmark key known forget \"Mill Workshop\"")]
    Forget {
        /// Name or fingerprint
        #[arg(value_name = "NAME|FINGERPRINT")]
        what: String,
        /// Do it without asking
        #[arg(long)]
        yes: bool,
    },
}

pub(super) fn run(arguments: &Arguments) -> Outcome {
    let folder = arguments
        .memory
        .clone()
        .or_else(surroundings::data_folder)
        .ok_or_else(|| {
            Failure::new(
                "nothing is remembered: neither $XDG_DATA_HOME nor $HOME is set",
                "name the folder with `--memory DIR`",
            )
        })?;
    match &arguments.what {
        None => list(&folder, arguments.json),
        Some(What::Forget { what, yes }) => {
            confirmed(
                *yes,
                &format!(
                    "`{}` is forgotten for good: another key under that name will pass as new.{}",
                    show::plain(what),
                    lost(&keys::known_to_forget(&folder, what)?)
                ),
            )?;
            let gone = keys::forget_known(&folder, what)?;
            if arguments.json {
                print_json(&gone)?;
            } else {
                for (name, fingerprint) in &gone.keys {
                    print(&format!("forgot {fingerprint}, {}\n", show::cut(name, 120)))?;
                }
                let histories = &gone.histories;
                if histories.count > 0 {
                    let what = match histories.count {
                        1 => "the key history that names it".to_owned(),
                        count => format!("{count} key histories that name it"),
                    };
                    let lost = lost(&gone);
                    let stop = if lost.is_empty() { "" } else { "." };
                    print(&format!("forgot {what}{stop}{lost}\n"))?;
                }
                if histories.kept > 0 {
                    print(
                        "kept the key history that names it: another key that you remember stands in it\n",
                    )?;
                }
            }
            Ok(code::GOOD)
        }
    }
}

/// What goes with the histories and stands nowhere else, as sentences behind another one.
fn lost(gone: &keys::Forgotten) -> String {
    let mut said = String::new();
    if !gone.histories.revoked.is_empty() {
        said += " So is that a key was revoked: ";
        said += &gone.histories.revoked.join(", ");
        said += ".";
    }
    if gone.histories.fork {
        said += " So is that two key histories disagree.";
    }
    said
}

fn list(folder: &Path, json: bool) -> Outcome {
    let known = keys::known(folder)?;
    if json {
        print_json(&known)?;
        return Ok(code::GOOD);
    }
    let mut rows = Vec::new();
    for key in &known.keys {
        let history = match (key.fork, key.keys_in_history) {
            (true, _) => "two key histories that disagree".to_owned(),
            (false, 0) => String::new(),
            (false, count) => format!("key history with {}", show::counted(count, "key")),
        };
        rows.push(vec![
            key.fingerprint.clone(),
            show::cut(&key.name, 64),
            format!("since {}", key.first_seen),
            format!("from {}", show::cut(&key.source, 64)),
            if key.compared {
                "compared with the card".to_owned()
            } else {
                String::new()
            },
            history,
        ]);
    }
    for key in &known.in_histories {
        rows.push(vec![
            key.fingerprint.clone(),
            String::new(),
            format!("signs from {}", key.from),
            "from a remembered key history".to_owned(),
            String::new(),
            String::new(),
        ]);
    }
    print(&show::table(&rows))?;
    say(&format!(
        "{} remembered",
        show::counted(known.keys.len(), "key")
    ));
    Ok(code::GOOD)
}
