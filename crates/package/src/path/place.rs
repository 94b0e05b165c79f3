//! What a path of a package is for, as the table of the package page has it.

use tangmark_core::Digest;
use tangmark_core::record::{Purpose, Term as _};

/// What a file of a package is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place<'p> {
    /// A sealed record.
    Record {
        /// Number in the file's name.
        number: u64,
        /// Purpose in the file's name.
        purpose: Purpose,
    },
    /// Disclosures of the record with the number.
    Disclosures(u64),
    /// A photo, by the digest in its name.
    Photo(Digest),
    /// A signed report.
    Report,
    /// A key history, by the fingerprint in its name.
    KeyHistory(&'p str),
    /// Time evidence for the record with the number.
    Timestamp(u64),
    /// A certificate of a time authority.
    Authority,
    /// The schema of version 1.
    Schema,
    /// The verifier page.
    Page,
    /// A page on the format or a tool, of which the released ones are known.
    Aid,
    /// Commands of this one package, for people.
    Help,
    /// Kept free for later versions.
    NotLookedAt,
    /// A tag file that every package has.
    Tag,
    /// The tag manifest, which no manifest lists.
    TagManifest,
    /// A manifest of another algorithm.
    OtherManifest,
    /// Anything else.
    Extra,
}

impl<'p> Place<'p> {
    /// Tells what a path is. The path must be one that [`super::check`] takes.
    pub fn of(path: &'p str) -> Self {
        let Some(inside) = path.strip_prefix("data/") else {
            return outside(path);
        };
        if let Some((folder, file)) = inside.split_once('/') {
            return within(folder, file).unwrap_or(Self::Extra);
        }
        match inside {
            "verify.html" => Self::Page,
            "HOW-TO-CHECK.txt" => Self::Help,
            _ => Self::Extra,
        }
    }
}

fn outside(path: &str) -> Place<'_> {
    match path {
        "bagit.txt" | "bag-info.txt" | "manifest-sha256.txt" => Place::Tag,
        "tagmanifest-sha256.txt" => Place::TagManifest,
        _ => {
            let plain = path.strip_prefix("tag").unwrap_or(path);
            let algorithm = plain
                .strip_prefix("manifest-")
                .and_then(|rest| rest.strip_suffix(".txt"));
            match algorithm {
                Some(name) if is_algorithm(name) => Place::OtherManifest,
                _ => Place::Extra,
            }
        }
    }
}

fn is_algorithm(name: &str) -> bool {
    (1..=40).contains(&name.len())
        && name
            .bytes()
            .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit())
}

fn within<'p>(folder: &str, file: &'p str) -> Option<Place<'p>> {
    match folder {
        "records" => {
            let (number, purpose) = file.strip_suffix(".json")?.split_once('-')?;
            let purpose = Purpose::ALL.iter().find(|term| term.key() == purpose)?;
            Some(Place::Record {
                number: number_of(number)?,
                purpose: *purpose,
            })
        }
        "disclosures" => number_of(file.strip_suffix(".json")?).map(Place::Disclosures),
        "photos" => {
            let (name, ending) = file.split_once('.')?;
            let known = matches!(ending, "jpg" | "png" | "tif");
            name.parse().ok().filter(|_| known).map(Place::Photo)
        }
        "reports" => is_name(file.strip_suffix(".pdf")?).then_some(Place::Report),
        "keys" => {
            let fingerprint = file.strip_suffix(".json")?;
            is_fingerprint(fingerprint).then_some(Place::KeyHistory(fingerprint))
        }
        "timestamps" => {
            if let Some(name) = file.strip_prefix("authorities/") {
                return is_name(name.strip_suffix(".pem")?).then_some(Place::Authority);
            }
            let (number, name) = file.strip_suffix(".tsr")?.split_once('-')?;
            is_name(name).then_some(Place::Timestamp(number_of(number)?))
        }
        "schema" => (file == "tangmark-record-1.schema.json").then_some(Place::Schema),
        "format" => is_name(file.strip_suffix(".md")?).then_some(Place::Aid),
        "tools" => matches!(file, "check_record.py" | "check_record.mjs").then_some(Place::Aid),
        "proofs" | "exports" => Some(Place::NotLookedAt),
        _ => None,
    }
}

/// Reads NN: two to ten digits, no more zeros in front than two digits need.
pub fn number_of(text: &str) -> Option<u64> {
    let digits = text.bytes().all(|byte| byte.is_ascii_digit());
    let plain = text.len() == 2 || !text.starts_with('0');
    ((2..=10).contains(&text.len()) && digits && plain)
        .then(|| text.parse().ok())
        .flatten()
}

/// A NAME of the page: 1 to 80 plain signs, a letter or digit first.
fn is_name(text: &str) -> bool {
    let letter = |byte: u8| byte.is_ascii_lowercase() || byte.is_ascii_digit();
    (1..=80).contains(&text.len())
        && text.bytes().next().is_some_and(letter)
        && text
            .bytes()
            .all(|byte| letter(byte) || b"._-".contains(&byte))
}

/// Twenty letters of Base32 in groups of five.
fn is_fingerprint(text: &str) -> bool {
    text.len() == 23
        && text.bytes().enumerate().all(|(at, byte)| {
            if at % 6 == 5 {
                byte == b'-'
            } else {
                byte.is_ascii_uppercase() || (b'2'..=b'7').contains(&byte)
            }
        })
}
