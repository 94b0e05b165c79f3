#![allow(clippy::unwrap_used)]

use super::*;
use crate::Digest;

fn any_photo(path: &str) -> Result<PhotoFile, String> {
    if path.contains("missing") {
        return Err(format!("no file at `{path}`"));
    }
    Ok(PhotoFile {
        digest: Digest::of(path.as_bytes()),
        length: 1,
        media_type: "image/jpeg".to_owned(),
        width_px: 1600,
        height_px: 380,
        orientation: None,
    })
}

fn demo(name: &str) -> Sheet {
    let path = format!(
        "{}/../../samples/sheets/{name}.toml",
        env!("CARGO_MANIFEST_DIR")
    );
    read(
        &std::fs::read(path).unwrap(),
        SheetFormat::Toml,
        &mut any_photo,
    )
    .unwrap_or_else(|error| panic!("{name}:\n{error}\nhint: {}", error.hint()))
}

#[test]
fn demo_sheets_are_read() {
    for name in [
        "reed-before",
        "reed-after",
        "gorge",
        "lantern",
        "heron",
        "dune",
    ] {
        let sheet = demo(name);
        assert!(name.starts_with(sheet.blade.id.as_str()));
        let stored = serde_json::to_value(&sheet).unwrap();
        assert_eq!(
            from_value(stored).unwrap(),
            sheet,
            "a stored draft reads back as itself"
        );
    }
}

/// Sheets that are made to cost much: each is refused, and none of them takes the stack or the memory with it.
#[test]
fn hostile_sheets_are_refused_without_great_cost() {
    let deep_list = format!("a = {}1{}", "[".repeat(100_000), "]".repeat(100_000));
    let deep_table = format!("a = {}1{}", "{ a = ".repeat(50_000), " }".repeat(50_000));
    let dotted = format!("{} = 1", vec!["a"; 100_000].join("."));
    let header = format!("[{}]", vec!["a"; 100_000].join("."));
    let long_key = format!("{} = [1, 2]", "a".repeat(1_000_000));
    let one_line = format!("flaws = [{}]", "1,".repeat(199_000));
    let many = format!("flaws = [{}]", "1,".repeat(300_000));
    for (name, text) in [
        ("deep list", deep_list),
        ("deep table", deep_table),
        ("dotted key", dotted),
        ("header", header),
        ("long key", long_key),
        ("one line", one_line),
        ("many values", many),
        ("too long", " ".repeat(LONGEST_SHEET + 1)),
    ] {
        let error = read(text.as_bytes(), SheetFormat::Toml, &mut any_photo).unwrap_err();
        assert!(
            error.to_string().len() < 100_000 && !error.hint().is_empty(),
            "{name}"
        );
        let field = &error.problems[0].field;
        assert!(field.len() < 200, "{name}: {field}");
    }
}

#[test]
fn a_mark_at_the_start_of_toml_is_no_matter() {
    let path = format!(
        "{}/../../samples/invalid/good.toml",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut bytes = b"\xEF\xBB\xBF".to_vec();
    bytes.extend(std::fs::read(path).unwrap());
    assert!(read(&bytes, SheetFormat::Toml, &mut any_photo).is_ok());
}
