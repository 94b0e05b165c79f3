//! Withheld values that are to be shown, named by their place: one way for reports and packages.

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::sheet::dotted;
use tangmark_store::{Role, Store as _};
use tangmark_trust::withhold::{self, Disclosure};

use crate::{Workshop, WorkshopError};

impl Workshop {
    /// The disclosures of what a record withholds, as far as they are here: those kept when it was sealed, or those that
    /// came with it from another workshop.
    pub(crate) fn disclosures(&self, record: &Digest) -> Result<Vec<Disclosure>, WorkshopError> {
        let mut found: Vec<Disclosure> = Vec::new();
        for attachment in self.store().attachments(record)? {
            // What came later than the first ones is kept as a paper: one object alone has the role.
            let (first, later) = (Role::Disclosures, Role::Document);
            if attachment.role != first && attachment.role != later {
                continue;
            }
            let bytes = self.store().object(&attachment.object)?;
            match withhold::parse_file(&bytes) {
                Ok(disclosures) => {
                    for disclosure in disclosures {
                        if !found.contains(&disclosure) {
                            found.push(disclosure);
                        }
                    }
                }
                Err(error) if attachment.role == first => {
                    return Err(WorkshopError::Disclosure(error.to_string()));
                }
                Err(_) => {}
            }
        }
        Ok(found)
    }
}

/// A record as values are chosen from it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Choice<'a> {
    /// Number of the record.
    pub(crate) sequence: u32,
    /// The record as it is sealed.
    pub(crate) public: &'a Value,
    /// What can be shown of it.
    pub(crate) known: &'a [Disclosure],
}

/// Takes the disclosures that are named from those of each record, in their order there. A place is meant in every record
/// that withholds something there; `2:PLACE` means record 2 alone.
///
/// # Errors
/// When a place names nothing that any of the records withholds, or goes through an element of a list that is not the
/// same in the records that it means.
pub(crate) fn choose(
    records: &[Choice<'_>],
    names: &[String],
) -> Result<Vec<Vec<Disclosure>>, WorkshopError> {
    let mut wanted: Vec<Vec<bool>> = records
        .iter()
        .map(|record| vec![false; record.known.len()])
        .collect();
    for name in names {
        let (number, name) = numbered(name);
        let place = pointer(name);
        let mut meant: Vec<&Choice<'_>> = Vec::new();
        for (record, wanted) in records.iter().zip(&mut wanted) {
            if number.is_some_and(|number| number != record.sequence) {
                continue;
            }
            let mut here = false;
            for (disclosure, wanted) in record.known.iter().zip(wanted) {
                let below = disclosure
                    .path
                    .strip_prefix(&place)
                    .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'));
                // An empty name is the beginning of everything, and nobody's wish.
                if (below && !place.is_empty()) || name == "all" {
                    *wanted = true;
                    here = true;
                }
            }
            if here {
                meant.push(record);
            }
        }
        if meant.is_empty() {
            let mut places: Vec<String> = Vec::new();
            for disclosure in records.iter().flat_map(|record| record.known) {
                let place = dotted(&disclosure.path);
                if !places.contains(&place) {
                    places.push(place);
                }
            }
            let name = match number {
                Some(number) => format!("{number}:{name}"),
                None => name.to_owned(),
            };
            return Err(WorkshopError::NotWithheld {
                name,
                known: places,
                records: records.len(),
            });
        }
        same_element(name, &place, &meant)?;
    }
    let chosen = records.iter().zip(wanted).map(|(record, wanted)| {
        let chosen = record
            .known
            .iter()
            .zip(wanted)
            .filter(|(_, wanted)| *wanted);
        chosen.map(|(disclosure, _)| disclosure.clone()).collect()
    });
    Ok(chosen.collect())
}

/// The same places, meant in one record alone unless they name a record themselves: what is handed over with a record
/// shows nothing of an earlier one unasked.
pub(crate) fn of_record(sequence: u32, names: &[String]) -> Vec<String> {
    let named = names.iter().map(|name| match numbered(name) {
        (Some(_), _) => name.clone(),
        (None, _) => format!("{sequence}:{name}"),
    });
    named.collect()
}

/// Those of the places that are meant in one record.
pub(crate) fn only_of(sequence: u32, names: &[String]) -> Vec<String> {
    let meant = |name: &&String| numbered(name).0.is_none_or(|number| number == sequence);
    names.iter().filter(meant).cloned().collect()
}

/// Takes the number of a record off a place: `2:custody[0].price`.
fn numbered(name: &str) -> (Option<u32>, &str) {
    let parts = name.split_once(':');
    let found = parts.and_then(|(number, place)| Some((number.parse().ok()?, place)));
    found.map_or((None, name), |(number, place)| (Some(number), place))
}

/// Refuses a place that goes through different things: a list may have got an element in front since the last record, and
/// then the same index would show what nobody asked to show.
fn same_element(name: &str, place: &str, meant: &[&Choice<'_>]) -> Result<(), WorkshopError> {
    let (Some(element), [first, others @ ..]) = (element_of(place), meant) else {
        return Ok(());
    };
    let seen = |record: &Choice<'_>| record.public.pointer(element).map(without_digests);
    let Some(other) = others.iter().find(|other| seen(other) != seen(first)) else {
        return Ok(());
    };
    let what = |record: &Choice<'_>| {
        let element = record.public.pointer(element);
        element.map_or_else(String::new, words_of)
    };
    Err(WorkshopError::OtherElement {
        name: name.to_owned(),
        element: dotted(element),
        records: Box::new([(first.sequence, what(first)), (other.sequence, what(other))]),
    })
}

/// The beginning of a place up to its first index: the element of a list that the place lies in.
fn element_of(place: &str) -> Option<&str> {
    let mut end = 0;
    for part in place.split('/').skip(1) {
        end += 1 + part.len();
        if !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit()) {
            return place.get(..end);
        }
    }
    None
}

