//! The workshop's stones, from the table `stones`.

use serde_json::Value;
use tangmark_author::tables::{Row, find};
use tangmark_author::words::{counted, cut, one_line};
use tangmark_core::record::{Abrasive, AbrasiveOrigin, GritSystem, StoneStage, Term};
use tangmark_measure::Estimate;
use tangmark_plugin::Refusal;

use crate::grit::{GritError, grade};
use crate::rates::Rate;
use crate::settings::Settings;

/// Most stones that are planned with; the table of a workshop is shorter.
pub(crate) const MOST: usize = 60;

/// Relative standard uncertainty of a rate that was measured without one.
///
/// Source: this tool's own choice.
const RATE_DOUBT: f64 = 0.3;

/// Median grain size as an interval, µm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Grain {
    /// Least.
    pub(crate) low: f64,
    /// Size to reckon and to order with.
    pub(crate) nominal: f64,
    /// Greatest.
    pub(crate) high: f64,
}

impl Grain {
    /// The size with the standard uncertainty of a rectangle over the interval.
    pub(crate) fn estimate(self) -> Estimate {
        Estimate::rectangular(self.nominal, (self.high - self.low) / 2.0)
    }

    /// The intervals have a size in common, so that nobody knows which stone is the coarser.
    pub(crate) fn overlaps(self, other: Self) -> bool {
        self.low <= other.high && other.low <= self.high
    }
}

/// A stone, paper or other abrasive of the workshop.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stone {
    /// Name.
    pub(crate) name: String,
    /// Natural or synthetic.
    pub(crate) origin: AbrasiveOrigin,
    /// Stage of the work.
    pub(crate) stage: Option<StoneStage>,
    /// Grit number with its system.
    pub(crate) grit: Option<(GritSystem, u32)>,
    /// Grain size; `None` where nobody wrote one.
    pub(crate) grain: Option<Grain>,
    /// What the grain size rests on.
    pub(crate) basis: String,
    /// Rate as measured, µm/min on the area of the settings.
    pub(crate) rate: Option<Estimate>,
    /// Grams of stone worn per gram of steel.
    pub(crate) wear: Option<f64>,
    /// Price of a gram of stone, with its currency.
    pub(crate) price: Option<(f64, String)>,
}

impl Stone {
    /// Rate before any pass was logged: ln of mm³/min.
    ///
    /// Source: measured by the user, or a wide guess from the grain size: rate grows with a power of D50, "somewhat" by
    /// published looks at hand honing; the numbers are this tool's own settings.
    pub(crate) fn prior(&self, settings: &Settings) -> Rate {
        let scale = settings.rate_area_mm2 / 1_000.0;
        if let Some(rate) = self.rate {
            return Rate {
                log_mean: libm::log(rate.value * scale),
                log_sd: rate.relative().clamp(0.02, 2.0),
            };
        }
        let size = self.grain.map_or(10.0, |grain| grain.nominal);
        let growth = libm::pow(size / 10.0, settings.unknown_rate_power);
        Rate {
            log_mean: libm::log(settings.unknown_rate_um_per_min * scale * growth),
            log_sd: libm::log(settings.unknown_rate_factor),
        }
    }
}

const COLUMNS: &[&str] = &[
    "name",
    "grit_system",
    "grit",
    "d50_um",
    "d50_low_um",
    "d50_high_um",
    "origin",
    "stage",
    "rate_um_per_min",
    "rate_u_um_per_min",
    "wear_g_per_g",
    "price_per_g",
    "currency",
];

