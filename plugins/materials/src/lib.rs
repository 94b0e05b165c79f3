//! The `materials` plugin: protected species, care, hazards, climate, carriage.
//!
//! Prompts and cautions only. Nothing here clears anything: lists change, and what holds is for the authorities to say.
#![forbid(unsafe_code)]

mod care;
mod carriage;
mod climate;
mod hazards;
mod months;
mod protected;
mod rules;
mod screen;
mod settings;

use tangmark_author::{Notes, history, passes};
use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

use rules::RULES;
use settings::Settings;

tangmark_plugin::export!(describe, check);

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    tangmark_author::describe(
        "materials",
        env!("CARGO_PKG_VERSION"),
        "Protected species, care, hazards, climate and carriage",
        RULES,
    )
}

/// Judges a sheet.
///
/// # Errors
/// A sheet, a record, settings or a table that cannot be read.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet = tangmark_author::sheet(request)?;
    let settings = Settings::read(&request.settings)?;
    let now = months::of(&request.now).ok_or_else(|| {
        Refusal::new("the moment of the check does not begin with a day such as 2026-06-01")
    })?;
    let list = protected::list(&request.tables)?;
    let records = history::records(request)?;
    let logged = passes::logged(&records, &sheet);
    let mut notes = Notes::new(&request.sheet, RULES);
    let listed = screen::judge(&sheet, &list, &settings, now, &mut notes);
    hazards::judge(&sheet, &logged, &mut notes);
    care::judge(&sheet, &mut notes);
    climate::judge(&sheet, &mut notes);
    carriage::judge(&sheet, &settings, listed, &mut notes)?;
    Ok(notes.into_reply())
}
