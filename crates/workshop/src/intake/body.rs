//! The first sheet of a blade, made of what was said of its arrival.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use serde_json::{Map, Value, json};
use tangmark_core::record::{
    BladeKind, Completeness, Construction, CustodyKind, Key, MassState, Part, RegistrationKind,
    Role, Shows, SurfaceGrade, Term,
};
use tangmark_core::units::Dimension;
use tangmark_core::units::reading::read;

use super::IntakeError;
use super::agreement::{agreement, person};
use super::form::{
    CameAs, FormLook, FormMass, FormPerson, FormPhoto, FormRegistration, IntakeForm, term,
};
use crate::WorkshopError;
use crate::custody::document;
use crate::edit::Edit;

/// Key of the scale among the instruments.
const SCALE: &str = "scale";

/// Day, workshop and person of an arrival.
pub(super) struct Arrival<'a> {
    pub(super) came_as: CameAs,
    pub(super) on: &'a str,
    pub(super) workshop: &'a str,
    pub(super) by: &'a str,
}

pub(super) fn missing(what: &'static str, why: &'static str, hint: &'static str) -> IntakeError {
    IntakeError::Missing { what, why, hint }
}

/// Sets a member where there is something to set.
pub(super) fn put(object: &mut Map<String, Value>, name: &str, value: Option<impl Into<Value>>) {
    if let Some(value) = value {
        object.insert(name.to_owned(), value.into());
    }
}

pub(super) fn key<T: Term>(
    what: &'static str,
    text: Option<&str>,
) -> Result<Option<&'static str>, IntakeError> {
    text.map(|text| term::<T>(what, text).map(Term::key))
        .transpose()
}

/// Refuses what does not go with the way the blade came.
pub(super) fn fits(form: &IntakeForm, came_as: CameAs) -> Result<(), IntakeError> {
    let refuse = |what, allowed| IntakeError::NotWith {
        what,
        came_as: came_as.word(),
        allowed,
    };
    if form.price.is_some() && came_as != CameAs::Bought {
        return Err(refuse("a price paid", "a blade that was bought"));
    }
    if form.agreement.is_said() && came_as != CameAs::Customer {
        return Err(refuse("an agreement with an owner", "a customer's blade"));
    }
    if form.giver != FormPerson::default() && came_as == CameAs::Own {
        return Err(refuse(
            "a giver",
            "a blade that came from somebody; for your own use bought, given or inherited",
        ));
    }
    Ok(())
}

/// The sheet without its photos.
pub(super) fn body(
    blade: &Key,
    form: &IntakeForm,
    arrival: &Arrival<'_>,
) -> Result<Value, WorkshopError> {
    let mut sheet = Map::new();
    sheet.insert("blade".to_owned(), identity(blade, form)?);
    let look = look(&form.look, &form.mass, &form.parcel.hid, arrival)?;
    put(
        &mut sheet,
        "dimensions",
        mass(&form.mass, look.as_ref().is_some_and(|look| look.scale))?,
    );
    put(&mut sheet, "examination", look.map(|look| look.value));
    if let Some(event) = event(form, arrival)? {
        sheet.insert("custody".to_owned(), json!([event]));
    }
    if arrival.came_as == CameAs::Customer {
        sheet.insert(
            "agreement".to_owned(),
            agreement(&form.agreement, &form.giver, arrival.on)?,
        );
    }
    Ok(Value::Object(sheet))
}

fn identity(blade: &Key, form: &IntakeForm) -> Result<Value, IntakeError> {
    let title = form.title.as_deref().ok_or(missing(
        "the title",
        "people find the blade by it",
        "write `--title \"…\"`, such as \"Long sword with rust at the point\"",
    ))?;
    let kind = form.kind.as_deref().ok_or(missing(
        "the kind by make",
        "every sheet has one",
        "write `--kind WORD`, `other` if you cannot tell yet; `tangmark schema terms` lists the words",
    ))?;
    let kind = term::<BladeKind>("the kind by make", kind)?;
    let construction = key::<Construction>("the construction", form.construction.as_deref())?;
    let object_type = form.object_type.as_deref().unwrap_or(kind.gloss());
    let mut identity = Map::new();
    identity.insert("id".to_owned(), json!(blade));
    identity.insert("title".to_owned(), json!(title));
    identity.insert("object_type".to_owned(), json!(object_type));
    identity.insert("kind_by_make".to_owned(), json!(kind.key()));
    identity.insert(
        "construction".to_owned(),
        json!(construction.unwrap_or(Construction::Other.key())),
    );
    if !form.registrations.is_empty() {
        let registrations = form.registrations.iter().map(registration);
        identity.insert(
            "registrations".to_owned(),
            registrations.collect::<Result<Value, _>>()?,
        );
    }
    Ok(Value::Object(identity))
}

