//! Passes through the built command: logged, questioned, refused under hold, timed, listed, taken back; and stones.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::process::Stdio;

use common::{Bench, Ran, edit, sheet, text};
use serde_json::Value;

/// A workshop with two stones.
fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let add = |words: &[&str]| {
        bench.work(&[&["stone", "add"], words].concat()).code(0);
    };
    add(&[
        "second foundation stone",
        "--origin",
        "synthetic",
        "--stage",
        "kaisei",
        "--grit",
        "jis:1000",
    ]);
    add(&[
        "fine slate stone",
        "--origin",
        "natural",
        "--stage",
        "koma_nagura",
        "--d50-range",
        "2.5..5",
    ]);
    bench
}

const GRIND: [&str; 6] = [
    "--stone",
    "second foundation stone",
    "--zone",
    "ground",
    "--time",
    "3 h",
];

fn add(bench: &Bench, blade: &str, more: &[&str]) -> Ran {
    bench.work(&[&["pass", "add", blade, "--json"], &GRIND[..], more].concat())
}

/// The passes of the newest sheet.
fn passes(bench: &Bench, blade: &str) -> Vec<Value> {
    let sheet = bench.shown(blade);
    sheet["passes"].as_array().cloned().unwrap_or_default()
}

fn ids(bench: &Bench, blade: &str) -> Vec<String> {
    passes(bench, blade)
        .iter()
        .map(|pass| text(pass, "id").to_owned())
        .collect()
}

/// The first error line and its hint.
fn said(ran: &Ran) -> (String, String) {
    let line = |start: &str| {
        let found = ran.err.lines().find_map(|line| line.strip_prefix(start));
        found.unwrap_or_default().to_owned()
    };
    (line("error: "), line("hint: "))
}

/// The rust-covered blade, before any pass; 9 g may go by its plan.
fn put_reed(bench: &Bench) {
    bench.put_text(&sheet("reed-before")).code(0);
}

#[test]
fn a_pass_is_logged_with_its_stone_and_says_where_the_blade_stands() {
    let bench = bench();
    put_reed(&bench);
    let photo = bench.path("photos/reed-before.jpg");
    let photo = photo.to_str().unwrap();
    let done = add(
        &bench,
        "reed",
        &[
            "--before-mass",
            "748.3 g",
            "--after-mass",
            "746.1 g",
            "--reading",
            "100 mm width=29.00 mm",
            "--photo",
            photo,
            "--note",
            "wet",
            "--on",
            "2026-03-09",
            "--sure",
            "first width at this place",
        ],
    )
    .code(0)
    .json();
    assert_eq!(done["passes"], serde_json::json!(["p1"]));
    let pass = &passes(&bench, "reed")[0];
    assert_eq!(text(pass, "on"), "2026-03-09");
    assert_eq!(text(pass, "operation"), "grind", "follows from the stone");
    let stone = &pass["abrasive"];
    assert_eq!(
        (
            text(stone, "stage"),
            text(stone, "origin"),
            stone["grit"]["number"].as_u64()
        ),
        ("kaisei", "synthetic", Some(1000))
    );
    assert_eq!(text(&pass["before"]["mass"], "instrument"), "scale");
    assert_eq!(pass["photos"], serde_json::json!(["p1-1"]));

    let outlook = &done["outlook"];
    assert_eq!(text(&outlook["mass"], "value"), "746.10");
    assert_eq!(
        text(&outlook["steel_gone"], "value").split('.').next(),
        Some("2")
    );
    let plan = &outlook["limits"][0];
    assert_eq!(text(plan, "by"), "plan");
    assert!(!plan["reached"].as_bool().unwrap());
    assert!(text(&plan["left"], "value").starts_with("6.8"), "{plan}");
    assert_eq!(text(&done["stage"], "to"), "foundation");
    assert_eq!(done["outlook"]["stops"], serde_json::json!([]));
    let told = outlook["plan"].as_array().unwrap();
    assert!(
        told.iter()
            .any(|one| text(one, "rule").starts_with("abrasives.")),
        "{told:?}"
    );

    // The same for people.
    let ran = bench
        .work(&[
            "pass",
            "add",
            "reed",
            "--stone",
            "fine slate stone",
            "--zone",
            "ground",
            "--time",
            "1 h",
            "--before-mass",
            "746.1 g",
            "--after-mass",
            "745.9 g",
        ])
        .code(0);
    for line in [
        "blade reed: pass p2 logged, sheet revision",
        "time of p2: 1 h",
        "stage: middle",
        "mass: 745.90 g ±",
        "steel gone: 2.4",
        "may still go by the plan: 6.6",
    ] {
        assert!(ran.out.contains(line), "{line}:\n{}", ran.out);
    }
    for line in [
        "caution: the mud of natural stones can hold crystalline silica",
        "next: `tangmark pass add reed",
    ] {
        assert!(ran.err.contains(line), "{line}:\n{}", ran.err);
    }
}

