//! Custody: who had the blade, from when to when, with which papers. Events stand on the sheet in the order of time.
//!
//! An event that a sealed record holds is not changed here; what was wrong with it is said in a correction.

mod error;
mod said;
#[cfg(test)]
mod tests;

use std::path::Path;

use serde::Serialize;
use serde_json::Value;
use tangmark_core::record::{CustodyEvent, PartialDate, Record, Term as _};
use tangmark_report::{Speech, line_of_time};

pub use error::CustodyError;
pub use said::{EventSaid, Party, document};

use crate::edit::Edit;
use crate::journal::Who;
use crate::output::NewFile;
use crate::{DRAWING_WIDTHS, Surroundings, Workshop, WorkshopError, journal};

/// Section of the sheet.
const SECTION: &str = "custody";

/// An event on the sheet.
#[derive(Clone, Debug, Serialize)]
pub struct CustodyLine {
    /// Its number on the sheet.
    pub number: usize,
    /// The event.
    #[serde(flatten)]
    pub event: CustodyEvent,
    /// The first sealed record that has it.
    pub sealed_in: Option<u32>,
}

/// What came of a change.
#[derive(Clone, Debug, Serialize)]
pub struct CustodyChanged {
    /// Blade.
    pub blade: String,
    /// Revision of its sheet.
    pub revision: u64,
    /// Number of the event among those on the sheet; of one that was removed, its number before.
    pub number: usize,
    /// The event, as it is or was.
    pub event: CustodyEvent,
    /// Remarks a person should read.
    pub remarks: Vec<String>,
}

/// What to draw, and where to.
#[derive(Clone, Copy, Debug)]
pub struct CustodyDrawing<'a> {
    /// File.
    pub file: &'a Path,
    /// Width, mm, within [`DRAWING_WIDTHS`].
    pub width: f64,
    /// Language.
    pub speech: Speech,
}

/// A line of time that was drawn.
#[derive(Clone, Debug, Serialize)]
pub struct CustodyDrawn {
    /// Blade.
    pub blade: String,
    /// File.
    pub file: std::path::PathBuf,
    /// What it shows, in words.
    pub shows: String,
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// Characters that no font has; they stand as code points.
    pub missing: Vec<char>,
    /// A sentence for each font of the workshop that is not used.
    pub refused_fonts: Vec<String>,
}

impl Workshop {
    /// Lists the events on the sheet of a blade, as they stand there.
    ///
    /// # Errors
    /// When there is no such blade or sheet.
    pub fn custody(&self, blade: &str) -> Result<Vec<CustodyLine>, WorkshopError> {
        let sheet = self.edit(blade)?.sheet()?;
        let held = self.held_by(blade, &sheet.custody)?;
        let lines = sheet.custody.into_iter().zip(held).enumerate();
        Ok(lines
            .map(|(index, (event, sealed_in))| CustodyLine {
                number: index + 1,
                event,
                sealed_in,
            })
            .collect())
    }

    /// Enters an event on the sheet of a blade, at its place in the order of time.
    ///
    /// # Errors
    /// When something of it cannot be read, or the same event is there already. Nothing is written then.
    pub fn add_custody(
        &self,
        blade: &str,
        said: &EventSaid<'_>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<CustodyChanged, WorkshopError> {
        let edit = self.edit(blade)?;
        let sheet = edit.sheet()?;
        let today: PartialDate = who.day(around)?.parse()?;
        let event = said.new_event(&sheet, &today)?;
        happened(&event, around)?;
        if let Some(index) = sheet.custody.iter().position(|one| *one == event) {
            return Err(CustodyError::There {
                blade: blade.to_owned(),
                number: index + 1,
            }
            .into());
        }
        let mut events = sheet.custody;
        let index = insert(&mut events, event);
        self.save_custody(
            edit,
            &events,
            index,
            ("added", events.get(index)),
            who,
            around,
        )
    }

