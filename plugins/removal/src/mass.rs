//! Steel and rust gone, by the scale.

use tangmark_author::{Notes, column, numbers, point, text_column};
use tangmark_core::record::{Instrument, MassState, Operation, Pass, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against, e_n, probability_above};
use tangmark_measure::weighing::{self, Place, Weighing};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{Axis, Level, Series, Table};

use crate::Case;
use crate::settings::Settings;
use crate::states::State;
use crate::surface::{Worked, mean_depth, worked};
use tangmark_measure::reading::{Reading, Term, difference, sum};

const GONE: &str = "mass before the first weighed pass less mass after the last, without what passes that remove rust took \
    where they were weighed; a pass not weighed before began with the last weighing";
const DEPTH: &str = "h = m/(rho S): steel gone over density times worked surface";

/// Steel gone, and what it rests on.
#[derive(Clone, Debug)]
pub(crate) struct Loss {
    /// Steel gone, g.
    pub(crate) steel: Estimate,
    /// Everything gone, rust with it, g.
    pub(crate) all: Estimate,
    /// Rust gone, g, where a pass that removes it was weighed on both sides.
    pub(crate) rust: Option<Estimate>,
    /// Pointers into the sheet.
    pub(crate) places: Vec<String>,
    /// From where to where, in words.
    pub(crate) span: String,
    /// Rust came off within the span without weighings on both sides.
    pub(crate) rust_inside: bool,
}

/// One weighing, with its reading.
struct Weighed<'a> {
    weighing: Weighing<'a>,
    reading: Reading,
}

impl Case<'_> {
    fn pointer(&self, place: Place) -> String {
        let of_pass = |pass: usize, side: &str| {
            let pointer = self.logged[pass].pointer.as_ref();
            pointer.map_or_else(
                || "/passes".to_owned(),
                |pointer| format!("{pointer}/{side}/mass"),
            )
        };
        match place {
            Place::Sheet | Place::Record(_) => "/dimensions/mass".to_owned(),
            Place::Before(pass) => of_pass(pass, "before"),
            Place::After(pass) => of_pass(pass, "after"),
        }
    }

    fn named(&self, place: Place) -> String {
        let key = |pass: usize| self.logged[pass].pass.id.as_str();
        match place {
            Place::Sheet => "the examination".to_owned(),
            Place::Record(index) => {
                format!("the examination of record {}", self.records[index].sequence)
            }
            Place::Before(pass) => format!("before pass {}", key(pass)),
            Place::After(pass) => format!("after pass {}", key(pass)),
        }
    }
}

/// A weighing, with what the scale and the blade's surface add to it.
pub(crate) fn weighed(
    mass: &tangmark_core::record::Mass,
    instruments: &[Instrument],
    settings: &Settings,
) -> Reading {
    Reading::of(&mass.0, instruments)
        .weighed(settings.weighing_repeatability_g)
        .with_own(settings.residue_g.unwrap_or(0.0))
}

/// Every weighing of the blade in the order in which it was taken.
fn weighings<'a>(case: &'a Case<'a>) -> Vec<Weighed<'a>> {
    let passes = passes_of(case);
    let instruments = |place: Place| {
        match place {
            Place::Sheet => case.sheet.examination.as_ref(),
            Place::Record(index) => case.records[index].examination.as_ref(),
            Place::Before(pass) | Place::After(pass) => {
                return case.instruments_of(&case.logged[pass]);
            }
        }
        .map_or(&[][..], |one| &one.instruments)
    };
    weighing::weighings(case.records, case.sheet, &passes)
        .into_iter()
        .map(|weighing| Weighed {
            reading: weighed(weighing.mass, instruments(weighing.place), case.settings),
            weighing,
        })
        .collect()
}

fn passes_of<'a>(case: &Case<'a>) -> Vec<&'a Pass> {
    case.logged.iter().map(|one| one.pass).collect()
}