#[test]
fn readings_that_cannot_be_are_asked_about() {
    let bench = bench();
    put_reed(&bench);
    let heavier = ["--before-mass", "748.3 g", "--after-mass", "749.3 g"];
    let (error, hint) = said(&add(&bench, "reed", &heavier).code(1));
    assert!(
        error.starts_with("pass `p1`, after.mass: 749.3 g found, at most 748.")
            && error.contains(" g is allowed: heavier than 748.3 g before the pass"),
        "{error}"
    );
    assert!(hint.contains("`--sure \"WHY\"`"), "{hint}");
    assert_eq!(ids(&bench, "reed"), [""; 0], "nothing was written");
    let sure = [&heavier[..], &["--sure", "oil in the groove"]].concat();
    let ran = add(&bench, "reed", &sure).code(0);
    assert!(
        ran.err
            .contains("note: taken as read: pass `p1`, after.mass"),
        "{}",
        ran.err
    );
    let note = passes(&bench, "reed")[0]["note"].clone();
    assert_eq!(note, "Taken as read (after.mass): oil in the groove");
    // Several at once, each on a line of its own.
    let slips = ["--before-mass", "700 g", "--strokes", "0"];
    let ran = add(&bench, "reed", &slips).code(1);
    assert_eq!(
        ran.err
            .lines()
            .filter(|line| line.starts_with("error: "))
            .count(),
        2,
        "{}",
        ran.err
    );
}

#[test]
fn passes_on_a_blade_that_is_not_here_are_asked_about() {
    let bench = bench();
    bench.put("heron");
    let stage = |to: &[&str]| {
        bench
            .work(&[&["stage", "set", "heron"], to].concat())
            .code(0);
    };
    let stands = || {
        let way = bench.work(&["stage", "show", "heron", "--json"]).code(0);
        text(&way.json(), "stage").to_owned()
    };
    for (month, left, back) in [
        (4, "sold", "`tangmark stage set heron as_received --again`"),
        (
            5,
            "returned",
            "`tangmark stage set heron as_received --again`",
        ),
        // Nobody noted that it was sent to anyone.
        (6, "referred", "`tangmark stage set heron as_received`"),
    ] {
        let on = |day: &str| format!("2026-0{month}-{day}");
        let (before, that, after) = (on("09"), on("10"), on("12"));
        stage(&["as_received", "--again", "--on", &that]);
        stage(&[left, "--on", &that]);
        let (error, hint) = said(&bench.work(&["pass", "start", "heron"]).code(1));
        assert_eq!(
            error,
            format!(
                "blade `heron` stands at `{left}` since {that}: no pass is begun on a blade that is not in the workshop"
            )
        );
        assert!(hint.contains(back), "{hint}");
        for day in [&that, &after] {
            let (error, _) = said(&add(&bench, "heron", &["--on", day]).code(1));
            assert!(
                error.contains(&format!(
                    "{day} with the blade at `{left}` since {that} found"
                )) && error.contains(back),
                "{error}"
            );
        }
        let count = ids(&bench, "heron").len();
        // A pass of a day before is only late in the book; one that is said to be right is taken. Neither brings it back.
        add(&bench, "heron", &["--on", &before]).code(0);
        let sure = ["--on", &after, "--sure", "it was here for a day"];
        add(&bench, "heron", &sure).code(0);
        assert_eq!(ids(&bench, "heron").len(), count + 2);
        assert_eq!(stands(), left);
    }
    // What was begun before it left is logged with the time that ran; the timer does not go on.
    bench.put("dune");
    bench
        .work(&[
            "pass",
            "start",
            "dune",
            "--stone",
            "second foundation stone",
            "--zone",
            "ground",
        ])
        .code(0);
    bench.work(&["stage", "set", "dune", "sold"]).code(0);
    let (error, _) = said(&bench.work(&["pass", "resume", "dune"]).code(1));
    assert!(error.contains("no pass goes on on a blade"), "{error}");
    let logged = bench
        .work(&["pass", "stop", "dune", "--json"])
        .code(0)
        .json();
    assert_eq!(logged["taken_as_read"], Value::Array(Vec::new()));
    let way = bench.work(&["stage", "show", "dune", "--json"]).code(0);
    assert_eq!(text(&way.json(), "stage"), "sold");
}

