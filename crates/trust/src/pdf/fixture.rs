//! A small report for tests: one page, signature field, certification, embedded record; and ways to change it.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::{collections::BTreeMap, fmt::Write as _, sync::LazyLock};

use super::{BYTE_RANGE_PLACEHOLDER, fill_signature, place::CONTENTS_DIGITS};
use crate::{PrivateKey, certificate};

pub(super) const RECORD: &[u8] = br#"{"blade":"invented","record_id":"0"}"#;
pub(crate) const CREATED: &str = "2026-01-02T03:04:05Z";

/// Numbers of the objects of the draft.
pub(super) mod number {
    pub(in super::super) const CATALOG: u32 = 1;
    pub(in super::super) const PAGES: u32 = 2;
    pub(in super::super) const PAGE: u32 = 3;
    pub(in super::super) const CONTENT: u32 = 4;
    pub(in super::super) const FIELD: u32 = 5;
    pub(in super::super) const SIGNATURE: u32 = 6;
    pub(in super::super) const FILE: u32 = 7;
    pub(in super::super) const RECORD: u32 = 8;
    pub(in super::super) const INFO: u32 = 9;
    pub(in super::super) const FORM: u32 = 10;
    /// The first number that is free.
    pub(in super::super) const NEXT: u32 = 11;
}

/// The objects of a report, as text that tests change before it is written.
#[derive(Clone)]
pub(crate) struct Draft {
    pub(super) objects: BTreeMap<u32, Vec<u8>>,
    pub(super) trailer: String,
}

pub(super) fn stream(entries: &str, bytes: &[u8]) -> Vec<u8> {
    let head = format!("<<{entries}/Length {}>>stream\n", bytes.len());
    [head.as_bytes(), bytes, b"\nendstream"].concat()
}

pub(super) fn deflate(bytes: &[u8]) -> Vec<u8> {
    use std::io::Write as _;
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}

/// The signature dictionary with the given range and contents.
pub(super) fn signature_dictionary(range: &str, contents: &str) -> String {
    format!(
        "<</Type/Sig/Filter/Adobe.PPKLite/SubFilter/ETSI.CAdES.detached/M(D:20260102030405Z)\
         /ByteRange {range}/Contents <{contents}>\
         /Reference[<</Type/SigRef/TransformMethod/DocMDP/TransformParams<</Type/TransformParams/P 1/V/1.2>>>>]>>"
    )
}

impl Draft {
    pub(crate) fn new() -> Self {
        let mut draft = Self {
            objects: BTreeMap::new(),
            trailer: String::new(),
        };
        draft.set(
            number::CATALOG,
            "<</Type/Catalog/Pages 2 0 R/AcroForm 10 0 R/Perms<</DocMDP 6 0 R>>/AF[7 0 R]\
             /Names<</EmbeddedFiles<</Names[(record.json)7 0 R]>>>>>>",
        );
        draft.set(number::PAGES, "<</Type/Pages/Kids[3 0 R]/Count 1>>");
        draft.set(
            number::PAGE,
            "<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]/Contents 4 0 R/Resources<<>>/Annots[5 0 R]>>",
        );
        draft.objects.insert(
            number::CONTENT,
            stream("", b"0.2 0.2 0.2 rg 20 90 160 8 re f"),
        );
        draft.set(
            number::FIELD,
            "<</Type/Annot/Subtype/Widget/FT/Sig/T(Workshop)/V 6 0 R/P 3 0 R/Rect[0 0 0 0]/F 132>>",
        );
        draft.set(
            number::SIGNATURE,
            &signature_dictionary(BYTE_RANGE_PLACEHOLDER, &"0".repeat(CONTENTS_DIGITS)),
        );
        draft.set(
            number::FILE,
            "<</Type/Filespec/F(record.json)/UF<FEFF007200650063006F00720064002E006A0073006F006E>\
             /AFRelationship/Source/EF<</F 8 0 R/UF 8 0 R>>>>",
        );
        draft.carry_record(RECORD);
        draft.set(number::INFO, "<</Title(Report)>>");
        draft.set(number::FORM, "<</Fields[5 0 R]/SigFlags 3>>");
        draft.trailer = "/Root 1 0 R/Info 9 0 R/ID[<00><00>]".to_owned();
        draft
    }

