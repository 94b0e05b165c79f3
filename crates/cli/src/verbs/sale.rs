//! `tangmark sale`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use tangmark_workshop::Workshop;
use tangmark_workshop::correct::CorrectionLine;
use tangmark_workshop::record::{Decision, Money, PartialDate, Term as _, Verdict};
use tangmark_workshop::sale::{
    CloseOrder, Closed, Price, PriceOrder, SaleLine, SaleState, SaleStep, Way,
};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::papers::{Language, PaperName};
use crate::passphrase;
use crate::show::{self, add, say};
use crate::surroundings;
use crate::verbs::seal::{TermParser, words};
use crate::verbs::steps;
use crate::who::Entry;

/// Price a blade, sell it, or give it back to its owner
///
/// `price` says what your own comparables say and what the blade has cost, and writes the asking price on the sheet: never
/// without what it rests on and between which limits such a sale is expected. `close` does what ends a sale: the event on
/// the sheet, the sealed record of the transfer, report, care sheet and identification, the hand-over package, the stage.
/// With `--return` a customer's blade goes back to its owner, with an account of hours and costs.
///
/// Price and names are withheld in the papers unless you show them with `--reveal`. What may be sold, carried or taken over
/// a border is decided by your local code and its authorities.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark sale price reed
  tangmark sale price reed --asking \"480000 JPY\" --valid-until 2026-12-31
  tangmark sale price heron --asking \"3200 EUR\" --basis \"three like sales seen this year\"
      --between \"2600 3900\"
  tangmark sale close reed --to \"A. Lindqvist\" --price \"470000 JPY\" --language both
  tangmark sale close reed                                  go on where an earlier run was ended
  tangmark sale close lantern --return
  tangmark sale list

Exit codes: 0 done or listed; 1 it failed, and what was done before stays done: run it again; 4
the command line is not understood.")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    Price(PriceArguments),
    Close(Close),
    List(List),
    Show(Show),
}

/// Say what is known of the price of a blade; write the asking price on its sheet
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark sale price reed
  tangmark sale price reed --asking \"480000 JPY\" --valid-until 2026-12-31
  tangmark sale price heron --asking \"3200 EUR\" --basis \"three like sales seen this year\"
      --between \"2600 3900\"")]
struct PriceArguments {
    /// Key of the blade
    blade: String,
    /// The asking price to write on the sheet, such as "480000 JPY"
    #[arg(long, value_name = "AMOUNT")]
    asking: Option<String>,
    /// What the price rests on; needed where the comparables give no estimate
    #[arg(long, value_name = "TEXT", requires = "asking")]
    basis: Option<String>,
    /// Between which prices such a sale is expected, such as "400000 600000"; needed where the comparables give no estimate
    #[arg(long, value_name = "LOW HIGH", requires = "asking")]
    between: Option<String>,
    /// Day until which the price holds
    #[arg(long, value_name = "DAY", requires = "asking")]
    valid_until: Option<PartialDate>,
    /// What interest you have in the blade [default: offers the blade for sale]
    #[arg(long, value_name = "TEXT", requires = "asking")]
    interest: Option<String>,
    #[command(flatten)]
    entry: Entry,
}

/// Do what ends a sale, or give a blade back; go on where an earlier run was ended
///
/// Each step is told. A held blade may change hands unworked, with its stop on page 1 of every paper.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark sale close reed --to \"A. Lindqvist\" --price \"470000 JPY\" --language both
  tangmark sale close reed                      go on where an earlier run was ended
  tangmark sale close lantern --return")]
