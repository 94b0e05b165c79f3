//! The rows a store keeps, as plain values.

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::units::Decimal;

use crate::StoreError;

macro_rules! words {
    ($(#[$meta:meta])* $name:ident, $what:literal { $($(#[$inner:meta])* $variant:ident $word:literal;)+ }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum $name {
            $($(#[$inner])* $variant,)+
        }

        impl $name {
            /// The word the index keeps.
            pub const fn word(self) -> &'static str {
                match self {
                    $(Self::$variant => $word,)+
                }
            }

            pub(crate) fn from_word(word: &str) -> Result<Self, StoreError> {
                match word {
                    $($word => Ok(Self::$variant),)+
                    _ => Err(StoreError::UnknownWord { what: $what, word: word.chars().take(40).collect() }),
                }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.word())
            }
        }
    };
}

words! {
    /// What the bytes of an object are.
    ObjectKind, "object kind" {
        /// A sealed record; only [`crate::Store::append_record`] makes one.
        Record "record";
        /// A note that ties an object to a record; only [`crate::Store::attach`] makes one.
        Link "link";
        /// A photo as the camera wrote it.
        Photo "photo";
        /// A PDF report.
        Report "report";
        /// Disclosures of withheld values.
        Disclosures "disclosures";
        /// An answer of a time authority (RFC 3161).
        Timestamp "timestamp";
        /// Any other paper.
        Document "document";
    }
}

words! {
    /// What an attached object is to its record.
    Role, "role" {
        /// A PDF report of the record; there may be several.
        Report "report";
        /// The disclosures of its withheld values; there is at most one.
        Disclosures "disclosures";
        /// What a time authority says of it; there may be several.
        Timestamp "timestamp";
        /// Another paper that goes with it.
        Document "document";
    }
}

words! {
    /// Where a change of a draft came from.
    DraftSource, "draft source" {
        /// Command line.
        Command "command";
        /// Web page.
        Page "page";
        /// A sheet read from a file.
        Sheet "sheet";
        /// Rows of a table.
        Import "import";
        /// An earlier revision brought back by [`crate::Store::undo`].
        Undo "undo";
    }
}

/// A blade the workshop knows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BladeRow {
    /// Key given by the user: 1 to 40 lower-case letters, digits and hyphens.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// When it was entered (UTC, RFC 3339).
    pub created_at: String,
}

/// A draft to be saved.
#[derive(Debug, Clone, Copy)]
pub struct NewDraft<'a> {
    /// Blade.
    pub blade: &'a str,
    /// The revision the change was made on; `None` when there was no draft yet.
    pub expected_revision: Option<u64>,
    /// The draft: a JSON object. Kept in its canonical text (RFC 8785).
    pub body: &'a Value,
    /// When (UTC, RFC 3339).
    pub saved_at: &'a str,
    /// Where the change came from.
    pub source: DraftSource,
    /// A remark, may be empty.
    pub note: &'a str,
    /// Who made the change.
    pub by: &'a str,
}

/// One line of a draft's history.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DraftEntry {
    /// Blade.
    pub blade: String,
    /// Revision, from 1.
    pub revision: u64,
    /// When (UTC, RFC 3339).
    pub saved_at: String,
    /// Where the change came from.
    pub source: DraftSource,
    /// A remark, may be empty.
    pub note: String,
    /// Who made the change; empty where an older program kept it.
    pub by: String,
    /// The revision this one brought back, after an undo.
    pub restores: Option<u64>,
    /// Length of the body's canonical text, in bytes.
    pub length: u64,
}

/// A draft as it stood at one revision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Draft {
    /// Its line in the history.
    pub entry: DraftEntry,
    /// The body.
    pub body: Value,
}

/// A kept object.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ObjectRow {
    /// SHA-256 over its bytes.
    pub digest: Digest,
    /// What it is.
    pub kind: ObjectKind,
    /// Length in bytes.
    pub length: u64,
}

/// A sealed record to be kept.
#[derive(Debug, Clone, Copy)]
pub struct NewRecord<'a> {
    /// The sealed bytes, proof included. Blade, sequence and the rest are read from them.
    pub bytes: &'a [u8],
    /// When the workshop took it in (UTC, RFC 3339).
    pub sealed_at: &'a str,
    /// Revision of the blade's draft it was sealed from, if it was sealed here.
    pub draft_revision: Option<u64>,
    /// The file of its withheld values, to be kept with it or not at all.
    pub disclosures: Option<&'a [u8]>,
}

