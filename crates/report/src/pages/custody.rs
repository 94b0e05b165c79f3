//! Custody, agreement, valuation, referral and what else the record speaks of.

use tangmark_core::record::{Agreement, CustodyEvent, Record, Referral, Term as _, Valuation};

use super::words::{self, WITHHELD};
use crate::layout::{Cell, Column, Flow, Span, Table, Width, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    flow.heading("Custody", 20.0);
    if record.custody.is_empty() {
        flow.paragraph(
            &[Span::plain(
                "No event of custody or ownership is in this record.",
            )],
            style::BODY,
        );
    } else {
        events(flow, &record.custody);
    }
    if let Some(agreement) = &record.agreement {
        set_agreement(flow, agreement);
    }
    if let Some(valuation) = &record.valuation {
        set_valuation(flow, valuation);
    }
    if let Some(referral) = &record.referral {
        set_referral(flow, referral);
    }
    if let Some(other) = &record.refers_to {
        flow.subheading("What is said of an earlier record", 12.0);
        let mut table = Table::pairs(46.0);
        table.pair("record", vec![Span::figures(words::digest(&other.record))]);
        table.pair("statement", vec![Span::plain(other.statement.clone())]);
        flow.table(&table);
    }
    if let Some(change) = &record.key_change {
        flow.subheading("Change of the signing key", 12.0);
        let mut table = Table::pairs(46.0);
        table.pair("new key", vec![Span::plain(change.new_key.clone())]);
        table.pair("reason", vec![Span::plain(change.reason.clone())]);
        flow.table(&table);
    }
}

fn events(flow: &mut Flow, events: &[CustodyEvent]) {
    let mut table = Table::new(vec![
        Column::words("when", Width::Fixed(21.0)),
        Column::words("event", Width::Share(1.0)),
        Column::words("from and to", Width::Share(1.3)),
        Column::words("papers and remarks", Width::Share(1.3)),
        Column::words("price", Width::Fixed(22.0)),
    ]);
    for event in events {
        let mut people: Vec<Span> = Vec::new();
        for (name, person) in [("from ", &event.from), ("to ", &event.to)] {
            if let Some(person) = person {
                if !people.is_empty() {
                    people.push(Span::plain("\n"));
                }
                people.push(Span::quiet(name));
                people.extend(words::person(person));
            }
        }
        if let Some(place) = &event.place {
            people.push(Span::plain(format!(
                "{}{place}",
                if people.is_empty() { "" } else { "\n" }
            )));
        }
        let mut papers: Vec<String> = event.documents.iter().map(words::document).collect();
        papers.extend(event.note.clone());
        let price = match &event.price {
            Some(price) => words::money(price),
            None if !event.withheld.is_empty() => WITHHELD.to_owned(),
            None => String::new(),
        };
        let mut kind = words::term(event.kind);
        kind.push(Span::quiet(format!("\n{}", event.maps_to.join(" "))));
        table.rows.push(vec![
            Cell::figures(words::when(&event.when)),
            Cell(kind),
            Cell(people),
            Cell::plain(papers.join("\n")),
            Cell::plain(price),
        ]);
    }
    flow.table(&table);
}

fn set_agreement(flow: &mut Flow, agreement: &Agreement) {
    flow.subheading("What was agreed with the owner", 14.0);
    let mut table = Table::pairs(46.0);
    table.pair("owner", words::person(&agreement.owner));
    table.pair("work", vec![Span::plain(agreement.work.clone())]);
    if let Some(limit) = &agreement.steel_limit {
        table.pair(
            "most steel that may go",
            vec![Span::plain(words::quantity(limit))],
        );
    }
    table.pair(
        "etch allowed",
        vec![Span::plain(words::yes_no(agreement.etch_allowed))],
    );
    if !agreement.stop_and_ask.is_empty() {
        table.pair(
            "stop and ask",
            vec![Span::plain(agreement.stop_and_ask.join("\n"))],
        );
    }
    table.pair("agreed on", vec![Span::figures(agreement.on.to_string())]);
    if let Some(by) = &agreement.return_by {
        table.pair("return by", vec![Span::figures(by.to_string())]);
    }
    for (name, amount) in [
        ("price ceiling", &agreement.price_ceiling),
        ("insured value", &agreement.insured_value),
    ] {
        match amount {
            Some(amount) => table.pair(name, vec![Span::plain(words::money(amount))]),
            None if !agreement.withheld.is_empty() => table.pair(name, vec![Span::plain(WITHHELD)]),
            None => {}
        }
    }
    flow.table(&table);
}

fn set_valuation(flow: &mut Flow, valuation: &Valuation) {
    flow.subheading("Valuation, an opinion", 14.0);
    let mut table = Table::pairs(46.0);
    table.pair("amount", vec![Span::plain(words::money(&valuation.value))]);
    table.pair("basis", vec![Span::plain(valuation.basis.gloss())]);
    table.pair("on", vec![Span::figures(valuation.on.to_string())]);
    if let Some(until) = &valuation.valid_until {
        table.pair("valid until", vec![Span::figures(until.to_string())]);
    }
    table.pair("valuer", vec![Span::plain(valuation.valuer.clone())]);
    table.pair(
        "valuer's interest",
        vec![Span::plain(valuation.interest.clone())],
    );
    if let Some(note) = &valuation.note {
        table.pair("how it was reached", vec![Span::plain(note.clone())]);
    }
    flow.table(&table);
}

fn set_referral(flow: &mut Flow, referral: &Referral) {
    flow.subheading("Referral", 14.0);
    let mut table = Table::pairs(46.0);
    table.pair("to", words::person(&referral.to));
    table.pair(
        "questions",
        vec![Span::plain(referral.questions.join("\n"))],
    );
    table.pair(
        "what was not done, and why",
        vec![Span::plain(referral.not_done.join("\n"))],
    );
    if let Some(conditions) = &referral.return_conditions {
        table.pair(
            "conditions of return",
            vec![Span::plain(conditions.clone())],
        );
    }
    if !referral.packed.is_empty() {
        table.pair("packed", vec![Span::plain(referral.packed.join("\n"))]);
    }
    flow.table(&table);
}
