//! The main facts of a record that must stand among the words of its pages, whoever set them.
//!
//! Words are compared without spaces and line ends, which other programs set otherwise. That a fact is found says
//! little: it may stand beside a false one. That it is not found is worth a look.

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::json::{self, Limits};
use tangmark_core::record::Level;
use tangmark_report::Kind;
use tangmark_report::font::drawable;
use tangmark_trust::proof;

use super::{Received, squeezed};

/// Says which facts are not found.
pub(super) fn not_found(received: &Received<'_>) -> Vec<String> {
    let words = received.words();
    let has = |fact: &str| words.contains(&squeezed(&drawable(fact).text));
    let mut missing = Vec::new();
    let mut expect = |what: String, found: bool| {
        if !found {
            missing.push(what);
        }
    };
    let record = &received.shown;
    expect("title of the blade".to_owned(), has(&record.blade.title));
    if let Some(name) = name(received) {
        expect("name of the record".to_owned(), has(&name.to_string()));
    }
    // Other kinds show a part of the record, and not all of them the same part.
    let whole = received.titled().any(|one| one.kind.0 == Kind::Condition);
    if !whole {
        return missing;
    }
    for (key, spellings) in dimensions(received) {
        let found = spellings.iter().any(|spelling| has(spelling));
        expect(format!("dimension `{key}`"), found);
    }
    for flaw in &record.flaws {
        expect(format!("flaw `{}`", flaw.id), has(&flaw.id.to_string()));
    }
    if let Some(decision) = &record.decision {
        expect("reason of the decision".to_owned(), has(&decision.reason));
    }
    for finding in &record.findings {
        if finding.level == Level::Stop {
            expect(format!("stop of `{}`", finding.rule), has(&finding.message));
        }
    }
    missing
}

fn name(received: &Received<'_>) -> Option<Digest> {
    proof::record_digest(&value(received)?).ok()
}

fn value(received: &Received<'_>) -> Option<Value> {
    json::read_value(received.record_bytes, &Limits::default()).ok()
}

/// The single dimensions, each with the spellings in which a page may give it: its value, with fewer digits, or as read.
fn dimensions(received: &Received<'_>) -> Vec<(String, Vec<String>)> {
    let value = value(received);
    let members = value
        .as_ref()
        .and_then(|value| value.pointer("/dimensions"))
        .and_then(Value::as_object);
    let mut found = Vec::new();
    for (key, quantity) in members.into_iter().flatten() {
        let Some(number) = quantity.get("value").and_then(Value::as_str) else {
            continue;
        };
        let mut spellings: Vec<String> = shorter(number);
        let read = quantity.get("as_read").and_then(Value::as_array);
        let texts = read.into_iter().flatten().filter_map(|one| one.get("text"));
        spellings.extend(texts.filter_map(Value::as_str).map(str::to_owned));
        found.push((key.clone(), spellings));
    }
    found
}

/// A decimal and what it is rounded to fewer digits after the point; without any digit there the sign of its uncertainty
/// has to follow, since three digits stand in many a digest.
fn shorter(number: &str) -> Vec<String> {
    let decimals = number.split_once('.').map_or(0, |(_, part)| part.len());
    let value: f64 = number.parse().unwrap_or(0.0);
    let mut spellings = vec![number.to_owned(), format!("{value:.0}±")];
    spellings.extend((1..decimals).map(|kept| format!("{value:.kept$}")));
    spellings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_may_be_given_with_fewer_digits() {
        assert_eq!(shorter("703.5"), ["703.5", "704±"]);
        assert_eq!(shorter("698.17"), ["698.17", "698±", "698.2"]);
        assert_eq!(shorter("700"), ["700", "700±"]);
        assert_eq!(squeezed("a b\n\u{a0}c"), "abc");
    }
}
