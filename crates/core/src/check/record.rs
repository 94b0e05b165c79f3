//! Rules of sealed records. What makes a record invalid is the schema and what stands here and in `lasting`; all of it is
//! listed on record-format.md ("What makes a record invalid").

use std::collections::BTreeSet;

use serde_json::Value;

use super::wording::{Form, RECORD_HINT};
use super::{Problem, against_schema, consistency, lasting, typed};
use crate::record::withhold;
use crate::record::{Record, SCHEMA_ID, SCHEMA_VERSION};
use crate::{Digest, input, schema};

const PRICE_HINT: &str = "the issuer showed a price by mistake: ask for a corrected record";

/// Judges a sealed record, proof aside: its schema and the rules of record-format.md.
///
/// `value` is the record as received. The signature is not looked at.
pub fn record(value: &Value) -> Result<Record, Vec<Problem>> {
    let record = opened(value)?;
    let mut problems = Vec::new();
    inputs(&record, value, &mut problems);
    settled(record, problems)
}

/// Judges a record whose withheld values were put back, as [`record`] does, but for `runs[].input`: that is a digest of
/// the record as sealed.
pub fn opened(value: &Value) -> Result<Record, Vec<Problem>> {
    let problems = against_schema(schema::record_validator(), value, Form::Record);
    if !problems.is_empty() {
        return Err(problems);
    }
    let record: Record = typed(value, Form::Record).map_err(|problem| vec![problem])?;
    let mut problems = Vec::new();
    lasting::check(value, &mut problems);
    for problem in &mut problems {
        RECORD_HINT.clone_into(&mut problem.hint);
    }
    header(&record, &mut problems);
    withheld_counts(value, &mut problems);
    findings(&record, value, &mut problems);
    money_in_runs(&record, &mut problems);
    settled(record, problems)
}

/// Checks a record that is about to be sealed: all that [`record`] asks for, and the rules of sheets.
pub fn to_seal(value: &Value) -> Result<Record, Vec<Problem>> {
    let record = record(value)?;
    let sheet = record.sheet();
    let mut problems = Vec::new();
    if let Ok(value) = sheet.to_json() {
        consistency::check(&sheet, &value, &mut problems);
    }
    settled(record, problems)
}

fn settled(record: Record, problems: Vec<Problem>) -> Result<Record, Vec<Problem>> {
    if problems.is_empty() {
        Ok(record)
    } else {
        Err(problems)
    }
}

/// What the head of a record says, against the rest of it.
fn header(record: &Record, problems: &mut Vec<Problem>) {
    let mut add = |pointer: String, what: String, hint: &str| {
        problems.push(Problem::new(pointer, what, hint));
    };
    let schema = &record.schema;
    if schema.id != SCHEMA_ID || schema.version != SCHEMA_VERSION {
        add(
            "/schema".to_owned(),
            format!(
                "schema `{}` version {} found, `{SCHEMA_ID}` version {SCHEMA_VERSION} is known here",
                schema.id, schema.version
            ),
            "read it with a release of the program that knows this version",
        );
    } else if schema.digest != schema::record_digest() {
        add(
            "/schema/digest".to_owned(),
            format!(
                "{} found, the published schema of version {SCHEMA_VERSION} has {}",
                schema.digest,
                schema::record_digest()
            ),
            "the record was made with another schema file: ask the issuer which, and do not rely on what its fields mean",
        );
    }
    if (record.sequence == 1) != record.previous.is_none() {
        let found = if record.previous.is_some() {
            "a digest"
        } else {
            "null"
        };
        add(
            "/previous".to_owned(),
            format!(
                "{found} found with sequence {}, null is allowed with sequence 1 and a digest with all later ones",
                record.sequence
            ),
            "the chain was cut or renumbered: ask the issuer for the sealed files of this blade",
        );
    }
    if let Some(proof) = &record.proof
        && proof.created != record.issued_at
    {
        add(
            "/proof/created".to_owned(),
            format!(
                "{} found, the same as `issued_at` is allowed, which is {}",
                proof.created, record.issued_at
            ),
            RECORD_HINT,
        );
    }
    for (index, under) in record.worked_under_hold.iter().enumerate() {
        if !record.passes.iter().any(|pass| pass.id == under.pass) {
            add(
                format!("/worked_under_hold/{index}/pass"),
                format!("the pass `{}` found, which is not in `passes`", under.pass),
                "a pass made under a hold was taken out of the record: ask the issuer why",
            );
        }
    }
}

