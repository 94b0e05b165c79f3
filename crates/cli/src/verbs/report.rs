//! `tangmark report`.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde::Serialize;
use tangmark_workshop::{Kind, ReportFile, ReportWish, Workshop, WorkshopError};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::papers::{Language, PaperName, tell_fonts, tell_missing};
use crate::passphrase;
use crate::progress::Progress;
use crate::show::{self, say};
use crate::surroundings;

/// Make the signed PDF of a sealed record, or of many
///
/// The record itself is embedded in the PDF, so that one file can be verified whole. An existing file is never
/// overwritten. Of several reports each is made and written by itself: one that fails is told at the end and keeps
/// none of the others back, and a run that was interrupted goes on with `--skip-existing`.
///
/// Fonts in `fonts/` of the workshop (.ttf, .otf, .ttc) draw what those of this program do not have.
///
/// What a record withholds stays withheld, unless you name it with `--reveal`: the value then stands on the pages, and
/// its disclosure is embedded beside the record, so that everybody who gets the file can check it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark report reed
  tangmark report reed --record 1 --paper letter --out reed-first.pdf
  tangmark report reed --kind buyer --language both --reveal custody
  tangmark report --all --kind identification --out sheets/
  tangmark report --all --skip-existing                  go on after an interruption

Exit codes:
  0  every report was made, or was there already with `--skip-existing`
  1  one report or more could not be made; the others are made
  4  the command line is not understood")]
pub(crate) struct Arguments {
    /// Keys of the blades
    #[arg(
        value_name = "BLADE",
        required_unless_present = "all",
        conflicts_with = "all"
    )]
    blades: Vec<String>,
    /// Every blade that has a sealed record
    #[arg(long)]
    all: bool,
    /// Number of the record in the blade's chain [default: the newest]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    record: Option<u32>,
    /// Paper
    #[arg(long, value_enum, default_value_t = PaperName::A4)]
    paper: PaperName,
    /// What the report is for
    #[arg(long, value_enum, default_value_t = KindName::Condition)]
    kind: KindName,
    /// Number of the earlier record that a comparison goes back to [default: the state before work]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    against: Option<u32>,
    /// Language
    #[arg(long, value_enum, default_value_t = Language::En)]
    language: Language,
    /// Show a withheld value, named by its place such as `agreement.owner.name`; `agreement` names all below it, `all`
    /// every one (can be repeated; for one blade at a time)
    #[arg(long, value_name = "PLACE", conflicts_with = "all")]
    reveal: Vec<String>,
    /// File to write; of several reports, or where PATH is a folder or ends in `/`, the folder to write them to
    /// [default: `out/` of the workshop]
    #[arg(long, value_name = "PATH")]
    out: Option<PathBuf>,
    /// Leave out reports whose file is there already; without it nothing is made when one is. Not with `--reveal`: the
    /// name of a file does not tell which values it shows
    #[arg(long, conflicts_with = "reveal")]
    skip_existing: bool,
    /// Print JSON; of several reports one line each, as soon as it is made
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum KindName {
    /// Everything the record says, what matters first
    Condition,
    /// Before and after: what changed, and whether that is more than its uncertainty
    Comparison,
    /// For whoever takes the blade over
    Buyer,
    /// For a senior specialist, with a receipt for the custody
    Referral,
    /// A page to tell the blade by; two when both languages are full
    Identification,
    /// Labels to cut out
    Labels,
    /// How to keep the blade
    Care,
    /// What a parcel holds, for the customs office and the carrier
    Customs,
    /// What changed hands, to be signed by hand by both
    Receipt,
}

impl From<KindName> for Kind {
    fn from(name: KindName) -> Self {
        match name {
            KindName::Condition => Self::Condition,
            KindName::Comparison => Self::Comparison,
            KindName::Buyer => Self::Buyer,
            KindName::Referral => Self::Referral,
            KindName::Identification => Self::Identification,
            KindName::Labels => Self::Labels,
            KindName::Care => Self::Care,
            KindName::Customs => Self::Customs,
            KindName::Receipt => Self::Receipt,
        }
    }
}

/// A line of JSON on a report that was not made.
#[derive(Serialize)]
struct NotMade<'a> {
    blade: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    file: Option<&'a Path>,
    skipped: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hint: Option<String>,
}