fn registration(one: &FormRegistration) -> Result<Value, IntakeError> {
    let kind = term::<RegistrationKind>("the kind of a registration", &one.kind)?;
    let mut registration = Map::new();
    registration.insert("kind".to_owned(), json!(kind.key()));
    registration.insert("authority".to_owned(), json!(one.authority));
    put(&mut registration, "on", one.on.as_deref());
    put(&mut registration, "number", one.number.as_deref());
    put(&mut registration, "grade", one.grade.as_deref());
    Ok(Value::Object(registration))
}

/// A first look as an examination, and whether it names the scale among its instruments.
struct Look {
    value: Value,
    scale: bool,
}

fn look(
    look: &FormLook,
    mass: &FormMass,
    hid: &[String],
    arrival: &Arrival<'_>,
) -> Result<Option<Look>, IntakeError> {
    if *look == FormLook::default() {
        return Ok(None);
    }
    let light = look.light.as_deref().ok_or(missing(
        "the light",
        "a first look is worth what its light was",
        "write `--light \"…\"`, or leave the first look out",
    ))?;
    let surface = look.surface.as_deref().ok_or(missing(
        "the surface",
        "a first look says how it is as a whole",
        "write `--surface WORD`, or leave the first look out; `tangmark schema terms` lists the words",
    ))?;
    let completeness = look.completeness.as_deref().unwrap_or("complete");
    let mut seen: Vec<&str> = Vec::new();
    for part in &look.looked_at {
        let part = term::<Part>("a part that was looked at", part)?.key();
        if !seen.contains(&part) {
            seen.push(part);
        }
    }
    if mass.reading.is_some() && !seen.contains(&Part::Mass.key()) {
        seen.push(Part::Mass.key());
    }
    if seen.is_empty() {
        return Err(missing(
            "what was looked at",
            "a first look names its parts",
            "write `--looked-at PART`, once for each part, or leave the first look out",
        ));
    }
    let mut not_examined = Vec::new();
    for one in hid {
        if let (Some(part), why) = hidden(one)? {
            not_examined.push(json!({ "part": part.key(), "why": why }));
        }
    }
    let mut value = json!({
        "by": { "role": "polisher", "name": arrival.by },
        "on": arrival.on,
        "light": light,
        "reason": "intake",
        "methods": ["naked_eye"],
        "examined": seen,
        "surface": term::<SurfaceGrade>("the surface", surface)?.key(),
        "completeness": term::<Completeness>("completeness", completeness)?.key(),
    });
    if !not_examined.is_empty() {
        value["not_examined"] = Value::Array(not_examined);
    }
    if let Some(note) = &look.note {
        value["note"] = json!(note);
    }
    let scale = mass.reading.is_some() && mass.step.is_some();
    if scale {
        let mut instrument = json!({
            "id": SCALE,
            "name": mass.scale.as_deref().unwrap_or("scale"),
            "resolution": mass.step,
        });
        if let Some(limit) = &mass.limit_of_error {
            instrument["limit_of_error"] = json!(limit);
        }
        value["instruments"] = json!([instrument]);
    }
    Ok(Some(Look { value, scale }))
}

/// What the packing hid: a part and why, or plain words.
pub(super) fn hidden(text: &str) -> Result<(Option<Part>, &str), IntakeError> {
    match text.split_once('=') {
        Some((part, why)) => Ok((Some(term("a part that the packing hid", part)?), why.trim())),
        None => Ok((None, text.trim())),
    }
}

/// The mass as it came. Where no look names the scale as an instrument, the reading says by itself how it was taken.
fn mass(mass: &FormMass, instrument: bool) -> Result<Option<Value>, IntakeError> {
    let Some(reading) = &mass.reading else {
        return if *mass == FormMass::default() {
            Ok(None)
        } else {
            Err(missing(
                "the mass",
                "something is said of the scale or of what was on it",
                "write `--mass \"748.3 g\"`",
            ))
        };
    };
    let state = mass.state.as_deref().ok_or(missing(
        "what was on the scale",
        "a mass with and without its mounting are two things",
        "write `--mass-state bare`, `with_collar` or `mounted`",
    ))?;
    let mut quantity = json!({ "text": reading });
    if instrument {
        quantity["instrument"] = json!(SCALE);
    } else if mass.scale.is_some() || mass.step.is_some() || mass.limit_of_error.is_some() {
        let mut method = mass.scale.clone().unwrap_or_else(|| "scale".to_owned());
        for (name, what, value) in [
            ("step", "step of the scale", &mass.step),
            (
                "limit of error",
                "limit of error of the scale",
                &mass.limit_of_error,
            ),
        ] {
            if let Some(value) = value {
                read(value, Dimension::Mass)
                    .map_err(|error| IntakeError::Reading { what, error })?;
                let _ = write!(method, ", {name} {value}");
            }
        }
        quantity["method"] = json!(method);
    }
    Ok(Some(json!({
        "datum": "back_notch",
        "mass": quantity,
        "mass_state": term::<MassState>("what was on the scale", state)?.key(),
    })))
}

