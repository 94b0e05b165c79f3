//! What goes into every package for whoever checks it: schema, format pages, tools, verifier page, commands.

use tangmark_package::write::{Content, WriteError};
use tangmark_package::{aids, page};

use super::HandOverSummary;

mod how;

pub(super) fn add(content: &mut Content, summary: &HandOverSummary) -> Result<(), WriteError> {
    for (path, text) in aids::files() {
        content.add_bytes(path, text)?;
    }
    content.add_bytes("data/verify.html", page::page())?;
    content.add_bytes("data/HOW-TO-CHECK.txt", how::text(summary))
}
