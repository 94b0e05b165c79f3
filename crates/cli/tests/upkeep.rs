//! Plugins whose file changed, stores that lost their index, pipes that close, the tour.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::io::Write as _;
use std::path::Path;
use std::process::Stdio;

use common::{Bench, samples, text};

#[test]
fn a_plugin_that_changed_must_be_approved_again() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let triage = bench.path("plugins/libtangmark_triage.so");
    fs::OpenOptions::new()
        .append(true)
        .open(&triage)
        .unwrap()
        .write_all(b"x")
        .unwrap();

    let list = bench.work(&["plugin", "list"]).code(0);
    assert!(list.out.contains("triage: not approved\n"), "{}", list.out);
    assert!(
        list.out.contains(
            "run `tangmark plugin approve --shipped` after a rebuild of the shipped plugins"
        ),
        "{}",
        list.out
    );
    let check = bench.work(&["check", "heron"]).code(0);
    assert!(
        check.out.contains("\nstop: tangmark/triage-not-run\n"),
        "{}",
        check.out
    );
    assert!(
        check
            .out
            .contains("answer: run it: `tangmark plugin approve --shipped`"),
        "{}",
        check.out
    );
    let refused = bench.seal("heron", "before_work", "work").code(1);
    assert!(
        refused
            .err
            .contains("hint: run it: `tangmark plugin approve --shipped`"),
        "{}",
        refused.err
    );

    assert_eq!(
        bench.work(&["plugin", "approve", "--shipped"]).code(0).out,
        "approved abrasives, custody, dimensions, materials, removal, triage, valuation\n"
    );
    bench.seal("heron", "before_work", "work").code(0);

    let withdrawn = bench.work(&["plugin", "withdraw", "triage"]).code(0);
    assert_eq!(withdrawn.out, "withdrew 2 approvals of triage\n");
    let again = bench.work(&["plugin", "withdraw", "triage"]).code(1);
    assert!(
        again
            .err
            .starts_with("error: plugin `triage` is not approved\n"),
        "{}",
        again.err
    );
    let one = bench.work(&["plugin", "approve", "triage"]).code(0);
    assert!(
        one.out.starts_with("approved triage, SHA-256 "),
        "{}",
        one.out
    );
    let json = bench.work(&["plugin", "list", "--json"]).code(0).json();
    let approved: Vec<bool> = json
        .as_array()
        .unwrap()
        .iter()
        .map(|line| line["approved"].as_bool().unwrap())
        .collect();
    assert_eq!(approved, [true; 7]);
    let none = bench.work(&["plugin", "approve", "hardness"]).code(1);
    assert!(
        none.err.starts_with("error: no plugin `hardness` in "),
        "{}",
        none.err
    );
}

#[test]
fn an_index_that_is_lost_is_rebuilt() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let sound = bench.work(&["store", "check", "--json"]).code(0).json();
    assert_eq!(
        (
            sound["records"].as_u64(),
            sound["problems"].as_array().unwrap().len()
        ),
        (Some(1), 0)
    );

    let kept = bench.work(&["store", "rebuild"]).code(0);
    assert!(
        kept.out.contains("all of it was read and carried over"),
        "{}",
        kept.out
    );
    assert_eq!(kept.err, "");
    bench.work(&["check", "heron"]).code(0);

    fs::remove_file(bench.path("w/workshop.db")).unwrap();
    let lost = bench.work(&["blade", "list"]).code(1);
    assert_eq!(
        lost.err,
        "error: the workshop in `w` has lost its index `workshop.db`\nhint: run `tangmark store rebuild`\n"
    );
    let rebuild = bench.work(&["store", "rebuild", "--json"]).code(0);
    assert!(
        rebuild.err.contains(
            "note: key file `signing-key.pem` is not the workshop's yet, and nothing can be sealed with it: run the same again with `--passphrase-file PATH`\n"
        ),
        "{}",
        rebuild.err
    );
    let made = rebuild.json();
    assert_eq!(made["unlisted_keys"][0], "signing-key.pem");
    assert_eq!(made["records"].as_u64(), Some(1), "{made}");
    let shown = bench
        .work(&["blade", "show", "heron", "--json"])
        .code(0)
        .json();
    assert_eq!(
        text(&shown["records_sealed"][0], "record"),
        text(&sealed, "record")
    );

    // A rotten object is named, with what to do, and the exit code says so.
    let name = fs::read(bench.path(text(&sealed, "file"))).unwrap();
    let object = walk(&bench.path("w/objects"))
        .into_iter()
        .find(|path| fs::read(path).unwrap() == name)
        .unwrap();
    let mut bytes = name.clone();
    bytes[100] ^= 1;
    fs::remove_file(&object).unwrap();
    fs::write(&object, bytes).unwrap();
    let rotten = bench.work(&["store", "check"]).code(1);
    assert!(rotten.err.contains("is rotten"), "{}", rotten.err);
    assert!(
        rotten.err.contains("hint: copy the file back"),
        "{}",
        rotten.err
    );
}