    pub(super) fn set(&mut self, number: u32, text: &str) {
        self.set_bytes(number, text.as_bytes().to_vec());
    }

    pub(super) fn set_bytes(&mut self, number: u32, bytes: Vec<u8>) {
        self.objects.insert(number, bytes);
    }

    pub(super) fn text(&self, number: u32) -> String {
        String::from_utf8(self.objects[&number].clone()).unwrap()
    }

    /// Puts another record in the place of the usual one.
    pub(crate) fn carry_record(&mut self, record: &[u8]) {
        let entries = "/Type/EmbeddedFile/Subtype/application#2Fjson/Filter/FlateDecode";
        self.set_bytes(number::RECORD, stream(entries, &deflate(record)));
    }

    /// Embeds disclosures beside the record, as objects [`number::NEXT`] and the one after it.
    pub(crate) fn carry_disclosures(&mut self, disclosures: &[u8]) {
        self.carry("disclosures.json", number::NEXT, disclosures);
    }

    /// Embeds a key history beside the record and what was embedded before, as the two objects after those.
    pub(crate) fn carry_history(&mut self, history: &[u8]) {
        self.carry("key-history.json", number::NEXT + 2, history);
    }

    fn carry(&mut self, name: &str, file: u32, bytes: &[u8]) {
        let stream_number = file + 1;
        self.replace(
            number::CATALOG,
            "(record.json)7 0 R]",
            &format!("({name}){file} 0 R(record.json)7 0 R]"),
        );
        let catalog = self.text(number::CATALOG);
        let start = catalog.find("/AF[").unwrap();
        let end = start + catalog[start..].find(']').unwrap();
        let listed = &catalog[start..end];
        self.replace(number::CATALOG, listed, &format!("{listed} {file} 0 R"));
        self.set(
            file,
            &format!(
                "<</Type/Filespec/F({name})/UF({name})/AFRelationship/Supplement\
                 /EF<</F {stream_number} 0 R/UF {stream_number} 0 R>>>>"
            ),
        );
        self.set_bytes(
            stream_number,
            stream("/Type/EmbeddedFile/Subtype/application#2Fjson", bytes),
        );
    }

    /// Replaces `old`, which must stand in the object once.
    pub(super) fn replace(&mut self, number: u32, old: &str, new: &str) {
        let text = self.text(number);
        assert_eq!(text.matches(old).count(), 1, "`{old}` in `{text}`");
        self.set(number, &text.replace(old, new));
    }

    /// The text of an object of an unchanged draft after such a replacement.
    pub(super) fn changed(number: u32, old: &str, new: &str) -> Vec<u8> {
        let mut draft = Self::new();
        draft.replace(number, old, new);
        draft.text(number).into_bytes()
    }

    /// Adds entries to the dictionary of an object.
    pub(super) fn add(&mut self, number: u32, entries: &str) {
        let text = self.text(number);
        let inside = text.strip_suffix(">>").unwrap();
        self.set(number, &format!("{inside}{entries}>>"));
    }

    pub(crate) fn write(&self) -> Vec<u8> {
        let mut bytes = b"%PDF-1.7\n%\xbb\xad\xc0\xde\n".to_vec();
        let mut table = String::from("xref\n0 1\n0000000000 65535 f \n");
        for (number, object) in &self.objects {
            if !self.objects.contains_key(&(number - 1)) {
                let run = (*number..=u32::MAX)
                    .take_while(|next| self.objects.contains_key(next))
                    .count();
                // Written as one section when the numbers have no gap, as writers do.
                if *number == 1 {
                    table = table.replace("0 1\n", &format!("0 {}\n", run + 1));
                } else {
                    writeln!(table, "{number} {run}").unwrap();
                }
            }
            writeln!(table, "{:010} 00000 n ", bytes.len()).unwrap();
            bytes.extend(format!("{number} 0 obj\n").bytes());
            bytes.extend(object);
            bytes.extend(b"\nendobj\n");
        }
        let start = bytes.len();
        let size = self.objects.keys().next_back().unwrap() + 1;
        bytes.extend(table.bytes());
        bytes.extend(
            format!(
                "trailer\n<<{}/Size {size}>>\nstartxref\n{start}\n%%EOF",
                self.trailer
            )
            .bytes(),
        );
        bytes
    }

