//! Drawing again: kind and language from the title, paper and pictures from the pages.

use std::collections::BTreeMap;

use tangmark_core::Digest;
use tangmark_core::record::{Photo, PhotoFile};
use tangmark_report::font::FontSet;
use tangmark_report::jpeg::TRANSFORM;
use tangmark_report::scene::Image;
use tangmark_report::{
    Beside, Kind, PageSize, RenderError, RenderInput, Revealed, Speech, picture_files, render_again,
};
use tangmark_trust::PublicKey;
use tangmark_trust::pdf::BYTE_RANGE_PLACEHOLDER;

use super::{Pages, Received, differences};

/// Wider paper than this is Letter (612 points), narrower A4 (595.276 points); in thousandths of a point.
const BETWEEN_A4_AND_LETTER: i64 = 604_000;

/// Pictures of a report, by the file of the record that each stands for.
struct Pictures {
    images: BTreeMap<Digest, Image>,
    /// Some are copies that were made for the report: their own digest stands in no record.
    copies: bool,
}

impl Received<'_> {
    /// Draws the report again and compares every byte but those of the signature.
    pub(super) fn drawn_again(&self) -> Pages {
        let own: Vec<&str> = self
            .view
            .fonts
            .iter()
            .map(String::as_str)
            .filter(|font| !FontSet::bundled().names().any(|ours| ours == *font))
            .collect();
        if !own.is_empty() {
            return self.not_compared(format!(
                "the pages use fonts that do not come with this program: {}",
                super::shortened(&own.join(", "))
            ));
        }
        let pictures = self.pictures();
        let mut first_other = None;
        for ((kind, kind_word), (speech, language)) in self.titled() {
            match self.draw(kind, speech, &pictures.images) {
                Ok(drawn) if same_but_signature(&drawn, self.pdf) => {
                    return Pages::SamePages {
                        kind: kind_word,
                        language,
                    };
                }
                Ok(drawn) => {
                    first_other.get_or_insert(drawn);
                }
                Err(RenderError::NothingEarlier { .. }) => {
                    return self.not_compared(
                        "a comparison needs the earlier records, handed in with `--with FILE`"
                            .to_owned(),
                    );
                }
                Err(error) => {
                    return Pages::OtherPages {
                        differences: vec![format!("it cannot be drawn: {error}")],
                    };
                }
            }
        }
        if self.missing() > 0 {
            return self.not_compared(format!(
                "{} of the records before this one, which pages may show, were not handed in with `--with FILE`",
                self.missing()
            ));
        }
        match first_other {
            // The words for a copy that was made for one report only stand nowhere but on its pages.
            Some(_) if pictures.copies => self.not_compared(
                "the pages show copies of photos that were made for them alone".to_owned(),
            ),
            Some(drawn) => Pages::OtherPages {
                differences: differences::between(&drawn, &self.view),
            },
            None => Pages::OtherPages {
                differences: vec![format!(
                    "no report of this record has the title `{}`",
                    super::shortened(self.view.title.as_deref().unwrap_or_default())
                )],
            },
        }
    }

    fn draw(
        &self,
        kind: Kind,
        speech: Speech,
        pictures: &BTreeMap<Digest, Image>,
    ) -> Result<Vec<u8>, RenderError> {
        let wide = self
            .view
            .pages
            .first()
            .is_some_and(|page| page.size[0] > BETWEEN_A4_AND_LETTER);
        let key = PublicKey::from_did(self.record.issuer.id.as_str()).ok();
        let fingerprint = key.map_or_else(String::new, |key| key.fingerprint().to_string());
        let input = RenderInput {
            record_bytes: self.record_bytes,
            photos: &BTreeMap::new(),
            page: if wide { PageSize::Letter } else { PageSize::A4 },
            demo: false,
            fingerprint: &fingerprint,
            kind,
            speech,
            earlier: &self.earlier,
        };
        let disclosures = self.examined.disclosures_bytes.as_deref();
        let beside = Beside {
            revealed: disclosures.map(|disclosures| Revealed {
                record: &self.shown,
                disclosures,
            }),
            history: self.examined.history_bytes.as_deref(),
        };
        let drawn =
            FontSet::bundled().scope(|| render_again(&self.record, &beside, &input, pictures))?;
        Ok(drawn.pdf)
    }

    /// Finds for each picture of the pages the photo that it stands for: by digest, or, where metadata were left out for
    /// the report, by its pixels.
    fn pictures(&self) -> Pictures {
        let mut images = BTreeMap::new();
        let mut copies = Vec::new();
        let photos: Vec<&Photo> = std::iter::once(&self.shown)
            .chain(&self.earlier)
            .flat_map(|record| &record.photos)
            .collect();
        for bytes in &self.view.pictures {
            let digest = Digest::of(bytes);
            let Ok(image) = Image::of(bytes, digest) else {
                continue;
            };
            let named = photos
                .iter()
                .any(|photo| picture_files(photo).contains(&digest));
            if named {
                images.insert(digest, image);
            } else {
                copies.push(image);
            }
        }
        let open: Vec<&PhotoFile> = photos
            .iter()
            .filter(|photo| {
                let files = picture_files(photo);
                !files.iter().any(|digest| images.contains_key(digest))
            })
            .filter_map(|photo| photo.original.as_ref())
            .collect();
        let made_copies = !copies.is_empty();
        for copy in copies {
            let (width, height) = (copy.header.width.into(), copy.header.height.into());
            let mut fitting = open
                .iter()
                .filter(|file| (file.width_px, file.height_px) == (width, height));
            if let (Some(file), None) = (fitting.next(), fitting.next()) {
                let image = Image {
                    left_out: Some(TRANSFORM.to_owned()),
                    ..copy
                };
                images.insert(file.digest, image);
            }
        }
        Pictures {
            images,
            copies: made_copies,
        }
    }
}

/// Whether a drawn report, its place for the signature still empty, is the received one but for what signing fills in.
fn same_but_signature(drawn: &[u8], received: &[u8]) -> bool {
    let place = |bytes: &[u8], mark: &[u8]| {
        bytes
            .windows(mark.len())
            .position(|window| window == mark)
            .map(|start| start + mark.len())
    };
    let (Some(range), Some(digits)) = (
        place(drawn, b"/ByteRange "),
        place(drawn, b"/Contents <0000"),
    ) else {
        return false;
    };
    let digits = digits - 4;
    let length = drawn.get(digits..).map_or(0, |rest| {
        rest.iter().take_while(|byte| **byte == b'0').count()
    });
    let filled = [
        range..range + BYTE_RANGE_PLACEHOLDER.len(),
        digits..digits + length,
    ];
    let mut start = 0;
    let mut same = drawn.len() == received.len() && filled[0].end < filled[1].start;
    for gap in filled {
        same &= drawn.get(start..gap.start) == received.get(start..gap.start);
        start = gap.end;
    }
    same && drawn.get(start..) == received.get(start..)
}
