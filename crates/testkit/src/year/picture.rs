//! Small pictures of nothing in particular, no two alike, for photos that are taken along the way.

use std::fs;
use std::path::Path;

use jpeg_encoder::{ColorType, Encoder};

use super::YearError;
use crate::mutate::Chance;

/// Width and height, px.
const SIZE: (u16, u16) = (96, 64);

/// Writes a JPEG of a bright stripe on a dark ground.
pub(super) fn write(path: &Path, chance: &mut Chance) -> Result<(), YearError> {
    let (width, height) = (usize::from(SIZE.0), usize::from(SIZE.1));
    let at = 8 + chance.below(height - 24);
    let mut pixels = vec![40_u8; width * height];
    for (number, pixel) in pixels.iter_mut().enumerate() {
        let row = number / width;
        if (at..at + 8).contains(&row) {
            *pixel = 160 + chance.byte() / 4;
        }
    }
    let mut bytes = Vec::new();
    let encoder = Encoder::new(&mut bytes, 80);
    encoder
        .encode(&pixels, SIZE.0, SIZE.1, ColorType::Luma)
        .map_err(|error| YearError::Understood(format!("picture: {error}")))?;
    fs::write(path, bytes).map_err(|error| YearError::file("write", path, &error))
}
