//! `schemas/verdicts.md`: its tables are made from the lines themselves. `BLESS=1` writes them anew.

use std::fmt::{Display, Write as _};
use std::fs;
use std::path::Path;

use serde::Serialize;

use super::examples::{self, Example, nothing_open};
use super::*;

/// The last step is the same for every intact file and stands in the page once.
const ALWAYS: &str =
    "hold the blade against what the record says of it; a signature says nothing about the steel";

/// A table of one of the four lines: state, sentence, meaning, next step, exit code when nothing else is open.
fn table<T: Display + Serialize>(
    examples: Vec<Example<T>>,
    put: impl Fn(&mut Verdict, T),
) -> String {
    let mut table = String::from(
        "| state | sentence | what it means to you | next step | exit |\n|---|---|---|---|---|\n",
    );
    for Example { meaning, line } in examples {
        let state = serde_json::to_value(&line).unwrap();
        let state = match (
            state["state"].as_str(),
            state["when"].as_str(),
            state["standing"].as_str(),
        ) {
            (Some(state), Some(when), _) => format!("`{state}`, `{when}`"),
            (Some(state), _, Some(standing)) => format!("`{state}`, `{standing}`"),
            (Some(state), ..) => format!("`{state}`"),
            _ => "–".to_owned(),
        };
        let sentence = line.to_string();
        let mut verdict = nothing_open();
        put(&mut verdict, line);
        let steps: Vec<String> = verdict
            .next_steps()
            .into_iter()
            .filter(|step| step != ALWAYS)
            .collect();
        let steps = if steps.is_empty() {
            "–".to_owned()
        } else {
            steps.join("; ")
        };
        writeln!(
            table,
            "| {state} | {sentence} | {meaning} | {steps} | {} |",
            verdict.exit_code()
        )
        .unwrap();
    }
    table
}

#[test]
fn the_page_of_verdicts_is_made_from_the_lines() {
    let parts = [
        (
            "bytes",
            table(examples::bytes(), |verdict, line| verdict.bytes = line),
        ),
        (
            "signer",
            table(examples::signers(), |verdict, line| verdict.signer = line),
        ),
        (
            "time",
            table(examples::times(), |verdict, line| verdict.time = line),
        ),
        (
            "completeness",
            table(examples::completeness(), |verdict, line| {
                verdict.completeness = line;
            }),
        ),
    ];
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../schemas/verdicts.md");
    let found = fs::read_to_string(&path).unwrap();
    let mut wanted = found.clone();
    for (part, table) in parts {
        let (start, end) = (
            format!("<!-- {part}: made from the types -->\n"),
            format!("<!-- {part}: end -->"),
        );
        let (before, rest) = wanted.split_once(&start).unwrap();
        let (_, after) = rest.split_once(&end).unwrap();
        wanted = format!("{before}{start}{table}{end}{after}");
    }
    assert!(wanted.contains(ALWAYS), "the step that is always there");
    if std::env::var_os("BLESS").is_some() {
        fs::write(&path, &wanted).unwrap();
    }
    assert!(
        found == wanted || std::env::var_os("BLESS").is_some(),
        "schemas/verdicts.md is not what the lines give: run with BLESS=1 and read the difference"
    );
}

/// Every state has a row: a new one that nobody explained does not pass.
#[test]
fn every_state_of_the_signer_is_explained() {
    let mut states: Vec<String> = examples::signers()
        .iter()
        .map(|example| {
            serde_json::to_value(&example.line).unwrap()["state"]
                .as_str()
                .unwrap()
                .to_owned()
        })
        .collect();
    states.dedup();
    assert_eq!(
        states,
        [
            "own",
            "known",
            "succeeded",
            "recovered",
            "new",
            "other_key_for_name",
            "other_name_for_key",
            "not_in_force",
            "revoked",
            "revoked_unproved",
            "two_histories",
            "cannot_judge"
        ]
    );
}
