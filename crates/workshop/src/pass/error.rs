//! What can go wrong when a pass is logged, each with its next step.

use std::path::PathBuf;

use tangmark_core::hold::Stop;

use super::question::Questioned;

/// Why a pass was not logged, or a timer or stone not changed. What the error does not name as kept was not written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PassError {
    /// A stop stands: nobody works on the blade before it is answered.
    #[error(
        "blade `{blade}` is held, no {what} while a stop stands: {}: {}{}",
        stops.first().map_or("", |(stop, _)| stop.rule.as_str()),
        stops.first().map_or("", |(stop, _)| stop.message.as_str()),
        others(stops)
    )]
    Held {
        /// Blade.
        blade: String,
        /// What was refused.
        what: &'static str,
        /// The stops that stand, each with who may answer it.
        stops: Vec<(Stop, &'static str)>,
        /// Number of the entry that keeps what was asked for.
        kept: Option<u64>,
    },
    /// Passes of which a later one would be worked under a stop that those before it bring about.
    #[error(
        "blade `{blade}`: no pass of these is logged, since pass `{pass}` would be worked under a stop that those before it bring: {}: {}{}",
        stops.first().map_or("", |(stop, _)| stop.rule.as_str()),
        stops.first().map_or("", |(stop, _)| stop.message.as_str()),
        others(stops)
    )]
    HeldWithin {
        /// Blade.
        blade: String,
        /// The first pass under the stop.
        pass: String,
        /// The stops that would stand, each with who may answer it.
        stops: Vec<(Stop, &'static str)>,
        /// Number of the entry that keeps what was asked for.
        kept: u64,
    },
    /// A key that another pass has.
    #[error(
        "pass `{id}` is on the sheet, in a sealed record or in what is entered already; each pass needs a key of its own"
    )]
    KeyTaken {
        /// The key.
        id: String,
        /// One that is free.
        free: String,
    },
    /// Note and reason together are longer than a pass takes.
    #[error(
        "pass `{pass}`: its note and the reason together have {found} characters, at most {allowed} are allowed"
    )]
    LongNote {
        /// The pass.
        pass: String,
        /// Characters found.
        found: usize,
        /// Characters allowed.
        allowed: usize,
    },
    /// Readings that cannot be, or hardly.
    #[error("{}", lines(questions))]
    Questioned {
        /// What is asked about.
        questions: Vec<Questioned>,
    },
    /// The blade is not in the workshop.
    #[error("blade `{blade}` stands at {found}: no {what} on a blade that is not in the workshop")]
    Away {
        /// Blade.
        blade: String,
        /// What was refused.
        what: &'static str,
        /// The stage it stands at, and since when.
        found: String,
        /// The command that says it is here again.
        back: String,
    },
    /// Somebody else saved the sheet meanwhile.
    #[error(
        "the sheet of `{blade}` was changed by another program meanwhile; the pass was not logged, and what was entered is kept as journal entry {kept}"
    )]
    Meanwhile {
        /// Blade.
        blade: String,
        /// Number of the entry that keeps what was asked for.
        kept: u64,
    },
    /// A stone that the list does not have.
    #[error("no stone `{name}` found in {}, which has {count}", file.display())]
    UnknownStone {
        /// Name asked for.
        name: String,
        /// The list.
        file: PathBuf,
        /// Stones in it.
        count: usize,
        /// Names that may be meant.
        near: Vec<String>,
    },
    /// A row of the list that is no stone.
    #[error("{}, row {row}: {what}", file.display())]
    StoneRow {
        /// The list.
        file: PathBuf,
        /// Row, counted from 1 without the heading.
        row: usize,
        /// What is wrong.
        what: String,
    },
    /// A weighing of a stone that cannot be, or hardly.
    #[error("stone `{stone}`: {found} found, {allowed} is allowed")]
    StoneWeighing {
        /// Name.
        stone: String,
        /// What was found.
        found: String,
        /// What is allowed.
        allowed: String,
        /// It is taken with a reason.
        may_be: bool,
    },
    /// A stone that is in the list already.
    #[error("a stone `{name}` is in {} already", file.display())]
    StoneThere {
        /// Name.
        name: String,
        /// The list.
        file: PathBuf,
    },
    /// The planner does not take the list with the new stone.
    #[error("the stone was not added: {0}")]
    StoneRefused(String),
    /// A word that is none of a closed list.
    #[error("{what}: `{found}` found, {} are allowed", allowed.join(", "))]
    Word {
        /// What the word stands for.
        what: &'static str,
        /// The word.
        found: String,
        /// The list.
        allowed: Vec<String>,
        /// The nearest of it.
        near: Option<String>,
    },
    /// Something a pass cannot do without.
    #[error("the pass has no {what}; one is needed")]
    Missing {
        /// What is missing.
        what: &'static str,
        /// How it is given.
        how: &'static str,
    },
    /// A reading along the blade that cannot be understood.
    #[error("reading `{found}`: {what}")]
    Reading {
        /// What was written.
        found: String,
        /// What is wrong.
        what: String,
    },
    /// An instrument that the examination does not list.
    #[error("no instrument `{found}` on the sheet, which lists {}", if known.is_empty() { "none".to_owned() } else { known.join(", ") })]
    Instrument {
        /// Key asked for.
        found: String,
        /// Keys that are there.
        known: Vec<String>,
    },
    /// A file with passes that cannot be understood.
    #[error("{}: {what}", file.display())]
    Block {
        /// The file.
        file: PathBuf,
        /// What is wrong.
        what: String,
    },
    /// No such pass, or none at all.
    #[error("blade `{0}` has no pass on its sheet")]
    NoPass(String),
    /// A pass that a sealed record holds.
    #[error(
        "pass `{pass}` of `{blade}` is in sealed record {record}; what is sealed is not taken back"
    )]
    Sealed {
        /// Blade.
        blade: String,
        /// Pass.
        pass: String,
        /// The first record that has it.
        record: u32,
    },
    /// A timer runs already.
    #[error("a timer of `{blade}` runs already, since {since}")]
    TimerRuns {
        /// Blade.
        blade: String,
        /// Since when (UTC).
        since: String,
    },
    /// A timer that is not in the state it has to be in.
    #[error("blade `{blade}` has {found}, {allowed} is needed")]
    TimerState {
        /// Blade.
        blade: String,
        /// What is there.
        found: &'static str,
        /// What is needed.
        allowed: &'static str,
        /// The next step.
        hint: String,
    },
    /// A measured time that cannot be taken as it is.
    #[error("the timer of `{blade}` measured {found}; {allowed} is taken without asking")]
    Measured {
        /// Blade.
        blade: String,
        /// What it measured.
        found: String,
        /// What would be taken.
        allowed: String,
    },
    /// An entry that keeps no refused pass.
    #[error("journal entry {number} keeps no refused pass")]
    NotRefused {
        /// Number.
        number: u64,
    },
    /// A refused pass that was logged since.
    #[error("the pass of journal entry {number} was logged since, as `{}`", passes.join("`, `"))]
    Taken {
        /// Number.
        number: u64,
        /// The passes it became.
        passes: Vec<String>,
    },
}

