//! `tangmark handover`.

mod receive;
mod summary;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use clap::{Args, Subcommand, ValueEnum};
use serde::Serialize;
use tangmark_workshop::handover::{
    Giver, HandOverSummary, HandOverWish, PhotoWish, Progress, ReportWanted, is_zip, left_behind,
    package_name,
};
use tangmark_workshop::{Workshop, WorkshopError};

use crate::interrupt;
use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::papers::{Language, PaperName, tell_fonts};
use crate::passphrase;
use crate::show::{self, say};
use crate::surroundings;

/// Exit code where something is rejected or to be confirmed by whoever is to rely on it.
const TO_BE_CONFIRMED: u8 = 2;

/// Hand a blade over, as one package that anyone can check; or receive one
///
/// The package holds every record of the blade, photos, a signed report, key histories, time evidence, the pages and tools
/// to check them, and a page for the browser. It is a folder or a zip file; a zip file of the same things has the same
/// bytes. Nothing that is there already is overwritten.
///
/// What the records withhold stays withheld, unless you name it with `--reveal`: a place is meant in every record that
/// withholds something there, `2:PLACE` in record 2 alone. Look at it first with `--dry-run`.
///
/// What is packed is judged first, by every key history that is known here: what a receiver would reject or has to confirm
/// is told, such as a record under a key that was revoked since.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:
  tangmark handover reed --dry-run                       what would go in, shown or withheld
  tangmark handover reed --zip                           out/reed-handover.zip
  tangmark handover reed --reveal agreement.owner.name --out to-the-owner
  tangmark handover reed --reveal 2:custody[0].price     of record 2 alone
  tangmark handover reed --photos copies --report out/reed-02-after_work.pdf --zip
  tangmark handover receive reed-handover.zip

Exit codes:
  0  packed, or shown with `--dry-run`
  1  not packed, and nothing is left of it
  2  packed or shown, and a receiver would reject something of it or has to confirm it
  4  the command line is not understood"
)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    verb: Option<Verb>,
    #[command(flatten)]
    give: Give,
}

#[derive(Debug, Subcommand)]
enum Verb {
    Receive(receive::Arguments),
}

#[derive(Debug, Args)]
struct Give {
    /// Key of the blade
    #[arg(required = true)]
    blade: Option<String>,
    /// Folder to make, or zip file where the name ends in `.zip` [default: a name in `out/` of the workshop]
    #[arg(long, value_name = "PATH")]
    out: Option<PathBuf>,
    /// Make a zip file
    #[arg(long)]
    zip: bool,
    /// Show a withheld value, named by its place such as `agreement.owner.name`; `agreement` names all below it, `all`
    /// every one, `2:agreement` those of record 2 alone (can be repeated)
    #[arg(long, value_name = "PLACE")]
    reveal: Vec<String>,
    /// Which photo files go in [default: the original where it carries nothing beside the picture, else the copy that the
    /// record names]. Originals that a record keeps private never go. The report shows pictures all the same: leave it out
    /// with `--report none`
    #[arg(long, value_enum)]
    photos: Option<PhotosName>,
    /// A report of the blade to put in, or `none` [default: made of the newest record, with the same values shown]
    #[arg(long, value_name = "FILE|none")]
    report: Option<PathBuf>,
    /// Language of a report that is made
    #[arg(long, value_enum, default_value_t = Language::En)]
    language: Language,
    /// Paper of a report that is made
    #[arg(long, value_enum, default_value_t = PaperName::A4)]
    paper: PaperName,
    /// Only say what would go in; write nothing
    #[arg(long)]
    dry_run: bool,
    /// Folder of the keys you remember, whose histories may say more [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    memory: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum PhotosName {
    /// The originals, whatever they carry
    Originals,
    /// The copies that the record names
    Copies,
    /// None; the report still shows pictures, unless you give `--report none`
    None,
}

