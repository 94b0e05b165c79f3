#![allow(clippy::unwrap_used, clippy::expect_used)]

use p256::ecdsa::Signature;
use serde_json::json;
use tangmark_core::json::{Limits, read_value};

use super::*;

const TIME: &str = "2026-03-01T09:30:00Z";

fn key(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

fn unsecured(key: &PrivateKey) -> Value {
    json!({
        "record_id": "000102030405060708090a0b0c0d0e0f",
        "issuer": {"id": key.public_key().did_key(), "name": "Rill Workshop"},
        "issued_at": TIME,
        "blade": {"kind": "wakizashi", "length": {"value": "451.5", "unit": "mm"}},
        "flaws": [{"id": "f1", "kind": "fukure"}],
        "previous": null,
        "sequence": 1,
    })
}

fn sealed() -> Value {
    sign(&unsecured(&key(1)), &key(1), TIME).unwrap()
}

/// Both stages, as a verdict does it.
fn judge(document: &Value) -> Result<Verified, String> {
    let verified = verify(document).map_err(|error| error.to_string())?;
    verify_policy(document, &verified).map_err(|error| error.to_string())?;
    Ok(verified)
}

/// Signs with proof options of the caller's choosing, as only a test or an attacker does.
fn sign_with(document: &Value, options: &Value, key: &PrivateKey) -> Value {
    let hashes = hash_data(
        &canonical_bytes(options).unwrap(),
        record_digest(document).unwrap(),
    );
    with_signature(document, options, &key.sign(&hashes))
}

fn with_signature(document: &Value, options: &Value, signature: &[u8]) -> Value {
    let mut secured = document.clone();
    secured["proof"] = options.clone();
    secured["proof"]["proofValue"] = json!(format!("z{}", bs58::encode(signature).into_string()));
    secured
}

fn options(document: &Value) -> Value {
    let mut options = document["proof"].clone();
    options.as_object_mut().unwrap().remove("proofValue");
    options
}

fn signature_of(document: &Value) -> Vec<u8> {
    bs58::decode(&document["proof"]["proofValue"].as_str().unwrap()[1..])
        .into_vec()
        .unwrap()
}

#[test]
fn a_signed_record_verifies_and_names_its_digest() {
    let document = sealed();
    assert_eq!(
        verify(&document).unwrap().canonical,
        canonical_bytes(&document).unwrap()
    );
    let verified = judge(&document).unwrap();
    assert_eq!(verified.key, key(1).public_key());
    assert_eq!(verified.created.as_deref(), Some(TIME));
    assert_eq!(
        verified.record_digest,
        Digest::of(&canonical_bytes(&unsecured(&key(1))).unwrap())
    );
    assert_eq!(verified.record_digest, record_digest(&document).unwrap());
    assert_eq!(
        record_digest(&document).unwrap(),
        record_digest(&unsecured(&key(1))).unwrap()
    );
    assert_eq!(document, sealed());
    assert_eq!(document["proof"].as_object().unwrap().len(), 6);
}

#[test]
fn leaving_a_member_out_gives_the_canonical_bytes_of_the_rest() {
    // The order of U+1F600 and U+FB33 differs between UTF-16 code units and code points.
    let document = json!({"\u{1f600}": 1, "\u{fb33}": [true, {"b": 2, "a": "\u{e9}\"\n"}], "proof": {}, "a": null, "~": "", "": {}});
    let mut without = document.clone();
    without.as_object_mut().unwrap().remove("proof");
    let bytes = canonical_without(document.as_object().unwrap(), "proof").unwrap();
    assert_eq!(
        String::from_utf8(bytes).unwrap(),
        String::from_utf8(canonical_bytes(&without).unwrap()).unwrap()
    );
    assert_eq!(
        canonical_without(json!({"proof": 1}).as_object().unwrap(), "proof").unwrap(),
        b"{}"
    );
    assert_eq!(canonical_without(&Map::new(), "proof").unwrap(), b"{}");
    for (document, rest) in [
        (json!({"proof": 1, "z": 2}), &b"{\"z\":2}"[..]),
        (json!({"a": 1, "proof": 1}), b"{\"a\":1}"),
        (json!({"a": 1}), b"{\"a\":1}"),
    ] {
        assert_eq!(
            canonical_without(document.as_object().unwrap(), "proof").unwrap(),
            rest
        );
    }
}

#[test]
fn signing_refuses_what_is_no_unsigned_record() {
    for (document, message) in [
        (
            json!([]),
            "document: not a JSON object, so it can carry no proof",
        ),
        (
            sealed(),
            "document: has a `proof` already, an unsigned document is allowed",
        ),
        (
            json!({"@context": []}),
            "document: has `@context`, which no record of ours has",
        ),
    ] {
        assert_eq!(
            sign(&document, &key(1), TIME).unwrap_err().to_string(),
            message
        );
    }
    let error = sign(&json!({}), &key(1), "1 March 2026").unwrap_err();
    assert_eq!(
        error.to_string(),
        "proof: `created` is `1 March 2026`, a UTC time such as 2026-03-01T09:30:00Z allowed"
    );
}

#[test]
fn case_14_every_flipped_bit_is_refused() {
    let document = sealed();
    let bytes = canonical_bytes(&document).unwrap();
    let (mut unreadable, mut refused) = (0, 0);
    for index in 0..bytes.len() {
        for bit in 0..8 {
            let mut altered = bytes.clone();
            altered[index] ^= 1 << bit;
            match read_value(&altered, &Limits::default()) {
                Err(_) => unreadable += 1,
                Ok(value) => {
                    assert_ne!(value, document);
                    assert!(judge(&value).is_err(), "byte {index}, bit {bit}");
                    refused += 1;
                }
            }
        }
    }
    assert_eq!(unreadable + refused, bytes.len() * 8);
    assert!(
        refused > bytes.len() * 3,
        "{refused} of {}",
        bytes.len() * 8
    );
}

#[test]
fn case_15_further_proof_members_are_refused() {
    let mut unsigned = sealed();
    unsigned["proof"]["domain"] = json!("example");
    assert!(matches!(verify(&unsigned), Err(ProofError::Mismatch)));

    for (name, value) in [
        ("domain", json!("example")),
        ("expires", json!("2020-01-01T00:00:00Z")),
        ("previousProof", json!("x")),
    ] {
        let mut options = options(&sealed());
        options[name] = value;
        let signed = sign_with(&unsecured(&key(1)), &options, &key(1));
        assert!(verify(&signed).is_ok());
        let allowed =
            "type, cryptosuite, created, verificationMethod, proofPurpose and proofValue allowed";
        assert_eq!(
            judge(&signed).unwrap_err(),
            format!("proof: unknown member `{name}`; {allowed}")
        );
    }
}

#[test]
fn case_16_other_than_one_proof_object_is_refused() {
    let good = sealed();
    let mut bad = good["proof"].clone();
    bad["created"] = json!("2026-03-01T09:30:01Z");
    for (proof, message) in [
        (
            json!([good["proof"]]),
            "proof: an array of 1, exactly one proof object allowed",
        ),
        (
            json!([good["proof"], bad]),
            "proof: an array of 2, exactly one proof object allowed",
        ),
        (
            json!([]),
            "proof: an array of 0, exactly one proof object allowed",
        ),
        (
            json!(null),
            "proof: not an object, exactly one proof object allowed",
        ),
        (json!({}), "proof: `type` is missing or not a string"),
    ] {
        let mut document = good.clone();
        document["proof"] = proof;
        assert_eq!(judge(&document).unwrap_err(), message);
    }
    let error = verify(&unsecured(&key(1))).unwrap_err();
    assert_eq!(
        error.to_string(),
        "proof: missing, exactly one proof object allowed"
    );
    assert!(error.hint().is_some());
}

#[test]
fn case_17_the_twin_of_a_signature_names_the_same_record() {
    let document = sealed();
    let low = Signature::from_slice(&signature_of(&document)).unwrap();
    let (r, s) = low.split_scalars();
    let high = Signature::from_scalars(r.to_bytes(), (-*s).to_bytes()).unwrap();
    assert!(high.normalize_s().is_some());
    let twin = with_signature(&unsecured(&key(1)), &options(&document), &high.to_bytes());
    assert_ne!(twin, document);
    let (twin, sealed) = (judge(&twin).unwrap(), judge(&document).unwrap());
    assert_eq!((twin.low_s, sealed.low_s), (false, true));
    assert_ne!(twin.canonical, sealed.canonical);
    assert_eq!(
        (twin.record_digest, twin.key),
        (sealed.record_digest, sealed.key)
    );
}

#[test]
fn case_18_malformed_signatures_are_refused() {
    let document = sealed();
    let good = signature_of(&document);
    let order: Vec<u8> = data_encoding::HEXLOWER
        .decode(b"ffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632551")
        .unwrap();
    let mut above = order.clone();
    above[31] += 1;
    for number in [vec![0; 32], order, above, vec![255; 32]] {
        for signature in [
            [&number[..], &good[32..]].concat(),
            [&good[..32], &number[..]].concat(),
        ] {
            let altered = with_signature(&unsecured(&key(1)), &options(&document), &signature);
            assert!(
                matches!(verify(&altered), Err(ProofError::Mismatch)),
                "{signature:02x?}"
            );
        }
    }
    let der = Signature::from_slice(&good).unwrap().to_der();
    for signature in [
        &good[..63],
        &[&good[..], &[0]].concat(),
        der.as_bytes(),
        &[],
        &[1; 150],
    ] {
        let altered = with_signature(&unsecured(&key(1)), &options(&document), signature);
        assert!(
            matches!(verify(&altered), Err(ProofError::ValueLength { .. })),
            "{} bytes",
            signature.len()
        );
    }
    let base64 = base64::Engine::encode(&base64::engine::general_purpose::URL_SAFE_NO_PAD, &good);
    for value in [
        format!("u{base64}"),
        String::new(),
        "z0OIl".to_owned(),
        bs58::encode(&good).into_string(),
    ] {
        let mut altered = document.clone();
        altered["proof"]["proofValue"] = json!(value);
        let error = verify(&altered).unwrap_err();
        assert_eq!(
            error.to_string(),
            "proof: `proofValue` is not multibase `z` and base58btc characters",
            "{value}"
        );
    }
}

#[test]
fn cases_19_and_21_other_suites_types_and_purposes_are_refused() {
    for (field, value, allowed) in [
        ("cryptosuite", "eddsa-jcs-2022", CRYPTOSUITE),
        ("cryptosuite", "ecdsa-rdfc-2019", CRYPTOSUITE),
        ("proofPurpose", "authentication", PROOF_PURPOSE),
        ("type", "Ed25519Signature2020", PROOF_TYPE),
    ] {
        let mut options = options(&sealed());
        options[field] = json!(value);
        // Signed by the right key, so that nothing else is wrong with it.
        let document = sign_with(&unsecured(&key(1)), &options, &key(1));
        assert_eq!(
            judge(&document).unwrap_err(),
            format!("proof: `{field}` is `{value}`, `{allowed}` allowed")
        );
    }
}

#[test]
fn case_22_contexts_are_refused() {
    let context = json!(["https://www.w3.org/ns/credentials/v2"]);
    let mut document = unsecured(&key(1));
    document["@context"] = context.clone();
    let plain = options(&sealed());
    let mut with_context = plain.clone();
    with_context["@context"] = context.clone();
    let mut longer = document.clone();
    longer["@context"] = json!([context[0], "https://example.org/more"]);

    for (document, options) in [
        (&document, &plain),
        (&longer, &with_context),
        (&unsecured(&key(1)), &with_context),
    ] {
        let error = verify(&sign_with(document, options, &key(1))).unwrap_err();
        assert_eq!(
            error.to_string(),
            "proof: `@context` is not exactly that of the document"
        );
    }
    // Added afterwards, to document and proof alike.
    let mut added = sealed();
    added["@context"] = context.clone();
    added["proof"]["@context"] = context;
    assert!(matches!(verify(&added), Err(ProofError::Mismatch)));
    // Signed with it: the signature holds, the record is still none of ours.
    let signed = sign_with(&document, &with_context, &key(1));
    assert!(verify(&signed).is_ok());
    assert_eq!(
        judge(&signed).unwrap_err(),
        "document: has `@context`, which no record of ours has"
    );
}

#[test]
fn case_23_times_that_are_none_or_differ_are_refused() {
    for time in [
        "2026-02-29T00:00:00Z",
        "2026-13-01T00:00:00Z",
        "2026-03-00T00:00:00Z",
        "2026-04-31T00:00:00Z",
        "1900-02-29T00:00:00Z",
        "2026-03-01T24:00:00Z",
        "2026-03-01T00:60:00Z",
        "2026-03-01T00:00:60Z",
        "2026-03-01T09:30:00+00:00",
        "2026-03-01 09:30:00Z",
        "2026-03-01T09:30:00.5Z",
        "2026-03-01",
        "soon",
        "",
    ] {
        let mut options = options(&sealed());
        options["created"] = json!(time);
        let document = sign_with(&unsecured(&key(1)), &options, &key(1));
        assert!(
            matches!(verify(&document), Err(ProofError::Created(_))),
            "{time}"
        );
    }
    for time in [
        "2024-02-29T23:59:59Z",
        "2000-02-29T00:00:00Z",
        "2026-12-31T00:00:00Z",
    ] {
        assert!(is_utc_time(time), "{time}");
    }
    let mut options = options(&sealed());
    options["created"] = json!("2026-03-01T09:30:01Z");
    let later = sign_with(&unsecured(&key(1)), &options, &key(1));
    assert_eq!(
        judge(&later).unwrap_err(),
        "issued_at: `2026-03-01T09:30:00Z`, the proof's `created` is `2026-03-01T09:30:01Z`; both must be the same"
    );
    options.as_object_mut().unwrap().remove("created");
    let without = sign_with(&unsecured(&key(1)), &options, &key(1));
    assert!(verify(&without).is_ok());
    assert!(
        judge(&without)
            .unwrap_err()
            .contains("`created` is `missing`")
    );
    options["created"] = json!(5);
    let number = sign_with(&unsecured(&key(1)), &options, &key(1));
    assert_eq!(
        judge(&number).unwrap_err(),
        "proof: `created` is missing or not a string"
    );
}

#[test]
fn case_24_hashes_in_the_other_order_are_refused() {
    let document = unsecured(&key(1));
    let options = options(&sealed());
    let right = hash_data(
        &canonical_bytes(&options).unwrap(),
        record_digest(&document).unwrap(),
    );
    let swapped = [&right[32..], &right[..32]].concat();
    let altered = with_signature(&document, &options, &key(1).sign(&swapped));
    assert!(matches!(verify(&altered), Err(ProofError::Mismatch)));
    assert!(verify(&with_signature(&document, &options, &key(1).sign(&right))).is_ok());
}

/// Source: W3C vc-di-ecdsa TestVectors/ecdsa-jcs-2019-p256/signedJCSECDSAP256.json, commit 00781de.
pub(crate) const W3C_SIGNED: &str = r#"{
  "@context": ["https://www.w3.org/ns/credentials/v2", "https://www.w3.org/ns/credentials/examples/v2"],
  "id": "urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33",
  "type": ["VerifiableCredential", "AlumniCredential"],
  "name": "Alumni Credential",
  "description": "A minimum viable example of an Alumni Credential.",
  "issuer": "https://vc.example/issuers/5678",
  "validFrom": "2023-01-01T00:00:00Z",
  "credentialSubject": {"id": "did:example:abcdefgh", "alumniOf": "The School of Examples"},
  "proof": {
    "type": "DataIntegrityProof",
    "cryptosuite": "ecdsa-jcs-2019",
    "created": "2023-02-24T23:36:38Z",
    "verificationMethod": "did:key:zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP#zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP",
    "proofPurpose": "assertionMethod",
    "@context": ["https://www.w3.org/ns/credentials/v2", "https://www.w3.org/ns/credentials/examples/v2"],
    "proofValue": "z5ptCet75SaEgzG4v4zJhbJtfNi74Wv7Fq15hhKouJQQjEPQvPZKaYxcMXAMLPQS2FXrkCWokNJkFVkwxNzZfD5oT"
  }
}"#;

