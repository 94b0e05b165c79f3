//! `tangmark schema`.

use clap::{Args, Subcommand, ValueEnum};
use tangmark_workshop::{RECORD_FORMAT, TermList, schema, term_lists};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show;

/// Show the published schemas, the page on the format, and the closed lists of terms
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark schema show
  tangmark schema terms flaw_kind")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Print a JSON Schema (Draft 2020-12)
    #[command(after_help = "Examples:
  tangmark schema show > tangmark-record-1.schema.json
  tangmark schema show sheet")]
    Show {
        /// Which schema
        #[arg(value_enum, default_value_t = Which::Record)]
        which: Which,
    },
    /// Print the page that explains a sealed record to a stranger, with commands to check one without this program
    #[command(after_help = "Examples:
  tangmark schema page > record-format.md")]
    Page,
    /// Print the words allowed in the closed lists, with kanji and gloss
    #[command(after_help = "Examples:
  tangmark schema terms                  name the lists
  tangmark schema terms temper_family    print one list
  tangmark schema terms --json           print every list as JSON")]
    Terms {
        /// Name of a list
        list: Option<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Which {
    /// The sealed record, version 1, byte for byte as its digest in a record names it
    Record,
    /// An examination sheet in its long form
    Sheet,
}

pub(crate) fn run(arguments: &Arguments) -> Outcome {
    match &arguments.what {
        What::Show {
            which: Which::Record,
        } => print(schema::RECORD_V1)?,
        What::Show {
            which: Which::Sheet,
        } => print_json(schema::sheet())?,
        What::Page => print(RECORD_FORMAT)?,
        What::Terms {
            list: None,
            json: true,
        } => print_json(&term_lists())?,
        What::Terms {
            list: None,
            json: false,
        } => print(&names(&term_lists()))?,
        What::Terms {
            list: Some(name),
            json,
        } => {
            let lists = term_lists();
            let list = find(&lists, name)?;
            if *json {
                print_json(list)?;
            } else {
                print(&terms(list))?;
            }
        }
    }
    Ok(code::GOOD)
}

fn find<'a>(lists: &'a [TermList], name: &str) -> Result<&'a TermList, Failure> {
    let asked = name.replace('-', "_").to_lowercase();
    lists.iter().find(|list| list.name == asked).ok_or_else(|| {
        let near: Vec<&str> = lists
            .iter()
            .map(|list| list.name.as_str())
            .filter(|known| {
                known
                    .split('_')
                    .any(|word| asked.split('_').any(|part| part == word))
            })
            .collect();
        let hint = if near.is_empty() {
            "name the lists with `tangmark schema terms`".to_owned()
        } else {
            format!("there is {}", near.join(", "))
        };
        Failure::new(format!("there is no list of terms `{name}`"), hint)
    })
}

fn names(lists: &[TermList]) -> String {
    let rows = lists.iter().map(|list| {
        let first: Vec<&str> = list.terms.iter().take(3).map(|term| term.key).collect();
        let more = if list.terms.len() > 3 { ", …" } else { "" };
        vec![
            list.name.clone(),
            list.terms.len().to_string(),
            format!("{}{more}", first.join(", ")),
        ]
    });
    let heading = ["list", "terms", "first of them"]
        .map(str::to_owned)
        .to_vec();
    show::table(&std::iter::once(heading).chain(rows).collect::<Vec<_>>())
}

fn terms(list: &TermList) -> String {
    let kanji = list.terms.iter().any(|term| !term.kanji.is_empty());
    let rows: Vec<Vec<String>> = list
        .terms
        .iter()
        .map(|term| {
            let mut row = vec![term.key.to_owned()];
            if kanji {
                row.push(term.kanji.to_owned());
            }
            row.push(term.gloss.to_owned());
            row
        })
        .collect();
    show::table(&rows)
}