#[test]
fn all_lists_count_the_same_passes() {
    let bench = bench();
    bench.put("reed-before");
    bench.seal("reed", "before_work", "work").code(0);
    bench.put("reed-after");
    bench.seal("reed", "after_work", "work").code(0);
    let counts = || {
        let json = |words: &[&str]| bench.work(&[words, &["--json"]].concat()).code(0).json();
        let book = json(&["book", "show", "reed"]);
        let year = json(&["book", "year", "2026"]);
        let line = &json(&["stage", "list"])["blades"][0];
        let listed = json(&["pass", "list", "reed"]);
        let listed = listed["passes"].as_array().unwrap();
        let last = &listed.last().unwrap()["time_so_far"]["value"];
        let minutes = |value: &Value| {
            let text = value.as_str().unwrap();
            format!("{:.0}", text.parse::<f64>().unwrap())
        };
        let time = minutes(last);
        assert_eq!(minutes(&book["pass_minutes"]), time);
        assert_eq!(minutes(&year["minutes"]), time);
        assert_eq!(minutes(&line["minutes"]), time);
        let exported = bench.path("books");
        let _ = fs::remove_dir_all(&exported);
        bench.work(&["book", "export", "books"]).code(0);
        let rows = fs::read_to_string(exported.join("passes.csv")).unwrap();
        [
            listed.len(),
            count(&line["passes"]),
            count(&book["passes"]),
            count(&year["passes"]),
            rows.lines().filter(|row| row.starts_with("reed,")).count(),
        ]
    };
    assert_eq!(counts(), [4; 5]);
    // A sheet that carries none of them begins a further piece of work: what was done before is still done.
    bench.put("reed-before");
    assert!(ids(&bench, "reed").is_empty());
    assert_eq!(counts(), [4; 5]);
    add(&bench, "reed", &["--on", "2026-06-01"]).code(0);
    assert_eq!(counts(), [5; 5]);
    bench.work(&["store", "rebuild"]).code(0);
    assert_eq!(counts(), [5; 5]);
}

fn count(value: &Value) -> usize {
    usize::try_from(value.as_u64().unwrap()).unwrap()
}

