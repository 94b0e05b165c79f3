//! PNG and TIFF made into the JPEG file that reports show.
//!
//! A report embeds one format, so that the bytes inside the PDF are the very file that the record names by its digest. The
//! price is one coding at high quality; the original is kept as it is and its digest stands in the record.

use std::io::Cursor;

use image::codecs::{png::PngDecoder, tiff::TiffDecoder};
use image::{ColorType, DynamicImage, ExtendedColorType, ImageDecoder, Limits};
use jpeg_encoder::{Encoder, SamplingFactor};
use tangmark_report::jpeg;

use super::format::Convertible;

/// Most pixels of a picture that is converted: a hundred million are 300 MB of samples.
const MOST_PIXELS: u64 = 100_000_000;
/// Most bytes of decoded samples.
const MOST_BYTES: u64 = 640 * 1024 * 1024;
/// Longest side of a JPEG file, in pixels.
const LONGEST_SIDE: u32 = 65_535;
/// Quality of the JPEG file on the encoder's scale of 1 to 100.
const QUALITY: u8 = 95;

/// A JPEG file made from a picture of another kind.
pub(super) struct Converted {
    pub(super) bytes: Vec<u8>,
    pub(super) transform: String,
    pub(super) size: [u32; 2],
    pub(super) profile_left_out: Option<String>,
}

/// Samples ready to be coded.
struct Samples {
    bytes: Vec<u8>,
    colour: jpeg_encoder::ColorType,
    /// What was done to them, for the record.
    done: Vec<&'static str>,
}

/// Makes a JPEG file from a PNG or TIFF file; the error is the sentence a person reads.
pub(super) fn convert(
    bytes: &[u8],
    kind: Convertible,
    exif: Option<&exif::Exif>,
) -> Result<Converted, String> {
    let name = kind.name();
    let damaged = |error: image::ImageError| {
        format!(
            "is a {name} file that cannot be decoded ({error}); 8- and 16-bit grey and RGB pictures are allowed; save it \
             as JPEG of high quality and add it again"
        )
    };
    let cursor = Cursor::new(bytes);
    match kind {
        Convertible::Png => {
            let decoder = PngDecoder::with_limits(cursor, limits()).map_err(damaged)?;
            finish(decoder, name, false, &damaged)
        }
        Convertible::Tiff => {
            let decoder = TiffDecoder::new(cursor).map_err(damaged)?;
            // A second directory is another picture or a preview.
            let several = exif.is_some_and(|exif| {
                exif.fields()
                    .any(|field| field.ifd_num != exif::In::PRIMARY)
            });
            finish(decoder, name, several, &damaged)
        }
    }
}

fn limits() -> Limits {
    let mut limits = Limits::default();
    limits.max_image_width = Some(LONGEST_SIDE);
    limits.max_image_height = Some(LONGEST_SIDE);
    limits.max_alloc = Some(2 * MOST_BYTES);
    limits
}

fn finish(
    mut decoder: impl ImageDecoder,
    name: &str,
    several: bool,
    damaged: &dyn Fn(image::ImageError) -> String,
) -> Result<Converted, String> {
    let (width, height) = decoder.dimensions();
    check_size(width, height, decoder.total_bytes())?;
    check_colours(&decoder, name)?;
    decoder.set_limits(limits()).map_err(damaged)?;
    let profile = decoder.icc_profile().map_err(damaged)?;
    let picture = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    let samples = samples(picture, name)?;
    let (jpeg, profile_left_out) = encode(&samples, [width, height], profile)?;
    let mut done = vec![format!(
        "decoded from {name} and coded as JPEG of quality {QUALITY} without colour subsampling"
    )];
    if several {
        done.push("first of several pictures in the file".to_owned());
    }
    done.extend(samples.done.iter().map(|&words| words.to_owned()));
    done.push("data of place and camera, comments and thumbnails left out".to_owned());
    if let Some(fault) = &profile_left_out {
        done.push(format!(
            "its colour profile {fault}, so it is left out and sRGB is assumed"
        ));
    }
    Ok(Converted {
        bytes: jpeg,
        transform: done.join("; "),
        size: [width, height],
        profile_left_out,
    })
}

/// Refuses pictures that are too large before any sample is decoded: a small file can claim any size.
fn check_size(width: u32, height: u32, bytes: u64) -> Result<(), String> {
    if width == 0 || height == 0 {
        return Err(format!(
            "is {width} × {height} pixels; at least 1 × 1 is needed; take another photo"
        ));
    }
    let pixels = u64::from(width) * u64::from(height);
    if width.max(height) > LONGEST_SIDE || pixels > MOST_PIXELS {
        return Err(format!(
            "is {width} × {height} pixels; at most {} million pixels and {LONGEST_SIDE} on a side are allowed; save it \
             smaller, or in parts, and add it again",
            MOST_PIXELS / 1_000_000
        ));
    }
    if bytes > MOST_BYTES {
        return Err(format!(
            "takes {bytes} bytes when decoded; at most {MOST_BYTES} bytes are allowed; save it with 8 bits a sample, or \
             smaller, and add it again"
        ));
    }
    Ok(())
}

