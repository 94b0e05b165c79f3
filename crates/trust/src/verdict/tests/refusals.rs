//! What is altered (1) and what cannot be judged (3).

use super::*;
use crate::proof::tests::W3C_SIGNED;

fn altered(bytes: &[u8]) -> Vec<String> {
    let verdict = owner(bytes, &[]);
    assert_eq!(verdict.exit_code(), 1, "{verdict:?}");
    match verdict.bytes {
        BytesLine::Altered { reasons } => reasons,
        other => panic!("{other:?}"),
    }
}

fn cannot_judge(bytes: &[u8]) -> String {
    let verdict = owner(bytes, &[]);
    assert_eq!(verdict.exit_code(), 3, "{verdict:?}");
    match verdict.bytes {
        BytesLine::CannotJudge { reasons } => reasons.join("; "),
        other => panic!("{other:?}"),
    }
}

fn text() -> String {
    String::from_utf8(sealed()).unwrap()
}

/// A document signed by key 1 whatever it says.
fn signed(change: impl FnOnce(&mut Value)) -> Vec<u8> {
    let mut record = unsigned(&key(1));
    change(&mut record);
    seal(&record, &key(1))
}

/// Cases 1 to 3 and 5 to 7: no strict JSON, but once a record.
#[test]
fn cases_1_to_7_a_record_that_no_strict_reader_takes_is_altered() {
    let text = text();
    let changes = [
        (
            "case 1: key twice",
            text.replacen("\"sequence\":1", "\"sequence\":1,\"sequence\":1", 1),
        ),
        (
            "case 2: key twice, escaped",
            text.replacen("\"sequence\":1", "\"sequence\":1,\"sequenc\\u0065\":1", 1),
        ),
        ("case 3: not NFC", text.replacen("Brook", "Broo\u{301}k", 1)),
        (
            "case 4: minus zero",
            text.replacen("\"sequence\":1", "\"sequence\":-0", 1),
        ),
        (
            "case 5: past 2^53",
            text.replacen("\"sequence\":1", "\"sequence\":9007199254740993", 1),
        ),
        (
            "case 6: fraction",
            text.replacen("\"sequence\":1", "\"sequence\":1.0", 1),
        ),
        (
            "case 7: lone surrogate",
            text.replacen("Brook", "\\ud800", 1),
        ),
        ("case 7: order mark", format!("\u{feff}{text}")),
        ("case 7: trailing bytes", format!("{text}{{}}")),
        (
            "case 7: NaN",
            text.replacen("\"sequence\":1", "\"sequence\":NaN", 1),
        ),
        ("cut off", text[..text.len() - 1].to_owned()),
    ];
    for (case, changed) in changes {
        assert_ne!(changed, text, "{case}");
        let reasons = altered(changed.as_bytes());
        assert!(
            reasons[0].starts_with("no sealed record reads like this: "),
            "{case}: {reasons:?}"
        );
    }
}

/// Whatever sign they begin with, bytes that were once a record are altered; those of somebody else are not.
#[test]
fn bytes_that_were_once_a_record_are_altered_however_they_begin() {
    let text = text();
    for before in ["x", "[", "\"", "\0", "PK", "<html>", "- ", "\u{2028}"] {
        let changed = format!("{before}{text}");
        assert!(
            altered(changed.as_bytes())[0].starts_with("no sealed record reads like this: "),
            "{before:?}"
        );
    }
    assert_eq!(
        altered(format!("[{text}]").as_bytes()),
        ["document: not a JSON object, so it can carry no proof"]
    );
    assert!(altered(&text.as_bytes()[1..])[0].starts_with("no sealed record reads like this: "));
    let marked = [b"\xff\xfe".as_slice(), b"tangmark-record"].concat();
    assert!(altered(&marked)[0].starts_with("no sealed record reads like this: "));
    for foreign in [b"PK\x03\x04 tangmark record".as_slice(), b"[1]", b"", b"x"] {
        assert_eq!(
            cannot_judge(foreign),
            "neither a record nor a PDF report",
            "{foreign:?}"
        );
    }
}

