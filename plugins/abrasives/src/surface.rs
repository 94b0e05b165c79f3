//! The blade as faces cut into thin slices: how wide each face is, and where.
//!
//! Widths come from the model of the whole blade in the measurement base; both faces of a pair count as equal.

use std::collections::BTreeSet;

use tangmark_author::words::{list, one_line};
use tangmark_core::record::{Face, Sheet, Term as _, Zone};
use tangmark_measure::Estimate;
use tangmark_measure::blade::Blade;
use tangmark_measure::section::{Section, SectionForm};

/// Number of slices; a slice of a long blade is about 1.4 mm.
const SLICES: usize = 500;

/// A flat face of the blade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Plane {
    /// Between edge and ridge, or between edge and back where there is no ridge.
    Bevel,
    /// Between ridge and back.
    RidgeFace,
    /// The back.
    Back,
}

/// Faces in a fixed order: bevel outer and inner, ridge face outer and inner, back.
pub(crate) const FACES: [(Plane, Option<Face>); 5] = [
    (Plane::Bevel, Some(Face::Omote)),
    (Plane::Bevel, Some(Face::Ura)),
    (Plane::RidgeFace, Some(Face::Omote)),
    (Plane::RidgeFace, Some(Face::Ura)),
    (Plane::Back, None),
];

/// A slice across the blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Slice {
    /// Its middle, mm from the datum.
    pub(crate) at: f64,
    /// Its length along the blade, mm.
    pub(crate) along: f64,
    /// Width of each face of [`FACES`], mm.
    pub(crate) widths: [f64; FACES.len()],
    /// Lies in the point.
    pub(crate) in_point: bool,
}

/// The blade from the datum to the tip, without tang.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Body {
    /// Form of the sections.
    pub(crate) form: SectionForm,
    /// Slices, from the datum to the tip.
    pub(crate) slices: Vec<Slice>,
    /// Blade length by the model, mm.
    pub(crate) length: f64,
}

impl Body {
    /// Builds the model.
    ///
    /// # Errors
    /// What has to be measured first.
    pub(crate) fn new(sheet: &Sheet) -> Result<Self, String> {
        let construction = sheet.blade.construction;
        let Some(form) = SectionForm::of(construction) else {
            return Err(format!(
                "No plan: sections of the make {} are not modelled here, so neither areas nor grams can be worked out; plan by depth, gauge and scale.",
                construction.shown()
            ));
        };
        let Some(dimensions) = &sheet.dimensions else {
            return Err("No plan: measure the blade length and a station table first.".to_owned());
        };
        let blade = Blade::of(form, dimensions, sheet.blade.back_form);
        let mut missing = Vec::new();
        if dimensions.blade_length.is_none() {
            missing.push("the blade length".to_owned());
        }
        if blade.stations.len() < 2 {
            let lacking: BTreeSet<&str> = dimensions
                .stations
                .iter()
                .filter_map(|station| form.section_of(station).err())
                .collect();
            let lacking: Vec<String> = lacking
                .into_iter()
                .map(|field| field.replace('_', " "))
                .collect();
            let fields = if lacking.is_empty() {
                String::new()
            } else {
                format!(
                    " (missing at the stations on the sheet: {})",
                    list(&lacking)
                )
            };
            missing.push(format!(
                "two stations or more with width and thickness{fields}"
            ));
        }
        if !missing.is_empty() {
            return Err(format!("No plan: measure {} first.", list(&missing)));
        }
        let model = blade
            .model()
            .map_err(|error| format!("No plan: {}.", one_line(&error.to_string())))?;
        let (start, last, length) = model.ends();
        let start = start.max(0.0);
        if length <= start || length > 5_000.0 {
            return Err(format!(
                "No plan: by the stations the tip lies at {length:.0} mm; stations between 0 and 5000 mm are allowed."
            ));
        }
        let point_from = dimensions
            .point_length
            .as_ref()
            .map_or(last, |one| (length - one.to_f64()).max(0.0));
        let step = (length - start) / SLICES as f64;
        let slices = (0..SLICES)
            .map(|index| {
                let at = start + (index as f64 + 0.5) * step;
                let around = model.slice_at(at).perimeter;
                let bevel = f64::midpoint(around.edge_bevel, around.ground);
                let ridge = around.ridge_face / 2.0;
                Slice {
                    at,
                    along: step,
                    widths: [bevel, bevel, ridge, ridge, around.back],
                    in_point: at >= point_from,
                }
            })
            .collect();
        Ok(Self {
            form,
            slices,
            length,
        })
    }

