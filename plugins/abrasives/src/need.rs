//! How deep the steel has to go, and where: the whole surface, single scratches, fields of pits.

use tangmark_author::passes::Logged;
use tangmark_core::record::{Face, Flaw, FlawKind, Operation, Sheet, Standing, Term as _, Zone};
use tangmark_measure::Estimate;
use tangmark_measure::decision::GUARD_95;

use crate::settings::{FieldDepths, Settings};
use crate::surface::{Body, FACES, in_zones, plane_of};

/// Most steps by which one field of pits is cleared.
const LEVELS: u32 = 12;

/// Depth per face and slice, µm.
pub(crate) type Depths = Vec<[f64; FACES.len()]>;

/// A step of clearing a field of pits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Level {
    /// Depth to go down to, guard and all, µm.
    pub(crate) depth: f64,
    /// Pits of the field that are then gone.
    pub(crate) cleared: u32,
}

/// A field of pits.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Field {
    /// Key of the flaw.
    pub(crate) id: String,
    /// Pointer into the sheet.
    pub(crate) pointer: String,
    /// Zone.
    pub(crate) zone: Zone,
    /// Faces of [`FACES`] on which it lies.
    pub(crate) faces: Vec<usize>,
    /// Start along the blade, mm.
    pub(crate) from: f64,
    /// End along the blade, mm.
    pub(crate) to: f64,
    /// Depths of its pits, from the shallowest, µm.
    pub(crate) pits: Vec<Estimate>,
    /// Steps of clearing it, from the first.
    pub(crate) levels: Vec<Level>,
    /// Its zone is one that the work is on.
    pub(crate) worked: bool,
    /// Pits that lie deeper than the limit of the zone and stay.
    pub(crate) beyond_limit: u32,
}

/// What has to go.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Need {
    /// Zones to be worked.
    pub(crate) zones: Vec<Zone>,
    /// Depth over the whole of them, µm.
    pub(crate) surface: Estimate,
    /// What that rests on, for people.
    pub(crate) surface_from: String,
    /// Fields of pits whose depth is known.
    pub(crate) fields: Vec<Field>,
    /// Single scratches that always go: id, pointer, faces, from, to, depth µm.
    pub(crate) scratches: Vec<Field>,
    /// What would have to be measured.
    pub(crate) missing: Vec<(String, String)>,
    /// Flaws on the tang that no plan touches.
    pub(crate) on_tang: Vec<String>,
}

/// Zones that the plan of the blade works with a stone; all but the tang where it says nothing.
pub(crate) fn zones(sheet: &Sheet) -> Vec<Zone> {
    let mut found: Vec<Zone> = Vec::new();
    let stages = sheet.plan.iter().flat_map(|plan| &plan.stages);
    for stage in stages.filter(|stage| stone_work(stage.operation)) {
        for zone in stage.zones.iter().filter(|zone| **zone != Zone::Tang) {
            if !found.contains(zone) {
                found.push(*zone);
            }
        }
    }
    if found.is_empty() {
        found = vec![
            Zone::Edge,
            Zone::Ground,
            Zone::Ridge,
            Zone::Back,
            Zone::Point,
        ];
    }
    found.sort_unstable();
    found
}

/// Work that takes steel with a stone.
pub(crate) const fn stone_work(operation: Operation) -> bool {
    matches!(
        operation,
        Operation::Grind
            | Operation::Polish
            | Operation::FingerFinish
            | Operation::PointFinish
            | Operation::Whiten
    )
}

