//! Objects as bytes. Numbers are written without the detour over formatted text: a report has some ten thousand.
//!
//! Source: ISO 32000-1, 7.3.

use lopdf::{Dictionary, Object, StringFormat};

use super::signature::CONTENTS_DIGITS;

/// Writes a whole number.
pub(super) fn integer(out: &mut Vec<u8>, value: i64) {
    let mut digits = [0_u8; 20];
    let mut place = digits.len();
    let mut rest = value.unsigned_abs();
    loop {
        place -= 1;
        digits[place] = b'0' + u8::try_from(rest % 10).unwrap_or(0);
        rest /= 10;
        if rest == 0 {
            break;
        }
    }
    if value < 0 {
        out.push(b'-');
    }
    out.extend_from_slice(&digits[place..]);
}

/// Writes a number with at most three decimals, no more than it needs.
///
/// Every length here is rounded to thousandths of a point before (see [`super::content::narrow`]), which is far below
/// what any printer can show.
pub(super) fn real(out: &mut Vec<u8>, value: f32) {
    let thousandths = (f64::from(value) * 1000.0).round();
    // Beyond 9.2e15 the cast would lose digits; no page is that large, and `inf` is no PDF.
    #[allow(clippy::cast_possible_truncation)]
    let thousandths = thousandths.clamp(-9.0e15, 9.0e15) as i64;
    if thousandths < 0 {
        out.push(b'-');
    }
    let size = thousandths.unsigned_abs();
    integer(out, i64::try_from(size / 1000).unwrap_or(i64::MAX));
    let mut decimals = size % 1000;
    if decimals == 0 {
        return;
    }
    out.push(b'.');
    for weight in [100, 10, 1] {
        out.push(b'0' + u8::try_from(decimals / weight).unwrap_or(0));
        decimals %= weight;
        if decimals == 0 {
            break;
        }
    }
}

/// Writes bytes as hexadecimal digits.
pub(super) fn hexadecimal(out: &mut Vec<u8>, bytes: &[u8]) {
    const DIGITS: &[u8; 16] = b"0123456789ABCDEF";
    out.reserve(bytes.len() * 2);
    for byte in bytes {
        out.push(DIGITS[usize::from(byte >> 4)]);
        out.push(DIGITS[usize::from(byte & 15)]);
    }
}

/// Writes a name; what is no regular character stands as `#` and two digits.
pub(super) fn name(out: &mut Vec<u8>, name: &[u8]) {
    out.push(b'/');
    for byte in name {
        if byte.is_ascii_graphic() && !b"()<>[]{}/%#".contains(byte) {
            out.push(*byte);
        } else {
            out.push(b'#');
            hexadecimal(out, &[*byte]);
        }
    }
}

fn string(out: &mut Vec<u8>, bytes: &[u8], format: StringFormat) {
    if matches!(format, StringFormat::Hexadecimal) {
        out.push(b'<');
        hexadecimal(out, bytes);
        out.push(b'>');
        return;
    }
    out.push(b'(');
    for byte in bytes {
        match byte {
            b'(' | b')' | b'\\' => out.extend([b'\\', *byte]),
            b'\r' => out.extend(b"\\r"),
            _ => out.push(*byte),
        }
    }
    out.push(b')');
}

/// Writes an object. A stream is not written here: it stands by itself only.
pub(super) fn object(out: &mut Vec<u8>, value: &Object) {
    match value {
        Object::Null | Object::Stream(_) => out.extend(b"null"),
        Object::Boolean(true) => out.extend(b"true"),
        Object::Boolean(false) => out.extend(b"false"),
        Object::Integer(value) => integer(out, *value),
        Object::Real(value) => real(out, *value),
        Object::Name(value) => name(out, value),
        Object::String(bytes, format) => string(out, bytes, *format),
        Object::Array(items) => array(out, items),
        Object::Dictionary(entries) => dictionary(out, entries),
        Object::Reference((number, generation)) => {
            integer(out, i64::from(*number));
            out.push(b' ');
            integer(out, i64::from(*generation));
            out.extend(b" R");
        }
    }
}

