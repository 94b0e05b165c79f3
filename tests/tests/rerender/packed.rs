//! Reports in packages are drawn again too, and weigh there as they do alone.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use tangmark_core::record::UtcTime;
use tangmark_package::write::Content;
use tangmark_report::Kind;
use tangmark_testkit::sealed::sign_report;
use tangmark_workshop::receive::{VerifiedPackage, VerifyPackage, verify_package};
use tangmark_workshop::rerender::Pages;
use tangmark_workshop::{Setup, Surroundings, Workshop};

use crate::edit::drawings_in_arrays;
use crate::{by_another_renderer, covered, trial, unsigned};

const REPORT: &str = "data/reports/trial.pdf";

/// Packs the small record with a report of it.
fn packed(folder: &Path, report: Vec<u8>) -> PathBuf {
    let mut content = Content::new();
    let (_, sealed) = trial();
    content
        .add_bytes("data/records/01-before_work.json", sealed)
        .unwrap();
    content
        .add_bytes(REPORT, sign_report(report).unwrap())
        .unwrap();
    let file = folder.join("trial-handover.zip");
    content
        .write_zip(&file, "trial-handover", &mut |_| ControlFlow::Continue(()))
        .unwrap();
    file
}

fn now() -> UtcTime {
    "2026-11-25T09:30:00Z".parse().unwrap()
}

fn order<'a>(
    package: &'a Path,
    workshop: Option<&'a Workshop>,
    now: &'a UtcTime,
) -> VerifyPackage<'a> {
    VerifyPackage {
        package,
        keys: &[],
        authorities: &[],
        fingerprint: None,
        memory: None,
        workshop,
        now,
    }
}

fn verified(report: Vec<u8>) -> VerifiedPackage {
    let folder = tempfile::tempdir().unwrap();
    let file = packed(folder.path(), report);
    verify_package(&order(&file, None, &now()), &|_| ()).unwrap()
}

/// What the workshop's own renderer made: the signer alone is open.
#[test]
fn the_pages_of_a_packed_report_are_those_of_its_record() {
    let found = verified(unsigned(Kind::Condition));
    assert!(
        matches!(found.pages[REPORT], Pages::SamePages { .. }),
        "{:?}",
        found.pages
    );
    assert_eq!(found.verdict.exit, 2);
}

#[test]
fn case_61_a_packed_report_with_other_pages_is_rejected() {
    let covered = covered(&unsigned(Kind::Condition));
    for forged in [covered.clone(), drawings_in_arrays(&covered)] {
        let found = verified(forged);
        assert!(
            matches!(found.pages[REPORT], Pages::OtherPages { .. }),
            "{:?}",
            found.pages
        );
        assert_eq!(found.verdict.exit, 1);
    }
    let unread = verified(drawings_in_arrays(&by_another_renderer(&covered)));
    assert!(
        matches!(&unread.pages[REPORT], Pages::NotCompared { differences, .. } if !differences.is_empty()),
        "{:?}",
        unread.pages
    );
    assert_eq!(unread.verdict.exit, 2);
}

#[test]
fn case_61_no_blade_is_received_with_a_report_of_other_pages() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("workshop");
    let mut count = 0_u8;
    let mut random = |bytes: &mut [u8]| {
        for byte in bytes {
            count = count.wrapping_mul(5).wrapping_add(11);
            *byte = count;
        }
    };
    let mut around = Surroundings {
        now: now(),
        random: &mut random,
        runner: PathBuf::new(),
        plugin_folders: Vec::new(),
        scratch: folder.path().to_owned(),
    };
    let setup = Setup {
        folder: &place,
        name: "Bellmoor Edges",
        passphrase: b"three wet stones",
        demo: true,
    };
    let (receiver, _) = Workshop::setup(&setup, &mut around).unwrap();
    let forged = packed(folder.path(), covered(&unsigned(Kind::Condition)));
    let now = now();
    let order = order(&forged, Some(&receiver), &now);
    let refused = receiver.look_at_package(&order, &|_| ()).unwrap_err();
    let told = refused.to_string();
    assert!(
        told.contains("not received") && told.contains("pages of data/reports/trial.pdf: altered"),
        "{told}"
    );
}
