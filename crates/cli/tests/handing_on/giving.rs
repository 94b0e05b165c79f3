//! What whoever hands over is told before anything leaves the workshop.

use std::fs;
use std::process::{Command, Stdio};

use serde_json::Value;

use super::{another, card, give, receive};
use crate::common::{Bench, edit, sheet, text};

/// A workshop with a sealed record of heron, and one that receives.
fn sealed() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    another(&bench, "b", "Bellmoor Edges");
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    bench
}

fn revoke(bench: &Bench) {
    let key = card(bench, "w");
    let line = ["key", "revoke", &key, "--since", "2026-01-01T00:00:00Z"];
    let words = ["--reason", "laptop stolen", "--yes"];
    let pass = ["--passphrase-file", "pass.txt"];
    bench.work(&[&line[..], &words, &pass].concat()).code(0);
}

/// Hands on from `b`, without a report.
fn hand_on(bench: &Bench, out: &str, memory: &str) -> crate::common::Ran {
    let line = ["--workshop", "b", "handover", "heron", "--out", out];
    let more = ["--report", "none", "--json", "--memory", memory];
    bench.run(&[&line[..], &more].concat())
}

/// Entries of the one key history that lies in a package.
fn entries(bench: &Bench, package: &str) -> usize {
    let mut found = fs::read_dir(bench.path(package).join("data/keys")).unwrap();
    let file = found.next().unwrap().unwrap().path();
    assert!(found.next().is_none());
    let history: Value = serde_json::from_slice(&fs::read(file).unwrap()).unwrap();
    history["entries"].as_array().unwrap().len()
}

#[test]
fn what_a_receiver_rejects_is_told_before_it_is_packed() {
    let bench = sealed();
    revoke(&bench);
    let told = give(&bench, "heron", "dry", &["--dry-run"]).code(2);
    let words =
        "a receiver will reject the package, for:\n  data/records/01-before_work.json: revoked";
    assert!(told.out.contains(words), "{}", told.out);
    assert!(!bench.path("dry").exists());
    let made = give(&bench, "heron", "one", &["--json"]).code(2).json();
    let rejected = made["judged"]["rejected"].as_array().unwrap();
    assert!(!rejected.is_empty(), "{made}");
    // What a receiver is told is that.
    let line = ["verify", "one", "--memory", "nobody", "--json"];
    bench.run(&line).code(1);
    // Nobody is asked for a passphrase of a key that must not sign.
    let error = bench
        .work(&["handover", "heron", "--out", "two", "--dry-run"])
        .code(1);
    assert!(error.err.contains("cannot be signed"), "{}", error.err);
    assert!(error.err.contains("`--report none`"), "{}", error.err);
}

#[test]
fn the_longest_history_that_is_known_here_goes_in() {
    let bench = sealed();
    bench.put("gorge");
    bench.seal("gorge", "intake", "set_aside").code(0);
    give(&bench, "heron", "heron-one", &[]).code(0);
    let known = card(&bench, "w");
    receive(&bench, "heron-one", &["--fingerprint", &known]).code(0);
    hand_on(&bench, "on-one", "nobody").code(0);
    assert_eq!(entries(&bench, "on-one"), 1);

    // The history came with another blade, and no memory is at hand.
    let line = ["key", "rotate", "--reason", "new laptop", "--yes"];
    let pass = ["--passphrase-file", "pass.txt"];
    let new = ["--new-passphrase-file", "pass.txt"];
    bench.work(&[&line[..], &pass, &new].concat()).code(0);
    give(&bench, "gorge", "gorge-one", &[]).code(0);
    receive(&bench, "gorge-one", &["--fingerprint", &known]).code(0);
    hand_on(&bench, "on-two", "nobody").code(0);
    assert_eq!(entries(&bench, "on-two"), 2);

    // A revocation that only the memory knows is neither hidden nor passed over.
    let since = ["--since", "2020-01-01T00:00:00Z", "--yes"];
    let line = ["key", "revoke", &known, "--reason", "laptop stolen"];
    bench.work(&[&line[..], &since, &pass].concat()).code(0);
    let record = "heron-one/data/records/01-before_work.json";
    let keys = ["--keys", "w/keys/key-history.json", "--memory", "told"];
    bench
        .run(&[&["verify", record][..], &keys].concat())
        .code(1);
    let made = hand_on(&bench, "on-three", "told").code(2).json();
    let rejected = made["judged"]["rejected"][0].as_str().unwrap();
    assert!(rejected.contains("revoked"), "{made}");
    assert_eq!(entries(&bench, "on-three"), 3);
}