fn needs_space(value: &Object) -> bool {
    matches!(
        value,
        Object::Null
            | Object::Boolean(_)
            | Object::Integer(_)
            | Object::Real(_)
            | Object::Reference(_)
            | Object::Stream(_)
    )
}

fn array(out: &mut Vec<u8>, items: &[Object]) {
    out.push(b'[');
    for (index, item) in items.iter().enumerate() {
        if index > 0 && needs_space(item) {
            out.push(b' ');
        }
        object(out, item);
    }
    out.push(b']');
}

/// Writes a dictionary. The place of a signature is written in the fixed width in which it is filled later.
pub(super) fn dictionary(out: &mut Vec<u8>, entries: &Dictionary) {
    out.extend(b"<<");
    for (key, value) in entries {
        match (key.as_slice(), value) {
            (b"ByteRange", _) => {
                out.extend(b"/ByteRange [0 0000000000 0000000000 0000000000]");
                continue;
            }
            (b"Contents", Object::String(..)) => {
                out.extend(b"/Contents <");
                out.resize(out.len() + CONTENTS_DIGITS, b'0');
                out.push(b'>');
                continue;
            }
            _ => {}
        }
        name(out, key);
        if needs_space(value) {
            out.push(b' ');
        }
        object(out, value);
    }
    out.extend(b">>");
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use lopdf::dictionary;

    fn written(value: &Object) -> String {
        let mut out = Vec::new();
        object(&mut out, value);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn numbers_have_one_spelling() {
        for (value, text) in [
            (0.0, "0"),
            (-0.0, "0"),
            (5.0, "5"),
            (0.5, "0.5"),
            (-0.25, "-0.25"),
            (-3.042, "-3.042"),
            (595.276, "595.276"),
            (1.05, "1.05"),
            (0.0004, "0"),
            (f32::NAN, "0"),
            (f32::INFINITY, "9000000000000"),
        ] {
            assert_eq!(written(&Object::Real(value)), text, "{value}");
        }
        for value in [0, 7, -7, 10, 1_234_567_890, i64::MAX, i64::MIN] {
            assert_eq!(written(&Object::Integer(value)), value.to_string());
        }
    }

    /// Lengths up to the largest page: what is written is what was rounded.
    #[test]
    fn a_rounded_length_is_written_as_it_is() {
        for thousandths in (0..8_000_000_u32).step_by(977) {
            let value = f64::from(thousandths) / 1000.0;
            let text = written(&Object::Real(super::super::content::narrow(value)));
            assert!(
                (text.parse::<f64>().unwrap() - value).abs() < 0.0009,
                "{value}: {text}"
            );
            if value < 4000.0 {
                assert_eq!(text, format!("{value}"), "{value}");
            }
        }
    }

    #[test]
    fn names_and_strings_are_escaped() {
        assert_eq!(
            written(&Object::Name(b"application/json #1".to_vec())),
            "/application#2Fjson#20#231"
        );
        let literal = Object::String(b"a(b\\c)\rd".to_vec(), StringFormat::Literal);
        assert_eq!(written(&literal), "(a\\(b\\\\c\\)\\rd)");
        let digits = Object::String(vec![0, 0x9f, 0xff], StringFormat::Hexadecimal);
        assert_eq!(written(&digits), "<009FFF>");
    }

    #[test]
    fn containers_are_separated_where_they_must_be() {
        let value = Object::Dictionary(dictionary! {
            "A" => vec![1.into(), 2.into(), Object::Name(b"N".to_vec()), Object::Reference((3, 0)), Object::Null],
            "B" => true,
            "C" => dictionary! { "D" => Object::Real(0.5) },
        });
        assert_eq!(
            written(&value),
            "<</A[1 2/N 3 0 R null]/B true/C<</D 0.5>>>>"
        );
    }
}
