//! The pages of a report, section by section, in reading order.

mod annex;
mod cautions;
mod closing;
mod custody;
mod cut_out;
mod dimensions;
mod examination;
mod features;
mod findings;
mod fittings;
mod flaws;
mod identity;
mod kinds;
pub(crate) mod label_sheet;
mod panel;
mod photos;
mod stops;
mod title;
mod withheld;
pub(crate) mod words;
mod work;

use std::collections::{BTreeMap, BTreeSet};

use tangmark_core::{
    Digest,
    record::{Photo, Record},
};

use crate::{
    Kind, Speech,
    layout::{Chrome, Fit, Flow, page_format::Frame},
    scene::{Bookmark, Image, Scene},
    speech::pair,
};

pub(crate) use dimensions::named as named_dimensions;
pub(crate) use kinds::comparison::{NothingEarlier, base as compared_with};

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
    /// Number of the one of them that is asked for as the first state of a comparison.
    pub(crate) against: Option<u32>,
}

/// What is tried, one after the other, to spare a last page that is nearly empty.
const CLOSER: [Fit; 4] = [
    Fit {
        spacing: 0.75,
        brief: false,
        turn: false,
    },
    Fit {
        spacing: 0.5,
        brief: false,
        turn: false,
    },
    Fit {
        spacing: 1.0,
        brief: true,
        turn: false,
    },
    Fit {
        spacing: 0.6,
        brief: true,
        turn: false,
    },
];
/// What is tried when no page can be spared: the last page gets more.
const FULLER: Fit = Fit {
    spacing: 1.0,
    brief: false,
    turn: true,
};
/// A last page filled to less than this part is nearly empty.
const NEARLY_EMPTY: f64 = 0.42;

/// Sets all pages.
///
/// # Errors
/// A comparison of a record with nothing before it.
pub(crate) fn set(
    content: &Content<'_>,
    frame: Frame,
) -> Result<(Scene, BTreeSet<char>), NothingEarlier> {
    let mut best = set_fitted(content, frame, Fit::default())?;
    if nearly_empty(&best) {
        let pages = best.scene.pages.len();
        for fit in CLOSER {
            let closer = set_fitted(content, frame, fit)?;
            if closer.scene.pages.len() < pages {
                best = closer;
                break;
            }
        }
        if best.scene.pages.len() == pages {
            let fuller = set_fitted(content, frame, FULLER)?;
            if fuller.scene.pages.len() == pages {
                best = fuller;
            }
        }
    }
    Ok(best.finish(&chrome(content)))
}

fn nearly_empty(flow: &Flow) -> bool {
    flow.page > 0 && flow.y - flow.frame.top < NEARLY_EMPTY * flow.capacity()
}

fn set_fitted(content: &Content<'_>, frame: Frame, fit: Fit) -> Result<Flow, NothingEarlier> {
    let mut flow = Flow::new(frame, content.speech).fitted(fit);
    flow.scene.bookmarks.push(Bookmark {
        title: document_title(
            content.record,
            content.kind,
            content.speech,
            content.against,
        ),
        level: 1,
        page: 0,
        y: 0.0,
    });
    kinds::set(&mut flow, content)?;
    Ok(flow)
}

fn chrome(content: &Content<'_>) -> Chrome {
    let speech = content.speech;
    let record = content.record;
    let number = pair(
        format!("record {}", record.sequence),
        format!("記録 {}", record.sequence),
    );
    let name = words::digest(&content.name);
    let name = pair(format!("record {name}"), format!("記録 {name}"));
    let fingerprint = pair(
        format!("key fingerprint {}", content.fingerprint),
        format!("鍵の指紋 {}", content.fingerprint),
    );
    // In both languages one line: the number once.
    let said = |words: &crate::speech::Pair| match speech {
        Speech::Japanese => words.ja.to_string(),
        Speech::English | Speech::Both => words.en.to_string(),
    };
    let mark = pair(
        "DEMONSTRATION, signed with a throw-away key",
        "見本：使い捨ての鍵による署名",
    );
    Chrome {
        name: said(&name),
        fingerprint: said(&fingerprint),
        running_head: format!(
            "{} · {} · {}",
            record.blade.title,
            record.blade.id,
            said(&number)
        ),
        mark: content.demo.then(|| speech.text(&mark)),
    }
}

/// Title of the document.
pub(crate) fn document_title(
    record: &Record,
    kind: Kind,
    speech: Speech,
    against: Option<u32>,
) -> String {
    let purpose = kinds::name(record, kind, against);
    crate::font::drawable(&format!(
        "{} – {}",
        record.blade.title,
        speech.text(&purpose)
    ))
    .text
    .replace('\u{a0}', " ")
}

/// Digests of the files by which a photo can be shown, the preferred one first.
pub(crate) fn picture_files(photo: &Photo) -> Vec<Digest> {
    photos::candidates(photo).map(|file| file.digest).collect()
}

/// Digests of the pictures a report can show.
pub(crate) fn pictures_wanted(record: &Record) -> Vec<Digest> {
    photos::wanted(record)
}

#[cfg(test)]
pub(crate) mod tests;
