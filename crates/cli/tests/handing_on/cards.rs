//! Whose card counts: keys that were met and no more, cards from before a change of key, warnings that a card settles.

use std::fs;

use serde_json::Value;

use super::{another, card, give, receive};
use crate::common::{Bench, text};

const NAME: &str = "Reedbank Polishing";
const NEW: &str = "seven dry stones\n";

/// A workshop with one sealed record of heron, and another one that receives; returns the record's file too.
fn sealed() -> (Bench, String) {
    let bench = Bench::with_workshop(NAME);
    another(&bench, "b", "Bellmoor Edges");
    fs::write(bench.path("new.txt"), NEW).unwrap();
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let file = text(&sealed, "file").to_owned();
    (bench, file)
}

/// Seals a second record of heron with the passphrase of a later key; returns its file.
fn seal_with_new(bench: &Bench) -> String {
    let words = ["--reason", "as planned", "--by", "A. Polisher", "--json"];
    let line = ["seal", "heron", "--for", "in_work", "--verdict", "work"];
    let pass = ["--passphrase-file", "new.txt"];
    let sealed = bench.work(&[&line[..], &words, &pass].concat()).code(0);
    text(&sealed.json(), "file").to_owned()
}

fn rotate(bench: &Bench) {
    let line = ["key", "rotate", "--reason", "every three years", "--yes"];
    let old = ["--passphrase-file", "pass.txt"];
    let new = ["--new-passphrase-file", "new.txt"];
    bench.work(&[&line[..], &old, &new].concat()).code(0);
}

fn listed(bench: &Bench) -> String {
    let line = ["--workshop", "b", "blade", "list", "--json"];
    bench.run(&line).code(0).out
}

/// What a reader with a memory finds: exit code, state of the signer, and what is told first.
fn read(bench: &Bench, file: &str, more: &[&str]) -> (i32, String, Vec<String>) {
    let line = ["verify", file, "--memory", "their", "--json"];
    let ran = bench.run(&[&line[..], more].concat());
    let json = ran.json();
    let notices = json["notices"].as_array().unwrap().iter();
    (
        ran.code,
        text(&json["signer"], "state").to_owned(),
        notices
            .map(|one| one.as_str().unwrap().to_owned())
            .collect(),
    )
}

#[test]
fn a_key_that_was_merely_met_is_no_card() {
    let (bench, _) = sealed();
    give(&bench, "heron", "one", &[]).code(0);
    // Whoever hands the package over hands over what makes its key known.
    let record = "one/data/records/01-before_work.json";
    for code in [2, 0] {
        bench
            .run(&["verify", record, "--memory", "memory-b"])
            .code(code);
    }
    let asked = receive(&bench, "one", &[]).code(2);
    for words in [
        "its fingerprint was not compared with a card yet",
        "type the fingerprint from the workshop's card",
    ] {
        assert!(asked.err.contains(words), "{}", asked.err);
    }
    assert!(!listed(&bench).contains("heron"));

    let known = card(&bench, "w");
    receive(&bench, "one", &["--fingerprint", &known]).code(0);
    let kept = fs::read_to_string(bench.path("memory-b/seen-keys.json")).unwrap();
    assert_eq!(kept.matches("\"compared\": true").count(), 1, "{kept}");
    // From now on the key is one that was compared.
    let again = receive(&bench, "one", &["--json"]).code(0).json();
    assert_eq!(again["known_records"], serde_json::json!([1]));
    let line = ["key", "known", "--memory", "memory-b"];
    let told = bench.run(&line).code(0);
    assert!(told.out.contains("compared with the card"), "{}", told.out);
}

#[test]
fn a_card_that_was_compared_while_verifying_is_enough() {
    let (bench, record) = sealed();
    give(&bench, "heron", "one", &[]).code(0);
    let known = card(&bench, "w");
    let line = ["verify", &record, "--memory", "memory-b"];
    bench.run(&line).code(2);
    let compared = [&line[..], &["--fingerprint", &known]].concat();
    bench.run(&compared).code(0);
    receive(&bench, "one", &[]).code(0);
}

#[test]
fn a_card_from_before_a_rotation_is_enough() {
    let (bench, _) = sealed();
    let old = card(&bench, "w");
    rotate(&bench);
    let second = seal_with_new(&bench);
    give(&bench, "heron", "one", &[]).code(0);
    receive(&bench, "one", &["--fingerprint", &old]).code(0);
    assert!(listed(&bench).contains("heron"));
    // Known by the card of the one key and the history that leads to the other.
    receive(&bench, "one", &[]).code(0);
    let line = ["verify", &second, "--memory", "memory-b", "--json"];
    let found = bench.run(&line).code(0).json();
    assert_eq!(text(&found["signer"], "state"), "succeeded");
}

