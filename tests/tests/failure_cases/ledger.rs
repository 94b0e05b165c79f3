//! Where each number of the list of failures is tested.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Numbers that wait, and why.
const WAITING: [(u32, &str); 3] = [
    (
        65,
        "inclusion proofs: no log of records is written or read yet",
    ),
    (66, "checkpoints of a log: as 65"),
    (67, "the free line of a proof: as 65"),
];

/// Checks outside Rust that hold a number: file, and a word that must stand in it.
const OUTSIDE: [(u32, &str, &str); 1] = [(68, ".ci/outside/offline.py", "unshare")];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            if path.file_name().is_none_or(|name| name != "target") {
                sources(&path, found);
            }
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

/// Numbers of the functions named `case_NN_…` or `…_case_NN_…` that stand behind `#[test]`.
fn numbers(text: &str) -> Vec<u32> {
    let mut found = Vec::new();
    let mut is_test = false;
    for line in text.lines().map(str::trim) {
        if line == "#[test]" {
            is_test = true;
        } else if let Some(name) = line.strip_prefix("fn ") {
            if is_test && let Some((_, rest)) = name.split_once("case_") {
                let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
                found.extend(digits.parse::<u32>());
            }
            is_test = false;
        } else if !line.starts_with("#[") {
            is_test = false;
        }
    }
    found
}

#[test]
fn every_number_of_the_list_is_tested_or_waits_for_a_reason() {
    let mut files = Vec::new();
    for folder in ["crates", "tests"] {
        sources(&root().join(folder), &mut files);
    }
    let mut tests: BTreeMap<u32, usize> = BTreeMap::new();
    for file in files {
        for number in numbers(&fs::read_to_string(file).unwrap()) {
            *tests.entry(number).or_default() += 1;
        }
    }
    for (number, file, word) in OUTSIDE {
        let text = fs::read_to_string(root().join(file)).unwrap();
        assert!(text.contains(word), "case {number}: no `{word}` in {file}");
        *tests.entry(number).or_default() += 1;
    }
    let waiting: BTreeSet<u32> = WAITING.iter().map(|(number, _)| *number).collect();
    let missing: Vec<u32> = (1..=70)
        .filter(|number| !tests.contains_key(number) && !waiting.contains(number))
        .collect();
    assert!(missing.is_empty(), "no test for {missing:?}");
    for (number, reason) in WAITING {
        assert!(
            !tests.contains_key(&number),
            "case {number} is tested and need not wait: {reason}"
        );
    }
}

#[test]
fn the_ledger_sees_tests_and_nothing_else() {
    let text = "#[test]\nfn case_07_words() {}\nfn case_08_no_test() {}\n#[test]\n#[ignore]\nfn a_case_9_b() {}\n";
    assert_eq!(numbers(text), [7, 9]);
}