#[test]
fn a_workshop_that_lost_its_index_seals_again() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    let report = |out: &str| {
        let line = [
            "report",
            "heron",
            "--record",
            "1",
            "--out",
            out,
            "--passphrase-file",
            "pass.txt",
        ];
        bench.work(&line).code(0);
        fs::read(bench.path(out)).unwrap()
    };
    let before = report("before.pdf");
    let lose = || fs::remove_file(bench.path("w/workshop.db")).unwrap();

    // A wrong passphrase takes nothing back; the index stands all the same.
    lose();
    fs::write(bench.path("wrong.txt"), "another\n").unwrap();
    let wrong = bench
        .work(&["store", "rebuild", "--passphrase-file", "wrong.txt"])
        .code(1);
    assert!(
        wrong
            .err
            .contains("\nerror: key file: cannot be opened with this passphrase\nhint: "),
        "{}",
        wrong.err
    );
    assert!(wrong.out.contains("sealed records:   1\n"), "{}", wrong.out);
    bench.work(&["blade", "show", "heron"]).code(0);
    let unsealed = bench.seal("heron", "before_work", "work").code(1);
    assert!(
        unsealed
            .err
            .starts_with("error: blade `heron` has no sheet yet\n"),
        "{}",
        unsealed.err
    );

    let rebuilt = bench
        .work(&["store", "rebuild", "--passphrase-file", "pass.txt"])
        .code(0);
    let card = fs::read_to_string(bench.path("w/out/card/card.txt")).unwrap();
    let fact = |name: &str| {
        let mut lines = rebuilt.out.lines().map(str::trim);
        let line = lines.find_map(|line| line.strip_prefix(name));
        line.unwrap_or_else(|| panic!("no `{name}` in\n{}", rebuilt.out))
            .trim()
    };
    assert_eq!(fact("key taken back:"), "signing-key.pem");
    assert_eq!(fact("name:"), "Reedbank Polishing");
    assert!(card.contains(fact("fingerprint:")), "{}", rebuilt.out);
    assert!(
        rebuilt.err.contains("note: no plugin is approved: ")
            && rebuilt.err.contains("`tangmark plugin approve --shipped`"),
        "{}",
        rebuilt.err
    );
    let check = bench.work(&["store", "check", "--json"]).code(0).json();
    assert_eq!(check["notices"].as_array().unwrap().len(), 0, "{check}");
    let line = &bench.work(&["blade", "list", "--json"]).code(0).json()[0];
    assert_ne!(text(line, "title"), "heron", "the title came back too");

    // The same key and certificate: the same record makes the same report, byte for byte.
    assert!(report("after.pdf") == before, "the report differs");
    bench.put("heron");
    let held = bench.seal("heron", "in_work", "work").code(1);
    assert!(held.err.contains("triage did not run"), "{}", held.err);
    bench.work(&["plugin", "approve", "--shipped"]).code(0);
    let sealed = bench.seal("heron", "in_work", "work").code(0).json();
    let own = bench
        .work(&["verify", text(&sealed, "file"), "--json"])
        .code(0)
        .json();
    assert_eq!(
        (text(&own, "issuer"), text(&own["signer"], "state")),
        ("Reedbank Polishing", "own")
    );

    // Without the key history the first record tells the day, and that is said.
    lose();
    for file in ["keys/key-history.json", "out/card/key-history.json"] {
        fs::remove_file(bench.path("w").join(file)).unwrap();
    }
    let line = [
        "store",
        "rebuild",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    let again = bench.work(&line).code(0);
    assert!(
        again.err.contains("note: `keys/key-history.json` is gone"),
        "{}",
        again.err
    );
    let json = again.json();
    let first = bench
        .work(&["blade", "show", "heron", "--json"])
        .code(0)
        .json();
    let key = &json["adopted_keys"][0];
    assert_eq!(
        (text(key, "created_from"), text(key, "created_at")),
        (
            "first_record",
            text(&first["records_sealed"][0], "issued_at")
        )
    );
    assert_eq!(key["demo"], false);
}

