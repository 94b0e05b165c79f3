//! What can go wrong, in words, with the next step.

use std::{
    error::Error,
    fmt, io,
    path::{Path, PathBuf},
};

use tangmark_core::Digest;

use crate::text::{name_or_none, revision};

/// Why the system refused to read or write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Trouble {
    /// No space left.
    Full,
    /// The folder or file may not be written or read by this user.
    Denied,
    /// Another program holds it.
    Busy,
    /// It is not what it should be, or damaged.
    Damaged,
    /// It is not there.
    Missing,
    /// Anything else; the source says what.
    Other,
}

impl Trouble {
    pub(crate) fn of_io(error: &io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::StorageFull
            | io::ErrorKind::QuotaExceeded
            | io::ErrorKind::FileTooLarge => Self::Full,
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => Self::Denied,
            io::ErrorKind::NotFound => Self::Missing,
            _ => Self::Other,
        }
    }

    fn of_sqlite(error: &rusqlite::Error) -> Self {
        use rusqlite::ErrorCode;
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => Self::Full,
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => {
                Self::Denied
            }
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged,
            _ => Self::Other,
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Full => "the disk is full",
            Self::Denied => "this user may not do that there",
            Self::Busy => "another program holds it",
            Self::Damaged => "it is damaged or something else",
            Self::Missing => "it is not there",
            Self::Other => "the system refused",
        })
    }
}

