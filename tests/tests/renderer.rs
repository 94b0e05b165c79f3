//! The same record gives the same bytes, and another renderer has another number.
//!
//! `samples/renderers/list.txt` names every renderer: its number, its fonts, and whether it was released. The digests of
//! what it draws, and one whole report, lie in a folder of its number. The newest is compared with what is drawn now;
//! `BLESS=1` writes its folder anew as long as it was not released. A released one never changes: pages that change
//! after a release need a number one higher, and the reports of the released one stay here and must verify for ever.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::format_collect,
    missing_docs
)]

use std::collections::BTreeMap;
use std::env;
use std::fs;
use std::path::PathBuf;
use std::thread;

use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::record::Record;
use tangmark_report::{Kind, PageSize, RENDERER_VERSION, Speech, render, renderer};
use tangmark_testkit::cases::{Case, SPEECHES, golden, photos, samples};
use tangmark_testkit::pdfa;
use tangmark_testkit::sealed::{Trial, key, sign_report};
use tangmark_trust::memory::Memory;
use tangmark_trust::verdict::{self, BytesLine, Reader};

/// One line of the list.
#[derive(Debug, PartialEq)]
struct Listed {
    version: u32,
    fonts: String,
    released: bool,
}

fn folder() -> PathBuf {
    samples().join("renderers")
}

fn list() -> Vec<Listed> {
    let text = fs::read_to_string(folder().join("list.txt")).unwrap_or_default();
    text.lines()
        .filter(|line| !line.is_empty() && !line.starts_with('#'))
        .map(|line| {
            let words: Vec<&str> = line.split_whitespace().collect();
            assert_eq!(words.len(), 3, "{line}");
            assert!(["released", "working"].contains(&words[2]), "{line}");
            Listed {
                version: words[0].parse().unwrap(),
                fonts: words[1].to_owned(),
                released: words[2] == "released",
            }
        })
        .collect()
}

fn is_blessing() -> bool {
    env::var_os("BLESS").is_some()
}

/// Writes the line of this renderer, unless it was released.
fn bless_list() {
    let kept: String = list()
        .iter()
        .filter(|listed| listed.version < RENDERER_VERSION)
        .map(|listed| {
            let word = if listed.released {
                "released"
            } else {
                "working"
            };
            format!("{} {} {word}\n", listed.version, listed.fonts)
        })
        .collect();
    let text = format!(
        "# renderer, SHA-256 of its fonts, whether it was released\n{kept}{RENDERER_VERSION} {} working\n",
        renderer().fonts
    );
    fs::write(folder().join("list.txt"), text).unwrap();
}

/// A whole small report: signed, one page.
fn small() -> Vec<u8> {
    let mut trial = Trial::new(2).unwrap();
    trial.kind = Kind::Identification;
    let sealed = trial.seal().unwrap();
    sign_report(trial.render(&sealed).unwrap().0).unwrap()
}

fn rendered(case: &Case, kind: Kind, speech: Speech, page: PageSize) -> Vec<u8> {
    let photos = photos();
    render(&case.record, &case.input(&photos, page, kind, speech))
        .unwrap()
        .pdf
}

/// Digest of every report of the committed records, by what it is.
fn digests() -> BTreeMap<String, Digest> {
    let cases = golden().unwrap();
    let part = |cases: &[Case]| {
        let mut found = BTreeMap::new();
        for case in cases {
            for kind in case.kinds() {
                for speech in SPEECHES {
                    let pdf = rendered(case, kind, speech, PageSize::A4);
                    let name = format!("{} {kind:?} {speech:?} A4", case.name);
                    found.insert(name, Digest::of(&pdf));
                }
            }
            let letter = rendered(case, Kind::Condition, Speech::English, PageSize::Letter);
            let name = format!("{} Condition English Letter", case.name);
            found.insert(name, Digest::of(&letter));
        }
        found
    };
    let (first, second) = cases.split_at(cases.len() / 2);
    thread::scope(|scope| {
        let other = scope.spawn(|| part(second));
        let mut found = part(first);
        found.extend(other.join().unwrap());
        found
    })
}

fn as_text(digests: &BTreeMap<String, Digest>) -> String {
    digests
        .iter()
        .map(|(name, digest)| format!("{digest}  {name}\n"))
        .collect()
}

#[test]
fn the_list_names_this_renderer_last_and_each_once() {
    if is_blessing() {
        return;
    }
    let list = list();
    let numbers: Vec<u32> = list.iter().map(|listed| listed.version).collect();
    let wanted: Vec<u32> = (1..=RENDERER_VERSION).collect();
    assert_eq!(
        numbers, wanted,
        "one line a renderer, in order, the newest last"
    );
    let (last, before) = list.split_last().unwrap();
    assert!(
        before.iter().all(|listed| listed.released),
        "a number that was not released is used again, not left out"
    );
    assert_eq!(
        last.fonts,
        renderer().fonts.to_string(),
        "the fonts of renderer {RENDERER_VERSION} are others than listed: raise RENDERER_VERSION if it was released, \
         or write the list anew with BLESS=1"
    );
}

