//! `tangmark key`.

mod copies;
mod known;
mod words;

use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::Duration;

use clap::{Args, Subcommand};
use tangmark_workshop::keys::{KeysError, Recover, Revoke, Rotate};
use tangmark_workshop::{Surroundings, Workshop, WorkshopError};
use unicode_normalization::UnicodeNormalization as _;

use crate::outcome::{Failure, Outcome, code, json_text, print, print_json, print_secret};
use crate::passphrase;
use crate::show::{self, say};
use crate::surroundings;

/// Look after the signing key over the years: its card, a new key, a lost or stolen one, copies
///
/// The key history `keys/key-history.json` says which keys the workshop signed with, and from when to when. Hand it out
/// with the card: whoever knows one of your keys can follow it to the others.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark key show
  tangmark key rotate --reason \"every three years\"
  tangmark key recover --stolen-since 2026-05-01T00:00:00Z --reason \"laptop stolen\"
  tangmark key backup /media/stick/keys-2026
  tangmark key known")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Show the keys of the workshop: fingerprints, from when to when, what is revoked
    #[command(after_help = "Examples:
  tangmark key show
  tangmark key show --json")]
    Show {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Write card, certificate and key history anew, to hand out
    ///
    /// In `out/card` those that are there are replaced; in another folder nothing is written over.
    #[command(after_help = "Examples:
  tangmark key card
  tangmark key card --out for-the-printer")]
    Card {
        /// Folder for them [default: `out/card` of the workshop]
        #[arg(long, value_name = "DIR")]
        out: Option<PathBuf>,
        #[command(flatten)]
        passphrase: passphrase::Source,
    },
    /// Sign with a new key from now on; old and new key both sign that
    ///
    /// Records that are sealed stay as they are. Readers who know the old key follow the history to the new one, so hand
    /// it out with the new card. The recovery secret on paper stays the same unless you ask for a new one.
    #[command(after_help = "Examples:
  tangmark key rotate --reason \"every three years\"
  tangmark key rotate --reason \"new laptop\" --passphrase-file old.txt
      --new-passphrase-file new.txt --yes")]
    Rotate(RotateArguments),
    /// Name a new key with the recovery secret on paper, when the old one is lost or stolen
    ///
    /// The new key is known to nobody before it is compared with your new card. The recovery secret is spent; a new one is
    /// shown once. With `--stolen-since` the old key is revoked too: records that state a time since then are rejected, and
    /// older ones need time evidence.
    #[command(after_help = "Examples:
  tangmark key recover --reason \"passphrase forgotten\"
  tangmark key recover --reason \"laptop stolen\" --stolen-since 2026-05-01T00:00:00Z
  tangmark key recover --reason \"laptop stolen\" --recovery-file paper.txt
      --new-passphrase-file new.txt --yes")]
    Recover(RecoverArguments),
    /// Say that somebody else may hold a key since some time; it cannot be taken back
    ///
    /// For an old key that was stolen. For the key in force use `recover --stolen-since`: a key that is revoked seals
    /// nothing more.
    #[command(after_help = "Examples:
  tangmark key revoke ABCDE-FGHIJ-KLMNO-PQRST --since 2026-05-01T00:00:00Z --reason \"old disk sold\"")]
    Revoke(RevokeArguments),
    /// Change the passphrase of a key file
    ///
    /// The old file stays until the new one was read back and opened. Backups keep the passphrase they were made with.
    #[command(after_help = "Examples:
  tangmark key passphrase
  tangmark key passphrase --passphrase-file old.txt --new-passphrase-file new.txt")]
    Passphrase {
        /// Fingerprint of another key than the one in force
        #[arg(long, value_name = "FINGERPRINT")]
        key: Option<String>,
        #[command(flatten)]
        passphrase: passphrase::Source,
        #[command(flatten)]
        new: passphrase::New,
    },
    Backup(copies::BackupArguments),
    Restore(copies::RestoreArguments),
    Known(known::Arguments),
}

#[derive(Debug, Args)]
struct RotateArguments {
    /// Why; stands in the key history
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Make a new recovery secret too, where the paper is lost; the old one is spent
    #[arg(long)]
    new_recovery: bool,
    /// Do it without asking
    #[arg(long)]
    yes: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
    #[command(flatten)]
    new: passphrase::New,
}

