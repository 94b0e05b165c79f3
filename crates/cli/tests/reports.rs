//! Reports through the built command: many in one run, interrupted and failing ones, withheld values shown.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::path::PathBuf;

use common::{Bench, Ran, text};
use serde_json::Value;

/// A workshop with two sealed blades, `heron` and `reed`, and one draft, `gorge`.
fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    for sheet in ["heron", "reed-before", "gorge"] {
        bench.put(sheet);
    }
    for blade in ["heron", "reed"] {
        bench.seal(blade, "before_work", "work").code(0);
    }
    bench
}

fn report(bench: &Bench, arguments: &[&str]) -> Ran {
    let key = ["--passphrase-file", "pass.txt"];
    bench.work(&[&["report"], arguments, &key].concat())
}

/// One JSON object a line.
fn lines(ran: &Ran) -> Vec<Value> {
    let lines = ran.out.lines();
    lines
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

/// Names of the files in a folder, sorted.
fn files(bench: &Bench, folder: &str) -> Vec<String> {
    let Ok(entries) = fs::read_dir(bench.path(folder)) else {
        return Vec::new();
    };
    let mut names: Vec<String> = entries
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn holds(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

#[test]
fn all_reports_are_made_in_one_run() {
    let bench = bench();
    let ran = report(&bench, &["--all", "--out", "r", "--json"]).code(0);
    let made = lines(&ran);
    let told: Vec<_> = made
        .iter()
        .map(|line| (text(line, "blade"), text(line, "file")))
        .collect();
    assert_eq!(
        told,
        [
            ("heron", "r/heron-01-before_work.pdf"),
            ("reed", "r/reed-01-before_work.pdf")
        ]
    );
    assert_eq!(
        ran.err,
        "note: 1 blade without a sealed record left out\n2 reports made\n"
    );
    assert_eq!(
        files(&bench, "r"),
        ["heron-01-before_work.pdf", "reed-01-before_work.pdf"]
    );
    for line in &made {
        let file = bench.path(text(line, "file"));
        assert_eq!(
            line["bytes"].as_u64(),
            Some(fs::metadata(&file).unwrap().len())
        );
        assert_eq!(text(&line["renderer"], "fonts").len(), 64);
        assert!(line["renderer"]["version"].as_u64() >= Some(1));
        bench.work(&["verify", file.to_str().unwrap()]).code(0);
    }

    // The same with names; kind, language and paper have files of their own.
    let ran = report(
        &bench,
        &[
            "reed",
            "heron",
            "reed",
            "--out",
            "r",
            "--kind",
            "buyer",
            "--language",
            "both",
            "--paper",
            "letter",
        ],
    )
    .code(0);
    assert_eq!(
        ran.out,
        "r/reed-01-before_work-buyer-both-letter.pdf\nr/heron-01-before_work-buyer-both-letter.pdf\n"
    );
    assert_eq!(files(&bench, "r").len(), 4);
}

#[test]
fn one_report_in_a_batch_is_the_one_made_alone() {
    let bench = bench();
    report(&bench, &["--all", "--out", "many"]).code(0);
    report(&bench, &["reed", "--out", "alone.pdf"]).code(0);
    let read = |file: &str| fs::read(bench.path(file)).unwrap();
    assert!(read("many/reed-01-before_work.pdf") == read("alone.pdf"));
}

#[test]
fn nothing_is_made_when_a_file_is_there() {
    let bench = bench();
    fs::create_dir(bench.path("r")).unwrap();
    fs::write(bench.path("r/reed-01-before_work.pdf"), "mine").unwrap();
    let ran = report(&bench, &["--all", "--out", "r"]).code(1);
    assert_eq!(ran.out, "");
    assert!(
        ran.err.contains("error: r/reed-01-before_work.pdf exists already; nothing was made\nhint: leave out what is there with `--skip-existing`"),
        "{}",
        ran.err
    );
    assert_eq!(files(&bench, "r"), ["reed-01-before_work.pdf"]);
    assert_eq!(
        fs::read(bench.path("r/reed-01-before_work.pdf")).unwrap(),
        b"mine"
    );

    fs::write(bench.path("file"), "x").unwrap();
    let ran = report(&bench, &["--all", "--out", "file"]).code(1);
    assert!(
        ran.err
            .contains("error: file: a file, a folder is needed for several reports"),
        "{}",
        ran.err
    );
}

#[test]
fn an_interrupted_run_goes_on() {
    let bench = bench();
    report(&bench, &["--all", "--out", "whole"]).code(0);
    // As it is after an interruption: one report is there, a part of another lies beside it under a name of its own.
    report(&bench, &["heron", "--out", "cut/heron-01-before_work.pdf"]).code(0);
    fs::write(bench.path("cut/.report-x.part"), "%PDF-1.7").unwrap();
    let before = fs::metadata(bench.path("cut/heron-01-before_work.pdf"))
        .unwrap()
        .modified()
        .unwrap();
    let ran = report(
        &bench,
        &["--all", "--out", "cut", "--skip-existing", "--json"],
    )
    .code(0);
    let told = lines(&ran);
    assert_eq!(told.len(), 2);
    assert_eq!(
        (text(&told[0], "blade"), &told[0]["skipped"]),
        ("heron", &Value::Bool(true))
    );
    assert_eq!(text(&told[1], "blade"), "reed");
    assert!(
        ran.err.ends_with("1 report made, 1 there already\n"),
        "{}",
        ran.err
    );
    let after = fs::metadata(bench.path("cut/heron-01-before_work.pdf"))
        .unwrap()
        .modified()
        .unwrap();
    assert_eq!(before, after);
    for name in files(&bench, "whole") {
        let read = |folder: &str| fs::read(bench.path(folder).join(&name)).unwrap();
        assert!(read("cut") == read("whole"), "{name}");
    }
    // When all are there, no key is needed.
    let ran = bench
        .work(&["report", "--all", "--out", "cut", "--skip-existing"])
        .code(0);
    assert!(
        ran.err.ends_with("0 reports made, 2 there already\n"),
        "{}",
        ran.err
    );
}

/// The object of heron's first photo.
fn photo_object(bench: &Bench) -> PathBuf {
    let record = fs::read(bench.path("w/out/heron-01-before_work.json")).unwrap();
    let record: Value = serde_json::from_slice(&record).unwrap();
    let digest = text(&record["photos"][0]["original"], "digest").to_owned();
    bench.path("w/objects").join(&digest[..2]).join(&digest)
}

#[test]
fn a_failure_keeps_no_other_back() {
    let bench = bench();
    let ran = report(&bench, &["heron", "nobody", "reed", "gorge", "--out", "r"]).code(1);
    assert_eq!(
        ran.out,
        "r/heron-01-before_work.pdf\nr/reed-01-before_work.pdf\n"
    );
    assert!(
        ran.err.contains("error: nobody: blade `nobody` is not in this workshop\nhint: list the blades with `tangmark blade list`"),
        "{}",
        ran.err
    );
    assert!(
        ran.err
            .contains("error: gorge: blade `gorge` has no sealed record yet\nhint: seal one"),
        "{}",
        ran.err
    );
    assert!(
        ran.err.ends_with("2 reports made, 2 failed\n"),
        "{}",
        ran.err
    );

    // One that fails while it is made: its photo rotted in the store.
    let object = photo_object(&bench);
    let sound = fs::read(&object).unwrap();
    let mut rotten = sound.clone();
    rotten[200] ^= 1;
    make_writable(&object);
    fs::write(&object, rotten).unwrap();
    let ran = report(&bench, &["--all", "--out", "s", "--json"]).code(1);
    let told = lines(&ran);
    assert_eq!(told.len(), 2, "{}", ran.out);
    assert_eq!(text(&told[0], "blade"), "reed");
    assert_eq!(text(&told[1], "blade"), "heron");
    assert!(text(&told[1], "error").contains("bytes"), "{}", ran.out);
    assert_eq!(files(&bench, "s"), ["reed-01-before_work.pdf"]);

    fs::write(&object, sound).unwrap();
    let ran = report(&bench, &["--all", "--out", "s", "--skip-existing"]).code(0);
    assert_eq!(ran.out, "s/heron-01-before_work.pdf\n");
}

fn make_writable(path: &PathBuf) {
    use std::os::unix::fs::PermissionsExt as _;
    fs::set_permissions(path, fs::Permissions::from_mode(0o644)).unwrap();
}

#[test]
fn a_withheld_value_is_shown_only_by_name() {
    let bench = bench();
    let plain = report(&bench, &["reed", "--json"]).code(0).json();
    let bytes = fs::read(bench.path(text(&plain, "file"))).unwrap();
    let record = fs::read(bench.path("w/out/reed-01-before_work.json")).unwrap();
    assert!(holds(&bytes, &record) && !holds(&bytes, b"disclosures.json"));
    assert_eq!(plain["revealed"].as_array().unwrap().len(), 0);
    let plain = bench
        .work(&["verify", text(&plain, "file"), "--json"])
        .json();
    let withheld = plain["completeness"]["withheld"].as_u64().unwrap();

    let ran = report(
        &bench,
        &[
            "reed",
            "--reveal",
            "agreement.owner.name",
            "--reveal",
            "/agreement/price_ceiling",
        ],
    )
    .code(0);
    assert_eq!(ran.out, "w/out/reed-01-before_work-revealed.pdf\n");
    assert!(
        ran.err.contains("note: shows what the record withholds: agreement.owner.name, agreement.price_ceiling; whoever gets the file can read it\n"),
        "{}",
        ran.err
    );
    let file = "w/out/reed-01-before_work-revealed.pdf";
    let shown = fs::read(bench.path(file)).unwrap();
    assert!(holds(&shown, &record), "the sealed record, byte for byte");
    assert!(holds(&shown, b"disclosures.json"));
    let verdict = bench.work(&["verify", file, "--json"]).code(0).json();
    let completeness = &verdict["completeness"];
    assert_eq!(completeness["disclosed"].as_u64(), Some(2));
    assert_eq!(completeness["withheld"].as_u64(), Some(withheld - 2));
    let verdict = bench.work(&["verify", file]).code(0);
    assert!(
        verdict
            .out
            .contains("; 2 withheld values disclosed, each fits its digest in the record;"),
        "{}",
        verdict.out
    );

    // One bit of what is disclosed.
    let place = shown
        .windows(14)
        .position(|window| window == b"\"disclosure\": ")
        .unwrap();
    let mut changed = shown.clone();
    changed[place + 20] ^= 1;
    fs::write(bench.path("changed.pdf"), changed).unwrap();
    bench.work(&["verify", "changed.pdf"]).code(1);
}

#[test]
fn what_is_not_withheld_cannot_be_revealed() {
    let bench = bench();
    let ran = report(&bench, &["reed", "--reveal", "agreement.owner.shoe"]).code(1);
    assert!(
        ran.err.starts_with("error: `agreement.owner.shoe` names no value that this record withholds; it withholds agreement."),
        "{}",
        ran.err
    );
    assert!(
        ran.err
            .contains("\nhint: name one of these with `--reveal`")
    );
    assert!(
        !bench
            .path("w/out/reed-01-before_work-revealed.pdf")
            .exists()
    );
    for several in [
        ["--all", "--reveal", "agreement"],
        ["reed", "heron", "--reveal=agreement"],
    ] {
        report(&bench, &several).code(4);
    }
    // The name of a file does not tell which values it shows.
    report(&bench, &["reed", "--reveal=agreement", "--skip-existing"]).code(4);
    report(&bench, &[]).code(4);
    report(&bench, &["reed", "--all"]).code(4);
}

#[test]
fn a_font_that_is_none_is_told_and_left_out() {
    let bench = bench();
    fs::create_dir(bench.path("w/fonts")).unwrap();
    fs::write(bench.path("w/fonts/Broken.TTF"), "no font").unwrap();
    fs::write(bench.path("w/fonts/licence.txt"), "words").unwrap();
    let ran = report(&bench, &["--all", "--out", "r"]).code(0);
    let told: Vec<&str> = ran
        .err
        .lines()
        .filter(|line| line.starts_with("note: left out: "))
        .collect();
    assert_eq!(told.len(), 1, "once for all reports: {}", ran.err);
    assert!(
        told[0].starts_with("note: left out: font file `Broken.TTF` is no "),
        "{}",
        told[0]
    );
    report(&bench, &["reed", "--out", "plain.pdf"]).code(0);
    fs::remove_dir_all(bench.path("w/fonts")).unwrap();
    report(&bench, &["reed", "--out", "without.pdf"]).code(0);
    let read = |file: &str| fs::read(bench.path(file)).unwrap();
    assert!(read("plain.pdf") == read("without.pdf"));
}

/// Number of objects that the workshop keeps.
fn objects(bench: &Bench) -> usize {
    let folders = fs::read_dir(bench.path("w/objects")).unwrap();
    folders
        .map(|folder| folder.unwrap().path())
        .filter(|folder| folder.is_dir())
        .map(|folder| fs::read_dir(folder).unwrap().count())
        .sum()
}

#[test]
fn a_path_that_ends_in_a_slash_is_a_folder() {
    let bench = bench();
    let ran = report(&bench, &["reed", "--out", "sheets/"]).code(0);
    assert_eq!(ran.out, "sheets/reed-01-before_work.pdf\n");
    assert_eq!(files(&bench, "sheets"), ["reed-01-before_work.pdf"]);
}

#[test]
fn nothing_is_made_or_kept_for_a_file_that_cannot_be_written() {
    let bench = bench();
    let before = objects(&bench);
    let long = format!("{}.pdf", "x".repeat(300));
    for out in ["pass.txt/reed.pdf", "/proc/nowhere/reed.pdf", &long] {
        let ran = report(&bench, &["reed", "--out", out]).code(1);
        assert!(
            ran.err.starts_with("error: ") && ran.err.contains(": cannot "),
            "{}",
            ran.err
        );
        assert_eq!(ran.out, "");
    }
    assert_eq!(objects(&bench), before);
    report(&bench, &["reed", "--out", "r.pdf"]).code(0);
    assert!(objects(&bench) > before, "a report that is made is kept");
}

#[test]
fn a_batch_goes_on_when_nobody_can_be_told() {
    let bench = bench();
    let full = fs::File::options().write(true).open("/dev/full").unwrap();
    let output = bench
        .command(&[
            "--workshop",
            "w",
            "report",
            "--all",
            "--out",
            "r",
            "--passphrase-file",
            "pass.txt",
        ])
        .stdout(full)
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(
        said.contains("2 reports made\nerror: standard output: cannot write: "),
        "{said}"
    );
    assert_eq!(
        files(&bench, "r"),
        ["heron-01-before_work.pdf", "reed-01-before_work.pdf"]
    );
}

#[test]
fn failures_are_told_although_the_key_stays_shut() {
    let bench = bench();
    fs::write(bench.path("wrong.txt"), "four dry stones\n").unwrap();
    let ran = bench
        .work(&[
            "report",
            "nobody",
            "reed",
            "--out",
            "r",
            "--passphrase-file",
            "wrong.txt",
        ])
        .code(1);
    let first = ran
        .err
        .find("error: nobody: blade `nobody` is not in this workshop");
    let last = ran.err.rfind("error: ").unwrap();
    assert!(first.is_some_and(|first| first < last), "{}", ran.err);
    assert_eq!(files(&bench, "r").len(), 0);
}