#[test]
fn a_key_that_sealed_nothing_here_is_not_taken_in() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    let other = Bench::with_workshop("Another Workshop");
    fs::copy(
        other.path("w/keys/signing-key.pem"),
        bench.path("w/keys/other.pem"),
    )
    .unwrap();
    fs::remove_file(bench.path("w/workshop.db")).unwrap();
    let line = [
        "store",
        "rebuild",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    let made = bench.work(&line).code(1);
    assert!(
        made.err
            .contains("\nerror: key file `other.pem` opens, but no record here was sealed with its key\nhint: move it out of `keys/`"),
        "{}",
        made.err
    );
    let json = made.json();
    assert_eq!(text(&json["adopted_keys"][0], "name"), "Reedbank Polishing");
    assert_eq!(json["unlisted_keys"][0], "other.pem");
    bench.put("heron");
    bench.work(&["plugin", "approve", "--shipped"]).code(0);
    bench.seal("heron", "in_work", "work").code(0);
}

#[test]
fn a_demonstration_key_stays_one() {
    let bench = Bench::new();
    bench.run(&["tour", "w"]).code(0);
    fs::remove_file(bench.path("w/workshop.db")).unwrap();
    fs::write(bench.path("tour.txt"), "tour\n").unwrap();
    let line = [
        "store",
        "rebuild",
        "--passphrase-file",
        "tour.txt",
        "--json",
    ];
    let made = bench.work(&line).code(0).json();
    assert_eq!(made["adopted_keys"][0]["demo"], true);
    bench.put("heron");
    bench.work(&["plugin", "approve", "--shipped"]).code(0);
    let sealed = bench
        .work(&[
            "seal",
            "heron",
            "--for",
            "in_work",
            "--verdict",
            "work",
            "--reason",
            "r",
            "--by",
            "b",
            "--passphrase-file",
            "tour.txt",
            "--json",
        ])
        .code(0)
        .json();
    let seen = bench.work(&["verify", text(&sealed, "file")]).code(0);
    assert!(
        seen.out.contains("\nnotice: demonstration: "),
        "{}",
        seen.out
    );
}

#[test]
fn a_record_is_written_out_again_as_it_was_sealed() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("reed-before");
    let first = bench.seal("reed", "before_work", "work").code(0).json();
    bench.put("reed-after");
    let second = bench.seal("reed", "after_work", "work").code(0).json();
    let sealed = |made: &serde_json::Value| fs::read(bench.path(text(made, "file"))).unwrap();
    bench
        .work(&["blade", "record", "reed", "--out", "newest.json"])
        .code(0);
    assert_eq!(
        fs::read(bench.path("newest.json")).unwrap(),
        sealed(&second)
    );
    let line = [
        "blade",
        "record",
        "reed",
        "--number",
        "1",
        "--out",
        "first.json",
    ];
    let json = bench
        .work(&[&line[..], &["--json"]].concat())
        .code(0)
        .json();
    assert_eq!(text(&json, "record"), text(&first, "record"));
    assert_eq!(fs::read(bench.path("first.json")).unwrap(), sealed(&first));
    let again = bench.work(&line).code(1);
    assert_eq!(
        again.err.lines().next(),
        Some("error: first.json exists already; it is not overwritten")
    );
    for line in [
        &[
            "blade", "record", "reed", "--number", "3", "--out", "x.json",
        ][..],
        &[
            "report",
            "reed",
            "--record",
            "3",
            "--passphrase-file",
            "pass.txt",
        ][..],
    ] {
        let none = bench.work(line).code(1);
        assert_eq!(
            none.err,
            "error: blade `reed` has no record 3, 1 to 2 are there\nhint: see what is there with `tangmark blade show reed`\n"
        );
    }
    assert!(!bench.path("x.json").exists());
}

