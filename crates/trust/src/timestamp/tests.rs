//! Tokens that OpenSSL made (`tests/timestamps/make.sh`), each judged by name.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod authorities;

use std::{fs, path::PathBuf};

use proptest::prelude::*;

use super::*;
use crate::PrivateKey;

fn file(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/timestamps");
    fs::read(folder.join(name)).expect(name)
}

fn stamped() -> Digest {
    Digest::of(&file("stamped.txt"))
}

fn certificates(name: &str) -> Vec<AuthorityCertificate> {
    AuthorityCertificate::from_pem(&file(name)).unwrap()
}

/// Judged by a reader who trusts the root of the fixtures.
fn judge(name: &str) -> Result<Evidence, TimestampError> {
    let trusted = certificates("root.pem");
    Token::read_response(&file(name))?.check(
        &stamped(),
        &Authorities {
            trusted: &trusted,
            ..Authorities::default()
        },
    )
}

#[test]
fn sound_tokens_fit_and_the_reader_s_root_is_trusted() {
    for (name, authority) in [
        ("rsa.tsr", "Example rsa"),
        ("p256.tsr", "Example p256"),
        ("sha512.tsr", "Example sha512"),
        ("version-1.tsr", "Example rsa"),
        ("by-hand.tsr", "Example rsa"),
        ("by-key.tsr", "Example named"),
        ("after-6.tsr", "Example after-6"),
    ] {
        let found = judge(name).unwrap();
        assert_eq!(found.record, stamped(), "{name}");
        assert_eq!(found.authority, authority, "{name}");
        assert_eq!(found.standing, Authority::Trusted, "{name}");
        assert!(
            found.time.len() == 20 && found.time.starts_with("20"),
            "{}",
            found.time
        );
    }
}

#[test]
fn without_a_certificate_of_the_reader_every_authority_is_unknown() {
    for name in ["rsa.tsr", "p256.tsr", "p384.tsr"] {
        let token = Token::read(&file(name)).unwrap();
        let found = token.check(&stamped(), &Authorities::default()).unwrap();
        assert_eq!(found.standing, Authority::Unknown, "{name}");
    }
    assert_eq!(judge("p384.tsr").unwrap().standing, Authority::Unknown);
}

#[test]
fn an_authority_s_own_certificate_is_enough() {
    let trusted = certificates("p384.pem");
    let token = Token::read(&file("p384.tsr")).unwrap();
    let reader = Authorities {
        trusted: &trusted,
        ..Authorities::default()
    };
    let found = token.check(&stamped(), &reader).unwrap();
    assert_eq!(found.standing, Authority::Trusted);
    assert_eq!(found.authority, "Example p384");
}

/// Case 64.
#[test]
fn a_token_over_other_data_is_refused() {
    let TimestampError::OtherDigest { found, wanted } = judge("other-data.tsr").unwrap_err() else {
        panic!("refused for something else");
    };
    assert_eq!(found, Digest::of(b"name of another record").to_string());
    assert_eq!(wanted, stamped().to_string());
}

/// Case 64.
#[test]
fn each_rule_refuses_a_token_that_breaks_only_it() {
    for (name, words) in [
        (
            "other-algorithm.tsr",
            "the stamped digest is of the kind 2.16.840.1.101.3.4.2.3",
        ),
        (
            "refused.tsr",
            "the authority refused, status 2 (`Requested policy is not supported.`)",
        ),
        ("two-signers.tsr", "2 signers, exactly one allowed"),
        (
            "other-use.tsr",
            "not for `timeStamping` alone, marked critical",
        ),
        (
            "two-uses.tsr",
            "not for `timeStamping` alone, marked critical",
        ),
        (
            "not-critical.tsr",
            "not for `timeStamping` alone, marked critical",
        ),
        (
            "expired.tsr",
            "valid from 2024-01-01T00:00:00Z to 2025-01-01T00:00:00Z",
        ),
        (
            "not-yet.tsr",
            "valid from 2070-01-01T00:00:00Z to 2071-01-01T00:00:00Z",
        ),
        (
            "small-rsa.tsr",
            "the signature does not fit the certificate's key",
        ),
        ("no-name.tsr", "the signed attributes name no certificate"),
        (
            "no-certificate.tsr",
            "the signer's certificate is not in it",
        ),
        ("only-data.tsr", "what was signed is no timestamp"),
        ("stamped.txt", "the file cannot be read as DER"),
        ("root.pem", "the file cannot be read as DER"),
    ] {
        let error = judge(name).expect_err(name).to_string();
        assert!(error.contains(words), "{name}: {error}");
    }
    assert_eq!(
        Token::read(&file("stamped.tsq")),
        Err(TimestampError::IsRequest)
    );
    assert_eq!(
        Token::read(&vec![0x30; TOKEN_LIMIT + 1]),
        Err(TimestampError::TooLong {
            found: TOKEN_LIMIT + 1
        })
    );
}

