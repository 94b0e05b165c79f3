//! `tangmark custody`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use tangmark_workshop::custody::{CustodyChanged, CustodyDrawing, CustodyLine, EventSaid, Party};
use tangmark_workshop::record::{CustodyKind, Document, Person, Term as _, When};
use tangmark_workshop::{DRAWING_WIDTHS, Who, Workshop};

use crate::outcome::{Outcome, code, print, print_json};
use crate::papers::{Language, tell_fonts, tell_missing};
use crate::show::{self, add, say};
use crate::surroundings;
use crate::verbs::seal::words;

/// Enter, list, draw and put right the events in the life of a blade: who had it, from when to when, with which papers
///
/// Events stand on the sheet in the order of time, each within the limits in which it is known. Names, addresses, prices and
/// numbers of papers are withheld when a record is sealed, unless they are shown by choice.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark custody add reed bought --from \"L. Marrow\" --not-before 1958 --not-after 1961
  tangmark custody list reed
  tangmark custody draw reed --svg reed-life.svg")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Enter an event at its place in the order of time
    #[command(after_help = "Examples:
  tangmark custody add reed bought --from \"L. Marrow\" --not-before 1958 --not-after 1961
  tangmark custody add reed returned --to \"L. Marrow\" --on 2026-05-04
      --document \"receipt; number=26-031\"
  tangmark custody add reed sold --to \"A. Buyer\" --price \"1200 EUR\"

Dates are days, months or years. Without any the event was today; with `--not-before` alone it was
by today; with `--not-after` alone it was not before the blade can have been made, where the sheet
says so. Kinds of events, papers and parts played: `tangmark schema terms custody_kind`,
`document_kind`, `role`.

Exit codes: 0 entered; 1 nothing was entered; 4 the command line is not understood.")]
    Add {
        /// Key of the blade
        blade: String,
        /// Kind of the event
        kind: String,
        #[command(flatten)]
        said: Box<Said>,
        #[command(flatten)]
        end: End,
    },
    /// Change an event that no sealed record holds; what is not named stays as it was
    #[command(after_help = "Examples:
  tangmark custody amend reed 2 --not-after 1959
  tangmark custody amend reed 2 --kind inherited --clear price

Papers named here take the place of those that were there.

