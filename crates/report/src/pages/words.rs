//! Numbers, terms, people and dates as the report writes them.

use std::fmt::Write as _;

use tangmark_core::{
    Digest,
    record::{Document, Money, PartialDate, Person, Quantity, Term, When},
    units::{Decimal, Unit},
};

use crate::layout::Span;

/// What stands where the record has nothing.
pub(super) const NOT_RECORDED: &str = "not recorded";
/// What stands where a property may have been withheld: decoys keep the number of digests fixed,
/// so the record itself does not tell which of the two it is.
pub(super) const WITHHELD: &str = "withheld or not stated";

/// A unit as people write it.
pub(crate) fn unit(unit: Unit) -> &'static str {
    match unit {
        Unit::Millimetre => "mm",
        Unit::Micrometre => "µm",
        Unit::SquareMillimetre => "mm²",
        Unit::CubicMillimetre => "mm³",
        Unit::Gram => "g",
        Unit::Degree => "°",
        Unit::Minute => "min",
        Unit::Hour => "h",
        Unit::Celsius => "°C",
        Unit::Percent => "%",
        Unit::One => "",
        Unit::GramPerCubicCentimetre => "g/cm³",
    }
}

/// A number with a true minus sign.
pub(super) fn number(value: Decimal) -> String {
    value.to_string().replace('-', "−")
}

/// A number with its unit, kept together.
pub(super) fn with_unit(value: Decimal, of: Unit) -> String {
    let name = unit(of);
    if name.is_empty() {
        number(value)
    } else {
        format!("{}\u{a0}{name}", number(value))
    }
}

/// The expanded uncertainty for k = 2, to two significant digits.
///
/// Source: JCGM 100:2008, 6.2 and 7.2.6 (from memory).
pub(super) fn expanded(standard: Decimal) -> String {
    two_digits(2.0 * standard.to_f64())
}

