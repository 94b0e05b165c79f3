//! Tests of signing and judging whole files.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod rules;
mod signing;
mod tampering;
