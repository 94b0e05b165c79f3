//! Which rule of `schemas/report-format.md` is tested where.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// For each rule a test that breaks it and no other.
const TESTED: &[(&str, &str)] = &[
    (
        "A1",
        "places.rs: byte_range_in_any_other_form_is_called_altered",
    ),
    (
        "A2",
        "places.rs: byte_range_that_leaves_more_out_or_overlaps_is_called_altered",
    ),
    ("A3", "tampering.rs: bytes_after_the_end_are_called_added"),
    (
        "A4",
        "places.rs: contents_in_any_other_form_are_called_altered",
    ),
    (
        "A5",
        "places.rs: contents_in_any_other_form_are_called_altered",
    ),
    (
        "A6",
        "places.rs: contents_in_any_other_form_are_called_altered",
    ),
    (
        "A7",
        "../cms/tests.rs: each_rule_refuses_a_structure_that_breaks_only_it",
    ),
    ("A8", "tampering.rs: changed_byte_is_told_with_both_digests"),
    (
        "A9",
        "../../certificate/tests.rs: each_rule_refuses_a_certificate_that_breaks_only_it",
    ),
    (
        "A10",
        "../cms/tests.rs: signature_value_is_the_one_low_form",
    ),
    (
        "R1",
        "rules.rs: objects_that_belong_to_nothing_and_objects_that_are_missing_are_refused",
    ),
    (
        "R2",
        "rules.rs: unknown_entries_of_the_catalogue_are_refused",
    ),
    (
        "R3",
        "rules.rs: active_content_is_refused_wherever_it_stands",
    ),
    ("R4", "rules.rs: hidden_layers_are_refused"),
    ("R5", "rules.rs: content_from_elsewhere_is_refused"),
    ("R6", "rules.rs: streams_packed_in_other_ways_are_refused"),
    ("R7", "rules.rs: second_signature_dictionary_is_refused"),
    ("R8", "rules.rs: form_is_exactly_one_plain_signature_field"),
    ("R9", "rules.rs: form_is_exactly_one_plain_signature_field"),
    (
        "R10",
        "rules.rs: annotations_other_than_the_widget_are_refused",
    ),
    ("R11", "rules.rs: signature_of_another_kind_is_refused"),
    (
        "R12",
        "rules.rs: document_not_certified_as_final_is_refused",
    ),
    ("R13", "rules.rs: record_is_the_one_attachment"),
    (
        "K1",
        "judged.rs: two_keys_without_a_history_are_an_altered_report",
    ),
    ("K2", "successors.rs: one_key_needs_no_history_and_has_none"),
    (
        "K3",
        "successors.rs: two_keys_that_no_history_joins_are_refused",
    ),
    (
        "K4",
        "judged.rs: another_time_than_the_records_is_an_altered_report",
    ),
    (
        "K5",
        "judged.rs: disclosures_of_a_newer_record_are_left_alone",
    ),
];

#[test]
fn every_rule_of_the_page_has_a_test_that_is_there() {
    let crate_folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = fs::read_to_string(crate_folder.join("../../schemas/report-format.md")).unwrap();
    // A rule stands in the first column of its table.
    let ruled: BTreeSet<&str> = page
        .lines()
        .filter_map(|line| line.strip_prefix("| ")?.split([' ', '|']).next())
        .filter(|word| {
            let number = word.strip_prefix(['A', 'R', 'K']);
            number.is_some_and(|number| !number.is_empty() && number.parse::<u8>().is_ok())
        })
        .collect();
    let tested: BTreeSet<&str> = TESTED.iter().map(|(rule, _)| *rule).collect();
    assert_eq!(ruled, tested);
    for (rule, place) in TESTED {
        let (file, name) = place.split_once(": ").unwrap();
        let text = fs::read_to_string(crate_folder.join("src/pdf/tests").join(file)).unwrap();
        let named = format!("fn {name}()");
        let is_test = text
            .split(&named)
            .next()
            .is_some_and(|before| text.contains(&named) && before.trim_end().ends_with("#[test]"));
        assert!(is_test, "{rule}: {place}");
    }
}
