//! Cleaning cautions by material. Common practice, no source, in this tool's own words.

use tangmark_author::Notes;
use tangmark_author::words::{capitalised, list};
use tangmark_core::record::{Material, Sheet, Term as _};
use tangmark_plugin::Level;

use Material as M;

/// Materials that are treated alike, and what is said of them.
const GROUPS: &[(&[Material], &str)] = &[
    (
        &[M::Iron],
        "The dark skin is the work: no acid, no wire wool, no stone. Loose rust comes off dry with bone or hard wood; a breath of oil, none near wood or cloth",
    ),
    (
        &[M::Shakudo, M::Shibuichi, M::Sentoku, M::Copper, M::Brass],
        "The colour is a made patina and does not come back: no metal polish, no acid, no ammonia, no bare fingers. Dust with a soft brush",
    ),
    (
        &[M::Gold, M::Silver],
        "Inlay and foil are thin: no polish, no dip, no rubbing. Silver wants to be kept from wool, rubber and felt, which blacken it",
    ),
    (
        &[M::Lacquer],
        "No water that stands, no alcohol, no solvent, no heat, no strong light; a soft dry cloth. What flakes is left to a lacquer worker",
    ),
    (
        &[M::RaySkin, M::SharkSkin, M::Leather, M::Silk, M::Cotton],
        "Keep oil and water off: both stain and loosen. Brush only; wrapping that is worn through is kept and not cut away",
    ),
    (
        &[
            M::Ivory,
            M::Bone,
            M::Horn,
            M::RhinocerosHorn,
            M::Baleen,
            M::Tortoiseshell,
        ],
        "No water, no alcohol, no heat, no oil: it warps, cracks and splits in layers. A dry soft brush, and away from lamps and windows",
    ),
    (
        &[M::Coral, M::MotherOfPearl],
        "Acids and even sweat eat it: no vinegar, no etch nearby, no ultrasonic bath. A dry or barely damp cloth",
    ),
    (
        &[M::Wood, M::Ho, M::Rosewood, M::Ebony],
        "Keep oil and water off: an oily scabbard holds grit and rusts the blade. Do not open a glued seam; a scabbard that rattles or binds goes to its maker",
    ),
    (
        &[M::Plastic],
        "Some old plastics give off acid as they age and rust what lies near: keep the piece apart, in moving air, away from heat, and no solvent",
    ),
];

/// Says once for each group how its materials are cleaned, and how not.
pub(crate) fn judge(sheet: &Sheet, notes: &mut Notes<'_>) {
    for (group, words) in GROUPS {
        let mut names: Vec<String> = Vec::new();
        let mut places = Vec::new();
        for (index, fitting) in sheet.fittings.iter().enumerate() {
            let mut here = false;
            for material in fitting.materials.iter().filter(|one| group.contains(one)) {
                here = true;
                let name = material.gloss().to_owned();
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            if here {
                places.push(format!("/fittings/{index}/materials"));
            }
        }
        if !names.is_empty() {
            let message = format!("{}: {words}.", capitalised(&list(&names)));
            notes.add("materials.care", Level::Info, message, &places, Vec::new());
        }
    }
}
