//! The measured states of the blade, oldest first, and the full polishes between them.

use std::collections::BTreeSet;

use tangmark_core::record::{
    Dimensions, Instrument, Operation, Pass, Purpose, Reason, Record, Sheet, Term as _,
};

/// A state: what was measured at one time.
#[derive(Clone, Debug)]
pub(crate) struct State<'a> {
    /// Measurements.
    pub(crate) dimensions: &'a Dimensions,
    /// Instruments they were taken with.
    pub(crate) instruments: &'a [Instrument],
    /// Passes logged by then.
    pub(crate) passes: &'a [Pass],
    /// Work was finished.
    pub(crate) finished: bool,
    /// How to call it: `record 1 (before_work)`, or `this sheet`.
    pub(crate) name: String,
    /// It is the sheet.
    pub(crate) is_sheet: bool,
}

/// Collects the states: sealed records with dimensions, then the sheet. A correction takes the place of the state before
/// it, a withdrawn record's own text is no state.
pub(crate) fn of<'a>(records: &'a [Record], sheet: &'a Sheet) -> Vec<State<'a>> {
    let mut states: Vec<State<'a>> = Vec::new();
    for record in records {
        let Some(dimensions) = &record.dimensions else {
            continue;
        };
        match record.purpose {
            Purpose::Withdrawal => continue,
            Purpose::Correction => {
                states.pop();
            }
            _ => {}
        }
        states.push(State {
            dimensions,
            instruments: record
                .examination
                .as_ref()
                .map_or(&[], |one| &one.instruments),
            passes: &record.passes,
            finished: record.purpose == Purpose::AfterWork
                || reason_after(record.examination.as_ref().map(|one| one.reason)),
            name: format!("record {} ({})", record.sequence, record.purpose.key()),
            is_sheet: false,
        });
    }
    if let Some(dimensions) = &sheet.dimensions {
        states.push(State {
            dimensions,
            instruments: sheet
                .examination
                .as_ref()
                .map_or(&[], |one| &one.instruments),
            passes: &sheet.passes,
            finished: reason_after(sheet.examination.as_ref().map(|one| one.reason)),
            name: "this sheet".to_owned(),
            is_sheet: true,
        });
    }
    states
}

fn reason_after(reason: Option<Reason>) -> bool {
    reason == Some(Reason::AfterWork)
}

/// The places in `states` where a full polish began or ended: the first state, then each finished state with a grinding
/// or polishing pass that the state before had not. One more than there are full polishes; empty without any state.
pub(crate) fn polish_ends(states: &[State<'_>]) -> Vec<usize> {
    let is_full = |pass: &&Pass| matches!(pass.operation, Operation::Grind | Operation::Polish);
    let mut known: BTreeSet<String> = BTreeSet::new();
    let mut ends = Vec::new();
    for (index, state) in states.iter().enumerate() {
        let keys = state.passes.iter().filter(is_full);
        let keys: BTreeSet<String> = keys.map(|pass| pass.id.to_string()).collect();
        let new = keys.iter().any(|key| !known.contains(key));
        if index == 0 || (state.finished && new) {
            known.extend(keys);
            ends.push(index);
        }
    }
    ends
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::expect_used)]
    use super::*;
    use serde_json::Value;
    use tangmark_author::trial;

    fn sheet(value: &Value) -> Sheet {
        serde_json::from_value(value.clone()).expect("a sheet")
    }

    fn record(value: &Value, sequence: u32, purpose: Purpose) -> Record {
        let made = trial::record(value, sequence, purpose, "2026-03-02T12:00:00Z");
        serde_json::from_value(made).expect("a record")
    }

    #[test]
    fn states_run_from_the_first_record_to_the_sheet() {
        let (before, after) = (trial::demo("reed-before"), trial::demo("reed-after"));
        let records = vec![
            record(&before, 1, Purpose::BeforeWork),
            record(&before, 2, Purpose::Correction),
            record(&before, 3, Purpose::Withdrawal),
        ];
        let after = sheet(&after);
        let states = of(&records, &after);
        let names: Vec<&str> = states.iter().map(|one| one.name.as_str()).collect();
        assert_eq!(names, ["record 2 (correction)", "this sheet"]);
        assert_eq!(polish_ends(&states), [0, 1]);
        assert_eq!(polish_ends(&states[..1]), [0]);
        assert!(polish_ends(&[]).is_empty());
    }

    #[test]
    fn the_same_passes_are_one_polish_however_often_they_are_sealed() {
        let after = trial::demo("reed-after");
        let records = vec![
            record(&trial::demo("reed-before"), 1, Purpose::BeforeWork),
            record(&after, 2, Purpose::InWork),
            record(&after, 3, Purpose::AfterWork),
        ];
        let drafted = sheet(&after);
        let states = of(&records, &drafted);
        // The demo's own examination says that work is finished, so its first sealing ends the polish.
        assert_eq!(polish_ends(&states), [0, 1]);
    }
}
