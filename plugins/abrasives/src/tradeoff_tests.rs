#![allow(clippy::unwrap_used)]
use super::*;
use crate::need::Level;
use crate::surface::{FACES, Slice};
use proptest::prelude::*;
use tangmark_core::record::Zone;
use tangmark_measure::section::SectionForm;

/// A flat bar with faces 10 mm wide, 100 mm long.
fn bar() -> Body {
    let slices = (0..100_u8)
        .map(|index| Slice {
            at: f64::from(index) + 0.5,
            along: 1.0,
            widths: [10.0; FACES.len()],
            in_point: false,
        })
        .collect();
    Body {
        form: SectionForm::Diamond,
        slices,
        length: 100.0,
    }
}

fn field(id: &str, face: usize, from: f64, to: f64, depths: &[f64]) -> Field {
    let pits: Vec<Estimate> = depths.iter().map(|depth| Estimate::exact(*depth)).collect();
    let levels = (1..)
        .zip(depths)
        .map(|(cleared, depth)| Level {
            depth: *depth,
            cleared,
        })
        .collect();
    Field {
        id: id.to_owned(),
        pointer: String::new(),
        zone: Zone::Ground,
        faces: vec![face],
        from,
        to,
        pits,
        levels,
        worked: true,
        beyond_limit: 0,
    }
}

fn need(surface: f64, fields: Vec<Field>) -> Need {
    Need {
        zones: vec![Zone::Ground],
        surface: Estimate::exact(surface),
        surface_from: String::new(),
        fields,
        scratches: Vec::new(),
        missing: Vec::new(),
        on_tang: Vec::new(),
    }
}

#[test]
fn without_fairing_a_pit_costs_its_own_box() {
    let need = need(
        0.0,
        vec![
            field("a", 0, 20.0, 30.0, &[10.0, 20.0]),
            field("b", 0, 60.0, 70.0, &[40.0]),
        ],
    );
    let curve = curve(&need, &bar(), 0.0);
    // 10 mm by 10 mm: 1 mm³ for 10 µm.
    let found: Vec<(u32, String)> = curve
        .choices
        .iter()
        .map(|one| (one.left, format!("{:.6}", one.volume)))
        .collect();
    let expected = [
        (3, "0.000000"),
        (2, "1.000000"),
        (1, "2.000000"),
        (0, "6.000000"),
    ];
    assert_eq!(
        found,
        expected.map(|(left, volume)| (left, volume.to_owned()))
    );
    assert_eq!(
        curve.knee,
        Some(2),
        "the last pit costs four where two cost two"
    );
    assert!(!curve.in_common_steps);
    assert!((curve.choices[1].expected_left.value - 2.0).abs() < 1e-12);
}

#[test]
fn what_goes_anyway_clears_shallow_pits_for_nothing_and_neighbours_share() {
    // The surface takes 12 µm: the pit of 10 µm is gone with it.
    let one = need(12.0, vec![field("a", 0, 20.0, 30.0, &[10.0, 20.0])]);
    let curve_one = curve(&one, &bar(), 0.0);
    assert_eq!(
        curve_one
            .choices
            .iter()
            .map(|one| one.left)
            .collect::<Vec<_>>(),
        [1, 0]
    );
    // Two places that touch cost less together than apart.
    let apart = need(
        0.0,
        vec![
            field("a", 0, 20.0, 30.0, &[20.0]),
            field("b", 1, 24.0, 34.0, &[20.0]),
        ],
    );
    let touching = need(
        0.0,
        vec![
            field("a", 0, 20.0, 30.0, &[20.0]),
            field("b", 0, 24.0, 34.0, &[20.0]),
        ],
    );
    let last = |need: &Need| curve(need, &bar(), 5.0).choices.last().unwrap().volume;
    assert!(last(&touching) < 0.8 * last(&apart));
    assert_eq!(groups(&touching.fields, 5.0), [[0, 1].to_vec()]);
    assert_eq!(groups(&apart.fields, 5.0).len(), 2);
}

#[test]
fn many_fields_that_touch_go_down_by_common_steps() {
    let steps = [5.0, 10.0, 15.0, 20.0];
    let fields = (0..8_u8)
        .map(|index| {
            field(
                "x",
                0,
                f64::from(index) * 10.0,
                f64::from(index) * 10.0 + 5.0,
                &steps,
            )
        })
        .collect();
    let many = curve(&need(0.0, fields), &bar(), 20.0);
    assert!(many.in_common_steps);
    assert_eq!(many.choices.last().unwrap().left, 0);
    assert_eq!(many.choices.len(), 5);
}

proptest! {
    /// Against every combination of steps, with fields that may touch.
    #[test]
    fn no_choice_is_beaten(a in prop::collection::vec(1.0..60.0_f64, 1..4), b in prop::collection::vec(1.0..60.0_f64, 1..4),
        c in prop::collection::vec(1.0..60.0_f64, 1..3), places in prop::array::uniform3(0.0..90.0_f64), surface in 0.0..20.0_f64) {
        let sorted = |mut depths: Vec<f64>| { depths.sort_by(f64::total_cmp); depths };
        let all = [sorted(a), sorted(b), sorted(c)];
        let fields: Vec<Field> = (0..3).map(|index| field("x", index % 2, places[index], places[index] + 8.0, &all[index])).collect();
        let need = need(surface, fields);
        let body = bar();
        let found = curve(&need, &body, 15.0);
        let base = need.base(&body, 15.0);
        let total: u32 = all.iter().map(|one| count(one.len())).sum();
        for step in every_step(&need.fields.iter().collect::<Vec<_>>()) {
            let mut depths = base.clone();
            let mut cleared = 0;
            for (field, step) in need.fields.iter().zip(step) {
                if let Some(level) = step.checked_sub(1).map(|step| field.levels[step]) {
                    lower(&mut depths, &body, field, level.depth, 15.0);
                    cleared += level.cleared;
                }
            }
            let cost = volume(&body, &depths);
            let as_good = found.choices.iter().any(|one| one.left <= total - cleared && one.volume <= cost + 2e-6);
            prop_assert!(as_good, "{cleared} cleared for {cost} is missed");
        }
        prop_assert!(found.choices.windows(2).all(|pair| pair[0].volume < pair[1].volume && pair[0].left > pair[1].left));
    }
}
