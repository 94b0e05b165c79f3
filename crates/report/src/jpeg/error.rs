//! Why a picture is refused, and what to do.

use super::MOST_PIXELS;

/// Why a picture cannot be embedded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum JpegError {
    /// Another format, or no picture.
    #[error("is not a JPEG file")]
    NotJpeg,
    /// Ends inside the header.
    #[error("ends at byte {0}, before the frame header of a JPEG file")]
    Truncated(usize),
    /// Ends inside the picture data.
    #[error(
        "ends at byte {0}, inside the picture data; the end marker FFD9 of a JPEG file is needed"
    )]
    Unfinished(usize),
    /// Bytes between segments, or a segment of impossible length.
    #[error(
        "has byte {found:02X} at byte {at}, where a marker (FF and its number) of a JPEG file is needed"
    )]
    NoMarker {
        /// Offset in the file.
        at: usize,
        /// The byte found there.
        found: u8,
    },
    /// A marker that is no part of an ordinary file.
    #[error("has marker FF{marker:02X} at byte {at}, which is no part of an ordinary JPEG file")]
    Marker {
        /// Offset in the file.
        at: usize,
        /// Number of the marker.
        marker: u8,
    },
    /// A segment shorter than its own length field.
    #[error("has a segment of length {length} at byte {at}; at least 2 is needed")]
    SegmentLength {
        /// Offset in the file.
        at: usize,
        /// Length found.
        length: u16,
    },
    /// Picture data before any frame header, or none.
    #[error("has no frame header before its picture data, or no picture data")]
    NoFrame,
    /// Several frames (hierarchical coding).
    #[error("has a second frame at byte {0}; one frame is allowed")]
    SecondFrame(usize),
    /// A coding process that PDF readers do not decode.
    #[error(
        "uses JPEG coding process {0}; baseline, extended and progressive Huffman coding (0, 1, 2) are allowed"
    )]
    Process(u8),
    /// Sample depth other than 8.
    #[error("has {0} bits a sample; 8 are allowed")]
    Depth(u8),
    /// Component count other than 1 and 3.
    #[error("has {0} colour components (4 is CMYK); 1 (grey) or 3 (colour) are allowed")]
    Components(u8),
    /// Zero rows or columns.
    #[error("is {0} × {1} pixels; at least 1 × 1 is needed")]
    Empty(u16, u16),
    /// More pixels than a report embeds.
    #[error("is {0} × {1} pixels; at most {most} million pixels are allowed", most = MOST_PIXELS / 1_000_000)]
    TooLarge(u16, u16),
}

impl JpegError {
    /// Returns what to do about it.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::NotJpeg => "convert the photo to JPEG and add it again",
            Self::Truncated(_)
            | Self::Unfinished(_)
            | Self::NoMarker { .. }
            | Self::SegmentLength { .. } => "copy the photo from the camera again",
            Self::Process(_)
            | Self::Depth(_)
            | Self::Marker { .. }
            | Self::NoFrame
            | Self::SecondFrame(_) => "save the photo as an ordinary 8-bit JPEG and add it again",
            Self::Components(_) => "save the photo as sRGB JPEG and add it again",
            Self::Empty(..) => "take another photo",
            Self::TooLarge(..) => "save the photo smaller, or in parts, and add it again",
        }
    }
}
