//! The `tangmark` command: words for terminals around the use-cases of the workshop.
#![forbid(unsafe_code)]

mod arguments;
mod interrupt;
mod outcome;
mod papers;
mod passphrase;
mod progress;
mod results;
mod show;
mod surroundings;
mod verbs;
mod who;

use std::ffi::OsString;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<OsString> = std::env::args_os().collect();
    // Before anything else and from the only thread: a runner opens a stranger's library behind barriers.
    if arguments
        .get(1)
        .is_some_and(|first| first == tangmark_workshop::RUNNER_COMMAND)
    {
        let code =
            tangmark_workshop::runner_main(&arguments[2..], std::io::stdin(), std::io::stdout());
        return u8::try_from(code).map_or(ExitCode::FAILURE, ExitCode::from);
    }
    ExitCode::from(outcome::guard(|| match arguments::parse(&arguments) {
        Ok(command) => verbs::run(command),
        Err(answer) => answer,
    }))
}
