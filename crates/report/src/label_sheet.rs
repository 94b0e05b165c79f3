//! A sheet of labels that show no record: for what lies in the workshop, sealed or not.

use std::collections::BTreeSet;

use tangmark_core::Digest;

use crate::{
    PageSize, RenderError, Rendered, Speech,
    layout::page_format::Frame,
    pages,
    pdf::{self, Metadata},
    render::with_usable_fonts,
};

/// Most bytes of the text of a label's code: more would need dots too small to be read from paper.
///
/// Source: a symbol of version 15 with error correction level M holds 412 bytes (ISO/IEC 18004, from memory; a test
/// counts the modules).
pub const LABEL_CODE_BYTES: usize = 412;

/// A label to cut out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Label<'a> {
    /// Key of the blade or fitting, in large letters; never cut.
    pub key: &'a str,
    /// Title; what finds no room is cut with dots.
    pub title: &'a str,
    /// What else is to be known at the shelf, such as a stage or a day; may be empty.
    pub line: &'a str,
    /// Text of the QR code, at most [`LABEL_CODE_BYTES`].
    pub code: &'a str,
    /// Whether it is tied to an edge: then it says so.
    pub sharp: bool,
}

/// What a sheet of labels says beside them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LabelSheet<'a> {
    /// Name of the workshop.
    pub workshop: &'a str,
    /// When it was made, RFC 3339 in UTC (`2026-01-02T03:04:05Z`).
    pub made_at: &'a str,
    /// Paper size.
    pub page: PageSize,
    /// Language.
    pub speech: Speech,
    /// Marks every page and label as a demonstration.
    pub demo: bool,
}

/// Returns a PDF with labels to cut out, each with a mark for the hole of a string, in the order given: ten on a page of
/// A4, eight on one of US letter. It is not signed, and shows no record.
///
/// The same labels, sheet and fonts in use ([`crate::font::FontSet::scope`]) give the same bytes.
///
/// # Errors
/// No label, or a code with more than [`LABEL_CODE_BYTES`]; a time in another form.
pub fn label_sheet(labels: &[Label<'_>], sheet: &LabelSheet<'_>) -> Result<Rendered, RenderError> {
    if labels.is_empty() {
        return Err(RenderError::NoLabels);
    }
    for label in labels {
        let found = label.code.len();
        if found > LABEL_CODE_BYTES {
            return Err(RenderError::LabelCode {
                key: label.key.to_owned(),
                found,
            });
        }
    }
    let (rendered, refused) = with_usable_fonts(|| press(labels, sheet))?;
    Ok(Rendered {
        refused,
        ..rendered
    })
}

fn press(labels: &[Label<'_>], sheet: &LabelSheet<'_>) -> Result<Rendered, RenderError> {
    let (scene, missing): (_, BTreeSet<char>) =
        pages::label_sheet::set(labels, sheet, Frame::of(sheet.page));
    let title = pages::label_sheet::title(labels.len(), sheet.speech);
    let metadata = Metadata {
        title: &title,
        author: sheet.workshop,
        subject: "Labels to cut out, not signed; they show no record",
        producer: &pdf::renderer().to_string(),
        issued_at: sheet.made_at,
        id: id_of(labels, sheet),
        sealed: None,
    };
    let pdf = pdf::write(&scene, &metadata)?;
    Ok(Rendered {
        pdf,
        pages: scene.pages.len(),
        missing,
        refused: Vec::new(),
    })
}

/// Names the file by all that it is made from.
fn id_of(labels: &[Label<'_>], sheet: &LabelSheet<'_>) -> Digest {
    Digest::of(format!("{sheet:?}\n{labels:?}").as_bytes())
}

#[cfg(test)]
mod tests;
