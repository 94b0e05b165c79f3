//! Headings, columns and rows in the language of the report.

use crate::{
    Speech,
    layout::{Column, Flow, Span, Table, Width},
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

/// Adds a name and its value to a list of pairs.
pub(crate) fn row(table: &mut Table, speech: Speech, name: &Pair, value: Vec<Span>) {
    table.pair(&two_lines(speech, name), value);
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
