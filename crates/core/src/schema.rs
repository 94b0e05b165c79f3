//! The published JSON Schema: generated from the types, compiled in as a file, used to validate.

use std::sync::OnceLock;

use jsonschema::Validator;
use schemars::{JsonSchema, generate::SchemaSettings};
use serde_json::{Map, Value, json};

use crate::Digest;
use crate::record::{Record, Sheet};

/// The schema file of record version 1, as published. Its digest stands in every record.
pub const RECORD_V1: &str = include_str!("../../../schemas/tangmark-record-1.schema.json");

/// Returns the digest of the published schema file.
pub fn record_digest() -> Digest {
    static DIGEST: OnceLock<Digest> = OnceLock::new();
    *DIGEST.get_or_init(|| Digest::of(RECORD_V1.as_bytes()))
}

/// Generates the schema file from the types (Draft 2020-12), pretty-printed with a final newline.
pub fn generate_record() -> String {
    let mut schema = generate::<Record>();
    if let Some(object) = schema.as_object_mut() {
        object.insert("$id".to_owned(), json!("urn:tangmark:record:1"));
        object.insert("title".to_owned(), json!("Tangmark record, version 1"));
        // A record lacks its proof only while it is being made; what is published has one.
        if let Some(Value::Array(required)) = object.get_mut("required") {
            required.push(json!("proof"));
        }
    }
    pretty(&schema)
}

/// Returns the published schema of a record; `null` only if that file is no JSON.
pub fn record() -> &'static Value {
    static SCHEMA: OnceLock<Value> = OnceLock::new();
    SCHEMA.get_or_init(|| serde_json::from_str(RECORD_V1).unwrap_or_default())
}

/// Returns the schema of a sheet, as generated from the types.
pub fn sheet() -> &'static Value {
    static SCHEMA: OnceLock<Value> = OnceLock::new();
    SCHEMA.get_or_init(generate::<Sheet>)
}

/// Returns the validator of the published record schema; `None` only if that file is no schema.
pub fn record_validator() -> Option<&'static Validator> {
    static VALIDATOR: OnceLock<Option<Validator>> = OnceLock::new();
    VALIDATOR.get_or_init(|| compile(record())).as_ref()
}

/// Returns the validator of a sheet.
pub fn sheet_validator() -> Option<&'static Validator> {
    static VALIDATOR: OnceLock<Option<Validator>> = OnceLock::new();
    VALIDATOR.get_or_init(|| compile(sheet())).as_ref()
}

fn compile(schema: &Value) -> Option<Validator> {
    jsonschema::draft202012::options().build(schema).ok()
}

fn generate<T: JsonSchema>() -> Value {
    let generator = SchemaSettings::draft2020_12().into_generator();
    let mut schema = generator.into_root_schema_for::<T>().to_value();
    refuse_null(&mut schema);
    schema
}

fn pretty(schema: &Value) -> String {
    let mut text = serde_json::to_string_pretty(schema).unwrap_or_default();
    text.push('\n');
    text
}

/// An optional property is left out, never `null`: there is one way to say nothing.
fn refuse_null(schema: &mut Value) {
    match schema {
        Value::Object(object) => {
            let required: Vec<String> = object
                .get("required")
                .and_then(Value::as_array)
                .map(|names| {
                    names
                        .iter()
                        .filter_map(Value::as_str)
                        .map(str::to_owned)
                        .collect()
                })
                .unwrap_or_default();
            if let Some(Value::Object(properties)) = object.get_mut("properties") {
                for (name, property) in properties.iter_mut() {
                    // `previous` is required and may be null: a first record says so.
                    if !required.contains(name) && name != "previous" {
                        strip_null(property);
                    }
                }
            }
            if object
                .get("properties")
                .is_some_and(|properties| properties.get("previous").is_some())
                && let Some(Value::Array(names)) = object.get_mut("required")
                && !names.iter().any(|name| name == "previous")
            {
                names.push(json!("previous"));
            }
            for value in object.values_mut() {
                refuse_null(value);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(refuse_null),
        _ => {}
    }
}

fn strip_null(property: &mut Value) {
    let Some(object) = property.as_object_mut() else {
        return;
    };
    if let Some(Value::Array(types)) = object.get_mut("type") {
        types.retain(|kind| kind != "null");
        if let [single] = types.as_slice() {
            let single = single.clone();
            object.insert("type".to_owned(), single);
        }
    }
    if let Some(Value::Array(options)) = object.remove("anyOf") {
        let mut options: Vec<Value> = options
            .into_iter()
            .filter(|option| option.get("type") != Some(&json!("null")))
            .collect();
        if options.len() == 1 {
            if let Some(Value::Object(only)) = options.pop() {
                merge(object, only);
            }
        } else {
            object.insert("anyOf".to_owned(), Value::Array(options));
        }
    }
    object.remove("default");
}

fn merge(object: &mut Map<String, Value>, other: Map<String, Value>) {
    for (key, value) in other {
        object.entry(key).or_insert(value);
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn published_schema_is_the_one_the_types_give() {
        let generated = generate_record();
        if std::env::var_os("BLESS").is_some() {
            let path = concat!(
                env!("CARGO_MANIFEST_DIR"),
                "/../../schemas/tangmark-record-1.schema.json"
            );
            std::fs::write(path, &generated).unwrap();
        }
        assert!(
            RECORD_V1 == generated,
            "run with BLESS=1 to write the schema anew, and read the difference"
        );
    }

    #[test]
    fn both_schemas_compile() {
        assert!(record_validator().is_some());
        assert!(sheet_validator().is_some());
    }

    #[test]
    fn optional_properties_are_never_null_and_previous_is_required() {
        let schema: Value = serde_json::from_str(RECORD_V1).unwrap();
        assert!(
            schema["required"]
                .as_array()
                .unwrap()
                .contains(&json!("previous"))
        );
        let nulls = RECORD_V1.matches("\"null\"").count();
        assert_eq!(nulls, 1, "only `previous` may be null");
    }
}
