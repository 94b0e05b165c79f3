//! Search over the words of newest drafts and of entries in force (SQLite FTS5).
//!
//! The index splits at spaces and signs, which Japanese does not use: Chinese characters and kana become words of one
//! character each, and what is looked for becomes a phrase of them.

use rusqlite::{Connection, OptionalExtension, Transaction, params};
use serde_json::Value;
use unicode_normalization::UnicodeNormalization as _;

use super::{count, uncount};
use crate::{SearchHit, StoreError, text};

const ACTION: &str = "bring the search up to date";
const READ: &str = "search";

/// Stands between two texts, so that no phrase reaches from one into the next. A private character is a word to the
/// index, and no keyboard has it.
const BETWEEN: &str = " \u{f8ff} ";
/// Longest question, in bytes, and most words in it.
const LONGEST: usize = 400;
const MOST_WORDS: usize = 20;

/// Tells characters that are written without spaces: Chinese characters, kana and their marks.
///
/// Source: blocks of the Unicode Standard, from memory.
fn unspaced(character: char) -> bool {
    matches!(character,
        '\u{3005}'..='\u{3007}' | '\u{3040}'..='\u{30ff}' | '\u{31f0}'..='\u{31ff}' | '\u{3400}'..='\u{4dbf}'
        | '\u{4e00}'..='\u{9fff}' | '\u{f900}'..='\u{faff}' | '\u{20000}'..='\u{3ffff}')
}

/// Puts spaces around unspaced characters, and brings wide, narrow and compatibility forms to one.
fn split(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + text.len() / 2);
    for character in text.nfkc().flat_map(char::to_lowercase) {
        if unspaced(character) {
            out.push(' ');
            out.push(character);
            out.push(' ');
        } else {
            out.push(character);
        }
    }
    out
}

/// Tells texts that nobody looks for by words, which the index leaves out: digests, numbers, keys of other catalogues.
pub fn machine_made(name: &str, text: &str) -> bool {
    matches!(
        name,
        "digest" | "media_type" | "unit" | "maps_to" | "value" | "standard_uncertainty"
    ) || (text.len() == 64 && text.bytes().all(|byte| byte.is_ascii_hexdigit()))
}

fn collect(name: &str, value: &Value, out: &mut String) {
    match value {
        Value::String(text) if !machine_made(name, text) => {
            out.push_str(&split(text));
            out.push_str(BETWEEN);
        }
        Value::Array(items) => items.iter().for_each(|item| collect(name, item, out)),
        Value::Object(members) => members
            .iter()
            .for_each(|(name, member)| collect(name, member, out)),
        _ => {}
    }
}

fn put(
    transaction: &Transaction<'_>,
    number: i64,
    lead: &str,
    body: &Value,
) -> rusqlite::Result<()> {
    let mut words = split(lead);
    words.push_str(BETWEEN);
    collect("", body, &mut words);
    transaction
        .prepare_cached("DELETE FROM search WHERE rowid = ?1")?
        .execute([number])?;
    transaction
        .prepare_cached("INSERT INTO search (rowid, words) VALUES (?1, ?2)")?
        .execute(params![number, words])
        .map(drop)
}

/// Takes the words of a blade's newest draft in place of those of the one before.
pub(super) fn put_draft(
    transaction: &Transaction<'_>,
    blade: &str,
    body: &Value,
) -> Result<(), StoreError> {
    (|| {
        let known: Option<i64> = transaction
            .prepare_cached("SELECT number FROM search_row WHERE blade = ?1 AND entry IS NULL")?
            .query_row([blade], |row| row.get(0))
            .optional()?;
        let number = if let Some(number) = known {
            number
        } else {
            transaction
                .prepare_cached("INSERT INTO search_row (blade) VALUES (?1)")?
                .execute([blade])?;
            transaction.last_insert_rowid()
        };
        put(transaction, number, blade, body)
    })()
    .map_err(|error| StoreError::index(ACTION, error))
}

