//! A package as a zip file: entries stored, in the order of their paths, dated 1980-01-01, no extra fields.
//!
//! Source: APPNOTE.TXT 6.3, sections 4.3.7 (local header), 4.3.12 (directory), 4.3.16 (end record), from memory.

use std::fs::File;
use std::io::{BufWriter, Seek as _, SeekFrom, Write as _};
use std::path::Path;

use super::content::{Content, Sink, fault};
use super::place::{PREFIX, SUFFIX, mode, vacant, written};
use super::{PIECE, Watch, WriteError, Written, tags};
use crate::open::Limits;

/// Version needed to read stored entries: 1.0.
const NEEDED: u16 = 10;
/// Names are UTF-8.
const UTF_8: u16 = 1 << 11;
/// 1980-01-01, the first day a zip file can name.
const DAY: u16 = (1 << 5) | 1;
/// Length of a local header without its name, of a directory entry, and of the end record.
const LOCAL: u64 = 30;
const LISTED: u64 = 46;
const END: u64 = 22;
/// Where CRC-32 stands in a local header.
const CRC_AT: u64 = 14;

impl Content {
    /// Writes the package as the zip file `target` that holds the one folder `top`, whole or not at all. What is there
    /// already is never overwritten.
    ///
    /// # Errors
    /// As [`Content::write_folder`], and when the file would have 4 GiB or more.
    pub fn write_zip(
        &self,
        target: &Path,
        top: &str,
        watch: &mut Watch<'_>,
    ) -> Result<Written, WriteError> {
        self.check_whole(&Limits::default())?;
        let what = fault(top).or_else(|| top.contains('/').then_some("the top folder is one name"));
        if let Some(what) = what {
            let path = top.to_owned();
            return Err(WriteError::Path { path, what });
        }
        self.check_zip(top)?;
        let parent = vacant(target)?;
        let fail = |error| WriteError::file("write", target, error);
        let part = tempfile::Builder::new()
            .prefix(PREFIX)
            .suffix(SUFFIX)
            .permissions(mode(0o666))
            .tempfile_in(&parent)
            .map_err(fail)?;
        let mut sink = Zip {
            target,
            top,
            out: BufWriter::with_capacity(PIECE, part.as_file()),
            at: 0,
            listed: Vec::new(),
            open: None,
        };
        tags::write(self, &mut sink, watch)?;
        sink.finish()?;
        drop(sink);
        part.as_file().sync_all().map_err(fail)?;
        part.persist_noclobber(target).map_err(|error| {
            if error.error.kind() == std::io::ErrorKind::AlreadyExists {
                WriteError::Exists(target.to_owned())
            } else {
                fail(error.error)
            }
        })?;
        Ok(written(self.size(), &parent))
    }

    /// Zip files without zip64 end before 4 GiB.
    fn check_zip(&self, top: &str) -> Result<(), WriteError> {
        let most = u64::from(u32::MAX) - 1;
        let headers: u64 = self
            .files()
            .map(|(path, _)| LOCAL + LISTED + 2 * (top.len() + 1 + path.len()) as u64)
            .sum();
        // Tag files have entries too.
        let bytes = self.size().bytes + headers + tags::length(self) + END + 4096;
        if bytes > most {
            return Err(WriteError::TooLarge {
                bytes,
                most,
                what: "zip file",
            });
        }
        Ok(())
    }
}

/// A number of the format; what does not fit was refused before.
fn short(number: u64) -> Result<u32, WriteError> {
    u32::try_from(number).map_err(|_| WriteError::TooLarge {
        bytes: number,
        most: u64::from(u32::MAX),
        what: "zip file",
    })
}

/// A file in the zip file.
struct Entry {
    name: String,
    at: u32,
    length: u32,
    crc: u32,
}

struct Zip<'a> {
    target: &'a Path,
    top: &'a str,
    out: BufWriter<&'a File>,
    /// Bytes written so far.
    at: u64,
    listed: Vec<Entry>,
    open: Option<(Entry, crc32fast::Hasher)>,
}

