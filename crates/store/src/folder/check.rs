//! Looks at everything a workshop keeps.

use std::{collections::BTreeMap, fs, io::ErrorKind, os::unix::fs::PermissionsExt};

use rusqlite::Connection;
use tangmark_core::Digest;

use super::{
    FolderStore, KEYS, count, digest_at, entry_name,
    files::{self, Entry, hash_file, list, spell, walk},
    records, registry, uncount,
    write::object_row,
};
use crate::{
    IntegrityReport, KeyRow, Notice, ObjectKind, ObjectRow, Problem, Progress, RecordRow,
    StoreError, sealed, text::name_or_none,
};

impl FolderStore {
    pub(super) fn do_check(
        &self,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<IntegrityReport, StoreError> {
        let mut report = IntegrityReport::default();
        let (listed, records, keys) = {
            let connection = self.connection();
            report.problems.extend(index_problems(&connection)?);
            (
                all_objects(&connection)?,
                records::all(&connection, None)?,
                registry::all_keys(&connection)?,
            )
        };
        let sound = self.check_objects(&listed, &mut report, progress)?;
        for row in &records {
            report.records += 1;
            if sound.get(&row.object) == Some(&true) {
                report.problems.extend(self.record_problems(row));
            }
        }
        chain_problems(&records, &mut report.problems);
        self.check_keys(&keys, &mut report)?;
        Ok(report)
    }

    /// Hashes every object again; says of each listed one whether it is sound.
    fn check_objects(
        &self,
        listed: &[ObjectRow],
        report: &mut IntegrityReport,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<BTreeMap<Digest, bool>, StoreError> {
        let mut sound: BTreeMap<Digest, bool> = BTreeMap::new();
        let mut extra = Vec::new();
        let known: BTreeMap<Digest, &ObjectRow> =
            listed.iter().map(|row| (row.digest, row)).collect();
        for entry in walk(&self.files.root)? {
            match entry {
                Entry::Object(digest) if known.contains_key(&digest) => {}
                Entry::Object(digest) => extra.push(digest),
                Entry::Leftover(path) => report
                    .notices
                    .push(Notice::Leftover(spell(&self.files.root, &path))),
                Entry::Foreign(name) => report.notices.push(Notice::Foreign(name)),
            }
        }
        let total = (listed.len() + extra.len()) as u64;
        let mut step = |report: &mut IntegrityReport, length: u64| {
            report.objects += 1;
            report.bytes += length;
            progress(Progress {
                done: report.objects,
                total,
                bytes: report.bytes,
            });
        };
        for row in listed {
            let ObjectRow {
                digest,
                kind,
                length,
            } = *row;
            let read = match hash_file(&self.files.path(&digest)) {
                Ok((found, now)) => {
                    let good = found == digest && now == length;
                    sound.insert(digest, good);
                    if !good {
                        report.problems.push(Problem::Rotten {
                            digest,
                            kind,
                            length: now,
                            found,
                        });
                    }
                    now
                }
                Err(error) if error.kind() == ErrorKind::NotFound => {
                    report.problems.push(Problem::Missing {
                        digest,
                        kind,
                        length,
                    });
                    0
                }
                Err(error) => {
                    report.problems.push(Problem::Unreadable {
                        digest,
                        reason: error.to_string(),
                    });
                    0
                }
            };
            step(report, read);
        }
        for digest in extra {
            let length = self.check_unlisted(digest, report)?;
            step(report, length);
        }
        Ok(sound)
    }

    /// An object no row speaks of is harmless unless it is a sealed record. Returns the bytes read.
    fn check_unlisted(
        &self,
        digest: Digest,
        report: &mut IntegrityReport,
    ) -> Result<u64, StoreError> {
        let path = self.files.path(&digest);
        let (found, length) = match hash_file(&path) {
            Ok(read) => read,
            Err(error) => {
                report.problems.push(Problem::Unreadable {
                    digest,
                    reason: error.to_string(),
                });
                return Ok(0);
            }
        };
        // Another program may have listed it since the rows were read.
        if object_row(&self.connection(), &digest)?.is_some() {
            return Ok(length);
        }
        if found != digest {
            report.problems.push(Problem::Rotten {
                digest,
                kind: ObjectKind::Document,
                length,
                found,
            });
            return Ok(length);
        }
        let facts = if length <= self.limits.record {
            self.files
                .read(&digest)
                .ok()
                .and_then(|bytes| sealed::read_record(&bytes).ok())
        } else {
            None
        };
        match facts {
            Some(facts) => report.problems.push(Problem::UnlistedRecord {
                digest,
                blade: facts.blade,
                sequence: facts.sequence,
            }),
            None => report.notices.push(Notice::Unlisted(digest)),
        }
        Ok(length)
    }

    /// Holds a row against the sealed bytes.
    fn record_problems(&self, row: &RecordRow) -> Vec<Problem> {
        let facts = match self
            .files
            .read(&row.object)
            .and_then(|bytes| sealed::read_record(&bytes))
        {
            Ok(facts) => facts,
            Err(StoreError::NotARecord { reason }) => {
                return vec![Problem::NotARecord {
                    name: row.name,
                    object: row.object,
                    reason,
                }];
            }
            Err(error) => {
                return vec![Problem::Unreadable {
                    digest: row.object,
                    reason: error.to_string(),
                }];
            }
        };
        let pairs = [
            ("name", row.name.to_string(), facts.name.to_string()),
            ("blade", row.blade.clone(), facts.blade),
            (
                "sequence",
                row.sequence.to_string(),
                facts.sequence.to_string(),
            ),
            (
                "previous",
                name_or_none(row.previous.as_ref()),
                name_or_none(facts.previous.as_ref()),
            ),
            ("record id", row.record_id.clone(), facts.record_id),
            ("purpose", row.purpose.clone(), facts.purpose),
            ("issuer", row.issuer.clone(), facts.issuer),
            ("time of issue", row.issued_at.clone(), facts.issued_at),
        ];
        let differing = pairs.into_iter().filter(|(_, row, bytes)| row != bytes);
        let name = row.name;
        differing
            .map(|(field, row, bytes)| Problem::RowDisagrees {
                name,
                field,
                row,
                bytes,
            })
            .collect()
    }

    fn check_keys(&self, keys: &[KeyRow], report: &mut IntegrityReport) -> Result<(), StoreError> {
        let folder = self.dir.join(KEYS);
        for key in keys {
            let reason = match fs::metadata(folder.join(&key.file_name)) {
                Ok(facts) => match facts.permissions().mode() & 0o777 {
                    0o400 | 0o500 | 0o600 | 0o700 => continue,
                    mode => format!("has mode {mode:03o}: others can reach it, 600 is allowed"),
                },
                Err(error) if error.kind() == ErrorKind::NotFound => "is missing".to_owned(),
                Err(error) => format!("cannot be reached: {error}"),
            };
            report.problems.push(Problem::Key {
                file_name: key.file_name.clone(),
                reason,
            });
        }
        for path in list(&folder)? {
            let name = entry_name(&path);
            if name.starts_with(files::TEMP) {
                report
                    .notices
                    .push(Notice::Leftover(spell(&self.files.root, &path)));
            } else if !keys.iter().any(|key| key.file_name == name) {
                report
                    .notices
                    .push(Notice::Foreign(spell(&self.files.root, &path)));
            }
        }
        Ok(())
    }
}

/// All listed objects by digest.
pub(super) fn all_objects(connection: &Connection) -> Result<Vec<ObjectRow>, StoreError> {
    let fail = |error| StoreError::index("read the list of objects", error);
    let mut statement = connection
        .prepare("SELECT digest, kind, length FROM object ORDER BY digest")
        .map_err(fail)?;
    let mut rows = statement.query([]).map_err(fail)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next().map_err(fail)? {
        let kind: String = row.get(1).map_err(fail)?;
        found.push(ObjectRow {
            digest: digest_at(row, 0).map_err(fail)?,
            kind: ObjectKind::from_word(&kind)?,
            length: uncount(row.get(2).map_err(fail)?),
        });
    }
    Ok(found)
}

/// What SQLite itself finds wrong, at most a hundred lines.
pub(super) fn index_problems(connection: &Connection) -> Result<Vec<Problem>, StoreError> {
    let fail = |error| StoreError::index("check the index", error);
    let mut problems = Vec::new();
    let mut statement = connection
        .prepare(&format!("PRAGMA integrity_check({})", count(100)))
        .map_err(fail)?;
    let mut lines = statement.query([]).map_err(fail)?;
    while let Some(row) = lines.next().map_err(fail)? {
        let line: String = row.get(0).map_err(fail)?;
        if line != "ok" {
            problems.push(Problem::Index(line));
        }
    }
    let mut statement = connection
        .prepare("PRAGMA foreign_key_check")
        .map_err(fail)?;
    let mut lines = statement.query([]).map_err(fail)?;
    while let Some(row) = lines.next().map_err(fail)? {
        let (table, parent): (String, String) =
            (row.get(0).map_err(fail)?, row.get(2).map_err(fail)?);
        problems.push(Problem::Index(format!(
            "a row of `{table}` names a row of `{parent}` that is not there"
        )));
    }
    Ok(problems)
}

/// Follows each blade's chain; the rows come by blade and sequence.
fn chain_problems(records: &[RecordRow], problems: &mut Vec<Problem>) {
    let mut before: Option<&RecordRow> = None;
    for row in records {
        let last = before.filter(|last| last.blade == row.blade);
        let sequence = last.map_or(0, |last| last.sequence);
        let name = last.map(|last| last.name);
        if row.sequence != sequence + 1 {
            problems.push(Problem::Gap {
                blade: row.blade.clone(),
                before: sequence,
                found: row.sequence,
            });
        } else if row.previous != name {
            problems.push(Problem::WrongPrevious {
                blade: row.blade.clone(),
                sequence: row.sequence,
                named: row.previous,
                before: name,
            });
        }
        before = Some(row);
    }
}
