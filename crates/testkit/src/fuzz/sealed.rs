//! Which failure cases hold what somebody did seal: typed by hand, so that no verdict of the reader under trial says it.

use tangmark_package::open::{Limits, open_bytes};

use super::Known;
use crate::failures::{Case, Kind};

/// Number and name of each case whose records, reports or histories were sealed anew by a key, whoever holds it. That they
/// are hostile in another way, such as by their chain or their signer, is for the cases themselves.
const ANEW: &[(u32, &str)] = &[];

/// Whether the case is on the list.
pub(super) fn is_anew(case: &Case) -> bool {
    ANEW.contains(&(case.number, case.name.as_str()))
}

/// Takes up what was sealed in a case of the list.
pub(super) fn take_up(case: &Case, known: &mut Known) {
    match case.kind {
        Kind::Package => in_package(case.judged(), known),
        Kind::Keys => case
            .files
            .iter()
            .for_each(|(_, bytes)| known.add_document(bytes)),
        _ => known.add_sealed(case.judged()),
    }
}

/// Records, reports and histories of a package.
fn in_package(zip: &[u8], known: &mut Known) {
    let Ok(package) = open_bytes(zip.to_vec(), &Limits::default()) else {
        return;
    };
    for file in package.files() {
        let Ok(bytes) = package.read(&file.path, 16 << 20) else {
            continue;
        };
        if file.path.starts_with("data/records/") || file.path.starts_with("data/reports/") {
            known.add_sealed(&bytes);
        } else if file.path.starts_with("data/keys/") {
            known.add_document(&bytes);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::super::{Seeds, Target, tried};
    use super::*;
    use crate::failures;

    fn target(case: &Case) -> Option<Target> {
        Some(match case.kind {
            Kind::Json => return None,
            Kind::Record => Target::Record,
            Kind::Pdf => Target::Pdf,
            Kind::Package => Target::Package,
            Kind::Keys => Target::History,
        })
    }

    #[test]
    fn the_list_names_just_the_cases_that_need_it() {
        let mut found = Vec::new();
        let seeds = Seeds::new_without_cases().unwrap();
        for case in failures::all().unwrap() {
            let fits = |bytes| {
                target(&case).is_none_or(|target| tried(target, bytes, seeds.known()).is_ok())
            };
            if !fits(case.judged()) {
                found.push((case.number, case.name.clone()));
            }
        }
        let wanted: Vec<(u32, String)> = ANEW
            .iter()
            .map(|(number, name)| (*number, (*name).to_owned()))
            .collect();
        assert_eq!(found, wanted);
    }
}
