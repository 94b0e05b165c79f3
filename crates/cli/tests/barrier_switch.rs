//! The command knows no way to leave a barrier out.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use std::process::{Command, Output, Stdio};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tangmark"))
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

#[test]
fn the_runner_takes_no_arguments() {
    for switch in [
        &["plugin-runner", "--without", "seccomp"][..],
        &["plugin-runner", "plugin-runner"],
        &["plugin-runner", "--without=landlock"],
    ] {
        let ran = run(switch);
        assert_eq!(ran.status.code(), Some(1), "{switch:?}");
        let said = String::from_utf8_lossy(&ran.stdout);
        assert!(said.starts_with('F'), "{said}");
        assert!(said.contains("the runner takes no arguments"), "{said}");
    }
}

#[test]
fn the_command_has_no_such_option() {
    for switch in [
        &["--without", "seccomp", "plugin-runner"][..],
        &["--without", "seccomp", "plugin", "list"],
        &["plugin", "list", "--without", "seccomp"],
    ] {
        let ran = run(switch);
        assert_eq!(ran.status.code(), Some(4), "{switch:?}");
        let said = String::from_utf8_lossy(&ran.stderr);
        assert!(said.contains("unexpected argument '--without'"), "{said}");
    }
    // No variable of the surroundings does it either: the runner starts with none.
    let help = run(&["plugin", "--help"]);
    let said = String::from_utf8_lossy(&help.stdout);
    assert!(!said.contains("without"), "{said}");
}
