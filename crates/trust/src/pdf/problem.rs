//! Everything that can be wrong with a signed report, each with its sentence.

use super::cms::CmsError;

/// The largest PDF that is examined: 64 MiB. A report with many photos has a few.
pub const PDF_LIMIT: usize = 64 << 20;
/// The largest embedded file, record or disclosures, that is taken out: 16 MiB.
pub const RECORD_LIMIT: usize = 16 << 20;

/// What a problem says about the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PdfNature {
    /// The bytes are not the ones that were signed.
    Altered,
    /// Whether they are cannot be told, or the file is none that a workshop of this program issues.
    CannotJudge,
}

/// One thing wrong with a PDF that should be a signed report.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum PdfProblem {
    /// The file is larger than [`PDF_LIMIT`].
    #[error("PDF: {bytes} bytes, at most {PDF_LIMIT} bytes allowed")]
    TooLarge {
        /// Bytes found.
        bytes: usize,
    },
    /// The file is no PDF 1.7.
    #[error("not a PDF: the file does not begin with `%PDF-1.7`")]
    NotPdf,
    /// The end of the file is missing.
    #[error("PDF is cut off: the end that a PDF has is missing")]
    Truncated,
    /// The file is not of the one form that can be read in one way only.
    #[error("PDF cannot be read strictly: byte {offset}: {what}")]
    Unreadable {
        /// Bytes from the beginning of the file.
        offset: usize,
        /// What is wrong there.
        what: &'static str,
    },
    /// There is no signature.
    #[error("PDF carries no signature")]
    NoSignature,
    /// The place of the signature is prepared, but was never filled.
    #[error("PDF was never signed: the place for the signature is empty")]
    NotSigned,

    /// `/ByteRange` is not the four numbers of fixed width that a report has.
    #[error("signed range is not written as `[0 ten digits ten digits ten digits]`")]
    ByteRangeForm,
    /// The signed range leaves out something else than exactly the signature's own bytes.
    #[error(
        "signed range leaves out bytes {from} to {to}, but the signature lies at bytes {open} to {close}"
    )]
    ByteRangeGap {
        /// Where the first signed part ends.
        from: u64,
        /// Where the second signed part begins.
        to: u64,
        /// Where the signature's bytes begin.
        open: usize,
        /// Where they end.
        close: usize,
    },
    /// The signed range does not end where the only revision of the file ends.
    #[error("signed range ends at byte {end}, the file at byte {length}")]
    ByteRangeEnd {
        /// Where the second signed part ends.
        end: u64,
        /// Length of the file in bytes.
        length: usize,
    },
    /// Something was appended to the signed file.
    #[error("{bytes} bytes were added after the signed file")]
    TrailingBytes {
        /// Bytes added.
        bytes: usize,
    },
    /// A further revision was appended to the signed file.
    #[error("a further revision of {bytes} bytes was added after signing")]
    ExtraRevision {
        /// Bytes added.
        bytes: usize,
    },
    /// `/Contents` is not the hexadecimal string that a report has.
    #[error("signature is not written as 16384 digits 0-9 and a-f")]
    ContentsForm,
    /// The bytes behind the signature are not all zero.
    #[error("bytes behind the signature are not all zero")]
    Padding,
    /// The digest of the signed bytes is another one than was signed.
    #[error("signed bytes were changed: their SHA-256 is {found}, the signature states {stated}")]
    DigestMismatch {
        /// SHA-256 of the bytes found, in hexadecimal.
        found: String,
        /// SHA-256 that was signed, in hexadecimal.
        stated: String,
    },
    /// The signature itself is damaged, exchanged, or of another kind.
    #[error(transparent)]
    Signature(#[from] CmsError),

    /// There is not exactly one form field, the signature field, shown by its own widget.
    #[error("form is not one signature field with its own widget: {0}")]
    SignatureField(&'static str),
    /// There is not exactly one signature dictionary.
    #[error("{found} signature dictionaries, 1 allowed")]
    SignatureDictionaries {
        /// Dictionaries found.
        found: usize,
    },
    /// The signature dictionary is not of the kind used here.
    #[error("signature dictionary is not of the kind ETSI.CAdES.detached, or has further entries")]
    SignatureKind,
    /// The document is not certified with "no changes allowed".
    #[error("document is not certified as final: {0}")]
    NotCertified(&'static str),
    /// There is another annotation than the signature's widget.
    #[error("annotation other than the signature's widget on a page")]
    Annotation,
    /// Something in the file acts when it is opened or clicked.
    #[error("active content: `{0}`")]
    ActiveContent(String),
    /// Something in the file can be shown or hidden.
    #[error("content that can be shown or hidden: `{0}`")]
    OptionalContent(String),
    /// Something shown lies outside the file, or is exchanged for printing.
    #[error("content from outside the file or exchanged for printing: `{0}`")]
    ExternalContent(String),
    /// A name that must stand in its dictionary is a reference to another object.
    #[error("`{0}` of a dictionary is not written in it, but in another object")]
    DistantName(&'static str),
    /// The catalogue has an entry that no report has.
    #[error("catalogue entry that no report has: `{0}`")]
    CatalogEntry(String),
    /// An object is reached from nowhere.
    #[error("object {0} belongs to nothing in the document")]
    UnreferencedObject(u32),
    /// An object is named, but missing.
    #[error("object {0} is named, but missing")]
    MissingObject(u32),
    /// Objects are packed into a stream.
    #[error("objects packed into stream {0}")]
    PackedObjects(u32),
    /// A stream is packed in a way that no report uses.
    #[error("stream {0} is packed in another way than FlateDecode or DCTDecode")]
    Packing(u32),
    /// An embedded file is missing, or not carried in the one way a report carries it.
    #[error("no embedded `{name}`: {what}")]
    NotEmbedded {
        /// Name of the file.
        name: &'static str,
        /// What is wrong.
        what: &'static str,
    },
    /// There is another embedded file than the record, the disclosures of its withheld values and a key history.
    #[error("embedded file other than `record.json`, `disclosures.json` and `key-history.json`")]
    OtherAttachment,
    /// An embedded file is too large.
    #[error("embedded `{name}`: more than {RECORD_LIMIT} bytes, which is the most allowed")]
    EmbeddedTooLarge {
        /// Name of the file.
        name: &'static str,
    },
    /// An embedded file cannot be unpacked.
    #[error("embedded `{name}` cannot be unpacked")]
    EmbeddedUnreadable {
        /// Name of the file.
        name: &'static str,
    },
}

impl PdfProblem {
    /// What the problem says about a file that carries the marks of a report.
    pub const fn nature(&self) -> PdfNature {
        match self {
            Self::ByteRangeForm
            | Self::ByteRangeGap { .. }
            | Self::ByteRangeEnd { .. }
            | Self::TrailingBytes { .. }
            | Self::ExtraRevision { .. }
            | Self::ContentsForm
            | Self::Padding
            | Self::DigestMismatch { .. }
            | Self::Signature(_) => PdfNature::Altered,
            _ => PdfNature::CannotJudge,
        }
    }

    /// The next step.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Truncated | Self::TooLarge { .. } => {
                "fetch the file again, unchanged, and compare its length"
            }
            Self::NotPdf | Self::NoSignature => {
                "give the PDF as the workshop handed it over, or the sealed record itself"
            }
            Self::NotSigned => "issue the report again; this one is a draft",
            _ if matches!(self.nature(), PdfNature::Altered) => {
                "do not rely on this file; ask the workshop for the report and compare the key's fingerprint"
            }
            _ => "ask the workshop for the sealed record and verify that",
        }
    }
}
