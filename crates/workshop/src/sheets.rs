//! Putting sheets into the workshop, and the template to start from.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::{Key, Sheet};
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_store::{BladeRow, DraftSource, NewEntry, Store as _};

use crate::checks::looks_happened;
use crate::edit::Write;
use crate::journal::Entry;
use crate::pass::Watched;
use crate::photos::{self, FoundPhoto};
use crate::{Surroundings, Workshop, WorkshopError, input};

/// A commented sheet to start from.
pub const TEMPLATE: &str = include_str!("template.toml");

/// What came of putting a sheet.
#[derive(Clone, Debug, Serialize)]
pub struct PutSheet {
    /// Blade.
    pub blade: String,
    /// Revision of its sheet now.
    pub revision: u64,
    /// The blade was entered with this sheet.
    pub new_blade: bool,
    /// Nothing differed from the sheet before.
    pub unchanged: bool,
    /// Photos taken into the workshop.
    pub photos: usize,
    /// Remarks a person should read.
    pub remarks: Vec<String>,
}

/// What came of taking a change back.
#[derive(Clone, Debug, Serialize)]
pub struct UndoneSheet {
    /// Blade.
    pub blade: String,
    /// Revision of its sheet now.
    pub revision: u64,
    /// Remarks a person should read.
    pub remarks: Vec<String>,
}

/// One line of the history of a sheet.
#[derive(Clone, Debug, Serialize)]
pub struct SheetChange {
    /// Revision, from 1.
    pub revision: u64,
    /// When, in UTC.
    pub saved_at: String,
    /// Where the change came from.
    pub source: String,
    /// What was done, where the program did it.
    pub note: String,
    /// Who made the change; empty where an older program kept it.
    pub by: String,
    /// The revision this one brought back, after an undo.
    pub restores: Option<u64>,
    /// Length of the sheet, in bytes.
    pub length: u64,
}

/// Tells the format of a sheet from its file name.
pub(crate) fn format_of(path: &Path) -> SheetFormat {
    match path.extension().and_then(|extension| extension.to_str()) {
        Some(extension) if extension.eq_ignore_ascii_case("json") => SheetFormat::Json,
        _ => SheetFormat::Toml,
    }
}

/// Returns the template filled with a blade's key.
pub fn template(blade: &Key) -> String {
    TEMPLATE.replace("\"blade-key\"", &format!("\"{blade}\""))
}

/// What a sheet still has from the template, though nobody saw or read it.
fn unfilled(sheet: &Sheet) -> Vec<String> {
    let mut remarks = Vec::new();
    let template = sheet::read(TEMPLATE.as_bytes(), SheetFormat::Toml, &mut |name| {
        Err(name.to_owned())
    });
    let Ok(template) = template else {
        return remarks;
    };
    if let (Some(own), Some(theirs)) = (&sheet.examination, &template.examination) {
        if own.by == theirs.by {
            remarks.push(
                "`examination.by` is still that of the template: write who looked".to_owned(),
            );
        }
        if own.on == theirs.on {
            remarks.push(format!(
                "`examination.on` is still that of the template, {}: write the day",
                own.on
            ));
        }
    }
    if sheet.dimensions.is_some() && sheet.dimensions == template.dimensions {
        remarks.push(
            "every number in `dimensions` is still that of the template: measure, or take them out"
                .to_owned(),
        );
    }
    remarks
}

/// Reads a sheet file with its photos; nothing is kept.
pub(crate) fn read_file(
    path: &Path,
) -> Result<(Sheet, BTreeMap<Digest, FoundPhoto>), WorkshopError> {
    let bytes = input::whole(path, input::LONGEST)?;
    let folder = path.parent().unwrap_or(Path::new("."));
    read_bytes(
        &bytes,
        format_of(path),
        &path.display().to_string(),
        &mut |name| photos::read(folder, name),
    )
}

