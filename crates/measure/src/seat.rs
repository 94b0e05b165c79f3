//! Whether a fitting goes on a blade: its opening against the section it goes over, and the peg hole of a hilt against
//! those of the tang.
//!
//! All lengths are in mm. The limits of what fits are this tool's own rules (common practice, no source) and come from
//! outside; the comparison is guarded by the uncertainty ([`within`]). Lengths count as independent: where one caliper read
//! both sides of a difference its error cancels in part, so the true uncertainty is smaller and the answer errs to
//! "cannot tell".

use crate::Estimate;
use crate::decision::{Within, probability_within, within};

/// One measure of a fitting against the blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Comparison {
    /// Play of an opening, or distance between the centres of two holes, with its uncertainty.
    pub difference: Estimate,
    /// Least and greatest difference that fits.
    pub allowed: [f64; 2],
    /// Where the difference lies.
    pub answer: Within,
}

impl Comparison {
    fn of(difference: Estimate, allowed: [f64; 2]) -> Self {
        Self {
            difference,
            allowed,
            answer: within(difference, allowed),
        }
    }

    /// How far the difference lies outside of what fits: below zero too little, above zero too much, zero inside.
    pub fn beyond(&self) -> f64 {
        let [least, most] = self.allowed;
        let value = self.difference.value;
        if value < least {
            value - least
        } else if value > most {
            value - most
        } else {
            0.0
        }
    }

    /// Probability that the true difference fits.
    pub fn probability(&self) -> f64 {
        probability_within(self.difference, self.allowed)
    }

    /// Whether an answer is possible at all with readings as fine as these: what fits must be 2 U wide at least.
    pub fn can_be_told(&self) -> bool {
        let [least, most] = self.allowed;
        most - least >= 2.0 * self.difference.expanded()
    }
}

/// Compares an opening with the section it goes over: play from none to `most` fits.
pub fn play(opening: Estimate, section: Estimate, most: f64) -> Comparison {
    Comparison::of(opening - section, [0.0, most])
}

/// Width of the tang beside the notches: that of the blade less the depths of both notches.
pub fn tang_width(blade: Estimate, edge_notch: Estimate, back_notch: Estimate) -> Estimate {
    blade - edge_notch - back_notch
}

/// Compares the peg hole of a hilt with one of the tang: their centres may be `most` apart.
///
/// `from_mouth` is the distance of the hilt's hole from its mouth, `stack` what lies between the notch and the mouth
/// (washers and guard), `from_notch` the distance of the tang's hole from the notch. Above zero the hilt's hole lies farther
/// towards the end of the tang.
pub fn peg(from_mouth: Estimate, stack: Estimate, from_notch: Estimate, most: f64) -> Comparison {
    Comparison::of(from_mouth + stack - from_notch, [-most, most])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, expected: f64) {
        assert!(
            (found - expected).abs() < 1e-12,
            "{found} is not {expected}"
        );
    }

    #[test]
    fn an_opening_has_play_or_not() {
        // A collar read with a caliper: 30.97 mm over 30.82 mm, U = 2 · √2 · 0.02 mm = 0.057 mm.
        let section = Estimate::new(30.82, 0.02);
        let fits = play(Estimate::new(30.97, 0.02), section, 0.3);
        assert_eq!(fits.answer, Within::Inside);
        close(fits.difference.value, 30.97 - 30.82);
        close(fits.difference.expanded(), 2.0 * 0.02_f64.hypot(0.02));
        close(fits.beyond(), 0.0);
        assert!(fits.probability() > 0.999, "{}", fits.probability());

        let tight = play(Estimate::new(30.60, 0.02), section, 0.3);
        assert_eq!(tight.answer, Within::Below);
        close(tight.beyond(), 30.60 - 30.82);

        let loose = play(Estimate::new(31.40, 0.02), section, 0.3);
        assert_eq!(loose.answer, Within::Above);
        close(loose.beyond(), 31.40 - 30.82 - 0.3);

        let open = play(Estimate::new(30.84, 0.02), section, 0.3);
        assert_eq!(open.answer, Within::Undecided);
        assert!(open.can_be_told());
        // A rule of 0.5 mm steps cannot tell play of 0.3 mm, whatever it reads.
        let coarse = play(Estimate::new(30.97, 0.15), section, 0.3);
        assert_eq!(coarse.answer, Within::Undecided);
        assert!(!coarse.can_be_told());
    }

    #[test]
    fn the_tang_is_narrower_by_both_notches() {
        let width = tang_width(
            Estimate::new(30.82, 0.02),
            Estimate::new(2.9, 0.03),
            Estimate::new(1.6, 0.03),
        );
        close(width.value, 30.82 - 2.9 - 1.6);
        close(width.standard_uncertainty, 0.02_f64.hypot(0.03).hypot(0.03));
    }

    #[test]
    fn a_peg_goes_through_where_the_holes_meet() {
        // Guard and washers of 8.2 mm: the hilt's hole at 49.9 mm from its mouth meets that of the tang at 58 mm.
        let stack = Estimate::new(8.2, 0.05);
        let hole = Estimate::new(58.0, 0.15);
        let meets = peg(Estimate::new(49.9, 0.05), stack, hole, 0.6);
        assert_eq!(meets.answer, Within::Inside);
        close(meets.difference.value, 49.9 + 8.2 - 58.0);
        let far = peg(Estimate::new(54.0, 0.05), stack, hole, 0.6);
        assert_eq!(far.answer, Within::Above);
        close(far.beyond(), 54.0 + 8.2 - 58.0 - 0.6);
        let near = peg(Estimate::new(46.0, 0.05), stack, hole, 0.6);
        assert_eq!(near.answer, Within::Below);
        assert!(near.beyond() < 0.0);
    }
}
