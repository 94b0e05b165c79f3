//! A correction is sealed once, whatever ends the run that seals it.
#![allow(clippy::unwrap_used)]

use tangmark_core::record::{Purpose, RefersTo};

use super::{CorrectError, Corrected, Correction};
use crate::journal::Who;
use crate::walked::{Bench, PASSPHRASE};
use crate::{Order, Sealed, WorkshopError};

const WORDS: &str = "The mass was read wrongly: 748.3 g holds.";

fn seal(bench: &Bench, purpose: Purpose, refers_to: Option<RefersTo>) -> Sealed {
    bench.around(|around| {
        let order = Order {
            blade: "reed",
            purpose,
            decision: None,
            overrides: Vec::new(),
            refers_to,
            passphrase: PASSPHRASE,
            out: None,
        };
        bench.workshop().seal(&order, around).unwrap()
    })
}

fn correct(bench: &Bench, record: u32, withdraw: bool) -> Result<Corrected, WorkshopError> {
    bench.around(|around| {
        let order = Correction {
            blade: "reed",
            record,
            statement: WORDS,
            withdraw,
            passphrase: PASSPHRASE,
            out: None,
            who: Who::default(),
        };
        bench.workshop().correct(&order, around)
    })
}

#[test]
fn ended_before_it_was_noted_it_is_noted_and_not_sealed_again() {
    let bench = Bench::with("reed-before");
    let first = seal(&bench, Purpose::Transfer, None);
    // As a run leaves it that was ended between the record and the entry.
    let said = RefersTo {
        record: first.record,
        statement: WORDS.to_owned(),
    };
    let sealed = seal(&bench, Purpose::Correction, Some(said));
    assert!(
        bench.workshop().corrections("reed").unwrap()[0]
            .by
            .is_none()
    );

    let corrected = correct(&bench, 1, false).unwrap();
    assert!(corrected.sealed.is_none());
    assert_eq!(
        (corrected.record, corrected.sequence),
        (sealed.record, sealed.sequence)
    );
    assert_eq!(bench.workshop().records("reed").unwrap().len(), 2);
    let by = bench.workshop().corrections("reed").unwrap().remove(0).by;
    assert_eq!(by.as_deref(), Some("Reedbank Polishing"));

    // The same words again are no second correction; a withdrawal is another thing.
    let again = correct(&bench, 1, false).unwrap_err();
    assert!(
        matches!(
            again,
            WorkshopError::Correct(CorrectError::SaidBefore { by: 2, .. })
        ),
        "{again}"
    );
    let withdrawn = correct(&bench, 1, true).unwrap();
    assert!(withdrawn.withdraws && withdrawn.sealed.is_some());
    let (sheet, _) = bench.workshop().sheet("reed").unwrap();
    assert_eq!(sheet.refers_to, None, "the sheet speaks of nothing earlier");
}

#[test]
fn what_was_withdrawn_is_not_corrected_and_a_withdrawal_stands() {
    let bench = Bench::with("reed-before");
    seal(&bench, Purpose::Transfer, None);
    correct(&bench, 1, true).unwrap();
    let records = bench.workshop().records("reed").unwrap().len();
    for (number, withdraw) in [(1, false), (2, false), (2, true), (7, false)] {
        let error = correct(&bench, number, withdraw).unwrap_err();
        assert!(!error.hint().is_empty(), "{error}");
    }
    assert_eq!(bench.workshop().records("reed").unwrap().len(), records);
}

#[test]
fn sealing_it_directly_goes_round_none_of_that() {
    let bench = Bench::with("reed-before");
    seal(&bench, Purpose::Transfer, None);
    let withdrawal = correct(&bench, 1, true).unwrap();
    for of in [withdrawal.record, withdrawal.of] {
        let error = bench.around(|around| {
            let order = Order {
                blade: "reed",
                purpose: Purpose::Withdrawal,
                decision: None,
                overrides: Vec::new(),
                refers_to: Some(RefersTo {
                    record: of,
                    statement: WORDS.to_owned(),
                }),
                passphrase: PASSPHRASE,
                out: None,
            };
            bench.workshop().seal(&order, around).unwrap_err()
        });
        assert!(matches!(error, WorkshopError::Correct(_)), "{error}");
    }
    assert_eq!(bench.workshop().records("reed").unwrap().len(), 2);
}