/// A kept sealed record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordRow {
    /// The record's name: SHA-256 over its canonical bytes without `proof`.
    pub name: Digest,
    /// The object that holds the sealed bytes: SHA-256 with `proof`.
    pub object: Digest,
    /// Blade.
    pub blade: String,
    /// Place in the blade's chain, from 1.
    pub sequence: u64,
    /// Name of the record before it.
    pub previous: Option<Digest>,
    /// The record's own id.
    pub record_id: String,
    /// Why it was issued.
    pub purpose: String,
    /// did:key of the issuer.
    pub issuer: String,
    /// When it says it was issued.
    pub issued_at: String,
    /// When the workshop took it in.
    pub sealed_at: String,
    /// Revision of the draft it was sealed from.
    pub draft_revision: Option<u64>,
}

/// An object that goes with a sealed record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Attachment {
    /// The record's name.
    pub record: Digest,
    /// The object.
    pub object: Digest,
    /// What it is to the record.
    pub role: Role,
}

/// A photo of a blade.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhotoRow {
    /// The object that holds the original bytes.
    pub digest: Digest,
    /// Blade.
    pub blade: String,
    /// Media type, such as `image/jpeg`.
    pub media_type: String,
    /// Length in bytes.
    pub length: u64,
    /// Width in pixels as stored.
    pub width: u32,
    /// Height in pixels as stored.
    pub height: u32,
    /// What it shows.
    pub shows: String,
    /// When it was taken, as the user or the file says (UTC, RFC 3339).
    pub taken_at: Option<String>,
    /// File name as given, without folders.
    pub file_name: String,
}

/// A plugin file the user allowed to run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PluginApproval {
    /// Plugin name.
    pub name: String,
    /// SHA-256 over the library file.
    pub digest: Digest,
    /// When (UTC, RFC 3339).
    pub approved_at: String,
}

/// A key of the workshop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyRow {
    /// did:key of the public key.
    pub did: String,
    /// File name in `keys/`.
    pub file_name: String,
    /// When it was made (UTC, RFC 3339).
    pub created_at: String,
    /// Digest of the recovery key that may take its place.
    pub recovery_digest: Option<Digest>,
}

/// An entry of the journal to be written.
#[derive(Debug, Clone, Copy)]
pub struct NewEntry<'a> {
    /// Kind: 1 to 40 lower-case letters and `_`.
    pub kind: &'a str,
    /// Blade, where it is about one.
    pub blade: Option<&'a str>,
    /// What else it is about, such as the key of a fitting; may be empty.
    pub subject: &'a str,
    /// The day it happened, `2026-11-25`.
    pub on: &'a str,
    /// A JSON object, kept in its canonical text (RFC 8785); left out, the entry strikes out the one it replaces.
    pub body: Option<&'a Value>,
    /// When it was entered (UTC, RFC 3339).
    pub at: &'a str,
    /// Who entered it.
    pub by: &'a str,
    /// The entry it takes the place of; of the same kind, and not replaced yet.
    pub replaces: Option<u64>,
}

/// An entry of the journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryRow {
    /// Number, from 1.
    pub number: u64,
    /// Kind.
    pub kind: String,
    /// Blade.
    pub blade: Option<String>,
    /// What else it is about.
    pub subject: String,
    /// The day it happened.
    pub on: String,
    /// The body; none where the entry strikes out another.
    pub body: Option<Value>,
    /// When it was entered.
    pub at: String,
    /// Who entered it.
    pub by: String,
    /// The entry it took the place of.
    pub replaces: Option<u64>,
    /// The entry that took its place.
    pub replaced_by: Option<u64>,
}

/// Which entries are asked for; what is left out admits any.
#[derive(Debug, Clone, Copy, Default)]
pub struct EntryFilter<'a> {
    /// Kind.
    pub kind: Option<&'a str>,
    /// Blade.
    pub blade: Option<&'a str>,
    /// Subject.
    pub subject: Option<&'a str>,
    /// Also those that were replaced or struck out, and the strikes themselves.
    pub whole: bool,
}

/// Several writes that happen together or not at all.
#[derive(Debug, Clone, Copy, Default)]
pub struct Change<'a> {
    /// A blade to be entered first; one that is there already is left as it is.
    pub blade: Option<&'a BladeRow>,
    /// Photos of blades, whose objects are kept already.
    pub photos: &'a [PhotoRow],
    /// A revision of a draft.
    pub draft: Option<NewDraft<'a>>,
    /// Entries of the journal.
    pub entries: &'a [NewEntry<'a>],
    /// The journal the entries were made on; left out, they go with any.
    pub seen: Option<Seen<'a>>,
}

