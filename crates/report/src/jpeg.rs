//! What the report needs to know of a JPEG file before it is embedded untouched.

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

/// Why a picture cannot be embedded.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum JpegError {
    /// Another format, or no picture.
    #[error("is not a JPEG file")]
    NotJpeg,
    /// Ends inside the header.
    #[error("ends at byte {0}, before the frame header of a JPEG file")]
    Truncated(usize),
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
}

impl JpegError {
    /// Returns what to do about it.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::NotJpeg => "convert the photo to JPEG and add it again",
            Self::Truncated(_) => "copy the photo from the camera again",
            Self::Process(_) | Self::Depth(_) => {
                "save the photo as an ordinary 8-bit JPEG and add it again"
            }
            Self::Components(_) => "save the photo as sRGB JPEG and add it again",
            Self::Empty(..) => "take another photo",
        }
    }
}

/// Reads the header of a JPEG file.
///
/// # Errors
/// Says why the file cannot be embedded as it is.
///
/// Source: the marker segments of ITU-T T.81, annex B.
pub fn header(bytes: &[u8]) -> Result<Header, JpegError> {
    if !matches!(imagesize::image_type(bytes), Ok(imagesize::ImageType::Jpeg)) {
        return Err(JpegError::NotJpeg);
    }
    let truncated = || JpegError::Truncated(bytes.len());
    let byte = |at: usize| bytes.get(at).copied().ok_or_else(truncated);
    let word = |at: usize| Ok::<u16, JpegError>(u16::from_be_bytes([byte(at)?, byte(at + 1)?]));
    let mut at = 2;
    loop {
        if byte(at)? != 0xff {
            return Err(JpegError::NotJpeg);
        }
        let marker = byte(at + 1)?;
        match marker {
            // Fill byte: the marker starts one byte later.
            0xff => at += 1,
            // Markers without a length.
            0x01 | 0xd0..=0xd8 => at += 2,
            // Scan or end before any frame.
            0xd9 | 0xda => return Err(JpegError::NotJpeg),
            // Start of frame; C4, C8 and CC are tables and extensions.
            0xc0..=0xcf if !matches!(marker, 0xc4 | 0xc8 | 0xcc) => {
                return frame(
                    marker - 0xc0,
                    byte(at + 4)?,
                    [word(at + 7)?, word(at + 5)?],
                    byte(at + 9)?,
                );
            }
            _ => {
                let length = usize::from(word(at + 2)?);
                if length < 2 {
                    return Err(JpegError::NotJpeg);
                }
                at += 2 + length;
            }
        }
    }
}

fn frame(
    process: u8,
    depth: u8,
    [width, height]: [u16; 2],
    components: u8,
) -> Result<Header, JpegError> {
    if process > 2 {
        return Err(JpegError::Process(process));
    }
    if depth != 8 {
        return Err(JpegError::Depth(depth));
    }
    if !matches!(components, 1 | 3) {
        return Err(JpegError::Components(components));
    }
    if width == 0 || height == 0 {
        return Err(JpegError::Empty(width, height));
    }
    Ok(Header {
        width,
        height,
        components,
    })
}

#[cfg(test)]
pub(crate) mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// The first bytes of a JPEG file: start, an application segment, a frame header.
    pub(crate) fn head(process: u8, depth: u8, width: u16, height: u16, components: u8) -> Vec<u8> {
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xe0, 0, 16];
        bytes.extend(b"JFIF\0\x01\x02\0\0\x01\0\x01\0\0");
        bytes.extend([0xff, 0xff, 0xc0 + process, 0, 8 + 3 * components, depth]);
        bytes.extend(height.to_be_bytes());
        bytes.extend(width.to_be_bytes());
        bytes.push(components);
        bytes.extend(vec![0; usize::from(components) * 3]);
        bytes
    }

    #[test]
    fn reads_size_and_components() {
        assert_eq!(
            header(&head(0, 8, 640, 480, 3)).unwrap(),
            Header {
                width: 640,
                height: 480,
                components: 3
            }
        );
        assert_eq!(
            header(&head(2, 8, 5, 7, 1)).unwrap(),
            Header {
                width: 5,
                height: 7,
                components: 1
            }
        );
    }

    #[test]
    fn refuses_what_cannot_be_embedded_and_says_why() {
        let text = |bytes: &[u8]| header(bytes).unwrap_err().to_string();
        assert_eq!(
            text(&head(0, 8, 640, 480, 4)),
            "has 4 colour components (4 is CMYK); 1 (grey) or 3 (colour) are allowed"
        );
        assert_eq!(
            text(&head(0, 12, 640, 480, 3)),
            "has 12 bits a sample; 8 are allowed"
        );
        assert_eq!(
            text(&head(3, 8, 640, 480, 3)),
            "uses JPEG coding process 3; baseline, extended and progressive Huffman coding (0, 1, 2) are allowed"
        );
        assert_eq!(
            text(&head(0, 8, 0, 480, 3)),
            "is 0 × 480 pixels; at least 1 × 1 is needed"
        );
        assert_eq!(text(b"\x89PNG\r\n\x1a\n0000"), "is not a JPEG file");
        let good = head(0, 8, 640, 480, 3);
        for end in 0..good.len() - 9 {
            assert!(
                matches!(
                    header(&good[..end]),
                    Err(JpegError::Truncated(_) | JpegError::NotJpeg)
                ),
                "{end}"
            );
        }
        assert_eq!(
            text(&good[..12]),
            "ends at byte 12, before the frame header of a JPEG file"
        );
    }
}
