//! Shapes of the texts inside messages.

use tangmark_core::units::Unit;

use super::limits;

/// Tells whether `text` can be a plugin's name: a lower-case ASCII letter, then lower-case letters,
/// digits or `_`, at most [`limits::PLUGIN`] characters. It is the part of the file name between
/// `libtangmark_` and `.so`.
pub fn is_plugin_name(text: &str) -> bool {
    text.len() <= limits::PLUGIN && is_name_of(text, b"_")
}

/// A name of a rule, quantity, artefact or feature: as a plugin's name, `.` and `-` allowed too.
pub(super) fn is_identifier(text: &str) -> bool {
    is_name_of(text, b"_-.")
}

fn is_name_of(text: &str, extra: &[u8]) -> bool {
    text.len() <= limits::NAME
        && text.starts_with(|first: char| first.is_ascii_lowercase())
        && text
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || extra.contains(&b))
}

/// A decimal number as records write it: optional `-`, no leading zeros, no exponent, no `-0`.
pub(super) fn is_decimal(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let (whole, fraction) = match digits.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (digits, None),
    };
    let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let zero = digits.bytes().all(|b| matches!(b, b'0' | b'.'));
    whole.len() <= limits::WHOLE_DIGITS
        && fraction.is_none_or(|part| part.len() <= limits::FRACTION_DIGITS)
        && all_digits(whole)
        && (whole == "0" || !whole.starts_with('0'))
        && fraction.is_none_or(all_digits)
        && !(zero && text.starts_with('-'))
}

/// The UCUM code of a unit that a record holds.
pub(super) fn is_unit(text: &str) -> bool {
    text.parse::<Unit>().is_ok()
}

/// A line of text for people: not blank, no control characters, nothing that changes the writing
/// direction (it could make a line read otherwise than it is stored), at most `most` characters.
pub(super) fn is_line(text: &str, most: usize) -> bool {
    !text.trim().is_empty() && is_cell(text, most)
}

/// As [`is_line`], empty allowed.
pub(super) fn is_cell(text: &str, most: usize) -> bool {
    text.chars().count() <= most
        && !text.chars().any(|c| {
            c.is_control()
                || matches!(
                    c,
                    '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{2028}' | '\u{2029}'
                )
                || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        })
}

#[cfg(test)]
mod tests {
    use tangmark_core::units::Decimal;

    use super::*;

    #[test]
    fn decimals_have_one_spelling() {
        for good in ["0", "7", "-7", "0.0", "10.50", "-0.01"] {
            assert!(is_decimal(good), "{good}");
        }
        for bad in [
            "", "-", ".5", "5.", "05", "+5", "1e3", "-0", "-0.00", "1,5", "1.2.3", " 1", "NaN",
        ] {
            assert!(!is_decimal(bad), "{bad}");
        }
        let (longest, finest) = ("9".repeat(12), "1".repeat(9));
        let whole = format!("-{longest}.{finest}");
        assert!(is_decimal(&whole) && whole.parse::<Decimal>().is_ok());
        for beyond in [format!("{longest}9"), format!("0.{finest}1")] {
            assert!(!is_decimal(&beyond) && beyond.parse::<Decimal>().is_err());
        }
    }

    #[test]
    fn names_are_plain() {
        assert!(is_plugin_name("triage") && is_identifier("triage.fatal-flaw"));
        for bad in ["", "Triage", "1a", "a b", "a.b", "a-b", "é", "a/b"] {
            assert!(!is_plugin_name(bad), "{bad}");
        }
        // A record's key of a plugin has at most 40 characters: two names must not become one.
        assert!(is_plugin_name(&"a".repeat(40)) && !is_plugin_name(&"a".repeat(41)));
    }

    #[test]
    fn lines_carry_no_hidden_characters() {
        assert!(is_line("nagasa 大刀 724 mm", 20));
        for bad in ["", "  ", "a\nb", "a\u{1b}[31m", "a\u{202e}b", "a\u{2028}b"] {
            assert!(!is_line(bad, 20), "{bad:?}");
        }
        assert!(!is_line("abc", 2));
    }

    #[test]
    fn units_are_those_of_a_record() {
        assert!(is_unit("mm") && is_unit("g/cm3") && is_unit("1") && is_unit("%"));
        for bad in ["", "m m", "µm", "By", "kg"] {
            assert!(!is_unit(bad), "{bad:?}");
        }
    }
}
