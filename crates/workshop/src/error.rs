//! What can go wrong in a use-case, each with its next step.

use std::path::PathBuf;

use tangmark_core::check::Problem;
use tangmark_core::hold::{HoldError, StopKind};
use tangmark_core::record::ScalarError;
use tangmark_core::sheet::SheetError;
use tangmark_report::RenderError;
use tangmark_store::StoreError;
use tangmark_trust::KeyError;
use tangmark_trust::certificate::CertificateError;
use tangmark_trust::history::HistoryError;
use tangmark_trust::keyfile::KeyFileError;
use tangmark_trust::memory::MemoryFileError;
use tangmark_trust::pdf::{SignPdfError, SuccessorProblem};
use tangmark_trust::proof::ProofError;
use tangmark_trust::recovery::RecoveryError;
use tangmark_trust::withhold::WithholdError;

use crate::books::BooksError;
use crate::compare::CompareError;
use crate::correct::CorrectError;
use crate::custody::CustodyError;
use crate::drawings::DRAWING_WIDTHS;
use crate::fitting::FittingError;
use crate::given::GivenError;
use crate::handover::HandOverError;
use crate::intake::IntakeError;
use crate::keys::KeysError;
use crate::labels::LabelError;
use crate::name::NameError;
use crate::pass::PassError;
use crate::photos::LARGEST as LARGEST_PHOTO;
use crate::refer::ReferError;
use crate::sale::SaleError;
use crate::stage::StageError;
use crate::strike::StrikeError;
use crate::time::TimeError;

