//! A plugin that dies, hangs, floods or lies is named, with every barrier up.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::{
    collections::BTreeMap,
    fs,
    path::{Path, PathBuf},
    time::{Duration, Instant},
};

use common::{
    approvals, ask_at, bare, failed, has, host, limits, mischief, ordered_library, replied,
    reported, request, stress_library,
};
use serde_json::json;
use tangmark_core::Digest;
use tangmark_host::{
    Approvals, Barrier, BarrierState, FaultKind, Host, Library, Limits, RUNNER_COMMAND,
};

/// Asserts kind and text of the failure after "plugin `stress`: ".
#[track_caller]
fn assert_fault(mischief_name: &str, kind: FaultKind, text: &str) {
    let failed = failed(mischief(&host(limits()), mischief_name));
    assert_eq!(
        (failed.kind, failed.fault),
        (kind, format!("plugin `stress`: {text}"))
    );
}

#[test]
fn a_sound_answer_comes_through_with_barriers_and_digest() {
    let replied = replied(mischief(&host(limits()), "none"));
    assert_eq!(replied.description.name, "stress");
    assert_eq!(
        replied.digest,
        Digest::of(&fs::read(stress_library()).unwrap())
    );
    assert_eq!(replied.reply.findings[0].message, "nothing was ordered");
    assert_eq!(replied.barriers.no_new_privileges, BarrierState::Full);
    if Barrier::ALL.into_iter().all(has) {
        assert_eq!(replied.barriers.lacking(), [""; 0]);
    }
}

#[test]
fn the_same_question_has_the_same_answer() {
    let host = host(limits());
    assert_eq!(mischief(&host, "none"), mischief(&host, "none"));
}

/// One test for each mischief whose fault is known word for word.
macro_rules! faults {
    ($($test:ident: $mischief:literal, $kind:ident, $text:expr;)+) => {$(
        #[test]
        fn $test() {
            assert_fault($mischief, FaultKind::$kind, $text);
        }
    )+};
}

faults! {
    aborting: "abort", Crashed,
        "it died (SIGABRT) before it answered; it may use 256 MiB of memory";
    overflowing_the_stack: "overflow-stack", Crashed,
        "it died (SIGABRT) before it answered; it may use 256 MiB of memory";
    a_wild_address: "wild-address", Crashed,
        "it died (SIGSEGV) before it answered; it may use 256 MiB of memory";
    ending_the_process: "exit", Crashed,
        "it ended with exit code 0 before it answered";
    flooding: "flood", Flooded,
        "its answer has 67108864 bytes; at most 4194304 are allowed";
    announcing_endless_bytes: "announce-endless", Flooded,
        "its answer has 18446744073709551615 bytes; at most 4194304 are allowed";
    an_odd_status: "odd-status", Lied,
        "it answered with status 77; ABI 1 has 0, 1 and 2";
    bytes_at_no_address: "no-address", Lied,
        "it announced 176 bytes at no address";
    json_cut_short: "bad-json", Lied,
        "its reply cannot be believed: line 1, column 15: the input ends inside the array opened at line 1, column 14; a \
         value or `]` is allowed here";
    json_too_deep: "deep-json", Lied,
        "its reply cannot be believed: line 1, column 9: found an array or object inside 8 others; at most 8 levels are \
         allowed";
    a_key_twice: "key-twice", Lied,
        "its reply cannot be believed: line 1, column 31: found the key `findings` a second time, first at line 1, \
         column 17; each key is allowed once in an object";
    announcing_too_few_bytes: "announce-less", Lied,
        "its reply cannot be believed: line 1, column 176: the input ends inside the object opened at line 1, column 1; `,` \
         or `}` is allowed here";
    no_bytes_at_all: "no-bytes", Lied,
        "its reply cannot be believed: line 1, column 1: found no value in 0 bytes; exactly one JSON value is allowed";
    blanks_between: "blanks", Lied,
        "its reply cannot be believed: the bytes are not canonical JSON: sorted keys, no blanks, \
         shortest escapes (RFC 8785)";
    an_unknown_member: "unknown-member", Lied,
        "its reply cannot be believed: unknown field `verdict`, expected one of `findings`, \
         `quantities`, `artefacts`";
    an_unknown_rule: "unknown-rule", Lied,
        "its reply cannot be believed: `/findings/0/rule` names the rule `triage.sound`, which \
         its description does not have";
    evidence_at_no_place: "no-such-place", Lied,
        "its reply cannot be believed: `/findings/0/evidence/0` points at `/flaws/7`, which the \
         sheet does not have";
    codes_for_the_terminal: "terminal-codes", Lied,
        "its reply cannot be believed: `/findings/0/message` is not one line of 1 to 2000 \
         characters";
    refusing_in_two_lines: "refuse", Refused,
        "it refuses to judge: this blade is not for me";
    // This plugin's own border drops the panic's text; the real one is tested in its crate.
    panicking: "panic", Broken,
        "it hit a bug of its own: no reason given";
}

