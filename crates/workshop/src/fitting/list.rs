//! The inventory as lists: for people, for programs, as CSV.

use serde::Serialize;
use tangmark_core::record::{Fitting, Length, Material, Photo, ProtectedScreen, Term as _};
use tangmark_store::Store as _;

use super::{Known, Place, sheet};
use crate::books::guard::harmless;
use crate::{Workshop, WorkshopError};

/// Which fittings are asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which<'a> {
    /// All that are in the workshop: in storage, or with a blade whose work has not ended.
    Here,
    /// Those with a blade, also those that stand in its sheet only.
    Blade(&'a str),
    /// Those in storage.
    Loose,
    /// Every fitting there ever was.
    All,
}

/// One fitting in a list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FittingLine {
    /// Key.
    pub id: String,
    /// Part.
    pub part: String,
    /// The name people use for it.
    pub title: String,
    /// Where it is.
    pub place: Place,
    /// The day it came there; none where it stands in a sheet only.
    pub since: Option<String>,
    /// It left with its blade, whose work has ended.
    pub gone_with_blade: bool,
    /// Materials.
    pub materials: Vec<&'static str>,
    /// What a look at lists of protected materials gave.
    pub protected: Option<&'static str>,
    /// Whether a peg hole or an opening was measured.
    pub measured: bool,
    /// Number of photos.
    pub photos: usize,
    /// Whether it is in the inventory; else it stands in the sheet of its blade only.
    pub in_inventory: bool,
}

/// One move of a fitting.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FittingMove {
    /// Number in the journal.
    pub number: u64,
    /// The day.
    pub on: String,
    /// Where it was; none when it was entered.
    pub from: Option<Place>,
    /// Where it came to.
    pub to: Place,
    /// Remarks.
    pub note: Option<String>,
    /// Who entered it.
    pub by: String,
}

/// A fitting with all that is known of it.
#[derive(Clone, Debug, Serialize)]
pub struct ShownFitting {
    /// As in a list.
    #[serde(flatten)]
    pub line: FittingLine,
    /// As it stands in a sheet.
    pub fitting: Fitting,
    /// What lies between notch and mouth when it is mounted.
    pub stack: Option<Length>,
    /// Photos.
    pub photo_files: Vec<Photo>,
    /// Every move, oldest first.
    pub moves: Vec<FittingMove>,
    /// Number of the entry in the journal.
    pub entry: u64,
    /// The sheet of its blade does not have it (any more).
    pub missing_in_sheet: bool,
}

fn keys(materials: &[Material]) -> Vec<&'static str> {
    materials.iter().map(|one| one.key()).collect()
}

pub(super) fn is_measured(fitting: &Fitting) -> bool {
    fitting.fit.as_ref().is_some_and(|fit| {
        fit.peg_hole_at.is_some() || fit.opening_width.is_some() || fit.opening_thickness.is_some()
    })
}

impl Known {
    fn line(&self, gone_with_blade: bool) -> FittingLine {
        let card = &self.card.matter;
        FittingLine {
            id: card.id().to_owned(),
            part: card.fitting.part.key().to_owned(),
            title: card.title.clone(),
            place: self.place(),
            since: Some(self.since().to_owned()),
            gone_with_blade,
            materials: keys(&card.fitting.materials),
            protected: card.fitting.protected.map(ProtectedScreen::key),
            measured: is_measured(&card.fitting),
            photos: card.photos.len(),
            in_inventory: true,
        }
    }
}

