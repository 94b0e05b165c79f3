//! A signed report of one page, written by hand, so that one thing at a time can be another and still be signed.
//!
//! Source: ISO 32000-1 (from memory), and the format page of the signed report.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use sha2::{Digest as _, Sha256};
use tangmark_trust::pdf::BYTE_RANGE_PLACEHOLDER;
use tangmark_trust::{PrivateKey, certificate};

use super::der::{explicit, integer, octets, oid, sequence, set, tagged};
use super::pictures::zlib;
use crate::sealed::{MakeError, fault};

/// Hexadecimal digits of the place of the signature.
pub const DIGITS: usize = 16_384;

/// Numbers of the objects.
pub mod number {
    /// The catalogue.
    pub const CATALOG: u32 = 1;
    /// The page.
    pub const PAGE: u32 = 3;
    /// What is drawn on it.
    pub const CONTENT: u32 = 4;
    /// The signature field.
    pub const FIELD: u32 = 5;
    /// The signature dictionary.
    pub const SIGNATURE: u32 = 6;
    /// The document information.
    pub const INFO: u32 = 9;
    /// The form.
    pub const FORM: u32 = 10;
    /// The first number that is free.
    pub const NEXT: u32 = 17;
}

/// The objects of a report before it is signed.
#[derive(Clone, Debug)]
pub struct Draft {
    /// Objects by number.
    pub objects: BTreeMap<u32, Vec<u8>>,
    /// Further words of the trailer.
    pub trailer: String,
}

fn stream(entries: &str, bytes: &[u8]) -> Vec<u8> {
    let head = format!("<<{entries}/Length {}>>stream\n", bytes.len());
    [head.as_bytes(), bytes, b"\nendstream"].concat()
}

fn digits(time: &str) -> String {
    time.chars().filter(char::is_ascii_digit).collect()
}

/// Text that a page shows.
fn drawing(words: &str) -> Vec<u8> {
    format!("BT /F1 9 Tf 12 90 Td ({words}) Tj ET").into_bytes()
}

impl Draft {
    /// A report that carries files (`record.json` always; `disclosures.json`, `key-history.json`) and states a time.
    pub fn new(record: &[u8], others: &[(&str, &[u8])], time: &str) -> Self {
        let mut draft = Self {
            objects: BTreeMap::new(),
            trailer: "/Root 1 0 R/Info 9 0 R".to_owned(),
        };
        let mut files: Vec<(&str, &[u8])> = others.to_vec();
        files.sort_by_key(|(name, _)| *name);
        // The record is object 7 and 8, the others follow from 12 on; names are sorted, `AF` has the record first.
        let (mut names, mut associated) = (String::new(), "7 0 R".to_owned());
        let mut next = 12;
        for (name, bytes) in &files {
            draft.attach(next, name, "Supplement", bytes);
            let _ = write!(names, "({name}){next} 0 R");
            let _ = write!(associated, " {next} 0 R");
            next += 2;
        }
        draft.attach(7, "record.json", "Source", record);
        draft.set(
            number::CATALOG,
            &format!(
                "<</Type/Catalog/Pages 2 0 R/AcroForm 10 0 R/Perms<</DocMDP 6 0 R>>/AF[{associated}]\
                 /Names<</EmbeddedFiles<</Names[{names}(record.json)7 0 R]>>>>>>"
            ),
        );
        draft.set(2, "<</Type/Pages/Kids[3 0 R]/Count 1>>");
        draft.set(
            number::PAGE,
            "<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]/Contents 4 0 R/Resources<</Font<</F1 11 0 R>>>>/Annots[5 0 R]>>",
        );
        draft.objects.insert(
            number::CONTENT,
            stream("", &drawing("blade length 703.5 mm")),
        );
        draft.set(
            number::FIELD,
            "<</Type/Annot/Subtype/Widget/FT/Sig/T(Workshop)/V 6 0 R/P 3 0 R/Rect[0 0 0 0]/F 132>>",
        );
        draft.set(
            number::SIGNATURE,
            &format!(
                "<</Type/Sig/Filter/Adobe.PPKLite/SubFilter/ETSI.CAdES.detached/M(D:{}Z)/ByteRange {BYTE_RANGE_PLACEHOLDER}\
                 /Contents <{}>/Reference[<</Type/SigRef/TransformMethod/DocMDP\
                 /TransformParams<</Type/TransformParams/P 1/V/1.2>>>>]>>",
                digits(time),
                "0".repeat(DIGITS)
            ),
        );
        draft.set(number::INFO, "<</Title(Report)>>");
        draft.set(number::FORM, "<</Fields[5 0 R]/SigFlags 3>>");
        draft.set(11, "<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>");
        draft
    }

