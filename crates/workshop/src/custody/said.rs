//! An event of custody as somebody says it, and how it becomes one of the sheet.

use tangmark_core::record::{
    CustodyEvent, CustodyKind, Document, PartialDate, Person, Role, Sheet, When,
};

use unicode_normalization::UnicodeNormalization as _;

use super::error::{CustodyError, term};
use crate::WorkshopError;

/// A person as named on a command line; what is left out is not said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Party<'a> {
    /// Part played, a term; left out: the one that goes with the event.
    pub role: Option<&'a str>,
    /// Name.
    pub name: Option<&'a str>,
    /// Postal address.
    pub address: Option<&'a str>,
    /// Telephone or mail.
    pub contact: Option<&'a str>,
}

impl Party<'_> {
    const fn is_said(&self) -> bool {
        self.role.is_some()
            || self.name.is_some()
            || self.address.is_some()
            || self.contact.is_some()
    }
}

/// What is said of an event. Left out: not stated in a new event, as it was in a changed one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct EventSaid<'a> {
    /// Kind, a term.
    pub kind: Option<&'a str>,
    /// The day, month or year.
    pub on: Option<&'a str>,
    /// The earliest day, month or year it can have been.
    pub not_before: Option<&'a str>,
    /// The latest.
    pub not_after: Option<&'a str>,
    /// From whom.
    pub from: Party<'a>,
    /// To whom.
    pub to: Party<'a>,
    /// Place, in general words.
    pub place: Option<&'a str>,
    /// Papers, each as [`document`] reads it; in a changed event in place of those that were there.
    pub documents: &'a [String],
    /// Price, such as `1200 EUR`.
    pub price: Option<&'a str>,
    /// Remarks.
    pub note: Option<&'a str>,
}

/// Parts of an event that can be taken away.
const PARTS: [&str; 6] = ["documents", "from", "note", "place", "price", "to"];

impl EventSaid<'_> {
    /// Whether anything is said.
    pub(super) const fn is_said(&self) -> bool {
        self.kind.is_some()
            || self.on.is_some()
            || self.not_before.is_some()
            || self.not_after.is_some()
            || self.from.is_said()
            || self.to.is_said()
            || self.place.is_some()
            || !self.documents.is_empty()
            || self.price.is_some()
            || self.note.is_some()
    }

    /// A new event; what its dates leave open is filled in from the sheet and the day of today.
    pub(super) fn new_event(
        &self,
        sheet: &Sheet,
        today: &PartialDate,
    ) -> Result<CustodyEvent, WorkshopError> {
        let kind = term::<CustodyKind>("kind of event", self.kind.ok_or(CustodyError::NoKind)?)?;
        let mut event = CustodyEvent {
            kind,
            maps_to: Vec::new(),
            when: self.span(sheet, today)?,
            from: None,
            to: None,
            place: None,
            documents: Vec::new(),
            price: None,
            note: None,
            withheld: Vec::new(),
        };
        self.apply(&mut event)?;
        Ok(event)
    }

    /// When a new event was.
    fn span(&self, sheet: &Sheet, today: &PartialDate) -> Result<When, WorkshopError> {
        let date = |text: &str| text.trim().parse::<PartialDate>();
        let when = match (self.on, self.not_before, self.not_after) {
            (Some(on), _, _) => {
                let on = date(on)?;
                When {
                    earliest: on.clone(),
                    latest: on,
                }
            }
            (None, None, None) => When {
                earliest: today.clone(),
                latest: today.clone(),
            },
            (None, Some(first), Some(last)) => When {
                earliest: date(first)?,
                latest: date(last)?,
            },
            // What is entered today was before tomorrow.
            (None, Some(first), None) => When {
                earliest: date(first)?,
                latest: today.clone(),
            },
            (None, None, Some(last)) => {
                let made = sheet.blade.made_not_before.clone();
                When {
                    earliest: made.ok_or_else(|| CustodyError::OpenStart {
                        latest: last.to_owned(),
                    })?,
                    latest: date(last)?,
                }
            }
        };
        Ok(when)
    }

    /// Says it of an event that is there: what is not said stays.
    pub(super) fn apply(&self, event: &mut CustodyEvent) -> Result<(), WorkshopError> {
        if let Some(kind) = self.kind {
            event.kind = term("kind of event", kind)?;
        }
        event.maps_to = event
            .kind
            .maps_to()
            .iter()
            .map(|name| (*name).to_owned())
            .collect();
        for (said, end) in [
            (self.on.or(self.not_before), &mut event.when.earliest),
            (self.on.or(self.not_after), &mut event.when.latest),
        ] {
            if let Some(said) = said {
                *end = said.trim().parse()?;
            }
        }
        let (giver, taker) = usual_roles(event.kind);
        set_person(&mut event.from, &self.from, giver)?;
        set_person(&mut event.to, &self.to, taker)?;
        set_text(&mut event.place, self.place);
        set_text(&mut event.note, self.note);
        if !self.documents.is_empty() {
            event.documents = self
                .documents
                .iter()
                .map(|text| document(text))
                .collect::<Result<_, _>>()?;
        }
        if let Some(price) = self.price {
            event.price = Some(price.parse().map_err(CustodyError::Price)?);
        }
        Ok(())
    }
}

