#![allow(clippy::unwrap_used)]

use proptest::prelude::*;
use serde_json::{Value, json};

use super::answer::{Truth, ask};
use super::condition::{Condition, Reader};
use super::fields::Scope;
use super::review::{canonical, never};

fn read(value: &Value) -> Condition {
    let mut faults = Vec::new();
    let condition = Reader::new(&mut faults).condition(value, &Scope::sheet(), "when", 1);
    condition.unwrap_or_else(|| panic!("{faults:?}"))
}

fn truth(condition: &Value, sheet: &Value) -> Truth {
    ask(&read(condition), sheet, 0.8).truth
}

fn mm(value: &str, u: &str) -> Value {
    json!({ "value": value, "standard_uncertainty": u, "unit": "mm" })
}

#[test]
fn numbers_are_guarded() {
    let sheet = json!({ "dimensions": { "curvature": mm("10.0", "0.5") } });
    let asked = |question: &str, limit: &str| {
        truth(
            &json!({ "field": "/dimensions/curvature", question: limit }),
            &sheet,
        )
    };
    for (question, limit, expected) in [
        ("above", "8.9 mm", Truth::Yes),
        // Exactly U away: the measurement cannot tell.
        ("above", "9.0 mm", Truth::CannotTell),
        ("above", "10.9 mm", Truth::CannotTell),
        // (10 + 1.645 · 0.5) mm is 10.8 mm: near up to 10.8/0.8 = 13.5 mm.
        ("above", "13.5 mm", Truth::Near),
        ("above", "13.6 mm", Truth::No),
        ("below", "11.1 mm", Truth::Yes),
        ("below", "11.0 mm", Truth::CannotTell),
        // (10 − 0.82) · 0.8 = 7.3 mm.
        ("below", "7.4 mm", Truth::Near),
        ("below", "7.3 mm", Truth::No),
    ] {
        assert_eq!(asked(question, limit), expected, "{question} {limit}");
    }
}

#[test]
fn counts_are_exact() {
    let sheet = json!({ "flaws": [{ "count": 5 }] });
    let asked = |question: &str, limit: i64| {
        let when = json!({ "each": "/flaws", "when": { "field": "count", question: limit } });
        truth(&when, &sheet)
    };
    assert_eq!(asked("above", 4), Truth::Yes);
    assert_eq!(asked("above", 5), Truth::Near);
    assert_eq!(asked("below", 6), Truth::Yes);
    assert_eq!(asked("below", 5), Truth::Near);
    assert_eq!(asked("below", 1), Truth::No);
}

#[test]
fn dates_are_as_fine_as_they_are_written() {
    let sheet = json!({ "blade": { "made_not_after": "1600" } });
    let asked = |question: &str, limit: &str| {
        truth(
            &json!({ "field": "/blade/made_not_after", question: limit }),
            &sheet,
        )
    };
    for (question, limit, expected) in [
        ("before", "1601", Truth::Yes),
        ("before", "1600", Truth::No),
        ("before", "1600-06", Truth::CannotTell),
        ("after", "1599", Truth::Yes),
        ("after", "1600", Truth::No),
        ("after", "1600-06", Truth::CannotTell),
    ] {
        assert_eq!(asked(question, limit), expected, "{question} {limit}");
    }
}

#[test]
fn terms_flags_and_absence() {
    let sheet = json!({
        "tang": { "state": "ubu", "patina": "brown" },
        "agreement": { "etch_allowed": false },
        "examination": { "methods": ["loupe"] },
        "flaws": [],
    });
    for (condition, expected) in [
        (json!({ "field": "/tang/state", "is": "ubu" }), Truth::Yes),
        (
            json!({ "field": "/tang/state", "is_one_of": ["suriage", "o_suriage"] }),
            Truth::No,
        ),
        (
            json!({ "field": "/tang/patina", "is": "brown" }),
            Truth::Yes,
        ),
        (
            json!({ "field": "/agreement/etch_allowed", "is": false }),
            Truth::Yes,
        ),
        (
            json!({ "field": "/examination/methods", "has": "loupe" }),
            Truth::Yes,
        ),
        (
            json!({ "not": { "field": "/examination/methods", "has": "raking_light" } }),
            Truth::Yes,
        ),
        (json!({ "field": "/tang/end", "missing": true }), Truth::Yes),
        (json!({ "field": "/tang/end", "missing": false }), Truth::No),
        (json!({ "field": "/flaws", "missing": true }), Truth::Yes),
        (
            json!({ "field": "/tang/end", "is": "kiri" }),
            Truth::CannotTell,
        ),
        (
            json!({ "not": { "field": "/tang/end", "is": "kiri" } }),
            Truth::CannotTell,
        ),
        (
            json!({ "each": "/dimensions/stations", "when": { "field": "width", "above": "1 mm" } }),
            Truth::CannotTell,
        ),
        (
            json!({ "each": "/tang/holes", "when": { "field": "plugged", "is": true } }),
            Truth::No,
        ),
    ] {
        assert_eq!(truth(&condition, &sheet), expected, "{condition}");
    }
}

