//! One call on one plugin: read, refuse the unapproved, ask, judge.

use std::{path::Path, time::Duration};

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_plugin::{ABI, CheckReply, DescribeRequest, Description, wire};

use crate::{
    Approvals, BarrierReport, Failed, FaultKind, Host, Library,
    frame::Tag,
    job::{Job, RunnerFault},
    library::sealed,
    process::{self, Conversation, End},
    question::Asked,
    usage::Used,
};

/// Features of ABI 1 this host knows. None yet; see [`features`].
const FEATURES: [&str; 0] = [];

/// Longest text of a plugin's own that goes into a fault, in characters.
const QUOTED: usize = 400;

/// Features the host names: those it knows and one it made up, so that plugins do not forget to
/// ignore the unknown. Made from the seed: the same request has the same bytes.
pub(crate) fn features(seed: &str) -> Vec<String> {
    let digest = Digest::of(format!("invented feature {seed}").as_bytes()).to_string();
    let invented = format!("invented-{}", digest.get(..8).unwrap_or_default());
    FEATURES
        .iter()
        .map(|name| (*name).to_owned())
        .chain([invented])
        .collect()
}

/// What a visit brought back.
pub(crate) struct Answer {
    pub(crate) digest: Digest,
    pub(crate) barriers: BarrierReport,
    pub(crate) description: Description,
    pub(crate) reply: Option<CheckReply>,
}

/// What was seen of a runner from outside.
pub(crate) struct Seen {
    pub(crate) stderr: String,
    pub(crate) barriers: Option<BarrierReport>,
    pub(crate) wall: Duration,
    pub(crate) used: Option<Used>,
}

/// One call on one plugin.
pub(crate) struct Visit<'a> {
    host: &'a Host,
    library: &'a Library,
    digest: Option<Digest>,
    stderr: String,
    watched: bool,
    seen: Option<Seen>,
}

#[allow(clippy::result_large_err, reason = "one per visit")]
impl<'a> Visit<'a> {
    pub(crate) fn new(host: &'a Host, library: &'a Library) -> Self {
        Self {
            host,
            library,
            digest: None,
            stderr: String::new(),
            watched: false,
            seen: None,
        }
    }

    /// Looks at the runner before it is ended; see [`Visit::seen`].
    pub(crate) fn watched(mut self) -> Self {
        self.watched = true;
        self
    }

    /// Hands out what was seen; `None` when no runner was started.
    pub(crate) fn seen(self) -> Option<Seen> {
        self.seen
    }

    pub(crate) fn failed(&self, kind: FaultKind, what: impl AsRef<str>) -> Failed {
        let name = self.library.name.clone();
        let fault = format!("plugin `{name}`: {}", what.as_ref());
        Failed {
            name,
            digest: self.digest,
            kind,
            fault,
            stderr: self.stderr.clone(),
        }
    }

    pub(crate) fn ask(
        &mut self,
        approvals: &Approvals,
        asked: Option<Asked<'_>>,
    ) -> Result<Answer, Failed> {
        let limits = &self.host.limits;
        let (bytes, digest) = self
            .library
            .read(limits.library_bytes)
            .map_err(|error| self.failed(FaultKind::Unreadable, error.to_string()))?;
        self.digest = Some(digest);
        let name = &self.library.name;
        if !approvals.contains(name, digest) {
            let what = if approvals.knows(name) {
                "its file is not the one that was approved"
            } else {
                "it is not approved"
            };
            return Err(self.failed(FaultKind::Unapproved, format!("{what}; SHA-256 {digest}")));
        }
        let sheet = asked.as_ref().map(|asked| asked.sheet);
        let orders = self.orders(&bytes, asked)?;
        drop(bytes);
        let awaited = if sheet.is_some() {
            Tag::Reply
        } else {
            Tag::Description
        };
        let talk = self.converse(orders, awaited)?;
        self.stderr = lines(&String::from_utf8_lossy(&talk.stderr));
        self.seen = Some(Seen {
            stderr: self.stderr.clone(),
            barriers: match talk.frames.first() {
                Some((Tag::Barriers, bytes)) => serde_json::from_slice(bytes).ok(),
                _ => None,
            },
            wall: talk.wall,
            used: talk.used.clone(),
        });
        self.judge(talk, digest, sheet)
    }

