//! The sentence a colleague would leave on the bench.

use tangmark_core::record::Sheet;
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_plugin::{FindingDraft, Level};

use tangmark_author::number;
use tangmark_author::words::counted;

use crate::ledger::Ledger;
use crate::rules;

/// Most cautions that the sentence names.
const NAMED: usize = 12;

/// Adds the recommendation, after every other rule.
pub(crate) fn write(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    let findings = ledger.findings();
    let stops: Vec<&FindingDraft> = findings
        .iter()
        .filter(|finding| finding.level == Level::Stop)
        .collect();
    let cautions: Vec<&FindingDraft> = findings
        .iter()
        .filter(|finding| finding.level == Level::Caution)
        .collect();
    let has = |family: &str| {
        stops
            .iter()
            .any(|finding| finding.rule.split('.').next() == Some(family))
    };
    let title = &sheet.blade.id;
    let mut sentences = vec![if has("importance") {
        format!(
            "Refer `{title}` to a senior specialist and do no work: {}.",
            reasons(&stops)
        )
    } else if has("fatal") {
        format!("Set `{title}` aside: {}.", reasons(&stops))
    } else if has("budget") {
        format!(
            "Set `{title}` down and take no more steel: {}.",
            reasons(&stops)
        )
    } else if stops.is_empty() {
        format!("Work on `{title}` can go on as the sheet stands: nothing here stops it.")
    } else {
        format!("Hold `{title}`: {}.", reasons(&stops))
    }];
    if !cautions.is_empty() {
        let lead = if stops.is_empty() {
            "Mind first"
        } else {
            "Also noted"
        };
        sentences.push(format!("{lead}: {}.", reasons(&cautions)));
    }
    let unjudged = ledger
        .unjudged()
        .filter(|(rule, _)| rule.starts_with("fatal."))
        .count();
    if unjudged > 0 {
        let lines = counted(unjudged, "line");
        sentences.push(format!("Not judged for want of a look or a number: {lines} on fatal flaws in the table of rules."));
    }
    let count = |name: &str, all: usize| {
        number(name, Estimate::exact(all as f64), Unit::One).map(|mut one| {
            one.value = all.to_string();
            one
        })
    };
    let numbers = [
        count("stops", stops.len()),
        count("cautions", cautions.len()),
    ]
    .into_iter()
    .flatten()
    .collect();
    let mut places: Vec<String> = stops
        .iter()
        .chain(&cautions)
        .flat_map(|finding| finding.evidence.clone())
        .collect();
    if places.is_empty() {
        places.push("/blade".to_owned());
    }
    ledger.find(
        "triage.recommendation",
        Level::Info,
        &sentences.join(" "),
        &places,
        numbers,
    );
}

/// Names findings by the titles of their rules, each once.
fn reasons(findings: &[&FindingDraft]) -> String {
    let mut names: Vec<String> = Vec::new();
    for finding in findings {
        let title = rules::find(&finding.rule)
            .map_or_else(|| finding.rule.clone(), |rule| lower_first(&rule.title));
        if !names.contains(&title) {
            names.push(title);
        }
    }
    if names.len() > NAMED {
        let more = names.len() - NAMED;
        names.truncate(NAMED);
        names.push(format!("{more} more"));
    }
    names.join("; ")
}

fn lower_first(title: &str) -> String {
    let mut letters = title.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}
