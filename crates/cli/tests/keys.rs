//! Keys over the years, through the built command: a new key, a stolen one, copies, what others remember.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;
#[path = "keys/copies.rs"]
mod copies;
#[path = "keys/lost.rs"]
mod lost;

use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::thread::sleep;
use std::time::Duration;

use common::{Bench, text};
use serde_json::Value;

const NAME: &str = "Reedbank Polishing";

/// A workshop with a passphrase file for a later key, and one sealed record; returns the record's file too.
fn sealed() -> (Bench, String) {
    let bench = Bench::with_workshop(NAME);
    fs::write(bench.path("new.txt"), "seven dry stones\n").unwrap();
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let file = text(&sealed, "file").to_owned();
    (bench, file)
}

/// Seals with the passphrase of the later key.
fn seal_with_new(bench: &Bench) -> common::Ran {
    let words = ["--reason", "as planned", "--by", "A. Polisher"];
    let secret = ["--passphrase-file", "new.txt", "--json"];
    let line = ["seal", "heron", "--for", "in_work", "--verdict", "work"];
    bench.work(&[&line[..], &words, &secret].concat())
}

const ROTATE: [&str; 10] = [
    "key",
    "rotate",
    "--reason",
    "every three years",
    "--passphrase-file",
    "pass.txt",
    "--new-passphrase-file",
    "new.txt",
    "--yes",
    "--json",
];

fn rotate(bench: &Bench) -> Value {
    bench.work(&ROTATE).code(0).json()
}

/// What a stranger with a memory of their own finds.
fn stranger(bench: &Bench, arguments: &[&str]) -> (i32, String) {
    let line = [&["verify"], arguments, &["--memory", "their", "--json"]].concat();
    let ran = bench.run(&line);
    let json = ran.json();
    assert_eq!(json["exit_code"], ran.code);
    (ran.code, text(&json["signer"], "state").to_owned())
}

fn state(code: i32, name: &str) -> (i32, String) {
    (code, name.to_owned())
}

fn history(bench: &Bench) -> String {
    fs::read_to_string(bench.path("w/keys/key-history.json")).unwrap()
}

/// Case 29.
#[test]
fn case_29_records_chain_across_a_rotation_and_readers_follow() {
    let (bench, first) = sealed();
    assert_eq!(stranger(&bench, &[&first]), state(2, "new"));
    assert_eq!(stranger(&bench, &[&first]), state(0, "known"));

    let rotated = rotate(&bench);
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    let terms = shown["terms"].as_array().unwrap();
    assert_eq!(terms.len(), 2);
    assert_eq!(terms[0]["until"], terms[1]["from"]);
    assert_eq!(terms[1]["fingerprint"], rotated["fingerprint"]);
    assert_eq!(terms[1]["named_by"], "rotation");
    let card = fs::read_to_string(bench.path("w/out/card/card.txt")).unwrap();
    assert!(card.contains(text(&rotated, "fingerprint")), "{card}");
    let copy = fs::read_to_string(bench.path("w/out/card/key-history.json")).unwrap();
    assert_eq!(copy, history(&bench));
    let table = bench.work(&["key", "show"]).code(0).out;
    assert!(
        table.contains("in force") && table.contains("every three years"),
        "{table}"
    );

    // The old passphrase opens nothing any more; the new key goes on in the same chain.
    let old = bench.seal("heron", "in_work", "work").code(1);
    assert!(
        old.err.contains("cannot be opened with this passphrase"),
        "{}",
        old.err
    );
    let second = seal_with_new(&bench).code(0).json();
    let second = text(&second, "file").to_owned();
    let own = bench
        .work(&["verify", &second, "--with", &first, "--json"])
        .code(0)
        .json();
    assert_eq!(own["signer"]["state"], "own");
    assert_eq!(own["completeness"]["broken"], Value::Null);
    assert_eq!(own["completeness"]["other_keys"], 0);
    let before = bench.work(&["verify", &first, "--json"]).code(0).json();
    assert_eq!(before["signer"]["state"], "own");

    // A reader who met the old key.
    let quiet = "--no-remember";
    assert_eq!(
        stranger(&bench, &[&second, quiet]),
        state(2, "other_key_for_name")
    );
    let keys = "w/out/card/key-history.json";
    let (one, also) = (["--keys", keys], ["--keys", keys, quiet]);
    let with = |more: &[&'static str]| {
        let line: Vec<&str> = [&[second.as_str()], more].concat();
        stranger(&bench, &line)
    };
    assert_eq!(with(&also), state(0, "succeeded"));
    assert_eq!(with(&[quiet]), state(2, "other_key_for_name"));
    // Remembered, the history need not be handed in again.
    assert_eq!(with(&one), state(0, "succeeded"));
    assert_eq!(with(&[]), state(0, "succeeded"));
    assert_eq!(stranger(&bench, &[&first]), state(0, "known"));
}