/// Case 64: the token is sound, but says nothing that weighs.
#[test]
fn a_chain_that_breaks_a_rule_leads_nowhere() {
    for name in [
        "under-no-ca.tsr",
        "under-may-not-sign.tsr",
        "under-expired-ca.tsr",
        "under-short.tsr",
        "under-strange.tsr",
        "after-7.tsr",
        "p384.tsr",
    ] {
        assert_eq!(judge(name).unwrap().standing, Authority::Unknown, "{name}");
    }
}

#[test]
fn an_authority_of_the_workshop_is_its_own_word_whatever_the_reader_trusts() {
    let root = certificates("root.pem");
    for name in ["rsa.tsr", "p256.tsr", "under-expired-ca.tsr"] {
        let reader = Authorities {
            trusted: &root,
            own: &root,
            workshop_keys: &[],
        };
        let token = Token::read(&file(name)).unwrap();
        let found = token.check(&stamped(), &reader).unwrap();
        assert_eq!(found.standing, Authority::Workshop, "{name}");
    }
    let other = certificates("p384.pem");
    let reader = Authorities {
        trusted: &root,
        own: &other,
        workshop_keys: &[],
    };
    let found = Token::read(&file("rsa.tsr"))
        .unwrap()
        .check(&stamped(), &reader)
        .unwrap();
    assert_eq!(found.standing, Authority::Trusted);
}

/// The P-256 key of an authority's certificate, taken for the workshop's.
#[test]
fn a_key_of_the_workshop_in_the_chain_makes_it_the_workshop_s_word() {
    let token = Token::read(&file("p256.tsr")).unwrap();
    let root = certificates("root.pem");
    let key = token.keys().into_iter().next().unwrap();
    let stranger = PrivateKey::from_entropy([7; 32]).unwrap().public_key();
    for (keys, standing) in [
        ([key], Authority::Workshop),
        ([stranger], Authority::Trusted),
    ] {
        let reader = Authorities {
            trusted: &root,
            own: &[],
            workshop_keys: &keys,
        };
        assert_eq!(token.check(&stamped(), &reader).unwrap().standing, standing);
    }
}

#[test]
fn a_request_reads_back_and_only_its_answer_belongs_to_it() {
    for nonce in [
        None,
        Some([1; 8]),
        Some([0xff; 8]),
        Some([0, 0, 0, 0, 0, 0, 0, 9]),
    ] {
        let bytes = request(&stamped(), nonce).unwrap();
        assert_eq!(bytes, request(&stamped(), nonce).unwrap());
        let read = Request::read(&bytes).unwrap();
        assert_eq!(read.digest, stamped());
        assert_eq!(read.nonce.is_some(), nonce.is_some());
    }
    let asked = Request::read(&file("stamped.tsq")).unwrap();
    assert_eq!(asked.digest, stamped());
    let token = Token::read(&file("rsa.tsr")).unwrap();
    assert_eq!(token.check_request(&asked), Ok(()));
    let again = Request::read(&request(&stamped(), Some([1; 8])).unwrap()).unwrap();
    let error = token.check_request(&again).unwrap_err();
    assert!(
        matches!(&error, TimestampError::OtherNonce { wanted, .. } if wanted == "0101010101010101")
    );
    let other = Request {
        digest: Digest::of(b"x"),
        nonce: None,
    };
    assert!(matches!(
        token.check_request(&other),
        Err(TimestampError::OtherDigest { .. })
    ));
    let plain = Request {
        nonce: None,
        ..asked
    };
    assert_eq!(token.check_request(&plain), Ok(()));
}

#[test]
fn openssl_reads_the_request() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("r.tsq");
    fs::write(&path, request(&stamped(), Some([0x9a; 8])).unwrap()).unwrap();
    let answer = std::process::Command::new("openssl")
        .args(["ts", "-query", "-text", "-in"])
        .arg(&path)
        .output()
        .unwrap();
    let text = String::from_utf8(answer.stdout).unwrap();
    for words in [
        "Hash Algorithm: sha256",
        "Nonce: 0x9A9A9A9A9A9A9A9A",
        "Certificate required: yes",
    ] {
        assert!(text.contains(words), "{text}");
    }
}

#[test]
fn a_bare_token_and_its_answer_are_the_same() {
    let answer = file("rsa.tsr");
    let token = Token::read(&answer).unwrap();
    let bare = Token::read(token.bytes()).unwrap();
    assert_eq!(bare, token);
    assert_eq!(
        Token::read_response(&bare.response().unwrap()).unwrap(),
        token
    );
    assert!(Token::read_response(token.bytes()).is_err());
    assert!(Token::read_bare(&answer).is_err());
}

