//! `tangmark stone`.

use std::path::Path;

use clap::{Args, Subcommand};
use tangmark_workshop::Workshop;
use tangmark_workshop::pass::{StoneLine, Wear};
use tangmark_workshop::record::{Number, Term as _};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::results;
use crate::show::{self, add, say};
use crate::surroundings;
use crate::who::Who;

/// List the workshop's stones with what they have worked, add one, note how one wears
///
/// The list is the table of the planner, `plugins/abrasives/stones.csv` in the workshop's folder.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark stone list
  tangmark stone add \"fine slate stone\" --origin natural --stage koma_nagura --d50-range 2.5..5
  tangmark stone add \"second foundation stone\" --origin synthetic --stage kaisei --grit jis:1000
  tangmark stone wear \"second foundation stone\" --mass \"812.5 g\"")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List the stones, each with its passes, time and steel over all blades
    #[command(after_help = "Examples:
  tangmark stone list
  tangmark stone list --json")]
    List {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Add a stone to the list; the rest of the file stays as it is, and a copy of it is kept as `stones.csv.1`
    #[command(after_help = "Examples:
  tangmark stone add \"fine slate stone\" --origin natural --stage koma_nagura --d50-range 2.5..5
  tangmark stone add \"second foundation stone\" --origin synthetic --stage kaisei --grit jis:1000
      --price \"0.08 EUR\"

A grit number needs its system: fepa_f, fepa_p, jis, cami, makers_own. A natural stone has none:
state its grain size as you judge it, in µm.")]
    Add(Box<Add>),
    /// Note a weighing of a stone, and tell what it lost since the last one for the steel it took
    #[command(after_help = "Examples:
  tangmark stone wear \"second foundation stone\" --mass \"812.5 g\"

Weigh it dry, when the work of the day is done: passes after the day of the weighing before are
counted, up to the day of this one. Two weighings with all its passes between them weighed give
the column `wear_g_per_g` of the list.")]
    Wear {
        /// Name of the stone
        name: String,
        /// Its mass with the unit; several readings apart by `;`
        #[arg(long, value_name = "MASS")]
        mass: String,
        /// Why a weighing that was asked about is right: a stone is no heavier than before, and weighed after the last time
        #[arg(long, value_name = "WHY")]
        sure: Option<String>,
        /// Remarks
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        #[command(flatten)]
        entry: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

#[derive(Debug, Args)]
struct Add {
    /// Name, which passes use
    name: String,
    /// natural or synthetic
    #[arg(long, value_name = "ORIGIN")]
    origin: String,
    /// Stage of the work, a term of `tangmark schema terms stone_stage`
    #[arg(long, value_name = "STAGE")]
    stage: Option<String>,
    /// Grit number with its system
    #[arg(long, value_name = "SYSTEM:NUMBER")]
    grit: Option<String>,
    /// Median grain size, µm
    #[arg(long, value_name = "UM")]
    d50: Option<String>,
    /// Range of the median grain size, µm
    #[arg(long, value_name = "LOW..HIGH")]
    d50_range: Option<String>,
    /// Depth it takes in a minute as measured, µm, on the area of the settings
    #[arg(long, value_name = "UM")]
    rate: Option<String>,
    /// Standard uncertainty of that, µm
    #[arg(long, value_name = "UM", requires = "rate")]
    rate_uncertainty: Option<String>,
    /// Grams of stone worn per gram of steel
    #[arg(long, value_name = "RATIO")]
    wear: Option<String>,
    /// Price of a gram of stone
    #[arg(long, value_name = "AMOUNT CURRENCY")]
    price: Option<String>,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::List { json } => list(&workshop, *json),
        What::Add(stone) => add_stone(&workshop, stone),
        What::Wear {
            name,
            mass,
            sure,
            note,
            entry,
            json,
        } => {
            let wear = surroundings::with(|around| {
                Ok({
                    let told = (note.as_deref(), sure.as_deref());
                    workshop.weigh_stone(name, mass, told, &entry.who(), around)?
                })
            })?;
            if *json {
                print_json(&wear)?;
            } else {
                print(&wear_text(&wear))?;
            }
            say("next: `tangmark stone list`");
            Ok(code::GOOD)
        }
    }
}

fn list(workshop: &Workshop, json: bool) -> Outcome {
    let lines = workshop.stone_lines()?;
    if json {
        print_json(&lines)?;
    } else if lines.is_empty() {
        say(
            "no stones yet; add one with `tangmark stone add NAME --origin natural|synthetic --stage STAGE`",
        );
    } else {
        print(&table(&lines))?;
    }
    Ok(code::GOOD)
}

fn amount(number: Option<&Number>) -> String {
    number.map_or_else(
        || "-".to_owned(),
        |number| {
            let text = results::number(number);
            text.split_once(": ")
                .map_or(text.clone(), |(_, after)| after.replace(" (k = 1)", ""))
        },
    )
}

fn table(lines: &[StoneLine]) -> String {
    let heading = [
        "stone", "origin", "stage", "grain", "passes", "blades", "time", "steel", "weighed",
    ]
    .map(str::to_owned)
    .to_vec();
    let rows = lines.iter().map(|line| {
        let stone = &line.stone;
        let grain = match (&stone.grit, &stone.d50_um, &stone.d50_range_um) {
            (Some((system, number)), ..) => format!("{} {number}", system.key()),
            (None, Some(size), _) => format!("{size} um"),
            (None, None, Some((low, high))) => format!("{low} to {high} um"),
            (None, None, None) => "-".to_owned(),
        };
        vec![
            show::cut(&stone.name, 60),
            stone.origin.key().to_owned(),
            stone.stage.map_or("-", |stage| stage.key()).to_owned(),
            grain,
            line.passes.to_string(),
            line.blades.to_string(),
            amount(line.minutes.as_ref()),
            amount(line.steel.as_ref()),
            line.mass.as_ref().map_or_else(
                || "-".to_owned(),
                |(mass, on)| format!("{} on {on}", amount(Some(mass))),
            ),
        ]
    });
    show::table(&std::iter::once(heading).chain(rows).collect::<Vec<_>>())
}

fn wear_text(wear: &Wear) -> String {
    let readings: Vec<&str> = wear
        .mass
        .as_read
        .iter()
        .map(|reading| reading.text.as_str())
        .collect();
    let mut text = format!(
        "stone {}: {} noted, journal entry {}\n",
        show::plain(&wear.stone),
        show::plain(&readings.join("; ")),
        wear.entry
    );
    let Some(since) = &wear.since else {
        text.push_str("first weighing: wear is told from the second on\n");
        return text;
    };
    let (passes, weighed) = wear.passes;
    add!(
        text,
        "since {since}: {} of stone gone over {} after that day, {} of steel taken\n",
        amount(wear.worn.as_ref()),
        show::counted(passes, "pass"),
        amount(wear.steel.as_ref())
    );
    match &wear.wear {
        Some(ratio) => add!(
            text,
            "wear: {} g of stone per g of steel; the list has {}\n",
            amount(Some(ratio)),
            wear.listed.as_deref().unwrap_or("none")
        ),
        None if weighed < passes => add!(
            text,
            "wear: not told, since not all are weighed before and after: {weighed} of {}\n",
            show::counted(passes, "pass")
        ),
        None => text.push_str("wear: not told, since no steel was weighed off with it\n"),
    }
    text
}

fn add_stone(workshop: &Workshop, stone: &Add) -> Outcome {
    let mut cells: Vec<(&str, String)> = vec![("name", stone.name.clone())];
    if stone.name.trim().is_empty() {
        return Err(Failure::usage(
            "the name of the stone is empty, a name is needed",
            "write for example `tangmark stone add \"fine slate stone\" --origin natural`",
        ));
    }
    if let Some(grit) = &stone.grit {
        let Some((system, number)) = grit.split_once(':') else {
            return Err(Failure::usage(
                format!(
                    "`--grit {grit}` found, a system and a number are allowed: a number without its system means nothing"
                ),
                "write for example `--grit jis:1000` or `--grit fepa_p:2500`",
            ));
        };
        cells.push(("grit_system", system.to_owned()));
        cells.push(("grit", number.to_owned()));
    }
    if let Some(range) = &stone.d50_range {
        let Some((low, high)) = range.split_once("..") else {
            return Err(Failure::usage(
                format!("`--d50-range {range}` found, both ends in µm are allowed"),
                "write for example `--d50-range 2.5..5`",
            ));
        };
        cells.push(("d50_low_um", low.to_owned()));
        cells.push(("d50_high_um", high.to_owned()));
    }
    if let Some(price) = &stone.price {
        let Some((amount, currency)) = price.trim().split_once(' ') else {
            return Err(Failure::usage(
                format!(
                    "`--price {price}` found, an amount, a space and a currency code are allowed"
                ),
                "write for example `--price \"0.08 EUR\"`",
            ));
        };
        cells.push(("price_per_g", amount.to_owned()));
        cells.push(("currency", currency.to_owned()));
    }
    cells.push(("origin", stone.origin.clone()));
    for (column, text) in [
        ("stage", &stone.stage),
        ("d50_um", &stone.d50),
        ("rate_um_per_min", &stone.rate),
        ("rate_u_um_per_min", &stone.rate_uncertainty),
        ("wear_g_per_g", &stone.wear),
    ] {
        if let Some(text) = text {
            cells.push((column, text.clone()));
        }
    }
    let added = surroundings::with(|around| Ok(workshop.add_stone(&cells, around)?))?;
    if stone.json {
        print_json(&added)?;
    } else {
        print(&format!(
            "stone {} added to {}\n",
            show::plain(&added.stone.name),
            added.file.display()
        ))?;
    }
    if let Some(before) = &added.before {
        say(&format!(
            "the list as it was is kept as {}",
            before.display()
        ));
    }
    for remark in &added.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    for caution in &added.cautions {
        say(&format!("caution: {caution}"));
    }
    say(&format!(
        "next: `tangmark pass add BLADE --stone \"{}\" …`",
        show::plain(&added.stone.name)
    ));
    Ok(code::GOOD)
}
