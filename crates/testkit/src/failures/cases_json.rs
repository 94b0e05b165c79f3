//! Cases 1 to 13: texts that two readers of JSON would read differently. (11 is about the build.)

use serde_json::{Value, json};

use super::material::{Material, signed_bytes};
use super::{Corpus, MakeError};
use crate::sealed::fault;

/// A record's text with something put in the place of something else in it.
fn spliced(bytes: &[u8], from: &str, to: &str) -> Result<Vec<u8>, MakeError> {
    let text = std::str::from_utf8(bytes).map_err(fault("record"))?;
    if text.matches(from).count() == 0 {
        return Err(fault("record")(format!("`{from}` is not in it")));
    }
    Ok(text.replacen(from, to, 1).into_bytes())
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let record = &material.records[0].bytes;
    let key = &material.keys.workshop;

    corpus.json(1, "a key twice", r#"{"a":1,"a":2}"#);
    corpus.json(1, "a key twice with one value", r#"{"a":1,"a":1}"#);
    corpus.record(
        1,
        "a second purpose in a sealed record",
        spliced(
            record,
            "\"purpose\":",
            "\"purpose\":\"receipt\",\"purpose\":",
        )?,
    );
    corpus.json(2, "a key twice, once escaped", r#"{"a":1,"\u0061":2}"#);
    corpus.record(
        2,
        "an escaped second purpose in a sealed record",
        spliced(
            record,
            "\"purpose\":",
            "\"\\u0070urpose\":\"receipt\",\"purpose\":",
        )?,
    );
    corpus.json(3, "text in form D", "{\"a\":\"e\u{301}\"}");
    corpus.json(3, "text in form D, escaped", r#"{"a":"e\u0301"}"#);
    corpus.json(3, "a key in form D", "{\"e\u{301}\":1}");
    for (name, text) in [
        ("minus zero", r#"{"a":-0}"#),
        ("minus zero with a fraction", r#"{"a":-0.0}"#),
    ] {
        corpus.json(4, name, text);
    }
    for (name, text) in [
        ("2 to the 53 and one", r#"{"a":9007199254740993}"#),
        ("2 to the 53", r#"{"a":9007199254740992}"#),
        ("30 digits", r#"{"a":123456789012345678901234567890}"#),
        (
            "30 digits below zero",
            r#"{"a":-123456789012345678901234567890}"#,
        ),
    ] {
        corpus.json(5, name, text);
    }
    corpus.json(5, "2 to the 53 less one", r#"{"a":9007199254740991}"#);
    for (name, text) in [
        ("one with a fraction", r#"{"a":1.0}"#),
        ("more digits than a float", r#"{"a":0.30000000000000001}"#),
        ("an exponent", r#"{"a":1e2}"#),
        ("a needless zero", r#"{"a":01}"#),
    ] {
        corpus.json(6, name, text);
    }
    let mut number = material.records[0].unsigned.clone();
    number["dimensions"]["blade_length"]["value"] = json!(703);
    corpus.record(
        6,
        "a measurement as a number, signed",
        signed_bytes(&number, key)?,
    );
    for (name, text) in [
        ("a lone surrogate", br#"{"a":"\ud800"}"#.to_vec()),
        ("a NUL", br#"{"a":"\u0000"}"#.to_vec()),
        ("a noncharacter", "{\"a\":\"\u{ffff}\"}".as_bytes().to_vec()),
        ("a byte order mark", b"\xef\xbb\xbf{\"a\":1}".to_vec()),
        ("words behind it", br#"{"a":1} x"#.to_vec()),
        ("a second value", br#"{"a":1}{"a":1}"#.to_vec()),
        ("no number", br#"{"a":NaN}"#.to_vec()),
        ("a number beyond floats", br#"{"a":1e400}"#.to_vec()),
        ("bytes that are no UTF-8", b"{\"a\":\"\xc3\x28\"}".to_vec()),
    ] {
        corpus.json(7, name, text);
    }
    corpus.record(
        7,
        "a line end behind a sealed record and a word",
        [record.as_slice(), b"\nx"].concat(),
    );
    // As the example of RFC 8785, 3.2.3, with U+FF21 in the place of U+FB33, which is not in form C.
    corpus.json(
        8,
        "keys that sort by code unit",
        "{\"\u{ff21}\":1,\"\u{1f602}\":2,\"\\r\":3,\"1\":4,\"\u{80}\":5,\"\u{f6}\":6,\"\u{20ac}\":7}",
    );
    corpus.json(9, "10 000 levels", "[".repeat(10_000) + &"]".repeat(10_000));
    corpus.json(9, "33 levels", "[".repeat(33) + &"]".repeat(33));
    corpus.json(9, "32 levels", "[".repeat(32) + &"]".repeat(32));
    corpus.json(9, "17 MiB of blanks", [b' '].repeat(17 << 20));
    corpus.json(9, "250 000 values", format!("[{}0]", "0,".repeat(250_000)));
    let value: Value = serde_json::from_slice(record).map_err(fault("record"))?;
    corpus.record(
        10,
        "written with line ends",
        serde_json::to_vec_pretty(&value).map_err(fault("record"))?,
    );
    corpus.record(10, "members in another order", reordered(&value));
    corpus.record(
        10,
        "a line end behind it",
        [record.as_slice(), b"\n"].concat(),
    );
    for (name, issuer) in [
        ("writing direction turned", "Workshop\u{202e} at the Weir"),
        ("a space of no width", "Workshop\u{200b} at the Weir"),
        ("a letter of another script", "W\u{43e}rkshop at the Weir"),
    ] {
        let bytes = material.resealed(0, key, |record| record["issuer"]["name"] = json!(issuer));
        corpus.record(12, name, bytes?);
    }
    // Source: the JSON parsing test suite of nst, by file name; contents from memory.
    for (name, text) in [
        ("y_array_heterogeneous", r#"[null, 1, "1", {}]"#),
        ("n_object_duplicated_key", r#"{"a":"b","a":"c"}"#),
        ("y_string_unicode_U+200B_ZERO_WIDTH_SPACE", r#"["\u200B"]"#),
        ("n_array_extra_comma", r#"["",]"#),
        ("n_array_unclosed", r#"[""#),
        ("n_number_+1", "[+1]"),
        ("n_number_.2e-3", "[.2e-3]"),
        ("n_number_0x1", "[0x1]"),
        ("n_object_single_quote", "{'a':0}"),
        ("n_object_trailing_comment", r#"{"a":"b"}/**/"#),
        ("n_string_unescaped_newline", "[\"new\nline\"]"),
        ("n_structure_no_data", ""),
        ("n_structure_capitalized_True", "[True]"),
    ] {
        corpus.json(13, name, text);
    }
    Ok(())
}

/// A value written with its members from the last to the first.
fn reordered(value: &Value) -> Vec<u8> {
    fn write(value: &Value, out: &mut String) {
        match value {
            Value::Object(members) => {
                out.push('{');
                for (index, (name, member)) in members.iter().rev().enumerate() {
                    if index > 0 {
                        out.push(',');
                    }
                    out.push_str(&Value::from(name.as_str()).to_string());
                    out.push(':');
                    write(member, out);
                }
                out.push('}');
            }
            Value::Array(items) => {
                out.push('[');
                for (index, item) in items.iter().enumerate() {
                    if index > 0 {
                        out.push(',');
                    }
                    write(item, out);
                }
                out.push(']');
            }
            plain => out.push_str(&plain.to_string()),
        }
    }
    let mut out = String::new();
    write(value, &mut out);
    out.into_bytes()
}
