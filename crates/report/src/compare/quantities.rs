//! Every quantity before and after, with the difference and what it can tell.

use tangmark_core::{
    record::{Dimensions, MassState, Pass, Quantity, Record, Station},
    units::Unit,
};
use tangmark_measure::{
    Against, Estimate, against,
    print::fixed,
    stations::{self as places, PLACEMENT_MM, placement},
    weighing::{self, Place},
};

use super::{change::change, state};
use crate::{
    drawing::stations::{Match, datums_differ, matched, measures},
    pages::{named_dimensions, words},
    speech::{Pair, pair},
};

/// A quantity of both states, or of one.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row<'a> {
    /// Name of its field in a sheet.
    pub(crate) field: &'static str,
    pub(crate) name: Pair,
    pub(crate) before: Option<&'a Quantity>,
    pub(crate) after: Option<&'a Quantity>,
    /// After less before; nothing where one is missing, or units or datums differ.
    pub(crate) difference: Option<Estimate>,
}

impl<'a> Row<'a> {
    fn of(
        (field, name): (&'static str, Pair),
        (before, first): (&Record, Option<&'a Quantity>),
        (after, second): (&Record, Option<&'a Quantity>),
        comparable: bool,
        added: f64,
    ) -> Self {
        let both = first
            .zip(second)
            .filter(|(first, second)| comparable && first.unit == second.unit);
        Self {
            field,
            name,
            before: first,
            after: second,
            difference: both.map(|(first, second)| change((before, first), (after, second), added)),
        }
    }

    fn both(&self) -> Option<(&'a Quantity, &'a Quantity)> {
        self.difference?;
        self.before.zip(self.after)
    }

    /// Where the second value lies against the first one.
    pub(crate) fn against(&self) -> Option<Against> {
        Some(told(self.difference?))
    }

    /// Most digits after the full stop of its values.
    pub(crate) fn digits(&self) -> usize {
        let values = [self.before, self.after].into_iter().flatten();
        values
            .map(|quantity| usize::from(quantity.value.digits()))
            .max()
            .unwrap_or(0)
    }

    /// The difference with sign and expanded uncertainty, without its unit.
    pub(crate) fn stated(&self) -> String {
        self.difference.map_or_else(
            || words::NOTHING.to_owned(),
            |difference| stated(difference, self.digits(), Unit::One),
        )
    }

    /// What the row says, in words.
    pub(crate) fn judged(&self) -> Pair {
        match (self.before, self.after, self.against()) {
            (Some(_), None, _) => pair("not measured again", "再計測せず"),
            (None, Some(_), _) => pair("not measured before", "前回計測なし"),
            (_, _, Some(Against::Below)) => pair("less", "減少"),
            (_, _, Some(Against::Above)) => pair("more", "増加"),
            (_, _, Some(Against::Undecided)) => pair("cannot be told", "判別できず"),
            (_, _, None) => pair("no comparison", "比較できず"),
        }
    }

    /// Whether the difference is more than the measurement can tell from nothing.
    pub(crate) fn is_told(&self) -> bool {
        matches!(self.against(), Some(Against::Below | Against::Above))
    }
}

/// A difference against nothing: two exact numbers that are equal have not changed.
pub(super) fn told(difference: Estimate) -> Against {
    if difference.value == 0.0 {
        return Against::Undecided;
    }
    against(difference, 0.0)
}

/// An estimate with sign and expanded uncertainty: `−2.20 ± 0.34 g`. `digits` after the full stop are the most it keeps.
pub(crate) fn stated(value: Estimate, digits: usize, unit: Unit) -> String {
    let decimals = (
        fixed(value.value, digits),
        fixed(value.standard_uncertainty, digits + 3),
    );
    let (Ok(shown), Ok(standard)) = decimals else {
        return words::NOTHING.to_owned();
    };
    let text = words::stated(shown, standard, unit);
    // A plus says that the sign was looked at.
    if shown.to_f64() > 0.0 {
        format!("+{text}")
    } else {
        text
    }
}

/// The single quantities of a sheet with their fields.
fn fields(of: &Dimensions) -> [(&'static str, Option<&Quantity>); 16] {
    [
        ("blade_length", of.blade_length.as_deref()),
        ("curvature", of.curvature.as_deref()),
        ("curvature_at", of.curvature_at.as_deref()),
        ("overall_length", of.overall_length.as_deref()),
        ("width_at_base", of.width_at_base.as_deref()),
        ("width_at_point", of.width_at_point.as_deref()),
        ("thickness_at_base", of.thickness_at_base.as_deref()),
        (
            "back_thickness_at_base",
            of.back_thickness_at_base.as_deref(),
        ),
        ("thickness_at_point", of.thickness_at_point.as_deref()),
        ("point_length", of.point_length.as_deref()),
        ("edge_notch_depth", of.edge_notch_depth.as_deref()),
        ("back_notch_depth", of.back_notch_depth.as_deref()),
        ("tang_length", of.tang_length.as_deref()),
        ("tang_curvature", of.tang_curvature.as_deref()),
        ("cross_span", of.cross_span.as_deref()),
        ("mass", of.mass.as_deref()),
    ]
}

/// The field of a quantity of these dimensions.
fn field(dimensions: &Dimensions, quantity: &Quantity) -> &'static str {
    fields(dimensions)
        .into_iter()
        .find(|(_, one)| one.is_some_and(|one| std::ptr::eq(one, quantity)))
        .map_or("", |(field, _)| field)
}

/// Whether the value of a quantity hangs on where lengths along the blade start.
fn starts_at_datum(field: &str) -> bool {
    matches!(
        field,
        "blade_length" | "curvature" | "curvature_at" | "tang_length"
    )
}

/// A quantity with its field and its name.
type Named<'a> = (&'static str, Pair, &'a Quantity);

fn listed(state: &Record) -> Vec<Named<'_>> {
    state
        .dimensions
        .as_ref()
        .map_or_else(Vec::new, |dimensions| {
            named_dimensions(dimensions)
                .into_iter()
                .map(|(name, quantity)| (field(dimensions, quantity), name, quantity))
                .collect()
        })
}

/// Every named quantity of either state, in the order of the list.
pub(crate) fn named<'a>(before: &'a Record, after: &'a Record) -> Vec<Row<'a>> {
    let unlike = datums_differ(before, after);
    let (first, second) = (listed(before), listed(after));
    let row = |(field, name): (&'static str, &Pair), then, now| {
        let comparable = !(unlike && starts_at_datum(field));
        Row::of(
            (field, name.clone()),
            (before, then),
            (after, now),
            comparable,
            0.0,
        )
    };
    let mut rows: Vec<Row<'a>> = first
        .iter()
        .map(|(field, name, then)| {
            let now = second.iter().find(|one| one.1 == *name);
            row((field, name), Some(*then), now.map(|one| one.2))
        })
        .collect();
    for (field, name, now) in &second {
        if !first.iter().any(|one| one.1 == *name) {
            rows.push(row((field, name), None, Some(*now)));
        }
    }
    // Passes are weighed bare: with a mass of something else there is nothing to set beside theirs.
    let all_bare = [before, after]
        .into_iter()
        .filter_map(|state| state.dimensions.as_ref()?.mass_state)
        .all(|on_scale| on_scale == MassState::Bare);
    let mass = rows.iter_mut().find(|row| row.field == "mass");
    if let Some(mass) = mass.filter(|_| all_bare) {
        let (then, first) = last_mass(before, "first", "前");
        let (now, second) = last_mass(after, "second", "後");
        if !(first.is_none() && second.is_none()) {
            let said: Vec<Pair> = first.into_iter().chain(second).collect();
            let name = said.into_iter().fold(pair("mass", "質量"), |name, of| {
                pair(
                    format!("{}; {}", name.en, of.en),
                    format!("{}；{}", name.ja, of.ja),
                )
            });
            *mass = row(("mass", &name), then, now);
        }
    }
    rows
}

/// The last mass that a state tells; where it was read at a pass, that in words after what the state is called.
fn last_mass<'a>(state: &'a Record, en: &str, ja: &str) -> (Option<&'a Quantity>, Option<Pair>) {
    let passes: Vec<&Pass> = state.passes.iter().collect();
    let all = weighing::of_records(std::iter::once(state), &passes);
    let examined = || state.dimensions.as_ref()?.mass.as_deref();
    let Some(last) = all.last() else {
        return (examined(), None);
    };
    let said = match last.place {
        Place::Record(_) | Place::Sheet => None,
        Place::Before(pass) => Some((passes[pass], "before", "の前")),
        Place::After(pass) => Some((passes[pass], "after", "の後")),
    };
    let said = said.map(|(Pass { id, on, .. }, side, of)| {
        pair(
            format!("{en} {side} pass {id}, {on}"),
            format!("{ja}は工程 {id} {of}、{on}"),
        )
    });
    (Some(&last.mass.0), said)
}

/// A station of both states or of one: its place, in the first state where it has it, and the measures.
pub(crate) struct StationPair<'a> {
    pub(crate) at: &'a Quantity,
    /// The station of the second state, where it has one there.
    pub(crate) now: Option<&'a Station>,
    pub(crate) rows: Vec<Row<'a>>,
}

