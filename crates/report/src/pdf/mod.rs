//! A scene as a PDF 1.7 file: tagged, with embedded fonts, an associated record and a place for one signature.
//!
//! printpdf writes pages, fonts and pictures; everything that makes the file archival (PDF/A-3a),
//! accessible (PDF/UA-1), reproducible and ready to be signed is added here, over the lopdf
//! document that printpdf hands over. The file is written once: one revision, one cross-reference
//! table, and a signature dictionary of fixed width that is filled in place.

mod catalog;
mod content;
mod date;
mod finish;
mod fonts;
mod icc;
mod images;
mod signature;
mod stream;
mod syntax;
mod tags;
mod text;
mod version;
mod xmp;

use lopdf::{Object, ObjectId, StringFormat};
use printpdf::{Mm, PdfDocument, PdfPage, PdfSaveOptions};
use tangmark_core::Digest;

use crate::scene::Scene;

pub use version::{Renderer, renderer};

/// What a PDF says of itself beside its pages.
#[derive(Debug, Clone)]
pub struct Metadata<'a> {
    /// Title, shown in the window's title bar.
    pub title: &'a str,
    /// Who issued the report.
    pub author: &'a str,
    /// One line on what it is.
    pub subject: &'a str,
    /// The program that made it, with its version.
    pub producer: &'a str,
    /// When the record was issued, RFC 3339 in UTC (`2026-01-02T03:04:05Z`); the signature says the same. Of pages that show
    /// no record, when they were made.
    pub issued_at: &'a str,
    /// Digest that names the file in its trailer: that of the record, or one of what stands on the pages.
    pub id: Digest,
    /// The sealed record that the pages show; none for pages that show no record.
    pub sealed: Option<Sealed<'a>>,
}

/// The sealed record behind the pages, and what lies beside it.
#[derive(Debug, Clone, Copy)]
pub struct Sealed<'a> {
    /// Digest that names the record.
    pub record: Digest,
    /// File name of the attached record.
    pub attachment_name: &'a str,
    /// The attached record, byte for byte.
    pub attachment: &'a [u8],
    /// The disclosures of what the pages show although the record withholds it; attached as `disclosures.json`.
    pub disclosures: Option<&'a [u8]>,
    /// The key history of the issuer, where another of its keys will sign; attached as `key-history.json`.
    pub history: Option<&'a [u8]>,
}

/// Why no PDF could be written.
#[derive(Debug, thiserror::Error)]
pub enum PdfError {
    /// The date is not RFC 3339 in UTC.
    #[error("issued_at is `{0}`; a time in UTC like 2026-01-02T03:04:05Z is allowed")]
    Date(String),
    /// The font could not be reduced.
    #[error("font {name} cannot be reduced to the characters used: {reason}")]
    Font {
        /// Its place in the set of fonts.
        index: usize,
        /// PostScript name.
        name: String,
        /// Why.
        reason: subsetter::Error,
    },
    /// printpdf or lopdf left the document in another shape than expected.
    #[error("PDF document lacks {0}")]
    Shape(&'static str),
    /// lopdf refused.
    #[error("PDF document cannot be put together: {0}")]
    Document(#[from] lopdf::Error),
    /// Writing failed.
    #[error("PDF document cannot be written: {0}")]
    Write(#[from] std::io::Error),
}

/// Writes `scene` as PDF. The same scene and metadata give the same bytes.
///
/// The signature field, if the scene has one, holds a placeholder: `/ByteRange [0 0000000000
/// 0000000000 0000000000]` and `/Contents <` 16384 zeros `>`, each once in the file.
///
/// # Errors
/// A date in another form, or a failure of the PDF libraries.
pub fn write(scene: &Scene, metadata: &Metadata<'_>) -> Result<Vec<u8>, PdfError> {
    let issued = date::Timestamp::parse(metadata.issued_at)?;
    let fonts = fonts::Fonts::of(scene)?;
    let mut source = PdfDocument::new(metadata.title);
    for font in fonts.subsets() {
        source
            .resources
            .fonts
            .map
            .insert(font.id(), font.embedded());
    }
    images::add(scene, &mut source.resources.xobjects);
    let (mut marks, mut operations) = (Vec::new(), Vec::new());
    for page in &scene.pages {
        let drawn = content::operations(scene, page, &fonts);
        source.pages.push(PdfPage::new(
            Mm(content::narrow(page.width)),
            Mm(content::narrow(page.height)),
            Vec::new(),
        ));
        operations.push(drawn.operations);
        marks.push(drawn.marks);
    }
    let streams = operations
        .iter()
        .map(|operations| stream::encode(operations))
        .collect::<Result<Vec<_>, _>>()?;
    drop(operations);
    if let Some(first) = source.pages.first_mut() {
        first.ops = fonts.shown();
    }
    let mut document = source.to_lopdf_document(&PdfSaveOptions::default(), &mut Vec::new());
    drop(source);

    let pages: Vec<ObjectId> = document.get_pages().into_values().collect();
    if pages.len() != scene.pages.len() {
        return Err(PdfError::Shape("a page"));
    }
    for (page, bytes) in pages.iter().zip(streams) {
        let content = document
            .get_object(*page)?
            .as_dict()?
            .get(b"Contents")
            .and_then(Object::as_reference)?;
        let content = document.get_object_mut(content)?.as_stream_mut()?;
        content.set_content(bytes);
    }
    fonts.complete(&mut document)?;
    if let Some(first) = pages.first() {
        images::add_profiles(&mut document, scene, *first)?;
    }
    let tree = tags::add(&mut document, scene, &pages, &marks)?;
    if let Some(field) = &scene.signature {
        signature::add(
            &mut document,
            scene,
            &pages,
            &tree,
            field,
            metadata,
            &issued,
        )?;
    }
    catalog::complete(&mut document, scene, &pages, metadata, &issued, &tree)?;
    finish::write(document)
}

/// Resource name of a picture.
fn image_name(index: usize) -> String {
    format!("Photo{index}")
}

/// A text string object: ASCII as it is, anything else as UTF-16 with byte order mark.
///
/// Source: ISO 32000-1, 7.9.2.2.
fn text_string(text: &str) -> Object {
    if text.is_ascii() && imitates_signature(text.as_bytes()) {
        return Object::String(text.as_bytes().to_vec(), StringFormat::Hexadecimal);
    }
    if text.is_ascii() {
        return Object::String(text.as_bytes().to_vec(), StringFormat::Literal);
    }
    Object::String(utf16(text), StringFormat::Hexadecimal)
}

/// UTF-16 with byte order mark.
fn utf16(text: &str) -> Vec<u8> {
    let mut bytes = vec![0xfe, 0xff];
    for unit in text.encode_utf16() {
        bytes.extend(unit.to_be_bytes());
    }
    bytes
}

/// Whether words of the user read like keys of the signature dictionary. Such words are written in
/// another spelling, since the one signature's place is found by its text.
fn imitates_signature(bytes: &[u8]) -> bool {
    [b"/ByteRange".as_slice(), b"/Contents"]
        .iter()
        .any(|key| bytes.windows(key.len()).any(|window| window == *key))
}

#[cfg(test)]
mod tests;
