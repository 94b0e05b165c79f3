//! The simulator's own stream of random numbers, shared with nothing that is judged by it.

/// A stream; the same seed gives the same numbers on every machine.
#[derive(Clone, Debug)]
pub(super) struct Stream(u64);

/// Joins two seeds into one that is unlike the seed of any neighbour.
pub(super) fn mixed(seed: u64, other: u64) -> u64 {
    let mut first = Stream::new(seed);
    Stream::new(first.next() ^ other).next()
}

impl Stream {
    /// Starts a stream; neighbouring seeds give unrelated streams.
    pub(super) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d)
    }

    /// Source: SplitMix64 (Steele, Lea, Flood 2014), from memory.
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number from 0 to below 1.
    pub(super) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two numbers.
    pub(super) fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.unit()
    }

    /// Evenly within ± `half`.
    pub(super) fn within(&mut self, half: f64) -> f64 {
        self.between(-half, half)
    }

    /// Normal, mean 0, standard deviation 1.
    ///
    /// Source: Marsaglia's polar method, from memory.
    pub(super) fn normal(&mut self) -> f64 {
        loop {
            let (a, b) = (self.within(1.0), self.within(1.0));
            let square = a * a + b * b;
            if square > 0.0 && square < 1.0 {
                return a * (-2.0 * square.ln() / square).sqrt();
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stream_has_the_moments_it_should() {
        let mut stream = Stream::new(7);
        let count = 40_000;
        let normal: Vec<f64> = (0..count).map(|_| stream.normal()).collect();
        let mean = normal.iter().sum::<f64>() / f64::from(count);
        let square = normal.iter().map(|one| one * one).sum::<f64>() / f64::from(count);
        assert!(mean.abs() < 0.02, "{mean}");
        assert!((square - 1.0).abs() < 0.03, "{square}");
        let even = (0..count).map(|_| stream.within(3.0).powi(2)).sum::<f64>() / f64::from(count);
        assert!((even - 3.0).abs() < 0.06, "{even}");
        let seeds: std::collections::BTreeSet<u64> = (0..40)
            .flat_map(|seed| (0..40).map(move |blade| mixed(seed, blade)))
            .collect();
        assert_eq!(seeds.len(), 1600);
        assert!(Stream::new(1).next() != Stream::new(2).next());
    }
}
