#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::thread;

use super::*;
use crate::key::PrivateKey;

const DAY: &str = "2026-03-01T09:30:00Z";

fn key(number: u16) -> PublicKey {
    let mut entropy = [9; 32];
    entropy[..2].copy_from_slice(&number.to_be_bytes());
    PrivateKey::from_entropy(entropy).unwrap().public_key()
}

fn seen(name: &str, number: u16) -> SeenKey {
    SeenKey::new(name, &key(number), DAY, "record.json")
}

#[test]
fn names_and_keys_are_assessed() {
    let mut memory = Memory::default();
    assert_eq!(memory.assess("Rill Workshop", &key(1)), Assessment::New);
    assert!(memory.remember(seen("Rill Workshop", 1)).unwrap());
    for name in ["Rill Workshop", "rill  WORKSHOP", " Rill Workshop "] {
        assert_eq!(
            memory.assess(name, &key(1)),
            Assessment::Known {
                since: DAY.to_owned()
            },
            "{name}"
        );
    }
    assert_eq!(
        memory.assess("Other", &key(1)),
        Assessment::OtherNameForKey {
            known: vec![seen("Rill Workshop", 1)]
        }
    );
    assert_eq!(memory.assess("Other", &key(2)), Assessment::New);
}

#[test]
fn case_26_a_known_name_with_another_key_is_noticed() {
    let mut memory = Memory::default();
    memory.remember(seen("Rill Workshop", 1)).unwrap();
    memory.remember(seen("Mallory", 2)).unwrap();
    // Also when the key is known from elsewhere.
    for number in [2, 3] {
        assert_eq!(
            memory.assess("Rill Workshop", &key(number)),
            Assessment::DifferentKeyForName {
                known: vec![seen("Rill Workshop", 1)]
            }
        );
    }
}

#[test]
fn the_first_sighting_stays() {
    let mut memory = Memory::default();
    memory.remember(seen("Rill Workshop", 1)).unwrap();
    let later = SeenKey::new(
        "Rill Workshop",
        &key(1),
        "2027-01-01T00:00:00Z",
        "later.json",
    );
    assert!(!memory.remember(later).unwrap());
    assert_eq!(memory.keys(), [seen("Rill Workshop", 1)]);
}

#[test]
fn printed_memory_reads_back_the_same() {
    let mut memory = Memory::default();
    for number in 1..20 {
        memory
            .remember(seen(&format!("研ぎ師 {number}"), number))
            .unwrap();
    }
    let text = memory.print().unwrap();
    assert_eq!(Memory::parse(text.as_bytes()).unwrap(), memory);
    assert_eq!(
        Memory::parse(text.as_bytes()).unwrap().print().unwrap(),
        text
    );
}

/// A memory of before there was the word reads as one of keys that were met and no more.
#[test]
fn a_key_is_compared_only_where_that_was_kept() {
    let mut memory = Memory::default();
    assert!(memory.remember(seen("Rill Workshop", 1)).unwrap());
    assert!(memory.remember(seen("Weir Workshop", 2)).unwrap());
    let text = memory.print().unwrap();
    assert!(!text.contains("compared"), "{text}");
    let mut memory = Memory::parse(text.as_bytes()).unwrap();
    assert_eq!(memory.compared(), Memory::default());

    // The card of a key that was met before: the first sighting stays.
    let mut later = seen("rill workshop", 1).with_card();
    later.first_seen = "2027-01-01T00:00:00Z".to_owned();
    assert!(memory.remember(later.clone()).unwrap());
    assert!(!memory.remember(later).unwrap());
    assert!(!memory.remember(seen("Rill Workshop", 1)).unwrap());
    let compared = memory.compared();
    assert_eq!(compared.keys(), [seen("Rill Workshop", 1).with_card()]);
    let text = memory.print().unwrap();
    assert_eq!(Memory::parse(text.as_bytes()).unwrap(), memory);
}

#[test]
fn a_full_memory_takes_a_key_along_for_one_verdict() {
    let mut memory = Memory(vec![seen("Rill Workshop", 1); MOST_KEYS]);
    let found = memory.remember(seen("Weir Workshop", 2));
    assert!(matches!(found, Err(MemoryError::TooMany { .. })));
    assert!(memory.take_along(seen("Weir Workshop", 2)).unwrap());
    assert!(matches!(
        memory.assess("Weir Workshop", &key(2)),
        Assessment::Known { .. }
    ));
}

#[test]
fn altered_files_are_refused() {
    let mut memory = Memory::default();
    memory.remember(seen("Rill Workshop", 1)).unwrap();
    let text = memory.print().unwrap();
    let fingerprint = key(1).fingerprint().to_string();
    for (from, to, message) in [
        (FORMAT, "tangmark seen keys 2", "seen keys: format `tangmark seen keys 2`, `tangmark seen keys 1` allowed".to_owned()),
        (
            fingerprint.as_str(),
            "AAAAA-AAAAA-AAAAA-AAAAA",
            format!("seen keys: entry 1: fingerprint `AAAAA-AAAAA-AAAAA-AAAAA`, that of the key is `{fingerprint}`"),
        ),
        (
            DAY,
            "yesterday",
            "seen keys: entry 1: first seen `yesterday`, a UTC time such as 2026-03-01T09:30:00Z allowed".to_owned(),
        ),
    ] {
        let altered = text.replacen(from, to, 1);
        assert_ne!(altered, text);
        assert_eq!(Memory::parse(altered.as_bytes()).unwrap_err().to_string(), message);
    }
    let unknown = text.replacen("\"source\"", "\"trusted\": true, \"source\"", 1);
    assert!(matches!(
        Memory::parse(unknown.as_bytes()),
        Err(MemoryError::Shape(_))
    ));
    let start = text.find("    {").unwrap();
    let end = text
        .rfind('}')
        .and_then(|last| text[..last].rfind('}'))
        .unwrap();
    let entry = &text[start..=end];
    let twice = text.replacen(entry, &format!("{entry},\n{entry}"), 1);
    assert_eq!(
        Memory::parse(twice.as_bytes()).unwrap_err(),
        MemoryError::Twice { entry: 2 }
    );
    assert!(matches!(
        Memory::parse(&text.as_bytes()[..text.len() / 2]),
        Err(MemoryError::Json(_))
    ));
}

