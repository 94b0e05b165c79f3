//! Puts disclosed values back into a record, and says what stays withheld.

use std::collections::{BTreeMap, BTreeSet};

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use serde::Serialize;
use serde_json::{Map, Value};

use super::{
    ALGORITHM, DIGESTS, Disclosure, DisclosureError, ELEMENT, SHA_256, TwoRules, WithholdRule,
    pointer, rule_for,
};
use crate::key::shorten;

/// Digests of an object that no disclosure opens. Some may be decoys: there is no telling.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Withheld {
    /// The object, as a JSON pointer.
    pub path: String,
    /// Values withheld at most.
    pub at_most: usize,
    /// Properties of it that are neither shown nor disclosed: the ones that may be withheld.
    pub properties: Vec<String>,
}

/// Puts the disclosed values into a record and takes its digests out.
///
/// Returns the record as this reader may see it, and for every object with digests left how many. A
/// record without withheld values comes back as it is. The signature is over `public`, never over the result.
///
/// # Errors
/// When any disclosure or any digest is not exactly as [`super::withhold`] makes them; see [`DisclosureError`].
pub fn reveal(
    public: &Value,
    disclosures: &[Disclosure],
    rules: &[WithholdRule],
) -> Result<(Value, Vec<Withheld>), DisclosureError> {
    open_all(public, disclosures, rules, false)
}

/// Puts the disclosed values into a record and leaves the digests of the others where they are: what pages show that
/// must say for each object whether something may still be withheld.
///
/// # Errors
/// As [`reveal`].
pub fn reveal_in_place(
    public: &Value,
    disclosures: &[Disclosure],
    rules: &[WithholdRule],
) -> Result<Value, DisclosureError> {
    open_all(public, disclosures, rules, true).map(|(shown, _)| shown)
}

fn open_all(
    public: &Value,
    disclosures: &[Disclosure],
    rules: &[WithholdRule],
    keep: bool,
) -> Result<(Value, Vec<Withheld>), DisclosureError> {
    let mut work = Work {
        keep,
        rules,
        opened: BTreeMap::new(),
        seen: BTreeSet::new(),
        any: false,
        withheld: Vec::new(),
    };
    let mut salts = BTreeSet::new();
    for (index, disclosure) in disclosures.iter().enumerate() {
        let number = index + 1;
        let (salt, name, value) = disclosure.open(number)?;
        let opened = Opened {
            number,
            path: &disclosure.path,
            name,
            value,
        };
        if work.opened.insert(disclosure.digest(), opened).is_some() {
            return Err(DisclosureError::Twice { number });
        }
        if !salts.insert(salt) {
            return Err(DisclosureError::SaltReused { number });
        }
    }
    let mut revealed = public.clone();
    let algorithm = revealed
        .as_object_mut()
        .and_then(|members| members.remove(ALGORITHM));
    work.value(&mut revealed, &mut Vec::new())?;
    let named = algorithm
        .as_ref()
        .map(|algorithm| algorithm.as_str() == Some(SHA_256));
    match (work.any, named) {
        (true, None) => return Err(digests(ALGORITHM, "missing, `sha-256` allowed")),
        (_, Some(false)) => {
            return Err(digests(
                ALGORITHM,
                "`sha-256` allowed, found something else",
            ));
        }
        _ => {}
    }
    if let Some(number) = work.opened.values().map(|opened| opened.number).min() {
        return Err(DisclosureError::Unreferenced { number });
    }
    if let (true, Some(algorithm), Some(members)) = (
        keep && !work.withheld.is_empty(),
        algorithm,
        revealed.as_object_mut(),
    ) {
        members.insert(ALGORITHM.to_owned(), algorithm);
    }
    Ok((revealed, work.withheld))
}

struct Opened<'a> {
    number: usize,
    path: &'a str,
    name: String,
    value: Value,
}

struct Work<'a> {
    /// Digests that nothing opens stay in the record.
    keep: bool,
    rules: &'a [WithholdRule],
    /// Disclosures not used yet, by digest.
    opened: BTreeMap<String, Opened<'a>>,
    /// Digests met so far.
    seen: BTreeSet<String>,
    any: bool,
    withheld: Vec<Withheld>,
}

