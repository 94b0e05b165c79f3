//! Sealed records and what goes with them: rows that only grow.

use std::collections::BTreeMap;

use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};
use tangmark_core::Digest;

use super::{
    FolderStore, count, digest_at, drafts, optional_digest_at, registry, standing, uncount,
    write::{self, Sealing, object_row},
};
use crate::{
    Attachment, NewRecord, ObjectKind, RecordFacts, RecordRow, Role, StoreError, sealed, text,
};

const APPEND: &str = "append the sealed record";
const READ: &str = "read the sealed records";

pub(super) const COLUMNS: &str = "name, object, blade, sequence, previous, record_id, purpose, issuer, issued_at, \
                                  sealed_at, draft_revision";

pub(super) fn read_row(row: &Row<'_>) -> rusqlite::Result<RecordRow> {
    Ok(RecordRow {
        name: digest_at(row, 0)?,
        object: digest_at(row, 1)?,
        blade: row.get(2)?,
        sequence: uncount(row.get(3)?),
        previous: optional_digest_at(row, 4)?,
        record_id: row.get(5)?,
        purpose: row.get(6)?,
        issuer: row.get(7)?,
        issued_at: row.get(8)?,
        sealed_at: row.get(9)?,
        draft_revision: row.get::<_, Option<i64>>(10)?.map(uncount),
    })
}

pub(super) fn insert(connection: &Connection, row: &RecordRow) -> rusqlite::Result<()> {
    connection
        .execute(
            &format!("INSERT INTO record ({COLUMNS}) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)"),
            params![
                row.name.to_string(),
                row.object.to_string(),
                row.blade,
                count(row.sequence),
                row.previous.map(|previous| previous.to_string()),
                row.record_id,
                row.purpose,
                row.issuer,
                row.issued_at,
                row.sealed_at,
                row.draft_revision.map(count)
            ],
        )
        .map(drop)
}

pub(super) fn row_of(
    facts: RecordFacts,
    sealed_at: String,
    draft_revision: Option<u64>,
) -> RecordRow {
    RecordRow {
        name: facts.name,
        object: facts.object,
        blade: facts.blade,
        sequence: facts.sequence,
        previous: facts.previous,
        record_id: facts.record_id,
        purpose: facts.purpose,
        issuer: facts.issuer,
        issued_at: facts.issued_at,
        sealed_at,
        draft_revision,
    }
}

fn one(connection: &Connection, rest: &str, key: &str) -> Result<Option<RecordRow>, StoreError> {
    connection
        .query_row(
            &format!("SELECT {COLUMNS} FROM record {rest}"),
            [key],
            read_row,
        )
        .optional()
        .map_err(|error| StoreError::index(READ, error))
}

pub(super) fn tip(connection: &Connection, blade: &str) -> Result<Option<RecordRow>, StoreError> {
    registry::expect_blade(connection, blade)?;
    one(
        connection,
        "WHERE blade = ?1 ORDER BY sequence DESC LIMIT 1",
        blade,
    )
}

pub(super) fn find(
    connection: &Connection,
    name: &Digest,
) -> Result<Option<RecordRow>, StoreError> {
    one(connection, "WHERE name = ?1", &name.to_string())
}

/// All records in order, of one blade or of all.
pub(super) fn all(
    connection: &Connection,
    blade: Option<&str>,
) -> Result<Vec<RecordRow>, StoreError> {
    let fail = |error| StoreError::index(READ, error);
    let mut statement = connection
        .prepare(&format!(
            "SELECT {COLUMNS} FROM record WHERE ?1 IS NULL OR blade = ?1 ORDER BY blade, sequence"
        ))
        .map_err(fail)?;
    let rows = statement.query_map([blade], read_row).map_err(fail)?;
    rows.collect::<rusqlite::Result<_>>().map_err(fail)
}

