//! Handing a blade over and receiving it, through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::path::Path;

use common::{Bench, Ran, text};
use serde_json::Value;

/// The fingerprint on the card of a workshop.
fn card(bench: &Bench, workshop: &str) -> String {
    let card = fs::read_to_string(bench.path(workshop).join("out/card/card.txt")).unwrap();
    let line = card.lines().map(str::trim);
    let mut found = line.filter(|line| line.len() == 23 && line.matches('-').count() == 3);
    found.next().expect("a fingerprint").to_owned()
}

/// Two more workshops beside `w`.
fn three(name: &str) -> Bench {
    let bench = Bench::with_workshop(name);
    for (folder, name) in [("b", "Bellmoor Edges"), ("c", "Crane Lane Polishing")] {
        let words = ["--name", name, "--passphrase-file", "pass.txt"];
        bench
            .run(&[&["setup", folder][..], &words].concat())
            .code(0);
    }
    bench
}

/// Seals a first record of heron in `w`.
fn sealed() -> Bench {
    let bench = three("Reedbank Polishing");
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    bench
}

fn give(bench: &Bench, workshop: &str, blade: &str, more: &[&str]) -> Ran {
    let start = ["--workshop", workshop, "handover", blade];
    let pass = ["--passphrase-file", "pass.txt"];
    bench.run(&[&start[..], &pass, more].concat())
}

fn receive(bench: &Bench, workshop: &str, package: &str, more: &[&str]) -> Ran {
    let memory = format!("memory-{workshop}");
    let start = ["--workshop", workshop, "handover", "receive", package];
    bench.run(&[&start[..], &["--memory", &memory, "--yes"], more].concat())
}

fn verify(bench: &Bench, memory: &str, package: &str) -> Ran {
    bench.run(&["verify", package, "--memory", memory, "--json"])
}

fn states(list: &Value) -> Vec<&str> {
    list.as_object()
        .unwrap()
        .values()
        .map(|one| text(one, "state"))
        .collect()
}

fn every_file(folder: &Path, found: &mut Vec<(String, Vec<u8>)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            every_file(&path, found);
        } else {
            found.push((path.display().to_string(), fs::read(&path).unwrap()));
        }
    }
}

#[test]
fn a_package_is_made_and_judged() {
    let bench = sealed();
    let told = give(&bench, "w", "heron", &["--dry-run"]).code(0);
    for words in [
        "nothing is written; this would go in:",
        "heron-01-before_work.pdf of record 1, to be made",
        "shown, though withheld from others:\n  nothing\n",
        "  record 1: ",
        &card(&bench, "w"),
    ] {
        assert!(told.out.contains(words), "`{words}` in\n{}", told.out);
    }
    assert!(!bench.path("w/out/heron-handover").exists());
    give(&bench, "w", "heron", &["--json"]).code(0);
    give(&bench, "w", "heron", &["--zip", "--out", "heron.zip"]).code(0);
    for package in ["w/out/heron-handover", "heron.zip"] {
        let verdict = verify(&bench, "nobody", package).code(2).json();
        assert_eq!(verdict["refused"], Value::Null);
        assert_eq!(states(&verdict["records"]), ["intact"]);
        assert_eq!(text(&verdict["chain"], "state"), "whole");
        assert_eq!(states(&verdict["photos"]), ["original", "original"]);
        assert_eq!(states(&verdict["reports"]), ["unaltered"]);
        assert_eq!(states(&verdict["keys"]), ["fits"]);
        assert_eq!(verdict["schema"], "fits");
        for list in ["changed", "missing", "unlisted", "not_looked_at"] {
            assert_eq!(verdict["bag"][list], serde_json::json!([]), "{list}");
        }
        // The same without JSON, as the workshop itself.
        let own = bench.work(&["verify", package, "--no-remember"]);
        assert!(
            own.out.contains("own key: sealed in this workshop"),
            "{}",
            own.out
        );
        assert!(own.out.contains("chain: whole"), "{}", own.out);
    }
    // What is for a single file is refused, and the newest record has its next steps.
    for word in ["--timestamp", "--with"] {
        let refused = bench.run(&["verify", "heron.zip", word, "a.file"]).code(3);
        let told = format!("`{word}` is for a record or a report");
        assert!(refused.err.contains(&told), "{}", refused.err);
        assert!(
            refused.err.contains("hint: verify a record of it"),
            "{}",
            refused.err
        );
    }
    let told = bench
        .run(&["verify", "heron.zip", "--memory", "nobody"])
        .code(2);
    let step = "next step: compare all twenty characters of ";
    assert!(told.out.contains(step), "{}", told.out);
    // A second time there is something already.
    let again = give(&bench, "w", "heron", &[]).code(1);
    assert!(again.err.contains("exists already"), "{}", again.err);
    // The same content is the same zip file.
    give(&bench, "w", "heron", &["--out", "again.zip"]).code(0);
    assert_eq!(
        fs::read(bench.path("heron.zip")).unwrap(),
        fs::read(bench.path("again.zip")).unwrap()
    );
}

