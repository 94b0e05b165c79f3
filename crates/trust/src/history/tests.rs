#![allow(clippy::unwrap_used)]
//! Every row of the page's tables, forks, and files that somebody changed.

mod damage;
mod relations;

use serde_json::Value;

use super::*;
use crate::PrivateKey;
use crate::recovery::Recovery;

fn key(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

fn public(byte: u8) -> PublicKey {
    key(byte).public_key()
}

fn recovery(byte: u8) -> Recovery {
    Recovery::from_entropy(&[byte; 20]).unwrap()
}

/// Noon of a day in March of the given year.
fn day(year: u16) -> String {
    format!("{year}-03-01T12:00:00Z")
}

fn read(text: &str) -> KeyHistory {
    KeyHistory::read(text.as_bytes()).unwrap()
}

fn refusal(text: &str) -> String {
    KeyHistory::read(text.as_bytes()).unwrap_err().to_string()
}

/// A statement of key `byte` from the year on; its recovery key is of byte 100 + `byte`.
fn statement<'a>(key: &'a PrivateKey, from: &'a str, byte: u8) -> Statement<'a> {
    Statement {
        key,
        from,
        reason: "made in a test",
        recovery_digest: recovery(100 + byte).digest(),
    }
}

/// Key 1 from 2020 on.
fn one() -> KeyHistory {
    let digest = recovery(101).digest();
    read(&first_entry(&key(1), &day(2020), "first key", digest).unwrap())
}

fn rotated(history: &KeyHistory, old: u8, new: u8, year: u16) -> KeyHistory {
    let (new_key, from) = (key(new), day(year));
    let text = history.rotate(&key(old), &statement(&new_key, &from, new));
    read(&text.unwrap())
}

fn recovered(history: &KeyHistory, by: u8, new: u8, year: u16) -> KeyHistory {
    let (new_key, from) = (key(new), day(year));
    let text = history.recover(recovery(by).key(), &statement(&new_key, &from, new));
    read(&text.unwrap())
}

fn revoked(history: &KeyHistory, by: &PrivateKey, key: u8, since: u16, at: u16) -> KeyHistory {
    let text = history.revoke(by, &public(key), &day(since), &day(at), "stolen");
    read(&text.unwrap())
}

/// Two rotations, a theft, a recovery: key 1 from 2020, 2 from 2022, 3 from 2024, which was stolen in 2025, 4 from 2026.
fn eventful() -> KeyHistory {
    let three = rotated(&rotated(&one(), 1, 2, 2022), 2, 3, 2024);
    revoked(&recovered(&three, 103, 4, 2026), &key(4), 3, 2025, 2026)
}

fn text_of(history: &KeyHistory) -> String {
    history.text().unwrap()
}

#[test]
fn what_is_written_reads_back() {
    let history = one();
    let first = history.first();
    assert_eq!((first.key, first.named_by), (public(1), NamedBy::First));
    assert_eq!(
        (first.from.as_str(), first.reason.as_str()),
        (day(2020).as_str(), "first key")
    );
    assert_eq!((&first.until, &first.revoked), (&None, &None));
    assert_eq!(history.recovery_digest(), recovery(101).digest());
    assert_eq!(text_of(&history), text_of(&one()));
}

#[test]
fn two_rotations_a_theft_and_a_recovery_are_told_in_order() {
    let history = read(&text_of(&eventful()));
    let terms: Vec<_> = history
        .terms()
        .map(|term| {
            (
                term.key,
                term.from.clone(),
                term.until.clone(),
                term.named_by,
                term.revoked.is_some(),
            )
        })
        .collect();
    assert_eq!(
        terms,
        [
            (public(1), day(2020), Some(day(2022)), NamedBy::First, false),
            (
                public(2),
                day(2022),
                Some(day(2024)),
                NamedBy::Rotation,
                false
            ),
            (
                public(3),
                day(2024),
                Some(day(2026)),
                NamedBy::Rotation,
                true
            ),
            (public(4), day(2026), None, NamedBy::Recovery, false),
        ]
    );
    let stolen = history.term(&public(3)).unwrap().revoked.clone().unwrap();
    assert_eq!(
        (stolen.since, stolen.at, stolen.reason.as_str()),
        (day(2025), day(2026), "stolen")
    );
    assert_eq!(history.in_force().key, public(4));
    assert_eq!(history.recovery_digest(), recovery(104).digest());
    assert_eq!(
        (history.digests().len(), history.last_time()),
        (5, day(2026).as_str())
    );
}

#[test]
fn a_key_signs_its_own_revocation_and_then_no_more() {
    let revoked_self = revoked(&one(), &key(1), 1, 2021, 2021);
    let (new, from) = (key(2), day(2022));
    let error = revoked_self
        .rotate(&key(1), &statement(&new, &from, 2))
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("the recovery key, since the key in force is revoked, must"),
        "{error}"
    );
    // The paper key goes on where the stolen one may not.
    let history = recovered(&revoked_self, 101, 2, 2022);
    assert_eq!(history.in_force().key, public(2));
    let error = revoked_self
        .revoke(&key(1), &public(1), &day(2021), &day(2021), "again")
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("the key in force, not revoked, or the recovery key must"),
        "{error}"
    );
}

