//! Grain sizes of grit numbers: data, one row a grade, with its source and status.
//!
//! A number without its system means nothing: "1000" is 18.3 µm in one system and 4.5 µm in another. Numbers are
//! never converted and never interpolated; what a table does not have is refused with its neighbours.

use tangmark_core::record::{GritSystem, StoneStage, Term as _};

/// How a grain size was measured; the method changes the number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// Sieves.
    Sieve,
    /// Settling in a liquid.
    Sedimentation,
    /// Electrical resistance of single grains.
    ElectricalResistance,
    /// The source does not say.
    Unstated,
}

impl Method {
    /// Words for people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Sieve => "by sieve",
            Self::Sedimentation => "by sedimentation",
            Self::ElectricalResistance => "by electrical resistance",
            Self::Unstated => "method not stated",
        }
    }

    fn read(text: &str) -> Option<Self> {
        Some(match text {
            "sieve" => Self::Sieve,
            "sedimentation" => Self::Sedimentation,
            "electrical_resistance" => Self::ElectricalResistance,
            "unstated" => Self::Unstated,
            _ => return None,
        })
    }
}

/// How far a row was checked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Status {
    /// Read in a table of the standard or in two that agree.
    LookedUp,
    /// Read in a text that quotes the standard.
    Secondary,
    /// Not looked up.
    FromMemory,
}

impl Status {
    /// Words for people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::LookedUp => "looked up",
            Self::Secondary => "from a secondary source",
            Self::FromMemory => "from memory",
        }
    }

    fn read(text: &str) -> Option<Self> {
        Some(match text {
            "looked_up" => Self::LookedUp,
            "secondary" => Self::Secondary,
            "from_memory" => Self::FromMemory,
            _ => return None,
        })
    }
}

/// A grade of a system, µm.
#[derive(Clone, Debug, PartialEq)]
pub struct Grade {
    /// System.
    pub system: GritSystem,
    /// Number.
    pub number: u32,
    /// How the size was measured.
    pub method: Method,
    /// Median grain size.
    pub d50: f64,
    /// Half-width within which the median lies by the source; `None` where it does not say.
    pub tolerance: Option<f64>,
    /// Limits that hold about four fifths of a sieved grain.
    pub limits: Option<(f64, f64)>,
    /// Greatest grain.
    pub greatest: Option<f64>,
    /// Size that 3 % of the grain exceed.
    pub d3: Option<f64>,
    /// Size that 94 % of the grain exceed.
    pub d94: Option<f64>,
    /// How far the row was checked.
    pub status: Status,
    /// Where it comes from.
    pub source: String,
}

/// Half-width of a median whose source states none, as a share of it.
///
/// Source: this tool's own choice, above the widest share that the tables with tolerances show for coarse grades.
const UNKNOWN_TOLERANCE: f64 = 0.10;

impl Grade {
    /// Least and greatest median, µm.
    pub fn range(&self) -> (f64, f64) {
        let half = self.tolerance.unwrap_or(UNKNOWN_TOLERANCE * self.d50);
        (self.d50 - half, self.d50 + half)
    }
}

/// Why a number has no grain size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GritError {
    /// The system has no table.
    NoTable,
    /// The table of the system lacks the number.
    NotListed {
        /// System.
        system: GritSystem,
        /// Number asked for.
        number: u32,
        /// Next smaller number of the table.
        below: Option<u32>,
        /// Next greater number of the table.
        above: Option<u32>,
    },
}

impl std::fmt::Display for GritError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoTable => write!(
                f,
                "a maker's own number has no grain size: write the D50 the maker states"
            ),
            Self::NotListed {
                system,
                number,
                below,
                above,
            } => {
                write!(
                    f,
                    "{} has no number {number}; numbers are not interpolated, its neighbours are ",
                    system.gloss()
                )?;
                match (below, above) {
                    (Some(below), Some(above)) => write!(f, "{below} and {above}"),
                    (Some(one), None) | (None, Some(one)) => write!(f, "{one} and nothing beyond"),
                    (None, None) => write!(f, "none"),
                }
            }
        }
    }
}

/// Reads the compiled-in table of a system, in the order of the file.
pub fn grades(system: GritSystem) -> Vec<Grade> {
    let text = match system {
        GritSystem::FepaF => include_str!("../data/fepa_f.csv"),
        GritSystem::FepaP => include_str!("../data/fepa_p.csv"),
        GritSystem::Jis => include_str!("../data/jis.csv"),
        GritSystem::Cami => include_str!("../data/cami.csv"),
        GritSystem::MakersOwn => return Vec::new(),
    };
    rows(text)
        .filter_map(|row| {
            let size = |column: usize| row.get(column)?.parse::<f64>().ok();
            Some(Grade {
                system,
                number: row.get(0)?.parse().ok()?,
                method: Method::read(row.get(1)?)?,
                d50: size(2)?,
                tolerance: size(3),
                limits: size(4).zip(size(5)),
                greatest: size(6),
                d3: size(7),
                d94: size(8),
                status: Status::read(row.get(9)?)?,
                source: row.get(10)?.to_owned(),
            })
        })
        .collect()
}

fn rows(text: &str) -> impl Iterator<Item = csv::StringRecord> {
    csv::Reader::from_reader(text.as_bytes())
        .into_records()
        .filter_map(Result::ok)
}