/// A store refused or could not do what was asked.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// A workshop is made in an empty or new folder only.
    #[error("cannot make a workshop in `{}`: it already holds `{entry}`", dir.display())]
    NotEmpty {
        /// Folder.
        dir: PathBuf,
        /// First entry by name.
        entry: String,
    },
    /// Making the workshop did not end.
    #[error("the workshop in `{}` was begun and not finished", .0.display())]
    HalfMade(PathBuf),
    /// The folder holds no workshop.
    #[error("`{}` is not a workshop: `{missing}` is not there", dir.display())]
    NotAWorkshop {
        /// Folder.
        dir: PathBuf,
        /// What is not there.
        missing: &'static str,
    },
    /// Objects are there, the index is not.
    #[error("the workshop in `{}` has lost its index `workshop.db`", .0.display())]
    IndexMissing(PathBuf),
    /// The index file is there and holds nothing.
    #[error("the index `{}` is empty", .0.display())]
    EmptyIndex(PathBuf),
    /// The file is some other program's database.
    #[error("`{}` is a database of another program (application id {found:#010x})", path.display())]
    ForeignDatabase {
        /// File.
        path: PathBuf,
        /// Application id found.
        found: i32,
    },
    /// A newer program wrote it.
    #[error("the index `{}` has version {found}; this program knows versions up to {known}", path.display())]
    NewerIndex {
        /// File.
        path: PathBuf,
        /// Version found.
        found: i64,
        /// Newest version known.
        known: i64,
    },
    /// A rebuild needs the workshop for itself.
    #[error("the workshop in `{}` is open in another program", .0.display())]
    InUse(PathBuf),
    /// The file system refused.
    #[error("cannot {action} `{}`: {trouble}", path.display())]
    File {
        /// What was tried.
        action: &'static str,
        /// Where.
        path: PathBuf,
        /// Why.
        trouble: Trouble,
        /// The system's own word.
        source: io::Error,
    },
    /// The input given by the caller could not be read.
    #[error("cannot read the input after {read} bytes")]
    Input {
        /// Bytes read before.
        read: u64,
        /// The system's own word.
        source: io::Error,
    },
    /// The index refused.
    #[error("cannot {action}: the index answers that {trouble}")]
    Index {
        /// What was tried.
        action: &'static str,
        /// Why.
        trouble: Trouble,
        /// The index's own word.
        source: Box<dyn Error + Send + Sync>,
    },
    /// The index holds a word this program does not know.
    #[error("the index holds `{word}` as {what}, which is not known")]
    UnknownWord {
        /// Which field.
        what: &'static str,
        /// What was found.
        word: String,
    },
    /// A time is not in the one form allowed.
    #[error("{field} is `{text}`: a UTC time like 2026-11-25T09:30:00Z is allowed")]
    BadTime {
        /// Which field.
        field: &'static str,
        /// What was found.
        text: String,
    },
    /// A day is not in the one form allowed.
    #[error("{field} is `{text}`: a day like 2026-11-25 is allowed")]
    BadDay {
        /// Which field.
        field: &'static str,
        /// What was found.
        text: String,
    },
    /// A text for people cannot be kept.
    #[error("{field} `{text}` is {reason}")]
    BadText {
        /// Which field.
        field: &'static str,
        /// What was found, cut.
        text: String,
        /// Why.
        reason: &'static str,
    },
    /// Not a blade id.
    #[error(
        "`{text}` is not a blade id: 1 to 40 lower-case letters, digits and hyphens are allowed, a letter or digit first"
    )]
    BadBladeId {
        /// What was found, cut.
        text: String,
    },
    /// Not a key file name.
    #[error(
        "`{text}` is not a key file name: 1 to 80 letters, digits, `-`, `_` and `.` are allowed, a letter or digit first"
    )]
    BadKeyFileName {
        /// What was found, cut.
        text: String,
    },
    /// The blade is already there.
    #[error("blade `{0}` is already in this workshop")]
    BladeExists(String),
    /// The blade is not there.
    #[error("blade `{0}` is not in this workshop")]
    UnknownBlade(String),
    /// Somebody else saved in between.
    #[error("the draft of blade `{blade}` was changed elsewhere: this change was made on {}, the newest is {}", revision(*expected), revision(*newest))]
    DraftConflict {
        /// Blade.
        blade: String,
        /// Revision the change was made on.
        expected: Option<u64>,
        /// Newest revision.
        newest: Option<u64>,
    },
    /// There is no such revision.
    #[error("blade `{blade}` has no draft revision {asked}: the newest is {}", revision(*newest))]
    NoSuchRevision {
        /// Blade.
        blade: String,
        /// Revision asked for.
        asked: u64,
        /// Newest revision.
        newest: Option<u64>,
    },
    /// The draft is already as it first was.
    #[error("nothing to undo on blade `{0}`: the draft is as it was first saved")]
    NothingToUndo(String),
    /// A draft is a JSON object.
    #[error("the draft body is {0}, a JSON object is allowed")]
    DraftNotAnObject(&'static str),
    /// A draft that the strict reader would refuse.
    #[error("the draft body cannot be kept: {reason}")]
    DraftBody {
        /// Why.
        reason: String,
        /// What to do about it.
        advice: String,
    },
    /// Too large.
    #[error("{what} is larger than {limit} bytes")]
    TooLarge {
        /// What.
        what: String,
        /// Largest allowed, in bytes.
        limit: u64,
    },
    /// There is no such object.
    #[error("object {0} is not kept here")]
    ObjectMissing(Digest),
    /// The bytes are not those that were kept.
    #[error("object {digest} in `{}` is rotten: its bytes have the digest {found}", path.display())]
    ObjectRotten {
        /// Name it should have.
        digest: Digest,
        /// Digest of the bytes now.
        found: Digest,
        /// Where it lies.
        path: PathBuf,
    },
    /// A record may not enter as a plain object, and nothing else may enter as a record.
    #[error("an object of kind `{kind}` cannot be put in by itself{}", if *found { ": these bytes are one" } else { "" })]
    NotByItself {
        /// Kind.
        kind: crate::ObjectKind,
        /// Whether the bytes turned out to be of that kind.
        found: bool,
    },
    /// The bytes are not a sealed record.
    #[error("not a sealed record: {reason}")]
    NotARecord {
        /// Why.
        reason: String,
    },
    /// The record does not follow the newest one.
    #[error(
        "the record of blade `{blade}` has sequence {sequence} after {}, but the newest here is {} and sequence {} comes next",
        name_or_none(previous.as_ref()), name_or_none(tip.as_ref()), tip_sequence + 1
    )]
    NotNext {
        /// Blade.
        blade: String,
        /// Sequence of the record.
        sequence: u64,
        /// Predecessor it names.
        previous: Option<Digest>,
        /// Newest record here.
        tip: Option<Digest>,
        /// Its sequence, 0 when there is none.
        tip_sequence: u64,
    },
    /// The same content sealed twice.
    #[error("sealed record {name} is already kept with another proof, as object {object}")]
    SealedOtherwise {
        /// The record's name.
        name: Digest,
        /// The object already kept.
        object: Digest,
    },
    /// There is no such record.
    #[error("sealed record {0} is not kept here")]
    UnknownRecord(Digest),
    /// A record has one set of disclosures.
    #[error("sealed record {record} already has the disclosures {kept}; {offered} was offered")]
    SecondDisclosures {
        /// The record's name.
        record: Digest,
        /// Object already attached.
        kept: Digest,
        /// Object offered.
        offered: Digest,
    },
    /// Photo row and photo disagree.
    #[error("photo {digest} is {kept} bytes long, not {given}")]
    PhotoLength {
        /// Photo.
        digest: Digest,
        /// Length kept.
        kept: u64,
        /// Length given.
        given: u64,
    },
    /// Another key has that name.
    #[error("{what} `{text}` belongs to another key already")]
    KeyExists {
        /// Which field.
        what: &'static str,
        /// Its value.
        text: String,
    },
    /// There is no such entry.
    #[error("the journal has no entry {0} in force")]
    UnknownEntry(u64),
    /// Another entry was written since the journal was looked at.
    #[error("entry {newest} of kind `{kind}` on blade `{blade}` was written elsewhere meanwhile")]
    EntryMeanwhile {
        /// Kind.
        kind: String,
        /// Blade.
        blade: String,
        /// Number of that entry.
        newest: u64,
    },
    /// Another entry took its place already.
    #[error("entry {number} of the journal was replaced by entry {by} already")]
    EntryReplaced {
        /// The entry.
        number: u64,
        /// The one that took its place.
        by: u64,
    },
    /// An entry may take the place of one of its own kind and blade only.
    #[error("entry {number} of the journal is of kind `{found}`{}: an entry of another kind or blade cannot take its place", blade.as_ref().map(|blade| format!(" on blade `{blade}`")).unwrap_or_default())]
    OtherEntry {
        /// The entry.
        number: u64,
        /// Its kind.
        found: String,
        /// Its blade.
        blade: Option<String>,
    },
    /// Words that cannot be looked for.
    #[error("`{text}` cannot be looked for: {reason}")]
    BadSearch {
        /// What was given, cut.
        text: String,
        /// Why.
        reason: &'static str,
    },
    /// There is no such key.
    #[error("key `{0}` is not in this workshop")]
    UnknownKey(String),
}

