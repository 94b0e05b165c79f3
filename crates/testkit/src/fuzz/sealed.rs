//! Which failure cases hold what somebody did seal: typed by hand, so that no verdict of the reader under trial says it.

use tangmark_package::open::{Limits, open_bytes};

use super::Known;
use crate::failures::{Case, Kind};

/// Number and name of each case whose records, reports or histories were sealed anew by a key, whoever holds it. That they
/// are hostile in another way, such as by their chain or their signer, is for the cases themselves.
const ANEW: &[(u32, &str)] = &[
    (12, "writing direction turned"),
    (12, "a space of no width"),
    (12, "a letter of another script"),
    (23, "a time that has not come"),
    (23, "before the key was in force"),
    (26, "sealed by a stranger under the workshop's name"),
    (29, "first key, while it was in force"),
    (29, "first key, at the moment of the second"),
    (29, "second key, before it came"),
    (29, "second key, while it is in force"),
    (29, "a history of two keys"),
    (30, "before the theft, without outside evidence"),
    (30, "after the theft"),
    (30, "before the theft, with outside evidence"),
    (30, "before the theft, with evidence of a day after it"),
    (31, "two successors of one key"),
    (31, "a record beside two histories"),
    (31, "a recovery by the key on paper"),
    (33, "numbered anew by the workshop itself"),
    (34, "after a record of another blade"),
    (37, "the second names the third"),
    (37, "a number left out"),
    (37, "issued before the one before it"),
    (40, "a withdrawal alone"),
    (40, "a package that ends in a withdrawal"),
    (41, "a value that its property cannot have"),
    (42, "a name shown and withheld, signed"),
    (61, "a report of a record that is not here"),
    (62, "an old certificate of the same key"),
    (62, "signed by a later key, with the history"),
];

/// Whether the case is on the list.
pub(super) fn is_anew(case: &Case) -> bool {
    ANEW.contains(&(case.number, case.name.as_str()))
}

/// The key histories of a case, whatever it is about.
fn histories(case: &Case) -> impl Iterator<Item = &(String, Vec<u8>)> {
    case.files
        .iter()
        .filter(|(name, _)| name.starts_with("keys"))
}

/// Takes up what was sealed in a case of the list, and the histories beside it.
pub(super) fn take_up(case: &Case, known: &mut Known) {
    for (_, bytes) in histories(case) {
        known.add_document(bytes);
    }
    match case.kind {
        Kind::Package => in_package(case.judged(), known),
        // Its files are histories.
        Kind::Keys => {}
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
            let holds = |target, bytes: &[u8]| tried(target, bytes, seeds.known()).is_ok();
            let fits = target(&case).is_none_or(|target| holds(target, case.judged()))
                && histories(&case).all(|(_, bytes)| holds(Target::History, bytes));
            if !fits {
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
