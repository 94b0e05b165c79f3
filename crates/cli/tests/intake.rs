//! A blade as it comes, through the built command: parcel, agreement and its limits, points to ask at.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, Ran, samples, text};
use serde_json::{Value, json};

fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    for photo in ["reed-before.jpg", "reed-tang.jpg"] {
        fs::copy(samples().join("photos").join(photo), bench.path(photo)).unwrap();
    }
    bench
}

const CUSTOMER: &[&str] = &[
    "intake",
    "reed",
    "--as",
    "customer",
    "--title",
    "Long sword with rust at the point",
    "--kind",
    "katana",
    "--giver",
    "Odile Varga",
    "--giver-address",
    "4 Quay Lane, Port Example",
    "--work",
    "Remove active rust, keep the outline.",
    "--steel-limit",
    "12 g",
    "--etch",
    "no",
    "--ask",
    "any crack",
    "--ask",
    "pits deeper than 0.1 mm",
    "--ceiling",
    "100 EUR",
    "--insured",
    "5200 EUR",
    "--consent",
    "Letter of 18 February 2026",
    "--agreed-on",
    "2026-02-18",
    "--return-by",
    "2026-06-30",
    "--carrier",
    "by hand",
    "--came",
    "blade in plain scabbard",
    "--hid",
    "tang=in the hilt, not taken apart",
    "--country",
    "JP",
    "--registration",
    "registration_card; authority=Board of Education; on=1974-05; number=17",
    "--paper",
    "receipt; issuer=Reedbank Polishing; number=26-031",
    "--photo",
    "reed-before.jpg=The blade as it came",
    "--photo",
    "reed-tang.jpg=tang: Tang in the hilt",
    "--mass",
    "748.3 g",
    "--mass-state",
    "bare",
    "--scale",
    "bench scale",
    "--scale-step",
    "0.1 g",
    "--light",
    "north window",
    "--surface",
    "rusted",
    "--looked-at",
    "edge",
    "--on",
    "2026-02-20",
    "--by",
    "A. Polisher",
    "--json",
];

fn put(bench: &Bench, sheet: &Value) -> Ran {
    fs::write(bench.path("next.json"), sheet.to_string()).unwrap();
    bench.work(&["examine", "put", "next.json", "--json"])
}

/// Rules found on the newest sheet, those that speak of money too.
fn rules(bench: &Bench, blade: &str) -> Vec<String> {
    let check = bench.work(&["check", blade, "--json"]).code(0).json();
    ["findings", "private_findings"]
        .into_iter()
        .flat_map(|list| check[list].as_array().unwrap().clone())
        .map(|finding| format!("{}/{}", text(&finding, "plugin"), text(&finding, "rule")))
        .collect()
}

