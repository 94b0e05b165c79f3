#![no_main]
//! The target `pdf`: see `crates/testkit/src/fuzz` for what must hold.

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| tangmark_fuzz::must_hold(
    tangmark_fuzz::Target::Pdf,
    bytes
));