fn w3c(text: &str) -> Value {
    read_value(text.as_bytes(), &Limits::default()).unwrap()
}

/// Case 25 at every step. Source of the values: the files beside [`W3C_SIGNED`]'s.
#[test]
fn case_25_published_example_passes_the_signature_stage_step_by_step() {
    let document = w3c(W3C_SIGNED);
    let hex = |bytes: &[u8]| data_encoding::HEXLOWER.encode(bytes);
    // canonDocJCSECDSAP256.txt, docHashJCSECDSAP256.txt
    let canonical = canonical_without(document.as_object().unwrap(), "proof").unwrap();
    assert_eq!(
        String::from_utf8(canonical.clone()).unwrap(),
        concat!(
            r#"{"@context":["https://www.w3.org/ns/credentials/v2","https://www.w3.org/ns/credentials/examples/v2"],"#,
            r#""credentialSubject":{"alumniOf":"The School of Examples","id":"did:example:abcdefgh"},"#,
            r#""description":"A minimum viable example of an Alumni Credential.","#,
            r#""id":"urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33","issuer":"https://vc.example/issuers/5678","#,
            r#""name":"Alumni Credential","type":["VerifiableCredential","AlumniCredential"],"validFrom":"2023-01-01T00:00:00Z"}"#
        )
    );
    let digest = record_digest(&document).unwrap();
    assert_eq!(
        digest.to_string(),
        "59b7cb6251b8991add1ce0bc83107e3db9dbbab5bd2c28f687db1a03abc92f19"
    );
    // proofHashJCSECDSAP256.txt, combinedHashJCSECDSAP256.txt
    let options = canonical_without(document["proof"].as_object().unwrap(), "proofValue").unwrap();
    let proof_hash = "fe5799489119c7fe3c528715e72bd39d2ec6b4ab345978df32e9a9312648ec25";
    assert_eq!(Digest::of(&options).to_string(), proof_hash);
    assert_eq!(
        hex(&hash_data(&options, digest)),
        format!("{proof_hash}{digest}")
    );
    // sigHexJCSECDSAP256.txt
    assert_eq!(
        hex(&signature_of(&document)),
        concat!(
            "f15c3b599eb9b3cad05df9d8e8b39a70a86375833b53743c764ac0a88c4457d6",
            "0707fd7d073e03d906130631d87803f80a9824dc9939632ba92d418181be9d16"
        )
    );
    let verified = verify(&document).unwrap();
    assert_eq!(
        verified.key.multikey(),
        "zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP"
    );
    assert_eq!(verified.record_digest, digest);
    // The same signature comes out when we sign (key: RFC 6979, A.2.5).
    let scalar = data_encoding::HEXLOWER
        .decode(b"c9afa9d845ba75166b5c215767b1d6934e50c3db36e89b127b8a622b120f6721")
        .unwrap();
    let private = PrivateKey::from_entropy(scalar.try_into().unwrap()).unwrap();
    assert_eq!(
        private.sign(&hash_data(&options, digest)).as_slice(),
        signature_of(&document)
    );
}

