//! A time authority of our own for tests: OpenSSL with a key and a certificate in a folder that goes with it.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::{fs, process::Command};

use super::{AuthorityCertificate, Token, request};
use tangmark_core::Digest;

/// Such an authority; its certificate is issued by itself.
pub(crate) struct Office {
    folder: tempfile::TempDir,
}

impl Office {
    pub(crate) fn open() -> Self {
        let office = Self {
            folder: tempfile::tempdir().unwrap(),
        };
        let write =
            |name: &str, text: &str| fs::write(office.folder.path().join(name), text).unwrap();
        write(
            "ts.cnf",
            "[tsa]\ndefault_tsa = here\n[here]\nserial = serial\ndefault_policy = 1.2.3.4.1\ndigests = sha256\n\
             signer_digest = sha256\ness_cert_id_alg = sha256\n",
        );
        write("serial", "01\n");
        office.run(
            "req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 30 -subj /CN=Office -keyout key.pem \
             -out certificate.pem -addext basicConstraints=critical,CA:FALSE \
             -addext extendedKeyUsage=critical,timeStamping -addext keyUsage=critical,digitalSignature",
        );
        office
    }

    fn run(&self, words: &str) {
        let done = Command::new("openssl")
            .args(words.split_whitespace())
            .current_dir(self.folder.path())
            .output()
            .unwrap();
        assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        );
    }

    /// Its certificate, for a reader who trusts it.
    pub(crate) fn certificate(&self) -> Vec<AuthorityCertificate> {
        let pem = fs::read(self.folder.path().join("certificate.pem")).unwrap();
        AuthorityCertificate::from_pem(&pem).unwrap()
    }

    /// Its answer for a digest.
    pub(crate) fn stamp(&self, digest: &Digest) -> Token {
        let place = |name: &str| self.folder.path().join(name);
        fs::write(place("q.tsq"), request(digest, None).unwrap()).unwrap();
        self.run("ts -reply -config ts.cnf -queryfile q.tsq -signer certificate.pem -inkey key.pem -out a.tsr");
        Token::read_response(&fs::read(place("a.tsr")).unwrap()).unwrap()
    }
}