/// Stations of the first state with those of the second at the same place, then those of the second alone; as far as
/// anything was measured at them.
pub(crate) fn stations<'a>(before: &'a Record, after: &'a Record) -> Vec<StationPair<'a>> {
    matched(before, after)
        .into_iter()
        .filter_map(|one| {
            let station = one.before.or(one.after)?;
            let rows = station_rows(before, after, one);
            (!rows.is_empty()).then_some(StationPair {
                at: &station.at,
                now: one.after,
                rows,
            })
        })
        .collect()
}

/// The measures of one place, each with what the doubt of the place adds: half a blade's width of taper is not steel.
fn station_rows<'a>(before: &'a Record, after: &'a Record, one: Match<'a>) -> Vec<Row<'a>> {
    let placed = |which: places::Measure| {
        let (station, dimensions) = (one.before?, before.dimensions.as_ref()?);
        let index = place_in(&dimensions.stations, station)?;
        Some(placement(dimensions, index, which, PLACEMENT_MM))
    };
    measures()
        .into_iter()
        .zip(places::Measure::ALL)
        .map(|((name, measure), which)| {
            Row::of(
                (which.field(), name),
                (before, one.before.and_then(measure).map(|length| &**length)),
                (after, one.after.and_then(measure).map(|length| &**length)),
                true,
                placed(which).unwrap_or(0.0),
            )
        })
        .filter(|row| row.before.is_some() || row.after.is_some())
        .collect()
}

