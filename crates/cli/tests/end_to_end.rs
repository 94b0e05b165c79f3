//! The main job through the built command: setup, sheet, check, seal, report, verify.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, Ran, text};

fn verdicts(ran: &Ran) -> [String; 4] {
    ["bytes:", "signer:", "time:", "completeness:"].map(|name| {
        let mut lines = ran.out.lines().filter(|line| line.starts_with(name));
        let line = lines
            .next()
            .unwrap_or_else(|| panic!("no line `{name}` in\n{}", ran.out));
        assert_eq!(lines.next(), None, "one line `{name}`");
        line[name.len()..].trim().to_owned()
    })
}

#[test]
fn from_sheet_to_verdict() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let put = bench.put("heron").json();
    assert_eq!(
        (
            text(&put, "blade"),
            put["revision"].as_u64(),
            put["photos"].as_u64()
        ),
        ("heron", Some(1), Some(2))
    );

    let check = bench.work(&["check", "heron", "--json"]).code(0).json();
    assert_eq!(check["stops"].as_array().unwrap().len(), 0, "{check}");
    let asked: Vec<&str> = check["runs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|run| text(run, "plugin"))
        .collect();
    assert_eq!(
        asked,
        [
            "abrasives",
            "custody",
            "dimensions",
            "materials",
            "removal",
            "triage",
            "valuation"
        ]
    );
    let shown = bench.work(&["check", "heron"]).code(0);
    assert!(
        shown.out.starts_with("blade heron, sheet revision 1\n"),
        "{}",
        shown.out
    );
    assert!(
        shown.out.contains("; the decision is yours\n"),
        "{}",
        shown.out
    );

    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let record = text(&sealed, "file").to_owned();
    assert!(
        record.ends_with("out/heron-01-before_work.json"),
        "{record}"
    );
    let report = bench
        .work(&["report", "heron", "--passphrase-file", "pass.txt", "--json"])
        .code(0)
        .json();
    let pdf = text(&report, "file").to_owned();
    assert!(fs::read(bench.path(&pdf)).unwrap().starts_with(b"%PDF-"));

    for file in [&record, &pdf] {
        let own = bench.work(&["verify", file]).code(0);
        let [bytes, signer, time, completeness] = verdicts(&own);
        assert_eq!(bytes, "intact: every byte is the one that was signed");
        assert_eq!(signer, "own key: sealed in this workshop");
        assert!(
            time.ends_with("in the issuer's own word; nothing outside the workshop proves it"),
            "{time}"
        );
        assert!(
            completeness.starts_with("record 1 of its blade, the first"),
            "{completeness}"
        );

        let stranger = bench
            .run(&["verify", file, "--memory", "nobody", "--no-remember"])
            .code(2);
        assert!(
            verdicts(&stranger)[1].starts_with("new to you: compare the fingerprint "),
            "{}",
            stranger.out
        );
        assert!(
            stranger
                .out
                .contains("\nnext step: compare all twenty characters of "),
            "{}",
            stranger.out
        );
    }
    assert!(!bench.path("nobody").exists(), "nothing was written");
    assert!(
        !bench.path("data").exists(),
        "an own key needs no memory, and `--memory` leaves the data folder alone"
    );
}