#[test]
fn case_25_published_example_is_refused_as_a_record() {
    assert_eq!(
        judge(&w3c(W3C_SIGNED)).unwrap_err(),
        "issuer: the document names `https://vc.example/issuers/5678`, \
         but `did:key:zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP` signed it"
    );
}

#[test]
fn case_25_changed_published_example_is_refused() {
    for (from, to) in [
        ("School", "school"),
        ("23:36:38Z", "23:36:39Z"),
        (
            "examples/v2\"],\n  \"id\"",
            "examples/v2\", \"x\"],\n  \"id\"",
        ),
    ] {
        assert!(W3C_SIGNED.contains(from));
        assert!(
            verify(&w3c(&W3C_SIGNED.replacen(from, to, 1))).is_err(),
            "{to}"
        );
    }
}

/// Only P-256 is ours to judge: the published P-384 and Ed25519 examples are refused by name, not as altered.
#[test]
fn case_25_published_examples_of_other_kinds_are_refused_by_kind() {
    let p384 = "did:key:z82LkuBieyGShVBhvtE2zoiD6Kma4tJGFtkAhxR5pfkp5QPw4LutoYWhvQCnGjdVn14kujQ";
    let mut document = w3c(W3C_SIGNED);
    let multikey = p384.trim_start_matches("did:key:");
    document["proof"]["verificationMethod"] = json!(format!("{p384}#{multikey}"));
    assert!(matches!(
        verify(&document),
        Err(ProofError::Key(KeyError::WrongKind { .. }))
    ));
    document["proof"]["cryptosuite"] = json!("eddsa-jcs-2022");
    assert!(matches!(
        verify(&document),
        Err(ProofError::Fixed {
            field: "cryptosuite",
            ..
        })
    ));
}

