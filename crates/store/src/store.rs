//! What any backend offers.

use std::io::Read;

use serde_json::Value;
use tangmark_core::Digest;

use crate::{
    Attachment, BladeRow, Change, Changed, Derived, Draft, DraftEntry, EntryFilter, EntryRow,
    IntegrityReport, KeyRow, NewDraft, NewEntry, NewRecord, ObjectKind, ObjectRow, PhotoRow,
    PluginApproval, Progress, RecordRow, Role, SearchHit, StandingFilter, StandingRow, StoreError,
};

/// A workshop's store.
///
/// Every call is whole or not at all: when it returns `Ok` what it wrote outlives a crash, when it returns an
/// error or never returns nothing of it can be seen. Several programs may use one store at the same time.
/// All times are UTC texts in the form `2026-11-25T09:30:00Z`.
pub trait Store: Send + Sync {
    /// Enters a blade. The same blade again is an error.
    fn add_blade(&self, blade: &BladeRow) -> Result<(), StoreError>;

    /// Lists the blades by id.
    fn blades(&self) -> Result<Vec<BladeRow>, StoreError>;

    /// Finds one blade.
    fn blade(&self, id: &str) -> Result<BladeRow, StoreError>;

    /// Adds a revision to the blade's draft and returns its number.
    ///
    /// When the newest revision is not the expected one nothing is written and the error names both. A body
    /// equal to the newest one adds nothing and returns the newest number.
    fn save_draft(&self, draft: &NewDraft<'_>) -> Result<u64, StoreError>;

    /// Returns the newest draft, if there is one.
    fn draft(&self, blade: &str) -> Result<Option<Draft>, StoreError>;

    /// Returns the draft as it stood at a revision.
    fn draft_at(&self, blade: &str, revision: u64) -> Result<Draft, StoreError>;

    /// Lists the draft's revisions, oldest first.
    fn draft_history(&self, blade: &str) -> Result<Vec<DraftEntry>, StoreError>;

    /// Takes the last change back by adding a revision equal to the one before it; nothing is erased.
    ///
    /// Undoing again goes one change further back. The revision the user looks at is the expected one, as in
    /// [`Store::save_draft`]. `entries` are written with it, all or nothing.
    fn undo(
        &self,
        blade: &str,
        expected_revision: u64,
        saved_at: &str,
        by: &str,
        entries: &[NewEntry<'_>],
    ) -> Result<Draft, StoreError>;

    /// Writes several things in one go: all of them or none.
    fn apply(&self, change: &Change<'_>) -> Result<Changed, StoreError>;

    /// Lists entries of the journal, oldest first.
    fn entries(&self, filter: &EntryFilter<'_>) -> Result<Vec<EntryRow>, StoreError>;

    /// Finds one entry of the journal.
    fn entry(&self, number: u64) -> Result<EntryRow, StoreError>;

    /// Tells where a blade stands.
    fn standing(&self, blade: &str) -> Result<StandingRow, StoreError>;

    /// Tells where the blades stand, in order of their keys; no draft and no record is opened for it.
    fn standings(&self, filter: &StandingFilter<'_>) -> Result<Vec<StandingRow>, StoreError>;

    /// Notes for the lists what a judgement found; says whether it was noted. One of a draft that is no longer the newest, or
    /// after a record that is no longer the newest, is not. Nothing decides by it, and a rebuilt index does not have it.
    fn note_derived(&self, derived: &Derived<'_>) -> Result<bool, StoreError>;

    /// Returns the passes of the sealed records of a blade as JSON, each once: of a pass in several records the newest counts.
    /// No record is opened for it.
    fn sealed_passes(&self, blade: &str) -> Result<Vec<Value>, StoreError>;

    /// Finds newest drafts and entries in force that hold all of the words, the last entered first, at most `limit`.
    ///
    /// A word matches from its beginning, whatever its case or diacritics. Chinese characters and kana match wherever
    /// they stand together.
    fn search(&self, words: &str, limit: usize) -> Result<Vec<SearchHit>, StoreError>;

    /// Keeps the bytes a reader gives and returns their digest. Bytes already kept are kept once, under the kind
    /// they were first given. Sealed records are refused: they enter by [`Store::append_record`] only.
    fn put_object_from_reader(
        &self,
        reader: &mut dyn Read,
        kind: ObjectKind,
    ) -> Result<Digest, StoreError>;

    /// Keeps bytes, as [`Store::put_object_from_reader`].
    fn put_object(&self, bytes: &[u8], kind: ObjectKind) -> Result<Digest, StoreError> {
        self.put_object_from_reader(&mut &bytes[..], kind)
    }

    /// Returns the bytes of an object after hashing them again; rotten bytes are refused.
    fn object(&self, digest: &Digest) -> Result<Vec<u8>, StoreError>;

    /// Returns what is known of an object, if it is kept.
    fn object_row(&self, digest: &Digest) -> Result<Option<ObjectRow>, StoreError>;

    /// Appends a sealed record to its blade's chain.
    ///
    /// The bytes must be their own canonical form (RFC 8785). `previous` must name the newest record of the
    /// blade and `sequence` must be one more than its. The very same bytes again return the row already there.
    /// Record and disclosures are kept together: a record whose values were lost could never show them again.
    fn append_record(&self, record: &NewRecord<'_>) -> Result<RecordRow, StoreError>;

    /// Lists the sealed records of a blade, oldest first.
    fn records(&self, blade: &str) -> Result<Vec<RecordRow>, StoreError>;

    /// Returns the newest sealed record of a blade, if there is one.
    fn tip(&self, blade: &str) -> Result<Option<RecordRow>, StoreError>;

    /// Finds a sealed record by its name.
    fn record(&self, name: &Digest) -> Result<RecordRow, StoreError>;

    /// Ties a kept object to a sealed record. Twice the same is one; a second object as disclosures is refused.
    fn attach(&self, attachment: &Attachment) -> Result<(), StoreError>;

    /// Lists what goes with a sealed record, by role and digest.
    fn attachments(&self, record: &Digest) -> Result<Vec<Attachment>, StoreError>;

    /// Notes a photo of a blade; its object must be kept already. The same photo again replaces what was noted.
    fn add_photo(&self, photo: &PhotoRow) -> Result<(), StoreError>;

    /// Lists the photos of a blade in the order they were first noted.
    fn photos(&self, blade: &str) -> Result<Vec<PhotoRow>, StoreError>;

    /// Approves a plugin file. Approved again, the first time stands.
    fn approve_plugin(&self, approval: &PluginApproval) -> Result<(), StoreError>;

    /// Withdraws the approval of a plugin file; says whether there was one.
    fn withdraw_approval(&self, name: &str, digest: &Digest) -> Result<bool, StoreError>;

    /// Lists the approvals by name and digest.
    fn plugin_approvals(&self) -> Result<Vec<PluginApproval>, StoreError>;

    /// Sets or, with `None`, clears a setting.
    fn set_setting(&self, key: &str, value: Option<&str>) -> Result<(), StoreError>;

    /// Returns a setting.
    fn setting(&self, key: &str) -> Result<Option<String>, StoreError>;

    /// Keeps an encrypted key. A file of that name with other bytes is never overwritten.
    fn add_key(&self, key: &KeyRow, encrypted: &[u8]) -> Result<(), StoreError>;

    /// Lists the keys, oldest first.
    fn keys(&self) -> Result<Vec<KeyRow>, StoreError>;

    /// Returns the encrypted bytes of a key.
    fn key_bytes(&self, did: &str) -> Result<Vec<u8>, StoreError>;

    /// Looks at everything: each object is hashed again, rows are held against objects, chains are followed.
    fn check(&self, progress: &mut dyn FnMut(Progress)) -> Result<IntegrityReport, StoreError>;
}

impl Role {
    /// Kind of object the role asks for.
    pub const fn kind(self) -> ObjectKind {
        match self {
            Self::Report => ObjectKind::Report,
            Self::Disclosures => ObjectKind::Disclosures,
            Self::Timestamp => ObjectKind::Timestamp,
            Self::Document => ObjectKind::Document,
        }
    }
}
