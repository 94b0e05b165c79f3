//! Rules that a schema cannot state: references, order, recomputed values, consistency.

mod consistency;
mod wording;

use std::collections::BTreeSet;

use jsonschema::Validator;
use serde::Serialize;
use serde_json::Value;

use crate::record::withhold;
use crate::record::{Quantity, Record, SCHEMA_ID, SCHEMA_VERSION, Sheet};
use crate::schema;

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
pub(crate) fn against_schema(validator: Option<&Validator>, value: &Value) -> Vec<Problem> {
    let Some(validator) = validator else {
        return vec![Problem::new(
            "",
            "the built-in schema could not be compiled",
            "report this as a fault of the program",
        )];
    };
    validator
        .iter_errors(value)
        .take(50)
        .map(|error| wording::problem(&error))
        .collect()
}

/// Checks the meaning of a sheet.
pub fn sheet(sheet: &Sheet) -> Vec<Problem> {
    let mut problems = Vec::new();
    consistency::check(sheet, &mut problems);
    if let Ok(value) = serde_json::to_value(sheet) {
        quantities(&value, "", &mut problems);
    }
    problems
}

/// Checks the form and meaning of a record, proof aside: schema, recomputed values, references, withheld counts.
///
/// `value` is the record as received. The signature is not looked at.
pub fn record(value: &Value) -> Result<Record, Vec<Problem>> {
    let problems = against_schema(schema::record_validator(), value);
    if !problems.is_empty() {
        return Err(problems);
    }
    let record: Record = serde_json::from_value(value.clone()).map_err(|error| {
        vec![Problem::new(
            "",
            error.to_string(),
            "the record was not written by this schema version",
        )]
    })?;
    let mut problems = sheet(&record.sheet());
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
    let schema = &record.schema;
    if schema.id != SCHEMA_ID || schema.version != SCHEMA_VERSION {
        problems.push(Problem::new(
            "/schema",
            format!(
                "schema `{}` version {} found, `{SCHEMA_ID}` version {SCHEMA_VERSION} is known",
                schema.id, schema.version
            ),
            "use a program that knows this version",
        ));
    } else if schema.digest != schema::record_digest() {
        problems.push(Problem::new(
            "/schema/digest",
            format!(
                "digest {} found, the published schema has {}",
                schema.digest,
                schema::record_digest()
            ),
            "compare with the published schema file",
        ));
    }
    if (record.sequence == 1) != record.previous.is_none() {
        let found = if record.previous.is_some() {
            "a digest"
        } else {
            "null"
        };
        problems.push(Problem::new(
            "/previous",
            format!("{found} found with sequence {}; null belongs to sequence 1 and a digest to all later ones", record.sequence),
            "the chain was cut or renumbered",
        ));
    }
    if record
        .proof
        .as_ref()
        .is_some_and(|proof| proof.created != record.issued_at)
    {
        problems.push(Problem::new(
            "/proof/created",
            "differs from `issued_at`",
            "both are written at sealing and are equal",
        ));
    }
    for (index, under) in record.worked_under_hold.iter().enumerate() {
        if !record.passes.iter().any(|pass| pass.id == under.pass) {
            problems.push(Problem::new(
                format!("/worked_under_hold/{index}/pass"),
                format!("pass `{}` is not in this record", under.pass),
                "the line names a pass of `passes`",
            ));
        }
    }
}

/// Every object that may withhold has as many digests as withholdable properties, or shows or lacks all of them.
fn withheld_counts(value: &Value, problems: &mut Vec<Problem>) {
    let mut any = false;
    for rule in withhold::RULES {
        each_match(value, rule.object, "", &mut |object, pointer| {
            let digests = object
                .get("_sd")
                .and_then(Value::as_array)
                .map_or(0, Vec::len);
            any |= digests > 0;
            if digests != 0 && digests != rule.properties.len() {
                problems.push(Problem::new(
                    format!("{pointer}/_sd"),
                    format!(
                        "{digests} digests found, {} are allowed here",
                        rule.properties.len()
                    ),
                    "digests and decoys are made at sealing",
                ));
            }
        });
    }
    if any != value.get("_sd_alg").is_some() {
        problems.push(Problem::new(
            "/_sd_alg",
            "stands exactly where digests stand",
            "made at sealing: `sha-256`",
        ));
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
                    format!("plugin `{}` is not in `runs`", finding.plugin),
                    "every finding names the run it came from",
                ));
            }
            for (at, pointer) in finding.evidence.iter().enumerate() {
                if list == "findings" && value.pointer(pointer).is_none() {
                    problems.push(Problem::new(
                        format!("/{list}/{index}/evidence/{at}"),
                        format!("`{pointer}` points at nothing in the record"),
                        "evidence is a JSON Pointer into the record",
                    ));
                }
            }
        }
    }
}

/// Recomputes every quantity from what was read.
fn quantities(value: &Value, pointer: &str, problems: &mut Vec<Problem>) {
    match value {
        Value::Object(members) if members.get("as_read").is_some_and(Value::is_array) => {
            let Ok(quantity) = serde_json::from_value::<Quantity>(value.clone()) else {
                return;
            };
            let canonical = quantity.unit.dimension().canonical_unit();
            if quantity.unit != canonical {
                let what = format!(
                    "unit `{}` found, `{}` is allowed",
                    quantity.unit.code(),
                    canonical.code()
                );
                problems.push(Problem::new(
                    format!("{pointer}/unit"),
                    what,
                    "records hold one unit for each kind of quantity",
                ));
            }
            if quantity.standard_uncertainty.is_zero()
                || quantity.standard_uncertainty.is_negative()
            {
                problems.push(Problem::new(
                    format!("{pointer}/standard_uncertainty"),
                    format!(
                        "`{}` found, more than zero is allowed",
                        quantity.standard_uncertainty
                    ),
                    "give the standard uncertainty (k = 1)",
                ));
            }
            match quantity.recomputed() {
                Some(value) if value == quantity.value => {}
                Some(value) => problems.push(Problem::new(
                    format!("{pointer}/value"),
                    format!(
                        "`{}` {} found, but what was read gives `{value}`",
                        quantity.value,
                        quantity.unit.code()
                    ),
                    "value and reading belong together: leave `value` to the program",
                )),
                None => problems.push(Problem::new(
                    format!("{pointer}/as_read"),
                    "a reading that cannot be understood in its unit",
                    "write it like \"70.15 cm\"",
                )),
            }
        }
        Value::Object(members) => {
            for (name, member) in members {
                quantities(member, &format!("{pointer}/{name}"), problems);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                quantities(item, &format!("{pointer}/{index}"), problems);
            }
        }
        _ => {}
    }
}
