//! The `triage` plugin: work, set aside, or refer, with every reason named.
//!
//! `rules` holds every rule as data; the other modules evaluate them into a `ledger::Ledger`, which becomes
//! findings, and a table of what fired, what nearly did and what could not be judged.
#![forbid(unsafe_code)]

mod budget;
mod care;
mod flaws;
mod importance;
mod ledger;
mod missing;
mod recommendation;
mod rules;
mod settings;
mod temper;
mod words;

use tangmark_core::record::Sheet;
use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

use ledger::Ledger;
use settings::Settings;

tangmark_plugin::export!(describe, check);

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    let start = Description::new(
        "triage",
        env!("CARGO_PKG_VERSION"),
        "Work, set aside, or refer, with every reason",
    );
    rules::all().into_iter().fold(start, |description, rule| {
        description.with_rule(&rule.id, &rule.title, rule.source)
    })
}

/// Judges a sheet.
///
/// # Errors
/// A sheet or settings that cannot be read.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet: Sheet = serde_json::from_value(request.sheet.clone())
        .map_err(|error| Refusal::new(format!("the sheet cannot be read: {error}")))?;
    let settings = Settings::read(&request.settings).map_err(Refusal::new)?;
    let mut ledger = Ledger::new(&request.sheet);
    flaws::judge(&sheet, &settings, &mut ledger);
    temper::judge(&sheet, &mut ledger);
    importance::judge(&sheet, &settings, &mut ledger);
    missing::judge(&sheet, &mut ledger);
    care::judge(&sheet, &mut ledger);
    budget::judge(&sheet, &settings, &mut ledger);
    recommendation::write(&sheet, &mut ledger);
    Ok(ledger.into_reply())
}