impl Workshop {
    /// Lists fittings by key.
    ///
    /// # Errors
    /// When there is no such blade.
    pub fn fittings(&self, which: Which<'_>) -> Result<Vec<FittingLine>, WorkshopError> {
        let mut lines = Vec::new();
        for known in self.all_known()? {
            let place = known.place();
            let gone = match place.blade() {
                Some(blade) => self.store().standing(blade)?.ended,
                None => false,
            };
            let asked = match which {
                Which::All => true,
                Which::Here => !gone && !matches!(place, Place::Out { .. }),
                Which::Loose => place == Place::Storage,
                Which::Blade(blade) => place.blade() == Some(blade),
            };
            if asked {
                lines.push(known.line(gone));
            }
        }
        if let Which::Blade(blade) = which {
            let gone = self.store().standing(blade)?.ended;
            let (whole, _) = self.sheet(blade)?;
            for fitting in &whole.fittings {
                if lines.iter().all(|line| line.id != fitting.id.as_str()) {
                    lines.push(FittingLine {
                        id: fitting.id.to_string(),
                        part: fitting.part.key().to_owned(),
                        title: fitting.description.clone(),
                        place: Place::Blade {
                            blade: blade.to_owned(),
                            kept: fitting.kept.unwrap_or(tangmark_core::record::Kept::Storage),
                        },
                        since: None,
                        gone_with_blade: gone,
                        materials: keys(&fitting.materials),
                        protected: fitting.protected.map(ProtectedScreen::key),
                        measured: is_measured(fitting),
                        photos: fitting.photos.len(),
                        in_inventory: false,
                    });
                }
            }
        }
        Ok(lines)
    }

    /// Shows one fitting with every move.
    ///
    /// # Errors
    /// When there is no such fitting in the inventory.
    pub fn fitting(&self, id: &str) -> Result<ShownFitting, WorkshopError> {
        let known = self.known(id)?;
        let place = known.place();
        let (mut gone, mut missing) = (false, false);
        if let Some(blade) = place.blade() {
            gone = self.store().standing(blade)?.ended;
            missing = !self
                .edit(blade)
                .is_ok_and(|edit| sheet::has(&edit.body, id));
        }
        let line = known.line(gone);
        let moves = known.moves.into_iter().map(|one| FittingMove {
            number: one.number,
            on: one.on,
            from: one.matter.from,
            to: one.matter.to,
            note: one.matter.note,
            by: one.by,
        });
        let card = known.card.matter;
        Ok(ShownFitting {
            line,
            fitting: card.fitting,
            stack: card.stack,
            photo_files: card.photos,
            moves: moves.collect(),
            entry: known.card.number,
            missing_in_sheet: missing,
        })
    }
}

/// Lists fittings as CSV with a line of names; texts of several words are joined by `; `, and none is run as a formula.
///
/// # Errors
/// When a line cannot be written, which memory that is full would bring about.
pub fn as_csv(lines: &[FittingLine]) -> Result<String, WorkshopError> {
    let fail = |what: String| WorkshopError::Canonical(format!("no CSV can be made: {what}"));
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer
        .write_record([
            "id",
            "part",
            "title",
            "place",
            "blade",
            "kept",
            "with",
            "since",
            "gone_with_blade",
            "materials",
            "protected",
            "measured",
            "photos",
            "in_inventory",
        ])
        .map_err(|error| fail(error.to_string()))?;
    for line in lines {
        let (place, blade, kept, with) = match &line.place {
            Place::Blade { blade, kept } => ("blade", blade.as_str(), kept.key(), ""),
            Place::Storage => ("storage", "", "", ""),
            Place::Out { with } => ("out", "", "", with.as_str()),
        };
        let yes = |value: bool| if value { "yes" } else { "no" };
        let (materials, photos) = (line.materials.join("; "), line.photos.to_string());
        let cells = [
            line.id.as_str(),
            &line.part,
            &line.title,
            place,
            blade,
            kept,
            with,
            line.since.as_deref().unwrap_or_default(),
            yes(line.gone_with_blade),
            &materials,
            line.protected.unwrap_or_default(),
            yes(line.measured),
            &photos,
            yes(line.in_inventory),
        ];
        writer
            .write_record(cells.map(harmless))
            .map_err(|error| fail(error.to_string()))?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|error| fail(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| fail(error.to_string()))
}
