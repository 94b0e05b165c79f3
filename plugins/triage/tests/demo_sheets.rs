//! What the plugin says of the demo sheets, as people read it.
#![allow(clippy::unwrap_used)]

use tangmark_author::trial::{demo, demo_sheets, judged, request, shown};
use tangmark_plugin::Level;
use tangmark_triage::{check, describe};

#[test]
fn findings_on_the_demo_sheets() {
    for (name, sheet) in demo_sheets() {
        insta::assert_snapshot!(
            name.as_str(),
            shown(&judged(describe, check, &request(sheet)))
        );
    }
}

/// Which demo blades are held, and why: not over a third of ordinary ones, or an override becomes habit.
#[test]
fn two_of_five_demo_blades_are_held_each_for_its_own_reason() {
    for (name, expected, lead) in [
        ("reed-before", vec![], "Work on `reed` can go on"),
        ("reed-after", vec![], "Work on `reed` can go on"),
        ("gorge", vec!["fatal.hagire"], "Set `gorge` aside"),
        (
            "lantern",
            vec!["importance.gold-inlay"],
            "Refer `lantern` to a senior specialist",
        ),
        ("heron", vec![], "Work on `heron` can go on"),
        ("dune", vec![], "Work on `dune` can go on"),
    ] {
        let reply = judged(describe, check, &request(demo(name)));
        let stops = reply
            .findings
            .iter()
            .filter(|finding| finding.level == Level::Stop);
        assert_eq!(
            stops
                .map(|finding| finding.rule.as_str())
                .collect::<Vec<_>>(),
            expected,
            "{name}"
        );
        let recommendation = reply
            .findings
            .iter()
            .find(|finding| finding.rule == "triage.recommendation")
            .unwrap();
        assert!(
            recommendation.message.starts_with(lead),
            "{name}: {}",
            recommendation.message
        );
    }
}
