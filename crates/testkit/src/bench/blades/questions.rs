//! What is asked of a workshop of many blades, as calls in this process and as runs of the command.

use std::path::Path;
use std::process::Command;
use std::time::Instant;

use tangmark_workshop::{StageWish, Surroundings, Workshop};

use super::growth::key;
use super::{Asked, Times, broken};
use crate::bench::plugins::surroundings;
use crate::bench::{BenchError, Order};

/// Runs of each question; median and 95th of a hundred are told.
const CALLS: usize = 60;
const RUNS: usize = 30;
/// Lines of a list that is asked for.
const LINES: usize = 50;
/// Finds of a search, as many as the command shows.
const FINDS: usize = 20;

/// A question: what it is called, the call, and the words of the command.
type Question<'a> = (
    &'static str,
    Box<dyn Fn() -> Result<usize, BenchError> + 'a>,
    Vec<String>,
);

/// Asks each question often, in turn, so that an hour in which the machine is busy meets all of them.
pub(super) fn ask(
    workshop: &Workshop,
    order: &Order<'_>,
    folder: &Path,
    say: &mut dyn FnMut(&str),
) -> Result<Vec<Asked>, BenchError> {
    let mut no_random = |_: &mut [u8]| {};
    let around = surroundings(&mut no_random, order.runner, order.plugins, order.scratch)?;
    let questions = questions(workshop, order.blades, &around);
    let mut calls = vec![Vec::new(); questions.len()];
    let mut runs = vec![Vec::new(); questions.len()];
    for round in 0..=CALLS {
        for ((what, call, words), (calls, runs)) in
            questions.iter().zip(calls.iter_mut().zip(&mut runs))
        {
            let start = Instant::now();
            let found = call()?;
            let passed = start.elapsed().as_secs_f64() * 1e3;
            let wanted = usize::from(!what.ends_with("nothing"));
            if found.min(1) != wanted {
                return Err(broken(format!("{what}: {found} found")));
            }
            let run = (round <= RUNS)
                .then(|| command(order, folder, words))
                .transpose()?;
            // The first of each warms up.
            if round > 0 {
                calls.push(passed);
                runs.extend(run);
            }
        }
        if round % 20 == 0 {
            say(&format!("blades: asked {round} times of {CALLS}"));
        }
    }
    let asked = questions.iter().zip(calls.into_iter().zip(runs));
    Ok(asked
        .map(|((what, _, _), (calls, runs))| Asked {
            what,
            call_ms: Times::of(calls),
            run_ms: Times::of(runs),
        })
        .collect())
}

pub(super) fn questions<'a>(
    workshop: &'a Workshop,
    blades: usize,
    around: &'a Surroundings<'a>,
) -> Vec<Question<'a>> {
    let one = key(blades / 2);
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
    let search = |asked: String| -> Box<dyn Fn() -> Result<usize, BenchError> + '_> {
        Box::new(move || Ok(workshop.search(&asked, FINDS).map_err(broken)?.found.len()))
    };
    let lines = LINES.to_string();
    vec![
        (
            "list of what is in work",
            Box::new(move || {
                let wish = StageWish {
                    all: false,
                    stage: None,
                    after: None,
                    limit: usize::MAX,
                };
                Ok(workshop.stages(&wish, around).map_err(broken)?.blades.len())
            }),
            words(&["stage", "list"]),
        ),
        (
            "list of 50 blades",
            Box::new(move || Ok(workshop.blades(None, LINES).map_err(broken)?.len())),
            words(&["blade", "list", "--limit", &lines]),
        ),
        (
            "search for one blade",
            search(one.clone()),
            words(&["search", &one]),
        ),
        (
            "search for signs",
            search("葦原".to_owned()),
            words(&["search", "葦原"]),
        ),
        (
            "search for a common word",
            search("rust".to_owned()),
            words(&["search", "rust"]),
        ),
        (
            "search that finds nothing",
            search("marshlight".to_owned()),
            words(&["search", "marshlight"]),
        ),
        (
            "one blade opened",
            {
                let one = one.clone();
                Box::new(move || {
                    let line = workshop.blade(&one).map_err(broken)?;
                    let (_, revision) = workshop.sheet(&one).map_err(broken)?;
                    let records = workshop.records(&one).map_err(broken)?;
                    let told = line.revision == Some(revision) && line.records == records.len();
                    Ok(usize::from(told))
                })
            },
            words(&["blade", "show", &one]),
        ),
    ]
}

/// Runs the command once; returns the time in ms.
fn command(order: &Order<'_>, folder: &Path, words: &[String]) -> Result<f64, BenchError> {
    let program = |what: String| BenchError::Program {
        program: order.runner.display().to_string(),
        what,
    };
    let start = Instant::now();
    let output = Command::new(order.runner)
        .arg("--workshop")
        .arg(folder)
        .args(words)
        .env_clear()
        .env("XDG_DATA_HOME", order.scratch)
        .output()
        .map_err(|error| program(error.to_string()))?;
    let passed = start.elapsed().as_secs_f64() * 1e3;
    if output.status.success() {
        return Ok(passed);
    }
    let said = String::from_utf8_lossy(&output.stderr);
    Err(program(format!("`{}`: {said}", words.join(" "))))
}
