//! What must not get lost on the way: a secret nobody saw, a history, a computer, a record's copy.

use std::fs::File;
use std::process::Stdio;

use super::*;

/// Sealed records of the blade `heron`.
fn records(bench: &Bench) -> u64 {
    let list = bench.work(&["blade", "list", "--json"]).code(0).json();
    let lines = list.as_array().unwrap();
    let line = lines.iter().find(|line| line["id"] == "heron").unwrap();
    line["records"].as_u64().unwrap()
}

#[test]
fn a_plugin_that_cannot_be_approved_keeps_the_secret_from_nobody() {
    let bench = Bench::new();
    let library = bench.path("plugins/libtangmark_custody.so");
    fs::remove_file(&library).unwrap();
    // Larger than any library that is looked at; the file takes no room.
    File::create(&library).unwrap().set_len(65 << 20).unwrap();
    let line = ["setup", "w", "--name", NAME];
    let made = bench
        .run(&[&line[..], &["--passphrase-file", "pass.txt"]].concat())
        .code(0);
    assert!(made.out.contains("\nrecovery secret: "), "{}", made.out);
    assert!(
        made.err
            .contains("note: the plugin `custody` is not approved: ")
            && !made.err.contains("was not found"),
        "{}",
        made.err
    );
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    assert_eq!(shown["from_copy"], false);
    assert!(bench.path("w/out/card/card.txt").exists());
    assert!(!bench.path("w/workshop.unfinished").exists());
}

#[test]
fn a_secret_that_nobody_saw_is_a_failure() {
    let bench = Bench::new();
    fs::write(bench.path("new.txt"), "seven dry stones\n").unwrap();
    let line = ["setup", "w", "--name", NAME];
    let mut child = bench
        .command(&[&line[..], &["--passphrase-file", "pass.txt"]].concat())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let told = |output: std::process::Output| {
        let err = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{err}");
        assert!(
            err.contains("nobody saw the recovery secret")
                && err.contains(
                    "hint: make a new recovery secret with `tangmark key rotate --new-recovery"
                ),
            "{err}"
        );
    };
    told(child.wait_with_output().unwrap());

    // What the hint names works, and tells the same of a disk without room.
    sleep(Duration::from_millis(1100));
    let line = [&["--workshop", "w"], &ROTATE[..], &["--new-recovery"]].concat();
    let full = || File::options().write(true).open("/dev/full").unwrap();
    told(bench.command(&line).stdout(full()).output().unwrap());
    sleep(Duration::from_millis(1100));
    let line: Vec<&str> = line
        .iter()
        .map(|word| if *word == "pass.txt" { "new.txt" } else { word })
        .collect();
    let rotated = bench.run(&line).code(0).json();
    sleep(Duration::from_millis(1100));
    let secret = text(&rotated, "recovery_secret");
    fs::write(bench.path("paper.txt"), format!("{secret}\n")).unwrap();
    let line = ["--workshop", "w", "key", "recover", "--reason", "lost"];
    let files = [
        "--recovery-file",
        "paper.txt",
        "--new-passphrase-file",
        "new.txt",
    ];
    let line = [&line[..], &files, &["--yes"]].concat();
    told(bench.command(&line).stdout(full()).output().unwrap());
}

/// The copy beside the card may name a key that was replaced since.
#[test]
fn nothing_is_sealed_without_the_history_itself() {
    let (bench, _) = sealed();
    let older = history(&bench);
    rotate(&bench);
    let newer = history(&bench);
    fs::remove_file(bench.path("w/keys/key-history.json")).unwrap();
    fs::write(bench.path("w/out/card/key-history.json"), older).unwrap();
    for ran in [
        bench.seal("heron", "in_work", "work"),
        seal_with_new(&bench),
        bench.work(&["report", "heron", "--passphrase-file", "pass.txt"]),
        bench.work(&["key", "card", "--passphrase-file", "pass.txt"]),
    ] {
        let ran = ran.code(1);
        assert!(
            ran.err.contains("keys/key-history.json: not there")
                && ran
                    .err
                    .contains("hint: bring it back with `tangmark key restore DIR`"),
            "{}",
            ran.err
        );
    }
    assert_eq!(records(&bench), 1);
    let checked = bench.work(&["store", "check"]).code(1);
    assert!(
        checked.err.contains("keys/key-history.json: not there"),
        "{}",
        checked.err
    );
    let shown = bench.work(&["key", "show"]).code(0);
    assert!(
        shown.err.contains("this is the copy in `out/card`"),
        "{}",
        shown.err
    );
    fs::write(bench.path("w/keys/key-history.json"), newer).unwrap();
    seal_with_new(&bench).code(0);
    assert_eq!(records(&bench), 2);
}