/// What lies behind the answer is the plugin's own memory: the fault depends on it, the kind does
/// not.
#[test]
fn announcing_too_many_bytes() {
    let failed = failed(mischief(&host(limits()), "announce-more"));
    assert_eq!(failed.kind, FaultKind::Lied, "{failed}");
    let start = "plugin `stress`: its reply cannot be believed: ";
    assert!(failed.fault.starts_with(start), "{failed}");
    assert!(failed.fault.chars().count() < 600, "{failed}");
}

#[test]
fn taking_all_memory() {
    let failed = failed(mischief(&host(limits()), "allocate"));
    assert_eq!(
        failed.fault,
        "plugin `stress`: it died (SIGABRT) before it answered; it may use 256 MiB of memory"
    );
    let said = "memory allocation of";
    assert!(failed.stderr.contains(said), "{}", failed.stderr);
    assert_eq!(
        failed.hint(),
        "report it to the author of `stress`; `tangmark plugin withdraw stress` goes on without it"
    );
}

#[test]
fn hanging() {
    let before = Instant::now();
    let limits = Limits {
        wall: Duration::from_secs(3),
        ..limits()
    };
    let failed = failed(mischief(&host(limits), "hang"));
    assert_eq!(failed.kind, FaultKind::TimedOut);
    let text = "plugin `stress`: it did not answer within 3 s and was stopped";
    assert_eq!(failed.fault, text);
    assert!(before.elapsed() < Duration::from_secs(25));
}

#[test]
fn spinning() {
    let limits = Limits {
        processor_seconds: 1,
        ..limits()
    };
    let failed = failed(mischief(&host(limits), "spin"));
    assert_eq!(failed.kind, FaultKind::TimedOut);
    assert_eq!(
        failed.fault,
        "plugin `stress`: it used more than 1 s of processor time"
    );
}

#[test]
fn noise_on_both_streams_is_harmless() {
    let shouted = mischief(&host(limits()), "shout");
    assert_eq!(reported(shouted), "done: shouted");
}

#[test]
fn a_description_must_be_true() {
    let folder = tempfile::tempdir().unwrap();
    for (order, text) in [
        (
            "describe other-abi",
            "its description says ABI 7, its functions say ABI 1",
        ),
        (
            "describe other-name",
            "it calls itself `triage`, its file is named for `stress`",
        ),
    ] {
        let path = ordered_library(folder.path(), order);
        let failed = failed(ask_at(&host(limits()), &path, json!({})));
        let whole = format!("plugin `stress`: its description cannot be believed: {text}");
        assert_eq!((failed.kind, failed.fault), (FaultKind::Lied, whole));
    }
    let limits = Limits {
        wall: Duration::from_secs(1),
        ..limits()
    };
    let path = ordered_library(folder.path(), "describe hang");
    let library = Library::at(&path).unwrap();
    let failed = host(limits)
        .describe(&library, &approvals(&library))
        .unwrap_err();
    assert_eq!(failed.kind, FaultKind::TimedOut);
}

#[test]
fn looking_at_the_surroundings() {
    let said = reported(mischief(&host(limits()), "say-surroundings"));
    assert!(
        said.starts_with("0 variables; folder Operation not permitted"),
        "{said}"
    );
    // Without the filter the folder is seen, and it is the empty one made for it.
    let said = reported(mischief(&bare(), "say-surroundings"));
    assert!(
        said.contains("/tangmark-runner-") && said.ends_with("entries 0"),
        "{said}"
    );
}

/// The page says that the clock can be reached but must not be used: no barrier keeps it away.
#[test]
fn looking_at_the_clock() {
    for yard in [bare(), host(limits())] {
        let said = reported(mischief(&yard, "say-clock"));
        let seconds = said.strip_prefix("done: ").unwrap().strip_suffix(" s");
        assert!(seconds.unwrap().parse::<u64>().unwrap() > 1_700_000_000);
    }
}

#[test]
fn the_host_names_one_invented_feature() {
    let said = reported(mischief(&host(limits()), "say-features"));
    assert!(
        said.starts_with("invented-") && !said.contains(' '),
        "{said}"
    );
}

