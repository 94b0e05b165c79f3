//! What a reader will be told of a package, found out before it is written.

use std::collections::BTreeMap;

use serde::Serialize;
use tangmark_package::judge::{self, PackageReader, PackageVerdict};
use tangmark_package::open::{self, Limits};
use tangmark_package::write::Content;
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::{self, Memory};
use tangmark_trust::verdict::Weight;

use super::Giver;
use super::error::sealed_while_revoked;
use crate::receive::{drawn_again, told};
use crate::{Workshop, WorkshopError};

/// The folders that hold what is signed or speaks of signatures. Photos were held against their digests already, and
/// what helps people to check is the same in every package.
const JUDGED: [&str; 5] = [
    "data/records/",
    "data/disclosures/",
    "data/reports/",
    "data/keys/",
    "data/timestamps/",
];

/// What a reader will be told who has the key histories of whoever hands over and trusts the same time authorities. Whose
/// keys the reader knows is not in it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Judgement {
    /// What is rejected or cannot be checked, with why.
    pub rejected: Vec<String>,
    /// What is to be confirmed, with why.
    pub to_be_confirmed: Vec<String>,
}

impl Judgement {
    /// Whether nothing stands in the way of the package.
    pub fn is_clear(&self) -> bool {
        self.rejected.is_empty() && self.to_be_confirmed.is_empty()
    }

    /// What whoever hands over can do about what a receiver will reject, where that is known.
    pub fn hint(&self) -> Option<&'static str> {
        sealed_while_revoked(&self.rejected).then_some(
            "no later record mends one that was sealed while its key was revoked: get time evidence from before if there is any (`tangmark time add`), or put the sheet under another key of the blade (`tangmark examine show BLADE --json`, another `blade.id` in it, `tangmark examine put`), and seal it anew with the key in force",
        )
    }
}

/// Judges the content of a package by everything that is known here, as a receiver judges it. Reports are drawn again where
/// one was not made just now.
pub(super) fn judge(
    workshop: &Workshop,
    giver: &Giver<'_>,
    histories: &[KeyHistory],
    content: &Content,
    draw: bool,
) -> Result<Judgement, WorkshopError> {
    let files = content.bag_of(|path| JUDGED.iter().any(|folder| path.starts_with(folder)))?;
    let (own_keys, circle) = (workshop.keys()?, workshop.circle()?);
    let seen = match giver.memory {
        Some(folder) => memory::load(folder)?,
        None => Memory::default(),
    };
    let reader = PackageReader {
        own_keys: &own_keys,
        memory: &seen,
        now: giver.now.as_str(),
        histories,
        authorities: &circle.trusted,
        own_authorities: &circle.own,
    };
    let mut pages = BTreeMap::new();
    let verdict = match open::open_files(files, &Limits::default()) {
        Ok(package) => {
            let verdict = judge::judge(&package, &reader, &|_| ());
            if draw && verdict.refused.is_none() {
                pages = drawn_again(&package, &verdict);
            }
            verdict
        }
        Err(refusal) => PackageVerdict::refused(refusal),
    };
    let mut rejected = told::rejected(&verdict);
    rejected.extend(verdict.refused.iter().map(|refused| refused.what.clone()));
    rejected.extend(told::pages(&pages, Weight::Rejected));
    let mut to_be_confirmed = told::to_be_confirmed(&verdict);
    to_be_confirmed.extend(told::pages(&pages, Weight::ToBeConfirmed));
    Ok(Judgement {
        rejected,
        to_be_confirmed,
    })
}