/// What is to be done for one blade.
struct Task<'a> {
    blade: &'a str,
    file: PathBuf,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let wish = ReportWish {
        sequence: arguments.record,
        paper: arguments.paper.into(),
        kind: arguments.kind.into(),
        against: arguments.against,
        speech: arguments.language.into(),
        reveal: arguments.reveal.clone(),
    };
    if arguments.against.is_some() && wish.kind != Kind::Comparison {
        return Err(Failure::usage(
            "--against goes with `--kind comparison`, another kind shows one record",
            "add `--kind comparison`, or leave `--against` out",
        ));
    }
    if let ([blade], false) = (arguments.blades.as_slice(), arguments.all) {
        return one(arguments, &workshop, blade, &wish);
    }
    if !arguments.reveal.is_empty() {
        return Err(Failure::usage(
            "--reveal goes with one blade, several are named",
            "make the report of each blade by itself; see `tangmark report --help`",
        ));
    }
    let blades = blades(arguments, &workshop)?;
    many(arguments, &workshop, &blades, &wish)
}

/// Whether a path is a folder, or is named as one.
fn is_folder(path: &Path) -> bool {
    path.is_dir() || path.as_os_str().as_encoded_bytes().ends_with(b"/")
}

fn one(arguments: &Arguments, workshop: &Workshop, blade: &str, wish: &ReportWish) -> Outcome {
    let file = match &arguments.out {
        Some(path) if !is_folder(path) => path.clone(),
        Some(folder) => workshop.report_file(blade, wish, folder)?,
        None => workshop.report_file(blade, wish, &workshop.out_folder())?,
    };
    if file.exists() {
        if arguments.skip_existing {
            return skipped(arguments, blade, &file).map(|()| code::GOOD);
        }
        return Err(WorkshopError::Exists(file).into());
    }
    let passphrase = arguments.passphrase.existing()?;
    let mut press = workshop.press(passphrase.as_bytes())?;
    tell_fonts(press.refused_fonts(), "");
    let made = press.report(blade, wish, &file)?;
    if arguments.json {
        print_json(&made)?;
        return Ok(code::GOOD);
    }
    print(&format!("{}\n", made.file.display()))?;
    say(&format!(
        "{} of record {}, signed",
        show::counted(made.pages, "page"),
        made.record
    ));
    notes(&made, "");
    Ok(code::GOOD)
}

/// Says what the reader of a report will miss, or gets to see.
fn notes(made: &ReportFile, of: &str) {
    tell_missing(made.missing.iter().copied(), "printed", of);
    tell_fonts(&made.refused_fonts, of);
    for digest in &made.absent_photos {
        say(&format!(
            "note: {of}photo {digest} is named by the record and not kept here; the report says so"
        ));
    }
    if !made.revealed.is_empty() {
        let places: Vec<String> = made
            .revealed
            .iter()
            .map(|place| show::dotted(place))
            .collect();
        say(&format!(
            "note: {of}shows what the record withholds: {}; whoever gets the file can read it",
            places.join(", ")
        ));
    }
}

/// The blades meant: those named, each once, or all with a sealed record.
fn blades(arguments: &Arguments, workshop: &Workshop) -> Result<Vec<String>, Failure> {
    if !arguments.all {
        let mut blades: Vec<String> = Vec::new();
        for blade in &arguments.blades {
            if !blades.contains(blade) {
                blades.push(blade.clone());
            }
        }
        return Ok(blades);
    }
    let (mut sealed, mut drafts) = (Vec::new(), 0);
    for blade in workshop.blade_keys()? {
        if workshop.has_record(&blade)? {
            sealed.push(blade);
        } else {
            drafts += 1;
        }
    }
    if drafts > 0 {
        let drafts = show::counted(drafts, "blade");
        say(&format!("note: {drafts} without a sealed record left out"));
    }
    Ok(sealed)
}