    /// Area of the faces in the zones, mm².
    pub(crate) fn area(&self, zones: &[Zone]) -> f64 {
        self.slices
            .iter()
            .map(|slice| {
                let faces =
                    (0..FACES.len()).filter(|face| in_zones(FACES[*face].0, slice.in_point, zones));
                faces
                    .map(|face| slice.widths[face] * slice.along)
                    .sum::<f64>()
            })
            .sum()
    }
}

/// Tells whether a face belongs to the zones. Edge and ground are one flat face: lowering one lowers both.
pub(crate) fn in_zones(plane: Plane, in_point: bool, zones: &[Zone]) -> bool {
    if in_point {
        return zones.contains(&Zone::Point);
    }
    zones.iter().any(|zone| plane_of(*zone) == Some(plane))
}

/// The face of a zone outside the point; none for point and tang.
pub(crate) const fn plane_of(zone: Zone) -> Option<Plane> {
    match zone {
        Zone::Edge | Zone::Ground => Some(Plane::Bevel),
        Zone::Ridge => Some(Plane::RidgeFace),
        Zone::Back => Some(Plane::Back),
        Zone::Point | Zone::Tang => None,
    }
}

/// What thickness and width lose when the faces are lowered, mm, both sides; `None` for forms without such a rule.
///
/// Thickness at the ridge: the two lowered planes meet anew, 2(p·B + q·R)/(p + q) with p and q the slopes of ridge face
/// and bevel, R and B their vertical steps. Width: the edge goes back by the bevel's step over its slope, a back by its
/// own depth.
///
/// Source: plane geometry.
pub(crate) fn loss(
    form: SectionForm,
    section: Section,
    bevel: f64,
    ridge: f64,
    back: f64,
) -> Option<(f64, f64)> {
    let half = section.thickness / 2.0;
    let whole = section.width > 0.0 && half > 0.0;
    match form {
        SectionForm::Ridged if whole && section.width > section.ridge_width => {
            let q = half / (section.width - section.ridge_width);
            let fall = (section.thickness - section.back_thickness) / 2.0;
            let p = if section.ridge_width > 0.0 {
                (fall / section.ridge_width).max(0.0)
            } else {
                0.0
            };
            let (step_b, step_r) = (bevel * libm::hypot(1.0, q), ridge * libm::hypot(1.0, p));
            Some((2.0 * (p * step_b + q * step_r) / (p + q), step_b / q + back))
        }
        SectionForm::Wedge if whole => {
            let q = half / section.width;
            let step = bevel * libm::hypot(1.0, q);
            Some((2.0 * step, step / q + back))
        }
        SectionForm::Diamond if whole => {
            let q = section.thickness / section.width;
            let step = bevel * libm::hypot(1.0, q);
            Some((2.0 * step, 2.0 * step / q))
        }
        _ => None,
    }
}

