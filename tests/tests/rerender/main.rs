//! Reports drawn again from the record in them: the same pages, other pages, and pages that cannot be drawn again.
//!
//! Case 61 of the failures a verifier must meet: the visible text differs from the record. The workshop's own key signs
//! here, so nothing but drawing again can tell.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod edit;
mod packed;
mod pictures;

use std::collections::BTreeMap;

use tangmark_core::record::Record;
use tangmark_report::{Beside, Kind, PageSize, RenderInput, Speech, render, render_beside};
use tangmark_testkit::cases::{Case, KINDS, SPEECHES, golden, photos};
use tangmark_testkit::sealed::{Trial, sign_report};
use tangmark_trust::PublicKey;
use tangmark_workshop::rerender::{Pages, pages};

use edit::{drawings_in_arrays, replace_in_drawing, replace_words};

/// A small record with photo and flaw, and its sealed bytes.
fn trial() -> (Trial, Vec<u8>) {
    let mut trial = Trial::new(2).unwrap();
    trial.add_flaws(1).unwrap();
    let sealed = trial.seal().unwrap();
    (trial, sealed)
}

/// The report of the small record, not yet signed.
fn unsigned(kind: Kind) -> Vec<u8> {
    let (mut trial, sealed) = trial();
    trial.kind = kind;
    trial.render(&sealed).unwrap().0
}

fn judged(unsigned: Vec<u8>) -> Pages {
    pages(&sign_report(unsigned).unwrap(), &[]).unwrap()
}

/// A golden record drawn as its own workshop would: with the fingerprint of the key in it.
fn drawn(case: &Case, kind: Kind, speech: Speech, page: PageSize) -> Vec<u8> {
    let photos = photos();
    let key = PublicKey::from_did(case.record.issuer.id.as_str()).unwrap();
    let fingerprint = key.fingerprint().to_string();
    let input = RenderInput {
        fingerprint: &fingerprint,
        ..case.input(&photos, page, kind, speech)
    };
    sign_report(render(&case.record, &input).unwrap().pdf).unwrap()
}

fn word(kind: Kind) -> String {
    format!("{kind:?}").to_lowercase()
}

fn code(speech: Speech) -> &'static str {
    match speech {
        Speech::English => "en",
        Speech::Japanese => "ja",
        Speech::Both => "both",
    }
}

#[test]
fn reports_of_every_kind_and_language_are_drawn_again() {
    let (trial, sealed) = trial();
    let record: Record = serde_json::from_slice(&sealed).unwrap();
    let key = PublicKey::from_did(record.issuer.id.as_str()).unwrap();
    let fingerprint = key.fingerprint().to_string();
    for (index, kind) in KINDS
        .into_iter()
        .filter(|kind| *kind != Kind::Comparison)
        .enumerate()
    {
        for speech in SPEECHES {
            let input = RenderInput {
                record_bytes: &sealed,
                photos: &trial.photos,
                page: if index % 2 == 0 {
                    PageSize::A4
                } else {
                    PageSize::Letter
                },
                demo: true,
                fingerprint: &fingerprint,
                kind,
                speech,
                earlier: &[],
            };
            let pdf = sign_report(render(&record, &input).unwrap().pdf).unwrap();
            let found = pages(&pdf, &[]).unwrap();
            match &found {
                Pages::SamePages {
                    kind: found,
                    language,
                } => assert_eq!((word(kind).as_str(), code(speech)), (*found, *language)),
                other => panic!("{kind:?} {speech:?}: {other:?}"),
            }
            assert_eq!(found.exit_code(0), 0);
        }
    }
}

