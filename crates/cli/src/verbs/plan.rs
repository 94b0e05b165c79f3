//! `tangmark plan`.

use std::path::{Path, PathBuf};

use clap::Args;

use tangmark_workshop::CheckReport;

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::verbs::check;
use crate::{results, surroundings};

/// Plugins that speak of steel: what went, and what is to go.
const PLUGINS: [&str; 2] = ["abrasives", "removal"];

/// Plan the abrasive sequence of a blade, and how much steel it takes
///
/// Says how coarse to start and which stones to skip, what clearing each further pit costs in steel, the readings at
/// which to stop, hours and consumables, and after each logged pass the forecast anew. The stones are yours:
/// `plugins/abrasives/stones.csv` in the workshop folder; without them nothing is planned. The sheet stays as it is.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark plan reed
  tangmark plan reed --charts plan            curves as SVG, to look at
  tangmark plan reed --json

Exit codes: 0 the planner had its say, also where stops stand or stones are missing; 1 it had none.")]
pub(crate) struct Arguments {
    /// Key of the blade
    blade: String,
    /// Write the curves as SVG files into DIR
    #[arg(long, value_name = "DIR")]
    charts: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Tells whether the planner had its say: without it there is no plan, whatever else was found.
fn planned(report: &CheckReport) -> Result<(), Failure> {
    let run = report
        .runs
        .iter()
        .find(|run| run.plugin.as_str() == PLUGINS[0]);
    match run {
        Some(run) => match &run.fault {
            Some(fault) => Err(Failure::new(
                format!("no plan was made: {}", show::plain(fault)),
                "mend what it names in `plugins/abrasives/` of the workshop; the plugin's README lists settings and columns",
            )),
            None => Ok(()),
        },
        None => Err(Failure::new(
            "no plan was made: the plugin `abrasives` did not run",
            "see `tangmark plugin list`; `tangmark plugin approve --shipped` approves what comes with this program",
        )),
    }
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let report = surroundings::with(|around| Ok(workshop.check(&arguments.blade, around)?))?;
    let report = report.only(&PLUGINS);
    planned(&report)?;
    if arguments.json {
        print_json(&report)?;
    } else {
        print(&format!(
            "{}{}",
            check::findings(&report),
            results::all(&report)
        ))?;
        for (stop, by) in &report.stops {
            say(&format!(
                "held: {}: {}; nothing is worked before the answer: {by}",
                stop.rule,
                show::plain(&stop.message)
            ));
        }
    }
    if let Some(folder) = &arguments.charts {
        check::charts(&report, folder)?;
    }
    Ok(code::GOOD)
}
