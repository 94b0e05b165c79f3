//! Who may vouch for a time, in what kinds of signatures, under what name: certificates that OpenSSL makes on the spot.

use super::*;
use crate::timestamp::signature::Scheme;

/// Whatever an issuer may certify is said in its own extended key usage, where it has one.
#[test]
fn an_issuer_for_other_purposes_vouches_for_no_time() {
    let folder = tempfile::tempdir().unwrap();
    let made = |usage: &str| {
        let mut words =
            "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 30 -subj /CN=Root \
                         -keyout k.pem -out c.pem -addext basicConstraints=critical,CA:TRUE"
                .to_owned();
        if !usage.is_empty() {
            words += " -addext extendedKeyUsage=";
            words += usage;
        }
        let done = std::process::Command::new("openssl")
            .args(words.split_whitespace())
            .current_dir(folder.path())
            .output()
            .unwrap();
        assert!(done.status.success(), "{done:?}");
        let pem = fs::read(folder.path().join("c.pem")).unwrap();
        AuthorityCertificate::from_pem(&pem).unwrap().remove(0)
    };
    for (usage, may) in [
        ("", true),
        ("timeStamping", true),
        ("codeSigning,timeStamping", true),
        ("anyExtendedKeyUsage", true),
        ("serverAuth", false),
        ("critical,codeSigning,emailProtection", false),
    ] {
        assert_eq!(made(usage).may_issue(0), may, "{usage}");
    }
}

#[test]
fn the_kind_of_a_signature_has_the_parameters_it_wants() {
    let kind = |oid: &[u8], parameters: &[u8]| {
        let fields = [&[0x06, u8::try_from(oid.len()).unwrap()], oid, parameters].concat();
        let bytes = [&[0x30, u8::try_from(fields.len()).unwrap()][..], &fields].concat();
        Scheme::read(der::Decode::from_der(&bytes).unwrap(), None).is_ok()
    };
    // ecdsa-with-SHA256; sha256WithRSAEncryption.
    let ecdsa = [0x2a, 0x86, 0x48, 0xce, 0x3d, 0x04, 0x03, 0x02];
    let rsa = [0x2a, 0x86, 0x48, 0x86, 0xf7, 0x0d, 0x01, 0x01, 0x0b];
    let (none, null, number, full): (&[u8], &[u8], &[u8], &[u8]) =
        (&[], &[5, 0], &[2, 1, 0], &[5, 1, 0]);
    assert!(kind(&ecdsa, none) && kind(&rsa, none) && kind(&rsa, null));
    for parameters in [null, number, full] {
        assert!(!kind(&ecdsa, parameters), "{parameters:?}");
    }
    for parameters in [number, full] {
        assert!(!kind(&rsa, parameters), "{parameters:?}");
    }
}

/// The name is the authority's own word; without a common name its last part has to do.
#[test]
fn an_authority_is_named_by_its_last_common_name() {
    let folder = tempfile::tempdir().unwrap();
    for (subject, name) in [
        ("/CN=One/O=House/CN=Two/OU=Room", "Two"),
        ("/O=House/OU=Room", "Room"),
        ("/", "unnamed"),
    ] {
        let done = std::process::Command::new("openssl")
            .args("req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -keyout k -out c -subj".split(' '))
            .arg(subject)
            .current_dir(folder.path())
            .output()
            .unwrap();
        assert!(done.status.success(), "{done:?}");
        let pem = fs::read(folder.path().join("c")).unwrap();
        assert_eq!(
            AuthorityCertificate::from_pem(&pem).unwrap()[0].name(),
            name
        );
    }
}
