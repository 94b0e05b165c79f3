//! What is said of a blade, with uncertainty.

use super::check::BladeError;
use super::model::Blade;
use super::outline::Zones;
use super::sums::Model;
use crate::Estimate;
use crate::gum::{Combined, Correlations, GumError, Input, combine_all};

/// Figures of a blade without its tang, each with its budget.
///
/// The budgets hold what was measured; how far real faces differ from the simple outline is for the caller to add.
#[derive(Clone, Debug, PartialEq)]
pub struct Figures {
    /// Steel, mm³.
    pub volume: Combined,
    /// Mass, g.
    pub mass: Combined,
    /// Place of the centre of mass from the datum, mm.
    pub centre: Combined,
    /// Surface of each zone, mm².
    pub surface: Zones<Combined>,
    /// Whole surface, mm².
    pub total_surface: Combined,
    /// Correlations, in the order volume, mass, centre, edge bevel, ground, ridge face, back, whole surface.
    pub correlations: Vec<Vec<f64>>,
}

/// A number of the blade that is in doubt.
#[derive(Clone, Copy)]
enum Slot {
    At(usize),
    Width(usize),
    Thickness(usize),
    BackThickness(usize),
    RidgeWidth(usize),
    GrooveWidth(usize),
    GrooveDepth(usize),
    PointLength,
    PointTaper,
    BackRise,
    Bulge,
    Bevel,
    WidthOffset,
    ThicknessOffset,
    Density,
}

impl Blade {
    /// Returns the figures for a density in g/cm³.
    ///
    /// Every measure counts as independent of the others, but for what [`Blade::offsets`] says they share.
    ///
    /// # Errors
    /// As [`Blade::model`]; also where the uncertainties are so large that stations change places.
    pub fn figures(&self, density: Estimate) -> Result<Figures, BladeError> {
        self.model()?;
        let slots = self.slots(density);
        let inputs: Vec<Input> = slots
            .iter()
            .map(|(name, estimate, _)| Input::new(name.clone(), *estimate, "measured blade"))
            .collect();
        let joint = combine_all(&inputs, &Correlations::none(), |at| {
            let mut blade = self.clone();
            let mut heaviness = density.value;
            for ((_, _, slot), value) in slots.iter().zip(at) {
                if matches!(slot, Slot::Density) {
                    heaviness = *value;
                } else {
                    blade.put(*slot, *value);
                }
            }
            let Ok(model) = Model::new(&blade) else {
                return vec![f64::NAN; 8];
            };
            let totals = model.totals();
            vec![
                totals.solid.volume,
                totals.solid.volume * heaviness * 1e-3,
                totals.solid.centre().unwrap_or(f64::NAN),
                totals.surface.edge_bevel,
                totals.surface.ground,
                totals.surface.ridge_face,
                totals.surface.back,
                totals.surface.total(),
            ]
        })?;
        let found = joint.outputs.len();
        let outputs = <[Combined; 8]>::try_from(joint.outputs);
        let [
            volume,
            mass,
            centre,
            edge_bevel,
            ground,
            ridge_face,
            back,
            total_surface,
        ] = outputs.map_err(|_| GumError::Count { found, expected: 8 })?;
        Ok(Figures {
            volume,
            mass,
            centre,
            surface: Zones {
                edge_bevel,
                ground,
                ridge_face,
                back,
            },
            total_surface,
            correlations: joint.correlations,
        })
    }

    /// Lists what is in doubt; numbers without uncertainty are left out of the budget.
    fn slots(&self, density: Estimate) -> Vec<(String, Estimate, Slot)> {
        let mut all = Vec::new();
        let mut add = |name: String, estimate: Estimate, slot: Slot| {
            if estimate.standard_uncertainty > 0.0 {
                all.push((name, estimate, slot));
            }
        };
        for (index, one) in self.stations.iter().enumerate() {
            let at = one.at.value;
            add(
                format!("place of the station at {at} mm"),
                one.at,
                Slot::At(index),
            );
            add(format!("width at {at} mm"), one.width, Slot::Width(index));
            add(
                format!("thickness at {at} mm"),
                one.thickness,
                Slot::Thickness(index),
            );
            add(
                format!("thickness of the back at {at} mm"),
                one.back_thickness,
                Slot::BackThickness(index),
            );
            add(
                format!("ridge width at {at} mm"),
                one.ridge_width,
                Slot::RidgeWidth(index),
            );
        }
        for (index, one) in self.grooves.iter().enumerate() {
            let from = one.from;
            add(
                format!("width of the groove from {from} mm"),
                one.width,
                Slot::GrooveWidth(index),
            );
            add(
                format!("depth of the groove from {from} mm"),
                one.depth,
                Slot::GrooveDepth(index),
            );
        }
        if let Some(point) = self.point {
            add(
                "length of the point".into(),
                point.length,
                Slot::PointLength,
            );
            add("taper of the point".into(), point.taper, Slot::PointTaper);
        }
        add("height of the back".into(), self.back_rise, Slot::BackRise);
        add("bulge of the faces".into(), self.bulge, Slot::Bulge);
        add("edge bevel".into(), self.bevel, Slot::Bevel);
        add(
            "what all widths share".into(),
            Estimate::new(0.0, self.offsets.width),
            Slot::WidthOffset,
        );
        add(
            "what all thicknesses share".into(),
            Estimate::new(0.0, self.offsets.thickness),
            Slot::ThicknessOffset,
        );
        add("density".into(), density, Slot::Density);
        all
    }

    fn put(&mut self, slot: Slot, value: f64) {
        match slot {
            Slot::At(index) => self.stations[index].at.value = value,
            Slot::Width(index) => self.stations[index].width.value = value,
            Slot::Thickness(index) => self.stations[index].thickness.value = value,
            Slot::BackThickness(index) => self.stations[index].back_thickness.value = value,
            Slot::RidgeWidth(index) => self.stations[index].ridge_width.value = value,
            Slot::GrooveWidth(index) => self.grooves[index].width.value = value,
            Slot::GrooveDepth(index) => self.grooves[index].depth.value = value,
            Slot::PointLength => {
                if let Some(point) = &mut self.point {
                    point.length.value = value;
                }
            }
            Slot::PointTaper => {
                if let Some(point) = &mut self.point {
                    point.taper.value = value;
                }
            }
            Slot::BackRise => self.back_rise.value = value,
            Slot::Bulge => self.bulge.value = value,
            Slot::Bevel => self.bevel.value = value,
            Slot::WidthOffset => {
                for station in &mut self.stations {
                    station.width.value += value;
                }
            }
            Slot::ThicknessOffset => {
                for station in &mut self.stations {
                    station.thickness.value += value;
                    station.back_thickness.value += value;
                }
            }
            // Not of the blade's form.
            Slot::Density => {}
        }
    }
}

/// Returns the mean depth of removal in µm for a loss of mass in g, a density in g/cm³ and a surface in mm²; `None`
/// for no density or no surface.
///
/// A mean over the whole surface: edge and ridge lose more, so that this is no measure of what is left there.
///
/// Source: h = Δm/(ρ·S).
pub fn mean_removal(loss: Estimate, density: Estimate, surface: Estimate) -> Option<Estimate> {
    Some(loss.ratio(density)?.ratio(surface)?.scaled(1e6))
}
