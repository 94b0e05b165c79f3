//! From a record to a report.

use std::collections::{BTreeMap, BTreeSet};

use tangmark_core::{
    Digest,
    json::{self, CanonicalError, JsonError, Limits},
    record::{Photo, Record},
};

use crate::{
    LABEL_CODE_BYTES, Speech,
    font::{FontSet, ProgramError, RefusedFont},
    jpeg::JpegError,
    layout::page_format::Frame,
    pages::{self, Content},
    pdf::{self, Metadata, PdfError, Sealed},
    scene::{Image, Scene},
};

/// Version of what this renderer draws: one more with every change of a byte of any report.
pub const RENDERER_VERSION: u32 = 1;

/// File name of the attached record.
const ATTACHMENT: &str = "record.json";

/// Paper size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PageSize {
    /// 210 × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 × 11 in.
    Letter,
}

/// What a report is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Kind {
    /// Everything the record says, what matters first.
    #[default]
    Condition,
    /// Before and after: what changed, and whether that is more than its uncertainty.
    Comparison,
    /// For whoever takes the blade over.
    Buyer,
    /// For a senior specialist, with a receipt for the custody.
    Referral,
    /// One page to tell the blade by.
    Identification,
    /// Labels to cut out.
    Labels,
    /// How to keep the blade.
    Care,
    /// What a parcel holds, for the customs office and the carrier.
    Customs,
    /// What changed hands, to be signed by hand by both.
    Receipt,
}

/// What a report is made from beside the record.
#[derive(Debug, Clone, Copy)]
pub struct RenderInput<'a> {
    /// The sealed record, byte for byte; it is attached to the report.
    pub record_bytes: &'a [u8],
    /// Files of pictures at hand, by their digest; see [`pictures_wanted`].
    pub photos: &'a BTreeMap<Digest, Vec<u8>>,
    /// Paper size.
    pub page: PageSize,
    /// Marks every page as a demonstration, also when the record does not say so.
    pub demo: bool,
    /// Fingerprint of the issuer's key, in groups.
    pub fingerprint: &'a str,
    /// What the report is for.
    pub kind: Kind,
    /// Which language it speaks.
    pub speech: Speech,
    /// Sealed records of the same blade before this one, oldest first.
    pub earlier: &'a [Record],
}

/// What a report shows although the sealed record withholds it, by the wish of whoever holds the disclosures.
#[derive(Debug, Clone, Copy)]
pub struct Revealed<'a> {
    /// The record with the disclosed values in their places; the digests of the others stay.
    pub record: &'a Record,
    /// The file of those disclosures, attached to the report beside the record.
    pub disclosures: &'a [u8],
}

/// What a report carries and shows beside the record; usually nothing.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside<'a> {
    /// Withheld values that it shows.
    pub revealed: Option<Revealed<'a>>,
    /// The key history of the issuer, where another of its keys than the record's will sign; attached to the report.
    pub history: Option<&'a [u8]>,
    /// Number of the earlier record that a comparison shows; the one of [`compared_with`] unless given.
    pub against: Option<u32>,
}

/// Pages that were made: a report that is not yet signed, or a sheet of labels.
#[derive(Debug, Clone)]
pub struct Rendered {
    /// The PDF; that of a report with an empty place for its signature.
    pub pdf: Vec<u8>,
    /// Number of pages.
    pub pages: usize,
    /// Characters no font covers; they stand as code points in the report.
    pub missing: BTreeSet<char>,
    /// Fonts in use that could not be embedded, beside those that [`FontSet::refused`] names; the report is set without them.
    pub refused: Vec<RefusedFont>,
}

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RenderError {
    /// The bytes are no record.
    #[error("record bytes: {0}")]
    Json(#[from] JsonError),
    /// The record has no canonical form.
    #[error("record bytes: {0}")]
    Canonical(#[from] CanonicalError),
    /// The bytes hold another record than the one given.
    #[error("record bytes do not hold the record to be shown")]
    OtherRecord,
    /// A comparison of a record with nothing before it.
    #[error(
        "record {sequence} has no earlier record of the blade that could be compared with it; before and after needs one"
    )]
    NothingEarlier {
        /// Number of the record in the blade's chain.
        sequence: u32,
    },
    /// A picture's bytes are not those its digest names.
    #[error("photo {found} was given under the digest {named}")]
    PhotoDigest {
        /// Digest under which it was given.
        named: Digest,
        /// Digest of the bytes.
        found: Digest,
    },
    /// A picture cannot be embedded.
    #[error("photo {digest} {reason}")]
    Photo {
        /// Digest of the picture.
        digest: Digest,
        /// Why.
        reason: JpegError,
    },
    /// A sheet without labels.
    #[error("a sheet of labels without a label; at least 1 is needed")]
    NoLabels,
    /// The code of a label is too long to be read from paper.
    #[error(
        "the code of the label `{key}` has {found} bytes; at most {LABEL_CODE_BYTES} bytes are allowed"
    )]
    LabelCode {
        /// Key on the label.
        key: String,
        /// Bytes of its code.
        found: usize,
    },
    /// The PDF could not be written.
    #[error(transparent)]
    Pdf(#[from] PdfError),
}