#[test]
fn a_refused_pass_is_kept_and_logged_after_the_answer() {
    let bench = bench();
    bench.put("gorge");
    let ran = add(
        &bench,
        "gorge",
        &["--note", "typed once", "--on", "2026-03-18"],
    )
    .code(1);
    let (error, hint) = said(&ran);
    assert!(
        error.starts_with(
            "blade `gorge` is held, no pass is logged while a stop stands: triage/fatal.hagire: "
        ),
        "{error}"
    );
    assert!(
        hint.starts_with("two independent looks that do not find the flaw lift it")
            && hint.contains("`tangmark pass again "),
        "{hint}"
    );
    assert_eq!(ids(&bench, "gorge"), [""; 0]);
    let list = bench
        .work(&["pass", "list", "gorge", "--json"])
        .code(0)
        .json();
    let kept = &list["refused"][0];
    assert_eq!(text(&kept["passes"][0], "note"), "typed once");
    assert_eq!(text(kept, "on"), "2026-03-18");
    let number = kept["entry"].to_string();
    assert!(
        hint.contains(&format!("`tangmark pass again {number}`")),
        "{hint}"
    );

    // Still held: refused again, and not kept twice.
    bench.work(&["pass", "again", &number]).code(1);
    let entries = |bench: &Bench| {
        let list = bench
            .work(&["pass", "list", "gorge", "--json"])
            .code(0)
            .json();
        list["refused"].as_array().unwrap().len()
    };
    assert_eq!(entries(&bench), 1);
    bench.work(&["pass", "start", "gorge"]).code(1);
    // Two looks that do not find the crack.
    let looks = ["2026-03-24", "2026-03-25"].map(|day| {
        format!("  {{ on = \"{day}\", by = \"polisher\", method = \"stain_line\", light = \"bare lamp\", face = \"omote\", outcome = \"not_seen\" }},\n")
    });
    let whole = sheet("gorge");
    let rust = whole.find("[[flaws]]\nid = \"rust-1\"").unwrap();
    let (crack, rest) = whole.split_at(rust);
    let end = crack.rfind(']').unwrap();
    let crack = format!("{}{}{}{}", &crack[..end], looks[0], looks[1], &crack[end..]);
    let crack = edit(
        &crack,
        "standing = \"confirmed\"",
        "standing = \"ruled_out\"",
    );
    bench.put_text(&format!("{crack}{rest}")).code(0);
    let done = bench
        .work(&["pass", "again", &number, "--json"])
        .code(0)
        .json();
    assert_eq!(done["passes"], serde_json::json!(["p1"]));
    let pass = &passes(&bench, "gorge")[0];
    assert_eq!(
        (text(pass, "note"), text(pass, "on")),
        ("typed once", "2026-03-18")
    );
    assert_eq!(entries(&bench), 0);
    let (error, _) = said(&bench.work(&["pass", "again", &number]).code(1));
    assert_eq!(
        error,
        format!("the pass of journal entry {number} was logged since, as `p1`")
    );
    bench.work(&["pass", "again", "9999"]).code(1);
}

#[test]
fn a_spent_budget_is_told_and_holds_the_next_pass() {
    let bench = bench();
    put_reed(&bench);
    let done = add(
        &bench,
        "reed",
        &["--before-mass", "748.3 g", "--after-mass", "738.0 g"],
    )
    .code(0)
    .json();
    let stop = &done["outlook"]["stops"][0];
    assert_eq!(text(stop, "rule"), "triage/budget.spent");
    assert!(
        text(stop, "answered_by").contains("new examination"),
        "{stop}"
    );
    assert!(done["outlook"]["limits"][0]["reached"].as_bool().unwrap());
    let arisen = done["outlook"]["arisen"].as_array().unwrap();
    assert!(
        arisen.iter().any(|one| text(one, "rule") == "budget.spent"),
        "{arisen:?}"
    );
    let (error, hint) = said(&add(&bench, "reed", &[]).code(1));
    assert!(
        error.contains("triage/budget.spent") && hint.contains("new budget"),
        "{error} {hint}"
    );
    assert_eq!(ids(&bench, "reed"), ["p1"]);
}

#[test]
fn an_etch_is_logged_with_its_care_and_one_outside_the_agreement_is_told() {
    let bench = bench();
    put_reed(&bench);
    let etch = [
        "pass",
        "add",
        "reed",
        "--etch",
        "ferric chloride",
        "--etch-concentration",
        "3 %",
        "--etch-time",
        "2 min",
        "--neutralised",
        "--rinsed",
        "--zone",
        "ground",
        "--json",
    ];
    let ran = bench.work(&etch).code(0);
    assert!(
        ran.err.contains("caution: acids burn and their fumes harm"),
        "{}",
        ran.err
    );
    let done = ran.json();
    assert_eq!(text(&done["stage"], "to"), "etched");
    let pass = &passes(&bench, "reed")[0];
    assert_eq!(text(pass, "operation"), "etch");
    assert_eq!(
        (
            pass["etch"]["neutralised"].as_bool(),
            pass["etch"]["dried"].as_bool()
        ),
        (Some(true), Some(false))
    );
    let arisen = done["outlook"]["arisen"].to_string();
    assert!(
        arisen.contains("etch"),
        "the agreement does not allow it: {arisen}"
    );
}

