//! Rules that a schema cannot state: references, order, recomputed values, consistency.

mod along;
mod consistency;
mod quantities;
mod wording;

use std::collections::BTreeSet;

use jsonschema::Validator;
use serde::Serialize;
use serde_json::Value;

use crate::record::withhold;
use crate::record::{Record, SCHEMA_ID, SCHEMA_VERSION, Sheet};
use crate::schema;
use wording::RECORD_HINT;
pub(crate) use wording::{Form, nearest};

/// Most problems listed at once.
const MOST_PROBLEMS: usize = 50;

/// One problem of a sheet or record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// JSON Pointer (RFC 6901) to the value.
    pub pointer: String,
    /// What was found against what is allowed.
    pub what: String,
    /// The next step.
    pub hint: String,
}

impl Problem {
    pub(crate) fn new(
        pointer: impl Into<String>,
        what: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            pointer: pointer.into(),
            what: what.into(),
            hint: hint.into(),
        }
    }
}

/// Validates `value` against a schema, in this tool's own words.
pub(crate) fn against_schema(
    validator: Option<&Validator>,
    value: &Value,
    form: Form,
) -> Vec<Problem> {
    let Some(validator) = validator else {
        let hint = "report this as a fault of the program";
        return vec![Problem::new(
            "",
            "the built-in schema could not be compiled",
            hint,
        )];
    };
    let mut found: Vec<(u8, Problem)> = validator
        .iter_errors(value)
        .take(MOST_PROBLEMS)
        .map(|error| (wording::rank(&error), wording::problem(&error, form)))
        .collect();
    // One wrong value breaks several keywords of the schema; the most telling one is enough.
    found.sort_by(|(rank, a), (other, b)| a.pointer.cmp(&b.pointer).then(rank.cmp(other)));
    found.dedup_by(|(_, later), (_, first)| {
        later.pointer == first.pointer && !later.pointer.is_empty()
    });
    found.into_iter().map(|(_, problem)| problem).collect()
}

/// Turns a JSON value into a type, with the place of what does not fit: what a pattern of the schema lets through.
pub(crate) fn typed<T: serde::de::DeserializeOwned>(
    value: &Value,
    form: Form,
) -> Result<T, Problem> {
    serde_path_to_error::deserialize(value).map_err(|error| {
        let pointer = format!(
            "/{}",
            error
                .path()
                .to_string()
                .replace(['.', '['], "/")
                .replace(']', "")
        );
        let hint = form.hint("correct the text; `tangmark examine new` writes a template");
        Problem::new(pointer, error.inner().to_string(), hint)
    })
}

/// Checks the meaning of a sheet.
pub fn sheet(sheet: &Sheet) -> Vec<Problem> {
    let mut problems = Vec::new();
    consistency::check(sheet, &mut problems);
    if let Ok(value) = sheet.to_json() {
        quantities::check(&value, "", &mut problems);
    }
    problems
}

/// Checks the form and meaning of a record, proof aside: schema, recomputed values, references, withheld counts.
///
/// `value` is the record as received. The signature is not looked at.
pub fn record(value: &Value) -> Result<Record, Vec<Problem>> {
    let problems = against_schema(schema::record_validator(), value, Form::Record);
    if !problems.is_empty() {
        return Err(problems);
    }
    let record: Record = typed(value, Form::Record).map_err(|problem| vec![problem])?;
    let mut problems = sheet(&record.sheet());
    for problem in &mut problems {
        RECORD_HINT.clone_into(&mut problem.hint);
    }
    header(&record, &mut problems);
    withheld_counts(value, &mut problems);
    evidence(&record, value, &mut problems);
    if problems.is_empty() {
        Ok(record)
    } else {
        Err(problems)
    }
}

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

fn evidence(record: &Record, value: &Value, problems: &mut Vec<Problem>) {
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
            if list == "findings" && withhold::speaks_of_money(&finding.rule) {
                problems.push(Problem::new(
                    format!("/{list}/{index}/rule"),
                    format!(
                        "the rule `{}` found among public findings; rules that speak of money stand in `private_findings`",
                        finding.rule
                    ),
                    "the issuer showed a price by mistake: ask for a corrected record",
                ));
            }
            for (at, pointer) in finding.evidence.iter().enumerate() {
                if list == "findings" && value.pointer(pointer).is_none() {
                    problems.push(Problem::new(
                        format!("/{list}/{index}/evidence/{at}"),
                        format!("`{pointer}` found, which points at nothing in this record"),
                        "what the finding rests on was taken out or moved: ask the issuer for the sealed file",
                    ));
                }
            }
        }
    }
}
