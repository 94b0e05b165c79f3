//! Day and name, which every verb takes that writes into the journal, and how it answers.

use clap::Args;

/// When it happened and who enters it.
#[derive(Debug, Args)]
pub(crate) struct Who {
    /// The day it happened [default: today, UTC]
    #[arg(long, value_name = "DAY")]
    on: Option<String>,
    /// Who enters it [default: the workshop's name]
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
}

impl Who {
    /// Day and name, as far as they were given.
    pub(crate) fn who(&self) -> tangmark_workshop::Who<'_> {
        tangmark_workshop::Who {
            on: self.on.as_deref(),
            by: self.by(),
        }
    }

    /// The name, where it was given.
    pub(crate) fn by(&self) -> Option<&str> {
        self.by.as_deref()
    }
}

/// What a verb takes that enters something and tells what it did.
#[derive(Debug, Args)]
pub(crate) struct Entry {
    #[command(flatten)]
    pub(crate) who: Who,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
}
