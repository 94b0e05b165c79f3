//! Inputs that must be refused, named one by one, each with the text a person sees.

use super::*;

macro_rules! refused {
    ($($name:ident: $input:expr => $error:literal, $hint:literal;)*) => {
        $(
            #[test]
            fn $name() {
                assert_eq!(refusal($input), concat!($error, "\nhint: ", $hint));
            }
        )*
    };
}

// Input as a whole
refused! {
    empty_input: "" =>
        "line 1, column 1: found no value in 0 bytes; exactly one JSON value is allowed",
        "check that this is the file you meant, and that it was copied whole";
    only_space: " \n\t" =>
        "line 2, column 2: found no value in 3 bytes; exactly one JSON value is allowed",
        "check that this is the file you meant, and that it was copied whole";
    byte_order_mark: "\u{feff}{}" =>
        "line 1, column 1: found a byte order mark (bytes EF BB BF); UTF-8 without one is allowed",
        "save the file as UTF-8 without a byte order mark (BOM)";
    utf_16: b"\xFF\xFE{\0}\0" =>
        "line 1, column 1: found the byte FF, which is not UTF-8 here; only UTF-8 text is allowed",
        "save the file as UTF-8";
    latin_1_letter: b"[\"caf\xE9\"]" =>
        "line 1, column 6: found the byte E9, which is not UTF-8 here; only UTF-8 text is allowed",
        "save the file as UTF-8";
    utf_8_cut_short: b"[\"\xE5\x88\"]" =>
        "line 1, column 3: found the byte E5, which is not UTF-8 here; only UTF-8 text is allowed",
        "save the file as UTF-8";
    overlong_utf_8: b"[\"\xC0\xAF\"]" =>
        "line 1, column 3: found the byte C0, which is not UTF-8 here; only UTF-8 text is allowed",
        "save the file as UTF-8";
    surrogate_in_utf_8: b"\"\xED\xA0\x80\"" =>
        "line 1, column 2: found the byte ED, which is not UTF-8 here; only UTF-8 text is allowed",
        "save the file as UTF-8";
    code_point_past_the_last: b"\"\xF4\x90\x80\x80\"" =>
        "line 1, column 2: found the byte F4, which is not UTF-8 here; only UTF-8 text is allowed",
        "save the file as UTF-8";
    second_value: "{\"a\":1}\n{\"a\":2}" =>
        "line 2, column 1: found `{` after the value; only white space is allowed there",
        "remove everything after the value; one file holds one value";
    closing_bracket_too_many: "[1]]" =>
        "line 1, column 4: found `]` after the value; only white space is allowed there",
        "remove everything after the value; one file holds one value";
    word_after_value: "[] x" =>
        "line 1, column 4: found `x` after the value; only white space is allowed there",
        "remove everything after the value; one file holds one value";
    byte_zero_after_value: "1\0" =>
        r#"line 1, column 2: found `\0` after the value; only white space is allowed there"#,
        "remove everything after the value; one file holds one value";
    comma_after_value: "1," =>
        "line 1, column 2: found `,` after the value; only white space is allowed there",
        "remove everything after the value; one file holds one value";
    semicolon_after_value: "{};" =>
        "line 1, column 3: found `;` after the value; only white space is allowed there",
        "remove everything after the value; one file holds one value";
}

// Depth
refused! {
    arrays_33_deep: "[".repeat(33) =>
        "line 1, column 33: found an array or object inside 32 others; at most 32 levels are allowed",
        "take arrays and objects apart until they are less nested";
    objects_33_deep: "{\"a\":".repeat(33) =>
        "line 1, column 161: found an array or object inside 32 others; at most 32 levels are allowed",
        "take arrays and objects apart until they are less nested";
}

