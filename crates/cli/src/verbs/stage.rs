//! `tangmark stage`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;
use tangmark_workshop::record::Term as _;
use tangmark_workshop::{Stage, StageLine, StageList, StageOrder, StageWay, StageWish, Workshop};

use crate::outcome::{Outcome, code, print, print_json};
use crate::papers::Language;
use crate::show::{self, add, say};
use crate::surroundings;
use crate::verbs::seal::TermParser;
use crate::who::Who;

/// List every blade in work with what comes next, move a blade to a stage, or show its way
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark stage list
  tangmark stage set reed foundation --note \"rust gone, two pits left\"
  tangmark stage show reed --svg reed-stages.svg")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List the blades in work: stage, since when, what is next, hours and steel so far, held or not, day of return
    #[command(after_help = "Examples:
  tangmark stage list
  tangmark stage list --stage foundation
  tangmark stage list --all --limit 500 --json
  tangmark stage list --after reed              the part after that blade

The list is by key of the blade. `gone` is rust and steel by the scale, between the first mass and
the last. `held` counts the stops that stand; `?`: the sheet was not judged since its last change.")]
    List {
        /// Also blades that have left the workshop
        #[arg(long)]
        all: bool,
        /// Only those at this stage
        #[arg(long, value_name = "STAGE", value_parser = TermParser::<Stage>::new())]
        stage: Option<Stage>,
        /// Begin after this key: the last one of the part before
        #[arg(long, value_name = "BLADE")]
        after: Option<String>,
        /// List at most so many
        #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u32).range(1..))]
        limit: u32,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Move a blade to a stage
    ///
    /// Work goes back too, so any move is allowed; an odd one is told. A blade that was sold or given back needs
    /// `--again`. Passes, sales and referrals move a blade by themselves. A wrong move is struck out with `tangmark
    /// journal strike`.
    #[command(after_help = "Examples:
  tangmark stage set reed foundation
  tangmark stage set reed set_aside --note \"the owner asks for time\" --on 2026-03-02
  tangmark stage set reed as_received --again      it came back")]
    Set {
        /// Key of the blade
        blade: String,
        /// The stage
        #[arg(value_parser = TermParser::<Stage>::new(), hide_possible_values = false)]
        stage: Stage,
        /// Remark
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        /// The blade had left and is here again
        #[arg(long)]
        again: bool,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show the way of a blade through the stages, with the days at each
    #[command(after_help = "Examples:
  tangmark stage show reed
  tangmark stage show reed --svg reed-stages.svg --language both
  tangmark stage show reed --json")]
    Show {
        /// Key of the blade
        blade: String,
        /// Also draw the way as bars of days into a new SVG file
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
        /// Language of the drawing
        #[arg(long, value_enum, default_value = "en", requires = "svg")]
        language: Language,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::List {
            all,
            stage,
            after,
            limit,
            json,
        } => {
            let wish = StageWish {
                all: *all,
                stage: *stage,
                after: after.as_deref(),
                limit: usize::try_from(*limit).unwrap_or(usize::MAX),
            };
            let list = surroundings::with(|around| Ok(workshop.stages(&wish, around)?))?;
            tell_list(&list, &wish, *json)
        }
        What::Set {
            blade,
            stage,
            note,
            again,
            who,
            json,
        } => {
            let order = StageOrder {
                note: note.as_deref(),
                again: *again,
                who: who.who(),
            };
            set(&workshop, blade, *stage, &order, *json)
        }
        What::Show {
            blade,
            svg,
            language,
            json,
        } => show_way(&workshop, blade, svg.as_deref(), *language, *json),
    }
}

fn set(
    workshop: &Workshop,
    blade: &str,
    stage: Stage,
    order: &StageOrder<'_>,
    json: bool,
) -> Outcome {
    let (moved, line) = surroundings::with(|around| {
        let moved = workshop.move_stage(blade, stage, order, around)?;
        Ok((moved, workshop.stage_way(blade, around)?.line))
    })?;
    for remark in &moved.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    if json {
        print_json(&moved)?;
        return Ok(code::GOOD);
    }
    let (to, on) = (moved.to.key(), &moved.on);
    let told = match (moved.entry, moved.from, line.stage) {
        (None, ..) => format!("`{to}` since {on}, nothing changed"),
        // One of an earlier day belongs to the way, and changes nothing of where the blade stands.
        (Some(_), _, Some(now)) if now != moved.to => {
            format!("`{to}` noted for {on}; it stands at `{}`", now.key())
        }
        (Some(_), Some(from), _) => format!("`{to}` since {on}, before that `{}`", from.key()),
        (Some(_), None, _) => format!("`{to}` since {on}"),
    };
    print(&format!("blade {}: {told}\n", moved.blade))?;
    if !line.next.what.is_empty() {
        say(&format!("next: {}", line.next.what));
    }
    Ok(code::GOOD)
}

fn tell_list(list: &StageList, wish: &StageWish<'_>, json: bool) -> Outcome {
    if let Some(after) = &list.more_after {
        let stage = wish
            .stage
            .map_or_else(String::new, |stage| format!(" --stage {}", stage.key()));
        say(&format!(
            "more follow: `tangmark stage list{}{stage} --limit {} --after {after}`",
            if wish.all { " --all" } else { "" },
            wish.limit
        ));
    }
    let not_judged = |line: &&StageLine| line.stops.is_none();
    let blades = list.blades.iter().filter(not_judged);
    show::say_not_judged(blades.map(|line| line.blade.as_str()));
    if json {
        print_json(list)?;
        return Ok(code::GOOD);
    }
    if list.blades.is_empty() {
        say(
            "no blade in work; enter one with `tangmark intake BLADE --as bought`, or list all with `--all`",
        );
        return Ok(code::GOOD);
    }
    let heading = [
        "blade", "stage", "since", "days", "passes", "time", "gone", "held", "back by", "next",
        "title",
    ];
    let mut rows = vec![heading.map(str::to_owned).to_vec()];
    rows.extend(list.blades.iter().map(row));
    print(&show::table(&rows))?;
    Ok(code::GOOD)
}

fn row(line: &StageLine) -> Vec<String> {
    let none = || "-".to_owned();
    vec![
        line.blade.clone(),
        line.stage.map_or("-", |stage| stage.key()).to_owned(),
        line.since.clone().unwrap_or_else(none),
        line.days.map_or_else(none, |days| days.to_string()),
        line.passes.to_string(),
        hours(line).unwrap_or_else(none),
        line.gone_g.map_or_else(none, |gone| format!("{gone} g")),
        show::held(line.stops),
        back(line),
        if line.next.what.is_empty() {
            none()
        } else {
            show::cut(&line.next.what, 60)
        },
        show::cut(&line.title, 40),
    ]
}

/// `3 h 20`
fn hours(line: &StageLine) -> Option<String> {
    let minutes = line.minutes?.to_f64().round();
    let hours = (minutes / 60.0).floor();
    Some(format!("{hours} h {:02}", minutes - 60.0 * hours))
}

/// The day of return, and by how much it is past.
fn back(line: &StageLine) -> String {
    let Some(day) = &line.return_by else {
        return "-".to_owned();
    };
    match line.days_left {
        Some(left) if left < 0 => {
            format!("{day}, {} late", show::counted(left.unsigned_abs(), "day"))
        }
        _ => day.clone(),
    }
}

/// A way with the drawing of it.
#[derive(Serialize)]
struct Shown<'a> {
    #[serde(flatten)]
    way: &'a StageWay,
    #[serde(skip_serializing_if = "Option::is_none")]
    svg: Option<&'a Path>,
}

