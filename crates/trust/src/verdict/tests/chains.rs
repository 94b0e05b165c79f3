//! Predecessors, successors and what breaks a chain.

use super::*;

const SECOND: &str = "2026-05-01T10:00:00Z";
const THIRD: &str = "2026-06-01T10:00:00Z";

/// Three records of one blade, sealed by key 1.
fn three() -> [Vec<u8>; 3] {
    let first = sealed();
    let second = seal(&next(&first, &key(1), SECOND), &key(1));
    let third = seal(&next(&second, &key(1), THIRD), &key(1));
    [first, second, third]
}

#[test]
fn predecessors_that_are_here_are_counted() {
    let [first, second, third] = three();
    let alone = owner(&first, &[]);
    assert_eq!(alone.completeness.sequence, Some(1));
    assert_eq!(
        (alone.completeness.supplied, alone.completeness.not_supplied),
        (1, 0)
    );
    let whole = owner(&third, &[second.clone(), first.clone()]);
    assert_eq!(
        (whole.completeness.supplied, whole.completeness.not_supplied),
        (3, 0)
    );
    assert_eq!(whole.completeness.broken, None);
    assert_eq!(whole.exit_code(), 0);
    // Handed in twice, also as the file itself, is handed in once.
    let twice = owner(
        &third,
        &[first.clone(), second.clone(), first, third.clone()],
    );
    assert_eq!(twice.completeness, whole.completeness);
}

#[test]
fn predecessors_that_are_not_here_are_named_and_change_no_exit_code() {
    let [first, second, third] = three();
    let alone = owner(&third, &[]);
    assert_eq!(
        (alone.completeness.supplied, alone.completeness.not_supplied),
        (1, 2)
    );
    assert_eq!(alone.completeness.missing, Some(named(&second)));
    assert_eq!(alone.exit_code(), 0);
    let with_second = owner(&third, &[second]);
    assert_eq!(
        (
            with_second.completeness.supplied,
            with_second.completeness.not_supplied
        ),
        (2, 1)
    );
    assert_eq!(with_second.completeness.missing, Some(named(&first)));
}

/// Case 36.
#[test]
fn case_36_a_later_record_that_is_here_is_named() {
    let [first, second, third] = three();
    let verdict = owner(&first, &[third.clone(), second]);
    assert_eq!(verdict.completeness.superseded_by, Some(named(&third)));
    assert!(
        verdict
            .completeness
            .to_string()
            .contains("; a later record is here: "),
        "{}",
        verdict.completeness
    );
    // Without it nobody can know.
    let alone = owner(&first, &[]).completeness;
    assert_eq!(alone.superseded_by, None);
    assert!(
        alone
            .to_string()
            .contains("; whether a later one exists cannot be known from here"),
        "{alone}"
    );
}

/// A later record at hand makes it 2 even where the signer is known: it may say something else by now.
#[test]
fn a_record_that_a_later_one_follows_is_to_be_confirmed() {
    let [first, second, third] = three();
    for (judged, others, exit) in [
        (&first, vec![second.clone()], 2),
        (&first, vec![third.clone(), second.clone()], 2),
        (&second, vec![first.clone(), third.clone()], 2),
        (&third, vec![first.clone(), second.clone()], 0),
        (&first, vec![first.clone()], 0),
    ] {
        let verdict = owner(judged, &others);
        assert_eq!(verdict.exit_code(), exit, "{verdict:?}");
        assert_eq!(verdict.notices, [] as [&str; 0]);
        let steps = verdict.next_steps().join("; ");
        assert_eq!(
            steps.contains("verify the later record too; it may correct this one"),
            exit == 2,
            "{steps}"
        );
    }
}

/// A withdrawal of record `of`, following `before`.
fn withdrawal(before: &[u8], of: &[u8], statement: &str) -> Vec<u8> {
    let mut record = next(before, &key(1), "2026-07-01T10:00:00Z");
    record["purpose"] = json!("withdrawal");
    record["refers_to"] = json!({ "record": named(of).to_string(), "statement": statement });
    seal(&record, &key(1))
}

/// Case 40, of a record by itself: the signer is known, the chain is whole, and still nobody may take it for what holds.
#[test]
fn case_40_a_withdrawal_is_told_first_and_is_to_be_confirmed() {
    let first = sealed();
    let second = seal(&next(&first, &key(1), SECOND), &key(1));
    let taken_back = withdrawal(&second, &first, "The `length` was\u{202e} misread.");
    let name = named(&taken_back);

    let itself = owner(&taken_back, &[]);
    assert_eq!(itself.exit_code(), 2);
    assert_eq!(itself.notices, ["this record withdraws an earlier one"]);
    assert!(itself.next_steps().contains(
        &"read what is withdrawn and why, and ask the workshop what holds now".to_owned()
    ));

    let others = [taken_back.clone(), second.clone(), taken_back.clone()];
    let withdrawn = owner(&first, &others);
    assert_eq!(withdrawn.exit_code(), 2);
    assert_eq!(withdrawn.completeness.withdrawn_by, Some(name));
    assert_eq!(
        withdrawn.notices,
        [format!(
            "record 3 of this blade, {name}, withdraws this record: `The \\u{{60}}length\\u{{60}} was\\u{{202e}} misread.`"
        )]
    );
    let steps = withdrawn.next_steps();
    assert!(
        steps.iter().any(|step| step.contains(&name.to_string())),
        "{steps:?}"
    );

    // Of another record: told all the same.
    let between = owner(&second, &[first.clone(), taken_back.clone()]);
    assert_eq!(between.exit_code(), 2);
    assert_eq!(between.completeness.withdrawn_by, None);
    assert!(
        between.notices[0].starts_with(&format!(
            "record 3 of this blade, {name}, withdraws another one, {}: ",
            named(&first)
        )),
        "{:?}",
        between.notices
    );
    let after = seal(&next(&taken_back, &key(1), "2026-08-01T10:00:00Z"), &key(1));
    let newest = owner(&after, &[first, second, taken_back]);
    assert_eq!((newest.exit_code(), newest.notices.len()), (0, 1));
}

