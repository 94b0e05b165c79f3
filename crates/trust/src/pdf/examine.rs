//! Judging: is this PDF, byte for byte, the report that was signed?

use tangmark_core::Digest;

use super::{
    attachment,
    cms::{self, Statement},
    file::{self, File},
    fill::digest_without,
    form,
    place::{self, CONTENTS_DIGITS, Place},
    problem::{PDF_LIMIT, PdfNature, PdfProblem},
    syntax::{Object, SyntaxError},
};
use crate::{PublicKey, timestamp::Token};

/// The judgement on the bytes of a PDF; who signed them is another question.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PdfJudgement {
    /// Every byte is the one that was signed, and the file is of the form a report has.
    Unaltered,
    /// The file is not the one that was signed.
    Altered,
    /// Nothing can be said: no report, no signature, cut off, or not of the form a report has.
    CannotJudge,
}

/// What was found in a PDF.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PdfExamination {
    /// The judgement that follows from the problems.
    pub judgement: PdfJudgement,
    /// The embedded `record.json`, if there is one. Only its own proof says whether it is unchanged.
    pub record_bytes: Option<Vec<u8>>,
    /// The embedded `disclosures.json`, if there is one: values that the record withholds and the pages show.
    pub disclosures_bytes: Option<Vec<u8>>,
    /// The embedded `key-history.json`, if there is one: how another key of the issuer came to sign the report.
    pub history_bytes: Option<Vec<u8>>,
    /// The key in the certificate, if the certificate is sound. It has signed the file only if
    /// `signed_whole_file` holds.
    pub certificate_key: Option<PublicKey>,
    /// The name in the certificate, as its holder gave it.
    pub certificate_name: Option<String>,
    /// The certificate, as DER.
    pub certificate_der: Option<Vec<u8>>,
    /// The time of signing as the file states it (`/M`): the signer's own word.
    pub stated_time: Option<String>,
    /// What a time token of the signature stamps: SHA-256 over the signature's value.
    pub signature_digest: Option<Digest>,
    /// The time token inside the signature, if there is one. It fits the signature; who its authority is to the reader
    /// is for [`Token::check`] to say. The signer did not sign it: anybody can add one to a report, or take it out.
    pub token: Option<Token>,
    /// Whether the signature fits the key, and covers every byte of the file but its own.
    pub signed_whole_file: bool,
    /// Everything found wrong, what is known of the bytes first.
    pub problems: Vec<PdfProblem>,
}

impl PdfExamination {
    fn new() -> Self {
        Self {
            judgement: PdfJudgement::CannotJudge,
            record_bytes: None,
            disclosures_bytes: None,
            history_bytes: None,
            certificate_key: None,
            certificate_name: None,
            certificate_der: None,
            stated_time: None,
            signature_digest: None,
            token: None,
            signed_whole_file: false,
            problems: Vec::new(),
        }
    }

    fn stop(mut self, problem: PdfProblem) -> Self {
        self.problems.push(problem);
        self
    }

    /// Draws the judgement. A sound PDF of somebody else must not be called altered: one without the mark of
    /// a report, the name of the embedded record, is so only if a signature contradicts its bytes.
    fn judged(mut self, marked: bool) -> Self {
        let altered = self.problems.iter().any(|problem| {
            problem.nature() == PdfNature::Altered
                && (marked || matches!(problem, PdfProblem::DigestMismatch { .. }))
        });
        let complete = self.signed_whole_file && self.record_bytes.is_some();
        self.judgement = if altered {
            PdfJudgement::Altered
        } else if self.problems.is_empty() && complete {
            PdfJudgement::Unaltered
        } else {
            PdfJudgement::CannotJudge
        };
        self
    }
}

