//! Withheld values: salted digests in the record, disclosures in a file of their own.
//!
//! The record that is signed holds only digests, so it is the same for every reader; who holds a
//! disclosure can show the value, and who does not can neither see nor guess it.
//!
//! Source: RFC 9901, 4.2 (disclosures, digests, decoys), 7.1 (what a verifier refuses). Stricter than the
//! RFC: the number of digests is fixed, digests are sorted, salts have 16 bytes and are never used twice,
//! and only the properties on a closed list can be withheld. The form for array elements is not used.

mod disclosure;
mod reveal;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use base64::{Engine as _, engine::general_purpose::URL_SAFE_NO_PAD};
use serde_json::{Map, Value};
use sha2::{Digest as _, Sha256};
pub use tangmark_core::record::withhold::WithholdRule;

pub use disclosure::{Disclosure, DisclosureError, FORMAT, parse_file, print_file};
pub use reveal::{Withheld, reveal, reveal_in_place};

/// Name of the array of digests.
pub(crate) const DIGESTS: &str = "_sd";
/// Name of the member that names the digest algorithm.
pub(crate) const ALGORITHM: &str = "_sd_alg";
/// Its one value.
pub(crate) const SHA_256: &str = "sha-256";
/// The form for array elements, which is not used.
pub(crate) const ELEMENT: &str = "...";
/// Bytes of a salt. Source: RFC 9901, 9.3 (at least 128 random bits).
pub(crate) const SALT_LENGTH: usize = 16;

/// Why a record's values could not be withheld.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum WithholdError {
    /// The record has digests of withheld values already.
    #[error("{path}/{name}: there already, a record without withheld values allowed")]
    AlreadyWithheld {
        /// Where, as a JSON pointer.
        path: String,
        /// `_sd`, `_sd_alg` or `...`.
        name: String,
    },
    /// Two entries of the list fit the same object.
    #[error("object `{path}`: two rules of the list of withholdable values fit it, one allowed")]
    TwoRules {
        /// Where, as a JSON pointer.
        path: String,
    },
    /// The source of random bytes gave the same bytes twice, or only zeros.
    #[error(
        "salt: the source of random bytes repeats itself or gives zeros; every salt must be new"
    )]
    Salt,
    /// The record is no object.
    #[error("record: not a JSON object")]
    NotAnObject,
}

/// Takes the withholdable values out of a record.
///
/// Returns the record with their digests, and the disclosures in the order the values stand in it. Every
/// object that `rules` speak of gets as many digests as it has withholdable properties, with decoys for
/// those it lacks, so that their number tells nothing. `random` fills its argument with fresh random bytes.
///
/// # Errors
/// When the record has digests already, the rules overlap or the random bytes repeat.
pub fn withhold(
    record: &Value,
    rules: &[WithholdRule],
    random: impl FnMut(&mut [u8]),
) -> Result<(Value, Vec<Disclosure>), WithholdError> {
    if !record.is_object() {
        return Err(WithholdError::NotAnObject);
    }
    let mut work = Work {
        rules,
        random,
        seen: BTreeSet::new(),
        disclosures: Vec::new(),
        any: false,
    };
    let mut public = work.value(record, &mut Vec::new())?;
    if let (true, Some(members)) = (work.any, public.as_object_mut()) {
        members.insert(ALGORITHM.to_owned(), Value::from(SHA_256));
    }
    Ok((public, work.disclosures))
}

struct Work<'a, R> {
    rules: &'a [WithholdRule],
    random: R,
    seen: BTreeSet<Vec<u8>>,
    disclosures: Vec<Disclosure>,
    any: bool,
}

impl<R: FnMut(&mut [u8])> Work<'_, R> {
    fn value(&mut self, value: &Value, path: &mut Vec<String>) -> Result<Value, WithholdError> {
        match value {
            Value::Object(members) => self.object(members, path).map(Value::Object),
            Value::Array(elements) => {
                let mut copy = Vec::with_capacity(elements.len());
                for (index, element) in elements.iter().enumerate() {
                    path.push(index.to_string());
                    copy.push(self.value(element, path)?);
                    path.pop();
                }
                Ok(Value::Array(copy))
            }
            plain => Ok(plain.clone()),
        }
    }

    fn object(
        &mut self,
        members: &Map<String, Value>,
        path: &mut Vec<String>,
    ) -> Result<Map<String, Value>, WithholdError> {
        if let Some(name) = [DIGESTS, ALGORITHM, ELEMENT]
            .into_iter()
            .find(|name| members.contains_key(*name))
        {
            return Err(WithholdError::AlreadyWithheld {
                path: pointer(path),
                name: name.to_owned(),
            });
        }
        let rule = rule_for(self.rules, path).map_err(|TwoRules| WithholdError::TwoRules {
            path: pointer(path),
        })?;
        let mut copy = Map::new();
        let mut digests = Vec::new();
        for (name, value) in members {
            path.push(name.clone());
            // Inner objects first: a withheld value can have withheld values of its own.
            let public = self.value(value, path)?;
            if rule.is_some_and(|rule| rule.properties.contains(&name.as_str())) {
                let salt = self.random::<SALT_LENGTH>()?;
                let disclosure = Disclosure::new(pointer(path), &salt, name, &public);
                digests.push(disclosure.digest());
                self.disclosures.push(disclosure);
            } else {
                copy.insert(name.clone(), public);
            }
            path.pop();
        }
        if let Some(rule) = rule {
            while digests.len() < rule.properties.len() {
                // RFC 9901, 4.2.5: a decoy is the digest of random bytes nobody keeps.
                digests.push(digest_of(&URL_SAFE_NO_PAD.encode(self.random::<32>()?)));
            }
            // Sorted, so that the order does not tell decoys from values.
            digests.sort();
            copy.insert(DIGESTS.to_owned(), Value::from(digests));
            self.any = true;
        }
        Ok(copy)
    }

    fn random<const LENGTH: usize>(&mut self) -> Result<[u8; LENGTH], WithholdError> {
        let mut bytes = [0; LENGTH];
        (self.random)(&mut bytes);
        if bytes.iter().all(|byte| *byte == 0) || !self.seen.insert(bytes[..SALT_LENGTH].to_vec()) {
            return Err(WithholdError::Salt);
        }
        Ok(bytes)
    }
}

/// Digest of an encoded disclosure, as it stands in `_sd`: 43 base64url characters.
fn digest_of(encoded: &str) -> String {
    URL_SAFE_NO_PAD.encode(Sha256::digest(encoded.as_bytes()))
}

struct TwoRules;

fn rule_for<'a>(
    rules: &'a [WithholdRule],
    path: &[String],
) -> Result<Option<&'a WithholdRule>, TwoRules> {
    let mut fitting = rules.iter().filter(|rule| fits(rule.object, path));
    let first = fitting.next();
    if fitting.next().is_some() {
        Err(TwoRules)
    } else {
        Ok(first)
    }
}

fn fits(pattern: &str, path: &[String]) -> bool {
    let mut parts = pattern.split('/').skip(1);
    let fits = path.iter().all(|name| {
        parts
            .next()
            .is_some_and(|part| part == "*" || part == escaped(name))
    });
    fits && parts.next().is_none()
}

/// A JSON pointer. Source: RFC 6901.
fn pointer(path: &[String]) -> String {
    path.iter()
        .flat_map(|name| ["/".to_owned(), escaped(name)])
        .collect()
}

fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}