#[test]
fn a_timer_measures_and_logs_the_pass() {
    let bench = bench();
    put_reed(&bench);
    bench.put("heron");
    for blade in ["reed", "heron"] {
        let words = [
            "pass",
            "start",
            blade,
            "--stone",
            "Fine Slate Stone",
            "--zone",
            "ground",
            "--json",
        ];
        let line = bench.work(&words).code(0).json();
        assert!(line["running"].as_bool().unwrap());
    }
    let (error, hint) = said(&bench.work(&["pass", "start", "reed"]).code(1));
    assert!(
        error.starts_with("a timer of `reed` runs already, since ")
            && hint.contains("pass stop reed"),
        "{error} {hint}"
    );
    let list = bench.work(&["pass", "timer", "--json"]).code(0).json();
    let blades: Vec<&str> = list
        .as_array()
        .unwrap()
        .iter()
        .map(|one| text(one, "blade"))
        .collect();
    assert_eq!(blades, ["heron", "reed"], "several at once");
    bench.work(&["pass", "resume", "reed"]).code(1);
    bench.work(&["pass", "pause", "reed"]).code(0);
    bench.work(&["pass", "pause", "reed"]).code(1);
    bench.work(&["pass", "resume", "reed"]).code(0);
    let done = bench
        .work(&["pass", "stop", "reed", "--after-mass", "748.0 g", "--json"])
        .code(0)
        .json();
    assert_eq!(done["times"], serde_json::json!(["1 min"]));
    let pass = &passes(&bench, "reed")[0];
    assert_eq!(
        text(&pass["abrasive"], "name"),
        "fine slate stone",
        "said at the start"
    );
    assert_eq!(text(&pass["after"]["mass"], "value"), "748.00");
    assert!(pass["stone"].is_null());
    let list = bench.work(&["pass", "timer", "--json"]).code(0).json();
    assert_eq!(list.as_array().unwrap().len(), 1);
    let (error, hint) = said(&bench.work(&["pass", "stop", "reed"]).code(1));
    assert_eq!(error, "blade `reed` has no timer, one is needed");
    assert!(hint.contains("tangmark pass start reed"), "{hint}");
    // A time that is said stands for the measured one.
    let done = bench
        .work(&["pass", "stop", "heron", "--time", "2 h", "--json"])
        .code(0)
        .json();
    assert_eq!(done["times"], serde_json::json!(["2 h"]));
}