/// The event by which it came, and the part of the giver. The workshop is the polisher in each: by that the books know its
/// own purchases.
const fn event_of(came_as: CameAs) -> Option<(CustodyKind, Role)> {
    Some(match came_as {
        CameAs::Bought => (CustodyKind::Bought, Role::Seller),
        CameAs::Customer => (CustodyKind::LeftForWork, Role::Customer),
        CameAs::Own => return None,
        CameAs::Given => (CustodyKind::Given, Role::Owner),
        CameAs::Inherited => (CustodyKind::Inherited, Role::Owner),
        CameAs::Lent => (CustodyKind::Lent, Role::Owner),
        CameAs::Found => (CustodyKind::Found, Role::Unknown),
    })
}

fn event(form: &IntakeForm, arrival: &Arrival<'_>) -> Result<Option<Value>, WorkshopError> {
    let papers = form
        .papers
        .iter()
        .map(|text| document(text))
        .collect::<Result<Vec<_>, _>>()?;
    let Some((kind, giver)) = event_of(arrival.came_as) else {
        if papers.is_empty() {
            return Ok(None);
        }
        return Err(IntakeError::NotWith {
            what: "a paper",
            came_as: arrival.came_as.word(),
            allowed: "an arrival; papers of your own blade go to `tangmark custody add`",
        }
        .into());
    };
    let mut event = json!({
        "kind": kind.key(),
        "when": arrival.on,
        "to": { "role": "polisher", "name": arrival.workshop },
    });
    if form.giver != FormPerson::default() {
        event["from"] = person(&form.giver, giver)?;
    }
    if let Some(price) = &form.price {
        event["price"] = json!(price);
    }
    if let Some(place) = &form.parcel.place {
        event["place"] = json!(place);
    }
    if !papers.is_empty() {
        event["documents"] = serde_json::to_value(papers)
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
    }
    let note = note(form)?;
    if !note.is_empty() {
        event["note"] = json!(note);
    }
    Ok(Some(event))
}

/// Parcel and packing in words, for the event. What the packing hid of a part that a first look names stands there.
fn note(form: &IntakeForm) -> Result<String, IntakeError> {
    let mut parts = Vec::new();
    if let Some(carrier) = &form.parcel.carrier {
        parts.push(format!("Carrier: {carrier}."));
    }
    if !form.parcel.came.is_empty() {
        parts.push(format!("Came: {}.", form.parcel.came.join("; ")));
    }
    let looked = form.look != FormLook::default();
    let mut hid = Vec::new();
    for one in &form.parcel.hid {
        match hidden(one)? {
            (Some(_), _) if looked => {}
            (Some(part), why) => hid.push(format!("{}, {why}", part.gloss())),
            (None, words) => hid.push(words.to_owned()),
        }
    }
    if !hid.is_empty() {
        parts.push(format!("The packing hid: {}.", hid.join("; ")));
    }
    Ok(parts.join(" "))
}

/// Adds the photos; keys are made of the names of the files.
pub(super) fn photos(edit: &mut Edit, photos: &[FormPhoto], on: &str) -> Result<(), WorkshopError> {
    let mut taken = BTreeSet::new();
    for photo in photos {
        let stem = photo
            .file
            .file_stem()
            .map(|stem| stem.to_string_lossy().into_owned())
            .unwrap_or_default();
        let mut id = Key::from_name(&stem).to_string();
        let mut number = 2;
        while !taken.insert(id.clone()) {
            id = Key::from_name(&format!(
                "{}-{number}",
                stem.chars().take(34).collect::<String>()
            ))
            .to_string();
            number += 1;
        }
        let shows = key::<Shows>("what a photo shows", photo.shows.as_deref())?;
        let caption = photo
            .caption
            .clone()
            .unwrap_or_else(|| "As it came".to_owned());
        edit.photo(
            &photo.file,
            json!({
                "id": id,
                "shows": shows.unwrap_or(Shows::Whole.key()),
                "caption": caption,
                "taken_on": on,
            }),
        )?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_the_packing_hid_is_a_part_or_plain_words() {
        let (part, why) = hidden("tang = in the hilt").unwrap();
        assert_eq!((part, why), (Some(Part::Tang), "in the hilt"));
        assert_eq!(hidden("oil over all").unwrap(), (None, "oil over all"));
        let error = hidden("handle=in the hilt").unwrap_err().to_string();
        assert!(
            error.starts_with("a part that the packing hid: `handle` found, edge, ground,"),
            "{error}"
        );
    }
}
