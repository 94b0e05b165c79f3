//! Where the pages of a report are not those that the record has.

use tangmark_trust::pdf::{self, PdfView};

use super::shortened;
use crate::counted;

/// The most differences that are told.
const TOLD: usize = 8;

/// Compares the words, then the drawings, page by page.
pub(super) fn between(drawn: &[u8], received: &PdfView) -> Vec<String> {
    let ours = pdf::view(drawn).unwrap_or_default();
    let mut found = Vec::new();
    if ours.pages.len() != received.pages.len() {
        found.push(format!(
            "{}, the record has {}",
            counted(received.pages.len(), "page"),
            ours.pages.len()
        ));
    }
    for (index, (our, their)) in ours.pages.iter().zip(&received.pages).enumerate() {
        let page = index + 1;
        if our.words != their.words {
            let mut lines = our.words.lines();
            let mut other = their.words.lines();
            let pair = loop {
                match (lines.next(), other.next()) {
                    (Some(one), Some(two)) if one == two => {}
                    (one, two) => break (one.unwrap_or("nothing"), two.unwrap_or("nothing")),
                }
            };
            found.push(format!(
                "page {page}: `{}` stands where the record gives `{}`",
                shortened(pair.1),
                shortened(pair.0)
            ));
        } else if our.drawn != their.drawn {
            found.push(format!(
                "page {page}: the same words, but another drawing or other places"
            ));
        }
    }
    if ours.pictures != received.pictures {
        found.push("other pictures".to_owned());
    }
    if found.is_empty() {
        found.push(
            "the same words, drawings and pictures, but fonts, marks for reading aloud or metadata differ"
                .to_owned(),
        );
    }
    let more = found.len().saturating_sub(TOLD);
    found.truncate(TOLD);
    if more > 0 {
        found.push(counted(more, "further difference"));
    }
    found
}
