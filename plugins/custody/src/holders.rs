//! Who held and who owned the blade.

use tangmark_author::{Notes, numbers};
use tangmark_core::record::{CustodyKind, Person, Role, Term as _};
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_plugin::Level;

use crate::event::{Event, Identity, holds_for_a_time, identity};
use crate::settings::Settings;

/// Judges the passing from hand to hand.
pub(crate) fn judge(chain: &[Event<'_>], settings: &Settings, notes: &mut Notes<'_>) {
    let hands: Vec<&Event<'_>> = chain
        .iter()
        .filter(|event| event.changes_holder())
        .collect();
    for pair in hands.windows(2) {
        passing(pair[0], pair[1], settings, notes);
        twice_acquired(pair[0], pair[1], notes);
    }
    out_and_back(&hands, notes);
    for (index, event) in hands.iter().enumerate() {
        not_the_owner(&hands[..index], event, notes);
    }
}

/// Who has the blade after an event, and who gave it before the next, against the time between.
fn passing(before: &Event<'_>, after: &Event<'_>, settings: &Settings, notes: &mut Notes<'_>) {
    if same_passing(before, after) {
        return;
    }
    let (holder, giver) = (before.said.to.as_ref(), after.said.from.as_ref());
    let least = before.span.least_years_to(after.span);
    let places = [before.place(), after.place()];
    match identity(holder, giver) {
        Identity::Same => {}
        Identity::Different if !comes_back(before, after) => {
            let sure = before.span.surely_before(after.span);
            let level = if sure { Level::Caution } else { Level::Info };
            let message = format!(
                "After {} the blade was with a person noted as {}, and {} has it from another, noted as {}. An event between them is missing, or one \
                 of the two names is wrong.",
                before.words(),
                role(holder),
                after.words(),
                role(giver)
            );
            notes.add("custody.break", level, message, &places, Vec::new());
        }
        _ => {
            let most = before.span.most_years_to(after.span);
            let (level, words, years) = if least > settings.gap_years {
                (Level::Caution, "at least", least)
            } else if most > settings.gap_years && before.span != after.span {
                (Level::Info, "up to", most)
            } else {
                return;
            };
            if holder.is_some_and(|one| one.name.is_some())
                && after.said.from.is_none()
                && is_by_the_holder(after)
            {
                return;
            }
            if by_role_alone(holder, after) {
                let message = format!(
                    "Between {} and {} lie {words} {years:.1} years, and who had the blade is noted by role alone: the names are withheld, or were \
                     never given. Whether it stayed in one hand cannot be judged without them.",
                    before.words(),
                    after.words()
                );
                let given = numbers(&[("years between", Estimate::exact(years), Unit::One)]);
                notes.add("custody.gap", Level::Info, message, &places, given);
                return;
            }
            let message = format!(
                "Between {} and {} lie {words} {years:.1} years, and the sheet does not say that the blade stayed in one hand. Ask who had it, and \
                 note the answer with its paper, or note the gap as one.",
                before.words(),
                after.words()
            );
            let given = numbers(&[(
                "years without a named holder",
                Estimate::exact(years),
                Unit::One,
            )]);
            notes.add("custody.gap", level, message, &places, given);
        }
    }
}

/// Somebody is noted on both sides, and a name is lacking: a sheet that came from another workshop has none that were
/// withheld.
fn by_role_alone(holder: Option<&Person>, after: &Event<'_>) -> bool {
    let giver = after.said.from.as_ref();
    let unnamed = |person: Option<&Person>| person.is_some_and(|one| one.name.is_none());
    let noted = holder.is_some() && (giver.is_some() || is_by_the_holder(after));
    // Two roles say by themselves that it changed hands.
    let one_role = giver.is_none_or(|giver| holder.is_some_and(|holder| holder.role == giver.role));
    noted && one_role && (unnamed(holder) || unnamed(giver))
}

/// An event that names no giver because the holder acts.
fn is_by_the_holder(event: &Event<'_>) -> bool {
    matches!(
        event.kind(),
        CustodyKind::LeftForWork | CustodyKind::Lent | CustodyKind::Lost
    )
}

/// The person who had left the blade acts again: a return passes between.
fn comes_back(before: &Event<'_>, after: &Event<'_>) -> bool {
    matches!(before.kind(), CustodyKind::LeftForWork | CustodyKind::Lent)
        && identity(before.said.from.as_ref(), after.said.from.as_ref()) == Identity::Same
}

/// `sold` by the one and `bought` by the other, at a time that may be the same.
fn same_passing(before: &Event<'_>, after: &Event<'_>) -> bool {
    use CustodyKind as K;
    let pair = matches!(
        (before.kind(), after.kind()),
        (K::Sold, K::Bought)
            | (K::Bought, K::Sold)
            | (K::Given, K::Inherited)
            | (K::Inherited, K::Given)
    );
    let meet = !before.span.surely_before(after.span) && !after.span.surely_before(before.span);
    let different = |first: &Option<Person>, second: &Option<Person>| {
        identity(first.as_ref(), second.as_ref()) == Identity::Different
    };
    pair && meet
        && !different(&before.said.to, &after.said.to)
        && !different(&before.said.from, &after.said.from)
}

fn twice_acquired(before: &Event<'_>, after: &Event<'_>, notes: &mut Notes<'_>) {
    let both = before.changes_owner() && after.changes_owner();
    if !both || before.span.surely_before(after.span) || same_passing(before, after) {
        return;
    }
    if identity(before.said.to.as_ref(), after.said.to.as_ref()) != Identity::Different
        || identity(before.said.to.as_ref(), after.said.from.as_ref()) == Identity::Same
    {
        return;
    }
    let one_day = before.span.first == before.span.last && before.span == after.span;
    let level = if one_day { Level::Caution } else { Level::Info };
    let message = format!(
        "The events {} and {} give the blade to two people, and their dates do not exclude each other. Narrow the dates, or say which of them became the owner.",
        before.words(),
        after.words()
    );
    notes.add(
        "custody.overlap",
        level,
        message,
        &[before.place(), after.place()],
        Vec::new(),
    );
}

/// Left for work, lent, returned.
fn out_and_back(hands: &[&Event<'_>], notes: &mut Notes<'_>) {
    let mut out: Option<&Event<'_>> = None;
    for event in hands {
        match event.kind() {
            CustodyKind::LeftForWork | CustodyKind::Lent => {
                if let Some(first) = out {
                    // Passed on within the work is ordinary when the holder gives it.
                    let by_holder = identity(first.said.to.as_ref(), event.said.from.as_ref())
                        == Identity::Same;
                    if !by_holder {
                        let sure = first.span.surely_before(event.span);
                        let level = if sure { Level::Caution } else { Level::Info };
                        let message = format!(
                            "The blade went out with {} and again with {}, and no return lies between. Enter the return with its day, or look \
                             whether one of the two is a repeat.",
                            first.words(),
                            event.words()
                        );
                        notes.add(
                            "custody.overlap",
                            level,
                            message,
                            &[first.place(), event.place()],
                            Vec::new(),
                        );
                    }
                }
                out = Some(event);
            }
            CustodyKind::Returned => {
                let left = out.take();
                if left.is_none() {
                    let message = format!(
                        "The event {} brings the blade back, and no event says that it had gone out. Enter when it left, and to whom.",
                        event.words()
                    );
                    notes.add(
                        "custody.return-without-leaving",
                        Level::Info,
                        message,
                        &[event.place()],
                        Vec::new(),
                    );
                }
            }
            _ if event.changes_owner() => {
                if let Some(first) = out.take() {
                    let to_holder = identity(first.said.to.as_ref(), event.said.to.as_ref())
                        == Identity::Same
                        || role_of(first.said.to.as_ref()) == role_of(event.said.to.as_ref());
                    if !to_holder {
                        let message = format!(
                            "The blade went out with {}, and the owner changed with {} before any return was noted. Note the return, and that the \
                             one who held it knew of the new owner.",
                            first.words(),
                            event.words()
                        );
                        notes.add(
                            "custody.not-returned",
                            Level::Info,
                            message,
                            &[first.place(), event.place()],
                            Vec::new(),
                        );
                    }
                }
            }
            _ => {}
        }
    }
}

/// Sold, given or lent by somebody who by the chain held the blade for work or on loan.
fn not_the_owner(earlier: &[&Event<'_>], event: &Event<'_>, notes: &mut Notes<'_>) {
    if !matches!(
        event.kind(),
        CustodyKind::Sold | CustodyKind::Given | CustodyKind::Bought | CustodyKind::Lent
    ) {
        return;
    }
    let Some(giver) = event.said.from.as_ref() else {
        return;
    };
    let is_giver = |person: Option<&Person>| {
        person.is_some_and(|one| match identity(Some(one), Some(giver)) {
            Identity::Same => true,
            Identity::Different => false,
            Identity::Unknown => one.role == giver.role && holds_for_a_time(giver.role),
        })
    };
    let last = earlier
        .iter()
        .rev()
        .find(|one| is_giver(one.said.to.as_ref()));
    let owned = earlier
        .iter()
        .any(|one| one.changes_owner() && is_giver(one.said.to.as_ref()));
    let Some(last) = last
        .filter(|one| matches!(one.kind(), CustodyKind::LeftForWork | CustodyKind::Lent) && !owned)
    else {
        return;
    };
    let level = if last.span.surely_before(event.span) {
        Level::Caution
    } else {
        Level::Info
    };
    let message = format!(
        "The event {} has the blade from the one ({}) who by {} held it only for a time. Custody is not ownership: ask for the owner's order or \
         the paper by which it became theirs before you rely on what came after.",
        event.words(),
        giver.role.gloss(),
        last.words()
    );
    notes.add(
        "custody.not-the-owner",
        level,
        message,
        &[last.place(), event.place()],
        Vec::new(),
    );
}

fn role(person: Option<&Person>) -> &'static str {
    role_of(person).gloss()
}

fn role_of(person: Option<&Person>) -> Role {
    person.map_or(Role::Unknown, |one| one.role)
}
