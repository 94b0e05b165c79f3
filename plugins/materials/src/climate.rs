//! Humidity for the blade, and for what came with it.

use tangmark_author::Notes;
use tangmark_core::record::{FlawKind, Material, Sheet, SignKind};
use tangmark_core::units::Unit;
use tangmark_plugin::{Level, NumberDraft};

use Material as M;

/// Materials that shrink, crack or come apart in air that is dry enough for steel.
const WANTS_DAMP: &[Material] = &[
    M::Wood,
    M::Ho,
    M::Rosewood,
    M::Ebony,
    M::Lacquer,
    M::RaySkin,
    M::SharkSkin,
    M::Ivory,
    M::Horn,
    M::RhinocerosHorn,
    M::Bone,
    M::Baleen,
    M::Tortoiseshell,
    M::Leather,
    M::Silk,
    M::Cotton,
];

fn percent(name: &str, value: u8) -> NumberDraft {
    NumberDraft {
        name: name.to_owned(),
        value: value.to_string(),
        unit: Unit::Percent.code().to_owned(),
        standard_uncertainty: None,
    }
}

/// Judges what air the things on the sheet want.
pub(crate) fn judge(sheet: &Sheet, notes: &mut Notes<'_>) {
    let given = vec![
        percent("relative humidity for steel, from", 35),
        percent("relative humidity for steel, to", 45),
    ];
    let message = "Keep the bare blade at 35 to 45 % relative humidity, steadily, with a thin film of neutral oil that is renewed every few months, \
                   more often in the first year after a polish; no bare fingers, and the tang is left alone.";
    notes.add(
        "materials.climate",
        Level::Info,
        message,
        &["/blade"],
        given,
    );
    let places: Vec<String> = sheet
        .fittings
        .iter()
        .enumerate()
        .filter(|(_, one)| {
            one.materials
                .iter()
                .any(|material| WANTS_DAMP.contains(material))
        })
        .map(|(index, _)| format!("/fittings/{index}/materials"))
        .collect();
    if !places.is_empty() {
        let given = vec![
            percent("relative humidity for wood, lacquer and skin, from", 45),
            percent("relative humidity for wood, lacquer and skin, to", 55),
        ];
        let message = "The fittings want 45 to 55 % relative humidity, the blade 35 to 45 %: dry air opens joints and lifts lacquer and ray skin, damp \
                       air rusts the steel. Keep the blade in a plain scabbard of its own and the mounting apart on a wooden stand-in; where they \
                       must stay together, hold 45 % and look at both often. No oak or chipboard near the steel: their fumes are acid.";
        notes.add(
            "materials.climate-apart",
            Level::Info,
            message,
            &places,
            given,
        );
    }
    rust(sheet, notes);
}

fn rust(sheet: &Sheet, notes: &mut Notes<'_>) {
    let mut places: Vec<String> = Vec::new();
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        if flaw.kind == FlawKind::SabiActive {
            places.push(format!("/flaws/{index}"));
        }
    }
    let excavated: Vec<String> = sheet
        .blade
        .signs
        .iter()
        .enumerate()
        .filter(|(_, sign)| sign.kind == SignKind::ExcavatedLook)
        .map(|(index, _)| format!("/blade/signs/{index}"))
        .collect();
    let salts = !excavated.is_empty();
    places.extend(excavated);
    if places.is_empty() {
        return;
    }
    let most = if salts { 15 } else { 35 };
    let words = if salts {
        "it looks as if it came out of the ground, and iron with salts in its pores goes on rusting down to about 12 to 15 % relative humidity. Dry \
         it in a tight box with fresh silica gel and an indicator, do not wash or oil it, and ask a conservator"
    } else {
        "there is rust that goes on. Until it is dealt with keep the blade below 35 % relative humidity, in a tight box with silica gel and an \
         indicator, and look at it every week"
    };
    let given = vec![percent("relative humidity, at most", most)];
    let message = format!("Dry now: {words}.");
    let level = if salts { Level::Caution } else { Level::Info };
    notes.add("materials.climate-rust", level, message, &places, given);
}
