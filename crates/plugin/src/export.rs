//! The macro that makes a Rust library a plugin.

/// Makes the three C functions of plugin ABI 1 from two Rust functions:
///
/// - `describe: fn() -> Description`
/// - `check: fn(&CheckRequest) -> Result<CheckReply, Refusal>`
///
/// Call it once, in the root of a crate of type `cdylib`. The unsafe code lies in this crate, so
/// that yours can say `#![forbid(unsafe_code)]`. A panic becomes an answer the program understands.
///
/// Two crates that call it cannot be linked into one program: the function names would clash.
#[macro_export]
macro_rules! export {
    ($describe:path, $check:path $(,)?) => {
        const _: () = {
            #[unsafe(no_mangle)]
            unsafe extern "C" fn tangmark_describe_1(
                input: *const u8,
                length: usize,
                output: *mut $crate::border::Buffer,
            ) -> i32 {
                // SAFETY: the caller keeps the duties of the ABI page.
                unsafe { $crate::border::enter_describe($describe, input, length, output) }
            }

            #[unsafe(no_mangle)]
            unsafe extern "C" fn tangmark_check_1(
                input: *const u8,
                length: usize,
                output: *mut $crate::border::Buffer,
            ) -> i32 {
                // SAFETY: the caller keeps the duties of the ABI page.
                unsafe { $crate::border::enter_check($check, input, length, output) }
            }

            #[unsafe(no_mangle)]
            unsafe extern "C" fn tangmark_release_1(buffer: *mut $crate::border::Buffer) {
                // SAFETY: the caller keeps the duties of the ABI page.
                unsafe { $crate::border::release(buffer) }
            }
        };
    };
}