struct Close {
    /// Key of the blade
    blade: String,
    /// Give it back to its owner; nothing is sold
    #[arg(long = "return")]
    back: bool,
    /// Buyer; with `--return` the owner [default: of a sale under way as begun, of a return the owner in the agreement]
    #[arg(long, value_name = "NAME")]
    to: Option<String>,
    /// Price, such as "480000 JPY"; withheld in every paper unless you show it
    #[arg(long, value_name = "AMOUNT", conflicts_with = "back")]
    price: Option<String>,
    /// Terms, in words; they stay in the journal, and stand in no record and on no paper
    #[arg(long, value_name = "TEXT")]
    terms: Option<String>,
    /// What is to happen with the blade, where the record is to say so
    #[arg(long, value_parser = TermParser::<Verdict>::new(), requires = "reason")]
    verdict: Option<Verdict>,
    /// Why
    #[arg(long, value_name = "TEXT", requires = "verdict")]
    reason: Option<String>,
    /// Language of the papers [default: en]
    #[arg(long, value_enum)]
    language: Option<Language>,
    /// Paper [default: a4]
    #[arg(long, value_enum)]
    paper: Option<PaperName>,
    /// Show a withheld value of the transfer record in the papers, named by its place such as `custody[2].price`; `2:PLACE`
    /// means record 2 (can be repeated)
    #[arg(long, value_name = "PLACE")]
    reveal: Vec<String>,
    /// Folder for the papers and the package [default: a name in `out/` of the workshop]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    memory: Option<PathBuf>,
    #[command(flatten)]
    entry: Entry,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

/// List sales and returns, the newest first
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark sale list
  tangmark sale list --json")]
struct List {
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Show the sale or return of a blade, its papers, and what is still to be done
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark sale show reed")]
struct Show {
    /// Key of the blade
    blade: String,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.verb {
        Verb::Price(arguments) => price(arguments, &workshop),
        Verb::Close(arguments) => close(arguments, &workshop),
        Verb::List(arguments) => list(arguments, &workshop),
        Verb::Show(arguments) => show_one(arguments, &workshop),
    }
}

/// Reads an amount of money; `option` names where it was given.
fn money(option: &str, text: Option<&String>) -> Result<Option<Money>, Failure> {
    text.map(|text| {
        text.parse::<Money>()
            .map_err(|error| Failure::usage(format!("`{option}`: {error}"), error.hint()))
    })
    .transpose()
}

fn price(arguments: &PriceArguments, workshop: &Workshop) -> Outcome {
    let asking = money("--asking", arguments.asking.as_ref())?;
    let basis = arguments
        .basis
        .as_ref()
        .map(|basis| words("--basis", basis))
        .transpose()?;
    let interest = arguments
        .interest
        .as_ref()
        .map(|interest| words("--interest", interest))
        .transpose()?;
    let between = arguments
        .between
        .as_ref()
        .map(|between| {
            let parts: Vec<&str> = between.split_whitespace().collect();
            let [low, high] = parts[..] else {
                return Err(interval(between));
            };
            let number = |text: &str| text.parse().map_err(|_| interval(between));
            Ok((number(low)?, number(high)?))
        })
        .transpose()?;
    surroundings::with(|around| {
        let price = workshop.price(
            &PriceOrder {
                blade: &arguments.blade,
                asking: asking.as_ref(),
                basis: basis.as_deref(),
                between,
                valid_until: arguments.valid_until.as_ref(),
                interest: interest.as_deref(),
                who: arguments.entry.who.who(),
            },
            around,
        )?;
        if arguments.entry.json {
            print_json(&price)?;
        } else {
            print(&price_text(&price))?;
            for remark in &price.remarks {
                say(&format!("caution: {}", show::plain(remark)));
            }
            if let Some(revision) = price.revision {
                say(&format!(
                    "the asking price is on the sheet, revision {revision}; it is withheld wherever the record goes"
                ));
            }
            say(&format!(
                "next: `tangmark sale {} {}`",
                if price.asking.is_some() {
                    "close"
                } else {
                    "price"
                },
                if price.asking.is_some() {
                    format!("{} --to NAME --price AMOUNT", price.blade)
                } else {
                    format!("{} --asking AMOUNT", price.blade)
                }
            ));
        }
        Ok(code::GOOD)
    })
}

fn interval(found: &str) -> Failure {
    Failure::usage(
        format!("`--between`: `{found}` found, two amounts are allowed"),
        "write it like `--between \"400000 600000\"`, the lower one first",
    )
}

fn price_text(price: &Price) -> String {
    let mut text = String::new();
    match &price.estimate {
        Some(range) => add!(
            text,
            "by your own comparables, 95 of 100 single sales: {} to {} {currency}; half above and half below {} {currency}\n",
            range.lower,
            range.upper,
            range.median,
            currency = range.currency
        ),
        None => text.push_str("no estimate: the comparables give none\n"),
    }
    for said in &price.said {
        add!(text, "  {}\n", show::plain(said));
    }
    if price.cost.is_empty() {
        text.push_str("cost so far: none is known\n");
    }
    for sum in &price.cost {
        add!(text, "cost so far: {sum}; below it the sale is a loss\n");
    }
    for line in &price.cost_of {
        add!(text, "  {}\n", show::plain(line));
    }
    match &price.asking {
        Some(asking) => {
            add!(
                text,
                "asking price: {} on {}, {}, by {}\n",
                asking.value,
                asking.on,
                asking.basis.gloss(),
                show::cut(&asking.valuer, 120)
            );
            if let Some(note) = &asking.note {
                add!(text, "  {}\n", show::plain(note));
            }
        }
        None => text.push_str("asking price: none is on the sheet\n"),
    }
    text.push_str("This is arithmetic on what you entered, and no appraisal.\n");
    text
}

fn close(arguments: &Close, workshop: &Workshop) -> Outcome {
    let price = money("--price", arguments.price.as_ref())?;
    let some = |option: &str, text: Option<&String>| -> Result<Option<String>, Failure> {
        text.map(|text| words(option, text)).transpose()
    };
    let to = some("--to", arguments.to.as_ref())?;
    let terms = some("--terms", arguments.terms.as_ref())?;
    let reason = some("--reason", arguments.reason.as_ref())?;
    let by = match arguments.entry.who.by() {
        Some(by) => by.to_owned(),
        None => workshop.name()?,
    };
    let decision = arguments
        .verdict
        .zip(reason)
        .map(|(verdict, reason)| Decision {
            verdict,
            by,
            reason,
            answers: Vec::new(),
        });
    let memory = arguments.memory.clone().or_else(surroundings::data_folder);
    surroundings::with(|around| {
        let passphrase = arguments.passphrase.existing()?;
        let closed = workshop.close_sale(
            &CloseOrder {
                blade: &arguments.blade,
                back: arguments.back,
                to: to.as_deref(),
                price: price.as_ref(),
                terms: terms.as_deref(),
                decision,
                speech: arguments.language.map(Into::into),
                paper: arguments.paper.map(Into::into),
                reveal: &arguments.reveal,
                out: arguments.out.as_deref(),
                memory: memory.as_deref(),
                passphrase: passphrase.as_bytes(),
                who: arguments.entry.who.who(),
            },
            &mut steps::tell,
            around,
        )?;
        if arguments.entry.json {
            print_json(&closed)?;
        } else {
            steps::print_files(&closed.steps)?;
            told(&closed);
        }
        Ok(code::GOOD)
    })
}

fn told(closed: &Closed) {
    for remark in &closed.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    let left = match closed.way {
        Way::Sale => "sold to",
        Way::Return => "given back to",
    };
    say(&format!(
        "{} {left} {} on {}, record {}; the papers are in {}",
        closed.blade,
        show::quoted(&closed.to),
        closed.on,
        closed.sequence,
        show::plain(&closed.out.display().to_string())
    ));
    say(
        "what may be sold, carried or taken over a border is decided by your local code and its authorities",
    );
    say(&format!(
        "next: look at the papers and hand them over with the blade; `tangmark sale show {}`",
        closed.blade
    ));
}

fn list(arguments: &List, workshop: &Workshop) -> Outcome {
    let lines = workshop.sales()?;
    if arguments.json {
        print_json(&lines)?;
        return Ok(code::GOOD);
    }
    if lines.is_empty() {
        say("no blade was sold or given back");
        return Ok(code::GOOD);
    }
    let head = [
        "on", "blade", "title", "way", "to", "price", "record", "stands",
    ];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    rows.extend(lines.iter().map(|line| {
        vec![
            line.on.clone(),
            line.blade.clone(),
            show::cut(&line.title, 40),
            line.way.word().to_owned(),
            show::cut(&line.to, 40),
            line.price
                .as_ref()
                .map(ToString::to_string)
                .unwrap_or_default(),
            line.sequence
                .map(|number| number.to_string())
                .unwrap_or_default(),
            stands(line),
        ]
    }));
    print(&show::table(&rows))?;
    Ok(code::GOOD)
}

fn stands(line: &SaleLine) -> String {
    let says = |line: &CorrectionLine| line.sequence.to_string();
    match line.state {
        SaleState::Complete => return "complete".to_owned(),
        SaleState::Corrected => {
            let by: Vec<String> = line.corrections.iter().map(says).collect();
            return format!("complete, corrected by record {}", by.join(", "));
        }
        SaleState::Withdrawn => {
            let by = line.corrections.iter().find(|one| one.withdraws);
            return format!("withdrawn by record {}", by.map(says).unwrap_or_default());
        }
        SaleState::UnderWay => {}
    }
    let to_do: Vec<&str> = line.to_do.iter().map(|step| step.words()).collect();
    format!("under way: {}", to_do.join("; "))
}

fn show_one(arguments: &Show, workshop: &Workshop) -> Outcome {
    let line = workshop.sale_of(&arguments.blade)?;
    if arguments.json {
        print_json(&line)?;
        return Ok(code::GOOD);
    }
    let mut text = format!(
        "{} of {}, {}\n",
        line.way.word(),
        line.blade,
        show::plain(&line.title)
    );
    let mut row = |name: &str, value: &str| {
        add!(text, "  {name:<9}{}\n", show::plain(value));
    };
    row("to", &line.to);
    row("on", &line.on);
    if let Some(price) = &line.price {
        row("price", &price.to_string());
    }
    if let Some(terms) = &line.terms {
        row("terms", terms);
    }
    if let (Some(number), Some(record)) = (line.sequence, &line.record) {
        row("record", &format!("{number}, {record}"));
    }
    row("papers", &line.out);
    for paper in &line.papers {
        row("", &format!("{}  {}", paper.digest, paper.file));
    }
    row("entered", &format!("by {}, entry {}", line.by, line.entry));
    for one in &line.corrections {
        let what = if one.withdraws {
            "withdrawn"
        } else {
            "corrected"
        };
        row(what, &format!("record {}: {}", one.sequence, one.statement));
    }
    row("stands", &stands(&line));
    print(&text)?;
    if line.state == SaleState::Withdrawn {
        say(&format!(
            "next: tell {} of the withdrawal; the papers in the folder are those of before it; `tangmark correct list {}` has all that was said",
            show::quoted(&line.to),
            line.blade
        ));
    } else if line.to_do.contains(&SaleStep::Papers) {
        say(&format!("next: `tangmark sale close {}`", line.blade));
    } else {
        say(&format!(
            "next: what turns out wrong is put right with `tangmark correct {} --record {}`",
            line.blade,
            line.sequence.unwrap_or_default()
        ));
    }
    Ok(code::GOOD)
}
