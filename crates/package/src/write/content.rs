//! What goes into a package.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, Read};
use std::ops::ControlFlow;
use std::path::PathBuf;

use sha2::{Digest as _, Sha256};
use tangmark_core::Digest;

use super::{PIECE, Progress, Size, Watch, WriteError, tags};
use crate::open::Limits;
use crate::path::{LONGEST_PART, LONGEST_PATH};

/// Where the bytes of a file come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// From here.
    Bytes(Vec<u8>),
    /// From a file, which must have the digest: what rotted on the disk is not handed over.
    File {
        /// The file.
        path: PathBuf,
        /// Its length in bytes.
        length: u64,
        /// SHA-256 over its bytes.
        digest: Digest,
    },
}

impl Source {
    /// Length in bytes.
    pub fn length(&self) -> u64 {
        match self {
            Self::Bytes(bytes) => bytes.len() as u64,
            Self::File { length, .. } => *length,
        }
    }
}

/// Files of a package by their path in the bag, such as `data/verify.html`; sorted, each path once.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Content {
    files: BTreeMap<String, Source>,
    /// The paths in small letters.
    folded: BTreeSet<String>,
}

/// Says what is wrong with a path. What is written is narrower than what a reader takes: letters, digits and `.`, `_`,
/// `-` of ASCII, so that it has the same name on every system.
pub(super) fn fault(path: &str) -> Option<&'static str> {
    if path.len() > LONGEST_PATH {
        return Some("it is longer than 240 bytes");
    }
    path.split('/').find_map(|part| {
        let plain = |byte: &u8| byte.is_ascii_alphanumeric() || b"._-".contains(byte);
        let stem = part.split('.').next().unwrap_or_default();
        if part.is_empty() || part.len() > LONGEST_PART {
            Some("a part of it is empty or longer than 120 bytes")
        } else if !part.as_bytes().iter().all(plain) {
            Some("it has other signs than letters, digits, `.`, `_` and `-` of ASCII")
        } else if part.starts_with('.') || part.ends_with('.') {
            Some("a part of it begins or ends with a full stop")
        } else if is_device(&stem.to_ascii_lowercase()) {
            Some("a part of it is the name of a device on some systems")
        } else {
            None
        }
    })
}

/// Names that some systems keep for devices.
fn is_device(stem: &str) -> bool {
    let numbered = |name: &str| {
        stem.strip_prefix(name)
            .is_some_and(|rest| rest.len() == 1 && rest.as_bytes()[0].is_ascii_digit())
    };
    matches!(stem, "con" | "prn" | "aux" | "nul") || numbered("com") || numbered("lpt")
}

impl Content {
    /// Starts with nothing.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a file.
    ///
    /// # Errors
    /// When the path is none that a reader takes, lies outside `data/`, or is there already.
    pub fn add(&mut self, path: impl Into<String>, source: Source) -> Result<(), WriteError> {
        let path = path.into();
        if let Some(what) = fault(&path) {
            return Err(WriteError::Path { path, what });
        }
        if !path.starts_with("data/") {
            let what = "lies outside `data/`";
            return Err(WriteError::Path { path, what });
        }
        let (length, most) = (source.length(), Limits::default().longest(&path));
        if length > most {
            return Err(WriteError::TooLong { path, length, most });
        }
        if !self.folded.insert(path.to_ascii_lowercase()) {
            let what = "stands there already, in these or other capitals";
            return Err(WriteError::Path { path, what });
        }
        self.files.insert(path, source);
        Ok(())
    }

    /// Adds bytes, as [`Content::add`].
    ///
    /// # Errors
    /// As [`Content::add`].
    pub fn add_bytes(
        &mut self,
        path: impl Into<String>,
        bytes: impl Into<Vec<u8>>,
    ) -> Result<(), WriteError> {
        self.add(path, Source::Bytes(bytes.into()))
    }

    /// Files by path.
    pub fn files(&self) -> impl Iterator<Item = (&str, &Source)> {
        self.files
            .iter()
            .map(|(path, source)| (path.as_str(), source))
    }

    /// Number of files and bytes in `data/`.
    pub fn size(&self) -> Size {
        Size {
            files: self.files.len(),
            bytes: self.files.values().map(Source::length).sum(),
        }
    }

    /// Checks what only the whole can break, by what a reader takes.
    pub(super) fn check_whole(&self, limits: &Limits) -> Result<(), WriteError> {
        let (paths, bytes) = (self.paths(), self.size().bytes + tags::length(self));
        if paths > limits.paths {
            return Err(WriteError::TooMany {
                paths,
                most: limits.paths,
            });
        }
        if bytes > limits.all {
            return Err(WriteError::TooLarge {
                bytes,
                most: limits.all,
                what: "package",
            });
        }
        if !self
            .files
            .keys()
            .any(|path| path.starts_with("data/records/"))
        {
            return Err(WriteError::NoRecord);
        }
        Ok(())
    }

