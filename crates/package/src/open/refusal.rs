//! Why a package is refused whole.

use serde::Serialize;

use crate::path::shown;

/// A rule of "What is refused whole" on the package page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// An absolute or empty path, a part that is empty, `.` or `..` or ends in a full stop or space.
    PathForm,
    /// A path or a part of one that is too long.
    PathLength,
    /// A control character, or a sign that some systems give a meaning to.
    PathSigns,
    /// A path outside Unicode Normalization Form C.
    PathNormal,
    /// A path that is no UTF-8.
    PathText,
    /// The name of a device.
    PathDevice,
    /// Two paths that are one on some system.
    SamePath,
    /// Too many paths.
    TooManyPaths,
    /// A symbolic link.
    Link,
    /// Neither a plain file nor a folder.
    NotPlain,
    /// `fetch.txt`.
    Fetch,
    /// A file that every package has is not there.
    NotThere,
    /// `bagit.txt` says another version or encoding.
    Declaration,
    /// A manifest that cannot be read.
    Manifest,
    /// A file that is too long.
    TooLong,
    /// All files together are too long.
    AllTooLong,
    /// Bytes of a zip file that belong to no entry, or to two.
    ZipGaps,
    /// The end record of a zip file, or its comment.
    ZipEnd,
    /// The directory of a zip file.
    ZipDirectory,
    /// A form of zip file that is not read: zip64, encryption, another method.
    ZipForm,
    /// The header of an entry says something else than the directory.
    ZipHeader,
    /// A name that stands twice.
    ZipTwice,
    /// Data of another length or check sum than stated.
    ZipData,
    /// None or several top folders.
    ZipTop,
    /// The file or folder could not be read.
    Unreadable,
}

impl Rule {
    /// What is allowed.
    pub const fn allowed(self) -> &'static str {
        match self {
            Self::PathForm => {
                "paths below the top folder are allowed, no part of them empty, `.`, `..` or ending in a full stop or space"
            }
            Self::PathLength => "at most 240 bytes are allowed, 120 bytes in one part",
            Self::PathSigns => {
                "no control characters and none of \\ : * ? \" < > | are allowed in paths"
            }
            Self::PathNormal => "paths in Unicode Normalization Form C are allowed",
            Self::PathText => "paths in UTF-8 are allowed, in a zip file marked as such",
            Self::PathDevice => "names that some systems keep for devices are not allowed",
            Self::SamePath => "paths that differ on every system are allowed",
            Self::TooManyPaths => "at most 20000 files and folders are allowed",
            Self::Link => "a symbolic link is not allowed",
            Self::NotPlain => "plain files and folders are allowed",
            Self::Fetch => "a package that is to be completed over a network is not allowed",
            Self::NotThere => {
                "`bagit.txt`, `manifest-sha256.txt`, `tagmanifest-sha256.txt` and a record in `data/records/` are needed"
            }
            Self::Declaration => {
                "the lines `BagIt-Version: 1.0` and `Tag-File-Character-Encoding: UTF-8` are allowed"
            }
            Self::Manifest => {
                "lines of 64 lower-case hexadecimal digits, two spaces and a path are allowed, each path once"
            }
            Self::TooLong => {
                "at most 16 MiB are allowed, 256 MiB in `data/photos/` and `data/reports/`"
            }
            Self::AllTooLong => "at most 8 GiB are allowed in all",
            Self::ZipGaps => "entries one after the other from the first byte on are allowed",
            Self::ZipEnd => {
                "one end record without comment, the last 22 bytes of the file, is allowed"
            }
            Self::ZipDirectory => {
                "a directory of at most 16 MiB that fills its place and has as many entries as the end record says is allowed"
            }
            Self::ZipForm => {
                "entries that are stored or deflated, without zip64, encryption or a second name, are allowed"
            }
            Self::ZipHeader => "the header of an entry must say what the directory says of it",
            Self::ZipTwice => "each name is allowed once",
            Self::ZipData => "data of the stated length and check sum (CRC-32) are allowed",
            Self::ZipTop => "one top folder with everything in it is allowed",
            Self::Unreadable => "a folder or a zip file that can be read is needed",
        }
    }
}

/// A package that is refused whole: nothing of it is used, nothing written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, thiserror::Error)]
#[error("package refused: {}{found}; {}", if path.is_empty() { String::new() } else { format!("`{path}`: ") }, rule.allowed())]
pub struct Refusal {
    /// The rule it breaks.
    pub rule: Rule,
    /// Where, as a path in the bag that may be shown; empty for the package as a whole.
    pub path: String,
    /// What was found.
    pub found: String,
}

impl Refusal {
    pub(crate) fn new(rule: Rule, path: &str, found: impl Into<String>) -> Self {
        Self {
            rule,
            path: shown(path),
            found: found.into(),
        }
    }

    pub(crate) fn unreadable(path: &str, error: &std::io::Error) -> Self {
        Self::new(Rule::Unreadable, path, error.to_string())
    }

    /// Returns the next step.
    pub const fn hint(&self) -> &'static str {
        match self.rule {
            Rule::Unreadable => {
                "check the path and that it may be read, and copy the package again if it is damaged"
            }
            Rule::ZipData | Rule::ZipGaps | Rule::ZipEnd | Rule::ZipDirectory => {
                "the file may have been cut off or damaged on the way: ask for it again"
            }
            Rule::ZipForm | Rule::ZipHeader | Rule::ZipTop => {
                "ask for the package as the workshop wrote it, not packed anew by another program"
            }
            Rule::NotThere => {
                "name the folder that holds `bagit.txt`, or ask for the whole package"
            }
            _ => {
                "rely on nothing in this package; ask whoever handed it over for one that the workshop wrote"
            }
        }
    }
}

/// Why one file of a package could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// There is no such file.
    #[error("`{0}` is not in the package")]
    NoSuchFile(String),
    /// It is longer than the caller takes.
    #[error("`{path}` has {length} bytes, at most {most} bytes are taken here")]
    TooLong {
        /// The file.
        path: String,
        /// Its length in bytes.
        length: u64,
        /// Most bytes.
        most: u64,
    },
    /// Its data show that the package must be refused whole.
    #[error(transparent)]
    Refused(#[from] Refusal),
}
