//! Moving a fitting: to a blade, into storage, out of the workshop. Each move stays in its history.

use tangmark_core::record::{CustodyKind, FittingOrigin, Kept, Key, Matched};
use tangmark_store::Store as _;

use super::{
    Belonging, Card, DoneFitting, FittingError, Known, LONGEST_NAME, LONGEST_NOTE, Move, Place,
    expect_text, sheet,
};
use crate::journal::{Entry, Who};
use crate::{Surroundings, Workshop, WorkshopError};

/// What stands for the workshop's storage where a place is asked for.
const STORAGE: &str = "storage";

impl Workshop {
    /// Moves a fitting to a blade (by its key), to `storage`, or out, to whoever else is named.
    ///
    /// Where it was with a blade it leaves that blade's sheet, and where it comes to one it enters that sheet, with an event
    /// in the life of the blade each time. From one blade to another it goes by way of storage: one change for each sheet.
    ///
    /// # Errors
    /// When there is no such fitting or place, it is there already, or the move is dated before the one before it. Nothing
    /// is written then; when the second of two sheets cannot be written, it stays in storage, and the error says so.
    pub fn move_fitting(
        &self,
        id: &str,
        to: &str,
        belonging: Belonging,
        note: Option<&str>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<DoneFitting, WorkshopError> {
        let known = self.known(id)?;
        if let Some(note) = note {
            expect_text("remark", note, LONGEST_NOTE)?;
        }
        let from = known.place();
        let to = self.place(to, &from, belonging)?;
        let on = who.day(around)?;
        if on.as_str() < known.since() {
            return Err(FittingError::EarlierMove {
                id: id.to_owned(),
                found: on,
                place: from.words(),
                since: known.since().to_owned(),
            }
            .into());
        }
        let mut change = Moving {
            workshop: self,
            known,
            on,
            note,
            who,
            around,
        };
        match (from.blade(), to.blade()) {
            (Some(old), Some(new)) if old == new => change.within(&from, to, belonging),
            (Some(_), Some(new)) => {
                // Told before anything is written.
                change.expect_room(new)?;
                let out = change.leave(&from, Place::Storage)?;
                change.known = self.known(id)?;
                let blade = new.to_owned();
                let joined = change.join(&Place::Storage, to, belonging);
                let done = joined.map_err(|error| FittingError::LeftInStorage {
                    id: id.to_owned(),
                    blade,
                    fault: error.to_string(),
                    hint: error.hint(),
                })?;
                Ok(DoneFitting {
                    sheets: [out.sheets, done.sheets].concat(),
                    entries: [out.entries, done.entries].concat(),
                    remarks: [out.remarks, done.remarks].concat(),
                    ..done
                })
            }
            (Some(_), None) => change.leave(&from, to),
            (None, Some(new)) => {
                change.expect_room(new)?;
                change.join(&from, to, belonging)
            }
            (None, None) => change.elsewhere(&from, to),
        }
    }

    /// Reads a place as people write it.
    fn place(
        &self,
        text: &str,
        from: &Place,
        belonging: Belonging,
    ) -> Result<Place, WorkshopError> {
        let blade = self.store().blades()?.into_iter().any(|row| row.id == text);
        if blade {
            // On the same blade it stays as it was kept unless that is said.
            let before = match from {
                Place::Blade { blade, kept } if blade == text => *kept,
                _ => Kept::Mounted,
            };
            return Ok(Place::Blade {
                blade: text.to_owned(),
                kept: belonging.kept.unwrap_or(before),
            });
        }
        let given = [
            ("--matched", belonging.matched.is_some()),
            ("--origin", belonging.origin.is_some()),
            ("--kept", belonging.kept.is_some()),
        ];
        if let Some((name, _)) = given.into_iter().find(|(_, given)| *given) {
            return Err(FittingError::WithNoBlade(name).into());
        }
        if text == STORAGE {
            return Ok(Place::Storage);
        }
        // A slip in a blade's key must not send the fitting to somebody of that name.
        let with = text.trim();
        if with.is_empty() || with.parse::<Key>().is_ok() {
            return Err(FittingError::NoSuchPlace(text.chars().take(60).collect()).into());
        }
        expect_text("name", with, LONGEST_NAME)?;
        Ok(Place::Out {
            with: with.to_owned(),
        })
    }
}

/// A move in the making.
struct Moving<'a, 's> {
    workshop: &'a Workshop,
    known: Known,
    on: String,
    note: Option<&'a str>,
    who: &'a Who<'a>,
    around: &'a Surroundings<'s>,
}

impl Moving<'_, '_> {
    fn id(&self) -> &str {
        self.known.id()
    }