    /// Files and folders as a reader counts them, tag files included.
    fn paths(&self) -> usize {
        let above = |path: &str| {
            let ends = path.match_indices('/').map(|(at, _)| at);
            ends.map(|end| path[..end].to_owned()).collect::<Vec<_>>()
        };
        let folders: BTreeSet<String> = self.files.keys().flat_map(|path| above(path)).collect();
        self.files.len() + folders.len() + tags::FILES
    }

    /// The files of a whole bag that holds those files of the content whose path `keep` takes, in memory.
    ///
    /// # Errors
    /// When a file cannot be read or lacks its digest.
    pub fn bag_of(
        &self,
        keep: impl Fn(&str) -> bool,
    ) -> Result<BTreeMap<String, Vec<u8>>, WriteError> {
        let mut part = Self::new();
        for (path, source) in self.files().filter(|(path, _)| keep(path)) {
            part.add(path, source.clone())?;
        }
        let mut held = Held::default();
        tags::write(&part, &mut held, &mut |_| ControlFlow::Continue(()))?;
        Ok(held.files)
    }

    /// Writes every payload file into `sink`, in the order of paths, and returns their digests.
    pub(super) fn pour(
        &self,
        sink: &mut dyn Sink,
        watch: &mut Watch<'_>,
    ) -> Result<BTreeMap<String, Digest>, WriteError> {
        let whole = self.size();
        let mut at = Progress {
            files: 0,
            files_in_all: whole.files,
            bytes: 0,
            bytes_in_all: whole.bytes,
        };
        let mut digests = BTreeMap::new();
        for (path, source) in &self.files {
            digests.insert(
                path.clone(),
                pour_one(path, source, sink, &mut at, &mut *watch)?,
            );
            at.files += 1;
            step(watch, at)?;
        }
        Ok(digests)
    }
}

fn step(watch: &mut Watch<'_>, at: Progress) -> Result<(), WriteError> {
    if watch(at).is_break() {
        return Err(WriteError::Cancelled);
    }
    Ok(())
}

/// Where a package is written to: a folder or a zip file.
pub(super) trait Sink {
    /// Begins a file of the given length.
    fn begin(&mut self, path: &str, length: u64) -> Result<(), WriteError>;
    /// The next bytes of it.
    fn bytes(&mut self, piece: &[u8]) -> Result<(), WriteError>;
    /// Ends it.
    fn end(&mut self) -> Result<(), WriteError>;
}

/// A bag in memory.
#[derive(Debug, Default)]
struct Held {
    files: BTreeMap<String, Vec<u8>>,
    open: Option<(String, Vec<u8>)>,
}

impl Sink for Held {
    fn begin(&mut self, path: &str, _length: u64) -> Result<(), WriteError> {
        self.open = Some((path.to_owned(), Vec::new()));
        Ok(())
    }

    fn bytes(&mut self, piece: &[u8]) -> Result<(), WriteError> {
        if let Some((_, bytes)) = &mut self.open {
            bytes.extend_from_slice(piece);
        }
        Ok(())
    }

    fn end(&mut self) -> Result<(), WriteError> {
        self.files.extend(self.open.take());
        Ok(())
    }
}

/// Writes a file whose bytes are at hand.
pub(super) fn put(sink: &mut dyn Sink, path: &str, bytes: &[u8]) -> Result<(), WriteError> {
    sink.begin(path, bytes.len() as u64)?;
    sink.bytes(bytes)?;
    sink.end()
}

fn pour_one(
    path: &str,
    source: &Source,
    sink: &mut dyn Sink,
    at: &mut Progress,
    watch: &mut Watch<'_>,
) -> Result<Digest, WriteError> {
    match source {
        Source::Bytes(bytes) => {
            put(sink, path, bytes)?;
            at.bytes += bytes.len() as u64;
            Ok(Digest::of(bytes))
        }
        Source::File {
            path: file,
            length,
            digest,
        } => {
            let fail = |error| WriteError::file("read", file, error);
            let mut input = File::open(file).map_err(fail)?;
            sink.begin(path, *length)?;
            let mut hash = Sha256::new();
            let (mut piece, mut found) = (vec![0; PIECE], 0);
            loop {
                let read = match input.read(&mut piece) {
                    Ok(0) => break,
                    Ok(read) => read,
                    Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                    Err(error) => return Err(fail(error)),
                };
                found += read as u64;
                // A file that grows while it is read would run past what was said of it.
                if found > *length {
                    break;
                }
                hash.update(&piece[..read]);
                sink.bytes(&piece[..read])?;
                at.bytes += read as u64;
                step(watch, *at)?;
            }
            let read = Digest::from_bytes(hash.finalize().into());
            if found != *length || read != *digest {
                return Err(WriteError::Rotten {
                    file: file.clone(),
                    path: path.to_owned(),
                });
            }
            sink.end()?;
            Ok(read)
        }
    }
}
