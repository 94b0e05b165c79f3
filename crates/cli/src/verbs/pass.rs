//! `tangmark pass`.

mod told;
mod words;

use std::io::{self, IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use tangmark_workshop::pass::{PassDone, PassError, PassOrder, read_blocks};
use tangmark_workshop::{Speech, Workshop, WorkshopError};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;
use crate::verbs::key::confirmed;
use crate::who::Who;

use words::Words;

/// Width of the drawing of the passes, mm.
const WIDTH: f64 = 180.0;

/// Log the passes of work on a blade, time them, list them, take the last one back
///
/// Before each pass the hold is derived anew: while a stop stands no pass is logged, and what was entered is kept.
/// Readings that cannot be, such as a blade heavier than before, are asked about. After the pass it says how much steel
/// is gone, how much may still go and what the plan expects.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark pass add reed --stone \"second foundation stone\" --zone ground --zone edge --time \"3 h\"
      --before-mass \"746.1 g\" --after-mass \"742.6 g\"
  tangmark pass start reed --stone \"fine slate stone\" --zone ground
  tangmark pass stop reed --after-mass \"741.9 g\"
  tangmark pass list reed --svg reed-passes.svg
  tangmark pass undo reed")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Log a pass
    ///
    /// A stone is named as in the workshop's list; stage, grit with its system, grain and origin are filled in from
    /// there, and the operation follows from its stage. While a stop stands the pass is refused and kept; readings that
    /// cannot be are refused until `--sure` says why they are right.
    #[command(after_help = "Examples:
  tangmark pass add reed --do derust --zone ground --zone ridge
      --stone \"soft finger stone with oil\"
      --time \"3 h\" --before-mass \"748.3 g\" --after-mass \"746.1 g\"
  tangmark pass add reed --stone \"second foundation stone\" --zone ground --strokes 2600
      --before-reading \"100 mm width=30.10 mm ridge=7.05 mm\"
      --reading \"100 mm width=30.05 mm ridge=7.01 mm\" --photo after.jpg
  tangmark pass add reed --etch \"ferric chloride\" --etch-concentration \"3 %\" --etch-time \"2 min\"
      --neutralised --rinsed --dried --zone ground
  tangmark pass add reed --from monday.toml      with one or more blocks as in a sheet:
      [[passes]]
      stone = \"fine slate stone\"
      zones = [\"ground\", \"edge\"]
      time = \"2 h\"
      after = { mass = \"741.9 g\" }

Exit codes: 0 logged; 1 refused, and the error says what was kept.")]
    Add {
        /// Key of the blade
        blade: String,
        /// Take the passes from a file, TOML or JSON
        #[arg(long, value_name = "FILE", conflicts_with_all = ["operation", "zone", "face", "stone", "time", "strokes", "before_mass",
            "after_mass", "before_reading", "reading", "etch", "photo", "note"])]
        from: Option<PathBuf>,
        #[command(flatten)]
        words: Box<Words>,
        #[command(flatten)]
        how: How,
    },
    /// Log a refused pass again, as it was entered
    #[command(after_help = "Examples:
  tangmark pass again 41
  tangmark pass again 41 --sure \"weighed with the collar by mistake before\"

