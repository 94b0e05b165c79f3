//! The stage that a blade comes to by a pass.

use tangmark_core::record::{Operation, Pass, Sheet, StoneStage};

use tangmark_store::Store as _;

use crate::edit::Edit;
use crate::journal::{self, Who};
use crate::stage::{Stage, StageMove, StageNote, stage_of};
use crate::{Surroundings, Workshop, WorkshopError};

/// The stage of the work that a pass belongs to; none for what belongs to any. Common practice, no source.
pub(super) fn of(pass: &Pass) -> Option<Stage> {
    match pass.operation {
        Operation::Derust => return Some(Stage::FirstPass),
        Operation::Etch => return Some(Stage::Etched),
        Operation::Straighten | Operation::Neutralise | Operation::Clean | Operation::Oil => {
            return None;
        }
        _ => {}
    }
    let by_stone = pass
        .abrasive
        .as_ref()
        .and_then(|stone| stone.stage)
        .and_then(of_stone);
    by_stone.or(match pass.operation {
        Operation::Grind => Some(Stage::Foundation),
        Operation::Polish => Some(Stage::Middle),
        Operation::FingerFinish
        | Operation::WipePolish
        | Operation::Whiten
        | Operation::Burnish
        | Operation::PointFinish => Some(Stage::FingerFinish),
        _ => None,
    })
}

const fn of_stone(stage: StoneStage) -> Option<Stage> {
    match stage {
        StoneStage::Arato | StoneStage::Binsui | StoneStage::Kaisei => Some(Stage::Foundation),
        StoneStage::ChuNagura | StoneStage::KomaNagura => Some(Stage::Middle),
        StoneStage::UchigumoriHato | StoneStage::UchigumoriJito => Some(Stage::Fine),
        StoneStage::Hazuya
        | StoneStage::Jizuya
        | StoneStage::Nugui
        | StoneStage::Migaki
        | StoneStage::Narume => Some(Stage::FingerFinish),
        StoneStage::Other => None,
    }
}

/// Moves the blade to the stage of the last new pass, with the rest of the change. The stage is of the day of that pass: of
/// a pass dated to a month its first day, and of a day that has not come today. Where it stands at a stage of a later day, it
/// stays there, and the one of the pass belongs to the way.
pub(super) fn follow(
    workshop: &Workshop,
    edit: &mut Edit,
    (sheet, ids): (&Sheet, &[String]),
    who: &Who<'_>,
    around: &Surroundings<'_>,
) -> Result<Option<StageMove>, WorkshopError> {
    // A pass written in between says nothing of where the blade stands now.
    let newest = sheet
        .passes
        .last()
        .filter(|pass| ids.iter().any(|id| id == pass.id.as_str()));
    let Some(to) = newest.and_then(of) else {
        return Ok(None);
    };
    let own = newest.map(|pass| pass.on.first_day()).unwrap_or_default();
    let today = journal::today(around);
    let on = if journal::happened("the day", &own, today).is_ok() {
        own
    } else {
        today.to_owned()
    };
    let row = workshop.store().standing(edit.blade())?;
    let from = stage_of(&row);
    if from == Some(to) {
        return Ok(None);
    }
    let note = StageNote::new(to, None)?;
    let blade = edit.blade().to_owned();
    edit.add_entry(workshop.entry_on(Some(&blade), "", &note, (&on, who.by), around)?);
    let moves = row.stage_since.is_none_or(|since| since <= on);
    Ok(moves.then(|| StageMove {
        blade,
        from,
        to,
        on,
        entry: None,
        remarks: Vec::new(),
    }))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::{Value, json};

    fn stage(pass: &Value) -> Option<Stage> {
        let mut whole = json!({ "id": "p1", "on": "2026-04-01", "zones": ["ground"] });
        for (name, value) in pass.as_object().unwrap() {
            whole[name] = value.clone();
        }
        of(&serde_json::from_value(whole).unwrap())
    }

    #[test]
    fn stones_and_operations_lead_to_their_stage() {
        let with = |operation: &str, stone: &str| {
            stage(&json!({ "operation": operation,
                "abrasive": { "name": "x", "origin": "natural", "stage": stone } }))
        };
        assert_eq!(with("derust", "hazuya"), Some(Stage::FirstPass));
        assert_eq!(with("grind", "arato"), Some(Stage::Foundation));
        assert_eq!(with("polish", "koma_nagura"), Some(Stage::Middle));
        assert_eq!(with("polish", "uchigumori_jito"), Some(Stage::Fine));
        assert_eq!(with("finger_finish", "jizuya"), Some(Stage::FingerFinish));
        assert_eq!(with("grind", "other"), Some(Stage::Foundation));
        assert_eq!(stage(&json!({ "operation": "etch" })), Some(Stage::Etched));
        assert_eq!(
            stage(&json!({ "operation": "burnish" })),
            Some(Stage::FingerFinish)
        );
        assert_eq!(stage(&json!({ "operation": "oil" })), None);
    }
}
