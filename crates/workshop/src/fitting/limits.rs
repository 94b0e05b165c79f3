//! The limits of what counts as fitting: the workshop's own, kept in the journal.

use serde::Serialize;
use tangmark_core::units::Decimal;
use tangmark_measure::print::fixed;

use super::{FittingError, Limits};
use crate::journal::Who;
use crate::{Surroundings, Workshop, WorkshopError};

/// Least and most that a limit may be, mm.
pub const LIMITS: [f64; 2] = [0.05, 5.0];
/// Subject of the entries.
const SUBJECT: &str = "limits";

/// A limit in force.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LimitLine {
    /// Name as it is typed.
    pub name: &'static str,
    /// Limit, mm.
    pub mm: Decimal,
    /// What it limits.
    pub limits: &'static str,
}

/// One of the limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitName {
    /// Play of a collar on the blade.
    Collar,
    /// Play of a washer on the tang.
    Washer,
    /// Play of a guard on the tang.
    Guard,
    /// Play of the mouth of a hilt on the tang.
    Hilt,
    /// Distance between peg holes.
    Peg,
}

impl LimitName {
    /// Every limit.
    pub const ALL: [Self; 5] = [
        Self::Collar,
        Self::Washer,
        Self::Guard,
        Self::Hilt,
        Self::Peg,
    ];

    /// Name as it is typed.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Collar => "collar",
            Self::Washer => "washer",
            Self::Guard => "guard",
            Self::Hilt => "hilt",
            Self::Peg => "peg",
        }
    }

    /// What it limits.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Collar => "most play of a collar on the blade",
            Self::Washer => "most play of a washer on the tang",
            Self::Guard => "most play of a guard on the tang",
            Self::Hilt => "most play of the mouth of a hilt on the tang",
            Self::Peg => "most distance between the peg holes of hilt and tang",
        }
    }
}

impl Limits {
    /// A limit, in thousandths of a millimetre.
    fn at(&mut self, name: LimitName) -> &mut u32 {
        match name {
            LimitName::Collar => &mut self.collar,
            LimitName::Washer => &mut self.washer,
            LimitName::Guard => &mut self.guard,
            LimitName::Hilt => &mut self.hilt,
            LimitName::Peg => &mut self.peg,
        }
    }

    /// A limit for a list.
    pub fn line(self, name: LimitName) -> LimitLine {
        LimitLine {
            name: name.key(),
            mm: fixed(self.mm(name), 3).unwrap_or_default(),
            limits: name.words(),
        }
    }

    /// A limit in mm.
    pub fn mm(mut self, name: LimitName) -> f64 {
        f64::from(*self.at(name)) / 1000.0
    }
}

impl Workshop {
    /// Returns the limits in force: those of the workshop, else those the tool begins with.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn fitting_limits(&self) -> Result<Limits, WorkshopError> {
        let mut kept = self.noted::<Limits>(None, Some(SUBJECT))?;
        Ok(kept.pop().map(|one| one.matter).unwrap_or_default())
    }

    /// Sets limits, in mm; the others stay. Returns the number of the entry in the journal.
    ///
    /// # Errors
    /// When a limit is none that can be meant.
    pub fn set_fitting_limits(
        &self,
        new: &[(LimitName, f64)],
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<u64, WorkshopError> {
        let kept = self.noted::<Limits>(None, Some(SUBJECT))?.pop();
        let mut limits = kept.as_ref().map(|one| one.matter).unwrap_or_default();
        let [least, most] = LIMITS;
        for (name, value) in new {
            if !(least..=most).contains(value) {
                return Err(FittingError::Limit {
                    name: name.key(),
                    found: value.to_string(),
                    least,
                    most,
                }
                .into());
            }
            // Within 5000 thousandths.
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
            let thousandths = (value * 1000.0).round() as u32;
            *limits.at(*name) = thousandths;
        }
        match kept {
            Some(old) => self.renote(old.number, &limits, who, around),
            None => self.note(None, SUBJECT, &limits, who, around),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_limit_has_a_name_and_lies_within_what_may_be_set() {
        let limits = Limits::default();
        let mut names = std::collections::BTreeSet::new();
        for name in LimitName::ALL {
            assert!(
                (LIMITS[0]..=LIMITS[1]).contains(&limits.mm(name)),
                "{name:?}"
            );
            assert!(names.insert(name.key()) && name.words().starts_with("most "));
        }
        assert!((limits.mm(LimitName::Collar) - 0.3).abs() < 1e-12);
    }
}