/// With photos, and with the records before it, which a comparison shows.
#[test]
fn committed_records_are_drawn_again_with_their_photos_and_the_records_before() {
    let cases = golden().unwrap();
    let later = cases
        .iter()
        .find(|case| !case.earlier.is_empty() && !case.record.photos.is_empty())
        .expect("a record with photos and another before it");
    let before: Vec<Vec<u8>> = cases
        .iter()
        .filter(|case| {
            case.record.blade.id == later.record.blade.id
                && case.record.sequence < later.record.sequence
        })
        .map(|case| case.bytes.clone())
        .collect();
    for kind in [Kind::Condition, Kind::Comparison] {
        let pdf = drawn(later, kind, Speech::English, PageSize::A4);
        let found = pages(&pdf, &before).unwrap();
        assert!(
            matches!(found, Pages::SamePages { .. }),
            "{kind:?}: {found:?}"
        );
    }
    let alone = pages(
        &drawn(later, Kind::Comparison, Speech::English, PageSize::A4),
        &[],
    );
    match alone.unwrap() {
        Pages::NotCompared { reason, .. } => {
            assert!(reason.contains("needs the earlier records"), "{reason}");
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn case_61_one_visible_digit_that_the_record_does_not_have_is_altered() {
    let forged = replace_words(&unsigned(Kind::Identification), "703.5", "730.5");
    let found = judged(forged);
    let Pages::OtherPages { differences } = &found else {
        panic!("{found:?}");
    };
    assert_eq!(differences.len(), 1, "{differences:?}");
    assert!(
        differences[0].starts_with("page 1: `")
            && differences[0].contains("730.5")
            && differences[0].contains("` stands where the record gives `")
            && differences[0].contains("703.5"),
        "{differences:?}"
    );
    assert_eq!(found.exit_code(0), 1);
    assert_eq!(found.exit_code(2), 1);
}

#[test]
fn case_61_a_line_that_the_record_does_not_have_is_altered() {
    let forged = replace_in_drawing(&unsigned(Kind::Identification), |page| {
        [page, b"0 0 m\n9 9 l\nS\n"].concat()
    });
    let found = judged(forged);
    let Pages::OtherPages { differences } = &found else {
        panic!("{found:?}");
    };
    assert_eq!(
        differences,
        &["page 1: the same words, but another drawing or other places"]
    );
}

/// The first page hidden under white.
fn covered(pdf: &[u8]) -> Vec<u8> {
    replace_in_drawing(pdf, |page| {
        [page, b"1 1 1 rg\n0 0 700 500 re\nf\n"].concat()
    })
}

/// As if an earlier version had set the pages.
fn by_another_renderer(pdf: &[u8]) -> Vec<u8> {
    edit::replace_all(
        pdf,
        b"Tangmark report renderer 1,",
        b"Tangmark report renderer 0,",
    )
}

/// A form that cannot be read here must not keep the pages from being judged.
#[test]
fn case_61_pages_of_another_form_are_altered_where_our_renderer_is_named() {
    for forged in [
        drawings_in_arrays(&covered(&unsigned(Kind::Condition))),
        drawings_in_arrays(&unsigned(Kind::Condition)),
    ] {
        let found = judged(forged);
        let Pages::OtherPages { differences } = &found else {
            panic!("{found:?}");
        };
        assert!(
            differences[0].contains("not of the form in which the renderer that they name"),
            "{differences:?}"
        );
        assert_eq!((found.exit_code(0), found.exit_code(2)), (1, 1));
    }
}

#[test]
fn case_61_pages_that_cannot_be_read_are_to_be_confirmed() {
    let forged = by_another_renderer(&covered(&unsigned(Kind::Condition)));
    let found = judged(drawings_in_arrays(&forged));
    let Pages::NotCompared {
        reason,
        differences,
        ..
    } = &found
    else {
        panic!("{found:?}");
    };
    assert!(
        reason.ends_with("and are not of the form in which they can be read here"),
        "{reason}"
    );
    for fact in ["title of the blade", "name of the record"] {
        assert!(differences.iter().any(|one| one == fact), "{differences:?}");
    }
    assert_eq!(
        (found.exit_code(0), found.exit_code(1), found.exit_code(3)),
        (2, 1, 3)
    );
}

#[test]
fn pages_of_another_renderer_are_compared_by_their_words() {
    let other = by_another_renderer;
    let found = judged(other(&unsigned(Kind::Condition)));
    let Pages::NotCompared {
        reason,
        differences,
        ..
    } = &found
    else {
        panic!("{found:?}");
    };
    assert!(
        reason.starts_with("the pages were set by `Tangmark report renderer 0, fonts"),
        "{reason}"
    );
    assert_eq!(differences, &Vec::<String>::new());
    assert_eq!((found.exit_code(0), found.exit_code(2)), (0, 2));

    let forged = replace_words(&other(&unsigned(Kind::Condition)), "703.5", "730.5");
    let found = judged(forged);
    let Pages::NotCompared { differences, .. } = &found else {
        panic!("{found:?}");
    };
    assert_eq!(differences, &["dimension `blade_length`"]);
    assert_eq!(
        (found.exit_code(0), found.exit_code(1), found.exit_code(3)),
        (2, 1, 3)
    );
    assert!(
        found.to_string().starts_with("to be confirmed: "),
        "{found}"
    );
}

/// What a report carries beside the record is part of it.
#[test]
fn a_report_with_a_key_history_is_drawn_again_with_it() {
    let (trial, sealed) = trial();
    let record: Record = serde_json::from_slice(&sealed).unwrap();
    let key = PublicKey::from_did(record.issuer.id.as_str()).unwrap();
    let photos = BTreeMap::new();
    let fingerprint = key.fingerprint().to_string();
    let input = RenderInput {
        record_bytes: &sealed,
        photos: &photos,
        page: PageSize::A4,
        demo: true,
        fingerprint: &fingerprint,
        kind: Kind::Care,
        speech: Speech::Both,
        earlier: &[],
    };
    let beside = Beside {
        revealed: None,
        history: Some(br#"{"format":"invented"}"#),
        against: None,
    };
    assert_eq!(trial.photos, photos);
    let pdf = render_beside(&record, &beside, &input).unwrap().pdf;
    let found = judged(pdf);
    assert!(matches!(found, Pages::SamePages { .. }), "{found:?}");
}

#[test]
fn files_that_are_no_unaltered_report_have_no_pages_to_compare() {
    let mut pdf = sign_report(unsigned(Kind::Identification)).unwrap();
    assert!(pages(&unsigned(Kind::Identification), &[]).is_none());
    assert!(pages(b"%PDF-1.7", &[]).is_none());
    let last = pdf.len() - 1;
    pdf[last] ^= 1;
    assert!(pages(&pdf, &[]).is_none());
}
