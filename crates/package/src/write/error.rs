//! Why a package was not written.

use std::io;
use std::path::{Path, PathBuf};

/// Why a package was not written; nothing is left of it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// A path that no reader would take.
    #[error("`{path}` cannot stand in a package: {what}")]
    Path {
        /// The path in the bag.
        path: String,
        /// What is wrong with it.
        what: &'static str,
    },
    /// A file is too long.
    #[error("`{path}` has {length} bytes, at most {most} bytes are allowed")]
    TooLong {
        /// The path in the bag.
        path: String,
        /// Its length in bytes.
        length: u64,
        /// Most bytes.
        most: u64,
    },
    /// Too many files and folders.
    #[error("the package would have {paths} files and folders, at most {most} are allowed")]
    TooMany {
        /// Files and folders.
        paths: usize,
        /// Most of them.
        most: usize,
    },
    /// Too many bytes.
    #[error("the {what} would have {bytes} bytes, at most {most} bytes are allowed")]
    TooLarge {
        /// Bytes.
        bytes: u64,
        /// Most bytes.
        most: u64,
        /// `package` or `zip file`.
        what: &'static str,
    },
    /// There is nothing that could be checked.
    #[error("a package without a record")]
    NoRecord,
    /// A kept file does not have its digest.
    #[error("{file}: the bytes are not those it was kept under; they would become `{path}`")]
    Rotten {
        /// The file.
        file: PathBuf,
        /// The path in the bag.
        path: String,
    },
    /// There is something at the place already.
    #[error("{0} exists already; it is not overwritten")]
    Exists(PathBuf),
    /// The watcher ended it.
    #[error("the writing of the package was cancelled; nothing is left of it")]
    Cancelled,
    /// A file could not be read or written.
    #[error("{path}: cannot {what}: {source}")]
    File {
        /// The file.
        path: PathBuf,
        /// What was tried.
        what: &'static str,
        /// Why it failed.
        source: io::Error,
    },
}

impl WriteError {
    pub(super) fn file(what: &'static str, path: &Path, source: io::Error) -> Self {
        Self::File {
            path: path.to_owned(),
            what,
            source,
        }
    }

    /// Returns the next step.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Path { .. } => "report this as a fault of the program, with the path",
            Self::TooLong { .. } => "leave the file out; photos are left out with `--photos none`",
            Self::TooMany { .. } => "leave the photos out with `--photos none`",
            Self::TooLarge {
                what: "zip file", ..
            } => "write a folder with `--out DIR`, or leave the photos out with `--photos none`",
            Self::TooLarge { .. } => {
                "hand over smaller copies with `--photos copies`, or none with `--photos none`"
            }
            Self::NoRecord => "seal a record with `tangmark seal BLADE --for before_work …`",
            Self::Rotten { .. } => {
                "run `tangmark store check`, then copy the file back from a backup"
            }
            Self::Exists(_) => "name another place with `--out PATH`",
            Self::Cancelled => "give the command again",
            Self::File { .. } => "check that the path exists and may be read and written",
        }
    }
}
