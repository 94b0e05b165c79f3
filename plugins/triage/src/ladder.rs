//! The ladder of looks at a fatal flaw: suspected, set aside, ruled out.
//!
//! A suspicion stops the work at its present stage. One look that finds the flaw sets the blade aside. Two looks since
//! then that do not find it, and that differ in method, light or day, rule it out once the sheet says so. An unclear
//! look counts for neither side.

use std::collections::BTreeSet;

use tangmark_author::words::counted;
use tangmark_core::record::{Flaw, Outcome, Standing};

/// Looks that must not find a flaw before it is ruled out.
const NEEDED: usize = 2;

/// Where a flaw stands on the ladder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rung {
    /// Nobody has seen it for certain: the work stops at its present stage.
    Suspected {
        /// Independent looks that did not find it.
        negative: usize,
    },
    /// It was seen: the blade is set aside.
    Seen {
        /// Independent looks that found it.
        positive: usize,
        /// Independent looks since that did not.
        negative: usize,
    },
    /// Two looks did not find it, and the sheet does not say yet that it is ruled out.
    MayBeRuledOut,
    /// Two looks did not find it, and the sheet says so.
    RuledOut,
}

/// Tells where a flaw stands.
pub(crate) fn rung(flaw: &Flaw) -> Rung {
    let last_seen = flaw
        .sightings
        .iter()
        .rposition(|look| look.outcome == Outcome::Seen);
    let since = last_seen.map_or(0, |at| at + 1);
    let negative = independent(flaw, since, Outcome::NotSeen);
    let positive = independent(flaw, 0, Outcome::Seen);
    if negative >= NEEDED {
        return if flaw.standing == Standing::RuledOut {
            Rung::RuledOut
        } else {
            Rung::MayBeRuledOut
        };
    }
    // `confirmed` without a look that found it is still somebody's word that it is there.
    if last_seen.is_some() || flaw.standing == Standing::Confirmed {
        return Rung::Seen { positive, negative };
    }
    Rung::Suspected { negative }
}

fn independent(flaw: &Flaw, from: usize, outcome: Outcome) -> usize {
    let looks = flaw.sightings.iter().skip(from);
    let looks: BTreeSet<_> = looks
        .filter(|look| look.outcome == outcome)
        .map(|look| (look.method, look.light.as_str(), &look.on))
        .collect();
    looks.len()
}

/// Says of a flaw what its looks are worth, and what would move it; without full stop.
pub(crate) fn next(flaw: &Flaw) -> String {
    let id = &flaw.id;
    let more = |negative: usize| {
        let more = NEEDED.saturating_sub(negative);
        format!(
            "{} that {} not find it and {} in method, light or day would rule it out",
            counted_more(more),
            if more == 1 { "does" } else { "do" },
            if more == 1 { "differs" } else { "differ" },
        )
    };
    match rung(flaw) {
        Rung::Suspected { negative: 0 } => {
            format!(
                "{id} was not yet seen for certain: a look that finds it sets the blade aside, {}",
                more(0)
            )
        }
        Rung::Suspected { negative } => {
            format!("{id} was looked for once and not found: {}", more(negative))
        }
        Rung::Seen {
            positive,
            negative: 0,
        } if positive >= NEEDED => {
            format!("{id} was found by {positive} looks that differ, and is borne out")
        }
        Rung::Seen {
            positive: 0,
            negative: 0,
        } => {
            format!("{id} is called confirmed, and no look that found it is listed")
        }
        Rung::Seen { negative: 0, .. } => {
            format!(
                "{id} was found by one look: a second one in another light or on the other face would bear it out"
            )
        }
        Rung::Seen { negative, .. } => {
            format!(
                "{id} was found, and then {} did not find it: {}",
                counted(negative, "look"),
                more(negative)
            )
        }
        Rung::MayBeRuledOut => format!(
            "{id} was looked for twice and not found: write standing = \"ruled_out\" and the stop goes"
        ),
        Rung::RuledOut => format!("{id} is ruled out"),
    }
}

