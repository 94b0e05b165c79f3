//! Every small change to sealed bytes is noticed: each byte of a record with each other value, deletions, insertions
//! and swaps everywhere, and one flip in each block of a signed report. The counts are printed and held.
//!
//! A million judgements: left out of the common run, by `#[ignore]`, as a build without optimisation takes very long
//! (`cargo nextest run --cargo-profile checked --run-ignored only -p tangmark-testkit --test tamper`, as the test command does).
//! `TANGMARK_LONG=1` does the same to every golden record and every byte of a report, which takes long.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    missing_docs
)]

use std::env;
use std::fs;
use std::path::Path;
use std::time::Instant;

use tangmark_core::record::SCHEMA_ID;
use tangmark_testkit::sealed::{Trial, sign_report};
use tangmark_testkit::tamper::{Change, Tally, edits, judge, one_in_each, other_values, try_all};
use tangmark_trust::verdict::BytesLine;

/// Block of a report in which one byte is flipped, in bytes.
const BLOCK: usize = 64;

fn told(what: &str, bytes: usize, start: Instant, tally: &Tally) {
    println!(
        "{what} ({bytes} bytes, {:.1} s): {tally}",
        start.elapsed().as_secs_f64()
    );
}

/// No change passes as intact or under another content, and everything was counted.
fn nothing_missed(tally: &Tally) {
    assert!(
        tally.missed.is_empty(),
        "place and change: {:?}",
        tally.missed
    );
    assert_eq!(
        tally.made,
        tally.altered + tally.cannot_judge + tally.same_content,
        "{tally}"
    );
}

fn each_other_value(what: &str, sealed: &[u8]) -> Tally {
    assert_eq!(judge(sealed).bytes, BytesLine::Intact);
    let start = Instant::now();
    let tally = try_all(sealed, 0..sealed.len(), &other_values());
    told(
        &format!("{what}, each byte with each other value"),
        sealed.len(),
        start,
        &tally,
    );
    nothing_missed(&tally);
    assert_eq!(tally.made, sealed.len() * 255);
    // No byte of canonical JSON can be replaced by another one without another meaning.
    assert_eq!(tally.same_content, 0, "{tally}");
    tally
}

fn each_edit(what: &str, sealed: &[u8]) -> Tally {
    let start = Instant::now();
    let tally = try_all(sealed, 0..sealed.len(), &edits());
    told(
        &format!("{what}, deletions, swaps and insertions"),
        sealed.len(),
        start,
        &tally,
    );
    nothing_missed(&tally);
    let equal_neighbours = sealed.windows(2).filter(|pair| pair[0] == pair[1]).count();
    // The last byte has no neighbour to change places with.
    assert_eq!(
        tally.made,
        sealed.len() * edits().len() - equal_neighbours - 1
    );
    tally
}

#[test]
#[ignore = "a million judgements: see the head of this file"]
fn every_other_value_of_every_byte_of_a_record_is_noticed() {
    let (_, sealed) = Trial::of_size(4096).unwrap();
    let tally = each_other_value("record of 4 KB", &sealed);
    // Without the mark in `schema.id` it is something else than a record: nobody can judge that.
    assert_eq!(tally.cannot_judge, SCHEMA_ID.len() * 255, "{tally}");
}

#[test]
#[ignore = "a million judgements: see the head of this file"]
fn deletions_swaps_and_insertions_everywhere_are_noticed() {
    let (_, sealed) = Trial::of_size(4096).unwrap();
    let tally = each_edit("record of 4 KB", &sealed);
    // White space between tokens changes no content: told so, under the same name. Two of the inserted bytes are white.
    assert_eq!(tally.same_content, 2 * between_tokens(&sealed), "{tally}");
}

/// Places of canonical JSON before which white space changes nothing: outside strings, numbers and words.
fn between_tokens(json: &[u8]) -> usize {
    let (mut inside, mut escaped, mut places, mut before) = (false, false, 0, b' ');
    for &byte in json {
        let in_word = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'-';
        let within_word = in_word(before) && in_word(byte);
        if !inside && !within_word {
            places += 1;
        }
        match byte {
            _ if escaped => escaped = false,
            b'\\' if inside => escaped = true,
            b'"' => inside = !inside,
            _ => {}
        }
        before = if inside { b' ' } else { byte };
    }
    places
}