/// Collects the need of a blade.
///
/// `left_by_last` is the depth that the last stone left behind, when it was used after the examination.
pub(crate) fn collect(
    sheet: &Sheet,
    body: &Body,
    settings: &Settings,
    left_by_last: Option<(f64, &str)>,
) -> Need {
    let zones = zones(sheet);
    let (surface, surface_from) = match (left_by_last, &sheet.examination) {
        (Some((depth, stone)), _) => (depth, format!("what `{stone}` left behind")),
        (None, Some(examination)) => {
            let grade = examination.surface;
            (
                settings.surface_depth(grade),
                format!("surface noted as {}", grade.key().replace('_', " ")),
            )
        }
        (None, None) => (
            0.0,
            "no examination, so nothing over the whole surface".to_owned(),
        ),
    };
    let surface = Estimate::rectangular(surface, surface * settings.surface_depth_percent / 100.0);
    let mut need = Need {
        zones,
        surface,
        surface_from,
        fields: Vec::new(),
        scratches: Vec::new(),
        missing: Vec::new(),
        on_tang: Vec::new(),
    };
    if sheet.examination.is_none() {
        need.missing.push((
            "the examination with the grade of the surface".to_owned(),
            String::new(),
        ));
    }
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        if flaw.standing == Standing::RuledOut
            || !matches!(flaw.kind, FlawKind::Pits | FlawKind::Scratches)
        {
            continue;
        }
        let pointer = format!("/flaws/{index}");
        if flaw.zone == Zone::Tang {
            need.on_tang.push(flaw.id.as_str().to_owned());
            continue;
        }
        let Some(depth) = &flaw.depth else {
            need.missing.push((
                format!(
                    "depth of `{}` (depth gauge, focus of a microscope or replica)",
                    flaw.id
                ),
                pointer,
            ));
            continue;
        };
        let depth = Estimate::from(&depth.0).scaled(1_000.0);
        let Some(field) = field(flaw, pointer, depth, body, settings, &need.zones) else {
            continue;
        };
        match flaw.kind {
            FlawKind::Scratches => need.scratches.push(field),
            _ => need.fields.push(field),
        }
    }
    need
}

fn field(
    flaw: &Flaw,
    pointer: String,
    depth: Estimate,
    body: &Body,
    settings: &Settings,
    zones: &[Zone],
) -> Option<Field> {
    let at = flaw.at.to_f64();
    let half = extent(flaw) / 2.0;
    let in_point = body
        .slices
        .iter()
        .any(|slice| slice.in_point && (slice.at - at).abs() <= slice.along);
    let plane = match plane_of(flaw.zone) {
        Some(plane) => plane,
        None if in_point || flaw.zone == Zone::Point => crate::surface::Plane::Bevel,
        None => return None,
    };
    let faces: Vec<usize> = (0..FACES.len())
        .filter(|index| {
            let (one, side) = FACES[*index];
            one == plane && side.is_none_or(|side| on_side(&flaw.faces, side))
        })
        .collect();
    let count = if flaw.kind == FlawKind::Scratches {
        1
    } else {
        flaw.count.unwrap_or(1).max(1)
    };
    let pits = depths(depth, count, settings.field_depths);
    let limit = settings.zone_limit_um.get(flaw.zone.key()).copied();
    let (levels, beyond_limit) = levels(&pits, limit);
    Some(Field {
        id: flaw.id.as_str().to_owned(),
        pointer,
        zone: flaw.zone,
        faces,
        from: (at - half).max(0.0),
        to: (at + half).min(body.length),
        pits,
        levels,
        worked: in_zones(plane, in_point, zones),
        beyond_limit,
    })
}

/// A flaw that names only a narrow side counts for both faces there.
fn on_side(faces: &[Face], side: Face) -> bool {
    let flat = |face: &Face| matches!(face, Face::Omote | Face::Ura);
    faces.contains(&side) || !faces.iter().any(flat)
}

/// Extent along the blade, mm: as measured, from area and width, or the diameter of a round patch.
fn extent(flaw: &Flaw) -> f64 {
    if let Some(length) = &flaw.length {
        return length.to_f64().max(0.0);
    }
    let Some(area) = flaw.area.as_ref().map(|area| area.to_f64().max(0.0)) else {
        return 1.0;
    };
    match flaw
        .width
        .as_ref()
        .map(|width| width.to_f64())
        .filter(|width| *width > 0.0)
    {
        Some(width) => area / width,
        None => 2.0 * libm::sqrt(area / std::f64::consts::PI),
    }
}

