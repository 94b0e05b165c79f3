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

fn all_lines() -> Vec<String> {
    let mut lines = Vec::new();
    let mut add = |part: &str, line: &dyn std::fmt::Display| lines.push(format!("{part}: {line}"));
    for one in examples::bytes() {
        add("bytes", &one.line);
    }
    for one in examples::signers() {
        add("signer", &one.line);
    }
    for one in examples::times() {
        add("time", &one.line);
    }
    for one in examples::completeness() {
        add("completeness", &one.line);
    }
    lines
}

/// Every next step that a line can bring.
fn all_steps() -> Vec<String> {
    let mut steps = Vec::new();
    let signers = examples::signers().into_iter().map(|one| Verdict {
        signer: one.line,
        ..examples::nothing_open()
    });
    let bytes = examples::bytes().into_iter().map(|one| Verdict {
        bytes: one.line,
        ..examples::nothing_open()
    });
    let times = examples::times().into_iter().map(|one| Verdict {
        time: one.line,
        ..examples::nothing_open()
    });
    let completeness = examples::completeness().into_iter().map(|one| Verdict {
        completeness: one.line,
        ..examples::nothing_open()
    });
    for verdict in bytes.chain(signers).chain(times).chain(completeness) {
        steps.extend(verdict.next_steps());
    }
    steps
}

/// Case 70.
#[test]
fn case_70_the_wording_is_fixed() {
    insta::assert_snapshot!(all_lines().join("\n"));
    assert_eq!(all_lines().len(), 4 + 14 + 9 + 8);
}

/// Case 70, of every verdict these tests reach.
#[test]
fn case_70_no_line_promises_what_bytes_cannot_show() {
    let mut all = [all_lines(), all_steps()].concat().join("\n");
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