/// Refuses a record that does not follow the newest one.
fn expect_next(transaction: &Transaction<'_>, facts: &RecordFacts) -> Result<(), StoreError> {
    let tip = tip(transaction, &facts.blade)?;
    let tip_sequence = tip.as_ref().map_or(0, |tip| tip.sequence);
    let tip = tip.map(|tip| tip.name);
    if facts.previous == tip && facts.sequence == tip_sequence + 1 {
        return Ok(());
    }
    Err(StoreError::NotNext {
        blade: facts.blade.clone(),
        sequence: facts.sequence,
        previous: facts.previous,
        tip,
        tip_sequence,
    })
}

fn expect_draft(
    transaction: &Transaction<'_>,
    blade: &str,
    revision: u64,
) -> Result<(), StoreError> {
    let fail = |error| StoreError::index(APPEND, error);
    let newest: Option<i64> = transaction
        .query_row(
            "SELECT max(revision) FROM draft WHERE blade = ?1",
            [blade],
            |row| row.get(0),
        )
        .map_err(fail)?;
    let newest = newest.map(uncount);
    if (1..=newest.unwrap_or(0)).contains(&revision) {
        return Ok(());
    }
    Err(StoreError::NoSuchRevision {
        blade: blade.to_owned(),
        asked: revision,
        newest,
    })
}

impl FolderStore {
    pub(super) fn do_append_record(&self, record: &NewRecord<'_>) -> Result<RecordRow, StoreError> {
        text::time("sealed_at", record.sealed_at)?;
        if record.bytes.len() as u64 > self.limits.record {
            return Err(StoreError::TooLarge {
                what: "the sealed record".to_owned(),
                limit: self.limits.record,
            });
        }
        let facts = sealed::read_record(record.bytes)?;
        let tie = record
            .disclosures
            .map(|file| {
                write::expect_plain(file)?;
                let attachment = Attachment {
                    record: facts.name,
                    object: Digest::of(file),
                    role: Role::Disclosures,
                };
                Ok::<_, StoreError>((file, attachment, sealed::write_link(&attachment)))
            })
            .transpose()?;
        // The record last: where it is found, so is what it withholds.
        let mut pieces = Vec::new();
        if let Some((file, _, note)) = &tie {
            pieces.push((*file, ObjectKind::Disclosures));
            pieces.push((note.as_slice(), ObjectKind::Link));
        }
        pieces.push((record.bytes, ObjectKind::Record));
        let tie = tie
            .as_ref()
            .map(|(_, attachment, note)| (*attachment, Digest::of(note)));
        self.write_sealed(APPEND, &pieces, move |transaction| {
            let known = find(transaction, &facts.name)?;
            if let Some(known) = known {
                if known.object != facts.object {
                    return Err(StoreError::SealedOtherwise {
                        name: facts.name,
                        object: known.object,
                    });
                }
                return match tie {
                    Some((attachment, link)) if !is_tied(transaction, &attachment)? => {
                        Ok(Sealing::New(Box::new(move |transaction| {
                            insert_attachment(transaction, &attachment, &link)
                                .map_err(|error| StoreError::index(APPEND, error))?;
                            Ok(known)
                        })))
                    }
                    _ => Ok(Sealing::Known(known)),
                };
            }
            registry::expect_blade(transaction, &facts.blade)?;
            expect_next(transaction, &facts)?;
            if let Some(revision) = record.draft_revision {
                expect_draft(transaction, &facts.blade, revision)?;
            }
            let says = (facts.decision.clone(), facts.stops);
            let passes = sealed::passes(record.bytes);
            let row = row_of(facts, record.sealed_at.to_owned(), record.draft_revision);
            Ok(Sealing::New(Box::new(move |transaction| {
                let fail = |error| StoreError::index(APPEND, error);
                insert(transaction, &row).map_err(fail)?;
                standing::record(transaction, &row, says.0.as_deref(), says.1).map_err(fail)?;
                standing::add_sealed(transaction, &row.blade, passes)?;
                drafts::follow_work(transaction, &row.blade)?;
                if let Some((attachment, link)) = tie {
                    insert_attachment(transaction, &attachment, &link).map_err(fail)?;
                }
                Ok(row)
            })))
        })
    }

