//! One library on one request, looked at closely: for the author of a plugin.

use std::time::Duration;

use tangmark_plugin::{ABI, CheckRequest, wire};

use crate::{
    Approvals, BarrierReport, Failed, FaultKind, Host, Library, PluginOutcome, Replied, Used,
    visit::{Answer, Visit, features},
};

/// What came of trying a library.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// What the plugin was asked: the canonical bytes of the check request. Empty when the request
    /// has no such bytes.
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
        let request = CheckRequest {
            abi: ABI,
            features: features(&request.seed),
            ..request.clone()
        };
        let mut visit = Visit::new(self, library).watched();
        let outcome = match library.digest(self.limits.library_bytes) {
            Ok(digest) => {
                let for_once = Approvals::from_iter([(library.name.clone(), digest)]);
                visit.ask(&for_once, Some(&request)).map(|answer| {
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
            Err(error) => {
                Err::<Replied, Failed>(visit.failed(FaultKind::Unreadable, error.to_string()))
            }
        };
        let seen = visit.seen();
        let (stderr, barriers, wall, used) = match seen {
            Some(seen) => (seen.stderr, seen.barriers, Some(seen.wall), seen.used),
            None => (String::new(), None, None, None),
        };
        Attempt {
            request: wire::to_bytes(&request).unwrap_or_default(),
            outcome: outcome.map_or_else(PluginOutcome::Failed, PluginOutcome::Replied),
            stderr,
            barriers,
            wall,
            used,
        }
    }
}
