#![allow(clippy::unwrap_used, clippy::expect_used)]
use std::{path::PathBuf, process::Command};

use crate::{render, sample};

/// Set to `NAME=FILE`: the test of that name then renders the sample NAME into FILE.
const IN_OTHER_PROCESS: &str = "TANGMARK_REPORT_TO";

#[test]
fn renders_for_another_process() {
    let Some(order) = std::env::var_os(IN_OTHER_PROCESS) else { return };
    let order = order.into_string().unwrap();
    let (name, file) = order.split_once('=').unwrap();
    let sample = sample::named(name).unwrap();
    // A report made before must leave no trace in this one.
    render(&sample::spear().record, &sample::spear().input()).unwrap();
    std::fs::write(file, render(&sample.record, &sample.input()).unwrap().pdf).unwrap();
}

#[test]
fn the_same_record_gives_the_same_bytes_here_and_in_another_process() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["sword", "bare"] {
        let sample = sample::named(name).unwrap();
        let here = render(&sample.record, &sample.input()).unwrap().pdf;
        let again = render(&sample.record, &sample.input()).unwrap().pdf;
        assert!(here == again, "{name}: second render in this process differs");
        let file: PathBuf = folder.path().join(name);
        let order = format!("{name}={}", file.display());
        let status = Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "pdf::tests::renders_for_another_process", "--quiet"])
            .env(IN_OTHER_PROCESS, order)
            .output()
            .unwrap()
            .status;
        assert!(status.success());
        assert!(std::fs::read(&file).unwrap() == here, "{name}: another process gives other bytes");
    }
}
