#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::process::Command;

use der::{Any, AnyRef, Decode as _, Reader as _, SliceReader, Tag, TagNumber};

use super::*;

const CREATED: &str = "2026-01-02T03:04:05Z";

fn key(byte: u8) -> PrivateKey {
    PrivateKey::from_entropy([byte; 32]).unwrap()
}

#[test]
fn same_key_name_and_date_give_the_same_bytes_and_read_back() {
    let first = self_issued(&key(7), "刀研ぎ工房 Example", CREATED).unwrap();
    assert_eq!(
        first,
        self_issued(&key(7), "刀研ぎ工房 Example", CREATED).unwrap()
    );
    let facts = read(&first).unwrap();
    assert_eq!(facts.key, key(7).public_key());
    assert_eq!(facts.name, "刀研ぎ工房 Example");
    assert_ne!(
        first,
        self_issued(&key(8), "刀研ぎ工房 Example", CREATED).unwrap()
    );
}

#[test]
fn serial_numbers_are_positive_and_at_most_twenty_bytes() {
    for byte in 1..60 {
        let serial = serial_number(&key(byte).public_key()).unwrap();
        assert_eq!(serial.as_bytes().len(), 16);
        assert!((0x40..0x80).contains(&serial.as_bytes()[0]));
    }
}

#[test]
fn name_and_date_are_refused_with_what_is_allowed() {
    let error = self_issued(&key(1), "", CREATED).unwrap_err();
    assert_eq!(
        error.to_string(),
        "certificate name: 0 characters, 1 to 64 allowed"
    );
    let error = self_issued(&key(1), &"x".repeat(65), CREATED).unwrap_err();
    assert_eq!(
        error.to_string(),
        "certificate name: 65 characters, 1 to 64 allowed"
    );
    assert_eq!(
        error.hint(),
        Some("give the workshop a name of at most 64 characters")
    );
    self_issued(&key(1), &"刀".repeat(64), CREATED).unwrap();
    for date in [
        "",
        "2026-01-02",
        "2026-02-30T00:00:00Z",
        "2026-01-02T03:04:05+01:00",
        "1969-12-31T00:00:00Z",
    ] {
        let error = self_issued(&key(1), "x", date).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "certificate date `{date}`: a UTC time such as 2026-01-02T03:04:05Z allowed, from 1970 on"
            )
        );
    }
}

#[test]
fn dates_from_2050_on_have_four_digit_years() {
    let late = self_issued(&key(1), "x", "2050-01-01T00:00:00Z").unwrap();
    assert!(late.windows(15).any(|part| part == b"20500101000000Z"));
    let early = self_issued(&key(1), "x", "2049-12-31T23:59:59Z").unwrap();
    assert!(
        early
            .windows(15)
            .any(|part| part == b"\x17\x0d491231235959Z")
    );
    assert!(early.windows(15).any(|part| part == b"99991231235959Z"));
}

#[test]
fn every_flipped_bit_is_refused() {
    let certificate = self_issued(&key(3), "Example", CREATED).unwrap();
    for index in 0..certificate.len() {
        for bit in 0..8 {
            let mut changed = certificate.clone();
            changed[index] ^= 1 << bit;
            assert!(read(&changed).is_err(), "bit {bit} of byte {index}");
        }
    }
}

#[test]
fn each_rule_refuses_a_certificate_that_breaks_only_it() {
    let resign = |change: &dyn Fn(&mut TbsCertificate)| {
        let mut tbs = to_be_signed(&key(3).public_key(), "Example", CREATED).unwrap();
        change(&mut tbs);
        let signature = raw_to_der(&key(3).sign(&tbs.to_der().unwrap())).unwrap();
        let certificate = Certificate {
            signature_algorithm: ecdsa_with_sha256(),
            signature: BitString::from_bytes(&signature).unwrap(),
            tbs_certificate: tbs,
        };
        read(&certificate.to_der().unwrap())
    };
    assert_eq!(resign(&|_| ()).unwrap().name, "Example");
    assert_eq!(
        resign(&|tbs| tbs.version = Version::V1),
        Err(CertificateError::Version)
    );
    assert_eq!(
        resign(&|tbs| tbs.issuer = common_name("Other").unwrap()),
        Err(CertificateError::NotSelfIssued)
    );
    assert_eq!(
        resign(&|tbs| tbs.extensions = None),
        Err(CertificateError::KeyUsage)
    );
    assert_eq!(
        resign(&|tbs| tbs.subject_public_key_info.algorithm.parameters = None),
        Err(CertificateError::KeyKind)
    );
    let other = public_key_info(&key(4).public_key()).unwrap();
    assert_eq!(
        resign(&|tbs| tbs.subject_public_key_info = other.clone()),
        Err(CertificateError::Signature)
    );
}

/// The fields of a SEQUENCE, each with tag and length.
fn split(bytes: &[u8]) -> Vec<Vec<u8>> {
    let outer = AnyRef::from_der(bytes).unwrap();
    let mut reader = SliceReader::new(outer.value()).unwrap();
    let mut fields = Vec::new();
    while !reader.is_finished() {
        fields.push(AnyRef::decode(&mut reader).unwrap().to_der().unwrap());
    }
    fields
}

fn joined(tag: Tag, fields: &[Vec<u8>]) -> Vec<u8> {
    Any::new(tag, fields.concat()).unwrap().to_der().unwrap()
}

