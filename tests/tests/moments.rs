//! The feature that stops the command inside a write is for the test kit: nothing that is given to anyone has it.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::path::Path;
use std::process::Command;

use cargo_metadata::{DependencyKind, MetadataCommand};

const FEATURE: &str = "moments";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}

/// What cargo would turn on in the store for a build of these packages.
fn features_of_store(package: &[&str]) -> String {
    let tree = Command::new(env!("CARGO"))
        .args(["tree", "--offline", "--locked"])
        .args(package)
        .args(["--edges", "normal,build", "--prefix", "none"])
        .args(["--format", "{p} [{f}]"])
        .current_dir(root())
        .output()
        .unwrap();
    let said = String::from_utf8(tree.stdout).unwrap();
    said.lines()
        .find(|line| line.starts_with("tangmark-store "))
        .unwrap_or_else(|| {
            panic!(
                "no store in {said}{}",
                String::from_utf8_lossy(&tree.stderr)
            )
        })
        .to_owned()
}

#[test]
fn no_crate_asks_for_moments_but_the_test_kit() {
    let metadata = MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .no_deps()
        .exec()
        .unwrap();
    let mut asking = Vec::new();
    for package in &metadata.packages {
        for dependency in &package.dependencies {
            if dependency.features.iter().any(|name| name == FEATURE) {
                asking.push((package.name.to_string(), dependency.kind));
            }
        }
        for (name, turned_on) in &package.features {
            assert!(
                !turned_on.iter().any(|other| other.contains(FEATURE)),
                "the feature `{name}` of {} turns it on",
                package.name
            );
        }
    }
    assert_eq!(
        asking,
        [("tangmark-testkit".to_owned(), DependencyKind::Normal)]
    );
}

#[test]
fn a_build_of_the_command_does_not_know_moments() {
    // What `cargo build --release` makes, as README.md says it, and the command alone.
    for package in [&["--package", "tangmark-cli"][..], &[]] {
        let built = features_of_store(package);
        assert!(!built.contains(FEATURE), "{built}");
    }
    // The same question about the test kit finds it: the question is a good one.
    let tested = features_of_store(&["--package", "tangmark-testkit"]);
    assert!(tested.contains(FEATURE), "{tested}");
}
