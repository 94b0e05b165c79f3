//! One module for each verb.

pub(crate) mod blade;
pub(crate) mod book;
pub(crate) mod check;
pub(crate) mod compare;
pub(crate) mod completions;
pub(crate) mod correct;
pub(crate) mod custody;
pub(crate) mod draw;
pub(crate) mod examine;
pub(crate) mod fitting;
pub(crate) mod handover;
pub(crate) mod intake;
pub(crate) mod journal;
pub(crate) mod key;
pub(crate) mod label;
pub(crate) mod pass;
pub(crate) mod photo;
pub(crate) mod plan;
pub(crate) mod plugin;
pub(crate) mod plugin_author;
pub(crate) mod refer;
pub(crate) mod report;
pub(crate) mod sale;
pub(crate) mod schema;
pub(crate) mod seal;
pub(crate) mod search;
pub(crate) mod setup;
pub(crate) mod stage;
mod steps;
pub(crate) mod stone;
pub(crate) mod store;
pub(crate) mod time;
pub(crate) mod tour;
pub(crate) mod verify;
mod verify_package;

use crate::arguments::{CommandLine, Verb};
use crate::outcome::Outcome;

/// Does what the command line says.
pub(crate) fn run(line: CommandLine) -> Outcome {
    let workshop = line.workshop.as_deref();
    match line.verb {
        Verb::Setup(arguments) => setup::run(&arguments),
        Verb::Blade(arguments) => blade::run(&arguments, workshop),
        Verb::Examine(arguments) => examine::run(&arguments, workshop),
        Verb::Custody(arguments) => custody::run(&arguments, workshop),
        Verb::Intake(arguments) => intake::run(&arguments, workshop),
        Verb::Stage(arguments) => stage::run(&arguments, workshop),
        Verb::Label(arguments) => label::run(&arguments, workshop),
        Verb::Check(arguments) => check::run(&arguments, workshop),
        Verb::Plan(arguments) => plan::run(&arguments, workshop),
        Verb::Pass(arguments) => pass::run(&arguments, workshop),
        Verb::Stone(arguments) => stone::run(&arguments, workshop),
        Verb::Seal(arguments) => seal::run(&arguments, workshop),
        Verb::Report(arguments) => report::run(&arguments, workshop),
        Verb::Draw(arguments) => draw::run(&arguments, workshop),
        Verb::Compare(arguments) => compare::run(&arguments, workshop),
        Verb::Photo(arguments) => photo::run(&arguments, workshop),
        Verb::Fitting(arguments) => fitting::run(&arguments, workshop),
        Verb::Handover(arguments) => handover::run(&arguments, workshop),
        Verb::Verify(arguments) => verify::run(&arguments, workshop),
        Verb::Sale(arguments) => sale::run(&arguments, workshop),
        Verb::Refer(arguments) => refer::run(&arguments, workshop),
        Verb::Correct(arguments) => correct::run(&arguments, workshop),
        Verb::Book(arguments) => book::run(&arguments, workshop),
        Verb::Search(arguments) => search::run(&arguments, workshop),
        Verb::Journal(arguments) => journal::run(&arguments, workshop),
        Verb::Key(arguments) => key::run(&arguments, workshop),
        Verb::Plugin(arguments) => plugin::run(&arguments, workshop),
        Verb::Schema(arguments) => schema::run(&arguments),
        Verb::Store(arguments) => store::run(&arguments, workshop),
        Verb::Time(arguments) => time::run(&arguments, workshop),
        Verb::Tour(arguments) => tour::run(&arguments),
        Verb::Completions(arguments) => completions::run(&arguments),
    }
}
