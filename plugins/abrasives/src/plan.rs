//! The plan of a blade: which pits, which stones, how much steel and time each stage takes.

use std::collections::BTreeMap;

use tangmark_author::words::list;
use tangmark_core::record::Sheet;
use tangmark_measure::Estimate;
use tangmark_measure::decision::GUARD_95;

use crate::grit::{grade, quoted};
use crate::need::{Depths, Need, lower, stone_work};
use crate::rates::Learned;
use crate::sequence::{Candidate, Ground, Rules, Step, best, steps};
use crate::settings::{Pits, Settings};
use crate::stones::{Stone, meant};
use crate::surface::{Body, steel};
use crate::tradeoff::{Choice, Curve};

/// A stage of the plan.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stage {
    /// Place of the stone in the table.
    pub(crate) stone: usize,
    /// What it takes.
    pub(crate) step: Step,
    /// Steel, g.
    pub(crate) steel: Estimate,
    /// Steel of this stage and all before it, g.
    pub(crate) so_far: Estimate,
    /// Time, min, with the change of stones.
    pub(crate) minutes: Estimate,
}

/// The plan.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plan {
    /// Stages in order.
    pub(crate) stages: Vec<Stage>,
    /// Depth that goes, per slice and face, µm.
    pub(crate) depths: Depths,
    /// Greatest depth that goes anywhere, µm.
    pub(crate) deepest: f64,
    /// Place of the target stone in the table.
    pub(crate) target: usize,
    /// Why that stone is the target.
    pub(crate) target_from: String,
}

impl Plan {
    /// All steel that goes, g.
    pub(crate) fn total(&self) -> Estimate {
        self.stages
            .last()
            .map_or(Estimate::exact(0.0), |stage| stage.so_far)
    }

    /// All time, min.
    pub(crate) fn minutes(&self) -> Estimate {
        self.stages.iter().map(|stage| stage.minutes).sum()
    }
}

/// How a grain size becomes depths, each factor with its doubt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Factors {
    /// Scratch depth over D50.
    pub(crate) scratch: f64,
    /// Damaged layer below the scratches over their depth.
    pub(crate) damage: f64,
}

impl Factors {
    pub(crate) fn of(settings: &Settings) -> Self {
        Self {
            scratch: settings.scratch_per_d50,
            damage: settings.damage_per_scratch,
        }
    }

    /// Depth of scratches and of sound steel below them, µm.
    pub(crate) fn depths(self, d50: f64) -> (f64, f64) {
        let scratch = self.scratch * d50;
        (scratch, scratch * (1.0 + self.damage))
    }
}

/// Stones with a grain size as candidates; the coarse end of a range counts for what they leave behind.
fn candidates(
    stones: &[Stone],
    learned: &Learned,
    factors: Factors,
    scales: &BTreeMap<usize, f64>,
) -> (Vec<usize>, Vec<Candidate>) {
    let mut places = Vec::new();
    let mut all = Vec::new();
    for (index, stone) in stones.iter().enumerate() {
        let (Some(grain), Some(rate)) = (stone.grain, learned.rate(index)) else {
            continue;
        };
        let scale = scales.get(&index).copied().unwrap_or(1.0);
        let (scratch, damage) = factors.depths(grain.high * scale);
        places.push(index);
        all.push(Candidate {
            d50: grain.nominal,
            scratch,
            damage,
            rate: rate.median(),
        });
    }
    (places, all)
}

/// Areas and depths for a choice.
pub(crate) fn depths(need: &Need, body: &Body, chosen: &[f64], fairing: f64) -> Depths {
    let mut depths = need.base(body, fairing);
    for (field, depth) in need
        .fields
        .iter()
        .zip(chosen)
        .filter(|(_, depth)| **depth > 0.0)
    {
        lower(&mut depths, body, field, *depth, fairing);
    }
    depths
}

fn ground(body: &Body, depths: &Depths) -> Ground {
    // Cells of the same depth are one; positive numbers are ordered as their bits are.
    let mut areas: BTreeMap<u64, f64> = BTreeMap::new();
    for (slice, here) in body.slices.iter().zip(depths) {
        for (width, depth) in slice.widths.iter().zip(here) {
            let area = width * slice.along;
            if *depth > 0.0 && area > 0.0 {
                *areas.entry(depth.to_bits()).or_insert(0.0) += area;
            }
        }
    }
    Ground {
        cells: areas
            .into_iter()
            .map(|(depth, area)| (area, f64::from_bits(depth)))
            .collect(),
    }
}

