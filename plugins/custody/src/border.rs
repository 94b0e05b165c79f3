//! Borders and their papers.

use tangmark_author::Notes;
use tangmark_core::record::{CustodyKind, DocumentKind, RegistrationKind, Sheet};
use tangmark_plugin::Level;

use crate::event::{Event, Span};

/// Judges crossings.
pub(crate) fn judge(chain: &[Event<'_>], sheet: &Sheet, notes: &mut Notes<'_>) {
    for event in chain {
        papers(event, notes);
    }
    pairs(chain, notes);
    let card = sheet
        .blade
        .registrations
        .iter()
        .position(|one| one.kind == RegistrationKind::RegistrationCard);
    let Some(card) = card else { return };
    for event in chain
        .iter()
        .filter(|event| event.kind() == CustodyKind::Exported)
    {
        let on = sheet.blade.registrations[card].on.as_ref().map(Span::of);
        if on.is_some_and(|on| event.span.surely_before(on)) {
            continue;
        }
        let message = format!(
            "The sheet has a registration card, and {} takes the blade out of a country. Such a card commonly goes back to the board that issued it \
             when the blade leaves: ask the authority whether this one still stands, and note what came of it.",
            event.words()
        );
        let places = [format!("/blade/registrations/{card}"), event.place()];
        notes.add(
            "custody.card-and-border",
            Level::Info,
            message,
            &places,
            Vec::new(),
        );
    }
}

fn papers(event: &Event<'_>, notes: &mut Notes<'_>) {
    let (needed, name) = match event.kind() {
        CustodyKind::Exported => (DocumentKind::ExportPermit, "export permit or certificate"),
        CustodyKind::Imported => (DocumentKind::ImportPermit, "import permit or customs entry"),
        _ => return,
    };
    if event.said.documents.iter().any(|one| one.kind == needed) {
        return;
    }
    let message = format!(
        "For {} the sheet has no {name}. Ask for it and enter it, or note that there is none: what was needed then and there is for the authorities \
         of both countries to say.",
        event.words()
    );
    notes.add(
        "custody.border-papers",
        Level::Caution,
        message,
        &[event.place()],
        Vec::new(),
    );
}

/// Every way out of a country needs one into another, in the order of time.
fn pairs(chain: &[Event<'_>], notes: &mut Notes<'_>) {
    let crossings: Vec<&Event<'_>> = chain
        .iter()
        .filter(|event| matches!(event.kind(), CustodyKind::Exported | CustodyKind::Imported))
        .collect();
    let mut index = 0;
    while let Some(event) = crossings.get(index) {
        let other = match event.kind() {
            CustodyKind::Exported => CustodyKind::Imported,
            _ => CustodyKind::Exported,
        };
        let next = crossings.get(index + 1).filter(|next| next.kind() == other);
        // An import noted before its export belongs to it only where the spans meet.
        let paired = next.is_some_and(|next| {
            event.kind() == CustodyKind::Exported || !event.span.surely_before(next.span)
        });
        if paired {
            index += 2;
            continue;
        }
        let (way, missing) = if event.kind() == CustodyKind::Exported {
            ("out of a country", "where it went in")
        } else {
            (
                "into a country",
                "what country it came from, and when it left",
            )
        };
        let message = format!(
            "{} takes the blade {way}, and no event says {missing}. Enter the other half of the crossing with its paper.",
            tangmark_author::words::capitalised(&format!("the event {}", event.words()))
        );
        notes.add(
            "custody.border-pair",
            Level::Info,
            message,
            &[event.place()],
            Vec::new(),
        );
        index += 1;
    }
}
