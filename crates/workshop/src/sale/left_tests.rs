//! What has left is not sold again, until it is said that it came back; what is said of a sale is kept as it was said.
#![allow(clippy::unwrap_used)]

use std::fs;

use tangmark_core::record::{CustodyKind, Decision, Money, Purpose, Role, Verdict};
use tangmark_report::Speech;

use super::{CloseOrder, Closed, PriceOrder, SaleError, SaleState};
use crate::correct::Correction;
use crate::custody::{EventSaid, Party};
use crate::journal::Who;
use crate::walked::{Bench, PASSPHRASE};
use crate::{Order, WorkshopError};

const OWN: &str = "Reedbank Polishing";

fn said<'a>(kind: &'a str, to: Option<&'a str>) -> EventSaid<'a> {
    EventSaid {
        kind: Some(kind),
        to: Party {
            name: to,
            ..Party::default()
        },
        ..EventSaid::default()
    }
}

fn add(bench: &Bench, blade: &str, said: &EventSaid<'_>) {
    bench.around(|around| {
        bench
            .workshop()
            .add_custody(blade, said, &Who::default(), around)
            .unwrap()
    });
}

/// A sale for 470000 JPY, changed as asked.
fn sell(
    bench: &Bench,
    blade: &str,
    to: &str,
    most: usize,
    change: impl FnOnce(&mut CloseOrder<'_>),
) -> Result<Closed, WorkshopError> {
    let price: Money = "470000 JPY".parse().unwrap();
    let out = bench.path(to);
    bench.around(|around| {
        let mut order = CloseOrder {
            blade,
            back: false,
            to: Some(to),
            price: Some(&price),
            terms: None,
            decision: None,
            speech: None,
            paper: None,
            reveal: &[],
            out: Some(&out),
            memory: None,
            passphrase: PASSPHRASE,
            who: Who::default(),
        };
        change(&mut order);
        bench
            .workshop()
            .close_sale_to(&order, most, &mut |_| {}, around)
    })
}

fn refused(result: Result<Closed, WorkshopError>) -> SaleError {
    match result.unwrap_err() {
        WorkshopError::Sale(error) => *error,
        other => panic!("{other}"),
    }
}

fn correct(bench: &Bench, blade: &str, record: u32, statement: &str, withdraw: bool) {
    bench.around(|around| {
        let order = Correction {
            blade,
            record,
            statement,
            withdraw,
            passphrase: PASSPHRASE,
            out: None,
            who: Who::default(),
        };
        bench.workshop().correct(&order, around).unwrap()
    });
}

#[test]
fn what_is_gone_by_its_custody_is_not_sold() {
    let resale = EventSaid {
        from: Party {
            name: Some("A. Giver"),
            ..Party::default()
        },
        ..said("sold", Some("C. Taker"))
    };
    for (blade, event) in [
        ("dune", said("sold", Some("X. Buyer"))),
        ("heron", resale),
        ("dune", said("lent", None)),
        ("lantern", said("returned", Some("E. Marchetti"))),
    ] {
        let bench = Bench::with(blade);
        add(&bench, blade, &event);
        let (_, revision) = bench.workshop().sheet(blade).unwrap();
        let back = blade == "lantern";
        let error = refused(sell(&bench, blade, "B", usize::MAX, |order| {
            order.back = back;
            if back {
                order.price = None;
            }
        }));
        assert!(matches!(error, SaleError::Gone { .. }), "{blade}: {error}");
        let way = format!("tangmark custody add {blade} returned --to \"{OWN}\"");
        assert!(error.hint().contains(&way), "{}", error.hint());
        assert_eq!(bench.workshop().sheet(blade).unwrap().1, revision);
        assert!(bench.workshop().records(blade).unwrap().is_empty());

        // The way the hint names is one.
        add(&bench, blade, &said("returned", Some(OWN)));
        sell(&bench, blade, "B", 2, |order| {
            order.back = back;
            if back {
                order.price = None;
            }
        })
        .unwrap_err();
        assert_eq!(bench.workshop().records(blade).unwrap().len(), 1);
    }
}

#[test]
fn a_sale_begun_keeps_terms_and_decision_and_takes_no_other() {
    let bench = Bench::with("heron");
    let decision = Decision {
        verdict: Verdict::SetAside,
        by: "I. Reed".to_owned(),
        reason: "sold as it stands".to_owned(),
        answers: Vec::new(),
    };
    let other = Decision {
        reason: "nothing of it".to_owned(),
        ..decision.clone()
    };
    sell(&bench, "heron", "B", 1, |order| {
        order.terms = Some("half now, half to M. Vale on Friday");
        order.decision = Some(decision.clone());
    })
    .unwrap_err();
    let terms = refused(sell(&bench, "heron", "B", usize::MAX, |order| {
        order.terms = Some("all of it now");
    }));
    assert!(
        matches!(&terms, SaleError::UnderWay { begun, .. } if begun.what == "the terms"),
        "{terms}"
    );
    let decided = refused(sell(&bench, "heron", "B", usize::MAX, |order| {
        order.decision = Some(other);
    }));
    assert!(
        matches!(&decided, SaleError::UnderWay { begun, .. } if begun.what == "the decision"),
        "{decided}"
    );

    sell(&bench, "heron", "B", usize::MAX, |_| {}).unwrap();
    let (_, bytes, record) = bench.workshop().records("heron").unwrap().remove(0);
    assert_eq!(record.decision, Some(decision));
    // Terms may name sums and people, and a note of the record withholds nothing.
    let sealed = String::from_utf8(bytes).unwrap();
    assert!(!sealed.contains("M. Vale"), "{sealed}");
    let line = bench.workshop().sale_of("heron").unwrap();
    assert_eq!(
        line.terms.as_deref(),
        Some("half now, half to M. Vale on Friday")
    );
    let (sheet, _) = bench.workshop().sheet("heron").unwrap();
    assert_eq!(sheet.custody.last().unwrap().note, None);
}

#[test]
fn a_day_before_the_newest_event_is_refused() {
    let bench = Bench::with("dune");
    let error = refused(sell(&bench, "dune", "B", usize::MAX, |order| {
        order.who.on = Some("2026-04-27");
    }));
    let told = error.to_string();
    assert!(
        matches!(error, SaleError::Early { .. })
            && told.contains("2026-04-27")
            && told.contains("2026-04-28"),
        "{told}"
    );
    sell(&bench, "dune", "B", 1, |order| {
        order.who.on = Some("2026-04-28");
    })
    .unwrap_err();
    assert_eq!(bench.workshop().custody("dune").unwrap().len(), 2);
}

#[test]
fn what_was_withdrawn_is_not_counted_and_the_blade_is_sold_again_once_it_is_back() {
    let bench = Bench::with("dune");
    sell(&bench, "dune", "B", usize::MAX, |_| {}).unwrap();
    let workshop = bench.workshop();
    let account = || workshop.account("dune", None).unwrap();
    let sold = |currency: &str| {
        let account = account();
        let one = account
            .currencies
            .iter()
            .find(|one| one.currency == currency);
        one.map(|one| one.sold.to_string())
    };
    assert_eq!(sold("JPY").as_deref(), Some("470000"));
    let before = refused(sell(&bench, "dune", "C", usize::MAX, |_| {}));
    assert!(matches!(before, SaleError::Left { .. }), "{before}");

    correct(&bench, "dune", 1, "It was never handed over.", true);
    assert_eq!(sold("JPY"), None);
    assert_eq!(sold("EUR").as_deref(), Some("0"), "the purchase stays");
    let told = account().remarks.join("\n");
    assert!(
        told.contains("its record 1 was withdrawn by record 2"),
        "{told}"
    );
    let year = bench.around(|around| workshop.book_year(None, around).unwrap());
    assert!(year.came.is_empty(), "{:?}", year.came);
    assert!(
        year.remarks[0].starts_with("dune: 470000 JPY"),
        "{:?}",
        year.remarks
    );

    let error = refused(sell(&bench, "dune", "C", usize::MAX, |_| {}));
    let hint = error.hint();
    assert!(
        hint.contains("record 2 withdraws")
            && hint.contains(&format!(
                "tangmark custody add dune returned --to \"{OWN}\""
            )),
        "{hint}"
    );
    add(&bench, "dune", &said("returned", Some(OWN)));
    sell(&bench, "dune", "C", usize::MAX, |_| {}).unwrap();
    assert_eq!(sold("JPY").as_deref(), Some("470000"), "the second alone");
    let told = account().remarks.join("\n");
    assert!(told.ends_with("was withdrawn by record 2"), "{told}");
}

#[test]
fn a_withdrawn_transfer_that_is_sealed_anew_counts() {
    let bench = Bench::with("dune");
    sell(&bench, "dune", "B", usize::MAX, |_| {}).unwrap();
    correct(&bench, "dune", 1, "A slip in it.", true);
    bench.around(|around| {
        let order = Order {
            blade: "dune",
            purpose: Purpose::Transfer,
            decision: None,
            overrides: Vec::new(),
            refers_to: None,
            passphrase: PASSPHRASE,
            out: None,
        };
        bench.workshop().seal(&order, around).unwrap()
    });
    let account = bench.workshop().account("dune", None).unwrap();
    let yen = account.currencies.iter().find(|one| one.currency == "JPY");
    assert_eq!(yen.unwrap().sold.to_string(), "470000");
}

#[test]
fn a_correction_that_was_withdrawn_corrects_nothing() {
    let bench = Bench::with("heron");
    sell(&bench, "heron", "B", usize::MAX, |_| {}).unwrap();
    let state = || bench.workshop().sale_of("heron").unwrap();
    correct(&bench, "heron", 1, "The mass was misread.", false);
    assert_eq!(state().state, SaleState::Corrected);
    correct(&bench, "heron", 2, "It was read well.", true);
    assert_eq!(state().state, SaleState::Complete);
    assert!(state().corrections.is_empty());
}

#[test]
fn bought_and_sold_by_name_stands_in_the_books() {
    let bench = Bench::with("heron");
    let bought = EventSaid {
        from: Party {
            name: Some("M. Seller"),
            ..Party::default()
        },
        price: Some("500 EUR"),
        ..said("bought", Some(OWN))
    };
    add(&bench, "heron", &bought);
    let earlier = EventSaid {
        on: Some("1990"),
        price: Some("70 GBP"),
        ..said("bought", Some("A. Collector"))
    };
    add(&bench, "heron", &earlier);
    let price: &'static Money = Box::leak(Box::new("900 EUR".parse().unwrap()));
    sell(&bench, "heron", "B", 1, |order| order.price = Some(price)).unwrap_err();
    let (sheet, _) = bench.workshop().sheet("heron").unwrap();
    let sold = sheet.custody.last().unwrap();
    assert_eq!(sold.kind, CustodyKind::Sold);
    let from = sold.from.as_ref().unwrap();
    assert_eq!(
        (from.role, from.name.as_deref()),
        (Role::Polisher, Some(OWN))
    );

    let account = bench.workshop().account("heron", None).unwrap();
    let one = &account.currencies[0];
    let sums = (one.bought.to_string(), one.sold.to_string());
    assert_eq!(
        (account.currencies.len(), sums),
        (1, ("500".to_owned(), "900".to_owned()))
    );
    let told = account.remarks.join("\n");
    assert!(
        told.contains("70 GBP for what was bought on 1990 is not counted"),
        "{told}"
    );
}

#[test]
fn the_note_of_an_asking_price_does_not_say_what_the_blade_cost() {
    let bench = Bench::with("dune");
    let asking: Money = "480 EUR".parse().unwrap();
    let price = bench.around(|around| {
        let order = PriceOrder {
            blade: "dune",
            asking: Some(&asking),
            basis: Some("like sales"),
            between: Some(("400".parse().unwrap(), "600".parse().unwrap())),
            ..PriceOrder::default()
        };
        bench.workshop().price(&order, around).unwrap()
    });
    assert_eq!(price.cost[0].to_string(), "95 EUR");
    let note = price.asking.unwrap().note.unwrap();
    assert!(!note.contains("cost") && !note.contains("95 EUR"), "{note}");
}

#[test]
fn the_owner_s_account_speaks_to_the_owner_in_both_languages() {
    let bench = Bench::with("reed-after");
    let account = bench.workshop().account("reed", None).unwrap();
    assert!(!account.remarks.is_empty(), "there is something to be told");
    let text = |speech| bench.workshop().account_text("reed", speech).unwrap();
    let (english, japanese) = (text(Speech::English), text(Speech::Japanese));
    for workshops in ["--rate", "valuation", "entry", "the sheet"] {
        assert!(!english.contains(workshops), "{english}");
    }
    let after = |text: &str, heading: &str| text.split(heading).nth(1).unwrap().lines().count();
    assert!(english.contains("no price of an hour is set"), "{english}");
    assert!(
        japanese.contains("一時間の料金が定められていない"),
        "{japanese}"
    );
    assert_eq!(
        after(&english, "Not in it:"),
        after(&japanese, "含まないもの：")
    );
}

#[test]
fn the_export_leaves_out_what_was_withdrawn() {
    let bench = Bench::with("dune");
    sell(&bench, "dune", "B", usize::MAX, |_| {}).unwrap();
    let sales = |name: &str| {
        let folder = bench.path(name);
        let wish = crate::books::ExportWish {
            folder: &folder,
            replace: false,
        };
        bench
            .workshop()
            .export_books(&wish, &mut |_, _| {})
            .unwrap();
        fs::read_to_string(folder.join("sales.csv")).unwrap()
    };
    assert!(sales("before").contains("470000"));
    correct(&bench, "dune", 1, "It was never handed over.", true);
    assert!(!sales("after").contains("470000"));
}