`tangmark pass list BLADE` names the refused passes that were not logged since.")]
    Again {
        /// Number of the journal entry that keeps it
        entry: u64,
        /// Why readings that are asked about are right; stands as a note on the pass
        #[arg(long, value_name = "WHY")]
        sure: Option<String>,
        /// Leave the stage of the blade as it is
        #[arg(long)]
        stay: bool,
        /// Who enters it [default: who entered it then]
        #[arg(long, value_name = "NAME")]
        by: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Start the timer of a pass; refused while a stop stands
    ///
    /// It is kept in the workshop from its first second, so that it goes on after a crash or a restart of the computer.
    /// What is said of the pass now need not be said at its end. Timers of several blades may run at once.
    #[command(after_help = "Examples:
  tangmark pass start reed --stone \"fine slate stone\" --zone ground --before-mass \"742.6 g\"")]
    Start {
        /// Key of the blade
        blade: String,
        #[command(flatten)]
        words: Box<Words>,
        #[command(flatten)]
        entry: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Pause the timer of a blade
    #[command(after_help = "Examples:
  tangmark pass pause reed")]
    Pause(OnBlade),
    /// Let the timer of a blade go on
    #[command(after_help = "Examples:
  tangmark pass resume reed")]
    Resume(OnBlade),
    /// Stop the timer of a blade and log the pass with the measured time
    ///
    /// Where it ran for more than 12 h or the clock went back, the time has to be given with `--time`.
    #[command(after_help = "Examples:
  tangmark pass stop reed --after-mass \"741.9 g\"
  tangmark pass stop reed --time \"2 h 30 min\"      it was left running over lunch")]
    Stop {
        /// Key of the blade
        blade: String,
        #[command(flatten)]
        words: Box<Words>,
        #[command(flatten)]
        how: How,
    },
    /// List the timers that run or are paused
    #[command(after_help = "Examples:
  tangmark pass timer
  tangmark pass timer --json")]
    Timer {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// List the passes of a blade with running sums of time and steel
    #[command(after_help = "Examples:
  tangmark pass list reed
  tangmark pass list reed --svg reed-passes.svg      mass and thickness from pass to pass
  tangmark pass list reed --json")]
    List {
        /// Key of the blade
        blade: String,
        /// Also draw mass and thickness from pass to pass into a new SVG file
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Take the last pass of a blade back; nothing is erased, and a sealed pass stays
    #[command(after_help = "Examples:
  tangmark pass undo reed
  tangmark pass undo reed --yes      without being asked")]
    Undo {
        /// Key of the blade
        blade: String,
        /// Do it without asking
        #[arg(long)]
        yes: bool,
        /// Who takes it back [default: the workshop's name]
        #[arg(long, value_name = "NAME")]
        by: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

#[derive(Debug, Args)]
struct OnBlade {
    /// Key of the blade
    blade: String,
    #[command(flatten)]
    entry: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// How a pass is logged.
#[derive(Debug, Args)]
struct How {
    /// Why readings that are asked about are right; stands as a note on the pass
    #[arg(long, value_name = "WHY")]
    sure: Option<String>,
    /// Leave the stage of the blade as it is
    #[arg(long)]
    stay: bool,
    #[command(flatten)]
    entry: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::Add {
            blade,
            from,
            words,
            how,
        } => {
            let passes = match from {
                Some(file) => read_blocks(file)?,
                None => vec![words.block()?],
            };
            let order = how.order(blade, passes);
            log(&order, how.json, |order| {
                surroundings::with(|around| Ok(workshop.add_passes(order, around)))
            })
        }
        What::Again {
            entry,
            sure,
            stay,
            by,
            json,
        } => again(
            &workshop,
            *entry,
            sure.as_deref(),
            (*stay, by.as_deref()),
            *json,
        ),
        What::Start {
            blade,
            words,
            entry,
            json,
        } => {
            let pass = words.block()?;
            let line = surroundings::with(|around| {
                Ok(workshop.start_timer(blade, &pass, &entry.who(), around)?)
            })?;
            timed(&line, *json, "runs", "stop")
        }
        What::Pause(blade) => paused(&workshop, blade, true),
        What::Resume(blade) => paused(&workshop, blade, false),
        What::Stop { blade, words, how } => {
            let order = how.order(blade, vec![words.block()?]);
            log(&order, how.json, |order| {
                surroundings::with(|around| Ok(workshop.stop_timer(order, around)))
            })
        }
        What::Timer { json } => timers(&workshop, *json),
        What::List { blade, svg, json } => list(&workshop, blade, svg.as_deref(), *json),
        What::Undo {
            blade,
            yes,
            by,
            json,
        } => undo(&workshop, blade, (*yes, by.as_deref()), *json),
    }
}

impl How {
    fn order<'a>(
        &'a self,
        blade: &'a str,
        passes: Vec<serde_json::Map<String, serde_json::Value>>,
    ) -> PassOrder<'a> {
        PassOrder {
            blade,
            passes,
            sure: self.sure.clone(),
            stay: self.stay,
            who: self.entry.who(),
            timer: None,
        }
    }
}

/// Logs; where readings are asked about and somebody sits at the terminal, asks.
fn log(
    order: &PassOrder<'_>,
    json: bool,
    work: impl Fn(&PassOrder<'_>) -> Result<Result<PassDone, WorkshopError>, Failure>,
) -> Outcome {
    let done = match work(order)? {
        Err(WorkshopError::Pass(PassError::Questioned { questions })) if !json && asked() => {
            for one in &questions {
                say(&format!("question: {}", show::plain(&one.to_string())));
            }
            match why()? {
                Some(sure) => {
                    let order = PassOrder {
                        sure: Some(sure),
                        ..order.clone()
                    };
                    work(&order)??
                }
                None => return Err(WorkshopError::from(PassError::Questioned { questions }).into()),
            }
        }
        done => done?,
    };
    tell(&done, json)
}

/// Whether somebody sits at the terminal and can be asked.
fn asked() -> bool {
    io::stdin().is_terminal() && io::stderr().is_terminal()
}

/// Asks why readings are right all the same; nothing typed means that they are not.
fn why() -> Result<Option<String>, Failure> {
    let mut prompt = io::stderr().lock();
    let fail = |error: io::Error| {
        Failure::new(
            format!("the terminal cannot be read: {error}"),
            "say it with `--sure \"WHY\"`",
        )
    };
    write!(
        prompt,
        "Why is it right all the same? (nothing: it is not logged) "
    )
    .and_then(|()| prompt.flush())
    .map_err(fail)?;
    let mut line = String::new();
    io::stdin().read_line(&mut line).map_err(fail)?;
    let line = line.trim().to_owned();
    Ok((!line.is_empty()).then_some(line))
}

fn tell(done: &PassDone, json: bool) -> Outcome {
    if json {
        print_json(done)?;
    } else {
        print(&told::done(done))?;
    }
    told::talk(done);
    Ok(code::GOOD)
}

fn again(
    workshop: &Workshop,
    entry: u64,
    sure: Option<&str>,
    (stay, by): (bool, Option<&str>),
    json: bool,
) -> Outcome {
    let done = surroundings::with(|around| Ok(workshop.add_again(entry, sure, stay, by, around)?))?;
    tell(&done, json)
}

fn timed(
    line: &tangmark_workshop::pass::TimerLine,
    json: bool,
    state: &str,
    next: &str,
) -> Outcome {
    if json {
        print_json(line)?;
    } else {
        print(&format!(
            "timer of {} {state}: {} so far, since {}\n",
            line.blade,
            line.so_far.as_deref().unwrap_or("?"),
            line.since
        ))?;
    }
    say(&format!("next: `tangmark pass {next} {}`", line.blade));
    Ok(code::GOOD)
}

fn paused(workshop: &Workshop, blade: &OnBlade, pause: bool) -> Outcome {
    let line = surroundings::with(|around| {
        Ok(workshop.pause_timer(&blade.blade, pause, &blade.entry.who(), around)?)
    })?;
    if pause {
        timed(&line, blade.json, "is paused", "resume")
    } else {
        timed(&line, blade.json, "runs", "stop")
    }
}

fn timers(workshop: &Workshop, json: bool) -> Outcome {
    let lines = surroundings::with(|around| Ok(workshop.timers(around)?))?;
    if json {
        print_json(&lines)?;
    } else if lines.is_empty() {
        say("no timer runs; start one with `tangmark pass start BLADE`");
    } else {
        print(&told::timers(&lines))?;
    }
    Ok(code::GOOD)
}

fn list(workshop: &Workshop, blade: &str, svg: Option<&Path>, json: bool) -> Outcome {
    let passes = workshop.passes(blade)?;
    if json {
        print_json(&passes)?;
    } else if passes.passes.is_empty() {
        say(&format!(
            "no pass yet; log one with `tangmark pass add {blade} …` or time one with `tangmark pass start {blade}`"
        ));
    } else {
        print(&told::list(&passes))?;
    }
    for one in &passes.refused {
        say(&format!(
            "note: a refused pass of {} is kept; `tangmark pass again {}` logs it",
            one.on, one.entry
        ));
    }
    if let Some(file) = svg {
        let drawn = surroundings::with(|around| {
            Ok(workshop.draw_passes(blade, WIDTH, Speech::English, around)?)
        })?;
        let Some(drawn) = drawn else {
            return Err(Failure::new(
                format!(
                    "blade `{blade}`: fewer than two readings of mass or thickness found, two are needed to draw"
                ),
                "weigh before and after each pass: `tangmark pass add --before-mass … --after-mass …`",
            ));
        };
        surroundings::write_new(file, &drawn.svg)?;
        say(&format!("wrote {}: {}", file.display(), drawn.title));
    }
    Ok(code::GOOD)
}

fn undo(workshop: &Workshop, blade: &str, (yes, by): (bool, Option<&str>), json: bool) -> Outcome {
    let last = workshop.last_pass(blade)?;
    confirmed(
        yes,
        &format!(
            "Take back pass {} of {blade}: {}.",
            last.id,
            told::summary(&last)
        ),
    )?;
    let undone = surroundings::with(|around| Ok(workshop.undo_pass(blade, by, around)?))?;
    if json {
        print_json(&undone)?;
    } else {
        print(&format!(
            "pass {} of {blade} is taken back; the sheet is revision {} now\n",
            undone.pass, undone.revision
        ))?;
    }
    for remark in &undone.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    if let Some(stage) = &undone.stage {
        say(&format!(
            "the stage stays {stage}; change it with `tangmark stage set {blade} STAGE`"
        ));
    }
    say(&format!(
        "next: `tangmark pass add {blade} …`; `tangmark examine undo {blade}` brings the pass back"
    ));
    Ok(code::GOOD)
}
