//! Disagreements on purpose: one verdict of the library turned round, so that a comparison is seen to find it.

use serde_json::{Value, json};

/// A verdict that is turned round in the line on a mutant, never in the library.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slip {
    /// A photo of other bytes counts as the original.
    Photo,
    /// A key counts after its successor came.
    LateKey,
    /// A record with a wrong file name counts.
    Misnamed,
}

impl Slip {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Photo, Self::LateKey, Self::Misnamed];

    /// Its name on the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Photo => "photo",
            Self::LateKey => "late-key",
            Self::Misnamed => "misnamed",
        }
    }

    /// Turns the verdict round wherever it stands.
    pub(super) fn turn(self, verdict: &mut Value) {
        let (part, member, from, to) = match self {
            Self::Photo => ("photos", "state", "not_the_same", "original"),
            Self::LateKey => ("records", "standing", "too_late", "in_force"),
            Self::Misnamed => ("records", "state", "misnamed", "intact"),
        };
        let files = verdict.get_mut(part).and_then(Value::as_object_mut);
        for (_, one) in files.into_iter().flatten() {
            if one[member] == from {
                one[member] = json!(to);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_slip_turns_its_verdict_and_no_other() {
        let plain = json!({
            "photos": { "data/photos/a.jpg": { "state": "not_the_same" }, "data/photos/b.jpg": { "state": "copy" } },
            "records": {
                "data/records/01-intake.json": { "state": "intact", "standing": "too_late" },
                "data/records/02-intake.json": { "state": "misnamed", "standing": "in_force" },
            },
        });
        let places = [
            ("/photos/data~1photos~1a.jpg/state", "original"),
            (
                "/records/data~1records~101-intake.json/standing",
                "in_force",
            ),
            ("/records/data~1records~102-intake.json/state", "intact"),
        ];
        for (slip, (place, word)) in Slip::ALL.into_iter().zip(places) {
            let mut turned = plain.clone();
            slip.turn(&mut turned);
            let mut wanted = plain.clone();
            if let Some(found) = wanted.pointer_mut(place) {
                *found = json!(word);
            }
            assert_eq!(turned, wanted, "{}", slip.name());
            assert_ne!(turned, plain, "{}", slip.name());
        }
    }
}