/// Case 9.
#[test]
fn case_9_deep_nesting_is_refused_without_being_followed() {
    let deep = format!("{{\"proof\":{}\"tangmark-record\"", "[".repeat(10_000));
    assert_eq!(
        altered(deep.as_bytes()),
        [
            "no sealed record reads like this: line 1, column 41: found an array or object inside 32 others; \
          at most 32 levels are allowed"
        ]
    );
}

/// Case 14, at the verdict: every field once.
#[test]
fn case_14_any_changed_value_is_altered() {
    let mismatch = "proof: the signature does not match the document and the key named in it";
    for (from, to) in [
        ("\"intake\"", "\"receipt\""),
        ("\"sequence\":1", "\"sequence\":2"),
        ("Rill Workshop", "Mill Workshop"),
        ("brook", "crook"),
        ("0e0f", "0e0e"),
        ("\"previous\":null,", ""),
    ] {
        let changed = text().replacen(from, to, 1);
        assert_ne!(changed, text(), "{from}");
        assert_eq!(altered(changed.as_bytes()), [mismatch], "{from}");
    }
}

/// Case 16.
#[test]
fn case_16_none_or_several_proofs_are_altered() {
    let value: Value = serde_json::from_slice(&sealed()).unwrap();
    let proof = value["proof"].clone();
    let with_proof = |proof: Value| {
        let mut value = value.clone();
        value["proof"] = proof;
        bytes_of(&value)
    };
    assert_eq!(
        altered(&bytes_of(&unsigned(&key(1)))),
        ["proof: missing, exactly one proof object allowed"]
    );
    for (proofs, count) in [
        (json!([]), 0),
        (json!([proof]), 1),
        (json!([proof, proof]), 2),
    ] {
        let reason = format!("proof: an array of {count}, exactly one proof object allowed");
        assert_eq!(altered(&with_proof(proofs)), [reason]);
    }
    assert_eq!(
        altered(&with_proof(json!(null))),
        ["proof: not an object, exactly one proof object allowed"]
    );
}

/// Case 15, signed by the key itself.
#[test]
fn case_15_further_members_of_the_proof_are_refused_even_when_signed() {
    let changed = text().replacen("\"proof\":{", "\"proof\":{\"nonce\":\"1\",", 1);
    assert_eq!(
        altered(changed.as_bytes()),
        ["proof: the signature does not match the document and the key named in it"]
    );
}

/// Case 25: the published example passes the signature stage and was never a record of ours.
#[test]
fn case_25_the_published_example_is_no_record_because_its_issuer_is_no_key() {
    let key = "did:key:zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP";
    let reason = format!(
        "this is no record: issuer: the document names `https://vc.example/issuers/5678`, but `{key}` signed it"
    );
    assert_eq!(cannot_judge(W3C_SIGNED.as_bytes()), reason);
    // With a signature that does not hold it is still somebody else's.
    let changed = W3C_SIGNED.replacen("issuers/5678", "issuers/5679", 1);
    assert!(cannot_judge(changed.as_bytes()).starts_with("this is no record: proof: "));
}

/// What is broken is ours exactly when it says so anywhere.
#[test]
fn the_mark_of_a_record_decides_on_every_path() {
    for (marked, stranger) in [
        // Reading.
        (
            "{\"a\":1.5,\"b\":\"tangmark-record\"}",
            "{\"a\":1.5,\"b\":\"DataIntegrityProof\"}",
        ),
        // No proof.
        ("{\"b\":\"tangmark-record\"}", "{\"b\":\"ecdsa-jcs-2019\"}"),
        // A proof that is none.
        (
            "{\"b\":\"tangmark-record\",\"proof\":1}",
            "{\"b\":\"else\",\"proof\":1}",
        ),
    ] {
        altered(marked.as_bytes());
        cannot_judge(stranger.as_bytes());
        assert_eq!(owner(stranger.as_bytes(), &[]).kind, FileKind::Unknown);
    }
}

