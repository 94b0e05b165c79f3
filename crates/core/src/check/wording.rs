//! Words for what a schema validator finds.

use jsonschema::error::{TypeKind, ValidationErrorKind as Kind};
use jsonschema::{JsonType, ValidationError};
use serde_json::Value;

use super::Problem;
use crate::record::Key;

/// What is validated: a sheet that a person writes, or a record that a program sealed.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    Sheet,
    Record,
}

/// Nobody corrects a sealed record: the bytes are what was signed.
pub(super) const RECORD_HINT: &str = "ask the issuer for the sealed file: a record is never corrected in place, `schemas/record-format.md` tells its form";

impl Form {
    fn schema(self) -> &'static Value {
        match self {
            Self::Sheet => crate::schema::sheet(),
            Self::Record => crate::schema::record(),
        }
    }

    /// The next step: `sheet` for the writer of a sheet, the issuer for the reader of a record.
    pub(super) fn hint(self, sheet: impl Into<String>) -> String {
        match self {
            Self::Sheet => sheet.into(),
            Self::Record => RECORD_HINT.to_owned(),
        }
    }
}

/// Order in which the errors of one value tell most; the lowest first.
pub(super) fn rank(error: &ValidationError<'_>) -> u8 {
    match error.kind() {
        Kind::Type { .. } => 0,
        Kind::Constant { .. } | Kind::Enum { .. } => 1,
        Kind::AnyOf { .. } | Kind::OneOfNotValid { .. } | Kind::Not { .. } => 3,
        _ => 2,
    }
}

/// Turns a validator's error into found, allowed and next step.
pub(super) fn problem(error: &ValidationError<'_>, form: Form) -> Problem {
    let pointer = error.instance_path().as_str().to_owned();
    let found = short(error.instance());
    let (what, hint) = match error.kind() {
        Kind::AdditionalProperties { unexpected } => {
            let name = unexpected.first().cloned().unwrap_or_default();
            return unknown_field(&pointer, &name, &properties_near(error, form), form);
        }
        Kind::Required { property } => {
            let name = property.as_str().unwrap_or_default();
            let hint = form.hint(missing_hint(name, error));
            (format!("the field `{name}` is missing"), hint)
        }
        Kind::Enum { options } => {
            let texts = options
                .as_array()
                .into_iter()
                .flatten()
                .filter_map(Value::as_str);
            let options: Vec<String> = texts.map(str::to_owned).collect();
            let word = error.instance().as_str().unwrap_or_default();
            let hint = nearest(word, &options).map_or_else(
                || format!("choose one of {}", options.join(", ")),
                |near| format!("did you mean `{near}`?"),
            );
            (
                format!("{found} found, allowed are {}", list(&options)),
                form.hint(hint),
            )
        }
        Kind::Constant { expected_value } => {
            let hint = form.hint(format!("write {}", short(expected_value)));
            (
                format!("{found} found, {} is allowed", short(expected_value)),
                hint,
            )
        }
        Kind::Type { kind } => {
            let what = format!("{found} found, {} is allowed", allowed_type(kind));
            (what, form.hint(type_hint(kind, error.instance(), &pointer)))
        }
        Kind::Pattern { .. } => {
            let allowed = description(error, form);
            let hint = match error.instance().as_str() {
                Some(text) if allowed.starts_with("a key ") => {
                    format!(
                        "write it like `{}`",
                        Key::from_name(text).as_str().trim_end_matches('-')
                    )
                }
                _ => "write it in that form".to_owned(),
            };
            (
                format!("{found} found, allowed is {allowed}"),
                form.hint(hint),
            )
        }
        Kind::MinLength { limit } => {
            let what = format!(
                "{found} found, at least {limit} {} needed",
                count(*limit, "character is", "characters are")
            );
            (
                what,
                form.hint(
                    "write it out, or leave the field out if it is not one that must be there",
                ),
            )
        }
        Kind::MaxLength { limit } => {
            let length = error
                .instance()
                .as_str()
                .map_or(0, |text| text.chars().count());
            let what = format!("{length} characters found, at most {limit} are allowed");
            (
                what,
                form.hint(format!(
                    "shorten the text by {} characters",
                    length.saturating_sub(as_length(*limit))
                )),
            )
        }
        Kind::MinItems { limit } => {
            let what = format!(
                "{} entries found, at least {limit} {} needed",
                items(error),
                count(*limit, "is", "are")
            );
            (what, form.hint("add what is missing, or leave the list out if it is not one that must be there"))
        }
        Kind::MaxItems { limit } => {
            let what = format!(
                "{} entries found, at most {limit} {} allowed",
                items(error),
                count(*limit, "is", "are")
            );
            (
                what,
                form.hint("keep the entries that matter, and put the rest into a remark"),
            )
        }
        Kind::Minimum { limit } => (
            format!("{found} found, {limit} or more is allowed"),
            form.hint("correct the number"),
        ),
        Kind::Maximum { limit } => (
            format!("{found} found, {limit} or less is allowed"),
            form.hint("correct the number"),
        ),
        Kind::AnyOf { .. } | Kind::OneOfNotValid { .. } => {
            let allowed = description(error, form);
            (
                format!("{found} found, allowed is {allowed}"),
                form.hint("see `tangmark schema` for the forms"),
            )
        }
        Kind::Not { .. } if found.starts_with("\"-0") => (
            format!("{found} found, zero is allowed without a minus sign"),
            form.hint("leave out the minus sign"),
        ),
        _ => (
            short_text(&error.to_string(), 200),
            form.hint("see `tangmark schema` for what is allowed"),
        ),
    };
    Problem::new(pointer, what, hint)
}

