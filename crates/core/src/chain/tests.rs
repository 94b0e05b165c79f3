//! What breaks a chain, and what is only missing from it.
#![allow(clippy::unwrap_used)]

use super::*;
use crate::record::Purpose;

const GOOD: &str = include_str!("../../../../samples/invalid/good-record.json");

fn digest(number: u32) -> Digest {
    Digest::of(&number.to_le_bytes())
}

/// Records 1 to `last` of one blade, each naming the one before.
fn chain(last: u32) -> Vec<Record> {
    let good: Record = serde_json::from_str(GOOD).unwrap();
    let record = |sequence: u32| Record {
        sequence,
        previous: (sequence > 1).then(|| digest(sequence - 1)),
        issued_at: format!("2026-03-{:02}T09:00:00Z", sequence + 1)
            .parse()
            .unwrap(),
        ..good.clone()
    };
    (1..=last).map(record).collect()
}

/// Names record n of `chain` by `digest(n)`.
fn named(records: &[Record]) -> Vec<Named<'_>> {
    records
        .iter()
        .map(|record| Named {
            digest: digest(record.sequence),
            record,
        })
        .collect()
}

#[test]
fn a_whole_chain_is_complete_in_any_order() {
    let records = chain(4);
    let mut all = named(&records);
    let complete = ChainState {
        supplied: 4,
        not_supplied: 0,
        missing: None,
    };
    assert_eq!(check(&all), Ok(complete.clone()));
    all.reverse();
    all.swap(0, 2);
    assert_eq!(
        check(&all),
        Ok(complete.clone()),
        "the order they are handed over in is no matter"
    );
    all.push(all[1].clone());
    assert_eq!(check(&all), Ok(complete), "the same record twice is one");
}

#[test]
fn no_record_is_no_chain() {
    assert_eq!(
        check(&[]),
        Ok(ChainState {
            supplied: 0,
            not_supplied: 0,
            missing: None
        })
    );
}

#[test]
fn predecessors_that_were_not_supplied_are_counted_and_the_nearest_is_named() {
    let records = chain(4);
    let last = check(&named(&records)[2..]).unwrap();
    assert_eq!(
        last,
        ChainState {
            supplied: 2,
            not_supplied: 2,
            missing: Some(digest(2))
        }
    );
}

#[test]
fn a_record_removed_from_the_middle_is_a_gap() {
    let records = chain(4);
    let mut all = named(&records);
    all.remove(1);
    let error = check(&all).unwrap_err();
    assert_eq!(
        error,
        ChainError::Gap {
            digest: digest(3),
            found: 3,
            before: 1
        }
    );
    assert_eq!(
        error.to_string(),
        format!(
            "record {} has sequence 3, after sequence 1 only 2 is allowed",
            digest(3)
        )
    );
    assert_eq!(
        error.hint(),
        "ask for the sealed file of sequence 2; without it nobody can tell what it said"
    );
}

#[test]
fn records_renumbered_in_another_order_name_the_wrong_predecessor() {
    let mut records = chain(3);
    records[1].sequence = 3;
    records[2].sequence = 2;
    // The digests stay with the records, as their bytes would say.
    let all = [(&records[0], 1), (&records[1], 2), (&records[2], 3)].map(|(record, name)| Named {
        digest: digest(name),
        record,
    });
    let error = check(&all).unwrap_err();
    assert_eq!(
        error,
        ChainError::WrongPrevious {
            digest: digest(3),
            named: Some(digest(2)),
            before: digest(1)
        }
    );
    assert_eq!(
        error.to_string(),
        format!(
            "record {} names {} as its predecessor, the record before is {}",
            digest(3),
            digest(2),
            digest(1)
        )
    );
    assert_eq!(
        error.hint(),
        "a record was left out, exchanged or renumbered: ask the issuer for all sealed files of this blade"
    );
}

#[test]
fn a_later_record_without_a_predecessor_is_refused() {
    let mut records = chain(2);
    records[1].previous = None;
    let error = check(&named(&records)).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "record {} names none as its predecessor, the record before is {}",
            digest(2),
            digest(1)
        )
    );
    let alone = check(&named(&records)[1..]).unwrap_err();
    assert_eq!(
        alone.to_string(),
        format!(
            "record {} has sequence 2 and no predecessor, sequence 1 is allowed without a predecessor and all later ones with one",
            digest(2)
        )
    );
}

#[test]
fn a_first_record_with_a_predecessor_is_refused() {
    let mut records = chain(1);
    records[0].previous = Some(digest(9));
    let error = check(&named(&records)).unwrap_err();
    assert_eq!(
        error,
        ChainError::Start {
            digest: digest(1),
            sequence: 1,
            has_previous: true
        }
    );
}