#[test]
fn what_this_renderer_draws_is_what_is_kept_under_its_number() {
    let released = list()
        .iter()
        .any(|listed| listed.version == RENDERER_VERSION && listed.released);
    let folder = folder().join(RENDERER_VERSION.to_string());
    let (text, pdf) = (as_text(&digests()), small());
    if is_blessing() && !released {
        bless_list();
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("digests.txt"), &text).unwrap();
        fs::write(folder.join("report.pdf"), &pdf).unwrap();
    }
    let hint = if released {
        "renderer is released and draws otherwise now: raise RENDERER_VERSION, add a line to samples/renderers/list.txt"
    } else {
        "BLESS=1 writes it anew"
    };
    let kept = fs::read_to_string(folder.join("digests.txt")).unwrap_or_default();
    assert_eq!(kept, text, "digests.txt: {hint}");
    assert!(
        fs::read(folder.join("report.pdf")).unwrap_or_default() == pdf,
        "report.pdf: {hint}"
    );
}

/// Reports of every renderer still verify, keep the rules, and say which renderer made them.
#[test]
fn reports_of_every_renderer_verify() {
    if is_blessing() {
        return;
    }
    assert!(!list().is_empty());
    for listed in list() {
        let file = folder().join(listed.version.to_string()).join("report.pdf");
        let pdf = fs::read(&file).unwrap_or_else(|error| panic!("{}: {error}", file.display()));
        let own_keys = [key().unwrap().public_key()];
        let memory = Memory::default();
        let reader = Reader {
            own_keys: &own_keys,
            memory: &memory,
            now: "2046-01-01T00:00:00Z",
            others: &[],
            histories: &[],
            evidence: &[],
        };
        let judged = verdict::judge(&pdf, &reader).verdict;
        assert_eq!(
            judged.bytes,
            BytesLine::Intact,
            "renderer {}",
            listed.version
        );
        assert_eq!(judged.exit_code(), 0, "renderer {}", listed.version);
        let told = pdfa::check(&pdf);
        assert!(told.is_empty(), "renderer {}: {told:#?}", listed.version);
        let made_by = format!(
            "renderer {}, fonts sha-256:{}",
            listed.version, listed.fonts
        );
        let text = String::from_utf8_lossy(&pdf).into_owned();
        assert!(
            text.contains(&made_by),
            "renderer {} is not named",
            listed.version
        );
    }
}

#[test]
fn several_threads_give_the_same_bytes() {
    let cases = golden().unwrap();
    let case = cases.last().unwrap();
    let alone = rendered(case, Kind::Condition, Speech::Both, PageSize::A4);
    thread::scope(|scope| {
        let others: Vec<_> = (0..4)
            .map(|number| {
                let cases = &cases;
                let kinds = [Kind::Buyer, Kind::Labels, Kind::Care, Kind::Referral];
                scope.spawn(move || {
                    // Each after a report of another kind, so that nothing stays from one to the next.
                    rendered(
                        &cases[number],
                        kinds[number],
                        SPEECHES[number % 3],
                        PageSize::Letter,
                    );
                    rendered(case, Kind::Condition, Speech::Both, PageSize::A4)
                })
            })
            .collect();
        for other in others {
            assert!(other.join().unwrap() == alone);
        }
    });
}

/// Writes JSON with the keys of every object backwards and spaces between.
fn backwards(value: &Value, out: &mut String) {
    match value {
        Value::Object(fields) => {
            let mut keys: Vec<&String> = fields.keys().collect();
            keys.sort();
            keys.reverse();
            out.push_str("{ ");
            for (index, key) in keys.into_iter().enumerate() {
                if index > 0 {
                    out.push_str(" ,\n");
                }
                out.push_str(&Value::String(key.clone()).to_string());
                out.push_str(" : ");
                backwards(&fields[key], out);
            }
            out.push_str(" }");
        }
        Value::Array(items) => {
            out.push_str("[ ");
            for (index, item) in items.iter().enumerate() {
                if index > 0 {
                    out.push_str(" , ");
                }
                backwards(item, out);
            }
            out.push_str(" ]");
        }
        other => out.push_str(&other.to_string()),
    }
}

/// The order in which a record was read is nowhere in the report. (Photos come in a map that has one order only.)
#[test]
fn the_order_of_keys_is_not_in_the_report() {
    for case in golden().unwrap() {
        let usual = rendered(&case, Kind::Condition, Speech::English, PageSize::A4);
        let value: Value = serde_json::from_slice(&case.bytes).unwrap();
        let mut text = String::new();
        backwards(&value, &mut text);
        assert_ne!(text.as_bytes(), case.bytes);
        let record: Record = serde_json::from_str(&text).unwrap();
        let photos = photos();
        let input = case.input(&photos, PageSize::A4, Kind::Condition, Speech::English);
        let other = render(&record, &input).unwrap().pdf;
        assert!(other == usual, "{}", case.name);
    }
}
