#![allow(clippy::unwrap_used, clippy::expect_used)]

use super::*;

fn read(text: &[u8]) -> Result<Object, SyntaxError> {
    Reader::new(text).object()
}

#[test]
fn objects_of_every_kind_are_read() {
    let Object::Dictionary(found) = read(
        b"<</A 12/B -3.5/C(a\\(b\\)\\101(c))/D<414B>/E[true null 7 0 R]/F/x#2Fy/G<<>>/H false>>",
    )
    .unwrap() else {
        panic!("no dictionary")
    };
    assert_eq!(found[b"A".as_slice()], Object::Integer(12));
    assert_eq!(found[b"B".as_slice()], Object::Real(-3500));
    assert!(matches!(&found[b"C".as_slice()], Object::Text(text) if text.bytes == b"a(b)A(c)"));
    assert!(
        matches!(&found[b"D".as_slice()], Object::Text(text) if text.bytes == b"AK" && text.hexadecimal)
    );
    let Object::Array(items, _) = &found[b"E".as_slice()] else {
        panic!("no array")
    };
    assert_eq!(
        items.as_slice(),
        [Object::Boolean(true), Object::Null, Object::Reference(7)]
    );
    assert_eq!(name(&found, "F"), Some(b"x/y".as_slice()));
}

#[test]
fn numbers_with_a_point_are_read_to_thousandths() {
    for (text, thousandths) in [
        ("595.276", 595_276),
        ("841.89", 841_890),
        (".5", 500),
        ("-.0625", -62),
        ("+7.", 7_000),
        ("0.0", 0),
    ] {
        assert_eq!(
            read(text.as_bytes()),
            Ok(Object::Real(thousandths)),
            "{text}"
        );
    }
    let long = format!("{}.5", "9".repeat(40));
    assert_eq!(read(long.as_bytes()), Ok(Object::Real(i64::MAX)));
}

#[test]
fn what_could_be_read_in_two_ways_is_refused() {
    for (text, what) in [
        (
            b"<</A 1/A 2>>".as_slice(),
            "the same key twice in a dictionary",
        ),
        (b"<</A 1/#41 2>>", "the same key twice in a dictionary"),
        (
            b"<</A 1 %x\n>>",
            "a key or `>>` was expected in a dictionary",
        ),
        (b"<414>", "hexadecimal string with an odd number of digits"),
        (
            b"<41 4B>",
            "hexadecimal string with other characters than digits",
        ),
        (b"1.2.3", "malformed number"),
        (b"--5", "malformed number"),
        (b"99999999999999999999", "whole number too large"),
        (b"0 0 R", "object number outside 1 to 8388607"),
        (b"/a#4", "`#` in a name without two hexadecimal digits"),
        (b"(a", "string without its closing bracket"),
        (b"(a\\", "string without its closing bracket"),
        (b"(\\q)", "unknown escape in a string"),
        (b"(\\777)", "octal escape above 377"),
        (b"truex", "unknown word"),
        (b"", "an object was expected"),
        (b"[1 ", "an object was expected"),
        (b"}", "an object was expected"),
    ] {
        assert_eq!(
            read(text).unwrap_err().what,
            what,
            "{}",
            String::from_utf8_lossy(text)
        );
    }
}

#[test]
fn depth_and_number_of_values_are_bounded() {
    assert!(read(&[vec![b'['; 41], vec![b']'; 41]].concat()).is_ok());
    let deep = read(&vec![b'['; 5_000_000]).unwrap_err();
    assert_eq!(
        deep.what,
        "arrays and dictionaries nested more than 40 deep"
    );
    let wide = read(&[b"[".as_slice(), &b"0 ".repeat(1_000_001)].concat()).unwrap_err();
    assert_eq!(wide.what, "more than 1000000 values");
}
