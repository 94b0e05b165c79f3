//! Words for what a schema validator finds.

use jsonschema::ValidationError;
use jsonschema::error::ValidationErrorKind as Kind;
use serde_json::Value;

use super::Problem;

/// Turns a validator's error into found, allowed and next step.
pub(super) fn problem(error: &ValidationError<'_>) -> Problem {
    let pointer = error.instance_path().as_str().to_owned();
    let found = short(error.instance());
    match error.kind() {
        Kind::AdditionalProperties { unexpected } => {
            let name = unexpected.first().cloned().unwrap_or_default();
            let allowed = properties_near(error);
            let hint = nearest(&name, &allowed).map_or_else(
                || {
                    "remove the field, or see the template of `examine new` for the fields"
                        .to_owned()
                },
                |near| format!("did you mean `{near}`?"),
            );
            Problem::new(
                format!("{pointer}/{name}"),
                format!("unknown field `{name}`"),
                hint,
            )
        }
        Kind::Required { property } => {
            let name = property.as_str().unwrap_or_default();
            Problem::new(
                pointer,
                format!("the field `{name}` is missing"),
                format!("add `{name}`; see the template of `examine new`"),
            )
        }
        Kind::Enum { options } => {
            let options: Vec<String> = options
                .as_array()
                .into_iter()
                .flatten()
                .filter_map(Value::as_str)
                .map(str::to_owned)
                .collect();
            let word = error.instance().as_str().unwrap_or_default();
            let hint = nearest(word, &options).map_or_else(
                || format!("choose one of {}", options.join(", ")),
                |near| format!("did you mean `{near}`?"),
            );
            Problem::new(
                pointer,
                format!("{found} found, allowed are {}", list(&options)),
                hint,
            )
        }
        Kind::Type { kind } => {
            let kind = format!("{kind:?}");
            let kind = kind
                .trim_start_matches("Single(")
                .trim_end_matches(')')
                .to_lowercase();
            Problem::new(
                pointer,
                format!("{found} found, {} is allowed", article(&kind)),
                "compare with the template of `examine new`",
            )
        }
        Kind::Pattern { .. } => {
            let allowed = error_description(error);
            Problem::new(
                pointer,
                format!("{found} found, {allowed} is allowed"),
                "correct the text",
            )
        }
        Kind::MinLength { limit } => Problem::new(
            pointer,
            format!("{found} found, at least {limit} characters are needed"),
            "write it out, or leave the field out",
        ),
        Kind::MaxLength { limit } => {
            let length = error
                .instance()
                .as_str()
                .map_or(0, |text| text.chars().count());
            Problem::new(
                pointer,
                format!("{length} characters found, at most {limit} are allowed"),
                "shorten the text",
            )
        }
        Kind::MinItems { limit } => Problem::new(
            pointer,
            format!(
                "{} entries found, at least {limit} are needed",
                items(error)
            ),
            "add what is missing",
        ),
        Kind::MaxItems { limit } => Problem::new(
            pointer,
            format!(
                "{} entries found, at most {limit} are allowed",
                items(error)
            ),
            "split the list",
        ),
        Kind::Minimum { limit } => Problem::new(
            pointer,
            format!("{found} found, {limit} or more is allowed"),
            "correct the number",
        ),
        Kind::Maximum { limit } => Problem::new(
            pointer,
            format!("{found} found, {limit} or less is allowed"),
            "correct the number",
        ),
        _ => Problem::new(
            pointer,
            error.to_string(),
            "compare with the schema: `tangmark schema show`",
        ),
    }
}

fn items(error: &ValidationError<'_>) -> usize {
    error.instance().as_array().map_or(0, Vec::len)
}

fn short(value: &Value) -> String {
    let text = value.to_string();
    if text.chars().count() > 60 {
        format!("{}…", text.chars().take(60).collect::<String>())
    } else {
        text
    }
}

fn list(options: &[String]) -> String {
    if options.len() > 12 {
        format!("{}, … ({} in all)", options[..12].join(", "), options.len())
    } else {
        options.join(", ")
    }
}

fn article(kind: &str) -> String {
    match kind {
        "string" => "a text in quotation marks".to_owned(),
        "integer" | "number" => "a whole number".to_owned(),
        "boolean" => "true or false".to_owned(),
        "array" => "a list".to_owned(),
        "object" => "a table".to_owned(),
        other => other.to_owned(),
    }
}

/// The names the object at the error allows, from the sheet and record schemas.
fn properties_near(error: &ValidationError<'_>) -> Vec<String> {
    definition(error)
        .and_then(|schema| schema.get("properties").and_then(Value::as_object))
        .map(|properties| properties.keys().cloned().collect())
        .unwrap_or_default()
}

fn error_description(error: &ValidationError<'_>) -> String {
    definition(error)
        .and_then(|schema| schema.get("description").and_then(Value::as_str))
        .map_or_else(
            || "another form".to_owned(),
            |text| text.trim_end_matches('.').to_owned(),
        )
}

/// Finds the schema that holds the failing keyword, by the last definition on its path.
fn definition(error: &ValidationError<'_>) -> Option<&'static Value> {
    let root = crate::schema::sheet();
    let path = error.schema_path().as_str();
    let parent = &path[..path.rfind('/')?];
    // The path goes through `$ref`; follow it step by step.
    let mut schema = root;
    for part in parent.split('/').skip(1) {
        if part == "$ref" {
            let name = schema.get("$ref")?.as_str()?.strip_prefix("#/$defs/")?;
            schema = root.get("$defs")?.get(name)?;
        } else if let Ok(index) = part.parse::<usize>() {
            schema = schema.get(index)?;
        } else {
            schema = schema.get(part)?;
        }
    }
    Some(schema)
}

/// Returns the option nearest to `word`, if it is near enough to be meant.
fn nearest<'o>(word: &str, options: &'o [String]) -> Option<&'o str> {
    let plain = |text: &str| text.to_lowercase().replace(['-', ' '], "_");
    let word = plain(word);
    options
        .iter()
        .map(|option| {
            (
                strsim::damerau_levenshtein(&word, &plain(option)),
                option.as_str(),
            )
        })
        .filter(|(distance, option)| *distance <= 1 + option.len() / 5)
        .min()
        .map(|(_, option)| option)
}
