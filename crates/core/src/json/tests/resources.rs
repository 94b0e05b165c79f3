//! Inputs made to cost time, memory or stack.

use super::{super::JsonErrorKind, *};

#[test]
fn size_is_refused_before_anything_is_read() {
    let limits = Limits {
        max_bytes: 8,
        ..Limits::default()
    };
    assert!(read(b"[1,2,33]", &limits).is_ok());
    // Not UTF-8 either: the size is what is said.
    let error = read(b"\xFF1,2,3,4]", &limits).unwrap_err();
    assert_eq!(
        error.to_string(),
        "line 1, column 1: the input has 9 bytes; at most 8 bytes are allowed"
    );
}

#[test]
fn two_hundred_megabytes_are_refused_by_size() {
    let input = vec![b'['; 200 * 1024 * 1024];
    assert_eq!(
        read_value(&input, &Limits::default())
            .unwrap_err()
            .to_string(),
        "line 1, column 1: the input has 209715200 bytes; at most 16777216 bytes are allowed"
    );
}

#[test]
fn ten_thousand_levels_are_refused_even_when_allowed() {
    let input = "[".repeat(10_000);
    let limits = Limits {
        max_depth: usize::MAX,
        ..Limits::default()
    };
    let error = read_value(input.as_bytes(), &limits).unwrap_err();
    assert_eq!(error.kind, JsonErrorKind::TooDeep { allowed: 128 });
    assert_eq!(error.position.column, 129);
    let input = "{\"a\":".repeat(10_000);
    assert_eq!(
        strict(input).unwrap_err().kind,
        JsonErrorKind::TooDeep { allowed: 32 }
    );
}

#[test]
fn values_are_counted() {
    let limits = Limits {
        max_values: 3,
        ..Limits::default()
    };
    assert!(read(b"[1,2]", &limits).is_ok());
    let error = read(b"[1,2,3]", &limits).unwrap_err();
    assert_eq!(
        error.to_string(),
        "line 1, column 6: found more than 3 values; at most 3 values are allowed"
    );
    assert_eq!(error.hint(), "split the file into smaller ones");
}

#[test]
fn long_key_over_many_values_costs_its_length_once() {
    // As a map from pointers to positions this would take 100 GB.
    let key = "k".repeat(1_000_000);
    let input = format!("{{\"{key}\":[{}0]}}", "0,".repeat(100_000));
    let document = read(input.as_bytes(), &Limits::default()).unwrap();
    let column = document
        .positions
        .get(&format!("/{key}/100000"))
        .unwrap()
        .column;
    assert_eq!(column, input.len() - 2);
}

#[test]
fn one_object_with_every_key_and_one_again_is_refused_once_through() {
    let members: Vec<String> = (0..50_000).map(|n| format!("\"{n}\":{n}")).collect();
    let input = format!("{{{},\"49999\":0}}", members.join(","));
    let error = strict(input).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("found the key `49999` a second time"),
        "{error}"
    );
}

#[test]
fn error_texts_repeat_little_of_the_input_and_nothing_unprintable() {
    let key = format!("\u{202e}\u{7}{}", "k".repeat(1000));
    let escaped = key.replace('\u{7}', "\\u0007");
    let error = strict(format!("{{\"{escaped}\":1,\"{escaped}\":2}}"))
        .unwrap_err()
        .to_string();
    assert!(error.contains("`\\u{202e}\\u{7}kkk"), "{error}");
    assert!(error.len() < 200, "{error}");
}
