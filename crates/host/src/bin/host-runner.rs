//! The runner of this crate's tests. Before the hidden subcommand it takes `--without BARRIER`
//! (can be repeated), which the product's runner does not have.
#![forbid(unsafe_code)]

use std::{ffi::OsString, process::ExitCode};

use tangmark_host::{Barrier, RUNNER_COMMAND, runner_main_with_barriers_down_for_tests};

fn main() -> ExitCode {
    let mut arguments = std::env::args_os().skip(1);
    let mut down = Vec::new();
    while let Some(argument) = arguments.next() {
        if argument == RUNNER_COMMAND {
            break;
        }
        let named = arguments.next().unwrap_or_default();
        let barrier = Barrier::ALL
            .into_iter()
            .find(|barrier| named == barrier.name());
        match barrier {
            Some(barrier) if argument == "--without" => down.push(barrier),
            _ => return ExitCode::from(4),
        }
    }
    let rest: Vec<OsString> = arguments.collect();
    let (stdin, stdout) = (std::io::stdin().lock(), std::io::stdout());
    match runner_main_with_barriers_down_for_tests(&rest, stdin, stdout, &down) {
        0 => ExitCode::SUCCESS,
        _ => ExitCode::FAILURE,
    }
}
