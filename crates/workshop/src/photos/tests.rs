#![allow(clippy::unwrap_used)]
use std::borrow::Cow;
use std::io::Cursor;

use image::{DynamicImage, GrayImage, ImageFormat, LumaA, Rgb, Rgb32FImage, RgbImage, RgbaImage};
use tangmark_core::record::{Record, Sheet};
use tangmark_core::sheet::{self, SheetFormat};

use super::compare::compare;
use super::*;

const DEMO: &[u8] = include_bytes!("../../../../samples/photos/reed-before.jpg");
const PLAIN: &[u8] = include_bytes!("../../../../samples/photos/reed-tang.jpg");
const WITH_PROFILE: &[u8] = include_bytes!("../../../../samples/photos/reed-temper.jpg");

fn found(name: &str, bytes: &[u8]) -> FoundPhoto {
    FoundPhoto::of(name.to_owned(), bytes.to_vec()).unwrap()
}

fn refused(name: &str, bytes: &[u8]) -> String {
    FoundPhoto::of(name.to_owned(), bytes.to_vec()).unwrap_err()
}

fn coded(picture: impl Into<DynamicImage>, format: ImageFormat) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    picture.into().write_to(&mut out, format).unwrap();
    out.into_inner()
}

fn decoded(jpeg: &[u8]) -> Vec<u8> {
    zune_jpeg::JpegDecoder::new(zune_jpeg::zune_core::bytestream::ZCursor::new(jpeg))
        .decode()
        .unwrap()
}

#[test]
fn a_photo_with_camera_data_gets_a_copy_without_it() {
    let photo = found("reed-before.jpg", DEMO);
    assert_eq!(photo.facts.digest, Digest::of(DEMO));
    assert_eq!(photo.facts.orientation, Some(1));
    let made = photo.made.unwrap();
    assert_eq!(made.listed.transform, jpeg::TRANSFORM);
    assert_eq!(made.listed.file.digest, Digest::of(&made.bytes));
    assert_eq!(made.listed.file.length, made.bytes.len() as u64);
    assert_eq!(made.listed.file.orientation, Some(1));
    assert_eq!(decoded(&made.bytes), decoded(DEMO));
    assert!(exif_of(DEMO).is_some_and(|exif| names_a_place(&exif)));
    assert!(exif_of(&made.bytes).is_none());
    assert_eq!(
        photo.remarks,
        [
            "carries the place where it was taken; reports show a copy without it, the file itself stays in the workshop as it is"
        ]
    );
}

#[test]
fn a_photo_with_nothing_beside_the_picture_needs_no_copy() {
    for bytes in [PLAIN, WITH_PROFILE] {
        let photo = found("photo.jpg", bytes);
        assert!(photo.made.is_none() && photo.remarks.is_empty());
    }
}

#[test]
fn other_kinds_are_refused_with_what_they_are_and_what_to_do() {
    let ftyp = |brand: &[u8; 4]| [b"\0\0\0\x18ftyp".as_slice(), brand, b"\0\0\0\0"].concat();
    let cases: [(&str, Vec<u8>, &str); 9] = [
        (
            "a.heic",
            ftyp(b"heic"),
            "is an HEIC file; JPEG, PNG and TIFF files are allowed; export it as JPEG of high quality, or set the phone to take JPEG (\"most compatible\")",
        ),
        (
            "a.avif",
            ftyp(b"avif"),
            "is an AVIF file; JPEG, PNG and TIFF files are allowed; export it as JPEG of high quality",
        ),
        (
            "a.mp4",
            ftyp(b"isom"),
            "is a film, no photo; JPEG, PNG and TIFF files are allowed; take a photo, or export one frame as JPEG",
        ),
        (
            "a.webp",
            b"RIFF\0\0\0\0WEBPVP8 ".to_vec(),
            "is a WebP file; JPEG, PNG and TIFF files are allowed; save the original as JPEG or PNG",
        ),
        (
            "a.nef",
            b"MM\0*\0\0\0\x08".to_vec(),
            "is a raw file; JPEG, PNG and TIFF files are allowed; export it from the camera's program as JPEG, or as 16-bit TIFF",
        ),
        (
            "a.tif",
            b"II*\0\x10\0\0\0CR\x02\0".to_vec(),
            "is a raw file; JPEG, PNG and TIFF files are allowed; export it from the camera's program as JPEG, or as 16-bit TIFF",
        ),
        (
            "a.orf",
            b"IIRO\x08\0\0\0".to_vec(),
            "is a raw file; JPEG, PNG and TIFF files are allowed; export it from the camera's program as JPEG, or as 16-bit TIFF",
        ),
        (
            "a.jpg",
            Vec::new(),
            "is an empty file; JPEG, PNG and TIFF files are allowed; copy the photo from the camera again",
        ),
        (
            "a.txt",
            b"words".to_vec(),
            "is no picture of a known kind; JPEG, PNG and TIFF files are allowed; export the photo as JPEG of high quality",
        ),
    ];
    for (name, bytes, said) in cases {
        assert_eq!(refused(name, &bytes), said, "{name}");
    }
}