#[test]
fn the_recovery_key_revokes_too() {
    let history = revoked(&one(), recovery(101).key(), 1, 2021, 2021);
    assert!(history.first().revoked.is_some());
}

#[test]
fn each_rule_of_an_entry_is_held() {
    let two = rotated(&one(), 1, 2, 2022);
    let (one_key, three, other) = (key(1), key(3), key(9));
    let (early, late) = (day(2021), day(2024));
    let new = |key, from| statement(key, from, 3);
    let cases = [
        (
            "from` is 2021-03-01T12:00:00Z, a time after 2022-03-01T12:00:00Z",
            two.rotate(&key(2), &new(&three, &early)),
        ),
        ("the key in force", two.rotate(&key(1), &new(&three, &late))),
        (
            "the key in force",
            two.rotate(recovery(102).key(), &new(&three, &late)),
        ),
        (
            "the recovery key must",
            two.recover(&other, &new(&three, &late)),
        ),
        // That of the statement before is spent.
        (
            "the recovery key must",
            two.recover(recovery(101).key(), &new(&three, &late)),
        ),
        (
            "again; each key stands in one statement only",
            two.rotate(&key(2), &new(&one_key, &late)),
        ),
        (
            "which no statement before it names",
            two.revoke(&key(2), &public(9), &late, &late, ""),
        ),
        (
            "not after 2022-03-01T12:00:00Z (when it was revoked)",
            two.revoke(&key(2), &public(1), &late, &day(2022), ""),
        ),
        (
            "`since` is `2021`",
            two.revoke(&key(2), &public(1), "2021", &late, ""),
        ),
        (
            "its time is 2021-03-01T12:00:00Z, not before 2022-03-01T12:00:00Z",
            two.revoke(&key(2), &public(1), &early, &early, ""),
        ),
        ("must", two.revoke(&key(1), &public(1), &late, &late, "")),
        (
            "revoked once",
            revoked(&two, &key(2), 1, 2021, 2022).revoke(&key(2), &public(1), &late, &late, ""),
        ),
        (
            "`created` is `then`",
            two.revoke(&key(2), &public(1), &late, "then", ""),
        ),
    ];
    for (index, (words, result)) in cases.into_iter().enumerate() {
        let error = result.unwrap_err().to_string();
        assert!(error.contains(words), "{index}: {error}");
    }
    assert!(first_entry(&key(1), "yesterday", "", recovery(1).digest()).is_err());
}

/// Case 32.
#[test]
fn case_32_a_key_printed_in_a_specification_is_refused() {
    // RFC 6979, A.2.5: the private key x of the P-256 examples.
    let printed = hex("C9AFA9D845BA75166B5C215767B1D6934E50C3DB36E89B127B8A622B120F6721");
    let printed = PrivateKey::from_entropy(printed).unwrap();
    let error = first_entry(&printed, &day(2020), "", recovery(1).digest())
        .unwrap_err()
        .to_string();
    assert!(error.contains("anyone can sign with it"), "{error}");
    let from = day(2022);
    let error = one()
        .rotate(&key(1), &statement(&printed, &from, 2))
        .unwrap_err()
        .to_string();
    assert!(error.starts_with("key history: entry 2: "), "{error}");
}

fn hex(text: &str) -> [u8; 32] {
    data_encoding::HEXUPPER
        .decode(text.as_bytes())
        .unwrap()
        .try_into()
        .unwrap()
}

#[test]
fn a_history_at_its_limit_reads_and_one_beyond_does_not() {
    let mut history = one();
    for step in 1..MOST_ENTRIES {
        // Keys, and times one second apart.
        let entropy = Digest::of(&step.to_be_bytes());
        let new = PrivateKey::from_entropy(*entropy.as_bytes()).unwrap();
        let from = format!("2021-01-01T00:{:02}:{:02}Z", step / 60, step % 60);
        let old = match step {
            1 => key(1),
            _ => {
                PrivateKey::from_entropy(*Digest::of(&(step - 1).to_be_bytes()).as_bytes()).unwrap()
            }
        };
        // Without reading all that is before it again each time.
        let entry = history.succession_entry("rotation", &old, &statement(&new, &from, 1));
        history.follow(entry.unwrap()).unwrap();
    }
    let text = text_of(&history);
    assert!(text.len() <= LARGEST, "{} bytes", text.len());
    assert_eq!(read(&text).digests().len(), MOST_ENTRIES);
    let mut file: Value = serde_json::from_str(&text).unwrap();
    let last = file["entries"][MOST_ENTRIES - 1].clone();
    file["entries"].as_array_mut().unwrap().push(last);
    assert_eq!(
        refusal(&file.to_string()),
        "key history: 201 entries, 1 to 200 allowed"
    );
    let padded = format!("{text}{}", " ".repeat(LARGEST));
    assert!(refusal(&padded).contains("bytes"), "{}", refusal(&padded));
}