#[test]
fn only_approved_bytes_run() {
    let library = Library::at(&stress_library()).unwrap();
    let digest = library.digest(1 << 30).unwrap();
    let refused = |approvals: &Approvals| host(limits()).describe(&library, approvals).unwrap_err();
    let unknown = refused(&Approvals::default());
    assert_eq!(unknown.kind, FaultKind::Unapproved);
    let text = format!("plugin `stress`: it is not approved; SHA-256 {digest}");
    assert_eq!(unknown.fault, text);
    assert!(
        unknown.hint().contains("tangmark plugin approve --shipped"),
        "{}",
        unknown.hint()
    );

    let rebuilt = refused(
        &[("stress".to_owned(), Digest::of(b"old"))]
            .into_iter()
            .collect(),
    );
    let text =
        format!("plugin `stress`: its file is not the one that was approved; SHA-256 {digest}");
    assert_eq!(rebuilt.fault, text);
    // An approval is for a name too.
    assert_eq!(
        refused(&[("triage".to_owned(), digest)].into_iter().collect()).kind,
        FaultKind::Unapproved
    );
}

#[test]
fn files_that_are_no_plugin_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("libtangmark_triage.so");
    let library = Library::at(&path).unwrap();
    let missing = host(limits())
        .describe(&library, &Approvals::default())
        .unwrap_err();
    assert_eq!(missing.kind, FaultKind::Unreadable);
    fs::write(&path, "no library").unwrap();
    let broken = host(limits())
        .describe(&library, &approvals(&library))
        .unwrap_err();
    assert_eq!(broken.kind, FaultKind::Unloadable);
    assert!(
        broken
            .fault
            .starts_with("plugin `triage`: it cannot be loaded: "),
        "{broken}"
    );
    // A real library without our functions.
    let libc =
        fs::read("/lib/x86_64-linux-gnu/libm.so.6").or_else(|_| fs::read("/lib64/libm.so.6"));
    if let Ok(bytes) = libc {
        fs::write(&path, bytes).unwrap();
        let other = host(limits())
            .describe(&library, &approvals(&library))
            .unwrap_err();
        assert_eq!(
            other.fault,
            "plugin `triage`: it has no function `tangmark_describe_1`"
        );
    }
}

#[test]
fn a_runner_that_is_none_is_our_own_fault() {
    let library = Library::at(&stress_library()).unwrap();
    let approvals = approvals(&library);
    for (runner, text) in [
        ("/no/such/runner", "its runner cannot be started"),
        (
            "/bin/true",
            "its runner gave no sign before any barrier was up",
        ),
    ] {
        let host = Host::new(PathBuf::from(runner), std::env::temp_dir(), limits());
        let failed = host.describe(&library, &approvals).unwrap_err();
        assert_eq!(failed.kind, FaultKind::Environment);
        assert!(failed.fault.contains(text), "{failed}");
    }
    let host = Host::new(
        PathBuf::from(env!("CARGO_BIN_EXE_host-runner")),
        std::env::temp_dir(),
        limits(),
    )
    .with_runner_arguments(vec![RUNNER_COMMAND.into(), "x".into()]);
    let failed = host.describe(&library, &approvals).unwrap_err();
    let text = "plugin `stress`: its runner could not get ready: the runner takes no arguments";
    assert_eq!(failed.fault, text);
}

#[test]
fn outcomes_come_in_the_order_of_names_and_one_failure_is_one() {
    let folder = tempfile::tempdir().unwrap();
    let sound = Library::at(&stress_library()).unwrap();
    let absent = |name: &str| Library {
        name: name.to_owned(),
        path: Path::new(folder.path()).join(format!("libtangmark_{name}.so")),
    };
    let libraries = [absent("zeta"), sound.clone(), absent("alpha")];
    let outcomes = host(limits()).check(
        &libraries,
        &approvals(&sound),
        &request(),
        &BTreeMap::default(),
    );
    let names: Vec<&str> = outcomes
        .iter()
        .map(tangmark_host::PluginOutcome::name)
        .collect();
    assert_eq!(names, ["alpha", "stress", "zeta"]);
    assert_eq!(
        reported(outcomes.into_iter().nth(1).unwrap()),
        "nothing was ordered"
    );
}

#[test]
fn a_request_beyond_the_limit_is_not_sent() {
    let limits = Limits {
        request_bytes: 100,
        ..limits()
    };
    let library = Library::at(&stress_library()).unwrap();
    let allowed = approvals(&library);
    let mut outcomes = host(limits).check(&[library], &allowed, &request(), &BTreeMap::new());
    let failed = failed(outcomes.remove(0));
    assert_eq!(failed.kind, FaultKind::Environment);
    assert_eq!(
        failed.fault,
        "plugin `stress`: the request has 225 bytes; at most 100 are allowed"
    );
}