/// Why a use-case did not go through. Nothing was written that the error does not name.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WorkshopError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A sheet with problems.
    #[error("{file}: {error}")]
    Sheet {
        /// The file as named.
        file: String,
        /// The problems.
        error: SheetError,
    },
    /// The books.
    #[error(transparent)]
    Books(#[from] BooksError),
    /// A photo that was given.
    #[error("the photo {0}")]
    Photo(String),
    /// A day in another form than the one allowed.
    #[error("`{0}` is not a day: year, month and day like 2026-11-25 are allowed")]
    BadDay(String),
    /// An entry that is not struck out.
    #[error(transparent)]
    Strike(#[from] StrikeError),
    /// A day that cannot be, or hardly.
    #[error("{what}: {found} found, {allowed} is allowed")]
    OtherDay {
        /// Which day.
        what: &'static str,
        /// The day.
        found: String,
        /// The days that are allowed.
        allowed: String,
    },
    /// An entry of the journal is not what its kind says.
    #[error("entry {number} of the journal cannot be understood: {what}")]
    Entry {
        /// Its number.
        number: u64,
        /// Why.
        what: String,
    },
    /// An entry of another kind was asked for.
    #[error("entry {number} of the journal is of kind `{found}`, `{asked}` was asked for")]
    OtherKind {
        /// Its number.
        number: u64,
        /// Its kind.
        found: String,
        /// The kind asked for.
        asked: &'static str,
    },
    /// The arrival of a blade.
    #[error(transparent)]
    Intake(#[from] IntakeError),
    /// A sheet of labels.
    #[error(transparent)]
    Label(#[from] LabelError),
    /// A stage.
    #[error(transparent)]
    Stage(#[from] StageError),
    /// A fitting.
    #[error(transparent)]
    Fitting(#[from] FittingError),
    /// A stop bars the way.
    #[error(transparent)]
    Hold(#[from] HoldError),
    /// A key.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// A key file.
    #[error(transparent)]
    KeyFile(#[from] KeyFileError),
    /// A recovery secret.
    #[error(transparent)]
    Recovery(#[from] RecoveryError),
    /// A key history.
    #[error(transparent)]
    History(#[from] HistoryError),
    /// The workshop's keys.
    #[error(transparent)]
    Keys(#[from] KeysError),
    /// A certificate.
    #[error(transparent)]
    Certificate(#[from] CertificateError),
    /// A proof.
    #[error(transparent)]
    Proof(#[from] ProofError),
    /// Withholding.
    #[error(transparent)]
    Withhold(#[from] WithholdError),
    /// Signing a PDF.
    #[error(transparent)]
    SignPdf(#[from] SignPdfError),
    /// A key history that does not join the keys of record and report.
    #[error("no report that others would call unaltered: {0}")]
    Successor(#[from] SuccessorProblem),
    /// States that are not compared.
    #[error(transparent)]
    Compare(#[from] CompareError),
    /// Time evidence.
    #[error(transparent)]
    Time(#[from] TimeError),
    /// A pass, its timer or its stone.
    #[error(transparent)]
    Pass(#[from] PassError),
    /// The memory of keys seen before.
    #[error(transparent)]
    Memory(#[from] MemoryFileError),
    /// A key, time or date that does not have its form.
    #[error(transparent)]
    Scalar(#[from] ScalarError),
    /// A value that is to be shown is none that the record, or one of the records, withholds.
    #[error(
        "`{name}` names no value that {} {}",
        if *.records == 1 { "this record withholds; it withholds".to_owned() }
        else { format!("one of these {records} records withholds; they withhold") },
        if known.is_empty() { "nothing".to_owned() } else { known.join(", ") }
    )]
    NotWithheld {
        /// What was asked for.
        name: String,
        /// What the records withhold, by place.
        known: Vec<String>,
        /// Number of the records.
        records: usize,
    },
    /// A place that is to be shown goes through an element of a list that is not the same in the records.
    #[error(
        "`{name}`: {element} is one thing in record {} ({}) and another in record {} ({})",
        records[0].0, records[0].1, records[1].0, records[1].1
    )]
    OtherElement {
        /// What was asked for.
        name: String,
        /// Place of the element.
        element: String,
        /// Number of a record and what the element is there, twice.
        records: Box<[(u32, String); 2]>,
    },
    /// A report is signed by the workshop that sealed the record.
    #[error(
        "record {record} of blade `{blade}` was sealed by `{issuer}`; a workshop signs reports of its own records only"
    )]
    NotOwnRecord {
        /// Blade.
        blade: String,
        /// Number of the record.
        record: u32,
        /// Name of the workshop that sealed it.
        issuer: String,
    },
    /// A correction.
    #[error(transparent)]
    Correct(#[from] CorrectError),
    /// An event of custody.
    #[error(transparent)]
    Custody(#[from] CustodyError),
    /// A referral.
    #[error(transparent)]
    Refer(#[from] ReferError),
    /// A price, a sale or a return.
    #[error(transparent)]
    Sale(Box<SaleError>),
    /// A hand-over package could not be made or taken in.
    #[error(transparent)]
    HandOver(#[from] HandOverError),
    /// A package could not be written.
    #[error(transparent)]
    Package(#[from] tangmark_package::write::WriteError),
    /// The disclosures kept with a record do not fit it.
    #[error("the kept disclosures do not fit the record: {0}")]
    Disclosure(String),
    /// The report could not be made.
    #[error("the report could not be made: {0}")]
    Render(RenderError),
    /// A file could not be read or written.
    #[error("{path}: cannot {what}: {source}")]
    File {
        /// The file.
        path: PathBuf,
        /// What was tried.
        what: &'static str,
        /// Why it failed.
        source: std::io::Error,
    },
    /// A file that is longer than any of its kind.
    #[error("{path}: more than {most} bytes, at most {most} bytes are looked at")]
    TooLong {
        /// The file.
        path: PathBuf,
        /// Most bytes that are looked at.
        most: u64,
    },
    /// A file exists already.
    #[error("{0} exists already; it is not overwritten")]
    Exists(PathBuf),
    /// A width that no drawing has.
    #[error(
        "a drawing {0} mm wide, {least} mm to {most} mm are allowed",
        least = DRAWING_WIDTHS[0],
        most = DRAWING_WIDTHS[1]
    )]
    DrawingWidth(f64),
    /// A record with nothing that could be drawn.
    #[error(
        "record {record} of blade `{blade}` has no numbers of which {} could be drawn",
        if *.true_size { "a blade in true size that fits across the paper" } else { "anything" }
    )]
    NothingToDraw {
        /// Blade.
        blade: String,
        /// Number of the record.
        record: u32,
        /// Whether true size was asked for.
        true_size: bool,
    },
    /// The name is not one that people can compare.
    #[error(transparent)]
    Name(#[from] NameError),
    /// A key file of which nothing here tells whose it is.
    #[error("key file `{0}` opens, but no record here was sealed with its key")]
    StrangeKey(String),
    /// Setup did not finish.
    #[error("the workshop is not set up: it has no name or key")]
    NotSetUp,
    /// No draft.
    #[error("blade `{0}` has no sheet yet")]
    NoSheet(String),
    /// The sheet is about another blade.
    #[error("the sheet is about blade `{found}`, `{asked}` was asked for")]
    OtherBlade {
        /// Blade in the sheet.
        found: String,
        /// Blade asked for.
        asked: String,
    },
    /// No sealed record.
    #[error("blade `{0}` has no sealed record yet")]
    NoRecord(String),
    /// No record of that number.
    #[error("blade `{blade}` has no record {asked}, 1 to {newest} are there")]
    NoSuchRecord {
        /// Blade.
        blade: String,
        /// Number asked for.
        asked: u32,
        /// Number of the newest record.
        newest: u32,
    },
    /// A pass that a record names as worked under hold was taken out of the sheet.
    #[error(
        "pass `{pass}` is not in the sheet, but an earlier record names it as worked under hold while {rule} stood"
    )]
    PassGone {
        /// Pass.
        pass: String,
        /// The rule that stood.
        rule: String,
    },
    /// An answer names a rule that found nothing.
    #[error("an answer names {0}, but no stop of that name was found")]
    NothingToAnswer(String),
    /// An answer that a specialist's reply cannot give.
    #[error("a specialist's reply may not lift {rule}")]
    NotAnswerable {
        /// The rule.
        rule: String,
        /// What may lift it.
        kind: StopKind,
    },
    /// A record that fits the sheet's form but not the rules.
    #[error("the record would not pass its own check: {}", first(problems))]
    Record {
        /// The problems.
        problems: Vec<Problem>,
    },
    /// A record needs a decision.
    #[error("a record for `{purpose}` needs a decision")]
    NoDecision {
        /// Purpose.
        purpose: &'static str,
    },
    /// A purpose needs a section that the sheet does not have.
    #[error("a record for `{purpose}` needs the section `{section}` in the sheet")]
    NeedsSection {
        /// Purpose.
        purpose: &'static str,
        /// Section.
        section: &'static str,
    },
    /// The sheet changed while the record was made.
    #[error(
        "the sheet of `{0}` was changed by another program while the record was made; nothing was sealed"
    )]
    SheetChanged(String),
    /// A photo file that is too large to be looked into.
    #[error("{path}: {length} bytes or more, at most {LARGEST_PHOTO} bytes are allowed")]
    PhotoTooLarge {
        /// The file.
        path: PathBuf,
        /// Its length in bytes, as far as it is known.
        length: u64,
    },
    /// A photo that the record does not name.
    #[error("the record names no photo `{key}`; it names {}", if known.is_empty() { "none".to_owned() } else { known.join(", ") })]
    NoPhoto {
        /// Key asked for.
        key: String,
        /// Keys there are.
        known: Vec<String>,
    },
    /// A private photo without something to show in its place.
    #[error("photo `{0}` is kept private, but has no derivative that stands for it")]
    PrivatePhoto(String),
    /// A plugin that was named is not there.
    #[error("no plugin `{name}` in {folders}")]
    NoPlugin {
        /// Plugin.
        name: String,
        /// Folders looked in.
        folders: String,
    },
    /// Settings or a table of a plugin.
    #[error(transparent)]
    Given(#[from] GivenError),
    /// A file that is not named as a plugin's.
    #[error("`{file}` is not named as a plugin's file")]
    NotAPluginName {
        /// The file.
        file: String,
    },
    /// A name that no plugin may have.
    #[error("`{name}` cannot be a plugin's name")]
    BadPluginName {
        /// The name.
        name: String,
    },
    /// A folder is there already.
    #[error("{0} exists already; nothing was written")]
    FolderExists(PathBuf),
    /// The source of this program was not found.
    #[error("{what}")]
    NoSource {
        /// Where it was looked for.
        what: String,
    },
    /// A table to import could not be read.
    #[error("{file}: {what}")]
    Table {
        /// The file.
        file: String,
        /// What is wrong.
        what: String,
        /// The next step.
        hint: String,
    },
    /// Canonical bytes could not be made, which no record of ours should bring about.
    #[error("the record has no canonical form: {0}")]
    Canonical(String),
}

/// Whether the store was to open a folder, as it does with a workshop before it looks at anything in it.
fn is_folder_asked_for(error: &StoreError) -> bool {
    matches!(
        error,
        StoreError::File {
            action: "open the folder",
            ..
        }
    )
}

/// The store speaks of no command; here the command is named.
fn store_hint(error: &StoreError) -> String {
    let text = match error {
        StoreError::NotAWorkshop { .. } => {
            "name the folder that holds `workshop.db` with `--workshop DIR`, or run `tangmark setup DIR --name \"…\"`"
        }
        // Not a part of a workshop is gone: there is none at that place.
        StoreError::File { path, .. } if !path.is_dir() && is_folder_asked_for(error) => {
            "name the folder of a workshop with `--workshop DIR`, or leave it out where none is needed, as for `tangmark verify`; `tangmark setup DIR --name \"…\"` makes one"
        }
        StoreError::IndexMissing(_) | StoreError::EmptyIndex(_) => "run `tangmark store rebuild`",
        StoreError::UnknownBlade(_) => {
            "list the blades with `tangmark blade list`, or put a sheet of it with `tangmark examine put SHEET`"
        }
        StoreError::DraftConflict { blade, .. } => {
            return format!(
                "nothing was written; look at the newest sheet with `tangmark examine show {blade}`, then put yours without `--revision`"
            );
        }
        StoreError::NothingToUndo(blade) => {
            return format!("see what there is with `tangmark examine history {blade}`");
        }
        StoreError::ObjectMissing(_) | StoreError::ObjectRotten { .. } => {
            "run `tangmark store check`, then copy the file back from a backup"
        }
        _ => {
            return error
                .hint()
                .unwrap_or_else(|| "look at the folder with `tangmark store check`".to_owned());
        }
    };
    text.to_owned()
}

fn first(problems: &[Problem]) -> String {
    problems.first().map_or_else(String::new, |problem| {
        format!("`{}`: {}", problem.pointer, problem.what)
    })
}

impl From<Box<SaleError>> for WorkshopError {
    fn from(error: Box<SaleError>) -> Self {
        Self::Sale(error)
    }
}

impl From<SaleError> for WorkshopError {
    fn from(error: SaleError) -> Self {
        Self::Sale(Box::new(error))
    }
}

impl WorkshopError {
    /// Wraps an error of the file system.
    pub(crate) fn file(what: &'static str, path: &std::path::Path, source: std::io::Error) -> Self {
        Self::File {
            path: path.to_owned(),
            what,
            source,
        }
    }

    /// Returns the exact next step.
    pub fn hint(&self) -> String {
        let text = match self {
            Self::Store(error) => return store_hint(error),
            Self::Sheet { error, .. } => error.hint(),
            Self::Books(error) => return error.hint(),
            Self::Photo(_) => "name a JPEG, PNG or TIFF file that can be read",
            Self::BadDay(_) => "write the day with `--on`, for example 2026-11-25",
            Self::Strike(error) => return error.hint(),
            Self::OtherDay { .. } => {
                "write the day as it was, year first; if it is right, set the clock of this computer"
            }
            Self::Entry { .. } => {
                "use the newer program that wrote it, or look at it with `tangmark journal list --whole`"
            }
            Self::OtherKind { .. } => {
                "list the entries of the kind you mean with `tangmark journal list --kind KIND`"
            }
            Self::Intake(error) => return error.hint(),
            Self::Label(error) => error.hint(),
            Self::Stage(error) => return error.hint(),
            Self::Fitting(error) => return error.hint(),
            Self::Hold(error) => return error.hint(),
            Self::Key(error) => error.hint().unwrap_or("check the key"),
            Self::KeyFile(error) => error.hint().unwrap_or("check the key file"),
            Self::Recovery(error) => error.hint().unwrap_or("check the recovery words"),
            Self::History(error) => error.owner_hint(),
            Self::Keys(error) => error.hint(),
            Self::Certificate(error) => error.hint().unwrap_or("check the workshop's name"),
            Self::Proof(error) => error.hint().unwrap_or("seal the sheet anew"),
            Self::Withhold(_) | Self::SignPdf(_) | Self::Canonical(_) | Self::Record { .. } => {
                "report this as a fault of the program, with the sheet"
            }
            Self::Successor(_) => {
                "look at the keys and when each signed with `tangmark key show`; hand over the sealed record itself"
            }
            Self::Compare(error) => return error.hint(),
            Self::Time(error) => return error.hint(),
            Self::Pass(error) => return error.hint(),
            Self::Memory(error) => error
                .hint()
                .unwrap_or("name another folder with `--memory DIR`"),
            Self::Scalar(_) => "correct the text",
            Self::NotWithheld { .. } => {
                "name one of these with `--reveal`, the beginning of several, or `all`; `2:PLACE` means record 2 alone"
            }
            Self::OtherElement { name, records, .. } => {
                return format!(
                    "name the record too, such as `--reveal {}:{name}`, once for each record that shall show it",
                    records[0].0
                );
            }
            Self::NotOwnRecord { .. } => {
                "take the report that came with the package; for a report of your own seal a record of your own first"
            }
            Self::Correct(error) => return error.hint(),
            Self::Custody(error) => return error.hint(),
            Self::Refer(error) => return error.hint(),
            Self::Sale(error) => return error.hint(),
            Self::HandOver(error) => return error.hint(),
            Self::Package(error) => error.hint(),
            Self::Disclosure(_) => {
                "run `tangmark store check`, then copy the file back from a backup"
            }
            Self::Render(error) => return error.hint(),
            Self::File { .. } => "check that the path exists and may be read and written",
            Self::TooLong { .. } => "name the right file: nothing of this kind is so long",
            Self::DrawingWidth(_) => "name a width with `--width MM`; 166 mm is the text of a page",
            Self::NothingToDraw { .. } => {
                "add lengths under `[dimensions]` of the sheet and seal a record with them"
            }
            Self::Exists(_) => "name another file with `--out FILE`",
            Self::StrangeKey(_) => {
                "move it out of `keys/` if it belongs elsewhere; a workshop that sealed nothing yet is made anew with `tangmark setup DIR`"
            }
            Self::Name(error) => error.hint(),
            Self::Given(error) => return error.hint(),
            Self::NoSuchRecord { blade, .. } => {
                return format!("see what is there with `tangmark blade show {blade}`");
            }
            Self::PassGone { .. } => {
                "put the pass back into the sheet, then `tangmark examine put SHEET`: every later record names it"
            }
            Self::NothingToAnswer(_) => {
                "run `tangmark check` and copy the name of the rule from there"
            }
            Self::NotAnswerable { kind, .. } => kind.answered_by(),
            Self::NotSetUp => "run `tangmark setup DIR --name \"…\"` in an empty folder",
            Self::NoSheet(_) => {
                "write one with `tangmark examine new`, then `tangmark examine put SHEET`"
            }
            Self::OtherBlade { .. } => {
                "put the sheet without naming a blade, or correct `blade.id`"
            }
            Self::NoRecord(_) => "seal one with `tangmark seal BLADE --for before_work …`",
            Self::NoDecision { .. } => {
                "add --verdict work|set_aside|refer, --reason \"…\" and --by NAME"
            }
            Self::NeedsSection { .. } => {
                "add the section to the sheet, then `tangmark examine put SHEET`"
            }
            Self::SheetChanged(_) => {
                "look at the new sheet with `tangmark check BLADE`, then seal again"
            }
            Self::PhotoTooLarge { .. } => "name the photo as it was given to the workshop",
            Self::NoPhoto { .. } => "name one of the photos of the record by its key",
            Self::PrivatePhoto(_) => {
                "its file holds nothing but the picture, so no copy of it was made: add a derivative, or remove \
                 `original_kept_private`"
            }
            Self::NoPlugin { .. } => "see what is there with `tangmark plugin list`",
            Self::NotAPluginName { .. } => {
                "name it `libtangmark_NAME.so`; NAME is lower-case letters, digits and `_`, a letter first, at most 40"
            }
            Self::BadPluginName { .. } => {
                "take lower-case letters, digits and `_`, a letter first, at most 40; `stress` and the names of shipped plugins are taken"
            }
            Self::FolderExists(_) => "name another plugin, or another folder with `--folder DIR`",
            Self::NoSource { .. } => {
                "name the folder of a clone of this program's source with `--source DIR`"
            }
            Self::Table { hint, .. } => hint,
        };
        text.to_owned()
    }
}