/// What to write for a missing field: its terms where it has a closed list.
fn missing_hint(name: &str, error: &ValidationError<'_>) -> String {
    let property =
        definition(error, Form::Sheet).and_then(|schema| schema.get("properties")?.get(name));
    let named =
        property.and_then(|property| property.get("$ref")?.as_str()?.strip_prefix("#/$defs/"));
    let named = named.and_then(|name| Form::Sheet.schema().get("$defs")?.get(name));
    let terms = named
        .or(property)
        .and_then(|schema| schema.get("enum")?.as_array());
    let terms: Vec<String> = terms
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .map(str::to_owned)
        .collect();
    match terms.as_slice() {
        [] => format!("add `{name}`; `tangmark examine new` writes a template that explains it"),
        terms => format!("add `{name}` with one of {}", list(terms)),
    }
}

/// Trade words that people use for fields, and the fields.
///
/// Source: common practice of the trade; the fields say what each one is.
fn trade_word(name: &str) -> Option<&'static str> {
    let word = name.to_lowercase().replace(['-', ' '], "_");
    let words = [
        ("nagasa", "blade_length"),
        ("length", "blade_length"),
        ("sori", "curvature"),
        ("motohaba", "width_at_base"),
        ("sakihaba", "width_at_point"),
        ("motokasane", "thickness_at_base"),
        ("sakikasane", "thickness_at_point"),
        ("kasane", "thickness_at_base"),
        ("mihaba", "width_at_base"),
        ("kissaki", "point_length"),
        ("weight", "mass"),
        ("nakago", "tang"),
        ("mekugi_ana", "holes"),
        ("peg_holes", "holes"),
        ("yasurime", "file_marks"),
        ("nakago_jiri", "end"),
        ("jiri", "end"),
        ("mei", "inscriptions"),
        ("hamon", "temper_line"),
        ("boshi", "point"),
        ("kaeri", "turn_back"),
        ("hataraki", "activities"),
        ("jihada", "grain"),
        ("hada", "grain"),
        ("kizu", "flaws"),
        ("mune", "back_form"),
        ("tsukurikomi", "construction"),
        ("koshirae", "fittings"),
        ("kodogu", "fittings"),
        ("torokusho", "registrations"),
    ];
    words
        .into_iter()
        .find(|(trade, _)| *trade == word)
        .map(|(_, field)| field)
}

fn unknown_field(pointer: &str, name: &str, allowed: &[String], form: Form) -> Problem {
    let shown = short_text(name, 60);
    let near = nearest(name, allowed)
        .or_else(|| trade_word(name).filter(|field| allowed.iter().any(|name| name == field)));
    let hint = near.map_or_else(
        || match allowed {
            [] => "remove the field; `tangmark examine new` writes a template with all fields"
                .to_owned(),
            allowed => format!("remove it, or use one of {}", allowed.join(", ")),
        },
        |near| format!("did you mean `{near}`?"),
    );
    Problem::new(
        format!("{pointer}/{}", name.replace('~', "~0").replace('/', "~1")),
        format!("unknown field `{shown}`"),
        form.hint(hint),
    )
}