// Keys
refused! {
    key_twice: "{\"mei\": 1,\n \"len\": {\"mei\": 2},\n \"mei\": 3}" =>
        "line 3, column 2: found the key `mei` a second time, first at line 1, column 2; each key is allowed once in an object",
        "remove one of the two, or rename it";
    key_twice_with_escape: r#"{"mei":1,"m\u0065i":2}"# =>
        "line 1, column 10: found the key `mei` a second time, first at line 1, column 2; each key is allowed once in an object",
        "remove one of the two, or rename it";
    key_twice_with_equal_values: r#"{"mei":1,"mei":1}"# =>
        "line 1, column 10: found the key `mei` a second time, first at line 1, column 2; each key is allowed once in an object",
        "remove one of the two, or rename it";
    key_twice_with_surrogate_pair: r#"{"😂":1,"\ud83d\ude02":2}"# =>
        "line 1, column 8: found the key `😂` a second time, first at line 1, column 2; each key is allowed once in an object",
        "remove one of the two, or rename it";
    key_twice_in_inner_object: r#"[0,{"a":{"b":[],"c":"x","b":1}}]"# =>
        "line 1, column 25: found the key `b` a second time, first at line 1, column 10; each key is allowed once in an object",
        "remove one of the two, or rename it";
    key_twice_before_another_fault: r#"{"a":1,"a":1.5}"# =>
        "line 1, column 8: found the key `a` a second time, first at line 1, column 2; each key is allowed once in an object",
        "remove one of the two, or rename it";
    empty_key_twice: r#"{"":1,"":2}"# =>
        "line 1, column 7: found the key `` a second time, first at line 1, column 2; each key is allowed once in an object",
        "remove one of the two, or rename it";
    key_without_quotation_marks: "{mei: 1}" =>
        "line 1, column 2: found `mei`; a key in double quotation marks or `}` is allowed here",
        "put texts and keys in double quotation marks";
    key_in_single_quotation_marks: "{'mei': 1}" =>
        "line 1, column 2: found `'mei'`; a key in double quotation marks or `}` is allowed here",
        "put texts and keys in straight double quotation marks (U+0022)";
    key_that_is_a_number: "{1: 1}" =>
        "line 1, column 2: found `1`; a key in double quotation marks or `}` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    key_that_is_null: r#"{"a":1, null:1}"# =>
        "line 1, column 9: found `null`; a key in double quotation marks is allowed here",
        "put texts and keys in double quotation marks";
    colon_missing: r#"{"a" 1}"# =>
        "line 1, column 6: found `1`; `:` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    colon_twice: r#"{"a":: 1}"# =>
        "line 1, column 6: found `:`; a value is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    equals_sign_for_colon: r#"{"a" = 1}"# =>
        "line 1, column 6: found `=`; `:` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    value_missing: r#"{"a":}"# =>
        "line 1, column 6: found `}`; a value is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    value_without_key: r#"{"a"}"# =>
        "line 1, column 5: found `}`; `:` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
}

