//! What a field of the sheet holds, from the published schema.

use serde_json::Value;
use tangmark_core::record::withhold::touches_withholdable;
use tangmark_core::schema;
use tangmark_core::units::{Dimension, Unit};

/// What a field holds, as far as a condition may ask about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A measured value in a unit.
    Quantity(Dimension),
    /// A whole number.
    Integer,
    /// One of a closed list of terms.
    Term(Vec<String>),
    /// True or false.
    Flag,
    /// A day, month or year.
    Date,
    /// Free text.
    Text,
    /// A list of terms.
    Terms(Vec<String>),
    /// A list of objects.
    List,
    /// An object, or something that only its absence can be asked of.
    Other,
}

impl Kind {
    /// What may be asked of it, for errors.
    pub(crate) const fn questions(&self) -> &'static str {
        match self {
            Self::Quantity(_) | Self::Integer => "above, below, missing",
            Self::Term(_) | Self::Text | Self::Flag => "is, is_one_of, missing",
            Self::Date => "before, after, missing",
            Self::Terms(_) => "has, missing",
            Self::List => "missing, or the list in `each`",
            Self::Other => "missing",
        }
    }
}

/// A place in the schema from which fields are named.
#[derive(Clone, Debug)]
pub(crate) struct Scope {
    node: Value,
    /// Pointer of the place with `0` for any entry of a list; empty for the sheet.
    path: String,
}

/// A field that was found.
#[derive(Clone, Debug)]
pub(crate) struct Field {
    /// What it holds.
    pub(crate) kind: Kind,
    /// Entries of a list, where it is one.
    pub(crate) entries: Option<Scope>,
}

impl Scope {
    /// The whole sheet.
    pub(crate) fn sheet() -> Self {
        Self {
            node: schema::sheet().clone(),
            path: String::new(),
        }
    }

    /// Tells whether fields are named from the sheet, with a leading `/`, or from an entry of a list, without.
    pub(crate) fn is_sheet(&self) -> bool {
        self.path.is_empty()
    }

    /// Finds a field by its name: `/dimensions/mass` from the sheet, `depth` from an entry of a list.
    pub(crate) fn find(&self, name: &str) -> Result<Field, String> {
        let inner = if self.is_sheet() {
            name.strip_prefix('/').ok_or_else(|| {
                format!("`{name}` is no field of the sheet: one begins with `/`, such as `/dimensions/mass`")
            })?
        } else {
            if name.starts_with('/') {
                return Err(format!(
                    "`{name}` begins with `/`; inside `each` a field is named from the entry, such as `depth`"
                ));
            }
            name
        };
        let mut node = self.node.clone();
        let mut path = self.path.clone();
        for part in inner.split('/') {
            let target = resolved(&node);
            if target.get("type").and_then(Value::as_str) == Some("array") {
                return Err(format!(
                    "`{name}` goes into a list: ask about its entries with `each`"
                ));
            }
            // A measured value is one thing; what it is made of is not asked about.
            let members = if quantity(&target).is_some() {
                None
            } else {
                target.get("properties").and_then(Value::as_object)
            };
            let Some(found) = members.and_then(|members| members.get(part)) else {
                let known: Vec<&str> = members
                    .into_iter()
                    .flat_map(|members| members.keys().map(String::as_str))
                    .filter(|key| !key.starts_with('_'))
                    .collect();
                let place = if path.is_empty() { "the sheet" } else { &path };
                return Err(if known.is_empty() {
                    format!("`{name}`: nothing lies below `{place}`")
                } else {
                    format!(
                        "`{name}`: {place} has no `{part}`; it has {}",
                        known.join(", ")
                    )
                });
            };
            node = found.clone();
            path = format!("{path}/{part}");
        }
        if touches_withholdable(&path) {
            return Err(format!(
                "`{name}` is a private value, and findings are public: no rule may rest on it"
            ));
        }
        Ok(field(&node, &path))
    }
}

