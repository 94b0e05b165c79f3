//! Where the blade stands, and the chain as a table.

use tangmark_author::words::counted;
use tangmark_author::{Notes, column, text_column};
use tangmark_core::record::{CustodyKind, Term as _};
use tangmark_core::units::Unit;
use tangmark_plugin::{Level, Table};

use crate::event::Event;

/// Says where the chain starts and ends, and lays it out. No names: the table may become public.
pub(crate) fn judge(chain: &[Event<'_>], notes: &mut Notes<'_>) {
    let (Some(first), Some(last)) = (chain.first(), chain.last()) else {
        let message = "The sheet says nothing of where the blade has been. Ask whoever brings it: from whom, when, with what paper. A gap that is \
                       noted as one is worth more than a blank.";
        notes.add(
            "custody.empty",
            Level::Info,
            message,
            &["/custody"],
            Vec::new(),
        );
        return;
    };
    if !matches!(first.kind(), CustodyKind::Made | CustodyKind::Found) {
        let message = format!(
            "The chain begins with {}; what came before is not told. Enter what the owner knows, and where the knowledge ends.",
            first.words()
        );
        notes.add(
            "custody.start",
            Level::Info,
            message,
            &[first.place()],
            Vec::new(),
        );
    }
    let holder = chain.iter().rev().find(|event| event.changes_holder());
    let stands = holder.map_or_else(
        || "none of them says who holds it".to_owned(),
        |event| match (event.kind(), &event.said.to) {
            (CustodyKind::Lost, _) => format!(
                "by the last change of hands, {}, nobody holds it",
                event.words()
            ),
            (_, Some(to)) => {
                let why = match event.kind() {
                    CustodyKind::LeftForWork => ", for work",
                    CustodyKind::Lent => ", on loan",
                    _ => "",
                };
                format!(
                    "by the last change of hands, {}, it is with the {}{why}",
                    event.words(),
                    to.role.gloss()
                )
            }
            (_, None) => format!(
                "the last change of hands, {}, does not say to whom",
                event.words()
            ),
        },
    );
    let owner = chain.iter().rev().find(|event| event.changes_owner());
    let owned = match (holder, owner) {
        (Some(holder), Some(owner)) if !holder.changes_owner() => {
            format!("; the owner last changed with {}", owner.words())
        }
        _ => String::new(),
    };
    let cautions = notes
        .findings()
        .iter()
        .filter(|one| one.level == Level::Caution)
        .count();
    let verdict = match cautions {
        0 => "Nothing in it contradicts itself.".to_owned(),
        1 => "One finding asks for a second look.".to_owned(),
        more => format!("{more} findings ask for a second look."),
    };
    let (from, to) = (&first.said.when.earliest, &last.said.when.latest);
    let span = if from == to {
        from.to_string()
    } else {
        format!("{from} to {to}")
    };
    let message = format!(
        "{}, {span}: {stands}{owned}. {verdict}",
        counted(chain.len(), "event")
    );
    let places: Vec<String> = holder.into_iter().map(Event::place).collect();
    notes.add(
        "custody.standing",
        Level::Info,
        message,
        &places,
        Vec::new(),
    );
    table(chain, notes);
}

fn table(chain: &[Event<'_>], notes: &mut Notes<'_>) {
    let rows = chain
        .iter()
        .map(|event| {
            let role = |person: &Option<tangmark_core::record::Person>| {
                person
                    .as_ref()
                    .map_or(String::new(), |one| one.role.gloss().to_owned())
            };
            vec![
                event.said.when.earliest.to_string(),
                event.said.when.latest.to_string(),
                event.kind().gloss().to_owned(),
                role(&event.said.from),
                role(&event.said.to),
                event.said.documents.len().to_string(),
                match (&event.pointer, event.sequence) {
                    (Some(_), Some(number)) => format!("sheet and record {number}"),
                    (Some(_), None) => "sheet".to_owned(),
                    (None, Some(number)) => format!("record {number} only"),
                    (None, None) => String::new(),
                },
            ]
        })
        .collect();
    notes.table(Table {
        id: "custody.chain".to_owned(),
        title: "The chain of events".to_owned(),
        columns: vec![
            text_column("earliest"),
            text_column("latest"),
            text_column("event"),
            text_column("from"),
            text_column("to"),
            column("papers", Unit::One),
            text_column("stands in"),
        ],
        rows,
        source: "events of the sheet and of sealed records, by their earliest day".to_owned(),
    });
}
