//! Registrations and appraisals: against each other, against the tang, against the chain.
//!
//! Length, curvature and number of peg holes against the measured blade are the affair of the `dimensions` plugin.

use tangmark_author::words::list;
use tangmark_author::{Notes, numbers};
use tangmark_core::record::{
    CustodyKind, InscriptionKind, Registration, RegistrationKind, RegistrationStates, Sheet, Tang,
    Term as _,
};
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print};
use tangmark_plugin::Level;

use crate::event::{Event, Span};
use crate::settings::Settings;

/// Judges registrations.
pub(crate) fn judge(
    sheet: &Sheet,
    chain: &[Event<'_>],
    made: Option<Span>,
    now: i32,
    settings: &Settings,
    notes: &mut Notes<'_>,
) {
    let all = &sheet.blade.registrations;
    for (index, one) in all.iter().enumerate() {
        alone(one, index, made, now, notes);
        if let (Some(states), Some(tang)) = (&one.states, &sheet.tang) {
            inscription(one, states, tang, index, notes);
        }
    }
    several(all, notes);
    for (index, first) in all.iter().enumerate() {
        for (other, second) in all.iter().enumerate().skip(index + 1) {
            if let (Some(one), Some(two)) = (&first.states, &second.states) {
                disagree((index, first, one), (other, second, two), settings, notes);
            }
        }
    }
    transfer(all, chain, notes);
}

fn place(index: usize) -> String {
    format!("/blade/registrations/{index}")
}

fn alone(one: &Registration, index: usize, made: Option<Span>, now: i32, notes: &mut Notes<'_>) {
    let name = one.kind.gloss();
    let at = format!("{}/on", place(index));
    if let Some(on) = &one.on {
        let span = Span::of(on);
        if span.first > now {
            let message = format!(
                "The {name} is dated {on}, after the day of this check. Read the date again."
            );
            notes.add("custody.future", Level::Caution, message, &[at], Vec::new());
        } else if made.is_some_and(|made| span.surely_before(made)) {
            let message = format!(
                "The {name} is dated {on}, before the earliest year in which the blade may have been made. Either the period on the sheet is too \
                 late, or the paper belongs to another blade."
            );
            let places = [at, "/blade/made_not_before".to_owned()];
            notes.add(
                "custody.card-before-blade",
                Level::Caution,
                message,
                &places,
                Vec::new(),
            );
        }
    }
    let register = !matches!(
        one.kind,
        RegistrationKind::PrivateAppraisal | RegistrationKind::Other
    );
    let mut missing = Vec::new();
    if one.number.is_none() && one.withheld.is_empty() {
        missing.push("number".to_owned());
    }
    if one.on.is_none() {
        missing.push("date".to_owned());
    }
    if register && !missing.is_empty() {
        let message = format!(
            "The {name} is entered without its {}. The authority can find an entry only by what stands on it: copy it from the paper.",
            list(&missing)
        );
        notes.add(
            "custody.card-no-number",
            Level::Info,
            message,
            &[place(index)],
            Vec::new(),
        );
    }
}

fn several(all: &[Registration], notes: &mut Notes<'_>) {
    let cards: Vec<(usize, &Registration)> = all
        .iter()
        .enumerate()
        .filter(|(_, one)| one.kind == RegistrationKind::RegistrationCard)
        .collect();
    let [(_, first), rest @ ..] = &cards[..] else {
        return;
    };
    if rest.is_empty() {
        return;
    }
    let told_apart = |other: &Registration| match (&first.number, &other.number) {
        (Some(one), Some(two)) => one != two || first.authority != other.authority,
        _ => first.authority != other.authority || first.on != other.on,
    };
    let differs = rest.iter().any(|(_, other)| told_apart(other));
    let places: Vec<String> = cards.iter().map(|(index, _)| place(*index)).collect();
    let (level, words) = if differs {
        (
            Level::Caution,
            "They are not the same card. One blade has one: one of them may be an older one, or belong to another blade. Ask the authority which \
             of them stands.",
        )
    } else {
        (
            Level::Info,
            "They seem to be the same card, entered twice: keep one entry.",
        )
    };
    let message = format!("The sheet has {} registration cards. {words}", cards.len());
    notes.add("custody.cards-several", level, message, &places, Vec::new());
}

type Paper<'a> = (usize, &'a Registration, &'a RegistrationStates);

fn disagree(first: Paper<'_>, second: Paper<'_>, settings: &Settings, notes: &mut Notes<'_>) {
    let ((index, one, says), (other, two, says_too)) = (first, second);
    let mut parts = Vec::new();
    let mut given = Vec::new();
    let tolerance = settings.paper_length_tolerance_mm;
    for (what, left, right) in [
        ("length", &says.blade_length, &says_too.blade_length),
        ("curvature", &says.curvature, &says_too.curvature),
    ] {
        let (Some(left), Some(right)) = (left, right) else {
            continue;
        };
        let (left, right) = (Estimate::from(&left.0), Estimate::from(&right.0));
        let apart = left - right;
        if apart.value.abs() > apart.expanded() + tolerance {
            parts.push(format!(
                "{what} ({} and {})",
                print::with_expanded(left, "mm"),
                print::with_expanded(right, "mm")
            ));
            given.extend(numbers(&[(
                &format!("difference in {what}"),
                apart,
                Unit::Millimetre,
            )]));
        }
    }
    if let (Some(left), Some(right)) = (says.peg_holes, says_too.peg_holes)
        && left != right
    {
        parts.push(format!("number of peg holes ({left} and {right})"));
    }
    if let (Some(left), Some(right)) = (&says.inscription, &says_too.inscription)
        && plain(left) != plain(right)
        && !(unsigned(left) && unsigned(right))
    {
        parts.push("inscription".to_owned());
    }
    if parts.is_empty() {
        return;
    }
    let message = format!(
        "The {} and the {} differ in {}. A blade may have been altered between the two, or one of them belongs to another blade: hold both against \
         the blade.",
        one.kind.gloss(),
        two.kind.gloss(),
        list(&parts)
    );
    let places = [
        format!("{}/states", place(index)),
        format!("{}/states", place(other)),
    ];
    notes.add(
        "custody.cards-disagree",
        Level::Caution,
        message,
        &places,
        given,
    );
}

/// A text without blanks and marks, in lower case, for comparison.
fn plain(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

fn unsigned(text: &str) -> bool {
    let text = plain(text);
    ["無銘", "mumei", "unsigned", "none"]
        .iter()
        .any(|word| text == *word)
}

fn inscription(
    one: &Registration,
    states: &RegistrationStates,
    tang: &Tang,
    index: usize,
    notes: &mut Notes<'_>,
) {
    let Some(stated) = &states.inscription else {
        return;
    };
    let name = one.kind.gloss();
    let bare = |kind: InscriptionKind| matches!(kind, InscriptionKind::Mumei);
    let says_unsigned = tang.inscriptions.iter().any(|found| bare(found.kind));
    let readings: Vec<String> = tang
        .inscriptions
        .iter()
        .filter(|found| !bare(found.kind))
        .flat_map(|found| [found.reading.as_deref(), found.transliteration.as_deref()])
        .flatten()
        .map(plain)
        .collect();
    let signed = tang.inscriptions.iter().any(|found| !bare(found.kind));
    let (level, words) = if unsigned(stated) {
        if !signed {
            return;
        }
        (
            Level::Caution,
            "calls the blade unsigned, and the tang bears an inscription: it may have been cut since, or the paper belongs to another blade",
        )
    } else if says_unsigned && !signed {
        (
            Level::Caution,
            "states an inscription, and the tang is noted as unsigned: it may have gone with a shortening, or the paper belongs to another blade",
        )
    } else if readings.is_empty()
        || readings
            .iter()
            .any(|reading| plain(stated).contains(reading.as_str()))
    {
        return;
    } else {
        (
            Level::Info,
            "states an inscription that does not read as the one noted from the tang: hold the characters of both side by side",
        )
    };
    let message = format!("The {name} {words}.");
    let places = [
        format!("{}/states/inscription", place(index)),
        "/tang/inscriptions".to_owned(),
    ];
    notes.add(
        "custody.card-inscription",
        level,
        message,
        &places,
        Vec::new(),
    );
}

/// A change of owner after the last date on the card.
fn transfer(all: &[Registration], chain: &[Event<'_>], notes: &mut Notes<'_>) {
    let card = all
        .iter()
        .enumerate()
        .find(|(_, one)| one.kind == RegistrationKind::RegistrationCard);
    let Some((index, card)) = card else { return };
    let Some(changed) = chain.iter().rev().find(|event| event.changes_owner()) else {
        return;
    };
    let told = chain.iter().any(|event| {
        event.kind() == CustodyKind::Registered && !event.span.surely_before(changed.span)
    });
    let newer = card
        .on
        .as_ref()
        .is_some_and(|on| !Span::of(on).surely_before(changed.span));
    if told || newer {
        return;
    }
    let message = format!(
        "The owner changed with {}, after the date of the registration card, and no entry in the register is noted since. Where such cards are in \
         use, a new owner commonly has to be told to the board within days (the trade speaks of 20): ask the authority, and note the answer.",
        changed.words()
    );
    notes.add(
        "custody.card-transfer",
        Level::Info,
        message,
        &[place(index), changed.place()],
        Vec::new(),
    );
}