fn field(node: &Value, path: &str) -> Field {
    let target = resolved(node);
    let is = |kind: &str| target.get("type").and_then(Value::as_str) == Some(kind);
    let mut entries = None;
    let kind = if let Some(dimension) = quantity(&target) {
        Kind::Quantity(dimension)
    } else if let Some(terms) = terms(&target) {
        Kind::Term(terms)
    } else if named(node) == Some("PartialDate") {
        Kind::Date
    } else if is("integer") {
        Kind::Integer
    } else if is("boolean") {
        Kind::Flag
    } else if is("string") {
        Kind::Text
    } else if let Some(items) = target.get("items").filter(|_| is("array")) {
        let item = resolved(items);
        if let Some(terms) = terms(&item) {
            Kind::Terms(terms)
        } else if item.get("properties").is_some() {
            entries = Some(Scope {
                node: items.clone(),
                path: format!("{path}/0"),
            });
            Kind::List
        } else {
            Kind::Other
        }
    } else {
        Kind::Other
    };
    Field { kind, entries }
}

/// Name of the definition that a node refers to.
fn named(node: &Value) -> Option<&str> {
    node.get("$ref")?.as_str()?.strip_prefix("#/$defs/")
}

/// Follows references; a reference that leads nowhere or in a circle ends as the node itself.
fn resolved(node: &Value) -> Value {
    let mut at = node;
    for _ in 0..8 {
        let next = named(at).and_then(|name| schema::sheet().get("$defs")?.get(name));
        match next {
            Some(next) => at = next,
            None => break,
        }
    }
    at.clone()
}

fn terms(target: &Value) -> Option<Vec<String>> {
    let all = target.get("enum")?.as_array()?;
    all.iter()
        .map(|one| one.as_str().map(str::to_owned))
        .collect()
}

/// What a quantity measures: its definition is a quantity whose unit is fixed.
fn quantity(target: &Value) -> Option<Dimension> {
    let parts = target.get("allOf")?.as_array()?;
    let code = parts
        .iter()
        .find_map(|part| part.pointer("/properties/unit/const")?.as_str())?;
    let unit: Unit = code.parse().ok()?;
    Dimension::ALL
        .into_iter()
        .find(|dimension| dimension.canonical_unit() == unit)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn fields_are_found_in_the_published_schema() {
        let sheet = Scope::sheet();
        let kind = |name: &str| sheet.find(name).unwrap().kind;
        assert_eq!(kind("/dimensions/mass"), Kind::Quantity(Dimension::Mass));
        assert_eq!(
            kind("/examination/temperature"),
            Kind::Quantity(Dimension::Temperature)
        );
        assert_eq!(kind("/blade/made_not_after"), Kind::Date);
        assert_eq!(kind("/agreement/etch_allowed"), Kind::Flag);
        assert_eq!(kind("/tang/patina"), Kind::Text);
        assert_eq!(kind("/dimensions"), Kind::Other);
        assert_eq!(kind("/flaws"), Kind::List);
        assert!(
            matches!(kind("/tang/state"), Kind::Term(terms) if terms.contains(&"ubu".to_owned()))
        );
        assert!(
            matches!(kind("/examination/methods"), Kind::Terms(terms) if terms.contains(&"loupe".to_owned()))
        );
        let entries = sheet.find("/flaws").unwrap().entries.unwrap();
        assert_eq!(
            entries.find("depth").unwrap().kind,
            Kind::Quantity(Dimension::Length)
        );
        assert_eq!(entries.find("count").unwrap().kind, Kind::Integer);
        assert_eq!(entries.find("sightings").unwrap().kind, Kind::List);
    }

    #[test]
    fn fields_that_do_not_exist_or_are_private_say_so() {
        let sheet = Scope::sheet();
        let said = |name: &str| sheet.find(name).unwrap_err();
        assert!(
            said("/dimensions/weight").contains("/dimensions has no `weight`; it has back_line, ")
        );
        assert!(
            said("/price")
                .starts_with("`/price`: the sheet has no `price`; it has agreement, blade")
        );
        assert!(said("mass").contains("one begins with `/`"));
        assert!(said("/flaws/0/depth").contains("ask about its entries with `each`"));
        assert!(said("/dimensions/mass/value").contains("nothing lies below"));
        for private in [
            "/valuation/value/amount",
            "/agreement/price_ceiling",
            "/examination/by/name",
        ] {
            assert!(said(private).contains("private value"), "{private}");
        }
        let entries = sheet.find("/custody").unwrap().entries.unwrap();
        assert!(entries.find("price").unwrap_err().contains("private value"));
        assert!(
            entries
                .find("/price")
                .unwrap_err()
                .contains("inside `each`")
        );
    }
}
