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