fn level(value: u32) -> u8 {
    u8::try_from(value).unwrap()
}

#[test]
fn png_and_tiff_become_jpeg_close_to_the_pixels() {
    let rgb = RgbImage::from_fn(48, 32, |x, y| Rgb([level(x) * 5, level(y) * 7, 120]));
    for (format, name) in [(ImageFormat::Png, "PNG"), (ImageFormat::Tiff, "TIFF")] {
        let file = coded(rgb.clone(), format);
        let photo = found("a", &file);
        assert_eq!(photo.facts.media_type, format.to_mime_type());
        assert_eq!((photo.facts.width_px, photo.facts.height_px), (48, 32));
        let made = photo.made.unwrap();
        assert_eq!(
            made.listed.transform,
            format!(
                "decoded from {name} and coded as JPEG of quality 95 without colour subsampling; data of place and camera, comments and thumbnails left out"
            )
        );
        assert_eq!(made.listed.file.media_type, "image/jpeg");
        let worst = decoded(&made.bytes)
            .iter()
            .zip(rgb.as_raw())
            .map(|(a, b)| a.abs_diff(*b))
            .max();
        // A smooth picture at quality 95: a few levels at most.
        assert!(worst.unwrap() <= 8, "{name}: {worst:?}");
        // The same file gives the same copy.
        let again = found("a", &file).made.unwrap();
        assert_eq!(again.bytes, made.bytes);
        // And that copy is its own copy.
        assert!(!jpeg::copy(&made.bytes).unwrap().differs());
    }
}

#[test]
fn sixteen_bits_opacity_palette_and_grey_are_converted_and_said() {
    let transform = |file: &[u8]| found("a", file).made.unwrap().listed.transform;
    let first = |file: &[u8]| decoded(&found("a", file).made.unwrap().bytes)[0];
    // 40000 of 65535 is 155.6 of 255.
    let deep = image::ImageBuffer::<Rgb<u16>, _>::from_pixel(16, 16, Rgb([40_000, 40_000, 40_000]));
    let deep = coded(DynamicImage::ImageRgb16(deep), ImageFormat::Tiff);
    assert!(transform(&deep).contains("; 16 bits a sample rounded to 8;"));
    assert!(first(&deep).abs_diff(156) <= 1);
    // Black at opacity 51 of 255 over white is 204.
    let clear = RgbaImage::from_pixel(16, 16, image::Rgba([0, 0, 0, 51]));
    let clear = coded(clear, ImageFormat::Png);
    assert!(transform(&clear).contains("; transparent parts on white;"));
    assert!(first(&clear).abs_diff(204) <= 1);
    let both = image::ImageBuffer::<LumaA<u16>, _>::from_pixel(16, 16, LumaA([0, 13_107]));
    let both = coded(DynamicImage::ImageLumaA16(both), ImageFormat::Png);
    assert!(
        transform(&both).contains("; 16 bits a sample rounded to 8; transparent parts on white;")
    );
    assert!(first(&both).abs_diff(204) <= 1);
    let grey = coded(
        GrayImage::from_pixel(16, 16, image::Luma([77])),
        ImageFormat::Png,
    );
    let made = found("a", &grey).made.unwrap();
    assert_eq!(jpeg::header(&made.bytes).unwrap().components, 1);
    // One bit a sample: 8 × 1 pixels, half of them white; written by hand (PNG, 11.2; from memory).
    let bits = one_bit_png();
    let decoded = decoded(&found("a", &bits).made.unwrap().bytes);
    assert!(
        decoded[0] > 220 && decoded[decoded.len() - 1] < 35,
        "{decoded:?}"
    );
}