#[test]
fn a_key_is_remembered_at_first_sight() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let record = text(&sealed, "file");
    let memory = bench.path("data/tangmark/seen-keys.json");

    let first = bench.run(&["verify", record]).code(2);
    assert!(
        verdicts(&first)[1].starts_with("new to you: compare the fingerprint "),
        "{}",
        first.out
    );
    assert!(
        first.out.contains(
            "\nnext step: `Reedbank Polishing` is remembered with this key from now on: "
        ),
        "{}",
        first.out
    );
    let kept = fs::read(&memory).unwrap();
    let again = bench.run(&["verify", record]).code(0);
    assert!(
        verdicts(&again)[1].starts_with("known: the same key under the same name as on 20"),
        "{}",
        again.out
    );
    assert!(!again.out.contains("remembered"), "{}", again.out);

    // The same name with another key: told each time, and what is remembered stays as it is.
    let other = Bench::with_workshop("Reedbank Polishing");
    other.put("heron");
    let sealed = other.seal("heron", "before_work", "work").code(0).json();
    let theirs = other.path(text(&sealed, "file"));
    for _ in 0..2 {
        let seen = bench.run(&["verify", theirs.to_str().unwrap()]).code(2);
        assert!(
            verdicts(&seen)[1].starts_with("not the key you know: "),
            "{}",
            seen.out
        );
        assert!(!seen.out.contains("remembered with"), "{}", seen.out);
        assert_eq!(fs::read(&memory).unwrap(), kept);
    }
    bench.run(&["verify", record]).code(0);
}

#[test]
fn a_memory_that_cannot_be_written_changes_no_verdict() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let record = text(&sealed, "file");
    // A folder where the lock should be: nobody can write it, whoever runs the test.
    fs::create_dir_all(bench.path("data/tangmark/seen-keys.lock")).unwrap();
    let seen = bench.run(&["verify", record, "--json"]).code(2);
    assert!(
        seen.err.starts_with("note: the key is not remembered: ") && seen.err.lines().count() == 1,
        "{}",
        seen.err
    );
    let json = seen.json();
    assert_eq!(
        (text(&json["signer"], "state"), json["remembered"].as_bool()),
        ("new", Some(false))
    );
    let nowhere = bench
        .command(&["verify", record])
        .env_remove("XDG_DATA_HOME")
        .output()
        .unwrap();
    assert_eq!(nowhere.status.code(), Some(2));
    assert_eq!(
        String::from_utf8(nowhere.stderr).unwrap(),
        "note: the key is not remembered: neither $XDG_DATA_HOME nor $HOME is set; name a folder with `--memory DIR`\n"
    );
}

#[test]
fn what_was_altered_outranks_who_signed() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let bytes = fs::read_to_string(bench.path(text(&sealed, "file"))).unwrap();
    assert!(bytes.contains("197.4 g"));
    fs::write(
        bench.path("altered.json"),
        bytes.replacen("197.4 g", "191.4 g", 1),
    )
    .unwrap();
    let altered = bench.work(&["verify", "altered.json"]).code(1);
    assert!(
        verdicts(&altered)[0].starts_with("altered: "),
        "{}",
        altered.out
    );
    assert!(
        altered.out.contains("next step: do not rely on this file"),
        "{}",
        altered.out
    );
    let json = bench
        .run(&["verify", "altered.json", "--json"])
        .code(1)
        .json();
    assert_eq!(
        (json["exit_code"].as_u64(), text(&json["bytes"], "state")),
        (Some(1), "altered")
    );
    assert_eq!(json["remembered"], false);
    assert!(
        !bench.path("data").exists(),
        "no key of an altered file is remembered"
    );

    // The same content in other bytes is said to be that.
    let value: serde_json::Value = serde_json::from_str(&bytes).unwrap();
    fs::write(
        bench.path("anew.json"),
        serde_json::to_string_pretty(&value).unwrap(),
    )
    .unwrap();
    let anew = bench.work(&["verify", "anew.json"]).code(0);
    assert!(
        verdicts(&anew)[0].starts_with("same content, not the sealed bytes"),
        "{}",
        anew.out
    );

    // What cannot be judged, or is not there, is neither altered nor intact.
    assert!(
        verdicts(&bench.run(&["verify", "pass.txt"]).code(3))[0].starts_with("cannot be judged")
    );
    let missing = bench.run(&["verify", "nothing.json"]).code(3);
    assert!(
        missing
            .err
            .starts_with("error: nothing.json: cannot read: "),
        "{}",
        missing.err
    );
    bench
        .run(&["--workshop", "nowhere", "verify", "anew.json"])
        .code(3);
}