#[test]
fn the_log_runs_sums_is_drawn_and_its_last_pass_taken_back() {
    let bench = bench();
    put_reed(&bench);
    fs::write(
        bench.path("week.toml"),
        "[[passes]]\noperation = \"derust\"\nzones = [\"ground\", \"ridge\"]\non = \"2026-03-09\"\ntime = \"3 h\"\n\
         before = { mass = \"748.3 g\" }\nafter = { mass = \"746.1 g\" }\n\n\
         [[passes]]\nstone = \"second foundation stone\"\nzones = [\"ground\"]\non = \"2026-03-23\"\ntime = \"90 min\"\n\
         before = { mass = \"746.1 g\" }\nafter = { mass = \"742.6 g\" }\n",
    )
    .unwrap();
    let done = bench
        .work(&["pass", "add", "reed", "--from", "week.toml", "--json"])
        .code(0)
        .json();
    assert_eq!(done["passes"], serde_json::json!(["p1", "p2"]));
    let list = bench
        .work(&["pass", "list", "reed", "--json"])
        .code(0)
        .json();
    let last = &list["passes"][1];
    assert_eq!(text(&last["steel_so_far"], "value"), "3.50");
    assert_eq!(text(&last["rust_so_far"], "value"), "2.20");
    assert!(
        text(&last["time_so_far"], "value").starts_with("270"),
        "{last}"
    );
    let table = bench.work(&["pass", "list", "reed"]).code(0).out;
    assert!(table.contains("p2    2026-03-23  grind"), "{table}");
    bench
        .work(&["pass", "list", "reed", "--svg", "passes.svg"])
        .code(0);
    let svg = fs::read_to_string(bench.path("passes.svg")).unwrap();
    assert!(svg.contains("<svg") && svg.contains("mass, g"), "{svg}");
    bench
        .work(&["pass", "list", "reed", "--svg", "passes.svg"])
        .code(1);

    bench.work(&["pass", "undo", "reed"]).code(1);
    assert_eq!(ids(&bench, "reed"), ["p1", "p2"], "nobody could be asked");
    bench.work(&["pass", "undo", "reed", "--yes"]).code(0);
    assert_eq!(ids(&bench, "reed"), ["p1"]);
    bench.work(&["examine", "undo", "reed"]).code(0);
    assert_eq!(ids(&bench, "reed"), ["p1", "p2"], "nothing was erased");
    bench.seal("reed", "before_work", "work").code(0);
    let (error, hint) = said(&bench.work(&["pass", "undo", "reed", "--yes"]).code(1));
    assert_eq!(
        error,
        "pass `p2` of `reed` is in sealed record 1; what is sealed is not taken back"
    );
    assert!(hint.contains("tangmark correct reed --record 1"), "{hint}");
    assert_eq!(ids(&bench, "reed"), ["p1", "p2"]);
    bench.put("heron");
    let (error, _) = said(&bench.work(&["pass", "undo", "heron", "--yes"]).code(1));
    assert_eq!(error, "blade `heron` has no pass on its sheet");
}

#[test]
fn a_file_of_passes_goes_in_whole_or_not_at_all() {
    let bench = bench();
    put_reed(&bench);
    fs::write(
        bench.path("week.toml"),
        "[[passes]]\noperation = \"derust\"\nzones = [\"ground\"]\n\n[[passes]]\nstone = \"no such stone\"\nzones = [\"ground\"]\n",
    )
    .unwrap();
    let (error, hint) = said(
        &bench
            .work(&["pass", "add", "reed", "--from", "week.toml"])
            .code(1),
    );
    assert!(
        error.starts_with("no stone `no such stone` found in "),
        "{error}"
    );
    assert!(
        hint.contains("`second foundation stone`") && hint.contains("tangmark stone list"),
        "{hint}"
    );
    let (error, hint) = said(&add(&bench, "reed", &["--before-mass", "748 kilos"]).code(1));
    assert!(error.contains("passes[0].before.mass"), "{error}");
    assert!(!hint.is_empty());
    assert_eq!(ids(&bench, "reed"), [""; 0]);
}

#[test]
fn two_commands_at_once_lose_nothing() {
    let bench = bench();
    put_reed(&bench);
    let mut words = vec!["--workshop", "w", "pass", "add", "reed", "--json"];
    words.extend(GRIND);
    let children: Vec<_> = (0..2)
        .map(|_| {
            bench
                .command(&words)
                .stdin(Stdio::null())
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .unwrap()
        })
        .collect();
    let mut logged = 0;
    for child in children {
        let output = child.wait_with_output().unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        if output.status.success() {
            logged += 1;
            continue;
        }
        assert!(
            err.contains("was changed by another program meanwhile"),
            "{err}"
        );
        let number = err.split("`tangmark pass again ").nth(1).unwrap();
        let number = number.split('`').next().unwrap();
        bench.work(&["pass", "again", number]).code(0);
        logged += 1;
    }
    assert_eq!(
        (logged, ids(&bench, "reed")),
        (2, vec!["p1".to_owned(), "p2".to_owned()])
    );
}

