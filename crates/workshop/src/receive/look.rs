//! Looking at a package: opened, judged, its reports drawn again. Nothing is written.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use tangmark_core::record::UtcTime;
use tangmark_package::judge::{self, PackageReader, PackageVerdict, Watch};
use tangmark_package::open::{self, Limits, Package};
use tangmark_trust::PublicKey;
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::{self, Memory, histories};

use super::pages::drawn_again;
use crate::rerender::Pages;
use crate::time::Circle;
use crate::verify::read_history;
use crate::{Workshop, WorkshopError};

/// Order to judge a package.
#[derive(Clone, Debug)]
pub struct VerifyPackage<'a> {
    /// Folder or zip file.
    pub package: &'a Path,
    /// Key histories handed in beside it.
    pub keys: &'a [PathBuf],
    /// Certificates of time authorities that the reader trusts, beside those of the reader's own workshop.
    pub authorities: &'a [PathBuf],
    /// Folder with the memory of keys seen before.
    pub memory: Option<&'a Path>,
    /// The reader's own workshop, if there is one.
    pub workshop: Option<&'a Workshop>,
    /// The time now.
    pub now: &'a UtcTime,
}

/// What came of judging a package.
#[derive(Debug)]
pub struct VerifiedPackage {
    /// The verdict; its exit code is that of the pages too.
    pub verdict: PackageVerdict,
    /// Whether the pages of each unaltered report are those of the record in it, by its path in the bag.
    pub pages: BTreeMap<String, Pages>,
}

/// Judges a package, and draws its reports again. Nothing is asked from a network, and nothing is written.
///
/// # Errors
/// When what the reader brings cannot be read. What is wrong with the package is in the verdict.
pub fn verify_package(
    order: &VerifyPackage<'_>,
    watch: &Watch<'_>,
) -> Result<VerifiedPackage, WorkshopError> {
    let looked = look(order, watch)?;
    Ok(VerifiedPackage {
        verdict: looked.verdict,
        pages: looked.pages,
    })
}

/// A package that was looked at.
pub(super) struct Looked {
    /// None where it is refused.
    pub(super) package: Option<Package>,
    pub(super) verdict: PackageVerdict,
    pub(super) pages: BTreeMap<String, Pages>,
    /// Key histories that the reader brought.
    pub(super) histories: Vec<KeyHistory>,
    /// Keys of the reader's own workshop.
    pub(super) own_keys: Vec<PublicKey>,
    /// Keys that the reader remembers.
    pub(super) seen: Memory,
}

/// Opens and judges a package and draws its reports again.
pub(super) fn look(order: &VerifyPackage<'_>, watch: &Watch<'_>) -> Result<Looked, WorkshopError> {
    // A place that is not there is no package that was refused.
    std::fs::symlink_metadata(order.package)
        .map_err(|error| WorkshopError::file("read", order.package, error))?;
    let mut known = order
        .keys
        .iter()
        .map(|path| read_history(path))
        .collect::<Result<Vec<_>, _>>()?;
    let (mut own_keys, mut circle) = (Vec::new(), Circle::default());
    if let Some(workshop) = order.workshop {
        known.extend(workshop.key_histories()?);
        own_keys = workshop.keys()?;
        circle = workshop.circle()?;
    }
    for path in order.authorities {
        circle.trust_file(path)?;
    }
    let mut seen = Memory::default();
    if let Some(folder) = order.memory {
        known.extend(histories::load(folder)?);
        seen = memory::load(folder)?;
    }
    let reader = PackageReader {
        own_keys: &own_keys,
        memory: &seen,
        now: order.now.as_str(),
        histories: &known,
        authorities: &circle.trusted,
        own_authorities: &circle.own,
    };
    let (mut package, mut verdict) = match open::open(order.package, &Limits::default()) {
        Ok(package) => {
            let verdict = judge::judge(&package, &reader, watch);
            (Some(package), verdict)
        }
        Err(refusal) => (None, PackageVerdict::refused(refusal)),
    };
    let mut pages = BTreeMap::new();
    if verdict.refused.is_some() {
        package = None;
    }
    if let Some(package) = &package {
        pages = drawn_again(package, &verdict);
        verdict.exit = pages
            .values()
            .fold(verdict.exit, |exit, pages| pages.exit_code(exit));
    }
    Ok(Looked {
        package,
        verdict,
        pages,
        histories: known,
        own_keys,
        seen,
    })
}
