//! Etches: on the tang, without agreement, on a held blade, without aftercare.

use tangmark_core::record::{Etch, Operation, Sheet, Zone};
use tangmark_plugin::Level;

use crate::ledger::Ledger;

/// An etch, logged, planned or made for the examination.
struct Etched<'a> {
    pointer: String,
    zones: &'a [Zone],
    details: Option<&'a Etch>,
    done: bool,
}

fn etched(sheet: &Sheet) -> Vec<Etched<'_>> {
    let passes = sheet
        .passes
        .iter()
        .enumerate()
        .filter(|(_, pass)| pass.operation == Operation::Etch || pass.etch.is_some());
    let passes = passes.map(|(index, pass)| Etched {
        pointer: format!("/passes/{index}"),
        zones: &pass.zones,
        details: pass.etch.as_ref(),
        done: true,
    });
    let stages = sheet.plan.iter().flat_map(|plan| &plan.stages).enumerate();
    let stages = stages
        .filter(|(_, stage)| stage.operation == Operation::Etch)
        .map(|(index, stage)| Etched {
            pointer: format!("/plan/stages/{index}"),
            zones: &stage.zones,
            details: None,
            done: false,
        });
    let looked = sheet
        .examination
        .iter()
        .filter_map(|examination| examination.etch.as_ref())
        .map(|etch| Etched {
            pointer: "/examination/etch".to_owned(),
            zones: &[],
            details: Some(etch),
            done: true,
        });
    passes.chain(stages).chain(looked).collect()
}

/// Judges etches.
pub(crate) fn judge(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    let all = etched(sheet);
    if all.is_empty() {
        return;
    }
    let places: Vec<String> = all.iter().map(|one| one.pointer.clone()).collect();
    let on_tang: Vec<String> = all
        .iter()
        .filter(|one| one.zones.contains(&Zone::Tang))
        .map(|one| one.pointer.clone())
        .collect();
    if !on_tang.is_empty() {
        let text = "An etch on the tang is logged or planned: never on a tang.";
        ledger.find(
            "care.etch-on-tang",
            Level::Caution,
            text,
            &on_tang,
            Vec::new(),
        );
    }
    if let Some(agreement) = &sheet.agreement
        && !agreement.etch_allowed
    {
        let text = "The agreement does not allow an etch, and one is logged or planned: ask the owner first.";
        let places: Vec<String> = places
            .iter()
            .cloned()
            .chain(["/agreement/etch_allowed".to_owned()])
            .collect();
        ledger.find(
            "care.etch-not-agreed",
            Level::Caution,
            text,
            &places,
            Vec::new(),
        );
    }
    let held = ledger
        .findings()
        .iter()
        .any(|finding| finding.level == Level::Stop && finding.rule.starts_with("importance."));
    if held {
        let text = "An etch is logged or planned on a blade that is held for importance: not before a senior specialist has answered.";
        ledger.find(
            "care.etch-when-held",
            Level::Caution,
            text,
            &places,
            Vec::new(),
        );
    }
    let untended = |one: &&Etched<'_>| {
        one.done
            && one
                .details
                .is_none_or(|etch| !(etch.neutralised && etch.rinsed && etch.dried))
    };
    let untended: Vec<String> = all
        .iter()
        .filter(untended)
        .map(|one| one.pointer.clone())
        .collect();
    if !untended.is_empty() {
        let text = "An etch is logged without neutralising, rinsing and drying: acid left on steel goes on; see to it and note it.";
        ledger.find(
            "care.etch-aftercare",
            Level::Caution,
            text,
            &untended,
            Vec::new(),
        );
    }
}
