//! Holds through the built command: who may lift which stop, and that nothing else does.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, Ran, edit, sheet, text};
use serde_json::Value;

const CRACK: &str = "triage/fatal.hagire";

/// Page 1 of a report as words, as a reader of the PDF finds them.
fn page_1(bench: &Bench, pdf: &str) -> String {
    bench.pdf_words(&["-f", "1", "-l", "1"], pdf)
}

fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn report(bench: &Bench, blade: &str) -> String {
    let made = bench
        .work(&["report", blade, "--passphrase-file", "pass.txt", "--json"])
        .code(0)
        .json();
    text(&made, "file").to_owned()
}

/// Seals without a decision.
fn seal_plain(bench: &Bench, blade: &str, purpose: &str) -> Ran {
    bench.work(&[
        "seal",
        blade,
        "--for",
        purpose,
        "--passphrase-file",
        "pass.txt",
        "--json",
    ])
}

fn seal_with(bench: &Bench, blade: &str, purpose: &str, verdict: &str, more: &[&str]) -> Ran {
    let words = [
        "seal",
        blade,
        "--for",
        purpose,
        "--verdict",
        verdict,
        "--reason",
        "as asked",
        "--by",
        "S. Moor",
        "--passphrase-file",
        "pass.txt",
        "--json",
    ];
    bench.work(&[&words[..], more].concat())
}

/// The sealed record of an answer of `seal --json`.
fn record(bench: &Bench, sealed: &Value) -> Value {
    serde_json::from_slice(&fs::read(bench.path(text(sealed, "file"))).unwrap()).unwrap()
}

fn stops(record: &Value) -> Vec<String> {
    let findings = record["findings"].as_array().unwrap();
    findings
        .iter()
        .filter(|finding| finding["level"] == "stop")
        .map(|finding| format!("{}/{}", text(finding, "plugin"), text(finding, "rule")))
        .collect()
}

/// The rules of the stops that stand on the newest sheet.
fn held(bench: &Bench, blade: &str) -> Vec<String> {
    let check = bench.work(&["check", blade, "--json"]).code(0).json();
    let stops = check["stops"].as_array().unwrap();
    stops
        .iter()
        .map(|stop| text(stop, "rule").to_owned())
        .collect()
}

fn notices(bench: &Bench, file: &str) -> Vec<String> {
    let json = bench.work(&["verify", file, "--json"]).code(0).json();
    let notices = json["notices"].as_array().unwrap();
    notices
        .iter()
        .map(|notice| notice.as_str().unwrap().to_owned())
        .collect()
}

fn first_lines(ran: &Ran) -> (String, String) {
    let mut lines = ran.err.lines();
    let mut next = || lines.next().unwrap_or_default().to_owned();
    (next(), next())
}

/// Refused, with what was asked, the stop, and who may answer it.
fn refused(ran: Ran, what: &str, hint: &str) {
    let ran = ran.code(1);
    let (error, next_step) = first_lines(&ran);
    assert!(error.starts_with(&format!("error: {what}")), "{error}");
    assert!(
        next_step.starts_with(&format!("hint: {hint}")),
        "{next_step}"
    );
}

const TWO_LOOKS: &str = "two independent looks that do not find the flaw lift it";
const BARRED: &str = "may not be sealed while a stop stands: triage/fatal.hagire: ";

