//! Places of a sheet that a column can fill, and what each holds.

use serde_json::Value;
use tangmark_core::record::QUANTITY_DEFINITIONS;
use tangmark_core::schema;
use tangmark_core::units::Dimension;

use crate::terms::{self, TermLine};

/// What a place holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Holds {
    /// A measured value.
    Quantity(Dimension),
    /// An amount of money.
    Money,
    /// A date known to the year, the month or the day.
    Date,
    /// A span of time.
    Span,
    /// A term of a closed list.
    Term(Vec<TermLine>),
    /// A key.
    Key,
    /// Yes or no.
    YesNo,
    /// A whole number.
    Whole,
    /// Words.
    Words,
    /// A list of one of these, at the end of which a column appends.
    List(Box<Holds>),
}

/// A place: names and numbers in lists, in order.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Step {
    Name(String),
    Number(usize),
}

/// Most elements of a list that columns may fill.
const MOST: usize = 50;

/// Takes a dotted place apart: `custody[0].price`.
pub(super) fn steps(place: &str) -> Option<Vec<Step>> {
    let mut steps = Vec::new();
    for part in place.split('.') {
        let (name, rest) = part
            .split_once('[')
            .map_or((part, None), |(name, rest)| (name, Some(rest)));
        if name.is_empty()
            || !name
                .bytes()
                .all(|byte| byte.is_ascii_lowercase() || byte == b'_')
        {
            return None;
        }
        steps.push(Step::Name(name.to_owned()));
        if let Some(rest) = rest {
            let number: usize = rest.strip_suffix(']')?.parse().ok()?;
            if number >= MOST {
                return None;
            }
            steps.push(Step::Number(number));
        }
    }
    Some(steps)
}

/// Returns what a place of the sheet holds; none where the sheet has no such place, or a whole section stands there.
pub(super) fn holds(steps: &[Step]) -> Option<Holds> {
    let root = schema::sheet();
    let mut schema = root;
    for step in steps {
        schema = resolved(root, schema);
        schema = match step {
            Step::Name(name) if name != "_sd" => schema.get("properties")?.get(name)?,
            Step::Name(_) => return None,
            Step::Number(_) => schema.get("items")?,
        };
    }
    leaf(root, schema)
}

fn definition(schema: &Value) -> Option<&str> {
    schema.get("$ref")?.as_str()?.strip_prefix("#/$defs/")
}

fn resolved<'s>(root: &'s Value, schema: &'s Value) -> &'s Value {
    definition(schema).map_or(schema, |name| &root["$defs"][name])
}

fn leaf(root: &Value, schema: &Value) -> Option<Holds> {
    if let Some(name) = definition(schema) {
        if let Some((_, dimension)) = QUANTITY_DEFINITIONS.iter().find(|(of, _)| *of == name) {
            return Some(Holds::Quantity(*dimension));
        }
        return match name {
            "Money" => Some(Holds::Money),
            "PartialDate" => Some(Holds::Date),
            "When" => Some(Holds::Span),
            "Key" => Some(Holds::Key),
            _ => leaf_of(root, &root["$defs"][name]),
        };
    }
    leaf_of(root, schema)
}

fn leaf_of(root: &Value, schema: &Value) -> Option<Holds> {
    if let Some(keys) = schema.get("enum").and_then(Value::as_array) {
        let keys: Vec<&str> = keys.iter().filter_map(Value::as_str).collect();
        let lists = terms::lists();
        let list = lists
            .into_iter()
            .map(|list| list.terms)
            .find(|terms| terms.iter().map(|term| term.key).eq(keys.iter().copied()))?;
        return Some(Holds::Term(list));
    }
    // An optional value may be of its type or null.
    let types: Vec<&str> = match schema.get("type")? {
        Value::String(one) => vec![one],
        Value::Array(all) => all.iter().filter_map(Value::as_str).collect(),
        _ => return None,
    };
    match types.into_iter().find(|one| *one != "null")? {
        "string" => Some(Holds::Words),
        "boolean" => Some(Holds::YesNo),
        "integer" => Some(Holds::Whole),
        "array" => {
            let inner = leaf(root, schema.get("items")?)?;
            (!matches!(inner, Holds::List(_))).then(|| Holds::List(Box::new(inner)))
        }
        _ => None,
    }
}

