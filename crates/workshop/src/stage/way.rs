//! The way of one blade through the stages.

use serde::Serialize;
use tangmark_core::record::Term as _;
use tangmark_report::{Speech, StageBar};

use super::list::StageLine;
use super::{Stage, StageError, StageNote};
use crate::journal::Noted;
use crate::{Surroundings, Workshop, WorkshopError, days};

/// Width of the drawing, mm.
const DRAWING_WIDTH: f64 = 170.0;

/// A stretch of time at one stage.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StageStep {
    /// Stage.
    pub stage: Stage,
    /// First day.
    pub from: String,
    /// Day of the next stage; none while it lasts.
    pub to: Option<String>,
    /// Days at it, up to today while it lasts.
    pub days: i64,
    /// Remark.
    pub note: Option<String>,
    /// Who entered it.
    pub by: String,
    /// Number of the entry in the journal.
    pub entry: u64,
}

/// Where a blade stands and how it came there.
#[derive(Clone, Debug, Serialize)]
pub struct StageWay {
    /// As in the list.
    #[serde(flatten)]
    pub line: StageLine,
    /// The way, oldest first.
    pub way: Vec<StageStep>,
}

/// Puts the entries in the order of their days; of several on one day the one entered later comes later.
fn steps(mut notes: Vec<Noted<StageNote>>, today: &str) -> Vec<StageStep> {
    notes.sort_by(|a, b| (&a.on, a.number).cmp(&(&b.on, b.number)));
    let next: Vec<Option<String>> = notes
        .iter()
        .skip(1)
        .map(|note| Some(note.on.clone()))
        .chain([None])
        .collect();
    notes
        .into_iter()
        .zip(next)
        .map(|(note, to)| StageStep {
            // What has left stays no days at its last stage.
            days: match (&to, note.matter.ended) {
                (Some(to), _) => days::between(&note.on, to),
                (None, true) => Some(0),
                (None, false) => days::between(&note.on, today),
            }
            .unwrap_or_default()
            .max(0),
            stage: note.matter.stage,
            note: note.matter.note,
            from: note.on,
            to,
            by: note.by,
            entry: note.number,
        })
        .collect()
}

impl Workshop {
    /// Shows where a blade stands and its way through the stages.
    ///
    /// # Errors
    /// When it is not known.
    pub fn stage_way(
        &self,
        blade: &str,
        around: &Surroundings<'_>,
    ) -> Result<StageWay, WorkshopError> {
        let now = around.now.as_str();
        let today = now.get(..10).unwrap_or(now);
        let line = self.stage_line(blade, today)?;
        Ok(StageWay {
            line,
            way: steps(self.noted(Some(blade), None)?, today),
        })
    }

    /// Draws the way as bars of days, in SVG.
    ///
    /// # Errors
    /// When no stage was ever set, or the blade is not known.
    pub fn stage_drawing(
        &self,
        blade: &str,
        speech: Speech,
        around: &Surroundings<'_>,
    ) -> Result<String, WorkshopError> {
        let way = self.stage_way(blade, around)?;
        let bars: Vec<StageBar<'_>> = way
            .way
            .iter()
            .map(|step| StageBar {
                name: step.stage.gloss(),
                japanese: step.stage.japanese(),
                from: &step.from,
                days: u32::try_from(step.days).unwrap_or(u32::MAX),
                work: step.stage.is_work(),
                lasts: step.to.is_none() && !step.stage.ends(),
            })
            .collect();
        tangmark_report::stage_drawing(&way.line.title, &bars, DRAWING_WIDTH, speech)
            .map(|drawing| drawing.svg)
            .ok_or_else(|| StageError::NoStage(blade.to_owned()).into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(number: u64, on: &str, stage: Stage) -> Noted<StageNote> {
        Noted {
            number,
            blade: Some("reed".to_owned()),
            subject: String::new(),
            on: on.to_owned(),
            at: String::new(),
            by: "A. Polisher".to_owned(),
            replaces: None,
            matter: StageNote {
                stage,
                note: None,
                ended: stage.ends(),
            },
        }
    }

    #[test]
    fn days_are_counted_from_stage_to_stage() {
        let notes = vec![
            note(1, "2026-02-20", Stage::AsReceived),
            // Entered later, for a day before.
            note(3, "2026-02-25", Stage::FirstPass),
            note(2, "2026-03-02", Stage::Foundation),
        ];
        let way = steps(notes.clone(), "2026-03-12");
        let told: Vec<(Stage, i64)> = way.iter().map(|step| (step.stage, step.days)).collect();
        assert_eq!(
            told,
            [
                (Stage::AsReceived, 5),
                (Stage::FirstPass, 5),
                (Stage::Foundation, 10)
            ]
        );
        assert_eq!(way[2].to, None);
        let mut left = notes;
        left.push(note(4, "2026-03-10", Stage::Returned));
        let way = steps(left, "2027-01-01");
        assert_eq!((way[2].days, way[3].days), (8, 0));
    }
}
