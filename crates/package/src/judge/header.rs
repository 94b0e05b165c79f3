//! What the header of a photo says: pixels and orientation. Nothing is decoded.
//!
//! Source: ITU-T T.81, B.2 (frame header, segments); PNG specification, 11.2.2 (IHDR); TIFF 6.0, section 2 and tags 256,
//! 257, 274; all from memory.

use super::photos::Facts;

/// Bytes of a photo that are looked at.
pub(super) const LOOKED_AT: usize = 1 << 20;

/// Reads the header from the first bytes of a file; none where it is no photo that can be read.
pub(super) fn facts(bytes: &[u8]) -> Option<Facts> {
    match bytes {
        [0xff, 0xd8, ..] => jpeg(bytes),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => png(bytes),
        _ => tiff(bytes)?.facts(),
    }
}

fn sound(width: u32, height: u32, orientation: Option<u32>) -> Option<Facts> {
    let known = orientation.filter(|turn| (1..=8).contains(turn));
    (width > 0 && height > 0).then_some(Facts {
        width,
        height,
        orientation: known.and_then(|turn| u8::try_from(turn).ok()),
    })
}

fn big(bytes: &[u8], at: usize) -> Option<u32> {
    let pair: [u8; 2] = bytes.get(at..at + 2)?.try_into().ok()?;
    Some(u32::from(u16::from_be_bytes(pair)))
}

fn jpeg(bytes: &[u8]) -> Option<Facts> {
    let (mut at, mut orientation, mut seen) = (2, None, false);
    loop {
        if *bytes.get(at)? != 0xff {
            return None;
        }
        let marker = *bytes.get(at + 1)?;
        match marker {
            // Fill bytes, and markers without a segment.
            0xff => at += 1,
            0x01 | 0xd0..=0xd7 => at += 2,
            0xd9 | 0xda => return None,
            _ => {
                let length = usize::try_from(big(bytes, at + 2)?).ok()?;
                let segment = bytes.get(at + 4..at + 2 + length)?;
                let frame = matches!(marker, 0xc0..=0xcf) && !matches!(marker, 0xc4 | 0xc8 | 0xcc);
                if frame {
                    return sound(big(segment, 3)?, big(segment, 1)?, orientation);
                }
                if let (0xe1, false, Some(exif)) = (marker, seen, segment.strip_prefix(b"Exif\0\0"))
                {
                    seen = true;
                    orientation = tiff(exif).and_then(|tags| tags.orientation);
                }
                at += 2 + length;
            }
        }
    }
}

fn png(bytes: &[u8]) -> Option<Facts> {
    let header = bytes.get(12..24)?.strip_prefix(b"IHDR")?;
    let number = |at: usize| -> Option<u32> {
        Some(u32::from_be_bytes(header.get(at..at + 4)?.try_into().ok()?))
    };
    sound(number(0)?, number(4)?, None)
}

/// Tags of the first directory.
#[derive(Default)]
struct Tags {
    width: Option<u32>,
    height: Option<u32>,
    orientation: Option<u32>,
}

impl Tags {
    fn facts(&self) -> Option<Facts> {
        sound(self.width?, self.height?, self.orientation)
    }
}