#[derive(Debug, Args)]
struct RecoverArguments {
    /// Why; stands in the key history
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Somebody else may have held the old key since then (UTC): revoke it
    #[arg(long, value_name = "TIME")]
    stolen_since: Option<String>,
    /// Read the recovery secret from a file of one line, or from `-` (standard input); without it you are asked
    #[arg(long, value_name = "PATH|-")]
    recovery_file: Option<PathBuf>,
    /// Do it without asking
    #[arg(long)]
    yes: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    new: passphrase::New,
}

#[derive(Debug, Args)]
struct RevokeArguments {
    /// Fingerprint or did:key of the key; hyphens and capital letters do not matter
    key: String,
    /// From when on somebody else may have held it, UTC such as 2026-05-01T00:00:00Z
    #[arg(long, value_name = "TIME")]
    since: String,
    /// Why; stands in the key history
    #[arg(long, value_name = "TEXT")]
    reason: String,
    /// Do it without asking
    #[arg(long)]
    yes: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    match &arguments.what {
        What::Show { json } => show_keys(&surroundings::open(workshop)?, *json),
        What::Card { out, passphrase } => {
            let workshop = surroundings::open(workshop)?;
            let words = passphrase.existing()?;
            let folder = workshop.write_card(out.as_deref(), words.as_bytes())?;
            print(&format!("{}\n", folder.display()))?;
            Ok(code::GOOD)
        }
        What::Rotate(arguments) => rotate(arguments, &surroundings::open(workshop)?),
        What::Recover(arguments) => recover(arguments, &surroundings::open(workshop)?),
        What::Revoke(arguments) => revoke(arguments, &surroundings::open(workshop)?),
        What::Passphrase {
            key,
            passphrase,
            new,
        } => {
            let workshop = surroundings::open(workshop)?;
            new.apart_from(passphrase.file())?;
            let old = passphrase.existing()?;
            let fresh = new.fresh()?;
            let fingerprint = surroundings::with(|around| {
                Ok(workshop.change_passphrase(
                    key.as_deref(),
                    old.as_bytes(),
                    fresh.as_bytes(),
                    around,
                )?)
            })?;
            say(&format!(
                "the key {fingerprint} opens with the new passphrase; make a new backup with `tangmark key backup DIR`"
            ));
            Ok(code::GOOD)
        }
        What::Backup(arguments) => copies::backup(arguments, &surroundings::open(workshop)?),
        What::Restore(arguments) => copies::restore(arguments, workshop),
        What::Known(arguments) => known::run(arguments),
    }
}

fn show_keys(workshop: &Workshop, json: bool) -> Outcome {
    let report = workshop.keys_report()?;
    if report.from_copy {
        say(
            "note: `keys/key-history.json` is gone; this is the copy in `out/card`, which may be older. Nothing is signed before it is back: see `tangmark key restore --help`",
        );
    }
    if json {
        print_json(&report)?;
    } else {
        print(&words::keys(&report))?;
        for file in &report.unused_files {
            say(&format!(
                "note: no entry of the history names the key in `{}`: a change that was cut short left it; nothing is signed with it",
                show::plain(file)
            ));
        }
    }
    Ok(code::GOOD)
}

fn rotate(arguments: &RotateArguments, workshop: &Workshop) -> Outcome {
    let reason = reason(&arguments.reason)?;
    arguments.new.apart_from(arguments.passphrase.file())?;
    let before = workshop.keys_report()?.fingerprint;
    confirmed(
        arguments.yes,
        &format!("A new key takes the place of {before} for good."),
    )?;
    let old = arguments.passphrase.existing()?;
    let new = arguments.new.fresh()?;
    let order = Rotate {
        passphrase: old.as_bytes(),
        new_passphrase: new.as_bytes(),
        reason: &reason,
        new_recovery: arguments.new_recovery,
    };
    let rotated = at_a_free_moment(|around| workshop.rotate_key(&order, around))?;
    let text = if arguments.json {
        json_text(&rotated)?
    } else {
        words::rotated(&rotated)
    };
    if rotated.recovery_secret.is_some() {
        print_secret(&text)?;
    } else {
        print(&text)?;
    }
    Ok(code::GOOD)
}