fn show_way(
    workshop: &Workshop,
    blade: &str,
    svg: Option<&Path>,
    language: Language,
    json: bool,
) -> Outcome {
    let (way, drawing) = surroundings::with(|around| {
        let way = workshop.stage_way(blade, around)?;
        let drawing = match svg {
            Some(_) => Some(workshop.stage_drawing(blade, language.into(), around)?),
            None => None,
        };
        Ok((way, drawing))
    })?;
    if let (Some(file), Some(drawing)) = (svg, &drawing) {
        surroundings::write_new(file, drawing)?;
    }
    if json {
        print_json(&Shown { way: &way, svg })?;
        return Ok(code::GOOD);
    }
    print(&text(&way))?;
    if let Some(file) = svg {
        say(&format!("drawn in {}", file.display()));
    }
    Ok(code::GOOD)
}

fn text(way: &StageWay) -> String {
    let line = &way.line;
    let mut rows = vec![
        vec!["blade:".to_owned(), line.blade.clone()],
        vec!["title:".to_owned(), show::plain(&line.title)],
        vec![
            "stage:".to_owned(),
            line.stage.map_or_else(
                || "none was set yet".to_owned(),
                tangmark_workshop::record::Term::shown,
            ),
        ],
        vec!["passes:".to_owned(), line.passes.to_string()],
    ];
    let mut add_row = |name: &str, value: Option<String>| {
        if let Some(value) = value {
            rows.push(vec![name.to_owned(), value]);
        }
    };
    add_row("time:", hours(line));
    add_row(
        "gone:",
        line.gone_g
            .map(|gone| format!("{gone} g of rust and steel by the scale")),
    );
    add_row("back by:", line.return_by.as_ref().map(|_| back(line)));
    add_row(
        "held:",
        match line.stops {
            Some(0) => None,
            Some(stops) => Some(format!("{} unanswered", show::counted(stops, "stop"))),
            None => Some(format!(
                "not judged since the last change: tangmark check {}",
                line.blade
            )),
        },
    );
    add_row(
        "next:",
        (!line.next.what.is_empty()).then(|| show::plain(&line.next.what)),
    );
    let mut text = show::table(&rows);
    if way.way.is_empty() {
        return text;
    }
    add!(text, "\n");
    let heading = ["from", "to", "days", "stage", "entry", "by", "note"];
    let mut rows = vec![heading.map(str::to_owned).to_vec()];
    rows.extend(way.way.iter().map(|step| {
        vec![
            step.from.clone(),
            step.to.clone().unwrap_or_else(|| "-".to_owned()),
            step.days.to_string(),
            step.stage.key().to_owned(),
            step.entry.to_string(),
            show::cut(&step.by, 40),
            show::cut(step.note.as_deref().unwrap_or("-"), 80),
        ]
    }));
    text.push_str(&show::table(&rows));
    text
}