#[test]
fn a_cracked_blade_is_set_aside_and_may_change_hands_with_the_stop_on_page_1() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("gorge");
    assert_eq!(held(&bench, "gorge"), [CRACK]);
    for verdict in ["work", "set_aside"] {
        refused(
            bench.seal("gorge", "in_work", verdict),
            &format!("a record for `in_work` {BARRED}"),
            TWO_LOOKS,
        );
    }
    for purpose in ["before_work", "intake"] {
        refused(
            bench.seal("gorge", purpose, "work"),
            &format!("the decision is `work` while a stop stands: {CRACK}: "),
            TWO_LOOKS,
        );
    }
    let lift = [
        "--override",
        CRACK,
        "--override-name",
        "S. Moor",
        "--override-reason",
        "it is only a scratch",
    ];
    refused(
        seal_with(&bench, "gorge", "before_work", "work", &lift),
        &format!("an override may not lift {CRACK}"),
        TWO_LOOKS,
    );

    let intake = bench.seal("gorge", "intake", "set_aside").code(0).json();
    assert_eq!(stops(&record(&bench, &intake)), [CRACK]);
    let transfer = seal_plain(&bench, "gorge", "transfer").code(0).json();
    let sealed = record(&bench, &transfer);
    assert_eq!(stops(&sealed), [CRACK]);
    let message = sealed["findings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|finding| finding["level"] == "stop")
        .map(|finding| text(finding, "message").to_owned())
        .unwrap();
    let pdf = report(&bench, "gorge");
    assert!(pdf.ends_with("gorge-02-transfer.pdf"), "{pdf}");
    assert!(
        notices(&bench, &pdf).contains(&format!("stop: {message}")),
        "the report's own record says so"
    );
    let page = page_1(&bench, &pdf);
    assert!(
        page.contains(&words(&message)),
        "`{message}` is not on page 1:\n{page}"
    );
}

#[test]
fn work_recorded_on_a_cracked_blade_is_barred_after_it_too() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let worked = format!("{}{PASS}", sheet("gorge"));
    bench.put_text(&worked).code(0);
    refused(
        bench.seal("gorge", "after_work", "set_aside"),
        &format!("a record for `after_work` {BARRED}"),
        TWO_LOOKS,
    );
}

#[test]
fn an_override_of_importance_stands_on_page_1_of_every_later_report() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("lantern");
    let rules = held(&bench, "lantern");
    assert!(
        !rules.is_empty()
            && rules
                .iter()
                .all(|rule| rule.starts_with("triage/importance.")),
        "{rules:?}"
    );
    refused(
        bench.seal("lantern", "before_work", "work"),
        &format!("the decision is `work` while a stop stands: {}: ", rules[0]),
        "a specialist's reply or a signed override with name and reason lifts it",
    );
    let mut lift = Vec::new();
    for rule in &rules {
        lift.extend([
            "--override",
            rule,
            "--override-name",
            "Sabine Moor",
            "--override-reason",
            "Seen in hand: the rust goes, nothing else.",
        ]);
    }
    // Neither name nor reason may be left out or be blank.
    let no_reason = ["--override", &rules[0], "--override-name", "Sabine Moor"];
    seal_with(&bench, "lantern", "before_work", "work", &no_reason).code(4);
    let blank = [
        "--override",
        &rules[0],
        "--override-name",
        "Sabine Moor",
        "--override-reason",
        "  ",
    ];
    seal_with(&bench, "lantern", "before_work", "work", &blank).code(4);
    let first = seal_with(&bench, "lantern", "before_work", "work", &lift)
        .code(0)
        .json();
    assert_eq!(held(&bench, "lantern"), [""; 0]);
    let check = bench.work(&["check", "lantern"]).code(0).out;
    let told = format!("stop: {}, overridden by Sabine Moor on ", rules[0]);
    assert!(
        check.contains(&told) && check.contains(": Seen in hand: the rust goes, nothing else.\n"),
        "{check}"
    );
    // Said once, it need not be said again, and it cannot be left out.
    let in_work = bench.seal("lantern", "in_work", "work").code(0).json();
    let transfer = seal_plain(&bench, "lantern", "transfer").code(0).json();
    for sealed in [&first, &in_work, &transfer] {
        let number = sealed["sequence"].to_string();
        let out = format!("lantern-{number}.pdf");
        bench
            .work(&[
                "report",
                "lantern",
                "--record",
                &number,
                "--out",
                &out,
                "--passphrase-file",
                "pass.txt",
            ])
            .code(0);
        let page = page_1(&bench, &out);
        for file in [text(sealed, "file"), &out] {
            let notices = notices(&bench, file);
            for rule in &rules {
                let notice = format!(
                    "override of {rule} by Sabine Moor: Seen in hand: the rust goes, nothing else."
                );
                assert!(notices.contains(&notice), "{file}: {notices:?}");
                assert!(
                    page.contains(rule.as_str()),
                    "{rule} is not on page 1:\n{page}"
                );
            }
        }
        assert!(
            page.contains("Sabine Moor")
                && page.contains("Seen in hand: the rust goes, nothing else."),
            "{page}"
        );
    }
}

