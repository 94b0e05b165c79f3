//! What the plugin says of the demo sheets with the demo stones, as people read it.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod bench;

use tangmark_abrasives::{check, describe};
use tangmark_author::trial;

#[test]
fn findings_on_the_demo_sheets() {
    for (name, sheet) in trial::demo_sheets() {
        let reply = trial::judged(describe, check, &bench::request(sheet));
        insta::assert_snapshot!(name, trial::shown(&reply));
    }
}

/// Without stones there is still the curve; without settings the defaults hold.
#[test]
fn the_long_sword_without_stones() {
    let reply = trial::judged(describe, check, &trial::request(trial::demo("reed-before")));
    insta::assert_snapshot!("reed-before-without-stones", trial::shown(&reply));
}