/// A value without the digests of what is withheld in it, which are new in every record.
fn without_digests(value: &Value) -> Value {
    match value {
        Value::Object(members) => members
            .iter()
            .filter(|(name, _)| *name != "_sd")
            .map(|(name, value)| (name.clone(), without_digests(value)))
            .collect(),
        Value::Array(elements) => elements.iter().map(without_digests).collect(),
        plain => plain.clone(),
    }
}

/// What the element of a list is in which a place lies, by what a person sees of it in the record; nothing for a place
/// without an index.
pub(crate) fn element_in_words(public: &Value, path: &str) -> Option<String> {
    let words = words_of(public.pointer(element_of(path)?)?);
    (!words.is_empty()).then_some(words)
}

/// Members by which people tell the elements of a list apart, the first of them the best.
const TELLING: [&str; 7] = ["id", "kind", "system", "when", "on", "place", "caption"];
/// Most of them that are told.
const MOST_WORDS: usize = 3;

fn words_of(element: &Value) -> String {
    let word = |name: &&str| {
        let value = element.get(name)?;
        if let Some(text) = value.as_str() {
            return Some(text.to_owned());
        }
        let end = |name| value.get(name).and_then(Value::as_str);
        match (end("earliest"), end("latest")) {
            (Some(from), Some(to)) if from != to => Some(format!("{from} to {to}")),
            (Some(one), _) | (None, Some(one)) => Some(one.to_owned()),
            (None, None) => None,
        }
    };
    let words: Vec<String> = TELLING.iter().filter_map(word).take(MOST_WORDS).collect();
    words.join(", ")
}

/// A place of a record as `--reveal` takes it: with the number of the record where the place has an index.
pub(crate) fn name_of(sequence: u32, path: &str) -> String {
    match element_of(path) {
        Some(_) => format!("{sequence}:{}", dotted(path)),
        None => dotted(path),
    }
}