/// Reads the table; `Ok(None)` when the user has none.
///
/// # Errors
/// A refusal that names row and column.
pub(crate) fn read(tables: &Value) -> Result<Option<Vec<Stone>>, Refusal> {
    let Some(table) = find(tables, "stones")? else {
        return Ok(None);
    };
    table.only(COLUMNS)?;
    if table.len() > MOST {
        return Err(Refusal::new(format!(
            "table `stones` has {}; {MOST} at most are planned with: leave out what is not used",
            counted(table.len(), "row")
        )));
    }
    let stones: Vec<Stone> = table.iter().map(stone).collect::<Result<_, _>>()?;
    for (index, one) in stones.iter().enumerate() {
        if stones[..index]
            .iter()
            .any(|other| same(&other.name, &one.name))
        {
            return Err(Refusal::new(format!(
                "table `stones`, row {}, column `name` repeats `{}`: give every stone a name of its own",
                index + 1,
                one.name
            )));
        }
    }
    Ok(Some(stones))
}

fn stone(row: Row<'_>) -> Result<Stone, Refusal> {
    let name = cut(&one_line(row.needed("name")?), 80);
    let origin = term::<AbrasiveOrigin>(row, "origin")?
        .ok_or_else(|| row.fault("origin", "is empty; natural or synthetic is needed"))?;
    let stage = term::<StoneStage>(row, "stage")?;
    let system = term::<GritSystem>(row, "grit_system")?;
    let number = match row.text("grit") {
        None => None,
        Some(text) => Some(text.parse::<u32>().map_err(|_| {
            row.fault(
                "grit",
                &format!("is `{}`; a whole number is needed", short(text)),
            )
        })?),
    };
    if number.is_some() && system.is_none() {
        return Err(row.fault(
            "grit_system",
            "is empty; a grit number without its system means nothing",
        ));
    }
    if origin == AbrasiveOrigin::Natural && number.is_some() {
        return Err(row.fault(
            "grit",
            "stands on a natural stone, which has no grit system; write d50_low_um and d50_high_um as you judge them, \
             or leave them empty",
        ));
    }
    let grit = system.zip(number);
    let (grain, basis) = grain(row, grit)?;
    let rate = row
        .number_in("rate_um_per_min", 1e-4, 1e3)?
        .map(|rate| -> Result<Estimate, Refusal> {
            let doubt = row.number_in("rate_u_um_per_min", 0.0, 1e3)?;
            Ok(Estimate::new(rate, doubt.unwrap_or(RATE_DOUBT * rate)))
        })
        .transpose()?;
    let price = match row.number_in("price_per_g", 0.0, 1e6)? {
        None => None,
        Some(price) => Some((price, currency(row)?)),
    };
    Ok(Stone {
        name,
        origin,
        stage,
        grit,
        grain,
        basis,
        rate,
        wear: row.number_in("wear_g_per_g", 0.0, 1e4)?,
        price,
    })
}

fn currency(row: Row<'_>) -> Result<String, Refusal> {
    let text = row.needed("currency")?;
    if text.len() == 3 && text.bytes().all(|byte| byte.is_ascii_uppercase()) {
        Ok(text.to_owned())
    } else {
        Err(row.fault(
            "currency",
            &format!(
                "is `{}`; three capital letters are needed, such as EUR",
                short(text)
            ),
        ))
    }
}

fn grain(
    row: Row<'_>,
    grit: Option<(GritSystem, u32)>,
) -> Result<(Option<Grain>, String), Refusal> {
    let size = |column| row.number_in(column, 0.05, 5_000.0);
    let (stated, low, high) = (size("d50_um")?, size("d50_low_um")?, size("d50_high_um")?);
    if low.is_some() != high.is_some() {
        let column = if low.is_some() {
            "d50_high_um"
        } else {
            "d50_low_um"
        };
        return Err(row.fault(column, "is empty; a range needs both ends"));
    }
    if let (Some(low), Some(high)) = (low, high) {
        let nominal = stated.unwrap_or_else(|| libm::sqrt(low * high));
        if !(low <= nominal && nominal <= high) {
            return Err(row.fault(
                "d50_um",
                &format!("does not lie between d50_low_um {low} um and d50_high_um {high} um"),
            ));
        }
        return Ok((
            Some(Grain { low, nominal, high }),
            "range as the workshop states it".to_owned(),
        ));
    }
    if let Some(nominal) = stated {
        let grain = Grain {
            low: 0.9 * nominal,
            nominal,
            high: 1.1 * nominal,
        };
        return Ok((Some(grain), "D50 as stated, ±10 % taken".to_owned()));
    }
    match grit {
        None => Ok((None, "no grain size".to_owned())),
        Some((system, number)) => match grade(system, number, None) {
            Ok(found) => {
                let (low, high) = found.range();
                let basis = format!(
                    "{} {number} {}, {}",
                    system.gloss(),
                    found.method.words(),
                    found.status.words()
                );
                let grain = Grain {
                    low,
                    nominal: found.d50,
                    high,
                };
                Ok((Some(grain), basis))
            }
            Err(GritError::NoTable) => Ok((None, "a maker's own number".to_owned())),
            Err(error) => {
                Err(row.fault("grit", &format!("is not listed: {error}; or write d50_um")))
            }
        },
    }
}

