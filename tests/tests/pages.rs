//! Every kind of report, in every language, of every committed record and of hostile ones: the pages are set well, and
//! the file keeps the rules of archival and accessible PDF.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::print_stdout,
    missing_docs
)]

use tangmark_report::{Kind, Label, LabelSheet, PageSize, Speech, label_sheet, render, scene_of};
use tangmark_testkit::cases::{Case, KINDS, PAGES, SPEECHES, golden, hostile, photos};
use tangmark_testkit::sealed::sign_report;
use tangmark_testkit::{pdfa, typeset};

/// Looks at the pages of a record in all kinds, languages and papers; returns how many pages there were.
fn set_well(case: &Case, told: &mut Vec<String>) -> usize {
    let (photos, mut pages) = (photos(), 0);
    for kind in case.kinds() {
        for speech in SPEECHES {
            for page in PAGES {
                // The other paper differs in size alone: two kinds tell.
                if page == PageSize::Letter && !matches!(kind, Kind::Condition | Kind::Labels) {
                    continue;
                }
                let input = case.input(&photos, page, kind, speech);
                let (scene, missing, _) = scene_of(&case.record, &input).unwrap();
                let name = format!("{}, {kind:?}, {speech:?}, {page:?}", case.name);
                if !missing.is_empty() {
                    told.push(format!("{name}: no glyph for {missing:?}"));
                }
                let faults = typeset::faults(&scene);
                told.extend(
                    faults
                        .iter()
                        .take(3)
                        .map(|fault| format!("{name}: {fault}")),
                );
                pages += scene.pages.len();
            }
        }
    }
    pages
}

fn all_set_well(cases: &[Case]) {
    let mut told = Vec::new();
    let pages: usize = cases.iter().map(|case| set_well(case, &mut told)).sum();
    println!("{pages} pages looked at");
    assert!(pages >= cases.len() * 8 * SPEECHES.len());
    assert!(told.is_empty(), "{}", told.join("\n"));
}

#[test]
fn pages_of_committed_records_are_set_well() {
    all_set_well(&golden().unwrap()[..3]);
}

#[test]
fn pages_of_more_committed_records_are_set_well() {
    all_set_well(&golden().unwrap()[3..]);
}

#[test]
fn pages_of_long_unbroken_words_are_set_well() {
    all_set_well(&hostile().unwrap()[..1]);
}

#[test]
fn pages_of_long_japanese_words_are_set_well() {
    all_set_well(&hostile().unwrap()[1..2]);
}

#[test]
fn pages_of_the_fullest_record_are_set_well() {
    all_set_well(&hostile().unwrap()[2..]);
}

/// Renders and checks a record in all kinds and languages.
fn archival(case: &Case, told: &mut Vec<String>) {
    let photos = photos();
    for kind in case.kinds() {
        for speech in SPEECHES {
            let input = case.input(&photos, PageSize::A4, kind, speech);
            let pdf = render(&case.record, &input).unwrap().pdf;
            let findings = pdfa::check(&pdf);
            let name = format!("{}, {kind:?}, {speech:?}", case.name);
            told.extend(
                findings
                    .iter()
                    .take(4)
                    .map(|finding| format!("{name}: {finding}")),
            );
        }
    }
}

fn all_archival(cases: &[Case]) {
    let mut told = Vec::new();
    for case in cases {
        archival(case, &mut told);
    }
    assert!(told.is_empty(), "{}", told.join("\n"));
}

#[test]
fn reports_of_committed_records_keep_every_rule() {
    all_archival(&golden().unwrap()[..3]);
}

#[test]
fn reports_of_more_committed_records_keep_every_rule() {
    all_archival(&golden().unwrap()[3..]);
}

#[test]
fn reports_of_long_unbroken_words_keep_every_rule() {
    all_archival(&hostile().unwrap()[..1]);
}

#[test]
fn reports_of_long_japanese_words_keep_every_rule() {
    all_archival(&hostile().unwrap()[1..2]);
}

#[test]
fn reports_of_the_fullest_record_keep_every_rule() {
    all_archival(&hostile().unwrap()[2..]);
}

/// Labels show no record and are signed by nobody; for the rest they are files like the reports.
#[test]
fn sheets_of_labels_keep_every_rule_but_those_of_record_and_signature() {
    let label = |key, title, code| Label {
        key,
        title,
        line: "middle stones since 2026-03-01",
        code,
        sharp: true,
    };
    let labels = [
        label("reed", "Long sword", "tangmark:blade:reed"),
        label(
            "b-0117",
            "短刀、銘 越路住人、白鞘入り",
            "tangmark:blade:b-0117",
        ),
        label("gorge", "W".repeat(300).leak(), "x".repeat(400).leak()),
    ];
    for page in PAGES {
        for speech in SPEECHES {
            let sheet = LabelSheet {
                workshop: "Workshop at the Weir",
                made_at: "2026-03-04T05:06:07Z",
                page,
                speech,
                demo: true,
            };
            let pdf = label_sheet(&labels, &sheet).unwrap().pdf;
            let told: Vec<String> = pdfa::check(&pdf)
                .iter()
                .filter(|finding| finding.rule != "A6" && !finding.rule.starts_with('G'))
                .map(ToString::to_string)
                .collect();
            assert!(told.is_empty(), "{page:?}, {speech:?}: {}", told.join("\n"));
        }
    }
}

/// A signature fills the place that was kept for it and breaks no rule.
#[test]
fn signed_reports_keep_every_rule() {
    let photos = photos();
    for case in golden().unwrap() {
        let input = case.input(&photos, PageSize::A4, KINDS[0], Speech::Both);
        let pdf = render(&case.record, &input).unwrap().pdf;
        let told: Vec<String> = pdfa::check(&sign_report(pdf).unwrap())
            .iter()
            .map(ToString::to_string)
            .collect();
        assert!(told.is_empty(), "{}: {}", case.name, told.join("\n"));
    }
}
