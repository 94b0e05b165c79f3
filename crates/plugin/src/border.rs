//! The C border of a plugin: what crosses it and the Rust side behind it.
//!
//! Layouts and duties are specified in `schemas/plugin-abi.md`. Plugin authors use
//! [`crate::export!`] and never touch this module.
#![allow(unsafe_code)]

use std::{
    panic::{AssertUnwindSafe, catch_unwind},
    ptr, slice,
};

use crate::{
    ABI,
    message::{CheckReply, CheckRequest, DescribeRequest, Description, Refusal},
    wire,
};

/// Name of the describing function, with the ABI number in it.
pub const DESCRIBE_SYMBOL: &str = "tangmark_describe_1";
/// Name of the checking function.
pub const CHECK_SYMBOL: &str = "tangmark_check_1";
/// Name of the releasing function.
pub const RELEASE_SYMBOL: &str = "tangmark_release_1";

/// Status: the buffer holds the answer.
pub const STATUS_ANSWERED: i32 = 0;
/// Status: the plugin will not judge this; the buffer holds the reason (UTF-8, one line).
pub const STATUS_REFUSED: i32 = 1;
/// Status: the plugin hit a bug of its own; the buffer holds what it knows about it (UTF-8).
pub const STATUS_BROKEN: i32 = 2;

/// Bytes on their way from a plugin to the program. Owned by the plugin until it is given back to
/// the plugin's releasing function.
#[derive(Debug)]
#[repr(C)]
pub struct Buffer {
    /// First byte; null when there are none.
    pub data: *mut u8,
    /// Number of bytes.
    pub length: usize,
}

impl Buffer {
    /// A buffer without bytes.
    pub const EMPTY: Self = Self {
        data: ptr::null_mut(),
        length: 0,
    };
}

/// Type of the describing and the checking function: input bytes, their number, the buffer to
/// fill; returns a status.
pub type EntryFunction = unsafe extern "C" fn(*const u8, usize, *mut Buffer) -> i32;

/// Type of the releasing function.
pub type ReleaseFunction = unsafe extern "C" fn(*mut Buffer);

/// Runs an author's describing function behind the border.
///
/// # Safety
/// `input` and `output` as for `enter`.
pub unsafe fn enter_describe(
    describe: fn() -> Description,
    input: *const u8,
    length: usize,
    output: *mut Buffer,
) -> i32 {
    let handler = |bytes: &[u8]| {
        wire::request_from_bytes::<DescribeRequest>(bytes).map_err(|error| {
            (
                STATUS_REFUSED,
                format!("the describe request cannot be read: {error}"),
            )
        })?;
        let mut description = describe();
        description.features.push(invented_feature(&description));
        wire::to_bytes(&description).map_err(|error| (STATUS_BROKEN, error.to_string()))
    };
    // SAFETY: passed on from our caller.
    unsafe { enter(handler, input, length, output) }
}

/// Runs an author's checking function behind the border.
///
/// # Safety
/// `input` and `output` as for `enter`.
pub unsafe fn enter_check(
    check: fn(&CheckRequest) -> Result<CheckReply, Refusal>,
    input: *const u8,
    length: usize,
    output: *mut Buffer,
) -> i32 {
    let handler = |bytes: &[u8]| {
        let request: CheckRequest = wire::request_from_bytes(bytes).map_err(|error| {
            (
                STATUS_REFUSED,
                format!("the check request cannot be read: {error}"),
            )
        })?;
        if request.abi != ABI {
            return Err((
                STATUS_REFUSED,
                format!("the request says ABI {}", request.abi),
            ));
        }
        let reply = check(&request).map_err(|refusal| (STATUS_REFUSED, refusal.to_string()))?;
        wire::to_bytes(&reply).map_err(|error| (STATUS_BROKEN, error.to_string()))
    };
    // SAFETY: passed on from our caller.
    unsafe { enter(handler, input, length, output) }
}

/// Calls `handler` with the input bytes, fills the buffer and returns the status. A panic stops
/// here and becomes [`STATUS_BROKEN`].
///
/// # Safety
/// `input` must point at `length` readable bytes that nobody writes during the call, or `length`
/// must be 0. `output` must point at a writable [`Buffer`], whose old content is overwritten.
unsafe fn enter(
    handler: impl FnOnce(&[u8]) -> Result<Vec<u8>, (i32, String)>,
    input: *const u8,
    length: usize,
    output: *mut Buffer,
) -> i32 {
    if output.is_null() {
        return STATUS_BROKEN;
    }
    // SAFETY: `output` is not null, and writable as our caller promised.
    unsafe { output.write(Buffer::EMPTY) };
    let (status, bytes) = if length > 0 && (input.is_null() || isize::try_from(length).is_err()) {
        (STATUS_BROKEN, b"the request has no bytes".to_vec())
    } else {
        let bytes: &[u8] = if length == 0 {
            &[]
        } else {
            // SAFETY: not null, within `isize`, and readable as our caller promised.
            unsafe { slice::from_raw_parts(input, length) }
        };
        match catch_unwind(AssertUnwindSafe(|| handler(bytes))) {
            Ok(Ok(answer)) => (STATUS_ANSWERED, answer),
            Ok(Err((status, text))) => (status, text.into_bytes()),
            Err(payload) => {
                let text = panic_text(payload.as_ref());
                // Dropping a payload can panic again, outside the net.
                std::mem::forget(payload);
                (STATUS_BROKEN, text.into_bytes())
            }
        }
    };
    if !bytes.is_empty() {
        let boxed = bytes.into_boxed_slice();
        let length = boxed.len();
        let data = Box::into_raw(boxed).cast::<u8>();
        // SAFETY: as above.
        unsafe { output.write(Buffer { data, length }) };
    }
    status
}

