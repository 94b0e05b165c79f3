//! Readings of a pass that cannot be, or hardly: asked about before the pass is kept, and never dropped.
//!
//! Every limit here is this tool's own; whoever has read it so says why and is believed.

use std::fmt;

use serde::Serialize;
use tangmark_core::counted;
use tangmark_core::record::{
    Dimensions, Length, Mass, MassState, Operation, Pass, PassReadings, Quantity, Station,
    Term as _, Zone,
};
use tangmark_measure::decision::COVERAGE;
use tangmark_measure::{Estimate, print};

/// Most strokes that one pass is believed to have.
const MOST_STROKES: u32 = 100_000;
/// Most strokes in a minute that a hand is believed to make.
const MOST_STROKES_A_MINUTE: f64 = 240.0;
/// Longest time of one pass that is believed, min: more is several passes.
const LONGEST_MIN: f64 = 100.0 * 60.0;
/// Least share of the mass that is believed to be left after one pass.
const LEAST_MASS: f64 = 0.9;
/// Least share of a thickness or width that is believed to be left after one pass.
const LEAST_LENGTH: f64 = 0.7;
/// Stations nearer than this are one, mm.
const SAME_PLACE_MM: f64 = 2.0;

/// One thing that is asked about before a pass is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Questioned {
    /// Key of the pass.
    pub pass: String,
    /// Field of the pass, such as `after.mass`.
    pub field: String,
    /// What was found, with its unit.
    pub found: String,
    /// What is allowed, with its unit.
    pub allowed: String,
    /// Why it is asked about.
    pub why: String,
}

impl fmt::Display for Questioned {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "pass `{}`, {}: {} found, {} is allowed: {}",
            self.pass, self.field, self.found, self.allowed, self.why
        )
    }
}

/// What a pass is held against.
pub(super) struct Before<'a> {
    /// Passes before it, oldest first.
    pub(super) passes: &'a [&'a Pass],
    /// Passes after it, where it is written in between.
    pub(super) later: &'a [&'a Pass],
    /// What the examination measured.
    pub(super) dimensions: Option<&'a Dimensions>,
    /// Today, as `YYYY-MM-DD`.
    pub(super) today: &'a str,
}

/// Returns what has to be asked about a pass, in the order of its fields.
pub(super) fn questions(pass: &Pass, before: &Before<'_>) -> Vec<Questioned> {
    let mut asked = Asked {
        pass,
        all: Vec::new(),
    };
    asked.day(before);
    asked.tang();
    asked.clock();
    asked.mass(before);
    asked.stations(before);
    asked.all
}

struct Asked<'a> {
    pass: &'a Pass,
    all: Vec<Questioned>,
}

