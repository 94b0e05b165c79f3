//! Evidence paths: JSON Pointers (RFC 6901) into the sheet.

use serde_json::Value;

/// Returns `pointer` when the sheet has that place, otherwise its nearest ancestor that is there.
/// The whole sheet is the empty pointer, so there is always an answer.
///
/// # Examples
/// ```
/// use serde_json::json;
/// use tangmark_plugin::evidence::nearest_present;
///
/// let sheet = json!({"flaws": [{"kind": "crack"}]});
/// assert_eq!(nearest_present(&sheet, "/flaws/0/kind"), "/flaws/0/kind");
/// assert_eq!(nearest_present(&sheet, "/flaws/0/depth/value"), "/flaws/0");
/// assert_eq!(nearest_present(&sheet, "/examination"), "");
/// ```
pub fn nearest_present(sheet: &Value, pointer: &str) -> String {
    let mut candidate = pointer;
    while sheet.pointer(candidate).is_none() {
        candidate = candidate.rsplit_once('/').map_or("", |(parent, _)| parent);
    }
    candidate.to_owned()
}

/// Writes one name as a step of a JSON Pointer: `~` becomes `~0`, `/` becomes `~1`.
///
/// Source: RFC 6901, section 3.
pub fn step(name: &str) -> String {
    format!("/{}", name.replace('~', "~0").replace('/', "~1"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn steps_escape_what_a_pointer_would_split() {
        let sheet = json!({"a/b": {"m~n": 1}});
        let pointer = step("a/b") + &step("m~n");
        assert_eq!(pointer, "/a~1b/m~0n");
        assert_eq!(nearest_present(&sheet, &pointer), pointer);
    }

    #[test]
    fn a_text_that_is_no_pointer_ends_at_the_root() {
        assert_eq!(nearest_present(&json!({"a": 1}), "a"), "");
    }
}
