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
    CommandLine::try_parse_from(with_negatives(arguments)).map_err(|error| match error.kind() {
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

/// Whether a word is a value below zero, such as `-5 g`, and no option: none of ours begins with a digit.
fn is_negative(word: &OsString) -> bool {
    let rest = word.to_str().and_then(|word| word.strip_prefix('-'));
    rest.is_some_and(|rest| {
        rest.trim_start()
            .starts_with(|first: char| first.is_ascii_digit() || matches!(first, '.' | ','))
    })
}

/// Joins values below zero to their options, and puts those that stand alone behind `--`: they are then judged as what
/// they are meant for, with the unit and the hint of that, and not taken for options nobody knows.
fn with_negatives(arguments: &[OsString]) -> Vec<OsString> {
    if !arguments.iter().any(is_negative) {
        return arguments.to_vec();
    }
    let mut command = command();
    // So that options of every verb are known in each.
    command.build();
    let takes_value = |command: &clap::Command, word: &str| {
        let name = word.strip_prefix("--").unwrap_or_default();
        let found = command.get_arguments().find(|one| {
            one.get_long() == Some(name)
                || one
                    .get_all_aliases()
                    .is_some_and(|names| names.contains(&name))
        });
        found.is_some_and(|one| one.get_action().takes_values())
    };
    let (mut words, mut alone) = (Vec::new(), Vec::new());
    let mut left = arguments.iter();
    while let Some(word) = left.next() {
        let name = word.to_str().unwrap_or_default();
        if name == "--" {
            break;
        }
        if is_negative(word) {
            alone.push(word.clone());
            continue;
        }
        words.push(word.clone());
        if takes_value(&command, name) {
            match (left.next(), words.last_mut()) {
                (Some(value), Some(option)) if is_negative(value) => {
                    option.push("=");
                    option.push(value);
                }
                (Some(value), _) => words.push(value.clone()),
                (None, _) => {}
            }
        } else if let Some(found) = command.find_subcommand(name).cloned() {
            command = found;
        }
    }
    alone.extend(left.cloned());
    if !alone.is_empty() {
        words.push("--".into());
        words.append(&mut alone);
    }
    words
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
    fn values_below_zero_are_values() {
        let read = |line: &[&str]| {
            let line: Vec<OsString> = line.iter().map(OsString::from).collect();
            let words = with_negatives(&line);
            let words: Vec<String> = words
                .iter()
                .map(|word| word.to_string_lossy().into_owned())
                .collect();
            words.join("|")
        };
        assert_eq!(
            read(&[
                "tangmark",
                "pass",
                "add",
                "x",
                "--after-mass",
                "-5 g",
                "--stay"
            ]),
            "tangmark|pass|add|x|--after-mass=-5 g|--stay"
        );
        // A flag takes none, and an option of every verb is no verb.
        assert_eq!(
            read(&[
                "tangmark",
                "--workshop",
                "pass",
                "book",
                "cost",
                "--general",
                "-5 EUR",
                "--for",
                "x"
            ]),
            "tangmark|--workshop|pass|book|cost|--general|--for|x|--|-5 EUR"
        );
        assert_eq!(
            read(&[
                "tangmark",
                "book",
                "cost",
                "--workshop",
                "w",
                "--for",
                "-.5",
                "--",
                "-1 EUR"
            ]),
            "tangmark|book|cost|--workshop|w|--for=-.5|--|-1 EUR"
        );
        assert_eq!(read(&["tangmark", "-h"]), "tangmark|-h");
    }

    #[test]
    fn no_option_begins_like_a_value_below_zero() {
        fn shorts(command: &clap::Command) -> Vec<char> {
            let own = command.get_arguments().filter_map(clap::Arg::get_short);
            let inner = command.get_subcommands().flat_map(shorts);
            own.chain(inner).collect()
        }
        let shorts = shorts(&command());
        assert!(
            !shorts
                .iter()
                .any(|one| is_negative(&format!("-{one}").into())),
            "{shorts:?}"
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