#[test]
fn passes_put_onto_a_held_sheet_are_told() {
    let bench = bench();
    let pass = "\n[[passes]]\nid = \"p1\"\non = \"2026-03-20\"\noperation = \"grind\"\nzones = [\"ground\"]\ntime = \"1 h\"\n";
    let note = "note: pass `p1` came onto the sheet while triage/fatal.hagire stands unanswered";
    let put = bench.put_text(&format!("{}{pass}", sheet("gorge"))).code(0);
    assert!(put.err.contains(note), "{}", put.err);
    bench.put("gorge");
    let undo = bench.work(&["examine", "undo", "gorge"]).code(0);
    assert!(undo.err.contains(note), "{}", undo.err);
    let sealed = bench.seal("gorge", "intake", "set_aside").code(0).json();
    assert_eq!(sealed["under_hold"], 1);
    let table = bench.work(&["pass", "list", "gorge"]).code(0).out;
    assert!(table.contains("under hold: triage/fatal.hagire"), "{table}");
}

#[test]
fn stones_are_added_beside_the_others_and_tell_their_use() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let folder = bench.path("w/plugins/abrasives");
    fs::create_dir_all(&folder).unwrap();
    let list = "name , origin,stage\r\n\"old, hard stone\", natural ,binsui\r\n";
    fs::write(folder.join("stones.csv"), list).unwrap();
    let added = bench
        .work(&[
            "stone",
            "add",
            "second foundation stone",
            "--origin",
            "synthetic",
            "--stage",
            "kaisei",
            "--grit",
            "jis:1000",
        ])
        .code(0);
    assert!(added.err.contains("stones.csv.1"), "{}", added.err);
    assert_eq!(
        fs::read_to_string(folder.join("stones.csv")).unwrap(),
        "name , origin,stage,grit_system,grit\r\n\"old, hard stone\", natural ,binsui,,\r\nsecond foundation stone,synthetic,kaisei,jis,1000\r\n"
    );
    assert_eq!(
        fs::read_to_string(folder.join("stones.csv.1")).unwrap(),
        list
    );
    let natural = bench
        .work(&[
            "stone",
            "add",
            "grey slate",
            "--origin",
            "natural",
            "--json",
        ])
        .code(0);
    assert!(
        natural.err.contains("caution: the mud of natural stones"),
        "{}",
        natural.err
    );

    // What the planner does not take is not written.
    let before = fs::read(folder.join("stones.csv")).unwrap();
    for (words, expected) in [
        (
            &["odd", "--origin", "synthetic", "--grit", "jis:900"][..],
            "its neighbours are 800 and 1000",
        ),
        (
            &["Grey Slate", "--origin", "natural"][..],
            "a stone `Grey Slate` is in ",
        ),
        (
            &["odd", "--origin", "stone"][..],
            "`stone` found, natural, synthetic are allowed",
        ),
    ] {
        let ran = bench.work(&[&["stone", "add"], words].concat()).code(1);
        assert!(ran.err.contains(expected), "{}", ran.err);
    }
    bench
        .work(&[
            "stone",
            "add",
            "odd",
            "--origin",
            "synthetic",
            "--grit",
            "900",
        ])
        .code(4);
    assert_eq!(fs::read(folder.join("stones.csv")).unwrap(), before);

    put_reed(&bench);
    bench
        .work(&[
            "stone",
            "wear",
            "second foundation stone",
            "--mass",
            "812.5 g",
            "--on",
            "2026-03-01",
        ])
        .code(0);
    add(
        &bench,
        "reed",
        &[
            "--before-mass",
            "748.3 g",
            "--after-mass",
            "746.3 g",
            "--on",
            "2026-03-09",
        ],
    )
    .code(0);
    let wear = bench
        .work(&[
            "stone",
            "wear",
            "Second foundation stone",
            "--mass",
            "808.5 g",
            "--on",
            "2026-03-10",
            "--json",
        ])
        .code(0)
        .json();
    assert_eq!(text(&wear, "since"), "2026-03-01");
    let weigh = |mass: &str, more: &[&str]| {
        let mass = format!("--mass={mass}");
        let words = ["stone", "wear", "second foundation stone", mass.as_str()];
        bench.work(&[&words[..], more].concat())
    };
    for (mass, on, found) in [
        ("-1 g", "2026-03-11", "-1 g found, more than 0 g is allowed"),
        ("900 g", "2026-03-11", "900 g found, at most 808.5 g"),
        ("800 g", "2026-03-02", "2026-03-02 found, 2026-03-10"),
    ] {
        let refused = weigh(mass, &["--on", on]).code(1);
        assert!(refused.err.contains(found), "{}", refused.err);
    }
    weigh("-1 g", &["--on", "2026-03-11", "--sure", "read twice"]).code(1);
    assert!(text(&wear["worn"], "value").starts_with("4.0"), "{wear}");
    assert!(text(&wear["wear"], "value").starts_with("2.0"), "{wear}");
    let stones = bench.work(&["stone", "list", "--json"]).code(0).json();
    let one = &stones[1];
    assert_eq!(text(one, "name"), "second foundation stone");
    assert_eq!(
        (one["passes"].as_u64(), one["blades"].as_u64()),
        (Some(1), Some(1))
    );
    assert!(text(&one["minutes"], "value").starts_with("180"), "{one}");
    assert!(text(&one["steel"], "value").starts_with("2.0"), "{one}");
    let table = bench.work(&["stone", "list"]).code(0).out;
    assert!(
        table.contains("second foundation stone  synthetic  kaisei"),
        "{table}"
    );
}

