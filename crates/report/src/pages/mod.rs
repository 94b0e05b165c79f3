//! The pages of a report, section by section, in reading order.

mod closing;
mod custody;
mod dimensions;
mod examination;
mod features;
mod findings;
mod flaws;
mod identity;
mod photos;
mod title;
pub(crate) mod words;
mod work;

use std::collections::{BTreeMap, BTreeSet};

use tangmark_core::{
    Digest,
    record::{Record, Term as _},
};

use crate::{
    Kind, Speech,
    layout::{Chrome, Flow, page_format::Frame},
    scene::{Bookmark, Image, Scene},
};

/// What the pages are made from beside the record.
pub(crate) struct Content<'a> {
    pub(crate) record: &'a Record,
    /// Name of the record.
    pub(crate) name: Digest,
    /// Pictures at hand, by digest of their bytes.
    pub(crate) pictures: &'a BTreeMap<Digest, Image>,
    /// Fingerprint of the issuer's key.
    pub(crate) fingerprint: &'a str,
    /// Whether the pages are marked as a demonstration.
    pub(crate) demo: bool,
    /// What the report is for.
    pub(crate) kind: Kind,
    /// Which language it speaks.
    pub(crate) speech: Speech,
    /// The blade's records before this one, oldest first.
    pub(crate) earlier: &'a [Record],
}

/// Sets all pages.
pub(crate) fn set(content: &Content<'_>, frame: Frame) -> (Scene, BTreeSet<char>) {
    let record = content.record;
    let mut flow = Flow::new(frame, content.speech);
    flow.scene.bookmarks.push(Bookmark {
        title: document_title(record),
        level: 1,
        page: 0,
        y: 0.0,
    });
    title::set(&mut flow, content);
    identity::set(&mut flow, record);
    dimensions::set(&mut flow, record);
    features::set(&mut flow, record);
    flaws::set(&mut flow, record);
    features::fittings(&mut flow, record);
    work::set(&mut flow, record);
    findings::set(&mut flow, record);
    examination::set(&mut flow, record);
    custody::set(&mut flow, record);
    photos::set(&mut flow, content);
    closing::set(&mut flow, content);
    let running_head = format!(
        "{} · {} · record {}",
        record.blade.title, record.blade.id, record.sequence
    );
    let mark = content
        .demo
        .then(|| "DEMONSTRATION, signed with a throw-away key".to_owned());
    let chrome = Chrome {
        name: format!("record {}", words::digest(&content.name)),
        running_head,
        mark,
    };
    flow.finish(&chrome)
}

/// Title of the document.
pub(crate) fn document_title(record: &Record) -> String {
    let purpose = words::capital(record.purpose.gloss());
    crate::font::drawable(&format!(
        "{} – condition record {}, {purpose}",
        record.blade.title, record.sequence
    ))
    .text
    .replace('\u{a0}', " ")
}

/// Digests of the pictures a report can show.
pub(crate) fn pictures_wanted(record: &Record) -> Vec<Digest> {
    photos::wanted(record)
}

#[cfg(test)]
mod tests;
