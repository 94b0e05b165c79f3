//! Passphrase, changes that were cut short, backup and restore.

use super::*;

#[test]
fn a_passphrase_is_changed_and_the_old_file_stays_until_the_new_one_opens() {
    let (bench, _) = sealed();
    let path = bench.path("w/keys/signing-key.pem");
    let before = fs::read(&path).unwrap();
    let change = |old: &str, new: &str| {
        let line = ["key", "passphrase", "--passphrase-file", old];
        bench.work(&[&line[..], &["--new-passphrase-file", new]].concat())
    };
    fs::write(bench.path("empty.txt"), "\n").unwrap();
    change("new.txt", "pass.txt").code(1);
    change("pass.txt", "empty.txt").code(1);
    assert_eq!(fs::read(&path).unwrap(), before);

    // What a change that was killed in the middle leaves: half a file under its passing name.
    let half = bench.path("w/keys/temp-signing-key.pem");
    fs::write(&half, &before[..100]).unwrap();
    bench.seal("heron", "in_work", "work").code(0);
    fs::write(&half, &before[..100]).unwrap();
    change("pass.txt", "new.txt").code(0);
    assert!(!half.exists());
    let after = fs::read(&path).unwrap();
    assert_ne!(after, before);
    assert_eq!(
        fs::metadata(&path).unwrap().permissions().mode() & 0o777,
        0o600
    );
    bench.seal("heron", "in_work", "work").code(1);
    seal_with_new(&bench).code(0);
    assert_eq!(
        bench.work(&["store", "check", "--json"]).code(0).json()["notices"]
            .as_array()
            .unwrap()
            .len(),
        0
    );
}

/// The copy beside the card may be an older one: it is looked at, and nothing is added to it.
#[test]
fn a_history_that_is_gone_is_not_gone_on_with_from_a_copy() {
    let (bench, first) = sealed();
    fs::remove_file(bench.path("w/keys/key-history.json")).unwrap();
    bench.work(&["key", "show"]).code(0);
    bench.work(&["verify", &first]).code(0);
    let refused = bench.work(&ROTATE).code(1);
    assert!(
        refused
            .err
            .contains("hint: bring it back with `tangmark key restore DIR`"),
        "{}",
        refused.err
    );
}

/// A rotation that was cut short left a key file that nothing names: the old key goes on signing.
#[test]
fn a_rotation_that_was_cut_short_leaves_the_old_key_in_force() {
    let (bench, _) = sealed();
    let before = history(&bench);
    rotate(&bench);
    fs::write(bench.path("w/keys/key-history.json"), before).unwrap();
    bench.seal("heron", "in_work", "work").code(0);
    let shown = bench.work(&["key", "show"]).code(0);
    assert!(
        shown
            .err
            .contains("no entry of the history names the key in `signing-key-2.pem`"),
        "{}",
        shown.err
    );
    // Again, and this time to the end.
    let again = rotate(&bench);
    assert_eq!(text(&again, "file_name"), "signing-key-3.pem");
    seal_with_new(&bench).code(0);
}

#[test]
fn keys_are_backed_up_checked_and_brought_back() {
    let (bench, first) = sealed();
    rotate(&bench);
    let made = bench
        .work(&["key", "backup", "safe/keys", "--json"])
        .code(0)
        .json();
    assert_eq!(made["keys"].as_array().unwrap().len(), 2);
    let again = bench.work(&["key", "backup", "safe/keys"]).code(1);
    assert!(
        again.err.contains("exists already and is not empty"),
        "{}",
        again.err
    );
    let check = |more: &[&str]| {
        let line = ["key", "backup", "--check", "safe/keys", "--json"];
        bench.work(&[&line[..], more].concat())
    };
    let (new, old) = (
        ["--passphrase-file", "new.txt"],
        ["--old-passphrase-file", "pass.txt"],
    );
    let half = check(&new).code(1).json();
    let opened = |json: &Value| -> Vec<bool> {
        let keys = json["keys"].as_array().unwrap().iter();
        keys.map(|key| key["opened"].as_bool().unwrap()).collect()
    };
    assert_eq!(opened(&half), [false, true]);
    let whole = check(&[new, old].concat()).code(0).json();
    assert_eq!(
        (opened(&whole), whole["behind"].as_array().unwrap().len()),
        (vec![true, true], 0)
    );

    // Everything that belongs to keys is gone.
    fs::remove_dir_all(bench.path("w/keys")).unwrap();
    fs::remove_dir_all(bench.path("w/out/card")).unwrap();
    seal_with_new(&bench).code(1);
    bench.work(&["key", "restore", "safe/keys"]).code(0);
    bench.work(&["verify", &first]).code(0);
    seal_with_new(&bench).code(0);
    let nothing = bench
        .work(&["key", "restore", "safe/keys", "--json"])
        .code(0)
        .json();
    assert_eq!(nothing["written"].as_array().unwrap().len(), 0);

    // The index too.
    fs::remove_file(bench.path("w/workshop.db")).unwrap();
    fs::remove_file(bench.path("w/keys/signing-key.pem")).unwrap();
    bench.work(&["store", "rebuild"]).code(0);
    bench.work(&["key", "restore", "safe/keys"]).code(0);
    let shown = bench.work(&["key", "show", "--json"]).code(0).json();
    assert_eq!(
        (
            text(&shown, "name"),
            shown["terms"].as_array().unwrap().len()
        ),
        (NAME, 2)
    );
    bench.put("heron");
    bench.work(&["plugin", "approve", "--shipped"]).code(0);
    seal_with_new(&bench).code(0);

    // A file with other bytes is never written over, and then nothing is.
    fs::write(bench.path("w/keys/signing-key.pem"), "other").unwrap();
    fs::remove_file(bench.path("w/keys/signing-key-2.pem")).unwrap();
    let refused = bench.work(&["key", "restore", "safe/keys"]).code(1);
    assert!(
        refused.err.contains("other bytes than in the backup"),
        "{}",
        refused.err
    );
    assert!(!bench.path("w/keys/signing-key-2.pem").exists());
    fs::remove_file(bench.path("w/keys/signing-key.pem")).unwrap();
    bench.work(&["key", "restore", "safe/keys"]).code(0);

    // Behind the workshop, and damaged.
    let line = [
        "key",
        "rotate",
        "--reason",
        "again",
        "--passphrase-file",
        "new.txt",
    ];
    bench
        .work(&[&line[..], &["--new-passphrase-file", "new.txt", "--yes"]].concat())
        .code(0);
    let behind = check(&[new, old].concat()).code(1).json();
    assert_eq!(behind["behind"].as_array().unwrap().len(), 2);
    let path = bench.path("safe/keys/signing-key.pem");
    let mut bytes = fs::read(&path).unwrap();
    bytes[60] ^= 1;
    fs::write(&path, bytes).unwrap();
    let damaged = check(&new).code(1);
    assert!(damaged.err.contains("SHA-256 is "), "{}", damaged.err);
    bench.work(&["key", "restore", "safe/keys"]).code(1);
}