/// Reads a sheet's bytes; `find` finds the photos it names.
pub(crate) fn read_bytes(
    bytes: &[u8],
    format: SheetFormat,
    file: &str,
    find: &mut dyn FnMut(&str) -> Result<FoundPhoto, String>,
) -> Result<(Sheet, BTreeMap<Digest, FoundPhoto>), WorkshopError> {
    let mut found = BTreeMap::new();
    let mut sheet = sheet::read(bytes, format, &mut |name| {
        let photo = find(name)?;
        let facts = photo.facts.clone();
        found.insert(facts.digest, photo);
        Ok(facts)
    })
    .map_err(|error| WorkshopError::Sheet {
        file: file.to_owned(),
        error,
    })?;
    photos::list_made(&mut sheet, |digest| found.get(digest)?.made.as_ref());
    Ok((sheet, found))
}

impl Workshop {
    /// Puts a sheet file: reads it with its photos, checks form and meaning, and keeps it as the blade's newest sheet.
    ///
    /// `expected` is the revision the change was made on; without it the newest one is taken.
    ///
    /// # Errors
    /// Problems of the sheet with line and field; nothing is kept then.
    pub fn put_sheet(
        &self,
        path: &Path,
        blade: Option<&str>,
        expected: Option<u64>,
        around: &Surroundings<'_>,
    ) -> Result<PutSheet, WorkshopError> {
        let (sheet, found) = read_file(path)?;
        if let Some(asked) = blade.filter(|asked| *asked != sheet.blade.id.as_str()) {
            return Err(WorkshopError::OtherBlade {
                found: sheet.blade.id.to_string(),
                asked: asked.to_owned(),
            });
        }
        // The checks refuse such a sheet: once kept, it would stand between what was held before it and what comes after.
        looks_happened(&sheet, around)?;
        let had = self.sections(sheet.blade.id.as_str())?;
        let before = self.sheet(sheet.blade.id.as_str()).ok();
        let watched = self.watch(before.as_ref(), &sheet, around);
        // What was looked at is what was replaced: somebody else's sheet in between is a conflict.
        let expected = expected.or(before.map(|(_, revision)| revision));
        let mut done = self.keep(
            &sheet,
            &found,
            expected,
            DraftSource::Sheet,
            &watched.entries,
            around,
        )?;
        done.remarks.extend(unfilled(&sheet));
        let now = self.sections(&done.blade)?;
        let gone = had.iter().filter(|section| !now.contains(*section));
        done.remarks.extend(gone.map(|section| {
            format!(
                "the sheet before had `{section}`, this one has none; `tangmark examine undo {}` brings it back",
                done.blade
            )
        }));
        done.remarks.extend(watched.remarks);
        Ok(done)
    }

    /// Names of the sections of a blade's newest sheet; none where it has no sheet.
    fn sections(&self, blade: &str) -> Result<Vec<String>, WorkshopError> {
        let draft = match self.store.draft(blade) {
            Ok(draft) => draft,
            Err(tangmark_store::StoreError::UnknownBlade(_)) => None,
            Err(error) => return Err(error.into()),
        };
        let sections = draft
            .iter()
            .filter_map(|draft| draft.body.as_object())
            .flat_map(|sections| sections.keys().cloned());
        Ok(sections.collect())
    }

    pub(crate) fn keep_sheet(
        &self,
        sheet: &Sheet,
        found: &BTreeMap<Digest, FoundPhoto>,
        expected: Option<u64>,
        source: DraftSource,
        around: &Surroundings<'_>,
    ) -> Result<PutSheet, WorkshopError> {
        self.keep(sheet, found, expected, source, &[], around)
    }