    pub(super) fn list_records(&self, blade: &str) -> Result<Vec<RecordRow>, StoreError> {
        let connection = self.connection();
        registry::expect_blade(&connection, blade)?;
        all(&connection, Some(blade))
    }

    pub(super) fn do_attach(&self, attachment: &Attachment) -> Result<(), StoreError> {
        const ACTION: &str = "attach the object";
        let attachment = *attachment;
        let note = sealed::write_link(&attachment);
        let link = Digest::of(&note);
        let pieces = [(note.as_slice(), ObjectKind::Link)];
        self.write_sealed(ACTION, &pieces, move |transaction| {
            if find(transaction, &attachment.record)?.is_none() {
                return Err(StoreError::UnknownRecord(attachment.record));
            }
            if object_row(transaction, &attachment.object)?.is_none() {
                return Err(StoreError::ObjectMissing(attachment.object));
            }
            if is_tied(transaction, &attachment)? {
                return Ok(Sealing::Known(()));
            }
            Ok(Sealing::New(Box::new(move |transaction| {
                insert_attachment(transaction, &attachment, &link)
                    .map_err(|error| StoreError::index(ACTION, error))
            })))
        })
    }

    pub(super) fn list_attachments(&self, record: &Digest) -> Result<Vec<Attachment>, StoreError> {
        let connection = self.connection();
        if find(&connection, record)?.is_none() {
            return Err(StoreError::UnknownRecord(*record));
        }
        attachments(&connection, record)
    }
}

/// Says whether an object is tied to its record already; a second one as disclosures is refused.
fn is_tied(connection: &Connection, attachment: &Attachment) -> Result<bool, StoreError> {
    let kept = attachments(connection, &attachment.record)?;
    if kept.contains(attachment) {
        return Ok(true);
    }
    if attachment.role == Role::Disclosures
        && let Some(other) = kept.iter().find(|kept| kept.role == Role::Disclosures)
    {
        return Err(StoreError::SecondDisclosures {
            record: attachment.record,
            kept: other.object,
            offered: attachment.object,
        });
    }
    Ok(false)
}

pub(super) fn insert_attachment(
    connection: &Connection,
    attachment: &Attachment,
    link: &Digest,
) -> rusqlite::Result<()> {
    connection
        .execute(
            "INSERT INTO attachment (record, object, role, link) VALUES (?1, ?2, ?3, ?4)",
            params![
                attachment.record.to_string(),
                attachment.object.to_string(),
                attachment.role.word(),
                link.to_string()
            ],
        )
        .map(drop)
}

fn attachments(connection: &Connection, record: &Digest) -> Result<Vec<Attachment>, StoreError> {
    let all = read_attachments(connection, Some(record))?;
    Ok(all.into_iter().map(|(_, attachment)| attachment).collect())
}

/// All attachments by the digest of their note.
pub(super) fn all_attachments(
    connection: &Connection,
) -> Result<BTreeMap<Digest, Attachment>, StoreError> {
    Ok(read_attachments(connection, None)?.into_iter().collect())
}

fn read_attachments(
    connection: &Connection,
    record: Option<&Digest>,
) -> Result<Vec<(Digest, Attachment)>, StoreError> {
    let fail = |error| StoreError::index("read the attachments", error);
    let mut statement = connection
        .prepare(
            "SELECT record, object, role, link FROM attachment WHERE ?1 IS NULL OR record = ?1
             ORDER BY record, role, object",
        )
        .map_err(fail)?;
    let mut rows = statement
        .query([record.map(ToString::to_string)])
        .map_err(fail)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next().map_err(fail)? {
        let role: String = row.get(2).map_err(fail)?;
        let attachment = Attachment {
            record: digest_at(row, 0).map_err(fail)?,
            object: digest_at(row, 1).map_err(fail)?,
            role: Role::from_word(&role)?,
        };
        found.push((digest_at(row, 3).map_err(fail)?, attachment));
    }
    Ok(found)
}
