//! Object and key files: written whole under a passing name, flushed, then given their name.

use std::{
    fs::{self, File, OpenOptions},
    io::{self, ErrorKind, Read, Write},
    os::unix::{
        ffi::OsStrExt,
        fs::{OpenOptionsExt, PermissionsExt},
    },
    path::{Path, PathBuf},
    sync::atomic::{AtomicU64, Ordering},
};

use rustix::fs::{CWD, RenameFlags, renameat_with};
use sha2::{Digest as _, Sha256};
use tangmark_core::Digest;

use super::faults::{FaultPoint, Faults};
use crate::{Limits, StoreError};

/// Beginning of a passing name.
pub(super) const TEMP: &str = "temp-";

/// Bytes read or written at once.
const PIECE: usize = 64 << 10;

static COUNTER: AtomicU64 = AtomicU64::new(0);

/// The folder `objects/`.
pub(super) struct ObjectFiles {
    pub(super) root: PathBuf,
    pub(super) limits: Limits,
    pub(super) faults: Faults,
}

/// Bytes on the disk under a passing name; gone again unless placed.
pub(super) struct Staged {
    pub(super) digest: Digest,
    pub(super) length: u64,
    path: PathBuf,
}

impl Drop for Staged {
    fn drop(&mut self) {
        // After placing there is nothing to remove; a file that stays is found by the next check.
        let _ = fs::remove_file(&self.path);
    }
}

/// Where an object lies below the folder of the objects.
pub(super) fn path_in(objects: &Path, digest: &Digest) -> PathBuf {
    let name = digest.to_string();
    objects.join(&name[..2]).join(name)
}

impl ObjectFiles {
    /// Where an object lies.
    pub(super) fn path(&self, digest: &Digest) -> PathBuf {
        path_in(&self.root, digest)
    }

    /// Writes what the reader gives under a passing name and flushes it.
    pub(super) fn stage(
        &self,
        reader: &mut dyn Read,
        limit: u64,
        what: &str,
    ) -> Result<Staged, StoreError> {
        let (mut file, path) = create_temp(&self.root, 0o644)?;
        let fail = |error| StoreError::file("write the object", &path, error);
        let mut staged = Staged {
            digest: Digest::from_bytes([0; 32]),
            length: 0,
            path: path.clone(),
        };
        self.faults.at(FaultPoint::TempCreated).map_err(fail)?;
        let mut hash = Sha256::new();
        let mut piece = vec![0; PIECE];
        loop {
            let read = match reader.read(&mut piece) {
                Ok(0) => break,
                Ok(read) => read,
                Err(error) if error.kind() == ErrorKind::Interrupted => continue,
                Err(source) => {
                    return Err(StoreError::Input {
                        read: staged.length,
                        source,
                    });
                }
            };
            staged.length += read as u64;
            if staged.length > limit {
                return Err(StoreError::TooLarge {
                    what: what.to_owned(),
                    limit,
                });
            }
            hash.update(&piece[..read]);
            file.write_all(&piece[..read]).map_err(fail)?;
            self.faults.at(FaultPoint::TempWritten).map_err(fail)?;
        }
        file.sync_all().map_err(fail)?;
        self.faults.at(FaultPoint::TempSynced).map_err(fail)?;
        staged.digest = Digest::from_bytes(hash.finalize().into());
        Ok(staged)
    }

    /// Returns the staged bytes when they begin like JSON and are not longer than a record may be.
    pub(super) fn peek(&self, staged: &Staged) -> Result<Option<Vec<u8>>, StoreError> {
        let fail = |error| StoreError::file("read the object", &staged.path, error);
        if staged.length > self.limits.record {
            return Ok(None);
        }
        let mut file = File::open(&staged.path).map_err(fail)?;
        let mut first = [0];
        if file.read(&mut first).map_err(fail)? == 0 || first != *b"{" {
            return Ok(None);
        }
        fs::read(&staged.path).map(Some).map_err(fail)
    }

