//! What is known of a fitting, and every place it was in.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tangmark_core::record::{Fitting, FittingOrigin, Kept, Length, Matched, Photo};
use tangmark_core::sheet;

use super::FittingError;
use crate::WorkshopError;
use crate::journal::Matter;

/// What is known of a fitting.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Card {
    /// The name people use for it.
    pub title: String,
    /// As it stands in the sheet of a blade, but for its photos.
    pub fitting: Fitting,
    /// What lies between the notch and the mouth of a hilt when it is mounted: washers and guard, together.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stack: Option<Length>,
    /// Photos; the files lie in the store.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Photo>,
}

impl Matter for Card {
    const KIND: &'static str = "fitting";
}

impl Card {
    /// Its key.
    pub fn id(&self) -> &str {
        self.fitting.id.as_str()
    }

    /// The same fitting, with what is said of its blade forgotten.
    pub(super) fn loose(mut self) -> Self {
        self.fitting.matched = Matched::NotTried;
        self.fitting.origin = None;
        self.fitting.kept = None;
        if let Some(fit) = &mut self.fitting.fit {
            fit.tried_on = None;
        }
        self
    }
}

/// Where a fitting is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "place", rename_all = "snake_case", deny_unknown_fields)]
pub enum Place {
    /// With a blade, in whose sheet it stands.
    Blade {
        /// The blade.
        blade: String,
        /// Mounted on it, kept with it or apart.
        kept: Kept,
    },
    /// In the workshop, with no blade.
    Storage,
    /// Out of the workshop.
    Out {
        /// With whom, or where.
        with: String,
    },
}

impl Place {
    /// The blade it is with.
    pub fn blade(&self) -> Option<&str> {
        match self {
            Self::Blade { blade, .. } => Some(blade),
            Self::Storage | Self::Out { .. } => None,
        }
    }

    /// In words, after "is".
    pub fn words(&self) -> String {
        match self {
            Self::Blade { blade, kept } => match kept {
                Kept::Mounted => format!("mounted on `{blade}`"),
                Kept::Storage => format!("with `{blade}`, not mounted"),
                Kept::Apart => format!("kept apart from its blade `{blade}`"),
            },
            Self::Storage => "in storage".to_owned(),
            Self::Out { with } => format!("out, with {with}"),
        }
    }
}

/// A fitting that came to a place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Move {
    /// Where it was; left out when it was entered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Place>,
    /// Where it is now.
    pub to: Place,
    /// Remarks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

impl Matter for Move {
    const KIND: &'static str = "fitting_move";
}

/// What counts as fitting, in thousandths of a millimetre. This tool's own rules: common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Most play of a collar on the blade.
    pub collar: u32,
    /// Most play of a washer on the tang.
    pub washer: u32,
    /// Most play of a guard on the tang; more is taken up by soft copper let into its opening.
    pub guard: u32,
    /// Most play of the mouth of a hilt, or of its collar, on the tang.
    pub hilt: u32,
    /// Most distance between the centres of the peg holes of hilt and tang.
    pub peg: u32,
}

impl Matter for Limits {
    const KIND: &'static str = "fitting_limits";
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            collar: 300,
            washer: 800,
            guard: 1000,
            hilt: 800,
            peg: 1000,
        }
    }
}

/// What is read off a fitting, as texts with units; several texts for one thing are one measurement.
#[derive(Clone, Debug, Default)]
pub struct Readings {
    /// Distance of the peg hole of a hilt from its mouth.
    pub peg_hole: Vec<String>,
    /// Opening, width x thickness.
    pub opening: Vec<String>,
    /// What lies between notch and mouth when mounted.
    pub stack: Vec<String>,
    /// Standard uncertainty (k = 1) of each of these lengths; without it the step of the readings counts.
    pub uncertainty: Option<String>,
    /// How they were taken.
    pub method: Option<String>,
    /// Day it was tried on the blade.
    pub tried_on: Option<String>,
    /// Remarks.
    pub note: Option<String>,
}