    fn orders(&self, library: &[u8], asked: Option<Asked<'_>>) -> Result<process::Orders, Failed> {
        let limits = &self.host.limits;
        let ours =
            |error: &dyn std::fmt::Display| self.failed(FaultKind::Environment, error.to_string());
        let library = sealed(library).map_err(|error| {
            let what = format!("its library cannot be put into memory: {error}");
            self.failed(FaultKind::Environment, what)
        })?;
        let job = Job {
            check: asked.is_some(),
            request_bytes: limits.request_bytes,
            reply_bytes: limits.reply_bytes,
            memory_bytes: limits.memory_bytes,
            processor_seconds: limits.processor_seconds,
            stay: self.watched,
        };
        let seed = asked.as_ref().map_or("", |asked| asked.seed);
        let describe = DescribeRequest {
            abi: ABI,
            features: features(seed),
        };
        let mut frames = vec![
            (
                Tag::Job,
                serde_json::to_vec(&job).map_err(|error| ours(&error))?,
            ),
            (
                Tag::DescribeRequest,
                wire::to_bytes(&describe).map_err(|error| ours(&error))?,
            ),
        ];
        if let Some(Asked { bytes, .. }) = asked {
            let (found, most) = (bytes.len(), limits.request_bytes);
            if found > most {
                let what = format!("the request has {found} bytes; at most {most} are allowed");
                return Err(self.failed(FaultKind::Environment, what));
            }
            frames.push((Tag::CheckRequest, bytes));
        }
        Ok(process::Orders { library, frames })
    }

    fn converse(&self, orders: process::Orders, awaited: Tag) -> Result<Conversation, Failed> {
        let host = self.host;
        let start = |what: &str, error: std::io::Error| {
            self.failed(FaultKind::Environment, format!("{what}: {error}"))
        };
        let folder = tempfile::Builder::new()
            .prefix("tangmark-runner-")
            .tempdir_in(&host.scratch)
            .map_err(|error| start("no empty folder can be made for it", error))?;
        // The runner starts in another folder, so that a relative path would miss it.
        let runner = std::path::absolute(&host.runner)
            .map_err(|error| start("its runner cannot be found", error))?;
        let converse = |folder: &Path| {
            process::converse(
                &runner,
                &host.arguments,
                folder,
                &host.limits,
                orders,
                awaited,
                self.watched,
            )
        };
        converse(folder.path()).map_err(|error| start("its runner cannot be started", error))
    }

    fn judge(
        &self,
        talk: Conversation,
        digest: Digest,
        sheet: Option<&Value>,
    ) -> Result<Answer, Failed> {
        let mut frames = talk.frames.into_iter();
        // The first frame was sent before the plugin could say anything: it is the runner's own.
        let barriers = match frames.next() {
            Some((Tag::Barriers, bytes)) => serde_json::from_slice(&bytes)
                .map_err(|error| self.failed(FaultKind::Environment, error.to_string()))?,
            Some((Tag::Fault, bytes)) => {
                let what = match serde_json::from_slice(&bytes) {
                    Ok(RunnerFault::Setup(text)) => text,
                    _ => "no reason given".to_owned(),
                };
                let what = format!("its runner could not get ready: {what}");
                return Err(self.failed(FaultKind::Environment, what));
            }
            _ => {
                let what = "its runner gave no sign before any barrier was up";
                return Err(self.failed(FaultKind::Environment, what));
            }
        };
        let mut description = None;
        for (tag, bytes) in frames {
            match (tag, description.take()) {
                (Tag::Description, None) => {
                    let read = wire::description_from_bytes(&bytes)
                        .map_err(|error| self.lied("its description", &error))?;
                    read.audit(&self.library.name)
                        .map_err(|lie| self.lied("its description", &lie))?;
                    if sheet.is_none() {
                        return Ok(Answer {
                            digest,
                            barriers,
                            description: read,
                            reply: None,
                        });
                    }
                    description = Some(read);
                }
                (Tag::Reply, Some(description)) => {
                    let Some(sheet) = sheet else { break };
                    let reply = wire::reply_from_bytes(&bytes, self.host.limits.reply_bytes)
                        .map_err(|error| self.lied("its reply", &error))?;
                    reply
                        .audit(&description, sheet)
                        .map_err(|lie| self.lied("its reply", &lie))?;
                    return Ok(Answer {
                        digest,
                        barriers,
                        description,
                        reply: Some(reply),
                    });
                }
                (Tag::Fault, _) => return Err(self.reported(&bytes)),
                _ => return Err(self.failed(FaultKind::Lied, "it spoke out of turn")),
            }
        }
        Err(self.ended(&talk.end))
    }