fn counted_more(more: usize) -> String {
    if more == 1 {
        "one more look".to_owned()
    } else {
        "two looks".to_owned()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::{Value, json};

    /// One look in short: `+` seen, `-` not seen, `?` unclear; then method, light and day.
    fn look(text: &str) -> Value {
        let words: Vec<&str> = text.split(' ').collect();
        let outcome = match words[0] {
            "+" => "seen",
            "-" => "not_seen",
            _ => "unclear",
        };
        json!({ "on": words[3], "by": "polisher", "method": words[1], "light": words[2], "outcome": outcome })
    }

    fn flaw(standing: &str, looks: &[&str]) -> Flaw {
        let at = json!({
            "as_read": [{ "text": "300 mm", "unit": "mm" }], "value": "300.0", "unit": "mm",
            "standard_uncertainty": "0.29", "uncertainty_from": "resolution",
        });
        let looks: Vec<Value> = looks.iter().map(|text| look(text)).collect();
        let flaw = json!({
            "id": "f-1", "kind": "hagire", "zone": "edge", "faces": ["omote"], "at": at, "progress": "stable",
            "standing": standing, "sightings": looks,
        });
        serde_json::from_value(flaw).unwrap()
    }

    const SUSPECTED: fn(usize) -> Rung = |negative| Rung::Suspected { negative };
    const SEEN: fn(usize, usize) -> Rung = |positive, negative| Rung::Seen { positive, negative };

    /// Every row of the ladder: standing on the sheet, looks in order, rung, part of what is said.
    #[test]
    fn every_row_of_the_ladder() {
        let rows: &[(&str, &[&str], Rung, &str)] = &[
            (
                "suspected",
                &[],
                SUSPECTED(0),
                "two looks that do not find it and differ in method, light or day",
            ),
            (
                "suspected",
                &["? loupe lamp 2026-03-02"],
                SUSPECTED(0),
                "not yet seen for certain",
            ),
            (
                "suspected",
                &["- loupe lamp 2026-03-02"],
                SUSPECTED(1),
                "one more look that does not find it",
            ),
            // The same look twice is one look.
            (
                "suspected",
                &["- loupe lamp 2026-03-02", "- loupe lamp 2026-03-02"],
                SUSPECTED(1),
                "one more look",
            ),
            (
                "suspected",
                &["- loupe lamp 2026-03-02", "? raking_light lamp 2026-03-02"],
                SUSPECTED(1),
                "one more look",
            ),
            // They differ in method, in light, or in day.
            (
                "suspected",
                &["- loupe lamp 2026-03-02", "- raking_light lamp 2026-03-02"],
                Rung::MayBeRuledOut,
                "write standing = \"ruled_out\"",
            ),
            (
                "suspected",
                &["- loupe lamp 2026-03-02", "- loupe window 2026-03-02"],
                Rung::MayBeRuledOut,
                "write standing",
            ),
            (
                "suspected",
                &["- loupe lamp 2026-03-02", "- loupe lamp 2026-03-03"],
                Rung::MayBeRuledOut,
                "write standing",
            ),
            (
                "suspected",
                &["+ loupe lamp 2026-03-02"],
                SEEN(1, 0),
                "found by one look",
            ),
            (
                "suspected",
                &["- loupe lamp 2026-03-02", "+ raking_light lamp 2026-03-02"],
                SEEN(1, 0),
                "found by one look",
            ),
            (
                "confirmed",
                &["+ loupe lamp 2026-03-02"],
                SEEN(1, 0),
                "a second one in another light",
            ),
            (
                "confirmed",
                &["+ loupe lamp 2026-03-02", "+ loupe lamp 2026-03-02"],
                SEEN(1, 0),
                "found by one look",
            ),
            (
                "confirmed",
                &["+ loupe lamp 2026-03-02", "+ stain_line lamp 2026-03-02"],
                SEEN(2, 0),
                "borne out",
            ),
            (
                "confirmed",
                &["+ loupe lamp 2026-03-02", "- loupe window 2026-03-03"],
                SEEN(1, 1),
                "then 1 look did not find it: one more look",
            ),
            (
                "confirmed",
                &[
                    "+ loupe lamp 2026-03-02",
                    "- loupe window 2026-03-03",
                    "- raking_light lamp 2026-03-03",
                ],
                Rung::MayBeRuledOut,
                "write standing",
            ),
            (
                "confirmed",
                &[],
                SEEN(0, 0),
                "no look that found it is listed",
            ),
            (
                "ruled_out",
                &["- loupe lamp 2026-03-02", "- raking_light lamp 2026-03-02"],
                Rung::RuledOut,
                "is ruled out",
            ),
            (
                "ruled_out",
                &[
                    "+ loupe lamp 2026-03-02",
                    "- loupe window 2026-03-03",
                    "- raking_light lamp 2026-03-03",
                ],
                Rung::RuledOut,
                "is ruled out",
            ),
            // Looks before it was last seen do not count any more.
            (
                "ruled_out",
                &[
                    "- loupe lamp 2026-03-02",
                    "- raking_light lamp 2026-03-02",
                    "+ loupe window 2026-03-03",
                ],
                SEEN(1, 0),
                "found by one look",
            ),
            // The word alone rules nothing out.
            (
                "ruled_out",
                &["- loupe lamp 2026-03-02"],
                SUSPECTED(1),
                "one more look",
            ),
            ("ruled_out", &[], SUSPECTED(0), "two looks"),
        ];
        for (standing, looks, expected, said) in rows {
            let flaw = flaw(standing, looks);
            assert_eq!(rung(&flaw), *expected, "{standing} {looks:?}");
            assert!(
                next(&flaw).contains(said),
                "{standing} {looks:?}: {}",
                next(&flaw)
            );
        }
    }
}
