//! Standing, succession, agreement: the tables of the page row by row.

use super::*;

/// Cases 29 and 30.
#[test]
fn case_29_and_30_every_row_of_the_standing() {
    let history = eventful();
    let before = |year: u16| format!("{year}-03-01T11:59:59Z");
    let cases = [
        (9, day(2021), None, Standing::NotInHistory),
        (1, before(2020), None, Standing::TooEarly),
        (1, day(2020), None, Standing::InForce),
        (1, before(2022), None, Standing::InForce),
        (1, day(2022), None, Standing::TooLate),
        (2, before(2022), None, Standing::TooEarly),
        (2, day(2022), None, Standing::InForce),
        (3, before(2024), Some(day(2021)), Standing::TooEarly),
        (3, day(2024), None, Standing::RevokedUnproved),
        (3, day(2024), Some(before(2025)), Standing::RevokedProved),
        (3, day(2024), Some(day(2025)), Standing::RevokedUnproved),
        (3, before(2025), Some(before(2025)), Standing::RevokedProved),
        // What the record itself says outranks the evidence.
        (3, day(2025), Some(before(2025)), Standing::Revoked),
        (3, day(2025), None, Standing::Revoked),
        (3, before(2026), None, Standing::Revoked),
        (3, day(2026), None, Standing::TooLate),
        (4, day(2026), None, Standing::InForce),
        (4, day(2046), None, Standing::InForce),
    ];
    for (byte, issued_at, evidence, expected) in cases {
        assert_eq!(
            history.standing(&public(byte), &issued_at, evidence.as_deref()),
            expected,
            "key {byte} at {issued_at}, seen {evidence:?}"
        );
    }
}

#[test]
fn a_history_leads_from_key_to_key() {
    let history = eventful();
    let path = |from, to| history.path(&public(from), &public(to));
    let way = |recovery, backwards| {
        Some(Path {
            recovery,
            backwards,
        })
    };
    assert_eq!(path(1, 1), way(false, false));
    assert_eq!(path(1, 2), way(false, false));
    assert_eq!(path(1, 3), way(false, false));
    assert_eq!(path(3, 1), way(false, true));
    assert_eq!(path(1, 4), way(true, false));
    assert_eq!(path(3, 4), way(true, false));
    assert_eq!(path(4, 2), way(true, true));
    assert_eq!((path(1, 9), path(9, 1)), (None, None));
}

/// Whoever stole key 1 in 2021 may have named key 2 in 2022.
#[test]
fn a_rotation_by_a_key_revoked_for_that_time_is_to_be_confirmed() {
    let two = rotated(&one(), 1, 2, 2022);
    let stolen = revoked(&two, &key(2), 1, 2021, 2023);
    assert!(stolen.path(&public(1), &public(2)).unwrap().recovery);
    let same_moment = revoked(&two, &key(2), 1, 2022, 2023);
    assert!(same_moment.path(&public(1), &public(2)).unwrap().recovery);
    let later = revoked(&two, &key(2), 1, 2023, 2023);
    assert!(!later.path(&public(1), &public(2)).unwrap().recovery);
}

/// Case 31.
#[test]
fn case_31_two_successors_are_a_fork() {
    let (mine, theirs) = (rotated(&one(), 1, 2, 2022), rotated(&one(), 1, 3, 2023));
    assert_eq!(mine.compare(&theirs), Agreement::Fork { entry: 2 });
    assert_eq!(theirs.compare(&mine), Agreement::Fork { entry: 2 });
    let longer = rotated(&mine, 2, 4, 2024);
    assert_eq!(longer.compare(&mine), Agreement::Longer);
    assert_eq!(mine.compare(&longer), Agreement::Shorter);
    assert_eq!(mine.compare(&mine.clone()), Agreement::Same);
    assert_eq!(longer.compare(&theirs), Agreement::Fork { entry: 2 });
    // Another first entry of the same key.
    let again = first_entry(&key(1), &day(2021), "", recovery(101).digest());
    assert_eq!(
        one().compare(&read(&again.unwrap())),
        Agreement::Fork { entry: 1 }
    );
    let elsewhere = first_entry(&key(5), &day(2020), "", recovery(101).digest());
    assert_eq!(one().compare(&read(&elsewhere.unwrap())), Agreement::Other);
}

#[test]
fn the_histories_at_hand_agree_or_do_not() {
    let short = one();
    let long = rotated(&short, 1, 2, 2022);
    let fork = rotated(&short, 1, 3, 2023);
    let first =
        |byte: u8| read(&first_entry(&key(byte), &day(2021), "", recovery(1).digest()).unwrap());
    let longest = [short.clone(), long.clone(), first(7)];
    assert_eq!(about(&longest, &public(1)), About::One(&long));
    assert_eq!(about(&longest, &public(2)), About::One(&long));
    assert_eq!(about(&longest, &public(7)), About::One(&longest[2]));
    assert_eq!(about(&longest, &public(9)), About::Nothing);
    assert_eq!(about(&[], &public(1)), About::Nothing);
    // In whatever order they come, also for the key that stands in one of them only.
    for forked in [
        [short.clone(), long.clone(), fork.clone()],
        [fork.clone(), short, long.clone()],
    ] {
        for byte in [1, 2, 3] {
            let found = about(&forked, &public(byte));
            assert!(
                matches!(found, About::Two { entry: 2, .. }),
                "{byte}: {found:?}"
            );
        }
    }
    // A second history that begins with a key of the first one: nobody can rely on any key of either.
    let second = rotated(&first(2), 2, 8, 2024);
    for pair in [[long.clone(), second.clone()], [second, long.clone()]] {
        for byte in [1, 2, 8] {
            let found = about(&pair, &public(byte));
            assert!(
                matches!(found, About::Two { entry: 1, .. }),
                "{byte}: {found:?}"
            );
        }
    }
    // Histories that share no key have nothing to do with each other.
    let apart = [long, first(7)];
    assert!(matches!(about(&apart, &public(1)), About::One(_)));
}
