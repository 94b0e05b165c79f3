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
