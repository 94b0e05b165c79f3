//! Small packages for tests: files by path, manifests that fit them, written as a folder or a zip file.
#![allow(clippy::unwrap_used)]
use std::collections::BTreeMap;
use std::fs;

use tangmark_core::Digest;

use crate::bag;
use crate::zip::tests::{End, stored, zip};

/// What `bagit.txt` holds.
pub(crate) const BAGIT: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// Files by their path in the bag.
pub(crate) type Files = BTreeMap<String, Vec<u8>>;

/// Writes the declaration and the manifests of what is there anew.
pub(crate) fn manifests(files: &mut Files) {
    files.insert(bag::DECLARATION.to_owned(), BAGIT.into());
    let line = |path: &str, bytes: &[u8]| format!("{}  {path}\n", Digest::of(bytes));
    let payload: String = files
        .iter()
        .filter(|(path, _)| path.starts_with("data/"))
        .map(|(path, bytes)| line(path, bytes))
        .collect();
    files.insert(bag::PAYLOAD_MANIFEST.to_owned(), payload.into());
    let tags = [bag::DECLARATION, bag::PAYLOAD_MANIFEST]
        .iter()
        .filter_map(|path| Some(line(path, files.get(*path)?)))
        .collect::<String>();
    files.insert(bag::TAG_MANIFEST.to_owned(), tags.into());
}

pub(crate) fn folder(files: &Files) -> tempfile::TempDir {
    let top = tempfile::tempdir().unwrap();
    for (path, bytes) in files {
        let path = top.path().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    }
    top
}

pub(crate) fn zipped(files: &Files) -> Vec<u8> {
    let entries: Vec<_> = files
        .iter()
        .map(|(path, bytes)| stored(&format!("top/{path}"), bytes))
        .collect();
    zip(&entries, End::default())
}
