//! What a blade must be before it is modelled.

use super::model::Blade;
use super::sums::Model;
use crate::gum::GumError;
use crate::interpolate::InterpolateError;

/// Why a blade cannot be modelled.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BladeError {
    /// Stations that cannot be joined.
    #[error("the stations: {0}")]
    Stations(#[from] InterpolateError),
    /// A measure that cannot be.
    #[error("{what} at {at} mm is {found} mm, {least} to {most} mm is allowed: measure it again")]
    Measure {
        /// What was measured.
        what: &'static str,
        /// Where, mm from the datum.
        at: f64,
        /// What was found.
        found: f64,
        /// Least that is allowed.
        least: f64,
        /// Most that is allowed.
        most: f64,
    },
    /// A number of the model out of its range.
    #[error("the {what} is {found}, {least} to {most} is allowed: set it again")]
    Setting {
        /// What was set.
        what: &'static str,
        /// What was found.
        found: f64,
        /// Least that is allowed.
        least: f64,
        /// Most that is allowed.
        most: f64,
    },
    /// The uncertainties could not be combined.
    #[error(transparent)]
    Budget(#[from] GumError),
}

impl Blade {
    /// Returns the blade's own values as a model to be summed.
    ///
    /// # Errors
    /// [`BladeError`] for stations out of order, measures below zero, a ridge wider than its section, and settings
    /// out of range.
    pub fn model(&self) -> Result<Model, BladeError> {
        self.examine()?;
        Ok(Model::new(self)?)
    }

    fn examine(&self) -> Result<(), BladeError> {
        for station in &self.stations {
            let at = station.at.value;
            let within = |what, found: f64, most: f64| {
                if (0.0..=most).contains(&found) {
                    return Ok(());
                }
                Err(BladeError::Measure {
                    what,
                    at,
                    found,
                    least: 0.0,
                    most,
                })
            };
            let most = 10_000.0;
            within("the width", station.width.value, most)?;
            within("the thickness", station.thickness.value, most)?;
            within(
                "the thickness of the back",
                station.back_thickness.value,
                most,
            )?;
            let roof = if self.back.counted_in_width {
                self.back_rise.value * station.back_thickness.value
            } else {
                0.0
            };
            within(
                "the ridge width",
                station.ridge_width.value,
                station.width.value - roof,
            )?;
        }
        for groove in &self.grooves {
            let at = groove.from;
            let most = 10_000.0;
            for (what, found, least) in [
                ("the end of the groove", groove.to, groove.from),
                ("the width of the groove", groove.width.value, 0.0),
                ("the depth of the groove", groove.depth.value, 0.0),
            ] {
                if !(least..=most).contains(&found) {
                    return Err(BladeError::Measure {
                        what,
                        at,
                        found,
                        least,
                        most,
                    });
                }
            }
        }
        let point = self
            .point
            .map_or((1.0, 1.0), |point| (point.length.value, point.taper.value));
        for (what, found, least, most) in [
            (
                "height of the back over its thickness",
                self.back_rise.value,
                0.0,
                1.0,
            ),
            (
                "bulge of the ground faces over their width",
                self.bulge.value,
                -0.2,
                0.2,
            ),
            (
                "width of the edge bevel in mm",
                self.bevel.value,
                0.0,
                100.0,
            ),
            ("length of the point in mm", point.0, 0.0, 10_000.0),
            ("taper of the point", point.1, 0.05, 10.0),
            ("start of the steel in mm", self.from, -10_000.0, 10_000.0),
        ] {
            if !(least..=most).contains(&found) {
                return Err(BladeError::Setting {
                    what,
                    found,
                    least,
                    most,
                });
            }
        }
        Ok(())
    }
}
