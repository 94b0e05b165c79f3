//! `tangmark completions`.

use clap::Args;
use clap_complete::Shell;

use crate::arguments;
use crate::outcome::{Outcome, code, print};

/// Print a completion script for a shell
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark completions bash > ~/.local/share/bash-completion/completions/tangmark
  tangmark completions fish > ~/.config/fish/completions/tangmark.fish")]
pub(crate) struct Arguments {
    /// Shell
    shell: Shell,
}

pub(crate) fn run(arguments: &Arguments) -> Outcome {
    let mut script = Vec::new();
    clap_complete::generate(
        arguments.shell,
        &mut arguments::command(),
        "tangmark",
        &mut script,
    );
    print(&String::from_utf8_lossy(&script))?;
    Ok(code::GOOD)
}
