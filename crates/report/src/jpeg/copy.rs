//! A copy of a JPEG file with nothing in it but the picture and its colour profile.

use std::borrow::Cow;

use super::{
    Header, JpegError,
    profile::{self, ProfileFault},
    segments::{COMMENT, Part, SCAN, parts},
};

/// What is said of the copy beside its digest.
pub const TRANSFORM: &str =
    "segments with place, camera, comments and thumbnails left out; picture data unchanged";

/// Beginning of a JFIF segment.
const JFIF: &[u8] = b"JFIF\0";
/// Length of a JFIF segment without thumbnail.
const JFIF_LENGTH: usize = 14;
/// Beginning and length of the segment that tells the colour transform.
const ADOBE: &[u8] = b"Adobe";
const ADOBE_LENGTH: usize = 12;
/// Beginning of a segment with a part of the colour profile.
const ICC: &[u8] = b"ICC_PROFILE\0";

/// The copy and what it holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Copied<'a> {
    /// The copy; borrowed where it is the file itself, byte for byte.
    pub bytes: Cow<'a, [u8]>,
    /// What its header says.
    pub header: Header,
    /// The colour profile, where it has a sound one.
    pub profile: Option<Vec<u8>>,
    /// Why the colour profile was left out, where it was.
    pub profile_left_out: Option<ProfileFault>,
}

impl Copied<'_> {
    /// Whether anything was left out.
    pub const fn differs(&self) -> bool {
        matches!(self.bytes, Cow::Owned(_))
    }

    /// Returns the words for what was done to make the copy.
    pub fn transform(&self) -> String {
        match &self.profile_left_out {
            None => TRANSFORM.to_owned(),
            Some(fault) => format!(
                "{TRANSFORM}; its colour profile {fault}, so it is left out and sRGB is assumed"
            ),
        }
    }

    /// Returns the copy without colour profile and JFIF segment: what is left is the coded picture, its tables and the
    /// segment that tells the colour transform.
    ///
    /// # Errors
    /// None in practice: the copy is a sound JPEG file.
    pub fn picture(&self) -> Result<Vec<u8>, JpegError> {
        let mut out = Vec::with_capacity(self.bytes.len());
        out.extend([0xff, 0xd8]);
        for part in parts(&self.bytes)? {
            match part? {
                // Of these markers the copy has nothing else.
                Part::Segment {
                    marker: 0xe0 | 0xe2,
                    ..
                } => {}
                part => write(&mut out, part),
            }
        }
        Ok(out)
    }
}

/// Copies a JPEG file segment by segment.
///
/// Kept byte for byte: frame, tables, restart interval and all coded picture data; the segment that tells the colour
/// transform; a sound colour profile. Of the JFIF segment its thumbnail is left out. Everything else is left out: Exif
/// with place, serial numbers and thumbnail, XMP, comments, editing history, further pictures, and whatever follows the
/// end of the picture. The same file gives the same copy, and the copy of a copy is the copy.
///
/// # Errors
/// Says why the file is no sound JPEG file that a report can embed.
///
/// Source: segments and their order, ITU-T T.81 annex B; JFIF segment, ITU-T T.871, 10; Adobe segment and profile in
/// segments, ISO 32000-1, 7.4.8 and ICC.1:2004-10, B.4 (from memory).
pub fn copy(bytes: &[u8]) -> Result<Copied<'_>, JpegError> {
    let mut found = Vec::new();
    let mut header = None;
    for part in parts(bytes)? {
        let part = part?;
        if let Part::Frame {
            process,
            payload,
            end,
        } = part
        {
            header = Some(Header::of(process, payload, end)?);
        }
        found.push(part);
    }
    let header = header.ok_or(JpegError::NoFrame)?;
    let (profile, profile_left_out) = match profile::joined(found.iter().filter_map(profile_part)) {
        None => (None, None),
        Some(joined) => match joined.and_then(|profile| profile::sound(profile, header.components))
        {
            Ok(profile) => (Some(profile), None),
            Err(fault) => (None, Some(fault)),
        },
    };
    let mut out = Vec::with_capacity(bytes.len());
    out.extend([0xff, 0xd8]);
    let mut profile_written = profile.is_none();
    let mut jfif = false;
    for part in &found {
        match *part {
            Part::Segment { marker, payload } => match marker {
                0xe0 if payload.starts_with(JFIF) && payload.len() >= JFIF_LENGTH && !jfif => {
                    jfif = true;
                    // The last two bytes are width and height of a thumbnail.
                    let mut bare = payload.get(..JFIF_LENGTH).unwrap_or_default().to_vec();
                    bare[JFIF_LENGTH - 2..].fill(0);
                    segment(&mut out, marker, &bare);
                }
                0xee if payload.starts_with(ADOBE) => {
                    if let Some(bare) = payload.get(..ADOBE_LENGTH) {
                        segment(&mut out, marker, bare);
                    }
                }
                0xe2 if payload.starts_with(ICC) => {
                    if !profile_written {
                        profile_written = true;
                        let mut chunks: Vec<_> = found.iter().filter_map(profile_part).collect();
                        chunks.sort_unstable_by_key(|chunk| chunk.number);
                        for chunk in chunks {
                            segment(&mut out, marker, chunk.payload);
                        }
                    }
                }
                0xe0..=0xef | COMMENT => {}
                _ => write(&mut out, *part),
            },
            part => write(&mut out, part),
        }
    }
    let bytes = if out == bytes {
        Cow::Borrowed(bytes)
    } else {
        Cow::Owned(out)
    };
    Ok(Copied {
        bytes,
        header,
        profile,
        profile_left_out,
    })
}

fn profile_part<'a>(part: &Part<'a>) -> Option<profile::Chunk<'a>> {
    match *part {
        Part::Segment {
            marker: 0xe2,
            payload,
        } => {
            let &[number, of, ref data @ ..] = payload.strip_prefix(ICC)? else {
                return Some(profile::Chunk {
                    number: 0,
                    of: 0,
                    data: &[],
                    payload,
                });
            };
            Some(profile::Chunk {
                number,
                of,
                data,
                payload,
            })
        }
        _ => None,
    }
}

/// Writes a part as it is.
fn write(out: &mut Vec<u8>, part: Part<'_>) {
    match part {
        Part::Frame {
            process, payload, ..
        } => segment(out, 0xc0 + process, payload),
        Part::Scan { payload, data } => {
            segment(out, SCAN, payload);
            out.extend(data);
        }
        Part::Segment { marker, payload } => segment(out, marker, payload),
        Part::End => out.extend([0xff, 0xd9]),
    }
}

/// Writes a segment. A payload comes from a segment, so its length fits into the length field.
fn segment(out: &mut Vec<u8>, marker: u8, payload: &[u8]) {
    let length = u16::try_from(payload.len() + 2).unwrap_or(u16::MAX);
    out.extend([0xff, marker]);
    out.extend(length.to_be_bytes());
    out.extend(payload);
}
