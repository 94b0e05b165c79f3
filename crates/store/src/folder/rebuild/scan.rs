//! What the objects say, and which records make the chains.

use std::{
    collections::{BTreeMap, BTreeSet},
    fs::File,
    path::Path,
};

use tangmark_core::Digest;

use super::LeftOut;
use crate::{
    Attachment, ObjectKind, ObjectRow, Progress, RecordFacts, RecordRow, StoreError,
    folder::{
        files::{Entry, ObjectFiles, hash_file, walk},
        records,
    },
    sealed,
};

/// What the objects say.
#[derive(Default)]
pub(super) struct Found {
    pub(super) objects: BTreeMap<Digest, ObjectRow>,
    pub(super) records: Vec<RecordFacts>,
    pub(super) links: BTreeMap<Digest, Attachment>,
    pub(super) rotten: Vec<Digest>,
}

/// Reads every object once.
pub(super) fn scan(
    files: &ObjectFiles,
    progress: &mut dyn FnMut(Progress),
) -> Result<Found, StoreError> {
    let mut found = Found::default();
    let entries = walk(&files.root)?;
    let objects: Vec<Digest> = entries
        .into_iter()
        .filter_map(|entry| {
            if let Entry::Object(digest) = entry {
                Some(digest)
            } else {
                None
            }
        })
        .collect();
    let mut state = Progress {
        done: 0,
        total: objects.len() as u64,
        bytes: 0,
    };
    for digest in objects {
        let path = files.path(&digest);
        state.done += 1;
        let Ok((now, length)) = hash_file(&path) else {
            found.rotten.push(digest);
            progress(state);
            continue;
        };
        state.bytes += length;
        progress(state);
        if now != digest {
            found.rotten.push(digest);
            continue;
        }
        let mut kind = ObjectKind::Document;
        if length <= files.limits.record {
            let bytes = files.read(&digest)?;
            if let Some(link) = sealed::read_link(&bytes) {
                kind = ObjectKind::Link;
                found.links.insert(digest, link);
            } else if bytes.first() == Some(&b'{')
                && let Ok(facts) = sealed::read_record(&bytes)
            {
                kind = ObjectKind::Record;
                found.records.push(facts);
            }
        }
        found.objects.insert(
            digest,
            ObjectRow {
                digest,
                kind,
                length,
            },
        );
    }
    Ok(found)
}

/// Adds what the old index says of objects: the kind they were put in as, and those that are gone or rotten.
pub(super) fn add_missing(found: &mut Found, old: Vec<ObjectRow>) -> Vec<Digest> {
    let mut missing = Vec::new();
    for row in old {
        match found.objects.get_mut(&row.digest) {
            // What the bytes say of records and links outranks the old index.
            Some(object) if object.kind == ObjectKind::Document => object.kind = row.kind,
            Some(_) => {}
            None => {
                if !found.rotten.contains(&row.digest) {
                    missing.push(row.digest);
                }
                found.objects.insert(row.digest, row);
            }
        }
    }
    missing
}

impl Found {
    /// Names the kind of objects no old index speaks of: by their attachment, else by their first bytes.
    pub(super) fn name_kinds(&mut self, files: &ObjectFiles) {
        let roles: BTreeMap<Digest, ObjectKind> = self
            .links
            .values()
            .map(|link| (link.object, link.role.kind()))
            .collect();
        for (digest, row) in &mut self.objects {
            if row.kind == ObjectKind::Document {
                row.kind = roles
                    .get(digest)
                    .copied()
                    .unwrap_or_else(|| kind_by_first_bytes(&files.path(digest)));
            }
        }
    }
}

fn kind_by_first_bytes(path: &Path) -> ObjectKind {
    let mut first = [0; 12];
    let read = File::open(path)
        .and_then(|mut file| std::io::Read::read(&mut file, &mut first))
        .unwrap_or(0);
    match &first[..read] {
        [b'%', b'P', b'D', b'F', b'-', ..] => ObjectKind::Report,
        // JPEG, PNG, TIFF in both byte orders, WebP, the ISO base media family (HEIF)
        [0xff, 0xd8, 0xff, ..]
        | [0x89, b'P', b'N', b'G', ..]
        | [b'I', b'I', 42, 0, ..]
        | [b'M', b'M', 0, 42, ..]
        | [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P']
        | [_, _, _, _, b'f', b't', b'y', b'p', ..] => ObjectKind::Photo,
        _ => ObjectKind::Document,
    }
}

/// Picks one record for each place in each chain.
///
/// Two records share a place only when somebody copied objects in or a crash met a damaged index. Then the one the
/// old index listed is kept, else the one its successor names, else the lower name.
pub(super) fn choose(
    found: Vec<RecordFacts>,
    old: Vec<RecordRow>,
) -> (Vec<RecordRow>, Vec<LeftOut>) {
    let old: BTreeMap<Digest, RecordRow> = old.into_iter().map(|row| (row.object, row)).collect();
    let found_objects: BTreeSet<Digest> = found.iter().map(|facts| facts.object).collect();
    let mut places: BTreeMap<(String, u64), Vec<(bool, RecordRow)>> = BTreeMap::new();
    for facts in found {
        let before = old.get(&facts.object);
        let sealed_at = before.map_or_else(|| facts.issued_at.clone(), |row| row.sealed_at.clone());
        let row = records::row_of(facts, sealed_at, before.and_then(|row| row.draft_revision));
        places
            .entry((row.blade.clone(), row.sequence))
            .or_default()
            .push((before.is_some(), row));
    }
    // A row whose object is gone or rotten stays, so that a check goes on saying so.
    for row in old
        .into_values()
        .filter(|row| !found_objects.contains(&row.object))
    {
        let place = places.entry((row.blade.clone(), row.sequence)).or_default();
        if place.is_empty() {
            place.push((true, row));
        }
    }
    let mut chosen = Vec::new();
    let mut left_out = Vec::new();
    let mut successor: Option<RecordRow> = None;
    for mut place in places.into_values().rev() {
        let named = |row: &RecordRow| {
            successor
                .as_ref()
                .is_some_and(|next| next.blade == row.blade && next.previous == Some(row.name))
        };
        place.sort_by_key(|(listed, row)| (!listed, !named(row), row.name, row.object));
        let mut rows = place.into_iter().map(|(_, row)| row);
        let Some(kept) = rows.next() else { continue };
        left_out.extend(rows.map(|row| LeftOut {
            name: row.name,
            object: row.object,
            blade: row.blade,
            sequence: row.sequence,
            kept: kept.name,
        }));
        chosen.push(kept.clone());
        successor = Some(kept);
    }
    chosen.reverse();
    left_out.sort_by(|a, b| (&a.blade, a.sequence, a.name).cmp(&(&b.blade, b.sequence, b.name)));
    (chosen, left_out)
}
