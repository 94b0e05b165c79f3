//! What goes into every package for whoever checks it: schema, format pages, tools, verifier page, commands.

use tangmark_core::schema;
use tangmark_package::page;
use tangmark_package::write::{Content, WriteError};

use super::HandOverSummary;

mod how;

macro_rules! pages {
    ($($name:literal),+ $(,)?) => {
        &[$(($name, include_str!(concat!("../../../../schemas/", $name)))),+]
    };
}

/// The pages on the formats.
const PAGES: &[(&str, &str)] = pages!(
    "key-history-format.md",
    "package-format.md",
    "record-fields.md",
    "record-format.md",
    "record-terms.md",
    "report-format.md",
    "verdicts.md",
);

/// Tools that check records without this program.
const TOOLS: &[(&str, &str)] = pages!("check_record.py", "check_record.mjs");

pub(super) fn add(content: &mut Content, summary: &HandOverSummary) -> Result<(), WriteError> {
    content.add_bytes(
        "data/schema/tangmark-record-1.schema.json",
        schema::RECORD_V1,
    )?;
    for (name, text) in PAGES {
        content.add_bytes(format!("data/format/{name}"), *text)?;
    }
    for (name, text) in TOOLS {
        content.add_bytes(format!("data/tools/{name}"), *text)?;
    }
    content.add_bytes("data/verify.html", page::page())?;
    content.add_bytes("data/HOW-TO-CHECK.txt", how::text(summary))
}
