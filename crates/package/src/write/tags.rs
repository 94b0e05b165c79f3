//! The tag files of a bag. Source: RFC 8493, 2.1.1 (`bagit.txt`), 2.1.3 and 2.2.1 (manifests), 2.2.2 (`bag-info.txt`).

use std::collections::BTreeMap;
use std::fmt::Write as _;

use tangmark_core::Digest;

use super::Written;
use super::content::{Sink, put};
use super::error::WriteError;

const DECLARATION: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// The two tag files that stand before the payload in the order of paths.
pub(super) fn first(size: Written) -> [(&'static str, String); 2] {
    let Written { files, bytes } = size;
    [
        ("bag-info.txt", format!("Payload-Oxum: {bytes}.{files}\n")),
        ("bagit.txt", DECLARATION.to_owned()),
    ]
}

/// Writes the two manifests, which stand after the payload.
pub(super) fn manifests(
    sink: &mut dyn Sink,
    first: &[(&'static str, String); 2],
    payload: &BTreeMap<String, Digest>,
) -> Result<(), WriteError> {
    let manifest = lines(payload.iter().map(|(path, digest)| (path.as_str(), digest)));
    let mut tags: BTreeMap<&str, Digest> = first
        .iter()
        .map(|(path, text)| (*path, Digest::of(text.as_bytes())))
        .collect();
    tags.insert(MANIFEST, Digest::of(manifest.as_bytes()));
    put(sink, MANIFEST, manifest.as_bytes())?;
    let tags = lines(tags.iter().map(|(path, digest)| (*path, digest)));
    put(sink, "tagmanifest-sha256.txt", tags.as_bytes())
}

const MANIFEST: &str = "manifest-sha256.txt";

fn lines<'a>(files: impl Iterator<Item = (&'a str, &'a Digest)>) -> String {
    let mut text = String::new();
    for (path, digest) in files {
        // Line ends cannot stand in a path of ours; the sign that escapes them can.
        let path = path.replace('%', "%25");
        let _ = writeln!(text, "{digest}  {path}");
    }
    text
}
