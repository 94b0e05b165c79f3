//! Backup and restore of the key files.

use std::path::{Path, PathBuf};

use clap::Args;
use tangmark_workshop::{Workshop, keys};
use zeroize::Zeroizing;

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::passphrase;
use crate::show::{self, say};
use crate::surroundings;

/// Copy the encrypted key files, the key history and the card into a new folder, or check such a copy
///
/// Nothing is ever written over. The copy holds no passphrase and no recovery secret. `sha256sum -c manifest-sha256.txt`
/// in it finds damage.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark key backup /media/stick/keys-2026
  tangmark key backup --check /media/stick/keys-2026

Exit codes: 0 good; with --check 1 when it is damaged, behind the workshop, or a key does not open.")]
pub(super) struct BackupArguments {
    /// Folder of the copy; new or empty, but for `--check`
    dir: PathBuf,
    /// Write nothing: check the digests, open every key, and compare with the workshop
    #[arg(long)]
    check: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
    /// Read the passphrase of an older key from a file of one line (can be repeated); without it you are asked
    #[arg(long, value_name = "PATH", requires = "check")]
    old_passphrase_file: Vec<PathBuf>,
}

/// Bring the key files back from a backup, into a workshop whose keys are gone or whose index was made anew
///
/// Where the computer is gone, name a new or empty folder with `--workshop`: it becomes the workshop again, with its name
/// and keys; records come back from packages with `tangmark handover receive`. Use the newest backup: one from before a
/// change of keys would bring the older key back. A file that is there with other bytes is never written over, and a key
/// history that disagrees is refused; nothing is written then.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark key restore /media/stick/keys-2026
  tangmark --workshop my-workshop key restore /media/stick/keys-2026")]
pub(super) struct RestoreArguments {
    /// Folder that `tangmark key backup` made
    dir: PathBuf,
    /// A key that sealed records here under the workshop's name belongs to somebody else (can be repeated)
    #[arg(long, value_name = "FINGERPRINT")]
    not_mine: Vec<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn backup(arguments: &BackupArguments, workshop: &Workshop) -> Outcome {
    if arguments.check {
        return check(arguments, workshop);
    }
    let made = workshop.backup_keys(&arguments.dir)?;
    if arguments.json {
        print_json(&made)?;
    } else {
        print(&format!("{}\n", made.folder.display()))?;
        say(&format!(
            "{} copied with {}; check it with `tangmark key backup --check {}`",
            show::counted(made.keys.len(), "key"),
            show::counted(made.files - made.keys.len(), "other file"),
            show::plain(&arguments.dir.display().to_string())
        ));
    }
    Ok(code::GOOD)
}

fn check(arguments: &BackupArguments, workshop: &Workshop) -> Outcome {
    // Given ones first; then whoever sits at the terminal is asked for each key that is still closed.
    let mut given: Vec<Zeroizing<String>> = Vec::new();
    let files = arguments.passphrase.file().into_iter();
    for file in files.chain(arguments.old_passphrase_file.iter().map(PathBuf::as_path)) {
        given.push(passphrase::secret(Some(file), "", "--passphrase-file")?);
    }
    let ask = given.is_empty();
    let mut failure: Option<Failure> = None;
    let found = workshop.check_backup(&arguments.dir, &given, &mut |fingerprint| {
        if !ask || failure.is_some() {
            return None;
        }
        match passphrase::secret(
            None,
            &format!("Passphrase of the key {fingerprint}: "),
            "--passphrase-file",
        ) {
            Ok(words) => Some(words),
            Err(error) => {
                failure = Some(error);
                None
            }
        }
    })?;
    if let Some(failure) = failure {
        return Err(failure);
    }
    let good = found.behind.is_empty() && found.keys.iter().all(|key| key.opened);
    if arguments.json {
        print_json(&found)?;
    } else {
        let mut rows: Vec<Vec<String>> = Vec::new();
        for key in &found.keys {
            let opened = if key.opened { "opens" } else { "does not open" };
            rows.push(vec![
                key.fingerprint.clone(),
                show::plain(&key.file_name),
                opened.to_owned(),
            ]);
        }
        print(&format!(
            "{} with their digests\n{}",
            show::counted(found.files, "file"),
            show::table(&rows)
        ))?;
        for key in found.keys.iter().filter(|key| !key.opened) {
            say(&format!(
                "error: the key {} opens with no passphrase that was given",
                key.fingerprint
            ));
            say(
                "hint: give its passphrase with `--old-passphrase-file PATH`; an older key may have another one",
            );
        }
        for what in &found.behind {
            say(&format!("error: the backup is behind the workshop: {what}"));
            say("hint: make a new one with `tangmark key backup DIR`");
        }
    }
    Ok(if good { code::GOOD } else { code::FAILED })
}

pub(super) fn restore(arguments: &RestoreArguments, workshop: Option<&Path>) -> Outcome {
    let place = surroundings::find(workshop).ok_or_else(|| {
        Failure::new(
            "no workshop: the current folder holds no `workshop.db`",
            "name its folder with `--workshop DIR`; a new or empty one becomes the workshop again",
        )
    })?;
    let restored = keys::restore(&keys::Restore {
        folder: &place.folder,
        backup: &arguments.dir,
        not_mine: &arguments.not_mine,
    })?;
    if arguments.json {
        print_json(&restored)?;
        return Ok(code::GOOD);
    }
    for file in &restored.written {
        print(&format!("keys/{}\n", show::plain(file)))?;
    }
    say(&format!(
        "{} written, {} there already; the key in force is {}",
        show::counted(restored.written.len(), "file"),
        restored.there.len(),
        restored.fingerprint
    ));
    if restored.made {
        say(&format!(
            "made the workshop in {}; approve the plugins with `tangmark plugin approve --shipped`, write the card with `tangmark key card`",
            show::plain(&place.folder.display().to_string())
        ));
    }
    Ok(code::GOOD)
}
