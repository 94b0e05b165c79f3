//! What stands in the way of receiving a package, in words.

use std::collections::BTreeMap;

use serde::Serialize;
use tangmark_package::judge::PackageVerdict;
use tangmark_trust::verdict::Weight;

use crate::rerender::Pages;

/// Most things that are named at once.
const MOST: usize = 5;

/// A part of the package: what it is, its weight, its state, and why.
pub(super) struct Part {
    pub(super) what: String,
    pub(super) weight: Weight,
    pub(super) state: String,
    reason: Option<String>,
}

/// The word of a state, as the package page has it.
fn word(state: &impl Serialize) -> String {
    match serde_json::to_value(state) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

macro_rules! part {
    ($parts:ident, $what:expr, $state:expr, $reason:expr) => {
        $parts.push(Part {
            what: $what.to_string(),
            weight: $state.weight(),
            state: word(&$state),
            reason: $reason,
        })
    };
}

/// Every part that has a state, in the order in which people look at it.
pub(super) fn parts(verdict: &PackageVerdict) -> Vec<Part> {
    let mut parts = Vec::new();
    let bag = &verdict.bag;
    for (files, weight, state) in [
        (&bag.changed, Weight::Rejected, "changed"),
        (&bag.missing, Weight::CannotBeChecked, "missing"),
        (&bag.unlisted, Weight::ToBeConfirmed, "unlisted"),
    ] {
        parts.extend(files.iter().map(|file| Part {
            what: file.clone(),
            weight,
            state: state.to_owned(),
            reason: None,
        }));
    }
    for (file, one) in &verdict.records {
        part!(parts, file, one.state, one.reasons.first().cloned());
        if let Some(standing) = one.standing {
            part!(parts, file, standing, None);
        }
    }
    part!(
        parts,
        "chain",
        verdict.chain.state,
        verdict.chain.reason.clone()
    );
    for (file, one) in &verdict.disclosures {
        part!(parts, file, one.state, one.reason.clone());
    }
    for (file, one) in &verdict.photos {
        part!(parts, file, one.state, None);
    }
    for (file, one) in &verdict.reports {
        part!(parts, file, one.state, one.reasons.first().cloned());
    }
    for (file, one) in &verdict.keys {
        part!(parts, file, one.state, one.reason.clone());
    }
    for (file, one) in &verdict.timestamps {
        part!(parts, file, one.state, one.reason.clone());
    }
    if let Some(schema) = verdict.schema {
        part!(parts, "schema", schema, None);
    }
    part!(parts, "data/verify.html", verdict.page, None);
    for (file, one) in &verdict.aids {
        part!(parts, file, one.state, None);
    }
    for file in &verdict.withdrawals {
        parts.push(Part {
            what: file.clone(),
            weight: Weight::ToBeConfirmed,
            state: "withdraws another record".to_owned(),
            reason: None,
        });
    }
    parts
}

fn lines(parts: impl Iterator<Item = Part>) -> Vec<String> {
    let lines = parts.map(|part| match part.reason {
        None => format!("{}: {}", part.what, part.state),
        Some(reason) => format!("{}: {}: {reason}", part.what, part.state),
    });
    lines.collect()
}

/// The reports whose pages have that weight, with why.
pub(crate) fn pages(pages: &BTreeMap<String, Pages>, weight: Weight) -> Vec<String> {
    let of_weight = pages.iter().filter(|(_, one)| one.weight() == weight);
    of_weight
        .map(|(file, one)| format!("pages of {file}: {one}"))
        .collect()
}

/// Why a package is not taken in: what is rejected or cannot be checked, the first things.
pub(crate) fn rejected(verdict: &PackageVerdict) -> Vec<String> {
    let barred = parts(verdict)
        .into_iter()
        .filter(|part| matches!(part.weight, Weight::Rejected | Weight::CannotBeChecked));
    let mut found = lines(barred);
    if let Some(subject) = &verdict.subject {
        let line = &subject.verdict;
        if matches!(line.exit_code(), 1 | 3) {
            found.push(format!(
                "{}: bytes {}; signer {}",
                subject.file, line.bytes, line.signer
            ));
        }
    }
    let more = found.len().saturating_sub(MOST);
    found.truncate(MOST);
    if more > 0 {
        found.push(format!("and {more} more"));
    }
    found
}

/// What is not rejected and has to be looked at all the same.
pub(crate) fn to_be_confirmed(verdict: &PackageVerdict) -> Vec<String> {
    let open = parts(verdict)
        .into_iter()
        .filter(|part| part.weight == Weight::ToBeConfirmed);
    lines(open)
}
