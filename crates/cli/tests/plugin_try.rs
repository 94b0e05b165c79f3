//! `tangmark plugin try`: the question, the answer, what was used, and faults with their next step.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use common::{built, samples};
use serde_json::{Value, json};
use tempfile::TempDir;

/// A folder with a sheet, and no workshop anywhere.
struct Place {
    folder: TempDir,
}

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let sheet = samples().join("sheets/heron.toml");
        fs::write(folder.path().join("pass.txt"), "x").unwrap();
        fs::copy(sheet, folder.path().join("heron.toml")).unwrap();
        fs::create_dir(folder.path().join("photos")).unwrap();
        for entry in fs::read_dir(samples().join("photos")).unwrap() {
            let from = entry.unwrap().path();
            let to = folder.path().join("photos").join(from.file_name().unwrap());
            fs::copy(from, to).unwrap();
        }
        // The sheet names its photos from the folder of the samples.
        let text = fs::read_to_string(folder.path().join("heron.toml")).unwrap();
        let text = text.replace("\"../photos/", "\"photos/");
        fs::write(folder.path().join("heron.toml"), text).unwrap();
        Self { folder }
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.folder.path().join(name), text).unwrap();
    }

    fn attempt(&self, library: &Path, more: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_tangmark"))
            .args(["plugin", "try"])
            .arg(library)
            .args(["--on", "heron.toml"])
            .args(more)
            .current_dir(self.folder.path())
            .env_remove("TANGMARK_WORKSHOP")
            .output()
            .unwrap()
    }

    fn names(&self) -> usize {
        fs::read_dir(self.folder.path()).unwrap().count()
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn a_plugin_is_tried_without_a_workshop() {
    let place = Place::new();
    let before = place.names();
    let triage = built("libtangmark_triage.so");
    let ran = place.attempt(&triage, &["--input", "question.json"]);
    assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
    let said = text(&ran.stdout);
    let question = fs::read(place.folder.path().join("question.json")).unwrap();
    let start = format!("asked, {} bytes:\n  {{\n    \"abi\": 1,\n", question.len());
    for part in [
        "plugin triage ",
        &start,
        " lines more; `--input FILE` has the whole\n",
        ": triage/",
        "\ntime: ",
        " ms of 10000 ms",
        "\nmemory: ",
        " MiB of 512 MiB address space",
        "\nbarriers: no-new-privileges up, ",
    ] {
        assert!(said.contains(part), "no `{part}` in {said}");
    }
    let question: Value = serde_json::from_slice(&question).unwrap();
    assert_eq!(question["settings"], json!({}));
    assert_eq!(question["sheet"]["blade"]["id"], "heron");
    // Nothing else was made, here or in the way of an approval.
    assert_eq!(place.names(), before + 1);
    let again = place.attempt(&triage, &["--input", "question.json"]);
    assert_eq!(again.status.code(), Some(1));
    assert!(text(&again.stderr).contains("exists already"));
}

#[test]
fn settings_and_tables_reach_the_plugin() {
    let place = Place::new();
    place.write("set.toml", "depth = 4.5\nnames = [\"a\"]\n");
    place.write("stones.csv", "name,d50_um\n coarse ,57.0\nfine,\n");
    let triage = built("libtangmark_triage.so");
    let more = ["--settings", "set.toml", "--table", "stones.csv", "--json"];
    let ran = place.attempt(&triage, &more);
    let told: Value = serde_json::from_slice(&ran.stdout).unwrap();
    let asked = &told["request"];
    assert_eq!(asked["settings"], json!({"depth": 4.5, "names": ["a"]}));
    assert_eq!(
        asked["tables"],
        json!({"stones": [{"name": "coarse", "d50_um": "57.0"}, {"name": "fine"}]})
    );
    // `triage` knows no such setting: the fault is told as JSON, and as words with the next step.
    assert_eq!(ran.status.code(), Some(1));
    let fault = told["fault"].as_str().unwrap();
    let start = "plugin `triage`: it refuses to judge: ";
    assert!(fault.starts_with(start), "{fault}");
    assert!(told["wall_ms"].as_f64().unwrap() > 0.0);
    let said = text(&ran.stderr);
    assert!(said.starts_with(&format!("error: {start}")), "{said}");
    assert!(said.contains("hint: give it what it asks for"), "{said}");
    let twice = ["--table", "stones.csv", "--table", "stones.csv"];
    let ran = place.attempt(&triage, &twice);
    let said = text(&ran.stderr);
    assert!(said.contains("a second table called `stones`"), "{said}");
}

#[test]
fn files_that_are_no_plugin_are_named() {
    let place = Place::new();
    place.write("libtangmark_empty.so", "no library");
    place.write("other.so", "no library");
    for (file, fault, hint) in [
        (
            "other.so",
            "`other.so` is not named as a plugin's file",
            "name it `libtangmark_NAME.so`",
        ),
        (
            "libtangmark_gone.so",
            "plugin `gone`: the file cannot be read",
            "put a readable libtangmark_gone.so back",
        ),
        (
            "libtangmark_empty.so",
            "plugin `empty`: it cannot be loaded",
            "build a shared library that exports the three functions",
        ),
    ] {
        let ran = place.attempt(Path::new(file), &[]);
        assert_eq!(ran.status.code(), Some(1), "{file}");
        let said = text(&ran.stderr);
        assert!(said.contains(fault) && said.contains(hint), "{said}");
    }
}
