//! What can go wrong when a blade is entered.

use std::path::PathBuf;

use tangmark_core::counted;
use tangmark_core::units::ReadingError;

/// Why a blade was not entered, or an agreement not changed. Nothing was written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum IntakeError {
    /// The blade is here already.
    #[error("blade `{0}` is in this workshop already; nothing was changed")]
    There(String),
    /// Something is needed.
    #[error("{what} is missing, {why}")]
    Missing {
        /// What.
        what: &'static str,
        /// Why it is needed.
        why: &'static str,
        /// The next step.
        hint: &'static str,
    },
    /// Something does not go with the way the blade came.
    #[error("{what} found for a blade that came as `{came_as}`, it is allowed for {allowed}")]
    NotWith {
        /// What.
        what: &'static str,
        /// How it came.
        came_as: &'static str,
        /// For which it is allowed.
        allowed: &'static str,
    },
    /// A word that is none of a list.
    #[error("{what}: `{found}` found, {allowed} are allowed")]
    Word {
        /// What it is for.
        what: &'static str,
        /// The word.
        found: String,
        /// Words of the list.
        allowed: String,
    },
    /// A country in another form.
    #[error("`{0}` is not a country: two capital letters (ISO 3166-1) are allowed, such as JP")]
    Country(String),
    /// A form that cannot be read.
    #[error("{}: {what}", file.display())]
    Form {
        /// The file.
        file: PathBuf,
        /// What is wrong, with its line.
        what: String,
    },
    /// A form about another blade.
    #[error("the form is about blade `{found}`, `{asked}` was asked for")]
    OtherBlade {
        /// Blade in the form.
        found: String,
        /// Blade asked for.
        asked: String,
    },
    /// The blade was entered in another way.
    #[error("blade `{0}` has no entry of its arrival")]
    NoEntry(String),
    /// Nothing was agreed.
    #[error("blade `{0}` has no agreement with an owner")]
    NoAgreement(String),
    /// The limit for the steel is to be raised while steel has gone, without the owner's consent.
    #[error(
        "steel limit {found} g found, at most the agreed {agreed} g is allowed without the owner's consent: the sheet has {} already",
        counted(*passes, "pass")
    )]
    Raised {
        /// Limit that was entered, in grams.
        found: String,
        /// Limit that is agreed, in grams.
        agreed: String,
        /// Passes on the sheet.
        passes: usize,
    },
    /// A reading that cannot be.
    #[error("{what}: {error}")]
    Reading {
        /// What it is of.
        what: &'static str,
        /// What is wrong.
        error: ReadingError,
    },
    /// Nothing to change.
    #[error("nothing found to change")]
    Nothing,
    /// No such point to ask at.
    #[error(
        "`{found}` is no point to stop and ask at, {} {}",
        if known.is_empty() { "none" } else { "agreed are" },
        if known.is_empty() { "is agreed".to_owned() } else { known.join("; ") }
    )]
    NoPoint {
        /// What was asked for.
        found: String,
        /// The points, numbered.
        known: Vec<String>,
    },
}

impl IntakeError {
    /// Returns the exact next step.
    pub fn hint(&self) -> String {
        match self {
            Self::There(blade) => format!(
                "look at it with `tangmark intake show {blade}`; change what was agreed with `tangmark intake amend {blade}`, \
                 anything else with `tangmark examine put SHEET`"
            ),
            Self::Missing { hint, .. } => (*hint).to_owned(),
            Self::Reading { error, .. } => error.hint(),
            Self::NotWith { .. } => {
                "leave it out, or name another way with `--as`".to_owned()
            }
            Self::Word { .. } => {
                "take a word of the list; `tangmark schema terms` shows what each means".to_owned()
            }
            Self::Country(_) => {
                "write the code of one country, such as `--country JP`, again for each; see `tangmark intake prompts`".to_owned()
            }
            Self::Form { .. } => {
                "compare it with the form that `tangmark intake BLADE --new` prints".to_owned()
            }
            Self::OtherBlade { found, .. } => {
                format!("run `tangmark intake {found} --from FILE`, or correct `blade` in the form")
            }
            Self::NoEntry(blade) => format!(
                "it was entered as a sheet; see its changes with `tangmark examine history {blade}`"
            ),
            Self::NoAgreement(blade) => format!(
                "enter one with `tangmark intake amend {blade} --owner NAME --work TEXT`"
            ),
            Self::Raised { .. } => {
                "ask the owner, then say with `--consent TEXT` what was agreed to in writing, such as \"Letter of 3 May 2026: up to 15 g\"".to_owned()
            }
            Self::Nothing => "name what is to change; see `tangmark intake amend --help`".to_owned(),
            Self::NoPoint { .. } => {
                "name the point by its number or by its words with `--point`; add one with `tangmark intake amend BLADE --ask TEXT`".to_owned()
            }
        }
    }
}
