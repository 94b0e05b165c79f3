//! Consistency inside a sheet: photos, dates, looks, custody. For drafting and sealing only: a sealed record is never
//! judged by them, so that rules can be added.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{Problem, along, lasting, quantities};
use crate::hold::independent_negatives;
use crate::record::{
    AsRead, CustodyEvent, Flaw, Operation, Outcome, PartialDate, Sheet, Standing, Term as _,
};

/// Checks a sheet, given as types and as JSON.
pub(super) fn check(sheet: &Sheet, value: &Value, problems: &mut Vec<Problem>) {
    let mut found = Finder { problems };
    found.photos(sheet, value);
    along::check(sheet, found.problems);
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        found.flaw(flaw, index);
    }
    for (index, event) in sheet.custody.iter().enumerate() {
        found.custody(event, index);
    }
    found.examination(sheet);
    found.passes(sheet);
    found.asked(sheet);
    found.dates(sheet);
    found.money(value, "");
    quantities::each(value, "", &mut |quantity, pointer| {
        quantities::sign(quantity, pointer, found.problems);
    });
}

struct Finder<'a> {
    problems: &'a mut Vec<Problem>,
}

impl Finder<'_> {
    fn add(
        &mut self,
        pointer: impl Into<String>,
        what: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.problems.push(Problem::new(pointer, what, hint));
    }

    fn photos(&mut self, sheet: &Sheet, value: &Value) {
        let known: BTreeSet<&str> = sheet.photos.iter().map(|photo| photo.id.as_str()).collect();
        self.photos_within(value, "", &known);
    }

    fn photos_within(&mut self, value: &Value, pointer: &str, known: &BTreeSet<&str>) {
        match value {
            Value::Object(members) => {
                for (name, member) in members {
                    let inner = format!("{pointer}/{name}");
                    match (name.as_str(), member) {
                        // The top-level list holds the photos themselves.
                        ("photos", Value::Array(keys)) if !pointer.is_empty() => {
                            for (index, key) in keys.iter().enumerate() {
                                let Some(key) = key.as_str().filter(|key| !known.contains(key))
                                else {
                                    continue;
                                };
                                self.add(
                                    format!("{inner}/{index}"),
                                    format!(
                                        "the photo `{key}` is not in `photos`, which has {}",
                                        lasting::listed(known)
                                    ),
                                    "list the photo there with its file, or correct the key",
                                );
                            }
                        }
                        _ => self.photos_within(member, &inner, known),
                    }
                }
            }
            Value::Array(items) => {
                for (index, item) in items.iter().enumerate() {
                    self.photos_within(item, &format!("{pointer}/{index}"), known);
                }
            }
            _ => {}
        }
    }

    fn flaw(&mut self, flaw: &Flaw, index: usize) {
        let pointer = format!("/flaws/{index}/standing");
        let seen = flaw
            .sightings
            .iter()
            .any(|sighting| sighting.outcome == Outcome::Seen);
        if flaw.standing == Standing::RuledOut {
            let independent = independent_negatives(flaw, None);
            if independent < 2 {
                let since = if seen { " since it was last seen" } else { "" };
                self.add(
                    pointer.as_str(),
                    format!("`ruled_out` with {independent} independent looks that did not see it{since}, 2 are needed"),
                    "look again with another method, in another light or on another day and add the look to `sightings`; \
                     until then the flaw is `suspected`",
                );
            }
        }
        if flaw.standing == Standing::Confirmed && !seen {
            self.add(
                pointer,
                "`confirmed` without a look that saw it",
                "list the look under `sightings` with outcome = \"seen\", or call the flaw `suspected`",
            );
        }
    }

    fn custody(&mut self, event: &CustodyEvent, index: usize) {
        let pointer = format!("/custody/{index}/when");
        self.date_order(
            &event.when.earliest,
            &event.when.latest,
            &pointer,
            "the earlier limit",
            "the later limit",
        );
    }

    fn dates(&mut self, sheet: &Sheet) {
        let blade = &sheet.blade;
        if let (Some(first), Some(last)) = (&blade.made_not_before, &blade.made_not_after) {
            self.date_order(
                first,
                last,
                "/blade/made_not_before",
                "`made_not_before`",
                "`made_not_after`",
            );
        }
        if let Some(agreement) = &sheet.agreement
            && let Some(back) = &agreement.return_by
        {
            self.date_order(
                &agreement.on,
                back,
                "/agreement/return_by",
                "the day of the agreement",
                "`return_by`",
            );
        }
        if let Some(valuation) = &sheet.valuation
            && let Some(until) = &valuation.valid_until
        {
            self.date_order(
                &valuation.on,
                until,
                "/valuation/valid_until",
                "the day of the valuation",
                "`valid_until`",
            );
        }
        for (index, pair) in sheet.passes.windows(2).enumerate() {
            if pair[0].on.first_day() > pair[1].on.last_day() {
                self.add(
                    format!("/passes/{}/on", index + 1),
                    format!(
                        "{} found after a pass of {}, the same day or a later one is allowed",
                        pair[1].on, pair[0].on
                    ),
                    "list the passes in the order they were made, or correct the date",
                );
            }
        }
    }

    fn date_order(
        &mut self,
        earliest: &PartialDate,
        latest: &PartialDate,
        pointer: &str,
        first: &str,
        second: &str,
    ) {
        if earliest.first_day() > latest.last_day() {
            self.add(
                pointer,
                format!(
                    "{earliest} found as {first} and {latest} as {second}, which lies before it"
                ),
                "swap the two dates, or correct the one that is wrong",
            );
        }
    }

    fn passes(&mut self, sheet: &Sheet) {
        for (index, pass) in sheet.passes.iter().enumerate() {
            if pass.operation == Operation::Etch && pass.etch.is_none() {
                self.add(
                    format!("/passes/{index}/operation"),
                    "`etch` found without the table `etch`, which says what was on the steel",
                    "add etch = { agent = \"…\", concentration = \"… %\", time = \"… min\", neutralised = …, rinsed = …, dried = … }",
                );
            }
        }
    }

    /// An answer belongs to a point that was agreed.
    fn asked(&mut self, sheet: &Sheet) {
        let Some(agreement) = &sheet.agreement else {
            return;
        };
        let known: BTreeSet<&str> = agreement.stop_and_ask.iter().map(String::as_str).collect();
        for (index, asked) in agreement.asked.iter().enumerate() {
            if !known.contains(asked.point.as_str()) {
                self.add(
                    format!("/agreement/asked/{index}/point"),
                    format!(
                        "`{}` found, a point of `stop_and_ask` is allowed, which has {}",
                        asked.point,
                        lasting::listed(&known)
                    ),
                    "write the point as it stands there, or add it to `stop_and_ask`",
                );
            }
        }
    }

    fn examination(&mut self, sheet: &Sheet) {
        let Some(examination) = &sheet.examination else {
            return;
        };
        for (index, not) in examination.not_examined.iter().enumerate() {
            if examination.examined.contains(&not.part) {
                self.add(
                    format!("/examination/not_examined/{index}/part"),
                    format!(
                        "`{}` stands among the examined parts too, it can be in one list only",
                        not.part.key()
                    ),
                    "take it out of `examined` or out of `not_examined`",
                );
            }
        }
        for (index, instrument) in examination.instruments.iter().enumerate() {
            let steps = [
                ("resolution", Some(&instrument.resolution)),
                ("limit_of_error", instrument.limit_of_error.as_ref()),
            ];
            for (name, step) in steps {
                if let Some(AsRead { text, unit }) = step
                    && !quantities::is_step(text, unit)
                {
                    self.add(
                        format!("/examination/instruments/{index}/{name}"),
                        format!(
                            "`{text}` found, a step or limit above zero with its unit is allowed"
                        ),
                        "write it like \"0.01 mm\" or \"0.1 g\"",
                    );
                }
            }
        }
    }

    /// No amount of money is below zero.
    fn money(&mut self, value: &Value, pointer: &str) {
        match value {
            Value::Object(members) => {
                let amount = members.get("amount").and_then(Value::as_str);
                if let Some(amount) = amount
                    .filter(|amount| amount.starts_with('-') && members.contains_key("currency"))
                {
                    self.add(
                        pointer,
                        format!("an amount of {amount} found, zero or more is allowed"),
                        "leave out the minus sign; who pays whom follows from the kind of the event",
                    );
                }
                for (name, member) in members {
                    self.money(member, &format!("{pointer}/{name}"));
                }
            }
            Value::Array(items) => {
                for (index, item) in items.iter().enumerate() {
                    self.money(item, &format!("{pointer}/{index}"));
                }
            }
            _ => {}
        }
    }
}