#[test]
fn case_26_a_substituted_key_passes_both_stages_and_is_left_to_the_memory() {
    // Re-signed by another key under the same workshop's name: sound in itself.
    let forged = sign(&unsecured(&key(2)), &key(2), TIME).unwrap();
    let verified = judge(&forged).unwrap();
    assert_ne!(verified.key, key(1).public_key());
    assert_ne!(
        verified.key.fingerprint(),
        key(1).public_key().fingerprint()
    );
    // Only the key swapped in the proof of the original: altered.
    let mut swapped = sealed();
    swapped["proof"]["verificationMethod"] = json!(key(2).public_key().verification_method());
    assert!(matches!(verify(&swapped), Err(ProofError::Mismatch)));
}

#[test]
fn case_27_issuer_and_signer_must_be_the_same() {
    let document = sign(&unsecured(&key(1)), &key(2), TIME).unwrap();
    assert!(verify(&document).is_ok());
    let (issuer, signer) = (key(1).public_key().did_key(), key(2).public_key().did_key());
    assert_eq!(
        judge(&document).unwrap_err(),
        format!("issuer: the document names `{issuer}`, but `{signer}` signed it")
    );
    for issuer in [
        json!(null),
        json!({"name": "Rill Workshop"}),
        json!({"id": 5}),
        json!([]),
    ] {
        let mut document = unsecured(&key(1));
        document["issuer"] = issuer;
        let document = sign(&document, &key(1), TIME).unwrap();
        assert_eq!(
            judge(&document).unwrap_err(),
            "issuer: no key is named, `issuer` with `id` (did:key) needed"
        );
    }
}

