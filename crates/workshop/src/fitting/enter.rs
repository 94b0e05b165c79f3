//! Entering a fitting into the inventory: a new one, or one that stands in the sheet of a blade.

use serde_json::{Value, json};
use tangmark_core::record::{
    FittingFit, FittingOrigin, FittingPart, Instrument, Kept, Key, Length, Matched, Photo,
    Term as _,
};

use super::change::Making;
use super::{
    Card, Changes, DoneFitting, FittingError, LONGEST_KEY, LONGEST_NOTE, Move, Place, Readings,
    card, expect_text, sheet,
};
use crate::journal::Who;
use crate::{Surroundings, Workshop, WorkshopError};

/// A fitting to be entered.
#[derive(Clone, Debug)]
pub struct NewFitting {
    /// Its key.
    pub id: Key,
    /// Part.
    pub part: FittingPart,
    /// The blade it came with.
    pub with: Option<String>,
    /// From whom it came, or other remarks on its coming.
    pub note: Option<String>,
    /// All else that is known; the title is needed.
    pub known: Changes,
}

impl Workshop {
    /// Enters a fitting into the inventory: with the blade it came with, in whose sheet it is written too, else in storage.
    ///
    /// # Errors
    /// When the key is taken, in the inventory or in the sheet, or something is not what it should be. Nothing is written
    /// then.
    pub fn add_fitting(
        &self,
        new: &NewFitting,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<DoneFitting, WorkshopError> {
        let id = new.id.as_str();
        self.expect_free(id)?;
        if let Some(note) = &new.note {
            expect_text("remark", note, LONGEST_NOTE)?;
        }
        let title = new.known.title.clone().unwrap_or_else(|| new.part.shown());
        let mut changes = new.known.clone();
        let edit = if let Some(blade) = &new.with {
            let belonging = &mut changes.belonging;
            belonging.origin = belonging.origin.or(Some(FittingOrigin::CameWithBlade));
            belonging.kept = belonging.kept.or(Some(Kept::Storage));
            Some(self.edit(blade)?)
        } else {
            {
                let given = changes.belonging;
                let of_blade = [
                    ("--matched", given.matched.is_some()),
                    ("--origin", given.origin.is_some()),
                    ("--kept", given.kept.is_some()),
                    ("--tried-on", changes.readings.tried_on.is_some()),
                ];
                if let Some((name, _)) = of_blade.into_iter().find(|(_, given)| *given) {
                    return Err(FittingError::WithNoBlade(name).into());
                }
            }
            None
        };
        if let Some(edit) = &edit
            && sheet::has(&edit.body, id)
        {
            return Err(FittingError::InSheet {
                blade: edit.blade().to_owned(),
                id: id.to_owned(),
            }
            .into());
        }
        let bare = json!({
            "id": id,
            "part": new.part,
            "description": changes.description.as_ref().unwrap_or(&title),
            "matched": Matched::NotTried,
        });
        let (fitting, stack) = card::read(bare, &[], &Readings::default())?;
        let bare = Card {
            title,
            fitting,
            stack,
            photos: Vec::new(),
        };
        let made = Making::of(&bare, &changes)?;
        let to = match (&new.with, made.card.fitting.kept) {
            (Some(blade), Some(kept)) => Place::Blade {
                blade: blade.clone(),
                kept,
            },
            _ => Place::Storage,
        };
        self.enter(made, edit, to, new.note.clone(), who, around)
    }

    /// Takes a fitting that stands in the sheet of a blade into the inventory, under the same key or another one; the sheet
    /// then has it under that key.
    ///
    /// # Errors
    /// When the sheet has no such fitting, or the key is taken. Nothing is written then.
    pub fn adopt_fitting(
        &self,
        blade: &str,
        id: &str,
        new_id: Option<&Key>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<DoneFitting, WorkshopError> {
        let key = new_id.map_or(id, Key::as_str);
        self.expect_free(key)?;
        let mut edit = self.edit(blade)?;
        let whole = edit.sheet()?;
        let found = whole.fittings.iter().find(|one| one.id.as_str() == id);
        let Some(found) = found else {
            return Err(FittingError::NotInSheet {
                blade: edit.blade().to_owned(),
                id: id.chars().take(60).collect(),
                known: whole
                    .fittings
                    .iter()
                    .map(|one| one.id.to_string())
                    .collect(),
            }
            .into());
        };
        if key != id && sheet::has(&edit.body, key) {
            return Err(FittingError::InSheet {
                blade: edit.blade().to_owned(),
                id: key.to_owned(),
            }
            .into());
        }
        let photos: Vec<Photo> = found
            .photos
            .iter()
            .filter_map(|key| whole.photos.iter().find(|photo| photo.id == *key).cloned())
            .collect();
        let mut fitting = found.clone();
        fitting.photos = Vec::new();
        fitting.id = key.parse()?;
        if let (Some(fit), Some(examination)) = (&mut fitting.fit, &whole.examination) {
            by_itself(fit, &examination.instruments);
        }
        let kept = fitting.kept.unwrap_or(Kept::Storage);
        fitting.kept = Some(kept);
        let made = Making {
            card: Card {
                title: fitting.description.chars().take(200).collect(),
                fitting,
                stack: None,
                photos,
            },
            files: Vec::new(),
        };
        if key != id
            && let Some(list) = edit.list("fittings")
        {
            // In its place, so that the sheet keeps its order.
            for one in list.iter_mut().filter(|one| one["id"] == id) {
                one["id"] = Value::String(key.to_owned());
            }
        }
        let to = Place::Blade {
            blade: edit.blade().to_owned(),
            kept,
        };
        self.enter(made, Some(edit), to, None, who, around)
    }

    /// Refuses a key that cannot be entered.
    fn expect_free(&self, id: &str) -> Result<(), WorkshopError> {
        if id.len() > LONGEST_KEY {
            return Err(FittingError::LongKey {
                id: id.to_owned(),
                most: LONGEST_KEY,
            }
            .into());
        }
        if self.noted::<Card>(None, Some(id))?.is_empty() {
            Ok(())
        } else {
            Err(FittingError::Taken(id.to_owned()).into())
        }
    }

    fn enter(
        &self,
        made: Making,
        edit: Option<crate::edit::Edit>,
        to: Place,
        note: Option<String>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<DoneFitting, WorkshopError> {
        let Making { card, files } = made;
        let moved = Move {
            from: None,
            to: to.clone(),
            note,
        };
        let entries = vec![
            self.card_entry(&card, None, who, around)?,
            self.entry(to.blade(), card.id(), &moved, who, around)?,
        ];
        let edit = match edit {
            Some(mut edit) => {
                sheet::put(&mut edit, &card)?;
                Some(edit)
            }
            None => None,
        };
        let remark = format!("fitting `{}` entered", card.id());
        let done = self.write_fitting(&card, &files, edit, entries, &remark, around)?;
        Ok(DoneFitting { place: to, ..done })
    }
}

/// Lengths that stand without the sheet in which they were read: its instruments are named in words.
fn by_itself(fit: &mut FittingFit, instruments: &[Instrument]) {
    let FittingFit {
        peg_hole_at,
        opening_width,
        opening_thickness,
        ..
    } = fit;
    for Length(quantity) in [peg_hole_at, opening_width, opening_thickness]
        .into_iter()
        .flatten()
    {
        let Some(key) = quantity.instrument.take() else {
            continue;
        };
        if quantity.method.is_none() {
            let name = instruments.iter().find(|one| one.id == key);
            let name = name.map_or_else(|| key.to_string(), |one| one.name.clone());
            quantity.method = Some(format!("read with: {name}").chars().take(200).collect());
        }
    }
}
