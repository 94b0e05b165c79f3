//! The `custody` plugin: whether the chain of holders, owners and papers holds together.
//!
//! Dates are spans: only what is certain whatever the true day makes a caution, what is merely possible is worth
//! knowing. Nothing here stops work, and nothing says whose the blade is.
#![forbid(unsafe_code)]

mod border;
mod cards;
mod event;
mod holders;
mod order;
mod papers;
mod rules;
mod settings;
mod standing;

use tangmark_author::{Notes, history};
use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

use event::{Span, collect, day_of};
use rules::RULES;
use settings::Settings;

tangmark_plugin::export!(describe, check);

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    tangmark_author::describe(
        "custody",
        env!("CARGO_PKG_VERSION"),
        "Whether the chain of holders, owners and papers holds together",
        RULES,
    )
}

/// Judges a sheet with the sealed records of its blade.
///
/// # Errors
/// A sheet, a record or settings that cannot be read.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet = tangmark_author::sheet(request)?;
    let settings = Settings::read(&request.settings)?;
    let records = history::records(request)?;
    let now = day_of(&request.now).ok_or_else(|| {
        Refusal::new("the moment of the check does not begin with a day such as 2026-06-01")
    })?;
    let chain = collect(&records, &sheet);
    let made = Span::made(&sheet);
    let mut notes = Notes::new(&request.sheet, RULES);
    order::judge(&chain, made, now, &mut notes);
    holders::judge(&chain, &settings, &mut notes);
    border::judge(&chain, &sheet, &mut notes);
    papers::judge(&chain, now, &mut notes);
    cards::judge(&sheet, &chain, made, now, &settings, &mut notes);
    standing::judge(&chain, &mut notes);
    Ok(notes.into_reply())
}