#[test]
fn nothing_withheld_goes_out_and_what_is_named_does() {
    let bench = sealed();
    let error = give(&bench, "w", "heron", &["--reveal", "flaws"]).code(1);
    assert!(
        error.err.contains("`flaws` names no value"),
        "{}",
        error.err
    );
    let folder = bench.path("w/out/heron-handover");
    give(&bench, "w", "heron", &[]).code(0);
    let sheet = bench
        .work(&["examine", "show", "heron", "--json"])
        .code(0)
        .out;
    let name = "Imre Halloway";
    assert!(
        sheet.contains(name),
        "the sheet names the examiner:\n{sheet}"
    );
    let mut files = Vec::new();
    every_file(&folder, &mut files);
    for (path, bytes) in &files {
        let found = bytes
            .windows(name.len())
            .any(|part| part == name.as_bytes());
        assert!(!found, "{path} names who examined the blade");
    }
    let shown = ["--reveal", "examination.by.name", "--out", "shown"];
    let made = give(&bench, "w", "heron", &[&shown[..], &["--json"]].concat())
        .code(0)
        .json();
    assert_eq!(
        made["records"][0]["shown"],
        serde_json::json!(["examination.by.name"])
    );
    let verdict = verify(&bench, "nobody", "shown").code(2).json();
    assert_eq!(states(&verdict["disclosures"]), ["fit"]);
    // The report shows the same, and no more than was named may be packed.
    let report = bench.path("shown/data/reports/heron-01-before_work.pdf");
    let packed = ["--out", "other", "--report", report.to_str().unwrap()];
    let error = give(&bench, "w", "heron", &packed).code(1);
    assert!(
        error
            .err
            .contains("shows values that were not named to be shown: examination.by.name"),
        "{}",
        error.err
    );
    assert!(!bench.path("other").exists());
}

