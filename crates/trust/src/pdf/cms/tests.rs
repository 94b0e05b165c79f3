#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::process::Command;

use super::*;
use crate::pdf::fixture::{certificate_of, key, other_key};

const DIGEST: [u8; 32] = [7; 32];

fn signed() -> Vec<u8> {
    sign(&DIGEST, &key(), &certificate_of(&key())).unwrap()
}

/// Takes the structure apart, changes it and puts it together again.
fn changed(change: impl FnOnce(&mut SignedData)) -> Result<(), CmsError> {
    let envelope = ContentInfo::from_der(&signed()).unwrap();
    let mut signed_data: SignedData = envelope.content.decode_as().unwrap();
    change(&mut signed_data);
    let content = Any::encode_from(&signed_data).unwrap();
    let statement = read(
        &ContentInfo {
            content_type: SIGNED_DATA,
            content,
        }
        .to_der()
        .unwrap(),
    )?;
    statement.verify(&statement.signer()?.key)
}

fn with_signer(change: impl FnOnce(&mut SignerInfo)) -> Result<(), CmsError> {
    changed(|signed_data| {
        let mut signer = signed_data.signer_infos.0.as_slice()[0].clone();
        change(&mut signer);
        signed_data.signer_infos = SignerInfos(set_of_one(signer).unwrap());
    })
}

fn resigned(attributes: SignedAttributes) -> Result<(), CmsError> {
    with_signer(|signer| {
        let value = key().sign(&attributes.to_der().unwrap());
        signer.signature = OctetString::new(certificate::raw_to_der(&value).unwrap()).unwrap();
        signer.signed_attrs = Some(attributes);
    })
}

#[test]
fn unchanged_structure_verifies() {
    assert_eq!(changed(|_| ()), Ok(()));
    let statement = read(&signed()).unwrap();
    assert_eq!(statement.message_digest, DIGEST);
    assert_eq!(statement.signer().unwrap().key, key().public_key());
    assert_eq!(
        resigned(signed_attributes(&DIGEST, &certificate_of(&key())).unwrap()),
        Ok(())
    );
}

/// The place in the report never moves, so whatever a workshop may call itself must fit.
#[test]
fn the_longest_name_leaves_room_in_the_place_of_the_signature() {
    use crate::pdf::place::CONTENTS_DIGITS;
    for letter in ["W", "鎬", "\u{1f5e1}"] {
        let name = letter.repeat(64);
        let certificate = certificate::self_issued(&key(), &name, "2026-01-02T03:04:05Z").unwrap();
        let signature = sign(&DIGEST, &key(), &certificate).unwrap();
        let room = CONTENTS_DIGITS / 2;
        assert!(
            signature.len() * 4 < room,
            "{} of {room} bytes",
            signature.len()
        );
    }
}

#[test]
fn only_the_three_attributes_are_signed_and_none_is_a_time() {
    let envelope = ContentInfo::from_der(&signed()).unwrap();
    let signed_data: SignedData = envelope.content.decode_as().unwrap();
    let signer = &signed_data.signer_infos.0.as_slice()[0];
    let mut found: Vec<_> = signer
        .signed_attrs
        .as_ref()
        .unwrap()
        .iter()
        .map(|attribute| attribute.oid)
        .collect();
    found.sort();
    let mut expected = vec![CONTENT_TYPE, MESSAGE_DIGEST, SIGNING_CERTIFICATE_V2];
    expected.sort();
    assert_eq!(found, expected);
}