/// Picks the stone that the work ends with, and says why.
pub(crate) fn target(
    sheet: &Sheet,
    stones: &[Stone],
    settings: &Settings,
) -> Option<(usize, String)> {
    let sized = || {
        stones
            .iter()
            .enumerate()
            .filter_map(|(index, stone)| Some((index, stone.grain?.nominal)))
    };
    let reaching = |limit: f64| {
        let fine = sized().filter(|(_, size)| *size <= limit * (1.0 + 1e-9));
        fine.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
            .map(|one| one.0)
    };
    let finest = || {
        sized()
            .min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)))
            .map(|one| one.0)
    };
    let stages = sheet.plan.iter().flat_map(|plan| &plan.stages).rev();
    let named = stages
        .filter(|stage| stone_work(stage.operation))
        .find_map(|stage| stage.abrasive.as_ref());
    if let Some(abrasive) = named {
        if let Some(index) = meant(stones, abrasive).filter(|index| stones[*index].grain.is_some())
        {
            return Some((index, "the last stage of the blade's plan".to_owned()));
        }
        let stated = abrasive.d50.as_ref().map(|size| size.to_f64() * 1_000.0);
        let listed = || {
            abrasive
                .grit
                .as_ref()
                .and_then(|grit| grade(grit.system, grit.number, None).ok())
                .map(|grade| grade.d50)
        };
        if let Some(size) = stated.or_else(listed)
            && let Some(index) = reaching(size)
        {
            return Some((
                index,
                format!(
                    "the first stone as fine as the last stage of the blade's plan, {size:.1} µm"
                ),
            ));
        }
    }
    if let Some(limit) = settings.target_d50_um {
        return Some(match reaching(limit) {
            Some(index) => (
                index,
                format!("the first stone as fine as the setting target_d50_um, {limit} µm"),
            ),
            None => (
                finest()?,
                format!(
                    "the finest stone, though none reaches the setting target_d50_um, {limit} µm"
                ),
            ),
        });
    }
    Some((
        finest()?,
        "the finest stone, since neither the blade's plan nor a setting names a finish".to_owned(),
    ))
}

/// Everything that a plan is made from.
pub(crate) struct Bench<'a> {
    /// The sheet.
    pub(crate) sheet: &'a Sheet,
    /// The blade.
    pub(crate) body: &'a Body,
    /// What has to go.
    pub(crate) need: &'a Need,
    /// The stones.
    pub(crate) stones: &'a [Stone],
    /// Their rates.
    pub(crate) learned: &'a Learned,
    /// Settings.
    pub(crate) settings: &'a Settings,
}