/// The same name but for capitals and spacing, and the same key.
#[test]
fn an_entry_that_says_nothing_new_is_refused_wherever_it_stands() {
    let mut memory = Memory::default();
    for number in 1..40 {
        memory
            .remember(seen(&format!("Workshop {number}"), number))
            .unwrap();
    }
    let text = memory.print().unwrap();
    let again = text
        .replacen("Workshop 39", "workshop  1", 1)
        .replacen(&key(39).did_key(), &key(1).did_key(), 1)
        .replacen(
            &key(39).fingerprint().to_string(),
            &key(1).fingerprint().to_string(),
            1,
        );
    assert_eq!(
        Memory::parse(again.as_bytes()).unwrap_err(),
        MemoryError::Twice { entry: 39 }
    );
}

#[test]
fn a_folder_without_memory_is_empty_and_stays_so_on_reading() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(load(folder.path()).unwrap(), Memory::default());
    assert_eq!(
        load(&folder.path().join("none")).unwrap(),
        Memory::default()
    );
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn concurrent_writers_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("made").join("by need");
    thread::scope(|scope| {
        for writer in 0..8 {
            let path = &path;
            scope.spawn(move || {
                for number in 0..12 {
                    let number = writer * 100 + number;
                    assert!(remember(path, seen(&format!("writer {number}"), number)).unwrap());
                    // A reader never sees half a file.
                    load(path).unwrap();
                }
            });
        }
    });
    let memory = load(&path).unwrap();
    assert_eq!(memory.keys().len(), 8 * 12);
    assert!(!remember(&path, seen("writer 0", 0)).unwrap());
    let mut names: Vec<_> = std::fs::read_dir(&path)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(names, ["seen-keys.json", "seen-keys.lock"]);
}

#[test]
fn a_damaged_file_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE_NAME);
    std::fs::write(&path, "{").unwrap();
    let error = remember(folder.path(), seen("Rill Workshop", 1)).unwrap_err();
    assert!(
        error
            .to_string()
            .starts_with(&format!("{}: seen keys: ", path.display())),
        "{error}"
    );
    assert!(error.hint().unwrap().contains("restore the file"));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "{");
}

#[test]
fn a_file_left_by_a_crash_does_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("seen-keys.json.new"), "{\"half").unwrap();
    assert!(remember(folder.path(), seen("Rill Workshop", 1)).unwrap());
    assert_eq!(load(folder.path()).unwrap().keys().len(), 1);
}

/// The name of a file is chosen by whoever sent it.
#[test]
fn no_name_of_a_file_makes_a_memory_that_cannot_be_read() {
    let folder = tempfile::tempdir().unwrap();
    for (number, (source, kept)) in [
        ("か\u{3099}.json", "が.json"),
        ("\u{ffff}\u{fdd0}.json", "\u{fffd}\u{fffd}.json"),
        ("\u{1}\u{7f}\"\\.json", "\u{1}\u{7f}\"\\.json"),
    ]
    .into_iter()
    .enumerate()
    {
        let number = u16::try_from(number).unwrap();
        let seen = SeenKey::new("Rill", &key(number), DAY, source);
        assert!(remember(folder.path(), seen).unwrap());
        let memory = load(folder.path()).unwrap();
        assert_eq!(memory.keys()[usize::from(number)].source, kept);
    }
    // Whatever else could not be read again is refused before the file is replaced.
    let before = std::fs::read(folder.path().join(FILE_NAME)).unwrap();
    let odd = SeenKey {
        source: "e\u{301}".to_owned(),
        ..seen("Weir", 9)
    };
    let error = remember(folder.path(), odd).unwrap_err();
    assert!(error.hint().unwrap().contains("`--no-remember`"), "{error}");
    let after = std::fs::read(folder.path().join(FILE_NAME)).unwrap();
    assert_eq!(after, before);
}

#[test]
fn a_full_memory_says_what_helps() {
    let full = MemoryFileError::Entry(MemoryError::TooMany { found: 20_001 });
    assert!(
        full.hint()
            .unwrap()
            .contains("`tangmark key known forget NAME`")
    );
}

#[test]
fn a_fingerprint_is_forgotten_as_it_is_typed() {
    for typed in [
        |text: String| text.replace('-', ""),
        |text: String| text.replace('-', " ").to_lowercase(),
        |text: String| format!(" {text} "),
    ] {
        let mut memory = Memory::default();
        memory.remember(seen("Rill Workshop", 1)).unwrap();
        memory.remember(seen("Weir Workshop", 2)).unwrap();
        let typed = typed(key(1).fingerprint().to_string());
        assert_eq!(memory.forget(&typed), [seen("Rill Workshop", 1)]);
        assert_eq!(memory.keys(), [seen("Weir Workshop", 2)]);
    }
}