/// All takes the least, any the most; what cannot be told stays so unless the other part settles it.
#[test]
fn parts_are_joined() {
    let sheet = json!({ "tang": { "state": "ubu" } });
    let yes = json!({ "field": "/tang/state", "is": "ubu" });
    let no = json!({ "field": "/tang/state", "is": "suriage" });
    let open = json!({ "field": "/tang/end", "is": "kiri" });
    for (parts, all, any) in [
        ([&yes, &yes], Truth::Yes, Truth::Yes),
        ([&yes, &no], Truth::No, Truth::Yes),
        ([&yes, &open], Truth::CannotTell, Truth::Yes),
        ([&no, &open], Truth::No, Truth::CannotTell),
        ([&no, &no], Truth::No, Truth::No),
    ] {
        assert_eq!(
            truth(&json!({ "all": parts }), &sheet),
            all,
            "all {parts:?}"
        );
        assert_eq!(
            truth(&json!({ "any": parts }), &sheet),
            any,
            "any {parts:?}"
        );
    }
}

#[test]
fn each_asks_all_of_one_and_the_same_entry() {
    let sheet = json!({ "flaws": [
        { "kind": "pits", "depth": mm("0.50", "0.01") },
        { "kind": "hakobore", "depth": mm("0.10", "0.01") },
        { "kind": "hakobore" },
    ] });
    let asked = |kind: &str, depth: &str, at_least: usize| {
        let when = json!({ "each": "/flaws", "at_least": at_least, "when": { "all": [
            { "field": "kind", "is": kind }, { "field": "depth", "above": depth } ] } });
        truth(&when, &sheet)
    };
    assert_eq!(asked("pits", "0.3 mm", 1), Truth::Yes);
    // One is a chip and another is deep; no chip is known to be, and one was not measured.
    assert_eq!(asked("hakobore", "0.3 mm", 1), Truth::CannotTell);
    assert_eq!(asked("pits", "0.3 mm", 2), Truth::No);
    assert_eq!(asked("hakobore", "0.05 mm", 1), Truth::Yes);
    assert_eq!(asked("hakobore", "0.05 mm", 2), Truth::CannotTell);
    assert_eq!(asked("hakobore", "0.05 mm", 3), Truth::No);
}

