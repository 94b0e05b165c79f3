//! What is known of a fitting, changed: measured, described, photographed.

use std::path::{Path, PathBuf};

use serde_json::json;
use tangmark_core::record::{Material, PartialDate, Photo, ProtectedScreen, Shows};
use tangmark_store::{ObjectKind, PhotoRow, Store as _};

use super::card::{self, value};
use super::fits::is_judged;
use super::list::is_measured;
use super::{
    Belonging, Card, ChangedSheet, DoneFitting, FittingError, Known, Place, Readings, sheet,
};
use super::{LONGEST_NAME, expect_text};
use crate::edit::Edit;
use crate::journal::{Entry, Who};
use crate::photos::{self, FoundPhoto};
use crate::{Surroundings, Workshop, WorkshopError};

/// What is to be noted of a fitting; what is left out stays.
#[derive(Clone, Debug, Default)]
pub struct Changes {
    /// The name people use for it.
    pub title: Option<String>,
    /// Description.
    pub description: Option<String>,
    /// Materials, in place of those before; empty: they stay.
    pub materials: Vec<Material>,
    /// How the materials were told.
    pub material_evidence: Option<String>,
    /// Condition.
    pub condition: Option<String>,
    /// Photo files to be added.
    pub photos: Vec<PathBuf>,
    /// What was read off it.
    pub readings: Readings,
    /// How it belongs to the blade it is with.
    pub belonging: Belonging,
    /// What a look at a list of protected materials gave, and the date of the list.
    pub protected: Option<(ProtectedScreen, PartialDate)>,
}

impl Changes {
    fn is_empty(&self) -> bool {
        let Belonging {
            matched,
            origin,
            kept,
        } = self.belonging;
        self.title.is_none()
            && self.description.is_none()
            && self.materials.is_empty()
            && self.material_evidence.is_none()
            && self.condition.is_none()
            && self.photos.is_empty()
            && self.readings.is_empty()
            && matched.is_none()
            && origin.is_none()
            && kept.is_none()
            && self.protected.is_none()
    }

    /// Which of them needs a blade.
    fn of_a_blade(&self) -> Option<&'static str> {
        let Belonging {
            matched,
            origin,
            kept,
        } = self.belonging;
        [
            ("--matched", matched.is_some()),
            ("--origin", origin.is_some()),
            ("--kept", kept.is_some()),
            ("--tried-on", self.readings.tried_on.is_some()),
        ]
        .into_iter()
        .find_map(|(name, given)| given.then_some(name))
    }
}

/// A card in the making, with the photo files that are not in the store yet.
pub(super) struct Making {
    pub(super) card: Card,
    pub(super) files: Vec<FoundPhoto>,
}

impl Making {
    /// Lays changes over a card.
    pub(super) fn of(card: &Card, changes: &Changes) -> Result<Self, WorkshopError> {
        let mut fitting = value(&card.fitting)?;
        let texts = [
            ("description", &changes.description),
            ("material_evidence", &changes.material_evidence),
            ("condition", &changes.condition),
        ];
        for (name, text) in texts {
            if let Some(text) = text {
                fitting[name] = json!(text);
            }
        }
        if !changes.materials.is_empty() {
            fitting["materials"] = json!(changes.materials);
        }
        let Belonging {
            matched,
            origin,
            kept,
        } = changes.belonging;
        if let Some(matched) = matched {
            fitting["matched"] = json!(matched);
        }
        if let Some(origin) = origin {
            fitting["origin"] = json!(origin);
        }
        if let Some(kept) = kept {
            fitting["kept"] = json!(kept);
        }
        if let Some((screen, list)) = &changes.protected {
            fitting["protected"] = json!(screen);
            fitting["protected_as_of"] = json!(list);
        }
        let title = changes.title.clone().unwrap_or_else(|| card.title.clone());
        expect_text("title", &title, LONGEST_NAME)?;
        let mut photos = card.photos.clone();
        let mut files = Vec::new();
        for path in &changes.photos {
            let file = read_photo(path)?;
            let digest = file.facts.digest;
            let there = |photo: &Photo| {
                photo
                    .original
                    .as_ref()
                    .is_some_and(|it| it.digest == digest)
            };
            if !photos.iter().any(there) {
                photos.push(photo_of(card.id(), &title, &photos, &file)?);
                files.push(file);
            }
        }
        let (fitting, stack) = card::read(fitting, &photos, &changes.readings)?;
        Ok(Self {
            card: Card {
                title,
                fitting,
                stack: stack.or_else(|| card.stack.clone()),
                photos,
            },
            files,
        })
    }
}

fn read_photo(path: &Path) -> Result<FoundPhoto, WorkshopError> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let name = path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
        .unwrap_or_default();
    photos::read(folder, &name).map_err(WorkshopError::Photo)
}

