//! What a reader does next about a package.

use std::collections::BTreeMap;

use tangmark_core::counted;
use tangmark_package::judge::PackageVerdict;
use tangmark_trust::verdict::Weight;

use super::look::{OtherSigner, VerifiedPackage};
use super::told::{Part, parts};
use crate::rerender::Pages;

impl VerifiedPackage {
    /// What the reader does next, the gravest first.
    pub fn next_steps(&self) -> Vec<String> {
        next_steps(&self.verdict, &self.pages, &self.signers)
    }
}

/// What the reader does next, the gravest first. Where anything is rejected nobody is sent to confirm a key: a fingerprint
/// that fits would be taken for a word on the whole.
fn next_steps(
    verdict: &PackageVerdict,
    pages: &BTreeMap<String, Pages>,
    signers: &[OtherSigner],
) -> Vec<String> {
    if verdict.refused.is_some() {
        return Vec::new();
    }
    let parts = parts(verdict);
    let line = verdict.subject.as_ref().map(|subject| &subject.verdict);
    let rejected = verdict.exit == 1;
    let mut steps = Vec::new();
    if rejected {
        steps.push(
            "rely on nothing in this package; ask whoever handed it over for it again, as the workshop wrote it, and verify that one"
                .to_owned(),
        );
    }
    let open = |weight| parts.iter().filter(move |part| part.weight == weight);
    for weight in [Weight::CannotBeChecked, Weight::ToBeConfirmed] {
        if !rejected || weight == Weight::CannotBeChecked {
            steps.extend(grouped(open(weight)));
        }
        if weight == Weight::CannotBeChecked {
            // Between the two, as their weights are.
            if let Some(line) = line {
                let own = line.signer.weight() == Weight::Rejected;
                let signer = line.signer.next_step().filter(|_| !rejected || own);
                let bytes = line.bytes.next_step().filter(|_| !rejected);
                let time = line.time.next_step().filter(|_| !rejected);
                steps.extend([bytes, signer, time].into_iter().flatten());
            }
        }
    }
    for step in pages.values().filter_map(Pages::next_step) {
        if !steps.iter().any(|there| there == step) {
            steps.push(step.to_owned());
        }
    }
    if !rejected {
        steps.extend(signers.iter().filter(|one| !one.known).map(stranger));
        let missing = verdict.chain.not_supplied;
        if missing > 0 {
            steps.push(format!(
                "{} of the blade not in the package: whoever handed it over left out what was sealed first; ask for the records before this one if you need the whole story",
                counted(missing, "earlier record")
            ));
        }
    }
    steps
}

/// What is done about somebody unknown who sealed earlier records.
fn stranger(one: &OtherSigner) -> String {
    let numbers: Vec<String> = one.records.iter().map(u64::to_string).collect();
    let records = if numbers.len() == 1 {
        "record"
    } else {
        "records"
    };
    format!(
        "{records} {} sealed by another key, of `{}`: {}; whoever sealed the newest record does not vouch for it",
        numbers.join(", "),
        one.issuer,
        one.line
    )
}