impl Bench<'_> {
    fn rules(&self) -> Rules {
        Rules {
            least_ratio: self.settings.least_ratio,
            greatest_ratio: self.settings.greatest_ratio,
            breach_minutes: self.settings.ratio_breach_minutes,
            change_minutes: self.settings.change_minutes,
        }
    }

    /// Plans for the depths of a choice; `None` where nothing has to go or no stone has a grain size.
    pub(crate) fn plan(&self, chosen: &[f64]) -> Option<Plan> {
        let (target, target_from) = target(self.sheet, self.stones, self.settings)?;
        let depths = depths(self.need, self.body, chosen, self.settings.fairing_mm);
        let ground = ground(self.body, &depths);
        if ground.deepest() <= 0.0 {
            return None;
        }
        let factors = Factors::of(self.settings);
        let (places, all) = candidates(self.stones, self.learned, factors, &BTreeMap::new());
        let end = places.iter().position(|index| *index == target)?;
        let sequence = best(&all, end, &ground, &self.rules())?;
        let stages = steps(&all, &sequence.order, &ground, &self.rules());
        let used: Vec<usize> = sequence.order.iter().map(|index| places[*index]).collect();
        let (own, so_far) = self.doubts(chosen, &used, &stages);
        let stages = used
            .iter()
            .zip(stages)
            .zip(own.into_iter().zip(so_far))
            .map(|((stone, step), (own, so_far))| {
                let percent = self.settings.surface_model_percent;
                let working = (step.minutes - self.settings.change_minutes).max(0.0);
                let rate = self.learned.rate(*stone).map_or(0.0, |rate| rate.log_sd);
                Stage {
                    stone: *stone,
                    step,
                    steel: steel(own, percent),
                    so_far: steel(so_far, percent),
                    minutes: Estimate::new(
                        step.minutes,
                        working * libm::hypot(rate, own.relative().min(1.0)),
                    ),
                }
            })
            .collect();
        Some(Plan {
            stages,
            depths,
            deepest: ground.deepest(),
            target,
            target_from,
        })
    }

    /// Volumes of the stages, each alone and up to there, mm³, with the doubts of the factors, of the grain sizes and of
    /// the depth over the whole surface; the order of the stones stays.
    fn doubts(
        &self,
        chosen: &[f64],
        used: &[usize],
        stages: &[Step],
    ) -> (Vec<Estimate>, Vec<Estimate>) {
        let settings = self.settings;
        let ground_at = |surface: f64| {
            let mut need = self.need.clone();
            need.surface.value = surface.max(0.0);
            let depths = depths(&need, self.body, chosen, settings.fairing_mm);
            ground(self.body, &depths)
        };
        let as_planned = ground_at(self.need.surface.value);
        let volumes =
            |factors: Factors, scales: &BTreeMap<usize, f64>, ground: &Ground| -> Vec<f64> {
                let (places, all) = candidates(self.stones, self.learned, factors, scales);
                let order: Vec<usize> = used
                    .iter()
                    .filter_map(|stone| places.iter().position(|index| index == stone))
                    .collect();
                steps(&all, &order, ground, &self.rules())
                    .iter()
                    .map(|step| step.volume)
                    .collect()
            };
        let (best, surface) = (Factors::of(settings), self.need.surface);
        let u_scratch =
            Estimate::rectangular(0.0, settings.scratch_per_d50_half_width).standard_uncertainty;
        let u_damage =
            Estimate::rectangular(0.0, settings.damage_per_scratch_half_width).standard_uncertainty;
        let none = BTreeMap::new();
        let mut pairs: Vec<(Vec<f64>, Vec<f64>)> = Vec::new();
        let scratch = |by: f64| {
            volumes(
                Factors {
                    scratch: best.scratch + by,
                    ..best
                },
                &none,
                &as_planned,
            )
        };
        let damage = |by: f64| {
            volumes(
                Factors {
                    damage: best.damage + by,
                    ..best
                },
                &none,
                &as_planned,
            )
        };
        pairs.push((scratch(u_scratch), scratch(-u_scratch)));
        pairs.push((damage(u_damage), damage(-u_damage)));
        let deep = |by: f64| volumes(best, &none, &ground_at(surface.value + by));
        pairs.push((
            deep(surface.standard_uncertainty),
            deep(-surface.standard_uncertainty),
        ));
        for stone in used {
            let doubt = self.stones[*stone]
                .grain
                .map_or(0.0, |grain| grain.estimate().relative());
            let scaled =
                |by: f64| volumes(best, &BTreeMap::from([(*stone, 1.0 + by)]), &as_planned);
            pairs.push((scaled(doubt), scaled(-doubt)));
        }
        let own = |pick: &dyn Fn(&[f64], usize) -> f64| -> Vec<Estimate> {
            let values: Vec<f64> = stages.iter().map(|step| step.volume).collect();
            (0..stages.len())
                .map(|index| {
                    let variance: f64 = pairs
                        .iter()
                        .map(|(up, down)| ((pick(up, index) - pick(down, index)) / 2.0).powi(2))
                        .sum();
                    Estimate::new(pick(&values, index), libm::sqrt(variance))
                })
                .collect()
        };
        (
            own(&|all, index| all.get(index).copied().unwrap_or(0.0)),
            own(&|all, index| all.iter().take(index + 1).sum()),
        )
    }

    /// Which choice of the curve the plan is drawn for: as the setting says, as far as what may still go lets it.
    ///
    /// `left` is what may still go, g, with its doubt.
    pub(crate) fn chosen<'c>(
        &self,
        curve: &'c Curve,
        left: Option<Estimate>,
    ) -> Option<&'c Choice> {
        let last = curve.choices.len().saturating_sub(1);
        let wanted = match self.settings.pits {
            Pits::Leave => 0,
            Pits::All => last,
            Pits::Knee => curve.knee.unwrap_or(last),
        };
        let fits = |index: &usize| {
            left.is_none_or(|left| {
                let takes = steel(
                    Estimate::exact(curve.choices[*index].volume),
                    self.settings.surface_model_percent,
                );
                let rest = takes - left;
                rest.value + GUARD_95 * rest.standard_uncertainty < 0.0
            })
        };
        let index = (0..=wanted).rev().find(fits).unwrap_or(0);
        curve.choices.get(index)
    }
}

/// Why a stone is not in the plan; `None` for one that is.
pub(crate) fn left_out(index: usize, plan: &Plan, bench: &Bench<'_>) -> Option<String> {
    if plan.stages.iter().any(|stage| stage.stone == index) {
        return None;
    }
    let stone = &bench.stones[index];
    let Some(grain) = stone.grain else {
        let quoted: Vec<String> = quoted()
            .into_iter()
            .filter(|one| Some(one.stage) == stone.stage)
            .map(|one| {
                let numbers = if one.low == one.high {
                    one.low.to_string()
                } else {
                    format!("{} to {}", one.low, one.high)
                };
                format!("{numbers} by {}", one.author)
            })
            .collect();
        let said = if quoted.is_empty() {
            String::new()
        } else {
            format!(
                "; quoted numbers, {}, have no system and are not turned into sizes",
                list(&quoted)
            )
        };
        return Some(format!("no grain size known, so it cannot be placed{said}"));
    };
    let (_, damage) = Factors::of(bench.settings).depths(grain.high);
    let end = bench.stones[plan.target]
        .grain
        .map_or(0.0, |grain| grain.nominal);
    Some(if grain.nominal <= end {
        "no coarser than the stone to end with".to_owned()
    } else if damage >= plan.deepest {
        format!(
            "too coarse to start: scratches and damage reach {damage:.1} µm, and {:.1} µm is the deepest that has to go",
            plan.deepest
        )
    } else {
        "would take more steel or more time than it saves".to_owned()
    })
}
