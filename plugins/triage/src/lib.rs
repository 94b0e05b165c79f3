//! The `triage` plugin: work, set aside, or refer, with every reason named.
//!
//! `rules` holds every rule as data, `user` those of the workshop's own; the other modules evaluate them into a
//! `ledger::Ledger`, which becomes findings, and a table of what fired, what nearly did and what could not be judged.
#![forbid(unsafe_code)]

mod agreement;
mod budget;
mod care;
mod chips;
mod etch;
mod flaws;
mod importance;
mod ladder;
mod ledger;
mod missing;
mod recommendation;
mod rules;
mod settings;
mod temper;
mod user;

use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

use ledger::Ledger;
use settings::Settings;

tangmark_plugin::export!(describe, check);

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    tangmark_author::describe(
        "triage",
        env!("CARGO_PKG_VERSION"),
        "Work, set aside, or refer, with every reason",
        rules::for_notes(),
    )
}

/// Judges a sheet.
///
/// # Errors
/// A sheet, a history or settings that cannot be read, or rules of the user's own that have faults.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet = tangmark_author::sheet(request)?;
    let settings = Settings::read(&request.settings)?;
    let own = user::read(&settings.rule)?;
    let history = tangmark_author::history::records(request)?;
    let mut ledger = Ledger::new(&request.sheet, settings.near_share_of_limit);
    flaws::judge(&sheet, &settings, &mut ledger);
    chips::judge(&sheet, &settings, &mut ledger);
    temper::judge(&sheet, &mut ledger);
    importance::judge(&sheet, &settings, &mut ledger);
    missing::judge(&sheet, &mut ledger);
    care::judge(&sheet, &mut ledger);
    agreement::judge(&sheet, &mut ledger);
    budget::judge(&sheet, &history, &settings, &mut ledger);
    user::judge(&own, &request.sheet, &settings, &mut ledger);
    etch::judge(&sheet, &mut ledger);
    recommendation::write(&sheet, &mut ledger);
    Ok(ledger.into_reply())
}