    /// Gives staged bytes their name. Sound bytes already there stay; rotten ones are replaced.
    pub(super) fn place(&self, staged: &Staged) -> Result<(), StoreError> {
        let target = self.path(&staged.digest);
        let fail = |error| StoreError::file("write the object", &target, error);
        let folder = target.parent().unwrap_or(&self.root);
        match fs::create_dir(folder) {
            Err(error) if error.kind() != ErrorKind::AlreadyExists => return Err(fail(error)),
            _ => {}
        }
        // Also when it was there: whoever made it may have died before flushing.
        sync_folder(&self.root)?;
        self.faults.at(FaultPoint::FolderMade).map_err(fail)?;
        let there = match hash_file(&target) {
            Ok((digest, _)) => digest == staged.digest,
            Err(error) if error.kind() == ErrorKind::NotFound => false,
            Err(error) => return Err(fail(error)),
        };
        if !there {
            fs::rename(&staged.path, &target).map_err(fail)?;
            self.faults.at(FaultPoint::Renamed).map_err(fail)?;
        }
        sync_folder(folder)?;
        self.faults.at(FaultPoint::FolderSynced).map_err(fail)
    }

    /// Returns an object's bytes after hashing them.
    pub(super) fn read(&self, digest: &Digest) -> Result<Vec<u8>, StoreError> {
        let path = self.path(digest);
        let bytes = read_limited(&path, "read the object", self.limits.object).map_err(
            |error| match error {
                StoreError::File { source, .. } if source.kind() == ErrorKind::NotFound => {
                    StoreError::ObjectMissing(*digest)
                }
                other => other,
            },
        )?;
        let found = Digest::of(&bytes);
        if found == *digest {
            Ok(bytes)
        } else {
            Err(StoreError::ObjectRotten {
                digest: *digest,
                found,
                path,
            })
        }
    }

    /// Removes an object that no row speaks of.
    pub(super) fn remove(&self, digest: &Digest) -> Result<(), StoreError> {
        let path = self.path(digest);
        match fs::remove_file(&path) {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(StoreError::file(
                "remove the unfinished object",
                &path,
                error,
            )),
            _ => Ok(()),
        }
    }
}

/// Makes a file with a passing name nobody else has.
pub(super) fn create_temp(folder: &Path, mode: u32) -> Result<(File, PathBuf), StoreError> {
    loop {
        let number = COUNTER.fetch_add(1, Ordering::Relaxed);
        let path = folder.join(format!("{TEMP}{}-{number}", std::process::id()));
        match OpenOptions::new()
            .write(true)
            .create_new(true)
            .mode(mode)
            .open(&path)
        {
            Ok(file) => return Ok((file, path)),
            // Left by an earlier process with the same number: take the next name.
            Err(error) if error.kind() == ErrorKind::AlreadyExists => {}
            Err(error) => return Err(StoreError::file("write a file in", folder, error)),
        }
    }
}

/// Writes a file that must not be there yet; the same bytes already there are fine.
///
/// Returns `false` when another file has the name.
pub(super) fn write_once(
    path: &Path,
    bytes: &[u8],
    mode: u32,
    faults: &Faults,
) -> Result<bool, StoreError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let (mut file, temp) = create_temp(folder, mode)?;
    let staged = Staged {
        digest: Digest::of(bytes),
        length: bytes.len() as u64,
        path: temp,
    };
    let fail = |error| StoreError::file("write the key file", path, error);
    faults.at(FaultPoint::TempCreated).map_err(fail)?;
    file.write_all(bytes).map_err(fail)?;
    // The creation mode is cut by the process's mask; this is not.
    file.set_permissions(fs::Permissions::from_mode(mode))
        .map_err(fail)?;
    file.sync_all().map_err(fail)?;
    faults.at(FaultPoint::TempSynced).map_err(fail)?;
    match renameat_with(CWD, &staged.path, CWD, path, RenameFlags::NOREPLACE) {
        Ok(()) => {}
        Err(rustix::io::Errno::EXIST) => {
            if fs::read(path).map_err(fail)? != bytes {
                return Ok(false);
            }
        }
        Err(error) => return Err(fail(error.into())),
    }
    faults.at(FaultPoint::KeyNamed).map_err(fail)?;
    sync_folder(folder)?;
    Ok(true)
}

