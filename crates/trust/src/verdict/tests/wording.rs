//! The words themselves: fixed, and never more than is known.

use std::fmt::Write as _;

use super::*;

/// Words that promise what nobody can see from bytes.
const NEVER: &[&str] = &[
    "authentic",
    "genuine",
    "safe",
    "legal",
    "valid ✓",
    "valid",
    "trusted",
    "✓",
    "✔",
];

fn digest() -> Digest {
    Digest::of(b"another record")
}

fn all_lines() -> Vec<String> {
    let text = str::to_owned;
    let bytes = [
        BytesLine::Intact,
        BytesLine::SameContent,
        BytesLine::Altered {
            reasons: vec![text("first reason"), text("second reason")],
        },
        BytesLine::CannotJudge {
            reasons: vec![text("first reason")],
        },
    ];
    let signers = [
        SignerLine::Own,
        SignerLine::Known {
            since: text("2026-04-01T00:00:00Z"),
        },
        SignerLine::New {
            fingerprint: text("AAAAA-BBBBB-CCCCC-DDDDD"),
        },
        SignerLine::OtherKeyForName {
            fingerprint: text("AAAAA-BBBBB-CCCCC-DDDDD"),
            remembered: vec![
                text("EEEEE-FFFFF-GGGGG-HHHHH"),
                text("IIIII-JJJJJ-KKKKK-LLLLL"),
            ],
        },
        SignerLine::OtherNameForKey {
            name: text("Rill Workshop"),
            remembered: vec![text("Mill Workshop")],
        },
        SignerLine::CannotJudge {
            reason: text("there is no signature that holds"),
        },
    ];
    let times = [
        TimeLine::OwnWord {
            stated: text(SEALED),
        },
        TimeLine::Future {
            stated: text("2031-01-01T00:00:00Z"),
        },
        TimeLine::CannotJudge,
    ];
    let first = Completeness {
        sequence: Some(1),
        supplied: 1,
        ..Completeness::default()
    };
    let third = Completeness {
        sequence: Some(3),
        ..first.clone()
    };
    let completeness = [
        Completeness::default(),
        first,
        Completeness {
            supplied: 3,
            ..third.clone()
        },
        Completeness {
            not_supplied: 2,
            missing: Some(digest()),
            ..third.clone()
        },
        Completeness {
            superseded_by: Some(digest()),
            other_keys: 1,
            withheld: 4,
            disclosed: 2,
            photos_named: 2,
            supplied: 4,
            ..third.clone()
        },
        Completeness {
            broken: Some(text("what breaks it")),
            ..third
        },
    ];
    let mut lines = Vec::new();
    lines.extend(bytes.iter().map(|line| format!("bytes: {line}")));
    lines.extend(signers.iter().map(|line| format!("signer: {line}")));
    lines.extend(times.iter().map(|line| format!("time: {line}")));
    lines.extend(
        completeness
            .iter()
            .map(|line| format!("completeness: {line}")),
    );
    lines
}

/// Case 70.
#[test]
fn case_70_the_wording_is_fixed() {
    insta::assert_snapshot!(all_lines().join("\n"));
}

/// Case 70, of every verdict these tests reach.
#[test]
fn case_70_no_line_promises_what_bytes_cannot_show() {
    let mut all = all_lines().join("\n");
    let changed = String::from_utf8(sealed())
        .unwrap()
        .replacen("Brook", "Crook", 1)
        .into_bytes();
    for bytes in [
        sealed(),
        changed,
        b"\x89PNG".to_vec(),
        b"{}".to_vec(),
        b"%PDF-1.7".to_vec(),
    ] {
        for verdict in [
            owner(&bytes, &[]),
            stranger(&bytes),
            with(&bytes, &remembering(NAME, 2), &[]),
        ] {
            write!(
                all,
                "\n{}\n{}\n{}\n{}",
                verdict.bytes, verdict.signer, verdict.time, verdict.completeness
            )
            .unwrap();
            write!(all, "\n{}", serde_json::to_string(&verdict).unwrap()).unwrap();
        }
    }
    let all = all.to_lowercase();
    for word in NEVER {
        assert!(!all.contains(word), "`{word}` is promised");
    }
}