/// Takes parts of an event away.
pub(super) fn clear(event: &mut CustodyEvent, parts: &[String]) -> Result<(), CustodyError> {
    for part in parts {
        match part.as_str() {
            "documents" => event.documents.clear(),
            "from" => event.from = None,
            "note" => event.note = None,
            "place" => event.place = None,
            "price" => event.price = None,
            "to" => event.to = None,
            _ => {
                return Err(CustodyError::Part {
                    found: part.clone(),
                    allowed: PARTS.join(", "),
                });
            }
        }
    }
    Ok(())
}

fn set_text(place: &mut Option<String>, said: Option<&str>) {
    if let Some(said) = said {
        *place = Some(composed(said));
    }
}

/// A keyboard may send letters and marks apart; a record holds them together.
fn composed(text: &str) -> String {
    text.trim().nfc().collect()
}

fn set_person(
    place: &mut Option<Person>,
    said: &Party<'_>,
    usual: Role,
) -> Result<(), CustodyError> {
    if !said.is_said() {
        return Ok(());
    }
    let person = place.get_or_insert(Person {
        role: usual,
        name: None,
        address: None,
        contact: None,
        withheld: Vec::new(),
    });
    if let Some(role) = said.role {
        person.role = term("part played", role)?;
    }
    set_text(&mut person.name, said.name);
    set_text(&mut person.address, said.address);
    set_text(&mut person.contact, said.contact);
    Ok(())
}

/// The parts that giver and taker usually play.
const fn usual_roles(kind: CustodyKind) -> (Role, Role) {
    match kind {
        CustodyKind::Bought => (Role::Seller, Role::Owner),
        CustodyKind::Sold => (Role::Owner, Role::Buyer),
        CustodyKind::LeftForWork => (Role::Customer, Role::Polisher),
        CustodyKind::Returned => (Role::Polisher, Role::Owner),
        CustodyKind::Inherited => (Role::Owner, Role::Heir),
        CustodyKind::Given | CustodyKind::Lent => (Role::Owner, Role::Owner),
        CustodyKind::Made => (Role::Smith, Role::Unknown),
        CustodyKind::Attributed => (Role::Unknown, Role::Appraiser),
        CustodyKind::Registered => (Role::Owner, Role::Authority),
        _ => (Role::Unknown, Role::Unknown),
    }
}

/// Reads a paper: its kind, then what is known of it, such as `receipt; issuer=Workshop at the Weir; on=2026-03-01;
/// number=26-031; note=kept in the box`.
///
/// # Errors
/// A word that is no kind of paper, a part that is none, a date in another form.
pub fn document(text: &str) -> Result<Document, CustodyError> {
    let fault = |why: String| CustodyError::Document {
        text: text.to_owned(),
        why,
    };
    let mut parts = text.split(';').map(str::trim);
    let mut paper = Document {
        kind: term("kind of paper", parts.next().unwrap_or_default())?,
        issuer: None,
        on: None,
        number: None,
        note: None,
        withheld: Vec::new(),
    };
    for part in parts.filter(|part| !part.is_empty()) {
        let (name, value) = part.split_once('=').ok_or_else(|| {
            fault(format!(
                "`{part}` found, a name, `=` and a value are allowed"
            ))
        })?;
        let value = composed(value);
        if value.is_empty() {
            return Err(fault(format!("`{part}` has no value")));
        }
        let twice = match name.trim() {
            "issuer" => paper.issuer.replace(value).is_some(),
            "on" => {
                let on = value.parse().map_err(|error| fault(format!("{error}")))?;
                paper.on.replace(on).is_some()
            }
            "number" => paper.number.replace(value).is_some(),
            "note" => paper.note.replace(value).is_some(),
            other => {
                return Err(fault(format!(
                    "`{other}` found; issuer, on, number and note are allowed"
                )));
            }
        };
        if twice {
            return Err(fault(format!("`{}` stands in it twice", name.trim())));
        }
    }
    Ok(paper)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn papers_are_read_and_slips_are_told() {
        let paper =
            document("receipt; issuer=Workshop at the Weir; on=2026-03; number=26-031").unwrap();
        assert_eq!(paper.kind, tangmark_core::record::DocumentKind::Receipt);
        assert_eq!(paper.issuer.as_deref(), Some("Workshop at the Weir"));
        assert_eq!(paper.on.unwrap().to_string(), "2026-03");
        assert_eq!(paper.number.as_deref(), Some("26-031"));
        for (text, why) in [
            ("bill", "kind of paper `bill` is none of the list"),
            (
                "receipt; by=A",
                "`by` found; issuer, on, number and note are allowed",
            ),
            ("receipt; on=March", "paper `receipt; on=March`: "),
            ("receipt; number=1; number=2", "`number` stands in it twice"),
            ("receipt; number=", "`number=` has no value"),
            ("receipt; lost", "`lost` found, a name"),
        ] {
            let error = document(text).unwrap_err().to_string();
            assert!(error.contains(why), "{text}: {error}");
        }
    }
}