impl Work<'_> {
    fn value(&mut self, value: &mut Value, path: &mut Vec<String>) -> Result<(), DisclosureError> {
        match value {
            Value::Object(members) => self.object(members, path),
            Value::Array(elements) => {
                for (index, element) in elements.iter_mut().enumerate() {
                    path.push(index.to_string());
                    self.value(element, path)?;
                    path.pop();
                }
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn object(
        &mut self,
        members: &mut Map<String, Value>,
        path: &mut Vec<String>,
    ) -> Result<(), DisclosureError> {
        for name in [ELEMENT, ALGORITHM] {
            if members.contains_key(name) {
                return Err(digests(
                    &format!("{}/{name}", pointer(path)),
                    "a reserved name, not allowed here",
                ));
            }
        }
        if let Some(found) = members.remove(DIGESTS) {
            self.any = true;
            self.open(members, &found, path)?;
        }
        // After the values are in: a disclosed value can have digests of its own.
        for (name, value) in members {
            path.push(name.clone());
            self.value(value, path)?;
            path.pop();
        }
        Ok(())
    }

    /// Puts what the digests of one object disclose into it.
    fn open(
        &mut self,
        members: &mut Map<String, Value>,
        found: &Value,
        path: &[String],
    ) -> Result<(), DisclosureError> {
        let here = pointer(path);
        let at = format!("{here}/{DIGESTS}");
        let Ok(Some(rule)) = rule_for(self.rules, path).map_err(|TwoRules| ()) else {
            return Err(digests(&at, "no value of this object can be withheld"));
        };
        let found = digest_list(found, &at)?;
        if found.len() != rule.properties.len() {
            return Err(DisclosureError::Count {
                path: at,
                found: found.len(),
                allowed: rule.properties.len(),
            });
        }
        // All in clear first: a disclosed name must not stand there, nor be disclosed twice.
        let mut left = Vec::new();
        for digest in found {
            if !self.seen.insert(digest.to_owned()) {
                return Err(DisclosureError::DigestTwice { path: at });
            }
            let Some(Opened {
                number,
                path: said,
                name,
                value,
            }) = self.opened.remove(digest)
            else {
                left.push(Value::from(digest));
                continue;
            };
            let place = pointer(&[path, std::slice::from_ref(&name)].concat());
            if !rule.properties.contains(&name.as_str()) {
                return Err(DisclosureError::NotOnTheList {
                    number,
                    path: shorten(&place),
                });
            }
            if said != place {
                return Err(DisclosureError::PathDiffers {
                    number,
                    said: shorten(said),
                    found: place,
                });
            }
            if members.contains_key(&name) {
                return Err(DisclosureError::Shadows {
                    number,
                    path: place,
                });
            }
            members.insert(name, value);
        }
        if !left.is_empty() {
            let properties: Vec<String> = rule
                .properties
                .iter()
                .filter(|name| !members.contains_key(**name))
                .map(|name| (*name).to_owned())
                .collect();
            self.withheld.push(Withheld {
                path: here,
                at_most: left.len().min(properties.len()),
                properties,
            });
            if self.keep {
                members.insert(DIGESTS.to_owned(), Value::Array(left));
            }
        }
        Ok(())
    }
}

/// Reads `_sd`: a sorted array of base64url digests.
fn digest_list<'a>(found: &'a Value, at: &str) -> Result<Vec<&'a str>, DisclosureError> {
    let list: Option<Vec<&str>> = found
        .as_array()
        .and_then(|list| list.iter().map(Value::as_str).collect());
    let list = list.ok_or_else(|| digests(at, "not an array of texts"))?;
    if list.iter().any(|digest| {
        URL_SAFE_NO_PAD
            .decode(digest)
            .map_or(0, |bytes| bytes.len())
            != 32
    }) {
        return Err(digests(
            at,
            "a member is not the base64url of a SHA-256 digest (43 characters)",
        ));
    }
    if !list.is_sorted() {
        return Err(digests(at, "not sorted"));
    }
    Ok(list)
}

fn digests(path: &str, problem: &'static str) -> DisclosureError {
    DisclosureError::Digests {
        path: path.to_owned(),
        problem,
    }
}
