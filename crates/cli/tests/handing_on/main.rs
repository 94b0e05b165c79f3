//! Handing on and checking, through the built command: whose card counts, what stays private, and where files lie.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

#[path = "../common/mod.rs"]
mod common;

mod cards;
mod giving;
mod onward;
mod places;
mod private;

use std::fs;

use common::{Bench, Ran};

/// The fingerprint on the card of a workshop.
fn card(bench: &Bench, workshop: &str) -> String {
    let card = fs::read_to_string(bench.path(workshop).join("out/card/card.txt")).unwrap();
    let line = card.lines().map(str::trim);
    let mut found = line.filter(|line| line.len() == 23 && line.matches('-').count() == 3);
    found.next().expect("a fingerprint").to_owned()
}

/// Another workshop beside `w`, with the same passphrase.
fn another(bench: &Bench, folder: &str, name: &str) {
    let words = ["--name", name, "--passphrase-file", "pass.txt"];
    bench
        .run(&[&["setup", folder][..], &words].concat())
        .code(0);
}

/// Packs a blade of `w`, without a report.
fn give(bench: &Bench, blade: &str, out: &str, more: &[&str]) -> Ran {
    let line = ["handover", blade, "--out", out, "--report", "none"];
    bench.work(&[&line[..], more].concat())
}

/// Receives in `b`, with a memory of its own.
fn receive(bench: &Bench, package: &str, more: &[&str]) -> Ran {
    let start = ["--workshop", "b", "handover", "receive", package];
    bench.run(&[&start[..], &["--memory", "memory-b", "--yes"], more].concat())
}

fn sha256(bench: &Bench, file: &str) -> String {
    let out = std::process::Command::new("sha256sum")
        .arg(bench.path(file))
        .output()
        .unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    text.split_whitespace().next().unwrap().to_owned()
}