// Text
refused! {
    string_outside_form_c: "[\"\",\"Ame\u{301}\"]" =>
        r#"line 1, column 5: the string `Ame\u{301}` is not in Unicode Normalization Form C: character 3 is U+0065, U+00E9 is allowed there"#,
        "save the text in form C (NFC), where a letter and its accent are one character";
    string_outside_form_c_by_escape: r#""e\u0301""# =>
        r#"line 1, column 1: the string `e\u{301}` is not in Unicode Normalization Form C: character 1 is U+0065, U+00E9 is allowed there"#,
        "save the text in form C (NFC), where a letter and its accent are one character";
    key_outside_form_c: "{\n\"か\u{3099}\": 1}" =>
        r#"line 2, column 1: the key `か\u{3099}` is not in Unicode Normalization Form C: character 1 is U+304B, U+304C is allowed there"#,
        "save the text in form C (NFC), where a letter and its accent are one character";
    marks_out_of_order: "\"q\u{307}\u{323}\"" =>
        r#"line 1, column 1: the string `q\u{307}\u{323}` is not in Unicode Normalization Form C: character 2 is U+0307, U+0323 is allowed there"#,
        "save the text in form C (NFC), where a letter and its accent are one character";
    angstrom_sign: "\"\u{212b}\"" =>
        "line 1, column 1: the string `Å` is not in Unicode Normalization Form C: character 1 is U+212B, U+00C5 is allowed there",
        "save the text in form C (NFC), where a letter and its accent are one character";
    cjk_compatibility_ideograph: "\"\u{f900}\"" =>
        "line 1, column 1: the string `豈` is not in Unicode Normalization Form C: character 1 is U+F900, U+8C48 is allowed there",
        "save the text in form C (NFC), where a letter and its accent are one character";
    high_surrogate_alone: r#""\ud83d""# =>
        r#"line 1, column 2: found the lone surrogate `\ud83d`; surrogates are allowed only in pairs, high then low"#,
        "write the character itself in UTF-8 instead of an escape";
    low_surrogate_alone: r#""a\ude02""# =>
        r#"line 1, column 3: found the lone surrogate `\ude02`; surrogates are allowed only in pairs, high then low"#,
        "write the character itself in UTF-8 instead of an escape";
    high_surrogate_before_text: r#""\ud83dx""# =>
        r#"line 1, column 2: found the lone surrogate `\ud83d`; surrogates are allowed only in pairs, high then low"#,
        "write the character itself in UTF-8 instead of an escape";
    high_surrogate_before_other_escape: r#""\ud83d\n""# =>
        r#"line 1, column 2: found the lone surrogate `\ud83d`; surrogates are allowed only in pairs, high then low"#,
        "write the character itself in UTF-8 instead of an escape";
    surrogates_swapped: r#""\ude02\ud83d""# =>
        r#"line 1, column 2: found the lone surrogate `\ude02`; surrogates are allowed only in pairs, high then low"#,
        "write the character itself in UTF-8 instead of an escape";
    high_surrogate_twice: r#""\ud83d\ud83d""# =>
        r#"line 1, column 2: found the lone surrogate `\ud83d`; surrogates are allowed only in pairs, high then low"#,
        "write the character itself in UTF-8 instead of an escape";
    surrogate_in_key: r#"{"\udead":1}"# =>
        r#"line 1, column 3: found the lone surrogate `\udead`; surrogates are allowed only in pairs, high then low"#,
        "write the character itself in UTF-8 instead of an escape";
    line_break_in_string: "[\"a\nb\"]" =>
        "line 1, column 4: found the control character U+000A in a string; it is allowed only as an escape",
        r#"write a line break in a string as `\n`"#;
    tab_in_string: "\"a\tb\"" =>
        "line 1, column 3: found the control character U+0009 in a string; it is allowed only as an escape",
        r#"write a tab in a string as `\t`"#;
    bell_in_string: "\"\u{7}\"" =>
        "line 1, column 2: found the control character U+0007 in a string; it is allowed only as an escape",
        r#"remove the character or write it as `\u0007`"#;
    nul_in_string: "\"\0\"" =>
        "line 1, column 2: found U+0000 in a string; it is not allowed, not even as an escape",
        "remove the character";
    nul_as_escape: r#"{"a":"x\u0000"}"# =>
        "line 1, column 8: found U+0000 in a string; it is not allowed, not even as an escape",
        "remove the character";
    noncharacter: "\"\u{ffff}\"" =>
        "line 1, column 1: found U+FFFF in a string, which is no character; only characters are allowed",
        "remove the character";
    noncharacter_as_escape_in_key: r#"{"\ufdd0":1}"# =>
        "line 1, column 2: found U+FDD0 in a key, which is no character; only characters are allowed",
        "remove the character";
    escape_of_a_letter: r#""C:\path""# =>
        r#"line 1, column 4: found the escape `\p`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write a backslash that is part of the text as `\\`"#;
    escape_in_hexadecimal: r#""\x41""# =>
        r#"line 1, column 2: found the escape `\x`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write a backslash that is part of the text as `\\`"#;
    escape_of_a_quotation_mark_only_in_other_languages: r#""\'""# =>
        r#"line 1, column 2: found the escape `\'`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write a backslash that is part of the text as `\\`"#;
    escape_too_short: r#""\u12""# =>
        r#"line 1, column 2: found the escape `\u12`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write four hexadecimal digits after `\u`, or the character itself"#;
    escape_not_hexadecimal: r#""\u00g0""# =>
        r#"line 1, column 2: found the escape `\u00g0`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write four hexadecimal digits after `\u`, or the character itself"#;
    escape_with_sign: r#""\u+123""# =>
        r#"line 1, column 2: found the escape `\u+123`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write four hexadecimal digits after `\u`, or the character itself"#;
    escape_with_capital_u: r#""\U00e9""# =>
        r#"line 1, column 2: found the escape `\U`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write a backslash that is part of the text as `\\`"#;
    escape_of_a_character_of_two_bytes: r#""\é""# =>
        r#"line 1, column 2: found the escape `\é`; `\"`, `\\`, `\/`, `\b`, `\f`, `\n`, `\r`, `\t` and `\u` with four hexadecimal digits are allowed"#,
        r#"write a backslash that is part of the text as `\\`"#;
    single_quotation_marks: "['a']" =>
        "line 1, column 2: found `'a'`; a value or `]` is allowed here",
        "put texts and keys in straight double quotation marks (U+0022)";
    typographic_quotation_marks: "[“a”]" =>
        "line 1, column 2: found `“a”`; a value or `]` is allowed here",
        "put texts and keys in straight double quotation marks (U+0022)";
    text_without_quotation_marks: "[katana]" =>
        "line 1, column 2: found `katana`; a value or `]` is allowed here",
        "put texts and keys in double quotation marks";
}

