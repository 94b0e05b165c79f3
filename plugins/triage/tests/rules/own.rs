//! Rules of the workshop's own: the sample settings, and what findings and table say of them.

use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_plugin::{CheckReply, Level};
use tangmark_triage::check;

use super::common::{flaw, found, judged, look, made, mm, one_flaw, plain, row};

fn with(sheet: &Value, rules: &Value) -> CheckReply {
    judged(sheet, &json!({ "rule": rules }))
}

fn sample() -> Value {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../samples/settings/triage.toml"
    );
    let settings: toml::Value = toml::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    serde_json::to_value(settings).unwrap()
}

fn refusal(rules: &Value) -> String {
    let mut request = trial::request(plain());
    request.settings = json!({ "rule": rules });
    check(&request).unwrap_err().to_string()
}

#[test]
fn the_sample_settings_are_taken_and_speak() {
    let reply = judged(&plain(), &sample());
    let rules: Vec<&str> = reply.findings.iter().map(|one| one.rule.as_str()).collect();
    assert_eq!(rules, ["triage.recommendation"]);

    let mut sheet = plain();
    sheet["dimensions"]["thickness_at_base"] = mm("5.10");
    sheet["dimensions"]["stations"] = json!([]);
    let deep = |id: &str| {
        flaw(
            "hakobore",
            "edge",
            &json!({ "id": id, "depth": mm("0.50") }),
        )
    };
    sheet["flaws"] = json!([
        deep("c-1"),
        deep("c-2"),
        flaw(
            "hakobore",
            "edge",
            &json!({ "id": "c-3", "depth": mm("0.10") })
        ),
        deep("c-4"),
        flaw(
            "kitae_ware",
            "edge",
            &json!({ "id": "w-1", "length": mm("22.0") })
        ),
    ]);
    sheet["blade"]["construction"] = json!("moroha_zukuri");
    made(&mut sheet, "1500", "1560");
    let reply = judged(&sheet, &sample());
    let said = |rule: &str| {
        let finding = found(&reply, rule).unwrap_or_else(|| panic!("{rule}"));
        (finding.level, finding.evidence.join(" "))
    };
    assert_eq!(
        said("fatal.user-1"),
        (
            Level::Stop,
            "/flaws/4/kind /flaws/4/zone /flaws/4/length".to_owned()
        )
    );
    assert_eq!(said("importance.user-1").0, Level::Stop);
    let own: Vec<&str> = reply
        .findings
        .iter()
        .filter(|one| one.rule == "user.rule")
        .map(|one| one.message.as_str())
        .collect();
    assert_eq!(
        own[0],
        "By the workshop's own rule `user.thin-at-base`: A long blade this thin at the base has been polished often. Found: \
         `/blade/kind_by_make` is katana; `/dimensions/thickness_at_base` is 5.1000 ± 0.0058 mm, asked for below 5.5 mm. What settles it: \
         thickness at stations along the whole blade, and a plan that leaves the ridge alone. Source: what this workshop has measured over \
         the years."
    );
    // Three of four chips fit, each by both of its conditions.
    assert!(
        own[1].contains("`/flaws/3/depth` is 0.5000 ± 0.0058 mm") && !own[1].contains("/flaws/2/"),
        "{}",
        own[1]
    );
    // The table keeps the user's own id.
    assert!(row(&reply, "user.many-chips", "fired").is_some());
    let recommendation = &found(&reply, "triage.recommendation").unwrap().message;
    assert!(
        recommendation.starts_with("Refer `reed` to a senior specialist"),
        "{recommendation}"
    );
}

#[test]
fn two_looks_lift_a_fatal_rule_of_the_users_own() {
    let rule = json!([{ "id": "fatal.user-2", "reason": "no", "when": { "each": "/flaws", "when": { "field": "kind", "is": "shinae" } } }]);
    let mut sheet = plain();
    one_flaw(&mut sheet, "shinae", "ground", &json!({}));
    let reply = with(&sheet, &rule);
    let message = &found(&reply, "fatal.user-2").unwrap().message;
    assert!(
        message.ends_with("Looks: f-1 was found by one look: a second one in another light or on the other face would bear it out."),
        "{message}"
    );
    let looks = json!([look("loupe", "not_seen"), look("raking_light", "not_seen")]);
    one_flaw(
        &mut sheet,
        "shinae",
        "ground",
        &json!({ "standing": "ruled_out", "sightings": looks }),
    );
    assert!(found(&with(&sheet, &rule), "fatal.user-2").is_none());
}