impl Asked<'_> {
    fn add(
        &mut self,
        field: impl Into<String>,
        found: impl Into<String>,
        allowed: impl Into<String>,
        why: impl Into<String>,
    ) {
        self.all.push(Questioned {
            pass: self.pass.id.to_string(),
            field: field.into(),
            found: found.into(),
            allowed: allowed.into(),
            why: why.into(),
        });
    }

    fn day(&mut self, before: &Before<'_>) {
        let on = &self.pass.on;
        if on.first_day().as_str() > before.today {
            self.add(
                "on",
                on.to_string(),
                format!("{} or an earlier day", before.today),
                "the day has not come by the clock of this computer",
            );
        }
        let last = before.later.iter().max_by_key(|one| one.on.first_day());
        if let Some(last) = last.filter(|last| on.last_day() < last.on.first_day()) {
            self.add(
                "on",
                on.to_string(),
                format!("{} or a later day", last.on),
                format!(
                    "pass `{}` is of a later day and logged already; this one would be written before it",
                    last.id
                ),
            );
        }
    }

    fn tang(&mut self) {
        let cares = matches!(self.pass.operation, Operation::Clean | Operation::Oil);
        if self.pass.zones.contains(&Zone::Tang) && !cares {
            self.add(
                "zones",
                format!("`{}` on the tang", self.pass.operation.key()),
                "nothing but `clean` or `oil` there",
                "patina and file marks of the tang are evidence (common practice, no source)",
            );
        }
    }

    fn clock(&mut self) {
        let minutes = self.pass.time.as_ref().map(|time| time.to_f64());
        if let (Some(minutes), Some(time)) = (minutes, &self.pass.time)
            && !(minutes > 0.0 && minutes <= LONGEST_MIN)
        {
            self.add(
                "time",
                read(time),
                format!("more than 0 min and at most {} h", LONGEST_MIN / 60.0),
                "nobody works so long on one pass: divide it, or mend the unit",
            );
        }
        let Some(strokes) = self.pass.strokes else {
            return;
        };
        if !(1..=MOST_STROKES).contains(&strokes) {
            self.add(
                "strokes",
                counted(strokes, "stroke"),
                format!("1 to {MOST_STROKES} strokes"),
                "nobody counts so many in one pass",
            );
        } else if let Some(minutes) = minutes.filter(|minutes| *minutes > 0.0)
            && f64::from(strokes) > MOST_STROKES_A_MINUTE * minutes
        {
            self.add(
                "strokes",
                format!("{:.0} strokes a minute", f64::from(strokes) / minutes),
                format!("at most {MOST_STROKES_A_MINUTE} a minute"),
                "no hand is so fast: look at strokes and time",
            );
        }
    }

    fn mass(&mut self, before: &Before<'_>) {
        let own = self.pass.before.as_ref().and_then(mass_of);
        let after = self.pass.after.as_ref().and_then(mass_of);
        let last = last_mass(before);
        if let (Some(own), Some((last, whence))) = (own, &last) {
            self.same_mass(own, last, whence);
        }
        let first = own
            .map(|mass| (mass, "before the pass".to_owned()))
            .or(last);
        if let (Some(after), Some((first, whence))) = (after, &first) {
            self.shrinks(
                "after.mass",
                (&after.0, &first.0),
                ("heavier", LEAST_MASS, "g"),
                whence,
            );
        }
    }

    /// What lay on the scale at the end of the last pass lies on it at the start of this one.
    fn same_mass(&mut self, own: &Mass, last: &Mass, whence: &str) {
        let (own_mass, last_mass) = (Estimate::from(&own.0), Estimate::from(&last.0));
        let slack = COVERAGE * (own_mass - last_mass).standard_uncertainty;
        if (own_mass.value - last_mass.value).abs() <= slack {
            return;
        }
        self.add(
            "before.mass",
            read(own),
            format!(
                "{} to {} g",
                plain(last_mass.value - slack),
                plain(last_mass.value + slack)
            ),
            format!(
                "{} {whence}, and the two readings are apart by more than both can be off (k = 2): was something \
                 worked and not logged, or weighed with oil or collar?",
                read(last)
            ),
        );
    }

    fn stations(&mut self, before: &Before<'_>) {
        let pass = self.pass;
        let own = stations(pass.before.as_ref());
        for (side, all) in [("before", own), ("after", stations(pass.after.as_ref()))] {
            for station in all {
                for (name, part) in PARTS {
                    let Some(now) = part(station) else { continue };
                    let within = (side == "after")
                        .then(|| at(own, station, part))
                        .flatten()
                        .map(|then| (then, "before the pass".to_owned()));
                    let Some((then, whence)) =
                        within.or_else(|| last_length(before, station, part))
                    else {
                        continue;
                    };
                    let field = format!("{side}.stations at {} mm, {name}", station.at.value);
                    let word = if name == "width" { "wider" } else { "thicker" };
                    self.shrinks(
                        &field,
                        (&now.0, &then.0),
                        (word, LEAST_LENGTH, "mm"),
                        &whence,
                    );
                }
            }
        }
    }

    /// Steel only goes, and not by the spade.
    fn shrinks(
        &mut self,
        field: &str,
        (now, then): (&Quantity, &Quantity),
        (word, least, unit): (&str, f64, &str),
        whence: &str,
    ) {
        let (new, old) = (Estimate::from(now), Estimate::from(then));
        let slack = COVERAGE * (new - old).standard_uncertainty;
        if new.value > old.value + slack {
            self.add(
                field,
                read(now),
                format!("at most {} {unit}", plain(old.value + slack)),
                format!(
                    "{word} than {} {whence} by more than both readings can be off (k = 2)",
                    read(then)
                ),
            );
        } else if new.value < least * old.value {
            self.add(
                field,
                read(now),
                format!("at least {} {unit}", plain(least * old.value)),
                format!(
                    "one pass hardly takes so much from {} {whence}: look at figures and unit",
                    read(then)
                ),
            );
        }
    }
}

