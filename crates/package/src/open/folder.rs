//! A package as a folder. No link is followed: every part of a path is opened by itself, as what it was when listed.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{self, Read as _};
use std::os::fd::{AsFd as _, OwnedFd};

use rustix::fs::{AtFlags, Dir, FileType, Mode, OFlags, fstat, openat, statat};

use super::{BLOCK, FileEntry, Refusal, Rule};
use crate::path::Paths;

/// The top of the bag.
#[derive(Debug)]
pub(super) struct Folder(OwnedFd);

fn flags() -> OFlags {
    // Without waiting: a pipe that took the place of a file would otherwise hold us for ever.
    OFlags::RDONLY | OFlags::NOFOLLOW | OFlags::CLOEXEC | OFlags::NONBLOCK
}

fn unreadable(path: &str, error: rustix::io::Errno) -> Refusal {
    if error == rustix::io::Errno::LOOP {
        return Refusal::new(Rule::Link, path, "a symbolic link");
    }
    Refusal::unreadable(path, &io::Error::from(error))
}

impl Folder {
    /// Lists every file below `top`, sorted by path. Paths go into `paths`.
    pub(super) fn list(top: OwnedFd, paths: &mut Paths) -> Result<(Self, Vec<FileEntry>), Refusal> {
        let folder = Self(top);
        let mut files = Vec::new();
        let mut left = vec![String::new()];
        while let Some(above) = left.pop() {
            folder.list_one(&above, paths, &mut files, &mut left)?;
        }
        files.sort_by(|one, other| one.path.cmp(&other.path));
        Ok((folder, files))
    }

    fn list_one(
        &self,
        above: &str,
        paths: &mut Paths,
        files: &mut Vec<FileEntry>,
        left: &mut Vec<String>,
    ) -> Result<(), Refusal> {
        let here = self.open(above, OFlags::DIRECTORY)?;
        let entries = Dir::read_from(&here).map_err(|error| unreadable(above, error))?;
        // The system's order is of no meaning; the first fault must be the same each time.
        let mut names = BTreeSet::new();
        for entry in entries {
            let entry = entry.map_err(|error| unreadable(above, error))?;
            let name = entry.file_name();
            if !matches!(name.to_bytes(), b"." | b"..") {
                names.insert(name.to_owned());
                paths.room_for(above, names.len())?;
            }
        }
        for name in &names {
            let join = |name: &str| match above {
                "" => name.to_owned(),
                above => format!("{above}/{name}"),
            };
            let Ok(text) = name.to_str() else {
                let path = join(&name.to_string_lossy());
                return Err(Refusal::new(
                    Rule::PathText,
                    &path,
                    "a name that is no UTF-8",
                ));
            };
            let path = join(text);
            let facts = statat(&here, name.as_c_str(), AtFlags::SYMLINK_NOFOLLOW)
                .map_err(|error| unreadable(&path, error))?;
            match FileType::from_raw_mode(facts.st_mode) {
                FileType::RegularFile => {
                    paths.file(&path)?;
                    let length = u64::try_from(facts.st_size).unwrap_or(u64::MAX);
                    files.push(FileEntry { path, length });
                }
                FileType::Directory => {
                    paths.folder(&path)?;
                    left.push(path);
                }
                FileType::Symlink => {
                    return Err(Refusal::new(Rule::Link, &path, "a symbolic link"));
                }
                _ => return Err(Refusal::new(Rule::NotPlain, &path, "something else")),
            }
        }
        Ok(())
    }

    /// Opens a path part by part.
    fn open(&self, path: &str, last: OFlags) -> Result<OwnedFd, Refusal> {
        let failed = |error| unreadable(path, error);
        let mut here: Option<OwnedFd> = None;
        let mut parts = path.split('/').peekable();
        while let Some(part) = parts.next() {
            let more = if parts.peek().is_some() {
                OFlags::DIRECTORY
            } else {
                last
            };
            let above = here.as_ref().map_or(self.0.as_fd(), |fd| fd.as_fd());
            let name = if part.is_empty() { "." } else { part };
            here = Some(openat(above, name, flags() | more, Mode::empty()).map_err(failed)?);
        }
        // A split has one part at least.
        here.ok_or_else(|| Refusal::new(Rule::PathForm, path, "nothing"))
    }

    /// Hands the bytes of a file to `sink`.
    pub(super) fn stream(
        &self,
        entry: &FileEntry,
        sink: &mut dyn FnMut(&[u8]),
    ) -> Result<(), Refusal> {
        let path = entry.path.as_str();
        let opened = self.open(path, OFlags::empty())?;
        let facts = fstat(&opened).map_err(|error| unreadable(path, error))?;
        let changed = || Refusal::new(Rule::Unreadable, path, "it changed while it was read");
        if FileType::from_raw_mode(facts.st_mode) != FileType::RegularFile {
            return Err(changed());
        }
        let mut file = File::from(opened);
        let most = usize::try_from(entry.length)
            .unwrap_or(BLOCK)
            .clamp(1, BLOCK);
        let (mut block, mut done) = (vec![0; most], 0);
        loop {
            match file.read(&mut block) {
                Ok(0) => break,
                Ok(read) => {
                    done += read as u64;
                    if done > entry.length {
                        return Err(changed());
                    }
                    sink(&block[..read]);
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(Refusal::unreadable(path, &error)),
            }
        }
        if done == entry.length {
            Ok(())
        } else {
            Err(changed())
        }
    }
}
