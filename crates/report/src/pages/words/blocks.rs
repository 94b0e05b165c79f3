//! Headings, columns and rows in the language of the report.

use std::collections::BTreeSet;

use tangmark_core::record::reading_of;

use crate::{
    Speech,
    layout::{Cell, Column, Flow, Span, Table, Width},
    speech::Pair,
};

/// Words as one string on two lines when both languages speak: the English, below it the Japanese.
pub(crate) fn two_lines(speech: Speech, words: &Pair) -> String {
    match speech {
        Speech::Both if !words.one_says_both() => format!("{}\n{}", words.en, words.ja),
        _ => speech.text(words),
    }
}

/// A column of words.
pub(crate) fn column(speech: Speech, title: &Pair, width: Width) -> Column {
    Column::words(&two_lines(speech, title), width)
}

/// A column of numbers.
pub(crate) fn numbers(speech: Speech, title: &Pair, width: Width) -> Column {
    Column::numbers(&two_lines(speech, title), width)
}

/// A name as the first cell of a row; in Japanese with its reading where the name is a term.
pub(crate) fn label(speech: Speech, name: &Pair) -> Cell {
    match (speech, reading_of(&name.ja)) {
        (Speech::Japanese, Some(reading)) => {
            Cell(vec![Span::with_reading(name.ja.clone(), reading)])
        }
        _ => Cell::plain(two_lines(speech, name)),
    }
}

/// Adds a name and its value to a list of pairs.
pub(crate) fn row(table: &mut Table, speech: Speech, name: &Pair, value: Vec<Span>) {
    let colour = Some(crate::layout::style::SLATE);
    let Cell(name) = label(speech, name);
    let name = name
        .into_iter()
        .map(|span| Span { colour, ..span })
        .collect();
    table.rows.push(vec![Cell(name), Cell(value)]);
}

/// Sets the names of a list of pairs on one line each, both languages beside each other, in a column of `width` mm.
pub(crate) fn names_on_one_line(table: &mut Table, speech: Speech, width: f64) {
    if speech != Speech::Both {
        return;
    }
    if let Some(names) = table.columns.first_mut() {
        names.width = Width::Fixed(width);
    }
    let names = table.rows.iter_mut().filter_map(|row| row.first_mut());
    for span in names.flat_map(|cell| &mut cell.0) {
        span.text = span.text.replace('\n', " · ");
    }
}

/// Space above and below rows that hold readings, mm: the rule above must not touch them.
const READING_PADDING: f64 = 1.8;

/// Takes readings away from words that stand with theirs further up, and makes room for those that stay.
pub(crate) fn read_once(table: &mut Table) {
    let mut seen = BTreeSet::new();
    let spans = table.rows.iter_mut().flatten().flat_map(|cell| &mut cell.0);
    for span in spans {
        if span.ruby.is_some() && !seen.insert(span.text.clone()) {
            span.ruby = None;
        }
    }
    if !seen.is_empty() {
        table.padding = table.padding.max(READING_PADDING);
    }
}

/// Sets a table over the whole width.
pub(crate) fn table(flow: &mut Flow, mut table: Table) {
    read_once(&mut table);
    flow.table(&table);
}

fn one_line(speech: Speech, title: &Pair) -> String {
    match speech {
        Speech::Both if !title.one_says_both() => format!("{} · {}", title.en, title.ja),
        _ => speech.text(title),
    }
}

/// Starts a section with its heading; `keep` mm must follow on the same page.
pub(crate) fn heading(flow: &mut Flow, title: &Pair, keep: f64) {
    flow.heading(&one_line(flow.speech, title), keep);
}

/// Sets a heading inside a section; `keep` mm must follow on the same page.
pub(crate) fn subheading(flow: &mut Flow, title: &Pair, keep: f64) {
    flow.subheading(&one_line(flow.speech, title), keep);
}

/// Sets a heading inside a section and a table that begins on the same page.
pub(crate) fn headed_table(flow: &mut Flow, title: &Pair, table: &Table) {
    flow.headed_table(&one_line(flow.speech, title), table);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{pages::words, speech::pair};
    use tangmark_core::record::{FlawKind, TangState};

    #[test]
    fn a_reading_stands_once_in_a_table_and_in_japanese_alone() {
        let readings = |speech| {
            let mut table = Table::pairs(46.0);
            for kind in [FlawKind::Hagire, FlawKind::Hakobore, FlawKind::Hagire] {
                row(
                    &mut table,
                    speech,
                    &pair("file marks · yasurime 鑢目", "鑢目"),
                    words::term(speech, kind),
                );
            }
            let state = words::term(speech, TangState::OSuriage);
            row(&mut table, speech, &pair("state", "状態"), state);
            read_once(&mut table);
            let spans = table.rows.into_iter().flatten().flat_map(|cell| cell.0);
            spans.filter_map(|span| span.ruby).collect::<Vec<_>>()
        };
        assert_eq!(
            readings(Speech::Japanese),
            ["やすりめ", "はぎれ", "はこぼれ", "おおすりあげ"]
        );
        assert_eq!(readings(Speech::English), Vec::<String>::new());
        assert_eq!(readings(Speech::Both), Vec::<String>::new());
    }
}
