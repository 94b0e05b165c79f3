//! Opens a plugin's library and calls it. For the runner process of `tangmark-host` alone: opening
//! a library runs its constructors, so whoever calls this must have put up every barrier before.
#![allow(unsafe_code)]

use std::{path::Path, slice};

use libloading::os::unix::{Library, RTLD_LOCAL, RTLD_NOW, Symbol};

use crate::{
    ABI,
    border::{
        Buffer, CHECK_SYMBOL, DESCRIBE_SYMBOL, EntryFunction, RELEASE_SYMBOL, ReleaseFunction,
        STATUS_ANSWERED, STATUS_BROKEN, STATUS_REFUSED,
    },
};

/// Longest reason taken from a refusing or broken plugin, in bytes.
const MAX_REASON_BYTES: usize = 2_000;

/// A library is no plugin for this program.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LoadError {
    /// The system's loader refuses the file.
    #[error("it cannot be loaded: {0}")]
    Open(String),
    /// It speaks another ABI number.
    #[error("it speaks ABI {found}; this program needs ABI {ABI}")]
    OtherAbi {
        /// The number it speaks.
        found: u32,
    },
    /// A function is missing.
    #[error("it has no function `{0}`")]
    MissingFunction(&'static str),
}

/// A call did not bring an answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CallError {
    /// The plugin will not judge this.
    #[error("{0}")]
    Refused(String),
    /// The plugin hit a bug of its own, such as a panic.
    #[error("{0}")]
    Broken(String),
    /// A status that ABI 1 does not have.
    #[error("it answered with status {0}; ABI 1 has 0, 1 and 2")]
    UnknownStatus(i32),
    /// Bytes are announced, but there is no address.
    #[error("it announced {0} bytes at no address")]
    NoAddress(usize),
    /// More bytes than allowed.
    #[error("its answer has {found} bytes; at most {most} are allowed")]
    TooLong {
        /// Bytes announced.
        found: usize,
        /// Bytes allowed.
        most: usize,
    },
}

/// An opened plugin. It stays in memory until the process ends: closing a library whose code or
/// thread-local data is still in use is not something a stranger's library can be trusted with.
#[derive(Debug)]
pub struct Loaded {
    describe: EntryFunction,
    check: EntryFunction,
    release: ReleaseFunction,
}

impl Loaded {
    /// Opens the library at `path` and finds the three functions of ABI 1.
    ///
    /// This runs foreign code in this process. What that code may do is decided by the barriers
    /// the runner put up before and by the approval of the file's digest, not by Rust.
    pub fn open(path: &Path) -> Result<Self, LoadError> {
        // SAFETY: none that Rust could check: constructors of the library run now. The module text
        // says who may call this.
        let library = unsafe { Library::open(Some(path), RTLD_NOW | RTLD_LOCAL) }
            .map_err(|error| LoadError::Open(error.to_string()))?;
        // Leaked on purpose, see the type.
        let library = Box::leak(Box::new(library));
        let describe =
            find::<EntryFunction>(library, DESCRIBE_SYMBOL).ok_or_else(|| other_abi(library))?;
        let check = find::<EntryFunction>(library, CHECK_SYMBOL)
            .ok_or(LoadError::MissingFunction(CHECK_SYMBOL))?;
        let release = find::<ReleaseFunction>(library, RELEASE_SYMBOL)
            .ok_or(LoadError::MissingFunction(RELEASE_SYMBOL))?;
        Ok(Self {
            describe,
            check,
            release,
        })
    }

    /// Calls the describing function; the answer has at most `max_bytes` bytes.
    pub fn describe(&self, request: &[u8], max_bytes: usize) -> Result<Vec<u8>, CallError> {
        self.call(self.describe, request, max_bytes)
    }

    /// Calls the checking function; the answer has at most `max_bytes` bytes.
    pub fn check(&self, request: &[u8], max_bytes: usize) -> Result<Vec<u8>, CallError> {
        self.call(self.check, request, max_bytes)
    }