/// Examines a PDF that should be a signed report, in its received bytes and offline.
///
/// Never fails: what cannot be read is a problem in the result.
pub fn examine(pdf: &[u8]) -> PdfExamination {
    let mut found = PdfExamination::new();
    if pdf.len() > PDF_LIMIT {
        return found.stop(PdfProblem::TooLarge { bytes: pdf.len() });
    }
    let whole = file::read(pdf);
    let place = match &whole {
        Ok(file) => form::check(file)
            .signature
            .map(|signature| place::in_dictionary(file, signature)),
        Err(_) => None,
    };
    let Some(place) = place.or_else(|| place::by_search(pdf)) else {
        let problem = match &whole {
            _ if !pdf.starts_with(file::HEADER) => PdfProblem::NotPdf,
            _ if !file::has_end(pdf) => PdfProblem::Truncated,
            Err(error) => unreadable(error),
            Ok(_) => PdfProblem::NoSignature,
        };
        return found.stop(problem);
    };
    let numbers = place
        .range
        .as_ref()
        .and_then(|range| place::numbers(pdf, range));
    let beyond =
        numbers.is_some_and(|[_, second, length]| second.saturating_add(length) > pdf.len() as u64);
    let incomplete = beyond || place.range.is_none() || place.contents.is_none();
    if incomplete && !file::has_end(pdf) {
        return found.stop(PdfProblem::Truncated);
    }
    let digits = place
        .contents
        .as_ref()
        .and_then(|contents| pdf.get(contents.start + 1..contents.end - 1));
    let empty = digits
        .is_some_and(|digits| !digits.is_empty() && digits.iter().all(|digit| *digit == b'0'));
    if empty && numbers == Some([0; 3]) {
        if let Ok(file) = &whole {
            contents(file, &mut found);
        }
        found.problems.insert(0, PdfProblem::NotSigned);
        return found;
    }

    let covered = coverage(pdf, &place, numbers, whole.is_ok(), &mut found.problems);
    let statement = digits.and_then(|digits| signature_bytes(digits, &mut found.problems));
    if place.contents.is_none() {
        found.problems.push(PdfProblem::ContentsForm);
    }
    if let Some(bytes) = statement {
        signature(pdf, &bytes, numbers, covered, &mut found);
    }
    match whole {
        Ok(file) => contents(&file, &mut found),
        Err(error) => {
            // What was signed can often be read although something was added to it.
            let signed = numbers
                .and_then(|[_, second, length]| usize::try_from(second.checked_add(length)?).ok());
            match signed.and_then(|end| pdf.get(..end)).map(file::read) {
                Some(Ok(file)) if !covered => contents(&file, &mut found),
                _ => found.problems.push(unreadable(&error)),
            }
        }
    }
    let marked = place::occurrences(pdf, attachment::RECORD_NAME.as_bytes())
        .next()
        .is_some();
    found.judged(marked)
}

fn unreadable(error: &SyntaxError) -> PdfProblem {
    PdfProblem::Unreadable {
        offset: error.offset,
        what: error.what,
    }
}

/// Whether the signed range is the whole file but exactly the signature's own string.
fn coverage(
    pdf: &[u8],
    place: &Place,
    numbers: Option<[u64; 3]>,
    one_revision: bool,
    problems: &mut Vec<PdfProblem>,
) -> bool {
    let before = problems.len();
    let Some([first, second, length]) = numbers else {
        problems.push(PdfProblem::ByteRangeForm);
        return false;
    };
    if let Some(contents) = &place.contents
        && (first, second) != (contents.start as u64, contents.end as u64)
    {
        let (open, close) = (contents.start, contents.end);
        problems.push(PdfProblem::ByteRangeGap {
            from: first,
            to: second,
            open,
            close,
        });
    }
    let end = second.saturating_add(length);
    if end != pdf.len() as u64 {
        let rest = usize::try_from(end).ok().and_then(|end| pdf.get(end..));
        problems.push(match rest {
            Some(rest)
                if !one_revision && place::occurrences(rest, b"startxref").next().is_some() =>
            {
                PdfProblem::ExtraRevision { bytes: rest.len() }
            }
            Some(rest) if !one_revision => PdfProblem::TrailingBytes { bytes: rest.len() },
            _ => PdfProblem::ByteRangeEnd {
                end,
                length: pdf.len(),
            },
        });
    }
    place.contents.is_some() && problems.len() == before
}

