//! The `dimensions` plugin: what the measurements say, and where they disagree.
//!
//! Class by length, curvature, taper, point, tang, papers against the blade, mass against the sections. Every
//! judgement uses the uncertainty of the measurement and says "undecided" where that straddles a limit.
#![forbid(unsafe_code)]

mod card;
mod curvature;
mod length_class;
mod mass;
mod priors;
mod rules;
mod settings;
mod shape;

use tangmark_author::Notes;
use tangmark_core::record::{BladeKind, Construction, Sheet};
use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

use settings::Settings;

tangmark_plugin::export!(describe, check);

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    tangmark_author::describe(
        "dimensions",
        env!("CARGO_PKG_VERSION"),
        "What the measurements say, and where they disagree",
        rules::RULES,
    )
}

/// Judges the dimensions of a sheet.
///
/// # Errors
/// A sheet or settings that cannot be read.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet = tangmark_author::sheet(request)?;
    let settings = Settings::read(&request.settings)?;
    let mut notes = Notes::new(&request.sheet, rules::RULES);
    if let Some(dimensions) = &sheet.dimensions {
        length_class::judge(&sheet, dimensions, &mut notes);
        curvature::judge(dimensions, &mut notes);
        shape::judge(&sheet, dimensions, &settings, &mut notes);
        priors::judge(&sheet, dimensions, &mut notes);
        card::judge(&sheet, dimensions, &settings, &mut notes);
        mass::judge(&sheet, dimensions, &settings, &mut notes);
    }
    Ok(notes.into_reply())
}

/// Tells whether a blade is measured and classed as a Japanese sword or dagger: notch to tip, in shaku.
pub(crate) fn is_sword(sheet: &Sheet) -> bool {
    use BladeKind as B;
    let remade = matches!(
        sheet.blade.construction,
        Construction::NaginataNaoshi | Construction::NagamakiNaoshi
    );
    match sheet.blade.kind_by_make {
        B::Katana
        | B::Tachi
        | B::Kodachi
        | B::Odachi
        | B::Nodachi
        | B::Chisagatana
        | B::Wakizashi
        | B::KoWakizashi
        | B::OWakizashi
        | B::Tanto
        | B::SunnobiTanto
        | B::SunzumariTanto => true,
        // A glaive that was made over is measured as a sword (common practice, from memory).
        B::Naginata | B::Nagamaki => remade,
        B::Ken | B::Yari | B::Sabre | B::StraightSword | B::Dagger | B::Knife | B::Other => false,
    }
}