#[test]
fn a_blade_goes_from_hand_to_hand() {
    let bench = three("Reedbank Polishing");
    bench.put("reed-before");
    bench.seal("reed", "before_work", "work").code(0);
    bench.put("reed-after");
    bench.seal("reed", "after_work", "work").code(0);
    give(&bench, "w", "reed", &["--out", "one.zip"]).code(0);

    // The signer is new: the fingerprint is needed, and it has to be the right one.
    let asked = receive(&bench, "b", "one.zip", &[]).code(2);
    assert!(
        asked
            .err
            .contains("type the fingerprint from the workshop's card")
            && asked.err.contains("is new to you: compare the fingerprint"),
        "{}",
        asked.err
    );
    let wrong = card(&bench, "c");
    let error = receive(&bench, "b", "one.zip", &["--fingerprint", &wrong]).code(1);
    assert!(
        error.err.contains("the fingerprint typed is"),
        "{}",
        error.err
    );
    let listed = bench
        .run(&["--workshop", "b", "blade", "list", "--json"])
        .code(0);
    assert!(
        !listed.out.contains("reed"),
        "nothing was received: {}",
        listed.out
    );

    let typed = card(&bench, "w").replace('-', " ").to_lowercase();
    let got = receive(&bench, "b", "one.zip", &["--fingerprint", &typed, "--json"])
        .code(0)
        .json();
    assert_eq!(got["added"], serde_json::json!([1, 2]));
    assert_eq!(got["sheet"], 1);
    let sheet = bench
        .run(&["--workshop", "b", "examine", "show", "reed", "--json"])
        .code(0)
        .out;
    for words in [
        "\"dimensions\"",
        "\"passes\"",
        "as record 2 of Reedbank Polishing has it",
    ] {
        assert!(sheet.contains(words), "`{words}` in\n{sheet}\n{got}");
    }
    for words in ["\"examination\"", "_sd"] {
        assert!(!sheet.contains(words), "no `{words}` in\n{sheet}");
    }
    // Again: the key is known by now, and nothing changes.
    let again = receive(&bench, "b", "one.zip", &["--json"]).code(0).json();
    assert_eq!(again["added"], serde_json::json!([]));
    assert_eq!(again["sheet"], Value::Null);
    bench.run(&["--workshop", "b", "store", "check"]).code(0);

    // A report of a record that another workshop sealed is not signed here.
    let report = [
        "--workshop",
        "b",
        "report",
        "reed",
        "--passphrase-file",
        "pass.txt",
    ];
    let error = bench.run(&report).code(1);
    assert!(
        error
            .err
            .contains("record 2 of blade `reed` was sealed by `Reedbank Polishing`")
            && error
                .err
                .contains("take the report that came with the package"),
        "{}",
        error.err
    );
    // What was received can be handed on as it is, with the report that came with it.
    let on = give(&bench, "b", "reed", &["--out", "on", "--json"])
        .code(0)
        .json();
    assert_eq!(on["reports"][0]["sequence"], 2);

    // The receiver's own record chains on.
    bench.run(&["--workshop", "b", "check", "reed"]).code(0);
    let seal = [
        "--workshop",
        "b",
        "seal",
        "reed",
        "--for",
        "intake",
        "--verdict",
        "set_aside",
        "--reason",
        "came in, not looked at yet",
        "--by",
        "B. Moor",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    let third = bench.run(&seal).code(0).json();
    assert_eq!(third["sequence"], 3);
    give(&bench, "b", "reed", &["--out", "two"]).code(0);

    let known = card(&bench, "b");
    let got = receive(&bench, "c", "two", &["--fingerprint", &known, "--json"])
        .code(0)
        .json();
    assert_eq!(got["added"], serde_json::json!([1, 2, 3]));
    assert_eq!(got["other_signers"][0][0], "Reedbank Polishing");
    let verdict = verify(&bench, "memory-c", "two").json();
    assert_eq!(states(&verdict["records"]), ["intact", "intact", "intact"]);
    assert_eq!(text(&verdict["chain"], "state"), "whole");
    assert_eq!(states(&verdict["keys"]), ["fits", "fits"]);

    // Back where it came from: the new record is added to the own two.
    let back = receive(&bench, "w", "two", &["--fingerprint", &known, "--json"])
        .code(0)
        .json();
    assert_eq!(back["known_records"], serde_json::json!([1, 2]));
    assert_eq!(back["added"], serde_json::json!([3]));
    bench.work(&["store", "check"]).code(0);
}

#[test]
fn two_histories_of_one_blade_are_refused() {
    let bench = sealed();
    give(&bench, "w", "heron", &["--out", "one"]).code(0);
    let known = card(&bench, "w");
    receive(&bench, "b", "one", &["--fingerprint", &known]).code(0);
    // Both seal a second record.
    bench.put("heron");
    bench.seal("heron", "intake", "set_aside").code(0);
    give(&bench, "w", "heron", &["--out", "two"]).code(0);
    let seal = [
        "--workshop",
        "b",
        "seal",
        "heron",
        "--for",
        "intake",
        "--verdict",
        "set_aside",
        "--reason",
        "came in",
        "--by",
        "B. Moor",
        "--passphrase-file",
        "pass.txt",
    ];
    bench.run(&seal).code(0);
    let error = receive(&bench, "b", "two", &[]).code(1);
    assert!(
        error.err.contains("two histories of one blade"),
        "{}",
        error.err
    );
    // Another blade under the same key is no history of this one.
    let other = ["--workshop", "c", "examine", "put"];
    let sheet = common::samples().join("sheets/heron.toml");
    bench
        .run(&[&other[..], &[sheet.to_str().unwrap()]].concat())
        .code(0);
    let error = receive(&bench, "c", "one", &["--fingerprint", &known]).code(1);
    assert!(
        error.err.contains("has another blade under that key"),
        "{}",
        error.err
    );
}

#[test]
fn what_is_changed_is_not_received() {
    let bench = sealed();
    give(&bench, "w", "heron", &["--out", "one"]).code(0);
    let known = card(&bench, "w");
    let record = bench.path("one/data/records/01-before_work.json");
    let sound = fs::read_to_string(&record).unwrap();
    fs::write(&record, sound.replacen("\"value\":\"", "\"value\":\"1", 1)).unwrap();
    let error = receive(&bench, "b", "one", &["--fingerprint", &known]).code(1);
    assert!(error.err.contains("not received"), "{}", error.err);
    assert!(error.err.contains("altered"), "{}", error.err);
    verify(&bench, "nobody", "one").code(1);
    fs::write(&record, &sound).unwrap();
    fs::remove_file(bench.path("one/data/verify.html")).unwrap();
    verify(&bench, "nobody", "one").code(3);
    let error = receive(&bench, "b", "one", &["--fingerprint", &known]).code(1);
    assert!(
        error.err.contains("data/verify.html: missing"),
        "{}",
        error.err
    );
    fs::write(bench.path("one/fetch.txt"), "x").unwrap();
    let refused = verify(&bench, "nobody", "one").code(1).json();
    assert!(refused["refused"].is_object(), "{refused}");
    let none = bench.run(&["verify", "nowhere"]).code(3);
    assert!(none.err.contains("cannot read"), "{}", none.err);
}

#[test]
fn a_page_is_told() {
    let bench = sealed();
    give(&bench, "w", "heron", &["--out", "one"]).code(0);
    let file = bench.path("one/data/verify.html");
    let page = bench.run(&["verify", "one/data/verify.html", "--json"]);
    assert_eq!(page.json()["file"], "one/data/verify.html");
    let mut bytes = fs::read(&file).unwrap();
    let last = bytes.len() - 10;
    bytes[last] ^= 1;
    fs::write(&file, bytes).unwrap();
    let page = bench.run(&["verify", "one/data/verify.html"]).code(2);
    assert!(page.out.contains("none that was released"), "{}", page.out);
}

#[test]
fn a_receiving_that_was_killed_is_made_good_by_the_next() {
    let bench = three("Reedbank Polishing");
    bench.put("reed-before");
    bench.seal("reed", "before_work", "work").code(0);
    bench.put("reed-after");
    bench.seal("reed", "after_work", "work").code(0);
    give(&bench, "w", "reed", &["--out", "one"]).code(0);
    let known = card(&bench, "w");
    let words = [
        "--workshop",
        "b",
        "handover",
        "receive",
        "one",
        "--yes",
        "--memory",
        "memory-b",
        "--fingerprint",
        &known,
    ];
    let mut ended = 0;
    for milliseconds in [1, 60, 120, 200, 300, 450, 700, 1000] {
        let mut child = bench
            .command(&words)
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(std::time::Duration::from_millis(milliseconds));
        let _ = child.kill();
        ended += i32::from(child.wait().unwrap().success());
        // Whatever is there is whole.
        bench.run(&["--workshop", "b", "store", "check"]).code(0);
    }
    let got = receive(&bench, "b", "one", &["--fingerprint", &known, "--json"])
        .code(0)
        .json();
    let both = [&got["known_records"], &got["added"]].map(|list| list.as_array().unwrap().len());
    assert_eq!(
        both.iter().sum::<usize>(),
        2,
        "{ended} ended by themselves: {got}"
    );
    // Wherever it ended, the sheet is that of the newest record.
    let sheet = bench
        .run(&["--workshop", "b", "examine", "show", "reed", "--json"])
        .code(0)
        .out;
    let words = "as record 2 of Reedbank Polishing has it";
    assert!(sheet.contains(words), "{sheet}");
    let on = give(&bench, "b", "reed", &["--out", "on", "--json"])
        .code(0)
        .json();
    let given = give(&bench, "w", "reed", &["--dry-run", "--json"])
        .code(0)
        .json();
    for part in ["photos", "signers"] {
        let count = |answer: &Value| answer[part].as_array().unwrap().len();
        assert_eq!(count(&on), count(&given), "{part}");
    }
    assert_eq!(on["reports"][0]["sequence"], 2);
}

#[test]
fn photos_that_carry_a_place_are_replaced_unless_asked_for() {
    let bench = three("Reedbank Polishing");
    bench.put("gorge");
    bench.seal("gorge", "intake", "set_aside").code(0);
    let crack = |answer: &Value| {
        let photos = answer["photos"].as_array().unwrap();
        let found = photos.iter().find(|photo| text(photo, "photo") == "crack");
        found.unwrap_or_else(|| panic!("{answer}")).clone()
    };
    let place = "the place where it was taken";
    let careful = give(&bench, "w", "gorge", &["--json"]).code(0).json();
    let photo = crack(&careful);
    assert_eq!(text(&photo, "part"), "copy");
    assert_eq!(photo["instead_of"][0], place);
    let packed = fs::read(
        bench
            .path("w/out/gorge-handover")
            .join(text(&photo, "file")),
    )
    .unwrap();
    assert!(!packed.windows(6).any(|part| part == b"Exif\0\0"));
    let told = give(
        &bench,
        "w",
        "gorge",
        &["--photos", "originals", "--dry-run"],
    )
    .code(0);
    let words = format!("crack: the original, which carries {place}");
    assert!(told.out.contains(&words), "{}", told.out);
    let told = give(&bench, "w", "gorge", &["--photos", "none", "--dry-run"]).code(0);
    assert!(
        told.out.contains("leave it out with `--report none`"),
        "{}",
        told.out
    );
    let none = give(
        &bench,
        "w",
        "gorge",
        &["--photos", "none", "--out", "bare", "--json"],
    )
    .code(0)
    .json();
    assert_eq!(none["photos"], serde_json::json!([]));
    let verdict = verify(&bench, "nobody", "bare").code(2).json();
    assert!(
        verdict["photos_not_packed"].as_u64().unwrap() >= 3,
        "{verdict}"
    );
    assert_eq!(none["photos_left_out"].as_array().unwrap().len(), 3);
}

/// Revokes the key on the card of `w`.
fn revoke(bench: &Bench, since: &str) {
    let key = card(bench, "w");
    let line = ["key", "revoke", &key, "--since", since, "--yes"];
    let words = ["--reason", "laptop stolen", "--passphrase-file", "pass.txt"];
    bench.work(&[&line[..], &words].concat()).code(0);
}

#[test]
fn no_fingerprint_settles_a_revoked_key() {
    let bench = sealed();
    let known = card(&bench, "w");
    give(&bench, "w", "heron", &["--out", "one"]).code(0);
    let verdict = verify(&bench, "nobody", "one").json();
    let stated = text(&verdict["subject"]["time"], "stated");
    let stated: jiff::Timestamp = stated.parse().unwrap();
    std::thread::sleep(std::time::Duration::from_millis(2100));
    let since = (stated + jiff::SignedDuration::from_secs(1)).to_string();
    revoke(&bench, &since);
    let bare = ["--report", "none", "--out", "two"];
    // Whoever hands it over is told so first.
    give(&bench, "w", "heron", &bare).code(2);
    let refused = receive(&bench, "b", "two", &["--fingerprint", &known]).code(2);
    assert!(
        refused.err.contains("a fingerprint does not settle that"),
        "{}",
        refused.err
    );
    let listed = bench
        .run(&["--workshop", "b", "blade", "list", "--json"])
        .code(0);
    assert!(!listed.out.contains("heron"), "{}", listed.out);
}

#[test]
fn the_key_that_signed_the_pages_is_judged() {
    let bench = sealed();
    give(&bench, "w", "heron", &["--out", "one"]).code(0);
    let one = verify(&bench, "nobody", "one").code(2).json();
    assert_eq!(states(&one["reports"]), ["unaltered"]);

    // A later key signs the pages, and nobody knows it.
    let line = ["key", "rotate", "--reason", "new laptop", "--yes"];
    let words = ["--passphrase-file", "pass.txt"];
    let new = ["--new-passphrase-file", "pass.txt"];
    bench.work(&[&line[..], &words, &new].concat()).code(0);
    give(&bench, "w", "heron", &["--out", "two"]).code(0);
    let two = verify(&bench, "nobody", "two").code(2).json();
    assert_eq!(states(&two["reports"]), ["key_open"], "{two}");

    // It is revoked from before it signed.
    revoke(&bench, "2020-01-01T00:00:00Z");
    let history = ["--keys", "w/keys/key-history.json", "--json"];
    let line = ["verify", "two", "--memory", "nobody"];
    let two = bench.run(&[&line[..], &history].concat()).code(1).json();
    assert_eq!(states(&two["reports"]), ["key_rejected"], "{two}");
}
