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
    // 3 is lossless, 9 and 10 are arithmetic coding (ITU-T T.81, table B.1).
    for process in [3, 9, 10] {
        assert_eq!(
            text(&head(process, 8, 640, 480, 3)),
            format!(
                "uses JPEG coding process {process}; baseline, extended and progressive Huffman coding (0, 1, 2) are allowed"
            )
        );
    }
    assert_eq!(
        text(&head(0, 8, 0, 480, 3)),
        "is 0 × 480 pixels; at least 1 × 1 is needed"
    );
    assert_eq!(
        text(&head(0, 8, 65_000, 65_000, 3)),
        "is 65000 × 65000 pixels; at most 250 million pixels are allowed"
    );
    assert_eq!(text(b"\x89PNG\r\n\x1a\n0000"), "is not a JPEG file");
    let good = head(0, 8, 640, 480, 3);
    for end in 0..good.len() {
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

pub(crate) mod files;
mod leaving_out;
mod profiles;
