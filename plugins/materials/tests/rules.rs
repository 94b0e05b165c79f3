//! One change for each rule, and what becomes of it.
#![allow(clippy::unwrap_used)]

use std::sync::OnceLock;

use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_materials::{check, describe};
use tangmark_plugin::{CheckReply, CheckRequest, Level};

type Change = fn(&mut CheckRequest);
type Case = (
    &'static str,
    Change,
    &'static str,
    Option<(Level, &'static str)>,
);

/// A plain blade: no plan, no passes, no fittings, no flaws.
fn asked() -> CheckRequest {
    static GORGE: OnceLock<Value> = OnceLock::new();
    let mut sheet = GORGE.get_or_init(|| trial::demo("gorge")).clone();
    let members = sheet.as_object_mut().unwrap();
    for section in ["plan", "passes", "fittings", "flaws"] {
        members.remove(section);
    }
    trial::request(sheet)
}

fn changed(change: Change) -> CheckReply {
    let mut request = asked();
    change(&mut request);
    trial::judged(describe, check, &request)
}

fn fitting(part: &str, materials: &[&str]) -> Value {
    json!({"id": part.replace('_', "-"), "part": part, "description": "A fitting", "materials": materials, "matched": "fits",
        "protected": "ask_authority"})
}

fn fittings(request: &mut CheckRequest, materials: &[&str]) {
    request.sheet["fittings"] = json!([fitting("menuki", materials)]);
}

fn screened(request: &mut CheckRequest, as_of: Option<&str>) {
    fittings(request, &["ivory"]);
    request.sheet["fittings"][0]["protected"] = json!("not_found_in_list");
    if let Some(as_of) = as_of {
        request.sheet["fittings"][0]["protected_as_of"] = json!(as_of);
    }
}

fn stage(request: &mut CheckRequest, operation: &str, origin: &str) {
    request.sheet["plan"] = json!({"basis": "agreed", "stages": [{"operation": operation, "zones": ["ground"],
        "abrasive": {"name": "a stone", "origin": origin}}]});
}

fn etch(request: &mut CheckRequest, agent: &str) {
    request.sheet["examination"]["etch"] =
        json!({"agent": agent, "neutralised": true, "rinsed": true, "dried": true});
}

#[test]
fn every_rule_speaks_when_it_should() {
    let own_list = |as_of: &str| json!({"protected": [{"material": "ivory", "group": "ivory", "appendix": "I", "as_of": as_of, "source": "own copy"}]});
    let lists: [(&str, Option<&str>); 3] = [
        ("2024-06", None),
        ("2024-05", Some("25 months ago, and 24 are allowed")),
        ("2020", Some("77 months ago")),
    ];
    for (as_of, expected) in lists {
        let mut request = asked();
        fittings(&mut request, &["ivory"]);
        request.tables = own_list(as_of);
        // The built-in list of 2023-02 stands where the own one is older.
        let reply = trial::judged(describe, check, &request);
        let found = reply
            .findings
            .iter()
            .find(|one| one.rule == "materials.list-old");
        let expected = if as_of == "2020" {
            Some("40 months ago")
        } else {
            expected
        };
        match expected {
            None => assert!(found.is_none(), "{as_of}"),
            Some(words) => assert!(
                found.unwrap().message.contains(words),
                "{as_of}: {}",
                found.unwrap().message
            ),
        }
    }
    let cases: &[Case] = &[
        (
            "ivory",
            |r| fittings(r, &["ivory"]),
            "materials.protected",
            Some((
                Level::Caution,
                "elephant ivory (appendix I, as of 2023-02, from memory)",
            )),
        ),
        (
            "wood",
            |r| fittings(r, &["wood"]),
            "materials.protected",
            None,
        ),
        (
            "horn",
            |r| fittings(r, &["horn"]),
            "materials.ask-species",
            Some((Level::Info, "depends on the animal or plant")),
        ),
        (
            "horn is not listed as such",
            |r| fittings(r, &["horn"]),
            "materials.protected",
            None,
        ),
        (
            "the own table says none",
            |r| {
                fittings(r, &["horn"]);
                r.tables = json!({"protected": [{"material": "horn", "group": "cattle horn", "appendix": "none", "as_of": "2026", "source": "list"}]});
            },
            "materials.ask-species",
            None,
        ),
        (
            "an ebony word",
            |r| {
                fittings(r, &["wood"]);
                r.sheet["fittings"][0]["description"] = json!("Peg of ebony");
            },
            "materials.mentioned",
            Some((Level::Info, "speak of “ebony”")),
        ),
        (
            "an ebony word with the material",
            |r| {
                fittings(r, &["ebony"]);
                r.sheet["fittings"][0]["description"] = json!("Peg of ebony");
            },
            "materials.mentioned",
            None,
        ),
        (
            "an old built-in list",
            |r| fittings(r, &["ivory"]),
            "materials.list-old",
            Some((Level::Caution, "40 months ago, and 24 are allowed")),
        ),
        (
            "a longer time is allowed",
            |r| {
                fittings(r, &["ivory"]);
                r.settings = json!({"list_months": 40});
            },
            "materials.list-old",
            None,
        ),
        ("nothing to look up", |_| (), "materials.list-old", None),
        (
            "looked at an older list",
            |r| screened(r, Some("2019")),
            "materials.screen-differs",
            Some((Level::Caution, "which is not newer")),
        ),
        (
            "looked at a list without a date",
            |r| screened(r, None),
            "materials.screen-differs",
            Some((Level::Caution, "does not say of what date")),
        ),
        (
            "looked at a newer list",
            |r| screened(r, Some("2025-12")),
            "materials.screen-differs",
            Some((Level::Info, "renew the table")),
        ),
        (
            "asks the authority",
            |r| fittings(r, &["ivory"]),
            "materials.screen-differs",
            None,
        ),
        (
            "nobody looked",
            |r| {
                fittings(r, &["ivory"]);
                r.sheet["fittings"][0]
                    .as_object_mut()
                    .unwrap()
                    .remove("protected");
            },
            "materials.not-screened",
            Some((Level::Info, "Nobody has noted a look")),
        ),
        (
            "iron needs no look",
            |r| {
                fittings(r, &["iron"]);
                r.sheet["fittings"][0]
                    .as_object_mut()
                    .unwrap()
                    .remove("protected");
            },
            "materials.not-screened",
            None,
        ),
        (
            "no material",
            |r| fittings(r, &[]),
            "materials.not-named",
            Some((Level::Info, "Menuki: the material is not named")),
        ),
        (
            "unknown",
            |r| fittings(r, &["unknown"]),
            "materials.not-named",
            Some((Level::Info, "not named")),
        ),
        (
            "named",
            |r| fittings(r, &["iron"]),
            "materials.not-named",
            None,
        ),
        (
            "shakudo",
            |r| fittings(r, &["shakudo", "gold"]),
            "materials.care",
            Some((
                Level::Info,
                "Copper-gold alloy: The colour is a made patina",
            )),
        ),
        ("no fittings", |_| (), "materials.care", None),
        (
            "vinegar",
            |r| etch(r, "Vinegar"),
            "materials.hazard-acid",
            Some((Level::Caution, "from 10 to 25 % upwards")),
        ),
        (
            "nital",
            |r| etch(r, "2 % nital"),
            "materials.hazard-acid",
            Some((Level::Caution, "never stopper it tightly")),
        ),
        (
            "ferric chloride",
            |r| etch(r, "ferric chloride"),
            "materials.hazard-acid",
            Some((Level::Caution, "rinse long")),
        ),
        (
            "planned etch",
            |r| stage(r, "etch", "synthetic"),
            "materials.hazard-acid",
            Some((Level::Caution, "never near bleach")),
        ),
        (
            "no acid",
            |r| stage(r, "polish", "synthetic"),
            "materials.hazard-acid",
            None,
        ),
        (
            "a natural stone",
            |r| stage(r, "polish", "natural"),
            "materials.hazard-silica",
            Some((Level::Caution, "Work wet")),
        ),
        (
            "a synthetic stone",
            |r| stage(r, "polish", "synthetic"),
            "materials.hazard-silica",
            None,
        ),
        (
            "lead",
            |r| fittings(r, &["lead"]),
            "materials.hazard-lead",
            Some((Level::Caution, "has lead")),
        ),
        (
            "a collar",
            |r| r.sheet["fittings"] = json!([fitting("habaki", &["copper"])]),
            "materials.hazard-lead",
            Some((Level::Info, "may hold solder")),
        ),
        (
            "a guard",
            |r| r.sheet["fittings"] = json!([fitting("tsuba", &["iron"])]),
            "materials.hazard-lead",
            None,
        ),
        (
            "oil",
            |r| stage(r, "wipe_polish", "synthetic"),
            "materials.hazard-rags",
            Some((Level::Info, "catch fire by themselves")),
        ),
        (
            "no oil",
            |r| stage(r, "grind", "synthetic"),
            "materials.hazard-rags",
            None,
        ),
        (
            "work",
            |r| stage(r, "grind", "synthetic"),
            "materials.hazard-edge",
            Some((Level::Info, "Cover the edge")),
        ),
        ("no work", |_| (), "materials.hazard-edge", None),
        (
            "any blade",
            |_| (),
            "materials.climate",
            Some((Level::Info, "35 to 45 %")),
        ),
        (
            "lacquer",
            |r| fittings(r, &["lacquer"]),
            "materials.climate-apart",
            Some((Level::Info, "45 to 55 %")),
        ),
        (
            "metal alone",
            |r| fittings(r, &["iron", "gold"]),
            "materials.climate-apart",
            None,
        ),
        (
            "rust that goes on",
            |r| r.sheet["flaws"] = rust("sabi_active"),
            "materials.climate-rust",
            Some((Level::Info, "below 35 %")),
        ),
        (
            "rust that sleeps",
            |r| r.sheet["flaws"] = rust("pits"),
            "materials.climate-rust",
            None,
        ),
        (
            "out of the ground",
            |r| r.sheet["blade"]["signs"] = json!([{"kind": "excavated_look", "note": "earth"}]),
            "materials.climate-rust",
            Some((Level::Caution, "12 to 15 %")),
        ),
        (
            "a country",
            |r| r.settings = json!({"countries": ["US"]}),
            "materials.carriage",
            Some((Level::Info, "United States: There is no general")),
        ),
        (
            "a member state",
            |r| r.settings = json!({"countries": ["FR"]}),
            "materials.carriage",
            Some((Level::Info, "(EU) 2019/880")),
        ),
        (
            "another country",
            |r| r.settings = json!({"countries": ["NZ"]}),
            "materials.carriage",
            Some((Level::Info, "NZ: this tool has no words of its own")),
        ),
        ("no country", |_| (), "materials.carriage", None),
        (
            "a designation and a country",
            |r| {
                r.settings = json!({"countries": ["JP"]});
                designate(r, "juyo_bunkazai");
            },
            "materials.carriage-designated",
            Some((Level::Caution, "important cultural property")),
        ),
        (
            "a card and a country",
            |r| {
                r.settings = json!({"countries": ["JP"]});
                designate(r, "registration_card");
            },
            "materials.carriage-designated",
            None,
        ),
        (
            "ivory and a country",
            |r| {
                r.settings = json!({"countries": ["JP"]});
                fittings(r, &["ivory"]);
            },
            "materials.carriage-species",
            Some((Level::Caution, "permit of the country it leaves")),
        ),
        (
            "horn and a country",
            |r| {
                r.settings = json!({"countries": ["JP"]});
                fittings(r, &["horn"]);
            },
            "materials.carriage-species",
            None,
        ),
    ];
    let mut spoken: Vec<&str> = Vec::new();
    for (name, change, rule, expected) in cases {
        let reply = changed(*change);
        let found = reply.findings.iter().find(|one| one.rule == *rule);
        match expected {
            None => assert!(found.is_none(), "{name}: {}", found.unwrap().message),
            Some((level, words)) => {
                let found = found.unwrap_or_else(|| {
                    panic!("{name}: {rule} is silent: {}", trial::shown(&reply))
                });
                assert_eq!(found.level, *level, "{name}");
                assert!(found.message.contains(words), "{name}: {}", found.message);
                spoken.push(rule);
            }
        }
        assert!(
            reply.findings.iter().all(|one| one.level != Level::Stop),
            "{name}: nothing here stops work"
        );
    }
    for rule in describe().rules {
        assert!(
            spoken.contains(&rule.id.as_str()),
            "no case for {}",
            rule.id
        );
    }
}

fn rust(kind: &str) -> Value {
    let mut flaw = trial::demo("reed-before")["flaws"][0].clone();
    flaw["kind"] = json!(kind);
    flaw["photos"] = json!([]);
    json!([flaw])
}

fn designate(request: &mut CheckRequest, kind: &str) {
    request.sheet["blade"]["registrations"] =
        json!([{"kind": kind, "authority": "Board of Example"}]);
}

/// Two member states of the Union are told once.
#[test]
fn a_prompt_is_not_repeated() {
    let reply = changed(|r| r.settings = json!({"countries": ["FR", "DE", "GB"]}));
    let prompts = reply
        .findings
        .iter()
        .filter(|one| one.rule == "materials.carriage");
    assert_eq!(prompts.count(), 2);
}

/// A pass that only a sealed record has needs no caution today.
#[test]
fn past_work_is_past() {
    use tangmark_core::record::Purpose;
    let mut request = asked();
    let after = trial::demo("reed-after");
    request.history = vec![trial::record(
        &after,
        1,
        Purpose::AfterWork,
        "2026-05-18T12:00:00Z",
    )];
    let reply = trial::judged(describe, check, &request);
    assert!(
        reply
            .findings
            .iter()
            .all(|one| !one.rule.starts_with("materials.hazard"))
    );
}

#[test]
fn refusals_say_where() {
    let mut request = asked();
    request.tables = json!({"protected": [{"material": "ivory"}]});
    let error = check(&request).unwrap_err().to_string();
    assert_eq!(
        error,
        "table `protected`, row 1, column `appendix` is empty; it is needed"
    );
    request.tables = json!({});
    request.now = "soon".to_owned();
    assert!(
        check(&request)
            .unwrap_err()
            .to_string()
            .contains("does not begin with a day")
    );
}