/// Mass of a volume of steel, with the doubts of density and surface model.
pub(crate) fn steel(volume_mm3: Estimate, model_percent: f64) -> Estimate {
    let model = Estimate::rectangular(1.0, model_percent / 100.0);
    tangmark_measure::volume::mass(volume_mm3 * model, tangmark_measure::volume::density())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;
    use tangmark_measure::blade::{Details, slice};

    /// The worked long sword: perimeters 67.114, 56.097 and 45.082 mm; recomputed from the stated sections.
    #[test]
    fn faces_of_the_worked_sections_add_up_to_their_perimeters() {
        for (measures, expected) in [
            ([30.0, 7.0, 6.5, 10.0], 67.114),
            ([25.0, 6.0, 5.55, 8.5], 56.097),
            ([20.0, 5.0, 4.6, 7.0], 45.082),
        ] {
            let [width, thickness, back_thickness, ridge_width] = measures;
            let section = Section {
                width,
                thickness,
                back_thickness,
                ridge_width,
            };
            let sum = slice(SectionForm::Ridged, section, &Details::PLAIN)
                .perimeter
                .total();
            assert!((sum - expected).abs() < 5e-4, "{sum}");
        }
    }

    #[test]
    fn a_bar_loses_twice_the_depth_and_a_thin_edge_goes_back_far() {
        let section = Section {
            width: 30.0,
            thickness: 7.0,
            back_thickness: 6.5,
            ridge_width: 10.0,
        };
        let (thickness, width) = loss(SectionForm::Ridged, section, 0.010, 0.010, 0.0).unwrap();
        assert!((thickness - 0.020).abs() < 5e-5, "{thickness}");
        // The bevel rises 3.5 mm over 20 mm: its sine is 0.17238.
        assert!((width - 0.010 / 0.172_380_5).abs() < 1e-6, "{width}");
        let (untouched, _) = loss(SectionForm::Ridged, section, 0.0, 0.0, 0.0).unwrap();
        assert!(untouched.abs() < 1e-15);
        let (_, both) = loss(SectionForm::Diamond, section, 0.010, 0.0, 0.0).unwrap();
        let (_, one) = loss(
            SectionForm::Wedge,
            Section {
                width: 15.0,
                ..section
            },
            0.010,
            0.0,
            0.0,
        )
        .unwrap();
        assert!((both - 2.0 * one).abs() < 1e-12, "two edges go back");
        assert_eq!(loss(SectionForm::Triangle, section, 0.010, 0.0, 0.0), None);
        assert_eq!(
            loss(
                SectionForm::Ridged,
                Section {
                    width: 10.0,
                    ..section
                },
                0.010,
                0.0,
                0.0
            ),
            None
        );
    }

    proptest! {
        /// Lowering every face by a little takes area times depth: the section's area before less after.
        #[test]
        fn loss_of_thickness_and_width_agrees_with_the_area(width in 20.0..35.0_f64, thickness in 4.0..9.0_f64, share in 0.25..0.4_f64, back in 0.85..0.99_f64) {
            let section = Section { width, thickness, back_thickness: back * thickness, ridge_width: share * width };
            let depth = 1e-4;
            for form in [SectionForm::Ridged, SectionForm::Wedge, SectionForm::Diamond] {
                let (thick, wide) = loss(form, section, depth, depth, 0.0).unwrap();
                let halved = Section { ridge_width: if form == SectionForm::Diamond { width / 2.0 } else { section.ridge_width }, ..section };
                let perimeter = slice(form, halved, &Details::PLAIN).perimeter;
                let around = perimeter.total() - perimeter.back;
                let after = match form {
                    SectionForm::Ridged => {
                        // The ridge moves along the face; the lowered back thickness follows from the lowered ridge face.
                        let fall = (section.thickness - section.back_thickness) / 2.0;
                        let slope = fall / section.ridge_width;
                        let run = section.width - section.ridge_width;
                        let rise = section.thickness / 2.0 / run;
                        let moved = depth * (libm::hypot(1.0, rise) - libm::hypot(1.0, slope)) / (slope + rise);
                        let lowered = 2.0 * depth * libm::hypot(1.0, slope);
                        Section { width: width - wide, thickness: thickness - thick, back_thickness: section.back_thickness - lowered, ridge_width: section.ridge_width - moved }
                    }
                    _ => Section { width: width - wide, thickness: thickness - thick, ..section },
                };
                let lost = form.area(section) - form.area(after);
                prop_assert!((lost - around * depth).abs() <= 2e-3 * around * depth, "{form:?} {lost} {}", around * depth);
            }
        }
    }
}