fn term<T: Term>(row: Row<'_>, column: &str) -> Result<Option<T>, Refusal> {
    let Some(text) = row.text(column) else {
        return Ok(None);
    };
    if let Some(found) = T::ALL.iter().find(|one| one.key() == text) {
        return Ok(Some(*found));
    }
    let all: Vec<&str> = T::ALL.iter().map(|one| one.key()).collect();
    Err(row.fault(
        column,
        &format!("is `{}`; allowed are {}", short(text), all.join(", ")),
    ))
}

fn short(text: &str) -> String {
    cut(&one_line(text), 40)
}

fn same(one: &str, other: &str) -> bool {
    one.to_lowercase() == other.to_lowercase()
}

/// Finds the stone that a sheet means: by name, else by grit with its system, else by a stage that one stone alone has.
pub(crate) fn meant(stones: &[Stone], abrasive: &Abrasive) -> Option<usize> {
    let by_name = stones
        .iter()
        .position(|one| same(&one.name, &abrasive.name));
    let grit = abrasive.grit.as_ref().map(|one| (one.system, one.number));
    let only = |fits: &dyn Fn(&Stone) -> bool| {
        let mut all = (0..stones.len()).filter(|index| fits(&stones[*index]));
        all.next().filter(|_| all.next().is_none())
    };
    by_name
        .or_else(|| grit.and_then(|grit| only(&|one| one.grit == Some(grit))))
        .or_else(|| {
            let stage = abrasive.stage.filter(|stage| *stage != StoneStage::Other)?;
            only(&|one| one.stage == Some(stage))
        })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;

    fn read_one(row: &Value) -> Result<Stone, String> {
        super::read(&json!({"stones": [row]}))
            .map(|all| all.unwrap().remove(0))
            .map_err(|refusal| refusal.to_string())
    }

    #[test]
    fn a_stone_is_read_with_what_its_size_rests_on() {
        let one = read_one(&json!({"name": "second", "grit_system": "jis", "grit": "1000", "origin": "synthetic",
            "stage": "kaisei", "rate_um_per_min": "1.0", "rate_u_um_per_min": "0.2", "price_per_g": "0.08", "currency": "EUR"}))
        .unwrap();
        let grain = one.grain.unwrap();
        assert!((grain.low - 10.5).abs() < 1e-12 && (grain.high - 12.5).abs() < 1e-12);
        assert_eq!(
            one.basis,
            "JIS R 6001 1000 by electrical resistance, looked up"
        );
        let prior = one.prior(&Settings::default());
        assert!(prior.log_mean.abs() < 1e-12 && (prior.log_sd - 0.2).abs() < 1e-12);
        let natural = read_one(&json!({"name": "slate", "d50_low_um": "2.5", "d50_high_um": "5.6", "origin": "natural"})).unwrap();
        let grain = natural.grain.unwrap();
        assert!((grain.nominal - 3.741_657_386_8).abs() < 1e-9);
        assert!(
            natural.prior(&Settings::default()).log_sd > 0.9,
            "an unknown rate is wide"
        );
        assert!(!grain.overlaps(one.grain.unwrap()));
        assert_eq!(super::read(&json!({})).unwrap(), None);
    }

    #[test]
    fn faults_say_row_and_column() {
        for (row, expected) in [
            (
                json!({"name": "a", "origin": "natural", "grit": "1000"}),
                "table `stones`, row 1, column `grit_system` is empty; a grit number without its system means nothing",
            ),
            (
                json!({"name": "a", "origin": "natural", "grit": "1000", "grit_system": "jis"}),
                "table `stones`, row 1, column `grit` stands on a natural stone, which has no grit system; write d50_low_um and \
              d50_high_um as you judge them, or leave them empty",
            ),
            (
                json!({"name": "a", "origin": "synthetic", "grit": "900", "grit_system": "jis"}),
                "table `stones`, row 1, column `grit` is not listed: JIS R 6001 has no number 900; numbers are not interpolated, \
              its neighbours are 800 and 1000; or write d50_um",
            ),
            (
                json!({"name": "a", "origin": "synthetic", "d50_low_um": "3"}),
                "table `stones`, row 1, column `d50_high_um` is empty; a range needs both ends",
            ),
            (
                json!({"name": "a", "origin": "synthetic", "d50_um": "9", "d50_low_um": "3", "d50_high_um": "5"}),
                "table `stones`, row 1, column `d50_um` does not lie between d50_low_um 3 um and d50_high_um 5 um",
            ),
            (
                json!({"name": "a", "origin": "stone"}),
                "table `stones`, row 1, column `origin` is `stone`; allowed are natural, synthetic",
            ),
            (
                json!({"name": "a", "origin": "natural", "price_per_g": "1", "currency": "euro"}),
                "table `stones`, row 1, column `currency` is `euro`; three capital letters are needed, such as EUR",
            ),
        ] {
            assert_eq!(read_one(&row).unwrap_err(), expected);
        }
        let twice = json!({"stones": [{"name": "A", "origin": "natural"}, {"name": "a", "origin": "natural"}]});
        assert_eq!(
            super::read(&twice).unwrap_err().to_string(),
            "table `stones`, row 2, column `name` repeats `a`: give every stone a name of its own"
        );
        let row = json!({"name": "x", "origin": "natural"});
        let many: Vec<Value> = std::iter::repeat_n(row, 61).collect();
        assert!(
            super::read(&json!({"stones": many}))
                .unwrap_err()
                .to_string()
                .contains("61 rows; 60 at most")
        );
    }

    #[test]
    fn a_stage_of_the_sheet_finds_its_stone() {
        let stones = super::read(&json!({"stones": [
            {"name": "Second", "grit_system": "jis", "grit": "1000", "origin": "synthetic", "stage": "kaisei"},
            {"name": "third", "origin": "natural", "stage": "koma_nagura"},
            {"name": "fourth", "origin": "natural", "stage": "koma_nagura"},
        ]})).unwrap().unwrap();
        let wanted = |value: Value| meant(&stones, &serde_json::from_value(value).unwrap());
        assert_eq!(
            wanted(json!({"name": "second", "origin": "synthetic"})),
            Some(0)
        );
        assert_eq!(
            wanted(
                json!({"name": "x", "origin": "synthetic", "grit": {"number": 1000, "system": "jis"}})
            ),
            Some(0)
        );
        assert_eq!(
            wanted(
                json!({"name": "x", "origin": "synthetic", "grit": {"number": 1000, "system": "fepa_p"}})
            ),
            None
        );
        assert_eq!(
            wanted(json!({"name": "x", "origin": "natural", "stage": "kaisei"})),
            Some(0)
        );
        assert_eq!(
            wanted(json!({"name": "x", "origin": "natural", "stage": "koma_nagura"})),
            None,
            "two have that stage"
        );
    }
}