#[test]
fn a_copy_that_cannot_be_written_seals_nothing() {
    let (bench, first) = sealed();
    let seal = |out: &str| {
        let line = ["seal", "heron", "--for", "in_work", "--verdict", "work"];
        let words = ["--reason", "as planned", "--by", "A. Polisher", "--json"];
        let pass = ["--passphrase-file", "pass.txt", "--out", out];
        bench.work(&[&line[..], &words, &pass].concat())
    };
    seal("nowhere/copy.json").code(1);
    seal(&first).code(1);
    fs::write(bench.path("taken.json"), "mine").unwrap();
    let taken = seal("taken.json").code(1);
    assert!(taken.err.contains("it is not overwritten"), "{}", taken.err);
    assert_eq!(fs::read(bench.path("taken.json")).unwrap(), b"mine");
    assert_eq!(records(&bench), 1);

    let good = seal("copy.json").code(0).json();
    assert_eq!(
        (text(&good, "file"), &good["no_file"]),
        ("copy.json", &Value::Null)
    );
    let line = ["blade", "record", "heron", "--out", "again.json"];
    bench.work(&line).code(0);
    let read = |name: &str| fs::read(bench.path(name)).unwrap();
    assert_eq!(read("copy.json"), read("again.json"));
    let left = fs::read_dir(bench.folder.path()).unwrap();
    let mut names = left.map(|entry| entry.unwrap().file_name().into_string().unwrap());
    assert!(!names.any(|name| name.starts_with(".tangmark-")));
}

/// The index is made anew and lists no keys: what the records say of their signer is all there is.
#[test]
fn an_older_backup_does_not_fork_the_history_of_a_rebuilt_workshop() {
    let (bench, _) = sealed();
    bench.work(&["key", "backup", "old-safe"]).code(0);
    let newer = text(&rotate(&bench), "fingerprint").to_owned();
    seal_with_new(&bench).code(0);
    bench.work(&["key", "backup", "safe"]).code(0);
    fs::remove_file(bench.path("w/workshop.db")).unwrap();
    fs::remove_dir_all(bench.path("w/keys")).unwrap();
    fs::create_dir(bench.path("w/keys")).unwrap();
    fs::remove_dir_all(bench.path("w/out/card")).unwrap();
    bench.work(&["store", "rebuild"]).code(0);
    let refused = bench.work(&["key", "restore", "old-safe"]).code(1);
    assert!(
        refused.err.contains(&newer)
            && refused.err.contains("the backup is older than that key")
            && refused.err.contains("hint: use another backup; ")
            && refused.err.contains("`--not-mine`"),
        "{}",
        refused.err
    );
    assert!(!bench.path("w/keys/key-history.json").exists());
    // Whoever knows that the key is a stranger's says so with its fingerprint, and with no other one.
    let line =
        |fingerprint: &'static str| ["key", "restore", "old-safe", "--not-mine", fingerprint];
    bench.work(&line("AAAAA-AAAAA-AAAAA-AAAAA")).code(1);
    bench.work(&line("nonsense")).code(1);
    bench
        .work(&["key", "restore", "old-safe", "--not-mine", &newer])
        .code(0);
    // The newer backup goes on where the older one ends.
    bench.work(&["key", "restore", "safe"]).code(0);
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    assert_eq!(text(&shown, "fingerprint"), newer);
}

#[test]
fn a_backup_makes_the_workshop_again_where_the_computer_is_gone() {
    let (bench, first) = sealed();
    rotate(&bench);
    bench.work(&["key", "backup", "safe/keys"]).code(0);
    let before = bench.work(&["key", "show", "--json"]).code(0).json();
    fs::rename(bench.path("w"), bench.path("gone")).unwrap();
    let restore = ["key", "restore", "safe/keys"];

    let nowhere = bench.run(&restore).code(1);
    assert!(
        nowhere.err.contains("a new or empty one"),
        "{}",
        nowhere.err
    );
    fs::create_dir(bench.path("w")).unwrap();
    let made = bench
        .work(&[&restore[..], &["--json"]].concat())
        .code(0)
        .json();
    assert_eq!(made["made"], true);
    let after = bench.work(&["key", "show", "--json"]).code(0).json();
    assert_eq!(after, before);
    assert_eq!(
        fs::metadata(bench.path("w/keys/signing-key-2.pem"))
            .unwrap()
            .permissions()
            .mode()
            & 0o777,
        0o600
    );
    let again = bench
        .work(&[&restore[..], &["--json"]].concat())
        .code(0)
        .json();
    assert_eq!(
        (&again["made"], &again["written"]),
        (&Value::from(false), &serde_json::json!([]))
    );
    bench.work(&["plugin", "approve", "--shipped"]).code(0);
    let card = ["key", "card", "--passphrase-file", "new.txt"];
    bench.work(&card).code(0);
    bench
        .work(&["verify", &first.replacen("w/", "gone/", 1)])
        .code(0);
    bench.put("heron");
    seal_with_new(&bench).code(0);
    bench.work(&["store", "check"]).code(0);

    // Beside something else nothing is made.
    fs::create_dir(bench.path("letters")).unwrap();
    fs::write(bench.path("letters/one.txt"), "mine").unwrap();
    bench
        .run(&[&["--workshop", "letters"], &restore[..]].concat())
        .code(1);
    assert_eq!(fs::read_dir(bench.path("letters")).unwrap().count(), 1);
    // Nor over a damaged backup.
    fs::write(bench.path("safe/keys/card.txt"), "other").unwrap();
    bench
        .run(&[&["--workshop", "never"], &restore[..]].concat())
        .code(1);
    assert!(!bench.path("never").exists());
}

