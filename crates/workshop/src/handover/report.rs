//! The report in a package.

use std::path::Path;

use tangmark_package::write::Content;
use tangmark_report::Kind;
use tangmark_store::{Role, Store as _};
use tangmark_trust::pdf::{self, PdfJudgement};
use tangmark_trust::withhold::{self, Disclosure};

use super::gather::Shown;
use super::{
    HandOverError, HandOverSummary, HandOverWish, PackedReport, ReportLeftOut, ReportWanted,
};
use crate::{Press, ReportWish, Workshop, WorkshopError, input, reveal};

/// Longest report that is packed, in bytes: what one can verify.
const LONGEST: u64 = 64 << 20;

/// Adds the report, or says that it is to be made. Returns whether it was made just now.
pub(super) fn add(
    workshop: &Workshop,
    blade: &str,
    records: &[Shown],
    wish: &HandOverWish,
    press: Option<&mut Press<'_>>,
    content: &mut Content,
    summary: &mut HandOverSummary,
) -> Result<bool, WorkshopError> {
    let Some(newest) = records.last() else {
        return Ok(false);
    };
    match &wish.report {
        ReportWanted::None => {}
        ReportWanted::File(file) => {
            let bytes = read(file)?;
            let shown = fitting(file, &bytes, records)?;
            // Its own name may say what the package does not show.
            pack(path_of(blade, shown), shown, bytes, content, summary)?;
        }
        ReportWanted::Newest if workshop.is_own(&newest.kept.record)? => {
            let path = path_of(blade, newest);
            let Some(press) = press else {
                workshop
                    .may_sign()
                    .map_err(|error| HandOverError::cannot_sign(&error))?;
                summary.reports.push(PackedReport {
                    file: path,
                    sequence: newest.kept.record.sequence,
                    to_be_made: true,
                });
                return Ok(false);
            };
            let wish = ReportWish {
                sequence: Some(newest.kept.record.sequence),
                paper: wish.paper,
                kind: Kind::Condition,
                speech: wish.speech,
                ..ReportWish::default()
            };
            let made = press.make(blade, &newest.kept, &wish, &newest.chosen)?;
            pack(path, newest, made.bytes, content, summary)?;
            return Ok(true);
        }
        // Sealed elsewhere: what came with it and shows no more than is to be shown goes on.
        ReportWanted::Newest => {
            let attached = workshop.store().attachments(&newest.kept.row.name)?;
            let reports = attached.iter().filter(|one| one.role == Role::Report);
            let mut packed = 0;
            for attachment in reports {
                let bytes = workshop.store().object(&attachment.object)?;
                let path = path_of(blade, newest);
                match fitting(Path::new(&path), &bytes, records) {
                    Ok(shown) => {
                        packed += 1;
                        let path = match packed {
                            1 => path,
                            more => path.replace(".pdf", &format!("-{more}.pdf")),
                        };
                        pack(path, shown, bytes, content, summary)?;
                    }
                    Err(error) => summary.reports_left_out.push(ReportLeftOut {
                        sequence: newest.kept.record.sequence,
                        hint: error.hint(),
                        why: match error {
                            HandOverError::Report { what, .. } => what,
                            other => other.to_string(),
                        },
                    }),
                }
            }
        }
    }
    Ok(false)
}

fn path_of(blade: &str, shown: &Shown) -> String {
    let row = &shown.kept.row;
    format!(
        "data/reports/{blade}-{:02}-{}.pdf",
        row.sequence, row.purpose
    )
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
    let bytes = input::up_to(file, LONGEST)?;
    if bytes.len() as u64 > LONGEST {
        return Err(HandOverError::Report {
            file: file.to_owned(),
            what: format!("more than {LONGEST} bytes, at most {LONGEST} bytes are allowed"),
        }
        .into());
    }
    Ok(bytes)
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
    let sequence = shown.kept.record.sequence;
    let places: Vec<String> = disclosed
        .iter()
        .filter(|one| !shown.chosen.contains(one))
        .map(|one| reveal::name_of(sequence, &one.path))
        .collect();
    if !places.is_empty() {
        return Err(HandOverError::ReportShows {
            file: file.to_owned(),
            places,
        });
    }
    Ok(shown)
}
