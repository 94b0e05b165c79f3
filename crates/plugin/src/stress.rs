//! Entry points that break the ABI on purpose, for `plugins/stress` and the tests of the host.

use std::{panic::catch_unwind, ptr};

use crate::border::{Buffer, STATUS_BROKEN};

/// An answer that need not be true.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawAnswer {
    /// Status to return.
    pub status: i32,
    /// Bytes to hand out; they are never freed.
    pub bytes: Vec<u8>,
    /// Number of bytes to announce in place of the true one.
    pub announced: Option<usize>,
    /// Address to announce in place of the true one.
    pub address: Option<usize>,
}

impl RawAnswer {
    /// An answer that is true.
    pub fn honest(bytes: Vec<u8>) -> Self {
        Self {
            status: 0,
            bytes,
            announced: None,
            address: None,
        }
    }
}

/// Runs a misbehaving function behind the border.
///
/// # Safety
/// As for [`crate::border::enter_check`].
#[allow(unsafe_code)]
pub unsafe fn enter_raw(
    function: fn(&[u8]) -> RawAnswer,
    input: *const u8,
    length: usize,
    output: *mut Buffer,
) -> i32 {
    // SAFETY: passed on from our caller.
    let bytes = unsafe { std::slice::from_raw_parts(input, length) };
    let Ok(answer) = catch_unwind(|| function(bytes)) else {
        return STATUS_BROKEN;
    };
    let length = answer.announced.unwrap_or(answer.bytes.len());
    let data = match answer.address {
        Some(address) => ptr::without_provenance_mut(address),
        None => answer.bytes.leak().as_mut_ptr(),
    };
    // SAFETY: writable as our caller promised.
    unsafe { output.write(Buffer { data, length }) };
    answer.status
}

#[allow(unsafe_code)]
unsafe extern "C" {
    fn fork() -> i32;
    fn _exit(code: i32) -> !;
    fn kill(process: i32, signal: i32) -> i32;
    fn getppid() -> i32;
}

/// Makes a process, which ends at once. The standard library offers no bare fork.
///
/// # Errors
/// What the system says.
#[allow(unsafe_code)]
pub fn make_process() -> std::io::Result<()> {
    // SAFETY: the new process does nothing but end.
    match unsafe { fork() } {
        0 => unsafe { _exit(0) },
        1.. => Ok(()),
        _ => Err(std::io::Error::last_os_error()),
    }
}

/// Sends the process `number` the signal that asks it to end (SIGTERM); 0 stands for the parent,
/// which is only asked whether it could be sent one (signal 0).
///
/// # Errors
/// What the system says.
#[allow(unsafe_code)]
pub fn signal(number: i32) -> std::io::Result<()> {
    // SAFETY: neither call touches memory of ours.
    let sent = unsafe {
        match number {
            0 => kill(getppid(), 0),
            other => kill(other, TERMINATE),
        }
    };
    match sent {
        0 => Ok(()),
        _ => Err(std::io::Error::last_os_error()),
    }
}

/// SIGTERM. Source: Linux manual page signal(7).
const TERMINATE: i32 = 15;

/// Makes the three functions of ABI 1, without any care, and a constructor that runs while the
/// library is opened: `describe` and `check` are `fn(&[u8]) -> RawAnswer`, `constructor` is `fn()`.
#[macro_export]
macro_rules! export_misbehaving {
    ($describe:path, $check:path, $constructor:path $(,)?) => {
        const _: () = {
            #[unsafe(no_mangle)]
            unsafe extern "C" fn tangmark_describe_1(
                input: *const u8,
                length: usize,
                output: *mut $crate::border::Buffer,
            ) -> i32 {
                // SAFETY: the caller keeps the duties of the ABI page.
                unsafe { $crate::stress::enter_raw($describe, input, length, output) }
            }

            #[unsafe(no_mangle)]
            unsafe extern "C" fn tangmark_check_1(
                input: *const u8,
                length: usize,
                output: *mut $crate::border::Buffer,
            ) -> i32 {
                // SAFETY: the caller keeps the duties of the ABI page.
                unsafe { $crate::stress::enter_raw($check, input, length, output) }
            }

            #[unsafe(no_mangle)]
            unsafe extern "C" fn tangmark_release_1(_buffer: *mut $crate::border::Buffer) {}

            // Named here too, since the compiler does not count a `used` static as a use.
            const _: fn() = $constructor;

            extern "C" fn run_at_opening() {
                $constructor();
            }

            #[used]
            #[unsafe(link_section = ".init_array")]
            static CONSTRUCTOR: extern "C" fn() = run_at_opening;
        };
    };
}
