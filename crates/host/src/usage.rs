//! What a process used, as the kernel tells it.

use std::{fs, time::Duration};

/// What a runner used, from its start to its answer; our own binary is part of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Used {
    /// Most address space it had, in bytes: what [`crate::Limits::memory_bytes`] limits.
    pub address_space_bytes: u64,
    /// Most memory that was really in use, in bytes.
    pub memory_bytes: u64,
    /// Time on the processor, where this kernel tells it.
    pub processor: Option<Duration>,
}

impl Used {
    /// Looks at a living process; `None` when it is gone or has ended.
    ///
    /// Source: Linux manual page proc_pid_status(5): `VmPeak`, `VmHWM`; Linux kernel documentation,
    /// scheduler statistics: first field of `/proc/<pid>/schedstat`, in nanoseconds.
    pub(crate) fn of(process: u32) -> Option<Self> {
        let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
        let schedule = fs::read_to_string(format!("/proc/{process}/schedstat"));
        Some(Self {
            address_space_bytes: kibibytes(&status, "VmPeak:")? << 10,
            memory_bytes: kibibytes(&status, "VmHWM:")? << 10,
            processor: schedule.ok().as_deref().and_then(on_processor),
        })
    }
}

fn kibibytes(status: &str, name: &str) -> Option<u64> {
    let line = status.lines().find_map(|line| line.strip_prefix(name))?;
    line.trim().strip_suffix("kB")?.trim().parse().ok()
}

fn on_processor(schedule: &str) -> Option<Duration> {
    let nanoseconds = schedule.split_whitespace().next()?.parse().ok()?;
    Some(Duration::from_nanos(nanoseconds))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_living_process_is_seen_and_a_dead_one_is_not() {
        let own = Used::of(std::process::id()).unwrap();
        assert!(own.memory_bytes > 500_000, "{own:?}");
        assert!(own.address_space_bytes >= own.memory_bytes, "{own:?}");
        let mut ended = std::process::Command::new("true").spawn().unwrap();
        ended.wait().unwrap();
        assert_eq!(Used::of(ended.id()), None);
    }

    #[test]
    fn what_the_kernel_writes_is_read() {
        let status = "Name:\trunner\nVmPeak:\t    7112 kB\nVmHWM:\t 4300 kB\n";
        assert_eq!(kibibytes(status, "VmPeak:"), Some(7112));
        assert_eq!(kibibytes("State:\tZ (zombie)\n", "VmPeak:"), None);
        assert_eq!(
            on_processor("1500000 20 3\n"),
            Some(Duration::from_micros(1500))
        );
        assert_eq!(on_processor(""), None);
    }
}
