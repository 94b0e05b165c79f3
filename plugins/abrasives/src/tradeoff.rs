//! Steel removed against pits left: every choice that is not beaten by another.

use tangmark_measure::Estimate;
use tangmark_measure::decision::probability_above;

use crate::need::{Depths, Field, Need, lower, volume};
use crate::surface::Body;

/// Most combinations of steps that are tried among fields whose lowered places touch.
const COMBINATIONS: usize = 1_500;

/// Most choices that are kept.
const MOST: usize = 200;

/// A choice: which step of each field, the steel it takes, the pits it leaves.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Choice {
    /// Volume of all steel that goes, mm³.
    pub(crate) volume: f64,
    /// Pits left by the plan.
    pub(crate) left: u32,
    /// Pits left as expected, since depths are uncertain.
    pub(crate) expected_left: Estimate,
    /// Depth to which each field is lowered, in the order of the need; 0 for what is left as it is.
    pub(crate) depths: Vec<f64>,
}

/// The choices, from leaving all to clearing all.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Curve {
    /// At least one; steel rises and pits left fall.
    pub(crate) choices: Vec<Choice>,
    /// Place of the knee among them, where there is one.
    pub(crate) knee: Option<usize>,
    /// Fields that touch were lowered by common steps, since there are too many to try all.
    pub(crate) in_common_steps: bool,
}

#[derive(Clone, Debug)]
struct Part {
    cleared: u32,
    extra: f64,
    depths: Vec<(usize, f64)>,
}

/// Finds the curve.
///
/// Fields whose lowered places touch on a face are tried together, since a place lowered for one is lowered for the
/// other; groups that do not touch add up.
pub(crate) fn curve(need: &Need, body: &Body, fairing: f64) -> Curve {
    let base = need.base(body, fairing);
    let base_volume = volume(body, &base);
    let mut in_common_steps = false;
    let mut sum: Vec<Part> = vec![Part {
        cleared: 0,
        extra: 0.0,
        depths: Vec::new(),
    }];
    for group in groups(&need.fields, fairing) {
        let (parts, common) = parts(need, &group, body, &base, base_volume, fairing);
        in_common_steps |= common;
        let mut both: Vec<Part> = Vec::with_capacity(sum.len() * parts.len());
        for one in &sum {
            for other in &parts {
                let mut depths = one.depths.clone();
                depths.extend(&other.depths);
                both.push(Part {
                    cleared: one.cleared + other.cleared,
                    extra: one.extra + other.extra,
                    depths,
                });
            }
        }
        sum = thinned(best(both));
    }
    let total: u32 = need
        .fields
        .iter()
        .map(|field| count(field.pits.len()))
        .sum();
    let choices: Vec<Choice> = sum
        .into_iter()
        .map(|part| {
            let mut depths = vec![0.0; need.fields.len()];
            for (index, depth) in &part.depths {
                depths[*index] = *depth;
            }
            Choice {
                volume: base_volume + part.extra,
                left: total.saturating_sub(part.cleared),
                expected_left: expected(need, &base, body, &depths),
                depths,
            }
        })
        .collect();
    let knee = knee(&choices);
    Curve {
        choices,
        knee,
        in_common_steps,
    }
}

