//! `tangmark fitting`.

mod told;
mod words;

use std::path::Path;

use clap::Args;
use tangmark_workshop::fitting::{Changes, LimitName, NewFitting, ScreenNote, Which, as_csv};
use tangmark_workshop::{Workshop, WorkshopError};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::papers::{Language, tell_fonts, tell_missing};
use crate::show::{self, say};
use crate::surroundings;
use crate::who::Entry;
use words::What;

/// Keep the fittings of the workshop, with and without a blade: what they are, where they are, which blades they fit
///
/// A fitting that is with a blade stands in the blade's sheet too, written in the same step, so that the next record of
/// the blade holds it. When it moves away it leaves the sheet; what was sealed stays as it was.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark fitting add guard-1 --part tsuba --title \"Iron guard with two openings\" --material iron
      --with reed
  tangmark fitting list --loose
  tangmark fitting measure guard-1 --opening \"26.9 mm x 7.6 mm\" --uncertainty \"0.02 mm\"
  tangmark fitting fit guard-1
  tangmark fitting move guard-1 --to storage
  tangmark fitting screen guard-1")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::Add {
            id,
            part,
            title,
            with,
            note,
            what,
            read,
            belongs,
            entry,
        } => {
            let new = NewFitting {
                id: id.clone(),
                part: *part,
                with: with.clone(),
                note: note.clone(),
                known: Changes {
                    title: Some(title.clone()),
                    readings: read.readings(),
                    belonging: belongs.belonging(),
                    ..what.changes()
                },
            };
            let done = surroundings::with(|around| {
                Ok(workshop.add_fitting(&new, &entry.who.who(), around)?)
            })?;
            told::done(&done, "entered", entry.json)
        }
        What::Adopt {
            blade,
            id,
            new_id,
            entry,
        } => {
            let done = surroundings::with(|around| {
                Ok(workshop.adopt_fitting(blade, id, new_id.as_ref(), &entry.who.who(), around)?)
            })?;
            told::done(&done, "taken over from the sheet", entry.json)
        }
        What::List {
            blade,
            loose,
            all,
            csv,
            json,
        } => {
            let which = match (blade, loose, all) {
                (Some(blade), ..) => Which::Blade(blade),
                (None, true, _) => Which::Loose,
                (None, false, true) => Which::All,
                (None, false, false) => Which::Here,
            };
            let lines = workshop.fittings(which)?;
            match (csv, json) {
                (true, _) => print(&as_csv(&lines)?)?,
                (_, true) => print_json(&lines)?,
                _ => told::list(&lines, which)?,
            }
            Ok(code::GOOD)
        }
        What::Show { id, json } => told::show_one(&workshop.fitting(id)?, *json),
        What::Move {
            id,
            to,
            note,
            belongs,
            entry,
        } => {
            let done = surroundings::with(|around| {
                let (belonging, note) = (belongs.belonging(), note.as_deref());
                Ok(workshop.move_fitting(id, to, belonging, note, &entry.who.who(), around)?)
            })?;
            told::done(&done, "moved", entry.json)
        }
        What::Measure {
            id,
            read,
            belongs,
            entry,
        } => {
            let changes = Changes {
                readings: read.readings(),
                belonging: belongs.belonging(),
                ..Changes::default()
            };
            note(&workshop, id, &changes, entry)
        }
        What::Describe {
            id,
            title,
            what,
            entry,
        } => {
            let changes = Changes {
                title: title.clone(),
                ..what.changes()
            };
            note(&workshop, id, &changes, entry)
        }
        What::Fit {
            id,
            blades,
            svg,
            language,
            all,
            json,
        } => {
            if let Some(file) = svg {
                draw(&workshop, id, blades, file, *language, *json)
            } else {
                let fitted = workshop.fitting_fits(id, blades, &mut show::progress("compared"))?;
                told::fits(&fitted, *all || !blades.is_empty(), *json)
            }
        }
        What::Limits {
            collar,
            washer,
            guard,
            hilt,
            peg,
            entry,
        } => {
            let given = [
                (LimitName::Collar, collar),
                (LimitName::Washer, washer),
                (LimitName::Guard, guard),
                (LimitName::Hilt, hilt),
                (LimitName::Peg, peg),
            ];
            let new: Vec<(LimitName, f64)> = given
                .into_iter()
                .filter_map(|(name, value)| Some((name, (*value)?)))
                .collect();
            if !new.is_empty() {
                surroundings::with(|around| {
                    Ok(workshop.set_fitting_limits(&new, &entry.who.who(), around)?)
                })?;
            }
            told::limits(workshop.fitting_limits()?, !new.is_empty(), entry.json)
        }
        What::Screen {
            id,
            note: answer,
            list,
            entry,
        } => {
            if let (Some(screen), Some(list)) = (answer, list) {
                let note = ScreenNote {
                    screen: *screen,
                    list: list.clone(),
                };
                let done = surroundings::with(|around| {
                    Ok(workshop.note_screen(id, note, &entry.who.who(), around)?)
                })?;
                told::done(&done, "noted", entry.json)
            } else {
                let screened =
                    surroundings::with(|around| Ok(workshop.screen_fitting(id, around)?))?;
                told::screened(&screened, entry.json)
            }
        }
        What::Label {
            ids,
            out,
            paper,
            language,
            json,
        } => {
            let made = surroundings::with(|around| {
                Ok(workshop.label_fittings(
                    ids,
                    out,
                    (*paper).into(),
                    (*language).into(),
                    around,
                )?)
            })?;
            if *json {
                print_json(&made)?;
                return Ok(code::GOOD);
            }
            tell_fonts(&made.refused_fonts, "");
            print(&format!("{}\n", made.file.display()))?;
            tell_missing(made.missing.iter().copied(), "printed", "");
            say(&format!(
                "{}; tie them to the fittings, and print at true size",
                show::counted(made.fittings.len(), "label")
            ));
            Ok(code::GOOD)
        }
    }
}

fn note(workshop: &Workshop, id: &str, changes: &Changes, entry: &Entry) -> Outcome {
    let done = surroundings::with(|around| {
        Ok(workshop.note_fitting(id, changes, &entry.who.who(), around)?)
    })?;
    told::done(&done, "noted", entry.json)
}

fn draw(
    workshop: &Workshop,
    id: &str,
    blades: &[String],
    file: &Path,
    language: Language,
    json: bool,
) -> Outcome {
    let blade = match blades {
        [one] => one.clone(),
        [] => workshop.blade_of_fitting(id)?.ok_or_else(|| {
            Failure::usage(
                format!("`{id}` is with no blade, and none is named to draw it against"),
                format!(
                    "name one: `tangmark fitting fit {id} BLADE --svg {}`",
                    file.display()
                ),
            )
        })?,
        more => {
            return Err(Failure::usage(
                format!("{} blades are named, one is drawn in a file", more.len()),
                "name one blade with `--svg FILE`, and call it again for the next",
            ));
        }
    };
    let drawn = workshop
        .draw_fit(id, &blade, file, language.into())
        .map_err(|error| match error {
            WorkshopError::Exists(path) => Failure::new(
                format!("{} exists already; nothing was written", path.display()),
                "name another file with `--svg FILE`",
            ),
            other => other.into(),
        })?;
    if json {
        print_json(&drawn)?;
        return Ok(code::GOOD);
    }
    print(&format!("{}\n", drawn.file.display()))?;
    say(&show::plain(&drawn.shows));
    Ok(code::GOOD)
}