// Numbers
refused! {
    decimal: r#"{"length": 701.5}"# =>
        "line 1, column 12: found `701.5`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals as strings: `"701.5"`"#;
    decimal_that_is_whole: "1.0" =>
        "line 1, column 1: found `1.0`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals as strings: `"1.0"`"#;
    decimal_with_too_many_digits: "0.30000000000000001" =>
        "line 1, column 1: found `0.30000000000000001`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals as strings: `"0.30000000000000001"`"#;
    decimal_without_digits_after: "1." =>
        "line 1, column 1: found `1.`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    decimal_without_digits_before: "[.5]" =>
        "line 1, column 2: found `.5`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    negative_decimal_without_digits_before: "-.5" =>
        "line 1, column 1: found `-.5`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    exponent: "1e3" =>
        "line 1, column 1: found `1e3`, which has an exponent; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    exponent_in_capitals: "1E400" =>
        "line 1, column 1: found `1E400`, which has an exponent; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    exponent_with_sign: "-1e-3" =>
        "line 1, column 1: found `-1e-3`, which has an exponent; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    minus_zero: "[-0]" =>
        "line 1, column 2: found `-0`, which is minus zero; `0` is allowed",
        "write `0`";
    minus_zero_with_decimals: "-0.0" =>
        "line 1, column 1: found `-0.0`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals as strings: `"-0.0"`"#;
    leading_zero: "[007]" =>
        "line 1, column 2: found `007`, which starts with a needless `0`; digits without one are allowed",
        "remove the leading `0`, or write an identifier as a string in quotation marks";
    leading_zero_after_minus: "-012" =>
        "line 1, column 1: found `-012`, which starts with a needless `0`; digits without one are allowed",
        "remove the leading `0`, or write an identifier as a string in quotation marks";
    zero_twice: "00" =>
        "line 1, column 1: found `00`, which starts with a needless `0`; digits without one are allowed",
        "remove the leading `0`, or write an identifier as a string in quotation marks";
    plus_sign: "+1" =>
        "line 1, column 1: found `+1`, which starts with `+`; digits without it are allowed",
        "remove the `+`";
    two_to_the_53: "9007199254740992" =>
        "line 1, column 1: found `9007199254740992`, which is out of range; -9007199254740991 to 9007199254740991 is allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    two_to_the_53_plus_one: "9007199254740993" =>
        "line 1, column 1: found `9007199254740993`, which is out of range; -9007199254740991 to 9007199254740991 is allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    minus_two_to_the_53: "-9007199254740992" =>
        "line 1, column 1: found `-9007199254740992`, which is out of range; -9007199254740991 to 9007199254740991 is allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    thirty_digits: "123456789012345678901234567890" =>
        "line 1, column 1: found `123456789012345678901234567890`, which is out of range; -9007199254740991 to 9007199254740991 is allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    a_thousand_digits: "9".repeat(1000) =>
        "line 1, column 1: found `9999999999999999999999999999999999999999…`, which is out of range; -9007199254740991 to 9007199254740991 is allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    not_a_number: r#"{"mass": NaN}"# =>
        "line 1, column 10: found `NaN`, which is no finite number; only whole numbers without a decimal point or exponent are allowed",
        "leave the field out, or write `null` where the field allows it";
    negative_not_a_number: "-NaN" =>
        "line 1, column 1: found `-NaN`, which is no finite number; only whole numbers without a decimal point or exponent are allowed",
        "leave the field out, or write `null` where the field allows it";
    infinity: "[Infinity]" =>
        "line 1, column 2: found `Infinity`, which is no finite number; only whole numbers without a decimal point or exponent are allowed",
        "leave the field out, or write `null` where the field allows it";
    negative_infinity: "[-Infinity]" =>
        "line 1, column 2: found `-Infinity`, which is no finite number; only whole numbers without a decimal point or exponent are allowed",
        "leave the field out, or write `null` where the field allows it";
    hexadecimal: "0x1F" =>
        "line 1, column 1: found `0x1F`, which is no decimal number; an optional `-` and decimal digits are allowed",
        "write decimal digits, or put text in double quotation marks";
    minus_alone: "[-]" =>
        "line 1, column 2: found `-`, which is no decimal number; an optional `-` and decimal digits are allowed",
        "write decimal digits, or put text in double quotation marks";
    minus_twice: "--1" =>
        "line 1, column 1: found `--1`, which is no decimal number; an optional `-` and decimal digits are allowed",
        "write decimal digits, or put text in double quotation marks";
    minus_with_space: "- 1" =>
        "line 1, column 1: found `-`, which is no decimal number; an optional `-` and decimal digits are allowed",
        "write decimal digits, or put text in double quotation marks";
    digits_with_separators: "1_000" =>
        "line 1, column 1: found `1_000`, which is no decimal number; an optional `-` and decimal digits are allowed",
        "write decimal digits, or put text in double quotation marks";
    fraction_with_division_sign: "[1/2]" =>
        "line 1, column 3: found `/2`; `,` or `]` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    slash_after_value: "1 / 2" =>
        "line 1, column 3: found `/` after the value; only white space is allowed there",
        "remove everything after the value; one file holds one value";
    word_nan_in_small_letters: "[nan]" =>
        "line 1, column 2: found `nan`; a value or `]` is allowed here",
        "put texts and keys in double quotation marks";
    decimal_with_exponent: "1.5e3" =>
        "line 1, column 1: found `1.5e3`, which has a decimal point; only whole numbers without a decimal point or exponent are allowed",
        r#"write decimals and large numbers as strings of plain digits, such as `"701.5"`"#;
    backslash_outside_a_string: "[\\n]" =>
        r#"line 1, column 2: found `\n`; a value or `]` is allowed here"#,
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    digits_then_letters: "[12mm]" =>
        "line 1, column 2: found `12mm`, which is no decimal number; an optional `-` and decimal digits are allowed",
        "write decimal digits, or put text in double quotation marks";
    full_width_digit: "[１]" =>
        "line 1, column 2: found `１`; a value or `]` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
}

