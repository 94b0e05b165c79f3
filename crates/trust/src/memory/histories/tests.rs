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
    assert_eq!(gone("Nobody"), all(vec![], Loss::default()));
    assert_eq!(load(at).unwrap().len(), 1);
    assert_eq!(
        gone(&fingerprint(6)),
        all(vec![seen("Mill", 6)], Loss::default())
    );
    // A key that only a history names, while one that is remembered stands in it.
    let kept = Loss {
        kept: 1,
        ..Loss::default()
    };
    assert_eq!(gone(&fingerprint(2)), all(vec![], kept));
    assert_eq!(load(at).unwrap(), [next(2)]);
    let both = vec![seen("Rill Workshop", 1), seen("Rill Workshop", 5)];
    let planned = memory::to_forget(at, " rill  workshop").unwrap();
    assert_eq!(load(at).unwrap(), [next(2)]);
    let one_gone = Loss {
        count: 1,
        ..Loss::default()
    };
    assert_eq!(gone(" rill  workshop"), all(both, one_gone.clone()));
    assert_eq!(planned.histories, one_gone);
    assert_eq!(memory::load(at).unwrap().keys(), []);
    assert_eq!(load(at).unwrap(), []);
    // Nobody is remembered who stands in it.
    keep(at, &next(2)).unwrap();
    assert_eq!(gone(&fingerprint(2)).histories.count, 1);
}

/// The history in which key 1 named key 2 and then revoked itself.
fn revoking() -> KeyHistory {
    let since = "2027-02-01T00:00:00Z";
    let text = next(2)
        .revoke(
            &key(2),
            &key(1).public_key(),
            since,
            "2027-04-01T00:00:00Z",
            "stolen",
        )
        .unwrap();
    KeyHistory::read(text.as_bytes()).unwrap()
}

/// Forgetting one key must not make another, which was revoked, pass as known.
#[test]
fn a_revocation_stays_with_the_other_keys_of_its_history() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for (name, byte) in [("Rill Workshop", 1), ("Rill of old", 2)] {
        let seen = SeenKey::new(name, &key(byte).public_key(), DAY, "record.json");
        assert!(memory::remember(at, seen).unwrap());
    }
    keep(at, &revoking()).unwrap();
    let gone = forget_key(at, "Rill of old").unwrap();
    assert_eq!((gone.keys.len(), gone.histories.kept), (1, 1));
    assert_eq!(load(at).unwrap(), [revoking()]);
    // The last key that stands in it takes it along, and what is lost is told.
    let typed = key(1)
        .public_key()
        .fingerprint()
        .to_string()
        .replace('-', " ");
    let gone = forget_key(at, &typed).unwrap();
    let revoked = key(1).public_key().fingerprint().to_string();
    assert_eq!(gone.histories.revoked, [revoked]);
    assert!(!gone.histories.fork);
    assert_eq!(load(at).unwrap(), []);
}

/// One of two histories that disagree, alone, would be believed.
#[test]
fn a_fork_is_kept_or_forgotten_as_one() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for byte in [2, 3] {
        keep(at, &next(byte)).unwrap();
        let seen = SeenKey::new("Rill", &key(byte).public_key(), DAY, "record.json");
        assert!(memory::remember(at, seen).unwrap());
    }
    let typed = |byte: u8| key(byte).public_key().fingerprint().to_string();
    assert_eq!(forget_key(at, &typed(3)).unwrap().histories.kept, 2);
    assert_eq!(load(at).unwrap().len(), 2);
    let gone = forget_key(at, &typed(2)).unwrap().histories;
    assert_eq!((gone.count, gone.fork), (2, true));
    assert_eq!(load(at).unwrap(), []);
}

/// A history that disagreed once must not keep what it says later from being remembered.
#[test]
fn a_longer_form_of_the_fork_takes_its_place() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    keep(at, &next(3)).unwrap();
    assert_eq!(keep(at, &next(2)).unwrap(), Kept::Fork);
    assert_eq!(keep(at, &revoking()).unwrap(), Kept::Fork);
    let both = load(at).unwrap();
    assert!(both.contains(&next(3)) && both.contains(&revoking()) && both.len() == 2);
    // The shorter one comes again, and a third one: nothing is lost.
    assert_eq!(keep(at, &next(2)).unwrap(), Kept::Fork);
    assert_eq!(keep(at, &next(4)).unwrap(), Kept::Fork);
    assert_eq!(load(at).unwrap(), both);
    // One that no longer disagrees with the one kept makes room.
    let fork = at
        .join(FOLDER_NAME)
        .join(format!("{}.fork.json", key(1).public_key().fingerprint()));
    fs::write(&fork, next(3).text().unwrap()).unwrap();
    assert_eq!(keep(at, &next(4)).unwrap(), Kept::Fork);
    let both = load(at).unwrap();
    assert!(both.contains(&next(3)) && both.contains(&next(4)) && both.len() == 2);
}
