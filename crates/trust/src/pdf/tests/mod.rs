//! Tests of signing and judging whole files.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod by_page;
mod disclosures;
mod distant;
mod judged;
mod places;
mod rules;
mod signing;
mod successors;
mod tampering;
mod token;

use super::{PdfJudgement, PdfProblem, examine};

fn judge(pdf: &[u8]) -> (PdfJudgement, Vec<String>) {
    let found = examine(pdf);
    (
        found.judgement,
        found.problems.iter().map(ToString::to_string).collect(),
    )
}

fn altered(pdf: &[u8]) -> Vec<PdfProblem> {
    let found = examine(pdf);
    assert_eq!(
        found.judgement,
        PdfJudgement::Altered,
        "{:?}",
        found.problems
    );
    found.problems
}