impl RenderError {
    /// Returns what to do about it.
    pub fn hint(&self) -> String {
        match self {
            Self::Json(error) => error.hint().into_owned(),
            Self::Canonical(error) => error.hint().to_owned(),
            Self::OtherRecord => "read the record from the same bytes that are attached".to_owned(),
            Self::NothingEarlier { .. } => "name a later record of the blade with `--record`, or ask for another kind of report".to_owned(),
            Self::PhotoDigest { .. } => {
                "run the workshop's integrity check: a stored photo has changed".to_owned()
            }
            Self::Photo { reason, .. } => reason.hint().to_owned(),
            Self::NoLabels => "name what the labels are for".to_owned(),
            Self::LabelCode { .. } => {
                "give the code less to say: the key is enough to find the piece again".to_owned()
            }
            Self::Pdf(_) => {
                "this is a fault of the program: please report it with the record".to_owned()
            }
        }
    }
}

/// Returns the digests of the pictures that a report of `record` can show, the preferred file of each photo first.
pub fn pictures_wanted(record: &Record) -> Vec<Digest> {
    pages::pictures_wanted(record)
}

/// Returns the digests of the files by which a report can show a photo, the preferred one first: a report needs the first
/// one at hand and no other.
pub fn picture_files(photo: &Photo) -> Vec<Digest> {
    pages::picture_files(photo)
}

/// Returns the record that a comparison shows beside a later one, among the records before that one, oldest first: the newest
/// that says the state before work, else the newest that was examined or measured; or the one with the number that is asked
/// for. Its pictures are wanted too.
pub fn compared_with(earlier: &[Record], against: Option<u32>) -> Option<&Record> {
    pages::compared_with(earlier, against)
}

/// Renders the report of a record as PDF with an empty place for its signature.
///
/// The same record, pictures, settings and fonts in use ([`FontSet::scope`]) give the same bytes.
///
/// # Errors
/// Bytes that are not the record, a picture that is not what its digest says or cannot be embedded.
pub fn render(record: &Record, input: &RenderInput<'_>) -> Result<Rendered, RenderError> {
    render_revealing(record, None, input)
}

/// As [`render`], with values shown that the record withholds. What is attached as the record, and named on every page,
/// is the sealed record all the same.
///
/// # Errors
/// As [`render`].
pub fn render_revealing(
    record: &Record,
    revealed: Option<&Revealed<'_>>,
    input: &RenderInput<'_>,
) -> Result<Rendered, RenderError> {
    let beside = Beside {
        revealed: revealed.copied(),
        ..Beside::default()
    };
    render_beside(record, &beside, input)
}

/// As [`render`], with all that can lie beside the record.
///
/// # Errors
/// As [`render`].
pub fn render_beside(
    record: &Record,
    beside: &Beside<'_>,
    input: &RenderInput<'_>,
) -> Result<Rendered, RenderError> {
    let name = record_name(record, input.record_bytes)?;
    let shown = beside.revealed.map_or(record, |revealed| revealed.record);
    let pictures = pictures_of(shown, input, beside.against)?;
    print(shown, name, beside, input, &pictures)
}

/// Renders a report again from what one that was received carries: its pictures are given as they lie in it, by the digest
/// of the file that stands for each photo ([`picture_files`]), and no original is asked for. `input.photos` is not used.
///
/// # Errors
/// As [`render`], without those of pictures.
pub fn render_again(
    record: &Record,
    beside: &Beside<'_>,
    input: &RenderInput<'_>,
    pictures: &BTreeMap<Digest, Image>,
) -> Result<Rendered, RenderError> {
    let name = record_name(record, input.record_bytes)?;
    let shown = beside.revealed.map_or(record, |revealed| revealed.record);
    print(shown, name, beside, input, pictures)
}

/// Returns the title that stands in a report: it names the kind, the language, and the record that a comparison was asked
/// to go back to.
pub fn title_of(record: &Record, kind: Kind, speech: Speech, against: Option<u32>) -> String {
    pages::document_title(record, kind, speech, against)
}

/// Renders with the fonts in use, those left out that cannot be embedded.
fn print(
    record: &Record,
    name: Digest,
    beside: &Beside<'_>,
    input: &RenderInput<'_>,
    pictures: &BTreeMap<Digest, Image>,
) -> Result<Rendered, RenderError> {
    let (rendered, refused) = with_usable_fonts(|| press(record, name, beside, input, pictures))?;
    Ok(Rendered {
        refused,
        ..rendered
    })
}

