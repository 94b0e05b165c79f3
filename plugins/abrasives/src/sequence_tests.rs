#![allow(clippy::unwrap_used)]
use super::*;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};

const RULES: Rules = Rules {
    least_ratio: 1.5,
    greatest_ratio: 2.5,
    breach_minutes: 30.0,
    change_minutes: 10.0,
};

fn candidate(d50: f64, rate: f64) -> Candidate {
    Candidate {
        d50,
        scratch: 0.25 * d50,
        damage: d50,
        rate,
    }
}

fn even(area: f64, depth: f64) -> Ground {
    Ground {
        cells: vec![(area, depth)],
    }
}

#[test]
fn a_stage_leaves_its_own_damage_to_the_next() {
    let stones = [
        candidate(40.0, 4.0),
        candidate(20.0, 2.0),
        candidate(8.0, 1.0),
    ];
    let ground = even(10_000.0, 60.0);
    let found = best(&stones, 2, &ground, &RULES).unwrap();
    assert_eq!(found.order, [0, 1, 2]);
    let all = steps(&stones, &found.order, &ground, &RULES);
    assert_eq!(
        all.iter().map(|one| one.takes).collect::<Vec<_>>(),
        [20.0, 20.0, 20.0]
    );
    assert_eq!(
        all.iter().map(|one| one.minutes).collect::<Vec<_>>(),
        [60.0, 110.0, 210.0]
    );
    assert!(
        (found.cost.steel - 600e3).abs() < 1e-9,
        "no more goes than has to go"
    );
}

#[test]
fn no_start_is_coarser_than_the_need() {
    let stones = [
        candidate(40.0, 4.0),
        candidate(20.0, 2.0),
        candidate(8.0, 1.0),
    ];
    for (depth, expected) in [
        (41.0, vec![0, 1, 2]),
        (40.0, vec![1, 2]),
        (20.0, vec![2]),
        (5.0, vec![2]),
    ] {
        let rules = Rules {
            change_minutes: 0.0,
            ..RULES
        };
        assert_eq!(
            best(&stones, 2, &even(1_000.0, depth), &rules)
                .unwrap()
                .order,
            expected,
            "{depth}"
        );
    }
    // A change of stones that takes longer than it saves is left out.
    let slow = Rules {
        change_minutes: 60.0,
        ..RULES
    };
    assert_eq!(
        best(&stones, 2, &even(1_000.0, 41.0), &slow).unwrap().order,
        [2]
    );
}

#[test]
fn stones_close_to_each_other_cost_steel_and_wide_steps_are_marked() {
    let stones = [
        candidate(20.0, 2.0),
        candidate(18.0, 1.9),
        candidate(8.0, 0.01),
    ];
    let ground = even(1_000.0, 30.0);
    let close = steps(&stones, &[0, 1, 2], &ground, &RULES);
    // 2 µm would do for the damage; the scratches of 5 µm have to go.
    assert!((close[1].takes - 5.0).abs() < 1e-12 && close[1].breach);
    let found = best(&stones, 2, &ground, &RULES).unwrap();
    assert_eq!(
        found.order,
        [1, 2],
        "steel first: the close pair is not used"
    );
    assert!(!steps(&stones, &[0, 2], &ground, &RULES)[1].breach);
    assert_eq!(best(&stones, 3, &ground, &RULES), None);
}

/// Follows a sequence cell by cell with what was taken and how deep damage reaches; `None` for a start too coarse.
fn followed(stones: &[Candidate], order: &[usize], ground: &Ground, rules: &Rules) -> Option<Cost> {
    let mut cells: Vec<(f64, f64, f64, bool)> = ground
        .cells
        .iter()
        .map(|(area, depth)| (*area, 0.0, *depth, false))
        .collect();
    let greatest = ground.cells.iter().map(|cell| cell.1).fold(0.0, f64::max);
    let mut total = Cost {
        steel: 0.0,
        time: 0.0,
    };
    for (place, index) in order.iter().enumerate() {
        let stone = &stones[*index];
        let last = place + 1 == order.len();
        if place == 0 && !last && stone.damage >= greatest {
            return None;
        }
        let mut volume = 0.0;
        for (area, taken, sound_at, worked) in &mut cells {
            let left = *sound_at - *taken;
            if left <= 0.0 || (!last && !*worked && left <= stone.damage) {
                continue;
            }
            let mut take = if last { left } else { left - stone.damage };
            if *worked {
                take = take.max(stones[order[place - 1]].scratch);
            }
            *taken += take;
            *worked = true;
            if !last {
                *sound_at = sound_at.max(*taken + stone.damage);
            }
            volume += *area * take;
        }
        let ratio = place
            .checked_sub(1)
            .map(|before| stones[order[before]].d50 / stone.d50);
        let outside =
            ratio.is_some_and(|ratio| ratio < rules.least_ratio || ratio > rules.greatest_ratio);
        let minutes = volume / 1_000.0 / stone.rate
            + rules.change_minutes
            + if outside { rules.breach_minutes } else { 0.0 };
        total = total.plus(Cost::of(volume / 1_000.0, minutes));
    }
    Some(total)
}