impl StoreError {
    pub(crate) fn file(action: &'static str, path: &Path, source: io::Error) -> Self {
        Self::File {
            action,
            path: path.to_owned(),
            trouble: Trouble::of_io(&source),
            source,
        }
    }

    pub(crate) fn index(action: &'static str, source: rusqlite::Error) -> Self {
        Self::Index {
            action,
            trouble: Trouble::of_sqlite(&source),
            source: Box::new(source),
        }
    }

    /// The exact next step, where there is one.
    pub fn hint(&self) -> Option<String> {
        Some(match self {
            Self::NotEmpty { .. } => "name a new or empty folder".to_owned(),
            Self::HalfMade(dir) => {
                format!("nothing was kept in it yet: delete the folder `{}` and make it again", dir.display())
            }
            Self::NotAWorkshop { .. } => "name the folder that holds `workshop.db`, or make a new workshop".to_owned(),
            Self::IndexMissing(_) | Self::EmptyIndex(_) => "rebuild the index from the objects".to_owned(),
            Self::ForeignDatabase { .. } => "name the workshop's own folder".to_owned(),
            Self::NewerIndex { .. } | Self::UnknownWord { .. } => "use the newer program that wrote it".to_owned(),
            Self::InUse(_) => "close every other program that uses this workshop, then do the same again".to_owned(),
            Self::File { trouble, .. } | Self::Index { trouble, .. } => return trouble_hint(*trouble),
            Self::Input { .. } => "nothing was kept; look whether the file can still be read, then do the same again".to_owned(),
            Self::BadTime { .. } => "write year-month-day, `T`, hours:minutes:seconds and `Z`".to_owned(),
            Self::BadDay { .. } => "write year-month-day".to_owned(),
            Self::UnknownEntry(_) => "list the journal".to_owned(),
            Self::EntryMeanwhile { newest, .. } => format!("nothing was written; look at entry {newest}, and begin again"),
            Self::EntryReplaced { by, .. } => format!("nothing was written; look at entry {by}, and correct that one"),
            Self::OtherEntry { .. } => "list the journal, and name the entry that is to be corrected".to_owned(),
            Self::BadSearch { .. } => "give 1 to 20 words of letters or digits, 400 bytes at most".to_owned(),
            Self::BadText { .. } => "write 1 to 1600 bytes of plain text".to_owned(),
            Self::BadBladeId { .. } => "write for example `wakizashi-3`".to_owned(),
            Self::BadKeyFileName { .. } => "write for example `workshop.pem`".to_owned(),
            Self::BladeExists(_) => "choose another id, or go on with the blade that is there".to_owned(),
            Self::UnknownBlade(_) => "list the blades, or enter this one first".to_owned(),
            Self::DraftConflict { .. } => {
                "nothing was written; load the newest draft, make the change again on it and save".to_owned()
            }
            Self::NoSuchRevision { .. } => "list the draft's history".to_owned(),
            Self::NothingToUndo(_) => "list the draft's history to see what there is".to_owned(),
            Self::DraftNotAnObject(_) => "give the draft as one JSON object".to_owned(),
            Self::DraftBody { advice, .. } => advice.clone(),
            Self::TooLarge { .. } => "nothing was kept; give a smaller file".to_owned(),
            Self::ObjectMissing(_) | Self::ObjectRotten { .. } => {
                "check the whole workshop, then copy the file back from a backup or from the package that was handed over".to_owned()
            }
            Self::NotByItself { kind: crate::ObjectKind::Link, .. } => "attach the object to its record".to_owned(),
            Self::NotByItself { .. } => "append the sealed record to its blade".to_owned(),
            Self::NotARecord { .. } => "give the sealed file byte for byte as it was issued".to_owned(),
            Self::NotNext { .. } => "nothing was written; seal again on the newest record of this blade".to_owned(),
            Self::SealedOtherwise { .. } => "keep the one that is here; the content is the same".to_owned(),
            Self::UnknownRecord(_) => "list the records of the blade".to_owned(),
            Self::SecondDisclosures { .. } => "seal a correction if other values are to be disclosed".to_owned(),
            Self::PhotoLength { .. } => "measure the file that was put in".to_owned(),
            Self::KeyExists { .. } => "choose another file name; key files are never overwritten".to_owned(),
            Self::UnknownKey(_) => "list the keys of this workshop".to_owned(),
        })
    }
}

fn trouble_hint(trouble: Trouble) -> Option<String> {
    match trouble {
        Trouble::Full => Some("nothing was written; make room on the disk, then do the same again".to_owned()),
        Trouble::Denied => {
            Some("nothing was written; give this user the right to write in the workshop folder, then do the same again".to_owned())
        }
        Trouble::Busy => Some("nothing was written; wait until the other program is done, then do the same again".to_owned()),
        Trouble::Damaged => Some("copy the whole folder to a safe place, then rebuild the index from the objects".to_owned()),
        Trouble::Missing => Some("check the whole workshop to see what else is gone".to_owned()),
        Trouble::Other => None,
    }
}
