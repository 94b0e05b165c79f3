//! `tangmark book`: the books of the workshop.

mod line;
mod told;

use std::path::Path;

use serde::Serialize;
use tangmark_workshop::Workshop;
use tangmark_workshop::books::{
    BookAmendment, BookNoted, BookWish, ExportWish, ImportPlan, NewBook, suggest_map,
};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;
use crate::who::Who;

pub(crate) use line::Arguments;
use line::{General, StockVerb, What};

/// The blade that was named, or none of the workshop as a whole; one of the two must be meant.
fn of<'b>(
    blade: Option<&'b str>,
    general: &General,
    verb: &str,
) -> Result<Option<&'b str>, Failure> {
    match (blade, general.general) {
        (Some(blade), false) => Ok(Some(blade)),
        (None, true) => Ok(None),
        (Some(blade), true) => Err(Failure::usage(
            format!(
                "both the blade `{}` and `--general` are given, one of the two is allowed",
                show::plain(blade)
            ),
            format!("leave one out; see `tangmark book {verb} --help`"),
        )),
        (None, false) => Err(Failure::usage(
            "no blade is named",
            format!(
                "name its key first, or say `--general` for the workshop as a whole; see `tangmark book {verb} --help`"
            ),
        )),
    }
}

/// The blade that was named, if any, and what follows it.
fn named<'w>(
    words: &'w [String],
    general: &General,
    verb: &str,
    what: &str,
) -> Result<(Option<&'w str>, &'w str), Failure> {
    let (blade, last) = match words {
        [last] => (None, last),
        [blade, last] => (Some(blade.as_str()), last),
        _ => {
            return Err(Failure::usage(
                format!(
                    "{} words found, a blade and {what} are allowed",
                    words.len()
                ),
                format!(
                    "put {what} in quotes where spaces are in it; see `tangmark book {verb} --help`"
                ),
            ));
        }
    };
    Ok((of(blade, general, verb)?, last))
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    if let What::Import {
        file,
        suggest: true,
        out,
        ..
    } = &arguments.what
    {
        return suggest(file, out.as_deref());
    }
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::Cost {
            words,
            general,
            what,
            paid_to,
            who,
            json,
        } => {
            let (blade, amount) = named(words, general, "cost", "the amount")?;
            let new = NewBook::Cost {
                amount,
                what,
                paid_to: paid_to.as_deref(),
            };
            enter(&workshop, blade, &new, who, *json)
        }
        What::Income {
            words,
            general,
            what,
            from,
            who,
            json,
        } => {
            let (blade, amount) = named(words, general, "income", "the amount")?;
            let new = NewBook::Income {
                amount,
                what,
                from: from.as_deref(),
            };
            enter(&workshop, blade, &new, who, *json)
        }
        What::Use {
            words,
            general,
            amount,
            cost,
            note,
            who,
            json,
        } => {
            let (blade, item) = named(words, general, "use", "the consumable or stone")?;
            let new = NewBook::Use {
                item,
                amount,
                cost: cost.as_deref(),
                note: note.as_deref(),
            };
            enter(&workshop, blade, &new, who, *json)
        }
        What::Hours {
            blade,
            general,
            time,
            what,
            who,
            json,
        } => {
            let new = NewBook::Hours { time, what };
            enter(
                &workshop,
                of(blade.as_deref(), general, "hours")?,
                &new,
                who,
                *json,
            )
        }
        What::Stock { what } => stock(&workshop, what),
        What::Amend {
            number,
            amount,
            what,
            party,
            item,
            cost,
            time,
            who,
            json,
        } => {
            let change = BookAmendment {
                amount: amount.as_deref(),
                what: what.as_deref(),
                party: party.as_deref(),
                item: item.as_deref(),
                cost: cost.as_deref(),
                time: time.as_deref(),
            };
            let noted = surroundings::with(|around| {
                Ok(workshop.amend_book(*number, &change, &who.who(), around)?)
            })?;
            entered(&noted, *json)
        }
        What::List {
            blade,
            from,
            to,
            json,
        } => {
            let list = workshop.book_list(&BookWish {
                blade: blade.as_deref(),
                from: from.as_deref(),
                to: to.as_deref(),
            })?;
            give(&list, *json, told::list)
        }
        What::Show { blade, rate, json } => {
            let account = workshop.account(blade, rate.as_deref())?;
            give(&account, *json, told::account)
        }
        What::Year { year, svg, json } => {
            let book =
                surroundings::with(|around| Ok(workshop.book_year(year.as_deref(), around)?))?;
            if let Some(file) = svg {
                workshop.draw_year(&book, file)?;
                say(&format!("drawn into {}", file.display()));
            }
            give(&book, *json, told::year)
        }
        What::Import {
            file,
            map,
            dry_run,
            skip_bad,
            again,
            who,
            json,
            ..
        } => {
            let plan = ImportPlan {
                file,
                // Without a map one is suggested, above.
                map: map.as_deref().unwrap_or(Path::new("")),
                dry_run: *dry_run,
                skip_bad: *skip_bad,
                again: *again,
                who: who.who(),
            };
            import(&workshop, &plan, *json)
        }
        What::Export {
            folder,
            replace,
            json,
        } => {
            let wish = ExportWish {
                folder,
                replace: *replace,
            };
            let mut progress = show::progress("blades exported");
            let exported = workshop.export_books(&wish, &mut progress)?;
            give(&exported, *json, told::exported)
        }
    }
}

