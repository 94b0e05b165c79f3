//! Writing a package: the same content, the same bytes.
//!
//! [`Content`] lists what goes in; [`Content::write_folder`] and [`Content::write_zip`] write it, whole or not at all.
//! Files are streamed, so that memory does not grow with the photos.

mod content;
mod error;
mod folder;
mod place;
mod tags;
#[cfg(test)]
mod tests;
mod zip;

use std::ops::ControlFlow;

pub use content::{Content, Source};
pub use error::WriteError;
pub use place::left_behind;

/// How far the writing of a package is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Payload files written whole.
    pub files: usize,
    /// Payload files in all.
    pub files_in_all: usize,
    /// Bytes of them written.
    pub bytes: u64,
    /// Bytes in all.
    pub bytes_in_all: u64,
}

/// Is told how far the writing is; `Break` ends it, and nothing is left of it.
pub type Watch<'a> = dyn FnMut(Progress) -> ControlFlow<()> + 'a;

/// How large the payload of a package is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Files in `data/`.
    pub files: usize,
    /// Bytes of them.
    pub bytes: u64,
}

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// How large it is.
    pub size: Size,
    /// Why it may be gone after a power failure: the folder around it could not be flushed. It is written all the same.
    pub not_flushed: Option<String>,
}

/// Bytes read or written at once.
const PIECE: usize = 128 << 10;
