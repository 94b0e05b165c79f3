//! A curve through measured points that never overshoots.

/// Why points cannot be joined.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum InterpolateError {
    /// Fewer than two points, or lists of different length.
    #[error(
        "{places} places and {values} values cannot be joined: give two points or more, one value for each place"
    )]
    Count {
        /// Places found.
        places: usize,
        /// Values found.
        values: usize,
    },
    /// A place that does not lie after the one before it.
    #[error(
        "place {found} does not lie after {before}: put the points in rising order, each place once"
    )]
    Order {
        /// The place before.
        before: f64,
        /// The place found.
        found: f64,
    },
    /// A number that is not finite.
    #[error("{found} is not a finite number: leave the point out or read it again")]
    NotFinite {
        /// What was found.
        found: f64,
    },
}

/// Smooth curve through points, monotone wherever the points are.
///
/// Between two points it stays between their values; through points on a straight line it is that line. Beyond the
/// ends it holds the end values: what was not measured is not made up.
///
/// Source: piecewise cubic after Fritsch and Carlson (SIAM J. Numer. Anal. 17, 1980), from memory.
#[derive(Clone, Debug, PartialEq)]
pub struct Monotone {
    places: Vec<f64>,
    values: Vec<f64>,
    slopes: Vec<f64>,
}

impl Monotone {
    /// Joins points with places in rising order.
    ///
    /// # Errors
    /// [`InterpolateError`] for fewer than two points, uneven lists, falling places and numbers that are not finite.
    pub fn new(places: &[f64], values: &[f64]) -> Result<Self, InterpolateError> {
        if places.len() < 2 || places.len() != values.len() {
            return Err(InterpolateError::Count {
                places: places.len(),
                values: values.len(),
            });
        }
        if let Some(found) = places.iter().chain(values).find(|one| !one.is_finite()) {
            return Err(InterpolateError::NotFinite { found: *found });
        }
        if let Some(pair) = places.windows(2).find(|pair| pair[1] <= pair[0]) {
            return Err(InterpolateError::Order {
                before: pair[0],
                found: pair[1],
            });
        }
        Ok(Self {
            places: places.to_vec(),
            values: values.to_vec(),
            slopes: slopes(places, values),
        })
    }

    /// Returns the value at a place.
    pub fn at(&self, place: f64) -> f64 {
        let after = self.places.partition_point(|one| *one <= place);
        let Some(left) = after.checked_sub(1) else {
            return self.values[0];
        };
        let (Some(&end), Some(&to)) = (self.places.get(after), self.values.get(after)) else {
            return self.values[left];
        };
        let (start, from) = (self.places[left], self.values[left]);
        let step = end - start;
        let share = (place - start) / step;
        let rest = 1.0 - share;
        // Hermite's cubic, written as the straight line with two bends, so that equal ends give their value exactly.
        let chord = (to - from) / step;
        let bend = share
            * rest
            * step
            * (rest * (self.slopes[left] - chord) - share * (self.slopes[after] - chord));
        // Rounding may leave the two values by a last digit.
        (from + share * (to - from) + bend).clamp(from.min(to), from.max(to))
    }
}

fn slopes(places: &[f64], values: &[f64]) -> Vec<f64> {
    let steps: Vec<f64> = places.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let chords: Vec<f64> = values
        .windows(2)
        .zip(&steps)
        .map(|(pair, step)| (pair[1] - pair[0]) / step)
        .collect();
    let inner = |index: usize| {
        let (before, after) = (chords[index - 1], chords[index]);
        if before * after <= 0.0 {
            return 0.0;
        }
        // The slope of the parabola through three points.
        (before * steps[index] + after * steps[index - 1]) / (steps[index - 1] + steps[index])
    };
    let last = values.len() - 1;
    let mut slopes: Vec<f64> = (0..=last)
        .map(|index| match index {
            0 => end_slope(&chords, &steps, false),
            _ if index == last => end_slope(&chords, &steps, true),
            _ => inner(index),
        })
        .collect();
    for (index, chord) in chords.iter().enumerate() {
        if *chord == 0.0 {
            (slopes[index], slopes[index + 1]) = (0.0, 0.0);
            continue;
        }
        let (first, second) = (slopes[index] / chord, slopes[index + 1] / chord);
        let reach = first.hypot(second);
        // Inside this circle the cubic is monotone.
        if reach > 3.0 {
            slopes[index] = 3.0 * first / reach * chord;
            slopes[index + 1] = 3.0 * second / reach * chord;
        }
    }
    slopes
}