#[test]
fn conditions_that_can_never_hold_are_found() {
    let mass =
        |question: &str, limit: &str| json!({ "field": "/dimensions/mass", question: limit });
    let state = |value: &str| json!({ "field": "/tang/state", "is": value });
    let not = |inner: Value| json!({ "not": inner });
    let all = |parts: Vec<Value>| json!({ "all": parts });
    let count = |low: i64, high: i64| json!({ "each": "/flaws", "when": { "field": "count", "above": low, "below": high } });
    let never_holds = [
        (
            all(vec![mass("above", "500 g"), mass("below", "0.4 kg")]),
            "cannot be above 500 g and below 0.4 kg",
        ),
        (
            all(vec![mass("above", "500 g"), mass("below", "500 g")]),
            "cannot be above 500 g and below 500 g",
        ),
        (
            all(vec![mass("above", "500 g"), not(mass("above", "500 g"))]),
            "cannot be above 500 g and not above 500 g",
        ),
        (
            all(vec![state("ubu"), state("suriage")]),
            "no value of `/tang/state` is left",
        ),
        (
            all(vec![state("ubu"), not(state("ubu"))]),
            "no value of `/tang/state` is left",
        ),
        (
            all(vec![
                json!({ "field": "/tang", "missing": true }),
                state("ubu"),
            ]),
            "`/tang` is to be missing, and something is asked of `/tang/state`",
        ),
        (
            all(vec![
                json!({ "field": "/tang/end", "missing": true }),
                json!({ "field": "/tang/end", "missing": false }),
            ]),
            "is to be missing",
        ),
        (
            all(vec![
                json!({ "field": "/examination/methods", "has": "loupe" }),
                not(json!({ "field": "/examination/methods", "has": "loupe" })),
            ]),
            "to have loupe and not",
        ),
        (
            all(vec![
                json!({ "field": "/blade/made_not_after", "after": "1700", "before": "1650" }),
            ]),
            "cannot be after 1700-12-31 and before 1650-01-01",
        ),
        (count(4, 5), "cannot be above 4 and below 5"),
        (
            json!({ "each": "/flaws", "when": { "field": "count", "below": 0 } }),
            "is a count and cannot be below 0",
        ),
        (
            json!({ "any": [all(vec![state("ubu"), state("suriage")]), all(vec![mass("above", "2 g"), mass("below", "1 g")])] }),
            "no value of",
        ),
        (
            not(json!({ "any": [state("ubu"), not(state("ubu"))] })),
            "no value of",
        ),
    ];
    for (condition, why) in never_holds {
        let found = never(&read(&condition)).unwrap_or_else(|| panic!("{condition}"));
        assert!(found.contains(why), "{condition}: {found}");
    }
    for condition in [
        all(vec![mass("above", "400 g"), mass("below", "500 g")]),
        all(vec![
            not(mass("below", "500 g")),
            not(mass("above", "500 g")),
        ]),
        count(4, 6),
        json!({ "any": [all(vec![state("ubu"), state("suriage")]), mass("above", "2 g")] }),
        all(vec![
            json!({ "field": "/tang/end", "missing": true }),
            state("ubu"),
        ]),
        not(count(4, 5)),
    ] {
        assert_eq!(never(&read(&condition)), None, "{condition}");
    }
}

#[test]
fn the_same_asked_in_another_order_reads_the_same() {
    let one = json!({ "field": "/dimensions/mass", "above": "1 kg" });
    let two = json!({ "field": "/tang/state", "is_one_of": ["ubu", "suriage"] });
    let turned = json!({ "field": "/tang/state", "is_one_of": ["suriage", "ubu"] });
    let grams = json!({ "field": "/dimensions/mass", "above": "1000 g" });
    let text = |value: Value| canonical(&read(&value));
    assert_eq!(
        text(json!({ "all": [one, two] })),
        text(json!({ "all": [turned, grams] }))
    );
    assert_eq!(
        text(json!({ "not": { "not": one } })),
        text(json!({ "all": [grams] }))
    );
    assert_ne!(
        text(json!({ "all": [one, two] })),
        text(json!({ "any": [one, two] }))
    );
}

/// Words that a person may put into a rule, right and wrong.
fn word() -> impl Strategy<Value = Value> {
    prop_oneof![
        proptest::sample::select(vec![
            "/flaws",
            "/flaws/0",
            "/dimensions/mass",
            "/dimensions/stations",
            "/tang/state",
            "/tang",
            "kind",
            "depth",
            "count",
            "sightings",
            "outcome",
            "ubu",
            "hagire",
            "seen",
            "5 mm",
            "5 g",
            "-1 mm",
            "1e400 mm",
            "1600",
            "1600-13",
            "",
            "/",
            "//",
            "/examination/methods",
            "loupe",
            "/blade/made_not_after",
            "user.x",
            "fatal.user-1",
            "importance.user-9",
            "caution",
        ])
        .prop_map(|text| json!(text)),
        any::<i64>().prop_map(|number| json!(number)),
        any::<f64>().prop_map(|number| json!(number)),
        any::<bool>().prop_map(|flag| json!(flag)),
        Just(Value::Null),
    ]
}