#[test]
fn a_customers_blade_is_entered_in_one_go_and_once() {
    let bench = bench();
    let done = bench.work(CUSTOMER).code(0).json();
    assert_eq!(done["as"], "customer");
    assert_eq!(done["revision"], 1);
    assert_eq!(done["photos"], 2);
    let prompts: Vec<&str> = done["prompts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|prompt| text(prompt, "id"))
        .collect();
    assert!(prompts.contains(&"jp.card") && prompts.contains(&"any.materials"));
    assert!(!prompts.contains(&"eu.import"));

    let sheet = bench.shown("reed");
    let event = &sheet["custody"][0];
    assert_eq!(event["kind"], "left_for_work");
    assert_eq!(event["from"]["name"], "Odile Varga");
    assert_eq!(event["to"]["name"], "Reedbank Polishing");
    assert_eq!(event["documents"][0]["number"], "26-031");
    assert_eq!(
        event["note"],
        "Carrier: by hand. Came: blade in plain scabbard."
    );
    let agreement = &sheet["agreement"];
    assert_eq!(agreement["owner"]["name"], "Odile Varga");
    assert_eq!(agreement["steel_limit"]["value"], "12.0");
    assert_eq!(agreement["etch_allowed"], false);
    assert_eq!(agreement["consent"], "Letter of 18 February 2026");
    assert_eq!(agreement["price_ceiling"]["amount"], "100");
    assert_eq!(agreement["on"], "2026-02-18");
    let registration = &sheet["blade"]["registrations"][0];
    assert_eq!(registration["authority"], "Board of Education");
    let examination = &sheet["examination"];
    assert_eq!(examination["reason"], "intake");
    assert_eq!(examination["not_examined"][0]["part"], "tang");
    assert_eq!(sheet["dimensions"]["mass"]["instrument"], "scale");
    assert_eq!(sheet["dimensions"]["mass_state"], "bare");
    assert_eq!(sheet["photos"][1]["shows"], "tang");
    assert_eq!(sheet["photos"][0]["caption"], "The blade as it came");

    let kinds: Vec<String> = bench
        .journal(&["reed"])
        .iter()
        .map(|entry| text(entry, "kind").to_owned())
        .collect();
    assert_eq!(kinds, ["intake", "stage"]);
    let entry = bench.journal(&["reed"])[0].clone();
    assert_eq!(text(&entry, "by"), "A. Polisher");
    assert_eq!(text(&entry, "on"), "2026-02-20");
    let shown = entry["content"]["prompts_shown"].as_array().unwrap();
    assert!(shown.contains(&json!("jp.card")));

    // Once: a second run refuses, says where to go on, and changes nothing.
    let again = bench.work(CUSTOMER).code(1);
    assert!(
        again
            .err
            .starts_with("error: blade `reed` is in this workshop already; nothing was changed"),
        "{}",
        again.err
    );
    assert!(again.err.contains("tangmark intake amend reed"));
    assert_eq!(sheet_revision(&bench), 1);
    assert_eq!(bench.journal(&["reed"]).len(), 2);
}

fn sheet_revision(bench: &Bench) -> usize {
    let history = bench.work(&["examine", "history", "reed", "--json"]);
    history.code(0).json().as_array().unwrap().len()
}

#[test]
fn what_is_not_sound_enters_nothing() {
    let bench = bench();
    let refuse = |more: &[&str], said: &str| {
        let words = [
            &["intake", "heron", "--title", "Dagger", "--kind", "tanto"][..],
            more,
        ]
        .concat();
        let ran = bench.work(&words).code(1);
        let first = ran.err.lines().next().unwrap_or_default();
        assert!(first.starts_with(&format!("error: {said}")), "{}", ran.err);
        assert!(ran.err.contains("hint: "), "{}", ran.err);
    };
    refuse(&[], "the way it came is missing, custody begins with it");
    refuse(
        &["--as", "own", "--giver", "M. Ashe"],
        "a giver found for a blade that came as `own`",
    );
    refuse(
        &["--as", "customer", "--giver", "M. Ashe", "--price", "1 EUR"],
        "a price paid found for a blade that came as `customer`",
    );
    refuse(
        &["--as", "bought", "--work", "clean"],
        "an agreement with an owner found for a blade that came as `bought`",
    );
    refuse(
        &["--as", "customer", "--work", "clean"],
        "the owner's name is missing",
    );
    refuse(
        &["--as", "bought", "--price", "a lot"],
        "the sheet of `heron`: `custody[0].price`: `a lot` found, an amount, a space and a currency code are allowed",
    );
    refuse(
        &["--as", "bought", "--mass", "212.4 g"],
        "what was on the scale is missing",
    );
    refuse(
        &["--as", "bought", "--country", "Japan"],
        "`Japan` is not a country",
    );
    refuse(
        &["--as", "bought", "--photo", "gone.jpg=Parcel"],
        "the photo",
    );
    refuse(
        &["--as", "bought", "--photo", "pass.txt=Parcel"],
        "the photo",
    );
    refuse(
        &["--as", "bought", "--on", "2026-02"],
        "`2026-02` is not a day",
    );
    let blades = bench.work(&["blade", "list", "--json"]).code(0).json();
    assert_eq!(blades, json!([]));
    assert_eq!(bench.journal(&[]), Vec::<Value>::new());
    bench.work(&["store", "check"]).code(0);
}

#[test]
fn a_form_is_filled_in_once() {
    let bench = bench();
    let form = bench.run(&["intake", "heron", "--new"]).code(0).out;
    fs::create_dir(bench.path("wet")).unwrap();
    fs::copy(bench.path("reed-before.jpg"), bench.path("wet/parcel.jpg")).unwrap();
    let filled = form
        .replace("name = \"Their name\"", "name = \"M. Ashe\"")
        .replace("# price = \"1200 EUR\"", "price = \"1200 EUR\"")
        .replace("# hid = [", "hid = [")
        + "\n[[photos]]\nfile = \"parcel.jpg\"\ncaption = \"The parcel\"\nshows = \"packing\"\n";
    fs::write(bench.path("wet/heron.toml"), &filled).unwrap();
    let wrong = bench
        .work(&["intake", "reed", "--from", "wet/heron.toml"])
        .code(1);
    assert!(
        wrong
            .err
            .starts_with("error: the form is about blade `heron`")
    );
    let entered = bench
        .work(&["intake", "heron", "--from", "wet/heron.toml"])
        .code(0);
    assert!(
        entered
            .out
            .starts_with("blade heron: entered as bought, sheet revision 1, 1 photo kept")
    );
    assert!(
        entered
            .err
            .contains("next: print its label with `tangmark label heron")
    );
    let sheet = bench.shown("heron");
    assert_eq!(sheet["custody"][0]["kind"], "bought");
    assert_eq!(sheet["custody"][0]["price"]["currency"], "EUR");
    assert_eq!(
        sheet["custody"][0]["note"],
        "The packing hid: tang, in the hilt, not taken apart; thick oil over all."
    );
    assert_eq!(sheet["photos"][0]["shows"], "packing");
    // The books know what was paid for it.
    let account = bench
        .work(&["book", "show", "heron", "--json"])
        .code(0)
        .json();
    assert_eq!(account["currencies"][0]["currency"], "EUR");
    assert_eq!(account["currencies"][0]["bought"], "1200");

    let slip = filled.replace("title = ", "titel = ");
    fs::write(bench.path("slip.toml"), slip).unwrap();
    let told = bench
        .work(&["intake", "dune", "--from", "slip.toml"])
        .code(1);
    assert!(told.err.contains("slip.toml: line "), "{}", told.err);
    assert!(told.err.contains("unknown field `titel`"), "{}", told.err);
}

#[test]
fn the_price_and_the_giver_are_not_in_what_is_sealed() {
    let bench = bench();
    bench
        .work(&[
            "intake",
            "heron",
            "--as",
            "bought",
            "--title",
            "Dagger with horn hilt",
            "--kind",
            "tanto",
            "--giver",
            "M. Ashe",
            "--price",
            "1234.50 EUR",
            "--mass",
            "212.4 g",
            "--mass-state",
            "mounted",
            "--light",
            "lamp",
            "--surface",
            "worn_polish",
        ])
        .code(0);
    let sealed = bench.seal("heron", "intake", "set_aside").code(0).json();
    let record = fs::read_to_string(bench.path(text(&sealed, "file"))).unwrap();
    assert!(record.contains("\"bought\"") && record.contains("212.4"));
    assert!(!record.contains("1234") && !record.contains("Ashe"));
    bench
        .run(&["verify", text(&sealed, "file"), "--workshop", "w"])
        .code(0);
}

#[test]
fn work_outside_the_agreement_is_told_until_it_is_settled() {
    let bench = bench();
    bench.work(CUSTOMER).code(0);
    bench.give(
        "valuation",
        "settings.toml",
        "currency = \"EUR\"\nhour_rate = 34\n",
    );
    let own = |rules: &[String]| -> Vec<String> {
        let about = [
            "agreement.",
            "care.etch-not-agreed",
            "budget.",
            "price.over",
        ];
        rules
            .iter()
            .filter(|rule| {
                rule.split_once('/')
                    .is_some_and(|(_, rule)| about.iter().any(|one| rule.starts_with(one)))
            })
            .cloned()
            .collect()
    };
    assert_eq!(own(&rules(&bench, "reed")), Vec::<String>::new());

    let mut sheet = bench.shown("reed");
    sheet["passes"] = json!([{
        "id": "p1", "on": "2026-07-01", "operation": "etch", "zones": ["ground"], "time": "4 h",
        "etch": { "agent": "mild acid", "neutralised": true, "rinsed": true, "dried": true },
        "before": { "mass": "748.3 g" }, "after": { "mass": "735.0 g" },
    }]);
    put(&bench, &sheet).code(0);
    // 4 h at 34 EUR are 136 EUR of 100; 13.3 g are gone of 12.
    let mut found = own(&rules(&bench, "reed"));
    found.sort();
    assert_eq!(
        found,
        [
            "triage/agreement.ask-first",
            "triage/agreement.return-day",
            "triage/budget.agreed-limit",
            "triage/care.etch-not-agreed",
            "valuation/price.over-ceiling",
        ]
    );

    bench
        .work(&["book", "cost", "reed", "24 EUR", "--for", "paper and oil"])
        .code(0);
    let shown = bench
        .work(&["intake", "show", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(shown["spent"]["over"], true);
    // 4 h at 34 EUR, and 24 EUR.
    let cost = text(&shown["spent"]["cost"], "amount");
    assert!(cost == "160" || cost.starts_with("160.0"), "{cost}");

    // Each is settled by the owner's word, entered with who and when.
    let asked = |point: &str| {
        let words = [
            "intake",
            "asked",
            "reed",
            "--point",
            point,
            "--answer",
            "none seen",
        ];
        bench.work(&[&words[..], &["--on", "2026-07-01"]].concat())
    };
    let first = asked("any crack").code(0);
    assert!(
        first
            .err
            .contains("still open: 2 \"pits deeper than 0.1 mm\""),
        "{}",
        first.err
    );
    assert!(own(&rules(&bench, "reed")).contains(&"triage/agreement.ask-first".to_owned()));
    let unknown = asked("dents").code(1);
    assert!(
        unknown
            .err
            .contains("`dents` is no point to stop and ask at, agreed are 1 \"any crack\""),
        "{}",
        unknown.err
    );
    asked("2").code(0);
    let amend = [
        "intake",
        "amend",
        "reed",
        "--return-by",
        "2026-08-31",
        "--etch",
        "yes",
        "--ceiling",
        "500 EUR",
        "--steel-limit",
        "20 g",
        "--consent",
        "By letter of 1 July 2026",
    ];
    bench.work(&amend).code(0);
    assert_eq!(own(&rules(&bench, "reed")), Vec::<String>::new());
    let shown = bench
        .work(&["intake", "show", "reed", "--json"])
        .code(0)
        .json();
    assert_eq!(shown["agreement"]["return_by"], "2026-08-31");
    assert_eq!(shown["agreement"]["asked"][0]["answer"], "none seen");
    assert_eq!(shown["points"][1]["answers"][0][0], "2026-07-01");
    let words = bench.work(&["intake", "show", "reed"]).code(0).out;
    assert!(
        words.contains("as customer on 2026-02-20, entered by A. Polisher"),
        "{words}"
    );
    assert!(
        words.contains("stop and ask 1: any crack\n  2026-07-01: none seen"),
        "{words}"
    );
}

#[test]
fn a_point_to_ask_at_is_named_at_every_pass_until_it_is_answered() {
    let bench = bench();
    bench.work(CUSTOMER).code(0);
    let pass = |on: &str, before: &str, after: &str| {
        let words = [
            "pass",
            "add",
            "reed",
            "--do",
            "derust",
            "--zone",
            "ground",
            "--time",
            "30 min",
            "--before-mass",
            before,
            "--after-mass",
            after,
            "--on",
            on,
        ];
        bench.work(&words).code(0)
    };
    let asks = |ran: &Ran| {
        let said = format!("{}{}", ran.out, ran.err);
        said.contains("Agreed with the owner to stop and ask at")
    };
    assert!(asks(&pass("2026-03-02", "748.3 g", "747.9 g")));
    assert!(asks(&pass("2026-03-03", "747.9 g", "747.5 g")));
    for point in ["1", "2"] {
        let words = [
            "intake",
            "asked",
            "reed",
            "--point",
            point,
            "--answer",
            "none seen",
        ];
        bench.work(&words).code(0);
    }
    assert!(!asks(&pass("2026-03-04", "747.5 g", "747.1 g")));
}

#[test]
fn the_parcel_is_corrected_by_a_later_entry() {
    let bench = bench();
    bench.work(CUSTOMER).code(0);
    let amend = [
        "intake",
        "amend",
        "reed",
        "--came",
        "card in an envelope",
        "--country",
        "DE",
    ];
    bench
        .work(&[&amend[..], &["--by", "B. Second"]].concat())
        .code(0);
    let whole = bench.journal(&["reed", "--kind", "intake", "--whole"]);
    assert_eq!(whole.len(), 2);
    assert_eq!(whole[0]["replaced_by"], whole[1]["number"]);
    assert_eq!(
        whole[1]["content"]["came"],
        json!(["blade in plain scabbard", "card in an envelope"])
    );
    let shown = whole[1]["content"]["prompts_shown"].as_array().unwrap();
    assert!(shown.contains(&json!("eu.import")));
    let nothing = bench.work(&["intake", "amend", "reed"]).code(1);
    assert!(nothing.err.starts_with("error: nothing found to change"));
    // One that was entered as a sheet has no parcel, but may get an agreement.
    bench.put("dune");
    let none = bench
        .work(&["intake", "amend", "dune", "--came", "a box"])
        .code(1);
    assert!(
        none.err
            .starts_with("error: blade `dune` has no entry of its arrival")
    );
}

#[test]
fn a_new_sheet_goes_on_from_what_came() {
    let bench = bench();
    bench.work(CUSTOMER).code(0);
    let told = bench
        .work(&["examine", "new", "reed", "--out", "reed.toml"])
        .code(0);
    assert!(
        told.err
            .contains("what the workshop has of this blade stands in it already")
    );
    let text = fs::read_to_string(bench.path("reed.toml")).unwrap();
    assert!(
        text.contains("Odile Varga") && text.contains("[[dimensions.stations]]"),
        "{text}"
    );
    let before = bench.shown("reed");
    bench.work(&["examine", "put", "reed.toml"]).code(0);
    let after = bench.shown("reed");
    for section in ["agreement", "custody", "photos", "blade"] {
        assert_eq!(before[section], after[section], "{section}");
    }
    assert_eq!(after["dimensions"]["mass"]["value"], "748.30");
    assert_eq!(after["examination"]["reason"], "before_work");
    // A sheet that leaves a section out says so.
    let mut less = after;
    less.as_object_mut().unwrap().remove("agreement");
    let put = put(&bench, &less).code(0).json();
    let remarks = put["remarks"].to_string();
    assert!(
        remarks.contains("the sheet before had `agreement`, this one has none"),
        "{remarks}"
    );
}

#[test]
fn a_step_of_the_scale_below_zero_is_refused() {
    let bench = bench();
    let scale = [
        "--mass",
        "745 g",
        "--mass-state",
        "bare",
        "--scale-step",
        "-1 g",
    ];
    let line = [
        &[
            "intake", "reed", "--as", "bought", "--title", "A blade", "--kind", "katana",
        ][..],
        &scale,
    ];
    let refused = bench.work(&line.concat()).code(1);
    assert!(
        refused
            .err
            .contains("step of the scale: `-1 g` is below zero")
            && refused.err.contains("hint: leave out the minus sign"),
        "{}",
        refused.err
    );
    bench.work(&["blade", "show", "reed"]).code(1);
}

#[test]
fn what_to_ask_is_shown_without_a_workshop() {
    let bench = Bench::new();
    let general = bench.run(&["intake", "prompts", "--json"]).code(0).json();
    let japan = bench
        .run(&["intake", "prompts", "--country", "JP", "--json"])
        .code(0)
        .json();
    assert!(japan.as_array().unwrap().len() > general.as_array().unwrap().len());
    // A code without prompts is told, and what is no code refused.
    let unknown = bench
        .run(&["intake", "prompts", "--country", "ZZ", "--json"])
        .code(0);
    assert!(
        unknown.err.contains("no prompt for ZZ here"),
        "{}",
        unknown.err
    );
    assert_eq!(unknown.json(), general);
    let refused = bench
        .run(&["intake", "prompts", "--country", "Japan"])
        .code(1);
    assert!(
        refused.err.contains("`Japan` is not a country")
            && refused.err.contains("hint:")
            && refused.err.contains("--country JP"),
        "{}",
        refused.err
    );
    for prompt in japan.as_array().unwrap() {
        let source = text(prompt, "source");
        assert!(
            source.contains("common practice") || source.contains("from memory"),
            "{source}"
        );
    }
}