/// Steel gone between the first weighing before a pass and the last one of a pass.
fn by_passes(case: &Case<'_>) -> Option<Loss> {
    let all = weighings(case);
    let plain: Vec<Weighing<'_>> = all.iter().map(|one| one.weighing).collect();
    let went = weighing::went(&plain, &passes_of(case), 0)?;
    let combined = |weights: &[f64]| {
        let terms: Vec<Term<'_>> = all
            .iter()
            .zip(weights)
            .enumerate()
            .filter(|(_, (_, weight))| **weight != 0.0)
            .map(|(session, (one, weight))| Term {
                coefficient: *weight,
                reading: &one.reading,
                session,
            })
            .collect();
        sum(&terms, case.settings.scale_repeats)
    };
    let used = |index: &usize| went.all[*index] != 0.0 || went.rust[*index] != 0.0;
    Some(Loss {
        steel: combined(&went.steel()),
        all: combined(&went.all),
        rust: (went.rust_passes > 0).then(|| combined(&went.rust)),
        places: (0..all.len())
            .filter(used)
            .map(|index| case.pointer(plain[index].place))
            .collect(),
        span: format!(
            "from {} to {}",
            case.named(plain[went.first].place),
            case.named(plain[went.last].place)
        ),
        rust_inside: went.rust_inside,
    })
}

/// The difference of the masses in the first state and the last.
fn by_states(case: &Case<'_>) -> Option<Loss> {
    let (first, last) = case.ends()?;
    let mass = |state: &State<'_>| {
        let mass = state.dimensions.mass.as_ref()?;
        Some(weighed(mass, state.instruments, case.settings))
    };
    let (before, after) = (mass(first)?, mass(last)?);
    let state = |state: &State<'_>| state.dimensions.mass_state.unwrap_or(MassState::Bare);
    if state(first) != state(last) {
        return None;
    }
    let gone = difference(&before, &after, case.settings.scale_repeats);
    let rusted = case.logged.iter().any(|one| {
        one.pass.operation == Operation::Derust && !first.passes.iter().any(|p| p.id == one.pass.id)
    });
    Some(Loss {
        steel: gone,
        all: gone,
        rust: None,
        places: vec!["/dimensions/mass".to_owned()],
        span: format!("from {} to {}", first.name, last.name),
        rust_inside: rusted,
    })
}

/// Judges what the scale says; returns the loss for others to use.
pub(crate) fn judge(case: &Case<'_>, notes: &mut Notes<'_>) -> Option<Loss> {
    let (passes, states) = (by_passes(case), by_states(case));
    if let (Some(passes), Some(states)) = (&passes, &states) {
        disagree(passes, states, notes);
    }
    history(case, notes);
    per_pass(case, notes);
    let loss = passes.or(states)?;
    steel(case, &loss, notes);
    if let Some(rust) = loss.rust {
        notes.quantity(
            "rust-gone",
            rust,
            Unit::Gram,
            "mass before less mass after, over the passes that remove rust",
        );
        let text = format!(
            "{} went in passes that remove rust; it is kept apart and does not count as steel, though some of it may be.",
            print::with_expanded(rust, "g")
        );
        let given = numbers(&[("rust gone", rust, Unit::Gram)]);
        notes.add("removal.rust-gone", Level::Info, text, &loss.places, given);
    }
    Some(loss)
}