    fn keep(
        &self,
        sheet: &Sheet,
        found: &BTreeMap<Digest, FoundPhoto>,
        expected: Option<u64>,
        source: DraftSource,
        entries: &[Entry],
        around: &Surroundings<'_>,
    ) -> Result<PutSheet, WorkshopError> {
        let entries: Vec<NewEntry<'_>> = entries.iter().map(Entry::as_new).collect();
        let blade = sheet.blade.id.as_str();
        let row = BladeRow {
            id: blade.to_owned(),
            title: sheet.blade.title.clone(),
            created_at: around.now.as_str().to_owned(),
        };
        let new_blade = matches!(
            self.store.blade(blade),
            Err(tangmark_store::StoreError::UnknownBlade(_))
        );
        let before = if new_blade {
            None
        } else {
            self.store.draft(blade)?.map(|draft| draft.entry.revision)
        };
        let written = self.write_sheet(
            sheet,
            found,
            &Write {
                blade: Some(&row),
                expected: expected.or(before),
                source,
                remark: "",
                by: &self.own_name()?,
                entries: &entries,
            },
            around,
        )?;
        Ok(PutSheet {
            blade: blade.to_owned(),
            revision: written.revision,
            new_blade,
            unchanged: before == Some(written.revision),
            photos: written.photos,
            remarks: written.remarks,
        })
    }

    /// Takes the last change of a blade's sheet back, with what that does to the hold; nothing is erased.
    ///
    /// # Errors
    /// When there is nothing to take back.
    pub fn undo_sheet(
        &self,
        blade: &str,
        around: &Surroundings<'_>,
    ) -> Result<UndoneSheet, WorkshopError> {
        let before = self.sheet(blade)?;
        let revision = before.1;
        // Derived from the older sheet before it is brought back, so that sheet and journal are written in one go.
        let watched = match self.undone(blade, revision) {
            Ok(Some(after)) => self.watch(Some(&before), &after, around),
            // Nothing is before it, which the store tells.
            Ok(None) => Watched::default(),
            // A sheet that is no longer taken may be brought back all the same, to be mended.
            Err(error @ WorkshopError::Sheet { .. }) => Watched {
                remarks: vec![format!(
                    "what this does to the hold could not be told: {error}"
                )],
                entries: Vec::new(),
            },
            Err(error) => return Err(error),
        };
        let entries: Vec<NewEntry<'_>> = watched.entries.iter().map(Entry::as_new).collect();
        let undone = self.store.undo(
            blade,
            revision,
            around.now.as_str(),
            &self.own_name()?,
            &entries,
        )?;
        Ok(UndoneSheet {
            blade: blade.to_owned(),
            revision: undone.entry.revision,
            remarks: watched.remarks,
        })
    }

    /// The sheet that an undo of this revision brings back; none where nothing is before it.
    fn undone(&self, blade: &str, revision: u64) -> Result<Option<Sheet>, WorkshopError> {
        let newest = self.store.draft_at(blade, revision)?.entry;
        let older = newest.restores.unwrap_or(newest.revision).saturating_sub(1);
        if older == 0 {
            return Ok(None);
        }
        let body = self.store.draft_at(blade, older)?.body;
        let read = sheet::from_value(body).map_err(|error| WorkshopError::Sheet {
            file: format!("revision {older} of the sheet of `{blade}`"),
            error,
        })?;
        Ok(Some(read))
    }

    /// Lists the changes of a blade's sheet, oldest first.
    ///
    /// # Errors
    /// When there is no such blade.
    pub fn sheet_history(&self, blade: &str) -> Result<Vec<SheetChange>, WorkshopError> {
        let row = self.store.blade(blade)?;
        let entries = self.store.draft_history(&row.id)?;
        Ok(entries
            .into_iter()
            .map(|entry| SheetChange {
                revision: entry.revision,
                saved_at: entry.saved_at,
                source: entry.source.word().to_owned(),
                note: entry.note,
                by: entry.by,
                restores: entry.restores,
                length: entry.length,
            })
            .collect())
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_nobody_filled_in_is_told() {
        let read = |text: &str| {
            let mut none = |name: &str| Err(name.to_owned());
            sheet::read(text.as_bytes(), SheetFormat::Toml, &mut none).unwrap()
        };
        assert_eq!(unfilled(&read(TEMPLATE)).len(), 3);
        let filled = TEMPLATE
            .replace("Your name", "A. Polisher")
            .replace("on = \"2026-01-01\"\nwhere", "on = \"2026-03-01\"\nwhere")
            .replace("\"70.0 cm\"", "\"69.8 cm\"");
        assert!(unfilled(&read(&filled)).is_empty());
    }
}
