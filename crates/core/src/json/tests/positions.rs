use super::{super::Position, *};
use crate::json::line_column;

const SHEET: &str = "{\n  \"刃文\": \"直刃\", \"holes\": [\n    {\"a/b~c\": 1},\n\t2\n  ]\n}\n";

const fn at(line: usize, column: usize) -> Position {
    Position { line, column }
}

#[test]
fn values_are_found_by_pointer() {
    let positions = read(SHEET.as_bytes(), &Limits::default())
        .unwrap()
        .positions;
    assert_eq!(positions.get(""), Some(at(1, 1)));
    assert_eq!(positions.get("/刃文"), Some(at(2, 9)));
    assert_eq!(positions.get("/holes"), Some(at(2, 24)));
    assert_eq!(positions.get("/holes/0"), Some(at(3, 5)));
    assert_eq!(positions.get("/holes/0/a~1b~0c"), Some(at(3, 15)));
    assert_eq!(positions.get("/holes/1"), Some(at(4, 2)));
    for absent in [
        "holes",
        "/",
        "/holes/2",
        "/holes/00",
        "/holes/+1",
        "/holes/-",
        "/刃文/0",
        "/holes/",
    ] {
        assert_eq!(positions.get(absent), None, "{absent}");
    }
}

#[test]
fn keys_and_nearest_values_are_found_by_pointer() {
    let positions = read(SHEET.as_bytes(), &Limits::default())
        .unwrap()
        .positions;
    assert_eq!(positions.key("/holes"), Some(at(2, 15)));
    assert_eq!(positions.key("/holes/0/a~1b~0c"), Some(at(3, 6)));
    assert_eq!(positions.key("/holes/0"), None);
    assert_eq!(positions.key(""), None);
    assert_eq!(positions.nearest("/holes/0/missing/deeper"), at(3, 5));
    assert_eq!(positions.nearest("/missing"), at(1, 1));
    assert_eq!(positions.nearest("/holes/1"), at(4, 2));
}

#[test]
fn key_of_an_escaped_pointer_is_not_unescaped_twice() {
    // RFC 6901 section 4: `~01` is the key `~1`.
    let positions = read(br#"{"~1": 1, "/": 2}"#, &Limits::default())
        .unwrap()
        .positions;
    assert_eq!(positions.get("/~01"), Some(at(1, 8)));
    assert_eq!(positions.get("/~1"), Some(at(1, 16)));
}

#[test]
fn columns_count_characters_of_any_bytes() {
    let bytes = b"a\xE5\x88\x83b\r\n\xFFc";
    let columns = [
        (0, 1, 1),
        (1, 1, 2),
        (4, 1, 3),
        (7, 2, 1),
        (8, 2, 2),
        (99, 2, 3),
    ];
    for (offset, line, column) in columns {
        assert_eq!(line_column(bytes, offset), at(line, column), "{offset}");
    }
    assert_eq!(line_column(b"", 0).to_string(), "line 1, column 1");
}
