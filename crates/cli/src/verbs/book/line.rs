//! The command line of `tangmark book`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

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
    pub(super) what: What,
}

/// Of which blade an entry is.
#[derive(Debug, Args)]
pub(super) struct General {
    /// It is of the workshop as a whole, not of a blade
    #[arg(long)]
    pub(super) general: bool,
}

#[derive(Debug, Subcommand)]
pub(super) enum What {
    /// Enter money that went out, for a blade or for the workshop as a whole
    #[command(
        override_usage = "tangmark book cost [OPTIONS] --for <WORDS> <BLADE> <AMOUNT>\n       tangmark book cost [OPTIONS] --for <WORDS> --general <AMOUNT>",
        after_help = "Examples:
  tangmark book cost reed \"18.40 EUR\" --for \"parcel, insured\"
  tangmark book cost --general \"64 EUR\" --for \"electricity, March\" --on 2026-04-02"
    )]
    Cost {
        /// Key of the blade, then the amount, a space, the currency code (ISO 4217); with `--general` the amount alone
        #[arg(required = true, num_args = 1.., value_names = ["BLADE", "AMOUNT"])]
        words: Vec<String>,
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
        override_usage = "tangmark book income [OPTIONS] --for <WORDS> <BLADE> <AMOUNT>\n       tangmark book income [OPTIONS] --for <WORDS> --general <AMOUNT>",
        after_help = "Examples:
  tangmark book income reed \"480 EUR\" --for \"foundation and finish\" --from \"A. Fenwick\"
  tangmark book income --general \"60 EUR\" --for \"a lesson\""
    )]
    Income {
        /// Key of the blade, then the amount, a space, the currency code (ISO 4217); with `--general` the amount alone
        #[arg(required = true, num_args = 1.., value_names = ["BLADE", "AMOUNT"])]
        words: Vec<String>,
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
        override_usage = "tangmark book use [OPTIONS] --amount <AMOUNT> <BLADE> <ITEM>\n       tangmark book use [OPTIONS] --amount <AMOUNT> --general <ITEM>",
        after_help = "Examples:
  tangmark book use reed \"choji oil\" --amount \"5 ml\"
  tangmark book use reed \"fine slate stone\" --amount \"12 g\"
  tangmark book use --general gloves --amount 2 --cost \"1.20 EUR\""
    )]
    Use {
        /// Key of the blade, then the consumable or stone; with `--general` that alone
        #[arg(required = true, num_args = 1.., value_names = ["BLADE", "ITEM"])]
        words: Vec<String>,
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
    /// Import a spreadsheet saved as CSV: each row becomes a blade, its columns by a map
    ///
    /// Comma, semicolon and tab are told apart; UTF-8, UTF-16 with its mark and Shift_JIS are read. Nothing is written unless
    /// every row is sound, or `--skip-bad` is given. A row that an earlier import entered is skipped, whatever the file is
    /// called now: an import that was ended, or whose bad rows were mended, is gone on with by the same command.
    #[command(after_help = "Examples:
  tangmark book import list.csv --suggest --out map.toml    a map to begin with
  tangmark book import list.csv --map map.toml --dry-run    what each row would become
  tangmark book import list.csv --map map.toml")]
    Import {
        /// The table
        file: PathBuf,
        /// The map: which column is what
        #[arg(long, value_name = "MAP.toml", required_unless_present = "suggest")]
        map: Option<PathBuf>,
        /// Write a map to begin with, to standard output or to `--out`
        #[arg(long, conflicts_with_all = ["map", "dry_run", "skip_bad", "again", "json"])]
        suggest: bool,
        /// New file for the suggested map
        #[arg(long, value_name = "FILE", requires = "suggest")]
        out: Option<PathBuf>,
        /// Show what would become; write nothing
        #[arg(long)]
        dry_run: bool,
        /// Enter the sound rows though others are not
        #[arg(long)]
        skip_bad: bool,
        /// Take also rows that an earlier import entered
        #[arg(long)]
        again: bool,
        #[command(flatten)]
        who: Who,
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
pub(super) enum StockVerb {
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
