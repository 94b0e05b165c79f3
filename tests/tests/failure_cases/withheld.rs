//! Cases 41 to 47: withheld values and disclosures. (The same as packages: `packages`.)

use std::collections::BTreeSet;

use data_encoding::BASE64URL_NOPAD;
use serde_json::Value;
use sha2::{Digest as _, Sha256};
use tangmark_core::record::withhold::RULES;
use tangmark_testkit::failures::{Case, Kind};
use tangmark_trust::withhold;

use super::{case, cases, expect_all, judged};

/// Whether the disclosures beside a record fit it.
fn fit(case: &Case) -> bool {
    let record = serde_json::from_slice(case.judged()).unwrap();
    let (_, file) = case.beside("disclosures.json").next().unwrap();
    withhold::parse_file(file)
        .and_then(|disclosures| withhold::reveal(&record, &disclosures, RULES))
        .is_ok()
}

fn all_refused(number: u32, least: usize) {
    let cases: Vec<_> = cases(number, Kind::Record)
        .into_iter()
        .filter(|case| case.files.len() > 1)
        .collect();
    assert!(cases.len() >= least);
    for case in cases {
        assert!(!fit(case), "case {number}: {}", case.name);
    }
}

#[test]
fn case_41_disclosures_that_do_not_fit() {
    all_refused(41, 4);
    let twice = case(41, Kind::Record, "a digest that stands twice, signed");
    assert_eq!(super::words(&judged(twice).verdict), "1 altered new");
}

#[test]
fn case_42_names_that_no_disclosure_may_have() {
    all_refused(42, 4);
}

#[test]
fn case_43_a_disclosure_of_another_record() {
    all_refused(43, 1);
}

#[test]
fn case_44_salts_that_are_none() {
    all_refused(44, 3);
}

/// Every price from 0 to 100000 as its text in a record, in three currencies.
fn guesses() -> impl Iterator<Item = String> {
    (0..=100_000_u32).flat_map(|amount| {
        ["EUR", "JPY", "USD"]
            .map(|currency| format!("{{\"amount\":\"{amount}\",\"currency\":\"{currency}\"}}"))
    })
}

#[test]
fn case_45_a_price_cannot_be_guessed() {
    expect_all(45, Kind::Record, 1, "2 intact new, known: 0 intact known");
    let bytes = case(45, Kind::Record, "a price that can be guessed, salted").judged();
    let record: Value = serde_json::from_slice(bytes).unwrap();
    let digests: BTreeSet<Vec<u8>> = record["agreement"]["_sd"]
        .as_array()
        .unwrap()
        .iter()
        .map(|digest| {
            BASE64URL_NOPAD
                .decode(digest.as_str().unwrap().as_bytes())
                .unwrap()
        })
        .collect();
    assert_eq!(digests.len(), 2);
    let unsalted = Sha256::digest("{\"amount\":\"1250\",\"currency\":\"EUR\"}");
    let (mut found, mut salted) = (0, 0);
    for guess in guesses() {
        // What a guesser can compute: the digest of the value alone, and of disclosures without a salt and with an empty one.
        let plain = Sha256::digest(&guess);
        found += usize::from(plain == unsalted);
        salted += usize::from(digests.contains(plain.as_slice()));
        for parts in [
            format!("[\"price_ceiling\",{guess}]"),
            format!("[\"\",\"price_ceiling\",{guess}]"),
        ] {
            let tried = Sha256::digest(BASE64URL_NOPAD.encode(parts.as_bytes()));
            salted += usize::from(digests.contains(tried.as_slice()));
        }
    }
    assert_eq!(
        (found, salted),
        (1, 0),
        "the unsalted form is found, the salted one is not"
    );
}

#[test]
fn case_46_a_withheld_value_stands_nowhere() {
    expect_all(46, Kind::Record, 1, "2 intact new, known: 0 intact known");
    let case = case(46, Kind::Record, "everything withheld");
    let text = String::from_utf8(case.judged().to_vec()).unwrap();
    let verdict = format!("{:?}", judged(case).verdict);
    for secret in ["Sallow", "Sluice Lane", "1250", "4800"] {
        assert!(!text.contains(secret), "{secret}");
        assert!(!verdict.contains(secret), "{secret}");
    }
    // Nor in what is said when a disclosure is refused.
    for number in 41..=44 {
        for refused in cases(number, Kind::Record) {
            let Some((_, file)) = refused.beside("disclosures.json").next() else {
                continue;
            };
            let record: Value = serde_json::from_slice(refused.judged()).unwrap();
            let told = withhold::parse_file(file)
                .and_then(|disclosures| withhold::reveal(&record, &disclosures, RULES))
                .unwrap_err()
                .to_string();
            assert!(
                !told.contains("Sallow") && !told.contains("Nother"),
                "{told}"
            );
        }
    }
}

#[test]
fn case_47_withheld_is_not_absent() {
    let whole = case(47, Kind::Record, "everything disclosed");
    assert!(fit(whole));
    let record: Value = serde_json::from_slice(whole.judged()).unwrap();
    let (shown, left) = withhold::reveal(&record, &[], RULES).unwrap();
    assert!(shown.get("valuation").is_none());
    let owner = left
        .iter()
        .find(|withheld| withheld.path == "/agreement/owner")
        .unwrap();
    assert_eq!(owner.properties, ["address", "contact", "name"]);
}