    /// The draft, signed although it may break rules.
    pub(super) fn force_signed(&self) -> Vec<u8> {
        force_sign(self.write(), &key(), &certificate_of(&key()))
    }
}

pub(super) fn key() -> PrivateKey {
    PrivateKey::from_entropy([5; 32]).unwrap()
}

pub(super) fn other_key() -> PrivateKey {
    PrivateKey::from_entropy([6; 32]).unwrap()
}

pub(super) fn certificate_of(key: &PrivateKey) -> Vec<u8> {
    certificate::self_issued(key, "Example workshop", CREATED).unwrap()
}

/// The report as a workshop would hand it over. Made once: signing is the slow part of many tests.
pub(super) fn signed() -> Vec<u8> {
    static SIGNED: LazyLock<Vec<u8>> = LazyLock::new(sign_again);
    SIGNED.clone()
}

pub(super) fn sign_again() -> Vec<u8> {
    fill_signature(Draft::new().write(), &key(), &certificate_of(&key())).unwrap()
}

/// Where `part` begins; it must be there.
pub(super) fn find(bytes: &[u8], part: &[u8]) -> usize {
    bytes
        .windows(part.len())
        .position(|window| window == part)
        .expect("part of the file")
}

/// Places of `<` and behind `>` of the signature.
pub(super) fn gap(bytes: &[u8]) -> (usize, usize) {
    let open = find(bytes, b"/Contents <") + b"/Contents ".len();
    (open, open + CONTENTS_DIGITS + 2)
}

/// Writes a signature over everything but its own string, whatever the signed range says.
pub(super) fn fill_contents(mut bytes: Vec<u8>, key: &PrivateKey, certificate: &[u8]) -> Vec<u8> {
    let (open, close) = gap(&bytes);
    let signature = super::cms::sign(
        &super::fill::digest_without(&bytes, open, close),
        key,
        certificate,
    )
    .unwrap();
    let digits = data_encoding::HEXLOWER.encode(&signature);
    bytes[open + 1..=open + digits.len()].copy_from_slice(digits.as_bytes());
    bytes
}

/// A report whose signed range is written as `range`, signed over everything but the signature's string.
pub(super) fn signed_with_range(range: &str) -> Vec<u8> {
    let mut draft = Draft::new();
    draft.replace(number::SIGNATURE, BYTE_RANGE_PLACEHOLDER, range);
    fill_contents(draft.write(), &key(), &certificate_of(&key()))
}

/// Signs a file without asking whether it is sound.
pub(crate) fn force_sign(mut bytes: Vec<u8>, key: &PrivateKey, certificate: &[u8]) -> Vec<u8> {
    let (open, close) = gap(&bytes);
    let range = super::place::write_numbers([open, close, bytes.len() - close]).unwrap();
    let place = find(&bytes, BYTE_RANGE_PLACEHOLDER.as_bytes());
    bytes[place..place + range.len()].copy_from_slice(range.as_bytes());
    fill_contents(bytes, key, certificate)
}

/// Appends a revision in the way PDF editors do.
pub(super) fn append_revision(bytes: &[u8], objects: &[(u32, Vec<u8>)], size: u32) -> Vec<u8> {
    let previous = find(bytes, b"xref\n0 ");
    let mut out = bytes.to_vec();
    out.push(b'\n');
    let mut table = String::from("xref\n");
    for (number, object) in objects {
        write!(table, "{number} 1\n{:010} 00000 n \n", out.len()).unwrap();
        out.extend(format!("{number} 0 obj\n").bytes());
        out.extend(object);
        out.extend(b"\nendobj\n");
    }
    let start = out.len();
    out.extend(table.bytes());
    let trailer = format!("/Root 1 0 R/Info 9 0 R/Size {size}/Prev {previous}");
    out.extend(format!("trailer\n<<{trailer}>>\nstartxref\n{start}\n%%EOF").bytes());
    out
}
