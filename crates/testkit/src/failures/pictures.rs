//! Pictures of a few pixels in the three formats of photos, and changes to them.

use std::io::Write as _;

use jpeg_encoder::{ColorType, Encoder};
use serde_json::{Value, json};
use tangmark_core::Digest;

use crate::sealed::{MakeError, fault};

/// A picture and what a record says of it.
#[derive(Clone, Debug)]
pub struct Picture {
    /// The file.
    pub bytes: Vec<u8>,
    /// Ending of its name.
    pub ending: &'static str,
    /// Width in pixels, as stored.
    pub width: u16,
    /// Height in pixels, as stored.
    pub height: u16,
    /// Exif orientation, where it has one.
    pub orientation: Option<u8>,
}

impl Picture {
    /// Its path in a package.
    pub fn path(&self) -> String {
        format!("photos/{}.{}", Digest::of(&self.bytes), self.ending)
    }

    /// What a record says of it.
    pub fn facts(&self) -> Value {
        let media = match self.ending {
            "jpg" => "image/jpeg",
            "png" => "image/png",
            _ => "image/tiff",
        };
        let mut facts = json!({
            "digest": Digest::of(&self.bytes).to_string(), "length": self.bytes.len(), "media_type": media,
            "width_px": self.width, "height_px": self.height,
        });
        if let Some(orientation) = self.orientation {
            facts["orientation"] = json!(orientation);
        }
        facts
    }
}

/// A grey JPEG with a slope of light.
///
/// # Errors
/// When the encoder refuses the size.
pub fn jpeg(width: u16, height: u16, light: u8) -> Result<Picture, MakeError> {
    jpeg_of_quality(width, height, light, 60)
}

/// The same with a quality of its own: the same picture in other bytes.
///
/// # Errors
/// When the encoder refuses the size.
pub fn jpeg_of_quality(
    width: u16,
    height: u16,
    light: u8,
    quality: u8,
) -> Result<Picture, MakeError> {
    let pixels: Vec<u8> = (0..usize::from(width) * usize::from(height))
        .map(|pixel| light.wrapping_add(u8::try_from(pixel % 61).unwrap_or(0)))
        .collect();
    let mut bytes = Vec::new();
    Encoder::new(&mut bytes, quality)
        .encode(&pixels, width, height, ColorType::Luma)
        .map_err(fault("photo"))?;
    Ok(Picture {
        bytes,
        ending: "jpg",
        width,
        height,
        orientation: None,
    })
}

/// The same JPEG with an Exif orientation. Source: the Exif standard, tag 0x0112 (from memory).
pub fn turned(picture: &Picture, orientation: u8) -> Picture {
    let mut exif = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    exif.extend([orientation, 0, 0, 0, 0, 0, 0]);
    let length = u16::try_from(exif.len() + 2).unwrap_or(u16::MAX);
    let mut bytes = picture.bytes[..2].to_vec();
    bytes.extend([0xff, 0xe1]);
    bytes.extend(length.to_be_bytes());
    bytes.extend(exif);
    bytes.extend(&picture.bytes[2..]);
    Picture {
        bytes,
        orientation: Some(orientation),
        ..picture.clone()
    }
}

/// The same JPEG with a comment behind its beginning: only what stands beside the picture differs.
pub fn commented(picture: &Picture) -> Picture {
    let mut bytes = picture.bytes[..2].to_vec();
    bytes.extend([0xff, 0xfe, 0, 8]);
    bytes.extend(b"remark");
    bytes.extend(&picture.bytes[2..]);
    Picture {
        bytes,
        ..picture.clone()
    }
}

/// A grey PNG. Source: the PNG specification (ISO/IEC 15948), chunks IHDR, IDAT and IEND (from memory).
pub fn png(width: u16, height: u16) -> Picture {
    let mut header = Vec::new();
    header.extend(u32::from(width).to_be_bytes());
    header.extend(u32::from(height).to_be_bytes());
    header.extend([8, 0, 0, 0, 0]);
    let row: Vec<u8> = std::iter::once(0)
        .chain((0..width).map(|at| u8::try_from(at % 256).unwrap_or(0)))
        .collect();
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    for (name, data) in [
        (b"IHDR", header),
        (b"IDAT", zlib(&row.repeat(usize::from(height)))),
        (b"IEND", Vec::new()),
    ] {
        bytes.extend(u32::try_from(data.len()).unwrap_or(0).to_be_bytes());
        let chunk = [name.as_slice(), &data].concat();
        bytes.extend(&chunk);
        bytes.extend(crc32fast::hash(&chunk).to_be_bytes());
    }
    Picture {
        bytes,
        ending: "png",
        width,
        height,
        orientation: None,
    }
}

/// Deflated bytes with the head of zlib (RFC 1950).
pub fn zlib(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::default());
    // Writing to memory does not fail.
    let _ = encoder.write_all(bytes);
    encoder.finish().unwrap_or_default()
}
