//! The signature of a PDF report: made by [`fill_signature`], judged by [`examine`].
//!
//! A report has one revision and one signature over the whole of it. PDF readers call a signature valid when
//! the bytes it covers are unchanged, whatever was added after them; here nothing may be added. The rules are
//! strict enough to be checked without a general PDF reader: [`file`] accepts one plain form of file only.

mod attachment;
mod cms;
mod examine;
mod field;
mod file;
mod fill;
mod form;
mod place;
mod problem;
mod successor;
mod syntax;
mod token;
mod view;

pub use cms::CmsError;
pub use examine::{PdfExamination, PdfJudgement, examine};
pub use fill::{BYTE_RANGE_PLACEHOLDER, SignPdfError, fill_signature};
pub use problem::{PDF_LIMIT, PdfNature, PdfProblem, RECORD_LIMIT};
pub use successor::SuccessorProblem;
pub use token::{StampPdfError, signature_to_stamp, time_token, with_token};
pub use view::{PageView, PdfView, heading, view};

#[cfg(test)]
pub(crate) mod fixture;
#[cfg(test)]
mod tests;
