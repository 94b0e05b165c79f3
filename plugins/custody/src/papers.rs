//! Papers that go with events.

use tangmark_author::Notes;
use tangmark_author::words::list;
use tangmark_core::record::{DocumentKind, Term as _};
use tangmark_plugin::Level;

use crate::event::{Event, Span};

/// Judges the papers of events.
pub(crate) fn judge(chain: &[Event<'_>], now: i32, notes: &mut Notes<'_>) {
    without(chain, notes);
    for event in chain {
        for (index, document) in event.said.documents.iter().enumerate() {
            let Some(on) = &document.on else { continue };
            let span = Span::of(on);
            let place = event.pointer.as_ref().map_or_else(
                || "/custody".to_owned(),
                |pointer| format!("{pointer}/documents/{index}/on"),
            );
            let name = document.kind.gloss();
            if span.first > now {
                let message = format!(
                    "The {name} with {} is dated {on}, after the day of this check. Read the date again.",
                    event.words()
                );
                notes.add(
                    "custody.future",
                    Level::Caution,
                    message,
                    &[place],
                    Vec::new(),
                );
                continue;
            }
            let permit = matches!(
                document.kind,
                DocumentKind::ExportPermit
                    | DocumentKind::ImportPermit
                    | DocumentKind::SpeciesPermit
            );
            let bill = matches!(document.kind, DocumentKind::Invoice | DocumentKind::Receipt);
            let message = if permit && event.span.surely_before(span) {
                format!(
                    "The {name} is dated {on}, after the crossing {} it goes with. A permit comes before the border: it may belong to another \
                     journey, or one of the dates is wrong.",
                    event.words()
                )
            } else if bill
                && (span.least_years_to(event.span) > 1.0 || event.span.least_years_to(span) > 1.0)
            {
                format!(
                    "The {name} is dated {on}, more than a year away from {} it goes with. Look whether it belongs to another event.",
                    event.words()
                )
            } else {
                continue;
            };
            notes.add(
                "custody.paper-date",
                Level::Caution,
                message,
                &[place],
                Vec::new(),
            );
        }
    }
}

fn without(chain: &[Event<'_>], notes: &mut Notes<'_>) {
    let bare: Vec<&Event<'_>> = chain
        .iter()
        .filter(|event| event.changes_owner() && event.said.documents.is_empty())
        .collect();
    if bare.is_empty() {
        return;
    }
    let words: Vec<String> = bare.iter().take(6).map(|event| event.words()).collect();
    let places: Vec<String> = bare.iter().map(|event| event.place()).collect();
    let (count, rest) = match bare.len() {
        1 => ("One change of owner rests".to_owned(), ""),
        count => (
            format!("{count} changes of owner rest"),
            if count > words.len() { " and more" } else { "" },
        ),
    };
    let message = format!(
        "{count} on no paper: {}{rest}. An account by word of mouth is worth noting as one; ask whether an invoice, a letter or an old photograph \
         is left.",
        list(&words)
    );
    notes.add(
        "custody.no-paper",
        Level::Info,
        message,
        &places,
        Vec::new(),
    );
}