type Part = fn(&Station) -> Option<&Length>;

/// What of a station can only become less. The face behind the ridge can widen when the ridge moves.
const PARTS: [(&str, Part); 3] = [
    ("width", |station| station.width.as_ref()),
    ("ridge_thickness", |station| {
        station.ridge_thickness.as_ref()
    }),
    ("back_thickness", |station| station.back_thickness.as_ref()),
];

fn stations(readings: Option<&PassReadings>) -> &[Station] {
    readings.map_or(&[], |one| one.stations.as_slice())
}

fn mass_of(readings: &PassReadings) -> Option<&Mass> {
    readings.mass.as_ref()
}

/// The reading nearest to the place of a station, where there is one near enough.
fn at<'a>(all: &'a [Station], wanted: &Station, part: Part) -> Option<&'a Length> {
    let apart = |one: &Station| (one.at.to_f64() - wanted.at.to_f64()).abs();
    all.iter()
        .filter(|one| apart(one) < SAME_PLACE_MM && part(one).is_some())
        .min_by(|a, b| apart(a).total_cmp(&apart(b)))
        .and_then(part)
}

/// The last reading of the mass before a pass, and where it stands.
fn last_mass<'a>(before: &Before<'a>) -> Option<(&'a Mass, String)> {
    let logged = before.passes.iter().rev().find_map(|pass| {
        let after = pass.after.as_ref().and_then(mass_of);
        let side = |mass, word: &str| (mass, format!("{word} pass `{}`", pass.id));
        after.map(|mass| side(mass, "after")).or_else(|| {
            let mass = pass.before.as_ref().and_then(mass_of)?;
            Some(side(mass, "before"))
        })
    });
    logged.or_else(|| {
        let dimensions = before.dimensions?;
        // With collar or mounting on the scale it is another mass.
        let bare = matches!(dimensions.mass_state, None | Some(MassState::Bare));
        let mass = dimensions.mass.as_ref().filter(|_| bare)?;
        Some((mass, "at the examination".to_owned()))
    })
}

/// The last reading at the place of a station before a pass, and where it stands.
fn last_length<'a>(
    before: &Before<'a>,
    station: &Station,
    part: Part,
) -> Option<(&'a Length, String)> {
    let logged = before.passes.iter().rev().find_map(|pass| {
        let of = |readings: Option<&'a PassReadings>| at(stations(readings), station, part);
        let side = |length, word: &str| (length, format!("{word} pass `{}`", pass.id));
        let after = of(pass.after.as_ref()).map(|length| side(length, "after"));
        after.or_else(|| of(pass.before.as_ref()).map(|length| side(length, "before")))
    });
    logged.or_else(|| {
        let length = at(&before.dimensions?.stations, station, part)?;
        Some((length, "at the examination".to_owned()))
    })
}

/// The readings as they were written.
fn read(quantity: &Quantity) -> String {
    let texts: Vec<&str> = quantity
        .as_read
        .iter()
        .map(|one| one.text.as_str())
        .collect();
    texts.join("; ")
}

fn plain(value: f64) -> String {
    print::fixed(value, 2).map_or_else(|_| "?".to_owned(), |value| value.to_string())
}

#[cfg(test)]
mod tests;
