//! A referral that is ended after any step goes on where it was.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

use tangmark_core::record::{Purpose, Verdict};

use super::{
    OpenReferral, Opened, PacketWish, ReferError, Replied, ReplyOrder, ReplySource, SentOrder,
};
use crate::journal::Who;
use crate::sale::CloseOrder;
use crate::stage::Stage;
use crate::walked::{Bench, PASSPHRASE};
use crate::{Paper, Speech, WorkshopError};

fn open(bench: &Bench, to: &str, out: &Path, most: usize) -> Result<Opened, WorkshopError> {
    let list = |text: &str| vec![text.to_owned()];
    bench.around(|around| {
        let order = OpenReferral {
            blade: "heron",
            to,
            questions: &list("May it be polished?"),
            not_done: &list("No stone, no etch"),
            packed: &list("blade in scabbard"),
            return_conditions: None,
            return_by: None,
            reason: "Too old to be sure",
            packet: PacketWish {
                reveal: &[],
                speech: Speech::Both,
                paper: Paper::A4,
                out: Some(out),
                memory: None,
            },
            passphrase: PASSPHRASE,
            who: Who::default(),
        };
        bench
            .workshop()
            .open_referral_to(&order, most, &mut |_| {}, around)
    })
}

fn reply(bench: &Bench, most: usize) -> Result<Replied, WorkshopError> {
    reply_of(
        bench,
        most,
        "S. Moor",
        Verdict::SetAside,
        None,
        Some("seen by photographs"),
    )
}

fn reply_of(
    bench: &Bench,
    most: usize,
    from: &str,
    verdict: Verdict,
    letter: Option<&Path>,
    unsent: Option<&str>,
) -> Result<Replied, WorkshopError> {
    bench.around(|around| {
        let order = ReplyOrder {
            blade: "heron",
            source: ReplySource::Told {
                from,
                verdict,
                text: "Leave it as it is",
                answers: &[],
                letter,
            },
            unsent,
            passphrase: PASSPHRASE,
            who: Who::default(),
        };
        bench
            .workshop()
            .referral_reply_to(&order, most, &mut |_| {}, around)
    })
}

fn ended<T: std::fmt::Debug>(result: Result<T, WorkshopError>) {
    let error = result.unwrap_err();
    assert!(
        matches!(error, WorkshopError::Refer(ReferError::Ended(_))),
        "{error}"
    );
}

#[test]
fn ended_after_every_step_it_goes_on_and_seals_nothing_twice() {
    let bench = Bench::with("heron");
    let out = bench.path("packet");
    for _ in 0..3 {
        ended(open(&bench, "S. Moor", &out, 1));
    }
    assert!(!out.exists());
    let opened = open(&bench, "S. Moor", &out, 1).unwrap();
    let done: Vec<bool> = opened.steps.iter().map(|step| step.was_done).collect();
    assert_eq!(done, [true, true, true, false], "{:?}", opened.steps);
    let packet = opened.packet.unwrap();
    for file in &packet.files {
        assert!(out.join(file).is_file(), "{file}");
    }
    // Once more: everything is there, and nothing is written.
    let list = fs::read(out.join("files.txt")).unwrap();
    let again = open(&bench, "S. Moor", &out, 0).unwrap();
    assert!(again.packet.is_none() && again.steps.iter().all(|step| step.was_done));
    assert_eq!(fs::read(out.join("files.txt")).unwrap(), list);
    let workshop = bench.workshop();
    assert_eq!(workshop.records("heron").unwrap().len(), 1);
    assert_eq!(
        workshop.journal(Some("heron"), None, true).unwrap().len(),
        2
    );

    // Another referral waits for the reply to this one.
    let error = open(&bench, "T. Vale", &bench.path("other"), usize::MAX).unwrap_err();
    assert!(
        matches!(error, WorkshopError::Refer(ReferError::Open { .. })),
        "{error}"
    );

    ended(reply(&bench, 1));
    let records = workshop.records("heron").unwrap();
    assert_eq!(records[1].2.purpose, Purpose::Reply);
    let replied = reply(&bench, 1).unwrap();
    assert_eq!(
        (replied.stage, replied.reply.sequence),
        (Stage::SetAside, 2)
    );
    assert_eq!(workshop.records("heron").unwrap().len(), 2);
    let (sheet, _) = workshop.sheet("heron").unwrap();
    assert_eq!((sheet.referral, sheet.refers_to), (None, None));
    let error = reply(&bench, usize::MAX).unwrap_err();
    assert!(
        matches!(error, WorkshopError::Refer(ReferError::NoneOpen(_))),
        "{error}"
    );
}

#[test]
fn a_packet_that_was_changed_is_not_taken_for_whole() {
    let bench = Bench::with("heron");
    let out = bench.path("packet");
    let opened = open(&bench, "S. Moor", &out, usize::MAX).unwrap();
    let report = opened.packet.unwrap().files;
    let report = report
        .iter()
        .find(|file| Path::new(file).extension().is_some_and(|end| end == "pdf"))
        .unwrap();
    fs::write(out.join(report), "torn").unwrap();
    let error = open(&bench, "S. Moor", &out, usize::MAX).unwrap_err();
    assert!(
        matches!(error, WorkshopError::Refer(ReferError::OtherPacket { .. })),
        "{error}"
    );
    assert_eq!(fs::read(out.join(report)).unwrap(), b"torn");
}

