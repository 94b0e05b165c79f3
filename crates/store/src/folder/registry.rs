//! Blades, photos, approvals, settings and keys.

use rusqlite::{Connection, OptionalExtension, Row, Transaction, params};
use tangmark_core::Digest;

use super::{
    FolderStore, KEYS, count, digest_at, files, optional_digest_at, standing, uncount,
    write::object_row,
};
use crate::{BladeRow, KeyRow, PhotoRow, PluginApproval, StoreError, text};

const READ: &str = "read the index";

pub(super) fn find_blade(
    connection: &Connection,
    id: &str,
) -> Result<Option<BladeRow>, StoreError> {
    connection
        .query_row(
            "SELECT id, title, created_at FROM blade WHERE id = ?1",
            [id],
            read_blade,
        )
        .optional()
        .map_err(|error| StoreError::index(READ, error))
}

/// Refuses a blade that is not there.
pub(super) fn expect_blade(connection: &Connection, id: &str) -> Result<(), StoreError> {
    find_blade(connection, id)?
        .map(drop)
        .ok_or_else(|| StoreError::UnknownBlade(text::cut(id)))
}

fn read_blade(row: &Row<'_>) -> rusqlite::Result<BladeRow> {
    Ok(BladeRow {
        id: row.get(0)?,
        title: row.get(1)?,
        created_at: row.get(2)?,
    })
}

/// Refuses a blade that cannot be kept.
pub(super) fn check_blade(blade: &BladeRow) -> Result<(), StoreError> {
    text::blade_id(&blade.id)?;
    text::sealed_words("title", &blade.title, false)?;
    text::time("created_at", &blade.created_at)
}

/// Enters a blade with its line; returns 0 when it was there already.
pub(super) fn insert_blade(connection: &Connection, blade: &BladeRow) -> rusqlite::Result<usize> {
    let new = connection.execute(
        "INSERT INTO blade (id, title, created_at) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
        params![blade.id, blade.title, blade.created_at],
    )?;
    if new > 0 {
        standing::enter(connection, blade)?;
    }
    Ok(new)
}

fn read_photo(row: &Row<'_>) -> rusqlite::Result<PhotoRow> {
    Ok(PhotoRow {
        blade: row.get(0)?,
        digest: digest_at(row, 1)?,
        media_type: row.get(2)?,
        length: uncount(row.get(3)?),
        width: row.get(4)?,
        height: row.get(5)?,
        shows: row.get(6)?,
        taken_at: row.get(7)?,
        file_name: row.get(8)?,
    })
}

fn read_key(row: &Row<'_>) -> rusqlite::Result<KeyRow> {
    Ok(KeyRow {
        did: row.get(0)?,
        file_name: row.get(1)?,
        created_at: row.get(2)?,
        recovery_digest: optional_digest_at(row, 3)?,
    })
}

/// All blades by id.
pub(super) fn all_blades(connection: &Connection) -> Result<Vec<BladeRow>, StoreError> {
    rows(
        connection,
        "SELECT id, title, created_at FROM blade ORDER BY id",
        [],
        read_blade,
    )
}

/// All keys, oldest first.
pub(super) fn all_keys(connection: &Connection) -> Result<Vec<KeyRow>, StoreError> {
    rows(
        connection,
        "SELECT did, file_name, created_at, recovery_digest FROM key ORDER BY created_at, did",
        [],
        read_key,
    )
}

/// All photos of one blade or of all, in the order they were noted.
pub(super) fn all_photos(
    connection: &Connection,
    blade: Option<&str>,
) -> Result<Vec<PhotoRow>, StoreError> {
    rows(
        connection,
        "SELECT blade, digest, media_type, length, width, height, shows, taken_at, file_name
         FROM photo WHERE ?1 IS NULL OR blade = ?1 ORDER BY blade, place",
        [blade],
        read_photo,
    )
}