fn recover(arguments: &RecoverArguments, workshop: &Workshop) -> Outcome {
    let reason = reason(&arguments.reason)?;
    arguments
        .new
        .apart_from(arguments.recovery_file.as_deref())?;
    let before = workshop.keys_report()?.fingerprint;
    let what = match &arguments.stolen_since {
        Some(since) => format!(
            "A new key takes the place of {before} for good, and {before} is revoked since {since}."
        ),
        None => format!("A new key takes the place of {before} for good."),
    };
    confirmed(arguments.yes, &what)?;
    let secret = passphrase::secret(
        arguments.recovery_file.as_deref(),
        "Recovery secret on paper: ",
        "--recovery-file",
    )?;
    let new = arguments.new.fresh()?;
    let order = Recover {
        secret: &secret,
        new_passphrase: new.as_bytes(),
        reason: &reason,
        stolen_since: arguments.stolen_since.as_deref(),
    };
    let recovered = at_a_free_moment(|around| workshop.recover_key(&order, around))?;
    print_secret(&if arguments.json {
        json_text(&recovered)?
    } else {
        words::recovered(&recovered)
    })?;
    Ok(code::GOOD)
}

fn revoke(arguments: &RevokeArguments, workshop: &Workshop) -> Outcome {
    let reason = reason(&arguments.reason)?;
    let (fingerprint, in_force) = workshop.named_key(&arguments.key)?;
    let after = if in_force {
        " It is the key in force: nothing more can be sealed until `tangmark key recover`."
    } else {
        ""
    };
    confirmed(
        arguments.yes,
        &format!(
            "{fingerprint} is revoked since {} for good: records that state a time since then are rejected, older ones need time evidence.{after}",
            show::plain(&arguments.since)
        ),
    )?;
    let words = arguments.passphrase.existing()?;
    let order = Revoke {
        key: &arguments.key,
        since: &arguments.since,
        reason: &reason,
        passphrase: words.as_bytes(),
    };
    let revoked = surroundings::with(|around| Ok(workshop.revoke_key(&order, around)?))?;
    say(&format!(
        "{fingerprint} is revoked since {}; hand out the key history{} anew",
        show::plain(&arguments.since),
        if revoked.no_card.is_some() {
            " `keys/key-history.json`"
        } else {
            " in `out/card`"
        }
    ));
    if let Some(why) = &revoked.no_card {
        say(&format!(
            "note: `out/card` is not up to date: {}",
            show::plain(why)
        ));
    } else if revoked.in_force {
        say(
            "note: its card and certificate are taken out of `out/card`; `tangmark key recover` makes new ones",
        );
    }
    Ok(code::GOOD)
}

/// Text that says something: a blank reason is none.
fn reason(text: &str) -> Result<String, Failure> {
    if text.trim().is_empty() || text.chars().count() > 200 {
        return Err(Failure::usage(
            format!(
                "`--reason` has {} characters, 1 to 200 are allowed",
                text.trim().chars().count()
            ),
            "write `--reason \"…\"`",
        ));
    }
    // A keyboard may send letters and marks apart; a history holds them together.
    Ok(text.nfc().collect())
}

/// Asks before something that cannot be taken back.
pub(crate) fn confirmed(yes: bool, what: &str) -> Result<(), Failure> {
    use std::io::{BufRead as _, IsTerminal as _};
    if yes {
        return Ok(());
    }
    let stdin = std::io::stdin();
    if !stdin.is_terminal() {
        return Err(Failure::new(
            format!("{what} Nothing was done: nobody can be asked here"),
            "give `--yes` if you are sure",
        ));
    }
    say(what);
    say("Type `yes` to go on:");
    let mut answer = String::new();
    let read = stdin.lock().read_line(&mut answer);
    if read.is_ok() && answer.trim() == "yes" {
        return Ok(());
    }
    Err(Failure::new(
        "nothing was done: the answer was not `yes`",
        "run it again",
    ))
}

/// Does a change of keys, which must not fall into the second in which something was signed; that second is waited out.
fn at_a_free_moment<T>(
    mut change: impl FnMut(&mut Surroundings<'_>) -> Result<T, WorkshopError>,
) -> Result<T, Failure> {
    let mut waited = false;
    loop {
        let outcome = surroundings::with(|around| Ok(change(around)))?;
        match outcome {
            Err(WorkshopError::Keys(KeysError::TooSoon { .. })) if !waited => {
                waited = true;
                sleep(Duration::from_millis(1100));
            }
            outcome => return Ok(outcome?),
        }
    }
}