    fn lied(&self, what: &str, error: &dyn std::fmt::Display) -> Failed {
        let said = one_line(&error.to_string(), QUOTED);
        self.failed(
            FaultKind::Lied,
            format!("{what} cannot be believed: {said}"),
        )
    }

    /// A fault the runner told. The plugin shares its memory, so that the text is quoted, not
    /// believed.
    fn reported(&self, bytes: &[u8]) -> Failed {
        let Ok(fault) = serde_json::from_slice::<RunnerFault>(bytes) else {
            return self.failed(FaultKind::Lied, "it spoke out of turn");
        };
        let (kind, before, text) = match fault {
            RunnerFault::Setup(text) => (FaultKind::Environment, "its runner failed: ", text),
            RunnerFault::Load(text) => (FaultKind::Unloadable, "", text),
            RunnerFault::OtherAbi(text) => (FaultKind::OtherAbi, "", text),
            RunnerFault::Refused(text) => (FaultKind::Refused, "it refuses to judge: ", text),
            RunnerFault::Broken(text) => (FaultKind::Broken, "it hit a bug of its own: ", text),
            RunnerFault::Flooded(text) => (FaultKind::Flooded, "", text),
            RunnerFault::Lied(text) => (FaultKind::Lied, "", text),
        };
        let text = one_line(&text, QUOTED);
        let said = if text.trim().is_empty() {
            "no reason given"
        } else {
            &text
        };
        self.failed(kind, format!("{before}{said}"))
    }

    fn ended(&self, end: &End) -> Failed {
        let limits = &self.host.limits;
        match end {
            End::Answered => self.failed(FaultKind::Lied, "it spoke out of turn"),
            End::TimedOut => {
                let wall = limits.wall.as_secs_f64();
                let what = format!("it did not answer within {wall} s and was stopped");
                self.failed(FaultKind::TimedOut, what)
            }
            End::Flooded => {
                let what = format!("its answer is larger than {} bytes", limits.reply_bytes);
                self.failed(FaultKind::Flooded, what)
            }
            End::Garbled(what) => self.failed(FaultKind::Lied, format!("it sent {what}")),
            End::Died(status) => match process::signal_name(*status) {
                Some((libc::SIGSYS, _)) => self.failed(
                    FaultKind::Forbidden,
                    "it was stopped by the kernel (SIGSYS) for a system call that plugins may not \
                     make: network, programs, processes, tracing or the like",
                ),
                Some((libc::SIGXCPU, _)) => {
                    let seconds = limits.processor_seconds;
                    let what = format!("it used more than {seconds} s of processor time");
                    self.failed(FaultKind::TimedOut, what)
                }
                Some((_, name)) => {
                    let mebibytes = limits.memory_bytes >> 20;
                    let what = format!(
                        "it died ({name}) before it answered; it may use {mebibytes} MiB of memory"
                    );
                    self.failed(FaultKind::Crashed, what)
                }
                None => {
                    let code = status.code().unwrap_or_default();
                    let what = format!("it ended with exit code {code} before it answered");
                    self.failed(FaultKind::Crashed, what)
                }
            },
        }
    }
}

/// Makes one line of at most `most` characters without control characters.
fn one_line(text: &str, most: usize) -> String {
    let tame = |c: char| if c.is_control() { ' ' } else { c };
    text.chars().map(tame).take(most).collect()
}

/// Replaces control characters other than line ends.
fn lines(text: &str) -> String {
    let tame = |c: char| if c.is_control() && c != '\n' { ' ' } else { c };
    text.chars().map(tame).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_invented_feature_comes_with_the_seed() {
        assert_eq!(features("00"), features("00"));
        assert_ne!(features("00"), features("01"));
        assert!(
            features("00")
                .iter()
                .all(|name| name.starts_with("invented-"))
        );
    }

    #[test]
    fn quoted_texts_are_tamed() {
        assert_eq!(one_line("a\u{1b}[2Jb", 4), "a [2");
        assert_eq!(one_line("a\nb", 9), "a b");
        assert_eq!(lines("a\nb\u{7}"), "a\nb ");
    }
}
