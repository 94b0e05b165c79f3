//! What the plugin says of the demo sheets, as people read it.

use serde_json::json;
use tangmark_author::trial;
use tangmark_materials::{check, describe};

#[test]
fn findings_on_the_demo_sheets() {
    for (name, sheet) in trial::demo_sheets() {
        let mut request = trial::request(sheet);
        request.settings = json!({"countries": ["JP", "DE"]});
        let reply = trial::judged(describe, check, &request);
        insta::assert_snapshot!(name, trial::shown(&reply));
    }
}

/// A mounting with everything on it. Invented.
#[test]
fn findings_on_a_rich_mounting() {
    let mut sheet = trial::demo("gorge");
    sheet["fittings"] = json!([
        {"id": "tsuka", "part": "tsuka", "description": "Hilt with worn wrapping", "materials": ["wood", "ray_skin", "silk"], "matched": "fits"},
        {"id": "menuki", "part": "menuki", "description": "Grip ornaments, carved", "materials": ["ivory", "gold"], "matched": "fits",
            "protected": "not_found_in_list", "protected_as_of": "2019-11"},
        {"id": "saya", "part": "saya", "description": "Black scabbard with an ebony end", "materials": ["wood", "lacquer"], "matched": "fits"},
        {"id": "collar", "part": "habaki", "description": "Single collar", "materials": ["copper"], "matched": "fits"},
        {"id": "tsuba", "part": "tsuba", "description": "Guard", "matched": "fits_now"},
    ]);
    sheet["examination"]["etch"] = json!({"agent": "household vinegar, warm", "neutralised": true, "rinsed": true, "dried": true});
    let mut request = trial::request(sheet);
    request.settings = json!({"countries": ["GB", "NZ"]});
    let reply = trial::judged(describe, check, &request);
    insta::assert_snapshot!("rich-mounting", trial::shown(&reply));
}