    fn same(&self, place: &Place) -> WorkshopError {
        FittingError::SamePlace {
            id: self.id().to_owned(),
            place: place.words(),
            since: self.known.since().to_owned(),
        }
        .into()
    }

    /// Refuses a blade whose sheet cannot take it.
    fn expect_room(&self, blade: &str) -> Result<(), WorkshopError> {
        let edit = self.workshop.edit(blade)?;
        if sheet::has(&edit.body, self.id()) {
            return Err(FittingError::InSheet {
                blade: blade.to_owned(),
                id: self.id().to_owned(),
            }
            .into());
        }
        edit.sheet().map(drop)
    }

    /// Card, where it changes, and the move itself; the move stands with the blade that it is about.
    fn entries(&self, card: &Card, from: &Place, to: &Place) -> Result<Vec<Entry>, WorkshopError> {
        let who = Who {
            on: Some(&self.on),
            by: self.who.by,
        };
        let moved = Move {
            from: Some(from.clone()),
            to: to.clone(),
            note: self.note.map(str::to_owned),
        };
        let about = to.blade().or_else(|| from.blade());
        let mut entries = Vec::new();
        if *card != self.known.card.matter {
            let known = Some(&self.known);
            entries.push(self.workshop.card_entry(card, known, &who, self.around)?);
        }
        entries.push(
            self.workshop
                .entry(about, self.id(), &moved, &who, self.around)?,
        );
        Ok(entries)
    }

    fn write(
        &self,
        card: &Card,
        edit: Option<crate::edit::Edit>,
        from: &Place,
        to: Place,
    ) -> Result<DoneFitting, WorkshopError> {
        let entries = self.entries(card, from, &to)?;
        let remark = format!("fitting `{}`: {}", self.id(), to.words());
        let done = self
            .workshop
            .write_fitting(card, &[], edit, entries, &remark, self.around)?;
        Ok(DoneFitting { place: to, ..done })
    }

    fn elsewhere(&self, from: &Place, to: Place) -> Result<DoneFitting, WorkshopError> {
        if *from == to {
            return Err(self.same(from));
        }
        self.write(&self.known.card.matter, None, from, to)
    }

    /// On the blade it is with: mounted, kept with it, or apart; or back into a sheet that lost it.
    fn within(
        &self,
        from: &Place,
        to: Place,
        belonging: Belonging,
    ) -> Result<DoneFitting, WorkshopError> {
        let Place::Blade { blade, kept } = &to else {
            return Err(self.same(from));
        };
        let mut edit = self.workshop.edit(blade)?;
        let mut card = self.known.card.matter.clone();
        belong(&mut card, belonging);
        card.fitting.kept = Some(*kept);
        let lost = !sheet::has(&edit.body, self.id());
        if *from == to && !lost && card == self.known.card.matter {
            return Err(self.same(from));
        }
        sheet::put(&mut edit, &card)?;
        // With the fitting went the event that told of its coming; one that came with the blade never had one.
        if lost && card.fitting.origin != Some(FittingOrigin::CameWithBlade) {
            let back = "put back into the sheet";
            sheet::event(&mut edit, CustodyKind::FittingAdded, &self.on, &card, back);
        }
        self.write(&card, Some(edit), from, to)
    }