/// Every object that may withhold has as many digests as withholdable properties, or none; they ascend, and none stands
/// twice in the record.
fn withheld_counts(value: &Value, problems: &mut Vec<Problem>) {
    let mut any = false;
    let mut seen = BTreeSet::new();
    for rule in withhold::RULES {
        each_match(value, rule.object, "", &mut |object, pointer| {
            let list = object.get("_sd").and_then(Value::as_array);
            let texts: Vec<&str> = list
                .into_iter()
                .flatten()
                .filter_map(Value::as_str)
                .collect();
            let digests = list.map_or(0, Vec::len);
            any |= digests > 0;
            let mut wrong = |what: String| {
                problems.push(Problem::new(format!("{pointer}/_sd"), what, RECORD_HINT));
            };
            if digests != 0 && digests != rule.properties.len() {
                wrong(format!(
                    "{digests} digests found, {} or no `_sd` at all is allowed here",
                    rule.properties.len()
                ));
            }
            if !texts.is_sorted() {
                wrong("digests in another order than ascending, only that is allowed".to_owned());
            }
            if texts.iter().any(|text| !seen.insert((*text).to_owned())) {
                wrong("a digest that stands twice in the record, each is allowed once".to_owned());
            }
        });
    }
    if any != value.get("_sd_alg").is_some() {
        let what = if any {
            "`_sd_alg` is missing though values are withheld"
        } else {
            "`_sd_alg` found though nothing is withheld"
        };
        problems.push(Problem::new("/_sd_alg", what, RECORD_HINT));
    }
}

/// Calls `visit` for every object that a withhold pattern names.
pub fn each_match<'v>(
    value: &'v Value,
    pattern: &str,
    pointer: &str,
    visit: &mut dyn FnMut(&'v Value, &str),
) {
    let Some(rest) = pattern.strip_prefix('/') else {
        if value.is_object() {
            visit(value, pointer);
        }
        return;
    };
    let (head, tail) = rest.find('/').map_or((rest, ""), |at| rest.split_at(at));
    if head == "*" {
        for (index, item) in value.as_array().into_iter().flatten().enumerate() {
            each_match(item, tail, &format!("{pointer}/{index}"), visit);
        }
    } else if let Some(inner) = value.get(head) {
        each_match(inner, tail, &format!("{pointer}/{head}"), visit);
    }
}

/// Where findings come from and what they rest on.
fn findings(record: &Record, value: &Value, problems: &mut Vec<Problem>) {
    let plugins: BTreeSet<&str> = record
        .runs
        .iter()
        .map(|run| run.plugin.as_str())
        .chain(["tangmark"])
        .collect();
    let lists = [
        ("findings", &record.findings),
        ("private_findings", &record.private_findings),
    ];
    for (list, findings) in lists {
        for (index, finding) in findings.iter().enumerate() {
            if !plugins.contains(finding.plugin.as_str()) {
                problems.push(Problem::new(
                    format!("/{list}/{index}/plugin"),
                    format!(
                        "the plugin `{}` found, which is not in `runs`",
                        finding.plugin
                    ),
                    "nobody can tell which file judged: ask the issuer for the sealed file",
                ));
            }
        }
    }
    // A private finding may rest on a withheld value, which is not there for every reader.
    for (index, finding) in record.findings.iter().enumerate() {
        if withhold::speaks_of_money(&finding.rule) {
            problems.push(Problem::new(
                format!("/findings/{index}/rule"),
                format!(
                    "the rule `{}` found among public findings; rules that speak of money stand in `private_findings`",
                    finding.rule
                ),
                PRICE_HINT,
            ));
        }
        for (at, pointer) in finding.evidence.iter().enumerate() {
            if value.pointer(pointer).is_none() {
                problems.push(Problem::new(
                    format!("/findings/{index}/evidence/{at}"),
                    format!("`{pointer}` found, which points at nothing in this record"),
                    "what the finding rests on was taken out or moved: ask the issuer for the sealed file",
                ));
            }
        }
    }
}

/// No number, table, series or column of a run speaks of money.
fn money_in_runs(record: &Record, problems: &mut Vec<Problem>) {
    let mut look = |pointer: String, what: &str, name: &str| {
        if withhold::speaks_of_money(name) {
            problems.push(Problem::new(
                pointer,
                format!(
                    "{what} `{name}` found in a run, where none that speaks of money may stand"
                ),
                PRICE_HINT,
            ));
        }
    };
    for (index, run) in record.runs.iter().enumerate() {
        for (at, number) in run.quantities.iter().enumerate() {
            let pointer = format!("/runs/{index}/quantities/{at}/name");
            look(pointer, "the number", &number.name);
        }
        for (at, artefact) in run.artefacts.iter().enumerate() {
            let pointer = format!("/runs/{index}/artefacts/{at}");
            look(
                format!("{pointer}/title"),
                "the table or series",
                &artefact.title,
            );
            for (place, column) in artefact.columns.iter().enumerate() {
                let pointer = format!("{pointer}/columns/{place}/name");
                look(pointer, "the column", &column.name);
            }
        }
    }
}

/// The plugins were asked about what stands in the record. From the third record on that needs the names of all earlier
/// ones, which one file does not hold.
fn inputs(record: &Record, value: &Value, problems: &mut Vec<Problem>) {
    if record.sequence > 2 || record.runs.is_empty() {
        return;
    }
    let earlier: Vec<Digest> = record.previous.into_iter().collect();
    let sections = value.as_object().map(input::sections).unwrap_or_default();
    let Ok(asked) = input::digest(sections, &earlier, record.issued_at.as_str()) else {
        return;
    };
    for (index, run) in record.runs.iter().enumerate() {
        if run.input != asked {
            problems.push(Problem::new(
                format!("/runs/{index}/input"),
                format!(
                    "{} found, but what this record says makes {asked}",
                    run.input
                ),
                "the plugin was asked about something else: ask the issuer for the sealed file",
            ));
        }
    }
}