impl Readings {
    /// Whether nothing is in them.
    pub fn is_empty(&self) -> bool {
        self.peg_hole.is_empty()
            && self.opening.is_empty()
            && self.stack.is_empty()
            && self.tried_on.is_none()
            && self.note.is_none()
    }

    fn quantity(&self, texts: &[String]) -> Option<Value> {
        if texts.is_empty() {
            return None;
        }
        let mut quantity = json!({ "readings": texts });
        for (name, text) in [("uncertainty", &self.uncertainty), ("method", &self.method)] {
            if let Some(text) = text {
                quantity[name] = json!(text);
            }
        }
        Some(quantity)
    }

    /// Lays the readings over what is known, in the form of a sheet.
    fn over(&self, fitting: &mut Value) -> Result<(), FittingError> {
        let mut fit = fitting.get("fit").cloned().unwrap_or_else(|| json!({}));
        let (mut wide, mut thick) = (Vec::new(), Vec::new());
        for text in &self.opening {
            let (width, thickness) = opening(text)?;
            wide.push(width);
            thick.push(thickness);
        }
        for (name, texts) in [
            ("peg_hole_at", &self.peg_hole),
            ("opening_width", &wide),
            ("opening_thickness", &thick),
        ] {
            if let Some(quantity) = self.quantity(texts) {
                fit[name] = quantity;
            }
        }
        for (name, text) in [("tried_on", &self.tried_on), ("note", &self.note)] {
            if let Some(text) = text {
                fit[name] = json!(text);
            }
        }
        if fit.as_object().is_some_and(|members| !members.is_empty()) {
            fitting["fit"] = fit;
        }
        Ok(())
    }
}

/// Takes `30.5 mm x 7.2 mm` apart.
fn opening(text: &str) -> Result<(String, String), FittingError> {
    let (width, thickness) = text
        .split_once(['x', 'X', '×', '*'])
        .ok_or_else(|| FittingError::Opening(text.chars().take(60).collect()))?;
    let (width, thickness) = (width.trim(), thickness.trim());
    if width.is_empty() || thickness.is_empty() {
        return Err(FittingError::Opening(text.chars().take(60).collect()));
    }
    Ok((width.to_owned(), thickness.to_owned()))
}

/// A sheet that holds one fitting and nothing else: for reading it, and for asking a plugin about it.
pub(super) fn sheet_of(fitting: &Value, photos: &[Photo]) -> Value {
    let mut fitting = fitting.clone();
    let keys: Vec<&str> = photos.iter().map(|photo| photo.id.as_str()).collect();
    fitting["photos"] = json!(keys);
    json!({
        "blade": {
            "id": "no-blade",
            "title": "a fitting by itself",
            "object_type": "fitting",
            "kind_by_make": "other",
            "construction": "other",
        },
        "fittings": [fitting],
        "photos": photos,
    })
}

/// A fitting as JSON.
pub(super) fn value(fitting: &Fitting) -> Result<Value, WorkshopError> {
    serde_json::to_value(fitting).map_err(|error| WorkshopError::Canonical(error.to_string()))
}

/// Reads a fitting in the form of a sheet, with readings laid over it; also returns the stack.
pub(super) fn read(
    mut fitting: Value,
    photos: &[Photo],
    readings: &Readings,
) -> Result<(Fitting, Option<Length>), WorkshopError> {
    readings.over(&mut fitting)?;
    let shown = fitting["id"].as_str().unwrap_or_default().to_owned();
    let mut sheet = sheet_of(&fitting, photos);
    // A length like the others, read by the same rules, which the sheet itself does not have.
    if let Some(stack) = readings.quantity(&readings.stack) {
        sheet["dimensions"] = json!({ "datum": "back_notch", "tang_length": stack });
    }
    let read = sheet::from_value(sheet).map_err(|error| WorkshopError::Sheet {
        file: format!("fitting `{shown}`"),
        error,
    })?;
    let stack = read.dimensions.and_then(|it| it.tang_length);
    let mut fitting = read
        .fittings
        .into_iter()
        .next()
        .ok_or(FittingError::Unknown(shown))?;
    fitting.photos = Vec::new();
    Ok((fitting, stack))
}

