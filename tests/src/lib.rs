//! Tests that cross crates live in `tests/`.
#![forbid(unsafe_code)]
