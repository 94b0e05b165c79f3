//! The papers that go with the blade: reports, the account of a return, the package. One that is there is looked at, and
//! left alone where it is this one.

use std::fs;
use std::io;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use tangmark_core::Digest;
use tangmark_report::{Kind, Speech};
use tangmark_trust::pdf::{self, PdfJudgement};
use tangmark_trust::withhold::{self, Disclosure};

use super::error::SaleError;
use super::note::{SalePaper, Way};
use crate::blades::Kept;
use crate::handover::{Giver, HandOverWish, PhotoWish, ReportWanted, package_name};
use crate::output::NewFile;
use crate::receive::{VerifyPackage, verify_package};
use crate::steps::{Step, Walk};
use crate::{
    Paper, Press, ReportWish, Surroundings, Workshop, WorkshopError, counted, input, reveal,
};

/// Longest paper that is looked at, in bytes.
const LONGEST: u64 = 4 << 30;

/// What is to be made, of which record, where.
pub(super) struct Papers<'a> {
    pub(super) workshop: &'a Workshop,
    pub(super) blade: &'a str,
    pub(super) kept: &'a Kept,
    pub(super) way: Way,
    pub(super) speech: Speech,
    pub(super) paper: Paper,
    /// Places with the number of their record.
    pub(super) reveal: Vec<String>,
    pub(super) out: &'a Path,
    pub(super) memory: Option<&'a Path>,
}

/// The reports that go with a blade; the first of them goes into the package.
const REPORTS: [(&str, &str, Kind); 4] = [
    ("report", "report on the blade", Kind::Buyer),
    ("receipt", "receipt to be signed by both", Kind::Receipt),
    ("care", "how to keep the blade", Kind::Care),
    (
        "identification",
        "page to tell the blade by",
        Kind::Identification,
    ),
];

