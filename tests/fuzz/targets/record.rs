#![no_main]
//! The target `record`: see `crates/testkit/src/fuzz` for what must hold.

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| tangmark_fuzz::must_hold(
    tangmark_fuzz::Target::Record,
    bytes
));
