//! A plugin started with `tangmark plugin new` builds, its tests pass, and it can be tried at once.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use common::samples;
use serde_json::Value;

fn repository() -> PathBuf {
    fs::canonicalize(Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")).unwrap()
}

fn tangmark(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tangmark"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("TANGMARK_WORKSHOP")
        .output()
        .unwrap()
}

/// Runs cargo on the new crate, without the network. What it builds stays between runs: the first takes minutes.
fn cargo(folder: &Path, arguments: &[&str]) -> String {
    let ran = Command::new(env!("CARGO"))
        .args(arguments)
        .current_dir(folder)
        .env("CARGO_TARGET_DIR", target())
        .env("CARGO_PROFILE_DEV_DEBUG", "0")
        .env("CARGO_TERM_COLOR", "never")
        .output()
        .unwrap();
    let said = format!(
        "{}{}",
        String::from_utf8_lossy(&ran.stdout),
        String::from_utf8_lossy(&ran.stderr)
    );
    assert!(ran.status.success(), "cargo {arguments:?}: {said}");
    said
}

fn target() -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join("new-plugin")
}

#[test]
fn slow_a_new_plugin_passes_its_tests_and_can_be_tried() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    let made = tangmark(here, &["plugin", "new", "marker", "--json"]);
    let said = String::from_utf8_lossy(&made.stderr);
    assert!(made.status.success(), "{said}");
    let made: Value = serde_json::from_slice(&made.stdout).unwrap();
    // The clone this very command was built from.
    assert_eq!(made["source"], repository().to_str().unwrap());
    assert_eq!(made["inside"], false);
    let crate_folder = here.join("marker");

    let said = cargo(&crate_folder, &["test", "--offline", "--all-targets"]);
    assert!(said.contains("3 passed"), "{said}");
    let sound = Command::new("rustfmt")
        .args([
            "--edition",
            "2024",
            "--check",
            "src/lib.rs",
            "tests/rules.rs",
        ])
        .current_dir(&crate_folder)
        .output()
        .unwrap();
    assert!(
        sound.status.success(),
        "{}",
        String::from_utf8_lossy(&sound.stdout)
    );

    cargo(&crate_folder, &["build", "--offline"]);
    let library = target().join("debug/libtangmark_marker.so");
    let sheet = samples().join("sheets/reed-before.toml");
    let (library, sheet) = (library.to_str().unwrap(), sheet.to_str().unwrap());
    fs::write(here.join("set.toml"), "case_mm = 900.5\n").unwrap();
    let tried = tangmark(
        here,
        &[
            "plugin",
            "try",
            library,
            "--on",
            sheet,
            "--settings",
            "set.toml",
            "--json",
        ],
    );
    let said = String::from_utf8_lossy(&tried.stderr);
    assert_eq!(tried.status.code(), Some(0), "{said}");
    let tried: Value = serde_json::from_slice(&tried.stdout).unwrap();
    assert_eq!(tried["request"]["settings"]["case_mm"], 900.5);
    assert_eq!(tried["findings"][0]["rule"], "marker.case");
    assert_eq!(tried["findings"][0]["level"], "caution");
    assert_eq!(tried["quantities"][0]["name"], "length-to-spare");
}

#[test]
fn what_is_there_and_what_cannot_be_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    fs::create_dir(here.join("marker")).unwrap();
    for (arguments, text) in [
        (
            &["marker"][..],
            "marker exists already; nothing was written",
        ),
        (&["Marker"], "`Marker` cannot be a plugin's name"),
        (&["price"], "`price` cannot be a plugin's name"),
        (
            &["other", "--source", "nowhere"],
            "nowhere` is no clone of this program's source",
        ),
    ] {
        let ran = tangmark(here, &[&["plugin", "new"][..], arguments].concat());
        assert_eq!(ran.status.code(), Some(1), "{arguments:?}");
        let said = String::from_utf8_lossy(&ran.stderr);
        assert!(said.contains(text), "{said}");
        assert!(said.contains("\nhint: "), "{said}");
    }
    assert_eq!(fs::read_dir(here).unwrap().count(), 1);
    assert_eq!(fs::read_dir(here.join("marker")).unwrap().count(), 0);
}