/// Lines that make a sheet speak of an earlier record.
fn refers_to(record: &str, statement: &str) -> String {
    format!("\n[refers_to]\nrecord = \"{record}\"\nstatement = \"{statement}\"\n")
}

#[test]
fn a_specialist_s_reply_lifts_what_it_answers() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("lantern");
    let rules = held(&bench, "lantern");
    let referral = bench.seal("lantern", "referral", "refer").code(0).json();
    let asked = text(&referral, "record");

    let mut answers = Vec::new();
    for rule in &rules {
        answers.extend([
            "--answer",
            rule,
            "--answer-how",
            "Seen in hand: a light polish does no harm.",
        ]);
    }
    refused(
        seal_with(&bench, "lantern", "reply", "work", &answers),
        "a record for `reply` needs the section `refers_to` in the sheet",
        "add the section to the sheet",
    );
    let replied = format!(
        "{}{}",
        sheet("lantern"),
        refers_to(asked, "Letter of 4 May.")
    );
    bench.put_text(&replied).code(0);
    // An answer belongs to a reply, names a stop that was found, and one that a reply may lift.
    let elsewhere = seal_with(&bench, "lantern", "before_work", "work", &answers).code(4);
    assert_eq!(
        elsewhere.err.lines().next(),
        Some("error: `--answer` found with `--for before_work`, it is allowed with `--for reply`")
    );
    let unknown = ["--answer", "triage/importance.none", "--answer-how", "yes"];
    refused(
        seal_with(&bench, "lantern", "reply", "work", &unknown),
        "an answer names triage/importance.none, but no stop of that name was found",
        "run `tangmark check` and copy the name of the rule from there",
    );
    // A reply that answers nothing, or does not say `work`, lifts nothing.
    refused(
        seal_with(&bench, "lantern", "reply", "work", &[]),
        &format!("the decision is `work` while a stop stands: {}: ", rules[0]),
        "a specialist's reply",
    );
    seal_with(&bench, "lantern", "reply", "refer", &answers).code(0);
    assert_eq!(held(&bench, "lantern"), rules);

    let reply = seal_with(&bench, "lantern", "reply", "work", &answers)
        .code(0)
        .json();
    let sealed = record(&bench, &reply);
    assert_eq!(text(&sealed["refers_to"], "record"), asked);
    let answer = &sealed["decision"]["answers"][0];
    assert_eq!(
        (
            text(answer, "rule"),
            text(answer, "kind"),
            text(answer, "how")
        ),
        (
            rules[0].as_str(),
            "specialist_reply",
            "Seen in hand: a light polish does no harm."
        )
    );
    assert_eq!(held(&bench, "lantern"), [""; 0]);
    let check = bench.work(&["check", "lantern"]).code(0).out;
    let told = format!(
        "stop: {}, answered by the reply in record {}\n",
        rules[0], reply["sequence"]
    );
    assert!(check.contains(&told), "{told}\n{check}");
    bench.put("lantern");
    bench.seal("lantern", "before_work", "work").code(0);

    // No reply lifts a fatal flaw.
    bench.put("gorge");
    let intake = bench.seal("gorge", "intake", "set_aside").code(0).json();
    let asked = refers_to(text(&intake, "record"), "Letter of 5 May.");
    bench
        .put_text(&format!("{}{asked}", sheet("gorge")))
        .code(0);
    let answer = ["--answer", CRACK, "--answer-how", "It will hold."];
    refused(
        seal_with(&bench, "gorge", "reply", "work", &answer),
        &format!("a specialist's reply may not lift {CRACK}"),
        TWO_LOOKS,
    );
}

/// A name, and how triage comes not to run.
type Way<'a> = (&'a str, &'a dyn Fn(&Bench));

