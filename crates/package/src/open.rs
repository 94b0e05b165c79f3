//! Opening a package: a folder or a zip file, with every rule of "What is refused whole".

mod folder;
mod refusal;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;
use std::path::Path;

use rustix::fs::{Mode, OFlags};

pub use refusal::{ReadError, Refusal, Rule};

use crate::bag::{self, Manifest};
use crate::path::{Paths, Place};
use crate::zip::{self, OpenFile, ReadAt};
use folder::Folder;

/// Bytes that are read and hashed at once.
pub(crate) const BLOCK: usize = 128 << 10;

/// How much is read of a package.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Most paths.
    pub paths: usize,
    /// Longest file outside the folders of photos and reports, in bytes.
    pub file: u64,
    /// Longest photo or report, in bytes.
    pub large_file: u64,
    /// All files together, in bytes.
    pub all: u64,
}

impl Default for Limits {
    /// Those of the package page.
    fn default() -> Self {
        Self {
            paths: 20_000,
            file: 16 << 20,
            large_file: 256 << 20,
            all: 8 << 30,
        }
    }
}

impl Limits {
    /// Longest file of a path in the bag, in bytes.
    pub fn longest(&self, path: &str) -> u64 {
        let large = ["data/photos/", "data/reports/"]
            .iter()
            .any(|folder| path.starts_with(folder));
        if large { self.large_file } else { self.file }
    }
}

/// A file of a package.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileEntry {
    /// Path in the bag.
    pub path: String,
    /// Length in bytes.
    pub length: u64,
}

#[derive(Debug)]
enum Body {
    Folder(Folder),
    /// Entries in the order of the files.
    Zip(Box<dyn ReadAt>, Vec<zip::Entry>),
    /// Bytes in the order of the files.
    AtHand(Vec<Vec<u8>>),
}

/// An opened package. Several threads may read it at once; nothing is held of the files but their paths.
#[derive(Debug)]
pub struct Package {
    files: Vec<FileEntry>,
    payload: Manifest,
    tags: Manifest,
    other_manifests: Vec<String>,
    body: Body,
}

/// Opens the package at `path`: a folder, or a zip file of one.
///
/// Nothing is written and no link inside is followed. The data of a zip file are checked when they are read.
///
/// # Errors
/// The first rule of the package page that it breaks.
pub fn open(path: &Path, limits: &Limits) -> Result<Package, Refusal> {
    let unreadable = |error| Refusal::unreadable("", &error);
    // Without waiting: a pipe that nobody writes into would otherwise hold us for ever.
    let flags = OFlags::RDONLY | OFlags::CLOEXEC | OFlags::NONBLOCK;
    let file = rustix::fs::open(path, flags, Mode::empty())
        .map_err(|error| unreadable(error.into()))
        .map(std::fs::File::from)?;
    let facts = file.metadata().map_err(unreadable)?;
    if facts.is_dir() {
        let mut paths = Paths::new(limits.paths);
        let (folder, files) = Folder::list(file.into(), &mut paths)?;
        return whole(Body::Folder(folder), files, paths, limits);
    }
    if !facts.is_file() {
        let found = "neither a folder nor a plain file";
        return Err(Refusal::new(Rule::NotPlain, "", found));
    }
    let length = facts.len();
    open_zip(Box::new(OpenFile { file, length }), limits)
}

/// Opens a package that is a zip file at hand.
///
/// # Errors
/// As [`open`].
pub fn open_bytes(bytes: Vec<u8>, limits: &Limits) -> Result<Package, Refusal> {
    open_zip(Box::new(bytes), limits)
}

/// Opens a package whose files are at hand, by their path in the bag.
///
/// # Errors
/// As [`open`].
pub fn open_files(files: BTreeMap<String, Vec<u8>>, limits: &Limits) -> Result<Package, Refusal> {
    let mut paths = Paths::new(limits.paths);
    let (mut entries, mut bodies) = (Vec::new(), Vec::new());
    for (path, bytes) in files {
        paths.file(&path)?;
        let length = bytes.len() as u64;
        entries.push(FileEntry { path, length });
        bodies.push(bytes);
    }
    whole(Body::AtHand(bodies), entries, paths, limits)
}