#[test]
fn case_23_a_rotation_waits_for_a_second_in_which_nothing_was_sealed() {
    let (bench, first) = sealed();
    rotate(&bench);
    // Sealed and rotated as fast as it goes: the record is within the time of its key all the same.
    let own = bench.work(&["verify", &first, "--json"]).code(0).json();
    assert_eq!(own["signer"]["state"], "own");
}

/// A workshop whose key was stolen, and the record it sealed before; its recovery secret.
fn with_secret() -> (Bench, String, String) {
    let bench = Bench::new();
    fs::write(bench.path("new.txt"), "seven dry stones\n").unwrap();
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
        .find_map(|line| line.strip_prefix("recovery secret: "));
    let secret = secret.unwrap().to_owned();
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let file = text(&sealed, "file").to_owned();
    (bench, secret, file)
}

fn recover(bench: &Bench, secret: &str, more: &[&str]) -> common::Ran {
    fs::write(bench.path("paper.txt"), format!("{secret}\n")).unwrap();
    let line = [
        "key",
        "recover",
        "--reason",
        "laptop stolen",
        "--recovery-file",
        "paper.txt",
    ];
    let rest = ["--new-passphrase-file", "new.txt", "--yes", "--json"];
    bench.work(&[&line[..], &rest, more].concat())
}

/// Case 30.
#[test]
fn case_30_a_stolen_key_is_revoked_and_the_paper_key_goes_on() {
    let (bench, secret, first) = with_secret();
    assert_eq!(stranger(&bench, &[&first]), state(2, "new"));
    sleep(Duration::from_millis(1100));
    let issued = bench.run(&["verify", &first, "--json"]).json();
    let issued = text(&issued["time"], "stated").to_owned();
    let wrong = recover(&bench, "A4DQO-BYHA4-DQOBY-HA4DQ-OBYHA-4KBM3-SG", &[]).code(1);
    assert!(
        wrong
            .err
            .contains("this recovery secret gives the digest 8d7db4ec"),
        "{}",
        wrong.err
    );
    let typo = recover(&bench, &secret.replacen('-', "-B", 1), &[]).code(1);
    assert!(
        typo.err.contains("hint: compare with the paper"),
        "{}",
        typo.err
    );

    // Stolen after the record was sealed: only its own word makes it older.
    let since = later(&issued);
    let recovered = recover(&bench, &secret, &["--stolen-since", &since])
        .code(0)
        .json();
    assert_eq!(text(&recovered, "revoked_since"), since);
    assert_ne!(text(&recovered, "recovery_secret"), secret);
    let keys = ["--keys", "w/out/card/key-history.json"];
    let line = [&[first.as_str()], &keys[..]].concat();
    assert_eq!(stranger(&bench, &line), state(2, "revoked_unproved"));
    let own = bench.work(&["verify", &first, "--json"]).code(2).json();
    assert_eq!(own["signer"]["state"], "revoked_unproved");

    let second = seal_with_new(&bench).code(0).json();
    let line = [&[text(&second, "file")], &keys[..]].concat();
    assert_eq!(stranger(&bench, &line), state(2, "recovered"));
    bench.work(&["verify", text(&second, "file")]).code(0);

    // A key file that is gone with the laptop is told, and nothing is wrong about that.
    fs::remove_file(bench.path("w/keys/signing-key.pem")).unwrap();
    let checked = bench.work(&["store", "check"]).code(0);
    assert!(
        checked
            .err
            .contains("nothing is signed with that key any more"),
        "{}",
        checked.err
    );

    // The first paper is spent, the second one works.
    let spent = recover(&bench, &secret, &[]).code(1);
    assert!(
        spent.err.contains("the older one is spent"),
        "{}",
        spent.err
    );
    recover(&bench, text(&recovered, "recovery_secret"), &[]).code(0);
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    assert_eq!(shown["terms"].as_array().unwrap().len(), 3);
}

