//! Handing a blade over: everything about it as one package that anyone can check.

mod aids;
mod error;
mod gather;
mod judged;
mod keys;
mod photos;
mod private;
mod report;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::UtcTime;
use tangmark_package::write::{self, Content, Source, Watch, Written};
use tangmark_report::Speech;

use crate::{Paper, Press, Workshop, WorkshopError};

pub use error::HandOverError;
pub use judged::Judgement;
pub(crate) use photos::ending;
pub use photos::{PackedPhoto, PhotoLeftOut, PhotoPart, PhotoWish};
pub use tangmark_package::write::Progress;

/// What to put into a package.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HandOverWish {
    /// Withheld values to show, named by their place; a place is meant in every record that withholds there, `2:PLACE` in
    /// record 2 alone. Nothing is shown that is not named.
    pub reveal: Vec<String>,
    /// Photos.
    pub photos: PhotoWish,
    /// The report.
    pub report: ReportWanted,
    /// Language of a report that is made.
    pub speech: Speech,
    /// Paper of a report that is made.
    pub paper: Paper,
}

/// Which report goes in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum ReportWanted {
    /// That of the newest record: made where this workshop sealed it, else those that came with it.
    #[default]
    Newest,
    /// A file.
    File(PathBuf),
    /// None.
    None,
}

/// What whoever hands over brings to a package, beside the workshop.
#[derive(Clone, Copy, Debug)]
pub struct Giver<'a> {
    /// Folder with the memory of keys seen before: the key histories in it may tell more than those in the workshop.
    pub memory: Option<&'a Path>,
    /// The time now.
    pub now: &'a UtcTime,
}

/// A record that goes in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PackedRecord {
    /// Path in the bag.
    pub file: String,
    /// Number in the chain.
    pub sequence: u32,
    /// Purpose.
    pub purpose: String,
    /// Name.
    pub record: Digest,
    /// Name of the workshop that sealed it.
    pub issuer: String,
    /// Fingerprint of its key.
    pub fingerprint: String,
    /// Withheld values that the receiver is shown, by place.
    pub shown: Vec<String>,
    /// For the places of them that go through an element of a list: what it is, by what everybody sees of it.
    pub shown_of: BTreeMap<String, String>,
    /// Withheld values that this workshop could show and does not, by place.
    pub withheld: Vec<String>,
}

/// A report that goes in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PackedReport {
    /// Path in the bag.
    pub file: String,
    /// Number of the record it shows.
    pub sequence: u32,
    /// It is made when the package is.
    pub to_be_made: bool,
}

/// A report that came with a record from another workshop and stays out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ReportLeftOut {
    /// Number of the record it came with.
    pub sequence: u32,
    /// Why.
    pub why: String,
    /// The next step.
    pub hint: String,
}

/// A signer whom the receiver has to know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PackedSigner {
    /// Name it gives itself.
    pub name: String,
    /// Fingerprint to compare with its card.
    pub fingerprint: String,
    /// Numbers of its records.
    pub records: Vec<u32>,
    /// It is a key of this workshop.
    pub own: bool,
    /// Path of its key history in the bag.
    pub history: Option<String>,
}

/// Time evidence that does not fit its record and stays out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TimestampLeftOut {
    /// Number of the record.
    pub sequence: u32,
    /// Why.
    pub why: String,
}

/// What a package holds, to be looked at before it is handed over.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct HandOverSummary {
    /// Blade.
    pub blade: String,
    /// Records.
    pub records: Vec<PackedRecord>,
    /// Photo files.
    pub photos: Vec<PackedPhoto>,
    /// Photos of which a file or every file stays out.
    pub photos_left_out: Vec<PhotoLeftOut>,
    /// Reports.
    pub reports: Vec<PackedReport>,
    /// Reports that stay out.
    pub reports_left_out: Vec<ReportLeftOut>,
    /// Time evidence, by path in the bag.
    pub timestamps: Vec<String>,
    /// Time evidence that stays out.
    pub timestamps_left_out: Vec<TimestampLeftOut>,
    /// Certificates of the time authorities it leads to, by path in the bag.
    pub authorities: Vec<String>,
    /// Path of the certificates by path of the time evidence that leads to them.
    #[serde(skip)]
    pub vouched: BTreeMap<String, String>,
    /// Signers.
    pub signers: Vec<PackedSigner>,
    /// What a reader who has the same key histories will be told.
    pub judged: Judgement,
    /// Files in all, without a report that is still to be made.
    pub files: usize,
    /// Bytes of them.
    pub bytes: u64,
}

impl HandOverSummary {
    /// Whether a report is still to be made.
    pub fn report_to_be_made(&self) -> bool {
        self.reports.iter().any(|report| report.to_be_made)
    }
}

/// A package that was put together and not written yet.
#[derive(Debug)]
pub struct Prepared {
    summary: HandOverSummary,
    content: Content,
}

impl Workshop {
    /// Puts together what goes into the package of a blade, and judges it. Where a report has to be made and there is no
    /// `press`, it is told as one that is to be made, and the package cannot be written yet.
    ///
    /// # Errors
    /// When the blade has no record, a place names nothing that is withheld, the report that was named does not fit or the
    /// one to be made cannot be signed, the own key history is not there, or something that is kept is missing or rotten.
    pub fn prepare_handover(
        &self,
        blade: &str,
        wish: &HandOverWish,
        giver: &Giver<'_>,
        press: Option<&mut Press<'_>>,
    ) -> Result<Prepared, WorkshopError> {
        gather::gather(self, blade, wish, giver, press)
    }
}

/// Name of the package of a blade: that of its folder, and of the zip file without its ending.
pub fn package_name(blade: &str) -> String {
    format!("{blade}-handover")
}

impl Prepared {
    /// What is in it.
    pub fn summary(&self) -> &HandOverSummary {
        &self.summary
    }

    /// The files in it, by path in the bag.
    pub(crate) fn files(&self) -> impl Iterator<Item = (&str, &Source)> {
        self.content.files()
    }

    /// Writes it as the folder `target`, or as a zip file where the name ends in `.zip`; whole or not at all.
    ///
    /// # Errors
    /// When a report is still to be made, something is there already, or a file cannot be read or written.
    pub fn write(&self, target: &Path, watch: &mut Watch<'_>) -> Result<Written, WorkshopError> {
        if self.summary.report_to_be_made() {
            return Err(HandOverError::NoReport.into());
        }
        let written = if is_zip(target) {
            let top = package_name(&self.summary.blade);
            self.content.write_zip(target, &top, watch)?
        } else {
            self.content.write_folder(target, watch)?
        };
        Ok(written)
    }
}

/// What hand-overs that were killed left in the folder where `target` is to be: their content lies there in the clear, and
/// nobody removes it unasked, since another hand-over may be under way.
pub fn left_behind(target: &Path) -> Vec<PathBuf> {
    write::left_behind(target)
}

/// Whether a package of this name is a zip file.
pub fn is_zip(target: &Path) -> bool {
    target
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("zip"))
}
