//! One line of every state, with what it means to a reader; the page and the test of the wording are made of them.

use super::*;
use crate::history::Standing;
use crate::timestamp::Authority;

/// A state: what it means, and a line of it.
pub(super) struct Example<T> {
    pub(super) meaning: &'static str,
    pub(super) line: T,
}

const fn example<T>(meaning: &'static str, line: T) -> Example<T> {
    Example { meaning, line }
}

fn digest() -> Digest {
    Digest::of(b"another record")
}

pub(super) fn bytes() -> Vec<Example<BytesLine>> {
    let text = str::to_owned;
    vec![
        example("every byte is as it was sealed", BytesLine::Intact),
        example(
            "what was said is unchanged, the file is not the sealed one",
            BytesLine::SameContent,
        ),
        example(
            "somebody or something changed it, or it never was what it looks like",
            BytesLine::Altered {
                reasons: vec![text("first reason"), text("second reason")],
            },
        ),
        example(
            "it is something else, or of a later version",
            BytesLine::CannotJudge {
                reasons: vec![text("first reason")],
            },
        ),
    ]
}

pub(super) fn signers() -> Vec<Example<SignerLine>> {
    let text = str::to_owned;
    let (this, known, third) = (
        "AAAAA-BBBBB-CCCCC-DDDDD",
        "EEEEE-FFFFF-GGGGG-HHHHH",
        "IIIII-JJJJJ-KKKKK-LLLLL",
    );
    let (since, from, until) = (
        "2026-04-01T00:00:00Z",
        "2026-06-01T00:00:00Z",
        "2028-06-01T00:00:00Z",
    );
    let succeeded = |backwards| SignerLine::Succeeded {
        fingerprint: text(this),
        known: text(known),
        since: text(since),
        from: text(from),
        backwards,
    };
    let not_in_force = |when| SignerLine::NotInForce {
        fingerprint: text(this),
        when,
        from: text(from),
        until: Some(text(until)),
    };
    vec![
        example("your own workshop sealed it", SignerLine::Own),
        example(
            "the same hand as before, whoever that is",
            SignerLine::Known { since: text(since) },
        ),
        example("a key you know handed on to this one", succeeded(false)),
        example("this key handed on to one that you know", succeeded(true)),
        example(
            "the everyday key was lost or stolen, and the paper key named this one",
            SignerLine::Recovered {
                fingerprint: text(this),
                known: text(known),
                from: text(from),
            },
        ),
        example(
            "anybody may have made this key",
            SignerLine::New {
                fingerprint: text(this),
            },
        ),
        example(
            "the workshop changed its key, or somebody uses its name",
            SignerLine::OtherKeyForName {
                fingerprint: text(this),
                remembered: vec![text(known), text(third)],
            },
        ),
        example(
            "the workshop changed its name, or the file was put under another one",
            SignerLine::OtherNameForKey {
                name: text("Rill Workshop"),
                remembered: vec![text("Mill Workshop")],
            },
        ),
        example(
            "the stated time is wrong, or an old key was used by somebody",
            not_in_force(Standing::TooEarly),
        ),
        example(
            "the same, after the key was laid aside",
            not_in_force(Standing::TooLate),
        ),
        example(
            "the workshop says that it does not answer for this",
            SignerLine::Revoked {
                fingerprint: text(this),
                since: text(since),
            },
        ),
        example(
            "it may be the workshop's, or dated back by a thief",
            SignerLine::RevokedUnproved {
                fingerprint: text(this),
                since: text(since),
            },
        ),
        example(
            "a key was stolen or misused: somebody wrote a second history",
            SignerLine::TwoHistories {
                fingerprint: text(this),
                entry: 2,
                in_force: [text(known), text(third)],
            },
        ),
        example(
            "without a signature that holds there is nobody to ask about",
            SignerLine::CannotJudge {
                reason: text("there is no signature that holds"),
            },
        ),
    ]
}

pub(super) fn times() -> Vec<Example<TimeLine>> {
    let text = str::to_owned;
    let seen = |standing| TimeLine::NotLaterThan {
        stated: text(SEALED),
        time: text("2026-03-02T08:00:00Z"),
        authority: text("Clock House"),
        standing,
    };
    let later = |standing| TimeLine::StatedLater {
        stated: text("2031-01-01T00:00:00Z"),
        time: text("2026-03-02T08:00:00Z"),
        authority: text("Clock House"),
        standing,
    };
    vec![
        example(
            "the workshop says so, nobody else does",
            TimeLine::OwnWord {
                stated: text(SEALED),
            },
        ),
        example(
            "a clock is wrong: yours or the workshop's",
            TimeLine::Future {
                stated: text("2031-01-01T00:00:00Z"),
            },
        ),
        example(
            "it existed then; whether it is older only the workshop says",
            seen(Authority::Trusted),
        ),
        example(
            "somebody you did not name says that it existed then",
            seen(Authority::Unknown),
        ),
        example(
            "no more than the workshop's own word",
            seen(Authority::Workshop),
        ),
        example(
            "the workshop dated it later than it is, or the authority's clock is wrong",
            later(Authority::Trusted),
        ),
        example(
            "the same, as far as you believe somebody whom you did not name",
            later(Authority::Unknown),
        ),
        example(
            "the workshop contradicts itself",
            later(Authority::Workshop),
        ),
        example(
            "without a signature that holds there is no time to speak of",
            TimeLine::CannotJudge,
        ),
    ]
}

pub(super) fn completeness() -> Vec<Example<Completeness>> {
    let first = Completeness {
        sequence: Some(1),
        supplied: 1,
        ..Completeness::default()
    };
    let third = Completeness {
        sequence: Some(3),
        ..first.clone()
    };
    vec![
        example("there is no record to ask about", Completeness::default()),
        example("the first record of its blade", first),
        example(
            "the whole story up to this record is here",
            Completeness {
                supplied: 3,
                ..third.clone()
            },
        ),
        example(
            "earlier records exist and are not here",
            Completeness {
                not_supplied: 2,
                missing: Some(digest()),
                ..third.clone()
            },
        ),
        example(
            "all that can be counted: a later record, other keys, withheld and disclosed values, photos",
            Completeness {
                superseded_by: Some(digest()),
                other_keys: 1,
                withheld: 4,
                disclosed: 2,
                photos_named: 2,
                supplied: 4,
                ..third.clone()
            },
        ),
        example(
            "whoever sealed it takes an earlier record back",
            Completeness {
                is_withdrawal: true,
                supplied: 3,
                ..third.clone()
            },
        ),
        example(
            "a later record that is here takes this one back",
            Completeness {
                superseded_by: Some(digest()),
                withdrawn_by: Some(digest()),
                supplied: 4,
                ..third.clone()
            },
        ),
        example(
            "records here do not fit together",
            Completeness {
                broken: Some("what breaks it".to_owned()),
                ..third
            },
        ),
    ]
}

/// A verdict in which nothing is open, to put one line into.
pub(super) fn nothing_open() -> Verdict {
    Verdict {
        kind: FileKind::Record,
        bytes: BytesLine::Intact,
        signer: SignerLine::Own,
        time: TimeLine::OwnWord {
            stated: SEALED.to_owned(),
        },
        completeness: Completeness {
            sequence: Some(1),
            supplied: 1,
            ..Completeness::default()
        },
        record: None,
        fingerprint: None,
        key: None,
        issuer: None,
        notices: Vec::new(),
    }
}
