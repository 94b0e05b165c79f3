//! `tangmark book`: the books of the workshop.

mod told;

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;
use tangmark_workshop::Workshop;
use tangmark_workshop::books::{BookAmendment, BookNoted, BookWish, ExportWish, NewBook};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;
use crate::who::Who;

/// Keep the books: costs, income, consumables and hours of each blade; export everything, import a spreadsheet
///
/// What a sheet states itself is not entered again: what a blade was bought and sold for stands in its custody, the time
/// of a pass with the pass. Amounts are exact, and amounts in two currencies are never added. Nothing is erased: `book
/// amend` puts a new entry in the place of an old one, `tangmark journal strike` takes one out of force.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark book cost reed \"18.40 EUR\" --for \"parcel, insured\" --paid-to \"carrier\"
  tangmark book stock add \"choji oil\" --amount \"500 ml\" --cost \"22 EUR\"
  tangmark book use reed \"choji oil\" --amount \"5 ml\"
  tangmark book hours reed --time \"1 h 30 min\" --for \"photographs\"
  tangmark book show reed --rate \"45 EUR\"
  tangmark book year --svg year.svg
  tangmark book export tables")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

/// Of which blade an entry is.
#[derive(Debug, Args)]
struct General {
    /// It is of the workshop as a whole, not of a blade
    #[arg(long)]
    general: bool,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Enter money that went out, for a blade or for the workshop as a whole
    #[command(
        allow_missing_positional = true,
        after_help = "Examples:
  tangmark book cost reed \"18.40 EUR\" --for \"parcel, insured\"
  tangmark book cost --general \"64 EUR\" --for \"electricity, March\" --on 2026-04-02"
    )]
    Cost {
        /// Key of the blade; left out with `--general`
        blade: Option<String>,
        /// Amount, a space, currency code (ISO 4217)
        amount: String,
        #[command(flatten)]
        general: General,
        /// For what
        #[arg(long = "for", value_name = "WORDS")]
        what: String,
        /// To whom
        #[arg(long, value_name = "NAME")]
        paid_to: Option<String>,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Enter money that came in, other than the price of a blade that was sold: that stands on its sheet
    #[command(
        allow_missing_positional = true,
        after_help = "Examples:
  tangmark book income reed \"480 EUR\" --for \"foundation and finish\" --from \"A. Fenwick\"
  tangmark book income --general \"60 EUR\" --for \"a lesson\""
    )]
    Income {
        /// Key of the blade; left out with `--general`
        blade: Option<String>,
        /// Amount, a space, currency code (ISO 4217)
        amount: String,
        #[command(flatten)]
        general: General,
        /// For what
        #[arg(long = "for", value_name = "WORDS")]
        what: String,
        /// From whom
        #[arg(long, value_name = "NAME")]
        from: Option<String>,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Enter what was used up of a consumable or a stone
    ///
    /// Without `--cost` it costs the mean price of what came into the stock, or the price of a gram in the list of stones.
    #[command(
        allow_missing_positional = true,
        after_help = "Examples:
  tangmark book use reed \"choji oil\" --amount \"5 ml\"
  tangmark book use reed \"fine slate stone\" --amount \"12 g\"
  tangmark book use --general gloves --amount 2 --cost \"1.20 EUR\""
    )]
    Use {
        /// Key of the blade; left out with `--general`
        blade: Option<String>,
        /// Consumable or stone
        item: String,
        #[command(flatten)]
        general: General,
        /// How much: a number of pieces, or a mass, volume, length or area with its unit
        #[arg(long, value_name = "AMOUNT")]
        amount: String,
        /// What that cost
        #[arg(long, value_name = "MONEY")]
        cost: Option<String>,
        /// Remarks
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Enter work outside passes, such as photographs or packing; the time of a pass stands with the pass
    #[command(after_help = "Examples:
  tangmark book hours reed --time \"1 h 30 min\" --for \"photographs\"
  tangmark book hours --general --time \"2 h\" --for \"flattening stones\"")]
    Hours {
        /// Key of the blade; left out with `--general`
        blade: Option<String>,
        #[command(flatten)]
        general: General,
        /// How long, such as `2 h` or `1 h 30 min`
        #[arg(long, value_name = "TIME")]
        time: String,
        /// For what
        #[arg(long = "for", value_name = "WORDS")]
        what: String,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Keep the stock of consumables
    #[command(after_help = "Examples:
  tangmark book stock add \"choji oil\" --amount \"500 ml\" --cost \"22 EUR\"
  tangmark book stock list")]
    Stock {
        #[command(subcommand)]
        what: StockVerb,
    },
    /// Correct an entry: a new one takes its place, the old one stays to be read
    #[command(after_help = "Examples:
  tangmark book amend 12 --amount \"19.40 EUR\"
  tangmark book amend 13 --for \"packing\" --time \"45 min\" --on 2026-03-02
  tangmark journal strike 12 --reason \"entered twice\"     take an entry out of force")]
    Amend {
        /// Number of the entry
        number: u64,
        /// Amount of money, or of the consumable
        #[arg(long, value_name = "AMOUNT")]
        amount: Option<String>,
        /// For what
        #[arg(long = "for", value_name = "WORDS")]
        what: Option<String>,
        /// To or from whom
        #[arg(long, value_name = "NAME")]
        party: Option<String>,
        /// Consumable
        #[arg(long, value_name = "NAME")]
        item: Option<String>,
        /// What the consumable cost
        #[arg(long, value_name = "MONEY")]
        cost: Option<String>,
        /// The time
        #[arg(long, value_name = "TIME")]
        time: Option<String>,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// List entries by day, with their sums
    #[command(after_help = "Examples:
  tangmark book list
  tangmark book list reed
  tangmark book list --from 2026-03 --to 2026-04-15 --json")]
    List {
        /// Only those of this blade
        blade: Option<String>,
        /// From this day on: 2026, 2026-11 or 2026-11-25
        #[arg(long, value_name = "DAY")]
        from: Option<String>,
        /// To this day
        #[arg(long, value_name = "DAY")]
        to: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show the account of a blade: bought for, hours, consumables, other costs, sold for, what is left
    ///
    /// A purchase counts when the event names the workshop (the part `polisher`) or nobody as buyer, a sale when it names
    /// it or nobody as seller. Hours are those of the passes and those entered with `book hours`.
    #[command(after_help = "Examples:
  tangmark book show reed
  tangmark book show reed --rate \"45 EUR\" --json")]
    Show {
        /// Key of the blade
        blade: String,
        /// What an hour is reckoned at [default: `hour_rate` in plugins/valuation/settings.toml]
        #[arg(long, value_name = "MONEY")]
        rate: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show a year by month and by blade
    #[command(after_help = "Examples:
  tangmark book year
  tangmark book year 2026 --svg year.svg")]
    Year {
        /// Year [default: this one]
        year: Option<String>,
        /// Also draw what came in and went out in each month into this new file
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Write everything into tables (CSV) in a new folder: blades, passes, readings, flaws, fittings, custody, sales,
    /// costs, hours, stages, journal, records, photos, findings, agreements
    ///
    /// One header line, RFC 4180, UTF-8, a full stop before decimals, units in the names of columns; `README.txt` in the
    /// folder explains each column. Texts that a spreadsheet would run as a formula have an apostrophe put before them.
    /// The tables hold names and prices that sealed records withhold.
    #[command(after_help = "Examples:
  tangmark book export tables
  tangmark book export tables --replace     in the place of an earlier export")]
    Export {
        /// Folder to make
        folder: PathBuf,
        /// Take the place of an earlier export
        #[arg(long)]
        replace: bool,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

#[derive(Debug, Subcommand)]
enum StockVerb {
    /// Enter what came into the stock
    #[command(after_help = "Examples:
  tangmark book stock add \"choji oil\" --amount \"500 ml\" --cost \"22 EUR\" --from \"a supplier\"
  tangmark book stock add gloves --amount 100 --cost \"14.50 EUR\"")]
    Add {
        /// Consumable
        item: String,
        /// How much: a number of pieces, or a mass, volume, length or area with its unit
        #[arg(long, value_name = "AMOUNT")]
        amount: String,
        /// What it cost in all
        #[arg(long, value_name = "MONEY")]
        cost: Option<String>,
        /// From whom
        #[arg(long, value_name = "NAME")]
        from: Option<String>,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// List the consumables: what came in, what was used, what is left by the books
    #[command(after_help = "Examples:
  tangmark book stock list
  tangmark book stock list --json")]
    List {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

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

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        What::Cost {
            blade,
            amount,
            general,
            what,
            paid_to,
            who,
            json,
        } => {
            let new = NewBook::Cost {
                amount,
                what,
                paid_to: paid_to.as_deref(),
            };
            enter(
                &workshop,
                of(blade.as_deref(), general, "cost")?,
                &new,
                who,
                *json,
            )
        }
        What::Income {
            blade,
            amount,
            general,
            what,
            from,
            who,
            json,
        } => {
            let new = NewBook::Income {
                amount,
                what,
                from: from.as_deref(),
            };
            enter(
                &workshop,
                of(blade.as_deref(), general, "income")?,
                &new,
                who,
                *json,
            )
        }
        What::Use {
            blade,
            item,
            general,
            amount,
            cost,
            note,
            who,
            json,
        } => {
            let new = NewBook::Use {
                item,
                amount,
                cost: cost.as_deref(),
                note: note.as_deref(),
            };
            enter(
                &workshop,
                of(blade.as_deref(), general, "use")?,
                &new,
                who,
                *json,
            )
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
