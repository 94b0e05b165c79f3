//! Instruments and habits of an invented workshop, and how they err.

use super::stream::Stream;

/// A scale or a gauge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Instrument {
    /// Step it shows.
    pub(super) step: f64,
    /// Limit of error: half of the range in which its error lies.
    pub(super) limit: f64,
    /// Share of the variance of that error that stays for good; the rest is drawn anew each session.
    pub(super) stays: f64,
    /// The sheet names the limit of error.
    pub(super) limit_noted: bool,
}

/// What a workshop measures with.
#[derive(Clone, Copy, Debug)]
pub(super) struct Set {
    /// Short name.
    pub(super) name: &'static str,
    /// What the workshop says of itself is true.
    pub(super) honest: bool,
    /// Scale, g.
    pub(super) scale: Instrument,
    /// Standard deviation of repeated weighings, g; stated to the plugin.
    pub(super) repeat: f64,
    /// Standard deviation of what clings to a blade that was dried and oiled as always, g; stated to the plugin.
    pub(super) film: f64,
    /// Mean and standard deviation of water and mud left on after a pass, g; never stated.
    pub(super) wet: (f64, f64),
    /// Gauge, mm.
    pub(super) gauge: Instrument,
    /// Standard deviation of the place at which a station is measured, mm; stated to the plugin.
    pub(super) placement: f64,
}

const fn instrument(step: f64, limit: f64, stays: f64) -> Instrument {
    Instrument {
        step,
        limit,
        stays,
        limit_noted: true,
    }
}

/// A bench scale and a caliper, as most workshops have them.
const BENCH: Set = Set {
    name: "bench scale 0.1 g, caliper 0.01 mm",
    honest: true,
    scale: instrument(0.1, 0.2, 0.8),
    repeat: 0.05,
    film: 0.05,
    wet: (0.0, 0.0),
    gauge: instrument(0.01, 0.03, 0.5),
    placement: 1.0,
};

/// Every set: the honest ones first, then those whose words do not fit their deeds.
pub(super) const SETS: &[Set] = &[
    Set {
        name: "good scale 0.01 g, micrometer 1 µm",
        scale: instrument(0.01, 0.03, 0.8),
        repeat: 0.01,
        film: 0.02,
        gauge: instrument(0.001, 0.004, 0.5),
        placement: 0.5,
        ..BENCH
    },
    BENCH,
    Set {
        name: "kitchen scale 1 g, vernier 0.05 mm",
        scale: instrument(1.0, 2.0, 0.9),
        repeat: 0.3,
        film: 0.2,
        gauge: instrument(0.05, 0.05, 0.3),
        placement: 2.0,
        ..BENCH
    },
    Set {
        name: "bench set whose errors never repeat",
        scale: instrument(0.1, 0.2, 0.0),
        gauge: instrument(0.01, 0.03, 0.0),
        ..BENCH
    },
    Set {
        name: "bench set, weighed wet, not said",
        honest: false,
        wet: (0.8, 0.4),
        ..BENCH
    },
    Set {
        name: "bench set, limits of error not noted",
        honest: false,
        scale: Instrument {
            limit_noted: false,
            ..BENCH.scale
        },
        gauge: Instrument {
            limit_noted: false,
            ..BENCH.gauge
        },
        ..BENCH
    },
];

/// An instrument in use.
#[derive(Clone, Debug)]
pub(super) struct InUse {
    instrument: Instrument,
    constant: f64,
    session: f64,
}

impl InUse {
    /// Takes it out of its box.
    pub(super) fn new(instrument: Instrument, stream: &mut Stream) -> Self {
        let constant = instrument.stays.sqrt() * stream.within(instrument.limit);
        let mut made = Self {
            instrument,
            constant,
            session: 0.0,
        };
        made.new_session(stream);
        made
    }

    /// Begins another session: zero set anew, another day.
    pub(super) fn new_session(&mut self, stream: &mut Stream) {
        let rest = (1.0 - self.instrument.stays).sqrt();
        self.session = rest * stream.within(self.instrument.limit);
    }

    /// What it shows, in steps.
    pub(super) fn shown(&self, truth: f64) -> f64 {
        let step = self.instrument.step;
        ((truth + self.constant + self.session) / step).round() * step
    }

    /// Digits after the full stop that it shows.
    pub(super) fn digits(&self) -> usize {
        match self.instrument.step {
            step if step >= 1.0 => 0,
            step if step >= 0.1 => 1,
            step if step >= 0.01 => 2,
            _ => 3,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_stays_within_a_session_and_moves_between_them() {
        let mut stream = Stream::new(5);
        let mut gauge = InUse::new(BENCH.gauge, &mut stream);
        let first = gauge.shown(7.0);
        assert!((gauge.shown(7.0) - first).abs() < 1e-12);
        assert!((first - 7.0).abs() <= 0.03 * 2.0_f64.sqrt() + 0.005);
        let others: Vec<f64> = (0..20)
            .map(|_| {
                gauge.new_session(&mut stream);
                gauge.shown(7.0)
            })
            .collect();
        assert!(others.iter().any(|one| (one - first).abs() > 0.005));
        assert_eq!(gauge.digits(), 2);
    }

    #[test]
    fn sets_have_names_of_their_own() {
        let names: std::collections::BTreeSet<&str> = SETS.iter().map(|one| one.name).collect();
        assert_eq!(names.len(), SETS.len());
        assert!(SETS.iter().any(|one| one.honest) && SETS.iter().any(|one| !one.honest));
    }
}