// Words and signs
refused! {
    capital_true: "[True]" =>
        "line 1, column 2: found `True`; a value or `]` is allowed here",
        "write `true`";
    python_none: "[None]" =>
        "line 1, column 2: found `None`; a value or `]` is allowed here",
        "write `null`";
    word_cut_short: "[nul]" =>
        "line 1, column 2: found `nul`; a value or `]` is allowed here",
        "put texts and keys in double quotation marks";
    word_too_long: "[nullx]" =>
        "line 1, column 6: found `x`; `,` or `]` is allowed here",
        "put texts and keys in double quotation marks";
    comment_of_a_line: "{\n  // from the notes\n}" =>
        "line 2, column 3: found a comment; JSON allows none",
        "remove the comment, or keep the text in a field made for notes";
    comment_of_a_block: "[1, /* two */ 2]" =>
        "line 1, column 5: found a comment; JSON allows none",
        "remove the comment, or keep the text in a field made for notes";
    comment_with_number_sign: "# notes\n{}" =>
        "line 1, column 1: found a comment; JSON allows none",
        "remove the comment, or keep the text in a field made for notes";
    comment_at_the_end: "{} // end" =>
        "line 1, column 4: found a comment; JSON allows none",
        "remove the comment, or keep the text in a field made for notes";
    comma_before_end_of_array: "[1,\n2,\n]" =>
        "line 2, column 2: found a comma before `]`; a comma is allowed only between two entries",
        "remove the comma";
    comma_before_end_of_object: "{\"a\":1,}" =>
        "line 1, column 7: found a comma before `}`; a comma is allowed only between two entries",
        "remove the comma";
    comma_alone: "[,]" =>
        "line 1, column 2: found `,`; a value or `]` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    comma_first: "[,1]" =>
        "line 1, column 2: found `,`; a value or `]` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    comma_twice: "[1,,2]" =>
        "line 1, column 4: found `,`; a value is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    comma_missing_in_array: "[1 2]" =>
        "line 1, column 4: found `2`; `,` or `]` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    comma_missing_in_object: "{\"a\":1 \"b\":2}" =>
        r#"line 1, column 8: found `"b"`; `,` or `}` is allowed here"#,
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    colon_in_array: "[\"a\":1]" =>
        "line 1, column 5: found `:`; `,` or `]` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    wrong_bracket_after_array: "[1}" =>
        "line 1, column 3: found `}`; `,` or `]` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    wrong_bracket_after_object: "{\"a\":1]" =>
        "line 1, column 7: found `]`; `,` or `}` is allowed here",
        "look for a missing comma, colon, quotation mark or bracket just before this place";
    no_break_space: "[1,\u{a0}2]" =>
        r#"line 1, column 4: found `\u{a0}`; a value is allowed here"#,
        "remove the invisible character, or put an ordinary space in its place";
    form_feed: "[\u{c}]" =>
        r#"line 1, column 2: found `\u{c}`; a value or `]` is allowed here"#,
        "remove the invisible character, or put an ordinary space in its place";
    byte_zero_between: "[\0]" =>
        r#"line 1, column 2: found `\0`; a value or `]` is allowed here"#,
        "remove the invisible character, or put an ordinary space in its place";
    byte_order_mark_between: "[\u{feff}1]" =>
        r#"line 1, column 2: found `\u{feff}1`; a value or `]` is allowed here"#,
        "remove the invisible character, or put an ordinary space in its place";
}

// Cut short
refused! {
    array_cut_short: "[1" =>
        "line 1, column 3: the input ends inside the array opened at line 1, column 1; `,` or `]` is allowed here",
        "check that the file was copied whole, then close what is open";
    array_cut_after_bracket: "[" =>
        "line 1, column 2: the input ends inside the array opened at line 1, column 1; a value or `]` is allowed here",
        "check that the file was copied whole, then close what is open";
    array_cut_after_comma: "[1," =>
        "line 1, column 4: the input ends inside the array opened at line 1, column 1; a value is allowed here",
        "check that the file was copied whole, then close what is open";
    object_cut_short: "{\"a\":1" =>
        "line 1, column 7: the input ends inside the object opened at line 1, column 1; `,` or `}` is allowed here",
        "check that the file was copied whole, then close what is open";
    object_cut_after_bracket: "{" =>
        "line 1, column 2: the input ends inside the object opened at line 1, column 1; a key in double quotation marks or `}` is allowed here",
        "check that the file was copied whole, then close what is open";
    object_cut_after_key: "{\"a\"" =>
        "line 1, column 5: the input ends inside the object opened at line 1, column 1; `:` is allowed here",
        "check that the file was copied whole, then close what is open";
    object_cut_after_colon: "{\"a\":" =>
        "line 1, column 6: the input ends inside the object opened at line 1, column 1; a value is allowed here",
        "check that the file was copied whole, then close what is open";
    object_cut_after_comma: "{\"a\":1," =>
        "line 1, column 8: the input ends inside the object opened at line 1, column 1; a key in double quotation marks is allowed here",
        "check that the file was copied whole, then close what is open";
    string_cut_short: "[\"abc" =>
        "line 1, column 6: the input ends inside the string opened at line 1, column 2; a closing quotation mark is allowed here",
        "check that the file was copied whole, then close what is open";
    string_cut_in_escape: "\"abc\\" =>
        "line 1, column 6: the input ends inside the string opened at line 1, column 1; a closing quotation mark is allowed here",
        "check that the file was copied whole, then close what is open";
    string_cut_in_unicode_escape: r#"["abc\u00"# =>
        "line 1, column 10: the input ends inside the string opened at line 1, column 2; a closing quotation mark is allowed here",
        "check that the file was copied whole, then close what is open";
    string_cut_after_escaped_quotation_mark: r#""abc\""# =>
        "line 1, column 7: the input ends inside the string opened at line 1, column 1; a closing quotation mark is allowed here",
        "check that the file was copied whole, then close what is open";
    key_cut_short: "{\n \"abc" =>
        "line 2, column 6: the input ends inside the string opened at line 2, column 2; a closing quotation mark is allowed here",
        "check that the file was copied whole, then close what is open";
    outer_object_cut_short: "{\"a\":[1]\n" =>
        "line 2, column 1: the input ends inside the object opened at line 1, column 1; `,` or `}` is allowed here",
        "check that the file was copied whole, then close what is open";
}