    fn call(
        &self,
        function: EntryFunction,
        request: &[u8],
        max_bytes: usize,
    ) -> Result<Vec<u8>, CallError> {
        let mut buffer = Buffer::EMPTY;
        // SAFETY: the request outlives the call and the buffer is ours; what the foreign function
        // does with them is contained by the process, not by Rust.
        let status = unsafe { function(request.as_ptr(), request.len(), &raw mut buffer) };
        let most = if status == STATUS_ANSWERED {
            max_bytes
        } else {
            MAX_REASON_BYTES
        };
        let bytes = copy(&buffer, most)?;
        // SAFETY: the buffer is as the plugin left it, and is given back once.
        unsafe { (self.release)(&raw mut buffer) };
        let reason = || one_line(&String::from_utf8_lossy(&bytes));
        match status {
            STATUS_ANSWERED => Ok(bytes),
            STATUS_REFUSED => Err(CallError::Refused(reason())),
            STATUS_BROKEN => Err(CallError::Broken(reason())),
            other => Err(CallError::UnknownStatus(other)),
        }
    }
}

/// Copies what a plugin announced, after judging the announcement. An address that is not readable
/// ends this process; the host sees that as a crash.
fn copy(buffer: &Buffer, most: usize) -> Result<Vec<u8>, CallError> {
    let found = buffer.length;
    if found == 0 {
        return Ok(Vec::new());
    }
    if buffer.data.is_null() {
        return Err(CallError::NoAddress(found));
    }
    let past_the_end = (buffer.data as usize).checked_add(found).is_none();
    if found > most || past_the_end || isize::try_from(found).is_err() {
        return Err(CallError::TooLong { found, most });
    }
    // SAFETY: not null and within the address space; readable if the plugin told the truth.
    Ok(unsafe { slice::from_raw_parts(buffer.data, found) }.to_vec())
}

fn find<T: Copy>(library: &Library, name: &str) -> Option<T> {
    // SAFETY: `T` is the function type ABI 1 gives to this name; a library that defines the name
    // otherwise breaks only this process.
    let symbol: Result<Symbol<T>, _> = unsafe { library.get(name) };
    symbol.ok().map(|symbol| *symbol)
}

/// Says what a library without our describing function speaks instead.
fn other_abi(library: &Library) -> LoadError {
    let spoken = (0..=ABI + 32)
        .filter(|number| *number != ABI)
        .find(|number| {
            find::<EntryFunction>(library, &format!("tangmark_describe_{number}")).is_some()
        });
    match spoken {
        Some(found) => LoadError::OtherAbi { found },
        None => LoadError::MissingFunction(DESCRIBE_SYMBOL),
    }
}

/// Makes one line without control characters.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::ptr;

    use super::*;

    unsafe extern "C" fn endless(_: *const u8, _: usize, output: *mut Buffer) -> i32 {
        // SAFETY: `output` is the loader's buffer.
        unsafe {
            output.write(Buffer {
                data: ptr::dangling_mut(),
                length: usize::MAX,
            });
        };
        STATUS_ANSWERED
    }

    unsafe extern "C" fn nowhere(_: *const u8, _: usize, output: *mut Buffer) -> i32 {
        // SAFETY: `output` is the loader's buffer.
        unsafe {
            output.write(Buffer {
                data: ptr::null_mut(),
                length: 9,
            });
        };
        STATUS_ANSWERED
    }

    unsafe extern "C" fn odd(_: *const u8, _: usize, _: *mut Buffer) -> i32 {
        77
    }

    unsafe extern "C" fn keep(_: *mut Buffer) {}

    #[test]
    fn announcements_are_judged_before_a_byte_is_read() {
        let loaded = Loaded {
            describe: endless,
            check: nowhere,
            release: keep,
        };
        assert_eq!(
            loaded.describe(b"", 10).unwrap_err().to_string(),
            format!(
                "its answer has {} bytes; at most 10 are allowed",
                usize::MAX
            )
        );
        assert_eq!(
            loaded.check(b"", 10).unwrap_err().to_string(),
            "it announced 9 bytes at no address"
        );
        let loaded = Loaded {
            describe: odd,
            check: nowhere,
            release: keep,
        };
        assert_eq!(
            loaded.describe(b"", 10).unwrap_err().to_string(),
            "it answered with status 77; ABI 1 has 0, 1 and 2"
        );
    }

    #[test]
    fn a_library_without_our_functions_is_refused() {
        let error = Loaded::open(Path::new("libm.so.6")).unwrap_err();
        assert_eq!(
            error.to_string(),
            "it has no function `tangmark_describe_1`"
        );
        let error = Loaded::open(Path::new("/dev/null")).unwrap_err();
        assert!(
            error.to_string().starts_with("it cannot be loaded: "),
            "{error}"
        );
    }
}