fn open_zip(source: Box<dyn ReadAt>, limits: &Limits) -> Result<Package, Refusal> {
    let mut paths = Paths::new(limits.paths);
    let mut entries = zip::list(&*source, &mut paths)?;
    entries.sort_by(|one, other| one.path.cmp(&other.path));
    let files = entries
        .iter()
        .map(|entry| FileEntry {
            path: entry.path.clone(),
            length: entry.length,
        })
        .collect();
    whole(Body::Zip(source, entries), files, paths, limits)
}

/// Checks what only the whole can break, and reads the manifests. `files` are sorted by path.
fn whole(
    body: Body,
    files: Vec<FileEntry>,
    mut paths: Paths,
    limits: &Limits,
) -> Result<Package, Refusal> {
    let mut all = 0_u64;
    for file in &files {
        if file.path == bag::FETCH {
            return Err(Refusal::new(Rule::Fetch, &file.path, "it is there"));
        }
        if file.length > limits.longest(&file.path) {
            let found = format!("{} bytes", file.length);
            return Err(Refusal::new(Rule::TooLong, &file.path, found));
        }
        all = all.saturating_add(file.length);
    }
    if all > limits.all {
        return Err(Refusal::new(Rule::AllTooLong, "", format!("{all} bytes")));
    }
    let mut package = Package {
        files,
        payload: Manifest::new(),
        tags: Manifest::new(),
        other_manifests: Vec::new(),
        body,
    };
    let read = |path: &str| match package.read(path, limits.file) {
        Ok(bytes) => Ok(bytes),
        Err(ReadError::Refused(refusal)) => Err(refusal),
        Err(other) => Err(Refusal::new(Rule::NotThere, path, other.to_string())),
    };
    bag::check_declaration(&read(bag::DECLARATION)?)?;
    let payload = bag::read_manifest(bag::PAYLOAD_MANIFEST, &read(bag::PAYLOAD_MANIFEST)?)?;
    let tags = bag::read_manifest(bag::TAG_MANIFEST, &read(bag::TAG_MANIFEST)?)?;
    for path in payload.keys().chain(tags.keys()) {
        paths.file(path)?;
    }
    let places = || {
        package
            .files
            .iter()
            .map(|file| (file, Place::of(&file.path)))
    };
    if !places().any(|(_, place)| matches!(place, Place::Record { .. })) {
        let found = "no file whose name is that of a record";
        return Err(Refusal::new(Rule::NotThere, "data/records", found));
    }
    package.other_manifests = places()
        .filter(|(_, place)| *place == Place::OtherManifest)
        .map(|(file, _)| file.path.clone())
        .collect();
    package.payload = payload;
    package.tags = tags;
    Ok(package)
}

impl Package {
    /// Every file, by path.
    pub fn files(&self) -> &[FileEntry] {
        &self.files
    }

    /// What `manifest-sha256.txt` lists.
    pub fn payload_manifest(&self) -> &Manifest {
        &self.payload
    }

    /// What `tagmanifest-sha256.txt` lists.
    pub fn tag_manifest(&self) -> &Manifest {
        &self.tags
    }

    /// Manifests of other algorithms, which are ignored.
    pub fn other_manifests(&self) -> &[String] {
        &self.other_manifests
    }

    fn index(&self, path: &str) -> Result<usize, ReadError> {
        self.files
            .binary_search_by(|file| file.path.as_str().cmp(path))
            .map_err(|_| ReadError::NoSuchFile(crate::path::shown(path)))
    }

    /// Hands the bytes of a file to `sink`, block after block.
    ///
    /// # Errors
    /// When there is no such file, or its data show that the package must be refused; what `sink` was given then counts
    /// for nothing.
    pub fn stream(&self, path: &str, sink: &mut dyn FnMut(&[u8])) -> Result<(), ReadError> {
        let index = self.index(path)?;
        match &self.body {
            Body::Folder(folder) => folder.stream(&self.files[index], sink)?,
            Body::Zip(source, entries) => zip::stream(&**source, &entries[index], sink)?,
            Body::AtHand(bodies) => sink(&bodies[index]),
        }
        Ok(())
    }

    /// Returns the bytes of a file of at most `most` bytes.
    ///
    /// # Errors
    /// As [`Package::stream`], or when it is longer.
    pub fn read(&self, path: &str, most: u64) -> Result<Vec<u8>, ReadError> {
        let length = self.files[self.index(path)?].length;
        if length > most {
            let path = path.to_owned();
            return Err(ReadError::TooLong { path, length, most });
        }
        let mut bytes = Vec::new();
        self.stream(path, &mut |block| bytes.extend_from_slice(block))?;
        Ok(bytes)
    }
}
