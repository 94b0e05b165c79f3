//! The use-cases of a workshop, called by every face: no terminal, no HTTP, no clock, no randomness of its own.
//!
//! Main path: [`Workshop::put_sheet`] → [`Workshop::check`] → [`Workshop::seal`] → [`Workshop::report`] →
//! [`verify::verify`].
#![forbid(unsafe_code)]

mod adopt;
mod blades;
pub mod books;
mod carried;
mod changes;
mod charts;
mod checks;
pub mod compare;
mod contrary;
pub mod correct;
pub mod custody;
mod custody_of;
mod days;
pub mod demo;
mod drawings;
mod edit;
mod error;
pub mod fitting;
mod given;
pub mod handover;
pub mod import;
mod input;
pub mod intake;
mod journal;
pub mod keys;
mod labels;
mod name;
mod output;
pub mod pass;
mod photos;
mod plugins;
pub mod receive;
pub mod refer;
mod report;
pub mod rerender;
mod reveal;
pub mod sale;
mod scaffold;
mod seal;
mod search;
mod setup;
mod sheets;
mod stage;
pub mod steps;
mod strike;
mod taken_over;
mod terms;
pub mod time;
mod to_fill;
pub mod tour;
mod try_plugin;
mod upkeep;
pub mod verify;
#[cfg(test)]
mod walked;

use std::path::{Path, PathBuf};

use tangmark_core::record::UtcTime;
use tangmark_store::{FolderStore, Store as _};

pub use adopt::{AdoptedKey, MadeOn};
pub use blades::{BladeLine, BladeState, ShownValue};
pub use changes::{ChangedValue, SheetDifference};
pub use checks::{AnsweredStop, CheckReport, PrivateResults};
pub use drawings::{DRAWING_WIDTHS, DrawingWish, Drawn, DrawnFile};
pub use edit::Edited;
pub use error::WorkshopError;
pub use given::{GivenError, GivenLine};
pub use journal::{JournalLine, Matter, Noted, Who};
pub use labels::{LabelError, LabelWish, LabelsMade, MOST_LABELS};
pub use name::{LONGEST_NAME, NameError, check_name, hides};
pub use output::Paper;
pub use photos::{ComparedPhoto, LikeWhich, PhotoVerdict};
pub use plugins::{PluginLine, PluginRule, SHIPPED_PLUGINS};
pub use report::{Press, RendererLine, ReportFile, ReportWish};
pub use scaffold::{Scaffold, Scaffolded, scaffold};
pub use seal::{Exported, Order, Sealed};
pub use search::{Found, FoundPlace, Searched};
pub use setup::{NotApproved, Setup, SetupReport};
pub use sheets::{PutSheet, SheetChange, TEMPLATE, UndoneSheet, template};
pub use stage::{
    NextKind, NextStep, Stage, StageError, StageLine, StageList, StageMove, StageNote, StageOrder,
    StageStep, StageWay, StageWish,
};
pub use strike::StrikeError;
pub use taken_over::TakenOver;
/// Types of the record that a face names.
pub use tangmark_core::counted;
pub use tangmark_core::hold::Answered;
pub use tangmark_core::record;
/// The published schemas.
pub use tangmark_core::schema;
/// Places as people write them.
pub use tangmark_core::sheet::dotted;
/// The process that runs a plugin; a face calls it first thing for its hidden subcommand.
pub use tangmark_host::{RUNNER_COMMAND, runner_main};
pub use tangmark_report::{Kind, Speech};
/// Time evidence, as it is judged.
pub use tangmark_trust::timestamp;
/// The four lines of a verdict.
pub use tangmark_trust::verdict;
pub use terms::{TermLine, TermList, lists as term_lists};
pub use try_plugin::{TriedPlugin, TryPlugin, try_plugin};
pub use upkeep::{Rebuilt, StoreCheck, StoreProblem, rebuild};

/// The page that explains a sealed record to a stranger, with commands to check one.
pub const RECORD_FORMAT: &str = include_str!("../../../schemas/record-format.md");

/// What a use-case needs of the outside world, handed in by the face.
pub struct Surroundings<'a> {
    /// The time now.
    pub now: UtcTime,
    /// Fills its argument with fresh random bytes.
    pub random: &'a mut dyn FnMut(&mut [u8]),
    /// The program that runs plugins: our own binary.
    pub runner: PathBuf,
    /// Folders in which plugins are looked for.
    pub plugin_folders: Vec<PathBuf>,
    /// Folder for short-lived files.
    pub scratch: PathBuf,
}

/// An open workshop folder.
#[derive(Debug)]
pub struct Workshop {
    store: FolderStore,
}

/// Key of the setting that holds the workshop's name.
const NAME_SETTING: &str = "workshop_name";
/// Key of the setting that marks a demonstration workshop.
const DEMO_SETTING: &str = "demo";

impl Workshop {
    /// Opens the workshop in `folder`.
    ///
    /// # Errors
    /// When there is none or it cannot be read.
    pub fn open(folder: &Path) -> Result<Self, WorkshopError> {
        Ok(Self {
            store: FolderStore::open(folder)?,
        })
    }

    /// Returns the folder.
    pub fn folder(&self) -> &Path {
        self.store.dir()
    }

    /// Returns the store.
    pub fn store(&self) -> &FolderStore {
        &self.store
    }

    /// Returns the workshop's name.
    ///
    /// # Errors
    /// When setup did not finish.
    pub fn name(&self) -> Result<String, WorkshopError> {
        self.store
            .setting(NAME_SETTING)?
            .ok_or(WorkshopError::NotSetUp)
    }

    /// The workshop's name, empty where setup did not finish: who makes a change nobody else is named for.
    pub(crate) fn own_name(&self) -> Result<String, WorkshopError> {
        Ok(self.store.setting(NAME_SETTING)?.unwrap_or_default())
    }

    /// Tells whether this is a demonstration workshop.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn is_demo(&self) -> Result<bool, WorkshopError> {
        Ok(self.store.setting(DEMO_SETTING)?.is_some())
    }

    /// Returns the folder for files meant for people: records, reports, card.
    pub fn out_folder(&self) -> PathBuf {
        self.folder().join("out")
    }
}