fn part() -> impl Strategy<Value = Value> {
    let name = proptest::sample::select(vec![
        "all",
        "any",
        "not",
        "each",
        "when",
        "at_least",
        "field",
        "above",
        "below",
        "before",
        "after",
        "is",
        "is_one_of",
        "has",
        "missing",
        "id",
        "level",
        "reason",
        "settle",
        "other",
    ]);
    word().prop_recursive(6, 60, 4, move |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 0..4).prop_map(Value::Array),
            proptest::collection::btree_map(name.clone().prop_map(str::to_owned), inner, 0..5)
                .prop_map(|members| Value::Object(members.into_iter().collect())),
        ]
    })
}

/// Conditions that are well formed, so that asking and looking for contradictions are tried too.
fn sound() -> impl Strategy<Value = Value> {
    let of_flaw = proptest::sample::select(vec![
        json!({ "field": "kind", "is": "pits" }),
        json!({ "field": "depth", "above": "0.2 mm" }),
        json!({ "field": "depth", "below": "0.1 mm" }),
        json!({ "field": "count", "above": 3, "below": 5 }),
        json!({ "field": "length", "missing": true }),
        json!({ "each": "sightings", "when": { "field": "outcome", "is": "seen" } }),
    ]);
    let of_sheet = proptest::sample::select(vec![
        json!({ "field": "/dimensions/mass", "above": "500 g" }),
        json!({ "field": "/dimensions/mass", "below": "500 g" }),
        json!({ "field": "/tang/state", "is": "ubu" }),
        json!({ "field": "/tang", "missing": true }),
        json!({ "field": "/blade/made_not_after", "before": "1600" }),
    ]);
    let each = (of_flaw, 1..4).prop_map(
        |(when, at_least)| json!({ "each": "/flaws", "at_least": at_least, "when": when }),
    );
    prop_oneof![each, of_sheet].prop_recursive(4, 30, 3, |inner| {
        prop_oneof![
            proptest::collection::vec(inner.clone(), 1..4)
                .prop_map(|parts| json!({ "all": parts })),
            proptest::collection::vec(inner.clone(), 1..4)
                .prop_map(|parts| json!({ "any": parts })),
            inner.prop_map(|part| json!({ "not": part })),
        ]
    })
}

/// A sheet with or without each of the fields asked about.
fn some_sheet() -> impl Strategy<Value = Value> {
    let depth = proptest::option::of(0.0_f64..0.5);
    let flaw = (depth, any::<bool>()).prop_map(|(depth, pits)| {
        let mut flaw = json!({ "kind": if pits { "pits" } else { "hakobore" } });
        if let Some(depth) = depth {
            flaw["depth"] = mm(&format!("{depth:.2}"), "0.01");
        }
        flaw
    });
    let mass = proptest::option::of(400.0_f64..600.0);
    (proptest::collection::vec(flaw, 0..4), mass, any::<bool>()).prop_map(|(flaws, mass, ubu)| {
        let mut sheet = json!({ "dimensions": {}, "blade": { "made_not_after": "1599" } });
        if !flaws.is_empty() {
            sheet["flaws"] = json!(flaws);
        }
        if let Some(mass) = mass {
            sheet["dimensions"]["mass"] =
                json!({ "value": format!("{mass:.1}"), "standard_uncertainty": "0.5" });
        }
        if ubu {
            sheet["tang"] = json!({ "state": "ubu" });
        }
        sheet
    })
}

proptest! {
    #[test]
    fn whatever_stands_in_a_rule_is_read_or_refused(rules in proptest::collection::vec(part(), 0..4)) {
        let _ = super::read(&rules);
    }

    /// What is said never to hold never does, and `not` never agrees with what it denies.
    #[test]
    fn what_can_never_hold_does_not(condition in sound(), sheet in some_sheet()) {
        let mut faults = Vec::new();
        let read = Reader::new(&mut faults).condition(&condition, &Scope::sheet(), "when", 1);
        prop_assume!(read.is_some());
        let read = read.unwrap();
        let held = ask(&read, &sheet, 0.8).truth;
        prop_assert!(never(&read).is_none() || held != Truth::Yes, "{condition} holds of {sheet}");
        let denied = ask(&Condition::Not(Box::new(read)), &sheet, 0.8).truth;
        prop_assert!(!(held == Truth::Yes && denied == Truth::Yes), "{condition}");
    }
}
