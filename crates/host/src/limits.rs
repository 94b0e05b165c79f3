//! What one plugin may use.

use std::time::Duration;

/// What one plugin may use for one description or check. The whole process of the runner counts,
/// so that memory includes our own binary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Time on the wall clock, from starting the runner to the last byte of the answer.
    pub wall: Duration,
    /// Processor time, in whole seconds.
    pub processor_seconds: u64,
    /// Address space, in bytes.
    pub memory_bytes: u64,
    /// Size of the library's file, in bytes.
    pub library_bytes: u64,
    /// Size of the request, in bytes.
    pub request_bytes: usize,
    /// Size of the reply, in bytes.
    pub reply_bytes: usize,
    /// How much of what it writes to its error stream is kept, in bytes.
    pub stderr_bytes: usize,
}

impl Default for Limits {
    /// Source: own choice, for rules that look through one blade's history of a few megabytes:
    /// 10 s, 512 MiB, library 64 MiB, request 32 MiB, reply 4 MiB, 16 KiB of the error stream.
    fn default() -> Self {
        Self {
            wall: Duration::from_secs(10),
            processor_seconds: 10,
            memory_bytes: 512 << 20,
            library_bytes: 64 << 20,
            request_bytes: 32 << 20,
            reply_bytes: 4 << 20,
            stderr_bytes: 16 << 10,
        }
    }
}