const fn count<'t>(number: u64, one: &'t str, more: &'t str) -> &'t str {
    if number == 1 { one } else { more }
}

fn as_length(limit: u64) -> usize {
    usize::try_from(limit).unwrap_or(usize::MAX)
}

fn items(error: &ValidationError<'_>) -> usize {
    error.instance().as_array().map_or(0, Vec::len)
}

fn short(value: &Value) -> String {
    short_text(&value.to_string(), 60)
}

fn short_text(text: &str, longest: usize) -> String {
    if text.chars().count() > longest {
        format!("{}…", text.chars().take(longest).collect::<String>())
    } else {
        text.to_owned()
    }
}

fn list(options: &[String]) -> String {
    if options.len() > 12 {
        format!("{}, … ({} in all)", options[..12].join(", "), options.len())
    } else {
        options.join(", ")
    }
}

fn allowed_type(kind: &TypeKind) -> &'static str {
    match kind {
        TypeKind::Single(JsonType::String) => "a text in quotation marks",
        TypeKind::Single(JsonType::Integer | JsonType::Number) => "a whole number",
        TypeKind::Single(JsonType::Boolean) => "true or false",
        TypeKind::Single(JsonType::Array) => "a list",
        TypeKind::Single(JsonType::Object) => "a table",
        TypeKind::Single(JsonType::Null) => "null",
        TypeKind::Multiple(_) => "another type",
    }
}

fn type_hint(kind: &TypeKind, found: &Value, pointer: &str) -> String {
    match (kind, found) {
        (_, Value::Null) => "leave the field out when there is nothing to say".to_owned(),
        (TypeKind::Single(JsonType::String), Value::Number(number)) => format!("put it in quotation marks: \"{number}\""),
        (TypeKind::Single(JsonType::Integer | JsonType::Number), Value::String(_)) => {
            "write the digits without quotation marks".to_owned()
        }
        (TypeKind::Single(JsonType::Boolean), _) => "write true or false without quotation marks".to_owned(),
        (TypeKind::Single(JsonType::Array), Value::Object(_)) => {
            "write `[[name]]` in TOML, or a list of tables in square brackets, for a field that may stand more than once".to_owned()
        }
        (TypeKind::Single(JsonType::Array), _) => format!("put it in square brackets: [{}]", short(found)),
        (TypeKind::Single(JsonType::Object), Value::Array(_)) if !pointer.is_empty() => {
            "write `[name]`, not `[[name]]`: this table stands once".to_owned()
        }
        _ => "compare with the template that `tangmark examine new` writes".to_owned(),
    }
}

/// The names the object at the error allows.
fn properties_near(error: &ValidationError<'_>, form: Form) -> Vec<String> {
    definition(error, form)
        .and_then(|schema| schema.get("properties").and_then(Value::as_object))
        // `_sd` is made at sealing, nobody writes it.
        .map(|properties| {
            properties
                .keys()
                .filter(|name| !name.starts_with('_'))
                .cloned()
                .collect()
        })
        .unwrap_or_default()
}

/// What the schema says of the failing value, as the end of a sentence.
fn description(error: &ValidationError<'_>, form: Form) -> String {
    let text = definition(error, form)
        .and_then(|schema| schema.get("description")?.as_str())
        .unwrap_or("another form");
    // Of a long description the first sentence says the form.
    let first = text
        .split(". ")
        .next()
        .unwrap_or(text)
        .split('\n')
        .next()
        .unwrap_or(text)
        .trim_end_matches('.');
    let mut letters = first.chars();
    match (letters.next(), letters.next()) {
        (Some(capital), Some(small)) if small.is_lowercase() || small == ' ' => capital
            .to_lowercase()
            .chain([small])
            .chain(letters)
            .collect(),
        _ => first.to_owned(),
    }
}

/// Finds the schema that holds the failing keyword by walking its path.
fn definition(error: &ValidationError<'_>, form: Form) -> Option<&'static Value> {
    let root = form.schema();
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
pub fn nearest<'o>(word: &str, options: &'o [String]) -> Option<&'o str> {
    // Comparing costs the product of the lengths, and no option is long.
    if word.len() > 100 {
        return None;
    }
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
