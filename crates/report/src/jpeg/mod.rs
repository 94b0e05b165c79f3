//! JPEG files: what their header says, and a copy that leaves out everything but the picture.
//!
//! The coded picture data are never touched: they are copied byte for byte or the file is refused.

mod copy;
mod error;
mod profile;
mod segments;
#[cfg(test)]
pub(crate) mod tests;

pub use copy::{Copied, TRANSFORM, copy};
pub use error::JpegError;
pub use profile::{LARGEST_PROFILE, ProfileFault};

use segments::{Part, parts};

/// Most pixels of a picture that a report embeds: more than any camera makes in one shot, and little enough for a reader
/// of the report to unpack.
pub const MOST_PIXELS: u64 = 250_000_000;

/// What a JPEG header says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Header {
    /// Columns as stored.
    pub width: u16,
    /// Rows as stored.
    pub height: u16,
    /// Colour components: 1 (grey) or 3 (colour).
    pub components: u8,
}

impl Header {
    /// Reads the payload of a frame header of coding process `process` (0 baseline, 1 extended, 2 progressive).
    ///
    /// Source: ITU-T T.81, B.2.2.
    fn of(process: u8, payload: &[u8], end: usize) -> Result<Self, JpegError> {
        let &[depth, h1, h0, w1, w0, components, ..] = payload else {
            return Err(JpegError::Truncated(end));
        };
        if process > 2 {
            return Err(JpegError::Process(process));
        }
        if depth != 8 {
            return Err(JpegError::Depth(depth));
        }
        if !matches!(components, 1 | 3) {
            return Err(JpegError::Components(components));
        }
        let header = Self {
            width: u16::from_be_bytes([w1, w0]),
            height: u16::from_be_bytes([h1, h0]),
            components,
        };
        if header.width == 0 || header.height == 0 {
            return Err(JpegError::Empty(header.width, header.height));
        }
        if u64::from(header.width) * u64::from(header.height) > MOST_PIXELS {
            return Err(JpegError::TooLarge(header.width, header.height));
        }
        Ok(header)
    }
}

/// Reads the header of a JPEG file.
///
/// # Errors
/// Says why the file cannot be embedded as it is. What comes after the header is not looked at; see [`copy()`].
///
/// Source: the marker segments of ITU-T T.81, annex B.
pub fn header(bytes: &[u8]) -> Result<Header, JpegError> {
    for part in parts(bytes)? {
        match part? {
            Part::Frame {
                process,
                payload,
                end,
            } => return Header::of(process, payload, end),
            Part::Scan { .. } | Part::End => return Err(JpegError::NoFrame),
            Part::Segment { .. } => {}
        }
    }
    Err(JpegError::Truncated(bytes.len()))
}
