//! Inputs that must be read, named one by one.

use serde_json::json;

use super::*;

#[test]
fn every_kind_of_value() {
    let cases = [
        ("null alone", "null", json!(null)),
        ("true alone", "true", json!(true)),
        ("false alone", "false", json!(false)),
        ("zero", "0", json!(0)),
        ("negative integer", "-17", json!(-17)),
        (
            "largest safe integer",
            "9007199254740991",
            json!(9_007_199_254_740_991_i64),
        ),
        (
            "smallest safe integer",
            "-9007199254740991",
            json!(-9_007_199_254_740_991_i64),
        ),
        ("string alone", "\"mei\"", json!("mei")),
        ("empty string", "\"\"", json!("")),
        ("empty array", "[]", json!([])),
        ("empty array with space", "[ \n ]", json!([])),
        ("empty object", "{}", json!({})),
        ("empty object with space", "{\t}", json!({})),
        ("empty key", r#"{"":0}"#, json!({"": 0})),
        (
            "array of mixed values",
            r#"[1,"1",null,[],{}]"#,
            json!([1, "1", null, [], {}]),
        ),
        (
            "nested object",
            r#"{"a":{"b":{"c":[]}}}"#,
            json!({"a": {"b": {"c": []}}}),
        ),
        (
            "space of all four kinds around",
            " \t\r\n[ 1 , 2 ]\r\n",
            json!([1, 2]),
        ),
        (
            "same key in two objects",
            r#"[{"a":1},{"a":2}]"#,
            json!([{"a": 1}, {"a": 2}]),
        ),
        (
            "same key one level down",
            r#"{"a":{"a":1}}"#,
            json!({"a": {"a": 1}}),
        ),
        (
            "keys that differ in case",
            r#"{"a":1,"A":2}"#,
            json!({"a": 1, "A": 2}),
        ),
        (
            "decimal as string",
            r#"{"value":"701.5"}"#,
            json!({"value": "701.5"}),
        ),
    ];
    for (name, input, value) in cases {
        assert_eq!(strict(input).as_ref(), Ok(&value), "{name}");
    }
}

#[test]
fn every_kind_of_string() {
    let cases = [
        (
            "all short escapes",
            r#""\"\\\/\b\f\n\r\t""#,
            "\"\\/\u{8}\u{c}\n\r\t",
        ),
        ("escape in lower-case hexadecimal", r#""\u00e9""#, "é"),
        ("escape in upper-case hexadecimal", r#""\u00E9""#, "é"),
        ("escape of a control character", r#""\u001f""#, "\u{1f}"),
        ("escape of a quotation mark", r#""\u0022""#, "\""),
        ("escape followed by digits", r#""\u00e90""#, "é0"),
        ("surrogate pair", r#""\ud83d\ude02""#, "😂"),
        ("two surrogate pairs", r#""\uD834\uDD1E\uD834\uDD1E""#, "𝄞𝄞"),
        (
            "last code point that is a character",
            r#""\udbff\udffd""#,
            "\u{10fffd}",
        ),
        ("delete character", "\"\u{7f}\"", "\u{7f}"),
        ("two-byte UTF-8", "\"é\"", "é"),
        ("three-byte UTF-8", "\"刃文\"", "刃文"),
        ("four-byte UTF-8", "\"𠮟\"", "𠮟"),
        ("kana with a mark in one character", "\"が\"", "が"),
        ("mark without a composed form", "\"x\u{301}\"", "x\u{301}"),
        (
            "marks in canonical order",
            "\"q\u{323}\u{307}\"",
            "q\u{323}\u{307}",
        ),
        ("compatibility character, which form C keeps", "\"ﬀ\"", "ﬀ"),
        ("line separator", "\"\u{2028}\"", "\u{2028}"),
        ("zero-width space", "\"\u{200b}\"", "\u{200b}"),
        ("byte order mark inside", "\"a\u{feff}\"", "a\u{feff}"),
        ("two backslashes then the end", r#""\\""#, "\\"),
        ("text between escapes", r#""a\nb\nc""#, "a\nb\nc"),
        (
            "comment inside a string",
            r#""/* no */ // # ""#,
            "/* no */ // # ",
        ),
    ];
    for (name, input, text) in cases {
        assert_eq!(strict(input), Ok(json!(text)), "{name}");
    }
}

#[test]
fn nesting_up_to_the_limit() {
    let nested = |levels: usize| format!("{}{}", "[".repeat(levels), "]".repeat(levels));
    assert!(strict(nested(32)).is_ok());
    assert!(strict(nested(33)).is_err());
    // Depth is counted on the way down only.
    assert!(strict(format!("[{}{}]", "[[]],".repeat(100), "[]")).is_ok());
}

#[test]
fn reordered_and_spaced_record_has_the_same_bytes() {
    let one = strict(r#"{"blade":{"length":"701.5","holes":2},"version":1}"#).unwrap();
    let other =
        "{\n  \"version\": 1,\r\n\t\"blade\": {\"holes\": 2, \"len\\u0067th\": \"701.5\"}\n}\n";
    assert_eq!(canonical(&one), canonical(&strict(other).unwrap()));
}

#[test]
fn canonicalizer_refuses_what_it_would_have_to_round() {
    for integer in [
        json!(9_007_199_254_740_992_u64),
        json!(-9_007_199_254_740_992_i64),
        json!(u64::MAX),
    ] {
        let error = canonical_bytes(&json!([integer])).unwrap_err();
        assert_eq!(
            error.to_string(),
            format!(
                "the integer {integer} is out of range; \
                 -9007199254740991 to 9007199254740991 is allowed"
            )
        );
        assert_eq!(error.hint(), "write decimals and large numbers as strings");
    }
}

#[test]
fn canonicalizer_refuses_bottomless_values() {
    let nested = |levels| (1..levels).fold(json!([]), |inner, _| json!([inner]));
    assert!(canonical_bytes(&nested(128)).is_ok());
    let error = canonical_bytes(&nested(129)).unwrap_err();
    assert_eq!(
        error.to_string(),
        "found an array or object inside 128 others; at most 128 levels are allowed"
    );
    assert_eq!(
        error.hint(),
        "take arrays and objects apart until they are less nested"
    );
}