#[test]
fn without_triage_no_work_is_recorded() {
    let not_run = "tangmark/triage-not-run";
    let run_it = "run it: `tangmark plugin approve --shipped`";
    let library = "plugins/libtangmark_triage.so";
    let ways: [Way<'_>; 4] = [
        ("not approved", &|bench| {
            bench.work(&["plugin", "withdraw", "triage"]).code(0);
        }),
        ("missing", &|bench| {
            fs::remove_file(bench.path(library)).unwrap();
        }),
        ("no library", &|bench| {
            fs::write(bench.path(library), "not a library").unwrap();
            bench.work(&["plugin", "approve", "triage"]).code(0);
        }),
        ("another plugin under its name", &|bench| {
            fs::copy(
                bench.path("plugins/libtangmark_dimensions.so"),
                bench.path(library),
            )
            .unwrap();
            bench.work(&["plugin", "approve", "triage"]).code(0);
        }),
    ];
    for (way, break_it) in ways {
        let mut bench = Bench::with_workshop("Reedbank Polishing");
        bench.put("heron");
        bench.away_from_built_plugins();
        break_it(&bench);
        assert_eq!(held(&bench, "heron"), [not_run], "{way}");
        refused(
            bench.seal("heron", "before_work", "work"),
            &format!("the decision is `work` while a stop stands: {not_run}: "),
            run_it,
        );
        refused(
            bench.seal("heron", "in_work", "refer"),
            &format!("a record for `in_work` may not be sealed while a stop stands: {not_run}: "),
            run_it,
        );
        let lift = [
            "--override",
            not_run,
            "--override-name",
            "S. Moor",
            "--override-reason",
            "in a hurry",
        ];
        refused(
            seal_with(&bench, "heron", "before_work", "work", &lift),
            &format!("an override may not lift {not_run}"),
            run_it,
        );
        let intake = bench.seal("heron", "intake", "refer").code(0).json();
        assert_eq!(stops(&record(&bench, &intake)), [not_run], "{way}");
    }
}

/// The crack of the sample sheet as it is first thought of: seen once, not looked at again.
fn suspected() -> String {
    let text = edit(
        &sheet("gorge"),
        "through_temper = true\nprogress = \"unknown\"\nstanding = \"confirmed\"",
        "progress = \"unknown\"\nstanding = \"suspected\"",
    );
    edit(&text, &format!("\n{SECOND_LOOK}"), "")
}

const SECOND_LOOK: &str = "  { on = \"2026-03-16\", by = \"polisher\", method = \"stain_line\", light = \"north window\", face = \"ura\", outcome = \"seen\" },";

/// A sheet with the same crack looked for again on `days` with a stain line, and ruled out.
fn ruled_out(text: &str, days: [&str; 2]) -> String {
    let looks = days.map(|day| {
        format!("  {{ on = \"{day}\", by = \"polisher\", method = \"stain_line\", light = \"bare lamp\", face = \"omote\", outcome = \"not_seen\" }},\n")
    });
    let rust = text.find("[[flaws]]\nid = \"rust-1\"").unwrap();
    let (crack, rest) = text.split_at(rust);
    let end = crack.rfind(']').unwrap();
    let crack = format!("{}{}{}{}", &crack[..end], looks[0], looks[1], &crack[end..]);
    let at = crack.rfind("standing = ").unwrap();
    let line = crack[at..].lines().next().unwrap();
    format!(
        "{}{rest}",
        crack.replacen(line, "standing = \"ruled_out\"", 1)
    )
}

