//! Referrals through the built command: packet, way out and back, receipts of each kind, replies and what they lift.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;
use std::process::Command;

use common::{Bench, Ran, text};
use serde_json::Value;

fn open(bench: &Bench, more: &[&str]) -> Ran {
    let words = [
        "refer",
        "open",
        "lantern",
        "--to",
        "S. Moor",
        "--question",
        "Should it be polished at all?",
        "--not-done",
        "No stone, no etch",
        "--packed",
        "blade in storage scabbard",
        "--return-conditions",
        "hand to hand",
        "--out",
        "packet",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    bench.work(&[&words[..], more].concat())
}

fn referred() -> (Bench, Value) {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("lantern");
    let opened = open(&bench, &["--return-by", "2026-06-30", "--on", "2026-05-01"])
        .code(0)
        .json();
    (bench, opened)
}

fn refer(bench: &Bench, words: &[&str]) -> Ran {
    bench.work(&[&["refer"][..], words].concat())
}

fn held(bench: &Bench) -> Vec<String> {
    let check = bench.work(&["check", "lantern", "--json"]).code(0).json();
    let stops = check["stops"].as_array().unwrap();
    stops
        .iter()
        .map(|stop| text(stop, "rule").to_owned())
        .collect()
}

fn reply(bench: &Bench, verdict: &str, more: &[&str]) -> Ran {
    let words = [
        "reply",
        "lantern",
        "--from",
        "S. Moor",
        "--verdict",
        verdict,
        "--text",
        "Letter of 4 May: a light polish does no harm.",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    refer(bench, &[&words[..], more].concat())
}

fn answers(rules: &[String]) -> Vec<&str> {
    rules
        .iter()
        .flat_map(|rule| {
            [
                "--answer",
                rule,
                "--how",
                "Seen in hand: a light polish does no harm.",
            ]
        })
        .collect()
}

/// Notes that the blade left; returns the answer.
fn sent(bench: &Bench, on: &str) -> Value {
    let words = [
        "sent",
        "lantern",
        "--carrier",
        "by hand",
        "--on",
        on,
        "--json",
    ];
    refer(bench, &words).code(0).json()
}

fn show(bench: &Bench) -> Value {
    refer(bench, &["show", "lantern", "--json"]).code(0).json()[0].clone()
}

/// Runs `openssl` in the folder of the bench.
fn openssl(bench: &Bench, words: &[&str]) {
    let output = Command::new("openssl")
        .args(words)
        .current_dir(bench.folder.path())
        .output()
        .expect("`openssl` is needed for this test");
    assert!(output.status.success(), "{output:?}");
}

/// A key of the specialist, its public half, and the signature over a file.
fn signed(bench: &Bench, name: &str, file: &str) {
    let key = format!("{name}.key");
    openssl(
        bench,
        &[
            "ecparam",
            "-name",
            "prime256v1",
            "-genkey",
            "-noout",
            "-out",
            &key,
        ],
    );
    let public = format!("{name}.pem");
    openssl(bench, &["pkey", "-in", &key, "-pubout", "-out", &public]);
    let signature = format!("{name}.sig");
    openssl(
        bench,
        &["dgst", "-sha256", "-sign", &key, "-out", &signature, file],
    );
}

#[test]
fn the_packet_holds_what_was_seen_and_how_to_sign_for_it() {
    let (bench, opened) = referred();
    let record = text(&opened, "record").to_owned();
    let packet = bench.path("packet");
    let list = fs::read_to_string(packet.join("files.txt")).unwrap();
    let names: Vec<&str> = list
        .lines()
        .map(|line| line.split_once("  ").unwrap().1)
        .collect();
    assert!(names.contains(&"lantern-01-referral.json"), "{names:?}");
    assert!(names.contains(&"lantern-01-referral.pdf"), "{names:?}");
    assert!(names.contains(&"lantern-handover.zip"), "{names:?}");
    assert!(
        names.iter().any(|name| name.starts_with("photos/")),
        "{names:?}"
    );
    // As anybody can check with a tool that is everywhere.
    let checked = Command::new("sha256sum")
        .args(["-c", "--quiet", "files.txt"])
        .current_dir(&packet)
        .status()
        .unwrap();
    assert!(checked.success());
    let words = fs::read_to_string(packet.join("packing-and-receipt.txt")).unwrap();
    for part in [
        "blade in storage scabbard",
        "Conditions of return: hand to hand",
        "--for receipt --refers-to 1",
        text(&opened["packet_made"], "list"),
    ] {
        assert!(words.contains(part), "`{part}` is not in:\n{words}");
    }
    let sealed = fs::read_to_string(packet.join("lantern-01-referral.json")).unwrap();
    assert!(!sealed.contains("S. Moor"), "the name is withheld");
    let value: Value = serde_json::from_str(&sealed).unwrap();
    assert_eq!(
        value["referral"]["questions"][0],
        "Should it be polished at all?"
    );
    assert_eq!(record.len(), 64);
}

#[test]
fn out_and_back_with_a_reply_that_lifts_what_it_answers() {
    let (bench, _) = referred();
    let rules = held(&bench);
    assert!(!rules.is_empty());
    // Nothing is worked on before the answer.
    bench.seal("lantern", "before_work", "work").code(1);
    let left = sent(&bench, "2026-05-02");
    assert_eq!(text(&left, "stage"), "referred");
    let sold = bench.work(&[
        "sale",
        "close",
        "lantern",
        "--to",
        "A",
        "--price",
        "1 EUR",
        "--passphrase-file",
        "pass.txt",
    ]);
    assert!(
        sold.code(1)
            .err
            .contains("is with `S. Moor` by its referral")
    );

    let late = refer(&bench, &["list"]).code(0).out;
    assert!(
        late.contains("lantern") && late.contains("S. Moor") && late.contains("late"),
        "{late}"
    );
    let unanswered = reply(&bench, "work", &[]).code(1);
    assert!(
        unanswered
            .err
            .starts_with("error: the reply says `work`, and says nothing of triage/importance."),
        "{}",
        unanswered.err
    );
    fs::write(bench.path("letter.txt"), "Dear I., a light polish.").unwrap();
    let more = [
        answers(&rules),
        vec!["--letter", "letter.txt", "--by", "I. Reed"],
    ]
    .concat();
    let replied = reply(&bench, "work", &more).code(0).json();
    assert_eq!(
        (&replied["sequence"], &replied["is_away"]),
        (&2.into(), &true.into())
    );
    assert_eq!(held(&bench), [""; 0]);
    assert_eq!(text(&replied, "stage"), "referred", "it is still out");
    let begun = bench.work(&["pass", "start", "lantern"]).code(1);
    assert!(
        begun
            .err
            .starts_with("error: blade `lantern` stands at `referred` since ")
            && begun.err.contains("`tangmark refer back lantern`"),
        "{}",
        begun.err
    );

    let back = refer(&bench, &["back", "lantern", "--on", "2026-05-09", "--json"]);
    assert_eq!(text(&back.code(0).json(), "stage"), "as_received");
    let case = show(&bench);
    assert_eq!(
        (&case["days_out"], &case["days_late"]),
        (&7.into(), &Value::Null)
    );
    let sheet = bench
        .work(&["examine", "show", "lantern", "--json"])
        .code(0)
        .out;
    assert!(!sheet.contains("\"referral\""), "{sheet}");
    bench.seal("lantern", "before_work", "work").code(0);
    refer(&bench, &["list"]).code(0);
    let entries = bench
        .work(&[
            "journal",
            "list",
            "lantern",
            "--kind",
            "referral_reply",
            "--json",
        ])
        .code(0)
        .json();
    assert_eq!(text(&entries[0], "by"), "I. Reed");
}

#[test]
fn a_reply_that_sets_aside_or_keeps_lifts_nothing() {
    for (verdict, stage) in [("set_aside", "set_aside"), ("keep", "held")] {
        let (bench, _) = referred();
        let rules = held(&bench);
        let unsent = ["--unsent", "seen by photographs"];
        let replied = reply(&bench, verdict, &unsent).code(0).json();
        assert_eq!(text(&replied, "stage"), stage, "{verdict}");
        assert_eq!(held(&bench), rules, "{verdict}");
        bench.seal("lantern", "before_work", "work").code(1);
    }
}

#[test]
fn a_signature_with_a_key_of_their_own_is_checked_and_a_wrong_one_refused() {
    let (bench, _) = referred();
    sent(&bench, "2026-05-02");
    signed(&bench, "moor", "packet/files.txt");
    signed(&bench, "other", "packet/packing-and-receipt.txt");
    let take = |key: &str, signature: &str| {
        let words = [
            "receipt",
            "lantern",
            "--signed-with",
            key,
            "--signature",
            signature,
            "--json",
        ];
        refer(&bench, &words)
    };
    for (key, signature, said) in [
        (
            "other.pem",
            "other.sig",
            "the signature is not one of this key over these bytes",
        ),
        (
            "other.pem",
            "moor.sig",
            "the signature is not one of this key over these bytes",
        ),
        (
            "moor.pem",
            "letter.sig",
            "bytes found that are no signature",
        ),
        ("moor.key", "moor.sig", "a private key was found"),
    ] {
        fs::write(bench.path("letter.sig"), "received, S. Moor").unwrap();
        let refused = take(key, signature).code(1);
        assert!(refused.err.contains(said), "{}", refused.err);
        assert!(refused.err.contains("\nhint: "), "{}", refused.err);
    }
    let alone = refer(&bench, &["receipt", "lantern", "--signed-with", "moor.pem"]).code(1);
    assert!(
        alone
            .err
            .contains("the signature over the list of files is needed too"),
        "{}",
        alone.err
    );
    let receipts = show(&bench)["receipts"].as_array().unwrap().len();
    assert_eq!(receipts, 0, "nothing is noted of what was refused");

    let taken = take("moor.pem", "moor.sig").code(0).json();
    assert_eq!(text(&taken, "way"), "signature");
    assert!(taken["checked"].to_string().contains("the signature holds"));
    assert!(taken["not_checked"].to_string().contains("whose key it is"));
    // Once more it is no second receipt.
    assert_eq!(
        take("moor.pem", "moor.sig").code(0).json()["entry"],
        taken["entry"]
    );
    assert_eq!(show(&bench)["receipts"].as_array().unwrap().len(), 1);
}

#[test]
fn a_certificate_names_its_holder_and_nobody_vouches_for_it() {
    let (bench, _) = referred();
    sent(&bench, "2026-05-02");
    signed(&bench, "moor", "packet/files.txt");
    openssl(
        &bench,
        &[
            "req",
            "-x509",
            "-new",
            "-key",
            "moor.key",
            "-subj",
            "/CN=Sabine Moor",
            "-days",
            "30",
            "-out",
            "moor.crt",
        ],
    );
    let words = [
        "receipt",
        "lantern",
        "--signed-with",
        "moor.crt",
        "--signature",
        "moor.sig",
    ];
    let told = refer(&bench, &words).code(0).out;
    assert!(told.contains("signed by `Sabine Moor`"), "{told}");
    assert!(
        told.contains("not checked  the certificate: who issued it"),
        "{told}"
    );
}

#[test]
fn a_receipt_on_paper_is_kept_and_nothing_is_claimed_of_it() {
    let (bench, _) = referred();
    fs::write(bench.path("scan.jpg"), b"# a page of words").unwrap();
    let words = [
        "receipt",
        "lantern",
        "--paper",
        "S. Moor, 4 May 2026",
        "--scan",
        "scan.jpg",
        "--json",
    ];
    let early = refer(&bench, &words).code(1);
    assert!(
        early.err.contains("is not noted as sent to the specialist")
            && early.err.contains("tangmark refer sent lantern"),
        "{}",
        early.err
    );
    sent(&bench, "2026-05-02");
    let no_scan = refer(&bench, &words).code(1);
    assert!(
        no_scan.err.contains("no scan by its content") && no_scan.err.contains("\nhint: "),
        "{}",
        no_scan.err
    );
    assert_eq!(show(&bench)["receipts"].as_array().unwrap().len(), 0);
    let starts: [&[u8]; 5] = [
        b"%PDF-1.7\n",
        b"\xFF\xD8\xFF\xE0",
        b"\x89PNG\r\n\x1A\n",
        b"II*\0",
        b"MM\0*",
    ];
    for start in starts {
        fs::write(bench.path("scan.jpg"), start).unwrap();
        let taken = refer(&bench, &words).code(0).json();
        assert_eq!(taken["checked"].as_array().unwrap().len(), 0);
        assert_eq!(taken["kept"].as_array().unwrap().len(), 1);
        assert!(taken["not_checked"].to_string().contains("no handwriting"));
    }
}

#[test]
fn a_reply_without_the_blade_says_on_what_it_rests_and_the_way_can_be_entered_after_it() {
    let (bench, _) = referred();
    let rules = held(&bench);
    let refused = reply(&bench, "work", &answers(&rules)).code(1);
    assert!(
        refused
            .err
            .contains("is not noted as sent to the specialist")
            && refused.err.contains("--unsent"),
        "{}",
        refused.err
    );
    assert_eq!(held(&bench), rules, "nothing is sealed");
    let more = [answers(&rules), vec!["--unsent", "seen by photographs"]].concat();
    let replied = reply(&bench, "work", &more).code(0).json();
    assert_eq!(text(&replied, "unsent"), "seen by photographs");
    let sealed = fs::read_to_string(bench.path("w/out/lantern-02-reply.json")).unwrap();
    assert!(
        sealed.contains("(the blade was not sent: seen by photographs)"),
        "{sealed}"
    );
    let told = refer(&bench, &["show", "lantern"]).code(0).out;
    assert!(told.contains("blade not sent"), "{told}");

    // It went all the same: custody has it, whenever it is entered.
    refer(&bench, &["back", "lantern"]).code(1);
    sent(&bench, "2026-05-02");
    let paper = ["receipt", "lantern", "--paper", "S. Moor, 4 May 2026"];
    refer(&bench, &paper).code(0);
    let back = refer(&bench, &["back", "lantern", "--on", "2026-05-09", "--json"]);
    assert_eq!(text(&back.code(0).json(), "stage"), "as_received");
    let case = show(&bench);
    assert_eq!(case["days_out"], 7);
    assert_eq!(case["receipts"].as_array().unwrap().len(), 1);
    let sheet = bench
        .work(&["examine", "show", "lantern", "--json"])
        .code(0)
        .out;
    assert!(
        sheet.contains("Referral, record 1; carrier: by hand"),
        "{sheet}"
    );
    // What is over is not begun again.
    for way in ["sent", "back"] {
        let over = refer(&bench, &[way, "lantern"]).code(1);
        assert!(
            over.err.contains("no referral of blade `lantern` is open"),
            "{}",
            over.err
        );
    }
}

#[test]
fn an_override_of_what_a_specialist_set_aside_says_so() {
    let (bench, _) = referred();
    let rules = held(&bench);
    reply(&bench, "set_aside", &["--unsent", "seen by photographs"]).code(0);
    let overridden = rules.iter().flat_map(|rule| {
        [
            "--override",
            rule,
            "--override-name",
            "I. Reed",
            "--override-reason",
            "The owner asks for it",
        ]
    });
    let words = [
        "seal",
        "lantern",
        "--for",
        "before_work",
        "--verdict",
        "work",
        "--reason",
        "as the owner asks",
        "--by",
        "I. Reed",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    let words: Vec<&str> = words.into_iter().chain(overridden).collect();
    let sealed = bench.work(&words).code(0);
    let said = "the reply in record 2 said: set aside";
    assert!(
        sealed
            .err
            .contains("caution: override of triage/importance")
            && sealed.err.contains(said),
        "{}",
        sealed.err
    );
    let file = bench.path(text(&sealed.json(), "file"));
    let record = fs::read_to_string(file).unwrap();
    assert!(
        record.contains(&format!("The owner asks for it ({said})")),
        "{record}"
    );
}

#[test]
fn a_timer_that_runs_is_paused_when_the_blade_leaves() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("reed-before");
    bench.work(&["pass", "start", "reed"]).code(0);
    let moved = bench
        .work(&["stage", "set", "reed", "referred", "--json"])
        .code(0);
    assert!(
        moved
            .err
            .contains("its timer was running and is paused now"),
        "{}",
        moved.err
    );
    let timers = bench.work(&["pass", "timer", "--json"]).code(0).json();
    assert_eq!(timers[0]["running"], false, "{timers}");
    assert_eq!(timers.as_array().unwrap().len(), 1);
}

/// The fingerprint on the card of a workshop.
fn card(bench: &Bench, workshop: &str) -> String {
    let card = fs::read_to_string(bench.path(workshop).join("out/card/card.txt")).unwrap();
    let mut lines = card.lines().map(str::trim);
    let line = lines.find(|line| line.len() == 23 && line.matches('-').count() == 3);
    line.expect("a fingerprint").to_owned()
}

#[test]
fn a_receipt_record_of_their_own_workshop_goes_into_the_chain_by_their_card() {
    let (bench, _) = referred();
    sent(&bench, "2026-05-02");
    let b = |words: &[&str]| bench.run(&[&["--workshop", "b"][..], words].concat());
    let setup = [
        "setup",
        "b",
        "--name",
        "Bellmoor Edges",
        "--passphrase-file",
        "pass.txt",
    ];
    bench.run(&setup).code(0);
    let own = card(&bench, "w");
    b(&[
        "handover",
        "receive",
        "packet/lantern-handover.zip",
        "--memory",
        "memory-b",
        "--yes",
        "--fingerprint",
        &own,
    ])
    .code(0);
    let seal = [
        "seal",
        "lantern",
        "--for",
        "receipt",
        "--refers-to",
        "1",
        "--statement",
        "Received as packed",
        "--out",
        "receipt.json",
        "--passphrase-file",
        "pass.txt",
    ];
    b(&seal).code(0);

    let take = |more: &[&str]| {
        let words = [
            "receipt",
            "lantern",
            "--signed-with",
            "receipt.json",
            "--json",
        ];
        refer(&bench, &[&words[..], more].concat())
    };
    let taken = take(&[]).code(0).json();
    assert_eq!(taken["in_chain"], Value::Null);
    assert!(
        taken["remarks"]
            .to_string()
            .contains("not compared with a card")
    );
    let rules = held(&bench);
    let fork = reply(&bench, "work", &answers(&rules)).code(1);
    assert!(
        fork.err.contains("sealing now makes two histories"),
        "{}",
        fork.err
    );
    let wrong = take(&["--fingerprint", &own]).code(1);
    assert!(
        wrong
            .err
            .contains(&format!("signed the file, {own} was asked for")),
        "{}",
        wrong.err
    );

    let theirs = card(&bench, "b");
    let taken = take(&["--fingerprint", &theirs]).code(0).json();
    assert_eq!(
        (&taken["in_chain"], text(&taken, "signer")),
        (&2.into(), "Bellmoor Edges")
    );
    // One receipt, of which more was checked now.
    assert_eq!(take(&[]).code(0).json()["entry"], taken["entry"]);
    let receipts = show(&bench)["receipts"].clone();
    assert_eq!(receipts.as_array().unwrap().len(), 1, "{receipts}");
    assert!(
        receipts[0]["checked"]
            .to_string()
            .contains("compared with a card")
    );
    let replied = reply(&bench, "work", &answers(&rules)).code(0).json();
    assert_eq!(replied["sequence"], 3);
    assert_eq!(held(&bench), [""; 0]);

    // A record that is no receipt for this referral, or one of our own, signs for nothing.
    let own_record = [
        "receipt",
        "lantern",
        "--signed-with",
        "packet/lantern-01-referral.json",
    ];
    refer(&bench, &own_record).code(1);
}
