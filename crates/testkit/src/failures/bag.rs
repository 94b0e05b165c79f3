//! Packages for trials: the files of a bag in memory, with manifests that fit or do not.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use tangmark_core::Digest;

use super::zip::{Entry, Zip};

/// The one top folder of all trial packages.
pub const TOP: &str = "trial-handover";

/// Files of a bag by path.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bag {
    /// Path in the bag, and bytes.
    pub files: BTreeMap<String, Vec<u8>>,
}

impl Bag {
    /// Puts a file below `data/`.
    pub fn put(&mut self, path: &str, bytes: impl Into<Vec<u8>>) {
        self.files.insert(format!("data/{path}"), bytes.into());
    }

    /// The bytes of a file below `data/`; nothing if it is not there.
    pub fn data(&self, path: &str) -> Vec<u8> {
        self.files
            .get(&format!("data/{path}"))
            .cloned()
            .unwrap_or_default()
    }

    /// Takes a file below `data/` out.
    pub fn take(&mut self, path: &str) -> Vec<u8> {
        self.files
            .remove(&format!("data/{path}"))
            .unwrap_or_default()
    }

    /// Writes the tag files anew, so that the manifests fit what is here.
    pub fn close(&mut self) {
        let payload: Vec<(&String, &Vec<u8>)> = self
            .files
            .iter()
            .filter(|(path, _)| path.starts_with("data/"))
            .collect();
        let bytes: usize = payload.iter().map(|(_, bytes)| bytes.len()).sum();
        let info = format!("Payload-Oxum: {bytes}.{}\n", payload.len());
        let manifest = manifest(&payload);
        self.files.insert(
            "bagit.txt".to_owned(),
            b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n".to_vec(),
        );
        self.files
            .insert("bag-info.txt".to_owned(), info.into_bytes());
        self.files
            .insert("manifest-sha256.txt".to_owned(), manifest.into_bytes());
        self.close_tags();
    }

    /// Writes the manifest of the tag files anew.
    pub fn close_tags(&mut self) {
        self.files.remove("tagmanifest-sha256.txt");
        let tags: Vec<(&String, &Vec<u8>)> = self
            .files
            .iter()
            .filter(|(path, _)| !path.contains('/'))
            .collect();
        let manifest = manifest(&tags);
        self.files
            .insert("tagmanifest-sha256.txt".to_owned(), manifest.into_bytes());
    }

    /// The bag as a zip file that could still be changed.
    pub fn as_zip(&self) -> Zip {
        let mut zip = Zip::default();
        for (path, bytes) in &self.files {
            zip.entries
                .push(Entry::stored(&format!("{TOP}/{path}"), bytes));
        }
        zip
    }

    /// The bytes of the zip file.
    pub fn zipped(&self) -> Vec<u8> {
        self.as_zip().write()
    }
}

fn manifest(files: &[(&String, &Vec<u8>)]) -> String {
    let mut text = String::new();
    for (path, bytes) in files {
        let path = path
            .replace('%', "%25")
            .replace('\n', "%0A")
            .replace('\r', "%0D");
        // Writing to a text does not fail.
        let _ = writeln!(text, "{}  {path}", Digest::of(bytes));
    }
    text
}
