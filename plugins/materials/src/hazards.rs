//! What can hurt at the bench, from what is planned and logged.

use tangmark_author::Notes;
use tangmark_author::passes::Logged;
use tangmark_core::record::{
    Abrasive, AbrasiveOrigin, Etch, FittingPart, Material, Operation, Sheet, Term as _,
};
use tangmark_plugin::Level;

/// Judges hazards; each kind speaks once, with every place that led to it.
pub(crate) fn judge(sheet: &Sheet, logged: &[Logged<'_>], notes: &mut Notes<'_>) {
    let work = Work::collect(sheet, logged);
    acids(&work, notes);
    silica(&work, notes);
    lead(sheet, notes);
    rags(&work, notes);
    if !work.operations.is_empty() {
        let message = "Cover the edge but for the part that is on the stone; lay and carry the blade with the edge away from you and the tang \
                       guarded, and never catch one that falls.";
        let places: Vec<&String> = work
            .operations
            .iter()
            .map(|(_, place)| place)
            .take(1)
            .collect();
        notes.add(
            "materials.hazard-edge",
            Level::Info,
            message,
            &places,
            Vec::new(),
        );
    }
}

/// Work that is planned, logged or was done to look: what, and where it stands.
#[derive(Default)]
struct Work<'a> {
    operations: Vec<(Operation, String)>,
    abrasives: Vec<(&'a Abrasive, String)>,
    etches: Vec<(&'a Etch, String)>,
}

impl<'a> Work<'a> {
    fn collect(sheet: &'a Sheet, logged: &[Logged<'a>]) -> Self {
        let mut work = Self::default();
        if let Some(plan) = &sheet.plan {
            for (index, stage) in plan.stages.iter().enumerate() {
                let place = format!("/plan/stages/{index}");
                work.operations.push((stage.operation, place.clone()));
                work.abrasives.extend(
                    stage
                        .abrasive
                        .iter()
                        .map(|one| (one, format!("{place}/abrasive"))),
                );
            }
        }
        // What only a sealed record has was done in the past and needs no caution today.
        for pass in logged {
            let Some(place) = pass.pointer.clone() else {
                continue;
            };
            work.operations.push((pass.pass.operation, place.clone()));
            work.abrasives.extend(
                pass.pass
                    .abrasive
                    .iter()
                    .map(|one| (one, format!("{place}/abrasive"))),
            );
            work.etches.extend(
                pass.pass
                    .etch
                    .iter()
                    .map(|one| (one, format!("{place}/etch"))),
            );
        }
        let look = sheet.examination.as_ref().and_then(|one| one.etch.as_ref());
        work.etches
            .extend(look.map(|one| (one, "/examination/etch".to_owned())));
        work
    }

    fn places_of(&self, operations: &[Operation]) -> Vec<String> {
        let found = self
            .operations
            .iter()
            .filter(|(one, _)| operations.contains(one));
        found.map(|(_, place)| place.clone()).collect()
    }
}

fn acids(work: &Work<'_>, notes: &mut Notes<'_>) {
    let mut places = work.places_of(&[Operation::Etch, Operation::Neutralise]);
    places.extend(work.etches.iter().map(|(_, place)| place.clone()));
    if places.is_empty() {
        return;
    }
    let agents: Vec<String> = work
        .etches
        .iter()
        .map(|(etch, _)| etch.agent.to_lowercase())
        .collect();
    let any = |words: &[&str]| {
        agents
            .iter()
            .any(|agent| words.iter().any(|word| agent.contains(word)))
    };
    let mut message = String::from(
        "Acid is planned or logged. Goggles and gloves, moving air, water at hand; acid into water, never the other way, and never near bleach. \
         Neutralise with bicarbonate, rinse, dry, and oil at once: steel that was etched rusts within minutes.",
    );
    if any(&["acetic", "vinegar"]) {
        message.push_str(" Acetic acid: from 10 to 25 % upwards it burns eyes and skin, and its fumes rust every blade in the room.");
    }
    if any(&["nital", "nitric"]) {
        message.push_str(
            " Nitric acid in alcohol: mix little and weak, never stopper it tightly or keep it, no flame near it; its fumes are poisonous.",
        );
    }
    if any(&["ferric", "chloride"]) {
        message.push_str(" Ferric chloride: stains and bites, attacks metal drains, and chlorides left in a pore go on rusting; rinse long.");
    }
    if any(&["hydrofluoric", "fluor"]) {
        message.push_str(" Anything with fluorides belongs in a laboratory and not at the bench.");
    }
    message.push_str(" What is used up is waste to be handed in as your local rules say.");
    notes.add(
        "materials.hazard-acid",
        Level::Caution,
        message,
        &places,
        Vec::new(),
    );
}

fn silica(work: &Work<'_>, notes: &mut Notes<'_>) {
    let places: Vec<&String> = work
        .abrasives
        .iter()
        .filter(|(one, _)| one.origin == AbrasiveOrigin::Natural)
        .map(|(_, place)| place)
        .collect();
    if places.is_empty() {
        return;
    }
    let message = "Natural stones are planned or logged, and their mud holds quartz. Work wet, never sand, flatten or sweep dry, wipe up the mud \
                   before it dries, and wash it out of clothes and cloths: dust that can be breathed scars the lungs for good. Limits over eight \
                   hours, from memory: 0.1 mg/m³ in the European Union, 0.05 mg/m³ in the United States; look up your own.";
    notes.add(
        "materials.hazard-silica",
        Level::Caution,
        message,
        &places,
        Vec::new(),
    );
}

fn lead(sheet: &Sheet, notes: &mut Notes<'_>) {
    for (index, fitting) in sheet.fittings.iter().enumerate() {
        let place = format!("/fittings/{index}");
        let words = fitting.description.to_lowercase();
        let part = fitting.part.key().replace('_', " ");
        if fitting.materials.contains(&Material::Lead) {
            let message = format!(
                "The {part} has lead. Do not file, sand or heat it; gloves, wash hands before you eat, wipe wet, and keep its dust off the bench."
            );
            notes.add(
                "materials.hazard-lead",
                Level::Caution,
                message,
                &[place],
                Vec::new(),
            );
        } else if fitting.part == FittingPart::Habaki || words.contains("solder") {
            let message = format!(
                "The {part} may hold solder, and old solder often holds lead. Before it is filed or heated, have it looked at, or work as if it did: \
                 no dry filing, moving air, clean hands."
            );
            notes.add(
                "materials.hazard-lead",
                Level::Info,
                message,
                &[place],
                Vec::new(),
            );
        }
    }
}

fn rags(work: &Work<'_>, notes: &mut Notes<'_>) {
    let places = work.places_of(&[Operation::Oil, Operation::WipePolish, Operation::Burnish]);
    if places.is_empty() {
        return;
    }
    let message = "Oil is used. Cloths and paper with oil burn well, and those with drying oils (linseed, tung, walnut, to a lesser degree camellia) \
                   can heat and catch fire by themselves: hang them out flat or keep them under water in a closed metal tin, never in a heap.";
    notes.add(
        "materials.hazard-rags",
        Level::Info,
        message,
        &places,
        Vec::new(),
    );
}