fn tiff(bytes: &[u8]) -> Option<Tags> {
    let little = match bytes.get(..4)? {
        b"II*\0" => true,
        b"MM\0*" => false,
        _ => return None,
    };
    let short = |at: usize| -> Option<u32> {
        let pair: [u8; 2] = bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        let number = if little {
            u16::from_le_bytes(pair)
        } else {
            u16::from_be_bytes(pair)
        };
        Some(u32::from(number))
    };
    let long = |at: usize| -> Option<u32> {
        let four: [u8; 4] = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if little {
            u32::from_le_bytes(four)
        } else {
            u32::from_be_bytes(four)
        })
    };
    let start = usize::try_from(long(4)?).ok()?;
    let count = usize::try_from(short(start)?).ok()?;
    let mut tags = Tags::default();
    for index in 0..count {
        let entry = start + 2 + 12 * index;
        let (Some(tag), Some(kind), Some(values)) =
            (short(entry), short(entry + 2), long(entry + 4))
        else {
            break;
        };
        // One value, SHORT (3) or LONG (4), stands in the entry itself.
        let value = match (kind, values) {
            (3, 1) => short(entry + 8),
            (4, 1) => long(entry + 8),
            _ => None,
        };
        match tag {
            256 => tags.width = value,
            257 => tags.height = value,
            274 => tags.orientation = value,
            _ => {}
        }
    }
    Some(tags)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    /// A TIFF header with one directory of SHORT values.
    fn directory(little: bool, tags: &[(u16, u16)]) -> Vec<u8> {
        let short = |number: u16| {
            if little {
                number.to_le_bytes()
            } else {
                number.to_be_bytes()
            }
        };
        let long = |number: u32| {
            if little {
                number.to_le_bytes()
            } else {
                number.to_be_bytes()
            }
        };
        let mut bytes = if little {
            b"II*\0".to_vec()
        } else {
            b"MM\0*".to_vec()
        };
        bytes.extend(long(8));
        bytes.extend(short(u16::try_from(tags.len()).unwrap()));
        for (tag, value) in tags {
            bytes.extend(short(*tag));
            bytes.extend(short(3));
            bytes.extend(long(1));
            bytes.extend(short(*value));
            bytes.extend([0, 0]);
        }
        bytes.extend([0; 4]);
        bytes
    }

    fn segment(marker: u8, data: &[u8]) -> Vec<u8> {
        let length = u16::try_from(data.len() + 2).unwrap().to_be_bytes();
        [&[0xff, marker][..], &length, data].concat()
    }

    #[test]
    fn each_kind_of_photo_is_read() {
        let exif = |turn| [b"Exif\0\0".to_vec(), directory(true, &[(274, turn)])].concat();
        let frame = segment(0xc2, &[8, 0, 40, 1, 0, 3, 0, 0, 0]);
        let jpeg = [
            vec![0xff, 0xd8],
            segment(0xe0, b"JFIF\0"),
            segment(0xe1, &exif(6)),
            segment(0xe1, &exif(3)),
            vec![0xff],
            frame.clone(),
        ]
        .concat();
        let wanted = |orientation| {
            Some(Facts {
                width: 256,
                height: 40,
                orientation,
            })
        };
        assert_eq!(facts(&jpeg), wanted(Some(6)));
        assert_eq!(facts(&[vec![0xff, 0xd8], frame].concat()), wanted(None));
        let png = [
            &b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR"[..],
            &256_u32.to_be_bytes(),
            &40_u32.to_be_bytes(),
        ]
        .concat();
        assert_eq!(facts(&png), wanted(None));
        for little in [true, false] {
            let tiff = directory(little, &[(256, 256), (257, 40), (274, 9)]);
            assert_eq!(
                facts(&tiff),
                wanted(None),
                "an orientation that there is not"
            );
            let tiff = directory(little, &[(256, 256), (257, 40), (274, 8)]);
            assert_eq!(facts(&tiff), wanted(Some(8)));
        }
    }

    #[test]
    fn cut_or_strange_headers_say_nothing() {
        let jpeg = [
            vec![0xff, 0xd8],
            segment(0xe0, b"JFIF\0"),
            segment(0xc0, &[8, 0, 40, 1, 0, 3]),
        ]
        .concat();
        for end in 0..jpeg.len() {
            assert_eq!(facts(&jpeg[..end]), None, "{end}");
        }
        assert_eq!(facts(&[0xff, 0xd8, 0xff, 0xda, 0, 2]), None);
        assert_eq!(facts(b"no photo at all, only words"), None);
        assert_eq!(facts(&directory(true, &[(256, 5)])), None);
        // A directory that lies outside, at the end of all numbers.
        assert_eq!(facts(b"II*\0\xff\xff\xff\xff"), None);
    }
}
