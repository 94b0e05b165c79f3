//! Stones in use: what each has worked over all blades, and how it wears.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};
use tangmark_core::record::{Mass, Number, Pass, Quantity};
use tangmark_core::units::{Dimension, Unit};
use tangmark_measure::{Estimate, print};
use tangmark_store::{StandingFilter, Store as _};

use super::error::PassError;
use super::stones::Stone;
use crate::journal::{Matter, Noted, Who};
use crate::{Surroundings, Workshop, WorkshopError};

/// A weighing of a stone as the journal keeps it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StoneWear {
    mass: Mass,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    note: Option<String>,
    /// Why a weighing that was asked about is right.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    sure: Option<String>,
}

impl Matter for StoneWear {
    const KIND: &'static str = "stone_wear";
}

/// A stone with what it has worked so far.
#[derive(Clone, Debug, Serialize)]
pub struct StoneLine {
    /// The stone.
    #[serde(flatten)]
    pub stone: Stone,
    /// Passes over all blades.
    pub passes: usize,
    /// Blades it was used on.
    pub blades: usize,
    /// Time of those passes, min.
    pub minutes: Option<Number>,
    /// Steel of those passes that were weighed on both sides, g.
    pub steel: Option<Number>,
    /// Last weighing of the stone, g, and its day.
    pub mass: Option<(Number, String)>,
}

/// What a stone lost between two weighings.
#[derive(Clone, Debug, Serialize)]
pub struct Wear {
    /// Stone.
    pub stone: String,
    /// Number of the entry.
    pub entry: u64,
    /// The weighing.
    pub mass: Quantity,
    /// Day of the weighing before; none at the first.
    pub since: Option<String>,
    /// What went of the stone since then, g.
    pub worn: Option<Number>,
    /// Steel that it took since then, g, as far as its passes were weighed.
    pub steel: Option<Number>,
    /// Grams of stone per gram of steel, the column `wear_g_per_g` of the list.
    pub wear: Option<Number>,
    /// What the list has for it now.
    pub listed: Option<String>,
    /// Its passes after the day of the weighing before, up to that of this one, and those of them that were weighed on both sides.
    pub passes: (usize, usize),
}

/// What stones worked.
#[derive(Default)]
struct Use {
    passes: usize,
    weighed: usize,
    blades: usize,
    minutes: Option<Estimate>,
    steel: Option<Estimate>,
}

impl Use {
    fn add(&mut self, pass: &Pass) {
        self.passes += 1;
        let plus = |sum: Option<Estimate>, one: Estimate| Some(sum.map_or(one, |sum| sum + one));
        if let Some(time) = &pass.time {
            self.minutes = plus(self.minutes, Estimate::from(&time.0));
        }
        let mass = |readings: &Option<tangmark_core::record::PassReadings>| {
            let mass = readings.as_ref()?.mass.as_ref()?;
            Some(Estimate::from(&mass.0))
        };
        if let (Some(before), Some(after)) = (mass(&pass.before), mass(&pass.after)) {
            self.weighed += 1;
            self.steel = plus(self.steel, before - after);
        }
    }
}

fn number(name: &str, estimate: Option<Estimate>, unit: Unit) -> Option<Number> {
    let printed = print::printed(estimate?, 3).ok()?;
    Some(Number {
        name: name.to_owned(),
        value: printed.value,
        unit,
        standard_uncertainty: printed.standard_uncertainty,
    })
}

/// Refuses a weighing that cannot be, and asks about one that hardly fits the one before it.
fn doubt(
    stone: &str,
    (mass, on): (&Quantity, &str),
    last: Option<&Noted<StoneWear>>,
    sure: Option<&str>,
) -> Result<(), PassError> {
    let fault = |found: String, allowed: String, may_be: bool| PassError::StoneWeighing {
        stone: stone.to_owned(),
        found,
        allowed,
        may_be,
    };
    let grams = mass.to_f64();
    if !(grams > 0.0 && grams.is_finite()) {
        return Err(fault(
            format!("{grams} g"),
            "more than 0 g".to_owned(),
            false,
        ));
    }
    let Some(last) = last.filter(|_| sure.is_none_or(|why| why.trim().is_empty())) else {
        return Ok(());
    };
    if on < last.on.as_str() {
        let allowed = format!("{}, the day of the last weighing, or a later day", last.on);
        return Err(fault(on.to_owned(), allowed, true));
    }
    let before = last.matter.mass.0.to_f64();
    if grams > before {
        let allowed = format!("at most {before} g, its mass on {},", last.on);
        return Err(fault(format!("{grams} g"), allowed, true));
    }
    Ok(())
}

/// Weighings in the order of their days, and of those of one day in the order they were entered.
fn by_day(mut all: Vec<Noted<StoneWear>>) -> Vec<Noted<StoneWear>> {
    all.sort_by(|a, b| (&a.on, a.number).cmp(&(&b.on, b.number)));
    all
}

