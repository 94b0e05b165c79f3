//! A referral that is ended after any step goes on where it was.
#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

use tangmark_core::record::{Purpose, Verdict};

use super::{
    OpenReferral, Opened, PacketWish, ReferError, Replied, ReplyOrder, ReplySource, SentOrder,
};
use crate::journal::Who;
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
    bench.around(|around| {
        let order = ReplyOrder {
            blade: "heron",
            source: ReplySource::Told {
                from: "S. Moor",
                verdict: Verdict::SetAside,
                text: "Leave it as it is",
                answers: &[],
                letter: None,
            },
            unsent: Some("seen by photographs"),
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
