//! `tangmark label`.

use std::path::{Path, PathBuf};

use clap::Args;
use tangmark_workshop::LabelWish;

use crate::outcome::{Outcome, code, print, print_json};
use crate::papers::{Language, PaperName, tell_fonts, tell_missing};
use crate::show::{self, say};
use crate::surroundings;

/// Print labels to tie on blades: key, title, stage and a code that any scanner reads
///
/// The code holds the key of the blade, the name of the workshop, the name of the newest record where one is sealed,
/// and the fingerprint of the signing key. A label is not signed and shows no record. Tie it to the wrapping or the
/// scabbard, not to bare steel.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark label reed gorge --out labels.pdf
  tangmark label --all-in-work --out labels.pdf --paper letter
  tangmark label reed --out reed-label.pdf --language both")]
pub(crate) struct Arguments {
    /// Keys of the blades
    #[arg(value_name = "BLADE", required_unless_present = "all_in_work")]
    blades: Vec<String>,
    /// Every blade in work, by key, after those that are named
    #[arg(long)]
    all_in_work: bool,
    /// PDF file to write; one that exists is not overwritten
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Paper
    #[arg(long, value_enum, default_value = "a4")]
    paper: PaperName,
    /// Language
    #[arg(long, value_enum, default_value = "en")]
    language: Language,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let wish = LabelWish {
        blades: &arguments.blades,
        all_in_work: arguments.all_in_work,
        out: &arguments.out,
        paper: arguments.paper.into(),
        speech: arguments.language.into(),
    };
    let made = surroundings::with(|around| Ok(workshop.labels(&wish, around)?))?;
    tell_fonts(&made.refused_fonts, "");
    tell_missing(made.missing.iter().copied(), "printed", "");
    if arguments.json {
        print_json(&made)?;
        return Ok(code::GOOD);
    }
    print(&format!("{}\n", made.file.display()))?;
    say(&format!(
        "{} on {}; print without scaling, cut out, tie on",
        show::counted(made.blades.len(), "label"),
        show::counted(made.pages, "page")
    ));
    Ok(code::GOOD)
}