/// Turns `custody[1].price` into the JSON Pointer `/custody/1/price`; a pointer stays as it is.
fn pointer(name: &str) -> String {
    if name.starts_with('/') {
        return name.trim_end_matches('/').to_owned();
    }
    let parts = name.split(['.', '[', ']']).filter(|part| !part.is_empty());
    parts.flat_map(|part| ["/", part]).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    fn withheld(paths: &[&str]) -> Vec<Disclosure> {
        let one = |path: &&str| {
            serde_json::from_value(json!({ "path": path, "disclosure": "" })).unwrap()
        };
        paths.iter().map(one).collect()
    }

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| (*name).to_owned()).collect()
    }

    fn of<'a>(sequence: u32, public: &'a Value, known: &'a [Disclosure]) -> Choice<'a> {
        Choice {
            sequence,
            public,
            known,
        }
    }

    #[test]
    fn places_are_named_in_two_ways() {
        for (dots, slashes) in [
            ("custody[1].price", "/custody/1/price"),
            ("agreement.owner.name", "/agreement/owner/name"),
            ("valuation", "/valuation"),
        ] {
            assert_eq!(pointer(dots), slashes);
            assert_eq!(pointer(slashes), slashes);
            assert_eq!(dotted(slashes), dots);
        }
        assert_eq!(pointer("custody.1.price"), "/custody/1/price");
    }

    #[test]
    fn a_place_without_a_number_is_that_of_the_record_handed_over() {
        let asked = names(&["agreement", "2:custody[0].price", "all"]);
        let meant = of_record(4, &asked);
        assert_eq!(
            meant,
            names(&["4:agreement", "2:custody[0].price", "4:all"])
        );
        assert_eq!(only_of(4, &meant), names(&["4:agreement", "4:all"]));
    }

    #[test]
    fn values_are_chosen_by_place_and_nothing_else() {
        let known = withheld(&[
            "/agreement/owner/name",
            "/agreement/price_ceiling",
            "/custody/10/price",
        ]);
        let chosen = |wish: &[&str]| {
            choose(&[of(1, &Value::Null, &known)], &names(wish)).map(|chosen| {
                let paths = chosen.into_iter().flatten().map(|one| one.path);
                paths.collect::<Vec<String>>().join(" ")
            })
        };
        assert_eq!(
            chosen(&["agreement.owner"]).unwrap(),
            "/agreement/owner/name"
        );
        assert_eq!(
            chosen(&["custody[10].price", "/agreement"]).unwrap(),
            "/agreement/owner/name /agreement/price_ceiling /custody/10/price"
        );
        assert_eq!(chosen(&["all"]).unwrap().split(' ').count(), 3);
        for nothing in ["agree", "custody[1]", "", "/", "name"] {
            let error = chosen(&["agreement", nothing]).unwrap_err();
            assert_eq!(
                error.to_string(),
                format!(
                    "`{nothing}` names no value that this record withholds; it withholds \
                     agreement.owner.name, agreement.price_ceiling, custody[10].price"
                )
            );
        }
        assert_eq!(
            choose(&[of(1, &Value::Null, &[])], &names(&["all"]))
                .unwrap_err()
                .to_string(),
            "`all` names no value that this record withholds; it withholds nothing"
        );
    }

    #[test]
    fn a_place_is_meant_in_every_record_that_withholds_there() {
        let first = withheld(&["/agreement/owner/name", "/valuation"]);
        let second = withheld(&["/agreement/owner/name", "/custody/0/price"]);
        let records = [of(1, &Value::Null, &first), of(2, &Value::Null, &second)];
        let chosen = choose(&records, &names(&["agreement", "custody"])).unwrap();
        let counts: Vec<usize> = chosen.iter().map(Vec::len).collect();
        assert_eq!(counts, [1, 2]);
        let error = choose(&records, &names(&["referral"])).unwrap_err();
        assert_eq!(
            error.to_string(),
            "`referral` names no value that one of these 2 records withholds; they withhold \
             agreement.owner.name, valuation, custody[0].price"
        );
    }

    #[test]
    fn an_index_means_the_same_thing_in_every_record() {
        let bought = json!({ "kind": "bought", "when": { "earliest": "1974", "latest": "1975" }, "_sd": ["a"] });
        let again = json!({ "kind": "bought", "when": { "earliest": "1974", "latest": "1975" }, "_sd": ["b"] });
        let sold = json!({ "kind": "sold", "when": { "earliest": "2026", "latest": "2026" } });
        let one = json!({ "custody": [bought] });
        let two = json!({ "custody": [again, sold] });
        let three = json!({ "custody": [sold, again] });
        let known = withheld(&["/custody/0/price", "/valuation"]);
        let choice = |wish: &str, third: bool| {
            let mut records = vec![of(1, &one, &known), of(2, &two, &known)];
            records.extend(third.then(|| of(3, &three, &known)));
            choose(&records, &names(&[wish])).map(|chosen| {
                let counts = chosen.iter().map(Vec::len);
                counts.collect::<Vec<usize>>()
            })
        };
        // The digests are new in every record and make no other thing of it.
        assert_eq!(choice("custody[0].price", false).unwrap(), [1, 1]);
        let error = choice("custody[0].price", true).unwrap_err();
        assert_eq!(
            error.to_string(),
            "`custody[0].price`: custody[0] is one thing in record 1 (bought, 1974 to 1975) and another in record 3 (sold, 2026)"
        );
        assert!(
            error.hint().contains("`--reveal 1:custody[0].price`"),
            "{}",
            error.hint()
        );
        assert_eq!(choice("3:custody[0].price", true).unwrap(), [0, 0, 1]);
        assert_eq!(choice("2:/custody/0", true).unwrap(), [0, 1, 0]);
        // Without an index every record is meant, whatever its list holds.
        assert_eq!(choice("custody", true).unwrap(), [1, 1, 1]);
        assert_eq!(choice("2:all", true).unwrap(), [0, 2, 0]);
        let error = choice("4:custody", true).unwrap_err();
        assert!(
            error.to_string().starts_with("`4:custody` names no value"),
            "{error}"
        );
        assert_eq!(
            element_in_words(&three, "/custody/0/price").unwrap(),
            "sold, 2026"
        );
        assert_eq!(element_in_words(&three, "/valuation"), None);
        assert_eq!(name_of(3, "/custody/0/price"), "3:custody[0].price");
        assert_eq!(name_of(3, "/agreement/owner/name"), "agreement.owner.name");
    }
}
