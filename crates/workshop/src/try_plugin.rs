//! Trying one plugin file on one sheet: without a workshop, without approving the file for good.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Duration;

use serde::Serialize;
use serde_json::{Value, json};
use tangmark_core::record::{Artefact, Finding, Key, Number};
use tangmark_core::{Digest, json as core_json};
use tangmark_host::{Library, PluginOutcome, discover};
use tangmark_plugin::CheckRequest;

use crate::checks::{PrivateResults, convert, is_private};
use crate::{Surroundings, Workshop, WorkshopError, given, plugins, sheets};

/// What to try, and on what.
#[derive(Clone, Debug)]
pub struct TryPlugin {
    /// The library, `libtangmark_NAME.so`.
    pub library: PathBuf,
    /// A sheet, TOML or JSON; its photos lie beside it.
    pub sheet: PathBuf,
    /// Settings in TOML.
    pub settings: Option<PathBuf>,
    /// Tables in CSV; each is named as its file.
    pub tables: Vec<PathBuf>,
}

/// What came of it.
#[derive(Clone, Debug, Serialize)]
pub struct TriedPlugin {
    /// Name, from the file name.
    pub plugin: String,
    /// What it says its version is, when it answered.
    pub version: Option<String>,
    /// Digest of the file.
    pub digest: Option<Digest>,
    /// What it was asked.
    pub request: Value,
    /// The same, byte for byte as it went to the plugin.
    #[serde(skip)]
    pub request_bytes: Vec<u8>,
    /// Findings that may become public, as it gave them.
    pub findings: Vec<Finding>,
    /// Findings that stay private.
    pub private_findings: Vec<Finding>,
    /// Derived numbers that are sealed.
    pub quantities: Vec<Number>,
    /// Tables and series that are sealed.
    pub artefacts: Vec<Artefact>,
    /// What speaks of money and is sealed nowhere.
    pub private_results: PrivateResults,
    /// What went wrong, in one line.
    pub fault: Option<String>,
    /// The next step then.
    pub hint: Option<String>,
    /// What it wrote to its streams.
    pub stderr: String,
    /// Barriers and how far they were up; empty when it did not come to run.
    pub barriers: Vec<(&'static str, &'static str)>,
    /// Time that passed, in ms; `None` when nothing was started.
    pub wall_ms: Option<f64>,
    /// Time on the processor, in ms, where this kernel tells it.
    pub processor_ms: Option<f64>,
    /// Most memory in use, in bytes, the runner included.
    pub memory_bytes: Option<u64>,
    /// Most address space, in bytes: this is what is limited.
    pub address_space_bytes: Option<u64>,
    /// Most address space allowed, in bytes.
    pub address_space_allowed: u64,
    /// Time allowed, in ms.
    pub wall_allowed_ms: f64,
}

/// Tries a plugin. What goes wrong in the plugin is told in the result, not as an error.
///
/// # Errors
/// When the file is not named as a plugin's, or the sheet, settings or a table cannot be read.
pub fn try_plugin(
    order: &TryPlugin,
    around: &Surroundings<'_>,
) -> Result<TriedPlugin, WorkshopError> {
    let library = Library::at(&order.library).ok_or_else(|| WorkshopError::NotAPluginName {
        file: order.library.display().to_string(),
    })?;
    let request = request(order, around)?;
    let host = plugins::host(around);
    let tried = host.attempt(&library, &request);
    let milliseconds = |time: Duration| time.as_secs_f64() * 1e3;
    let own = Key::from_name(&library.name);
    let mut told = TriedPlugin {
        plugin: library.name,
        version: None,
        digest: None,
        request: serde_json::from_slice(&tried.request).unwrap_or_default(),
        request_bytes: tried.request,
        findings: Vec::new(),
        private_findings: Vec::new(),
        quantities: Vec::new(),
        artefacts: Vec::new(),
        private_results: PrivateResults {
            plugin: own.clone(),
            quantities: Vec::new(),
            artefacts: Vec::new(),
        },
        fault: None,
        hint: None,
        stderr: tried.stderr,
        barriers: tried
            .barriers
            .iter()
            .flat_map(tangmark_host::BarrierReport::states)
            .collect(),
        wall_ms: tried.wall.map(milliseconds),
        processor_ms: tried
            .used
            .as_ref()
            .and_then(|used| used.processor.map(milliseconds)),
        memory_bytes: tried.used.as_ref().map(|used| used.memory_bytes),
        address_space_bytes: tried.used.as_ref().map(|used| used.address_space_bytes),
        address_space_allowed: host.limits().memory_bytes,
        wall_allowed_ms: milliseconds(host.limits().wall),
    };
    match &tried.outcome {
        PluginOutcome::Failed(failed) => {
            told.digest = failed.digest;
            told.hint = Some(author_hint(failed));
            told.fault = Some(failed.fault.clone());
        }
        PluginOutcome::Replied(replied) => {
            told.version = Some(replied.description.version.clone());
            told.digest = Some(replied.digest);
            match convert(replied, &own, Digest::from_bytes([0; 32])) {
                Ok((run, hidden, findings)) => {
                    (told.private_findings, told.findings) =
                        findings.into_iter().partition(is_private);
                    told.quantities = run.quantities;
                    told.artefacts = run.artefacts;
                    told.private_results = hidden;
                }
                Err(fault) => {
                    told.fault = Some(format!(
                        "plugin `{}` gave an answer that does not fit a record: {fault}",
                        told.plugin
                    ));
                    told.hint = Some("see the common forms on the plugin page".to_owned());
                }
            }
        }
    }
    Ok(told)
}