/// How a fitting belongs to the blade it is with.
#[derive(Clone, Copy, Debug, Default)]
pub struct Belonging {
    /// Whether it fits.
    pub matched: Option<Matched>,
    /// How it came to the blade.
    pub origin: Option<FittingOrigin>,
    /// Where it is kept.
    pub kept: Option<Kept>,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn plain() -> Value {
        json!({ "id": "tsuba-1", "part": "tsuba", "description": "plain guard", "matched": "not_tried" })
    }

    #[test]
    fn readings_become_quantities_with_their_uncertainty() {
        let readings = Readings {
            peg_hole: vec!["42.0 mm".to_owned(), "42.2 mm".to_owned()],
            opening: vec!["30.5 mm x 7.2 mm".to_owned()],
            stack: vec!["8.4 mm".to_owned()],
            uncertainty: Some("0.1 mm".to_owned()),
            ..Readings::default()
        };
        let (fitting, stack) = read(plain(), &[], &readings).unwrap();
        let fit = fitting.fit.unwrap();
        assert_eq!(fit.peg_hole_at.unwrap().value.to_string(), "42.10");
        let width = fit.opening_width.unwrap();
        assert_eq!(width.value.to_string(), "30.50");
        assert_eq!(width.standard_uncertainty.to_string(), "0.10");
        assert_eq!(fit.opening_thickness.unwrap().as_read[0].text, "7.2 mm");
        assert_eq!(stack.unwrap().value.to_string(), "8.40");
    }

    #[test]
    fn what_is_no_length_is_told_with_its_place() {
        let readings = |opening: &str| Readings {
            opening: vec![opening.to_owned()],
            ..Readings::default()
        };
        let error = read(plain(), &[], &readings("30.5 mm")).unwrap_err();
        assert!(
            error.to_string().contains("`30.5 mm` is no opening"),
            "{error}"
        );
        let error = read(plain(), &[], &readings("30.5 x 7.2 mm")).unwrap_err();
        assert!(error.to_string().contains("opening_width"), "{error}");
        let error = read(plain(), &[], &readings("30.5 cm x 7.2 mm")).unwrap_err();
        assert!(
            error.to_string().contains("at most 200 mm is allowed"),
            "{error}"
        );
    }

    #[test]
    fn a_loose_fitting_forgets_its_blade_only() {
        let readings = Readings {
            opening: vec!["30.5 mm x 7.2 mm".to_owned()],
            tried_on: Some("2026-03-04".to_owned()),
            ..Readings::default()
        };
        let mut sheet = plain();
        sheet["matched"] = json!("fits");
        sheet["kept"] = json!("mounted");
        sheet["origin"] = json!("came_with_blade");
        let (fitting, stack) = read(sheet, &[], &readings).unwrap();
        let card = Card {
            title: "guard".to_owned(),
            fitting,
            stack,
            photos: Vec::new(),
        };
        let loose = card.clone().loose();
        assert_eq!(loose.fitting.matched, Matched::NotTried);
        assert_eq!((loose.fitting.kept, loose.fitting.origin), (None, None));
        let fit = loose.fitting.fit.unwrap();
        assert!(
            fit.tried_on.is_none() && fit.opening_width == card.fitting.fit.unwrap().opening_width
        );
        // What the journal holds is read back.
        let text = serde_json::to_value(Move {
            from: None,
            to: Place::Blade {
                blade: "reed".to_owned(),
                kept: Kept::Mounted,
            },
            note: None,
        })
        .unwrap();
        assert_eq!(
            text,
            json!({ "to": { "place": "blade", "blade": "reed", "kept": "mounted" } })
        );
        assert!(
            serde_json::from_value::<Move>(json!({ "to": { "place": "storage" }, "more": 1 }))
                .is_err()
        );
    }
}