fn rows<T>(
    connection: &Connection,
    query: &str,
    parameters: impl rusqlite::Params,
    read: fn(&Row<'_>) -> rusqlite::Result<T>,
) -> Result<Vec<T>, StoreError> {
    let fail = |error| StoreError::index(READ, error);
    let mut statement = connection.prepare(query).map_err(fail)?;
    let rows = statement.query_map(parameters, read).map_err(fail)?;
    rows.collect::<rusqlite::Result<_>>().map_err(fail)
}

const NOTE_PHOTO: &str = "note the photo";

/// Refuses a photo that cannot be noted.
pub(super) fn check_photo(photo: &PhotoRow) -> Result<(), StoreError> {
    text::words("media type", &photo.media_type, false)?;
    text::sealed_words("what the photo shows", &photo.shows, true)?;
    text::words("file name", &photo.file_name, false)?;
    match &photo.taken_at {
        Some(taken_at) => text::time("taken_at", taken_at),
        None => Ok(()),
    }
}

/// Notes a photo whose object is kept.
pub(super) fn insert_photo(connection: &Connection, photo: &PhotoRow) -> Result<(), StoreError> {
    expect_blade(connection, &photo.blade)?;
    let kept =
        object_row(connection, &photo.digest)?.ok_or(StoreError::ObjectMissing(photo.digest))?;
    if kept.length != photo.length {
        return Err(StoreError::PhotoLength {
            digest: photo.digest,
            kept: kept.length,
            given: photo.length,
        });
    }
    connection
        .execute(
            "INSERT INTO photo (blade, digest, place, media_type, length, width, height, shows, taken_at, file_name)
             VALUES (?1, ?2, (SELECT coalesce(max(place), 0) + 1 FROM photo WHERE blade = ?1),
                     ?3, ?4, ?5, ?6, ?7, ?8, ?9)
             ON CONFLICT DO UPDATE SET media_type = ?3, width = ?5, height = ?6, shows = ?7, taken_at = ?8,
                                       file_name = ?9",
            params![
                photo.blade,
                photo.digest.to_string(),
                photo.media_type,
                count(photo.length),
                photo.width,
                photo.height,
                photo.shows,
                photo.taken_at,
                photo.file_name
            ],
        )
        .map(drop)
        .map_err(|error| StoreError::index(NOTE_PHOTO, error))
}

/// Forgets what judgements found where `changed` approvals changed: other plugins may find something else. Returns `changed`.
fn forget_derived(transaction: &Transaction<'_>, changed: usize) -> rusqlite::Result<usize> {
    if changed > 0 {
        transaction.execute("DELETE FROM derived", [])?;
    }
    Ok(changed)
}

impl FolderStore {
    pub(super) fn do_add_blade(&self, blade: &BladeRow) -> Result<(), StoreError> {
        const ACTION: &str = "enter the blade";
        check_blade(blade)?;
        self.write(ACTION, |transaction| {
            match insert_blade(transaction, blade)
                .map_err(|error| StoreError::index(ACTION, error))?
            {
                0 => Err(StoreError::BladeExists(blade.id.clone())),
                _ => Ok(()),
            }
        })
    }

    pub(super) fn list_blades(&self) -> Result<Vec<BladeRow>, StoreError> {
        all_blades(&self.connection())
    }

    pub(super) fn do_add_photo(&self, photo: &PhotoRow) -> Result<(), StoreError> {
        check_photo(photo)?;
        self.write(NOTE_PHOTO, |transaction| insert_photo(transaction, photo))
    }

    pub(super) fn list_photos(&self, blade: &str) -> Result<Vec<PhotoRow>, StoreError> {
        let connection = self.connection();
        expect_blade(&connection, blade)?;
        all_photos(&connection, Some(blade))
    }

    pub(super) fn do_approve_plugin(&self, approval: &PluginApproval) -> Result<(), StoreError> {
        const ACTION: &str = "approve the plugin";
        text::words("plugin name", &approval.name, false)?;
        text::time("approved_at", &approval.approved_at)?;
        self.write(ACTION, |transaction| {
            transaction
                .execute(
                    "INSERT INTO plugin_approval (name, digest, approved_at) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
                    params![approval.name, approval.digest.to_string(), approval.approved_at],
                )
                .and_then(|added| forget_derived(transaction, added))
                .map(drop)
                .map_err(|error| StoreError::index(ACTION, error))
        })
    }

    pub(super) fn do_withdraw_approval(
        &self,
        name: &str,
        digest: &Digest,
    ) -> Result<bool, StoreError> {
        const ACTION: &str = "withdraw the approval";
        self.write(ACTION, |transaction| {
            transaction
                .execute(
                    "DELETE FROM plugin_approval WHERE name = ?1 AND digest = ?2",
                    [name, &digest.to_string()],
                )
                .and_then(|removed| forget_derived(transaction, removed))
                .map(|removed| removed > 0)
                .map_err(|error| StoreError::index(ACTION, error))
        })
    }

    pub(super) fn list_plugin_approvals(&self) -> Result<Vec<PluginApproval>, StoreError> {
        rows(
            &self.connection(),
            "SELECT name, digest, approved_at FROM plugin_approval ORDER BY name, digest",
            [],
            |row| {
                Ok(PluginApproval {
                    name: row.get(0)?,
                    digest: digest_at(row, 1)?,
                    approved_at: row.get(2)?,
                })
            },
        )
    }

    pub(super) fn do_set_setting(&self, key: &str, value: Option<&str>) -> Result<(), StoreError> {
        const ACTION: &str = "keep the setting";
        text::words("setting", key, false)?;
        let limit = self.limits.draft;
        if value.is_some_and(|value| value.len() as u64 > limit) {
            return Err(StoreError::TooLarge {
                what: format!("setting `{key}`"),
                limit,
            });
        }
        self.write(ACTION, |transaction| {
            let done = match value {
                Some(value) => transaction.execute(
                    "INSERT INTO setting (key, value) VALUES (?1, ?2) ON CONFLICT DO UPDATE SET value = ?2",
                    [key, value],
                ),
                None => transaction.execute("DELETE FROM setting WHERE key = ?1", [key]),
            };
            done.map(drop).map_err(|error| StoreError::index(ACTION, error))
        })
    }

    pub(super) fn find_setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.connection()
            .query_row("SELECT value FROM setting WHERE key = ?1", [key], |row| {
                row.get(0)
            })
            .optional()
            .map_err(|error| StoreError::index(READ, error))
    }

    pub(super) fn do_add_key(&self, key: &KeyRow, encrypted: &[u8]) -> Result<(), StoreError> {
        const ACTION: &str = "keep the key";
        text::words("did", &key.did, false)?;
        text::key_file_name(&key.file_name)?;
        text::time("created_at", &key.created_at)?;
        if encrypted.len() as u64 > self.limits.key {
            return Err(StoreError::TooLarge {
                what: "the key file".to_owned(),
                limit: self.limits.key,
            });
        }
        let path = self.dir.join(KEYS).join(&key.file_name);
        self.write(ACTION, |transaction| {
            for known in all_keys(transaction)? {
                if known == *key {
                    continue;
                }
                if known.did == key.did {
                    return Err(StoreError::KeyExists { what: "did", text: key.did.clone() });
                }
                if known.file_name == key.file_name {
                    return Err(StoreError::KeyExists { what: "key file name", text: key.file_name.clone() });
                }
            }
            // File first, then row: a row never speaks of a key that is not there.
            if !files::write_once(&path, encrypted, 0o600, &self.faults)? {
                return Err(StoreError::KeyExists { what: "key file name", text: key.file_name.clone() });
            }
            transaction
                .execute(
                    "INSERT INTO key (did, file_name, created_at, recovery_digest) VALUES (?1, ?2, ?3, ?4)
                     ON CONFLICT DO NOTHING",
                    params![
                        key.did,
                        key.file_name,
                        key.created_at,
                        key.recovery_digest.map(|digest| digest.to_string())
                    ],
                )
                .map(drop)
                .map_err(|error| StoreError::index(ACTION, error))
        })
    }

    pub(super) fn list_keys(&self) -> Result<Vec<KeyRow>, StoreError> {
        all_keys(&self.connection())
    }

    pub(super) fn read_key(&self, did: &str) -> Result<Vec<u8>, StoreError> {
        let key = self.list_keys()?.into_iter().find(|key| key.did == did);
        let key = key.ok_or_else(|| StoreError::UnknownKey(text::cut(did)))?;
        // The name comes from a file that may have been edited: it must not lead elsewhere.
        text::key_file_name(&key.file_name)?;
        files::read_limited(
            &self.dir.join(KEYS).join(&key.file_name),
            "read the key file",
            self.limits.key,
        )
    }
}
