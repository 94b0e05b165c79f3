//! `tangmark setup`.

use std::path::PathBuf;

use clap::Args;
use tangmark_workshop::{SHIPPED_PLUGINS, Setup, SetupReport, Workshop, WorkshopError, check_name};
use unicode_normalization::UnicodeNormalization as _;

use crate::outcome::{Outcome, code, print_secret};
use crate::passphrase;
use crate::show::{self, say};
use crate::surroundings;

/// Make a workshop: a folder, a signing key, a card with its fingerprint
///
/// The key is a P-256 key that your passphrase locks. A recovery secret is shown once, to be written on paper. The
/// plugins that come with this program are approved as they are now.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark setup my-workshop --name \"Reedbank Polishing\"
  tangmark setup my-workshop --name \"Reedbank Polishing\" --passphrase-file words.txt")]
pub(crate) struct Arguments {
    /// Folder to make the workshop in; new or empty
    dir: PathBuf,
    /// Name of the workshop, as it will stand in every record: 1 to 64 characters, all of which show
    #[arg(long, value_name = "NAME")]
    name: String,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

pub(crate) fn run(arguments: &Arguments) -> Outcome {
    // Before anybody is asked for a passphrase. A keyboard may send letters and marks apart.
    let name: String = arguments.name.nfc().collect();
    check_name(&name).map_err(WorkshopError::from)?;
    let passphrase = arguments.passphrase.fresh()?;
    let report = surroundings::with(|around| {
        let order = Setup {
            folder: &arguments.dir,
            name: &name,
            passphrase: passphrase.as_bytes(),
            demo: false,
        };
        Ok(Workshop::setup(&order, around)?.1)
    })?;
    print_secret(&text(&report))?;
    for fault in &report.not_approved {
        say(&format!(
            "note: the plugin `{}` is not approved: {}; put it right, then run `tangmark plugin approve --shipped`",
            fault.name,
            show::plain(&fault.why)
        ));
    }
    let found = |name: &str| {
        let faults = report.not_approved.iter().map(|fault| &fault.name);
        report.approved.iter().chain(faults).any(|one| one == name)
    };
    for name in SHIPPED_PLUGINS.iter().filter(|name| !found(name)) {
        say(&format!(
            "note: the plugin `{name}` was not found and is not approved; see `tangmark plugin list`"
        ));
    }
    Ok(code::GOOD)
}

fn text(report: &SetupReport) -> String {
    let SetupReport {
        folder,
        name,
        fingerprint,
        recovery_secret,
        card,
        no_card,
        approved,
        ..
    } = report;
    let card = show::card(card.as_deref(), no_card.as_deref());
    let approved = if approved.is_empty() {
        "none".to_owned()
    } else {
        approved.join(", ")
    };
    format!(
        "workshop:    {}
name:        {}
fingerprint: {fingerprint}
card:        {}
plugins:     approved: {approved}

recovery secret: {recovery_secret}

Write the recovery secret on paper now and keep it away from this computer. It is shown this once and
kept nowhere: with it you can show later that a new key is yours when the old one is lost.
Hand out the card, or read its fingerprint to people who ask: they compare all twenty characters.
Keep a copy of the whole folder: without `keys/` and your passphrase nothing more can be sealed.
",
        show::plain(&folder.display().to_string()),
        show::plain(name),
        card,
    )
}