/// The second after.
fn later(time: &str) -> String {
    let time: jiff::Timestamp = time.parse().unwrap();
    (time + jiff::SignedDuration::from_secs(1)).to_string()
}

#[test]
fn case_30_what_a_revoked_key_states_since_then_is_rejected() {
    let (bench, first) = sealed();
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    let old = text(&shown, "fingerprint").to_owned();
    rotate(&bench);
    let revoke = |key: &str, since: &str, more: &[&str]| {
        let line = [
            "key",
            "revoke",
            key,
            "--since",
            since,
            "--reason",
            "old disk sold",
        ];
        bench.work(&[&line[..], &["--passphrase-file", "new.txt"], more].concat())
    };
    let asked = revoke(&old, "2026-01-01T00:00:00Z", &[]).code(1);
    assert!(
        asked.err.contains("Nothing was done") && asked.err.contains("`--yes`"),
        "{}",
        asked.err
    );
    let nobody = revoke(
        "AAAAA-AAAAA-AAAAA-AAAAA",
        "2026-01-01T00:00:00Z",
        &["--yes"],
    )
    .code(1);
    assert!(
        nobody.err.contains("no key of this workshop"),
        "{}",
        nobody.err
    );
    let future = revoke(&old, "2999-01-01T00:00:00Z", &["--yes"]).code(1);
    assert!(
        future.err.contains("(when it was revoked) allowed"),
        "{}",
        future.err
    );
    let before = history(&bench);
    revoke(&old, "2020-01-01T00:00:00Z", &["--yes"]).code(0);
    assert_ne!(history(&bench), before);
    let own = bench.work(&["verify", &first, "--json"]).code(1).json();
    assert_eq!(
        (text(&own["bytes"], "state"), text(&own["signer"], "state")),
        ("intact", "revoked")
    );
    // What is rejected is nobody to be known later, whatever the card says.
    let keys = "w/keys/key-history.json";
    let line = [&first, "--keys", keys, "--fingerprint", &old];
    assert_eq!(stranger(&bench, &line), state(1, "revoked"));
    let known = bench
        .run(&["key", "known", "--memory", "their", "--json"])
        .code(0)
        .json();
    assert_eq!(known["keys"], serde_json::json!([]));
    assert_eq!(known["in_histories"][0]["fingerprint"], old);
    let twice = revoke(&old, "2020-01-01T00:00:00Z", &["--yes"]).code(1);
    assert!(twice.err.contains("a key is revoked once"), "{}", twice.err);

    // The key in force, by itself: nothing more is sealed.
    let new = bench.work(&["key", "show", "--json"]).code(0).json();
    revoke(
        text(&new, "fingerprint"),
        "2020-01-01T00:00:00Z",
        &["--yes"],
    )
    .code(0);
    let barred = seal_with_new(&bench).code(1);
    assert!(
        barred
            .err
            .contains("hint: name a new key with `tangmark key recover`"),
        "{}",
        barred.err
    );
}