/// Passes that are weighed after only: each began with the last weighing, so what went adds up, the floor stays where it
/// is, and the limit agreed with the owner holds the blade. 748.3 − 737.9 = 10.4 g, 748.3 − 730.9 = 17.4 g, 12 g agreed.
#[test]
fn passes_weighed_after_only_spend_what_was_agreed() {
    let bench = bench();
    let reed = sheet("reed-before");
    let nine = "steel_budget = { text = \"9 g\", uncertainty = \"0.5 g\" }";
    assert!(reed.contains(nine));
    bench
        .put_text(&reed.replace(nine, "steel_budget = \"14 g\""))
        .code(0);
    let day = ["--on", "2026-03-09", "--after-mass"];
    let weighed = |mass: &str| add(&bench, "reed", &[&day[..], &[mass]].concat());
    let gone = |done: &Value| {
        let value = text(&done["outlook"]["steel_gone"], "value");
        value.parse::<f64>().unwrap()
    };
    let rules = |done: &Value| -> Vec<String> {
        let stops = done["outlook"]["stops"].as_array().unwrap();
        let rule = |stop: &Value| text(stop, "rule").to_owned();
        stops.iter().map(rule).collect()
    };
    let first = weighed("737.9 g").code(0).json();
    assert!((gone(&first) - 10.4).abs() < 0.01, "{first}");
    assert!(rules(&first).is_empty(), "{first}");
    let second = weighed("730.9 g").code(0).json();
    assert!((gone(&second) - 17.4).abs() < 0.01, "{second}");
    let stops = rules(&second);
    assert!(
        stops.contains(&"triage/budget.agreed-limit".to_owned()),
        "{stops:?}"
    );
    // The plan's own budget is spent as well, and is told first.
    let refused = weighed("730.0 g").code(1);
    assert!(
        refused.err.contains("triage/budget.agreed-limit"),
        "{}",
        refused.err
    );

    let listed = bench
        .work(&["pass", "list", "reed", "--json"])
        .code(0)
        .json();
    let so_far = |index: usize| {
        let pass = &listed["passes"][index];
        let number = |name: &str| text(&pass[name], "value").parse::<f64>().unwrap();
        (number("went"), number("steel_so_far"))
    };
    for (index, (went, all)) in [(0, (10.4, 10.4)), (1, (7.0, 17.4))] {
        let found = so_far(index);
        assert!(
            (found.0 - went).abs() < 0.01 && (found.1 - all).abs() < 0.01,
            "{found:?}"
        );
    }
}