/// Takes the words of a new entry.
pub(super) fn put_entry(
    transaction: &Transaction<'_>,
    entry: u64,
    blade: Option<&str>,
    subject: &str,
    body: &Value,
) -> Result<(), StoreError> {
    (|| {
        transaction
            .prepare_cached("INSERT INTO search_row (blade, entry) VALUES (?1, ?2)")?
            .execute(params![blade, count(entry)])?;
        let number = transaction.last_insert_rowid();
        put(transaction, number, subject, body)
    })()
    .map_err(|error| StoreError::index(ACTION, error))
}

/// Forgets the words of an entry that is in force no more.
pub(super) fn drop_entry(transaction: &Transaction<'_>, entry: u64) -> Result<(), StoreError> {
    (|| {
        transaction.execute(
            "DELETE FROM search WHERE rowid IN (SELECT number FROM search_row WHERE entry = ?1)",
            [count(entry)],
        )?;
        transaction.execute("DELETE FROM search_row WHERE entry = ?1", [count(entry)])
    })()
    .map(drop)
    .map_err(|error| StoreError::index(ACTION, error))
}

/// What was asked in the words of the index: every word has to be there, from its beginning.
fn question(words: &str) -> Result<String, StoreError> {
    let bad = |reason| StoreError::BadSearch {
        text: text::cut(words),
        reason,
    };
    if words.len() > LONGEST {
        return Err(bad("longer than 400 bytes"));
    }
    let terms: Vec<String> = words
        .split_whitespace()
        .map(split)
        .filter(|term| term.chars().any(char::is_alphanumeric))
        .map(|term| {
            // One letter begins too many words: it stands for itself.
            let is_letter = term.chars().filter(|one| one.is_alphanumeric()).count() == 1;
            let rest = if is_letter { "" } else { "*" };
            format!("\"{}\"{rest}", term.trim().replace('"', " "))
        })
        .collect();
    match terms.len() {
        0 => Err(bad("there is no letter or digit in it")),
        1..=MOST_WORDS => Ok(terms.join(" AND ")),
        _ => Err(bad("more than 20 words")),
    }
}

/// Finds what holds all the words, what was entered last first.
pub(super) fn find(
    connection: &Connection,
    words: &str,
    limit: usize,
) -> Result<Vec<SearchHit>, StoreError> {
    let fail = |error| StoreError::index(READ, error);
    let question = question(words)?;
    let limit = i64::try_from(limit).unwrap_or(i64::MAX);
    // Ordered by row, so that the first ones are known before all have been looked at.
    let mut statement = connection
        .prepare_cached(
            "SELECT search_row.blade, search_row.entry FROM search JOIN search_row ON search_row.number = search.rowid
             WHERE search MATCH ?1 ORDER BY search.rowid DESC LIMIT ?2",
        )
        .map_err(fail)?;
    let rows = statement
        .query_map(params![question, limit], |row| {
            Ok(SearchHit {
                blade: row.get(0)?,
                entry: row.get::<_, Option<i64>>(1)?.map(uncount),
            })
        })
        .map_err(fail)?;
    rows.collect::<rusqlite::Result<_>>().map_err(fail)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn unspaced_characters_are_words_of_their_own() {
        assert_eq!(split("Bizen 備前Osafune"), "bizen  備  前 osafune");
        // Wide letters and half-wide kana come to the usual forms.
        assert_eq!(split("ＡＢｶﾞ"), "ab ガ ");
    }

    #[test]
    fn a_question_is_a_row_of_phrases() {
        assert_eq!(question("rust 備前").unwrap(), "\"rust\"* AND \"備  前\"*");
        assert_eq!(question("A. Buyer").unwrap(), "\"a.\" AND \"buyer\"*");
        assert_eq!(question("a\"b").unwrap(), "\"a b\"*");
        for bad in ["", "  ", "— …", &"a".repeat(401), &"a ".repeat(21)] {
            assert!(question(bad).is_err(), "{bad}");
        }
    }
}
