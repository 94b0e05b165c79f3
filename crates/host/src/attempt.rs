//! One library on one request, looked at closely: for the author of a plugin.

use std::time::Duration;

use tangmark_plugin::CheckRequest;

use crate::{
    Approvals, BarrierReport, Failed, FaultKind, Given, Host, Library, PluginOutcome, Replied,
    Used,
    question::Question,
    visit::{Answer, Visit},
};

/// What came of trying a library.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// What the plugin was asked: the canonical bytes of the check request. Empty when it could not
    /// be asked.
    pub request: Vec<u8>,
    /// What came of it.
    pub outcome: PluginOutcome,
    /// What it wrote to its streams, cut to size, control characters replaced.
    pub stderr: String,
    /// The barriers it ran behind; `None` when it did not come to run.
    pub barriers: Option<BarrierReport>,
    /// From the start of the runner to the last byte of the answer; `None` when none was started.
    pub wall: Option<Duration>,
    /// What the runner used; `None` when it ended too early to be looked at.
    pub used: Option<Used>,
}

impl Host {
    /// Asks the library about `request`, with the settings and tables that stand in it, behind the
    /// same barriers as [`Host::check`]. Its file, as it is now, counts as approved for this once.
    pub fn attempt(&self, library: &Library, request: &CheckRequest) -> Attempt {
        let given = Given {
            settings: request.settings.clone(),
            tables: request.tables.clone(),
        };
        let asked = Question::new(request)
            .map_err(|error| error.to_string())
            .and_then(|question| question.of(&given).map_err(|error| error.to_string()));
        let mut bytes = Vec::new();
        let mut visit = Visit::new(self, library).watched();
        let outcome = match (library.digest(self.limits.library_bytes), asked) {
            (Ok(digest), Ok(asked)) => {
                bytes.clone_from(&asked.bytes);
                let for_once = Approvals::from_iter([(library.name.clone(), digest)]);
                visit.ask(&for_once, Some(asked)).map(|answer| {
                    let Answer {
                        digest,
                        barriers,
                        description,
                        reply,
                    } = answer;
                    Replied {
                        description,
                        digest,
                        reply: reply.unwrap_or_default(),
                        barriers,
                    }
                })
            }
            (Err(error), _) => {
                Err::<Replied, Failed>(visit.failed(FaultKind::Unreadable, error.to_string()))
            }
            (_, Err(error)) => Err(visit.failed(FaultKind::Environment, error)),
        };
        let seen = visit.seen();
        let (stderr, barriers, wall, used) = match seen {
            Some(seen) => (seen.stderr, seen.barriers, Some(seen.wall), seen.used),
            None => (String::new(), None, None, None),
        };
        Attempt {
            request: bytes,
            outcome: outcome.map_or_else(PluginOutcome::Failed, PluginOutcome::Replied),
            stderr,
            barriers,
            wall,
            used,
        }
    }
}
