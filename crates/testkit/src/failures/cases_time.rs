//! Case 64: time evidence that is none, or nobody's but the workshop's. Case 69: text files and names of other systems.

use tangmark_core::Digest;

use super::authority::{self, Token};
use super::material::Material;
use super::package::{STAMPED, TIMESTAMP, sound};
use super::{Corpus, Kind, MakeError};

/// A response of the authority over the name of a record.
pub(super) fn evidence(material: &Material, index: usize, time: &str) -> Vec<u8> {
    let token = Token::new(material.records[index].name, time);
    authority::response(&token, &material.keys.authority, &material.keys.root)
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let keys = &material.keys;
    let record = &material.records[2];
    let good = || Token::new(record.name, STAMPED);
    let made = |token: &Token| authority::response(token, &keys.authority, &keys.root);
    let valid = |from: &str, to: &str| (from.to_owned(), to.to_owned());

    let mut tokens: Vec<(&str, Vec<u8>)> = vec![
        ("it fits", made(&good())),
        (
            "over another digest",
            made(&Token::new(Digest::of(b"other"), STAMPED)),
        ),
        (
            "of a certificate for e-mail",
            made(&Token {
                usage: "1.3.6.1.5.5.7.3.4".to_owned(),
                ..good()
            }),
        ),
        (
            "its usage is not critical",
            made(&Token {
                critical: false,
                ..good()
            }),
        ),
        (
            "its certificate had ended",
            made(&Token {
                valid: valid("2020-01-01T00:00:00Z", "2026-05-18T11:59:59Z"),
                ..good()
            }),
        ),
        (
            "its certificate had not begun",
            made(&Token {
                valid: valid("2026-05-18T12:00:01Z", "2045-01-01T00:00:00Z"),
                ..good()
            }),
        ),
        (
            "refused by the authority",
            made(&Token {
                status: 2,
                ..good()
            }),
        ),
        (
            "granted with changes",
            made(&Token {
                status: 1,
                ..good()
            }),
        ),
        (
            "it names another certificate",
            made(&Token {
                other_certificate: true,
                ..good()
            }),
        ),
        (
            "who certified it is no authority",
            made(&Token {
                root_is_ca: false,
                ..good()
            }),
        ),
        (
            "a fraction of a second",
            made(&Token {
                fraction: ".25".to_owned(),
                ..good()
            }),
        ),
        (
            "run by the workshop itself",
            authority::response(&good(), &keys.workshop, &keys.root),
        ),
        (
            "without the status around it",
            authority::bare(&good(), &keys.authority, &keys.root),
        ),
    ];
    let fitting = made(&good());
    let mut flipped = fitting.clone();
    if let Some(last) = flipped.last_mut() {
        *last ^= 1;
    }
    tokens.push(("its last byte flipped", flipped));
    tokens.push(("cut off", fitting[..fitting.len() / 2].to_vec()));
    tokens.push(("a byte behind it", [fitting.as_slice(), &[0]].concat()));

    let root = authority::pem(&authority::root_certificate(&keys.root, true)).into_bytes();
    for (name, bytes) in tokens {
        let mut bag = sound(material)?;
        bag.put(TIMESTAMP, bytes.clone());
        bag.close();
        corpus.package(64, name, bag.zipped());
        corpus.add(
            64,
            Kind::Record,
            &format!("{name}, with its root"),
            vec![
                ("record.json", record.bytes.clone()),
                ("trial.tsr", bytes),
                ("root.pem", root.clone()),
            ],
        );
    }
    let mut bag = sound(material)?;
    let token = bag.take(TIMESTAMP);
    bag.put("timestamps/07-trial.tsr", token);
    bag.close();
    corpus.package(64, "of a record that is not here", bag.zipped());

    let mut bag = sound(material)?;
    for name in ["bagit.txt", "bag-info.txt", "manifest-sha256.txt"] {
        if let Some(bytes) = bag.files.get_mut(name) {
            *bytes = String::from_utf8_lossy(bytes)
                .replace('\n', "\r\n")
                .into_bytes();
        }
    }
    bag.close_tags();
    corpus.package(
        69,
        "line ends of another system in the tag files",
        bag.zipped(),
    );
    let mut zip = sound(material)?.as_zip();
    zip.entries.push(super::zip::Entry {
        name: [super::bag::TOP.as_bytes(), b"/data/photos/\xff\xfe.jpg"].concat(),
        data: b"x".to_vec(),
        ..super::zip::Entry::default()
    });
    corpus.package(69, "a name that is no UTF-8", zip.write());
    Ok(())
}