/// Finds a grade; without a method the first that the table lists for the number.
///
/// # Errors
/// [`GritError`] with the neighbours of a number that the table lacks.
pub fn grade(system: GritSystem, number: u32, method: Option<Method>) -> Result<Grade, GritError> {
    let all = grades(system);
    if all.is_empty() {
        return Err(GritError::NoTable);
    }
    let numbers = || all.iter().map(|one| one.number);
    let below = numbers().filter(|one| *one < number).max();
    let above = numbers().filter(|one| *one > number).min();
    all.iter()
        .find(|one| one.number == number && method.is_none_or(|wanted| one.method == wanted))
        .cloned()
        .ok_or(GritError::NotListed {
            system,
            number,
            below,
            above,
        })
}

/// A grit number that the trade quotes for a natural stone. It has no system and is never turned into a size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quoted {
    /// Stage of the work.
    pub stage: StoneStage,
    /// Least number.
    pub low: u32,
    /// Greatest number.
    pub high: u32,
    /// How far the row was checked.
    pub status: Status,
    /// Who quotes it, in general words.
    pub author: String,
}

/// The numbers that the trade quotes for natural stones, with who quotes them.
pub fn quoted() -> Vec<Quoted> {
    rows(include_str!("../data/natural.csv"))
        .filter_map(|row| {
            let stage = row.get(0)?;
            Some(Quoted {
                stage: *StoneStage::ALL.iter().find(|one| one.key() == stage)?,
                low: row.get(1)?.parse().ok()?,
                high: row.get(2)?.parse().ok()?,
                status: Status::read(row.get(3)?)?,
                author: row.get(4)?.to_owned(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn d50(system: GritSystem, number: u32) -> f64 {
        grade(system, number, None).unwrap().d50
    }

    /// Source: FEPA P and CAMI, a page on sandpaper grades and a table copied from the ISO/FEPA list; JIS, a full table
    /// of R 6001:1987; FEPA F from memory.
    #[test]
    fn the_same_number_is_another_grain_in_every_system() {
        let of = |system| d50(system, 1000);
        assert_eq!(
            [
                of(GritSystem::FepaP),
                of(GritSystem::FepaF),
                of(GritSystem::Jis)
            ]
            .map(|one| format!("{one}")),
            ["18.3", "4.5", "11.5"]
        );
        let cami = grade(GritSystem::Cami, 1000, None).unwrap();
        let (low, high) = cami.range();
        assert!(low > 9.0 && high < 11.5, "{low} to {high}");
        let mut all = [
            of(GritSystem::FepaP),
            of(GritSystem::FepaF),
            of(GritSystem::Jis),
            cami.d50,
        ];
        all.sort_by(f64::total_cmp);
        assert!(
            all.windows(2).all(|pair| pair[1] > 1.1 * pair[0]),
            "{all:?}"
        );
    }

    /// A misprint shows as a step in the wrong direction; every row is read.
    #[test]
    fn sizes_fall_as_numbers_rise_and_no_row_is_lost() {
        let files = [
            (GritSystem::FepaF, 28, include_str!("../data/fepa_f.csv")),
            (GritSystem::FepaP, 30, include_str!("../data/fepa_p.csv")),
            (GritSystem::Jis, 19, include_str!("../data/jis.csv")),
            (GritSystem::Cami, 8, include_str!("../data/cami.csv")),
        ];
        for (system, count, text) in files {
            let all = grades(system);
            assert_eq!(
                (all.len(), text.lines().count()),
                (count, count + 1),
                "{system:?}"
            );
            for method in [
                Method::Sieve,
                Method::Sedimentation,
                Method::ElectricalResistance,
                Method::Unstated,
            ] {
                let of_method: Vec<&Grade> =
                    all.iter().filter(|one| one.method == method).collect();
                for pair in of_method.windows(2) {
                    assert!(
                        pair[0].number < pair[1].number && pair[0].d50 > pair[1].d50,
                        "{system:?} {} and {}",
                        pair[0].number,
                        pair[1].number
                    );
                }
            }
            for one in &all {
                let (low, high) = one.range();
                assert!(0.0 < low && low < one.d50 && one.d50 < high, "{one:?}");
                assert!(!one.source.is_empty());
                let sizes = [one.greatest, one.d3, Some(one.d50), one.d94];
                let known: Vec<f64> = sizes.into_iter().flatten().collect();
                assert!(known.windows(2).all(|pair| pair[0] > pair[1]), "{one:?}");
                if let Some((low, high)) = one.limits {
                    assert!(low < one.d50 && one.d50 < high, "{one:?}");
                }
            }
        }
        assert_eq!(
            quoted().len(),
            include_str!("../data/natural.csv").lines().count() - 1
        );
        assert!(quoted().iter().all(|one| one.low <= one.high));
    }

    #[test]
    fn the_method_changes_the_number() {
        let by = |method| grade(GritSystem::Jis, 240, Some(method)).unwrap();
        assert!((by(Method::ElectricalResistance).d50 - 57.0).abs() < 1e-12);
        assert!((by(Method::Sedimentation).d50 - 60.0).abs() < 1e-12);
        assert_eq!(by(Method::Sedimentation).status, Status::FromMemory);
        assert!(grade(GritSystem::Jis, 1000, Some(Method::Sieve)).is_err());
    }

    #[test]
    fn numbers_between_two_grades_are_refused_with_their_neighbours() {
        let said = |system, number| grade(system, number, None).unwrap_err().to_string();
        assert_eq!(
            said(GritSystem::Jis, 900),
            "JIS R 6001 has no number 900; numbers are not interpolated, its neighbours are 800 and 1000"
        );
        assert_eq!(
            said(GritSystem::Cami, 5000),
            "CAMI has no number 5000; numbers are not interpolated, its neighbours are 1000 and nothing beyond"
        );
        assert_eq!(
            said(GritSystem::MakersOwn, 1000),
            "a maker's own number has no grain size: write the D50 the maker states"
        );
    }
}
