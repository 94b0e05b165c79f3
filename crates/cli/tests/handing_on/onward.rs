//! A blade goes from workshop to workshop: what the next one is told of the numbers, the signers and its own sheet.

use std::fs;

use serde_json::Value;

use super::{another, card, give, receive};
use crate::common::{Bench, Ran, text};

/// Heron sealed in `w` and received in `b`.
fn received() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    another(&bench, "b", "Bellmoor Edges");
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    give(&bench, "heron", "one", &[]).code(0);
    let known = card(&bench, "w");
    let told = receive(&bench, "one", &["--fingerprint", &known]).code(0);
    let words = "the key of `Reedbank Polishing` was compared with the card now";
    assert!(told.out.contains(words), "{}", told.out);
    bench
}

/// Seals in `b` what came, without looking at the blade.
fn seal_unseen(bench: &Bench, more: &[&str]) -> Ran {
    let line = ["--workshop", "b", "seal", "heron", "--for", "intake"];
    let decides = [
        "--verdict",
        "work",
        "--reason",
        "it came",
        "--by",
        "B. Moor",
    ];
    let pass = ["--passphrase-file", "pass.txt"];
    bench
        .run(&[&line[..], &decides, &pass, more].concat())
        .code(0)
}

#[test]
fn numbers_that_came_with_a_blade_are_not_sealed_unsaid() {
    let bench = received();
    let line = ["--workshop", "b", "blade", "show", "heron"];
    let shown = bench.run(&line).code(0);
    assert!(
        shown.out.contains("received, not examined"),
        "{}",
        shown.out
    );
    let sealed = seal_unseen(&bench, &["--json"]);
    let words = "that of record 1 of `Reedbank Polishing`: taken over, not measured again";
    assert!(sealed.err.contains(words), "{}", sealed.err);
    let taken_over = &sealed.json()["taken_over"];
    assert_eq!(taken_over["equal"], taken_over["both"]);
    assert_eq!(taken_over["record"], 1);
}

#[test]
fn a_package_is_verified_with_a_card_and_tells_who_sealed_before() {
    let bench = received();
    // Whoever knows nobody, with the card of the newest signer.
    let known = card(&bench, "w");
    let line = ["verify", "one", "--memory", "memory-c"];
    bench.run(&line).code(2);
    let short = [&line[..], &["--fingerprint", &known[..5]]].concat();
    let refused = bench.run(&short).code(3);
    assert!(refused.err.contains("20 characters"), "{}", refused.err);
    let with_card = [&line[..], &["--fingerprint", &known]].concat();
    let looked = [&with_card[..], &["--no-remember"]].concat();
    bench.run(&looked).code(0);
    bench.run(&line).code(2);
    let found = bench.run(&[&with_card[..], &["--json"]].concat()).code(0);
    assert_eq!(found.json()["remembered"], true);
    bench.run(&line).code(0);

    seal_unseen(&bench, &[]);
    let line = ["--workshop", "b", "handover", "heron", "--out", "two"];
    bench.run(&[&line[..], &["--report", "none"]].concat());
    let other = card(&bench, "b");
    let line = ["verify", "two", "--fingerprint", &other, "--json"];
    let found = bench
        .run(&[&line[..], &["--memory", "memory-d"]].concat())
        .code(0)
        .json();
    let signer = &found["signers"][0];
    assert_eq!(text(signer, "issuer"), "Reedbank Polishing");
    assert_eq!(signer["known"], false);
    let steps = found["next_steps"].as_array().unwrap();
    let step = |words: &str| {
        let mut steps = steps.iter().filter_map(Value::as_str);
        steps.any(|one| one.contains(words))
    };
    assert!(
        step("record 1 sealed by another key, of `Reedbank"),
        "{steps:?}"
    );
}

#[test]
fn an_own_sheet_that_was_replaced_is_said_to_be_kept() {
    let bench = received();
    seal_unseen(&bench, &[]);
    let line = ["--workshop", "b", "handover", "heron", "--out", "back"];
    bench.run(&[&line[..], &["--report", "none"]].concat());
    let known = card(&bench, "b");
    let line = ["handover", "receive", "back", "--fingerprint", &known];
    let more = ["--yes", "--memory", "memory-w"];
    let told = bench.work(&[&line[..], &more].concat()).code(0);
    let words = "your own sheet, revision 1, is kept; `tangmark examine undo heron`";
    assert!(told.out.contains(words), "{}", told.out);
}

#[test]
fn some_letters_of_a_card_are_no_card_of_somebody_else() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    another(&bench, "b", "Bellmoor Edges");
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    give(&bench, "heron", "one", &[]).code(0);
    let refused = receive(&bench, "one", &["--fingerprint", "QNPCA"]).code(1);
    assert!(refused.err.contains("20 characters"), "{}", refused.err);
    assert!(
        !refused.err.contains("not from whom the card is"),
        "{}",
        refused.err
    );
    // A record by itself is no package, and a key history no record.
    let record = "one/data/records/01-before_work.json";
    let refused = receive(&bench, record, &[]).code(1);
    assert!(
        refused.err.contains("`tangmark verify FILE`"),
        "{}",
        refused.err
    );
    let mut keys = fs::read_dir(bench.path("one/data/keys")).unwrap();
    let history = keys.next().unwrap().unwrap().path();
    let told = bench.run(&["verify", history.to_str().unwrap()]).code(3);
    assert!(told.out.contains("with `--keys FILE`"), "{}", told.out);
    // Nor is a package a key history, and no folder no workshop that lost something.
    let refused = bench.run(&["verify", record, "--keys", "one"]).code(3);
    assert!(refused.err.contains("`data/keys/`"), "{}", refused.err);
    let refused = bench.run(&["--workshop", "nowhere", "verify", record]);
    let hint = "hint: name the folder of a workshop with `--workshop DIR`";
    assert!(refused.err.contains(hint), "{}", refused.err);
}