Exit codes: 0 changed; 1 nothing was changed; 4 the command line is not understood.")]
    Amend {
        /// Key of the blade
        blade: String,
        /// Number of the event, as `custody list` shows it
        number: usize,
        /// Another kind
        #[arg(long, value_name = "KIND")]
        kind: Option<String>,
        #[command(flatten)]
        said: Box<Said>,
        /// Take a part away: documents, from, note, place, price, to (can be repeated)
        #[arg(long, value_name = "PART")]
        clear: Vec<String>,
        #[command(flatten)]
        end: End,
    },
    /// Take an event that no sealed record holds off the sheet; the sheet as it was stays in its history
    #[command(after_help = "Examples:
  tangmark custody remove reed 2 --reason \"entered for another blade\"
  tangmark examine undo reed                       takes it back")]
    Remove {
        /// Key of the blade
        blade: String,
        /// Number of the event, as `custody list` shows it
        number: usize,
        /// Why
        #[arg(long, value_name = "TEXT")]
        reason: String,
        #[command(flatten)]
        end: End,
    },
    /// List the events with their numbers, and which a sealed record holds
    #[command(after_help = "Examples:
  tangmark custody list reed
  tangmark custody list reed --json")]
    List {
        /// Key of the blade
        blade: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Draw the events along time: what is known within limits, what lies between, which order is open
    #[command(after_help = "Examples:
  tangmark custody draw reed --svg reed-life.svg
  tangmark custody draw reed --svg reed-life.svg --width 240 --language ja

It shows the sheet; `tangmark draw` shows what a sealed record says. No name is on it.")]
    Draw {
        /// Key of the blade
        blade: String,
        /// File to write; an existing one is never overwritten
        #[arg(long, value_name = "FILE")]
        svg: PathBuf,
        #[arg(long, help = width_help(), value_name = "MM", default_value_t = 166.0)]
        width: f64,
        /// Language
        #[arg(long, value_enum, default_value_t = Language::En)]
        language: Language,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

/// What is said of an event.
#[derive(Debug, Args)]
struct Said {
    /// From whom
    #[arg(long, value_name = "NAME")]
    from: Option<String>,
    /// Part that person plays [default: the one that goes with the event]
    #[arg(long, value_name = "ROLE")]
    from_role: Option<String>,
    /// Postal address of that person
    #[arg(long, value_name = "TEXT")]
    from_address: Option<String>,
    /// Telephone or mail of that person
    #[arg(long, value_name = "TEXT")]
    from_contact: Option<String>,
    /// To whom
    #[arg(long, value_name = "NAME")]
    to: Option<String>,
    /// Part that person plays [default: the one that goes with the event]
    #[arg(long, value_name = "ROLE")]
    to_role: Option<String>,
    /// Postal address of that person
    #[arg(long, value_name = "TEXT")]
    to_address: Option<String>,
    /// Telephone or mail of that person
    #[arg(long, value_name = "TEXT")]
    to_contact: Option<String>,
    /// When it was
    #[arg(long, value_name = "DATE", conflicts_with_all = ["not_before", "not_after"])]
    on: Option<String>,
    /// The earliest it can have been
    #[arg(long, value_name = "DATE")]
    not_before: Option<String>,
    /// The latest it can have been
    #[arg(long, value_name = "DATE")]
    not_after: Option<String>,
    /// Place, in general words
    #[arg(long, value_name = "TEXT")]
    place: Option<String>,
    /// A paper: its kind, then what is known of it (can be repeated)
    #[arg(long, value_name = "KIND; issuer=…; on=…; number=…; note=…")]
    document: Vec<String>,
    /// Price
    #[arg(long, value_name = "AMOUNT CURRENCY")]
    price: Option<String>,
    /// Remarks
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

impl Said {
    fn of<'a>(&'a self, kind: Option<&'a str>) -> EventSaid<'a> {
        EventSaid {
            kind,
            on: self.on.as_deref(),
            not_before: self.not_before.as_deref(),
            not_after: self.not_after.as_deref(),
            from: Party {
                role: self.from_role.as_deref(),
                name: self.from.as_deref(),
                address: self.from_address.as_deref(),
                contact: self.from_contact.as_deref(),
            },
            to: Party {
                role: self.to_role.as_deref(),
                name: self.to.as_deref(),
                address: self.to_address.as_deref(),
                contact: self.to_contact.as_deref(),
            },
            place: self.place.as_deref(),
            documents: &self.document,
            price: self.price.as_deref(),
            note: self.note.as_deref(),
        }
    }
}

/// Who enters it, and in which form it is told.
#[derive(Debug, Args)]
struct End {
    /// Who enters it [default: the workshop's name]
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

impl End {
    fn who(&self) -> Who<'_> {
        Who {
            on: None,
            by: self.by.as_deref(),
        }
    }
}

fn width_help() -> String {
    let [least, most] = DRAWING_WIDTHS;
    format!("Width of the drawing without its margins, {least} to {most} mm")
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::Add {
            blade,
            kind,
            said,
            end,
        } => {
            let changed = surroundings::with(|around| {
                Ok(workshop.add_custody(blade, &said.of(Some(kind)), &end.who(), around)?)
            })?;
            told(&changed, "entered", end.json)
        }
        What::Amend {
            blade,
            number,
            kind,
            said,
            clear,
            end,
        } => {
            let changed = surroundings::with(|around| {
                let said = said.of(kind.as_deref());
                Ok(workshop.amend_custody(blade, *number, &said, clear, &end.who(), around)?)
            })?;
            told(&changed, "changed", end.json)
        }
        What::Remove {
            blade,
            number,
            reason,
            end,
        } => {
            let reason = words("--reason", reason)?;
            let changed = surroundings::with(|around| {
                Ok(workshop.remove_custody(blade, *number, &reason, &end.who(), around)?)
            })?;
            told(&changed, "removed", end.json)
        }
        What::List { blade, json } => list(&workshop, blade, *json),
        What::Draw {
            blade,
            svg,
            width,
            language,
            json,
        } => {
            let wish = CustodyDrawing {
                file: svg,
                width: *width,
                speech: (*language).into(),
            };
            draw(&workshop, blade, &wish, *json)
        }
    }
}

fn told(changed: &CustodyChanged, what: &str, json: bool) -> Outcome {
    for remark in &changed.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    if json {
        print_json(changed)?;
        return Ok(code::GOOD);
    }
    let (blade, event) = (&changed.blade, &changed.event);
    print(&format!(
        "blade {blade}: event {} {what}: {}, {}; the sheet is revision {} now\n",
        changed.number,
        event.kind.gloss(),
        when(&event.when),
        changed.revision
    ))?;
    let next = match event.kind {
        _ if what == "removed" => format!("`tangmark custody list {blade}`"),
        CustodyKind::Sold | CustodyKind::Given | CustodyKind::Returned => format!(
            "`tangmark check {blade}`, then `tangmark seal {blade} --for transfer --verdict …`"
        ),
        _ => format!("`tangmark check {blade}` looks for gaps, `tangmark custody list {blade}`"),
    };
    say(&format!("next: {next}"));
    Ok(code::GOOD)
}

fn list(workshop: &Workshop, blade: &str, json: bool) -> Outcome {
    let lines = workshop.custody(blade)?;
    if json {
        print_json(&lines)?;
        return Ok(code::GOOD);
    }
    if lines.is_empty() {
        say(&format!(
            "no event of custody is on the sheet of {blade}; enter one with `tangmark custody add {blade} KIND`"
        ));
        return Ok(code::GOOD);
    }
    print(&text(&lines))?;
    Ok(code::GOOD)
}

fn text(lines: &[CustodyLine]) -> String {
    let mut text = String::new();
    for line in lines {
        let event = &line.event;
        let held = line.sealed_in.map_or_else(
            || "in no record yet".to_owned(),
            |record| format!("in record {record}"),
        );
        add!(
            text,
            "{:>3}  {}  {} ({held})\n",
            line.number,
            when(&event.when),
            event.kind.gloss()
        );
        for (name, person) in [("from", &event.from), ("to", &event.to)] {
            if let Some(person) = person {
                add!(text, "     {name} {}\n", who(person));
            }
        }
        if let Some(place) = &event.place {
            add!(text, "     at {}\n", show::plain(place));
        }
        for document in &event.documents {
            add!(text, "     paper: {}\n", paper(document));
        }
        if let Some(price) = &event.price {
            add!(text, "     price {price}\n");
        }
        if let Some(note) = &event.note {
            add!(text, "     {}\n", show::plain(note));
        }
    }
    text
}

fn when(when: &When) -> String {
    if when.earliest == when.latest {
        return when.earliest.to_string();
    }
    format!("{} to {}", when.earliest, when.latest)
}

fn who(person: &Person) -> String {
    let mut parts = vec![show::plain(
        person.name.as_deref().unwrap_or("name not stated"),
    )];
    let rest = [&person.address, &person.contact].into_iter().flatten();
    parts.extend(rest.map(|part| show::plain(part)));
    format!("{}: {}", person.role.gloss(), parts.join(", "))
}

fn paper(document: &Document) -> String {
    let mut parts = vec![document.kind.gloss().to_owned()];
    parts.extend(document.issuer.as_deref().map(show::plain));
    parts.extend(document.on.as_ref().map(ToString::to_string));
    parts.extend(
        document
            .number
            .as_deref()
            .map(|number| format!("no. {}", show::plain(number))),
    );
    parts.extend(document.note.as_deref().map(show::plain));
    parts.join(", ")
}

fn draw(workshop: &Workshop, blade: &str, wish: &CustodyDrawing<'_>, json: bool) -> Outcome {
    let drawn = workshop.draw_custody(blade, wish)?;
    tell_fonts(&drawn.refused_fonts, "");
    tell_missing(drawn.missing.iter().copied(), "drawn", "");
    if json {
        print_json(&drawn)?;
    } else {
        print(&format!("{}\n", drawn.file.display()))?;
    }
    Ok(code::GOOD)
}