    fn leave(&self, from: &Place, to: Place) -> Result<DoneFitting, WorkshopError> {
        let card = self.known.card.matter.clone().loose();
        let edit = match from.blade() {
            Some(blade) => {
                let mut edit = self.workshop.edit(blade)?;
                if sheet::has(&edit.body, self.id()) {
                    sheet::take(&mut edit, self.id());
                    // The sheet is sealed, and a note withholds nothing: who has it now stays in the journal.
                    let gone = match &to {
                        Place::Out { .. } => "taken away; now out of the workshop".to_owned(),
                        other => format!("taken away; now {}", other.words()),
                    };
                    sheet::event(
                        &mut edit,
                        CustodyKind::FittingRemoved,
                        &self.on,
                        &card,
                        &gone,
                    );
                } else {
                    edit.remark(format!(
                        "the sheet of `{blade}` did not have `{}` any more; it was left as it is",
                        self.id()
                    ));
                }
                Some(edit)
            }
            None => None,
        };
        self.write(&card, edit, from, to)
    }

    fn join(
        &self,
        from: &Place,
        to: Place,
        belonging: Belonging,
    ) -> Result<DoneFitting, WorkshopError> {
        let Place::Blade { blade, kept } = &to else {
            return Err(self.same(from));
        };
        let mut edit = self.workshop.edit(blade)?;
        let mut card = self.known.card.matter.clone().loose();
        belong(
            &mut card,
            Belonging {
                matched: belonging.matched.or(Some(Matched::NotTried)),
                origin: belonging.origin.or(Some(FittingOrigin::Added)),
                kept: Some(*kept),
            },
        );
        sheet::put(&mut edit, &card)?;
        let came = match from {
            Place::Storage => "from storage".to_owned(),
            Place::Out { .. } => "from outside the workshop".to_owned(),
            Place::Blade { blade, .. } => format!("from `{blade}`"),
        };
        sheet::event(&mut edit, CustodyKind::FittingAdded, &self.on, &card, &came);
        self.write(&card, Some(edit), from, to)
    }
}

fn belong(card: &mut Card, belonging: Belonging) {
    let fitting = &mut card.fitting;
    if let Some(matched) = belonging.matched {
        fitting.matched = matched;
    }
    fitting.origin = belonging.origin.or(fitting.origin);
    fitting.kept = belonging.kept.or(fitting.kept);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use tangmark_core::record::FittingPart;

    use super::*;
    use crate::fitting::NewFitting;
    use crate::walked::Bench;

    #[test]
    fn whoever_has_a_fitting_stands_in_the_journal_and_not_on_the_sheet() {
        let bench = Bench::with("dune");
        let workshop = bench.workshop();
        let new = NewFitting {
            id: "g2".parse().unwrap(),
            part: FittingPart::Tsuba,
            with: Some("dune".to_owned()),
            note: None,
            known: crate::fitting::Changes {
                title: Some("Iron guard".to_owned()),
                ..Default::default()
            },
        };
        let who = Who::default();
        let to = |place: &str| {
            bench.around(|around| {
                workshop
                    .move_fitting("g2", place, Belonging::default(), None, &who, around)
                    .unwrap()
            });
        };
        bench.around(|around| workshop.add_fitting(&new, &who, around).unwrap());
        to("Mr. Private Buyer, 5 Quay Lane");
        let card = workshop.fitting("g2").unwrap();
        assert!(format!("{card:?}").contains("Private Buyer"));
        to("dune");
        let (sheet, _) = workshop.sheet("dune").unwrap();
        let notes: Vec<&str> = sheet
            .custody
            .iter()
            .filter_map(|event| event.note.as_deref())
            .collect();
        assert_eq!(notes.len(), 2, "{notes:?}");
        assert!(notes[0].ends_with("taken away; now out of the workshop"));
        assert!(notes[1].ends_with("from outside the workshop"));
    }
}
