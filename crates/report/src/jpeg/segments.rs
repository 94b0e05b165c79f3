//! The parts of a JPEG file, one after the other.

use super::JpegError;

/// One part of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Part<'a> {
    /// A marker segment that is neither frame nor scan.
    Segment {
        /// Number of the marker.
        marker: u8,
        /// What follows its length.
        payload: &'a [u8],
    },
    /// The frame header.
    Frame {
        /// Coding process, the marker less C0.
        process: u8,
        /// What follows its length.
        payload: &'a [u8],
        /// Where it ends in the file.
        end: usize,
    },
    /// A scan header with the coded picture data after it.
    Scan {
        /// What follows the length of the header.
        payload: &'a [u8],
        /// Coded picture data with its restart markers.
        data: &'a [u8],
    },
    /// The end of the picture; what follows in the file is no part of it.
    End,
}

/// Number of the scan header's marker.
pub(super) const SCAN: u8 = 0xda;
/// Number of the comment's marker.
pub(super) const COMMENT: u8 = 0xfe;

/// Walks through a file. It ends after [`Part::End`] or the first fault.
///
/// Source: ITU-T T.81, B.1.1 (markers, fill bytes, segments) and B.2.1 (order of the parts).
pub(super) fn parts(bytes: &[u8]) -> Result<Parts<'_>, JpegError> {
    if !bytes.starts_with(&[0xff, 0xd8]) {
        return Err(JpegError::NotJpeg);
    }
    Ok(Parts {
        bytes,
        at: 2,
        frame: false,
        scans: false,
        over: false,
    })
}

pub(super) struct Parts<'a> {
    bytes: &'a [u8],
    at: usize,
    frame: bool,
    scans: bool,
    over: bool,
}

impl<'a> Iterator for Parts<'a> {
    type Item = Result<Part<'a>, JpegError>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.over {
            return None;
        }
        let part = self.part();
        self.over = !matches!(
            part,
            Ok(Part::Segment { .. } | Part::Frame { .. } | Part::Scan { .. })
        );
        Some(part)
    }
}

impl<'a> Parts<'a> {
    fn byte(&self, at: usize) -> Result<u8, JpegError> {
        self.bytes.get(at).copied().ok_or_else(|| self.short())
    }

    fn short(&self) -> JpegError {
        if self.scans {
            JpegError::Unfinished(self.bytes.len())
        } else {
            JpegError::Truncated(self.bytes.len())
        }
    }

    fn part(&mut self) -> Result<Part<'a>, JpegError> {
        let start = self.at;
        let found = self.byte(start)?;
        if found != 0xff {
            return Err(JpegError::NoMarker { at: start, found });
        }
        // Fill bytes: any number of FF may come before a marker.
        while self.byte(self.at)? == 0xff {
            self.at += 1;
        }
        let marker = self.byte(self.at)?;
        self.at += 1;
        match marker {
            0xd9 if self.frame && self.scans => Ok(Part::End),
            0xd9 => Err(JpegError::NoFrame),
            // Start of frame; C4, C8 and CC are tables and an extension.
            0xc0..=0xcf if !matches!(marker, 0xc4 | 0xc8 | 0xcc) => {
                if self.frame {
                    return Err(JpegError::SecondFrame(start));
                }
                let payload = self.payload()?;
                self.frame = true;
                Ok(Part::Frame {
                    process: marker - 0xc0,
                    payload,
                    end: self.at,
                })
            }
            SCAN => {
                if !self.frame {
                    return Err(JpegError::NoFrame);
                }
                let payload = self.payload()?;
                self.scans = true;
                let data = self.coded()?;
                Ok(Part::Scan { payload, data })
            }
            // Tables, restart interval, number of lines, application data and comments. CC belongs to arithmetic coding,
            // which the frame header tells, and is refused for.
            0xc4 | 0xcc | 0xdb..=0xdd | 0xe0..=0xef | COMMENT => {
                let payload = self.payload()?;
                Ok(Part::Segment { marker, payload })
            }
            _ => Err(JpegError::Marker { at: start, marker }),
        }
    }

    fn payload(&mut self) -> Result<&'a [u8], JpegError> {
        let start = self.at;
        let length = u16::from_be_bytes([self.byte(start)?, self.byte(start + 1)?]);
        if length < 2 {
            return Err(JpegError::SegmentLength { at: start, length });
        }
        let end = start + usize::from(length);
        let payload = self.bytes.get(start + 2..end).ok_or_else(|| self.short())?;
        self.at = end;
        Ok(payload)
    }

    /// Coded data up to the next marker that is no restart marker, without fill bytes before it.
    fn coded(&mut self) -> Result<&'a [u8], JpegError> {
        let start = self.at;
        let mut at = start;
        loop {
            let rest = self.bytes.get(at..).unwrap_or_default();
            let Some(found) = memchr::memchr(0xff, rest) else {
                return Err(JpegError::Unfinished(self.bytes.len()));
            };
            let marker_at = at + found;
            let mut next = marker_at + 1;
            while self.byte(next)? == 0xff {
                next += 1;
            }
            // FF00 is a data byte FF; D0 to D7 restart the decoder.
            if !matches!(self.byte(next)?, 0x00 | 0xd0..=0xd7) {
                self.at = marker_at;
                return Ok(self.bytes.get(start..marker_at).unwrap_or_default());
            }
            at = next + 1;
        }
    }
}