impl Workshop {
    /// What each plugin that is found would be asked about the newest sheet of a blade, by name.
    ///
    /// # Errors
    /// When there is no sheet, or what a plugin was given cannot be read.
    pub fn questions(
        &self,
        blade: &str,
        around: &Surroundings<'_>,
    ) -> Result<BTreeMap<String, CheckRequest>, WorkshopError> {
        let (sheet, _) = self.sheet(blade)?;
        let sheet = sheet
            .to_json()
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        let history = self.history(blade)?.into_iter().map(|kept| kept.value);
        let asked = CheckRequest {
            history: history.collect(),
            ..about(sheet, around)?
        };
        let libraries = discover(&around.plugin_folders);
        let given = self.given(libraries.iter().map(|library| library.name.as_str()))?;
        Ok(given
            .into_iter()
            .map(|(name, own)| {
                let asked = CheckRequest {
                    settings: own.settings,
                    tables: own.tables,
                    ..asked.clone()
                };
                (name, asked)
            })
            .collect())
    }
}

/// A question about a sheet; the seed is drawn from the sheet, so that the same sheet has the same.
pub(crate) fn about(
    sheet: Value,
    around: &Surroundings<'_>,
) -> Result<CheckRequest, WorkshopError> {
    let bytes = core_json::canonical_bytes(&sheet)
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
    let seed = Digest::of(&bytes).to_string();
    Ok(CheckRequest::new(around.now.as_str(), &seed[..32], sheet))
}

/// The next step of an author is another one than that of a user.
fn author_hint(failed: &tangmark_host::Failed) -> String {
    use tangmark_host::FaultKind as Kind;
    let text = match failed.kind {
        Kind::Unloadable => {
            "build a shared library that exports the three functions of the plugin page"
        }
        Kind::TimedOut => "find what takes so long; the limits stand on the plugin page",
        Kind::Crashed => {
            "read what it wrote above; run its check in a test of your own under a debugger"
        }
        Kind::Forbidden => {
            "leave out sockets, programs, processes and signals: a plugin has the request and nothing else"
        }
        Kind::Flooded => "answer less; the limits stand on the plugin page",
        Kind::Lied => "compare the place named with the plugin page",
        Kind::Refused => "give it what it asks for, with --settings and --table, or in the sheet",
        Kind::Broken => "read what it wrote above; mend the fault, then build and try again",
        _ => return failed.hint(),
    };
    text.to_owned()
}

fn request(order: &TryPlugin, around: &Surroundings<'_>) -> Result<CheckRequest, WorkshopError> {
    let (sheet, _) = sheets::read_file(&order.sheet)?;
    let sheet = sheet
        .to_json()
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
    let mut request = about(sheet, around)?;
    if let Some(path) = &order.settings {
        request.settings = given::read_settings(path)?;
    }
    let mut tables = json!({});
    for path in &order.tables {
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        let table = given::read_table(path)?;
        if let Some(all) = tables.as_object_mut()
            && all.insert(name.clone().into_owned(), table).is_some()
        {
            return Err(WorkshopError::Table {
                file: path.display().to_string(),
                what: format!(
                    "a second table called `{name}`; each is named as its file, without `.csv`"
                ),
                hint: "rename one of the two files".to_owned(),
            });
        }
    }
    request.tables = tables;
    Ok(request)
}