fn photo_of(
    id: &str,
    title: &str,
    before: &[Photo],
    file: &FoundPhoto,
) -> Result<Photo, WorkshopError> {
    let taken = |key: &str| before.iter().any(|photo| photo.id.as_str() == key);
    let mut number = before.len() + 1;
    while taken(&format!("{id}-photo-{number}")) {
        number += 1;
    }
    let caption: String = title.chars().take(400).collect();
    Ok(Photo {
        id: format!("{id}-photo-{number}").parse()?,
        shows: Shows::Fittings,
        caption,
        taken_on: None,
        field_width: None,
        original_kept_private: false,
        original: Some(file.facts.clone()),
        derivatives: file.made.iter().map(|made| made.listed.clone()).collect(),
        withheld: Vec::new(),
    })
}

impl Workshop {
    /// Notes what was measured, seen or found out about a fitting; with a blade, in the sheet of the blade too.
    ///
    /// # Errors
    /// When there is no such fitting, nothing was given, or something is not what it should be. Nothing is written then.
    pub fn note_fitting(
        &self,
        id: &str,
        changes: &Changes,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<DoneFitting, WorkshopError> {
        let known = self.known(id)?;
        if changes.is_empty() {
            return Err(FittingError::Nothing(id.to_owned()).into());
        }
        let place = known.place();
        if let (None, Some(name)) = (place.blade(), changes.of_a_blade()) {
            return Err(FittingError::WithNoBlade(name).into());
        }
        let mut made = Making::of(&known.card.matter, changes)?;
        // Where it is kept is a place, and a place is a move.
        let mut moved = None;
        if let (
            Place::Blade {
                blade,
                kept: before,
            },
            Some(kept),
        ) = (&place, changes.belonging.kept)
            && kept != *before
        {
            let to = Place::Blade {
                blade: blade.clone(),
                kept,
            };
            moved = Some(super::Move {
                from: Some(place.clone()),
                to,
                note: None,
            });
        }
        let place = moved.as_ref().map_or(place, |one| one.to.clone());
        let edit = match place.blade() {
            Some(blade) => {
                let mut edit = self.edit(blade)?;
                sheet::put(&mut edit, &made.card)?;
                Some(edit)
            }
            None => None,
        };
        let mut entries = vec![self.card_entry(&made.card, Some(&known), who, around)?];
        if let Some(moved) = &moved {
            entries.push(self.entry(place.blade(), id, moved, who, around)?);
        }
        let remark = format!("fitting `{id}` noted");
        let files = std::mem::take(&mut made.files);
        self.write_fitting(&made.card, &files, edit, entries, &remark, around)
            .map(|done| DoneFitting { place, ..done })
    }

    /// An entry with the card, in place of the one before.
    pub(super) fn card_entry(
        &self,
        card: &Card,
        before: Option<&Known>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Entry, WorkshopError> {
        let entry = self.entry(None, card.id(), card, who, around)?;
        Ok(match before {
            Some(known) => entry.replacing(known.card.number),
            None => entry,
        })
    }

    /// Writes a card with its photos, and the sheet of its blade, after everything was read and found in order.
    pub(super) fn write_fitting(
        &self,
        card: &Card,
        files: &[FoundPhoto],
        edit: Option<Edit>,
        entries: Vec<Entry>,
        remark: &str,
        around: &Surroundings<'_>,
    ) -> Result<DoneFitting, WorkshopError> {
        if let Some(edit) = &edit {
            edit.sheet()?;
        }
        for file in files {
            self.store().put_object(&file.bytes, ObjectKind::Photo)?;
            if let Some(made) = &file.made {
                self.store().put_object(&made.bytes, ObjectKind::Photo)?;
            }
        }
        let remarks = files.iter().flat_map(|file| {
            file.remarks
                .iter()
                .map(|remark| format!("photo `{}` {remark}", file.file_name))
        });
        let mut done = DoneFitting {
            fitting: card.id().to_owned(),
            place: Place::Storage,
            judged: is_judged(card.fitting.part),
            measured: is_measured(&card.fitting),
            sheets: Vec::new(),
            entries: Vec::new(),
            remarks: remarks.collect(),
        };
        let Some(mut edit) = edit else {
            done.entries = self.write_entries(&entries)?;
            return Ok(done);
        };
        let blade = edit.blade().to_owned();
        self.show_photos(&blade, card, files)?;
        for entry in entries {
            edit.add_entry(entry);
        }
        let edited = edit.save(self, remark, around)?;
        done.entries = edited.entries;
        done.remarks.extend(edited.remarks);
        done.sheets.push(ChangedSheet {
            blade,
            revision: edited.revision,
        });
        Ok(done)
    }

    /// Lists the photos of a fitting among those of a blade.
    fn show_photos(
        &self,
        blade: &str,
        card: &Card,
        files: &[FoundPhoto],
    ) -> Result<(), WorkshopError> {
        for photo in &card.photos {
            let Some(original) = &photo.original else {
                continue;
            };
            let named = files
                .iter()
                .find(|file| file.facts.digest == original.digest);
            self.store().add_photo(&PhotoRow {
                digest: original.digest,
                blade: blade.to_owned(),
                media_type: original.media_type.clone(),
                length: original.length,
                width: original.width_px,
                height: original.height_px,
                shows: photo.caption.clone(),
                taken_at: None,
                file_name: named.map_or_else(
                    || format!("{}.jpg", photo.id),
                    |file| file.file_name.clone(),
                ),
            })?;
        }
        Ok(())
    }
}