fn count(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

/// Groups of fields that touch on a face, within reach of their fairings.
fn groups(fields: &[Field], fairing: f64) -> Vec<Vec<usize>> {
    let touch = |one: &Field, other: &Field| {
        one.faces.iter().any(|face| other.faces.contains(face))
            && one.from - fairing <= other.to + fairing
            && other.from - fairing <= one.to + fairing
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for index in 0..fields.len() {
        let mut merged = vec![index];
        groups.retain(|group| {
            let joins = group
                .iter()
                .any(|other| touch(&fields[index], &fields[*other]));
            if joins {
                merged.extend(group);
            }
            !joins
        });
        merged.sort_unstable();
        groups.push(merged);
    }
    groups
}

fn parts(
    need: &Need,
    group: &[usize],
    body: &Body,
    base: &Depths,
    base_volume: f64,
    fairing: f64,
) -> (Vec<Part>, bool) {
    let fields: Vec<&Field> = group.iter().map(|index| &need.fields[*index]).collect();
    let combinations = fields.iter().try_fold(1_usize, |product, field| {
        product.checked_mul(field.levels.len() + 1)
    });
    let common = combinations.is_none_or(|found| found > COMBINATIONS);
    let steps: Vec<Vec<usize>> = if common {
        common_steps(&fields)
    } else {
        every_step(&fields)
    };
    let all = steps
        .into_iter()
        .map(|step| {
            let mut depths = base.clone();
            let mut chosen = Vec::with_capacity(group.len());
            let mut cleared = 0;
            for ((index, field), step) in group.iter().zip(&fields).zip(step) {
                // Step 0 leaves the field as it is.
                let level = step.checked_sub(1).and_then(|step| field.levels.get(step));
                let depth = level.map_or(0.0, |level| level.depth);
                lower(&mut depths, body, field, depth, fairing);
                cleared += level.map_or(0, |level| level.cleared);
                chosen.push((*index, depth));
            }
            // Below a millionth of a cubic millimetre there is only rounding.
            let extra = libm::round((volume(body, &depths) - base_volume).max(0.0) * 1e6) / 1e6;
            Part {
                cleared,
                extra,
                depths: chosen,
            }
        })
        .collect();
    (best(all), common)
}

fn every_step(fields: &[&Field]) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![Vec::new()];
    for field in fields {
        all = all
            .into_iter()
            .flat_map(|start| {
                (0..=field.levels.len()).map(move |step| {
                    let mut longer = start.clone();
                    longer.push(step);
                    longer
                })
            })
            .collect();
    }
    all
}

/// Every field down to the same depth, for each depth that one of them has a step at.
fn common_steps(fields: &[&Field]) -> Vec<Vec<usize>> {
    let mut depths: Vec<f64> = fields
        .iter()
        .flat_map(|field| field.levels.iter().map(|level| level.depth))
        .collect();
    depths.push(0.0);
    depths.sort_by(f64::total_cmp);
    depths.dedup_by(|a, b| a.total_cmp(b).is_eq());
    depths
        .into_iter()
        .map(|depth| {
            fields
                .iter()
                .map(|field| {
                    field
                        .levels
                        .iter()
                        .filter(|level| level.depth <= depth)
                        .count()
                })
                .collect()
        })
        .collect()
}

/// Keeps what no other part beats: least steel for each number cleared, and rising.
fn best(mut all: Vec<Part>) -> Vec<Part> {
    all.sort_by(|a, b| b.cleared.cmp(&a.cleared).then(a.extra.total_cmp(&b.extra)));
    let mut kept: Vec<Part> = Vec::new();
    for part in all {
        let beaten = kept
            .last()
            .is_some_and(|last| last.cleared == part.cleared || last.extra <= part.extra);
        if !beaten {
            kept.push(part);
        }
    }
    kept.reverse();
    kept
}

fn thinned(all: Vec<Part>) -> Vec<Part> {
    let found = all.len();
    if found <= MOST {
        return all;
    }
    let wanted: Vec<usize> = (0..MOST)
        .map(|index| index * (found - 1) / (MOST - 1))
        .collect();
    all.into_iter()
        .enumerate()
        .filter(|(index, _)| wanted.binary_search(index).is_ok())
        .map(|(_, part)| part)
        .collect()
}

/// Pits left as expected: the sum of the chances that each is deeper than the steel taken there.
fn expected(need: &Need, base: &Depths, body: &Body, depths: &[f64]) -> Estimate {
    let mut mean = 0.0;
    let mut variance = 0.0;
    for (field, depth) in need.fields.iter().zip(depths) {
        let taken = depth.max(base_at(field, base, body));
        for pit in &field.pits {
            let stays = probability_above(*pit, taken);
            mean += stays;
            variance += stays * (1.0 - stays);
        }
    }
    Estimate::new(mean, libm::sqrt(variance))
}

/// Steel that goes in any case at the middle of a field, on the face where it is least, µm.
fn base_at(field: &Field, base: &Depths, body: &Body) -> f64 {
    let middle = f64::midpoint(field.from, field.to);
    let nearest = body
        .slices
        .iter()
        .zip(base)
        .min_by(|(a, _), (b, _)| (a.at - middle).abs().total_cmp(&(b.at - middle).abs()));
    let least = nearest.map_or(0.0, |(_, here)| {
        field
            .faces
            .iter()
            .map(|face| here[*face])
            .fold(f64::INFINITY, f64::min)
    });
    if least.is_finite() { least } else { 0.0 }
}

/// The knee: the choice that lies farthest below the straight line between the ends, both axes from 0 to 1.
///
/// None where fewer than three choices are, or none lies below by a twentieth.
///
/// Source: this tool's own choice of a common construction.
fn knee(choices: &[Choice]) -> Option<usize> {
    let (first, last) = (choices.first()?, choices.last()?);
    let (wide, high) = (
        last.volume - first.volume,
        f64::from(first.left) - f64::from(last.left),
    );
    if choices.len() < 3 || wide <= 0.0 || high <= 0.0 {
        return None;
    }
    let below = |one: &Choice| {
        1.0 - (one.volume - first.volume) / wide
            - (f64::from(one.left) - f64::from(last.left)) / high
    };
    let (index, depth) = choices
        .iter()
        .enumerate()
        .map(|(index, one)| (index, below(one)))
        .max_by(|(i, a), (j, b)| a.total_cmp(b).then(j.cmp(i)))?;
    (depth > 0.05).then_some(index)
}

#[cfg(test)]
#[path = "tradeoff_tests.rs"]
mod tests;