    fn attach(&mut self, number: u32, name: &str, relationship: &str, bytes: &[u8]) {
        let file = number + 1;
        self.set(
            number,
            &format!(
                "<</Type/Filespec/F({name})/UF({name})/AFRelationship/{relationship}/EF<</F {file} 0 R/UF {file} 0 R>>>>"
            ),
        );
        let entries = "/Type/EmbeddedFile/Subtype/application#2Fjson/Filter/FlateDecode";
        self.objects.insert(file, stream(entries, &zlib(bytes)));
    }

    /// Puts an object in the place of another.
    pub fn set(&mut self, number: u32, text: &str) {
        self.objects.insert(number, text.as_bytes().to_vec());
    }

    /// Changes the text of an object; nothing is done when `from` is not in it.
    pub fn replace(&mut self, number: u32, from: &str, to: &str) {
        if let Some(object) = self.objects.get(&number) {
            let text = String::from_utf8_lossy(object).replacen(from, to, 1);
            self.set(number, &text);
        }
    }

    /// Adds words to the dictionary of an object.
    pub fn add(&mut self, number: u32, words: &str) {
        if let Some(object) = self.objects.get(&number) {
            let text = String::from_utf8_lossy(object);
            let inside = text.strip_suffix(">>").unwrap_or(&text).to_owned();
            self.set(number, &format!("{inside}{words}>>"));
        }
    }

    /// Writes the catalogue into the trailer instead of an object of its own.
    pub fn catalogue_in_trailer(&mut self) {
        if let Some(catalogue) = self.objects.remove(&number::CATALOG) {
            let text = String::from_utf8_lossy(&catalogue);
            self.trailer = self.trailer.replace("1 0 R", &text);
        }
    }

    /// Draws other words on the page.
    pub fn show(&mut self, words: &str) {
        self.objects
            .insert(number::CONTENT, stream("", &drawing(words)));
    }

    /// The file, not signed.
    pub fn write(&self) -> Vec<u8> {
        let mut bytes = b"%PDF-1.7\n%\xbb\xad\xc0\xde\n".to_vec();
        let mut table = String::from("xref\n0 1\n0000000000 65535 f \n");
        for (number, object) in &self.objects {
            let _ = write!(table, "{number} 1\n{:010} 00000 n \n", bytes.len());
            bytes.extend(format!("{number} 0 obj\n").bytes());
            bytes.extend(object);
            bytes.extend(b"\nendobj\n");
        }
        let start = bytes.len();
        let size = self.objects.keys().next_back().map_or(1, |last| last + 1);
        bytes.extend(table.bytes());
        bytes.extend(
            format!(
                "trailer\n<<{}/Size {size}>>\nstartxref\n{start}\n%%EOF\n",
                self.trailer
            )
            .bytes(),
        );
        bytes
    }

    /// The file, signed, whatever rules it breaks.
    ///
    /// # Errors
    /// When the key's certificate cannot be made.
    pub fn signed(&self, key: &PrivateKey, name: &str, since: &str) -> Result<Vec<u8>, MakeError> {
        let certificate =
            certificate::self_issued(key, name, since).map_err(fault("certificate"))?;
        fill(self.write(), key, &certificate)
    }
}

/// Places of `<` and behind `>` of the signature's string.
///
/// # Errors
/// When there is none of the right length.
pub fn gap(pdf: &[u8]) -> Result<(usize, usize), MakeError> {
    let mark = b"/Contents <";
    let open = pdf
        .windows(mark.len())
        .enumerate()
        .find(|(at, window)| *window == mark && pdf.get(at + mark.len() + DIGITS) == Some(&b'>'))
        .map(|(at, _)| at + mark.len() - 1)
        .ok_or_else(|| fault("report")("no place for a signature"))?;
    Ok((open, open + DIGITS + 2))
}

