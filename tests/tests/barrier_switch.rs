//! The switch that leaves barriers out is for the host's own tests: nothing that is given to anyone has it.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::path::Path;
use std::process::Command;

use cargo_metadata::{DependencyKind, MetadataCommand};

const SWITCH: &str = "barriers-off-for-tests";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
}

/// What cargo would turn on in the host for a build of the command, with these kinds of dependencies.
fn features_of_host(package: &str, edges: &str) -> String {
    let tree = Command::new(env!("CARGO"))
        .args(["tree", "--offline", "--locked", "--package", package])
        .args([
            "--edges",
            edges,
            "--format",
            "{p} [{f}]",
            "--prefix",
            "none",
        ])
        .current_dir(root())
        .output()
        .unwrap();
    let said = String::from_utf8(tree.stdout).unwrap();
    said.lines()
        .find(|line| line.starts_with("tangmark-host "))
        .unwrap_or_else(|| panic!("no host in {said}{}", String::from_utf8_lossy(&tree.stderr)))
        .to_owned()
}

#[test]
fn no_crate_asks_for_the_switch_but_the_host_in_its_tests() {
    let metadata = MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .no_deps()
        .exec()
        .unwrap();
    let mut asking = Vec::new();
    for package in &metadata.packages {
        for dependency in &package.dependencies {
            if dependency.features.iter().any(|name| name.contains(SWITCH)) {
                asking.push((package.name.to_string(), dependency.kind));
            }
        }
        for (name, turned_on) in &package.features {
            assert!(
                !turned_on.iter().any(|other| other.contains(SWITCH)),
                "the feature `{name}` of {} turns the switch on",
                package.name
            );
        }
    }
    assert_eq!(
        asking,
        [("tangmark-host".to_owned(), DependencyKind::Development)]
    );
}

#[test]
fn a_build_of_the_command_does_not_have_the_switch() {
    let built = features_of_host("tangmark-cli", "normal,build");
    assert!(!built.contains(SWITCH), "{built}");
    // The same question about the host's own tests finds it: the question is a good one.
    let tested = features_of_host("tangmark-host", "normal,build,dev");
    assert!(tested.contains(SWITCH), "{tested}");
}
