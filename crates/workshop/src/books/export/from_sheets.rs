//! Rows from the newest sheets.

use serde_json::Value;
use tangmark_core::record::{
    Agreement, CustodyEvent, CustodyKind, Duration, Fitting, Flaw, Length, Mass, Pass,
    PassReadings, Person, Photo, Sheet, Term,
};
use tangmark_core::units::Decimal;

use super::super::trades::Trade;
use super::{Tables, layouts, opt, yes};
use crate::WorkshopError;

/// Writes the passes of a blade, in their order.
pub(super) fn passes(
    tables: &mut Tables,
    blade: &str,
    passes: &[Pass],
) -> Result<(), WorkshopError> {
    for (index, one) in passes.iter().enumerate() {
        pass(tables, blade, index + 1, one)?;
    }
    Ok(())
}

/// Writes all else that a sheet holds; of the trades those that the books count.
pub(super) fn sheet(
    tables: &mut Tables,
    sheet: &Sheet,
    trades: &[Trade<'_>],
) -> Result<(), WorkshopError> {
    let blade = sheet.blade.id.as_str();
    for one in &sheet.flaws {
        flaw(tables, blade, one)?;
    }
    for one in &sheet.fittings {
        fitting(tables, blade, "", one)?;
    }
    for (index, one) in sheet.custody.iter().enumerate() {
        custody(tables, blade, index + 1, one)?;
    }
    for one in trades.iter().filter(|one| one.counts()) {
        trade(tables, blade, one)?;
    }
    for one in &sheet.photos {
        photo(tables, blade, one)?;
    }
    if let Some(one) = &sheet.agreement {
        agreement(tables, blade, one)?;
    }
    let body = sheet
        .to_json()
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
    leaves(tables, blade, "", &body)
}

fn joined<T: Term>(terms: &[T]) -> String {
    let keys: Vec<&str> = terms.iter().map(|term| term.key()).collect();
    keys.join("; ")
}

fn listed(all: &[impl ToString]) -> String {
    let all: Vec<String> = all.iter().map(ToString::to_string).collect();
    all.join("; ")
}

fn key<T: Term>(term: Option<T>) -> String {
    opt(term.map(Term::key))
}

fn mm(length: Option<&Length>) -> String {
    opt(length.map(|length| length.0.value))
}

fn minutes(time: Option<&Duration>) -> Option<Decimal> {
    time.map(|time| time.0.value)
}

fn mass(readings: Option<&PassReadings>) -> String {
    let mass: Option<&Mass> = readings.and_then(|readings| readings.mass.as_ref());
    opt(mass.map(|mass| mass.0.value))
}

fn pass(tables: &mut Tables, blade: &str, number: usize, pass: &Pass) -> Result<(), WorkshopError> {
    let abrasive = pass.abrasive.as_ref();
    let grit = abrasive.and_then(|abrasive| abrasive.grit.as_ref());
    let etch = pass.etch.as_ref();
    let on_etch = |value: fn(&tangmark_core::record::Etch) -> bool| {
        etch.map_or_else(String::new, |etch| yes(value(etch)))
    };
    tables.row(
        &layouts::PASSES,
        &[
            blade.to_owned(),
            pass.id.to_string(),
            number.to_string(),
            pass.on.to_string(),
            pass.operation.key().to_owned(),
            joined(&pass.zones),
            joined(&pass.faces),
            opt(abrasive.map(|abrasive| &abrasive.name)),
            key(abrasive.and_then(|abrasive| abrasive.stage)),
            key(abrasive.map(|abrasive| abrasive.origin)),
            opt(grit.map(|grit| grit.number)),
            key(grit.map(|grit| grit.system)),
            opt(pass.strokes),
            opt(minutes(pass.time.as_ref())),
            mass(pass.before.as_ref()),
            mass(pass.after.as_ref()),
            opt(etch.map(|etch| &etch.agent)),
            opt(etch
                .and_then(|etch| etch.concentration.as_ref())
                .map(|share| share.0.value)),
            opt(minutes(etch.and_then(|etch| etch.time.as_ref()))),
            on_etch(|etch| etch.neutralised),
            on_etch(|etch| etch.rinsed),
            on_etch(|etch| etch.dried),
            opt(pass.note.as_ref()),
            listed(&pass.photos),
        ],
    )?;
    let Some(time) = minutes(pass.time.as_ref()) else {
        return Ok(());
    };
    tables.row(
        &layouts::HOURS,
        &[
            blade.to_owned(),
            "pass".to_owned(),
            String::new(),
            pass.id.to_string(),
            pass.on.to_string(),
            time.to_string(),
            pass.operation.key().to_owned(),
            String::new(),
        ],
    )
}

fn flaw(tables: &mut Tables, blade: &str, flaw: &Flaw) -> Result<(), WorkshopError> {
    tables.row(
        &layouts::FLAWS,
        &[
            blade.to_owned(),
            flaw.id.to_string(),
            flaw.kind.key().to_owned(),
            flaw.zone.key().to_owned(),
            joined(&flaw.faces),
            mm(Some(&flaw.at)),
            mm(flaw.from_edge.as_ref()),
            mm(flaw.length.as_ref()),
            mm(flaw.width.as_ref()),
            mm(flaw.depth.as_ref()),
            opt(flaw.area.as_ref().map(|area| area.0.value)),
            opt(flaw.count),
            flaw.through_temper.map_or_else(String::new, yes),
            flaw.progress.key().to_owned(),
            flaw.standing.key().to_owned(),
            flaw.sightings.len().to_string(),
            opt(flaw.cause.as_ref()),
            opt(flaw.note.as_ref()),
            listed(&flaw.photos),
        ],
    )
}

/// Writes a fitting, with where it is when that is with no blade.
pub(super) fn fitting(
    tables: &mut Tables,
    blade: &str,
    place: &str,
    fitting: &Fitting,
) -> Result<(), WorkshopError> {
    tables.row(
        &layouts::FITTINGS,
        &[
            blade.to_owned(),
            fitting.id.to_string(),
            place.to_owned(),
            fitting.part.key().to_owned(),
            fitting.description.clone(),
            joined(&fitting.materials),
            opt(fitting.material_evidence.as_ref()),
            fitting.matched.key().to_owned(),
            key(fitting.origin),
            key(fitting.kept),
            opt(fitting.condition.as_ref()),
            key(fitting.protected),
            opt(fitting.protected_as_of.as_ref()),
            listed(&fitting.photos),
        ],
    )
}

fn person(person: Option<&Person>) -> [String; 2] {
    [
        key(person.map(|person| person.role)),
        opt(person.and_then(|person| person.name.as_ref())),
    ]
}

fn custody(
    tables: &mut Tables,
    blade: &str,
    number: usize,
    event: &CustodyEvent,
) -> Result<(), WorkshopError> {
    let [from_role, from_name] = person(event.from.as_ref());
    let [to_role, to_name] = person(event.to.as_ref());
    let papers: Vec<&str> = event.documents.iter().map(|one| one.kind.key()).collect();
    let price = event.price.as_ref();
    let amount = opt(price.map(|price| price.amount));
    let currency = opt(price.map(|price| &price.currency));
    tables.row(
        &layouts::CUSTODY,
        &[
            blade.to_owned(),
            number.to_string(),
            event.kind.key().to_owned(),
            event.when.earliest.to_string(),
            event.when.latest.to_string(),
            from_role,
            from_name,
            to_role,
            to_name,
            opt(event.place.as_ref()),
            amount,
            currency,
            papers.join("; "),
            opt(event.note.as_ref()),
        ],
    )
}

/// A purchase or a sale, as a line of what went out or came in.
fn trade(tables: &mut Tables, blade: &str, trade: &Trade<'_>) -> Result<(), WorkshopError> {
    let event = trade.event;
    let price = event.price.as_ref();
    let amount = opt(price.map(|price| price.amount));
    let currency = opt(price.map(|price| &price.currency));
    let on = event.when.latest.to_string();
    let kind = event.kind.key().to_owned();
    let party = opt(trade.party());
    let what = "the blade".to_owned();
    let none = String::new;
    if event.kind == CustodyKind::Sold {
        let row = [
            blade.to_owned(),
            kind,
            none(),
            on,
            what,
            party,
            amount,
            currency,
            none(),
        ];
        return tables.row(&layouts::SALES, &row);
    }
    tables.row(
        &layouts::COSTS,
        &[
            blade.to_owned(),
            kind,
            none(),
            on,
            what,
            party,
            amount,
            currency,
            none(),
            none(),
            none(),
            none(),
        ],
    )
}

fn photo(tables: &mut Tables, blade: &str, photo: &Photo) -> Result<(), WorkshopError> {
    let file = photo.original.as_ref();
    tables.row(
        &layouts::PHOTOS,
        &[
            blade.to_owned(),
            photo.id.to_string(),
            photo.shows.key().to_owned(),
            photo.caption.clone(),
            opt(photo.taken_on.as_ref()),
            opt(file.map(|file| file.digest)),
            opt(file.map(|file| &file.media_type)),
            opt(file.map(|file| file.length)),
            opt(file.map(|file| file.width_px)),
            opt(file.map(|file| file.height_px)),
            mm(photo.field_width.as_ref()),
            yes(photo.original_kept_private),
        ],
    )
}

fn agreement(tables: &mut Tables, blade: &str, one: &Agreement) -> Result<(), WorkshopError> {
    let [role, name] = person(Some(&one.owner));
    let ceiling = one.price_ceiling.as_ref();
    let insured = one.insured_value.as_ref();
    tables.row(
        &layouts::AGREEMENTS,
        &[
            blade.to_owned(),
            one.on.to_string(),
            role,
            name,
            one.work.clone(),
            opt(one.steel_limit.as_ref().map(|mass| mass.0.value)),
            yes(one.etch_allowed),
            one.stop_and_ask.join("; "),
            opt(one.consent.as_ref()),
            opt(one.return_by.as_ref()),
            opt(ceiling.map(|money| money.amount)),
            opt(ceiling.map(|money| &money.currency)),
            opt(insured.map(|money| money.amount)),
            opt(insured.map(|money| &money.currency)),
        ],
    )
}

/// Writes the measured values of a sheet and everything else on it, each with its place.
fn leaves(
    tables: &mut Tables,
    blade: &str,
    place: &str,
    value: &Value,
) -> Result<(), WorkshopError> {
    match value {
        Value::Object(members) => {
            if let Some(cells) = reading(value) {
                let mut row = vec![blade.to_owned(), place.to_owned()];
                row.extend(cells);
                return tables.row(&layouts::READINGS, &row);
            }
            for (name, member) in members {
                let inner = if place.is_empty() {
                    name.clone()
                } else {
                    format!("{place}.{name}")
                };
                leaves(tables, blade, &inner, member)?;
            }
            Ok(())
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                leaves(tables, blade, &format!("{place}[{index}]"), item)?;
            }
            Ok(())
        }
        Value::Null => Ok(()),
        other => {
            let text = other
                .as_str()
                .map_or_else(|| other.to_string(), str::to_owned);
            let row = [blade.to_owned(), place.to_owned(), text];
            tables.row(&layouts::SHEETS, &row)
        }
    }
}

/// The cells of a measured value, where it is one.
fn reading(value: &Value) -> Option<[String; 7]> {
    let text = |name: &str| value.get(name)?.as_str().map(str::to_owned);
    let readings = value.get("as_read")?.as_array()?;
    let readings: Vec<&str> = readings
        .iter()
        .filter_map(|reading| reading.get("text")?.as_str())
        .collect();
    Some([
        text("value")?,
        text("unit")?,
        text("standard_uncertainty")?,
        text("uncertainty_from").unwrap_or_default(),
        readings.join("; "),
        text("instrument").unwrap_or_default(),
        text("method").unwrap_or_default(),
    ])
}