#[test]
fn a_second_record_is_chained_and_judged_with_the_first() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("reed-before");
    let first = bench.seal("reed", "before_work", "work").code(0).json();
    bench.put("reed-after");
    let second = bench.seal("reed", "after_work", "work").code(0).json();
    let (first, second) = (text(&first, "file"), text(&second, "file"));
    let alone = bench.work(&["verify", second]).code(0);
    assert!(
        verdicts(&alone)[3].starts_with("record 2 of its blade, all 1 before it are here and fit"),
        "the workshop has the one before it: {}",
        alone.out
    );
    let elsewhere = bench.run(&["verify", second, "--memory", "nobody"]).code(2);
    assert!(
        verdicts(&elsewhere)[3].starts_with("record 2 of its blade, 1 before it not supplied"),
        "{}",
        elsewhere.out
    );
    let both = bench.work(&["verify", second, "--with", first]).code(0);
    assert!(
        verdicts(&both)[3].starts_with("record 2 of its blade, all 1 before it are here and fit"),
        "{}",
        both.out
    );
    // Whoever has the later record is to read that one too.
    let older = bench.work(&["verify", first, "--with", second]).code(2);
    assert!(
        older.out.contains("next step: verify the later record too"),
        "{}",
        older.out
    );

    let list = bench.work(&["blade", "list", "--json"]).code(0).json();
    let line = &list[0];
    assert_eq!(
        (
            text(line, "id"),
            text(line, "state"),
            line["records"].as_u64()
        ),
        ("reed", "sealed", Some(2))
    );
    bench.work(&["examine", "undo", "reed"]).code(0);
    let shown = bench
        .work(&["blade", "show", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&shown, "state"), "changed_since_sealed");
    assert_eq!(shown["records_sealed"].as_array().unwrap().len(), 2);
    let history = bench
        .work(&["examine", "history", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(history.as_array().unwrap().last().unwrap()["restores"], 1);
}

#[test]
fn a_held_blade_is_sealed_only_as_what_it_is() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("gorge");
    let check = bench.work(&["check", "gorge"]).code(0);
    let first = check.out.lines().find(|line| line.contains('/')).unwrap();
    assert!(
        first.starts_with("stop: triage/fatal."),
        "stops come first: {}",
        check.out
    );
    assert!(check.out.contains("\nheld: triage/fatal."), "{}", check.out);
    assert!(check.out.contains("evidence: flaws["), "{}", check.out);
    let refused = bench.seal("gorge", "before_work", "work").code(1);
    assert!(
        refused
            .err
            .starts_with("error: the decision is `work` while a stop stands: triage/fatal."),
        "{}",
        refused.err
    );
    assert!(
        refused.err.contains("\nhint: two independent looks"),
        "{}",
        refused.err
    );
    let work = bench.seal("gorge", "in_work", "set_aside").code(1);
    assert!(
        work.err
            .starts_with("error: a record for `in_work` may not be sealed while a stop stands"),
        "{}",
        work.err
    );
    let rule = first
        .trim_start_matches("stop: ")
        .split(' ')
        .next()
        .unwrap();
    let lift = [
        "--override",
        rule,
        "--override-name",
        "A. Polisher",
        "--override-reason",
        "I want to",
    ];
    let words = [
        "--reason",
        "r",
        "--by",
        "b",
        "--passphrase-file",
        "pass.txt",
    ];
    let base = ["seal", "gorge", "--for", "before_work", "--verdict", "work"];
    let lifted = bench.work(&[&base[..], &lift, &words].concat()).code(1);
    assert_eq!(
        lifted.err.lines().next(),
        Some(&*format!("error: an override may not lift {rule}"))
    );
    assert_eq!(
        fs::read_dir(bench.path("w/out")).unwrap().count(),
        1,
        "only the card: nothing was written"
    );
    bench.seal("gorge", "intake", "set_aside").code(0);
}

