//! What the plugin says of the demo sheets, as people read it.

use tangmark_author::trial::{demo_sheets, judged, request, shown};
use tangmark_dimensions::{check, describe};

#[test]
fn findings_on_the_demo_sheets() {
    for (name, sheet) in demo_sheets() {
        insta::assert_snapshot!(
            name.as_str(),
            shown(&judged(describe, check, &request(sheet)))
        );
    }
}
