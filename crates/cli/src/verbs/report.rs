//! `tangmark report`.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use tangmark_workshop::{Kind, Paper, ReportWish, Speech};

use crate::outcome::{Outcome, code, print, print_json};
use crate::passphrase;
use crate::show::say;
use crate::surroundings;

/// Make the signed PDF of a sealed record
///
/// The record itself is embedded in the PDF, so that one file can be verified whole. An existing file is never
/// overwritten.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark report reed
  tangmark report reed --record 1 --paper letter --out reed-first.pdf")]
pub(crate) struct Arguments {
    /// Key of the blade
    blade: String,
    /// Number of the record in the blade's chain [default: the newest]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    record: Option<u32>,
    /// Paper
    #[arg(long, value_enum, default_value_t = PaperName::A4)]
    paper: PaperName,
    /// What the report is for
    #[arg(long, value_enum, default_value_t = KindName::Condition)]
    kind: KindName,
    /// Language
    #[arg(long, value_enum, default_value_t = Language::En)]
    language: Language,
    /// File to write [default: a name in `out/` of the workshop]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum PaperName {
    /// ISO A4
    A4,
    /// US Letter
    Letter,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum KindName {
    /// Everything the record says, what matters first
    Condition,
    /// Before and after: what changed, and whether that is more than the measurement can tell
    Comparison,
    /// For whoever takes the blade over
    Buyer,
    /// For a senior specialist, with a receipt for the custody
    Referral,
    /// One page to tell the blade by
    Identification,
    /// Labels to cut out
    Labels,
    /// How to keep the blade
    Care,
}

impl From<KindName> for Kind {
    fn from(name: KindName) -> Self {
        match name {
            KindName::Condition => Self::Condition,
            KindName::Comparison => Self::Comparison,
            KindName::Buyer => Self::Buyer,
            KindName::Referral => Self::Referral,
            KindName::Identification => Self::Identification,
            KindName::Labels => Self::Labels,
            KindName::Care => Self::Care,
        }
    }
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Language {
    /// English
    En,
    /// Japanese
    Ja,
    /// English and Japanese side by side
    Both,
}

impl From<Language> for Speech {
    fn from(name: Language) -> Self {
        match name {
            Language::En => Self::English,
            Language::Ja => Self::Japanese,
            Language::Both => Self::Both,
        }
    }
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let passphrase = arguments.passphrase.existing()?;
    let paper = match arguments.paper {
        PaperName::A4 => Paper::A4,
        PaperName::Letter => Paper::Letter,
    };
    let made = workshop.report(
        &arguments.blade,
        &ReportWish {
            sequence: arguments.record,
            paper,
            kind: arguments.kind.into(),
            speech: arguments.language.into(),
        },
        passphrase.as_bytes(),
        arguments.out.as_deref(),
    )?;
    if arguments.json {
        print_json(&made)?;
        return Ok(code::GOOD);
    }
    print(&format!("{}\n", made.file.display()))?;
    say(&format!(
        "{} pages, signed; they show record {}",
        made.pages, made.record
    ));
    if !made.missing.is_empty() {
        let list: Vec<String> = made
            .missing
            .iter()
            .map(|letter| format!("U+{:04X}", u32::from(*letter)))
            .collect();
        say(&format!(
            "note: printed as code points, since no font here has them: {}",
            list.join(", ")
        ));
    }
    for digest in &made.absent_photos {
        say(&format!(
            "note: photo {digest} is named by the record and not kept here; the report says so"
        ));
    }
    Ok(code::GOOD)
}
