//! Disclosures in packages, and what stays withheld.

use tangmark_core::record::withhold::RULES;
use tangmark_trust::withhold::{Disclosure, print_file, withhold};

use super::*;

const PRICE: &str = "48250";

/// A record of which owner and price are withheld, and their disclosures.
fn withheld() -> (Vec<u8>, Vec<Disclosure>) {
    let mut record = unsigned(None);
    record["agreement"] = json!({
        "owner": {"role": "owner", "name": "Odile Varga", "address": "4 Quay Lane"},
        "price_ceiling": {"amount": PRICE, "currency": "EUR"},
        "work": "A clean edge.", "etch_allowed": false, "on": "2026-03-01"
    });
    let mut count = 0_u8;
    let (public, disclosures) = withhold(&record, RULES, |bytes: &mut [u8]| {
        count += 1;
        bytes.fill(count);
    })
    .unwrap();
    (seal(&public), disclosures)
}

const FILE: &str = "data/disclosures/01.json";

fn with(record: Vec<u8>, file: &str) -> PackageVerdict {
    let mut files = package(&[record]);
    files.insert(FILE.to_owned(), file.into());
    manifests(&mut files);
    judged(&files)
}

fn refused(file: &str) -> String {
    let (record, _) = withheld();
    let verdict = with(record, file);
    let disclosures = &verdict.disclosures[FILE];
    assert_eq!(
        (disclosures.state, verdict.exit),
        (DisclosuresState::Refused, 1),
        "{verdict:#?}"
    );
    let said = serde_json::to_string(&verdict).unwrap();
    assert!(
        !said.contains(PRICE) && !said.contains("Odile"),
        "case 46: {said}"
    );
    disclosures.reason.clone().unwrap()
}

fn one(disclosures: &[Disclosure], name: &str) -> Disclosure {
    disclosures
        .iter()
        .find(|one| one.path.ends_with(name))
        .unwrap()
        .clone()
}

fn made(array: &Value) -> String {
    data_encoding::BASE64URL_NOPAD.encode(array.to_string().as_bytes())
}

#[test]
fn what_is_shown_and_what_stays_withheld_is_told() {
    let (record, all) = withheld();
    let shown = [one(&all, "owner/name")];
    let verdict = with(record, &print_file(&shown).unwrap());
    assert_eq!(
        (verdict.disclosures[FILE].state, verdict.exit),
        (DisclosuresState::Fit, 0)
    );
    assert_eq!(verdict.disclosures[FILE].places, ["/agreement/owner/name"]);
    let completeness = &verdict.subject.as_ref().unwrap().verdict.completeness;
    assert_eq!(completeness.disclosed, 1);
    let owner = verdict
        .withheld
        .iter()
        .find(|object| object.path == "/agreement/owner")
        .unwrap();
    assert_eq!(owner.properties, ["address", "contact"]);
    let said = serde_json::to_string(&verdict).unwrap();
    assert!(
        !said.contains("Odile") && !said.contains(PRICE),
        "values stay in their files"
    );
}

#[test]
fn case_47_a_record_with_everything_withheld_stands() {
    let (record, _) = withheld();
    let verdict = judged(&package(&[record]));
    assert_eq!(
        (verdict.exit, states(&verdict)),
        (0, vec![RecordState::Intact])
    );
    assert!(
        verdict
            .withheld
            .iter()
            .any(|object| object.path == "/agreement" && object.at_most == 2)
    );
}

