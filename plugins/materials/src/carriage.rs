//! Carriage and export, in general words by country.

use tangmark_author::words::capitalised;
use tangmark_author::{Notes, tables};
use tangmark_core::record::{RegistrationKind, Sheet, Term as _};
use tangmark_plugin::{Level, Refusal};

use crate::protected::compiled;
use crate::settings::Settings;

const COUNTRIES: &str = include_str!("../data/countries.csv");

/// Codes of the member states of the European Union, from memory.
const UNION: &[&str] = &[
    "AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU", "IE", "IT",
    "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK",
];

/// Prompts for each country that is set.
pub(crate) fn judge(
    sheet: &Sheet,
    settings: &Settings,
    listed: bool,
    notes: &mut Notes<'_>,
) -> Result<(), Refusal> {
    let known = compiled("countries", COUNTRIES)?;
    let mut said: Vec<&str> = Vec::new();
    for code in &settings.countries {
        let row_code = if UNION.contains(&code.as_str()) {
            "EU"
        } else {
            code.as_str()
        };
        if said.contains(&row_code) {
            continue;
        }
        said.push(row_code);
        let row = tables::find(&known, "countries")?
            .and_then(|rows| rows.iter().find(|row| row.text("code") == Some(row_code)));
        let message = match row {
            Some(row) => format!(
                "{}: {}. Ask the authorities of both ends and the carrier before you pack; their word of the day counts, not this note.",
                capitalised(row.needed("name")?),
                row.needed("prompt")?
            ),
            None => format!(
                "{code}: this tool has no words of its own for that country. Ask its authorities on weapons, on cultural goods and on protected \
                 species, and the carrier, before you pack; have age, origin, dimensions, mass and photographs ready on paper."
            ),
        };
        notes.add(
            "materials.carriage",
            Level::Info,
            message,
            &["/blade"],
            Vec::new(),
        );
    }
    if settings.countries.is_empty() {
        return Ok(());
    }
    let designated: Vec<(usize, RegistrationKind)> = sheet
        .blade
        .registrations
        .iter()
        .map(|one| one.kind)
        .enumerate()
        .filter(|(_, kind)| {
            matches!(
                kind,
                RegistrationKind::NationalTreasure
                    | RegistrationKind::ImportantCulturalProperty
                    | RegistrationKind::ImportantArtObject
                    | RegistrationKind::OtherDesignation
            )
        })
        .collect();
    if let [(_, kind), ..] = designated[..] {
        let places: Vec<String> = designated
            .iter()
            .map(|(index, _)| format!("/blade/registrations/{index}"))
            .collect();
        let message = format!(
            "The sheet has a designation by law ({}), and countries are set. Such an object commonly may not leave its country, not even for work or \
             a loan, without leave of the authority: do not pack before you have its answer in writing.",
            kind.gloss()
        );
        notes.add(
            "materials.carriage-designated",
            Level::Caution,
            message,
            &places,
            Vec::new(),
        );
    }
    if listed {
        let message = "A material of a protected species goes with this blade, and countries are set. Each border may ask for a permit of the \
                       country it leaves and of the one it enters, got before the journey; fittings can travel apart or stay. Ask both \
                       authorities, with species, part, mass and the paper that dates it.";
        notes.add(
            "materials.carriage-species",
            Level::Caution,
            message,
            &["/fittings"],
            Vec::new(),
        );
    }
    Ok(())
}
