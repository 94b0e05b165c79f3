//! What the plugin says of the demo sheets, as people read it.
#![allow(clippy::unwrap_used)]

use tangmark_core::Digest;
use tangmark_core::record::PhotoFile;
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_plugin::{Artefact, CheckReply, CheckRequest, Level};
use tangmark_triage::{check, describe};

const SHEETS: [&str; 6] = [
    "reed-before",
    "reed-after",
    "gorge",
    "lantern",
    "heron",
    "dune",
];

fn judged(name: &str) -> CheckReply {
    let path = format!(
        "{}/../../samples/sheets/{name}.toml",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut any_photo = |path: &str| {
        let digest = Digest::of(path.as_bytes());
        Ok(PhotoFile {
            digest,
            length: 1,
            media_type: "image/jpeg".to_owned(),
            width_px: 1600,
            height_px: 380,
            orientation: None,
        })
    };
    let read = sheet::read(
        &std::fs::read(path).unwrap(),
        SheetFormat::Toml,
        &mut any_photo,
    )
    .unwrap();
    let value = serde_json::to_value(&read).unwrap();
    let request = CheckRequest::new("2026-06-01T00:00:00Z", &"0".repeat(32), value.clone());
    let reply = check(&request).unwrap();
    assert_eq!(reply.audit(&describe(), &value), Ok(()), "{name}");
    assert_eq!(
        check(&request).unwrap(),
        reply,
        "{name}: the same request gives the same reply"
    );
    reply
}

fn shown(reply: &CheckReply) -> String {
    let mut lines = Vec::new();
    for finding in &reply.findings {
        let level = match finding.level {
            Level::Info => "info",
            Level::Caution => "CAUTION",
            Level::Stop => "STOP",
        };
        lines.push(format!(
            "{level} {}\n  {}\n  at {}",
            finding.rule,
            finding.message,
            finding.evidence.join(" ")
        ));
        for number in &finding.numbers {
            let doubt = number
                .standard_uncertainty
                .as_ref()
                .map_or(String::new(), |u| format!(" (u {u})"));
            lines.push(format!(
                "  {} = {}{doubt} {}",
                number.name, number.value, number.unit
            ));
        }
    }
    for quantity in &reply.quantities {
        let doubt = quantity
            .standard_uncertainty
            .as_ref()
            .map_or(String::new(), |u| format!(" (u {u})"));
        lines.push(format!(
            "quantity {} = {}{doubt} {}",
            quantity.name, quantity.value, quantity.unit
        ));
    }
    for artefact in &reply.artefacts {
        if let Artefact::Table(table) = artefact {
            lines.push(format!("table {}", table.id));
            lines.extend(
                table
                    .rows
                    .iter()
                    .map(|row| format!("  {}", row.join(" | "))),
            );
        }
    }
    lines.join("\n")
}

#[test]
fn findings_on_the_demo_sheets() {
    for name in SHEETS {
        insta::assert_snapshot!(name, shown(&judged(name)));
    }
}

/// The record takes only its own units, shorter sources and shorter names than a message may carry.
#[test]
fn findings_fit_into_a_record() {
    for name in SHEETS {
        let reply = judged(name);
        for finding in &reply.findings {
            assert!(
                finding.source.chars().count() <= 400,
                "{name} {}",
                finding.rule
            );
            for number in &finding.numbers {
                assert!(
                    number.unit.parse::<tangmark_core::units::Unit>().is_ok(),
                    "{name} {}",
                    number.unit
                );
                assert!(
                    number
                        .value
                        .parse::<tangmark_core::units::Decimal>()
                        .is_ok(),
                    "{name} {}",
                    number.value
                );
                assert!(number.name.chars().count() <= 100, "{name} {}", number.name);
            }
        }
    }
}

/// The tool judges neither who made a blade nor whether handling or law allow a thing.
#[test]
fn findings_do_not_speak_verdicts_the_tool_does_not_give() {
    for name in SHEETS {
        for finding in judged(name).findings {
            for word in finding
                .message
                .to_lowercase()
                .split(|letter: char| !letter.is_alphabetic())
            {
                assert!(
                    !["authentic", "genuine", "safe", "legal"].contains(&word),
                    "{name}: {}",
                    finding.message
                );
            }
        }
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
        let reply = judged(name);
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