/// Case 31: the folder was copied, and each copy named another successor.
#[test]
fn case_31_two_histories_are_told_and_remembered() {
    let (bench, first) = sealed();
    stranger(&bench, &[&first]);
    copy(&bench.path("w"), &bench.path("copy"));
    rotate(&bench);
    bench
        .run(&[&["--workshop", "copy"], &ROTATE[..]].concat())
        .code(0);
    let mine = ["--keys", "w/keys/key-history.json"];
    let theirs = ["--keys", "copy/keys/key-history.json"];
    let line = |more: &[&'static str]| {
        let line: Vec<&str> = [&[first.as_str()], more].concat();
        stranger(&bench, &line)
    };
    assert_eq!(line(&mine), state(0, "known"));
    let known = bench
        .run(&["key", "known", "--memory", "their", "--json"])
        .code(0)
        .json();
    assert_eq!(
        (
            &known["keys"][0]["fork"],
            &known["keys"][0]["keys_in_history"]
        ),
        (&Value::from(false), &Value::from(2))
    );
    assert_eq!(line(&theirs), state(1, "two_histories"));
    // From now on without any.
    assert_eq!(line(&[]), state(1, "two_histories"));
    let known = bench.run(&["key", "known", "--memory", "their"]).code(0);
    assert!(
        known.out.contains("two key histories that disagree"),
        "{}",
        known.out
    );
    // The workshop itself notices a history that is not its own.
    let own = bench
        .work(&["verify", &first, "--keys", theirs[1], "--json"])
        .code(1)
        .json();
    assert_eq!(own["signer"]["state"], "two_histories");

    // Forgetting asks, and then everything is new again.
    let asked = bench
        .run(&["key", "known", "forget", NAME, "--memory", "their"])
        .code(1);
    assert!(asked.err.contains("`--yes`"), "{}", asked.err);
    bench
        .run(&["key", "known", "forget", NAME, "--yes", "--memory", "their"])
        .code(0);
    assert_eq!(line(&["--no-remember"]), state(2, "new"));
    let gone = bench
        .run(&["key", "known", "forget", NAME, "--yes", "--memory", "their"])
        .code(1);
    assert!(
        gone.err.contains("hint: list what is remembered"),
        "{}",
        gone.err
    );
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, &target).unwrap();
        }
    }
}

#[test]
fn a_history_that_was_changed_is_refused_and_named() {
    let (bench, first) = sealed();
    rotate(&bench);
    let text = history(&bench);
    fs::write(
        bench.path("changed.json"),
        text.replacen("every three", "every seven", 1),
    )
    .unwrap();
    let refused = bench
        .run(&[
            "verify",
            &first,
            "--keys",
            "changed.json",
            "--memory",
            "their",
        ])
        .code(3);
    assert!(
        refused
            .err
            .starts_with("error: changed.json: key history: entry 2: "),
        "{}",
        refused.err
    );
    assert!(
        refused
            .err
            .contains("\nhint: ask the workshop for its key history again"),
        "{}",
        refused.err
    );
    assert!(!bench.path("their").exists());
    // One's own, too: nothing is signed beside a history that does not hold.
    fs::write(
        bench.path("w/keys/key-history.json"),
        text.replacen("every three", "every seven", 1),
    )
    .unwrap();
    seal_with_new(&bench).code(1);
    let checked = bench.work(&["store", "check"]).code(1);
    assert!(
        checked
            .err
            .contains("key-history.json: key history: entry 2: ")
            && checked.err.contains("tangmark key restore"),
        "{}",
        checked.err
    );
}

#[test]
fn nothing_is_changed_for_good_without_a_yes_or_with_a_wrong_passphrase() {
    let (bench, _) = sealed();
    let before = history(&bench);
    let line: Vec<&str> = ROTATE
        .iter()
        .copied()
        .filter(|word| *word != "--yes")
        .collect();
    let asked = bench.work(&line).code(1);
    assert!(
        asked.err.contains("hint: give `--yes` if you are sure"),
        "{}",
        asked.err
    );
    let wrong = ROTATE.map(|word| if word == "pass.txt" { "new.txt" } else { word });
    bench.work(&wrong).code(1);
    let blank = ROTATE.map(|word| {
        if word == "every three years" {
            " "
        } else {
            word
        }
    });
    bench.work(&blank).code(4);
    let stdin = ROTATE.map(|word| match word.rsplit_once('.') {
        Some((_, "txt")) => "-",
        _ => word,
    });
    let both = bench.work(&stdin).code(4);
    assert!(both.err.contains("one is allowed"), "{}", both.err);
    assert_eq!(history(&bench), before);
    let keys = fs::read_dir(bench.path("w/keys")).unwrap().count();
    assert_eq!(keys, 3, "the key, its history and the lock");
}