#[test]
fn a_suspected_crack_stops_until_two_looks_do_not_find_it() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put_text(&suspected()).code(0);
    assert_eq!(held(&bench, "gorge"), [CRACK]);
    refused(
        bench.seal("gorge", "before_work", "work"),
        &format!("the decision is `work` while a stop stands: {CRACK}: "),
        TWO_LOOKS,
    );
    bench.seal("gorge", "before_work", "refer").code(0);

    // The same look told twice is one look.
    let twice = bench
        .put_text(&ruled_out(&suspected(), ["2026-03-17", "2026-03-17"]))
        .code(1);
    assert!(
        twice.err.contains("flaws[0].standing") && twice.err.contains("\nhint: "),
        "{}",
        twice.err
    );
    assert_eq!(held(&bench, "gorge"), [CRACK]);
    bench
        .put_text(&ruled_out(&suspected(), ["2026-03-17", "2026-03-18"]))
        .code(0);
    assert_eq!(held(&bench, "gorge"), [""; 0]);
    let sealed = bench.seal("gorge", "before_work", "work").code(0).json();
    assert_eq!(stops(&record(&bench, &sealed)), [""; 0]);
}

const PASS: &str = "\n[[passes]]\nid = \"p1\"\non = \"2026-03-20\"\noperation = \"grind\"\nzones = [\"ground\"]\ntime = \"1 h\"\n";

#[test]
fn work_under_a_hold_is_named_for_good() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("gorge");
    let intake = bench.seal("gorge", "intake", "set_aside").code(0).json();
    let corrects = refers_to(
        text(&intake, "record"),
        "One pass was made before the crack was believed.",
    );
    bench
        .put_text(&format!("{}{PASS}{corrects}", sheet("gorge")))
        .code(0);
    let correction = seal_plain(&bench, "gorge", "correction").code(0);
    let correction = correction.json();
    assert_eq!(correction["under_hold"], 1);
    let lines = |sealed: &Value| -> Vec<(String, String)> {
        let record = record(&bench, sealed);
        let lines = record["worked_under_hold"].as_array().unwrap();
        lines
            .iter()
            .map(|line| (text(line, "pass").to_owned(), text(line, "rule").to_owned()))
            .collect()
    };
    let line = [("p1".to_owned(), CRACK.to_owned())];
    assert_eq!(lines(&correction), line);

    // Neither the pass taken out of the sheet again nor the crack ruled out later takes the line away.
    bench.put("gorge");
    refused(
        seal_plain(&bench, "gorge", "transfer"),
        &format!(
            "pass `p1` is not in the sheet, but an earlier record names it as worked under hold while {CRACK} stood"
        ),
        "put the pass back into the sheet",
    );
    bench.put_text(&format!("{}{PASS}", sheet("gorge"))).code(0);
    let transfer = seal_plain(&bench, "gorge", "transfer").code(0).json();
    assert_eq!(lines(&transfer), line);
    let cleared = ruled_out(&sheet("gorge"), ["2026-03-24", "2026-03-25"]);
    bench.put_text(&format!("{cleared}{PASS}")).code(0);
    let later = bench.seal("gorge", "before_work", "work").code(0).json();
    assert_eq!(lines(&later), line);
    let notice = format!("worked under hold: pass p1 while {CRACK} stood");
    let pdf = report(&bench, "gorge");
    for file in [text(&later, "file"), &pdf] {
        assert!(notices(&bench, file).contains(&notice), "{file}");
    }
    let page = page_1(&bench, &pdf);
    assert!(page.to_lowercase().contains("under hold"), "{page}");
    let shown = bench.work(&["blade", "show", "gorge"]).code(0);
    assert_eq!(
        shown.out.matches("worked under hold: 1 line").count(),
        3,
        "{}",
        shown.out
    );
}

/// The sample sheet as it was before anybody saw the crack.
fn before_the_crack() -> String {
    let text = sheet("gorge");
    let from = text.find("[[flaws]]\nid = \"crack-1\"").unwrap();
    let to = text.find("[[flaws]]\nid = \"rust-1\"").unwrap();
    format!("{}{}", &text[..from], &text[to..])
}