/// Every sequence from coarse to fine that ends with the target, followed cell by cell: 500 drawn cases of 1 to 7 stones.
#[test]
fn the_best_sequence_is_the_best_of_all() {
    let mut random = ChaCha8Rng::seed_from_u64(20_260_316);
    let draw = |random: &mut ChaCha8Rng, most: usize| {
        (0..most)
            .nth(random.next_u32() as usize % most)
            .unwrap_or(0)
    };
    let mut longest = 0;
    let mut many = 0;
    for case in 0..500 {
        let count = 1 + case % 7;
        let target_drawn = draw(&mut random, count);
        let mut below = |most: u32| f64::from(random.next_u32() % most);
        // Quarters and eighths are exact in binary, so that both ways give the same sums to the last bit.
        let stones: Vec<Candidate> = (0..count)
            .map(|_| {
                let d50 = 4.0 + below(120);
                Candidate {
                    d50,
                    scratch: d50 * 0.25,
                    damage: d50 * 0.25 * (1.0 + below(5)),
                    rate: 0.125 * (1.0 + below(8)) * (1.0 + (d50 / 8.0).floor()),
                }
            })
            .collect();
        let cells = (0..=case % 5)
            .map(|_| (8.0 * (1.0 + below(4_000)), below(600) * 0.5))
            .collect();
        let ground = Ground { cells };
        let rules = Rules {
            change_minutes: below(40) * 0.5,
            breach_minutes: below(4) * 15.0,
            ..RULES
        };
        // Damage falls with the grain, as the model has it.
        let factor = 1.0 + below(4);
        let stones: Vec<Candidate> = stones
            .into_iter()
            .map(|one| Candidate {
                damage: one.scratch * factor,
                ..one
            })
            .collect();
        // Mostly the finest, so that there is a choice.
        let finest = (0..count)
            .min_by(|a, b| stones[*a].d50.total_cmp(&stones[*b].d50))
            .unwrap();
        let target = if case % 5 == 0 { target_drawn } else { finest };
        let found = best(&stones, target, &ground, &rules).unwrap();
        let mut others: Vec<usize> = (0..count)
            .filter(|index| stones[*index].d50 > stones[target].d50)
            .collect();
        others.sort_by(|a, b| stones[*b].d50.total_cmp(&stones[*a].d50));
        let mut least: Option<Cost> = None;
        for mask in 0..(1_u32 << others.len()) {
            let mut order: Vec<usize> = others
                .iter()
                .enumerate()
                .filter(|(bit, _)| mask & (1 << bit) != 0)
                .map(|(_, index)| *index)
                .collect();
            order.push(target);
            if order
                .windows(2)
                .any(|pair| stones[pair[0]].d50 <= stones[pair[1]].d50)
            {
                continue;
            }
            many += 1;
            if let Some(cost) = followed(&stones, &order, &ground, &rules)
                && least.is_none_or(|best| cost.compare(best).is_lt())
            {
                least = Some(cost);
            }
        }
        assert_eq!(
            Some(found.cost),
            least,
            "case {case}: {stones:?} {ground:?}"
        );
        assert_eq!(
            followed(&stones, &found.order, &ground, &rules),
            Some(found.cost)
        );
        longest = longest.max(found.order.len());
    }
    assert!(
        longest >= 5 && many > 6_000,
        "the cases are not trivial: {longest} stages, {many} sequences"
    );
}