/// Fills range and signature of a report.
///
/// # Errors
/// When it has no place for them.
pub fn fill(mut pdf: Vec<u8>, key: &PrivateKey, certificate: &[u8]) -> Result<Vec<u8>, MakeError> {
    let (open, close) = gap(&pdf)?;
    let range = format!("[0 {open:010} {close:010} {:010}]", pdf.len() - close);
    if let Some(at) = find(&pdf, BYTE_RANGE_PLACEHOLDER.as_bytes()) {
        pdf[at..at + range.len()].copy_from_slice(range.as_bytes());
    }
    refill(pdf, key, certificate)
}

/// Writes a signature over everything but its own string, whatever the range says.
///
/// # Errors
/// When it has no place for it.
pub fn refill(
    mut pdf: Vec<u8>,
    key: &PrivateKey,
    certificate: &[u8],
) -> Result<Vec<u8>, MakeError> {
    let (open, close) = gap(&pdf)?;
    let digest = Sha256::new()
        .chain_update(&pdf[..open])
        .chain_update(&pdf[close..])
        .finalize();
    let written = data_encoding::HEXLOWER.encode(&cms(&digest, key, certificate)?);
    let place = open + 1..close - 1;
    pdf[place.clone()].fill(b'0');
    pdf[place.start..place.start + written.len()].copy_from_slice(written.as_bytes());
    Ok(pdf)
}

/// Where `part` stands first.
pub fn find(bytes: &[u8], part: &[u8]) -> Option<usize> {
    memchr::memmem::find(bytes, part)
}

/// Tag and content of each value in DER, as whole stretches.
fn children(der: &[u8]) -> Vec<&[u8]> {
    let mut found = Vec::new();
    let mut rest = content(der);
    while let Some(length) = whole(rest) {
        found.push(&rest[..length]);
        rest = &rest[length..];
    }
    found
}

/// Bytes of the first value, head included; nothing at the end or when it is cut off.
fn whole(der: &[u8]) -> Option<usize> {
    let first = usize::from(*der.get(1)?);
    let length = if first < 128 {
        2 + first
    } else {
        let count = first & 0x7f;
        let digits = der.get(2..2 + count)?;
        2 + count
            + digits
                .iter()
                .fold(0_usize, |sum, digit| (sum << 8) | usize::from(*digit))
    };
    (length <= der.len()).then_some(length)
}

fn content(der: &[u8]) -> &[u8] {
    let head = match der.get(1) {
        Some(first) if *first < 128 => 2,
        Some(first) => 2 + usize::from(first & 0x7f),
        None => 0,
    };
    der.get(head..).unwrap_or_default()
}

/// The CMS structure of a report over a digest. Source: RFC 5652, 5; RFC 5035, 3.
///
/// # Errors
/// When the certificate cannot be taken apart.
pub fn cms(digest: &[u8], key: &PrivateKey, certificate: &[u8]) -> Result<Vec<u8>, MakeError> {
    let body = children(certificate);
    let fields = body.first().map(|body| children(body)).unwrap_or_default();
    let (Some(serial), Some(issuer)) = (fields.get(1), fields.get(3)) else {
        return Err(fault("certificate")("no serial number or issuer"));
    };
    let sha_256 = sequence(&[oid("2.16.840.1.101.3.4.2.1")]);
    let data = oid("1.2.840.113549.1.7.1");
    let attribute = |identifier: &str, value: Vec<u8>| sequence(&[oid(identifier), set(&[value])]);
    let attributes = set(&[
        attribute("1.2.840.113549.1.9.3", data.clone()),
        attribute("1.2.840.113549.1.9.4", octets(digest)),
        attribute(
            "1.2.840.113549.1.9.16.2.47",
            sequence(&[sequence(&[sequence(&[octets(&Sha256::digest(
                certificate,
            ))])])]),
        ),
    ]);
    let raw = key.sign(&attributes);
    let signature = sequence(&[integer(&raw[..32]), integer(&raw[32..])]);
    let mut implicit = attributes;
    implicit[0] = 0xa0;
    let signer = sequence(&[
        integer(&[1]),
        sequence(&[issuer.to_vec(), serial.to_vec()]),
        sha_256.clone(),
        implicit,
        sequence(&[oid("1.2.840.10045.4.3.2")]),
        octets(&signature),
    ]);
    let signed_data = sequence(&[
        integer(&[1]),
        set(&[sha_256]),
        sequence(&[data]),
        tagged(0xa0, certificate),
        set(&[signer]),
    ]);
    Ok(sequence(&[
        oid("1.2.840.113549.1.7.2"),
        explicit(0, &signed_data),
    ]))
}
