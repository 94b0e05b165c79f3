//! `tangmark store`.

use std::path::Path;

use clap::{Args, Subcommand};
use tangmark_workshop::rebuild;

use crate::outcome::{Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;

/// Check what the workshop keeps, or rebuild its index
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark store check
  tangmark store rebuild")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Look at everything: hash each object again, hold the index against it, follow every chain
    #[command(after_help = "Examples:
  tangmark store check
  tangmark store check --json

Exit codes: 0 nothing is wrong, 1 something is, or the store cannot be read.")]
    Check {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Make the index `workshop.db` anew from the objects
    ///
    /// Sealed records, reports and photos come from `objects/` alone; sheets that are not sealed, approvals and
    /// settings come from the old index as far as it can be read. An index that cannot be read whole is kept aside.
    #[command(after_help = "Examples:
  tangmark store rebuild
  tangmark --workshop my-workshop store rebuild")]
    Rebuild {
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    match arguments.what {
        What::Check { json } => check(workshop, json),
        What::Rebuild { json } => make_anew(workshop, json),
    }
}

fn check(workshop: Option<&Path>, json: bool) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let found = workshop.check_store(&mut show::progress("objects checked"))?;
    let exit = if found.problems.is_empty() {
        code::GOOD
    } else {
        code::FAILED
    };
    if json {
        print_json(&found)?;
        return Ok(exit);
    }
    print(&format!(
        "{} ({} bytes) and {} checked, {} found\n",
        show::counted(
            usize::try_from(found.objects).unwrap_or(usize::MAX),
            "object"
        ),
        found.bytes,
        show::counted(
            usize::try_from(found.records).unwrap_or(usize::MAX),
            "sealed record"
        ),
        show::counted(found.problems.len(), "problem"),
    ))?;
    for notice in &found.notices {
        say(&format!("note: {}", show::plain(notice)));
    }
    for problem in &found.problems {
        say(&format!("error: {}", show::plain(&problem.what)));
        say(&format!("hint: {}", problem.hint));
    }
    Ok(exit)
}

fn make_anew(workshop: Option<&Path>, json: bool) -> Outcome {
    let folder = surroundings::folder(workshop)?;
    let made = rebuild(&folder, &mut show::progress("objects read"))?;
    if json {
        print_json(&made)?;
        return Ok(code::GOOD);
    }
    print(&show::table(&[
        vec!["objects listed:".to_owned(), made.objects.to_string()],
        vec!["sealed records:".to_owned(), made.records.to_string()],
        vec!["attached papers:".to_owned(), made.attachments.to_string()],
        vec!["old index:".to_owned(), made.old_index.clone()],
    ]))?;
    for remark in &made.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    Ok(code::GOOD)
}