/// The answer as JSON.
#[derive(Serialize)]
struct Answer<'a> {
    /// Where the package is; none after `--dry-run`.
    out: Option<&'a Path>,
    #[serde(flatten)]
    summary: &'a HandOverSummary,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    match &arguments.verb {
        Some(Verb::Receive(arguments)) => receive::run(arguments, workshop),
        None => give(&arguments.give, workshop),
    }
}

fn give(arguments: &Give, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let blade = arguments.blade.as_deref().unwrap_or_default();
    let wish = HandOverWish {
        reveal: arguments.reveal.clone(),
        photos: match arguments.photos {
            None => PhotoWish::Careful,
            Some(PhotosName::Originals) => PhotoWish::Originals,
            Some(PhotosName::Copies) => PhotoWish::Copies,
            Some(PhotosName::None) => PhotoWish::None,
        },
        report: match &arguments.report {
            None => ReportWanted::Newest,
            Some(file) if file.as_os_str() == "none" => ReportWanted::None,
            Some(file) => ReportWanted::File(file.clone()),
        },
        speech: arguments.language.into(),
        paper: arguments.paper.into(),
    };
    let target = target(arguments, &workshop, blade)?;
    let memory = arguments.memory.clone().or_else(surroundings::data_folder);
    let giver = Giver {
        memory: memory.as_deref(),
        now: &surroundings::now()?,
    };
    let mut prepared = workshop.prepare_handover(blade, &wish, &giver, None)?;
    tell_left_behind(&target);
    if arguments.dry_run {
        return tell(arguments, prepared.summary(), None);
    }
    // Before the passphrase is asked for and the report is made.
    if std::fs::symlink_metadata(&target).is_ok() {
        return Err(WorkshopError::Exists(target).into());
    }
    if prepared.summary().report_to_be_made() {
        let passphrase = arguments.passphrase.existing()?;
        let mut press = workshop.press(passphrase.as_bytes())?;
        tell_fonts(press.refused_fonts(), "");
        prepared = workshop.prepare_handover(blade, &wish, &giver, Some(&mut press))?;
    }
    let mut told = show::progress("kilobytes packed");
    let ended = interrupt::watch()?;
    let written = prepared.write(&target, &mut |at: Progress| {
        told(at.bytes / 1000, at.bytes_in_all / 1000);
        if ended.load(Ordering::Relaxed) {
            return ControlFlow::Break(());
        }
        ControlFlow::Continue(())
    })?;
    if let Some(why) = written.not_flushed {
        say(&show::plain(&format!(
            "note: the package is written, but a power failure could still take it: {why}"
        )));
    }
    tell(arguments, prepared.summary(), Some(&target))
}

/// Names what hand-overs that were killed left where this one goes.
fn tell_left_behind(target: &Path) {
    for path in left_behind(target) {
        let path = show::plain(&path.display().to_string());
        say(&format!(
            "note: {path}: part of a package, in the clear, from a hand-over that was killed or is still under way"
        ));
        say(&format!(
            "hint: when none is under way, remove it with `rm -r '{}'`",
            path.replace('\'', "'\\''")
        ));
    }
}

/// Where the package goes.
fn target(arguments: &Give, workshop: &Workshop, blade: &str) -> Result<PathBuf, Failure> {
    let Some(out) = &arguments.out else {
        let name = package_name(blade);
        let name = if arguments.zip {
            format!("{name}.zip")
        } else {
            name
        };
        return Ok(workshop.out_folder().join(name));
    };
    if arguments.zip && !is_zip(out) {
        return Err(Failure::usage(
            format!("{}: a zip file whose name ends otherwise", out.display()),
            format!("name it `--out {}.zip`", out.display()),
        ));
    }
    Ok(out.clone())
}

fn tell(arguments: &Give, summary: &HandOverSummary, out: Option<&Path>) -> Outcome {
    if arguments.json {
        print_json(&Answer { out, summary })?;
    } else {
        print(&summary::text(summary, out))?;
    }
    Ok(if summary.judged.is_clear() {
        code::GOOD
    } else {
        TO_BE_CONFIRMED
    })
}