#[test]
fn a_letter_that_cannot_be_read_seals_nothing_and_other_words_are_refused() {
    let bench = Bench::with("heron");
    open(&bench, "S. Moor", &bench.path("packet"), usize::MAX).unwrap();
    let (letter, slip) = (bench.path("letter.txt"), bench.path("leter.txt"));
    fs::write(&letter, "Leave it as it is. S. Moor").unwrap();
    let why = Some("seen by photographs");
    let aside = Verdict::SetAside;
    reply_of(&bench, 1, "S. Moor", aside, Some(&slip), why).unwrap_err();
    assert_eq!(bench.workshop().records("heron").unwrap().len(), 1);

    ended(reply_of(&bench, 1, "S. Moor", aside, Some(&letter), why));
    for (from, verdict, unsent) in [
        ("T. Vale", aside, why),
        ("S. Moor", Verdict::Work, why),
        ("S. Moor", aside, Some("told by telephone")),
    ] {
        let error = reply_of(&bench, usize::MAX, from, verdict, None, unsent).unwrap_err();
        assert!(
            matches!(
                error,
                WorkshopError::Refer(ReferError::OtherReply { record: 2, .. })
            ),
            "{error}"
        );
        assert!(
            error
                .hint()
                .contains("tangmark refer reply heron --record 2")
        );
    }
    // The same words without why it was not sent: that stands in the record.
    let replied = reply_of(&bench, usize::MAX, "S. Moor", aside, Some(&letter), None).unwrap();
    assert_eq!(bench.workshop().records("heron").unwrap().len(), 2);
    assert_eq!(replied.reply.unsent.as_deref(), why);
    assert!(replied.reply.letter.is_some());
}

#[test]
fn an_open_referral_is_told_when_the_blade_leaves_and_sends_nothing_that_left() {
    let bench = Bench::with("heron");
    open(&bench, "S. Moor", &bench.path("packet"), usize::MAX).unwrap();
    let price = "900 EUR".parse().unwrap();
    let closed = bench.around(|around| {
        let order = CloseOrder {
            blade: "heron",
            back: false,
            to: Some("B. Buyer"),
            price: Some(&price),
            terms: None,
            decision: None,
            speech: None,
            paper: None,
            reveal: &[],
            out: Some(&bench.path("papers")),
            memory: None,
            passphrase: PASSPHRASE,
            who: Who::default(),
        };
        bench
            .workshop()
            .close_sale(&order, &mut |_| {}, around)
            .unwrap()
    });
    let told = closed.remarks.join("\n");
    assert!(
        told.contains("the referral of record 1 to `S. Moor` is still open"),
        "{told}"
    );
    let error = bench
        .around(|around| {
            let order = SentOrder {
                blade: "heron",
                ground: super::OnLoan::ForWork,
                carrier: None,
                who: Who::default(),
            };
            bench.workshop().referral_sent(&order, around)
        })
        .unwrap_err();
    assert!(
        matches!(error, WorkshopError::Refer(ReferError::Left { .. })),
        "{error}"
    );
    // A letter that comes later does not bring it back.
    assert_eq!(reply(&bench, usize::MAX).unwrap().stage, Stage::Sold);
}

#[test]
fn it_leaves_once() {
    let bench = Bench::with("heron");
    open(&bench, "S. Moor", &bench.path("packet"), usize::MAX).unwrap();
    let send = || {
        bench.around(|around| {
            let order = SentOrder {
                blade: "heron",
                ground: super::OnLoan::Lent,
                carrier: Some("by hand"),
                who: Who::default(),
            };
            bench.workshop().referral_sent(&order, around)
        })
    };
    assert_eq!(send().unwrap().stage, Stage::Referred);
    let error = send().unwrap_err();
    assert!(
        matches!(error, WorkshopError::Refer(ReferError::Away { .. })),
        "{error}"
    );
}

#[test]
fn after_a_withdrawn_reply_the_referral_waits_for_another() {
    let bench = Bench::with("heron");
    open(&bench, "S. Moor", &bench.path("packet"), usize::MAX).unwrap();
    assert_eq!(reply(&bench, usize::MAX).unwrap().reply.sequence, 2);
    assert!(reply(&bench, usize::MAX).is_err(), "it is answered");
    bench.around(|around| {
        let order = crate::correct::Correction {
            blade: "heron",
            record: 2,
            statement: "The letter is of another blade.",
            withdraw: true,
            passphrase: PASSPHRASE,
            out: None,
            who: Who::default(),
        };
        bench.workshop().correct(&order, around).unwrap()
    });
    let cases = bench
        .workshop()
        .referrals_of("heron", "2026-06-02")
        .unwrap();
    assert!(cases[0].reply.is_none() && cases[0].is_open());
    let again = reply(&bench, usize::MAX).unwrap();
    assert_eq!((again.referral, again.reply.sequence), (1, 4));
    assert!(reply(&bench, usize::MAX).is_err(), "it is answered again");
}
