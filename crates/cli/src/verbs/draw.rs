//! `tangmark draw`.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use clap::Args;
use tangmark_workshop::{DRAWING_WIDTHS, DrawingWish, WorkshopError};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::papers::{Language, PaperName, tell_fonts, tell_missing};
use crate::show::say;
use crate::surroundings;

/// Draw a sealed record: faces, narrow sides, sections, curvature, tang, what went, as SVG files
///
/// Each drawing is made from the numbers of the record alone; what was not measured is dashed and said to be. What went
/// is shown against an earlier record of the blade. Only what the numbers allow is drawn. An existing file is never
/// overwritten.
///
/// With `--true-size` the blade is drawn as large as it is, on sheets of paper laid lengthwise that are to be printed
/// without scaling and laid together. The bar on each sheet must then measure 100 mm.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark draw reed
  tangmark draw reed --record 1 --out drawings --width 240 --language both
  tangmark draw reed --true-size --paper letter

Exit codes: 0 drawn; 1 nothing could be drawn or written; 4 the command line is not understood")]
pub(crate) struct Arguments {
    /// Key of the blade
    blade: String,
    /// Number of the record in the blade's chain [default: the newest]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    record: Option<u32>,
    /// Folder to write to; it is made when missing [default: `out/` of the workshop]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    #[arg(
        long,
        help = width_help(),
        value_name = "MM",
        default_value_t = 166.0,
        conflicts_with = "true_size"
    )]
    width: f64,
    /// Draw the blade in true size over several sheets instead
    #[arg(long)]
    true_size: bool,
    /// Paper of the sheets
    #[arg(long, value_enum, default_value_t = PaperName::A4, requires = "true_size")]
    paper: PaperName,
    /// Language
    #[arg(long, value_enum, default_value_t = Language::En)]
    language: Language,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

fn width_help() -> String {
    let [least, most] = DRAWING_WIDTHS;
    format!("Width of a drawing without its margins, {least} to {most} mm")
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let wish = DrawingWish {
        sequence: arguments.record,
        width: arguments.width,
        true_size: arguments.true_size.then_some(arguments.paper.into()),
        speech: arguments.language.into(),
    };
    if let Some(path) = arguments.out.as_ref().filter(|path| path.is_file()) {
        return Err(Failure::new(
            format!("{}: a file, a folder is needed", path.display()),
            "name a folder with `--out DIR`; it is made when missing",
        ));
    }
    let drawn = workshop
        .draw(&arguments.blade, &wish, arguments.out.as_deref())
        .map_err(|error| match error {
            // Here it is a folder that is named, not a file.
            WorkshopError::Exists(path) => Failure::new(
                format!("{} exists already; nothing was written", path.display()),
                "name another folder with `--out DIR`",
            ),
            other => other.into(),
        })?;
    tell_fonts(&drawn.refused_fonts, "");
    if arguments.json {
        print_json(&drawn.files)?;
        return Ok(code::GOOD);
    }
    for drawing in &drawn.files {
        print(&format!("{}\n", drawing.file.display()))?;
    }
    let missing: BTreeSet<char> = drawn
        .files
        .iter()
        .flat_map(|drawing| drawing.missing.iter().copied())
        .collect();
    tell_missing(missing, "drawn", "");
    if arguments.true_size {
        say("note: print without scaling; the bar on each sheet must measure 100 mm");
    }
    Ok(code::GOOD)
}
