//! The tag files of a bag. Source: RFC 8493, 2.1.1 (`bagit.txt`), 2.1.3 and 2.2.1 (manifests), 2.2.2 (`bag-info.txt`).

use std::collections::BTreeMap;
use std::fmt::Write as _;

use tangmark_core::Digest;

use super::content::{Content, Sink, put};
use super::{Size, Watch, WriteError};

const DECLARATION: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

const INFO: &str = "bag-info.txt";
const BAGIT: &str = "bagit.txt";
const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";
/// Tag files of a package: `bagit.txt`, `bag-info.txt` and the two manifests.
pub(super) const FILES: usize = 4;

/// Length of a line of a manifest without its path.
const LINE: u64 = 64 + 2 + 1;

fn info(size: Size) -> String {
    let Size { files, bytes } = size;
    format!("Payload-Oxum: {bytes}.{files}\n")
}

/// Length of all tag files together, in bytes.
pub(super) fn length(content: &Content) -> u64 {
    let line = |path: &str| LINE + path.len() as u64;
    let manifest: u64 = content.files().map(|(path, _)| line(path)).sum();
    let tags = [INFO, BAGIT, MANIFEST].map(line).iter().sum::<u64>();
    manifest + tags + info(content.size()).len() as u64 + DECLARATION.len() as u64
}

/// Writes the whole bag into `sink`: the two tag files that stand before the payload in the order of paths, the payload,
/// and the two manifests.
pub(super) fn write(
    content: &Content,
    sink: &mut dyn Sink,
    watch: &mut Watch<'_>,
) -> Result<(), WriteError> {
    let mut first = BTreeMap::new();
    for (path, text) in [
        (INFO, info(content.size())),
        (BAGIT, DECLARATION.to_owned()),
    ] {
        put(sink, path, text.as_bytes())?;
        first.insert(path, Digest::of(text.as_bytes()));
    }
    let payload = content.pour(sink, watch)?;
    let manifest = lines(payload.iter().map(|(path, digest)| (path.as_str(), digest)));
    put(sink, MANIFEST, manifest.as_bytes())?;
    first.insert(MANIFEST, Digest::of(manifest.as_bytes()));
    let tags = lines(first.iter().map(|(path, digest)| (*path, digest)));
    put(sink, TAG_MANIFEST, tags.as_bytes())
}

const MANIFEST: &str = "manifest-sha256.txt";

fn lines<'a>(files: impl Iterator<Item = (&'a str, &'a Digest)>) -> String {
    let mut text = String::new();
    for (path, digest) in files {
        // Neither line ends nor the sign that escapes them can stand in a path of ours.
        let _ = writeln!(text, "{digest}  {path}");
    }
    text
}
