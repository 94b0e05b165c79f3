//! Asks the user's own rules of a sheet, and says what is wrong with the rules themselves.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use serde_json::Value;
use tangmark_author::words::list;
use tangmark_core::record::Flaw;
use tangmark_plugin::Level;

use super::answer::{Found, Truth, ask};
use super::condition::Condition;
use super::{OwnRule, review};
use crate::ladder;
use crate::ledger::Ledger;
use crate::settings::Settings;

/// Most things found that one message names.
const NAMED: usize = 6;

/// Asks every rule of the sheet, after a look at the rules themselves.
pub(crate) fn judge(own: &[OwnRule], sheet: &Value, settings: &Settings, ledger: &mut Ledger<'_>) {
    reviewed(own, ledger);
    for rule in own {
        let answer = ask(&rule.when, sheet, settings.near_share_of_limit);
        let of = |truth: Truth| -> Vec<&Found> {
            answer
                .found
                .iter()
                .filter(|one| one.truth == truth)
                .collect()
        };
        match answer.truth {
            Truth::Yes => fired(rule, &of(Truth::Yes), sheet, ledger),
            Truth::CannotTell => {
                let open = of(Truth::CannotTell);
                let missing: Vec<String> = open
                    .iter()
                    .filter(|one| one.missing)
                    .map(|one| one.text.clone())
                    .collect();
                if missing.is_empty() {
                    let text = format!("the measurement cannot tell: {}", texts(&open));
                    ledger.nearly(&rule.id, text, margins(&open));
                } else {
                    ledger.not_judged(&rule.id, list(&missing));
                }
            }
            Truth::Near => {
                let near = of(Truth::Near);
                ledger.nearly(&rule.id, texts(&near), margins(&near));
            }
            // Of a condition with several parts no single number tells how far it is from holding.
            Truth::No => {
                if let ([only], Condition::Field { .. }) = (answer.found.as_slice(), &rule.when)
                    && only.number.is_some()
                {
                    ledger.clear(&rule.id, only.text.as_str(), only.margin.as_str());
                }
            }
        }
    }
}

fn texts(found: &[&Found]) -> String {
    let all: Vec<&str> = found
        .iter()
        .take(NAMED)
        .map(|one| one.text.as_str())
        .collect();
    let more = found.len().saturating_sub(NAMED);
    if more == 0 {
        all.join("; ")
    } else {
        format!("{}; {more} more", all.join("; "))
    }
}

fn margins(found: &[&Found]) -> String {
    let all: Vec<&str> = found
        .iter()
        .map(|one| one.margin.as_str())
        .filter(|margin| !margin.is_empty())
        .take(NAMED)
        .collect();
    all.join("; ")
}

fn fired(rule: &OwnRule, found: &[&Found], sheet: &Value, ledger: &mut Ledger<'_>) {
    let mut text = format!("By the workshop's own rule `{}`: {}.", rule.id, rule.reason);
    if !found.is_empty() {
        // Writing to a text cannot fail.
        let _ = write!(text, " Found: {}.", texts(found));
    }
    if let Some(settle) = &rule.settle {
        let _ = write!(text, " What settles it: {settle}.");
    }
    if let Some(source) = &rule.source {
        let _ = write!(text, " Source: {source}.");
    }
    if rule.described.starts_with("fatal.") {
        let looks = looks(found, sheet);
        if !looks.is_empty() {
            let _ = write!(text, " Looks: {}.", looks.join("; "));
        }
    }
    let places: Vec<String> = found.iter().map(|one| one.place.clone()).collect();
    let numbers = found.iter().filter_map(|one| one.number.clone()).collect();
    ledger.find(&rule.described, rule.level, &text, &places, numbers);
    ledger.called(&rule.id);
    ledger.by(margins(found));
}

/// What the looks at the flaws found are worth, each flaw once.
fn looks(found: &[&Found], sheet: &Value) -> Vec<String> {
    let places: BTreeSet<usize> = found
        .iter()
        .filter_map(|one| {
            let rest = one.place.strip_prefix("/flaws/")?;
            rest.split('/').next()?.parse().ok()
        })
        .collect();
    let flaws = places.iter().filter_map(|place| {
        let flaw = sheet.pointer(&format!("/flaws/{place}"))?;
        serde_json::from_value::<Flaw>(flaw.clone()).ok()
    });
    flaws.take(NAMED).map(|flaw| ladder::next(&flaw)).collect()
}

/// Says which rules can never hold, and which contradict each other.
fn reviewed(own: &[OwnRule], ledger: &mut Ledger<'_>) {
    for rule in own {
        if let Some(why) = review::never(&rule.when) {
            let text = format!(
                "The workshop's own rule `{}` can never hold: {why}. Correct its `when` in the settings of triage.",
                rule.id
            );
            ledger.find(
                "user.rules-unreachable",
                Level::Caution,
                &text,
                &[String::new()],
                Vec::new(),
            );
        }
    }
    let canonical: Vec<String> = own
        .iter()
        .map(|rule| review::canonical(&rule.when))
        .collect();
    for (index, rule) in own.iter().enumerate() {
        for (other, _) in own
            .iter()
            .zip(&canonical)
            .take(index)
            .filter(|(_, text)| **text == canonical[index])
        {
            let text = if rule.level == other.level {
                format!(
                    "The workshop's own rules `{}` and `{}` ask the same: one is enough.",
                    other.id, rule.id
                )
            } else {
                format!(
                    "The workshop's own rules `{}` ({}) and `{}` ({}) ask the same and weigh it differently: the heavier one holds; take \
                     one of them out of the settings of triage.",
                    other.id,
                    word(other.level),
                    rule.id,
                    word(rule.level)
                )
            };
            ledger.find(
                "user.rules-conflict",
                Level::Caution,
                &text,
                &[String::new()],
                Vec::new(),
            );
        }
    }
}

const fn word(level: Level) -> &'static str {
    match level {
        Level::Info => "info",
        Level::Caution => "caution",
        Level::Stop => "stop",
    }
}
