//! Withheld values that are to be shown, named by their place: one way for reports and packages.

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

/// Takes the disclosures that are named from those of each record, in their order there. A place is meant in every record
/// that withholds something there.
///
/// # Errors
/// When a place names nothing that any of the records withholds.
pub(crate) fn choose(
    records: &[&[Disclosure]],
    names: &[String],
) -> Result<Vec<Vec<Disclosure>>, WorkshopError> {
    let mut wanted: Vec<Vec<bool>> = records
        .iter()
        .map(|known| vec![false; known.len()])
        .collect();
    for name in names {
        let place = pointer(name);
        let mut any = false;
        for (known, wanted) in records.iter().zip(&mut wanted) {
            for (disclosure, wanted) in known.iter().zip(wanted) {
                let below = disclosure
                    .path
                    .strip_prefix(&place)
                    .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'));
                // An empty name is the beginning of everything, and nobody's wish.
                if (below && !place.is_empty()) || name == "all" {
                    *wanted = true;
                    any = true;
                }
            }
        }
        if !any {
            let mut places: Vec<String> = Vec::new();
            for disclosure in records.iter().copied().flatten() {
                let place = dotted(&disclosure.path);
                if !places.contains(&place) {
                    places.push(place);
                }
            }
            return Err(WorkshopError::NotWithheld {
                name: name.clone(),
                known: places,
                records: records.len(),
            });
        }
    }
    let chosen = records.iter().zip(wanted).map(|(known, wanted)| {
        let chosen = known.iter().zip(wanted).filter(|(_, wanted)| *wanted);
        chosen.map(|(disclosure, _)| disclosure.clone()).collect()
    });
    Ok(chosen.collect())
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
    use super::*;

    fn withheld(paths: &[&str]) -> Vec<Disclosure> {
        let one = |path: &&str| {
            serde_json::from_value(serde_json::json!({ "path": path, "disclosure": "" })).unwrap()
        };
        paths.iter().map(one).collect()
    }

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| (*name).to_owned()).collect()
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
    fn values_are_chosen_by_place_and_nothing_else() {
        let known = withheld(&[
            "/agreement/owner/name",
            "/agreement/price_ceiling",
            "/custody/10/price",
        ]);
        let chosen = |wish: &[&str]| {
            choose(&[&known], &names(wish)).map(|chosen| {
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
            choose(&[&[]], &names(&["all"])).unwrap_err().to_string(),
            "`all` names no value that this record withholds; it withholds nothing"
        );
    }

    #[test]
    fn a_place_is_meant_in_every_record_that_withholds_there() {
        let first = withheld(&["/agreement/owner/name", "/valuation"]);
        let second = withheld(&["/agreement/owner/name", "/custody/0/price"]);
        let chosen = choose(&[&first, &second], &names(&["agreement", "custody"])).unwrap();
        let counts: Vec<usize> = chosen.iter().map(Vec::len).collect();
        assert_eq!(counts, [1, 2]);
        let error = choose(&[&first, &second], &names(&["referral"])).unwrap_err();
        assert_eq!(
            error.to_string(),
            "`referral` names no value that one of these 2 records withholds; they withhold \
             agreement.owner.name, valuation, custody[0].price"
        );
    }
}