/// One step for each thing to do, with the first file it is about and how many more there are.
fn grouped<'p>(parts: impl Iterator<Item = &'p Part>) -> Vec<String> {
    let mut found: Vec<(&'static str, &str, usize)> = Vec::new();
    for part in parts {
        let Some(step) = step(part) else { continue };
        match found.iter_mut().find(|(there, _, _)| *there == step) {
            Some((_, _, more)) => *more += 1,
            None => found.push((step, &part.what, 0)),
        }
    }
    let text = |(step, first, more): (&str, &str, usize)| match more {
        0 => format!("{first}: {step}"),
        more => format!("{first} and {more} more: {step}"),
    };
    found.into_iter().map(text).collect()
}

/// What is done about a part that is open.
fn step(part: &Part) -> Option<&'static str> {
    let folder = part.what.strip_prefix("data/").unwrap_or(&part.what);
    let folder = folder.split('/').next().unwrap_or_default();
    Some(match (folder, part.state.as_str()) {
        (_, "missing") => "its list names it and it is not there; ask for the whole package",
        ("records" | "reports", "cannot_judge") => {
            "it is of a later version or none of ours; look whether there is a newer version of this program"
        }
        (_, "unlisted") => {
            "no list of the package speaks for it; ask whoever handed the package over why it is there, and open it only then"
        }
        ("records", "revoked_unproved") => {
            "its key was revoked since; ask the workshop, by a way you knew before this package, whether it sealed it, or for time evidence from before (`--authority PEM` names who is trusted for it)"
        }
        ("photos", "unsigned") => {
            "no record names this picture; ask whoever handed the package over what it shows and who made it"
        }
        ("reports", "older") => {
            "it shows an earlier record than the newest one; read the newest record too"
        }
        ("reports", "key_open") => {
            "compare the key that signed its pages with the workshop's card, or ask the workshop, by a way you knew before this package, whether it signed them"
        }
        ("keys", "no_issuer") => {
            "this key history names none of the signers; ask whoever handed the package over why it is there"
        }
        ("verify.html", "other") => {
            "do not use this page: take a verifier page from somebody you trust"
        }
        ("tools" | "format", "other") => {
            "do not run or rely on it: take tools and pages from somebody you trust"
        }
        ("records", "withdraws another record") => {
            "read which record it withdraws and why, before you rely on any of them"
        }
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use tangmark_package::judge::{AidState, AidVerdict};
    use tangmark_package::open::{Refusal, Rule};

    use super::*;

    /// A verdict with nothing in it.
    fn blank(exit: u8) -> PackageVerdict {
        let refusal = Refusal {
            rule: Rule::Fetch,
            path: String::new(),
            found: String::new(),
        };
        PackageVerdict {
            exit,
            refused: None,
            ..PackageVerdict::refused(refusal)
        }
    }

    #[test]
    fn a_rejected_package_is_relied_on_for_nothing() {
        let mut verdict = blank(1);
        verdict.bag.changed.push("data/a".to_owned());
        verdict.bag.missing.push("data/b".to_owned());
        verdict.bag.unlisted.push("data/c".to_owned());
        let steps = next_steps(&verdict, &BTreeMap::new(), &[]);
        assert!(
            steps[0].starts_with("rely on nothing in this package"),
            "{steps:?}"
        );
        assert_eq!(steps.len(), 2, "{steps:?}");
        assert!(steps[1].ends_with("ask for the whole package"), "{steps:?}");
    }

    #[test]
    fn what_is_open_has_a_step_of_its_own() {
        let mut verdict = blank(2);
        let path = "data/tools/check_record.py".to_owned();
        let state = AidState::Other;
        verdict.aids.insert(path, AidVerdict { state });
        verdict.bag.unlisted = vec!["data/c".to_owned(), "data/d".to_owned()];
        verdict
            .withdrawals
            .push("data/records/02-withdrawal.json".to_owned());
        let steps = next_steps(&verdict, &BTreeMap::new(), &[]);
        assert_eq!(steps.len(), 3, "{steps:?}");
        assert!(
            steps[0].starts_with("data/c and 1 more: no list"),
            "{steps:?}"
        );
        assert!(
            steps
                .iter()
                .any(|step| step.contains("do not run or rely on it")),
            "{steps:?}"
        );
        assert!(
            steps
                .iter()
                .any(|step| step.contains("which record it withdraws")),
            "{steps:?}"
        );
    }
    #[test]
    fn records_left_out_and_strangers_have_a_step() {
        let mut verdict = blank(0);
        verdict.chain.not_supplied = 2;
        let one = |known| OtherSigner {
            records: vec![3, 4],
            issuer: "Ada Blades".to_owned(),
            fingerprint: "AAAAA-BBBBB-CCCCC-DDDDD".to_owned(),
            known,
            line: "new to you".to_owned(),
        };
        let steps = next_steps(&verdict, &BTreeMap::new(), &[one(true), one(false)]);
        assert_eq!(steps.len(), 2, "{steps:?}");
        assert!(
            steps[0].starts_with("records 3, 4 sealed by another key, of `Ada Blades`: new to you"),
            "{steps:?}"
        );
        assert!(steps[1].starts_with("2 earlier records"), "{steps:?}");
        // Where anything is rejected nobody is sent to look for more.
        verdict.exit = 1;
        let steps = next_steps(&verdict, &BTreeMap::new(), &[one(false)]);
        assert_eq!(steps.len(), 1, "{steps:?}");
    }
}