#[test]
fn each_rule_refuses_a_structure_that_breaks_only_it() {
    let sha384 = AlgorithmIdentifierOwned {
        oid: ObjectIdentifier::new_unwrap("2.16.840.1.101.3.4.2.2"),
        parameters: None,
    };
    let ecdsa384 = AlgorithmIdentifierOwned {
        oid: ObjectIdentifier::new_unwrap("1.2.840.10045.4.3.3"),
        parameters: None,
    };
    let attributes = || signed_attributes(&DIGEST, &certificate_of(&key())).unwrap();
    for (result, text) in [
        (
            changed(|data| data.version = CmsVersion::V3),
            "not of version 1, or with revocation lists",
        ),
        (
            changed(|data| data.digest_algorithms = set_of_one(sha384.clone()).unwrap()),
            "digest algorithm is not SHA-256 alone",
        ),
        (
            changed(|data| {
                data.encap_content_info.econtent =
                    Some(Any::encode_from(&OctetString::new(b"x".as_slice()).unwrap()).unwrap());
            }),
            "the content is not data kept outside the signature",
        ),
        (
            changed(|data| data.certificates = None),
            "not exactly one certificate",
        ),
        (
            changed(|data| {
                let other = Any::from_der(&certificate_of(&other_key())).unwrap();
                data.certificates.as_mut().unwrap().insert(other).unwrap();
            }),
            "not exactly one certificate",
        ),
        (
            changed(|data| data.signer_infos = SignerInfos(SetOfVec::new())),
            "not exactly one signer",
        ),
        (
            with_signer(|signer| signer.version = CmsVersion::V3),
            "the signer does not use version 1 and SHA-256",
        ),
        (
            with_signer(|signer| signer.digest_alg = sha384.clone()),
            "the signer does not use version 1 and SHA-256",
        ),
        (
            with_signer(|signer| signer.signature_algorithm = ecdsa384.clone()),
            "the signature algorithm is not ECDSA with SHA-256",
        ),
        (
            with_signer(|signer| signer.unsigned_attrs = Some(attributes())),
            "attributes that no signature protects",
        ),
        (
            with_signer(|signer| signer.signed_attrs = None),
            "not exactly three signed attributes",
        ),
        (
            resigned({
                let mut four = attributes();
                four.insert(
                    attribute(ObjectIdentifier::new_unwrap("1.2.840.113549.1.9.5"), &DATA).unwrap(),
                )
                .unwrap();
                four
            }),
            "not exactly three signed attributes",
        ),
        (
            resigned({
                let mut other = SetOfVec::new();
                for one in attributes()
                    .into_vec()
                    .into_iter()
                    .filter(|one| one.oid != CONTENT_TYPE)
                {
                    other.insert(one).unwrap();
                }
                other
                    .insert(attribute(CONTENT_TYPE, &SIGNED_DATA).unwrap())
                    .unwrap();
                other
            }),
            "the signed content type is not data",
        ),
        (
            resigned({
                let mut other = SetOfVec::new();
                for one in attributes()
                    .into_vec()
                    .into_iter()
                    .filter(|one| one.oid != MESSAGE_DIGEST)
                {
                    other.insert(one).unwrap();
                }
                other
                    .insert(
                        attribute(MESSAGE_DIGEST, &OctetString::new(vec![7; 20]).unwrap()).unwrap(),
                    )
                    .unwrap();
                other
            }),
            "no signed digest of 32 bytes",
        ),
        (
            resigned({
                let mut other = SetOfVec::new();
                for one in attributes()
                    .into_vec()
                    .into_iter()
                    .filter(|one| one.oid != SIGNING_CERTIFICATE_V2)
                {
                    other.insert(one).unwrap();
                }
                other
                    .insert(
                        attribute(
                            SIGNING_CERTIFICATE_V2,
                            &SigningCertificate { certs: vec![] },
                        )
                        .unwrap(),
                    )
                    .unwrap();
                other
            }),
            "the signed attributes do not name exactly one certificate",
        ),
    ] {
        assert_eq!(
            result.map_err(|error| error.to_string()),
            Err(format!("signature: {text}"))
        );
    }
}

/// A token beside a signature that it was not made for, and one under another name.
#[test]
fn only_a_token_over_the_signature_s_own_value_may_stand_beside_it() {
    let beside = |oid: ObjectIdentifier, token: &Token| {
        let mut attributes = SignedAttributes::new();
        let value = Any::from_der(token.bytes()).unwrap();
        attributes
            .insert(Attribute {
                oid,
                values: set_of_one(value).unwrap(),
            })
            .unwrap();
        let mut stated = Ok(());
        let form = with_signer(|signer| signer.unsigned_attrs = Some(attributes.clone()));
        if form.is_ok() {
            let bytes = {
                let envelope = ContentInfo::from_der(&signed()).unwrap();
                let mut data: SignedData = envelope.content.decode_as().unwrap();
                let mut signer = data.signer_infos.0.as_slice()[0].clone();
                signer.unsigned_attrs = Some(attributes);
                data.signer_infos = SignerInfos(set_of_one(signer).unwrap());
                let content = Any::encode_from(&data).unwrap();
                ContentInfo {
                    content_type: SIGNED_DATA,
                    content,
                }
                .to_der()
                .unwrap()
            };
            stated = read(&bytes).unwrap().verify_token();
        }
        form.and(stated)
    };
    let office = crate::timestamp::fixture::Office::open();
    let stamped = read(&signed()).unwrap().stamped();
    let fitting = office.stamp(&stamped);
    let other = office.stamp(&Digest::of(b"another signature"));
    assert_eq!(beside(TIME_STAMP_TOKEN, &fitting), Ok(()));
    assert!(matches!(
        beside(TIME_STAMP_TOKEN, &other),
        Err(CmsError::Token(TimestampError::OtherDigest { .. }))
    ));
    assert_eq!(
        beside(CONTENT_TYPE, &fitting),
        Err(CmsError::OtherForm("attributes that no signature protects"))
    );
    assert!(with_token(&signed(), &other).is_err());
    let once = with_token(&signed(), &fitting).unwrap();
    assert_eq!(read(&once).unwrap().token, Some(fitting.clone()));
    assert_eq!(
        with_token(&once, &fitting),
        Err(CmsError::OtherForm("there is a time token already"))
    );
}

