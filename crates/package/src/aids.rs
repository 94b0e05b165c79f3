//! What lies in every package for whoever checks it: schema, format pages, tools. The bytes of those that were released
//! are known, so that a changed one is told: people run the tools.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use tangmark_core::{Digest, schema};

macro_rules! aids {
    ($($folder:literal: $($name:literal),+;)+) => {
        &[$($((
            concat!("data/", $folder, "/", $name),
            include_str!(concat!("../../../schemas/", $name)),
        ),)+)+]
    };
}

/// Path of the schema.
pub const SCHEMA: &str = "data/schema/tangmark-record-1.schema.json";

/// Format pages and tools of this version, by their path in the bag.
pub const AIDS: &[(&str, &str)] = aids![
    "format":
        "key-history-format.md",
        "package-format.md",
        "record-fields.md",
        "record-format.md",
        "record-terms.md",
        "report-format.md",
        "verdicts.md";
    "tools": "check_record.py", "check_record.mjs";
];

/// Path and digest of those that earlier versions had, where they differ from these.
pub const EARLIER: &[(&str, &str)] = &[];

/// Every file that goes into a package for whoever checks it, but for the verifier page.
pub fn files() -> impl Iterator<Item = (&'static str, &'static str)> {
    std::iter::once((SCHEMA, schema::RECORD_V1)).chain(AIDS.iter().copied())
}

/// Digests of the format pages and tools that were released, by their path in the bag.
pub fn released() -> &'static BTreeMap<&'static str, Vec<String>> {
    static RELEASED: OnceLock<BTreeMap<&str, Vec<String>>> = OnceLock::new();
    RELEASED.get_or_init(|| {
        let mut found: BTreeMap<&str, Vec<String>> = BTreeMap::new();
        let now = AIDS
            .iter()
            .map(|(path, text)| (*path, Digest::of(text.as_bytes()).to_string()));
        let earlier = EARLIER
            .iter()
            .map(|(path, digest)| (*path, (*digest).to_owned()));
        for (path, digest) in now.chain(earlier) {
            found.entry(path).or_default().push(digest);
        }
        found
    })
}

/// Whether a format page or tool is one that was released under its name.
pub fn is_released(path: &str, digest: &Digest) -> bool {
    let digest = digest.to_string();
    released()
        .get(path)
        .is_some_and(|digests| digests.contains(&digest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_released_is_known_by_name_and_bytes() {
        for (path, text) in AIDS {
            let digest = Digest::of(text.as_bytes());
            assert!(is_released(path, &digest), "{path}");
            assert!(!is_released(path, &Digest::of(b"x")), "{path}");
            assert!(!is_released("data/tools/other.py", &digest), "{path}");
        }
        for (path, digest) in EARLIER {
            assert!(digest.parse::<Digest>().is_ok(), "{path}");
        }
    }
}
