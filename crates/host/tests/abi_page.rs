//! The page `schemas/plugin-abi.md` is true: its C plugin builds and runs, its exchange is what is
//! said byte for byte, and its numbers are the ones in the code.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::{collections::BTreeMap, fs, path::Path, process::Command};

use common::{approvals, host, limits, replied};
use serde_json::{Value, json};
use tangmark_core::{
    Digest,
    record::Quantity,
    units::{Dimension, Unit},
};
use tangmark_host::{FaultKind, Library, Limits};
use tangmark_plugin::{
    CheckRequest, DescribeRequest,
    message::limits as most,
    wire::{self, MAX_DESCRIPTION_BYTES},
};

fn page() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../schemas/plugin-abi.md");
    fs::read_to_string(path).unwrap()
}

/// The fenced blocks of one language, in order.
fn blocks(page: &str, language: &str) -> Vec<String> {
    let opening = format!("```{language}\n");
    page.split(&opening)
        .skip(1)
        .map(|rest| rest.split("```").next().unwrap().trim_end().to_owned())
        .collect()
}

/// Compiles C source to the plugin `weighing`.
fn build(folder: &Path, text: &str) -> Library {
    let (source, path) = (
        folder.join("weighing.c"),
        folder.join("libtangmark_weighing.so"),
    );
    fs::write(&source, text).unwrap();
    // Rust itself links through `cc` on this platform, so that it is always there.
    let compiled = Command::new("cc")
        .args([
            "-std=c11", "-Wall", "-Wextra", "-Werror", "-O2", "-shared", "-fPIC", "-o",
        ])
        .args([&path, &source])
        .output()
        .unwrap();
    assert!(
        compiled.status.success(),
        "{}",
        String::from_utf8_lossy(&compiled.stderr)
    );
    Library::at(&path).unwrap()
}