/// A number above zero to two significant digits, written without exponent.
fn two_digits(value: f64) -> String {
    // One digit before the point and one after: the exponent after rounding.
    let scientific = format!("{value:.1e}");
    let (digits, exponent) = scientific.split_once('e').unwrap_or((&scientific, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    match usize::try_from(1 - exponent) {
        Ok(decimals) => format!("{value:.decimals$}"),
        // Tens and more: the two digits, then zeros.
        Err(_) => format!(
            "{}{}",
            digits.replace('.', ""),
            "0".repeat(usize::try_from(exponent - 1).unwrap_or(0))
        ),
    }
}

/// A quantity with unit and expanded uncertainty: `701.5 ± 0.6 mm`.
pub(super) fn quantity(quantity: &Quantity) -> String {
    let name = unit(quantity.unit);
    let separator = if name.is_empty() { "" } else { "\u{a0}" };
    format!(
        "{}\u{a0}±\u{a0}{}{separator}{name}",
        number(quantity.value),
        expanded(quantity.standard_uncertainty)
    )
}

/// A quantity for a column whose heading names the unit: `701.5 ± 0.6`.
pub(super) fn bare(quantity: &Quantity) -> String {
    format!(
        "{}\u{a0}±\u{a0}{}",
        number(quantity.value),
        expanded(quantity.standard_uncertainty)
    )
}

/// The readings as they were written.
pub(super) fn readings(quantity: &Quantity) -> String {
    quantity
        .as_read
        .iter()
        .map(|reading| reading.text.as_str())
        .collect::<Vec<_>>()
        .join("; ")
}

/// A term: romaji, kanji, and the gloss in quiet.
pub(super) fn term<T: Term>(term: T) -> Vec<Span> {
    if term.kanji().is_empty() {
        return vec![Span::plain(term.gloss())];
    }
    let key = term.key().replace('_', " ");
    if key == term.gloss() {
        return vec![Span::plain(format!("{key} {}", term.kanji()))];
    }
    vec![
        Span::plain(format!("{key} {} ", term.kanji())),
        Span::quiet(term.gloss()),
    ]
}

/// Terms one after another.
pub(super) fn terms<T: Term>(list: &[T]) -> Vec<Span> {
    let mut spans = Vec::new();
    for (index, item) in list.iter().enumerate() {
        if index > 0 {
            spans.push(Span::plain(" · "));
        }
        spans.extend(term(*item));
    }
    spans
}

/// A term for running text: `hagire 刃切れ`, or its plain English where it has no kanji.
pub(super) fn short<T: Term>(term: T) -> String {
    if term.kanji().is_empty() {
        term.gloss().to_owned()
    } else {
        format!("{} {}", term.key().replace('_', " "), term.kanji())
    }
}

/// A first letter as capital.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// A person: the part played, then name, address and contact where they are shown.
pub(super) fn person(person: &Person) -> Vec<Span> {
    let mut spans = vec![Span::quiet(format!("{}: ", short(person.role)))];
    match &person.name {
        Some(name) => spans.push(Span::plain(name.clone())),
        None if !person.withheld.is_empty() => spans.push(Span::plain(format!("name {WITHHELD}"))),
        None => spans.push(Span::plain(format!("name {NOT_RECORDED}"))),
    }
    for part in [&person.address, &person.contact].into_iter().flatten() {
        spans.push(Span::plain(format!(", {part}")));
    }
    spans
}

/// An amount of money.
pub(super) fn money(money: &Money) -> String {
    format!("{}\u{a0}{}", number(money.amount), money.currency)
}

/// A span of time.
pub(super) fn when(when: &When) -> String {
    if when.earliest == when.latest {
        when.earliest.to_string()
    } else {
        format!("{} to {}", when.earliest, when.latest)
    }
}

/// A paper in one line.
pub(super) fn document(paper: &Document) -> String {
    let mut text = short(paper.kind);
    if let Some(issuer) = &paper.issuer {
        let _ = write!(text, ", {issuer}");
    }
    if let Some(on) = &paper.on {
        let _ = write!(text, ", {on}");
    }
    match &paper.number {
        Some(number) => {
            let _ = write!(text, ", no. {number}");
        }
        None if !paper.withheld.is_empty() => {
            let _ = write!(text, ", number {WITHHELD}");
        }
        None => {}
    }
    if let Some(note) = &paper.note {
        let _ = write!(text, " ({note})");
    }
    text
}

/// A digest in groups of eight digits.
pub(super) fn digest(digest: &Digest) -> String {
    groups(&digest.to_string(), 8)
}

/// The first sixteen digits of a digest in groups of four, with dots for the rest.
pub(super) fn digest_prefix(digest: &Digest) -> String {
    let text = digest.to_string();
    format!("{}…", groups(text.get(..16).unwrap_or(&text), 4))
}

fn groups(text: &str, size: usize) -> String {
    let characters: Vec<char> = text.chars().collect();
    characters
        .chunks(size)
        .map(|chunk| chunk.iter().collect::<String>())
        .collect::<Vec<_>>()
        .join(" ")
}

/// An optional date.
pub(super) fn date(on: Option<&PartialDate>) -> String {
    on.map_or_else(|| NOT_RECORDED.to_owned(), ToString::to_string)
}

/// Yes or no.
pub(super) const fn yes_no(value: bool) -> &'static str {
    if value { "yes" } else { "no" }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn uncertainty_is_doubled_and_keeps_two_digits() {
        for (standard, shown) in [
            ("0.29", "0.58"),
            ("0.3", "0.60"),
            ("12", "24"),
            ("0.0065", "0.013"),
            ("0.0498", "0.10"),
            ("4.98", "10"),
            ("61", "120"),
            ("4990", "10000"),
        ] {
            assert_eq!(expanded(standard.parse().unwrap()), shown);
        }
        assert_eq!(number("-2.50".parse().unwrap()), "−2.50");
    }

    #[test]
    fn digests_are_spelled_in_groups() {
        let digest = Digest::of(b"abc");
        assert_eq!(digest_prefix(&digest), "ba78 16bf 8f01 cfea…");
        assert!(super::digest(&digest).starts_with("ba7816bf 8f01cfea 414140de "));
    }
}
