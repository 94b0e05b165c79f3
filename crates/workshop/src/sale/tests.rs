//! A sale that is ended after any step goes on where it was.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use tangmark_core::Digest;
use tangmark_core::record::{CustodyKind, Decision, Money, Purpose, Verdict};

use super::{CloseOrder, Closed, SaleError};
use crate::journal::Who;
use crate::steps::Step;
use crate::walked::{Bench, PASSPHRASE};
use crate::{Workshop, WorkshopError};

/// How the sale is asked for.
struct Asked {
    to: Option<&'static str>,
    price: Option<Money>,
    decision: Option<Decision>,
    out: PathBuf,
}

impl Asked {
    fn of(bench: &Bench) -> Self {
        Self {
            to: Some("A. Lindqvist"),
            price: Some("470000 JPY".parse().unwrap()),
            decision: None,
            out: bench.path("papers"),
        }
    }
}

fn close(bench: &Bench, asked: &Asked, most: usize) -> Result<Closed, WorkshopError> {
    bench.around(|around| {
        let order = CloseOrder {
            blade: "heron",
            back: false,
            to: asked.to,
            price: asked.price.as_ref(),
            terms: None,
            decision: asked.decision.clone(),
            speech: None,
            paper: None,
            reveal: &[],
            out: Some(&asked.out),
            memory: None,
            passphrase: PASSPHRASE,
            who: Who::default(),
        };
        bench
            .workshop()
            .close_sale_to(&order, most, &mut |_| {}, around)
    })
}

fn files(folder: &Path) -> BTreeMap<PathBuf, Digest> {
    let Ok(entries) = fs::read_dir(folder) else {
        return BTreeMap::new();
    };
    entries
        .map(|entry| {
            let path = entry.unwrap().path();
            let digest = Digest::of(&fs::read(&path).unwrap());
            (path, digest)
        })
        .collect()
}

fn names(steps: &[Step]) -> Vec<&'static str> {
    steps.iter().map(|step| step.step).collect()
}

fn sold(workshop: &Workshop) -> usize {
    let (sheet, _) = workshop.sheet("heron").unwrap();
    let is_sold = |event: &&tangmark_core::record::CustodyEvent| event.kind == CustodyKind::Sold;
    sheet.custody.iter().filter(is_sold).count()
}

fn sale_error(error: &WorkshopError) -> &SaleError {
    match error {
        WorkshopError::Sale(error) => error,
        other => panic!("{other}"),
    }
}

#[test]
fn ended_after_every_step_it_goes_on_and_does_nothing_twice() {
    let whole = Bench::with("heron");
    let asked = Asked::of(&whole);
    let before = sold(&whole.workshop());
    let closed = close(&whole, &asked, usize::MAX).unwrap();
    let steps = names(&closed.steps);
    assert_eq!(
        steps,
        [
            "custody",
            "record",
            "report",
            "receipt",
            "care",
            "identification",
            "package",
            "stage"
        ]
    );

    let bench = Bench::with("heron");
    let mut asked = Asked::of(&bench);
    let mut kept: BTreeMap<PathBuf, Digest> = BTreeMap::new();
    for round in 0..steps.len() {
        if round == steps.len() - 1 {
            let closed = close(&bench, &asked, 1).unwrap();
            assert_eq!(names(&closed.steps), steps);
            let now: Vec<&Step> = closed.steps.iter().filter(|step| !step.was_done).collect();
            assert_eq!(now.len(), 1, "{now:?}");
        } else {
            let error = close(&bench, &asked, 1).unwrap_err();
            assert!(matches!(sale_error(&error), SaleError::Ended(_)), "{error}");
        }
        let now = files(&asked.out);
        for (path, digest) in &kept {
            assert_eq!(now.get(path), Some(digest), "{}", path.display());
        }
        kept = now;
        let workshop = bench.workshop();
        assert_eq!(sold(&workshop), before + 1, "after step {round}");
        assert!(workshop.records("heron").unwrap().len() <= 1);
        // Once begun it knows buyer and price itself.
        asked.to = None;
        asked.price = None;
    }
    let workshop = bench.workshop();
    let records = workshop.records("heron").unwrap();
    assert_eq!(records.len(), 1);
    assert_eq!(records[0].2.purpose, Purpose::Transfer);
    let line = workshop.sale_of("heron").unwrap();
    assert!(line.complete && line.to_do.is_empty(), "{line:?}");
    assert_eq!(line.papers.len(), 5);
    for paper in &line.papers {
        assert_eq!(kept[&asked.out.join(&paper.file)], paper.digest);
    }
    assert_eq!(
        workshop
            .journal(Some("heron"), Some("sale"), false)
            .unwrap()
            .len(),
        1
    );

    let error = close(&bench, &Asked::of(&bench), usize::MAX).unwrap_err();
    assert!(
        matches!(sale_error(&error), SaleError::Left { record: 1, .. }),
        "{error}"
    );
}

#[test]
fn a_sale_under_way_is_finished_as_it_was_begun() {
    let bench = Bench::with("heron");
    close(&bench, &Asked::of(&bench), 1).unwrap_err();
    let other = Asked {
        to: Some("Somebody Else"),
        ..Asked::of(&bench)
    };
    let dearer = Asked {
        price: Some("480000 JPY".parse().unwrap()),
        ..Asked::of(&bench)
    };
    for asked in [other, dearer] {
        let error = close(&bench, &asked, usize::MAX).unwrap_err();
        assert!(
            matches!(sale_error(&error), SaleError::UnderWay { .. }),
            "{error}"
        );
    }
    assert!(bench.workshop().records("heron").unwrap().is_empty());
}

#[test]
fn what_is_in_the_place_of_a_paper_is_not_overwritten() {
    let bench = Bench::with("heron");
    let asked = Asked::of(&bench);
    // Custody, record and the first report.
    close(&bench, &asked, 3).unwrap_err();
    let report = files(&asked.out).into_keys().next().unwrap();
    fs::write(&report, "a letter").unwrap();
    let error = close(&bench, &asked, usize::MAX).unwrap_err();
    assert!(
        matches!(sale_error(&error), SaleError::OtherPaper { .. }),
        "{error}"
    );
    assert_eq!(fs::read(&report).unwrap(), b"a letter");
    fs::remove_file(&report).unwrap();
    close(&bench, &asked, usize::MAX).unwrap();
}

#[test]
fn what_would_be_refused_later_is_refused_before_anything_is_written() {
    let bench = Bench::with("heron");
    let workshop = bench.workshop();
    let (_, revision) = workshop.sheet("heron").unwrap();
    let over_the_stop = Asked {
        decision: Some(Decision {
            verdict: Verdict::Work,
            by: "I. Reed".to_owned(),
            reason: "it looks sound".to_owned(),
            answers: Vec::new(),
        }),
        ..Asked::of(&bench)
    };
    let no_buyer = Asked {
        to: None,
        ..Asked::of(&bench)
    };
    let no_price = Asked {
        price: None,
        ..Asked::of(&bench)
    };
    for asked in [over_the_stop, no_buyer, no_price] {
        let error = close(&bench, &asked, usize::MAX).unwrap_err();
        assert!(!error.hint().is_empty(), "{error}");
    }
    assert_eq!(workshop.sheet("heron").unwrap().1, revision);
    assert!(
        workshop
            .journal(Some("heron"), None, true)
            .unwrap()
            .is_empty()
    );
    assert!(workshop.records("heron").unwrap().is_empty());
    assert!(!bench.path("papers").exists());
}