/// Does something with the fonts in use, those left out that cannot be embedded; returns these too.
pub(crate) fn with_usable_fonts<T>(
    work: impl Fn() -> Result<T, RenderError>,
) -> Result<(T, Vec<RefusedFont>), RenderError> {
    let mut fonts = FontSet::default();
    let mut refused = Vec::new();
    loop {
        match fonts.scope(&work) {
            // A font of the workshop that cannot be embedded after all is left out; there are fewer each time.
            Err(RenderError::Pdf(PdfError::Font { index, reason, .. })) => {
                let reason = ProgramError::Irreducible(reason.to_string()).to_string();
                let Some((rest, font)) = fonts.without(index, &reason) else {
                    return Err(RenderError::Pdf(PdfError::Shape(
                        "a font that can be embedded",
                    )));
                };
                fonts = rest;
                refused.push(font);
            }
            Ok(done) => return Ok((done, refused)),
            Err(error) => return Err(error),
        }
    }
}

/// Sets and writes a report with the fonts in use.
fn press(
    record: &Record,
    name: Digest,
    beside: &Beside<'_>,
    input: &RenderInput<'_>,
    pictures: &BTreeMap<Digest, Image>,
) -> Result<Rendered, RenderError> {
    let (scene, missing) = set(record, name, input, pictures, beside.against)?;
    let title = pages::document_title(record, input.kind, input.speech, beside.against);
    let metadata = Metadata {
        title: &title,
        author: &record.issuer.name,
        subject: "Condition record of an edged blade, with the sealed record attached",
        producer: &pdf::renderer().to_string(),
        issued_at: record.issued_at.as_str(),
        id: name,
        sealed: Some(Sealed {
            record: name,
            attachment_name: ATTACHMENT,
            attachment: input.record_bytes,
            disclosures: beside.revealed.map(|revealed| revealed.disclosures),
            history: beside.history,
        }),
    };
    let pdf = pdf::write(&scene, &metadata)?;
    Ok(Rendered {
        pdf,
        pages: scene.pages.len(),
        missing,
        refused: Vec::new(),
    })
}

/// Sets the pages of a report: the scene, the characters that were missing, and the record's name.
///
/// # Errors
/// As [`render`], without those of PDF.
pub fn scene_of(
    record: &Record,
    input: &RenderInput<'_>,
) -> Result<(Scene, BTreeSet<char>, Digest), RenderError> {
    let name = record_name(record, input.record_bytes)?;
    let (scene, missing) = set(
        record,
        name,
        input,
        &pictures_of(record, input, None)?,
        None,
    )?;
    Ok((scene, missing, name))
}

/// The pictures at hand of all records that a report shows.
fn pictures_of(
    record: &Record,
    input: &RenderInput<'_>,
    against: Option<u32>,
) -> Result<BTreeMap<Digest, Image>, RenderError> {
    let mut found = pictures(record, input.photos)?;
    if let (Kind::Comparison, Some(before)) = (input.kind, compared_with(input.earlier, against)) {
        found.extend(pictures(before, input.photos)?);
    }
    Ok(found)
}

fn set(
    record: &Record,
    name: Digest,
    input: &RenderInput<'_>,
    pictures: &BTreeMap<Digest, Image>,
    against: Option<u32>,
) -> Result<(Scene, BTreeSet<char>), RenderError> {
    let demo = input.demo || record.issuer.demo;
    let content = Content {
        record,
        name,
        pictures,
        fingerprint: input.fingerprint,
        demo,
        kind: input.kind,
        speech: input.speech,
        earlier: input.earlier,
        against,
    };
    pages::set(&content, Frame::of(input.page)).map_err(|nothing| RenderError::NothingEarlier {
        sequence: nothing.sequence,
    })
}

/// Reads the bytes, makes sure that they hold `record`, and returns the record's name.
fn record_name(record: &Record, bytes: &[u8]) -> Result<Digest, RenderError> {
    let mut value = json::read_value(bytes, &Limits::default())?;
    match Record::from_json(&value) {
        Ok(attached) if attached == *record => {}
        _ => return Err(RenderError::OtherRecord),
    }
    if let Some(fields) = value.as_object_mut() {
        fields.remove("proof");
    }
    Ok(Digest::of(&json::canonical_bytes(&value)?))
}

/// Takes the pictures the report can show, after looking into each: of each photo the preferred file at hand.
fn pictures(
    record: &Record,
    photos: &BTreeMap<Digest, Vec<u8>>,
) -> Result<BTreeMap<Digest, Image>, RenderError> {
    let mut pictures = BTreeMap::new();
    for photo in &record.photos {
        let at_hand = pages::picture_files(photo)
            .into_iter()
            .find_map(|digest| Some((digest, photos.get(&digest)?)));
        let Some((digest, bytes)) = at_hand else {
            continue;
        };
        if pictures.contains_key(&digest) {
            continue;
        }
        let found = Digest::of(bytes);
        if found != digest {
            return Err(RenderError::PhotoDigest {
                named: digest,
                found,
            });
        }
        let image =
            Image::of(bytes, digest).map_err(|reason| RenderError::Photo { digest, reason })?;
        pictures.insert(digest, image);
    }
    Ok(pictures)
}
