//! The reports of a package, drawn again from the records in them.

use std::collections::BTreeMap;

use tangmark_package::judge::{PackageVerdict, ReportState};
use tangmark_package::open::Package;
use tangmark_trust::pdf::{PDF_LIMIT, RECORD_LIMIT};

use crate::rerender::{self, Pages};

/// Most bytes of earlier records that are read for one report, the nearest before its own first. A chain has some dozen
/// records of some dozen kilobytes.
const MOST_EARLIER: usize = 64 << 20;

/// Draws every report again whose bytes are those that were signed; the others have no pages to compare.
pub(crate) fn drawn_again(package: &Package, verdict: &PackageVerdict) -> BTreeMap<String, Pages> {
    let mut found = BTreeMap::new();
    for (file, report) in &verdict.reports {
        if matches!(
            report.state,
            ReportState::Altered | ReportState::CannotJudge
        ) {
            continue;
        }
        let own = report.record.as_ref();
        let number = own.and_then(|file| verdict.records.get(file)?.sequence);
        let earlier = number.map_or_else(Vec::new, |number| earlier(package, verdict, number));
        let pages = match package.read(file, PDF_LIMIT as u64) {
            Ok(bytes) => rerender::pages(&bytes, &earlier),
            Err(error) => Some(Pages::NotCompared {
                reason: error.to_string(),
                pictures_not_named: 0,
                differences: vec!["the whole record".to_owned()],
            }),
        };
        found.extend(pages.map(|pages| (file.clone(), pages)));
    }
    found
}

/// The records before a number, which pages may show; each counts only where the chain names it. One that cannot be read
/// is as good as one that is not there.
fn earlier(package: &Package, verdict: &PackageVerdict, number: u32) -> Vec<Vec<u8>> {
    let mut before: Vec<(u32, &String)> = verdict
        .records
        .iter()
        .filter(|(_, one)| one.name.is_some())
        .filter_map(|(file, one)| Some((one.sequence.filter(|other| *other < number)?, file)))
        .collect();
    before.sort_unstable_by(|one, other| other.cmp(one));
    let (mut found, mut all) = (Vec::new(), 0);
    for (_, file) in before {
        let Ok(bytes) = package.read(file, RECORD_LIMIT as u64) else {
            continue;
        };
        all += bytes.len();
        if all > MOST_EARLIER {
            break;
        }
        found.push(bytes);
    }
    found
}
