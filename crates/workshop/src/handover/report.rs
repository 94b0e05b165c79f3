//! The report in a package.

use std::fs;
use std::path::Path;

use tangmark_core::sheet::dotted;
use tangmark_package::write::Content;
use tangmark_report::Kind;
use tangmark_store::{Role, Store as _};
use tangmark_trust::pdf::{self, PdfJudgement};
use tangmark_trust::withhold::{self, Disclosure};

use super::gather::Shown;
use super::{HandOverError, HandOverSummary, HandOverWish, PackedReport, ReportWanted};
use crate::{Press, ReportWish, Workshop, WorkshopError};

/// Longest report that is packed, in bytes: what one can verify.
const LONGEST: u64 = 64 << 20;

/// Adds the report, or says that it is to be made.
pub(super) fn add(
    workshop: &Workshop,
    blade: &str,
    records: &[Shown],
    wish: &HandOverWish,
    press: Option<&mut Press<'_>>,
    content: &mut Content,
    summary: &mut HandOverSummary,
) -> Result<(), WorkshopError> {
    let Some(newest) = records.last() else {
        return Ok(());
    };
    match &wish.report {
        ReportWanted::None => Ok(()),
        ReportWanted::File(file) => {
            let bytes = read(file)?;
            let shown = fitting(file, &bytes, records)?;
            let path = match file.file_name().and_then(|name| name.to_str()) {
                Some(name) if is_name(name) => format!("data/reports/{name}"),
                _ => path_of(blade, shown),
            };
            pack(path, shown, bytes, content, summary)
        }
        ReportWanted::Newest if workshop.is_own(&newest.kept.record)? => {
            let path = path_of(blade, newest);
            let Some(press) = press else {
                summary.reports.push(PackedReport {
                    file: path,
                    sequence: newest.kept.record.sequence,
                    to_be_made: true,
                });
                return Ok(());
            };
            let wish = ReportWish {
                sequence: Some(newest.kept.record.sequence),
                paper: wish.paper,
                kind: Kind::Condition,
                speech: wish.speech,
                reveal: Vec::new(),
            };
            let made = press.make(blade, &newest.kept, &wish, &newest.chosen)?;
            pack(path, newest, made.bytes, content, summary)
        }
        // Sealed elsewhere: what came with it and shows no more than is to be shown goes on.
        ReportWanted::Newest => {
            let attached = workshop.store().attachments(&newest.kept.row.name)?;
            let reports = attached.iter().filter(|one| one.role == Role::Report);
            for (index, attachment) in reports.enumerate() {
                let bytes = workshop.store().object(&attachment.object)?;
                let path = path_of(blade, newest);
                if fitting(Path::new(&path), &bytes, records).is_ok() {
                    let path = match index {
                        0 => path,
                        more => path.replace(".pdf", &format!("-{}.pdf", more + 1)),
                    };
                    pack(path, newest, bytes, content, summary)?;
                }
            }
            Ok(())
        }
    }
}

fn path_of(blade: &str, shown: &Shown) -> String {
    let row = &shown.kept.row;
    format!(
        "data/reports/{blade}-{:02}-{}.pdf",
        row.sequence, row.purpose
    )
}

/// Whether a file name can stand in a package as it is.
fn is_name(name: &str) -> bool {
    let sign =
        |byte: &u8| byte.is_ascii_lowercase() || byte.is_ascii_digit() || b"._-".contains(byte);
    let Some(stem) = name.strip_suffix(".pdf") else {
        return false;
    };
    (1..=80).contains(&stem.len())
        && stem.bytes().all(|byte| sign(&byte))
        && stem.as_bytes()[0].is_ascii_alphanumeric()
}

fn pack(
    path: String,
    shown: &Shown,
    bytes: Vec<u8>,
    content: &mut Content,
    summary: &mut HandOverSummary,
) -> Result<(), WorkshopError> {
    content.add_bytes(path.clone(), bytes)?;
    summary.reports.push(PackedReport {
        file: path,
        sequence: shown.kept.record.sequence,
        to_be_made: false,
    });
    Ok(())
}

fn read(file: &Path) -> Result<Vec<u8>, WorkshopError> {
    let fail = |error| WorkshopError::file("read", file, error);
    let length = fs::metadata(file).map_err(fail)?.len();
    if length > LONGEST {
        return Err(HandOverError::Report {
            file: file.to_owned(),
            what: format!("{length} bytes, at most {LONGEST} bytes are allowed"),
        }
        .into());
    }
    fs::read(file).map_err(fail)
}

/// Finds the record that a report shows; it must be unaltered, of one of the records, and show nothing that is not shown
/// beside it.
fn fitting<'r>(
    file: &Path,
    bytes: &[u8],
    records: &'r [Shown],
) -> Result<&'r Shown, HandOverError> {
    let refused = |what: String| HandOverError::Report {
        file: file.to_owned(),
        what,
    };
    let examined = pdf::examine(bytes);
    if examined.judgement != PdfJudgement::Unaltered {
        let why = examined.problems.first().map(ToString::to_string);
        return Err(refused(format!(
            "no report as it was signed: {}",
            why.unwrap_or_else(|| "nothing can be said of it".to_owned())
        )));
    }
    let embedded = examined.record_bytes.unwrap_or_default();
    let shown = records
        .iter()
        .find(|shown| shown.kept.bytes == embedded)
        .ok_or_else(|| refused("its record is none of this blade's chain".to_owned()))?;
    let disclosed: Vec<Disclosure> = match &examined.disclosures_bytes {
        None => Vec::new(),
        Some(bytes) => withhold::parse_file(bytes).map_err(|error| refused(error.to_string()))?,
    };
    let places: Vec<String> = disclosed
        .iter()
        .filter(|one| !shown.chosen.contains(one))
        .map(|one| dotted(&one.path))
        .collect();
    if !places.is_empty() {
        return Err(HandOverError::ReportShows {
            file: file.to_owned(),
            places,
        });
    }
    Ok(shown)
}
