//! The trait, call by call.

use std::io::Read;

use serde_json::Value;
use tangmark_core::Digest;

use super::{FolderStore, journal, records, registry, search, standing, write::object_row};
use crate::{
    Attachment, BladeRow, Change, Changed, Derived, Draft, DraftEntry, EntryFilter, EntryRow,
    IntegrityReport, KeyRow, NewDraft, NewEntry, NewRecord, ObjectKind, ObjectRow, PhotoRow,
    PluginApproval, Progress, RecordRow, SearchHit, StandingFilter, StandingRow, Store, StoreError,
};

impl Store for FolderStore {
    fn add_blade(&self, blade: &BladeRow) -> Result<(), StoreError> {
        self.do_add_blade(blade)
    }

    fn blades(&self) -> Result<Vec<BladeRow>, StoreError> {
        self.list_blades()
    }

    fn blade(&self, id: &str) -> Result<BladeRow, StoreError> {
        registry::find_blade(&self.connection(), id)?
            .ok_or_else(|| StoreError::UnknownBlade(crate::text::cut(id)))
    }

    fn save_draft(&self, draft: &NewDraft<'_>) -> Result<u64, StoreError> {
        self.do_save_draft(draft)
    }

    fn draft(&self, blade: &str) -> Result<Option<Draft>, StoreError> {
        self.newest_draft(blade)
    }

    fn draft_at(&self, blade: &str, revision: u64) -> Result<Draft, StoreError> {
        self.do_draft_at(blade, revision)
    }

    fn draft_history(&self, blade: &str) -> Result<Vec<DraftEntry>, StoreError> {
        self.do_draft_history(blade)
    }

    fn undo(
        &self,
        blade: &str,
        expected_revision: u64,
        saved_at: &str,
        by: &str,
        entries: &[NewEntry<'_>],
    ) -> Result<Draft, StoreError> {
        self.do_undo(blade, expected_revision, (saved_at, by), entries)
    }

    fn apply(&self, change: &Change<'_>) -> Result<Changed, StoreError> {
        self.do_apply(change)
    }

    fn entries(&self, filter: &EntryFilter<'_>) -> Result<Vec<EntryRow>, StoreError> {
        journal::list(&self.connection(), filter)
    }

    fn entry(&self, number: u64) -> Result<EntryRow, StoreError> {
        journal::find(&self.connection(), number)
    }

    fn standing(&self, blade: &str) -> Result<StandingRow, StoreError> {
        standing::find(&self.connection(), blade)
    }

    fn standings(&self, filter: &StandingFilter<'_>) -> Result<Vec<StandingRow>, StoreError> {
        standing::list(&self.connection(), filter)
    }

    fn note_derived(&self, derived: &Derived<'_>) -> Result<bool, StoreError> {
        self.do_note_derived(derived)
    }

    fn sealed_passes(&self, blade: &str) -> Result<Vec<Value>, StoreError> {
        let connection = self.connection();
        registry::expect_blade(&connection, blade)?;
        standing::sealed_passes(&connection, blade)
    }

    fn search(&self, words: &str, limit: usize) -> Result<Vec<SearchHit>, StoreError> {
        search::find(&self.connection(), words, limit)
    }

    fn put_object_from_reader(
        &self,
        reader: &mut dyn Read,
        kind: ObjectKind,
    ) -> Result<Digest, StoreError> {
        self.put(reader, kind)
    }

    fn object(&self, digest: &Digest) -> Result<Vec<u8>, StoreError> {
        self.files.read(digest)
    }

    fn object_row(&self, digest: &Digest) -> Result<Option<ObjectRow>, StoreError> {
        object_row(&self.connection(), digest)
    }

    fn append_record(&self, record: &NewRecord<'_>) -> Result<RecordRow, StoreError> {
        self.do_append_record(record)
    }

    fn records(&self, blade: &str) -> Result<Vec<RecordRow>, StoreError> {
        self.list_records(blade)
    }

    fn tip(&self, blade: &str) -> Result<Option<RecordRow>, StoreError> {
        records::tip(&self.connection(), blade)
    }

    fn record(&self, name: &Digest) -> Result<RecordRow, StoreError> {
        records::find(&self.connection(), name)?.ok_or(StoreError::UnknownRecord(*name))
    }

    fn attach(&self, attachment: &Attachment) -> Result<(), StoreError> {
        self.do_attach(attachment)
    }

    fn attachments(&self, record: &Digest) -> Result<Vec<Attachment>, StoreError> {
        self.list_attachments(record)
    }

    fn add_photo(&self, photo: &PhotoRow) -> Result<(), StoreError> {
        self.do_add_photo(photo)
    }

    fn photos(&self, blade: &str) -> Result<Vec<PhotoRow>, StoreError> {
        self.list_photos(blade)
    }

    fn approve_plugin(&self, approval: &PluginApproval) -> Result<(), StoreError> {
        self.do_approve_plugin(approval)
    }

    fn withdraw_approval(&self, name: &str, digest: &Digest) -> Result<bool, StoreError> {
        self.do_withdraw_approval(name, digest)
    }

    fn plugin_approvals(&self) -> Result<Vec<PluginApproval>, StoreError> {
        self.list_plugin_approvals()
    }

    fn set_setting(&self, key: &str, value: Option<&str>) -> Result<(), StoreError> {
        self.do_set_setting(key, value)
    }

    fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.find_setting(key)
    }

    fn add_key(&self, key: &KeyRow, encrypted: &[u8]) -> Result<(), StoreError> {
        self.do_add_key(key, encrypted)
    }

    fn keys(&self) -> Result<Vec<KeyRow>, StoreError> {
        self.list_keys()
    }

    fn key_bytes(&self, did: &str) -> Result<Vec<u8>, StoreError> {
        self.read_key(did)
    }

    fn check(&self, progress: &mut dyn FnMut(Progress)) -> Result<IntegrityReport, StoreError> {
        self.do_check(progress)
    }
}
