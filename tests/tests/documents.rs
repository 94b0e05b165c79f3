//! The guides tell the truth: files and functions named in DEVELOPERS.md exist, links in README.md lead somewhere.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_owned()
}

/// Texts between backticks.
fn quoted(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

#[test]
fn the_main_path_names_files_and_functions_that_exist() {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let table = guide
        .split("## The main path")
        .nth(1)
        .unwrap()
        .split("\n## ")
        .next()
        .unwrap();
    let mut looked = 0;
    for line in table.lines().filter(|line| line.starts_with("| ")) {
        let mut file = String::new();
        for text in quoted(line) {
            let name = match text.split_once(".rs: ") {
                Some((path, name)) => {
                    let path = root().join(format!("{path}.rs"));
                    file = fs::read_to_string(&path)
                        .unwrap_or_else(|_| panic!("{} is not there", path.display()));
                    name
                }
                None => text,
            };
            let short = name.rsplit("::").next().unwrap();
            let found = ["fn ", "const ", "struct "]
                .iter()
                .any(|kind| file.contains(&format!("{kind}{short}")));
            assert!(found, "`{text}`: nothing called `{short}` in that file");
            looked += 1;
        }
    }
    assert!(looked > 20, "only {looked} names were looked at");
}

#[test]
fn links_of_the_readme_lead_somewhere() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let links: Vec<&str> = readme
        .split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
        .filter(|link| !link.contains("://"))
        .collect();
    assert!(links.len() >= 3);
    for link in links {
        assert!(
            root().join(link).exists(),
            "README.md links to {link}, which is not there"
        );
    }
}

#[test]
fn documents_promise_no_more_than_the_program() {
    // What the program says of a blade or a file is tested where it is said; these are the guides.
    for file in [
        "README.md",
        "DEVELOPERS.md",
        "schemas/record-format.md",
        "schemas/plugin-abi.md",
    ] {
        let text = fs::read_to_string(root().join(file))
            .unwrap()
            .to_lowercase();
        for word in ["authentic", "genuine"] {
            assert!(!text.contains(word), "{file} says `{word}`");
        }
    }
}
