//! People and what was agreed with an owner, as the sheet has them.

use serde_json::{Map, Value, json};
use tangmark_core::record::{PartialDate, Role, Term as _};

use super::IntakeError;
use super::body::{key, missing, put};
use super::form::{FormAgreement, FormPerson};
use crate::{Surroundings, WorkshopError, journal};

/// A person; without a part of their own the usual one.
pub(super) fn person(said: &FormPerson, usual: Role) -> Result<Value, IntakeError> {
    let role = key::<Role>("the part a person plays", said.role.as_deref())?;
    let mut person = Map::new();
    person.insert("role".to_owned(), json!(role.unwrap_or(usual.key())));
    put(&mut person, "name", said.name.as_deref());
    put(&mut person, "address", said.address.as_deref());
    put(&mut person, "contact", said.contact.as_deref());
    Ok(Value::Object(person))
}

/// Sets what is said of a person that is there.
pub(super) fn amend_person(person: &mut Value, said: &FormPerson) -> Result<(), IntakeError> {
    if let Some(role) = key::<Role>("the part a person plays", said.role.as_deref())? {
        person["role"] = json!(role);
    }
    for (name, text) in [
        ("name", &said.name),
        ("address", &said.address),
        ("contact", &said.contact),
    ] {
        if let Some(text) = text {
            person[name] = json!(text);
        }
    }
    Ok(())
}

/// An agreement as the sheet has it.
pub(super) fn agreement(
    said: &FormAgreement,
    giver: &FormPerson,
    on: &str,
) -> Result<Value, IntakeError> {
    let owner = if said.owner == FormPerson::default() {
        giver
    } else {
        &said.owner
    };
    if owner.name.is_none() {
        return Err(missing(
            "the owner's name",
            "an agreement is one with somebody",
            "write `--giver NAME`, or `--owner NAME` where the owner is somebody else",
        ));
    }
    let work = said.work.as_deref().ok_or(missing(
        "the work that was agreed",
        "what is not agreed is not done",
        "write `--work \"…\"`",
    ))?;
    let mut agreement = json!({
        "owner": person(owner, Role::Customer)?,
        "work": work,
        "etch_allowed": said.etch_allowed.unwrap_or(false),
        "on": said.on.as_deref().unwrap_or(on),
    });
    amend_agreement(&mut agreement, said);
    Ok(agreement)
}

/// Checks the days that are said: an agreement was made, and a blade goes back after it.
pub(super) fn check_days(
    said: &FormAgreement,
    agreement: &Value,
    around: &Surroundings<'_>,
) -> Result<(), WorkshopError> {
    let date = |text: &str| text.trim().parse::<PartialDate>();
    let Some(on) = agreement["on"].as_str() else {
        return Ok(());
    };
    let on = date(on)?.first_day();
    if said.on.is_some() {
        journal::happened("the day of the agreement", &on, journal::today(around))?;
    }
    if let Some(by) = agreement["return_by"].as_str()
        && (said.return_by.is_some() || said.on.is_some())
    {
        journal::due("the day of return", &date(by)?, &on)?;
    }
    Ok(())
}

/// Sets what is said in an agreement that is there; points to ask at are added to those that are there.
pub(super) fn amend_agreement(agreement: &mut Value, said: &FormAgreement) {
    for (name, text) in [
        ("work", &said.work),
        ("steel_limit", &said.steel_limit),
        ("consent", &said.consent),
        ("on", &said.on),
        ("return_by", &said.return_by),
        ("price_ceiling", &said.price_ceiling),
        ("insured_value", &said.insured_value),
    ] {
        if let Some(text) = text {
            agreement[name] = json!(text);
        }
    }
    if let Some(allowed) = said.etch_allowed {
        agreement["etch_allowed"] = json!(allowed);
    }
    if !said.stop_and_ask.is_empty() {
        let mut points: Vec<Value> = agreement["stop_and_ask"]
            .as_array()
            .cloned()
            .unwrap_or_default();
        for point in &said.stop_and_ask {
            let point = json!(point);
            if !points.contains(&point) {
                points.push(point);
            }
        }
        agreement["stop_and_ask"] = Value::Array(points);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_added_once_and_the_rest_is_replaced() {
        let mut agreement = json!({ "work": "clean", "stop_and_ask": ["any crack"] });
        let said = FormAgreement {
            work: Some("polish".to_owned()),
            stop_and_ask: vec!["any crack".to_owned(), "deep pits".to_owned()],
            ..FormAgreement::default()
        };
        amend_agreement(&mut agreement, &said);
        assert_eq!(
            agreement,
            json!({ "work": "polish", "stop_and_ask": ["any crack", "deep pits"] })
        );
    }
}
