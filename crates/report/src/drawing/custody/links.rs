//! What lies between two passings of the blade from hand to hand.

use tangmark_core::record::{CustodyEvent, CustodyKind, Person};

/// What the record says of the time between two passings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Passing {
    /// One person is named on both sides.
    SameHand,
    /// Who had the blade is not said, or not by name.
    NotSaid,
    /// Their dates leave open which came first.
    Open,
}

/// Two passings, one after the other in the list, by their place among the events.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Link {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) passing: Passing,
}

/// Whether somebody else has the blade after it.
const fn changes_hands(kind: CustodyKind) -> bool {
    matches!(
        kind,
        CustodyKind::LeftForWork
            | CustodyKind::Returned
            | CustodyKind::Lent
            | CustodyKind::Sold
            | CustodyKind::Given
            | CustodyKind::Inherited
            | CustodyKind::Bought
    )
}

/// Links each passing with the next one.
pub(super) fn of(events: &[CustodyEvent]) -> Vec<Link> {
    let hands: Vec<(usize, &CustodyEvent)> = events
        .iter()
        .enumerate()
        .filter(|(_, event)| changes_hands(event.kind))
        .collect();
    hands
        .iter()
        .zip(hands.iter().skip(1))
        .map(|((from, before), (to, after))| Link {
            from: *from,
            to: *to,
            passing: passing(before, after),
        })
        .collect()
}

fn passing(before: &CustodyEvent, after: &CustodyEvent) -> Passing {
    // Dates of one form sort as texts.
    if before.when.latest.last_day() > after.when.earliest.first_day() && before.when != after.when
    {
        return Passing::Open;
    }
    let name = |person: &Option<Person>| person.as_ref().and_then(|one| one.name.clone());
    let holder = name(&before.to);
    // Whoever has it leaves it or lends it: the giver need not be named again.
    let by_the_holder =
        after.from.is_none() && matches!(after.kind, CustodyKind::LeftForWork | CustodyKind::Lent);
    if holder.is_some() && (by_the_holder || holder == name(&after.from)) {
        Passing::SameHand
    } else {
        Passing::NotSaid
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::{Value, json};

    use super::*;

    fn event(kind: &str, [earliest, latest]: [&str; 2], from: Value, to: Value) -> CustodyEvent {
        let mut event = json!({ "kind": kind, "maps_to": ["crm:E8_Acquisition"], "when": { "earliest": earliest, "latest": latest } });
        for (name, person) in [("from", from), ("to", to)] {
            if !person.is_null() {
                event[name] = json!({ "role": "owner", "name": person });
            }
        }
        serde_json::from_value(event).unwrap()
    }

    #[test]
    fn what_lies_between_is_said_by_names_on_both_sides() {
        let nobody = Value::Null;
        let chain = [
            event("bought", ["1958", "1961"], json!("A"), json!("B")),
            event("examined", ["1970", "1970"], nobody.clone(), nobody.clone()),
            event("inherited", ["1999", "1999"], json!("B"), json!("C")),
            event("sold", ["2004", "2004"], json!("D"), json!("E")),
            event(
                "left_for_work",
                ["2026-03-01", "2026-03-01"],
                nobody.clone(),
                json!("W"),
            ),
            event("returned", ["2026-02", "2026-04"], json!("W"), json!("E")),
            event("lent", ["2027", "2027"], nobody, json!("M")),
        ];
        let found: Vec<_> = of(&chain)
            .into_iter()
            .map(|link| (link.from, link.to, link.passing))
            .collect();
        assert_eq!(
            found,
            [
                (0, 2, Passing::SameHand),
                (2, 3, Passing::NotSaid),
                (3, 4, Passing::SameHand),
                (4, 5, Passing::Open),
                (5, 6, Passing::SameHand),
            ]
        );
    }

    #[test]
    fn a_name_that_is_withheld_says_nothing() {
        let mut first = event("bought", ["1958", "1961"], json!("A"), json!("B"));
        let second = event("sold", ["1980", "1980"], json!("B"), json!("C"));
        assert_eq!(
            of(&[first.clone(), second.clone()])[0].passing,
            Passing::SameHand
        );
        first.to.as_mut().unwrap().name = None;
        assert_eq!(of(&[first, second])[0].passing, Passing::NotSaid);
    }

    #[test]
    fn two_events_of_one_day_are_not_called_open() {
        let day = ["2026-03-01", "2026-03-01"];
        let chain = [
            event("sold", day, json!("A"), json!("B")),
            event("left_for_work", day, Value::Null, json!("W")),
        ];
        assert_eq!(of(&chain)[0].passing, Passing::SameHand);
        // The month and a day in it: either may be the first.
        let month = event("sold", ["2026-03", "2026-03"], json!("A"), json!("B"));
        assert_eq!(of(&[month, chain[1].clone()])[0].passing, Passing::Open);
    }
}
