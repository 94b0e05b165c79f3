//! Outline of one section: its area, and the length of each zone around it.

use tangmark_core::record::BackForm;

use crate::section::{Section, SectionForm};

/// Part of the surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Zone {
    /// Bevel at the edge, where there is one that is told apart.
    EdgeBevel,
    /// Between edge (or its bevel) and ridge, or back.
    Ground,
    /// Between ridge and back.
    RidgeFace,
    /// Back.
    Back,
}

/// One number per zone, both faces together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Zones<T> {
    /// Bevel at the edge.
    pub edge_bevel: T,
    /// Ground faces.
    pub ground: T,
    /// Faces between ridge and back.
    pub ridge_face: T,
    /// Back.
    pub back: T,
}

impl Zones<f64> {
    /// Returns the sum over the zones.
    pub fn total(self) -> f64 {
        self.edge_bevel + self.ground + self.ridge_face + self.back
    }

    /// Returns the number of a zone, to be changed.
    pub(super) fn of(&mut self, zone: Zone) -> &mut f64 {
        match zone {
            Zone::EdgeBevel => &mut self.edge_bevel,
            Zone::Ground => &mut self.ground,
            Zone::RidgeFace => &mut self.ridge_face,
            Zone::Back => &mut self.back,
        }
    }
}

/// Form of the back, and how it was measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Back {
    /// Form.
    pub form: BackForm,
    /// Whether the measured width reaches to the top of the back; else it ends where the back begins.
    pub counted_in_width: bool,
}

/// What a station table does not say of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Details {
    /// Form of the back.
    pub back: Back,
    /// Height of the back over its thickness, 0 for a flat one.
    pub back_rise: f64,
    /// Height of a ground face over the straight line, as a share of its width: above 0 convex, below 0 hollow.
    pub bulge: f64,
    /// Width of the edge bevel along the face, mm; 0 where none is told apart.
    pub bevel: f64,
}

impl Details {
    /// A flat back, flat faces, no bevel.
    pub const PLAIN: Self = Self {
        back: Back {
            form: BackForm::Hira,
            counted_in_width: false,
        },
        back_rise: 0.0,
        bulge: 0.0,
        bevel: 0.0,
    };
}

/// Area and zones of one section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slice {
    /// Area, mm².
    pub area: f64,
    /// Lengths around the section, mm, both faces together.
    pub perimeter: Zones<f64>,
}

/// Share of the thickness of the back that the middle plane of a back of three planes takes.
///
/// Source: this tool's own choice.
const MIDDLE_PLANE: f64 = 1.0 / 3.0;

/// Returns the length of a shallow parabolic arc over its chord, for a height given as a share of the chord.
///
/// Source: arc length of the parabola, (√(1 + z²) + arsinh(z)/z)/2 with z four times the share.
pub(super) fn arc_over_chord(share: f64) -> f64 {
    let z = 4.0 * share.abs();
    if z < 1e-8 {
        return 1.0;
    }
    f64::midpoint(z.hypot(1.0), libm::asinh(z) / z)
}

/// Returns area and zones of a section. Two-edged sections have ground faces only.
///
/// Source: plane geometry; bulges and a round back as parabolas (area 2/3 of chord times height); the roof of a back
/// of two slopes m·h/2, from memory of the trade.
pub fn slice(form: SectionForm, section: Section, details: &Details) -> Slice {
    let thick = section.back_thickness;
    let rise = details.back_rise * thick;
    let has_back = matches!(
        form,
        SectionForm::Ridged | SectionForm::Wedge | SectionForm::OneSided
    );
    let (roof_area, back) = if has_back {
        roof(details.back.form, thick, rise)
    } else {
        (0.0, 0.0)
    };
    let mut body = section;
    if has_back && details.back.counted_in_width && roof_area > 0.0 {
        body.width -= rise;
    }
    let rest = body.width - body.ridge_width;
    let (half, back_half) = (body.thickness / 2.0, thick / 2.0);
    // Straight widths of the ground faces (0 where there are fewer than four), and of the faces behind a ridge.
    let (grounds, behind): ([f64; 4], f64) = match form {
        SectionForm::Ridged => (
            [rest.hypot(half), rest.hypot(half), 0.0, 0.0],
            2.0 * body.ridge_width.hypot(half - back_half),
        ),
        SectionForm::Wedge => {
            let face = body.width.hypot(half);
            ([face, face, 0.0, 0.0], 0.0)
        }
        SectionForm::Diamond => {
            let (one, other) = (rest.hypot(half), body.ridge_width.hypot(half));
            ([one, one, other, other], 0.0)
        }
        SectionForm::Triangle => (
            [
                body.width,
                rest.hypot(body.thickness),
                body.ridge_width.hypot(body.thickness),
                0.0,
            ],
            0.0,
        ),
        SectionForm::OneSided => (
            [rest.hypot(body.thickness), rest, 0.0, 0.0],
            body.ridge_width + body.ridge_width.hypot(body.thickness - thick),
        ),
    };
    let mut perimeter = Zones {
        ridge_face: behind,
        back,
        ..Zones::default()
    };
    let mut area = form.area(body) + roof_area;
    let longer = arc_over_chord(details.bulge);
    // Where two edges share a face from edge to ridge, each of the four faces has one edge; a triangle has two
    // bevels on each face.
    let bevels = if form == SectionForm::Triangle {
        2.0
    } else {
        1.0
    };
    for width in grounds {
        area += 2.0 / 3.0 * details.bulge * width * width;
        let length = width * longer;
        let bevel = (bevels * details.bevel).min(length);
        perimeter.edge_bevel += bevel;
        perimeter.ground += length - bevel;
    }
    Slice { area, perimeter }
}

/// Returns the area of a back over its straight thickness, and its length from corner to corner.
fn roof(form: BackForm, thick: f64, rise: f64) -> (f64, f64) {
    match form {
        BackForm::Iori => (thick * rise / 2.0, 2.0 * (thick / 2.0).hypot(rise)),
        BackForm::Mitsu => {
            let middle = thick * MIDDLE_PLANE;
            let slope = ((thick - middle) / 2.0).hypot(rise);
            (rise * f64::midpoint(thick, middle), middle + 2.0 * slope)
        }
        BackForm::Maru => {
            let share = if thick == 0.0 { 0.0 } else { rise / thick };
            (2.0 / 3.0 * thick * rise, thick * arc_over_chord(share))
        }
        BackForm::Hira | BackForm::None | BackForm::Other => (0.0, thick),
    }
}
