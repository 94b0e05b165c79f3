//! Demo photos: invented blades on a dark cloth, rendered the same byte for byte each time.
//!
//! The pictures stand in for photographs wherever the program needs some to show or to test
//! with. Every blade is a set of numbers in `demo`; nothing is copied from a picture.
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    reason = "pixel indices and colour levels are small and clamped where they are converted"
)]

mod blade;
mod camera;
mod canvas;
mod demo;
mod marks;
mod noise;
mod shade;

use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;

pub use camera::CAMERA_WORDS;

/// Why the demo photos could not be made.
#[derive(Debug)]
pub enum PhotoError {
    /// A picture of this size cannot be held.
    Size {
        /// Name of the picture.
        file: &'static str,
    },
    /// The JPEG encoder refused the picture.
    Encode {
        /// Name of the picture.
        file: &'static str,
        /// What the encoder said.
        source: jpeg_encoder::EncodingError,
    },
    /// No picture of this name is in the session.
    Unknown {
        /// The name asked for.
        file: String,
    },
    /// A file or folder could not be written.
    Write {
        /// Which one.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The index could not be written as JSON.
    Index {
        /// What the writer said.
        source: serde_json::Error,
    },
}

impl std::fmt::Display for PhotoError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Size { file } => write!(
                out,
                "{file}: picture of no size, width and height must be 1 px or more"
            ),
            Self::Encode { file, source } => {
                write!(out, "{file}: cannot be encoded as JPEG: {source}")
            }
            Self::Unknown { file } => write!(out, "{file}: no demo photo of this name"),
            Self::Write { path, source } => {
                write!(out, "{}: cannot be written: {source}", path.display())
            }
            Self::Index { source } => write!(out, "index.json: cannot be written: {source}"),
        }
    }
}

impl std::error::Error for PhotoError {}

impl PhotoError {
    /// The next step, where there is one.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Write { path, .. } => Some(format!(
                "name a folder you may write to with --out, or free {}",
                path.display()
            )),
            Self::Unknown { .. } => {
                Some("the names are listed in index.json beside the photos".to_owned())
            }
            _ => None,
        }
    }
}

/// What one picture shows, as listed in `index.json`.
#[derive(Debug, Serialize)]
pub struct Entry {
    /// File name.
    pub file: &'static str,
    /// Demo name of the blade.
    pub blade: &'static str,
    /// What is to be seen.
    pub shows: &'static str,
    /// Width in pixels.
    pub width: u16,
    /// Height in pixels.
    pub height: u16,
    /// Size of one pixel in micrometres, rounded to the nearest.
    pub pixel_um: u32,
    /// Length of the scale bar in the picture, mm.
    pub scale_bar_mm: u16,
    /// What stands in the file beside the picture.
    pub beside: &'static str,
}

/// Every demo photo in order, without rendering any.
#[must_use]
pub fn index() -> Vec<Entry> {
    demo::session()
        .into_iter()
        .flat_map(|(blade, shots)| {
            shots.into_iter().map(move |shot| Entry {
                file: shot.file,
                blade: blade.id,
                shows: shot.shows,
                width: shot.size.0,
                height: shot.size.1,
                pixel_um: (shot.pixel * 1000.0).round() as u32,
                scale_bar_mm: shot.bar,
                beside: shot.beside.words(),
            })
        })
        .collect()
}

/// Renders one demo photo: the bytes of a baseline JPEG.
///
/// # Errors
/// [`PhotoError::Unknown`] when no photo has this name.
pub fn render(file: &str) -> Result<Vec<u8>, PhotoError> {
    for (blade, shots) in demo::session() {
        if let Some(shot) = shots.iter().find(|shot| shot.file == file) {
            return shot.take(&blade);
        }
    }
    Err(PhotoError::Unknown {
        file: file.to_owned(),
    })
}

/// The bytes of `index.json`.
///
/// # Errors
/// [`PhotoError::Index`] when the list cannot be written as JSON.
pub fn index_json() -> Result<Vec<u8>, PhotoError> {
    let mut bytes =
        serde_json::to_vec_pretty(&index()).map_err(|source| PhotoError::Index { source })?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// Renders all photos into `out` beside their index; gives each file's name and length in bytes.
///
/// # Errors
/// Any [`PhotoError`]; files written before it stay.
pub fn write_all(out: &Path) -> Result<Vec<(String, usize)>, PhotoError> {
    let write = |path: PathBuf, bytes: &[u8]| {
        fs::write(&path, bytes).map_err(|source| PhotoError::Write { path, source })
    };
    fs::create_dir_all(out).map_err(|source| PhotoError::Write {
        path: out.to_path_buf(),
        source,
    })?;
    let mut written = Vec::new();
    for entry in index() {
        let bytes = render(entry.file)?;
        write(out.join(entry.file), &bytes)?;
        written.push((entry.file.to_owned(), bytes.len()));
    }
    let list = index_json()?;
    write(out.join("index.json"), &list)?;
    written.push(("index.json".to_owned(), list.len()));
    Ok(written)
}
