//! People and papers.

use tangmark_core::record::{Document, Person, Role};

use super::{colon, comma, name, not_recorded, withheld};
use crate::{
    Speech,
    layout::Span,
    speech::{Pair, pair},
};

/// A person: the part played, then name, address and contact where they are shown.
pub(crate) fn person(speech: Speech, person: &Person) -> Vec<Span> {
    let role = format!("{}{}", speech.text(&name(person.role)), colon(speech));
    let mut spans = vec![Span::quiet(role)];
    spans.extend(named(speech, person));
    spans
}

/// A person under a label that names a part already: another part is said, the same one is not said twice.
pub(crate) fn person_as(speech: Speech, label: Role, who: &Person) -> Vec<Span> {
    if who.role == label {
        named(speech, who)
    } else {
        person(speech, who)
    }
}

/// Name, address and contact of a person where they are shown.
pub(crate) fn named(speech: Speech, person: &Person) -> Vec<Span> {
    let mut spans = match &person.name {
        Some(name) => vec![Span::plain(name.clone())],
        None if person.withheld.is_empty() => speech.label(&of_name(&not_recorded())),
        None => speech.label(&of_name(&withheld())),
    };
    for part in [&person.address, &person.contact].into_iter().flatten() {
        spans.push(Span::plain(format!("{}{part}", comma(speech))));
    }
    spans
}

fn of_name(what: &Pair) -> Pair {
    pair(format!("name {}", what.en), format!("氏名は{}", what.ja))
}

/// A paper in one line.
pub(crate) fn document(speech: Speech, paper: &Document) -> String {
    let mut parts = vec![speech.text(&name(paper.kind))];
    parts.extend(paper.issuer.clone());
    parts.extend(paper.on.as_ref().map(ToString::to_string));
    match &paper.number {
        Some(number) => {
            parts.push(speech.text(&pair(format!("no. {number}"), format!("番号 {number}"))));
        }
        None if !paper.withheld.is_empty() => {
            let unknown = withheld();
            let said = pair(
                format!("number {}", unknown.en),
                format!("番号は{}", unknown.ja),
            );
            parts.push(speech.text(&said));
        }
        None => {}
    }
    let note = paper.note.as_ref().map_or_else(String::new, |note| {
        if speech == Speech::Japanese {
            format!("（{note}）")
        } else {
            format!(" ({note})")
        }
    });
    format!("{}{note}", parts.join(comma(speech)))
}
