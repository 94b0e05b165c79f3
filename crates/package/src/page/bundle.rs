//! Puts the page together: template, style, data and modules, in a fixed order.

use super::{RELEASED, VERSION};
use crate::aids;

/// Names and texts of the modules of the page.
macro_rules! modules {
    ($($path:literal,)+) => {
        &[$(($path, include_str!(concat!("../../page/", $path))),)+]
    };
}

/// Modules in the order in which they are evaluated: each after those that it imports from.
pub(super) const MODULES: &[(&str, &str)] = modules![
    "words/page.js",
    "words/places.js",
    "words/reasons.js",
    "words/rules.js",
    "words/states.js",
    "words/terms_blade.js",
    "words/terms_work.js",
    "core/text.js",
    "core/times.js",
    "core/key.js",
    "core/paths.js",
    "core/source.js",
    "core/inflate.js",
    "core/zip.js",
    "core/bag.js",
    "core/json.js",
    "core/canonical.js",
    "core/chain.js",
    "core/der.js",
    "core/proof.js",
    "core/pointer.js",
    "core/quantity.js",
    "core/withhold.js",
    "core/rules.js",
    "core/history.js",
    "core/photo.js",
    "core/schema.js",
    "core/record.js",
    "core/pdfvalue.js",
    "core/pdffile.js",
    "core/pdfplace.js",
    "core/pdfrules.js",
    "core/x509.js",
    "core/pdfsignature.js",
    "core/reveal.js",
    "core/timestamp.js",
    "core/report.js",
    "core/verdict.js",
    "core/parts.js",
    "core/released.js",
    "core/package.js",
    "core/file.js",
    "core/index.js",
    "ui/lang.js",
    "ui/dom.js",
    "ui/answers.js",
    "ui/model.js",
    "ui/head.js",
    "ui/chain_view.js",
    "ui/decimals.js",
    "ui/changes.js",
    "ui/decision.js",
    "ui/photos.js",
    "ui/eye.js",
    "ui/files.js",
    "ui/sources.js",
    "ui/judge.js",
    "ui/start.js",
    "ui/map_shape.js",
    "ui/map.js",
    "ui/withheld.js",
    "ui/refused.js",
    "ui/main.js",
];

const TEMPLATE: &str = include_str!("../../page/page.html");
const STYLE: &str = include_str!("../../page/style.css");
const SCHEMA: &str = include_str!("../../../../schemas/tangmark-record-1.schema.json");

/// Returns the page with zeros for its digest.
pub(super) fn assemble() -> String {
    let version = VERSION.to_string();
    let released = earlier();
    let aids = known_aids();
    let script = script();
    // Cut at the marks, so that nothing put in is searched for further marks.
    let mut page =
        String::with_capacity(TEMPLATE.len() + STYLE.len() + SCHEMA.len() + script.len());
    for (index, part) in TEMPLATE.split("@@").enumerate() {
        page.push_str(match (index % 2, part) {
            (0, text) => text,
            (_, "style") => STYLE,
            (_, "script") => &script,
            (_, "schema") => SCHEMA,
            (_, "version") => &version,
            (_, "released") => &released,
            (_, "aids") => &aids,
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

/// Digests of the format pages and tools that were released, as JSON.
fn known_aids() -> String {
    let lists = aids::released().iter().map(|(path, digests)| {
        let digests: Vec<String> = digests.iter().map(|one| format!("\"{one}\"")).collect();
        format!("\"{path}\":[{}]", digests.join(","))
    });
    format!("{{{}}}", lists.collect::<Vec<String>>().join(","))
}

/// Returns all modules as one script, without the lines that tie them together.
fn script() -> String {
    let mut script = String::new();
    for (_, text) in MODULES {
        for line in text.lines() {
            // Lists of exports (`export { a, b };`) go with the imports: in one script every name is known.
            if line.starts_with("import ") || line.starts_with("export {") {
                continue;
            }
            script.push_str(line.strip_prefix("export ").unwrap_or(line));
            script.push('\n');
        }
    }
    script
}
