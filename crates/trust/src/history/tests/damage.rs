//! Files that somebody changed.

use serde_json::json;

use super::*;
use crate::proof;

/// Every byte of a file with each kind of proof in turn: either it is refused, or what it says is the same to the letter.
#[test]
fn any_flipped_byte_is_refused_or_says_the_same() {
    let history = revoked(&rotated(&one(), 1, 2, 2022), &key(2), 1, 2021, 2023);
    let text = text_of(&history);
    let mut refused = 0;
    for index in 0..text.len() {
        let mut bytes = text.clone().into_bytes();
        bytes[index] ^= if index % 2 == 0 { 1 } else { 0x20 };
        match KeyHistory::read(&bytes) {
            Err(_) => refused += 1,
            // White space between members, nothing else.
            Ok(read) => assert_eq!(read, history, "byte {index}"),
        }
    }
    let words = text.bytes().filter(|byte| !byte.is_ascii_whitespace());
    assert!(
        refused >= words.clone().count(),
        "{refused} of {} bytes",
        words.count()
    );
}

#[test]
fn what_the_page_does_not_name_is_refused() {
    let text = text_of(&eventful());
    for (from, to) in [
        (FORMAT, "tangmark key history 2"),
        ("\"entries\"", "\"more\": 1, \"entries\""),
        ("\"reason\"", "\"until\": \"2027\", \"reason\""),
        ("\"kind\": \"rotation\"", "\"kind\": \"sale\""),
        ("\"kind\": \"rotation\"", "\"kind\": 1"),
        ("\"kind\": \"rotation\"", "\"kind\": \"recovery\""),
        ("\"kind\": \"recovery\"", "\"kind\": \"rotation\""),
        ("\"kind\": \"revocation\"", "\"kind\": \"rotation\""),
        ("\"proofPurpose\"", "\"nonce\": \"1\", \"proofPurpose\""),
        ("assertionMethod", "authentication"),
        ("\"recovery_digest\": \"", "\"recovery_digest\": \"0"),
    ] {
        assert!(text.contains(from), "{from}");
        let changed = text.replacen(from, to, 1);
        assert!(KeyHistory::read(changed.as_bytes()).is_err(), "{to}");
    }
    let none = refusal("{\"format\":\"tangmark key history 1\",\"entries\":[]}");
    assert_eq!(none, "key history: 0 entries, 1 to 200 allowed");
    assert!(refusal("[]").starts_with("key history: "));
    assert!(refusal("").starts_with("key history: "));
}

#[test]
fn entries_cannot_be_left_out_or_change_places() {
    let file: Value = serde_json::from_str(&text_of(&eventful())).unwrap();
    let entries = file["entries"].as_array().unwrap();
    let with = |entries: Vec<Value>| json!({ "format": FORMAT, "entries": entries }).to_string();
    for left_out in 0..entries.len() - 1 {
        let mut fewer = entries.clone();
        fewer.remove(left_out);
        refusal(&with(fewer));
    }
    for first in 0..entries.len() - 1 {
        let mut other = entries.clone();
        other.swap(first, first + 1);
        refusal(&with(other));
    }
    // The last one can: the shorter history is an older one.
    read(&with(entries[..4].to_vec()));
}

#[test]
fn an_entry_signed_by_another_key_is_refused() {
    let file: Value = serde_json::from_str(&text_of(&one())).unwrap();
    let mut entry = file["entries"][0].clone();
    entry.as_object_mut().unwrap().remove("proof");
    let signed = proof::sign(&entry, &key(2), &day(2020)).unwrap();
    let forged = refusal(&json!({"format": FORMAT, "entries": [signed]}).to_string());
    assert!(
        forged.contains("entry 1: ") && forged.contains("the key it names"),
        "{forged}"
    );
    let later = proof::sign(&entry, &key(1), &day(2021)).unwrap();
    let forged = refusal(&json!({"format": FORMAT, "entries": [later]}).to_string());
    assert!(forged.contains("both must be the same"), "{forged}");
}

/// A `previous` in the first entry, or none in a later one.
#[test]
fn previous_stands_in_later_entries_alone() {
    let file: Value = serde_json::from_str(&text_of(&rotated(&one(), 1, 2, 2022))).unwrap();
    let (mut first, mut later) = (file["entries"][0].clone(), file["entries"][1].clone());
    first.as_object_mut().unwrap().remove("proof");
    first["previous"] = json!(Digest::of(b"none").to_string());
    let first = proof::sign(&first, &key(1), &day(2020)).unwrap();
    let refused = refusal(&json!({"format": FORMAT, "entries": [first]}).to_string());
    assert!(refused.contains("unknown field `previous`"), "{refused}");
    let statement = later["statement"].as_object_mut().unwrap();
    statement.remove("previous");
    statement.remove("proof");
    later["statement"] = proof::sign(&later["statement"], &key(2), &day(2022)).unwrap();
    later.as_object_mut().unwrap().remove("proof");
    let later = proof::sign(&later, &key(1), &day(2022)).unwrap();
    let refused =
        refusal(&json!({"format": FORMAT, "entries": [file["entries"][0], later]}).to_string());
    assert!(refused.contains("missing field `previous`"), "{refused}");
}

/// The other signature (n − s) of an entry holds for any reader of the standard, but is not what was written.
#[test]
fn the_twin_of_a_signature_is_refused() {
    use p256::ecdsa::Signature;
    let mut file: Value = serde_json::from_str(&text_of(&one())).unwrap();
    let written = file["entries"][0]["proof"]["proofValue"].as_str().unwrap()[1..].to_owned();
    let signature = Signature::from_slice(&bs58::decode(written).into_vec().unwrap()).unwrap();
    let (r, s) = signature.split_scalars();
    let twin = Signature::from_scalars(r.to_bytes(), (-*s).to_bytes()).unwrap();
    file["entries"][0]["proof"]["proofValue"] =
        json!(format!("z{}", bs58::encode(twin.to_bytes()).into_string()));
    let refused = refusal(&file.to_string());
    assert!(refused.contains("s lies in the upper half"), "{refused}");
}