#[test]
fn a_fingerprint_that_is_typed_is_compared_and_the_key_is_known() {
    let (bench, first) = sealed();
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    let fingerprint = text(&shown, "fingerprint").to_lowercase();
    let other = [
        "verify",
        &first,
        "--memory",
        "their",
        "--fingerprint",
        "AAAAA-AAAAA-AAAAA-AAAAA",
    ];
    let refused = bench.run(&other).code(3);
    assert!(
        refused
            .err
            .contains("AAAAA-AAAAA-AAAAA-AAAAA was asked for"),
        "{}",
        refused.err
    );
    let none = bench
        .run(&["verify", &first, "--fingerprint", "nonsense"])
        .code(3);
    assert!(
        none.err.contains("20 characters A-Z and 2-7"),
        "{}",
        none.err
    );
    assert_eq!(
        stranger(&bench, &[&first, "--no-remember"]),
        state(2, "new")
    );
    let line = [&first, "--fingerprint", &fingerprint];
    assert_eq!(stranger(&bench, &line), state(0, "known"));
    assert_eq!(stranger(&bench, &[&first]), state(0, "known"));

    // The paper key's successor is confirmed once.
    let (bench, secret, _) = with_secret();
    let recovered = recover(&bench, &secret, &[]).code(0).json();
    let second = seal_with_new(&bench).code(0).json();
    let line = [
        text(&second, "file"),
        "--fingerprint",
        text(&recovered, "fingerprint"),
    ];
    assert_eq!(stranger(&bench, &line), state(0, "known"));
}

/// The card is older than the file.
#[test]
fn a_card_of_an_earlier_key_is_enough_with_the_history() {
    let (bench, first) = sealed();
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    let old = text(&shown, "fingerprint").to_owned();
    let new = text(&rotate(&bench), "fingerprint").to_owned();
    let second = seal_with_new(&bench).code(0).json();
    let second = text(&second, "file");
    let card = ["--fingerprint", old.as_str()];
    let line = [&["verify", second, "--memory", "their"], &card[..]].concat();
    let refused = bench.run(&line).code(3);
    assert!(refused.err.contains("`--keys FILE`"), "{}", refused.err);
    let keys = ["--keys", "w/keys/key-history.json"];
    let line = [&[second], &card[..], &keys].concat();
    assert_eq!(stranger(&bench, &line), state(0, "succeeded"));
    // Both are known from now on: the one by the card, the other by the history.
    assert_eq!(stranger(&bench, &[&first]), state(0, "known"));
    assert_eq!(stranger(&bench, &[second]), state(0, "succeeded"));

    // The later key is listed, and stays as long as the earlier one is remembered: so does what the history says of it.
    let memory = ["--memory", "their"];
    let known = bench
        .run(&[&["key", "known"], &memory[..]].concat())
        .code(0);
    assert!(known.out.contains(&new), "{}", known.out);
    let line = [&["key", "known", "forget", &new, "--yes"], &memory[..]].concat();
    let kept = bench.run(&line).code(1);
    assert!(
        kept.err
            .contains("hint: forget that key, listed by `tangmark key known`"),
        "{}",
        kept.err
    );
    assert_eq!(stranger(&bench, &[second]), state(0, "succeeded"));
    // As typed from a card, without hyphens.
    let typed = old.replace('-', "").to_lowercase();
    let line = [&["key", "known", "forget", &typed, "--yes"], &memory[..]].concat();
    let gone = bench.run(&line).code(0);
    assert_eq!(
        gone.out.lines().last(),
        Some("forgot the key history that names it"),
        "{}",
        gone.out
    );
    assert_eq!(
        stranger(&bench, &[second, "--no-remember"]),
        state(2, "new")
    );
    bench.run(&line).code(1);
}

