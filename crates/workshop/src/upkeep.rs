//! Looking after the store: the check of everything and the rebuild of the index.

use std::path::Path;

use serde::Serialize;
use tangmark_store::{FolderStore, Limits, Notice, OldIndex, Problem, Progress, Store as _};

use crate::{Workshop, WorkshopError, keys};

/// What a check of the whole store found.
#[derive(Clone, Debug, Serialize)]
pub struct StoreCheck {
    /// Objects hashed again.
    pub objects: u64,
    /// Bytes hashed again.
    pub bytes: u64,
    /// Sealed records held against their bytes.
    pub records: u64,
    /// What is wrong, each with its next step.
    pub problems: Vec<StoreProblem>,
    /// What is odd and harmless.
    pub notices: Vec<String>,
}

/// One thing that is wrong in a store.
#[derive(Clone, Debug, Serialize)]
pub struct StoreProblem {
    /// What is wrong.
    pub what: String,
    /// The next step.
    pub hint: String,
}

/// What a rebuild made.
#[derive(Clone, Debug, Serialize)]
pub struct Rebuilt {
    /// Objects listed.
    pub objects: u64,
    /// Sealed records listed.
    pub records: u64,
    /// Papers listed that go with a record.
    pub attachments: u64,
    /// What became of the old index, in words.
    pub old_index: String,
    /// Key files that the index does not list; [`Workshop::adopt_key`] lists one.
    pub unlisted_keys: Vec<String>,
    /// What a person must look at; empty after a rebuild that lost nothing.
    pub remarks: Vec<String>,
}

impl Workshop {
    /// Looks at everything the workshop keeps: hashes each object again, holds rows against objects, follows chains.
    ///
    /// # Errors
    /// When the store cannot be read at all.
    pub fn check_store(
        &self,
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<StoreCheck, WorkshopError> {
        let found = self
            .store
            .check(&mut |at: Progress| progress(at.done, at.total))?;
        let (laid_aside, history) = match self.laid_aside_key_files() {
            // Nothing is signed without the history itself, whatever copy tells of laid-aside keys.
            Ok(files) => (files, self.key_history().err()),
            Err(error) => (Vec::new(), Some(error)),
        };
        let (gone, problems): (Vec<_>, Vec<_>) =
            found.problems.into_iter().partition(|problem| {
                matches!(problem, Problem::Key { file_name, .. } if laid_aside.contains(file_name))
            });
        Ok(StoreCheck {
            objects: found.objects,
            bytes: found.bytes,
            records: found.records,
            problems: problems
                .iter()
                .map(|problem| StoreProblem {
                    what: problem.to_string(),
                    hint: named(problem.hint()),
                })
                .chain(history.iter().map(|error| StoreProblem {
                    what: error.to_string(),
                    hint: error.hint(),
                }))
                .collect(),
            notices: found
                .notices
                .iter()
                .filter(
                    |notice| !matches!(notice, Notice::Foreign(path) if keys::is_known_file(path)),
                )
                .map(ToString::to_string)
                .chain(
                    gone.iter().map(|problem| {
                        format!("{problem}; nothing is signed with that key any more")
                    }),
                )
                .collect(),
        })
    }
}

/// The store speaks of no command; here the command is named.
fn named(hint: &str) -> String {
    hint.replace(
        "rebuild the index from the objects",
        "run `tangmark store rebuild`",
    )
    .replace("rebuild the index", "run `tangmark store rebuild`")
    .replace("check again", "run `tangmark store check` again")
}

/// Makes the index of the workshop in `folder` anew from its objects. A key whose row was lost with the old index is
/// named: only its passphrase tells whether it is the workshop's.
///
/// # Errors
/// When the folder is no workshop, is open in another program, or cannot be written.
pub fn rebuild(
    folder: &Path,
    progress: &mut dyn FnMut(u64, u64),
) -> Result<Rebuilt, WorkshopError> {
    let made = FolderStore::rebuild_index(folder, Limits::default(), &mut |at| {
        progress(at.done, at.total);
    })?;
    let mut remarks = Vec::new();
    let old_index = match made.old_index {
        OldIndex::None => "there was none".to_owned(),
        OldIndex::Carried => "all of it was read and carried over".to_owned(),
        OldIndex::SetAside { file_name, reasons } => {
            remarks.extend(
                reasons
                    .into_iter()
                    .map(|reason| format!("the old index could not be read whole: {reason}")),
            );
            format!("kept as `{file_name}`")
        }
    };
    remarks.extend(made.left_out.iter().map(ToString::to_string));
    remarks.extend(
        made.rotten
            .iter()
            .map(|digest| format!("object {digest} is rotten: copy it back from a backup")),
    );
    remarks.extend(
        made.missing
            .iter()
            .map(|digest| format!("object {digest} is gone: copy it back from a backup")),
    );
    remarks.extend(
        made.loose_notes
            .iter()
            .map(|digest| format!("note {digest} ties together what is not here")),
    );
    remarks.extend(made.untitled_blades.iter().map(|blade| {
        format!("blade `{blade}` is known from sealed records only; put its sheet again with `tangmark examine put`")
    }));
    let workshop = Workshop::open(folder)?;
    workshop.restore_identity()?;
    if workshop.store.plugin_approvals()?.is_empty() {
        remarks.push(
            "no plugin is approved: approve those that come with this program with `tangmark plugin approve --shipped`, others one by one"
                .to_owned(),
        );
    }
    Ok(Rebuilt {
        objects: made.objects,
        records: made.records,
        attachments: made.attachments,
        old_index,
        unlisted_keys: made
            .unlisted_keys
            .into_iter()
            .filter(|name| !keys::is_no_key_file(name))
            .collect(),
        remarks,
    })
}