#[test]
fn another_abi_number_and_missing_functions_are_named() {
    let text = blocks(&page(), "c").pop().unwrap();
    for (changed, kind, fault) in [
        (
            text.replace("_1(", "_2("),
            FaultKind::OtherAbi,
            "plugin `weighing`: it speaks ABI 2; this program needs ABI 1",
        ),
        (
            text.replace("tangmark_release_1(", "release("),
            FaultKind::Unloadable,
            "plugin `weighing`: it has no function `tangmark_release_1`",
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let library = build(folder.path(), &changed);
        let failed = host(limits())
            .describe(&library, &approvals(&library))
            .unwrap_err();
        assert_eq!((failed.kind, failed.fault.as_str()), (kind, fault));
    }
}

#[test]
fn the_c_plugin_of_the_page_gives_the_exchange_of_the_page() {
    let page = page();
    let [describe_request, description, check_request, reply] =
        blocks(&page, "json").try_into().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let library = build(folder.path(), &blocks(&page, "c").pop().unwrap());
    let sheet = json!({"dimensions": {"nagasa": {"unit": "mm", "value": "724.0"}}});
    let asked = CheckRequest::new(
        "2026-01-02T03:04:05Z",
        "000102030405060708090a0b0c0d0e0f",
        sheet,
    );
    let outcomes = host(limits()).check(
        std::slice::from_ref(&library),
        &approvals(&library),
        &asked,
        &BTreeMap::new(),
    );
    let replied = replied(outcomes.into_iter().next().unwrap());
    assert_eq!(
        String::from_utf8(wire::to_bytes(&replied.description).unwrap()).unwrap(),
        description
    );
    assert_eq!(
        String::from_utf8(wire::to_bytes(&replied.reply).unwrap()).unwrap(),
        reply
    );
    // The requests: the invented feature is derived from the seed.
    let digest = Digest::of(format!("invented feature {}", asked.seed).as_bytes()).to_string();
    let features = vec![format!("invented-{}", &digest[..8])];
    let described = DescribeRequest {
        abi: 1,
        features: features.clone(),
    };
    assert_eq!(
        String::from_utf8(wire::to_bytes(&described).unwrap()).unwrap(),
        describe_request
    );
    let sent = CheckRequest { features, ..asked };
    assert_eq!(
        String::from_utf8(wire::to_bytes(&sent).unwrap()).unwrap(),
        check_request
    );
    assert!(reply.contains(&format!("the question has {} bytes", check_request.len())));
}

#[test]
fn the_numbers_of_the_page_are_those_of_the_code() {
    let page = page();
    let limits = Limits::default();
    for sentence in [
        format!("It has at most {} MiB", limits.library_bytes >> 20),
        format!(
            "At most {} KiB. It MUST be the same every time",
            MAX_DESCRIPTION_BYTES >> 10
        ),
        format!(
            "At most {} MiB, 200 000 JSON values",
            limits.reply_bytes >> 20
        ),
        format!(
            "{} s on the wall clock, {} s of the processor",
            limits.wall.as_secs(),
            limits.processor_seconds
        ),
        format!("{} MiB of address space", limits.memory_bytes >> 20),
        format!("of which {} KiB are kept", limits.stderr_bytes >> 10),
        format!("and has at most {} characters", most::PLUGIN),
        format!("`version` | line of {}", most::PLUGIN),
        format!("`-`, `.`; at most {} characters", most::NAME),
        format!(
            "no `-0`; at most {} digits before and {} after",
            most::WHOLE_DIGITS,
            most::FRACTION_DIGITS
        ),
        Unit::ALL
            .map(|unit| format!("`{}`", unit.code()))
            .join(", ")
            .replace("`1`", "`1` for ratios, counts and money"),
        format!("`name` (line of {}), `value` (decimal)", most::LABEL),
        format!("each `name`, line of {}, and `unit`), `points`", most::AXIS),
        format!("line of {}, and `unit`, left out", most::LABEL),
        format!("at most {} characters |", most::POINTER),
        format!("as identifiers, at most {}", most::FEATURES),
        format!("`rules` | array, at most {}", most::RULES),
        format!(
            "`title` (line of {}), `source` (line of {}:",
            most::TITLE,
            most::SOURCE
        ),
        format!("`message` | line of {}", most::MESSAGE),
        format!("array of findings, at most {}", most::FINDINGS),
        format!("array of quantities, at most {}", most::QUANTITIES),
        format!("array of series and tables, at most {}", most::ARTEFACTS),
        format!("array of 1 to {} pointers", most::EVIDENCE),
        format!("`numbers` | array, at most {}", most::NUMBERS),
        format!("most {}, each `x` and `y`", most::POINTS),
        format!("`columns` (1 to {}, each", most::COLUMNS),
        format!("`rows` (at most {}, each", most::ROWS),
        format!("most {} characters).", most::CELL),
    ] {
        assert!(page.contains(&sentence), "the page lacks: {sentence}");
    }
    assert_eq!(tangmark_core::json::Limits::default().max_values, 200_000);
}

#[test]
fn what_the_page_shows_of_a_sheet_and_tables_is_so() {
    let page = page();
    let [quantity, tables] = blocks(&page, "text").try_into().unwrap();
    let quantity: Quantity = serde_json::from_str(&quantity).unwrap();
    let texts: Vec<String> = quantity
        .as_read
        .iter()
        .map(|one| one.text.clone())
        .collect();
    let read = Quantity::from_readings(&texts, Dimension::Mass, None, None).unwrap();
    assert_eq!((read.value, read.unit), (quantity.value, quantity.unit));
    let tables: Value = serde_json::from_str(&tables).unwrap();
    assert_eq!(tables["stones"][0]["d50_um"], "57.0");
    assert!(tables["stones"][1].get("d50_um").is_none());
}

/// Headings as a page's own links name them.
fn anchors(page: &str) -> Vec<String> {
    let headings = page.lines().filter(|line| line.starts_with('#'));
    let anchor = |line: &str| {
        let title = line.trim_start_matches('#').trim().to_lowercase();
        let kept = |c: char| match c {
            ' ' => Some('-'),
            c if c.is_alphanumeric() || "-_".contains(c) => Some(c),
            _ => None,
        };
        title.chars().filter_map(kept).collect()
    };
    headings.map(anchor).collect()
}

#[test]
fn links_of_both_pages_lead_somewhere() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../schemas");
    let mut seen = 0;
    for file in ["plugin-abi.md", "plugin-author.md"] {
        let text = fs::read_to_string(folder.join(file)).unwrap();
        for rest in text.split("](").skip(1) {
            let link = rest.split(')').next().unwrap();
            let (path, anchor) = link.split_once('#').unwrap_or((link, ""));
            let path = if path.is_empty() { file } else { path };
            let there = fs::read_to_string(folder.join(path))
                .unwrap_or_else(|error| panic!("{file} links to {link}: {error}"));
            let found = anchor.is_empty() || anchors(&there).iter().any(|one| one == anchor);
            assert!(found, "{file} links to {link}, which has no such heading");
            seen += 1;
        }
    }
    assert!(seen >= 8, "only {seen} links were looked at");
}
