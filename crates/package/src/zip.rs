//! Zip files, read in one way only. Source: APPNOTE.TXT 6.3, 4.3 and 4.4 (from memory).
//!
//! Programs disagree on which bytes of a zip file count: the directory at its end, the headers before each entry, or
//! what lies between. Here all of them must say the same and nothing may lie between, so that one file is one package.

mod data;
mod directory;
#[cfg(test)]
pub(crate) mod tests;

pub(crate) use data::stream;
pub(crate) use directory::list;

use std::fs::File;
use std::io;
use std::os::unix::fs::FileExt as _;

/// Bytes that can be read from several threads at once.
pub(crate) trait ReadAt: Send + Sync + std::fmt::Debug {
    /// Length in bytes.
    fn length(&self) -> u64;
    /// Fills `buffer` from `offset` on.
    fn fill(&self, buffer: &mut [u8], offset: u64) -> io::Result<()>;
}

/// A file, with its length when it was opened.
#[derive(Debug)]
pub(crate) struct OpenFile {
    pub(crate) file: File,
    pub(crate) length: u64,
}

impl ReadAt for OpenFile {
    fn length(&self) -> u64 {
        self.length
    }

    fn fill(&self, buffer: &mut [u8], offset: u64) -> io::Result<()> {
        self.file.read_exact_at(buffer, offset)
    }
}

impl ReadAt for Vec<u8> {
    fn length(&self) -> u64 {
        self.len() as u64
    }

    fn fill(&self, buffer: &mut [u8], offset: u64) -> io::Result<()> {
        let start = usize::try_from(offset).ok();
        let range = start.and_then(|start| self.get(start..start.checked_add(buffer.len())?));
        match range {
            Some(bytes) => {
                buffer.copy_from_slice(bytes);
                Ok(())
            }
            None => Err(io::ErrorKind::UnexpectedEof.into()),
        }
    }
}

/// How the data of an entry are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Method {
    /// As they are.
    Stored,
    /// RFC 1951.
    Deflate,
}

/// A file of the zip file.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    /// Path in the bag, without the top folder.
    pub(crate) path: String,
    /// Where its data begin.
    pub(crate) start: u64,
    /// Bytes of the data as they stand there.
    pub(crate) packed: u64,
    /// Bytes of the file.
    pub(crate) length: u64,
    /// Check sum of the file.
    pub(crate) crc: u32,
    /// How the data are written.
    pub(crate) method: Method,
}
