//! The intervals of the removal plugin hold the truth as often as they say, on simulated polishes.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;

use tangmark_testkit::coverage::{Coverage, SetCoverage, run, table};

/// Blades for each set of instruments: what seconds allow. The full run is `testkit coverage`.
const BLADES: u64 = 30;

fn together(all: &[SetCoverage], honest: bool) -> BTreeMap<&'static str, Coverage> {
    let mut sums: BTreeMap<&'static str, Coverage> = BTreeMap::new();
    for set in all.iter().filter(|one| one.honest == honest) {
        for (kind, found) in &set.kinds {
            let sum = sums.entry(kind).or_default();
            sum.given += found.given;
            sum.holds += found.holds;
        }
    }
    sums
}

#[test]
fn honest_intervals_hold_and_dishonest_ones_miss() {
    let all = run(BLADES, 11).unwrap();
    let words = table(&all);
    let honest = together(&all, true);
    assert_eq!(honest.len(), 7, "{words}");
    for (kind, found) in honest {
        // 93 to 97 % is the goal of the full run; three standard deviations of so few blades come to it. Stations of one
        // blade share their sessions, so that they count as one.
        let blades = all.iter().filter(|one| one.honest).count() as f64 * BLADES as f64;
        let chance = 3.0 * (0.95 * 0.05 / blades).sqrt();
        let share = found.share();
        assert!(
            (0.93 - chance..=0.97 + chance).contains(&share),
            "{kind}: {share}\n{words}"
        );
    }
    let find = |name: &str, kind: &str| {
        let set = all.iter().find(|one| one.set.contains(name)).unwrap();
        assert!(!set.honest);
        set.kinds[kind].share()
    };
    assert!(find("weighed wet", "steel gone, g") < 0.5, "{words}");
    assert!(
        find("limits of error not noted", "loss of ridge, mm") < 0.8,
        "{words}"
    );
    assert!(words.contains("it should miss") && words.contains("below 93 %"));
}

#[test]
fn the_same_seed_tells_the_same() {
    let (one, again) = (run(1, 3).unwrap(), run(1, 3).unwrap());
    assert_eq!(one, again);
    assert_ne!(one, run(1, 4).unwrap());
}
