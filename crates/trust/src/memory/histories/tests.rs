#![allow(clippy::unwrap_used)]

use super::*;
use crate::PrivateKey;
use crate::history::{Statement, first_entry};
use crate::memory::{self, Gone, forget as forget_key};
use tangmark_core::Digest;

const DAY: &str = "2026-03-01T09:30:00Z";

fn key(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

fn one() -> KeyHistory {
    let text = first_entry(&key(1), DAY, "first", Digest::of(b"paper")).unwrap();
    KeyHistory::read(text.as_bytes()).unwrap()
}

fn next(byte: u8) -> KeyHistory {
    let new = Statement {
        key: &key(byte),
        from: "2027-03-01T09:30:00Z",
        reason: "new",
        recovery_digest: Digest::of(b"paper"),
    };
    KeyHistory::read(one().rotate(&key(1), &new).unwrap().as_bytes()).unwrap()
}

#[test]
fn the_longest_is_kept_and_a_fork_beside_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    assert_eq!(load(at).unwrap(), []);
    assert_eq!(keep(at, &one()).unwrap(), Kept::New);
    assert_eq!(keep(at, &one()).unwrap(), Kept::Nothing);
    assert_eq!(keep(at, &next(2)).unwrap(), Kept::Longer);
    assert_eq!(keep(at, &one()).unwrap(), Kept::Nothing);
    assert_eq!(load(at).unwrap(), [next(2)]);
    for other in [3, 4] {
        assert_eq!(keep(at, &next(other)).unwrap(), Kept::Fork);
    }
    let both = load(at).unwrap();
    assert!(both.contains(&next(2)) && both.contains(&next(3)) && both.len() == 2);
}

#[test]
fn a_damaged_file_is_named_and_half_a_file_is_not_read() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    keep(at, &one()).unwrap();
    let own = at.join(FOLDER_NAME);
    fs::write(own.join("x.json.new"), "half").unwrap();
    assert_eq!(load(at).unwrap(), [one()]);
    let path = own.join(format!("{}.json", key(1).public_key().fingerprint()));
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replacen("first", "other", 1)).unwrap();
    let error = load(at).unwrap_err();
    assert!(
        error.to_string().contains(&path.display().to_string()),
        "{error}"
    );
    assert!(error.hint().is_some());
    // What is damaged is not written over.
    assert!(keep(at, &next(2)).is_err());
}

#[test]
fn forgetting_takes_name_fingerprint_and_history() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let seen =
        |name: &str, byte: u8| SeenKey::new(name, &key(byte).public_key(), DAY, "record.json");
    for (name, byte) in [("Rill Workshop", 1), ("Rill Workshop", 5), ("Mill", 6)] {
        assert!(memory::remember(at, seen(name, byte)).unwrap());
    }
    keep(at, &next(2)).unwrap();
    let gone = |what: &str| forget_key(at, what).unwrap();
    let all = |keys: Vec<SeenKey>, histories| Gone { keys, histories };
    let fingerprint = |byte: u8| {
        key(byte)
            .public_key()
            .fingerprint()
            .to_string()
            .to_lowercase()
    };
    assert_eq!(gone("Nobody"), all(vec![], 0));
    assert_eq!(load(at).unwrap().len(), 1);
    assert_eq!(gone(&fingerprint(6)), all(vec![seen("Mill", 6)], 0));
    // A key that only a history names.
    assert_eq!(gone(&fingerprint(2)), all(vec![], 1));
    assert_eq!(load(at).unwrap(), []);
    keep(at, &next(2)).unwrap();
    let both = vec![seen("Rill Workshop", 1), seen("Rill Workshop", 5)];
    assert_eq!(gone(" rill  workshop"), all(both, 1));
    assert_eq!(memory::load(at).unwrap().keys(), []);
    assert_eq!(load(at).unwrap(), []);
}
