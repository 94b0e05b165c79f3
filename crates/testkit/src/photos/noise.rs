//! Seeded noise from integer hashing.
//!
//! Only operations that IEEE 754 rounds exactly are used (no sine, no power), so that the
//! pictures do not depend on the mathematics library of the machine.

/// A field of repeatable noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Noise {
    seed: u64,
}

impl Noise {
    pub(super) fn new(seed: u64) -> Self {
        Self {
            seed: scramble(seed ^ 0x5bd1_e995_9e37_79b9),
        }
    }

    /// Another field, independent of this one.
    pub(super) fn layer(self, number: u64) -> Self {
        Self {
            seed: scramble(
                self.seed
                    .wrapping_add(number.wrapping_mul(0x9e37_79b9_7f4a_7c15)),
            ),
        }
    }

    fn bits(self, x: i64, y: i64) -> u64 {
        let first = scramble(self.seed ^ x.cast_unsigned());
        scramble(first.rotate_left(23) ^ y.cast_unsigned())
    }

    /// Uniform in 0..1 for a lattice cell.
    pub(super) fn cell(self, x: i64, y: i64) -> f64 {
        (self.bits(x, y) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Value noise in 0..1, one feature per unit.
    pub(super) fn smooth(self, x: f64, y: f64) -> f64 {
        let (left, top) = (x.floor(), y.floor());
        let (column, row) = (left as i64, top as i64);
        let (fx, fy) = (ease(x - left), ease(y - top));
        let upper = blend(self.cell(column, row), self.cell(column + 1, row), fx);
        let lower = blend(
            self.cell(column, row + 1),
            self.cell(column + 1, row + 1),
            fx,
        );
        blend(upper, lower, fy)
    }

    /// Sum of `octaves` halving layers, in 0..1, mean 0.5.
    pub(super) fn layered(self, x: f64, y: f64, octaves: u64) -> f64 {
        let (mut sum, mut weight, mut scale, mut total) = (0.0, 1.0, 1.0, 0.0);
        for octave in 0..octaves {
            sum += weight * self.layer(octave).smooth(x * scale, y * scale);
            total += weight;
            weight *= 0.5;
            scale *= 2.0;
        }
        sum / total
    }

    /// Nearly normal deviate (sum of four uniform parts), mean 0, standard deviation 1.
    pub(super) fn deviate(self, x: i64, y: i64) -> f64 {
        let bits = self.bits(x, y);
        let sum: f64 = (0..4)
            .map(|part| ((bits >> (16 * part)) & 0xffff) as f64 / 65535.0)
            .sum();
        // Variance of the sum of four uniforms is 4/12.
        (sum - 2.0) * 1.732_050_807_568_877_2
    }
}

/// The SplitMix64 output function (Steele, Lea and Flood 2014; constants from memory).
fn scramble(value: u64) -> u64 {
    let mut bits = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^ (bits >> 31)
}

/// Linear blend of two values.
pub(super) fn blend(from: f64, to: f64, part: f64) -> f64 {
    from + (to - from) * part
}

fn ease(part: f64) -> f64 {
    part * part * (3.0 - 2.0 * part)
}

/// Smooth step from 0 at `low` to 1 at `high`.
pub(super) fn step(low: f64, high: f64, value: f64) -> f64 {
    ease(((value - low) / (high - low)).clamp(0.0, 1.0))
}

/// Bell-shaped bump of height 1 and half-width `width`, without an exponential.
pub(super) fn bump(distance: f64, width: f64) -> f64 {
    let ratio = distance / width;
    let tail = 1.0 + ratio * ratio;
    1.0 / (tail * tail)
}

#[cfg(test)]
mod tests {
    use super::Noise;

    #[test]
    fn noise_repeats_and_layers_differ() {
        let noise = Noise::new(7);
        assert_eq!(
            noise.cell(3, -4).to_bits(),
            Noise::new(7).cell(3, -4).to_bits()
        );
        assert_ne!(
            noise.cell(3, -4).to_bits(),
            noise.layer(1).cell(3, -4).to_bits()
        );
        assert_ne!(noise.cell(3, -4).to_bits(), noise.cell(-4, 3).to_bits());
    }

    #[test]
    fn deviate_has_mean_zero_and_unit_spread() {
        let noise = Noise::new(1);
        let values: Vec<f64> = (0..200 * 200)
            .map(|i| noise.deviate(i % 200, i / 200))
            .collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        let variance =
            values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / values.len() as f64;
        assert!(mean.abs() < 0.02, "mean {mean}");
        assert!((variance - 1.0).abs() < 0.03, "variance {variance}");
    }
}
