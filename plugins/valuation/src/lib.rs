//! The `valuation` plugin: what the workshop's own comparables say of a price, and whether work would pay.
//!
//! Robust regression of log prices on few stated features. There are no prices in it: everything comes from the
//! user's table, and everything about money begins with `price.`.
#![forbid(unsafe_code)]

mod ceiling;
mod comparables;
mod dates;
mod features;
mod figures;
mod listed;
mod market;
mod model;
mod noted;
mod price;
mod rules;
mod settings;
mod subject;
mod work;

use tangmark_author::Notes;
use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

use rules::RULES;
use settings::Settings;

tangmark_plugin::export!(describe, check);

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    tangmark_author::describe(
        "valuation",
        env!("CARGO_PKG_VERSION"),
        "What your own comparables say of a price, and whether work would pay",
        RULES,
    )
}

/// Judges a sheet.
///
/// # Errors
/// A sheet, settings or a table that cannot be read.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet = tangmark_author::sheet(request)?;
    let settings = Settings::read(&request.settings)?;
    let as_of = settings.as_of(&request.now)?;
    let table = comparables::read(&request.tables)?;
    let mut notes = Notes::new(&request.sheet, RULES);
    let answer = price::judge(&sheet, &settings, &as_of, table.as_deref(), &mut notes);
    noted::judge(&sheet, &as_of, answer.as_ref(), &mut notes);
    ceiling::judge(&sheet, &settings, answer.as_ref(), &mut notes);
    if let Some(answer) = &answer {
        work::judge(&sheet, &settings, answer, &mut notes);
    }
    Ok(notes.into_reply())
}