/// A grey PNG of 8 × 1 pixels with one bit each, 11110000; stored, not packed.
fn one_bit_png() -> Vec<u8> {
    let chunk = |name: &[u8; 4], data: &[u8]| {
        let mut out = u32::try_from(data.len()).unwrap().to_be_bytes().to_vec();
        out.extend(name);
        out.extend(data);
        out.extend(crc([name.as_slice(), data].concat().as_slice()).to_be_bytes());
        out
    };
    // zlib: a stored block of two bytes (no filter, then the pixels), then Adler-32 of 00 F0.
    let packed = [
        0x78, 0x01, 0x01, 2, 0, 0xfd, 0xff, 0, 0xf0, 0, 0xf2, 0, 0xf1,
    ];
    [
        b"\x89PNG\r\n\x1a\n".to_vec(),
        chunk(b"IHDR", &[0, 0, 0, 8, 0, 0, 0, 1, 1, 0, 0, 0, 0]),
        chunk(b"IDAT", &packed),
        chunk(b"IEND", &[]),
    ]
    .concat()
}

/// CRC-32 as PNG has it.
fn crc(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                0xedb8_8320 ^ (crc >> 1)
            } else {
                crc >> 1
            };
        }
    }
    !crc
}

#[test]
fn what_cannot_be_converted_is_refused_before_it_is_decoded() {
    let float = coded(
        Rgb32FImage::from_pixel(4, 4, Rgb([0.5; 3])),
        ImageFormat::Tiff,
    );
    assert_eq!(
        refused("a.tif", &float),
        "is a TIFF file with samples of 32 bits with a point; 8- and 16-bit grey and RGB pictures are allowed; save it as RGB with 8 or 16 bits a sample and add it again"
    );
    // A header that claims 60000 × 60000 pixels, with nothing behind it.
    let mut bomb = coded(GrayImage::new(8, 8), ImageFormat::Png);
    bomb[16..20].copy_from_slice(&60_000_u32.to_be_bytes());
    bomb[20..24].copy_from_slice(&60_000_u32.to_be_bytes());
    let sum = crc(&bomb[12..29]);
    bomb[29..33].copy_from_slice(&sum.to_be_bytes());
    assert_eq!(
        refused("a.png", &bomb),
        "is 60000 × 60000 pixels; at most 100 million pixels and 65535 on a side are allowed; save it smaller, or in parts, and add it again"
    );
    let whole = coded(GrayImage::new(64, 64), ImageFormat::Tiff);
    for end in [9, 40, whole.len() - 60] {
        let said = refused("a.tif", &whole[..end]);
        assert!(
            said.starts_with("is a TIFF file that cannot be decoded (")
                && said.ends_with("save it as JPEG of high quality and add it again"),
            "{said}"
        );
    }
}

#[test]
fn cmyk_tiff_is_refused_with_words() {
    // One strip of one pixel; entries in ascending order (TIFF 6.0, section 16; from memory).
    let entries: [(u16, u16, u32); 9] = [
        (256, 3, 1),
        (257, 3, 1),
        (258, 3, 8),
        (259, 3, 1),
        (262, 3, 5),
        (273, 4, 122),
        (277, 3, 4),
        (278, 3, 1),
        (279, 4, 4),
    ];
    let mut file = b"II*\0\x08\0\0\0".to_vec();
    file.extend(9_u16.to_le_bytes());
    for (tag, kind, value) in entries {
        file.extend(tag.to_le_bytes());
        file.extend(kind.to_le_bytes());
        if tag == 258 {
            // Four values of 8 bits, after the directory.
            file.extend(4_u32.to_le_bytes());
            file.extend(126_u32.to_le_bytes());
        } else {
            file.extend(1_u32.to_le_bytes());
            file.extend(value.to_le_bytes());
        }
    }
    file.extend([0; 4]);
    assert_eq!(file.len(), 122);
    file.extend([1, 2, 3, 4]);
    file.extend([8, 0, 8, 0, 8, 0, 8, 0]);
    assert_eq!(
        refused("a.tif", &file),
        "is a TIFF file with CMYK colours of a printer; 8- and 16-bit grey and RGB pictures are allowed; save it as RGB with 8 or 16 bits a sample and add it again"
    );
}