impl Papers<'_> {
    /// Makes what is not there yet, and returns all of it by name and digest.
    pub(super) fn make(
        &self,
        press: &mut Press<'_>,
        walk: &mut Walk<'_>,
        remarks: &mut Vec<String>,
        around: &Surroundings<'_>,
    ) -> Result<Vec<SalePaper>, WorkshopError> {
        fs::create_dir_all(self.out)
            .map_err(|error| WorkshopError::file("make the folder", self.out, error))?;
        let known = self.workshop.disclosures(&self.kept.row.name)?;
        let choice = reveal::Choice {
            sequence: self.kept.record.sequence,
            public: &self.kept.value,
            known: &known,
        };
        let own = reveal::only_of(self.kept.record.sequence, &self.reveal);
        let chosen = reveal::choose(&[choice], &own)?.pop().unwrap_or_default();
        let mut made = Vec::new();
        let mut first = None;
        for (name, words, kind) in REPORTS {
            let file = self.report((name, words), kind, &own, &chosen, press, walk)?;
            made.push(paper(&file)?);
            first.get_or_insert(file);
        }
        if self.way == Way::Return {
            let file = self.account(walk, remarks)?;
            made.push(paper(&file)?);
        }
        let package = self.package(first, walk, around)?;
        made.push(paper(&package)?);
        Ok(made)
    }

    fn report(
        &self,
        (name, words): (&'static str, &'static str),
        kind: Kind,
        own: &[String],
        chosen: &[Disclosure],
        press: &mut Press<'_>,
        walk: &mut Walk<'_>,
    ) -> Result<PathBuf, WorkshopError> {
        let wish = ReportWish {
            sequence: Some(self.kept.record.sequence),
            paper: self.paper,
            kind,
            speech: self.speech,
            reveal: own.to_vec(),
            ..ReportWish::default()
        };
        let file = self.workshop.report_file(self.blade, &wish, self.out)?;
        if is_there(&file)? {
            if !self.is_report(&file, chosen)? {
                let what = "something that is no report of this record with these values is there";
                return Err(SaleError::OtherPaper { file, what }.into());
            }
            walk.tell(Step::before(name, words).with_file(&file));
            return Ok(file);
        }
        walk.next().map_err(SaleError::from)?;
        let target = NewFile::open(&file)?;
        let made = press.make(self.blade, self.kept, &wish, chosen)?;
        target.write(&made.bytes)?;
        let words = format!("{words}, {}, signed", counted(made.report.pages, "page"));
        walk.tell(Step::done(name, words).with_file(&file));
        Ok(file)
    }

    /// Whether a file is an unaltered report of the record that shows these values.
    fn is_report(&self, file: &Path, chosen: &[Disclosure]) -> Result<bool, WorkshopError> {
        let examined = pdf::examine(&input::whole(file, LONGEST)?);
        let shown = match &examined.disclosures_bytes {
            None => Vec::new(),
            Some(bytes) => withhold::parse_file(bytes)
                .map_err(|error| WorkshopError::Disclosure(error.to_string()))?,
        };
        let same = shown.len() == chosen.len() && shown.iter().all(|one| chosen.contains(one));
        Ok(examined.judgement == PdfJudgement::Unaltered
            && examined.record_bytes.as_deref() == Some(self.kept.bytes.as_slice())
            && same)
    }

    /// Hours and costs for the owner, as a text.
    fn account(
        &self,
        walk: &mut Walk<'_>,
        remarks: &mut Vec<String>,
    ) -> Result<PathBuf, WorkshopError> {
        let file = self.out.join(format!("{}-account.txt", self.blade));
        let text = self.workshop.account_text(self.blade, self.speech)?;
        if is_there(&file)? {
            if input::whole(&file, LONGEST)? != text.as_bytes() {
                remarks.push(format!(
                    "{}: the account is the one written before; hours or costs were entered since",
                    file.display()
                ));
            }
            walk.tell(Step::before("account", "the account is written").with_file(&file));
            return Ok(file);
        }
        walk.next().map_err(SaleError::from)?;
        NewFile::open(&file)?.write(text.as_bytes())?;
        walk.tell(Step::done("account", "hours and costs for the owner").with_file(&file));
        Ok(file)
    }

    fn package(
        &self,
        report: Option<PathBuf>,
        walk: &mut Walk<'_>,
        around: &Surroundings<'_>,
    ) -> Result<PathBuf, WorkshopError> {
        let file = self.out.join(format!("{}.zip", package_name(self.blade)));
        if is_there(&file)? {
            if !self.is_package(&file, around)? {
                let what = "something that is no sound package of this record is there";
                return Err(SaleError::OtherPaper { file, what }.into());
            }
            walk.tell(Step::before("package", "the package is made").with_file(&file));
            return Ok(file);
        }
        walk.next().map_err(SaleError::from)?;
        let wish = HandOverWish {
            reveal: self.reveal.clone(),
            photos: PhotoWish::Careful,
            report: report.map_or(ReportWanted::None, ReportWanted::File),
            speech: self.speech,
            paper: self.paper,
        };
        let giver = Giver {
            memory: self.memory,
            now: &around.now,
        };
        let prepared = self
            .workshop
            .prepare_handover(self.blade, &wish, &giver, None)?;
        prepared.write(&file, &mut |_| ControlFlow::Continue(()))?;
        let summary = prepared.summary();
        let words = format!(
            "package with {} and {}",
            counted(summary.records.len(), "record"),
            counted(summary.photos.len(), "photo file")
        );
        walk.tell(Step::done("package", words).with_file(&file));
        Ok(file)
    }

    /// Whether a file is a sound package whose newest record is this one.
    fn is_package(&self, file: &Path, around: &Surroundings<'_>) -> Result<bool, WorkshopError> {
        let verified = verify_package(
            &VerifyPackage {
                package: file,
                keys: &[],
                authorities: &[],
                fingerprint: None,
                memory: self.memory,
                workshop: Some(self.workshop),
                now: &around.now,
            },
            &|_| {},
        )?;
        let subject = verified.verdict.subject.as_ref();
        let record = subject.and_then(|subject| subject.verdict.record);
        Ok(matches!(verified.verdict.exit, 0 | 2) && record == Some(self.kept.row.name))
    }
}

fn is_there(file: &Path) -> Result<bool, WorkshopError> {
    match fs::symlink_metadata(file) {
        Ok(_) => Ok(true),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(false),
        Err(error) => Err(WorkshopError::file("read", file, error)),
    }
}

fn paper(file: &Path) -> Result<SalePaper, WorkshopError> {
    let bytes = input::whole(file, LONGEST)?;
    let name = file.file_name().unwrap_or_default();
    Ok(SalePaper {
        file: name.to_string_lossy().into_owned(),
        digest: Digest::of(&bytes),
    })
}