    /// Changes an event that no sealed record holds; what is not said stays as it was.
    ///
    /// # Errors
    /// When a sealed record holds it, there is no such event, or nothing is said. Nothing is written then.
    pub fn amend_custody(
        &self,
        blade: &str,
        number: usize,
        said: &EventSaid<'_>,
        clear: &[String],
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<CustodyChanged, WorkshopError> {
        let edit = self.edit(blade)?;
        let mut events = edit.sheet()?.custody;
        let old = self.open_event(blade, &events, number)?;
        if !said.is_said() && clear.is_empty() {
            return Err(CustodyError::Nothing.into());
        }
        let mut event = old.clone();
        said::clear(&mut event, clear)?;
        said.apply(&mut event)?;
        if event.when != old.when {
            happened(&event, around)?;
        }
        if event == old {
            return Err(CustodyError::Nothing.into());
        }
        // An event whose dates stay keeps its place.
        let index = if event.when == old.when {
            if let Some(place) = events.get_mut(number - 1) {
                *place = event;
            }
            number - 1
        } else {
            events.remove(number - 1);
            insert(&mut events, event)
        };
        self.save_custody(
            edit,
            &events,
            index,
            ("changed", events.get(index)),
            who,
            around,
        )
    }

    /// Takes an event that no sealed record holds off the sheet. The sheet as it was stays in its history.
    ///
    /// # Errors
    /// When a sealed record holds it or there is no such event. Nothing is written then.
    pub fn remove_custody(
        &self,
        blade: &str,
        number: usize,
        reason: &str,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<CustodyChanged, WorkshopError> {
        let edit = self.edit(blade)?;
        let mut events = edit.sheet()?.custody;
        let old = self.open_event(blade, &events, number)?;
        events.remove(number - 1);
        let what = format!("removed, {reason}");
        self.save_custody(edit, &events, number - 1, (&what, Some(&old)), who, around)
    }

    /// Draws the events on the sheet of a blade along time.
    ///
    /// # Errors
    /// When there is none, the width is too small or too large, or the file exists or cannot be written.
    pub fn draw_custody(
        &self,
        blade: &str,
        wish: &CustodyDrawing<'_>,
    ) -> Result<CustodyDrawn, WorkshopError> {
        let [least, most] = DRAWING_WIDTHS;
        if !(least..=most).contains(&wish.width) {
            return Err(WorkshopError::DrawingWidth(wish.width));
        }
        let sheet = self.edit(blade)?.sheet()?;
        let (fonts, refused_fonts) = self.fonts()?;
        let drawing = fonts
            .scope(|| line_of_time(&sheet.blade, &sheet.custody, wish.width, wish.speech))
            .ok_or_else(|| CustodyError::NothingToDraw(blade.to_owned()))?;
        NewFile::open(wish.file)?.write(drawing.svg.as_bytes())?;
        Ok(CustodyDrawn {
            blade: blade.to_owned(),
            file: wish.file.to_owned(),
            shows: drawing.alternative,
            width: drawing.width,
            height: drawing.height,
            missing: drawing.missing.into_iter().collect(),
            refused_fonts,
        })
    }

    /// An event of the list that no sealed record holds.
    fn open_event(
        &self,
        blade: &str,
        events: &[CustodyEvent],
        number: usize,
    ) -> Result<CustodyEvent, WorkshopError> {
        let index = number.checked_sub(1);
        let event = index.and_then(|index| events.get(index));
        let Some(event) = event else {
            return Err(CustodyError::NoEvent {
                blade: blade.to_owned(),
                asked: number,
                count: events.len(),
            }
            .into());
        };
        let held = self.held_by(blade, events)?;
        match index.and_then(|index| held.get(index).copied().flatten()) {
            Some(record) => Err(CustodyError::Sealed {
                blade: blade.to_owned(),
                number,
                record,
            }
            .into()),
            None => Ok(event.clone()),
        }
    }

    /// For each event the first sealed record of the blade that has it.
    fn held_by(
        &self,
        blade: &str,
        events: &[CustodyEvent],
    ) -> Result<Vec<Option<u32>>, WorkshopError> {
        let records: Vec<Record> = self
            .records(blade)?
            .into_iter()
            .map(|(_, _, record)| record)
            .collect();
        Ok(held(events, &records))
    }

    fn save_custody(
        &self,
        mut edit: Edit,
        events: &[CustodyEvent],
        index: usize,
        (what, event): (&str, Option<&CustodyEvent>),
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<CustodyChanged, WorkshopError> {
        let Some(event) = event.cloned() else {
            return Err(CustodyError::Nothing.into());
        };
        let list = events
            .iter()
            .map(serde_json::to_value)
            .collect::<Result<Vec<Value>, _>>()
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        if list.is_empty() {
            edit.take(SECTION);
        } else {
            edit.set(SECTION, Value::Array(list));
        }
        if let Some(by) = who.by {
            edit.by(by);
        }
        let (kind, day) = (event.kind.key(), &event.when.latest);
        let remark = format!("custody: {kind} of {day} {what}");
        let edited = edit.save(self, &remark, around)?;
        Ok(CustodyChanged {
            blade: edited.blade,
            revision: edited.revision,
            number: index + 1,
            event,
            remarks: edited.remarks,
        })
    }
}

/// Checks that an event has come: how long ago it was is free.
fn happened(event: &CustodyEvent, around: &Surroundings<'_>) -> Result<(), WorkshopError> {
    let today = journal::today(around);
    for date in [&event.when.earliest, &event.when.latest] {
        journal::happened("the day of the event", &date.first_day(), today)?;
    }
    Ok(())
}

/// Puts an event into its place: after those that began no later. Returns its index.
fn insert(events: &mut Vec<CustodyEvent>, event: CustodyEvent) -> usize {
    let start = event.when.earliest.first_day();
    let index = events
        .iter()
        .rposition(|one| one.when.earliest.first_day() <= start)
        .map_or(0, |index| index + 1);
    events.insert(index, event);
    index
}

/// For each event the number of the first of these records that has it.
///
/// What a record may withhold is left out of the comparison: it stands there as a digest.
fn held(events: &[CustodyEvent], records: &[Record]) -> Vec<Option<u32>> {
    let open: Vec<CustodyEvent> = events.iter().map(without_withheld).collect();
    let mut held = vec![None; events.len()];
    for record in records {
        let mut taken = vec![false; events.len()];
        for sealed in record.custody.iter().map(without_withheld) {
            // An event that stands twice in the sheet is held twice only where the record has it twice.
            let found = (0..open.len()).find(|index| {
                open.get(*index) == Some(&sealed) && taken.get(*index) == Some(&false)
            });
            let Some(index) = found else { continue };
            if let Some(mark) = taken.get_mut(index) {
                *mark = true;
            }
            if let Some(first @ None) = held.get_mut(index) {
                *first = Some(record.sequence);
            }
        }
    }
    held
}

/// An event without what a record may withhold.
pub(crate) fn without_withheld(event: &CustodyEvent) -> CustodyEvent {
    let mut event = event.clone();
    event.price = None;
    event.withheld.clear();
    for person in [&mut event.from, &mut event.to].into_iter().flatten() {
        (person.name, person.address, person.contact) = (None, None, None);
        person.withheld.clear();
    }
    for paper in &mut event.documents {
        paper.number = None;
        paper.withheld.clear();
    }
    event
}