/// Takes a buffer of [`enter_describe`] or [`enter_check`] back and leaves an empty one.
///
/// # Safety
/// `buffer` must be null or point at a buffer as this library's entry functions left it, given
/// back at most once (an empty one any number of times).
pub unsafe fn release(buffer: *mut Buffer) {
    if buffer.is_null() {
        return;
    }
    // SAFETY: not null, and valid as our caller promised.
    let Buffer { data, length } = unsafe { buffer.replace(Buffer::EMPTY) };
    if !data.is_null() {
        let slice = ptr::slice_from_raw_parts_mut(data, length);
        // SAFETY: `enter` made it from a boxed slice of this length.
        drop(unsafe { Box::from_raw(slice) });
    }
}

fn panic_text(payload: &(dyn std::any::Any + Send)) -> String {
    let said = payload
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| payload.downcast_ref::<String>().cloned());
    said.unwrap_or_else(|| "panicked without a text".to_owned())
}

/// A feature nobody knows, so that the program does not forget to ignore such. Derived, since a
/// description is the same every time.
fn invented_feature(description: &Description) -> String {
    let seed = format!("{} {}", description.name, description.version);
    let digest = tangmark_core::Digest::of(seed.as_bytes()).to_string();
    format!("invented-{}", digest.get(..8).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn call(handler: impl FnOnce(&[u8]) -> Result<Vec<u8>, (i32, String)>) -> (i32, Vec<u8>) {
        let mut buffer = Buffer::EMPTY;
        let input = b"in";
        // SAFETY: both live through the call.
        let status = unsafe { enter(handler, input.as_ptr(), input.len(), &raw mut buffer) };
        let bytes = if buffer.data.is_null() {
            Vec::new()
        } else {
            // SAFETY: filled by `enter`.
            unsafe { slice::from_raw_parts(buffer.data, buffer.length) }.to_vec()
        };
        // SAFETY: filled by `enter`; the second call finds it empty.
        unsafe {
            release(&raw mut buffer);
            release(&raw mut buffer);
        }
        assert!(buffer.data.is_null());
        (status, bytes)
    }

    #[test]
    fn answers_refusals_and_panics_come_back_as_status() {
        assert_eq!(
            call(|bytes| Ok(bytes.to_vec())),
            (STATUS_ANSWERED, b"in".to_vec())
        );
        assert_eq!(call(|_| Ok(Vec::new())), (STATUS_ANSWERED, Vec::new()));
        let refused = call(|_| Err((STATUS_REFUSED, "no".to_owned())));
        assert_eq!(refused, (STATUS_REFUSED, b"no".to_vec()));
        assert_eq!(
            call(|_| panic!("dull edge")),
            (STATUS_BROKEN, b"dull edge".to_vec())
        );
        let odd = call(|_| std::panic::panic_any(7_u8));
        assert_eq!(odd, (STATUS_BROKEN, b"panicked without a text".to_vec()));
    }

    #[test]
    fn impossible_pointers_are_no_crash() {
        let mut buffer = Buffer::EMPTY;
        // SAFETY: a null output and a null or endless input are what is tested.
        unsafe {
            assert_eq!(
                enter(|_| Ok(vec![]), ptr::null(), 0, ptr::null_mut()),
                STATUS_BROKEN
            );
            let status = enter(|_| Ok(vec![]), ptr::null(), 5, &raw mut buffer);
            assert_eq!(status, STATUS_BROKEN);
            release(&raw mut buffer);
            let input = [0_u8];
            let status = enter(|_| Ok(vec![]), input.as_ptr(), usize::MAX, &raw mut buffer);
            assert_eq!(status, STATUS_BROKEN);
            release(&raw mut buffer);
            release(ptr::null_mut());
        }
    }

    #[test]
    fn a_description_carries_one_invented_feature() {
        let describe = || Description::new("example", "1", "Says nothing");
        let input = br#"{"abi":1,"features":[]}"#;
        let mut buffer = Buffer::EMPTY;
        // SAFETY: all live through the call; the buffer is filled before it is read.
        let bytes = unsafe {
            let status = enter_describe(describe, input.as_ptr(), input.len(), &raw mut buffer);
            assert_eq!(status, STATUS_ANSWERED);
            let bytes = slice::from_raw_parts(buffer.data, buffer.length).to_vec();
            release(&raw mut buffer);
            bytes
        };
        let description = wire::description_from_bytes(&bytes).unwrap();
        description.audit("example").unwrap();
        assert_eq!(description.features.len(), 1);
        assert!(description.features[0].starts_with("invented-"));
    }
}