fn check_colours(decoder: &impl ImageDecoder, name: &str) -> Result<(), String> {
    let found = match (decoder.original_color_type(), decoder.color_type()) {
        (ExtendedColorType::Cmyk8 | ExtendedColorType::Cmyk16, _) => "CMYK colours of a printer",
        (_, ColorType::Rgb32F | ColorType::Rgba32F) => "samples of 32 bits with a point",
        _ => return Ok(()),
    };
    Err(format!(
        "is a {name} file with {found}; 8- and 16-bit grey and RGB pictures are allowed; save it as RGB with 8 or 16 bits \
         a sample and add it again"
    ))
}

const ON_WHITE: &str = "transparent parts on white";
const ROUNDED: &str = "16 bits a sample rounded to 8";

fn samples(picture: DynamicImage, name: &str) -> Result<Samples, String> {
    use jpeg_encoder::ColorType::{Luma, Rgb};
    let (bytes, colour, done) = match picture {
        DynamicImage::ImageLuma8(grey) => (grey.into_raw(), Luma, vec![]),
        DynamicImage::ImageRgb8(rgb) => (rgb.into_raw(), Rgb, vec![]),
        DynamicImage::ImageLumaA8(grey) => (over_white::<2>(grey.as_raw()), Luma, vec![ON_WHITE]),
        DynamicImage::ImageRgba8(rgba) => (over_white::<4>(rgba.as_raw()), Rgb, vec![ON_WHITE]),
        DynamicImage::ImageLuma16(grey) => (rounded(grey.as_raw()), Luma, vec![ROUNDED]),
        DynamicImage::ImageRgb16(rgb) => (rounded(rgb.as_raw()), Rgb, vec![ROUNDED]),
        DynamicImage::ImageLumaA16(grey) => (
            over_white::<2>(&rounded(grey.as_raw())),
            Luma,
            vec![ROUNDED, ON_WHITE],
        ),
        DynamicImage::ImageRgba16(rgba) => (
            over_white::<4>(&rounded(rgba.as_raw())),
            Rgb,
            vec![ROUNDED, ON_WHITE],
        ),
        other => {
            return Err(format!(
                "is a {name} file with samples of the kind {:?}; 8- and 16-bit grey and RGB pictures are allowed; save it \
                 as RGB with 8 or 16 bits a sample and add it again",
                other.color()
            ));
        }
    };
    Ok(Samples {
        bytes,
        colour,
        done,
    })
}

/// 16 bits a sample to 8, to the nearest.
fn rounded(samples: &[u16]) -> Vec<u8> {
    samples
        .iter()
        .map(|&sample| narrow((u32::from(sample) * 255 + 32_767) / 65_535))
        .collect()
}

/// Lays pixels of `N` samples, the last one opacity, over white.
fn over_white<const N: usize>(samples: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(samples.len() / N * (N - 1));
    let (pixels, _) = samples.as_chunks::<N>();
    for pixel in pixels {
        let opacity = u32::from(pixel[N - 1]);
        for &sample in &pixel[..N - 1] {
            let mixed = u32::from(sample) * opacity + 255 * (255 - opacity);
            out.push(narrow((mixed + 127) / 255));
        }
    }
    out
}

fn narrow(value: u32) -> u8 {
    u8::try_from(value).unwrap_or(u8::MAX)
}

/// Codes samples at fixed settings, with the profile if it is sound; else says why it is not there.
fn encode(
    samples: &Samples,
    size: [u32; 2],
    profile: Option<Vec<u8>>,
) -> Result<(Vec<u8>, Option<String>), String> {
    let fault = |error: jpeg_encoder::EncodingError| {
        format!(
            "cannot be coded as JPEG ({error}); save it as JPEG of high quality and add it again"
        )
    };
    let [width, height] = size.map(|side| u16::try_from(side).unwrap_or(u16::MAX));
    let mut coded = Vec::new();
    let mut encoder = Encoder::new(&mut coded, QUALITY);
    encoder.set_sampling_factor(SamplingFactor::F_1_1);
    encoder.set_optimized_huffman_tables(true);
    let mut left_out = None;
    if let Some(profile) = profile.filter(|profile| !profile.is_empty()) {
        if profile.len() > jpeg::LARGEST_PROFILE {
            left_out = Some(jpeg::ProfileFault::Large(profile.len()).to_string());
        } else {
            encoder.add_icc_profile(&profile).map_err(fault)?;
        }
    }
    encoder
        .encode(&samples.bytes, width, height, samples.colour)
        .map_err(fault)?;
    let copied = jpeg::copy(&coded).map_err(|error| format!("{error}; {}", error.hint()))?;
    left_out = left_out.or_else(|| copied.profile_left_out.as_ref().map(ToString::to_string));
    Ok((copied.bytes.into_owned(), left_out))
}
