//! The outline of one section, from a row of the station table.

use tangmark_core::record::{BackForm, Record, Station};
use tangmark_measure::section::{Section, SectionForm};

use super::profile::{mm, positive};

/// Height of a back of two slopes over its thickness.
///
/// Source: common practice, no source; it is drawn dashed.
const ROOF: f64 = 0.22;

/// A section: its place and its corners, edge down, the middle of the back's foot at the origin; (across, down), mm.
#[derive(Debug, Clone)]
pub(super) struct Outline {
    pub(super) at: f64,
    pub(super) width: f64,
    pub(super) thickness: f64,
    /// Corners around the section; only width and thickness are known of one whose form is none of the simple ones.
    pub(super) corners: Vec<[f64; 2]>,
    /// The roof of the back, above the origin: drawn from typical proportions.
    pub(super) roof: Vec<[f64; 2]>,
    /// Whether the corners follow the measured numbers; else they are those of the box around the section.
    pub(super) known: bool,
}

impl Outline {
    /// The section of a station; nothing without width and thickness.
    pub(super) fn of(record: &Record, station: &Station) -> Option<Self> {
        let at = mm(Some(&station.at))?;
        let width = positive(station.width.as_ref())?;
        let thickness = positive(station.ridge_thickness.as_ref())?;
        let form = SectionForm::of(record.blade.construction);
        let section = form.and_then(|form| Some((form, form.section_of(station).ok()?)));
        let back = record.blade.back_form.unwrap_or(BackForm::None);
        match section {
            Some((form, section)) if sensible(section) => {
                // A wedge is drawn with the thickness its back has; its area goes by the greatest.
                let corners = corners(form, section);
                Some(Self {
                    at,
                    width,
                    thickness,
                    roof: roof(form, section, back),
                    corners,
                    known: true,
                })
            }
            _ => {
                let half = thickness / 2.0;
                Some(Self {
                    at,
                    width,
                    thickness,
                    corners: vec![[-half, 0.0], [half, 0.0], [half, width], [-half, width]],
                    roof: Vec::new(),
                    known: false,
                })
            }
        }
    }
}

/// Whether the measures of a section can belong together.
fn sensible(section: Section) -> bool {
    let parts = [section.back_thickness, section.ridge_width];
    parts.iter().all(|part| part.is_finite() && *part >= 0.0)
        && section.ridge_width <= section.width
}

/// Corners around a section.
///
/// Source: the simplified outlines of [`SectionForm`].
fn corners(form: SectionForm, section: Section) -> Vec<[f64; 2]> {
    let Section {
        width,
        thickness,
        back_thickness,
        ridge_width,
    } = section;
    let (half, back) = (thickness / 2.0, back_thickness / 2.0);
    match form {
        SectionForm::Ridged => vec![
            [-back, 0.0],
            [back, 0.0],
            [half, ridge_width],
            [0.0, width],
            [-half, ridge_width],
        ],
        SectionForm::Wedge => vec![[-half, 0.0], [half, 0.0], [0.0, width]],
        SectionForm::Diamond => vec![
            [0.0, 0.0],
            [half, ridge_width],
            [0.0, width],
            [-half, ridge_width],
        ],
        SectionForm::Triangle => vec![[-half, 0.0], [half, ridge_width], [-half, width]],
        // The flat face at the left.
        SectionForm::OneSided => vec![
            [-half, 0.0],
            [-half + back_thickness, 0.0],
            [half, ridge_width],
            [-half, width],
        ],
    }
}

fn roof(form: SectionForm, section: Section, back: BackForm) -> Vec<[f64; 2]> {
    let wide = match form {
        SectionForm::Ridged | SectionForm::OneSided => section.back_thickness,
        SectionForm::Wedge => section.thickness,
        SectionForm::Diamond | SectionForm::Triangle => return Vec::new(),
    };
    let middle = match form {
        SectionForm::OneSided => -section.thickness / 2.0 + wide / 2.0,
        _ => 0.0,
    };
    let (half, rise) = (wide / 2.0, -ROOF * wide);
    let top: Vec<[f64; 2]> = match back {
        BackForm::Iori => vec![[0.0, rise]],
        BackForm::Mitsu => vec![[-wide / 6.0, rise], [wide / 6.0, rise]],
        BackForm::Maru => (1..12)
            .map(|step| {
                let share = f64::from(step) / 6.0 - 1.0;
                [share * half, rise * (1.0 - share * share)]
            })
            .collect(),
        BackForm::Hira | BackForm::None | BackForm::Other => return Vec::new(),
    };
    std::iter::once([-half, 0.0])
        .chain(top)
        .chain([[half, 0.0]])
        .map(|[x, y]| [x + middle, y])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(points: &[[f64; 2]]) -> f64 {
        let next = points.iter().cycle().skip(1);
        let sum: f64 = points
            .iter()
            .zip(next)
            .map(|(a, b)| a[0] * b[1] - b[0] * a[1])
            .sum();
        (sum / 2.0).abs()
    }

    /// The outlines enclose the areas that the same forms are computed with.
    #[test]
    fn outlines_enclose_the_areas_of_their_forms() {
        let section = Section {
            width: 30.0,
            thickness: 7.0,
            back_thickness: 6.5,
            ridge_width: 10.0,
        };
        for form in [
            SectionForm::Ridged,
            SectionForm::Wedge,
            SectionForm::Diamond,
            SectionForm::Triangle,
            SectionForm::OneSided,
        ] {
            let drawn = area(&corners(form, section));
            assert!(
                (drawn - form.area(section)).abs() < 1e-9,
                "{form:?} {drawn}"
            );
        }
    }
}
