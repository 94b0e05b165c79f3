//! What can go wrong with the workshop's keys.

use std::path::PathBuf;

use tangmark_trust::history::HistoryError;

/// Why the keys were not changed or read. Nothing was written that the error does not name.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum KeysError {
    /// There is no key history.
    #[error("{}: not there; the key history tells which key is in force", .0.display())]
    NoHistory(PathBuf),
    /// The workshop's own key history is not as it was written.
    #[error("{}: {error}", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        error: HistoryError,
    },
    /// The key in force is revoked.
    #[error(
        "the signing key {fingerprint} is revoked since {since}; nothing can be sealed with it"
    )]
    Revoked {
        /// Its fingerprint.
        fingerprint: String,
        /// Since when.
        since: String,
    },
    /// The file of the key in force is gone.
    #[error("the signing key {fingerprint} has no file in `keys/`")]
    NoFile {
        /// Its fingerprint.
        fingerprint: String,
    },
    /// A key file holds another key than the index says.
    #[error("key file `{file_name}` holds the key {found}, another one than the index names")]
    OtherKey {
        /// The file.
        file_name: String,
        /// Fingerprint of the key in it.
        found: String,
    },
    /// A key that no statement of the history names.
    #[error("`{0}` is no key of this workshop")]
    NoSuchKey(String),
    /// The change would begin before the last thing that was signed has ended.
    #[error(
        "the new key would sign from {now} on, a time after {newest} (the last thing signed) is needed"
    )]
    TooSoon {
        /// The time now.
        now: String,
        /// Time of the newest record or entry.
        newest: String,
    },
    /// The clock is behind the key in force.
    #[error("the signing key signs from {from} on, this computer's clock says {now}")]
    NotYet {
        /// From when on.
        from: String,
        /// The time now.
        now: String,
    },
    /// A key that is revoked already is to be revoked with its successor.
    #[error(
        "the signing key {fingerprint} is revoked since {since} already; a key is revoked once, nothing was changed"
    )]
    RevokedAlready {
        /// Its fingerprint.
        fingerprint: String,
        /// Since when.
        since: String,
    },
    /// The recovery secret is another one.
    #[error("this recovery secret gives the digest {found}, the key history names {wanted}")]
    OtherRecovery {
        /// Digest of the key it gives.
        found: String,
        /// Digest in the history.
        wanted: String,
    },
    /// A folder for a copy is not empty.
    #[error("{} exists already and is not empty; nothing was written", .0.display())]
    NotEmpty(PathBuf),
    /// A folder for the card holds another file of the same name.
    #[error("{} is there with other content; it is not overwritten, and nothing was written", .0.display())]
    CardThere(PathBuf),
    /// A backup is not as it was written.
    #[error("{}: {what}", .path.display())]
    Backup {
        /// The backup, or a file of it.
        path: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// A backup ends before a key that sealed records of the workshop.
    #[error(
        "{}: its key history does not name the key {fingerprint}, which sealed record {record} of blade `{blade}` here{}: the backup is older than that key",
        .path.display(),
        if *.listed { "" } else { " under the workshop's name" }
    )]
    OlderThanKey {
        /// The backup.
        path: PathBuf,
        /// The key.
        fingerprint: String,
        /// Number of a record it sealed.
        record: u64,
        /// Blade of that record.
        blade: String,
        /// The workshop lists the key as its own; else only the name in the record tells.
        listed: bool,
    },
    /// The index and the backup list another key under one file name, or one key under two.
    #[error(
        "the backup has the key {backup} in `{file_name}`, the index of the workshop has {here}; nothing was written"
    )]
    RowDiffers {
        /// File name in the backup.
        file_name: String,
        /// Fingerprint in the backup.
        backup: String,
        /// What the index has.
        here: String,
    },
    /// What the workshop has differs from the backup.
    #[error("{}: there are other bytes than in the backup; it is not overwritten", .0.display())]
    Differs(PathBuf),
    /// The signer is not the one whose fingerprint was typed.
    #[error("{found} signed the file, {typed} was asked for")]
    OtherFingerprint {
        /// As typed.
        typed: String,
        /// That of the signer.
        found: String,
    },
    /// A key history that was handed in is refused.
    #[error("{}: {error}", .path.display())]
    HandedIn {
        /// The file.
        path: PathBuf,
        /// Why.
        error: HistoryError,
    },
    /// What was handed in as a key history is a package.
    #[error("{}: a folder or a zip file, a key history is one file of JSON", .0.display())]
    PackageAsHistory(PathBuf),
    /// Nothing remembered has that name or fingerprint.
    #[error("`{0}` is neither a name nor a fingerprint that is remembered")]
    NotKnown(String),
    /// Only a history names it, which another key that is remembered needs.
    #[error("`{0}` stands in a key history alone, and that one names a key that you remember")]
    StillNamed(String),
}

impl KeysError {
    /// The next step.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoHistory(_) => {
                "bring it back with `tangmark key restore DIR` from a backup; without one copy the newest `key-history.json` there is to that place: from `out/card`, a package, or anybody who has your card"
            }
            Self::Damaged { .. } => {
                "move it away and bring it back with `tangmark key restore DIR` from a backup"
            }
            Self::Revoked { .. } => {
                "name a new key with `tangmark key recover`; you need the recovery secret on paper"
            }
            Self::NoFile { .. } => {
                "bring it back with `tangmark key restore DIR`; without a backup name a new key with `tangmark key recover`"
            }
            Self::OtherKey { .. } => "bring the right file back with `tangmark key restore DIR`",
            Self::NoSuchKey(_) => "list the keys with `tangmark key show`",
            Self::TooSoon { .. } => {
                "look at the clock of this computer, and run it again in a second"
            }
            Self::NotYet { .. } => "set the clock of this computer",
            Self::RevokedAlready { .. } => "leave `--stolen-since` out",
            Self::OtherRecovery { .. } => {
                "take the paper that was written last; after a recovery the older one is spent"
            }
            Self::NotEmpty(_) => "name a new folder",
            Self::CardThere(_) => "name a new folder with `--out DIR`",
            Self::Backup { .. } => {
                "use another backup, or make a new one with `tangmark key backup DIR`"
            }
            Self::OlderThanKey { listed: true, .. } => {
                "use another backup, or bring the key history back from the newest package or card that you handed out"
            }
            Self::OlderThanKey { .. } => {
                "use another backup; if that key belongs to somebody else of the same name, add `--not-mine` with its fingerprint"
            }
            Self::RowDiffers { .. } => {
                "use a backup of this workshop; for another one restore into a new folder with `tangmark --workshop DIR key restore`"
            }
            Self::Differs(_) => {
                "compare the two; move the file of the workshop away first if the backup is the right one"
            }
            Self::OtherFingerprint { .. } => {
                "look at the card again; if it is typed as it stands there, the file is not from this workshop, or from another key of it (`--keys FILE`)"
            }
            Self::HandedIn { error, .. } => error.hint(),
            Self::PackageAsHistory(_) => {
                "a package holds its key histories in `data/keys/`: unpack it and name one of these, or verify the package itself with `tangmark verify`"
            }
            Self::NotKnown(_) => "list what is remembered with `tangmark key known`",
            Self::StillNamed(_) => {
                "forget that key, listed by `tangmark key known`, and the history goes with it"
            }
        }
    }
}