#[test]
fn a_copy_beside_the_card_is_not_taken_for_the_history() {
    let bench = sealed();
    fs::remove_file(bench.path("w/keys/key-history.json")).unwrap();
    let error = give(&bench, "heron", "one", &[]).code(1);
    assert!(
        error.err.contains("key-history.json: not there"),
        "{}",
        error.err
    );
    assert!(!bench.path("one").exists());
}

#[test]
fn a_report_has_a_name_of_the_package_and_none_stays_out_unsaid() {
    let bench = sealed();
    let shown = ["--reveal", "examination.by.name"];
    let pass = ["--passphrase-file", "pass.txt"];
    let line = ["handover", "heron", "--out", "one"];
    bench.work(&[&line[..], &shown, &pass].concat()).code(0);
    let report = "one/data/reports/heron-01-before_work.pdf";
    fs::copy(bench.path(report), bench.path("for-odile-varga.pdf")).unwrap();
    let line = ["handover", "heron", "--out", "two", "--json"];
    let file = ["--report", "for-odile-varga.pdf"];
    let made = bench
        .work(&[&line[..], &shown, &file].concat())
        .code(0)
        .json();
    let packed = text(&made["reports"][0], "file");
    assert_eq!(packed, "data/reports/heron-01-before_work.pdf");

    // It came with the blade, shows what is not to be shown, and that is told.
    let known = card(&bench, "w");
    receive(&bench, "one", &["--fingerprint", &known]).code(0);
    let line = ["--workshop", "b", "handover", "heron", "--json"];
    let made = bench
        .run(&[&line[..], &["--out", "on", "--memory", "memory-b"]].concat())
        .code(0)
        .json();
    assert_eq!(made["reports"], serde_json::json!([]));
    let left = &made["reports_left_out"][0];
    assert!(text(left, "why").contains("examination.by.name"), "{made}");
    assert!(text(left, "hint").contains("--reveal"), "{made}");
    // What is endless is not read for ever.
    let line = ["handover", "heron", "--out", "three"];
    let error = bench
        .work(&[&line[..], &["--report", "/dev/zero"]].concat())
        .code(1);
    assert!(error.err.contains("bytes are allowed"), "{}", error.err);
}

#[test]
fn a_value_is_shown_of_one_record_alone() {
    let bench = sealed();
    bench.put("heron");
    bench.seal("heron", "intake", "set_aside").code(0);
    let made = give(
        &bench,
        "heron",
        "one",
        &["--reveal", "2:examination.by.name", "--json"],
    )
    .code(0)
    .json();
    let shown = |index: usize| made["records"][index]["shown"].clone();
    assert_eq!(shown(0), serde_json::json!([]));
    assert_eq!(shown(1), serde_json::json!(["examination.by.name"]));
    let error = give(&bench, "heron", "two", &["--reveal", "3:examination"]).code(1);
    assert!(
        error.err.contains("`3:examination` names no value"),
        "{}",
        error.err
    );
}