#[test]
fn a_profile_goes_along_into_the_copy() {
    let profile = jpeg::copy(WITH_PROFILE).unwrap().profile.unwrap();
    let rgb = RgbImage::from_pixel(16, 16, Rgb([200, 100, 50]));
    let with = |profile: &[u8]| {
        let mut out = Cursor::new(Vec::new());
        let mut encoder = image::codecs::png::PngEncoder::new(&mut out);
        image::ImageEncoder::set_icc_profile(&mut encoder, profile.to_vec()).unwrap();
        rgb.write_with_encoder(encoder).unwrap();
        out.into_inner()
    };
    let made = found("a", &with(&profile)).made.unwrap();
    assert_eq!(jpeg::copy(&made.bytes).unwrap().profile, Some(profile));
    let broken = found("a", &with(b"no profile"));
    let made = broken.made.unwrap();
    assert_eq!(jpeg::copy(&made.bytes).unwrap().profile, None);
    assert!(
        made.listed
            .transform
            .ends_with("; its colour profile is damaged, so it is left out and sRGB is assumed")
    );
    assert_eq!(
        broken.remarks,
        ["its colour profile is damaged; it is shown as sRGB"]
    );
}

fn read_sheet(text: &str) -> (Sheet, Vec<FoundPhoto>) {
    let mut photos = Vec::new();
    let mut sheet = sheet::read(text.as_bytes(), SheetFormat::Toml, &mut |name| {
        let photo = found(name, if name == "reed.jpg" { DEMO } else { PLAIN });
        let facts = photo.facts.clone();
        photos.push(photo);
        Ok(facts)
    })
    .unwrap();
    list_made(&mut sheet, |digest| {
        photos
            .iter()
            .find(|photo| photo.facts.digest == *digest)?
            .made
            .as_ref()
    });
    (sheet, photos)
}

fn sheet_with(photos: &str) -> String {
    format!(
        "[blade]\nid = \"reed\"\ntitle = \"Reed\"\nobject_type = \"long sword\"\nkind_by_make = \"katana\"\nconstruction = \"shinogi_zukuri\"\n{photos}"
    )
}

#[test]
fn the_sheet_lists_what_was_made_once() {
    let text = sheet_with(
        "[[photos]]\nid = \"whole\"\nshows = \"whole\"\ncaption = \"Whole\"\nfile = \"reed.jpg\"\noriginal_kept_private = true\n\
         [[photos]]\nid = \"tang\"\nshows = \"tang\"\ncaption = \"Tang\"\nfile = \"tang.jpg\"\n",
    );
    let (mut sheet, photos) = read_sheet(&text);
    assert_eq!(sheet.photos[0].derivatives.len(), 1);
    assert!(sheet.photos[1].derivatives.is_empty());
    list_made(&mut sheet, |_| photos[0].made.as_ref());
    assert_eq!(sheet.photos[0].derivatives.len(), 1, "not twice");
    // What the sheet itself names for a private photo stands alone.
    sheet.photos[0].derivatives[0].file.digest = Digest::of(b"cut to the tip");
    list_made(&mut sheet, |_| photos[0].made.as_ref());
    assert_eq!(sheet.photos[0].derivatives.len(), 1);
    sheet.photos[0].original_kept_private = false;
    list_made(&mut sheet, |_| photos[0].made.as_ref());
    assert_eq!(sheet.photos[0].derivatives.len(), 2);
}

/// A record with the photos of a sheet.
fn record() -> Record {
    let (sheet, _) = read_sheet(&sheet_with(
        "[[photos]]\nid = \"whole\"\nshows = \"whole\"\ncaption = \"Whole\"\nfile = \"reed.jpg\"\n\
         [[photos]]\nid = \"tang\"\nshows = \"tang\"\ncaption = \"Tang\"\nfile = \"tang.jpg\"\n",
    ));
    let golden = include_bytes!("../../../../samples/records/reed-01-before_work.json");
    let mut record: Record = serde_json::from_slice(golden).unwrap();
    record.photos = sheet.photos;
    record
}

/// The demo photo with another orientation in its Exif block.
fn turned() -> Vec<u8> {
    let mut bytes = DEMO.to_vec();
    // Tag 0112, type SHORT, one value.
    let entry = [1, 0x12, 0, 3, 0, 0, 0, 1];
    let at = bytes
        .windows(8)
        .position(|window| *window == entry)
        .unwrap();
    bytes[at + 9] = 6;
    bytes
}