#[test]
fn a_backup_of_another_workshop_is_told_by_its_keys() {
    let bench = Bench::with_workshop(NAME);
    let line = [
        "setup",
        "v",
        "--name",
        NAME,
        "--passphrase-file",
        "pass.txt",
    ];
    bench.run(&line).code(0);
    bench
        .run(&["--workshop", "v", "key", "backup", "safe"])
        .code(0);
    for name in [
        "keys/key-history.json",
        "keys/signing-key.pem",
        "out/card/key-history.json",
    ] {
        fs::remove_file(bench.path("w").join(name)).unwrap();
    }
    let refused = bench.work(&["key", "restore", "safe"]).code(1);
    assert!(
        refused
            .err
            .contains("in `signing-key.pem`, the index of the workshop has the key ")
            && refused.err.contains("hint: use a backup of this workshop"),
        "{}",
        refused.err
    );
    assert!(!bench.path("w/keys/signing-key.pem").exists());
}

#[test]
fn a_backup_without_a_key_that_is_lost_is_whole() {
    let (bench, _) = sealed();
    rotate(&bench);
    fs::remove_file(bench.path("w/keys/signing-key.pem")).unwrap();
    bench.work(&["key", "backup", "safe"]).code(0);
    let line = ["key", "backup", "--check", "safe", "--json"];
    let checked = bench.work(&[&line[..], &["--passphrase-file", "new.txt"]].concat());
    assert_eq!(checked.code(0).json()["behind"], serde_json::json!([]));
}

#[test]
fn a_card_elsewhere_is_written_over_nothing() {
    let (bench, _) = sealed();
    fs::create_dir(bench.path("printer")).unwrap();
    fs::write(bench.path("printer/card.txt"), "of another workshop").unwrap();
    let card = |out: &str| {
        let line = ["key", "card", "--passphrase-file", "pass.txt"];
        bench.work(&[&line[..], &["--out", out]].concat())
    };
    let refused = card("printer").code(1);
    assert!(
        refused
            .err
            .contains("printer/card.txt is there with other content")
            && refused.err.contains("hint: name a new folder"),
        "{}",
        refused.err
    );
    assert_eq!(fs::read_dir(bench.path("printer")).unwrap().count(), 1);
    card("shop").code(0);
    card("shop").code(0);
    // Named, the workshop's own place is its own place still.
    fs::write(bench.path("w/out/card/card.txt"), "spoilt").unwrap();
    card("w/out/card").code(0);
    let read = |name: &str| fs::read(bench.path(name)).unwrap();
    assert_eq!(read("w/out/card/card.txt"), read("shop/card.txt"));
}

#[test]
fn a_key_is_named_as_typed_from_a_card_and_revoked_once() {
    let (bench, secret, _) = with_secret();
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    let typed = text(&shown, "fingerprint").replace('-', "").to_lowercase();
    let since = "2020-01-01T00:00:00Z";
    let line = [
        "key", "revoke", &typed, "--since", since, "--reason", "sold",
    ];
    bench
        .work(&[&line[..], &["--passphrase-file", "pass.txt", "--yes"]].concat())
        .code(0);
    let before = history(&bench);
    sleep(Duration::from_millis(1100));
    let twice = recover(&bench, &secret, &["--stolen-since", "2019-01-01T00:00:00Z"]).code(1);
    assert!(
        twice
            .err
            .contains(&format!("is revoked since {since} already"))
            && twice.err.contains("hint: leave `--stolen-since` out"),
        "{}",
        twice.err
    );
    assert_eq!(history(&bench), before);
    recover(&bench, &secret, &[]).code(0);
    seal_with_new(&bench).code(0);
}
