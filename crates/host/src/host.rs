//! The host's side: who may run, what is asked, and whether the answer may be believed.

use std::{collections::BTreeMap, ffi::OsString, path::PathBuf, thread};

use serde_json::{Map, Value};
use tangmark_core::{Digest, json::CanonicalError};
use tangmark_plugin::{CheckRequest, Description};

use crate::{
    Approvals, BarrierReport, Failed, FaultKind, Library, Limits, PluginOutcome, RUNNER_COMMAND,
    Replied,
    question::Question,
    visit::{Answer, Visit},
};

/// Starts runners and judges what they bring back.
#[derive(Debug, Clone)]
pub struct Host {
    pub(crate) runner: PathBuf,
    pub(crate) arguments: Vec<OsString>,
    pub(crate) scratch: PathBuf,
    pub(crate) limits: Limits,
}

/// What the user gave one plugin, and no other.
#[derive(Debug, Clone, PartialEq)]
pub struct Given {
    /// Its settings; an object.
    pub settings: Value,
    /// Its tables by name; an object of arrays of rows, each row an object of texts.
    pub tables: Value,
}

impl Default for Given {
    /// Gives nothing.
    fn default() -> Self {
        Self {
            settings: Value::Object(Map::new()),
            tables: Value::Object(Map::new()),
        }
    }
}

/// What a plugin says it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// Its description, audited.
    pub description: Description,
    /// Digest of the library's bytes.
    pub digest: Digest,
    /// The barriers it ran behind.
    pub barriers: BarrierReport,
}

impl Host {
    /// Makes a host that starts `runner` (our own binary) with the argument [`RUNNER_COMMAND`], in
    /// an empty folder below `scratch` that is removed afterwards.
    pub fn new(runner: PathBuf, scratch: PathBuf, limits: Limits) -> Self {
        Self {
            runner,
            arguments: vec![RUNNER_COMMAND.into()],
            scratch,
            limits,
        }
    }

    /// Replaces the arguments of the runner.
    #[must_use]
    pub fn with_runner_arguments(mut self, arguments: Vec<OsString>) -> Self {
        self.arguments = arguments;
        self
    }

    /// Returns the limits.
    pub fn limits(&self) -> &Limits {
        &self.limits
    }

    /// Asks an approved plugin what it is.
    ///
    /// # Errors
    /// [`Failed`] for whatever keeps an honest description from coming.
    #[allow(clippy::result_large_err, reason = "asked once per plugin and listing")]
    pub fn describe(&self, library: &Library, approvals: &Approvals) -> Result<Described, Failed> {
        let mut visit = Visit::new(self, library);
        let answer = visit.ask(approvals, None)?;
        let Answer {
            digest,
            barriers,
            description,
            ..
        } = answer;
        Ok(Described {
            description,
            digest,
            barriers,
        })
    }

    /// Asks every plugin in `libraries` about `request`, at the same time, each with what the user gave it (the request's
    /// own settings and tables are not used). Outcomes come ordered by name, one per library.
    pub fn check(
        &self,
        libraries: &[Library],
        approvals: &Approvals,
        request: &CheckRequest,
        given: &BTreeMap<String, Given>,
    ) -> Vec<PluginOutcome> {
        let question = &Question::new(request);
        let mut outcomes: Vec<PluginOutcome> = thread::scope(|scope| {
            let visits: Vec<_> = libraries
                .iter()
                .map(|library| {
                    let own = given.get(&library.name).cloned().unwrap_or_default();
                    (
                        library,
                        scope.spawn(move || self.check_one(library, approvals, question, &own)),
                    )
                })
                .collect();
            visits
                .into_iter()
                .map(|(library, visit)| {
                    visit.join().unwrap_or_else(|_| {
                        let fault = "the host panicked while asking it";
                        PluginOutcome::Failed(
                            Visit::new(self, library).failed(FaultKind::Environment, fault),
                        )
                    })
                })
                .collect()
        });
        outcomes.sort_by(|a, b| a.name().cmp(b.name()));
        outcomes
    }

    fn check_one(
        &self,
        library: &Library,
        approvals: &Approvals,
        question: &Result<Question<'_>, CanonicalError>,
        given: &Given,
    ) -> PluginOutcome {
        let mut visit = Visit::new(self, library);
        let asked = match question {
            Ok(question) => question.of(given).map_err(|error| error.to_string()),
            Err(error) => Err(error.to_string()),
        };
        let outcome = match asked {
            Ok(asked) => visit.ask(approvals, Some(asked)),
            Err(error) => Err(visit.failed(FaultKind::Environment, error)),
        };
        match outcome {
            Ok(Answer {
                digest,
                barriers,
                description,
                reply,
            }) => {
                let reply = reply.unwrap_or_default();
                PluginOutcome::Replied(Replied {
                    description,
                    digest,
                    reply,
                    barriers,
                })
            }
            Err(failed) => PluginOutcome::Failed(failed),
        }
    }
}