#[test]
fn a_photo_that_differs_is_named_with_how_it_differs() {
    let record = record();
    let nothing = |_: &Digest| None;
    let kept = |digest: &Digest| {
        [DEMO, PLAIN]
            .into_iter()
            .find(|bytes| Digest::of(bytes) == *digest)
            .map(Cow::Borrowed)
    };
    let made = found("a", DEMO).made.unwrap().bytes;
    let mut other_place = DEMO.to_vec();
    let at = other_place
        .windows(7)
        .position(|window| window == b"HO7-BOD")
        .unwrap();
    other_place[at] = b'X';
    let anew = {
        // Other tables of codes, the same coefficients: what a lossless program does.
        let mut bytes = made.clone();
        let frame = bytes
            .windows(2)
            .position(|window| window == [0xff, 0xc0])
            .unwrap();
        // Extended coding decodes a baseline file to the same pixels.
        bytes[frame + 1] = 0xc1;
        bytes
    };
    let with_loss = {
        let pixels = decoded(&made);
        let header = jpeg::header(&made).unwrap();
        let mut out = Vec::new();
        jpeg_encoder::Encoder::new(&mut out, 70)
            .encode(
                &pixels,
                header.width,
                header.height,
                jpeg_encoder::ColorType::Rgb,
            )
            .unwrap();
        out
    };
    // A JFIF segment and a colour profile before the same picture data.
    let beside = |segments: &[u8]| [&made[..2], segments, &made[2..]].concat();
    let density = beside(&[
        0xff, 0xe0, 0, 16, b'J', b'F', b'I', b'F', 0, 1, 1, 1, 0, 99, 0, 99, 0, 0,
    ]);
    let profile = {
        let at = WITH_PROFILE
            .windows(2)
            .position(|window| window == [0xff, 0xe2])
            .unwrap();
        let length = usize::from(u16::from_be_bytes([
            WITH_PROFILE[at + 2],
            WITH_PROFILE[at + 3],
        ]));
        beside(&WITH_PROFILE[at..at + 2 + length])
    };
    let whole = &record.photos[0];
    let said = |bytes: &[u8]| compare(&record, whole, bytes, &kept).to_string();
    assert_eq!(said(DEMO), "is the original that the record names");
    assert_eq!(
        said(&made),
        "is the copy made from the original that the record names"
    );
    // Verification cases: swapped, coded anew, Exif only, turned; each says something else.
    assert_eq!(
        said(PLAIN),
        "is the file of `tang`, which the record also names: the files are swapped"
    );
    assert_eq!(
        said(&other_place),
        "has the same picture data and orientation, but other data beside them (place, camera, comments): those were changed after sealing"
    );
    assert_eq!(
        said(&turned()),
        "has the same picture data, but orientation 6 where the record says 1: it was turned after sealing"
    );
    for bytes in [&density, &profile] {
        assert_ne!(jpeg::copy(bytes).unwrap().bytes, made);
        assert_eq!(
            said(bytes),
            "has the same picture data and orientation, but another colour profile or density: those were changed after sealing"
        );
    }
    assert_eq!(
        said(&anew),
        "has the same pixels, but they were coded anew: it was saved again after sealing"
    );
    assert_eq!(
        said(&with_loss),
        "holds picture data that no file of this photo at hand has: it is another picture, or was saved again with a loss"
    );
    assert_eq!(
        said(WITH_PROFILE),
        "is 1024 × 640 pixels where the record says 1600 × 380: it is another picture, or was cut or made smaller"
    );
    assert_eq!(
        said(b"\x89PNG\r\n\x1a\n"),
        "is not the file that the record names, and is not a JPEG file"
    );
    // With the record alone, without any file of the workshop, the copy it lists tells all but a new coding.
    let alone = |bytes: &[u8]| compare(&record, whole, bytes, &nothing);
    assert_eq!(alone(&other_place), PhotoVerdict::OtherMetadata);
    assert_eq!(
        alone(&turned()),
        PhotoVerdict::Turned { found: 6, named: 1 }
    );
    assert!(matches!(alone(&anew), PhotoVerdict::Other { found, named } if found == named));
    assert!(alone(DEMO).is_same() && !alone(&anew).is_same());
}