impl Workshop {
    /// The stones with what each has worked so far, over all blades.
    ///
    /// # Errors
    /// When the list is none, or a sheet cannot be read.
    pub fn stone_lines(&self) -> Result<Vec<StoneLine>, WorkshopError> {
        let table = self.stones()?;
        let mut uses = self.uses(&|_| true)?;
        let mut masses = BTreeMap::new();
        for noted in by_day(self.noted(None, None)?) {
            masses.insert(noted.subject.to_lowercase(), (noted.matter.mass, noted.on));
        }
        let lines = table.stones.into_iter().map(|stone| {
            let key = stone.name.to_lowercase();
            let used = uses.remove(&key).unwrap_or_default();
            StoneLine {
                passes: used.passes,
                blades: used.blades,
                minutes: number("time", used.minutes, Unit::Minute),
                steel: number("steel", used.steel, Unit::Gram),
                mass: masses.get(&key).and_then(|(mass, on)| {
                    let mass = number("mass", Some(Estimate::from(&mass.0)), Unit::Gram)?;
                    Some((mass, on.clone()))
                }),
                stone,
            }
        });
        Ok(lines.collect())
    }

    /// What each stone worked in the passes that `counts` takes, by its name in small letters.
    fn uses(&self, counts: &dyn Fn(&Pass) -> bool) -> Result<BTreeMap<String, Use>, WorkshopError> {
        let mut uses: BTreeMap<String, Use> = BTreeMap::new();
        for standing in self.store().standings(&StandingFilter::default())? {
            // A sheet of a blade without passes is not opened.
            if standing.passes == 0 {
                continue;
            }
            let on_sheet = match self.store().draft(&standing.blade)? {
                Some(draft) => draft.body.get("passes").cloned(),
                None => None,
            };
            let on_sheet: Vec<Pass> = on_sheet
                .map_or_else(|| Ok(Vec::new()), serde_json::from_value)
                .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
            let passes = self.all_passes(&standing.blade, on_sheet)?;
            let mut here = BTreeSet::new();
            for pass in passes.iter().filter(|pass| counts(pass)) {
                let Some(abrasive) = &pass.abrasive else {
                    continue;
                };
                let key = abrasive.name.to_lowercase();
                let used = uses.entry(key.clone()).or_default();
                used.add(pass);
                used.blades += usize::from(here.insert(key));
            }
        }
        Ok(uses)
    }

    /// Notes a weighing of a stone and tells what it lost since the one of the latest day before, against the steel it took
    /// in the passes after that day, up to the day of this weighing: a stone is weighed when the work of the day is done.
    ///
    /// # Errors
    /// When the list has no such stone, the mass cannot be understood or is none, or the weighing hardly fits the one
    /// before it and nobody said with `sure` why it is right.
    pub fn weigh_stone(
        &self,
        name: &str,
        mass: &str,
        (note, sure): (Option<&str>, Option<&str>),
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Wear, WorkshopError> {
        let table = self.stones()?;
        let stone = table.find(name)?.clone();
        let readings: Vec<String> = mass.split(';').map(|one| one.trim().to_owned()).collect();
        let quantity =
            Quantity::from_readings(&readings, Dimension::Mass, None, None).map_err(|error| {
                PassError::Reading {
                    found: mass.chars().take(80).collect(),
                    what: error.to_string(),
                }
            })?;
        let own = |subject: &str| subject.to_lowercase() == stone.name.to_lowercase();
        let mut weighed = by_day(self.noted(None, None)?);
        weighed.retain(|noted| own(&noted.subject));
        let until = who.day(around)?;
        doubt(&stone.name, (&quantity, &until), weighed.last(), sure)?;
        // One that is entered late stands between those of its neighbouring days.
        let before = weighed.into_iter().rfind(|noted| noted.on <= until);
        let matter = StoneWear {
            mass: Mass(quantity.clone()),
            note: note.map(str::to_owned),
            sure: sure.map(str::to_owned),
        };
        let entry = self.note(None, &stone.name, &matter, who, around)?;
        let mut wear = Wear {
            stone: stone.name.clone(),
            entry,
            mass: quantity,
            since: None,
            worn: None,
            steel: None,
            wear: None,
            listed: stone.wear_g_per_g.clone(),
            passes: (0, 0),
        };
        if let Some(before) = before {
            let worn = Estimate::from(&before.matter.mass.0) - Estimate::from(&wear.mass);
            let within = |pass: &Pass| {
                pass.on.first_day().as_str() > before.on.as_str() && pass.on.last_day() <= until
            };
            let used = self
                .uses(&within)?
                .remove(&stone.name.to_lowercase())
                .unwrap_or_default();
            wear.since = Some(before.on);
            wear.worn = number("worn", Some(worn), Unit::Gram);
            wear.steel = number("steel", used.steel, Unit::Gram);
            wear.passes = (used.passes, used.weighed);
            // Where a pass was not weighed the steel is too little, and the ratio too great.
            if used.passes == used.weighed {
                let ratio = used
                    .steel
                    .filter(|steel| steel.value > 0.0)
                    .and_then(|steel| worn.ratio(steel));
                wear.wear = number("wear", ratio, Unit::One);
            }
        }
        Ok(wear)
    }
}