/// Depths of the pits of a field of which only the deepest was measured, from the shallowest.
///
/// Source: own assumption; when the others lie evenly between nothing and the deepest d, the i-th of n is at d·i/n with
/// the variance of a Beta(i, n − i) variable, d²·i(n − i)/(n²(n + 1)).
fn depths(deepest: Estimate, count: u32, rule: FieldDepths) -> Vec<Estimate> {
    // A field of thousands is as well described by a few hundred.
    let count = count.min(500);
    let n = f64::from(count);
    (1..=count)
        .map(|index| match rule {
            FieldDepths::AllDeepest => deepest,
            FieldDepths::Even => {
                let share = f64::from(index) / n;
                let spread = deepest.value * libm::sqrt(share * (1.0 - share) / (n + 1.0));
                deepest.scaled(share).with_added(spread)
            }
        })
        .collect()
}

/// Steps of clearing: each goes down to a pit's depth with the guard of 1.645 u, so that it is gone with 95 %.
fn levels(pits: &[Estimate], limit: Option<f64>) -> (Vec<Level>, u32) {
    let guarded = |pit: &Estimate| pit.value + GUARD_95 * pit.standard_uncertainty;
    let deepest = pits.last().map_or(0.0, guarded);
    let mut reached = 0.0_f64;
    let mut all: Vec<Level> = Vec::new();
    let mut cleared = 0;
    for pit in pits {
        reached = reached.max(guarded(pit).min(deepest));
        cleared += 1;
        match all.last_mut() {
            Some(last) if last.depth.total_cmp(&reached).is_eq() => last.cleared = cleared,
            _ => all.push(Level {
                depth: reached,
                cleared,
            }),
        }
    }
    let mut beyond = 0;
    if let Some(limit) = limit {
        all.retain(|level| level.depth <= limit);
        beyond = cleared - all.last().map_or(0, |level| level.cleared);
    }
    let found = u32::try_from(all.len()).unwrap_or(u32::MAX);
    if found > LEVELS {
        let wanted: Vec<u32> = (1..=LEVELS).map(|step| step * found / LEVELS - 1).collect();
        let mut index = 0_u32;
        all.retain(|_| {
            index += 1;
            wanted.contains(&(index - 1))
        });
    }
    (all, beyond)
}

/// Depth of a lowered place at `at`: whole over the place itself, led back to nothing over the fairing to either side.
pub(crate) fn faired(at: f64, from: f64, to: f64, fairing: f64) -> f64 {
    let outside = (from - at).max(at - to).max(0.0);
    if outside <= 0.0 {
        1.0
    } else if outside >= fairing {
        0.0
    } else {
        1.0 - outside / fairing
    }
}

impl Need {
    /// Depth that goes in any case: the surface of the worked zones, and scratches.
    pub(crate) fn base(&self, body: &Body, fairing: f64) -> Depths {
        let mut depths: Depths = body
            .slices
            .iter()
            .map(|slice| {
                std::array::from_fn(|face| {
                    let worked = in_zones(FACES[face].0, slice.in_point, &self.zones);
                    if worked { self.surface.value } else { 0.0 }
                })
            })
            .collect();
        for scratch in &self.scratches {
            if let Some(level) = scratch.levels.last() {
                lower(&mut depths, body, scratch, level.depth, fairing);
            }
        }
        depths
    }
}

/// Lowers a place and leads it back into the face; what lies deeper already stays.
pub(crate) fn lower(depths: &mut Depths, body: &Body, field: &Field, depth: f64, fairing: f64) {
    for (slice, here) in body.slices.iter().zip(depths.iter_mut()) {
        // A place narrower than a slice still counts where its middle lies.
        let middle = f64::midpoint(field.from, field.to);
        let (from, to) = if (slice.at - middle).abs() <= slice.along / 2.0 {
            (slice.at, slice.at)
        } else {
            (field.from, field.to)
        };
        let share = faired(slice.at, from, to, fairing);
        for face in &field.faces {
            here[*face] = here[*face].max(depth * share);
        }
    }
}