#[test]
fn an_override_is_told_first() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("lantern");
    let check = bench.work(&["check", "lantern", "--json"]).code(0).json();
    let rules: Vec<&str> = check["stops"]
        .as_array()
        .unwrap()
        .iter()
        .map(|stop| text(stop, "rule"))
        .collect();
    assert!(!rules.is_empty(), "{check}");
    assert!(
        text(&check["stops"][0], "answered_by").contains("override"),
        "{check}"
    );
    let mut line = vec![
        "seal",
        "lantern",
        "--for",
        "before-work",
        "--verdict",
        "work",
        "--reason",
        "cleaning only",
        "--by",
        "A. Polisher",
    ];
    for rule in &rules {
        line.extend([
            "--override",
            rule,
            "--override-name",
            "S. Specialist",
            "--override-reason",
            "looked at it",
        ]);
    }
    line.extend(["--passphrase-file", "pass.txt", "--json"]);
    let sealed = bench.work(&line).code(0).json();
    let seen = bench.work(&["verify", text(&sealed, "file")]).code(0);
    let notice = format!(
        "notice: override of {} by S. Specialist: looked at it",
        rules[0]
    );
    assert!(
        seen.out.lines().nth(1).unwrap().starts_with(&notice),
        "{}",
        seen.out
    );
}

#[test]
fn words_of_strangers_are_shown_as_they_are() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("lantern");
    let by = "S. \u{202e}tsilaicepS \u{200b}Moor";
    let line = [
        "seal",
        "lantern",
        "--for",
        "referral",
        "--verdict",
        "refer",
        "--reason",
        "an inlay",
        "--by",
        by,
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    let sealed = bench.work(&line).code(0).json();
    let seen = bench.run(&["verify", text(&sealed, "file")]).code(2);
    assert!(
        seen.out
            .contains(", by S. \\u{202e}tsilaicepS \\u{200b}Moor\n"),
        "{}",
        seen.out
    );
    assert!(!seen.out.contains(['\u{202e}', '\u{200b}']));
}

#[test]
fn a_name_that_people_cannot_compare_is_refused() {
    let bench = Bench::new();
    let long = "a".repeat(65);
    let cases = [
        (
            "Reed\u{202e}bank",
            "U+202E found at character 5, only characters that show are allowed",
        ),
        (
            "",
            "no letter found, 1 to 64 characters that show are allowed",
        ),
        (
            " ",
            "no letter found, 1 to 64 characters that show are allowed",
        ),
        (&long, "65 characters found, 1 to 64 are allowed"),
        (
            "Reedbank ",
            "a space found at its end, none is allowed there",
        ),
    ];
    for (name, what) in cases {
        let line = [
            "setup",
            "w",
            "--name",
            name,
            "--passphrase-file",
            "pass.txt",
        ];
        let refused = bench.run(&line).code(1);
        let mut lines = refused.err.lines();
        assert_eq!(
            lines.next(),
            Some(&*format!("error: workshop name: {what}"))
        );
        assert!(lines.next().unwrap().starts_with("hint: "));
        assert!(!bench.path("w").exists(), "nothing was made");
    }
    // Letters and marks that a keyboard sends apart are put together.
    let line = [
        "setup",
        "w",
        "--name",
        "Re\u{301}ed",
        "--passphrase-file",
        "pass.txt",
    ];
    let made = bench.run(&line).code(0);
    assert!(
        made.out.contains("\nname:        R\u{e9}ed\n"),
        "{}",
        made.out
    );
}