/// A copy that was sealed while the original was public may show what the original was taken back for.
#[test]
fn a_copy_from_before_stays_with_its_original() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("gorge");
    bench.seal("gorge", "intake", "set_aside").code(0);
    let packed = |out: &str| {
        let made = give(&bench, "gorge", out, &["--photos", "copies", "--json"]);
        let made = made.code(0).json();
        let photos = made["photos"].as_array().unwrap();
        let crack = photos.iter().filter(|one| text(one, "photo") == "crack");
        (crack.count(), made["photos_left_out"].to_string())
    };
    assert_eq!(packed("one").0, 1);
    // The second record keeps the original private and names something else to show: a part of the picture.
    let line = "file = \"../photos/gorge-crack.jpg\"\n";
    let part = format!(
        "{{ digest = \"{}\", length = 900, media_type = \"image/jpeg\", width_px = 30, height_px = 20 }}",
        "ab".repeat(32)
    );
    let private = format!(
        "{line}original_kept_private = true\nderivatives = [{{ transform = \"cut out\", file = {part} }}]\n"
    );
    bench
        .put_text(&edit(&sheet("gorge"), line, &private))
        .code(0);
    bench.seal("gorge", "intake", "set_aside").code(0);
    let (copies, left_out) = packed("two");
    assert_eq!(copies, 0, "{left_out}");
    assert!(
        left_out.contains("from before the original was kept private"),
        "{left_out}"
    );
}

#[test]
fn nothing_is_left_of_a_hand_over_that_is_ended() {
    let bench = sealed();
    let left = || {
        let entries = fs::read_dir(&bench.folder).unwrap().flatten();
        let names = entries.map(|entry| entry.file_name().to_string_lossy().into_owned());
        names
            .filter(|name| name.starts_with(".package-"))
            .collect::<Vec<_>>()
    };
    for (number, milliseconds) in [0, 5, 20, 60, 150, 300].into_iter().enumerate() {
        let out = format!("out-{number}");
        let line = ["--workshop", "w", "handover", "heron", "--out", &out];
        let mut child = bench
            .command(&[&line[..], &["--report", "none"]].concat())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let start = std::time::Instant::now();
        // From the first byte on that lies there in the clear.
        while left().is_empty()
            && !bench.path(&out).exists()
            && start.elapsed().as_secs() < 60
            && child.try_wait().unwrap().is_none()
        {
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
        std::thread::sleep(std::time::Duration::from_millis(milliseconds));
        let id = child.id().to_string();
        let _ = Command::new("kill").args(["-TERM", &id]).status();
        let done = child.wait_with_output().unwrap();
        let whole = bench.path(&out).exists();
        assert_eq!(left(), Vec::<String>::new(), "{done:?}");
        if !whole {
            let told = String::from_utf8_lossy(&done.stderr).into_owned();
            assert_eq!(done.status.code(), Some(1), "{told}");
            assert!(told.contains("nothing is left of it"), "{told}");
        }
    }

    // What was killed without being asked is named, and stays.
    let old = bench.path(".package-abc.part");
    fs::create_dir(&old).unwrap();
    let told = give(&bench, "heron", "last", &[]).code(0);
    assert!(
        told.err.contains(".package-abc.part: part of a package"),
        "{}",
        told.err
    );
    assert!(
        told.err
            .contains("hint: when none is under way, remove it with `rm -r"),
        "{}",
        told.err
    );
    assert!(old.exists());
}

#[test]
fn a_pipe_that_nobody_writes_into_is_not_waited_for() {
    let bench = sealed();
    let made = Command::new("mkfifo").arg(bench.path("pipe")).status();
    assert!(made.unwrap().success());
    for line in [
        &["verify", "pipe"][..],
        &["verify", "pipe", "--json"],
        &["--workshop", "w", "handover", "receive", "pipe", "--yes"],
        &[
            "--workshop",
            "w",
            "handover",
            "heron",
            "--out",
            "x",
            "--report",
            "pipe",
        ],
    ] {
        let mut child = bench
            .command(line)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let start = std::time::Instant::now();
        while child.try_wait().unwrap().is_none() {
            if start.elapsed().as_secs() > 60 {
                child.kill().unwrap();
                panic!("{line:?} waits");
            }
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
        let done = child.wait_with_output().unwrap();
        let told = String::from_utf8_lossy(&done.stderr).into_owned();
        assert!(!done.status.success(), "{line:?}: {told}");
        assert!(
            told.contains("pipe") && told.contains("hint:"),
            "{line:?}: {told}"
        );
    }
}