/// Reads a file of limited size.
pub(super) fn read_limited(
    path: &Path,
    action: &'static str,
    limit: u64,
) -> Result<Vec<u8>, StoreError> {
    let fail = |error| StoreError::file(action, path, error);
    let file = File::open(path).map_err(fail)?;
    let mut bytes = Vec::new();
    file.take(limit + 1).read_to_end(&mut bytes).map_err(fail)?;
    if bytes.len() as u64 > limit {
        return Err(StoreError::TooLarge {
            what: format!("`{}`", path.display()),
            limit,
        });
    }
    Ok(bytes)
}

/// Hashes a file piece by piece; returns digest and length.
pub(super) fn hash_file(path: &Path) -> io::Result<(Digest, u64)> {
    let mut file = File::open(path)?;
    let mut hash = Sha256::new();
    let mut piece = vec![0; PIECE];
    let mut length = 0;
    loop {
        match file.read(&mut piece) {
            Ok(0) => return Ok((Digest::from_bytes(hash.finalize().into()), length)),
            Ok(read) => {
                length += read as u64;
                hash.update(&piece[..read]);
            }
            Err(error) if error.kind() == ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

/// Flushes a folder, so that names in it outlive a loss of power.
pub(super) fn sync_folder(folder: &Path) -> Result<(), StoreError> {
    File::open(folder)
        .and_then(|folder| folder.sync_all())
        .map_err(|error| StoreError::file("flush the folder", folder, error))
}

/// One entry below `objects/`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Entry {
    /// An object by its name.
    Object(Digest),
    /// Left over from a write that did not end.
    Leftover(PathBuf),
    /// Not ours; spelled so that any name can be printed.
    Foreign(String),
}

/// Lists everything below `objects/`, in order.
pub(super) fn walk(root: &Path) -> Result<Vec<Entry>, StoreError> {
    let mut found = Vec::new();
    for path in list(root)? {
        let name = path
            .file_name()
            .and_then(|name| name.to_str())
            .unwrap_or_default();
        let is_folder = fs::symlink_metadata(&path).is_ok_and(|facts| facts.is_dir());
        if is_folder
            && name.len() == 2
            && name
                .bytes()
                .all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
        {
            for inner in list(&path)? {
                let inner_name = inner
                    .file_name()
                    .and_then(|inner| inner.to_str())
                    .unwrap_or_default();
                let is_file = fs::symlink_metadata(&inner).is_ok_and(|facts| facts.is_file());
                match inner_name.parse::<Digest>() {
                    Ok(digest) if is_file && inner_name.starts_with(name) => {
                        found.push(Entry::Object(digest));
                    }
                    _ => found.push(Entry::Foreign(spell(root, &inner))),
                }
            }
        } else if !is_folder && name.starts_with(TEMP) {
            found.push(Entry::Leftover(path));
        } else {
            found.push(Entry::Foreign(spell(root, &path)));
        }
    }
    found.sort();
    Ok(found)
}

/// Path below the workshop as one line of text: text stays, bytes that are none and control characters are escaped.
pub(super) fn spell(root: &Path, path: &Path) -> String {
    let below = root
        .parent()
        .and_then(|top| path.strip_prefix(top).ok())
        .unwrap_or(path);
    let mut spelled = String::new();
    for chunk in below.as_os_str().as_bytes().utf8_chunks() {
        for character in chunk.valid().chars() {
            if character.is_control() {
                spelled.extend(character.escape_default());
            } else {
                spelled.push(character);
            }
        }
        spelled.extend(chunk.invalid().iter().map(|byte| format!("\\x{byte:02x}")));
    }
    spelled
}

/// Lists a folder by name.
pub(super) fn list(folder: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let fail = |error| StoreError::file("list the folder", folder, error);
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .map_err(fail)?
        .map(|entry| Ok(entry?.path()))
        .collect::<io::Result<_>>()
        .map_err(fail)?;
    paths.sort();
    Ok(paths)
}