fn walk(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(walk(&path));
        } else {
            files.push(path);
        }
    }
    files
}

#[test]
fn a_reader_that_closes_the_pipe_is_no_failure() {
    let bench = Bench::new();
    let mut child = bench
        .command(&["schema", "show"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(
        (output.status.code(), output.stderr.as_slice()),
        (Some(0), &b""[..])
    );
}

#[test]
fn the_page_on_the_format_is_the_published_one() {
    let page = fs::read_to_string(samples().join("../schemas/record-format.md")).unwrap();
    assert!(page.starts_with("# "));
    assert_eq!(Bench::new().run(&["schema", "page"]).code(0).out, page);
}

#[test]
fn the_runner_is_no_verb_for_people() {
    let bench = Bench::new();
    let ran = bench.run(&["plugin-runner"]);
    assert_eq!(ran.code, 1, "without a host it ends at once");
    assert!(!bench.run(&["--help"]).code(0).out.contains("plugin-runner"));
    let late = bench.run(&["--workshop", "w", "plugin-runner"]).code(4);
    assert!(
        late.err
            .starts_with("error: unrecognized subcommand 'plugin-runner'"),
        "{}",
        late.err
    );
}

#[test]
fn a_table_is_imported_row_by_row() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    // Invented rows; the second has its curvature off by a factor of ten.
    let csv = "no,type,length,bow,line\n\
        A 1,katana,68.1,1.7,L. of cutting edge 26 7/8 in. (68.1 cm); D. of curvature 5/8 in. (1.7 cm)\n\
        A 2,katana,75.1,2.4,L. of cutting edge 29 9/16 in. (75.1 cm); D. of curvature 3/32 in. (2.4 cm)\n";
    fs::write(bench.path("table.csv"), csv).unwrap();
    let mut line = vec!["examine", "import", "table.csv"];
    for pair in [
        "identity=no",
        "kind=type",
        "blade_length=length:cm",
        "curvature=bow:cm",
        "published=line",
    ] {
        line.extend(["--map", pair]);
    }
    let dry = bench.work(&[&line[..], &["--dry-run"]].concat()).code(0);
    assert!(
        dry.out
            .starts_with("would enter a-1 from A 1\nwould enter a-2 from A 2\n"),
        "{}",
        dry.out
    );
    let fault = dry
        .out
        .lines()
        .find(|line| line.contains("line 3, A 2, "))
        .unwrap();
    assert!(
        fault.contains("3/32 in") && fault.contains("2.4 cm"),
        "both values are shown: {fault}"
    );
    assert!(
        dry.out
            .contains("    hint: look the value up where it was published"),
        "{}",
        dry.out
    );
    assert_eq!(
        bench
            .work(&["blade", "list", "--json"])
            .code(0)
            .json()
            .as_array()
            .unwrap()
            .len(),
        0
    );

    let json = bench
        .work(&[&line[..], &["--json"]].concat())
        .code(0)
        .json();
    assert_eq!(json["entered"].as_array().unwrap().len(), 2);
    assert_eq!(
        (
            text(&json["entered"][0], "blade"),
            text(&json["entered"][0], "identity")
        ),
        ("a-1", "A 1")
    );
    let sheet = bench
        .work(&["examine", "show", "a-1", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&sheet["dimensions"]["curvature"], "value"), "17.0");
    let other = bench
        .work(&["examine", "show", "a-2", "--json"])
        .code(0)
        .json();
    assert_eq!(text(&other["dimensions"]["blade_length"], "value"), "751.0");
    assert!(
        other["dimensions"].get("curvature").is_none(),
        "a doubtful value is not taken"
    );
}

#[test]
fn the_tour_ends_with_reports_and_verdicts() {
    let bench = Bench::new();
    let tour = bench.run(&["tour", "demo", "--json"]).code(0);
    assert!(
        tour.err.contains("fingerprint"),
        "steps are told: {}",
        tour.err
    );
    let made = tour.json();
    let blades = made["blades"].as_array().unwrap();
    assert!(blades.len() >= 5, "{} blades", blades.len());
    for file in blades
        .iter()
        .flat_map(|blade| blade["reports"].as_array().unwrap())
    {
        assert!(bench.path(file.as_str().unwrap()).is_file(), "{file}");
    }
    let codes: Vec<u64> = made["verdicts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|verdict| verdict["exit_code"].as_u64().unwrap())
        .collect();
    assert_eq!(codes, [0, 2, 2, 1]);
    for verdict in made["verdicts"].as_array().unwrap().iter().skip(1) {
        let ran = bench.run(&["verify", text(verdict, "file"), "--no-remember"]);
        assert_eq!(
            u64::try_from(ran.code).ok(),
            verdict["exit_code"].as_u64(),
            "{}",
            ran.out
        );
    }
    assert!(
        text(&made["refusals"][0], "answer").contains("while a stop stands"),
        "{}",
        made["refusals"]
    );
    assert!(text(&made["refusals"][0], "asked").starts_with("seal "));
    at_the_bench(&bench, &made["bench"]);
    // After a rebuild of the program people take it again: the earlier one is moved aside, whole.
    let again = bench.run(&["tour", "demo"]).code(0);
    assert!(
        again.err.starts_with("moved the earlier tour to demo.1\n"),
        "{}",
        again.err
    );
    assert!(
        again
            .out
            .contains("\nreports:\n  demo/out/reed-01-before_work.pdf\n"),
        "{}",
        again.out
    );
    assert!(
        again
            .out
            .contains("\nverify: a copy with one digit changed\n"),
        "{}",
        again.out
    );
    let told = "\nfrom the parcel to the sale: marten\n  stages:       as_received, first_pass, finished, sold\n";
    assert!(again.out.contains(told), "{}", again.out);
    assert!(bench.path("demo.1/workshop.db").is_file());
    fs::create_dir(bench.path("full")).unwrap();
    fs::write(bench.path("full/notes.txt"), "mine").unwrap();
    let full = bench.run(&["tour", "full"]).code(1);
    assert_eq!(
        full.err,
        "error: cannot make a workshop in `full`: it already holds `notes.txt`\nhint: name a new or empty folder\n"
    );
}

/// One blade of the tour goes from the parcel to the sale, with a refused pass and a questioned reading on the way.
fn at_the_bench(bench: &Bench, made: &serde_json::Value) {
    let demo = |words: &[&str]| {
        let ran = bench.run(&[&["--workshop", "demo"], words, &["--json"]].concat());
        ran.code(0).json()
    };
    let refused = text(&made["refused"], "answer");
    assert!(
        refused.starts_with("blade `gorge` is held, no pass is logged while a stop stands"),
        "{refused}"
    );
    let kept = demo(&["journal", "list", "gorge", "--kind", "refused_pass"]);
    assert_eq!(
        kept.as_array().unwrap().len(),
        1,
        "what was entered is kept: {kept}"
    );
    let questioned = text(&made["questioned"], "answer");
    assert!(questioned.contains("174.1 g found"), "{questioned}");
    assert_eq!(made["passes"].as_array().unwrap().len(), 2);
    // 171.4 g when it came, 169.6 g after the last pass.
    let compared = text(made, "compared");
    assert!(compared.starts_with("1.80 ± "), "{compared}");
    assert!(compared.contains("1 flaw gone"), "{compared}");
    // Sold for 520, bought for 310, one cost of 18.40.
    assert_eq!(text(&made["account"][0], "margin"), "191.60");
    let told = demo(&["book", "show", "marten"]);
    assert_eq!(
        told["currencies"][0]["margin"],
        made["account"][0]["margin"]
    );
    let records = demo(&["blade", "show", "marten"]);
    let purposes: Vec<&str> = records["records_sealed"]
        .as_array()
        .unwrap()
        .iter()
        .map(|record| text(record, "purpose"))
        .collect();
    assert_eq!(purposes, ["before_work", "after_work", "transfer"]);
    let sold = bench.path(text(made, "sold"));
    let papers = fs::read_dir(&sold).unwrap().filter_map(Result::ok);
    let names: Vec<String> = papers
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    assert!(
        names
            .iter()
            .filter(|name| Path::new(name).extension().is_some_and(|end| end == "pdf"))
            .count()
            >= 4,
        "{names:?}"
    );
    assert!(
        names.contains(&"marten-handover.zip".to_owned()),
        "{names:?}"
    );
}

#[test]
fn the_workshop_is_found_in_three_ways() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let nowhere = bench.run(&["blade", "list"]).code(1);
    assert!(
        nowhere.err.starts_with(
            "error: no workshop: the current folder holds no `workshop.db`\nhint: go into"
        ),
        "{}",
        nowhere.err
    );
    bench.work(&["blade", "list"]).code(0);
    let here = bench
        .command(&["blade", "list"])
        .current_dir(bench.path("w"))
        .output()
        .unwrap();
    assert_eq!(here.status.code(), Some(0));
    let named = bench
        .command(&["blade", "list"])
        .env("TANGMARK_WORKSHOP", bench.path("w"))
        .output()
        .unwrap();
    assert_eq!(named.status.code(), Some(0));
}

#[test]
fn nothing_is_promised_that_cannot_be_kept() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let sealed = bench.seal("heron", "before_work", "work").code(0).json();
    let mut texts = vec![
        bench.run(&["verify", text(&sealed, "file")]).out,
        bench.run(&["--help"]).out,
    ];
    for verb in [
        "setup",
        "blade",
        "examine",
        "check",
        "seal",
        "report",
        "verify",
        "plugin",
        "schema",
        "store",
        "tour",
        "completions",
    ] {
        texts.push(bench.run(&[verb, "--help"]).code(0).out);
    }
    for text in texts {
        for word in ["authentic", "genuine", " safe", "legal"] {
            assert!(
                !text.to_lowercase().contains(word),
                "`{word}` stands in\n{text}"
            );
        }
    }
    assert!(samples().join("sheets").is_dir());
}

/// A plan without the planner is none: the command says so and ends with 1.
#[test]
fn a_plan_that_was_not_made_is_a_failure() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    let folder = bench.path("w/plugins/abrasives");
    fs::create_dir_all(&folder).unwrap();
    bench.work(&["plan", "heron"]).code(0);
    fs::write(folder.join("settings.toml"), "fairing = 50.0\n").unwrap();
    let refused = bench.work(&["plan", "heron"]).code(1);
    assert!(
        refused.err.starts_with("error: no plan was made: ")
            && refused.err.contains("unknown field `fairing`")
            && refused.err.contains("hint: mend what it names"),
        "{}",
        refused.err
    );
    fs::write(folder.join("settings.toml"), "fairing_mm = \n").unwrap();
    let broken = bench.work(&["plan", "heron"]).code(1);
    assert!(
        broken.err.contains("settings.toml: line 1"),
        "{}",
        broken.err
    );
    fs::remove_file(folder.join("settings.toml")).unwrap();
    bench.work(&["plugin", "withdraw", "abrasives"]).code(0);
    let absent = bench.work(&["plan", "heron"]).code(1);
    assert!(
        absent.err.starts_with("error: no plan was made: "),
        "{}",
        absent.err
    );
}