/// The base is 7.12 mm by a caliper of 0.01 mm with a limit of error of 0.03 mm: U = 0.036 mm.
#[test]
fn a_limit_within_the_measurement_is_nearly_and_not_yes() {
    for (below, outcome, margin) in [
        ("7.16 mm", Some("fired"), ""),
        ("7.14 mm", Some("nearly"), "cannot tell"),
        ("7.12 mm", Some("nearly"), "cannot tell"),
        ("7.00 mm", Some("nearly"), "asked for below 7.00 mm"),
        ("5.00 mm", None, ""),
    ] {
        let rule = json!([{ "id": "user.thin", "level": "caution", "reason": "thin",
            "when": { "field": "/dimensions/thickness_at_base", "below": below } }]);
        let reply = with(&plain(), &rule);
        for one in ["fired", "nearly", "not judged"] {
            let row = row(&reply, "user.thin", one);
            assert_eq!(row.is_some(), outcome == Some(one), "{below} {one}");
            assert!(
                row.unwrap_or_default()
                    .contains(if outcome == Some(one) { margin } else { "" }),
                "{below}"
            );
        }
        assert_eq!(
            found(&reply, "user.rule").is_some(),
            outcome == Some("fired"),
            "{below}"
        );
    }
}

#[test]
fn a_number_far_from_its_limit_stands_in_the_table_with_its_margin() {
    let rule = json!([{ "id": "user.thin", "level": "caution", "reason": "thin",
        "when": { "field": "/dimensions/thickness_at_base", "below": "5.00 mm" } }]);
    let reply = with(&plain(), &rule);
    assert_eq!(
        row(&reply, "user.thin", "not near").unwrap(),
        "`/dimensions/thickness_at_base` is 7.120 ± 0.036 mm, asked for below 5.00 mm"
    );
}

#[test]
fn what_is_missing_is_named() {
    let rule = json!([{ "id": "user.heavy", "level": "info", "reason": "heavy",
        "when": { "all": [{ "field": "/dimensions/mass", "above": "900 g" }, { "field": "/dimensions/cross_span", "above": "1 mm" }] } }]);
    // The mass says no, whatever the other field would say.
    let reply = with(&plain(), &rule);
    assert_eq!(row(&reply, "user.heavy", "not judged"), None);
    let mut sheet = plain();
    sheet["dimensions"]["mass"] = super::common::g("950.0");
    sheet["passes"] = json!([]);
    let reply = with(&sheet, &rule);
    assert_eq!(
        row(&reply, "user.heavy", "not judged").unwrap(),
        "`/dimensions/cross_span`"
    );
}

#[test]
fn rules_that_contradict_are_findings_and_the_others_still_speak() {
    let tang = json!({ "field": "/tang/state", "is": "suriage" });
    let same = json!({ "all": [tang, { "field": "/dimensions/mass", "above": "100 g" }] });
    let turned = json!({ "all": [{ "field": "/dimensions/mass", "above": "0.1 kg" }, tang] });
    let rules = json!([
        { "id": "user.a", "level": "info", "reason": "a", "when": same },
        { "id": "user.b", "level": "caution", "reason": "b", "when": turned },
        { "id": "user.c", "level": "info", "reason": "c",
          "when": { "field": "/dimensions/mass", "above": "900 g", "below": "100 g" } },
    ]);
    let reply = with(&plain(), &rules);
    assert!(
        found(&reply, "user.rules-conflict")
            .unwrap()
            .message
            .contains(
                "`user.a` (info) and `user.b` (caution) ask the same and weigh it differently"
            )
    );
    assert!(
        found(&reply, "user.rules-unreachable")
            .unwrap()
            .message
            .contains(
                "`user.c` can never hold: `/dimensions/mass` cannot be above 900 g and below 100 g"
            )
    );
    assert!(row(&reply, "user.a", "fired").is_some() && row(&reply, "user.b", "fired").is_some());
}

