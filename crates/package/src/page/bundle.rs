//! Puts the page together: template, style, data and modules, in a fixed order.

use super::{RELEASED, VERSION};

/// Names and texts of the modules of the page.
macro_rules! modules {
    ($($path:literal,)+) => {
        &[$(($path, include_str!(concat!("../../page/", $path))),)+]
    };
}

/// Modules in the order in which they are evaluated: each after those that it imports from.
pub(super) const MODULES: &[(&str, &str)] = modules![
    "words/terms_blade.js",
    "words/terms_work.js",
];

const TEMPLATE: &str = include_str!("../../page/page.html");
const STYLE: &str = include_str!("../../page/style.css");
const SCHEMA: &str = include_str!("../../../../schemas/tangmark-record-1.schema.json");

/// Returns the page with zeros for its digest.
pub(super) fn assemble() -> String {
    let version = VERSION.to_string();
    let released = earlier();
    let script = script();
    // Cut at the marks, so that nothing put in is searched for further marks.
    let mut page = String::with_capacity(TEMPLATE.len() + STYLE.len() + SCHEMA.len() + script.len());
    for (index, part) in TEMPLATE.split("@@").enumerate() {
        page.push_str(match (index % 2, part) {
            (0, text) => text,
            (_, "style") => STYLE,
            (_, "script") => &script,
            (_, "schema") => SCHEMA,
            (_, "version") => &version,
            (_, "released") => &released,
            (_, "digest") => "0000000000000000000000000000000000000000000000000000000000000000",
            (_, _) => "",
        });
    }
    page
}

/// Digests of the pages released before this one, as JSON: a page cannot hold its own in its own script.
fn earlier() -> String {
    let digests: Vec<String> = RELEASED
        .iter()
        .filter(|(version, _)| *version < VERSION)
        .map(|(_, digest)| format!("\"{digest}\""))
        .collect();
    format!("[{}]", digests.join(","))
}

/// Returns all modules as one script, without the lines that tie them together.
fn script() -> String {
    let mut script = String::new();
    for (_, text) in MODULES {
        for line in text.lines().filter(|line| !line.starts_with("import ")) {
            script.push_str(line.strip_prefix("export ").unwrap_or(line));
            script.push('\n');
        }
    }
    script
}