fn place_in(stations: &[Station], station: &Station) -> Option<usize> {
    stations.iter().position(|one| std::ptr::eq(one, station))
}

/// Whether anything was measured from the datum of a state: stations, or a quantity that hangs on it.
fn measured_from_datum(state: &Record) -> bool {
    state
        .dimensions
        .as_ref()
        .is_some_and(|dimensions| !dimensions.stations.is_empty())
        || listed(state)
            .iter()
            .any(|(field, _, _)| starts_at_datum(field))
}

/// Says of states with different datums what is not compared.
pub(crate) fn not_compared(before: &Record, after: &Record) -> Option<Pair> {
    let differ = datums_differ(before, after);
    if !differ || !(measured_from_datum(before) || measured_from_datum(after)) {
        return None;
    }
    let of = |state: &Record| Some(words::gloss(state.dimensions.as_ref()?.datum));
    let (first, second) = (of(before)?, of(after)?);
    let (then, now) = (state::name(before), state::name(after));
    Some(pair(
        format!(
            "Stations, and lengths that start at the datum, are not compared: {} measures from: {}; {} from: {}.",
            then.en, first.en, now.en, second.en
        ),
        format!(
            "測点、および起点から測る長さは比較しない。起点が異なる（{}：{}、{}：{}）。",
            then.ja, first.ja, now.ja, second.ja
        ),
    ))
}

/// Fewest equal quantities that are called taken over: one or two can be read the same twice.
const FEWEST_TAKEN_OVER: usize = 3;