fn steel(case: &Case<'_>, loss: &Loss, notes: &mut Notes<'_>) {
    let gone = loss.steel;
    notes.quantity("steel-gone", gone, Unit::Gram, GONE);
    let written = print::with_expanded(gone, "g");
    if against(gone, 0.0) == Against::Below {
        let text = format!(
            "{}, the blade is {} heavier than it was, which steel cannot be: look for water, oil or mud, dry and degrease it the \
             same way each time, and weigh again.",
            tangmark_author::words::capitalised(&loss.span),
            print::with_expanded(gone.scaled(-1.0), "g")
        );
        let given = numbers(&[("steel gone", gone, Unit::Gram)]);
        notes.add(
            "removal.mass-grew",
            Level::Caution,
            text,
            &loss.places,
            given,
        );
        return;
    }
    let told = if against(gone, 0.0) == Against::Above {
        format!("{written} of steel gone {}", loss.span)
    } else {
        format!(
            "The scale cannot tell whether steel is gone {}: {written} (probability that some is: {})",
            loss.span,
            percent(probability_above(gone, 0.0))
        )
    };
    let rust = if loss.rust_inside {
        " Rust that came off without a weighing on both sides is in it: weigh before and after removing rust, and it can be told apart."
    } else {
        ""
    };
    let residue = if case.settings.residue_g.is_none() {
        " What clings to the blade (oil, water, mud) is not counted, since `residue_g` is not set."
    } else {
        ""
    };
    let mut given = vec![("steel gone", gone, Unit::Gram)];
    let depth = depth_of(case, loss);
    let text = match &depth {
        Ok((worked, depth)) => {
            notes.quantity(
                "worked-surface",
                worked.area,
                Unit::SquareMillimetre,
                "plane geometry between stations, zones of the passes",
            );
            notes.quantity("mean-depth", *depth, Unit::Micrometre, DEPTH);
            given.push(("mean depth", *depth, Unit::Micrometre));
            given.push(("worked surface", worked.area, Unit::SquareMillimetre));
            format!(
                "{told}. Spread over {} ({}) that is {} deep on average; edge and ridge lose more, so go by the gauge there.{rust}{residue}",
                print::with_expanded(worked.area.scaled(1e-2), "cm²"),
                worked.words,
                print::with_expanded(*depth, "µm")
            )
        }
        Err(missing) => {
            format!("{told}. The mean depth cannot be told without {missing}.{rust}{residue}")
        }
    };
    notes.add(
        "removal.steel-gone",
        Level::Info,
        text,
        &loss.places,
        numbers(&given),
    );
}

fn depth_of(case: &Case<'_>, loss: &Loss) -> Result<(Worked, Estimate), String> {
    let state = case
        .geometry()
        .ok_or("whole sections in the station table")?;
    let worked = worked(case.sheet, state, &case.steel_passes(), case.settings)?;
    let depth = mean_depth(loss.steel, case.settings.density(), worked.area)
        .ok_or("a worked surface above zero")?;
    Ok((worked, depth))
}

fn disagree(passes: &Loss, states: &Loss, notes: &mut Notes<'_>) {
    let Some(number) = e_n(passes.all, states.all) else {
        return;
    };
    if number <= 1.0 {
        return;
    }
    let text = format!(
        "The weighings of the passes add up to {} gone, the masses {} differ by {}: a weighing is wrong, or something happened \
         to the blade between passes. Weigh again.",
        print::with_expanded(passes.all, "g"),
        states.span,
        print::with_expanded(states.all, "g")
    );
    let given = numbers(&[
        ("by the passes", passes.all, Unit::Gram),
        ("by the examinations", states.all, Unit::Gram),
        ("normalised error", Estimate::exact(number), Unit::One),
    ]);
    let mut places = passes.places.clone();
    places.extend(states.places.iter().cloned());
    notes.add(
        "removal.weighings-disagree",
        Level::Caution,
        text,
        &places,
        given,
    );
}