fn many(
    arguments: &Arguments,
    workshop: &Workshop,
    blades: &[String],
    wish: &ReportWish,
) -> Outcome {
    let folder = match &arguments.out {
        Some(path) if path.exists() && !path.is_dir() => {
            return Err(Failure::new(
                format!(
                    "{}: a file, a folder is needed for several reports",
                    path.display()
                ),
                "name a folder with `--out DIR`; it is made when missing",
            ));
        }
        Some(path) => path.clone(),
        None => workshop.out_folder(),
    };
    let mut failures: Vec<(&str, Failure)> = Vec::new();
    let (mut tasks, mut there) = (Vec::new(), Vec::new());
    for blade in blades {
        match workshop.report_file(blade, wish, &folder) {
            Ok(file) if file.exists() => there.push(Task { blade, file }),
            Ok(file) => tasks.push(Task { blade, file }),
            Err(error) => failures.push((blade, error.into())),
        }
    }
    match there.first() {
        Some(first) if !arguments.skip_existing => {
            let more = match there.len() - 1 {
                0 => String::new(),
                more => format!(", and {more} more"),
            };
            return Err(Failure::new(
                format!(
                    "{} exists already{more}; nothing was made",
                    first.file.display()
                ),
                "leave out what is there with `--skip-existing`, or name another folder with `--out DIR`",
            ));
        }
        _ => {}
    }
    let mut told = Told::default();
    for task in &there {
        told.keep(skipped(arguments, task.blade, &task.file));
    }
    let mut made = 0;
    if !tasks.is_empty() {
        let passphrase = arguments.passphrase.existing();
        let press = passphrase.and_then(|passphrase| Ok(workshop.press(passphrase.as_bytes())?));
        let mut press = match press {
            Ok(press) => press,
            Err(failure) => {
                // What is known to fail already would be found out only at the next try.
                tell_failures(arguments, &failures, &mut told);
                return Err(failure);
            }
        };
        tell_fonts(press.refused_fonts(), "");
        let mut progress = Progress::new("reports", tasks.len(), arguments.json);
        for task in tasks {
            match press.report(task.blade, wish, &task.file) {
                Ok(report) => {
                    made += 1;
                    progress.clear();
                    told.keep(tell(arguments, &report));
                }
                Err(error) => failures.push((task.blade, error.into())),
            }
            progress.step();
        }
        progress.clear();
    }
    finish(arguments, made, there.len(), &failures, told)
}

/// The first failure to write to standard output: the reports are made nevertheless, and it is told at the end.
#[derive(Default)]
struct Told(Option<Failure>);

impl Told {
    fn keep(&mut self, outcome: Result<(), Failure>) {
        if let (None, Err(failure)) = (&self.0, outcome) {
            self.0 = Some(failure);
        }
    }
}

/// Tells a report of several as soon as it is there.
fn tell(arguments: &Arguments, report: &ReportFile) -> Result<(), Failure> {
    if arguments.json {
        return line(report);
    }
    let printed = print(&format!("{}\n", report.file.display()));
    notes(report, &format!("{}: ", report.blade));
    printed
}

fn skipped(arguments: &Arguments, blade: &str, file: &Path) -> Result<(), Failure> {
    if arguments.json {
        return line(&NotMade {
            blade,
            file: Some(file),
            skipped: true,
            error: None,
            hint: None,
        });
    }
    say(&format!("{} is there already; left out", file.display()));
    Ok(())
}

/// One line of JSON.
fn line(value: &impl Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string(value).map_err(|error| {
        Failure::new(
            format!("no JSON can be made of it: {error}"),
            "leave `--json` out and report this",
        )
    })?;
    print(&format!("{text}\n"))
}

/// Tells what could not be made.
fn tell_failures(arguments: &Arguments, failures: &[(&str, Failure)], told: &mut Told) {
    for (blade, failure) in failures {
        if arguments.json {
            told.keep(line(&NotMade {
                blade,
                file: None,
                skipped: false,
                error: Some(failure.to_string()),
                hint: failure.hint().map(str::to_owned),
            }));
        }
        say(&format!(
            "error: {}: {}",
            show::plain(blade),
            show::plain(&failure.to_string())
        ));
        if let Some(hint) = failure.hint() {
            say(&format!("hint: {}", show::plain(hint)));
        }
    }
}

/// Says what came of it all.
fn finish(
    arguments: &Arguments,
    made: usize,
    there: usize,
    failures: &[(&str, Failure)],
    mut told: Told,
) -> Outcome {
    tell_failures(arguments, failures, &mut told);
    let left_out = match there {
        0 => String::new(),
        count => format!(", {count} there already"),
    };
    let failed = match failures.len() {
        0 => String::new(),
        count => format!(", {count} failed"),
    };
    say(&format!(
        "{} made{left_out}{failed}",
        show::counted(made, "report")
    ));
    match told.0 {
        Some(failure) => Err(failure),
        None if failures.is_empty() => Ok(code::GOOD),
        None => Ok(code::FAILED),
    }
}