/// Whether every quantity of both states is the same, reading by reading: so they look when nothing was measured again.
pub(crate) fn taken_over<'r>(rows: impl Iterator<Item = &'r Row<'r>>) -> bool {
    let mut both = 0;
    let all_equal = rows.filter_map(Row::both).all(|(before, after)| {
        both += 1;
        same_reading(before, after)
    });
    all_equal && both >= FEWEST_TAKEN_OVER
}

/// Whether two quantities are the same number by the same readings. How it was measured is left out: what was taken over
/// from another workshop says so there.
pub(super) fn same_reading(before: &Quantity, after: &Quantity) -> bool {
    before.as_read == after.as_read
        && before.value == after.value
        && before.unit == after.unit
        && before.standard_uncertainty == after.standard_uncertainty
}

/// How many quantities were measured both times and can be compared, and how many of them tell a change.
pub(crate) struct Count {
    pub(crate) compared: usize,
    pub(crate) told: usize,
    /// Some were measured both times and cannot be compared.
    pub(crate) left_out: bool,
    /// All are the same numbers.
    pub(crate) taken_over: bool,
}

impl Count {
    pub(crate) fn of<'r>(rows: impl Iterator<Item = &'r Row<'r>> + Clone) -> Self {
        Self {
            compared: rows.clone().filter(|row| row.difference.is_some()).count(),
            told: rows.clone().filter(|row| row.is_told()).count(),
            left_out: rows
                .clone()
                .any(|row| row.before.is_some() && row.after.is_some() && row.difference.is_none()),
            taken_over: taken_over(rows),
        }
    }

    /// As a part of a sentence: how many measures changed by more than the measurement can tell.
    pub(crate) fn said(&self) -> Pair {
        let (all, told) = (self.compared, self.told);
        if all == 0 {
            return if self.left_out {
                pair(
                    "nothing that was measured both times can be compared",
                    "二度とも計測した項目に、比較できるものはない",
                )
            } else {
                pair(
                    "nothing was measured both times",
                    "二度とも計測した項目はない",
                )
            };
        }
        if self.taken_over {
            return pair(
                format!(
                    "all {all} measures are equal to the last digit: taken over, not measured again, so they do not tell whether anything changed"
                ),
                format!(
                    "{all} 項目はすべて末位まで同じ値。引き写しであり、再計測ではない。変化の有無は判別できない"
                ),
            );
        }
        let measures = if all == 1 { "measure" } else { "measures" };
        let (that, which) = if self.left_out {
            (" that can be compared", "比較できる ")
        } else {
            ("", "二度とも計測した ")
        };
        pair(
            format!(
                "{told} of {all} {measures}{that} changed by more than the measurement can tell"
            ),
            format!("{which}{all} 項目のうち、測定で判別できる変化は {told} 項目"),
        )
    }
}

/// Names of what was measured the first time only.
pub(crate) fn not_measured_again(comparison: &super::Comparison<'_>) -> Vec<Pair> {
    let (before, after) = (comparison.before, comparison.after);
    let mut names: Vec<Pair> = comparison
        .rows
        .iter()
        .filter(|row| row.after.is_none())
        .map(|row| row.name.clone())
        .collect();
    for station in &comparison.stations {
        let missing: Vec<&Pair> = station
            .rows
            .iter()
            .filter(|row| row.after.is_none())
            .map(|row| &row.name)
            .collect();
        if missing.is_empty() {
            continue;
        }
        let at = words::quantity(station.at);
        let list = |of: fn(&Pair) -> &str, comma: &str| {
            missing
                .iter()
                .map(|name| of(name))
                .collect::<Vec<_>>()
                .join(comma)
        };
        names.push(pair(
            format!("{} at {at}", list(|name| &name.en, ", ")),
            format!("{at} の{}", list(|name| &name.ja, "、")),
        ));
    }
    if datums_differ(before, after) && measured_from_datum(before) {
        let from = state::in_text(before);
        names.push(pair(
            format!("what starts at the datum of {}", from.en),
            format!("{}の起点による計測値", from.ja),
        ));
    }
    names
}

#[cfg(test)]
mod tests;