#[test]
fn exchanged_certificate_is_found_whichever_way_it_was_exchanged() {
    let other = certificate_of(&other_key());
    let exchanged = changed(|data| {
        data.certificates = Some(set_of_one(Any::from_der(&other).unwrap()).unwrap());
    });
    assert_eq!(exchanged, Err(CmsError::OtherCertificate));
    let named = with_signer(|signer| {
        signer.sid = SignerIdentifier::IssuerAndSerialNumber(IssuerAndSerialNumber {
            issuer: certificate::parts(&other).unwrap().signed.issuer,
            serial_number: certificate::parts(&other).unwrap().signed.serial_number,
        });
    });
    assert_eq!(named, Err(CmsError::OtherCertificate));
    // Another way of naming it is another form.
    let by_key = with_signer(|signer| {
        let identifier = OctetString::new(vec![1; 20]).unwrap();
        signer.sid = SignerIdentifier::SubjectKeyIdentifier(
            x509_cert::ext::pkix::SubjectKeyIdentifier(identifier),
        );
    });
    let form = "the signer is not named by issuer and serial number";
    assert_eq!(by_key, Err(CmsError::OtherForm(form)));
    let hashed = resigned(signed_attributes(&DIGEST, &certificate_of(&other_key())).unwrap());
    assert_eq!(hashed, Err(CmsError::OtherCertificate));
}

#[test]
fn signature_value_is_the_one_low_form() {
    let value =
        |bytes: Vec<u8>| with_signer(|signer| signer.signature = OctetString::new(bytes).unwrap());
    let raw = key().sign(b"something else");
    assert_eq!(
        value(certificate::raw_to_der(&raw).unwrap()),
        Err(CmsError::Wrong)
    );
    assert_eq!(value(raw.to_vec()), Err(CmsError::Value));
    let attributes = signed_attributes(&DIGEST, &certificate_of(&key()))
        .unwrap()
        .to_der()
        .unwrap();
    let low = p256::ecdsa::Signature::from_slice(&key().sign(&attributes)).unwrap();
    let (r, s) = low.split_scalars();
    let twin = p256::ecdsa::Signature::from_scalars(r, -s).unwrap();
    assert!(key().public_key().verify(&attributes, &twin.to_bytes()));
    assert_eq!(
        value(twin.to_der().as_bytes().to_vec()),
        Err(CmsError::Value)
    );
}

#[test]
fn two_flipped_bits_in_each_byte_are_refused() {
    let bytes = signed();
    for place in 0..bytes.len() {
        for bit in [place % 8, (place + 5) % 8] {
            let mut other = bytes.clone();
            other[place] ^= 1 << bit;
            let accepted = read(&other).is_ok_and(|statement| {
                statement.message_digest == DIGEST
                    && statement
                        .signer()
                        .is_ok_and(|facts| statement.verify(&facts.key).is_ok())
            });
            assert!(!accepted, "bit {bit} of byte {place}");
        }
    }
}

/// The installed `openssl` is an independent reader of the same bytes.
#[test]
fn openssl_verifies_the_signature_over_its_content_and_no_other() {
    let folder = tempfile::tempdir().unwrap();
    let content = b"signed bytes";
    let signature = sign(
        &Sha256::digest(content).into(),
        &key(),
        &certificate_of(&key()),
    )
    .unwrap();
    std::fs::write(folder.path().join("signature.der"), signature).unwrap();
    std::fs::write(
        folder.path().join("certificate.der"),
        certificate_of(&key()),
    )
    .unwrap();
    std::fs::write(folder.path().join("content"), content).unwrap();
    std::fs::write(folder.path().join("other"), b"other bytes").unwrap();
    let run = |arguments: &str| {
        let words = arguments.split(' ');
        Command::new("openssl")
            .args(words)
            .current_dir(folder.path())
            .output()
            .unwrap()
            .status
            .success()
    };
    assert!(run(
        "x509 -inform DER -in certificate.der -out certificate.pem"
    ));
    let verify = |content: &str| {
        run(&format!(
            "cms -verify -binary -inform DER -in signature.der -content {content} -CAfile certificate.pem -purpose any -out out"
        ))
    };
    assert!(verify("content"));
    assert!(!verify("other"));
}