/// Case 33.
#[test]
fn case_33_a_chain_without_its_middle_is_broken() {
    let [first, _, third] = three();
    let verdict = owner(&third, &[first]);
    let broken = format!(
        "record {} has sequence 3, after sequence 1 only 2 is allowed",
        named(&third)
    );
    assert_eq!(verdict.completeness.broken, Some(broken));
    assert_eq!(verdict.bytes, BytesLine::Intact);
    assert_eq!(verdict.exit_code(), 1);
}

/// Case 33, with a middle that another record took the place of; case 37.
#[test]
fn case_33_a_predecessor_that_is_not_the_one_named_breaks_the_chain() {
    let [first, second, third] = three();
    let mut other = next(&first, &key(1), SECOND);
    other["blade"]["title"] = json!("Short sword `Brook`");
    let other = seal(&other, &key(1));
    let verdict = owner(&third, &[first.clone(), other.clone()]);
    let broken = format!(
        "record {} names {} as its predecessor, the record before is {}",
        named(&third),
        named(&second),
        named(&other)
    );
    assert_eq!(verdict.completeness.broken, Some(broken));
    assert_eq!(verdict.exit_code(), 1);
}

/// Case 35.
#[test]
fn case_35_two_successors_of_one_record_are_both_named() {
    let [first, second, _] = three();
    let mut other = next(&first, &key(1), THIRD);
    other["record_id"] = json!("ffffffffffffffffffffffffffffffff");
    let other = seal(&other, &key(1));
    let verdict = owner(&second, &[first, other.clone()]);
    let mut names = [named(&second), named(&other)];
    names.sort();
    let broken = format!(
        "two different records with sequence 2 follow the same record: {} and {}",
        names[0], names[1]
    );
    assert_eq!(
        verdict.completeness.broken.as_deref(),
        Some(broken.as_str())
    );
    assert_eq!(
        verdict.completeness.to_string(),
        format!("the chain is broken: {broken}")
    );
    assert_eq!(verdict.exit_code(), 1);
    // Who does not know the signer hears of the break all the same.
    assert_eq!(stranger(&second).exit_code(), 2);
}

/// Case 37: time runs on within a chain.
#[test]
fn case_37_a_record_older_than_the_one_before_breaks_the_chain() {
    let first = sealed();
    let second = seal(&next(&first, &key(1), "2026-02-28T00:00:00Z"), &key(1));
    let verdict = owner(&second, &[first]);
    let broken = verdict.completeness.broken.clone().unwrap();
    assert!(
        broken.ends_with(
            "was issued at 2026-02-28T00:00:00Z, before its predecessor at 2026-03-01T09:30:00Z"
        ),
        "{broken}"
    );
    assert_eq!(verdict.exit_code(), 1);
}

/// Case 34, and files that say nothing about this blade.
#[test]
fn case_34_records_of_other_blades_and_altered_ones_do_not_count() {
    let [first, second, _] = three();
    let mut elsewhere = unsigned(&key(1));
    elsewhere["blade"]["id"] = json!("ford");
    let elsewhere = seal(&elsewhere, &key(1));
    let changed = String::from_utf8(first.clone())
        .unwrap()
        .replacen("Brook", "Crook", 1)
        .into_bytes();
    let others = [elsewhere, changed, b"\x89PNG".to_vec(), first];
    let found = owner(&second, &others).completeness;
    assert_eq!((found.supplied, found.not_supplied), (2, 0));
    assert_eq!(
        found.ignored,
        [
            "file 1: about another blade, `ford`",
            "file 2: altered: proof: the signature does not match the document and the key named in it",
            "file 3: no record: line 1, column 1: found the byte 89, which is not UTF-8 here; only UTF-8 text is allowed",
        ]
    );
}

/// A later record can be anybody's; the verdict says so instead of vouching for it.
#[test]
fn records_that_another_key_sealed_are_counted_apart() {
    let first = sealed();
    let reply = seal(&next(&first, &key(7), SECOND), &key(7));
    let found = owner(&first, std::slice::from_ref(&reply)).completeness;
    assert_eq!(found.other_keys, 1);
    assert_eq!(found.superseded_by, Some(named(&reply)));
    assert!(
        found
            .to_string()
            .contains("; 1 of the records here sealed by another key"),
        "{found}"
    );
}
