//! The order of time.

use tangmark_author::Notes;
use tangmark_core::record::CustodyKind;
use tangmark_plugin::Level;

use crate::event::{Event, Span};

/// Judges events against each other, against the making of the blade, and against the day of the check.
pub(crate) fn judge(chain: &[Event<'_>], made: Option<Span>, now: i32, notes: &mut Notes<'_>) {
    dropped(chain, notes);
    listed(chain, notes);
    for event in chain {
        if event.span.first > now {
            let message = format!(
                "The event {} lies after the day of this check. Look whether the year is right; what is planned is no event yet.",
                event.words()
            );
            notes.add(
                "custody.future",
                Level::Caution,
                message,
                &[event.place()],
                Vec::new(),
            );
        }
    }
    before_made(chain, made, notes);
    after_lost(chain, notes);
}

fn dropped(chain: &[Event<'_>], notes: &mut Notes<'_>) {
    for event in chain.iter().filter(|event| event.pointer.is_none()) {
        let record = event.sequence.unwrap_or(0);
        let message = format!(
            "Sealed record {record} has the event {}, and the sheet no longer has it in this form. Put it back, or say in the new entry what was \
             wrong with the old one: the sealed record stays as it is.",
            event.words()
        );
        notes.add(
            "custody.dropped",
            Level::Caution,
            message,
            &[event.place()],
            Vec::new(),
        );
    }
}

fn listed(chain: &[Event<'_>], notes: &mut Notes<'_>) {
    let mut by_place: Vec<(usize, &Event<'_>)> = chain
        .iter()
        .filter_map(|event| {
            let index = event.pointer.as_ref()?.rsplit('/').next()?.parse().ok()?;
            Some((index, event))
        })
        .collect();
    by_place.sort_by_key(|(index, _)| *index);
    for pair in by_place.windows(2) {
        let ((_, earlier), (_, later)) = (pair[0], pair[1]);
        if later.span.surely_before(earlier.span) {
            let message = format!(
                "The event {} is listed after {}, which came later. The order of the list says nothing here, but readers take it for the order of \
                 time: list them by date, or look at the years.",
                later.words(),
                earlier.words()
            );
            let places = [earlier.place(), later.place()];
            notes.add(
                "custody.listed-out-of-order",
                Level::Info,
                message,
                &places,
                Vec::new(),
            );
        }
    }
}

fn before_made(chain: &[Event<'_>], made: Option<Span>, notes: &mut Notes<'_>) {
    let making = chain.iter().find(|event| event.kind() == CustodyKind::Made);
    let (span, place) = match (making, made) {
        (Some(event), _) => (event.span, event.place()),
        (None, Some(span)) => (span, "/blade/made_not_before".to_owned()),
        (None, None) => return,
    };
    for event in chain
        .iter()
        .filter(|event| event.kind() != CustodyKind::Made)
    {
        let (level, words) = if event.span.surely_before(span) {
            (
                Level::Caution,
                "lies before the blade was made, whatever the true days",
            )
        } else if event.span.first < span.first {
            (
                Level::Info,
                "may lie before the blade was made: their spans overlap",
            )
        } else {
            continue;
        };
        let message = format!(
            "The event {} {words}. Narrow the dates, or look whether it speaks of another blade.",
            event.words()
        );
        notes.add(
            "custody.before-made",
            level,
            message,
            &[event.place(), place.clone()],
            Vec::new(),
        );
    }
}

fn after_lost(chain: &[Event<'_>], notes: &mut Notes<'_>) {
    let mut lost: Option<&Event<'_>> = None;
    for event in chain {
        match event.kind() {
            CustodyKind::Lost => lost = Some(event),
            CustodyKind::Found => lost = None,
            _ => {
                let Some(loss) = lost else { continue };
                let sure = loss.span.surely_before(event.span);
                let (level, words) = if sure {
                    (Level::Caution, "comes after")
                } else {
                    (Level::Info, "may come after")
                };
                let message = format!(
                    "The event {} {words} {}, and no event says that the blade was found again. Ask for the find, and look into the registers of \
                     lost objects.",
                    event.words(),
                    loss.words()
                );
                notes.add(
                    "custody.after-lost",
                    level,
                    message,
                    &[loss.place(), event.place()],
                    Vec::new(),
                );
            }
        }
    }
}