#[test]
fn a_template_is_a_sheet_and_is_never_overwritten() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let made = bench.run(&["examine", "new", "willow"]).code(0);
    assert_eq!(made.out, "willow.toml\n");
    let before = fs::read(bench.path("willow.toml")).unwrap();
    let again = bench.run(&["examine", "new", "willow"]).code(1);
    assert_eq!(
        again.err,
        "error: willow.toml exists already; it is not overwritten\nhint: name another file with `--out FILE`\n"
    );
    assert_eq!(fs::read(bench.path("willow.toml")).unwrap(), before);
    let printed = bench
        .run(&["examine", "new", "willow", "--out", "-"])
        .code(0);
    assert_eq!(printed.out.as_bytes(), before);
    let put = bench
        .work(&["examine", "put", "willow.toml", "--json"])
        .code(0)
        .json();
    assert_eq!(
        (text(&put, "blade"), put["new_blade"].as_bool()),
        ("willow", Some(true))
    );
    let shown = bench.work(&["examine", "show", "willow"]).code(0);
    assert!(shown.out.contains("\nblade.id = willow\n"), "{}", shown.out);
    let other = bench
        .work(&["examine", "put", "willow.toml", "--blade", "oak"])
        .code(1);
    assert_eq!(
        other.err.lines().next(),
        Some("error: the sheet is about blade `willow`, `oak` was asked for")
    );
}

#[test]
fn passphrases_come_from_files_and_pipes() {
    let bench = Bench::new();
    bench
        .run_with(
            &["setup", "w", "--name", "Reedbank", "--passphrase-file", "-"],
            common::PASSPHRASE,
        )
        .code(0);
    bench.put("heron");
    fs::write(bench.path("wrong.txt"), "another\n").unwrap();
    let words = ["--verdict", "work", "--reason", "r", "--by", "b"];
    let wrong = [
        &[
            "seal",
            "heron",
            "--for",
            "before_work",
            "--passphrase-file",
            "wrong.txt",
        ][..],
        &words,
    ]
    .concat();
    let refused = bench.work(&wrong).code(1);
    assert_eq!(
        refused.err.lines().next(),
        Some("error: key file: cannot be opened with this passphrase")
    );
    assert!(
        refused
            .err
            .lines()
            .nth(1)
            .unwrap()
            .starts_with("hint: type it again"),
        "{}",
        refused.err
    );
    let right = [
        &[
            "--workshop",
            "w",
            "seal",
            "heron",
            "--for",
            "before_work",
            "--passphrase-file",
            "-",
        ][..],
        &words,
    ]
    .concat();
    bench.run_with(&right, "three wet stones").code(0);
}

#[test]
fn the_recovery_secret_is_printed_and_kept_nowhere() {
    let bench = Bench::new();
    let made = bench
        .run(&[
            "setup",
            "w",
            "--name",
            "Reedbank",
            "--passphrase-file",
            "pass.txt",
        ])
        .code(0);
    let secret = made
        .out
        .lines()
        .find_map(|line| line.strip_prefix("recovery secret: "))
        .unwrap()
        .to_owned();
    assert!(made.out.contains("Write the recovery secret on paper now"));
    let fingerprint = made
        .out
        .lines()
        .find_map(|line| line.strip_prefix("fingerprint: "))
        .unwrap();
    assert!(
        made.out.contains(
            "approved: abrasives, custody, dimensions, materials, removal, triage, valuation\n"
        ),
        "{}",
        made.out
    );
    assert!(
        fs::read_to_string(bench.path("w/out/card/card.txt"))
            .unwrap()
            .contains(fingerprint)
    );
    let mut folders = vec![bench.path("w")];
    let mut files = 0;
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            files += 1;
            let bytes = fs::read(&path).unwrap();
            let found = bytes
                .windows(secret.len())
                .any(|window| window == secret.as_bytes());
            assert!(!found, "the secret stands in {}", path.display());
        }
    }
    assert!(files >= 4, "{files} files looked at");
    let again = bench
        .run(&[
            "setup",
            "w",
            "--name",
            "Reedbank",
            "--passphrase-file",
            "pass.txt",
        ])
        .code(1);
    assert!(
        again
            .err
            .starts_with("error: cannot make a workshop in `w`: it already holds `"),
        "{}",
        again.err
    );
}
