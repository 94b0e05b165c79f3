//! Drawing again: kind and language from the title, paper and pictures from the pages.

use std::collections::BTreeMap;

use tangmark_core::Digest;
use tangmark_core::record::{Photo, PhotoFile};
use tangmark_report::font::FontSet;
use tangmark_report::jpeg::TRANSFORM;
use tangmark_report::scene::Image;
use tangmark_report::{
    Beside, PageSize, RenderError, RenderInput, Revealed, picture_files, render_again,
};
use tangmark_trust::PublicKey;
use tangmark_trust::pdf::BYTE_RANGE_PLACEHOLDER;

use super::{Pages, Received, Titled, differences};

/// Wider paper than this is Letter (612 points), narrower A4 (595.276 points); in thousandths of a point.
const BETWEEN_A4_AND_LETTER: i64 = 604_000;

/// Most characters between the beginnings of the two digests in the caption of a copy.
const BETWEEN_DIGESTS: usize = 20;

/// Pictures of a report, by the file of the record that each stands for.
struct Pictures {
    images: BTreeMap<Digest, Image>,
    /// How many are copies that were made for the report: their own digest stands in no record.
    copies: usize,
}

impl Pictures {
    /// `1 picture on them is a copy that no record names`.
    fn told(&self) -> String {
        match self.copies {
            1 => "1 picture on them is a copy that no record names".to_owned(),
            copies => format!("{copies} pictures on them are copies that no record names"),
        }
    }
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
        for titled in self.titled() {
            let (kind_word, language) = (titled.kind.1, titled.speech.1);
            match self.draw(&titled, &pictures.images) {
                Ok(drawn) if same_but_signature(&drawn, self.pdf) => {
                    return match pictures.copies {
                        0 => Pages::SamePages {
                            kind: kind_word,
                            language,
                        },
                        // What such a picture shows was taken from the report itself.
                        copies => Pages::NotCompared {
                            reason: format!(
                                "{}; all else is equal to the pages drawn again (kind {kind_word}, language {language})",
                                pictures.told()
                            ),
                            pictures_not_named: copies,
                            differences: Vec::new(),
                        },
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
            // How a copy was made for one report only may stand nowhere but on its pages.
            Some(drawn) if pictures.copies > 0 => Pages::NotCompared {
                reason: format!(
                    "{}, and drawn again with what could be found of them other pages come out",
                    pictures.told()
                ),
                pictures_not_named: pictures.copies,
                differences: differences::between(&drawn, &self.view),
            },
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
        titled: &Titled,
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
            kind: titled.kind.0,
            speech: titled.speech.0,
            earlier: &self.earlier,
        };
        let disclosures = self.examined.disclosures_bytes.as_deref();
        let beside = Beside {
            revealed: disclosures.map(|disclosures| Revealed {
                record: &self.shown,
                disclosures,
            }),
            history: self.examined.history_bytes.as_deref(),
            against: titled.against,
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
        let count = copies.len();
        let words = self.words();
        for copy in copies {
            let (width, height) = (copy.header.width.into(), copy.header.height.into());
            let mut meant: Vec<Digest> = open
                .iter()
                .filter(|file| (file.width_px, file.height_px) == (width, height))
                .map(|file| file.digest)
                .collect();
            // Photos by one camera are of one size; then the captions tell them apart.
            if meant.len() > 1 {
                meant.retain(|original| stands_for(&words, original, &copy.digest));
            }
            let image = Image {
                left_out: Some(TRANSFORM.to_owned()),
                ..copy
            };
            images.extend(meant.into_iter().map(|original| (original, image.clone())));
        }
        Pictures {
            images,
            copies: count,
        }
    }
}

/// Whether a caption names a copy in the place of an original, by the beginnings of both digests.
fn stands_for(words: &str, original: &Digest, copy: &Digest) -> bool {
    let (original, copy) = (original.to_string(), copy.to_string());
    let (Some(original), Some(copy)) = (original.get(..16), copy.get(..16)) else {
        return false;
    };
    words.match_indices(original).any(|(at, _)| {
        let behind = words.get(at + original.len()..).unwrap_or_default();
        let place = behind.find(copy);
        place.is_some_and(|place| behind[..place].chars().count() <= BETWEEN_DIGESTS)
    })
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