#[test]
fn an_older_draft_does_not_get_round_a_sealed_stop() {
    let carried = "tangmark/fatal.hagire";
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put_text(&before_the_crack()).code(0);
    assert_eq!(held(&bench, "gorge"), [""; 0]);
    bench.put("gorge");
    // Nothing sealed yet: a draft is a draft.
    bench.work(&["examine", "undo", "gorge"]).code(0);
    assert_eq!(held(&bench, "gorge"), [""; 0]);
    bench.put("gorge");
    bench.seal("gorge", "intake", "set_aside").code(0);

    bench.work(&["examine", "undo", "gorge"]).code(0);
    let shown = bench.work(&["examine", "show", "gorge"]).code(0);
    assert!(!shown.out.contains("crack-1"), "{}", shown.out);
    assert_eq!(held(&bench, "gorge"), [carried]);
    let stands =
        format!("{carried}: Stands unanswered since record 1, whatever the sheet says now: ");
    refused(
        bench.seal("gorge", "before_work", "work"),
        &format!("the decision is `work` while a stop stands: {stands}"),
        TWO_LOOKS,
    );
    refused(
        bench.seal("gorge", "in_work", "set_aside"),
        &format!("a record for `in_work` may not be sealed while a stop stands: {stands}"),
        TWO_LOOKS,
    );
    let lift = [
        "--override",
        carried,
        "--override-name",
        "S. Moor",
        "--override-reason",
        "it is gone",
    ];
    refused(
        seal_with(&bench, "gorge", "before_work", "work", &lift),
        &format!("an override may not lift {carried}"),
        TWO_LOOKS,
    );
    // A record between changes nothing: the stop goes with it.
    let transfer = seal_plain(&bench, "gorge", "transfer").code(0).json();
    assert_eq!(stops(&record(&bench, &transfer)), [carried]);
    assert!(
        page_1(&bench, &report(&bench, "gorge")).contains("Stands unanswered since record 1"),
        "on page 1"
    );
    assert_eq!(held(&bench, "gorge"), [carried]);

    // Fewer looks, another word for it, two looks from before it was seen: older drafts too.
    let days = ["2026-03-17", "2026-03-18"];
    let milder = edit(&suspected(), "kind = \"hagire\"", "kind = \"kirikomi\"");
    for text in [milder, ruled_out(&suspected(), days)] {
        bench.put_text(&text).code(0);
        assert_eq!(held(&bench, "gorge"), [carried]);
    }
    bench.put_text(&ruled_out(&sheet("gorge"), days)).code(0);
    assert_eq!(held(&bench, "gorge"), [""; 0]);
    bench.seal("gorge", "before_work", "work").code(0);
    // Answered in a sealed record: the flaw may be left out from now on.
    bench.put_text(&before_the_crack()).code(0);
    assert_eq!(held(&bench, "gorge"), [""; 0]);
}

#[test]
fn importance_that_was_sealed_is_not_undone() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("lantern");
    let rules = held(&bench, "lantern");
    bench.seal("lantern", "referral", "refer").code(0);
    let plain = edit(
        &sheet("lantern"),
        "inscriptions = [{ kind = \"kinzogan_mei\", side = \"omote\", note = \"five signs in gold; reading left to a specialist\", photos = [\"tang\"] }]",
        "inscriptions = [{ kind = \"mumei\" }]",
    );
    let plain = edit(
        &plain,
        "signs = [{ kind = \"old_papers\", note = \"A folded paper in the storage scabbard, dated in an earlier century, not yet read.\", photos = [\"tang\"] }]",
        "",
    );
    let plain = plain.replace(
        "made_not_before = \"1280\"\nmade_not_after = \"1360\"\n",
        "",
    );
    bench.put_text(&plain).code(0);
    let now = held(&bench, "lantern");
    assert!(
        now.iter()
            .any(|rule| rule.starts_with("tangmark/importance.")),
        "{now:?}"
    );
    assert_eq!(now.len(), rules.len(), "{now:?} for {rules:?}");
    bench.seal("lantern", "before_work", "work").code(1);
    let mut lift = Vec::new();
    for rule in &now {
        lift.extend([
            "--override",
            rule,
            "--override-name",
            "Sabine Moor",
            "--override-reason",
            "The inlay was read wrongly.",
        ]);
    }
    seal_with(&bench, "lantern", "before_work", "work", &lift).code(0);
    bench.seal("lantern", "in_work", "work").code(0);
}
