//! The reports of a package, drawn again from the records in them.

use std::collections::BTreeMap;

use tangmark_package::judge::{PackageVerdict, ReportState};
use tangmark_package::open::Package;
use tangmark_trust::pdf::PDF_LIMIT;

use super::take_in;
use crate::WorkshopError;
use crate::rerender::{self, Pages};

/// Most bytes of earlier records that are read for one report, the nearest before its own first. A chain has some dozen
/// records of some dozen kilobytes.
const MOST_EARLIER: usize = 64 << 20;

/// Draws every report again whose bytes are those that were signed; the others have no pages to compare.
pub(super) fn drawn_again(
    package: &Package,
    verdict: &PackageVerdict,
) -> Result<BTreeMap<String, Pages>, WorkshopError> {
    let mut found = BTreeMap::new();
    for (file, report) in &verdict.reports {
        if matches!(
            report.state,
            ReportState::Altered | ReportState::CannotJudge
        ) {
            continue;
        }
        let bytes = take_in::read_up_to(package, file, PDF_LIMIT as u64)?;
        let own = report.record.as_ref();
        let number = own.and_then(|file| verdict.records.get(file)?.sequence);
        let earlier = match number {
            Some(number) => earlier(package, verdict, number)?,
            None => Vec::new(),
        };
        if let Some(pages) = rerender::pages(&bytes, &earlier) {
            found.insert(file.clone(), pages);
        }
    }
    Ok(found)
}

/// The records before a number, which pages may show; each is taken for what its name says, and the chain names it.
fn earlier(
    package: &Package,
    verdict: &PackageVerdict,
    number: u32,
) -> Result<Vec<Vec<u8>>, WorkshopError> {
    let mut before: Vec<(u32, &String)> = verdict
        .records
        .iter()
        .filter(|(_, one)| one.name.is_some())
        .filter_map(|(file, one)| Some((one.sequence.filter(|other| *other < number)?, file)))
        .collect();
    before.sort_unstable_by(|one, other| other.cmp(one));
    let (mut found, mut all) = (Vec::new(), 0);
    for (_, file) in before {
        let bytes = take_in::read(package, file)?;
        all += bytes.len();
        if all > MOST_EARLIER {
            break;
        }
        found.push(bytes);
    }
    Ok(found)
}