/// The bytes of the CMS structure, without the zeros behind it.
pub(super) fn signature_bytes(digits: &[u8], problems: &mut Vec<PdfProblem>) -> Option<Vec<u8>> {
    let bytes = (digits.len() == CONTENTS_DIGITS)
        .then(|| data_encoding::HEXLOWER.decode(digits).ok())
        .flatten();
    let Some(mut bytes) = bytes else {
        problems.push(PdfProblem::ContentsForm);
        return None;
    };
    // A SEQUENCE with its length in two bytes (0x82) or one (0x81, or below 0x80). Source: X.690, 8.1.3.
    let length = match bytes.get(..4) {
        Some([0x30, 0x82, high, low]) => 4 + (usize::from(*high) << 8 | usize::from(*low)),
        Some([0x30, 0x81, length, _]) => 3 + usize::from(*length),
        Some([0x30, length @ 0..=0x7f, ..]) => 2 + usize::from(*length),
        _ => bytes.len(),
    };
    if bytes
        .get(length..)
        .is_some_and(|padding| padding.iter().any(|byte| *byte != 0))
    {
        problems.push(PdfProblem::Padding);
    }
    bytes.truncate(length);
    Some(bytes)
}

fn signature(
    pdf: &[u8],
    bytes: &[u8],
    numbers: Option<[u64; 3]>,
    covered: bool,
    found: &mut PdfExamination,
) {
    let statement = match cms::read(bytes) {
        Ok(statement) => statement,
        Err(error) => return found.problems.push(error.into()),
    };
    // A token that does not fit is a fault of the form; only of a sound form the digest says anything (grounds A7, A8).
    let token = statement.verify_token();
    let same = token.is_ok() && digest(pdf, numbers, &statement, &mut found.problems);
    found.certificate_der = Some(statement.certificate_der.clone());
    found.signature_digest = Some(statement.stamped());
    match token {
        Ok(()) => found.token.clone_from(&statement.token),
        Err(error) => found.problems.push(error.into()),
    }
    let facts = match statement.signer() {
        Ok(facts) => facts,
        Err(error) => return found.problems.push(error.into()),
    };
    let verified = statement.verify(&facts.key);
    found.signed_whole_file = covered && same && verified.is_ok();
    found.problems.extend(verified.err().map(PdfProblem::from));
    found.certificate_key = Some(facts.key);
    found.certificate_name = Some(facts.name);
}

/// Whether the bytes of the signed range have the digest that was signed.
fn digest(
    pdf: &[u8],
    numbers: Option<[u64; 3]>,
    statement: &Statement,
    problems: &mut Vec<PdfProblem>,
) -> bool {
    let range = numbers.and_then(|[first, second, length]| {
        let [first, second, length] = [first, second, length].map(usize::try_from);
        let (first, second) = (first.ok()?, second.ok()?);
        let end = second.checked_add(length.ok()?)?;
        (first <= second && end <= pdf.len()).then_some((first, second, end))
    });
    // Without a usable range there is nothing to compare, and the range itself is reported.
    let Some((first, second, end)) = range else {
        return false;
    };
    let found = digest_without(&pdf[..end], first, second);
    let same = found == statement.message_digest;
    if !same {
        problems.push(PdfProblem::DigestMismatch {
            found: data_encoding::HEXLOWER.encode(&found),
            stated: data_encoding::HEXLOWER.encode(&statement.message_digest),
        });
    }
    same
}

/// Applies the rules on the form of the file, and takes the record out.
fn contents(file: &File<'_>, found: &mut PdfExamination) {
    let findings = form::check(file);
    found.problems.extend(findings.problems);
    found.stated_time =
        findings
            .signature
            .and_then(|signature| match signature.get(b"M".as_slice()) {
                Some(Object::Text(time)) => String::from_utf8(time.bytes.clone()).ok(),
                _ => None,
            });
    match attachment::files(file) {
        Ok(carried) => {
            found.record_bytes = Some(carried.record);
            found.disclosures_bytes = carried.disclosures;
            found.history_bytes = carried.history;
        }
        Err(problem) => found.problems.push(problem),
    }
}