fn per_pass(case: &Case<'_>, notes: &mut Notes<'_>) {
    let mut rows = Vec::new();
    let all = weighings(case);
    let plain: Vec<Weighing<'_>> = all.iter().map(|one| one.weighing).collect();
    for (index, logged) in case.logged.iter().enumerate() {
        let before = weighing::before(&plain, index);
        let (Some(before), Some(after)) = (before, weighing::after(&plain, index)) else {
            continue;
        };
        let (before, after) = (&all[before].reading, &all[after].reading);
        let gone = difference(before, after, case.settings.scale_repeats);
        let verdict = match against(gone, 0.0) {
            Against::Above => "gone",
            Against::Undecided => "cannot tell",
            Against::Below => "heavier after than before",
        };
        if verdict.starts_with("heavier") {
            let text = format!(
                "After pass {} the blade weighed {} more than before it, which no pass can do: weigh again, dry and degreased.",
                logged.pass.id,
                print::with_expanded(gone.scaled(-1.0), "g")
            );
            let place = logged
                .pointer
                .clone()
                .unwrap_or_else(|| "/passes".to_owned());
            let given = numbers(&[("gone", gone, Unit::Gram)]);
            notes.add("removal.pass-grew", Level::Caution, text, &[place], given);
        }
        let depth = case
            .geometry()
            .filter(|_| logged.pass.operation.takes_steel())
            .and_then(|state| worked(case.sheet, state, &[logged.pass], case.settings).ok())
            .and_then(|worked| mean_depth(gone, case.settings.density(), worked.area));
        let zones: Vec<&str> = logged.pass.zones.iter().map(|zone| zone.key()).collect();
        let (mass, mass_doubt) = cells(gone);
        let (depth, depth_doubt) = depth.map_or_else(|| (String::new(), String::new()), cells);
        rows.push(vec![
            logged.pass.id.to_string(),
            logged.pass.operation.key().to_owned(),
            zones.join(" "),
            mass,
            mass_doubt,
            depth,
            depth_doubt,
            verdict.to_owned(),
        ]);
    }
    if rows.is_empty() {
        return;
    }
    notes.table(Table {
        id: "removal.passes".to_owned(),
        title: "What each weighed pass took".to_owned(),
        columns: vec![
            text_column("pass"),
            text_column("operation"),
            text_column("zones"),
            column("gone", Unit::Gram),
            column("standard uncertainty", Unit::Gram),
            column("mean depth", Unit::Micrometre),
            column("standard uncertainty of depth", Unit::Micrometre),
            text_column("verdict"),
        ],
        rows,
        source: "mass before less mass after; h = m/(rho S)".to_owned(),
    });
}

fn history(case: &Case<'_>, notes: &mut Notes<'_>) {
    let all = weighings(case);
    let is_of_pass =
        |one: &Weighed<'_>| matches!(one.weighing.place, Place::Before(_) | Place::After(_));
    let Some(end) = all.iter().rposition(is_of_pass) else {
        return;
    };
    let mut points = Vec::new();
    for (index, one) in all.iter().enumerate().take(end + 1) {
        // The mass before a pass is that after the pass before, unless that one was not weighed.
        let done = one.weighing.done;
        let of_pass = matches!(one.weighing.place, Place::After(_));
        let known = |other: &Weighed<'_>| other.weighing.done == done;
        let last = all.get(index + 1).is_none_or(|next| !known(next));
        let weighed_after = all
            .iter()
            .any(|other| known(other) && matches!(other.weighing.place, Place::After(_)));
        if of_pass || (last && !weighed_after) {
            points.extend(point(done as f64, 0, one.reading.estimate()));
        }
    }
    if points.len() < 2 {
        return;
    }
    notes.series(Series {
        id: "removal.mass-history".to_owned(),
        title: "Mass after each pass; 0 is before the first".to_owned(),
        x: Axis {
            name: "pass".to_owned(),
            unit: Unit::One.code().to_owned(),
        },
        y: Axis {
            name: "mass".to_owned(),
            unit: Unit::Gram.code().to_owned(),
        },
        points,
        source: "weighings of the passes, each with the whole doubt of the scale".to_owned(),
    });
}

/// An estimate as two cells: value, standard uncertainty.
pub(crate) fn cells(estimate: Estimate) -> (String, String) {
    match print::printed(estimate, 3) {
        Ok(printed) => (
            printed.value.to_string(),
            printed
                .standard_uncertainty
                .map_or_else(|| "0".to_owned(), |doubt| doubt.to_string()),
        ),
        Err(_) => (String::new(), String::new()),
    }
}

/// A probability as per cent: `97 %`, and the ends as `below 1 %` and `over 99 %`.
pub(crate) fn percent(probability: f64) -> String {
    let percent = 100.0 * probability;
    if percent < 1.0 {
        "below 1 %".to_owned()
    } else if percent > 99.0 {
        "over 99 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}