#[test]
fn a_fraction_of_a_second_is_rounded_up() {
    // `clock_precision_digits = 3`; a run at a whole second would make a file without fraction.
    let token = file("p384.tsr");
    let at = token
        .windows(2)
        .position(|pair| pair == [0x18, 0x13])
        .expect("a time with fraction");
    let text = std::str::from_utf8(&token[at + 2..at + 21])
        .unwrap()
        .to_owned();
    let time = Token::read(&token)
        .unwrap()
        .check(&stamped(), &Authorities::default())
        .unwrap()
        .time;
    let seconds = |text: &str| -> u64 {
        let digits: String = text.chars().filter(char::is_ascii_digit).take(14).collect();
        digits.parse().unwrap()
    };
    assert!(text.contains('.'), "{text}");
    assert!(seconds(&time) > seconds(&text), "{time} {text}");
    // The authority allows itself a second (`accuracy = secs:1`): a fraction and a second are two at most.
    let moment = |text: &str| text.parse::<der::DateTime>().unwrap().unix_duration();
    let (date, clock) = text.split_at(8);
    let begun = format!(
        "{}-{}-{}T{}:{}:{}Z",
        &date[..4],
        &date[4..6],
        &date[6..],
        &clock[..2],
        &clock[2..4],
        &clock[4..6]
    );
    assert_eq!(moment(&time).as_secs(), moment(&begun).as_secs() + 2);
}

#[test]
fn certificates_of_a_file_are_read_or_refused() {
    let pem = String::from_utf8(file("root.pem")).unwrap();
    let two = format!(
        "a comment\n{pem}\n{}",
        String::from_utf8(file("p384.pem")).unwrap()
    );
    let read = AuthorityCertificate::from_pem(two.as_bytes()).unwrap();
    assert_eq!(read[0].name(), "Example root");
    assert_eq!(
        AuthorityCertificate::from_pem(read[1].pem().as_bytes()).unwrap()[0],
        read[1]
    );
    assert_eq!(read[0].validity().0, "2026-01-01T00:00:00Z");
    assert_eq!(
        AuthorityCertificate::from_pem(b"nothing"),
        Err(CertificateProblem::None)
    );
    for broken in [pem.replacen("MII", "M!I", 1), pem.replacen("MII", "AAA", 1)] {
        let error = AuthorityCertificate::from_pem(broken.as_bytes()).unwrap_err();
        assert!(
            matches!(error, CertificateProblem::Unreadable { number: 1, .. }),
            "{error}"
        );
    }
    assert!(matches!(
        AuthorityCertificate::from_pem(pem.repeat(17).as_bytes()),
        Err(CertificateProblem::TooMany { found: 17 })
    ));
}

/// Two bits of each byte of a token, one after the other: the changed token never stamps anything else, nor at another time.
#[test]
fn a_flipped_bit_never_makes_another_statement() {
    for name in ["rsa.tsr", "p384.tsr"] {
        let sound = file(name);
        let before = Token::read(&sound)
            .unwrap()
            .check(&stamped(), &Authorities::default())
            .unwrap();
        let mut accepted = 0;
        for place in 0..sound.len() {
            for bit in [place % 8, (place + 5) % 8] {
                let mut other = sound.clone();
                other[place] ^= 1 << bit;
                let Ok(token) = Token::read(&other) else {
                    continue;
                };
                if let Ok(found) = token.check(&token.stamped(), &Authorities::default()) {
                    assert_eq!(found, before, "{name}: bit {bit} of byte {place}");
                    accepted += 1;
                }
            }
        }
        // The version numbers, the status word and the list of digest kinds are signed by nobody.
        assert!(
            accepted < 200,
            "{name}: {accepted} of {} bits",
            sound.len() * 8
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    /// Case 64: hostile bytes never bring the reader down, and never stamp what was not stamped.
    #[test]
    fn hostile_tokens_are_refused(
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        cut in any::<prop::sample::Index>(),
        shorten in any::<bool>(),
        which in 0..3_usize,
    ) {
        let mut bytes = file(["rsa.tsr", "p256.tsr", "p384.tsr"][which]);
        for (place, byte) in changes {
            let place = place.index(bytes.len());
            bytes[place] = byte;
        }
        if shorten {
            bytes.truncate(cut.index(bytes.len()));
        }
        if let Ok(token) = Token::read(&bytes) {
            let other = Digest::of(b"another");
            prop_assert!(token.check(&other, &Authorities::default()).is_err());
            if let Ok(found) = token.check(&token.stamped(), &Authorities::default()) {
                prop_assert_eq!(found.record, stamped());
            }
        }
        let _ = Request::read(&bytes);
        let _ = AuthorityCertificate::from_der(&bytes);
    }

    #[test]
    fn arbitrary_bytes_are_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        prop_assert!(Token::read(&bytes).is_err());
    }
}
