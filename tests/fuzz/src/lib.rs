//! What the targets share.

use std::sync::OnceLock;

use tangmark_testkit::fuzz::{Seeds, check};

pub use tangmark_testkit::fuzz::Target;

/// Checks one input.
///
/// # Panics
/// When a rule is broken, which the fuzzer takes for a finding.
pub fn must_hold(target: Target, bytes: &[u8]) {
    static SEEDS: OnceLock<Seeds> = OnceLock::new();
    let seeds = SEEDS.get_or_init(|| Seeds::new().unwrap_or_else(|error| panic!("{error}")));
    if let Err(what) = check(target, bytes, seeds.known()) {
        panic!("{what}");
    }
}
