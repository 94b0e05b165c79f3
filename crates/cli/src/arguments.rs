//! The command line: verbs, options, help. Usage errors end with exit code 4.

use std::ffi::OsString;
use std::path::PathBuf;

use clap::error::ErrorKind;
use clap::{ColorChoice, CommandFactory as _, Parser, Subcommand};

use crate::outcome::{self, Failure, Outcome, code};
use crate::verbs::{
    blade, book, check, compare, completions, correct, custody, draw, examine, fitting, handover,
    intake, journal, key, label, pass, photo, plan, plugin, refer, report, sale, schema, seal,
    search, setup, stage, stone, store, time, tour, verify,
};

/// Keep the records of a workshop that polishes and restores old edged steel
#[derive(Debug, Parser)]
#[command(
    name = "tangmark",
    version,
    color = ColorChoice::Never,
    max_term_width = 100,
    disable_help_subcommand = true,
    propagate_version = false,
    after_help = "Examples:
  tangmark tour demo                                 see everything once, on five invented blades
  tangmark setup my-workshop --name \"My Workshop\"    make a workshop with its signing key
  tangmark verify reed-01-before_work.json           judge a file somebody gave you

Data goes to standard output, everything else to standard error.
Exit codes: 0 good, 1 failed, 4 the command line is not understood, 70 a fault of this program.
`tangmark verify` has its own: see `tangmark verify --help`."
)]
pub(crate) struct CommandLine {
    /// Take DIR for the workshop's folder [default: the current folder if it holds `workshop.db`, else
    /// $TANGMARK_WORKSHOP]
    #[arg(long, global = true, value_name = "DIR", display_order = 900)]
    pub(crate) workshop: Option<PathBuf>,
    /// What to do.
    #[command(subcommand)]
    pub(crate) verb: Verb,
}

/// The verbs; each says in its own module what it does.
#[derive(Debug, Subcommand)]
pub(crate) enum Verb {
    Setup(setup::Arguments),
    Blade(blade::Arguments),
    Examine(examine::Arguments),
    Custody(custody::Arguments),
    Intake(intake::Arguments),
    Stage(stage::Arguments),
    Label(label::Arguments),
    Check(check::Arguments),
    Plan(plan::Arguments),
    Pass(pass::Arguments),
    Stone(stone::Arguments),
    Seal(seal::Arguments),
    Report(report::Arguments),
    Draw(draw::Arguments),
    Compare(compare::Arguments),
    Photo(photo::Arguments),
    Fitting(fitting::Arguments),
    Handover(handover::Arguments),
    Verify(verify::Arguments),
    Sale(sale::Arguments),
    Refer(refer::Arguments),
    Correct(correct::Arguments),
    Book(book::Arguments),
    Search(search::Arguments),
    Journal(journal::Arguments),
    Key(key::Arguments),
    Plugin(plugin::Arguments),
    Schema(schema::Arguments),
    Store(store::Arguments),
    Time(time::Arguments),
    Tour(tour::Arguments),
    Completions(completions::Arguments),
}

/// Parses the command line; help and usage errors are answered here.
pub(crate) fn parse(arguments: &[OsString]) -> Result<CommandLine, Outcome> {
    CommandLine::try_parse_from(arguments).map_err(|error| match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            outcome::print(&error.render().to_string()).map(|()| code::GOOD)
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            crate::show::say(error.render().to_string().trim_end());
            Ok(code::USAGE)
        }
        _ => Err(usage(&error.render().to_string(), &help_of(arguments))),
    })
}

/// Returns the command that shows the help of the verb that was meant.
fn help_of(arguments: &[OsString]) -> String {
    let mut command = command();
    let mut words = vec!["tangmark".to_owned()];
    for argument in arguments.iter().skip(1) {
        let found = argument
            .to_str()
            .and_then(|name| command.find_subcommand(name))
            .cloned();
        if let Some(found) = found {
            words.push(found.get_name().to_owned());
            command = found;
        }
    }
    format!("{} --help", words.join(" "))
}

/// Turns clap's words into an error line and a hint that names the help to read.
fn usage(text: &str, help: &str) -> Failure {
    let body = text.strip_prefix("error: ").unwrap_or(text);
    let mut what = Vec::new();
    let mut hint = Vec::new();
    for line in body.lines().map(str::trim) {
        if let Some(tip) = line.strip_prefix("tip: ") {
            hint.push(tip.to_owned());
        } else if !line.is_empty()
            && !line.starts_with("Usage: ")
            && !line.starts_with("For more information")
        {
            what.push(line);
        }
    }
    hint.push(format!("see `{help}`"));
    Failure::usage(what.join(" "), hint.join("; "))
}

/// The whole command line, for completions.
pub(crate) fn command() -> clap::Command {
    CommandLine::command()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_sound() {
        command().debug_assert();
    }

    #[test]
    fn words_of_clap_become_error_and_hint() {
        let text = "error: unexpected argument '--fro' found\n\n  tip: a similar argument exists: '--for'\n\nUsage: tangmark seal --for <PURPOSE> <BLADE>\n\nFor more information, try '--help'.\n";
        let failure = usage(text, "tangmark seal --help");
        assert_eq!(failure.to_string(), "unexpected argument '--fro' found");
        let debug = format!("{failure:?}");
        assert!(
            debug.contains("a similar argument exists: '--for'; see `tangmark seal --help`"),
            "{debug}"
        );
    }

    #[test]
    fn the_help_named_is_that_of_the_verb() {
        let help = |line: &str| help_of(&line.split(' ').map(OsString::from).collect::<Vec<_>>());
        assert_eq!(
            help("tangmark examine put --bogus"),
            "tangmark examine put --help"
        );
        assert_eq!(
            help("tangmark --workshop w seal x --for y"),
            "tangmark seal --help"
        );
        assert_eq!(help("tangmark nonsense"), "tangmark --help");
    }
}
