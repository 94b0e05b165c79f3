//! Checks of small texts and their spelling in messages.

use tangmark_core::{
    Digest,
    record::{Key, PartialDate, UtcTime},
};

use crate::StoreError;

/// Longest title, note or file name, in bytes: the longest caption of a record, 400 characters of four bytes each.
const LONGEST: usize = 1600;
const TOO_LONG: &str = "longer than 1600 bytes";

/// Checks a UTC time such as `2026-11-25T09:30:00Z` (RFC 3339, `Z` form, whole seconds).
pub(crate) fn time(field: &'static str, text: &str) -> Result<(), StoreError> {
    let read = text.parse::<UtcTime>();
    read.map(drop).map_err(|_| StoreError::BadTime {
        field,
        text: cut(text),
    })
}

/// Checks a day such as `2026-11-25`.
pub(crate) fn day(field: &'static str, text: &str) -> Result<(), StoreError> {
    // The longest form of a date in a record is a whole day.
    let whole = text.len() == 10 && text.parse::<PartialDate>().is_ok();
    if whole {
        return Ok(());
    }
    Err(StoreError::BadDay {
        field,
        text: cut(text),
    })
}

/// Checks a blade id: 1 to 40 lower-case letters, digits and hyphens, a letter or digit first.
pub(crate) fn blade_id(text: &str) -> Result<(), StoreError> {
    let read = text.parse::<Key>();
    read.map(drop)
        .map_err(|_| StoreError::BadBladeId { text: cut(text) })
}

/// Checks the name of a key file: no folders, nothing hidden, nothing a shell or another system trips over.
pub(crate) fn key_file_name(text: &str) -> Result<(), StoreError> {
    let good = (1..=80).contains(&text.len())
        && text
            .bytes()
            .all(|byte| byte.is_ascii_alphanumeric() || b"-_.".contains(&byte))
        && !text.starts_with(['.', '-']);
    if good {
        Ok(())
    } else {
        Err(StoreError::BadKeyFileName { text: cut(text) })
    }
}

/// Checks a text that a sealed record holds too: whatever its schema allows is kept as it is, and shown with care.
pub(crate) fn sealed_words(
    field: &'static str,
    text: &str,
    may_be_empty: bool,
) -> Result<(), StoreError> {
    let reason = if text.len() > LONGEST {
        TOO_LONG
    } else if !may_be_empty && text.is_empty() {
        "empty"
    } else {
        return Ok(());
    };
    Err(StoreError::BadText {
        field,
        text: cut(text),
        reason,
    })
}

/// Checks a text for people: not blank where it must not be, no control characters, not longer than 1600 bytes.
pub(crate) fn words(field: &'static str, text: &str, may_be_empty: bool) -> Result<(), StoreError> {
    let reason = if text.len() > LONGEST {
        TOO_LONG
    } else if text
        .chars()
        .any(|character| character.is_control() && character != '\n')
    {
        "holding a control character"
    } else if !may_be_empty && text.trim().is_empty() {
        "empty"
    } else {
        return Ok(());
    };
    Err(StoreError::BadText {
        field,
        text: cut(text),
        reason,
    })
}

/// Cuts a text for a message.
pub(crate) fn cut(text: &str) -> String {
    text.chars()
        .take(80)
        .map(|character| {
            if character.is_control() {
                '\u{fffd}'
            } else {
                character
            }
        })
        .collect()
}

/// `revision 3` or `no draft`.
pub(crate) fn revision(number: Option<u64>) -> String {
    number.map_or_else(
        || "no draft".to_owned(),
        |number| format!("revision {number}"),
    )
}

/// The digest or `no record`.
pub(crate) fn name_or_none(name: Option<&Digest>) -> String {
    name.map_or_else(|| "no record".to_owned(), ToString::to_string)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn times() {
        assert!(time("saved_at", "2026-11-25T09:30:00Z").is_ok());
        for bad in [
            "2026-11-25T09:30:00+00:00",
            "2026-02-30T00:00:00Z",
            "yesterday",
            "2026-11-25T09:30:00z",
        ] {
            assert_eq!(
                time("saved_at", bad).unwrap_err().to_string(),
                format!("saved_at is `{bad}`: a UTC time like 2026-11-25T09:30:00Z is allowed")
            );
        }
    }

    #[test]
    fn file_names_stay_in_their_folder() {
        assert!(key_file_name("workshop-2026.pem").is_ok());
        for bad in ["", "../up", "a/b", ".hidden", "-f", "na\u{0}me", "刃.pem"] {
            assert!(key_file_name(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn words_for_people() {
        assert!(words("title", "刀 of the dealer", false).is_ok());
        assert!(words("note", "", true).is_ok());
        assert_eq!(
            words("title", " ", false).unwrap_err().to_string(),
            "title ` ` is empty"
        );
        assert_eq!(
            words("title", "a\u{1b}[2J", false).unwrap_err().to_string(),
            "title `a\u{fffd}[2J` is holding a control character"
        );
    }

    #[test]
    fn what_a_record_may_hold_is_kept() {
        // The longest caption: 400 characters, each of as many bytes as a character can have.
        for caption in [
            "刃".repeat(400),
            "\u{2000b}".repeat(400),
            "a\tb\u{7}".to_owned(),
        ] {
            assert!(sealed_words("caption", &caption, true).is_ok());
        }
        assert!(words("note", &"刃".repeat(400), true).is_ok());
        assert!(sealed_words("title", " ", false).is_ok());
        assert_eq!(
            sealed_words("title", "", false).unwrap_err().to_string(),
            "title `` is empty"
        );
        let error = sealed_words("caption", &"a".repeat(1601), true).unwrap_err();
        assert!(
            error.to_string().ends_with("is longer than 1600 bytes"),
            "{error}"
        );
    }
}
