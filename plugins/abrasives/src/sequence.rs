//! The sequence of stones that takes least steel, and among those the one that takes least time.
//!
//! A stone leaves scratches of depth σ = a·D50 and below them a damaged layer of b·σ; sound steel begins at
//! δ = (1 + b)·σ. A stage may stop as soon as what is still to go is no more than its own δ, since the stones after it
//! take that; but it takes at least the σ that the stage before left, or its scratches would stay. After a stage exactly
//! δ of its stone is left to go, whatever came before, so that dynamic programming over the stones is exact.
//!
//! Source: own model on working rules of metallography, from memory.

/// What the sequence needs to know of a stone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Candidate {
    /// Median grain size, µm.
    pub(crate) d50: f64,
    /// Depth of its scratches, µm.
    pub(crate) scratch: f64,
    /// Depth at which sound steel begins below them and their damage, µm.
    pub(crate) damage: f64,
    /// Rate, mm³/min.
    pub(crate) rate: f64,
}

/// What steps count for beside the steel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rules {
    /// Preferred least ratio of successive D50.
    pub(crate) least_ratio: f64,
    /// Preferred greatest ratio.
    pub(crate) greatest_ratio: f64,
    /// What a step outside counts for, min.
    pub(crate) breach_minutes: f64,
    /// Washing, checking and changing, min a stage.
    pub(crate) change_minutes: f64,
}

/// Areas with the depth that has to go there.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Ground {
    /// Area in mm² and depth in µm.
    pub(crate) cells: Vec<(f64, f64)>,
}

impl Ground {
    /// Greatest depth, µm.
    pub(crate) fn deepest(&self) -> f64 {
        self.cells.iter().map(|cell| cell.1).fold(0.0, f64::max)
    }

    /// Volume between two depths left to go, mm³.
    pub(crate) fn between(&self, from: f64, to: f64) -> f64 {
        self.cells
            .iter()
            .map(|(area, depth)| area * (depth.min(from) - to).max(0.0))
            .sum::<f64>()
            / 1_000.0
    }

    /// Area on which more than `depth` has to go, mm².
    pub(crate) fn area_above(&self, depth: f64) -> f64 {
        self.cells
            .iter()
            .filter(|cell| cell.1 > depth)
            .map(|cell| cell.0)
            .sum()
    }
}

/// What a sequence costs; both whole numbers, so that sums are exact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Cost {
    /// Steel, thousandths of a mm³.
    pub(crate) steel: f64,
    /// Time with what breaches count for, thousandths of a minute.
    pub(crate) time: f64,
}

impl Cost {
    fn of(volume: f64, minutes: f64) -> Self {
        Self {
            steel: libm::round(volume * 1e3),
            time: libm::round(minutes * 1e3),
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            steel: self.steel + other.steel,
            time: self.time + other.time,
        }
    }

    /// Steel first, time second.
    pub(crate) fn compare(self, other: Self) -> std::cmp::Ordering {
        self.steel
            .total_cmp(&other.steel)
            .then(self.time.total_cmp(&other.time))
    }
}

/// One stage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Step {
    /// Greatest depth it takes anywhere, µm.
    pub(crate) takes: f64,
    /// Steel it takes, mm³.
    pub(crate) volume: f64,
    /// Area it works, mm².
    pub(crate) area: f64,
    /// Time, min, with the change of stones.
    pub(crate) minutes: f64,
    /// The step from the stone before lies outside the preferred ratios.
    pub(crate) breach: bool,
}

/// Works out a stage; `last` takes all that is left.
pub(crate) fn step(
    ground: &Ground,
    from: Option<&Candidate>,
    to: &Candidate,
    last: bool,
    rules: &Rules,
) -> Step {
    let before = from.map_or(f64::INFINITY, |one| one.damage);
    let after = if last { 0.0 } else { to.damage };
    let volume = ground.between(before, after);
    let deepest = ground.deepest().min(before);
    // The scratches of the stage before have to go, even where the stones lie close to each other.
    let least = from.map_or(0.0, |one| one.scratch);
    let short = (least - (before.min(1e12) - after)).max(0.0);
    let extra = from.map_or(0.0, |one| short * ground.area_above(one.damage)) / 1_000.0;
    let breach = from.is_some_and(|one| {
        let ratio = one.d50 / to.d50;
        ratio < rules.least_ratio || ratio > rules.greatest_ratio
    });
    Step {
        takes: (deepest - after).max(0.0) + short,
        volume: volume + extra,
        area: ground.area_above(after),
        minutes: (volume + extra) / to.rate + rules.change_minutes,
        breach,
    }
}

fn cost(step: &Step, rules: &Rules) -> Cost {
    let breach = if step.breach {
        rules.breach_minutes
    } else {
        0.0
    };
    Cost::of(step.volume, step.minutes + breach)
}

/// A sequence: places in the list of candidates, in order, and what it costs.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Sequence {
    /// Places in the list of candidates.
    pub(crate) order: Vec<usize>,
    /// Cost.
    pub(crate) cost: Cost,
}

/// Finds the best sequence that ends with `target`.
///
/// Stones go from coarse to fine; the first is no coarser than the need: its scratches and damage end above the deepest
/// place that has to go, unless it is the target itself. Among equals the one with fewer stages, then the one whose
/// stones come first in the list.
pub(crate) fn best(
    candidates: &[Candidate],
    target: usize,
    ground: &Ground,
    rules: &Rules,
) -> Option<Sequence> {
    let end = candidates.get(target)?;
    let mut coarse_first: Vec<usize> = (0..candidates.len())
        .filter(|index| *index == target || candidates[*index].d50 > end.d50)
        .collect();
    coarse_first.sort_by(|a, b| {
        candidates[*b]
            .d50
            .total_cmp(&candidates[*a].d50)
            .then(a.cmp(b))
    });
    let deepest = ground.deepest();
    let mut reached: Vec<Option<Sequence>> = vec![None; candidates.len()];
    for to in &coarse_first {
        let (stone, last) = (&candidates[*to], *to == target);
        let mut found: Option<Sequence> = None;
        if last || stone.damage < deepest {
            let first = step(ground, None, stone, last, rules);
            found = Some(Sequence {
                order: vec![*to],
                cost: cost(&first, rules),
            });
        }
        for from in &coarse_first {
            let before = &candidates[*from];
            let Some(start) = reached[*from].as_ref().filter(|_| before.d50 > stone.d50) else {
                continue;
            };
            let next = step(ground, Some(before), stone, last, rules);
            let mut order = start.order.clone();
            order.push(*to);
            let sequence = Sequence {
                order,
                cost: start.cost.plus(cost(&next, rules)),
            };
            if found.as_ref().is_none_or(|best| better(&sequence, best)) {
                found = Some(sequence);
            }
        }
        reached[*to] = found;
    }
    reached[target].take()
}

fn better(one: &Sequence, other: &Sequence) -> bool {
    one.cost
        .compare(other.cost)
        .then(one.order.len().cmp(&other.order.len()))
        .then_with(|| one.order.cmp(&other.order))
        .is_lt()
}

/// The stages of a sequence.
pub(crate) fn steps(
    candidates: &[Candidate],
    order: &[usize],
    ground: &Ground,
    rules: &Rules,
) -> Vec<Step> {
    order
        .iter()
        .enumerate()
        .map(|(place, to)| {
            let from = place
                .checked_sub(1)
                .map(|before| &candidates[order[before]]);
            step(
                ground,
                from,
                &candidates[*to],
                place + 1 == order.len(),
                rules,
            )
        })
        .collect()
}

#[cfg(test)]
#[path = "sequence_tests.rs"]
mod tests;
