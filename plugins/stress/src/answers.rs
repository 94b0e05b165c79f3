//! Answers that are wrong, each in one way.

use serde_json::{Value, json};
use tangmark_plugin::{CheckReply, CheckRequest, FindingDraft, Level, stress::RawAnswer, wire};

/// A sound reply with one finding that carries `text`.
pub(crate) fn report(text: &str) -> RawAnswer {
    RawAnswer::honest(wire::to_bytes(&reply(text)).unwrap_or_default())
}

/// A refusal.
pub(crate) fn refused(reason: &str) -> RawAnswer {
    RawAnswer {
        status: 1,
        ..RawAnswer::honest(reason.as_bytes().to_vec())
    }
}

/// The answer named `mischief`; a sound one when there is no such name.
pub(crate) fn answer(mischief: &str, request: &CheckRequest) -> RawAnswer {
    let sound = report("nothing was ordered");
    let length = sound.bytes.len();
    match mischief {
        "refuse" => refused("this blade\nis not for me"),
        "odd-status" => RawAnswer {
            status: 77,
            ..sound
        },
        "flood" => RawAnswer::honest(vec![b' '; 64 << 20]),
        "announce-endless" => RawAnswer {
            announced: Some(usize::MAX),
            ..sound
        },
        "announce-more" => RawAnswer {
            announced: Some(length + 64),
            ..sound
        },
        "announce-less" => RawAnswer {
            announced: Some(length - 1),
            ..sound
        },
        "no-address" => RawAnswer {
            address: Some(0),
            ..sound
        },
        "wild-address" => RawAnswer {
            address: Some(8),
            ..sound
        },
        "no-bytes" => RawAnswer::honest(Vec::new()),
        "bad-json" => RawAnswer::honest(b"{\"findings\": [".to_vec()),
        "deep-json" => RawAnswer::honest(b"[".repeat(100_000)),
        "key-twice" => RawAnswer::honest(
            br#"{"artefacts":[],"findings":[],"findings":[],"quantities":[]}"#.to_vec(),
        ),
        "blanks" => {
            RawAnswer::honest(br#"{"artefacts": [], "findings": [], "quantities": []}"#.to_vec())
        }
        "unknown-member" => changed(|reply| reply["verdict"] = json!("fine")),
        "unknown-rule" => changed(|reply| reply["findings"][0]["rule"] = json!("triage.sound")),
        "no-such-place" => changed(|reply| reply["findings"][0]["evidence"] = json!(["/flaws/7"])),
        "terminal-codes" => changed(|reply| reply["findings"][0]["message"] = json!("\u{1b}[2J")),
        "say-features" => report(&request.features.join(" ")),
        _ => sound,
    }
}

fn reply(text: &str) -> CheckReply {
    CheckReply {
        findings: vec![FindingDraft {
            rule: "stress.report".to_owned(),
            level: Level::Info,
            message: text.to_owned(),
            evidence: vec![String::new()],
            numbers: Vec::new(),
            source: "a test of the host".to_owned(),
        }],
        ..CheckReply::default()
    }
}

fn changed(change: impl FnOnce(&mut Value)) -> RawAnswer {
    let mut value = serde_json::to_value(reply("changed")).unwrap_or_default();
    change(&mut value);
    RawAnswer::honest(wire::to_bytes(&value).unwrap_or_default())
}