#[test]
fn a_lost_paper_is_replaced_by_a_rotation() {
    let (bench, secret, _) = with_secret();
    let rotated = bench
        .work(&[&ROTATE[..], &["--new-recovery"]].concat())
        .code(0)
        .json();
    let spent = recover(&bench, &secret, &[]).code(1);
    assert!(
        spent.err.contains("the older one is spent"),
        "{}",
        spent.err
    );
    sleep(Duration::from_millis(1100));
    let recovered = recover(&bench, text(&rotated, "recovery_secret"), &[])
        .code(0)
        .json();
    assert_ne!(recovered["recovery_secret"], rotated["recovery_secret"]);
}

#[test]
fn a_card_is_written_anew() {
    let (bench, _) = sealed();
    fs::remove_dir_all(bench.path("w/out/card")).unwrap();
    let line = ["key", "card", "--passphrase-file", "pass.txt"];
    bench.work(&line).code(0);
    bench
        .work(&[&line[..], &["--out", "printer"]].concat())
        .code(0);
    for name in ["card.txt", "certificate.pem", "key-history.json"] {
        let (one, two) = (
            bench.path("w/out/card").join(name),
            bench.path("printer").join(name),
        );
        assert_eq!(fs::read(one).unwrap(), fs::read(two).unwrap(), "{name}");
    }
}

#[test]
fn a_backup_older_than_a_key_that_sealed_is_refused() {
    let (bench, _) = sealed();
    bench.work(&["key", "backup", "old-safe"]).code(0);
    rotate(&bench);
    seal_with_new(&bench).code(0);
    bench.work(&["key", "backup", "safe"]).code(0);
    fs::remove_file(bench.path("w/keys/key-history.json")).unwrap();
    fs::remove_dir_all(bench.path("w/out/card")).unwrap();
    let refused = bench.work(&["key", "restore", "old-safe"]).code(1);
    assert!(
        refused.err.contains("the backup is older than that key")
            && refused.err.contains("hint: use another backup"),
        "{}",
        refused.err
    );
    assert!(!bench.path("w/keys/key-history.json").exists());
    bench.work(&["key", "restore", "safe"]).code(0);
}

#[test]
fn no_card_offers_a_revoked_key_and_a_card_that_cannot_be_written_is_told() {
    let revoke = |bench: &Bench, key: &str| {
        let line = ["key", "revoke", key, "--since", "2020-01-01T00:00:00Z"];
        let words = ["--reason", "disk sold", "--yes"];
        let pass = ["--passphrase-file", "pass.txt"];
        bench.work(&[&line[..], &words, &pass].concat()).code(0)
    };
    let (bench, _) = sealed();
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    assert!(bench.path("w/out/card/card.txt").exists());
    revoke(&bench, text(&shown, "fingerprint"));
    assert!(!bench.path("w/out/card/card.txt").exists());
    assert!(!bench.path("w/out/card/certificate.pem").exists());
    let handed_out = fs::read_to_string(bench.path("w/out/card/key-history.json")).unwrap();
    assert_eq!(handed_out, history(&bench));

    let (bench, _) = sealed();
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    fs::remove_dir_all(bench.path("w/out/card")).unwrap();
    fs::write(bench.path("w/out/card"), "in the way").unwrap();
    let told = revoke(&bench, text(&shown, "fingerprint"));
    assert!(
        told.err.contains("is revoked since") && told.err.contains("is not up to date"),
        "{}",
        told.err
    );
}

#[test]
fn a_rotation_waits_for_whoever_holds_the_keys() {
    let (bench, _) = sealed();
    let before = history(&bench);
    let lock = fs::OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(bench.path("w/keys/lock"))
        .unwrap();
    lock.lock().unwrap();
    let mut child = bench
        .command(&[&["--workshop", "w"], &ROTATE[..]].concat())
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    sleep(Duration::from_secs(4));
    assert!(child.try_wait().unwrap().is_none());
    assert_eq!(history(&bench), before);
    drop(lock);
    assert!(child.wait().unwrap().success());
    assert_ne!(history(&bench), before);
    let checked = bench.work(&["store", "check"]).code(0);
    assert!(!checked.err.contains("lock"), "{}", checked.err);
}
