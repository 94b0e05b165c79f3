//! Areas of sections by construction.

use tangmark_core::record::{Construction, Length, Station};

/// Simplified outline of a section.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SectionForm {
    /// Ridge on both faces: a trapezium behind the ridge, a triangle before it.
    Ridged,
    /// Flat faces from the back to the edge: a triangle.
    Wedge,
    /// Two triangles on a common base: two edges, a ridge on both faces.
    Diamond,
    /// Three edges: a flat base as wide as the section, two slopes to a ridge over it.
    Triangle,
    /// A ridge on one face only, the other flat from the edge to the back.
    OneSided,
}

/// What was measured of one section, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Width, edge to back.
    pub width: f64,
    /// Thickness at the ridge, or the greatest.
    pub thickness: f64,
    /// Thickness at the back. The area of a wedge goes by the greatest instead; diamond and triangle have none.
    pub back_thickness: f64,
    /// Width of the face between ridge and back; with two or three edges, from one edge to the ridge.
    pub ridge_width: f64,
}

impl SectionForm {
    /// Returns the form that models a construction; `None` where no simple form comes near (grooved or branched
    /// sections, and hollow or convex ones without a measured bulge).
    ///
    /// Source: own simplification; two-edged and three-edged sections have area b·t/2 wherever the ridge lies.
    pub fn of(construction: Construction) -> Option<Self> {
        use Construction as C;
        match construction {
            C::ShinogiZukuri
            | C::ShobuZukuri
            | C::KirihaZukuri
            | C::KanmuriOtoshi
            | C::UnokubiZukuri
            | C::OsorakuZukuri
            | C::KissakiMoroha
            | C::NaginataZukuri
            | C::NaginataNaoshi
            | C::NagamakiNaoshi => Some(Self::Ridged),
            C::HiraZukuri | C::FlatGround => Some(Self::Wedge),
            C::MorohaZukuri | C::KenZukuri | C::SuYari | C::RyoShinogiYari | C::DiamondSection => {
                Some(Self::Diamond)
            }
            C::SankakuYari => Some(Self::Triangle),
            C::KataKiriha => Some(Self::OneSided),
            C::JumonjiYari
            | C::KataKamaYari
            | C::KikuchiYari
            | C::HollowGround
            | C::ConvexGround
            | C::Fullered
            | C::Other => None,
        }
    }

    /// Returns the area of a section, mm².
    ///
    /// Neglected: the roof of the back, convex faces, grooves.
    ///
    /// Source: plane geometry. Ridged and one-sided: A = s(k + m)/2 + k(b − s)/2 with b width, k thickness at the
    /// ridge, m at the back, s ridge width. Wedge, diamond and triangle: A = b·t/2.
    pub fn area(self, section: Section) -> f64 {
        let Section {
            width,
            thickness,
            back_thickness,
            ridge_width,
        } = section;
        match self {
            Self::Ridged | Self::OneSided => {
                ridge_width * f64::midpoint(thickness, back_thickness)
                    + thickness * (width - ridge_width) / 2.0
            }
            Self::Wedge | Self::Diamond | Self::Triangle => width * thickness / 2.0,
        }
    }

    /// Takes from a station what this form needs; names what is missing.
    ///
    /// # Errors
    /// The field that was not measured.
    pub fn section_of(self, station: &Station) -> Result<Section, &'static str> {
        let width = station.width.as_ref().ok_or("width")?.to_f64();
        let thickness = station
            .ridge_thickness
            .as_ref()
            .ok_or("ridge_thickness")?
            .to_f64();
        let back = station
            .back_thickness
            .as_ref()
            .map(|length: &Length| length.to_f64());
        let ridge = station
            .ridge_width
            .as_ref()
            .map(|length: &Length| length.to_f64());
        let (back_thickness, ridge_width) = match self {
            Self::Ridged | Self::OneSided => {
                (back.ok_or("back_thickness")?, ridge.ok_or("ridge_width")?)
            }
            Self::Wedge => (back.unwrap_or(thickness), 0.0),
            Self::Diamond | Self::Triangle => (0.0, ridge.unwrap_or(width / 2.0)),
        };
        Ok(Section {
            width,
            thickness,
            back_thickness,
            ridge_width,
        })
    }
}

impl Section {
    /// Returns the section halfway between two, each measure by linear interpolation.
    #[must_use]
    pub fn halfway(self, other: Self) -> Self {
        Self {
            width: f64::midpoint(self.width, other.width),
            thickness: f64::midpoint(self.thickness, other.thickness),
            back_thickness: f64::midpoint(self.back_thickness, other.back_thickness),
            ridge_width: f64::midpoint(self.ridge_width, other.ridge_width),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The three sections of the worked long sword; areas recomputed from the stated inputs.
    #[test]
    fn ridged_sections() {
        for (measures, expected) in [
            ([30.0, 7.0, 6.5, 10.0], 137.5),
            ([25.0, 6.0, 5.55, 8.5], 98.5875),
            ([20.0, 5.0, 4.6, 7.0], 66.1),
        ] {
            let [width, thickness, back_thickness, ridge_width] = measures;
            let area = SectionForm::Ridged.area(Section {
                width,
                thickness,
                back_thickness,
                ridge_width,
            });
            assert!((area - expected).abs() < 1e-9, "{area}");
        }
    }

    #[test]
    fn a_ridge_at_the_back_is_a_wedge_and_closed_forms_hold() {
        let flat = Section {
            width: 24.0,
            thickness: 6.0,
            back_thickness: 6.0,
            ridge_width: 0.0,
        };
        assert!((SectionForm::Ridged.area(flat) - SectionForm::Wedge.area(flat)).abs() < 1e-12);
        assert!((SectionForm::Wedge.area(flat) - 72.0).abs() < 1e-12);
        assert!((SectionForm::Diamond.area(flat) - 72.0).abs() < 1e-12);
        let bar = Section {
            width: 24.0,
            thickness: 6.0,
            back_thickness: 6.0,
            ridge_width: 24.0,
        };
        assert!(
            (SectionForm::Ridged.area(bar) - 144.0).abs() < 1e-12,
            "a ridge at the edge is a bar"
        );
    }

    #[test]
    fn every_construction_has_a_form_or_none() {
        use tangmark_core::record::Term as _;
        let modelled = Construction::ALL
            .iter()
            .filter(|one| SectionForm::of(**one).is_some())
            .count();
        assert_eq!((modelled, Construction::ALL.len()), (19, 26));
    }
}
