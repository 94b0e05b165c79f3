//! Keeps what a workshop knows: drafts with their history, sealed records that are never changed,
//! photos and papers named by their digest, keys at rest, approvals and settings.
//!
//! [`Store`] is the narrow trait every backend offers; [`FolderStore`] keeps a workshop in one folder:
//!
//! ```text
//! workshop.db                  SQLite index, drafts and journal
//! workshop.lock                held while a program has the workshop open
//! objects/<first two>/<sha256> sealed records, photos, PDFs, disclosures, attachment notes
//! keys/<name>                  encrypted private keys, readable by the owner only
//! ```
//!
//! An object is on the disk, whole and flushed, before a row speaks of it. Everything sealed can be read
//! again from `objects/` alone, see [`FolderStore::rebuild_index`]. No clock and no randomness: times come
//! from the caller as UTC texts.
#![forbid(unsafe_code)]

#[cfg(any(test, feature = "conformance"))]
pub mod conformance;
mod error;
mod folder;
mod integrity;
mod limits;
mod model;
mod sealed;
mod store;
mod text;

pub use error::{StoreError, Trouble};
pub use folder::{FolderStore, LeftOut, OldIndex, RebuildReport, machine_made};
pub use integrity::{IntegrityReport, Notice, Problem, Progress};
pub use limits::Limits;
pub use model::{
    Attachment, BladeRow, Change, Changed, Derived, Draft, DraftEntry, DraftSource, EntryFilter,
    EntryRow, KeyRow, NewDraft, NewEntry, NewRecord, ObjectKind, ObjectRow, PhotoRow,
    PluginApproval, RecordRow, Role, SearchHit, Seen, StandingFilter, StandingRow,
};
pub use sealed::{RecordFacts, read_record};
pub use store::Store;
