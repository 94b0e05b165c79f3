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
    approvals, ask, ask_at, failed, host, limits, mischief, ordered_library, replied, reported,
    request, stress_library,
};
use serde_json::json;
use tangmark_core::Digest;
use tangmark_host::{Approvals, BarrierState, FaultKind, Host, Library, Limits};

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
    // Kernels without landlock are told about, and the tests of the barriers allow for them.
    let barriers = replied.barriers;
    for state in [
        barriers.no_new_privileges,
        barriers.resource_limits,
        barriers.seccomp,
    ] {
        assert_eq!(state, BarrierState::Full);
    }
}

#[test]
fn the_same_question_has_the_same_answer() {
    let host = host(limits());
    assert_eq!(mischief(&host, "none"), mischief(&host, "none"));
}

#[test]
fn dying_is_named() {
    let died =
        |signal| format!("it died ({signal}) before it answered; it may use 256 MiB of memory");
    assert_fault("abort", FaultKind::Crashed, &died("SIGABRT"));
    assert_fault("overflow-stack", FaultKind::Crashed, &died("SIGABRT"));
    assert_fault("wild-address", FaultKind::Crashed, &died("SIGSEGV"));
    assert_fault(
        "exit",
        FaultKind::Crashed,
        "it ended with exit code 0 before it answered",
    );
}

#[test]
fn taking_all_memory_is_named() {
    let failed = failed(mischief(&host(limits()), "allocate"));
    assert_eq!(failed.kind, FaultKind::Crashed);
    assert!(
        failed.stderr.contains("memory allocation of"),
        "{}",
        failed.stderr
    );
    assert_eq!(
        failed.hint(),
        "report it to the author of `stress`; `tangmark plugin withdraw stress` goes on without it"
    );
}

#[test]
fn hanging_ends_with_the_wall_clock() {
    let before = Instant::now();
    let limits = Limits {
        wall: Duration::from_millis(1_500),
        ..limits()
    };
    let failed = failed(mischief(&host(limits), "hang"));
    assert_eq!(failed.kind, FaultKind::TimedOut);
    let text = "plugin `stress`: it did not answer within 1.5 s and was stopped";
    assert_eq!(failed.fault, text);
    assert!(before.elapsed() < Duration::from_secs(20));
}

#[test]
fn spinning_ends_with_the_processor_time() {
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
fn flooding_is_named_and_noise_is_harmless() {
    let text = "its answer has 67108864 bytes; at most 4194304 are allowed";
    assert_fault("flood", FaultKind::Flooded, text);
    let text = format!(
        "its answer has {} bytes; at most 4194304 are allowed",
        usize::MAX
    );
    assert_fault("announce-endless", FaultKind::Flooded, &text);
    let shouted = mischief(&host(limits()), "shout");
    assert_eq!(reported(shouted), "done: shouted");
}

#[test]
fn wrong_bytes_are_lies() {
    for name in [
        "bad-json",
        "key-twice",
        "announce-more",
        "announce-less",
        "no-bytes",
        "deep-json",
    ] {
        let failed = failed(mischief(&host(limits()), name));
        assert_eq!(failed.kind, FaultKind::Lied, "{name}: {failed}");
        let start = "plugin `stress`: its reply cannot be believed: ";
        assert!(failed.fault.starts_with(start), "{name}: {failed}");
        assert!(failed.fault.chars().count() < 600, "{name}: {failed}");
    }
    let nowhere = failed(mischief(&host(limits()), "no-address"));
    assert!(nowhere.fault.ends_with(" bytes at no address"), "{nowhere}");
    assert_eq!(nowhere.kind, FaultKind::Lied);
    let text = "it answered with status 77; ABI 1 has 0, 1 and 2";
    assert_fault("odd-status", FaultKind::Lied, text);
    assert_fault(
        "blanks",
        FaultKind::Lied,
        "its reply cannot be believed: the bytes are not canonical JSON: sorted keys, no blanks, \
         shortest escapes (RFC 8785)",
    );
}

#[test]
fn sound_json_can_still_lie() {
    assert_fault(
        "unknown-member",
        FaultKind::Lied,
        "its reply cannot be believed: unknown field `verdict`, expected one of `findings`, \
         `quantities`, `artefacts`",
    );
    assert_fault(
        "unknown-rule",
        FaultKind::Lied,
        "its reply cannot be believed: `/findings/0/rule` names the rule `triage.sound`, which \
         its description does not have",
    );
    assert_fault(
        "no-such-place",
        FaultKind::Lied,
        "its reply cannot be believed: `/findings/0/evidence/0` points at `/flaws/7`, which the \
         sheet does not have",
    );
    assert_fault(
        "terminal-codes",
        FaultKind::Lied,
        "its reply cannot be believed: `/findings/0/message` is not one line of 1 to 2000 \
         characters",
    );
}

#[test]
fn refusals_and_panics_are_told_in_one_line() {
    let text = "it refuses to judge: this blade is not for me";
    assert_fault("refuse", FaultKind::Refused, text);
    // The stress plugin's own border drops the panic's text; the real one is tested in its crate.
    assert_fault(
        "panic",
        FaultKind::Broken,
        "it hit a bug of its own: no reason given",
    );
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
        wall: Duration::from_millis(1_500),
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
fn a_plugin_has_no_surroundings() {
    let said = reported(mischief(&host(limits()), "say-surroundings"));
    assert!(
        said.starts_with("0 variables; folder Operation not permitted"),
        "{said}"
    );
    // Without the filter the folder is seen, and it is the empty one made for it.
    let bare = common::host_without(limits(), &tangmark_host::Barrier::ALL);
    let said = reported(mischief(&bare, "say-surroundings"));
    assert!(
        said.contains("/tangmark-runner-") && said.ends_with("entries 0"),
        "{said}"
    );
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
    let host = host(limits()).with_runner_arguments(vec!["plugin-runner".into(), "x".into()]);
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
    let failed = failed(ask(&host(limits), json!({})));
    assert_eq!(failed.kind, FaultKind::Environment);
    assert!(
        failed.fault.ends_with("at most 100 are allowed"),
        "{failed}"
    );
}