#[test]
fn a_card_from_before_a_recovery_is_not() {
    let bench = Bench::new();
    fs::write(bench.path("new.txt"), NEW).unwrap();
    let line = [
        "setup",
        "w",
        "--name",
        NAME,
        "--passphrase-file",
        "pass.txt",
    ];
    let made = bench.run(&line).code(0).out;
    let secret = made
        .lines()
        .find_map(|line| line.strip_prefix("recovery secret: "))
        .unwrap();
    fs::write(bench.path("paper.txt"), format!("{secret}\n")).unwrap();
    another(&bench, "b", "Bellmoor Edges");
    let old = card(&bench, "w");
    let line = ["key", "recover", "--reason", "laptop broke", "--yes"];
    let paper = ["--recovery-file", "paper.txt"];
    let new = ["--new-passphrase-file", "new.txt"];
    bench.work(&[&line[..], &paper, &new].concat()).code(0);
    bench.put("heron");
    seal_with_new(&bench);
    give(&bench, "heron", "one", &[]).code(0);
    let refused = receive(&bench, "one", &["--fingerprint", &old]).code(1);
    for words in [
        "is that of another key of the workshop",
        "the recovery key spoke or a revoked key",
        "hint: whoever stole the earlier key could have made that",
    ] {
        assert!(refused.err.contains(words), "{}", refused.err);
    }
    let now = card(&bench, "w");
    assert_ne!(now, old);
    receive(&bench, "one", &["--fingerprint", &now]).code(0);
}

#[test]
fn a_warning_that_a_card_settles_is_told_once() {
    let (bench, first) = sealed();
    assert_eq!(read(&bench, &first, &[]).1, "new");
    // Another key under the same name.
    let other = Bench::with_workshop(NAME);
    other.put("heron");
    let sealed = other.seal("heron", "before_work", "work").code(0).json();
    fs::copy(other.path(text(&sealed, "file")), bench.path("other.json")).unwrap();
    let (code, state, _) = read(&bench, "other.json", &[]);
    assert_eq!((code, state.as_str()), (2, "other_key_for_name"));

    let typed = card(&other, "w");
    let (code, state, notices) = read(&bench, "other.json", &["--fingerprint", &typed]);
    assert_eq!((code, state.as_str()), (0, "known"));
    assert!(
        notices[0].starts_with("without the fingerprint that you typed: not the key you know: "),
        "{notices:?}"
    );
    let (code, _, notices) = read(&bench, "other.json", &[]);
    assert_eq!(code, 0);
    assert!(
        !notices.iter().any(|one| one.contains("that you typed")),
        "{notices:?}"
    );
}

/// The card is that of a key which the reader knows as somebody else's: it settles nothing of the name on the record.
#[test]
fn a_card_of_another_name_makes_no_second_name_known() {
    let (bench, first) = sealed();
    assert_eq!(read(&bench, &first, &[]).1, "new");
    let memory = bench.path("their/seen-keys.json");
    let kept = fs::read_to_string(&memory).unwrap();
    let renamed = kept.replacen(NAME, "Somebody Else", 1);
    assert_ne!(renamed, kept);
    fs::write(&memory, &renamed).unwrap();

    let old = card(&bench, "w");
    rotate(&bench);
    let second = seal_with_new(&bench);
    let keys = ["--keys", "w/keys/key-history.json"];
    let line = [&keys[..], &["--fingerprint", &old]].concat();
    let (code, state, _) = read(&bench, &second, &line);
    assert_eq!((code, state.as_str()), (2, "other_name_for_key"));
    let kept: Value = serde_json::from_slice(&fs::read(&memory).unwrap()).unwrap();
    assert_eq!(kept["keys"].as_array().unwrap().len(), 1, "{kept}");
}

/// The card settles who it is, whether or not there is room to remember it.
#[test]
fn a_full_memory_keeps_no_verdict_back() {
    let (bench, first) = sealed();
    assert_eq!(read(&bench, &first, &[]).1, "new");
    let memory = bench.path("their/seen-keys.json");
    let mut kept: Value = serde_json::from_slice(&fs::read(&memory).unwrap()).unwrap();
    let entry = kept["keys"][0].clone();
    // One key under as many other names as there is room for.
    let full = (0..20_000).map(|number| {
        let mut entry = entry.clone();
        entry["name"] = format!("somebody {number}").into();
        entry
    });
    kept["keys"] = full.collect();
    fs::write(&memory, serde_json::to_string(&kept).unwrap()).unwrap();
    let known = card(&bench, "w");
    let line = ["verify", &first, "--memory", "their", "--json"];
    let ran = bench.run(&[&line[..], &["--fingerprint", &known]].concat());
    let ran = ran.code(0);
    assert!(
        ran.err
            .contains("note: the key is not remembered: seen keys: 20001 entries")
            && !ran.err.contains("name another folder"),
        "{}",
        ran.err
    );
    assert_eq!(ran.json()["remembered"], false);
}
