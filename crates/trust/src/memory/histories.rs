//! Key histories seen before, one file for each first key: the longest that was seen, and one that disagrees with it.

use std::collections::HashSet;
use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::file::{MemoryFileError, io_error, lock, replace};
use super::{SeenKey, typed_fingerprint};
use crate::history::{Agreement, KeyHistory, LARGEST};

/// Folder in that of the memory.
pub const FOLDER_NAME: &str = "key-histories";
/// Most files in it. Each is verified whenever the memory is read.
pub const MOST: usize = 500;

/// What came of a history that was handed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// None of its first key was there.
    New,
    /// It was longer than the one there and took its place.
    Longer,
    /// Nothing new in it.
    Nothing,
    /// It disagrees with the one there, and is kept beside it.
    Fork,
}

/// Reads every remembered key history, in the order of their names; none there is none remembered.
///
/// # Errors
/// When one cannot be read, or is not as it was written.
pub fn load(folder: &Path) -> Result<Vec<KeyHistory>, MemoryFileError> {
    let found = paths(folder)?;
    if found.len() > MOST {
        return Err(MemoryFileError::TooManyHistories {
            path: folder.join(FOLDER_NAME),
            found: found.len(),
        });
    }
    found.iter().map(|path| read(path)).collect()
}

/// Keeps a history where it says more than the one of its first key that is there.
///
/// # Errors
/// When the folder cannot be read or written, or is full.
pub fn keep(folder: &Path, history: &KeyHistory) -> Result<Kept, MemoryFileError> {
    let _lock = lock(folder)?;
    let own = folder.join(FOLDER_NAME);
    fs::create_dir_all(&own).map_err(|error| io_error(&own, "make the folder", error))?;
    let fingerprint = history.first().key.fingerprint();
    let (name, fork) = (
        format!("{fingerprint}.json"),
        format!("{fingerprint}.fork.json"),
    );
    let (kept, name) = match there(&own.join(&name))? {
        None => (Kept::New, name),
        Some(known) => match history.compare(&known) {
            Agreement::Longer => (Kept::Longer, name),
            // The files of a folder are named by first key, so another one is nobody's doing but a person's.
            Agreement::Fork { .. } | Agreement::Other => {
                if let Some(before) = there(&own.join(&fork))?
                    && !takes_its_place(history, &before, &known)
                {
                    return Ok(Kept::Fork);
                }
                (Kept::Fork, fork)
            }
            Agreement::Same | Agreement::Shorter => return Ok(Kept::Nothing),
        },
    };
    let path = own.join(&name);
    let found = paths(folder)?.len() + usize::from(!path.exists());
    if found > MOST {
        return Err(MemoryFileError::TooManyHistories { path: own, found });
    }
    let text = history
        .text()
        .map_err(|error| MemoryFileError::History { path, error })?;
    replace(&own, &name, &text)?;
    Ok(kept)
}

/// Whether a history that disagrees with the one that is kept is to be remembered instead of another such one. One that
/// disagrees is enough to be told, so the first of them stays; but its longer form says more, such as that a key was
/// revoked, and one that no longer disagrees says nothing.
fn takes_its_place(history: &KeyHistory, before: &KeyHistory, kept: &KeyHistory) -> bool {
    matches!(history.compare(before), Agreement::Longer)
        || matches!(
            before.compare(kept),
            Agreement::Same | Agreement::Shorter | Agreement::Longer
        )
}

/// What is lost with key histories that are forgotten.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Loss {
    /// How many histories.
    pub count: usize,
    /// Fingerprints of the keys that they revoke.
    pub revoked: Vec<String>,
    /// Whether two of them disagree.
    pub fork: bool,
    /// Histories that name a key to be forgotten and stay, for the sake of another one.
    pub kept: usize,
}

/// Histories to be removed.
#[derive(Debug, Default)]
pub(super) struct Plan {
    paths: Vec<PathBuf>,
    pub(super) loss: Loss,
}

impl Plan {
    /// Removes them. The caller holds the lock.
    pub(super) fn remove(&self) -> Result<(), MemoryFileError> {
        for path in &self.paths {
            fs::remove_file(path).map_err(|error| io_error(path, "remove it", error))?;
        }
        Ok(())
    }
}