/// Returns the slope at an end of the parabola through the three points there, none against the end chord.
fn end_slope(chords: &[f64], steps: &[f64], at_the_last: bool) -> f64 {
    let pick = |list: &[f64], from_end: usize| {
        let index = if at_the_last {
            list.len().checked_sub(1 + from_end)?
        } else {
            from_end
        };
        list.get(index).copied()
    };
    let (Some(chord), Some(step)) = (pick(chords, 0), pick(steps, 0)) else {
        return 0.0;
    };
    let (Some(next_chord), Some(next_step)) = (pick(chords, 1), pick(steps, 1)) else {
        return chord;
    };
    let slope = chord + (chord - next_chord) * step / (step + next_step);
    if slope * chord <= 0.0 { 0.0 } else { slope }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use proptest::prelude::*;

    fn points() -> impl Strategy<Value = (Vec<f64>, Vec<f64>)> {
        prop::collection::vec((0.01..50.0_f64, -20.0..20.0_f64), 2..12).prop_map(|pairs| {
            let mut place = 0.0;
            pairs
                .into_iter()
                .map(|(step, value)| {
                    place += step;
                    (place, value)
                })
                .unzip()
        })
    }

    #[test]
    fn what_cannot_be_joined_is_refused() {
        assert_eq!(
            Monotone::new(&[1.0], &[1.0]).unwrap_err().to_string(),
            "1 places and 1 values cannot be joined: give two points or more, one value for each place"
        );
        assert_eq!(
            Monotone::new(&[1.0, 1.0], &[1.0, 2.0]),
            Err(InterpolateError::Order {
                before: 1.0,
                found: 1.0
            })
        );
        assert!(matches!(
            Monotone::new(&[1.0, 2.0], &[1.0, f64::NAN]),
            Err(InterpolateError::NotFinite { .. })
        ));
    }

    #[test]
    fn a_smooth_curve_is_followed() {
        // Between points 0.1 apart a cubic comes within h³ of the exponential function.
        let places: Vec<f64> = (0..=20).map(|k| 0.1 * f64::from(k)).collect();
        let values: Vec<f64> = places.iter().map(|x| x.exp()).collect();
        let curve = Monotone::new(&places, &values).unwrap();
        for step in 0..200 {
            let x = 0.01 * f64::from(step);
            assert!((curve.at(x) - x.exp()).abs() < 1e-3, "{x}");
        }
    }

    #[test]
    fn beyond_the_ends_the_end_values_hold() {
        let curve = Monotone::new(&[0.0, 1.0, 3.0], &[5.0, 4.0, 1.0]).unwrap();
        for (place, value) in [
            (-10.0, 5.0),
            (0.0, 5.0),
            (1.0, 4.0),
            (3.0, 1.0),
            (99.0, 1.0),
        ] {
            assert!((curve.at(place) - value).abs() < f64::EPSILON);
        }
        assert!(curve.at(f64::NAN).is_finite());
    }

    proptest! {
        #[test]
        fn no_overshoot_and_monotone_between_points((places, values) in points()) {
            let curve = Monotone::new(&places, &values).unwrap();
            for (pair, ends) in places.windows(2).zip(values.windows(2)) {
                let (low, high) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
                let mut before = ends[0];
                for step in 0..=40 {
                    let share = f64::from(step) / 40.0;
                    let found = curve.at(pair[0] + share * (pair[1] - pair[0]));
                    prop_assert!(found >= low && found <= high, "{found} outside {low} to {high}");
                    prop_assert!((found - before) * (ends[1] - ends[0]) >= -1e-12, "{before} then {found}");
                    before = found;
                }
            }
            for (place, value) in places.iter().zip(&values) {
                prop_assert!((curve.at(*place) - value).abs() <= 1e-12);
            }
        }

        #[test]
        fn a_straight_line_stays_straight((places, _) in points(), slope in -3.0..3.0_f64, share in 0.0..1.0_f64) {
            let values: Vec<f64> = places.iter().map(|x| 7.0 + slope * x).collect();
            let place = places[0] + share * (places[places.len() - 1] - places[0]);
            let found = Monotone::new(&places, &values).unwrap().at(place);
            prop_assert!((found - 7.0 - slope * place).abs() < 1e-9, "{found}");
        }
    }
}
