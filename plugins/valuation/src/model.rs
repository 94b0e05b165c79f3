//! The fit: log prices on the features, and how well it foretells what it has not seen.

use tangmark_core::record::PartialDate;
use tangmark_measure::linear::FitError;
use tangmark_measure::regression::{Interval, Robust, huber};

use crate::comparables::Comparable;
use crate::features::Feature;

/// Nominal probability of the prediction interval.
pub(crate) const PROBABILITY: f64 = 0.95;

/// A fitted market.
pub(crate) struct Model<'a> {
    /// The comparables in the fit.
    pub(crate) rows: Vec<&'a Comparable>,
    /// Their design: a one, then the features.
    pub(crate) design: Vec<Vec<f64>>,
    /// Their log prices.
    pub(crate) response: Vec<f64>,
    /// The features, in order.
    pub(crate) features: Vec<Feature>,
    /// The fit.
    pub(crate) fit: Robust,
}

/// What leaving out one comparable after the other shows.
pub(crate) struct LeftOut {
    /// Log price less its prediction from the others, one for each that could be tried.
    pub(crate) errors: Vec<f64>,
    /// How many lay within the 95 % interval from the others.
    pub(crate) within: usize,
}

/// Returns the rows that say something of every feature, and those that do not.
pub(crate) fn complete<'a>(
    rows: &[&'a Comparable],
    features: &[Feature],
    as_of: &PartialDate,
) -> (Vec<&'a Comparable>, Vec<&'a Comparable>) {
    rows.iter().copied().partition(|row| {
        features
            .iter()
            .all(|feature| row.number(*feature, as_of).is_some())
    })
}

/// Returns how many comparables are needed.
pub(crate) fn needed(least_rows: usize, features: usize) -> usize {
    least_rows.max(4 * (features + 1))
}

/// Fits rows that are complete.
pub(crate) fn fit<'a>(
    rows: Vec<&'a Comparable>,
    features: &[Feature],
    as_of: &PartialDate,
) -> Result<Model<'a>, FitError> {
    let design: Vec<Vec<f64>> = rows
        .iter()
        .map(|row| {
            let numbers = features
                .iter()
                .filter_map(|feature| row.number(*feature, as_of));
            std::iter::once(1.0).chain(numbers).collect()
        })
        .collect();
    let response: Vec<f64> = rows.iter().map(|row| libm::log(row.price)).collect();
    let fit = huber(&design, &response)?;
    Ok(Model {
        rows,
        design,
        response,
        features: features.to_vec(),
        fit,
    })
}

impl Model<'_> {
    /// Fits anew without each comparable in turn, and predicts it. Where the others cannot be fitted it is passed over.
    pub(crate) fn left_out(&self) -> LeftOut {
        let mut errors = Vec::new();
        let mut within = 0;
        for out in 0..self.design.len() {
            let (mut design, mut response) = (self.design.clone(), self.response.clone());
            let (row, seen) = (design.remove(out), response.remove(out));
            let predicted: Option<Interval> = huber(&design, &response)
                .ok()
                .and_then(|fit| fit.predict(&row, PROBABILITY));
            if let Some(interval) = predicted {
                errors.push(seen - interval.value);
                within += usize::from(interval.holds(seen));
            }
        }
        LeftOut { errors, within }
    }

    /// Least and greatest number of each feature.
    pub(crate) fn ranges(&self) -> Vec<(f64, f64)> {
        (1..=self.features.len())
            .map(|column| {
                let values = self.design.iter().map(|row| row[column]);
                values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
                    (low.min(value), high.max(value))
                })
            })
            .collect()
    }

    /// Distance of each comparable from a place: root of the summed squares of differences, each over the standard
    /// deviation of its feature; a feature that does not vary is passed over. The date does not count.
    pub(crate) fn distances(&self, place: &[f64]) -> Vec<f64> {
        let columns: Vec<(usize, f64)> = (1..=self.features.len())
            .filter(|column| self.features[column - 1] != Feature::Date)
            .filter_map(|column| {
                let values: Vec<f64> = self.design.iter().map(|row| row[column]).collect();
                let spread = tangmark_measure::statistics::sample_standard_deviation(&values)?;
                (spread > 0.0).then_some((column, spread))
            })
            .collect();
        self.design
            .iter()
            .map(|row| {
                let squares = columns
                    .iter()
                    .map(|(column, spread)| ((row[*column] - place[*column]) / spread).powi(2));
                squares.sum::<f64>().sqrt()
            })
            .collect()
    }
}
