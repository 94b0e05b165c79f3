//! The measured blade.

use tangmark_core::record::{BackForm, Dimensions, Face, Length};

use super::outline::{Back, Details, Zone};
use crate::Estimate;
use crate::section::SectionForm;

/// A measured section at its place; all mm, the place from the datum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Station {
    /// Place from the datum.
    pub at: Estimate,
    /// Width, edge to back.
    pub width: Estimate,
    /// Thickness at the ridge, or the greatest.
    pub thickness: Estimate,
    /// Thickness at the back; exactly 0 for forms without one.
    pub back_thickness: Estimate,
    /// Width between ridge and back, or from one edge to the ridge; exactly 0 for a wedge.
    pub ridge_width: Estimate,
}

/// A groove of even section; round at the bottom, as a parabola.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Groove {
    /// Zone that it is cut into.
    pub zone: Zone,
    /// Start, mm from the datum.
    pub from: f64,
    /// End, mm from the datum.
    pub to: f64,
    /// Width, mm.
    pub width: Estimate,
    /// Depth, mm.
    pub depth: Estimate,
}

/// The point beyond the last station.
///
/// Its sections are like the last one, smaller by (1 − z)^taper at the share z of its length: 1 is a cone, less is
/// fuller.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Length from the last station to the tip, mm.
    pub length: Estimate,
    /// Exponent, above 0.
    pub taper: Estimate,
}

/// How measures run from station to station.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Between {
    /// Straight.
    Linear,
    /// By a smooth curve that never overshoots.
    Monotone,
}

/// Standard uncertainties that all stations share, mm: the zero of the instrument, wear of its jaws.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offsets {
    /// Of all widths.
    pub width: f64,
    /// Of all thicknesses.
    pub thickness: f64,
}

/// A blade without its tang.
#[derive(Clone, Debug, PartialEq)]
pub struct Blade {
    /// Outline of its sections.
    pub form: SectionForm,
    /// Stations, in order from the datum.
    pub stations: Vec<Station>,
    /// How measures run between them.
    pub between: Between,
    /// Where the steel begins, mm from the datum; up to the first station the measures there hold.
    pub from: f64,
    /// Point beyond the last station; without one the steel ends there.
    pub point: Option<Point>,
    /// Form of the back.
    pub back: Back,
    /// Height of the back over its thickness.
    pub back_rise: Estimate,
    /// Height of a ground face over the straight line, as a share of its width: above 0 convex, below 0 hollow.
    /// Hollow and convex ground blades are wedges with a measured bulge.
    pub bulge: Estimate,
    /// Width of the edge bevel along the face, mm.
    pub bevel: Estimate,
    /// Grooves, one entry for each face that has one.
    pub grooves: Vec<Groove>,
    /// What the stations share.
    pub offsets: Offsets,
}

impl Blade {
    /// Makes a blade with flat faces, a flat back, no point and no grooves, smooth between its stations.
    pub fn new(form: SectionForm, stations: Vec<Station>) -> Self {
        Self {
            form,
            stations,
            between: Between::Monotone,
            from: 0.0,
            point: None,
            back: Details::PLAIN.back,
            back_rise: Estimate::exact(0.0),
            bulge: Estimate::exact(0.0),
            bevel: Estimate::exact(0.0),
            grooves: Vec::new(),
            offsets: Offsets::default(),
        }
    }

    /// Takes stations, grooves and form of the back from a sheet.
    ///
    /// Stations that lack what the form needs, and grooves without depth, are left out. A wedge without a back
    /// thickness takes the greatest; a ridge without place stands in the middle between two edges. The length of
    /// the point is what is left of the blade length beyond the last station, a cone.
    pub fn of(form: SectionForm, dimensions: &Dimensions, back_form: Option<BackForm>) -> Self {
        let estimate = |length: &Length| Estimate::from(&length.0);
        let station = |one: &tangmark_core::record::Station| {
            let thickness = estimate(one.ridge_thickness.as_ref()?);
            let width = estimate(one.width.as_ref()?);
            let back = one.back_thickness.as_ref().map(estimate);
            let ridge = one.ridge_width.as_ref().map(estimate);
            let (back_thickness, ridge_width) = match form {
                SectionForm::Ridged | SectionForm::OneSided => (back?, ridge?),
                SectionForm::Wedge => (back.unwrap_or(thickness), Estimate::exact(0.0)),
                SectionForm::Diamond | SectionForm::Triangle => (
                    Estimate::exact(0.0),
                    ridge.unwrap_or(Estimate::exact(width.value / 2.0)),
                ),
            };
            Some(Station {
                at: estimate(&one.at),
                width,
                thickness,
                back_thickness,
                ridge_width,
            })
        };
        let stations: Vec<Station> = dimensions.stations.iter().filter_map(station).collect();
        let ridged = matches!(form, SectionForm::Ridged | SectionForm::OneSided);
        let groove = |one: &tangmark_core::record::Groove| {
            Some(Groove {
                zone: match one.face {
                    Face::BackSide => Zone::Back,
                    Face::Omote | Face::Ura if ridged => Zone::RidgeFace,
                    _ => Zone::Ground,
                },
                from: one.from.to_f64(),
                to: one.to.to_f64(),
                width: estimate(&one.width),
                depth: estimate(one.depth.as_ref()?),
            })
        };
        let length = dimensions.blade_length.as_ref().map(estimate);
        // The place of the last station goes with that of the section; the tip has the doubt of the length.
        let point = length.zip(stations.last()).and_then(|(length, last)| {
            let rest = length - Estimate::exact(last.at.value);
            (rest.value > 0.0).then_some(Point {
                length: rest,
                taper: Estimate::exact(1.0),
            })
        });
        let mut blade = Self::new(form, stations);
        blade.point = point;
        blade.grooves = dimensions.grooves.iter().filter_map(groove).collect();
        blade.back.form = back_form.unwrap_or(BackForm::Hira);
        blade
    }
}