/// Case 27.
#[test]
fn case_27_a_record_signed_by_another_key_than_its_issuer_is_altered() {
    let bytes = seal(&unsigned(&key(1)), &key(2));
    assert!(altered(&bytes)[0].starts_with("issuer: the document names `did:key:"));
}

/// Case 38.
#[test]
fn case_38_a_newer_schema_version_cannot_be_judged_but_its_signature_is() {
    let newer = |record: &mut Value| {
        record["schema"]["version"] = json!(2);
        record["something_new"] = json!("value");
    };
    let bytes = signed(newer);
    assert_eq!(
        cannot_judge(&bytes),
        "signature holds, but schema version 2 is not known here (version 1 is): contents cannot be interpreted"
    );
    let verdict = owner(&bytes, &[]);
    assert_eq!(verdict.signer, SignerLine::Own);
    assert_eq!(verdict.record, Some(named(&bytes)));
    let reasons = altered(
        &String::from_utf8(bytes)
            .unwrap()
            .replacen("value", "walue", 1)
            .into_bytes(),
    );
    assert_eq!(
        reasons,
        ["proof: the signature does not match the document and the key named in it"]
    );
}

#[test]
fn a_signed_document_of_another_schema_cannot_be_judged() {
    let reason = "signature holds, but the document follows no schema known here";
    for bytes in [
        signed(|record| record["schema"]["id"] = json!("somebody-elses-record")),
        signed(|record| record["schema"] = json!("tangmark-record")),
        signed(|record| record["schema"]["version"] = json!("1")),
    ] {
        assert_eq!(cannot_judge(&bytes), reason);
    }
}

/// Case 39.
#[test]
fn case_39_the_digest_of_another_schema_file_is_refused() {
    let other = Digest::of(b"another schema");
    let reasons = altered(&signed(|record| {
        record["schema"]["digest"] = json!(other.to_string());
    }));
    assert_eq!(
        reasons[0],
        "the signature holds, but this is no record of its schema"
    );
    assert!(
        reasons[1].starts_with(&format!("/schema/digest: {other} found, ")),
        "{reasons:?}"
    );
}

/// The key may sign anything; a record of the schema it is not.
#[test]
fn what_the_schema_does_not_know_is_refused_although_the_key_signed_it() {
    for bytes in [
        signed(|record| record["remarks"] = json!("anything")),
        signed(|record| record["purpose"] = json!("boast")),
        signed(|record| record["blade"]["colour"] = json!("grey")),
        // Case 37: cut from its chain.
        signed(|record| record["sequence"] = json!(2)),
        signed(|record| record["previous"] = json!(Digest::of(b"before").to_string())),
    ] {
        let reasons = altered(&bytes);
        assert_eq!(
            reasons[0],
            "the signature holds, but this is no record of its schema"
        );
        assert!(reasons.len() >= 2, "{reasons:?}");
    }
}

#[test]
fn files_of_others_cannot_be_judged() {
    let neither = "neither a record nor a PDF report";
    let no_record = "a JSON file without proof that is no record";
    for (bytes, reason) in [
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".as_slice(), neither),
        (b"", neither),
        (b"  \n", neither),
        (b"[1,2]", neither),
        (b"\"text\"", neither),
        (b"{}", no_record),
        (
            b"{\"name\":\"a package\",\"schema\":{\"id\":\"other\"}}",
            no_record,
        ),
    ] {
        let found = owner(bytes, &[]);
        assert_eq!(found.kind, FileKind::Unknown);
        assert_eq!(cannot_judge(bytes), reason);
    }
    // A stranger's JSON that we are too strict for was never ours to call altered.
    assert!(cannot_judge(b"{\"width\":1.5}").starts_with("no record reads like this: "));
    assert!(cannot_judge(b"{\"a\":1,").starts_with("no record reads like this: "));
    // A PDF of somebody else.
    assert_eq!(owner(b"%PDF-1.7\n%%EOF", &[]).exit_code(), 3);
    assert_eq!(owner(b"%PDF-1.7\n%%EOF", &[]).kind, FileKind::Pdf);
}