/// Prints a result, as JSON or as text.
fn give<T: Serialize>(result: &T, json: bool, text: fn(&T) -> String) -> Outcome {
    if json {
        print_json(result)?;
    } else {
        print(&text(result))?;
    }
    Ok(code::GOOD)
}

fn enter(
    workshop: &Workshop,
    blade: Option<&str>,
    new: &NewBook<'_>,
    who: &Who,
    json: bool,
) -> Outcome {
    let noted = surroundings::with(|around| Ok(workshop.book(blade, new, &who.who(), around)?))?;
    entered(&noted, json)
}

fn entered(noted: &BookNoted, json: bool) -> Outcome {
    give(noted, json, told::noted)?;
    for remark in &noted.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    if !json {
        let next = noted.line.blade.as_ref().map_or_else(
            || "tangmark book list".to_owned(),
            |blade| format!("tangmark book show {blade}"),
        );
        let number = noted.line.number;
        say(&format!(
            "next: `{next}`; a slip is corrected with `tangmark book amend {number}`"
        ));
    }
    Ok(code::GOOD)
}

fn stock(workshop: &Workshop, what: &StockVerb) -> Outcome {
    match what {
        StockVerb::Add {
            item,
            amount,
            cost,
            from,
            who,
            json,
        } => {
            let new = NewBook::Stock {
                item,
                amount,
                cost: cost.as_deref(),
                from: from.as_deref(),
            };
            enter(workshop, None, &new, who, *json)
        }
        StockVerb::List { json } => {
            let lines = workshop.stock()?;
            if lines.is_empty() && !json {
                say("no consumables yet; enter one with `tangmark book stock add NAME --amount …`");
            }
            give(&lines, *json, |lines| told::stock(lines))
        }
    }
}

/// Writes a map to begin with.
fn suggest(file: &Path, out: Option<&Path>) -> Outcome {
    let text = suggest_map(file)?;
    let Some(out) = out else {
        print(&text)?;
        return Ok(code::GOOD);
    };
    surroundings::write_new(out, &text)?;
    print(&format!("{}\n", out.display()))?;
    say(&format!(
        "look at every guess, then `tangmark book import {} --map {} --dry-run`",
        file.display(),
        out.display()
    ));
    Ok(code::GOOD)
}

fn import(workshop: &Workshop, plan: &ImportPlan<'_>, json: bool) -> Outcome {
    let mut progress = show::progress("rows entered");
    let outcome =
        surroundings::with(|around| Ok(workshop.import_table(plan, around, &mut progress)?))?;
    give(&outcome, json, told::imported)?;
    if outcome.there > 0 {
        let would = if plan.dry_run { "would be " } else { "" };
        say(&format!(
            "note: {} {would}skipped, entered by an earlier import; `--again` takes such rows too",
            show::counted(outcome.there, "row")
        ));
    }
    if outcome.refused {
        return Err(Failure::new(
            format!(
                "{}: {} not sound, nothing was entered",
                plan.file.display(),
                told::rows_are(outcome.bad)
            ),
            "mend the rows or the map, or enter the others with `--skip-bad`",
        ));
    }
    if !json {
        let map = plan.map.display();
        say(&match (plan.dry_run, outcome.bad) {
            (true, 0) => format!(
                "next: `tangmark book import {} --map {map}`",
                plan.file.display()
            ),
            (true, _) => "next: mend the rows or the map, and look again".to_owned(),
            (false, 0) => "next: `tangmark blade list`".to_owned(),
            (false, _) => {
                "next: mend the rows that are not sound and import the table again; rows that are in are skipped"
                    .to_owned()
            }
        });
    }
    Ok(code::GOOD)
}
