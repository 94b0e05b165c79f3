//! Guards the walls of the house: which crate may use which, where `unsafe` may stand, what lies at the top.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use cargo_metadata::{DependencyKind, Metadata, MetadataCommand};

/// Crate and what of ours it may use. `plugins/*` share one row.
const ALLOWED: &[(&str, &[&str])] = &[
    ("core", &[]),
    ("measure", &["core"]),
    ("plugin", &["core"]),
    ("author", &["core", "measure", "plugin"]),
    ("host", &["core", "plugin"]),
    ("report", &["core", "measure"]),
    ("trust", &["core"]),
    ("store", &["core"]),
    ("package", &["core", "trust"]),
    (
        "workshop",
        &[
            "core", "measure", "plugin", "host", "report", "trust", "store", "package",
        ],
    ),
    ("cli", &["workshop"]),
];
const PLUGINS_MAY_USE: &[&str] = &["core", "measure", "plugin", "author"];
/// Arrows of tests only: libraries that a test must find beside its own program.
const TEST_ARROWS: &[(&str, &str)] = &[
    // Itself, with the switch of `barrier_switch.rs`.
    ("host", "host"),
    ("host", "plugin-stress"),
    ("cli", "plugin-abrasives"),
    ("cli", "plugin-custody"),
    ("cli", "plugin-dimensions"),
    ("cli", "plugin-materials"),
    ("cli", "plugin-removal"),
    ("cli", "plugin-triage"),
    ("cli", "plugin-valuation"),
];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .unwrap()
        .to_owned()
}

fn metadata() -> Metadata {
    MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .no_deps()
        .exec()
        .unwrap()
}

fn short(name: &str) -> Option<&str> {
    name.strip_prefix("tangmark-")
}

#[test]
fn crates_use_only_what_they_may() {
    let allowed: BTreeMap<&str, &[&str]> = ALLOWED.iter().copied().collect();
    let mut wrong = Vec::new();
    let mut seen = 0;
    for package in metadata().packages {
        let name = short(package.name.as_str()).unwrap();
        for dependency in &package.dependencies {
            let Some(used) = short(&dependency.name) else {
                continue;
            };
            seen += 1;
            let in_tests = dependency.kind == DependencyKind::Development;
            let may = match name {
                "testkit" | "tests" => true,
                _ if in_tests && (used == "testkit" || TEST_ARROWS.contains(&(name, used))) => true,
                plugin if plugin.starts_with("plugin-") => PLUGINS_MAY_USE.contains(&used),
                _ => allowed.get(name).is_some_and(|list| list.contains(&used)),
            };
            if !may {
                wrong.push(format!("{name} uses {used}"));
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "arrows that are not in the table: {wrong:?}"
    );
    assert!(seen > 20, "only {seen} arrows were looked at");
}

#[test]
fn every_crate_is_in_the_table() {
    let allowed: BTreeSet<&str> = ALLOWED.iter().map(|(name, _)| *name).collect();
    for package in metadata().packages {
        let name = short(package.name.as_str()).unwrap().to_owned();
        let known = allowed.contains(name.as_str())
            || name.starts_with("plugin-")
            || ["testkit", "tests"].contains(&name.as_str());
        assert!(known, "crate `{name}` has no row");
    }
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn unsafe_stands_in_one_crate_only() {
    let mut files = Vec::new();
    for folder in ["crates", "plugins", "tests"] {
        rust_files(&root().join(folder), &mut files);
    }
    assert!(
        files.len() > 60,
        "only {} files were looked at",
        files.len()
    );
    for package in metadata().packages {
        let name = package.name.as_str();
        if name == "tangmark-plugin" {
            continue;
        }
        for target in &package.targets {
            let is_root = target.is_lib()
                || target.is_bin()
                || target.kind.iter().any(|kind| kind.to_string() == "cdylib");
            if is_root {
                let text = fs::read_to_string(&target.src_path).unwrap();
                assert!(
                    text.contains("#![forbid(unsafe_code)]"),
                    "{name}: {} does not forbid unsafe code",
                    target.name
                );
            }
        }
    }
    let inside = root().join("crates/plugin");
    for file in files.iter().filter(|file| !file.starts_with(&inside)) {
        let text = fs::read_to_string(file).unwrap();
        let uses = text.lines().any(|line| {
            let line = line.trim_start();
            (line.contains("unsafe {")
                || line.starts_with("unsafe ")
                || line.contains(" unsafe fn"))
                && !line.starts_with("//")
        });
        assert!(
            !uses || file.ends_with("tests/tests/arrows.rs"),
            "{} uses unsafe",
            file.display()
        );
    }
}

#[test]
fn the_top_level_is_the_design_s() {
    let wanted: BTreeSet<&str> = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "crates",
        "plugins",
        "schemas",
        "tests",
        "samples",
        ".ci",
        ".gitignore",
    ]
    .into();
    let listed = std::process::Command::new("git")
        .args(["ls-files"])
        .current_dir(root())
        .output()
        .unwrap();
    let listed = String::from_utf8(listed.stdout).unwrap();
    let found: BTreeSet<&str> = listed
        .lines()
        .filter_map(|line| line.split('/').next())
        .collect();
    assert_eq!(found, wanted);
}

/// One verb asks time authorities; only its crate has the client, and only its file names it.
#[test]
fn no_network_client_comes_in_but_for_time_authorities() {
    let lock = fs::read_to_string(root().join("Cargo.lock")).unwrap();
    for client in ["reqwest", "hyper", "curl", "native-tls", "rustls", "isahc"] {
        assert!(
            !lock.contains(&format!("name = \"{client}\"\n")),
            "{client} is in the lock file"
        );
    }
    let users: Vec<&str> = lock
        .split("[[package]]")
        .filter(|package| package.lines().any(|line| line.trim() == "\"ureq\","))
        .filter_map(|package| {
            package
                .lines()
                .find_map(|line| line.strip_prefix("name = "))
        })
        .collect();
    assert_eq!(users, ["\"tangmark-cli\""]);
    let mut naming = Vec::new();
    let mut folders = vec![root().join("crates"), root().join("plugins")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let text = fs::read_to_string(&path).unwrap();
                if ["ureq::", "TcpStream", "std::net"]
                    .iter()
                    .any(|mark| text.contains(mark))
                {
                    naming.push(path.strip_prefix(root()).unwrap().display().to_string());
                }
            }
        }
    }
    naming.retain(|path| !path.contains("/tests"));
    naming.sort();
    // The second misbehaves on purpose, to show that its barrier holds.
    assert_eq!(
        naming,
        [
            "crates/cli/src/verbs/time/post.rs",
            "plugins/stress/src/deeds.rs"
        ]
    );
}