#[test]
fn a_record_of_another_blade_is_refused() {
    let mut records = chain(2);
    records[1].blade.id = "other".parse().unwrap();
    let error = check(&named(&records)).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "record {} is about blade `other`, the chain is about `heath`",
            digest(2)
        )
    );
    assert_eq!(error.hint(), "verify the records of one blade at a time");
}

#[test]
fn two_records_after_one_predecessor_are_a_fork_and_both_are_named() {
    let mut records = chain(3);
    let mut other = records[1].clone();
    other.purpose = Purpose::Transfer;
    records.push(other);
    let mut all = named(&records);
    all[3].digest = digest(77);
    let (first, second) = (digest(2).min(digest(77)), digest(2).max(digest(77)));
    let error = check(&all).unwrap_err();
    assert_eq!(
        error,
        ChainError::Fork {
            sequence: 2,
            first,
            second
        }
    );
    assert_eq!(
        error.to_string(),
        format!(
            "two different records with sequence 2 follow the same record: {first} and {second}"
        )
    );
    assert_eq!(
        error.hint(),
        "the issuer wrote two histories of this blade: ask which one holds, and have the other withdrawn"
    );
}

#[test]
fn a_record_that_names_itself_is_refused_alone_and_in_company() {
    let mut records = chain(2);
    records[1].previous = Some(digest(2));
    let wanted = ChainError::Circle {
        digest: digest(2),
        named: digest(2),
    };
    assert_eq!(check(&named(&records)[1..]), Err(wanted.clone()));
    assert_eq!(check(&named(&records)), Err(wanted.clone()));
    assert_eq!(
        wanted.to_string(),
        format!(
            "record {0} names {0} as its predecessor, which is itself or comes after it",
            digest(2)
        )
    );
}

#[test]
fn a_record_that_names_a_later_one_is_refused() {
    let mut records = chain(3);
    records[1].previous = Some(digest(3));
    let error = check(&named(&records)[1..]).unwrap_err();
    assert_eq!(
        error,
        ChainError::Circle {
            digest: digest(2),
            named: digest(3)
        }
    );
}

#[test]
fn time_does_not_run_back_along_a_chain() {
    let mut records = chain(2);
    records[1].issued_at = records[0].issued_at.clone();
    assert!(
        check(&named(&records)).is_ok(),
        "the same second is allowed"
    );
    records[1].issued_at = "2026-03-01T09:00:00Z".parse().unwrap();
    let error = check(&named(&records)).unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "record {} was issued at 2026-03-01T09:00:00Z, before its predecessor at 2026-03-02T09:00:00Z",
            digest(2)
        )
    );
    assert_eq!(
        error.hint(),
        "one of the two times is wrong: ask the issuer, and rely on outside evidence for the time"
    );
}

#[test]
fn the_largest_sequence_does_not_overflow() {
    let mut records = chain(2);
    records[0].sequence = u32::MAX - 1;
    records[0].previous = Some(digest(5));
    records[1].sequence = u32::MAX;
    records[1].previous = Some(digest(u32::MAX - 1));
    let state = check(&named(&records)).unwrap();
    assert_eq!(
        (state.not_supplied, state.missing),
        (u32::MAX - 2, Some(digest(5)))
    );
    records[0].sequence = 0;
    assert!(matches!(
        check(&named(&records)[..1]),
        Err(ChainError::Start { sequence: 0, .. })
    ));
}

#[test]
fn a_gap_whose_file_is_told_apart_is_no_break() {
    let records = chain(5);
    let mut links: Vec<Link> = records
        .iter()
        .map(|record| Link::of(digest(record.sequence), record))
        .collect();
    links.remove(2);
    links.remove(1);
    let told = BTreeSet::from([2, 3]);
    assert_eq!(
        check_links(&links, &told),
        Ok(ChainState {
            supplied: 3,
            not_supplied: 2,
            missing: Some(digest(3))
        })
    );
    let broken = |links: &[Link], told: &[u32]| {
        check_links(links, &told.iter().copied().collect()).unwrap_err()
    };
    assert!(matches!(
        broken(&links, &[2]),
        ChainError::Gap {
            found: 4,
            before: 1,
            ..
        }
    ));
    assert!(matches!(
        broken(&links, &[2, 4]),
        ChainError::Gap {
            found: 4,
            before: 1,
            ..
        }
    ));
    let mut early = links.clone();
    early[1].issued_at = "2026-03-01T09:00:00Z".parse().unwrap();
    assert!(matches!(
        broken(&early, &[2, 3]),
        ChainError::TimeRunsBack { .. }
    ));
    let mut other = links;
    other[1].blade = "other".to_owned();
    assert!(matches!(
        broken(&other, &[2, 3]),
        ChainError::OtherBlade { .. }
    ));
}
