//! Plugins: finding, listing, approving.

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_host::{Approvals, Host, Library, Limits, discover};
use tangmark_store::{PluginApproval, Store as _};

use crate::{GivenLine, Surroundings, Workshop, WorkshopError};

/// Names of the plugins that come with the program.
pub const SHIPPED_PLUGINS: [&str; 7] = [
    "abrasives",
    "custody",
    "dimensions",
    "materials",
    "removal",
    "triage",
    "valuation",
];

/// A rule of a plugin.
#[derive(Clone, Debug, Serialize)]
pub struct PluginRule {
    /// Name, as findings carry it.
    pub id: String,
    /// One line for people.
    pub title: String,
}

/// One line of the list of plugins.
#[derive(Clone, Debug, Serialize)]
pub struct PluginLine {
    /// Name from the file name.
    pub name: String,
    /// File.
    pub path: String,
    /// Digest of the file.
    pub digest: Option<Digest>,
    /// This very file is approved.
    pub approved: bool,
    /// Version, when it could be asked.
    pub version: Option<String>,
    /// Title, when it could be asked.
    pub title: Option<String>,
    /// Rules.
    pub rules: Vec<PluginRule>,
    /// Folder for its settings and tables, there or not.
    pub folder: String,
    /// What it is given from there; `None` where a file of it is not what it should be.
    pub given: Option<GivenLine>,
    /// What is wrong, or what barrier this kernel lacks.
    pub remarks: Vec<String>,
}

pub(crate) fn host(around: &Surroundings<'_>) -> Host {
    Host::new(
        around.runner.clone(),
        around.scratch.clone(),
        Limits::default(),
    )
}

/// Approves the files of the shipped plugins that are found now; returns their names, and why others could not be.
pub(crate) fn approve_shipped(
    workshop: &Workshop,
    around: &Surroundings<'_>,
) -> (Vec<String>, Vec<(&'static str, WorkshopError)>) {
    let libraries = discover(&around.plugin_folders);
    let mut approved = Vec::new();
    let mut faults = Vec::new();
    for name in SHIPPED_PLUGINS {
        let Some(library) = libraries.iter().find(|library| library.name == name) else {
            continue;
        };
        match approve(workshop, library, around) {
            Ok(_) => approved.push(name.to_owned()),
            Err(error) => faults.push((name, error)),
        }
    }
    (approved, faults)
}

fn approve(
    workshop: &Workshop,
    library: &Library,
    around: &Surroundings<'_>,
) -> Result<Digest, WorkshopError> {
    let digest = library
        .digest(Limits::default().library_bytes)
        .map_err(|error| {
            WorkshopError::file(
                "read",
                &library.path,
                std::io::Error::other(error.to_string()),
            )
        })?;
    workshop.store.approve_plugin(&PluginApproval {
        name: library.name.clone(),
        digest,
        approved_at: around.now.to_string(),
    })?;
    Ok(digest)
}

impl Workshop {
    pub(crate) fn approvals(&self) -> Result<Approvals, WorkshopError> {
        Ok(self
            .store
            .plugin_approvals()?
            .into_iter()
            .map(|approval| (approval.name, approval.digest))
            .collect())
    }

    /// Approves the shipped plugins as they are now, for example after a rebuild.
    ///
    /// # Errors
    /// When one of them is not found or cannot be approved; the others are.
    pub fn approve_shipped(&self, around: &Surroundings<'_>) -> Result<Vec<String>, WorkshopError> {
        let (approved, faults) = approve_shipped(self, around);
        if let Some((_, error)) = faults.into_iter().next() {
            return Err(error);
        }
        match SHIPPED_PLUGINS
            .iter()
            .find(|name| !approved.iter().any(|found| found == *name))
        {
            Some(missing) => Err(no_plugin(missing, around)),
            None => Ok(approved),
        }
    }

    /// Approves one plugin by name or path of its file.
    ///
    /// # Errors
    /// When it is not found.
    pub fn approve_plugin(
        &self,
        name_or_path: &str,
        around: &Surroundings<'_>,
    ) -> Result<(String, Digest), WorkshopError> {
        let library = find(name_or_path, around)?;
        let digest = approve(self, &library, around)?;
        Ok((library.name, digest))
    }

    /// Withdraws every approval of a plugin; returns how many there were.
    ///
    /// # Errors
    /// When the store cannot be written.
    pub fn withdraw_plugin(&self, name: &str) -> Result<usize, WorkshopError> {
        let approvals = self.store.plugin_approvals()?;
        let mut count = 0;
        for approval in approvals.iter().filter(|approval| approval.name == name) {
            count += usize::from(self.store.withdraw_approval(name, &approval.digest)?);
        }
        Ok(count)
    }

    /// Lists the plugins found, asking the approved ones what they are.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn plugins(&self, around: &Surroundings<'_>) -> Result<Vec<PluginLine>, WorkshopError> {
        let approvals = self.approvals()?;
        let host = host(around);
        let mut lines = Vec::new();
        for library in discover(&around.plugin_folders) {
            let digest = library.digest(host.limits().library_bytes).ok();
            let mut line = PluginLine {
                name: library.name.clone(),
                path: library.path.display().to_string(),
                digest,
                approved: digest.is_some_and(|digest| approvals.contains(&library.name, digest)),
                version: None,
                title: None,
                rules: Vec::new(),
                folder: self.plugin_folder(&library.name).display().to_string(),
                given: None,
                remarks: Vec::new(),
            };
            match self.given_line(&library.name) {
                Ok(given) => line.given = Some(given),
                Err(error) => line.remarks.push(format!("{error}; {}", error.hint())),
            }
            match host.describe(&library, &approvals) {
                Ok(described) => {
                    line.version = Some(described.description.version);
                    line.title = Some(described.description.title);
                    line.rules = described
                        .description
                        .rules
                        .into_iter()
                        .map(|rule| PluginRule {
                            id: rule.id,
                            title: rule.title,
                        })
                        .collect();
                    line.remarks = described.barriers.lacking();
                }
                Err(failed) => line
                    .remarks
                    .push(format!("{}; {}", failed.fault, failed.hint())),
            }
            lines.push(line);
        }
        Ok(lines)
    }
}

fn find(name_or_path: &str, around: &Surroundings<'_>) -> Result<Library, WorkshopError> {
    let by_name = discover(&around.plugin_folders)
        .into_iter()
        .find(|library| library.name == name_or_path);
    by_name
        .or_else(|| Library::at(std::path::Path::new(name_or_path)))
        .ok_or_else(|| no_plugin(name_or_path, around))
}

fn no_plugin(name: &str, around: &Surroundings<'_>) -> WorkshopError {
    let folders: Vec<String> = around
        .plugin_folders
        .iter()
        .map(|folder| folder.display().to_string())
        .collect();
    WorkshopError::NoPlugin {
        name: name.to_owned(),
        folders: folders.join(", "),
    }
}
