//! `tangmark photo`.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tangmark_workshop::record::Key;
use tangmark_workshop::{ComparedPhoto, PhotoVerdict};

use crate::outcome::{Outcome, code, print, print_json};
use crate::show;
use crate::surroundings;

/// Tell which photo of a sealed record a file is, and how it differs
///
/// A file that the record names is found by its digest. Of another JPEG file it is told whether its picture data, its
/// pixels, its orientation or only what stands beside them differ, as far as the record and the files kept in the
/// workshop can tell. A file may have up to 256 MiB.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark photo reed IMG_0412.jpg
  tangmark photo reed IMG_0412.jpg --photo before --record 1
  tangmark photo reed IMG_0412.jpg --json

Exit codes:
  0  the very file that the record names, or the copy made from it
  1  another picture or a changed one, or the comparison could not be made
  4  the command line is not understood")]
pub(crate) struct Arguments {
    /// Key of the blade
    blade: String,
    /// The photo file
    file: PathBuf,
    /// Number of the record in the blade's chain [default: the newest]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    record: Option<u32>,
    /// Key of the photo to compare with [default: the one that the file is like most]
    #[arg(long, value_name = "KEY")]
    photo: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// The answer as JSON.
#[derive(Serialize)]
struct Answer<'a> {
    file: &'a Path,
    blade: &'a str,
    record: String,
    sequence: u64,
    photo: Option<&'a str>,
    same: bool,
    verdict: &'a str,
    says: &'a str,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let compared = workshop.compare_photo(
        &arguments.blade,
        arguments.record,
        arguments.photo.as_deref(),
        &arguments.file,
    )?;
    let verdict = compared.verdict.as_ref();
    let same = verdict.is_some_and(PhotoVerdict::is_same);
    let says = says(&compared);
    if arguments.json {
        print_json(&Answer {
            file: &arguments.file,
            blade: &arguments.blade,
            record: compared.record.to_string(),
            sequence: compared.sequence,
            photo: compared.photo.as_ref().map(Key::as_str),
            same,
            verdict: verdict.map_or("no_photos", PhotoVerdict::word),
            says: &says,
        })?;
    } else {
        let file = arguments.file.display().to_string();
        print(&format!("{}: {says}\n", show::plain(&file)))?;
    }
    Ok(if same { code::GOOD } else { code::FAILED })
}

fn says(compared: &ComparedPhoto) -> String {
    let number = compared.sequence;
    match (&compared.photo, &compared.verdict) {
        (_, None) => format!("record {number} names no photo"),
        (Some(key), Some(verdict)) => {
            format!("beside photo `{key}` of record {number}: {verdict}")
        }
        (None, Some(verdict @ PhotoVerdict::Unreadable(_))) => {
            format!("beside the photos of record {number}: {verdict}")
        }
        (None, Some(_)) => format!(
            "is like none of the photos that record {number} names ({}): it is another picture, or was cut, made smaller or \
             saved again with a loss",
            show::counted(compared.photos, "photo")
        ),
    }
}