#[test]
#[ignore = "a million judgements: see the head of this file"]
fn a_byte_behind_the_record_is_noticed() {
    let (_, sealed) = Trial::of_size(4096).unwrap();
    for byte in 0..=255 {
        let longer = [sealed.as_slice(), &[byte]].concat();
        let bytes = judge(&longer).bytes;
        if b" \t\r\n".contains(&byte) {
            assert_eq!(bytes, BytesLine::SameContent, "{byte}");
        } else {
            assert!(
                matches!(bytes, BytesLine::Altered { .. }),
                "{byte}: {bytes}"
            );
        }
    }
    for length in 0..sealed.len() {
        let bytes = judge(&sealed[..length]).bytes;
        assert!(
            matches!(
                bytes,
                BytesLine::Altered { .. } | BytesLine::CannotJudge { .. }
            ),
            "{length}: {bytes}"
        );
    }
}

fn report() -> Vec<u8> {
    let trial = Trial::new(6).unwrap();
    let sealed = trial.seal().unwrap();
    sign_report(trial.render(&sealed).unwrap().0).unwrap()
}

#[test]
#[ignore = "a million judgements: see the head of this file"]
fn a_flip_in_each_block_of_a_report_is_noticed() {
    let signed = report();
    assert_eq!(judge(&signed).bytes, BytesLine::Intact);
    let start = Instant::now();
    let long = env::var_os("TANGMARK_LONG").is_some();
    let step = if long { 1 } else { BLOCK };
    // 0x80 flips the highest bit, whatever the byte is.
    let tally = try_all(
        &signed,
        one_in_each(step, 0..signed.len()),
        &[Change::Add(0x80)],
    );
    told(
        &format!("report, a flip in each {step} bytes"),
        signed.len(),
        start,
        &tally,
    );
    nothing_missed(&tally);
    assert_eq!(tally.made, signed.len().div_ceil(step));
    assert_eq!(tally.same_content, 0);
    // Only where the file stops being a PDF, or its signature one, can nothing be said.
    assert!(tally.altered * 10 > tally.made * 9, "{tally}");
}

#[test]
#[ignore = "a million judgements: see the head of this file"]
fn what_is_added_to_or_cut_from_a_report_is_noticed() {
    let signed = report();
    for byte in [b'\n', b' ', b'%', 0, 0xff] {
        let bytes = judge(&[signed.as_slice(), &[byte]].concat()).bytes;
        assert!(
            matches!(bytes, BytesLine::Altered { .. }),
            "{byte}: {bytes}"
        );
    }
    let mut counts = [0, 0];
    for length in one_in_each(997, 0..signed.len()) {
        match judge(&signed[..length]).bytes {
            BytesLine::Altered { .. } => counts[0] += 1,
            BytesLine::CannotJudge { .. } => counts[1] += 1,
            bytes => panic!("cut to {length}: {bytes}"),
        }
    }
    println!(
        "report cut off: {} altered, {} cannot be judged",
        counts[0], counts[1]
    );
    assert_eq!(counts[0] + counts[1], signed.len().div_ceil(997));
}

#[test]
#[ignore = "a million judgements: see the head of this file"]
fn golden_records_are_tried_in_the_long_run() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../samples/records");
    let mut records: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "json")
        })
        .collect();
    records.sort();
    assert!(records.len() >= 6, "only {} golden records", records.len());
    let long = env::var_os("TANGMARK_LONG").is_some();
    for path in records {
        let sealed = fs::read(&path).unwrap();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if long {
            each_other_value(&name, &sealed);
            each_edit(&name, &sealed);
        } else {
            // A sample: one place in each 256 bytes.
            let start = Instant::now();
            let tally = try_all(
                &sealed,
                one_in_each(256, 0..sealed.len()),
                &[Change::Add(1)],
            );
            told(&name, sealed.len(), start, &tally);
            nothing_missed(&tally);
            assert_eq!(tally.made, sealed.len().div_ceil(256));
        }
    }
}