/// Puts a value at a place, making what is above it; false where something else stands there.
pub(super) fn put(body: &mut Value, steps: &[Step], value: Value) -> bool {
    let Some((first, rest)) = steps.split_first() else {
        match (body.as_array_mut(), value) {
            // A list grows at its end.
            (Some(list), Value::Array(more)) => list.extend(more),
            (_, value) => *body = value,
        }
        return true;
    };
    if body.is_null() {
        *body = match first {
            Step::Name(_) => Value::Object(serde_json::Map::new()),
            Step::Number(_) => Value::Array(Vec::new()),
        };
    }
    let inner = match (first, body) {
        (Step::Name(name), Value::Object(members)) => {
            members.entry(name.as_str()).or_insert(Value::Null)
        }
        (Step::Number(number), Value::Array(items)) => {
            while items.len() <= *number {
                items.push(Value::Null);
            }
            let Some(item) = items.get_mut(*number) else {
                return false;
            };
            item
        }
        _ => return false,
    };
    put(inner, rest, value)
}

/// Takes out what columns left empty in lists: the third event of a row that has no second is its second.
pub(super) fn close_gaps(body: &mut Value) {
    match body {
        Value::Array(items) => {
            items.retain(|item| !item.is_null());
            items.iter_mut().for_each(close_gaps);
        }
        Value::Object(members) => members.values_mut().for_each(close_gaps),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    fn at(place: &str) -> Option<Holds> {
        holds(&steps(place)?)
    }

    #[test]
    fn the_schema_says_what_a_place_holds() {
        assert_eq!(
            at("dimensions.blade_length"),
            Some(Holds::Quantity(Dimension::Length))
        );
        assert_eq!(
            at("dimensions.mass"),
            Some(Holds::Quantity(Dimension::Mass))
        );
        assert_eq!(at("custody[0].price"), Some(Holds::Money));
        assert_eq!(at("custody[0].when"), Some(Holds::Span));
        assert_eq!(at("blade.made_not_before"), Some(Holds::Date));
        assert_eq!(at("blade.title"), Some(Holds::Words));
        assert_eq!(at("agreement.etch_allowed"), Some(Holds::YesNo));
        assert_eq!(at("flaws[3].count"), Some(Holds::Whole));
        assert_eq!(at("passes[0].id"), Some(Holds::Key));
        assert_eq!(
            at("blade.related"),
            Some(Holds::List(Box::new(Holds::Words)))
        );
        let Some(Holds::Term(kinds)) = at("blade.kind_by_make") else {
            panic!("a closed list")
        };
        assert!(
            kinds
                .iter()
                .any(|term| term.key == "tachi" && term.kanji == "太刀")
        );
        let Some(Holds::List(families)) = at("grain.families") else {
            panic!("a list of terms")
        };
        assert!(matches!(*families, Holds::Term(_)));
        for none in [
            "blade",
            "blade.nothing",
            "custody",
            "custody[x]",
            "custody[99]",
            "Blade.title",
            "",
            "blade..title",
        ] {
            assert_eq!(at(none), None, "{none}");
        }
    }

    #[test]
    fn values_are_put_where_they_belong() {
        let mut body = Value::Null;
        let mut set = |place: &str, value: Value| {
            assert!(put(&mut body, &steps(place).unwrap(), value), "{place}");
        };
        set("custody[2].place", json!("x"));
        set("custody[0].kind", json!("bought"));
        set("blade.related", json!(["one"]));
        set("blade.related", json!(["two"]));
        close_gaps(&mut body);
        assert_eq!(
            body,
            json!({
                "custody": [{ "kind": "bought" }, { "place": "x" }],
                "blade": { "related": ["one", "two"] },
            })
        );
        assert!(!put(&mut body, &steps("blade[0]").unwrap(), json!(1)));
    }
}