/// Volume under depths, mm³.
pub(crate) fn volume(body: &Body, depths: &Depths) -> f64 {
    body.slices
        .iter()
        .zip(depths)
        .map(|(slice, here)| {
            let across: f64 = slice
                .widths
                .iter()
                .zip(here)
                .map(|(width, depth)| width * depth)
                .sum();
            across * slice.along / 1_000.0
        })
        .sum()
}

/// The pass that tells what the surface is like now: the last stone work logged after the day of the examination.
pub(crate) fn last_stone_pass<'a>(
    sheet: &Sheet,
    passes: &[Logged<'a>],
) -> Option<&'a tangmark_core::record::Pass> {
    let examined = sheet.examination.as_ref().map(|one| one.on.last_day());
    passes
        .iter()
        .rev()
        .map(|one| one.pass)
        .find(|pass| stone_work(pass.operation) && pass.abrasive.is_some())
        .filter(|pass| examined.is_none_or(|day| pass.on.first_day() > day))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_field_is_spread_evenly_below_its_deepest() {
        let pits = depths(Estimate::new(40.0, 10.0), 4, FieldDepths::Even);
        let values: Vec<f64> = pits.iter().map(|one| one.value).collect();
        assert_eq!(values, [10.0, 20.0, 30.0, 40.0]);
        // The deepest was measured: its doubt is that of the reading alone.
        assert!((pits[3].standard_uncertainty - 10.0).abs() < 1e-12);
        // Beta(2, 2): variance 1/20; 40 mm times its root, and half the doubt of the reading.
        let expected = (1_600.0_f64 / 20.0 + 25.0).sqrt();
        assert!((pits[1].standard_uncertainty - expected).abs() < 1e-12);
        let all = depths(Estimate::new(40.0, 10.0), 4, FieldDepths::AllDeepest);
        assert!(all.iter().all(|one| (one.value - 40.0).abs() < 1e-12));
        let (levels, _) = levels(&all, None);
        assert_eq!(
            levels,
            [Level {
                depth: 40.0 + 1.645 * 10.0,
                cleared: 4
            }]
        );
    }

    #[test]
    fn a_limit_of_the_zone_leaves_the_deeper_pits() {
        let pits: Vec<Estimate> = [10.0, 20.0, 30.0].map(Estimate::exact).to_vec();
        let (kept, beyond) = levels(&pits, Some(20.0));
        assert_eq!((kept.len(), kept[1].cleared, beyond), (2, 2, 1));
        let (none, beyond) = levels(&pits, Some(9.9));
        assert_eq!((none.len(), beyond), (0, 3));
    }

    proptest! {
        #[test]
        fn steps_of_clearing_go_deeper_and_clear_more(depth in 1.0..300.0_f64, u in 0.0..50.0_f64, count in 1_u32..2_000) {
            let pits = depths(Estimate::new(depth, u), count, FieldDepths::Even);
            let (levels, beyond) = levels(&pits, None);
            prop_assert_eq!(beyond, 0);
            prop_assert!(!levels.is_empty() && levels.len() <= 12);
            prop_assert!(levels.windows(2).all(|pair| pair[0].depth < pair[1].depth && pair[0].cleared < pair[1].cleared));
            let last = levels[levels.len() - 1];
            prop_assert_eq!(last.cleared, count.min(500));
            prop_assert!((last.depth - (depth + 1.645 * u)).abs() < 1e-9);
        }

        #[test]
        fn fairing_is_whole_inside_and_nothing_outside(at in -100.0..100.0_f64, fairing in 0.0..60.0_f64) {
            let share = faired(at, -10.0, 10.0, fairing);
            prop_assert!((0.0..=1.0).contains(&share));
            if at.abs() <= 10.0 { prop_assert!(share >= 1.0); }
            if at.abs() >= 10.0 + fairing && at.abs() > 10.0 { prop_assert!(share <= 0.0); }
        }
    }
}