#[test]
fn case_28_the_fragment_must_be_the_key() {
    let mut options = options(&sealed());
    let (one, two) = (key(1).public_key(), key(2).public_key());
    options["verificationMethod"] = json!(format!("{}#{}", one.did_key(), two.multikey()));
    let document = sign_with(&unsecured(&key(1)), &options, &key(1));
    assert!(matches!(
        verify(&document),
        Err(ProofError::Key(KeyError::FragmentDiffers(_)))
    ));
}

#[test]
fn case_32_published_keys_are_refused() {
    let scalar = data_encoding::HEXLOWER
        .decode(b"c9afa9d845ba75166b5c215767b1d6934e50c3db36e89b127b8a622b120f6721")
        .unwrap();
    let published = PrivateKey::from_entropy(scalar.try_into().unwrap()).unwrap();
    let document = sign(&unsecured(&published), &published, TIME).unwrap();
    assert!(verify(&document).is_ok());
    let did = published.public_key().did_key();
    assert_eq!(
        judge(&document).unwrap_err(),
        format!(
            "issuer: `{did}` is an example key printed in a specification, anyone can sign with it"
        )
    );
    assert!(!policy::is_published(&key(1).public_key()));
    // Each entry of the list is a key at all.
    for multikey in policy::PUBLISHED_KEYS {
        assert!(policy::is_published(
            &PublicKey::from_did(&format!("did:key:{multikey}")).unwrap()
        ));
    }
}

#[test]
fn whitespace_and_order_of_the_received_text_do_not_matter_to_the_proof() {
    let document = sealed();
    let mut pretty = serde_json::to_string_pretty(&document).unwrap();
    pretty.push('\n');
    assert_eq!(judge(&w3c(&pretty)).unwrap(), judge(&document).unwrap());
}

/// The three texts one key signs cannot be taken for one another: 64 bytes here, a DER set in a PDF, which
/// begins with 0x31 and its length, and the ASCII of a token.
#[test]
fn what_is_signed_has_always_64_bytes() {
    assert_eq!(hash_data(b"", Digest::of(b"")).len(), 64);
}
