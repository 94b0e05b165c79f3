//! A time token in the signature of a report.

use tangmark_core::Digest;

use crate::{
    pdf::{
        CmsError, PdfJudgement, PdfProblem, StampPdfError, examine,
        fixture::{Draft, gap, signed},
        signature_to_stamp, with_token,
    },
    timestamp::{Authorities, Authority, TimestampError, fixture::Office},
};

#[test]
fn a_token_changes_nothing_but_the_place_of_the_signature_and_says_when() {
    let office = Office::open();
    let pdf = signed();
    let digest = signature_to_stamp(&pdf).unwrap();
    let token = office.stamp(&digest);
    let stamped = with_token(pdf.clone(), &token).unwrap();
    assert_eq!(stamped.len(), pdf.len());
    let (open, close) = gap(&pdf);
    assert_eq!(
        (&stamped[..open], &stamped[close..]),
        (&pdf[..open], &pdf[close..])
    );
    let found = examine(&stamped);
    assert_eq!(
        (found.judgement, found.problems.as_slice()),
        (PdfJudgement::Unaltered, [].as_slice())
    );
    assert_eq!(found.signature_digest, Some(digest));
    let kept = found.token.unwrap();
    assert_eq!(kept, token);
    let trusted = office.certificate();
    let reader = Authorities {
        trusted: &trusted,
        ..Authorities::default()
    };
    assert_eq!(
        kept.check(&digest, &reader).unwrap().standing,
        Authority::Trusted
    );
    let before = examine(&pdf);
    assert_eq!(
        (before.token, before.signature_digest),
        (None, Some(digest))
    );
    assert_eq!(signature_to_stamp(&stamped), Err(StampPdfError::Stamped));
    assert_eq!(with_token(stamped, &token), Err(StampPdfError::Stamped));
}

/// Case 64.
#[test]
fn a_token_over_something_else_is_not_put_in() {
    let token = Office::open().stamp(&Digest::of(b"another report"));
    let error = with_token(signed(), &token).unwrap_err();
    assert!(
        matches!(
            error,
            StampPdfError::Token(TimestampError::OtherDigest { .. })
        ),
        "{error}"
    );
}

#[test]
fn only_a_signed_unaltered_report_is_stamped() {
    let draft = Draft::new().write();
    assert_eq!(
        signature_to_stamp(&draft),
        Err(StampPdfError::Refused(PdfProblem::NotSigned))
    );
    let mut altered = signed();
    let at = altered.len() - 40;
    altered[at] ^= 1;
    assert!(matches!(
        signature_to_stamp(&altered),
        Err(StampPdfError::Refused(_))
    ));
    assert!(matches!(
        signature_to_stamp(b"%PDF-1.7"),
        Err(StampPdfError::Refused(_))
    ));
}

/// Case 64: a token that was changed inside a report is no token, and the report is not the one that was handed over.
#[test]
fn a_changed_token_makes_the_report_altered_or_says_the_same() {
    let office = Office::open();
    let pdf = signed();
    let digest = signature_to_stamp(&pdf).unwrap();
    let stamped = with_token(pdf.clone(), &office.stamp(&digest)).unwrap();
    let evidence = |pdf: &[u8]| {
        let found = examine(pdf);
        (found.judgement == PdfJudgement::Unaltered).then(|| {
            found
                .token
                .map(|token| token.check(&digest, &Authorities::default()))
        })
    };
    let sound = evidence(&stamped).unwrap();
    assert!(matches!(sound, Some(Ok(_))));
    let changed: Vec<usize> = (0..pdf.len())
        .filter(|place| pdf[*place] != stamped[*place])
        .collect();
    let (first, last) = (changed[0], *changed.last().unwrap());
    let mut refused = 0;
    for place in (first..=last).step_by(13) {
        let mut other = stamped.clone();
        other[place] = if other[place] == b'5' { b'6' } else { b'5' };
        match evidence(&other) {
            None => refused += 1,
            Some(found) => assert_eq!(found, sound, "digit {place}"),
        }
    }
    assert!(
        refused > (last - first) / 13 * 9 / 10,
        "{refused} of {}",
        (last - first) / 13
    );
}

#[test]
fn a_flipped_token_is_named() {
    let office = Office::open();
    let pdf = signed();
    let token = office.stamp(&signature_to_stamp(&pdf).unwrap());
    let mut stamped = with_token(pdf, &token).unwrap();
    let compared = |pdf: &[u8]| {
        let mut other = pdf.to_vec();
        other[12] ^= 1;
        let problems = examine(&other).problems;
        problems
            .iter()
            .any(|problem| matches!(problem, PdfProblem::DigestMismatch { .. }))
    };
    assert!(compared(&stamped));
    // The last digit of the token is one of its signature's value.
    let digits = data_encoding::HEXLOWER.encode(token.bytes());
    let end = crate::pdf::fixture::find(&stamped, digits.as_bytes()) + digits.len() - 1;
    stamped[end] = if stamped[end] == b'5' { b'6' } else { b'5' };
    let found = examine(&stamped);
    assert_eq!(found.judgement, PdfJudgement::Altered);
    assert_eq!(
        found.problems,
        [PdfProblem::Signature(CmsError::Token(
            TimestampError::Signature
        ))]
    );
    assert_eq!(found.token, None);
    // Of another form the digest is not looked at.
    assert!(!compared(&stamped));
}