/// A rule, and what the refusal says of it.
#[test]
fn faults_are_named_with_rule_and_place() {
    let good = json!({ "field": "/tang/state", "is": "ubu" });
    let rule =
        |id: &str, when: Value| json!({ "id": id, "level": "info", "reason": "r", "when": when });
    for (rule, said) in [
        (
            rule(
                "user.x",
                json!({ "field": "/dimensions/weight", "above": "1 g" }),
            ),
            "rule 1 `user.x`, when: `/dimensions/weight`: /dimensions has no `weight`",
        ),
        (
            rule("user.x", json!({ "field": "/tang/state", "is": "ubuu" })),
            "rule 1 `user.x`, when: `/tang/state`: \"ubuu\" is none of its terms; they are ubu",
        ),
        (
            rule(
                "user.x",
                json!({ "all": [good, { "field": "/dimensions/mass", "above": "5 mm" }] }),
            ),
            "rule 1 `user.x`, when.all[2]: `/dimensions/mass`: ",
        ),
        (
            rule("user.x", json!({ "field": "/dimensions/mass", "above": 5 })),
            "a text with a unit is needed, such as \"5.0 g\"",
        ),
        (
            rule("user.x", json!({ "field": "/tang/state", "above": "5 mm" })),
            "`above` cannot be asked of it; it takes is, is_one_of, missing",
        ),
        (
            rule("user.x", json!({ "field": "/tang/state" })),
            "nothing is asked of `/tang/state`",
        ),
        (
            rule(
                "user.x",
                json!({ "field": "/agreement/price_ceiling", "missing": false }),
            ),
            "private value",
        ),
        (
            rule("user.x", json!({ "each": "/flaws" })),
            "`each` needs `when`",
        ),
        (
            rule("user.x", json!({ "each": "/tang", "when": good })),
            "`/tang` is not a list of entries",
        ),
        (
            rule("user.x", json!({ "all": [] })),
            "`all` is a list of at least one condition",
        ),
        (
            rule("user.x", json!({ "all": [good], "any": [good] })),
            "exactly one of all, any, not, each and field",
        ),
        (
            rule("user.x", json!({ "not": good, "sure": true })),
            "`sure` stands beside `not`; nothing else may stand there",
        ),
        (rule("user.x", json!(7)), "a condition is a table such as"),
        (
            rule(
                "user.x",
                json!({ "field": "/blade/made_not_after", "before": "sixteenth" }),
            ),
            "the date is \"sixteenth\"",
        ),
        (
            rule("fatal.hagire", good.clone()),
            "is a rule of triage itself and would be shadowed",
        ),
        (
            rule("user.rule", good.clone()),
            "is a rule of triage itself and would be shadowed",
        ),
        (rule("chips", good.clone()), "id: begins with `user.`"),
        (
            rule("fatal.user-10", good.clone()),
            "takes one of the numbers 1 to 9",
        ),
        (
            rule("fatal.user-1", good.clone()),
            "asks `each = \"/flaws\"`",
        ),
        (
            json!({ "id": "user.x", "level": "stop", "reason": "r", "when": good }),
            "level: info or caution is needed",
        ),
        (
            json!({ "id": "importance.user-1", "level": "info", "reason": "r", "when": good }),
            "only stop is allowed",
        ),
        (
            json!({ "id": "user.x", "level": "info", "reason": "It is Safe to go on", "when": good }),
            "`reason` says \"safe\", which no finding says",
        ),
        (
            json!({ "id": "user.x", "level": "info", "when": good }),
            "`reason` is needed",
        ),
        (
            json!({ "id": "user.x", "level": "info", "reason": "r", "wenn": good }),
            "`wenn` is not known",
        ),
        (json!("user.x"), "rule 1 is no table"),
    ] {
        let found = refusal(&json!([rule]));
        assert!(found.contains(said), "{said}\nin: {found}");
        assert!(
            found.ends_with("Correct them in the settings of triage"),
            "{found}"
        );
    }
    let twice = json!([rule("user.x", good.clone()), rule("user.x", good)]);
    assert!(refusal(&twice).contains("rule 2 `user.x`, id: an earlier rule has it"));
}

#[test]
fn deep_and_wide_conditions_are_refused_and_do_not_hurt() {
    let mut deep = json!({ "field": "/tang/state", "is": "ubu" });
    for _ in 0..60 {
        deep = json!({ "not": deep });
    }
    let wide: Vec<Value> = vec![json!({ "field": "/tang/state", "is": "ubu" }); 500];
    for when in [deep, json!({ "any": wide })] {
        let found =
            refusal(&json!([{ "id": "user.x", "level": "info", "reason": "r", "when": when }]));
        assert!(found.contains("at most 60 parts, 8 deep"), "{found}");
    }
    let many: Vec<Value> = vec![json!({}); 60];
    assert!(refusal(&json!(many)).contains("60 rules; at most 50 are allowed"));
}