impl Zip<'_> {
    fn write(&mut self, bytes: &[u8]) -> Result<(), WriteError> {
        self.at += bytes.len() as u64;
        self.out
            .write_all(bytes)
            .map_err(|error| WriteError::file("write", self.target, error))
    }

    /// Writes the directory and the end record.
    fn finish(&mut self) -> Result<(), WriteError> {
        let start = short(self.at)?;
        let listed = std::mem::take(&mut self.listed);
        let count = u16::try_from(listed.len()).map_err(|_| WriteError::TooMany {
            paths: listed.len(),
            most: usize::from(u16::MAX),
        })?;
        for entry in &listed {
            let mut bytes = Vec::new();
            bytes.extend(0x0201_4b50_u32.to_le_bytes());
            // Made by version 1.0 on no system in particular, so that no rights are stated.
            bytes.extend(NEEDED.to_le_bytes());
            bytes.extend(common(entry));
            // Comment, disk and attributes: none.
            bytes.extend([0; 10]);
            bytes.extend(entry.at.to_le_bytes());
            bytes.extend(entry.name.as_bytes());
            self.write(&bytes)?;
        }
        let length = short(self.at)? - start;
        let mut end = Vec::new();
        end.extend(0x0605_4b50_u32.to_le_bytes());
        end.extend([0; 4]);
        end.extend(count.to_le_bytes());
        end.extend(count.to_le_bytes());
        end.extend(length.to_le_bytes());
        end.extend(start.to_le_bytes());
        end.extend([0; 2]);
        self.write(&end)?;
        self.out
            .flush()
            .map_err(|error| WriteError::file("write", self.target, error))
    }
}

/// What a local header and a directory entry have in common, from "version needed" to the length of extra fields.
fn common(entry: &Entry) -> Vec<u8> {
    let mut bytes = Vec::new();
    bytes.extend(NEEDED.to_le_bytes());
    bytes.extend(UTF_8.to_le_bytes());
    // Stored, at midnight.
    bytes.extend([0; 4]);
    bytes.extend(DAY.to_le_bytes());
    bytes.extend(entry.crc.to_le_bytes());
    bytes.extend(entry.length.to_le_bytes());
    bytes.extend(entry.length.to_le_bytes());
    // Paths are of at most 240 bytes: `fault`.
    bytes.extend(
        u16::try_from(entry.name.len())
            .unwrap_or(u16::MAX)
            .to_le_bytes(),
    );
    bytes.extend([0; 2]);
    bytes
}

impl Sink for Zip<'_> {
    fn begin(&mut self, path: &str, length: u64) -> Result<(), WriteError> {
        let entry = Entry {
            name: format!("{}/{path}", self.top),
            at: short(self.at)?,
            length: short(length)?,
            crc: 0,
        };
        let mut bytes = Vec::new();
        bytes.extend(0x0403_4b50_u32.to_le_bytes());
        bytes.extend(common(&entry));
        bytes.extend(entry.name.as_bytes());
        self.write(&bytes)?;
        self.open = Some((entry, crc32fast::Hasher::new()));
        Ok(())
    }

    fn bytes(&mut self, piece: &[u8]) -> Result<(), WriteError> {
        if let Some((_, crc)) = &mut self.open {
            crc.update(piece);
        }
        self.write(piece)
    }

    /// The check sum is known only now; it is put into the header.
    fn end(&mut self) -> Result<(), WriteError> {
        let Some((mut entry, crc)) = self.open.take() else {
            return Ok(());
        };
        entry.crc = crc.finalize();
        let fail = |error| WriteError::file("write", self.target, error);
        self.out
            .seek(SeekFrom::Start(u64::from(entry.at) + CRC_AT))
            .and_then(|_| self.out.write_all(&entry.crc.to_le_bytes()))
            .and_then(|()| self.out.seek(SeekFrom::Start(self.at)))
            .map_err(fail)?;
        self.listed.push(entry);
        Ok(())
    }
}