#[test]
fn case_41_altered_duplicated_and_unreferenced_disclosures_are_refused() {
    let (_, all) = withheld();
    let mut altered = one(&all, "price_ceiling");
    altered.disclosure.replace_range(40..41, "B");
    let said = refused(&print_file(&[altered]).unwrap());
    assert!(said.contains("disclosure 1"), "{said}");
    let twice = [one(&all, "owner/name"), one(&all, "owner/name")];
    assert_eq!(
        refused(&print_file(&twice).unwrap()),
        "disclosure 2: given twice"
    );
    let mut elsewhere = one(&all, "owner/name");
    elsewhere.path = "/agreement/owner/address".to_owned();
    assert!(refused(&print_file(&[elsewhere]).unwrap()).contains("says it belongs at"));
    assert!(refused("{").contains("disclosures: "));
    assert!(
        refused(r#"{"format": "tangmark disclosures 2", "disclosures": []}"#).contains("allowed")
    );
}

#[test]
fn case_41_a_digest_that_stands_twice_is_refused() {
    let (record, all) = withheld();
    let mut value: Value = serde_json::from_slice(&record).unwrap();
    value.as_object_mut().unwrap().remove("proof");
    let digest = value["agreement"]["_sd"][0].clone();
    let owner = value["agreement"]["owner"]["_sd"].as_array_mut().unwrap();
    owner[0] = digest;
    owner.sort_by_key(|text| text.as_str().unwrap().to_owned());
    let verdict = with(
        seal(&value),
        &print_file(&[one(&all, "price_ceiling")]).unwrap(),
    );
    // Sealed by nobody who follows the page: already the record, or its disclosures, are refused.
    assert_eq!(verdict.exit, 1, "{verdict:#?}");
}

#[test]
fn case_42_reserved_names_and_names_that_stand_in_clear_are_refused() {
    let salt = data_encoding::BASE64URL_NOPAD.encode(&[7; 16]);
    for name in ["_sd", "_sd_alg", "..."] {
        let disclosure = made(&json!([salt, name, "x"]));
        let file = json!({"format": "tangmark disclosures 1", "disclosures": [{"path": format!("/agreement/{name}"), "disclosure": disclosure}]});
        assert!(refused(&file.to_string()).contains("reserved"), "{name}");
    }
    // A record that shows a name and holds a digest of it.
    let (record, all) = withheld();
    let mut value: Value = serde_json::from_slice(&record).unwrap();
    value.as_object_mut().unwrap().remove("proof");
    value["agreement"]["owner"]["name"] = json!("Somebody Else");
    let verdict = with(
        seal(&value),
        &print_file(&[one(&all, "owner/name")]).unwrap(),
    );
    assert_eq!(
        (verdict.disclosures[FILE].state, verdict.exit),
        (DisclosuresState::Refused, 1)
    );
}

#[test]
fn case_43_a_disclosure_of_another_record_is_refused() {
    let mut other = unsigned(None);
    other["agreement"] = json!({"owner": {"role": "owner", "name": "Odile Varga"}, "work": "x", "etch_allowed": false, "on": "2026-03-01"});
    let mut count = 100_u8;
    let (_, foreign) = withhold(&other, RULES, |bytes: &mut [u8]| {
        count += 1;
        bytes.fill(count);
    })
    .unwrap();
    let said = refused(&print_file(&[one(&foreign, "owner/name")]).unwrap());
    assert!(
        said.contains("altered or belongs to another record"),
        "{said}"
    );
}

#[test]
fn case_44_salts_that_are_short_are_refused() {
    for salt in ["", "c2hvcnQ"] {
        let disclosure = made(&json!([salt, "name", "x"]));
        let file = json!({"format": "tangmark disclosures 1", "disclosures": [{"path": "/agreement/owner/name", "disclosure": disclosure}]});
        assert!(
            refused(&file.to_string()).contains("its salt is not"),
            "{salt}"
        );
    }
}

#[test]
fn disclosures_without_their_record_are_rejected() {
    let (record, all) = withheld();
    let file = print_file(&all).unwrap();
    let mut files = package(std::slice::from_ref(&record));
    files.insert("data/disclosures/02.json".to_owned(), file.clone().into());
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(
        verdict.disclosures["data/disclosures/02.json"].state,
        DisclosuresState::NoRecord
    );
    assert_eq!(verdict.exit, 1);
    // A record that does not stand is none.
    let mut altered = record;
    let place = altered
        .windows(5)
        .position(|window| window == b"Brook")
        .unwrap();
    altered[place] = b'C';
    assert_eq!(
        with(altered, &file).disclosures[FILE].state,
        DisclosuresState::NoRecord
    );
}

#[test]
fn a_disclosed_value_that_does_not_follow_the_schema_is_refused() {
    let mut record = unsigned(None);
    record["agreement"] = json!({"owner": {"role": "owner", "name": 7}, "work": "x", "etch_allowed": false, "on": "2026-03-01"});
    let mut count = 0_u8;
    let (public, all) = withhold(&record, RULES, |bytes: &mut [u8]| {
        count += 1;
        bytes.fill(count);
    })
    .unwrap();
    let verdict = with(seal(&public), &print_file(&all).unwrap());
    assert_eq!(states(&verdict), [RecordState::Intact], "{verdict:#?}");
    assert_eq!(
        verdict.disclosures[FILE].reason.as_deref(),
        Some("with the disclosed values it is no record of its schema: `/agreement/owner/name`")
    );
}
