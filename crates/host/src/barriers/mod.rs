//! The barriers a runner puts up around itself before it opens a library.
//!
//! Each is enough against some deeds, and together they overlap on purpose: a file cannot be
//! written because of landlock, of the system call filter and of the file size limit.

mod landlock;
mod limits;
mod seccomp;

use serde::{Deserialize, Serialize};

/// One barrier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Barrier {
    /// Limits on memory, processor time, files and processes (`setrlimit`).
    ResourceLimits,
    /// No files but the system's libraries, no network, no signals to others (landlock).
    Landlock,
    /// A closed list of system calls (seccomp).
    Seccomp,
}

impl Barrier {
    /// Every barrier.
    pub const ALL: [Self; 3] = [Self::ResourceLimits, Self::Landlock, Self::Seccomp];

    /// Returns the name used in texts.
    pub const fn name(self) -> &'static str {
        match self {
            Self::ResourceLimits => "resource-limits",
            Self::Landlock => "landlock",
            Self::Seccomp => "seccomp",
        }
    }
}

/// How far a barrier is up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BarrierState {
    /// Entirely.
    Full,
    /// As far as this kernel knows it.
    Partial,
    /// Not at all: this kernel does not have it.
    Absent,
}

/// The barriers a plugin ran behind, as the runner found them before the library was opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BarrierReport {
    /// No rights can be gained by starting a program.
    pub no_new_privileges: BarrierState,
    /// See [`Barrier::ResourceLimits`].
    pub resource_limits: BarrierState,
    /// See [`Barrier::Landlock`].
    pub landlock: BarrierState,
    /// See [`Barrier::Seccomp`].
    pub seccomp: BarrierState,
}

impl BarrierReport {
    fn each(&self) -> [(&'static str, BarrierState); 4] {
        [
            ("no-new-privileges", self.no_new_privileges),
            ("resource-limits", self.resource_limits),
            ("landlock", self.landlock),
            ("seccomp", self.seccomp),
        ]
    }

    /// Names each barrier and says how far it is up: `up`, `in part`, `absent`.
    pub fn states(&self) -> [(&'static str, &'static str); 4] {
        self.each().map(|(name, state)| {
            let said = match state {
                BarrierState::Full => "up",
                BarrierState::Partial => "in part",
                BarrierState::Absent => "absent",
            };
            (name, said)
        })
    }

    /// Says, one line each, what this kernel lacks; empty when every barrier is entirely up.
    pub fn lacking(&self) -> Vec<String> {
        self.each()
            .into_iter()
            .filter_map(|(name, state)| match state {
                BarrierState::Full => None,
                BarrierState::Partial => Some(format!("this kernel has `{name}` only in part")),
                BarrierState::Absent => Some(format!("this kernel has no `{name}`")),
            })
            .collect()
    }
}

/// What the resource limits are set to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Allowance {
    /// Address space, in bytes.
    pub(crate) memory_bytes: u64,
    /// Processor time, in seconds.
    pub(crate) processor_seconds: u64,
}

/// A barrier this kernel has could not be put up.
#[derive(Debug, thiserror::Error)]
#[error("the barrier `{barrier}` cannot be put up: {reason}")]
pub(crate) struct BarrierError {
    barrier: &'static str,
    reason: String,
}

impl BarrierError {
    #[allow(
        clippy::needless_pass_by_value,
        reason = "short at the many places of use"
    )]
    fn new(barrier: &'static str, reason: impl ToString) -> Self {
        Self {
            barrier,
            reason: reason.to_string(),
        }
    }
}

/// Puts up every barrier that is not in `down`, for this process and for good. A barrier the
/// kernel does not have is reported, not an error; one that fails for another reason is an error.
pub(crate) fn raise(allowance: Allowance, down: &[Barrier]) -> Result<BarrierReport, BarrierError> {
    let up = |barrier| !down.contains(&barrier);
    rustix::thread::set_no_new_privs(true)
        .map_err(|error| BarrierError::new("no-new-privileges", error))?;
    let mut report = BarrierReport {
        no_new_privileges: BarrierState::Full,
        resource_limits: BarrierState::Absent,
        landlock: BarrierState::Absent,
        seccomp: BarrierState::Absent,
    };
    if up(Barrier::Landlock) {
        report.landlock = landlock::raise()?;
    }
    if up(Barrier::ResourceLimits) {
        report.resource_limits = limits::raise(allowance)?;
    }
    // Last: it forbids the calls the others need.
    if up(Barrier::Seccomp) {
        report.seccomp = seccomp::raise()?;
    }
    Ok(report)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_kernel_lacks_is_said() {
        let report = BarrierReport {
            no_new_privileges: BarrierState::Full,
            resource_limits: BarrierState::Full,
            landlock: BarrierState::Partial,
            seccomp: BarrierState::Absent,
        };
        assert_eq!(
            report.lacking(),
            [
                "this kernel has `landlock` only in part",
                "this kernel has no `seccomp`"
            ]
        );
    }
}
