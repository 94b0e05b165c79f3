//! What comes next for a blade, from its line in the store alone.

use serde::Serialize;
use tangmark_core::record::{Purpose, Term as _};
use tangmark_store::StandingRow;

use super::{Stage, stage_of};

/// Kind of the next step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NextKind {
    /// A stop is to be answered.
    Answer,
    /// The specialist's reply is awaited.
    Reply,
    /// The blade is to be examined.
    Examine,
    /// Its state is to be sealed.
    Seal,
    /// The next planned stage of the work.
    Work,
    /// It is to be handed over or given back.
    HandOver,
    /// Somebody has to decide what becomes of it.
    Decide,
    /// Nothing: it has left.
    Nothing,
}

/// What comes next.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NextStep {
    /// Kind.
    pub kind: NextKind,
    /// In words, with the command where one does it.
    pub what: String,
}

fn step(kind: NextKind, what: impl Into<String>) -> NextStep {
    NextStep {
        kind,
        what: what.into(),
    }
}

/// Derives the next step. A stop comes before all else, then what has to be known and sealed before steel is worked. Of a
/// sheet that was not judged yet, the stops of the newest record count.
pub(super) fn next(row: &StandingRow) -> NextStep {
    let blade = &row.blade;
    let stage = stage_of(row);
    let purpose = row.purpose.as_deref();
    let sealed = |one: Purpose| purpose == Some(one.key());
    if row.ended {
        return step(NextKind::Nothing, "");
    }
    if stage == Some(Stage::Referred) {
        return step(
            NextKind::Reply,
            "wait for the specialist's reply: tangmark refer list",
        );
    }
    if row.known_stops().unwrap_or(row.stops) > 0 {
        return step(
            NextKind::Answer,
            format!("answer the stop: tangmark check {blade}"),
        );
    }
    if stage == Some(Stage::SetAside) {
        return step(NextKind::Decide, "set aside: decide what becomes of it");
    }
    if row.examined.is_none() {
        return step(
            NextKind::Examine,
            format!("examine: tangmark examine new {blade}"),
        );
    }
    if row.records == 0 || (row.sheet_passes == 0 && sealed(Purpose::Intake)) {
        return step(
            NextKind::Seal,
            format!("seal: tangmark seal {blade} --for before_work"),
        );
    }
    if stage == Some(Stage::Finished) {
        if sealed(Purpose::Transfer) {
            return step(
                NextKind::HandOver,
                format!("hand over: tangmark handover {blade} --zip"),
            );
        }
        let unchanged = row.tip_revision == row.revision;
        return if sealed(Purpose::AfterWork) && unchanged {
            step(
                NextKind::HandOver,
                format!("sell or give back: tangmark sale close {blade}"),
            )
        } else {
            step(
                NextKind::Seal,
                format!("seal: tangmark seal {blade} --for after_work"),
            )
        };
    }
    match &row.planned {
        Some(planned) => step(NextKind::Work, format!("work: {planned}")),
        None if row.sheet_passes == 0 => step(
            NextKind::Work,
            format!("plan the work: tangmark plan {blade}"),
        ),
        None => step(
            NextKind::Decide,
            format!("the plan is through: tangmark stage set {blade} finished, or plan on"),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::super::empty_row;
    use super::*;

    fn of(change: impl FnOnce(&mut StandingRow)) -> (NextKind, String) {
        let mut row = empty_row("reed");
        change(&mut row);
        let next = next(&row);
        (next.kind, next.what)
    }

    #[test]
    fn what_comes_next_follows_the_work() {
        let stage = |row: &mut StandingRow, stage: Stage| row.stage = Some(stage.key().to_owned());
        assert_eq!(of(|_| ()).0, NextKind::Examine);
        let (kind, what) = of(|row| row.examined = Some("before_work".to_owned()));
        assert_eq!(kind, NextKind::Seal);
        assert!(what.ends_with("seal reed --for before_work"), "{what}");
        let sealed = |row: &mut StandingRow, purpose: &str| {
            row.examined = Some("before_work".to_owned());
            row.records = 1;
            row.purpose = Some(purpose.to_owned());
            row.tip_revision = Some(3);
        };
        assert_eq!(of(|row| sealed(row, "intake")).0, NextKind::Seal);
        assert_eq!(
            of(|row| sealed(row, "before_work")),
            (
                NextKind::Work,
                "plan the work: tangmark plan reed".to_owned()
            )
        );
        assert_eq!(
            of(|row| {
                sealed(row, "before_work");
                row.planned = Some("grind, kaisei".to_owned());
            }),
            (NextKind::Work, "work: grind, kaisei".to_owned())
        );
        assert_eq!(
            of(|row| {
                sealed(row, "before_work");
                row.sheet_passes = 4;
            })
            .0,
            NextKind::Decide
        );
        assert_eq!(
            of(|row| {
                sealed(row, "before_work");
                row.stops = 1;
                row.planned = Some("grind".to_owned());
            })
            .0,
            NextKind::Answer
        );
        // What was found on the newest sheet counts, not what its record says of an older one.
        assert_eq!(
            of(|row| {
                sealed(row, "before_work");
                row.judged = Some(2);
            })
            .0,
            NextKind::Answer
        );
        assert_eq!(
            of(|row| {
                sealed(row, "before_work");
                row.stops = 1;
                row.judged = Some(0);
            })
            .0,
            NextKind::Work
        );
        let finished = |row: &mut StandingRow, purpose: &str| {
            sealed(row, purpose);
            row.sheet_passes = 4;
            stage(row, Stage::Finished);
        };
        assert!(
            of(|row| finished(row, "before_work"))
                .1
                .ends_with("--for after_work")
        );
        assert_eq!(of(|row| finished(row, "after_work")).0, NextKind::HandOver);
        assert_eq!(
            of(|row| {
                finished(row, "after_work");
                row.revision = Some(4);
            })
            .0,
            NextKind::Seal,
            "the sheet changed since"
        );
        assert_eq!(of(|row| stage(row, Stage::Referred)).0, NextKind::Reply);
        assert_eq!(of(|row| stage(row, Stage::SetAside)).0, NextKind::Decide);
        assert_eq!(of(|row| row.ended = true).0, NextKind::Nothing);
    }
}