/// Names the rules of the stops after the first.
fn others(stops: &[(Stop, &'static str)]) -> String {
    let rules: Vec<&str> = stops
        .iter()
        .skip(1)
        .map(|(stop, _)| stop.rule.as_str())
        .collect();
    if rules.is_empty() {
        return String::new();
    }
    format!(" (also {})", rules.join(", "))
}

fn lines(questions: &[Questioned]) -> String {
    let lines: Vec<String> = questions.iter().map(ToString::to_string).collect();
    lines.join("\n")
}

impl PassError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Held { stops, kept, .. } => {
                let mut answers: Vec<&str> = Vec::new();
                for (_, by) in stops {
                    if !answers.contains(by) {
                        answers.push(by);
                    }
                }
                let again = kept
                    .map(|number| {
                        format!(
                            "; what you entered is kept: after the answer `tangmark pass again {number}` logs it"
                        )
                    })
                    .unwrap_or_default();
                format!("{}{again}", answers.join("; "))
            }
            Self::HeldWithin {
                blade, pass, kept, ..
            } => format!(
                "put the passes before `{pass}` into a file of their own and log those; `tangmark check {blade}` then says who \
                 may answer the stop, and the rest is logged after the answer; what you entered is kept: `tangmark journal \
                 show {kept}`, and once all of it is logged `tangmark journal strike {kept} --reason \"logged in parts\"`"
            ),
            Self::KeyTaken { free, .. } => {
                format!("leave `id` out, or write one that is free, such as `{free}`")
            }
            Self::LongNote { .. } => "say it shorter".to_owned(),
            Self::Questioned { .. } => {
                "read again and give what is right; if it is as you read it, say why with `--sure \"WHY\"`: it is logged \
                 and the reason stands as a note on the pass"
                    .to_owned()
            }
            Self::Away { blade, back, .. } => format!(
                "if it is here again, `{back}` says so; work of a day before it left is logged with `tangmark pass add {blade} … --on DAY`"
            ),
            Self::StoneWeighing { may_be: true, .. } => {
                "weigh again and look at the day; if it is as you read it, say why with `--sure \"WHY\"`".to_owned()
            }
            Self::StoneWeighing { .. } => {
                "weigh it again, and write for example `--mass \"812.5 g\"`".to_owned()
            }
            Self::Meanwhile { kept, .. } => {
                format!("log it on the newest sheet with `tangmark pass again {kept}`")
            }
            Self::UnknownStone { near, .. } if near.is_empty() => {
                "enter your stones first: `tangmark stone add NAME --origin natural|synthetic …`".to_owned()
            }
            Self::UnknownStone { near, .. } => format!(
                "did you mean `{}`? `tangmark stone list` shows all, `tangmark stone add NAME …` enters a new one",
                near.join("`, `")
            ),
            Self::StoneRow { file, .. } => format!(
                "mend the row in {}; the README of the plugin `abrasives` says what belongs into each column",
                file.display()
            ),
            Self::StoneThere { .. } => {
                "give every stone a name of its own; change what is there in the file itself".to_owned()
            }
            Self::StoneRefused(_) => {
                "nothing was changed; mend what it names and add the stone again".to_owned()
            }
            Self::Word { near, .. } => near.as_ref().map_or_else(
                || "take one of the list".to_owned(),
                |near| format!("did you mean `{near}`?"),
            ),
            Self::Missing { how, .. } => (*how).to_owned(),
            Self::Reading { .. } => {
                "write the place and what was read, for example \"100 mm width=30.10 mm ridge=7.01 mm\"".to_owned()
            }
            Self::Instrument { .. } => {
                "list it under `examination.instruments` of the sheet, name one of those, or leave it out: the step of the \
                 reading then counts"
                    .to_owned()
            }
            Self::Block { .. } => {
                "write each pass under a line `[[passes]]`, as in a sheet; `tangmark pass add --help` shows one".to_owned()
            }
            Self::NoPass(blade) => {
                format!("log one with `tangmark pass add {blade} …`; `tangmark pass list {blade}` shows what is there")
            }
            Self::Sealed { blade, record, .. } => format!(
                "say what was wrong in a correction: `tangmark correct {blade} --record {record} --statement \"…\"`"
            ),
            Self::TimerRuns { blade, .. } => {
                format!("end it with `tangmark pass stop {blade}`, or let it run")
            }
            Self::TimerState { hint, .. } => hint.clone(),
            Self::Measured { blade, .. } => format!(
                "say how long the work took: `tangmark pass stop {blade} --time \"2 h 30 min\"`; the timer is left as it was"
            ),
            Self::NotRefused { .. } => {
                "`tangmark journal list --kind refused_pass` shows those that do".to_owned()
            }
            Self::Taken { .. } => {
                "log further work with `tangmark pass add`; `tangmark pass undo` takes the last pass back, and `tangmark journal strike N --reason \"…\"` strikes what is kept".to_owned()
            }
        }
    }
}