/// The certificate with its signed fields changed, signed again by its key.
fn with_fields(
    change: impl FnOnce(&mut Vec<Vec<u8>>),
) -> Result<CertificateFacts, CertificateError> {
    let outer = split(&self_issued(&key(3), "Example", CREATED).unwrap());
    let mut fields = split(&outer[0]);
    change(&mut fields);
    let signed = joined(Tag::Sequence, &fields);
    let value = raw_to_der(&key(3).sign(&signed)).unwrap();
    let value = BitString::from_bytes(&value).unwrap().to_der().unwrap();
    read(&joined(Tag::Sequence, &[signed, outer[1].clone(), value]))
}

/// An expiry says nothing about a record, and readers disagree about days that no calendar has.
#[test]
fn dates_are_not_judged_nor_whether_they_are_any() {
    assert_eq!(with_fields(|_| ()).unwrap().name, "Example");
    let dates: [(Tag, &[u8]); 4] = [
        (Tag::UtcTime, b"260231000000Z"),
        (Tag::GeneralizedTime, b"19500101000000Z"),
        (Tag::GeneralizedTime, b"20260101000000.5Z"),
        (Tag::Utf8String, b"always"),
    ];
    for (tag, text) in dates {
        let date = Any::new(tag, text).unwrap().to_der().unwrap();
        let found = with_fields(|fields| {
            fields[4] = joined(Tag::Sequence, &[date.clone(), date.clone()]);
        });
        assert_eq!(found.unwrap().name, "Example", "{tag} {text:?}");
        // Two of them, neither fewer nor more.
        for count in [0, 1, 3] {
            let found = with_fields(|fields| {
                fields[4] = joined(Tag::Sequence, &vec![date.clone(); count]);
            });
            assert!(found.is_err(), "{count} dates");
        }
    }
}

#[test]
fn fields_that_no_certificate_of_ours_has_are_refused() {
    let identifier = |number: u8| vec![0x80 | number, 2, 0, 0xff];
    for number in 0..3 {
        for place in 0..9 {
            let found = with_fields(|fields| {
                let place = place.min(fields.len());
                fields.insert(place, identifier(number));
            });
            assert!(found.is_err(), "[{number}] at {place}");
        }
    }
    let found = with_fields(|fields| {
        let last = fields.len() - 1;
        fields.insert(last, vec![0xa2, 2, 5, 0]);
    });
    assert_eq!(found, Err(CertificateError::OtherFields));
    assert!(with_fields(|fields| fields.push(vec![5, 0])).is_err());
    // 20 octets and a zero before them, and no more. Source: RFC 5280, 4.1.2.2 (from memory).
    let serial = |length: usize| {
        let mut bytes = vec![0x80; length];
        bytes[0] = 0;
        with_fields(|fields| fields[1] = Any::new(Tag::Integer, bytes).unwrap().to_der().unwrap())
    };
    assert!(serial(21).is_ok());
    for length in [22, 25] {
        assert!(serial(length).is_err(), "{length}");
    }
    // The key usage twice.
    let found = with_fields(|fields| {
        let extensions = split(&fields[7]).remove(0);
        let mut list = split(&extensions);
        list.push(list[1].clone());
        fields[7] = joined(
            Tag::ContextSpecific {
                constructed: true,
                number: TagNumber::N3,
            },
            &[joined(Tag::Sequence, &list)],
        );
    });
    assert_eq!(found, Err(CertificateError::KeyUsage));
}

/// The installed `openssl` is an independent reader of the same bytes.
#[test]
fn openssl_reads_the_fields_and_verifies_the_signature() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("certificate.der");
    std::fs::write(
        &path,
        self_issued(&key(9), "刀研ぎ Example", CREATED).unwrap(),
    )
    .unwrap();
    let run = |arguments: &[&str]| {
        let output = Command::new("openssl")
            .args(arguments)
            .current_dir(folder.path())
            .output()
            .unwrap();
        (
            output.status.success(),
            String::from_utf8_lossy(&output.stdout).into_owned(),
        )
    };
    let (sound, text) = run(&[
        "x509",
        "-inform",
        "DER",
        "-in",
        "certificate.der",
        "-noout",
        "-text",
        "-nameopt",
        "utf8",
    ]);
    assert!(sound);
    for line in [
        "Version: 3 (0x2)",
        "Signature Algorithm: ecdsa-with-SHA256",
        "Issuer: CN=刀研ぎ Example",
        "Subject: CN=刀研ぎ Example",
        "Not Before: Jan  2 03:04:05 2026 GMT",
        "Not After : Dec 31 23:59:59 9999 GMT",
        "NIST CURVE: P-256",
        "X509v3 Basic Constraints: critical\n                CA:FALSE",
        "X509v3 Key Usage: critical\n                Digital Signature, Non Repudiation",
        "X509v3 Subject Key Identifier",
    ] {
        assert!(text.contains(line), "{line} is missing in\n{text}");
    }
    assert!(
        run(&[
            "x509",
            "-inform",
            "DER",
            "-in",
            "certificate.der",
            "-out",
            "certificate.pem"
        ])
        .0
    );
    let verified = run(&[
        "verify",
        "-check_ss_sig",
        "-CAfile",
        "certificate.pem",
        "certificate.pem",
    ]);
    assert_eq!(verified, (true, "certificate.pem: OK\n".to_owned()));
}