/// Finds the histories that name one of the keys or a key of the fingerprint, where none of the keys that stay stands in
/// them or in another one that is joined to them by a key. Histories that share a key go or stay together: one of a fork
/// alone would be believed.
pub(super) fn plan(
    folder: &Path,
    gone: &[SeenKey],
    staying: &[SeenKey],
    fingerprint: &str,
) -> Result<Plan, MemoryFileError> {
    let typed = typed_fingerprint(fingerprint);
    let dids = |seen: &[SeenKey]| -> HashSet<String> {
        seen.iter().map(|seen| seen.did.clone()).collect()
    };
    let (gone, staying) = (dids(gone), dids(staying));
    let mut plan = Plan::default();
    for group in groups(folder)? {
        let any = |wanted: &HashSet<String>| !group.keys.is_disjoint(wanted);
        let named = any(&gone) || typed.as_ref().is_some_and(|typed| group.names(typed));
        if !named {
            continue;
        }
        if any(&staying) {
            plan.loss.kept += group.members.len();
            continue;
        }
        plan.loss.count += group.members.len();
        plan.loss.fork |= group.disagrees();
        for term in group.members.iter().flat_map(|(_, one)| one.terms()) {
            let key = term.key.fingerprint().to_string();
            if term.revoked.is_some() && !plan.loss.revoked.contains(&key) {
                plan.loss.revoked.push(key);
            }
        }
        plan.paths
            .extend(group.members.into_iter().map(|(path, _)| path));
    }
    Ok(plan)
}

/// Histories that keys join, and the did:key of all those keys.
#[derive(Default)]
struct Group {
    members: Vec<(PathBuf, KeyHistory)>,
    keys: HashSet<String>,
}

impl Group {
    /// Whether a statement names the key of a fingerprint.
    fn names(&self, fingerprint: &str) -> bool {
        let mut terms = self.members.iter().flat_map(|(_, one)| one.terms());
        terms.any(|term| term.key.fingerprint().to_string() == fingerprint)
    }

    fn disagrees(&self) -> bool {
        let mut rest = self.members.as_slice();
        while let Some(((_, one), others)) = rest.split_first() {
            let apart = |(_, other): &(PathBuf, KeyHistory)| {
                matches!(
                    one.compare(other),
                    Agreement::Fork { .. } | Agreement::Other
                )
            };
            if others.iter().any(apart) {
                return true;
            }
            rest = others;
        }
        false
    }
}

fn groups(folder: &Path) -> Result<Vec<Group>, MemoryFileError> {
    let mut groups: Vec<Group> = Vec::new();
    for path in paths(folder)? {
        let history = read(&path)?;
        let mut joined = Group {
            keys: history.terms().map(|term| term.key.did_key()).collect(),
            members: vec![(path, history)],
        };
        let (together, apart): (Vec<Group>, Vec<Group>) = groups
            .into_iter()
            .partition(|group| !group.keys.is_disjoint(&joined.keys));
        for group in together {
            joined.keys.extend(group.keys);
            joined.members.extend(group.members);
        }
        groups = apart;
        groups.push(joined);
    }
    Ok(groups)
}

fn paths(folder: &Path) -> Result<Vec<PathBuf>, MemoryFileError> {
    let own = folder.join(FOLDER_NAME);
    let fail = |error| io_error(&own, "read the folder", error);
    let entries = match fs::read_dir(&own) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(fail(error)),
    };
    let mut paths = Vec::new();
    for entry in entries {
        let path = entry.map_err(fail)?.path();
        // Half-written ones end in `.new`.
        if path.extension().is_some_and(|ending| ending == "json") {
            paths.push(path);
        }
    }
    paths.sort();
    Ok(paths)
}

fn there(path: &Path) -> Result<Option<KeyHistory>, MemoryFileError> {
    match path.try_exists() {
        Ok(false) => Ok(None),
        Ok(true) => read(path).map(Some),
        Err(error) => Err(io_error(path, "read it", error)),
    }
}

fn read(path: &Path) -> Result<KeyHistory, MemoryFileError> {
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(LARGEST as u64 + 1).read_to_end(&mut bytes))
        .map_err(|error| io_error(path, "read it", error))?;
    KeyHistory::read(&bytes).map_err(|error| MemoryFileError::History {
        path: path.to_owned(),
        error,
    })
}

#[cfg(test)]
mod tests;
