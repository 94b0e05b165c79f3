//! What the plugin says of the demo sheets, as people read it.

use tangmark_author::trial;
use tangmark_core::record::Purpose;
use tangmark_custody::{check, describe};

#[test]
fn findings_on_the_demo_sheets() {
    for (name, sheet) in trial::demo_sheets() {
        let reply = trial::judged(describe, check, &trial::request(sheet));
        insta::assert_snapshot!(name, trial::shown(&reply));
    }
}

#[test]
fn findings_with_a_sealed_record() {
    let mut request = trial::request(trial::demo("reed-after"));
    let before = trial::demo("reed-before");
    request.history = vec![trial::record(
        &before,
        1,
        Purpose::BeforeWork,
        "2026-03-02T12:00:00Z",
    )];
    let reply = trial::judged(describe, check, &request);
    insta::assert_snapshot!("reed-after-with-history", trial::shown(&reply));
}

/// Names may be withheld, and what is said here may become public.
#[test]
fn no_name_price_or_number_is_repeated() {
    for (name, sheet) in trial::demo_sheets() {
        let shown = trial::shown(&trial::judged(describe, check, &trial::request(sheet)));
        for secret in [
            "Varga",
            "Odile",
            "Marchetti",
            "Okonkwo",
            "Harbour",
            "Weekly",
            "Halloway",
            "Demo",
            "EUR",
        ] {
            assert!(!shown.contains(secret), "{name}: {secret}");
        }
    }
}