/// The newest entry of one kind about a blade that a change was made on, replaced ones and strikes among them. When another
/// one was written since, nothing of the change is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen<'a> {
    /// Kind.
    pub kind: &'a str,
    /// Blade.
    pub blade: &'a str,
    /// Number; none where there was none.
    pub newest: Option<u64>,
}

/// What a [`Change`] wrote.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// Revision of the draft.
    pub revision: Option<u64>,
    /// Numbers of the entries, in their order.
    pub entries: Vec<u64>,
}

/// Where a blade stands: one line, derived from its newest draft, its newest record and the journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StandingRow {
    /// Blade.
    pub blade: String,
    /// Title by the newest draft; that of the blade where there is none.
    pub title: String,
    /// Kind by make.
    pub kind: Option<String>,
    /// Revision of the newest draft.
    pub revision: Option<u64>,
    /// When that was saved.
    pub saved_at: Option<String>,
    /// Where it came from.
    pub source: Option<DraftSource>,
    /// Its remark.
    pub note: String,
    /// Passes of its sealed records and of the newest draft, each once.
    pub passes: u64,
    /// Passes on the newest draft.
    pub sheet_passes: u64,
    /// Sum of the times of all passes, in minutes; none where no pass has one.
    pub minutes: Option<Decimal>,
    /// First mass, in grams: before the first pass that was weighed, else of the dimensions.
    pub mass_first: Option<Decimal>,
    /// Last mass, in grams: after the last pass that was weighed.
    pub mass_last: Option<Decimal>,
    /// Day of return agreed with the owner.
    pub return_by: Option<String>,
    /// Why the blade was examined; none where it was not, or only looked at as it came.
    pub examined: Option<String>,
    /// First stage of the plan after the last one that a pass carried out: its operation, and the name of its abrasive.
    pub planned: Option<String>,
    /// Sealed records.
    pub records: u64,
    /// Name of the newest.
    pub tip: Option<Digest>,
    /// Its purpose.
    pub purpose: Option<String>,
    /// Revision of the draft it was sealed from.
    pub tip_revision: Option<u64>,
    /// Verdict of its decision.
    pub decision: Option<String>,
    /// Its findings that stop, less those that an override or an answer in it names.
    pub stops: u64,
    /// Stage, by the newest entry of kind `stage`.
    pub stage: Option<String>,
    /// The day it was set.
    pub stage_since: Option<String>,
    /// Its remark.
    pub stage_note: Option<String>,
    /// The work on it has ended: it left the workshop.
    pub ended: bool,
    /// Stops that the last judgement of this very revision after this very record left standing; none where it was not
    /// judged since.
    pub judged: Option<u64>,
}

impl StandingRow {
    /// Stops that stand unanswered, as far as is known without judging: by the last judgement of the newest draft, or by the
    /// newest record where the draft is as it was sealed. None where nobody knows. For lists alone: nothing decides by it.
    pub fn known_stops(&self) -> Option<u64> {
        let as_sealed = self.tip_revision == self.revision;
        self.judged.or_else(|| as_sealed.then_some(self.stops))
    }
}

/// What a judgement of the newest draft of a blade found.
#[derive(Debug, Clone, Copy)]
pub struct Derived<'a> {
    /// Blade.
    pub blade: &'a str,
    /// Revision of the draft that was judged.
    pub revision: u64,
    /// Name of the newest record that it was judged after.
    pub tip: Option<Digest>,
    /// Stops that stand unanswered.
    pub stops: u64,
    /// When it was judged (UTC, RFC 3339).
    pub at: &'a str,
}

/// Which lines are asked for, by blade in alphabetical order.
#[derive(Debug, Clone, Copy)]
pub struct StandingFilter<'a> {
    /// Ended or in work.
    pub ended: Option<bool>,
    /// Stage.
    pub stage: Option<&'a str>,
    /// Only blades after this one.
    pub after: Option<&'a str>,
    /// At most so many.
    pub limit: usize,
}

impl Default for StandingFilter<'_> {
    fn default() -> Self {
        Self {
            ended: None,
            stage: None,
            after: None,
            limit: usize::MAX,
        }
    }
}

/// Something that holds all the words that were looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SearchHit {
    /// Blade it is about, if any.
    pub blade: Option<String>,
    /// The entry of the journal; none where it is the newest draft of the blade.
    pub entry: Option<u64>,
}
