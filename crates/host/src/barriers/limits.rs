//! Resource limits (`setrlimit`).

use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};

use super::{Allowance, Barrier, BarrierError, BarrierState};

/// Descriptors: the three pipes, the library, and what the system's loader opens meanwhile.
const OPEN_FILES: u64 = 32;

/// Lowers the limits. They cannot be raised again: the filter refuses `setrlimit`, and a higher
/// hard limit would need a privilege.
pub(super) fn raise(allowance: Allowance) -> Result<BarrierState, BarrierError> {
    let seconds = allowance.processor_seconds;
    for (resource, soft, hard) in [
        (Resource::As, allowance.memory_bytes, allowance.memory_bytes),
        // One second more until SIGKILL, so that SIGXCPU can name the reason.
        (Resource::Cpu, seconds, seconds.saturating_add(1)),
        (Resource::Nofile, OPEN_FILES, OPEN_FILES),
        // Counts per user and does not bind the superuser; the filter refuses processes anyway.
        (Resource::Nproc, 0, 0),
        (Resource::Fsize, 0, 0),
        (Resource::Core, 0, 0),
        (Resource::Memlock, 0, 0),
        (Resource::Msgqueue, 0, 0),
    ] {
        let before = getrlimit(resource);
        let lowest = |wanted: u64| before.maximum.map_or(wanted, |most| most.min(wanted));
        let new = Rlimit {
            current: Some(lowest(soft)),
            maximum: Some(lowest(hard)),
        };
        setrlimit(resource, new)
            .map_err(|error| BarrierError::new(Barrier::ResourceLimits.name(), error))?;
    }
    Ok(BarrierState::Full)
}
