//! A zip writer that can write what no good one writes. Source: APPNOTE.TXT of the zip format, 4.3 and 4.4 (from memory).

use std::io::Write as _;

/// One entry, with everything a hostile file may say otherwise than it is.
#[derive(Clone, Debug, Default)]
pub struct Entry {
    /// Name in the directory.
    pub name: Vec<u8>,
    /// Name in the local header, where it is another one.
    pub local_name: Option<Vec<u8>>,
    /// The bytes of the file.
    pub data: Vec<u8>,
    /// Deflated (method 8) instead of stored (method 0).
    pub deflated: bool,
    /// Another method in both headers.
    pub method: Option<u16>,
    /// Another method in the local header alone.
    pub local_method: Option<u16>,
    /// Sizes and check sum follow the data in a descriptor.
    pub descriptor: bool,
    /// Added to the flags of both headers.
    pub flags: u16,
    /// Another check sum in the directory.
    pub crc: Option<u32>,
    /// Another length in the directory.
    pub length: Option<u32>,
    /// Another packed length in the directory.
    pub packed: Option<u32>,
    /// Another place in the directory.
    pub offset: Option<u32>,
    /// Extra field of the directory.
    pub extra: Vec<u8>,
    /// Mode of a Unix file; 0 for none.
    pub mode: u32,
    /// Number of the disk.
    pub disk: u16,
    /// Bytes behind it that belong to nothing.
    pub gap: Vec<u8>,
}

impl Entry {
    /// A stored file.
    pub fn stored(name: &str, data: &[u8]) -> Self {
        Self {
            name: name.as_bytes().to_vec(),
            data: data.to_vec(),
            ..Self::default()
        }
    }
}

/// A zip file.
#[derive(Clone, Debug, Default)]
pub struct Zip {
    /// Entries.
    pub entries: Vec<Entry>,
    /// Bytes before the first.
    pub before: Vec<u8>,
    /// Bytes after the end record.
    pub after: Vec<u8>,
    /// Comment of the archive.
    pub comment: Vec<u8>,
    /// Another number of entries in the end record.
    pub counted: Option<u16>,
    /// Number of this disk in the end record.
    pub disk: u16,
}

/// 1980-01-01, the first day that zip knows.
const DAY: u16 = 0x0021;

fn deflate(bytes: &[u8]) -> Vec<u8> {
    let mut encoder =
        flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::default());
    // Writing to memory does not fail.
    let _ = encoder.write_all(bytes);
    encoder.finish().unwrap_or_default()
}

fn number(length: usize) -> u32 {
    u32::try_from(length).unwrap_or(u32::MAX)
}

fn short(length: usize) -> u16 {
    u16::try_from(length).unwrap_or(u16::MAX)
}

impl Zip {
    /// The bytes.
    pub fn write(&self) -> Vec<u8> {
        let mut out = self.before.clone();
        let mut directory = Vec::new();
        for entry in &self.entries {
            let offset = number(out.len());
            entry.write(offset, &mut out, &mut directory);
        }
        let start = number(out.len());
        out.extend(&directory);
        let counted = self.counted.unwrap_or(short(self.entries.len()));
        out.extend(b"PK\x05\x06");
        for half in [self.disk, self.disk, counted, counted] {
            out.extend(half.to_le_bytes());
        }
        out.extend(number(directory.len()).to_le_bytes());
        out.extend(start.to_le_bytes());
        out.extend(short(self.comment.len()).to_le_bytes());
        out.extend(&self.comment);
        out.extend(&self.after);
        out
    }
}

impl Entry {
    fn write(&self, offset: u32, out: &mut Vec<u8>, directory: &mut Vec<u8>) {
        let packed = if self.deflated {
            deflate(&self.data)
        } else {
            self.data.clone()
        };
        let method = self.method.unwrap_or(if self.deflated { 8 } else { 0 });
        let flags = self.flags | if self.descriptor { 8 } else { 0 };
        let crc = self.crc.unwrap_or_else(|| crc32fast::hash(&self.data));
        let length = self.length.unwrap_or(number(self.data.len()));
        let packed_length = self.packed.unwrap_or(number(packed.len()));
        let local_name = self.local_name.as_ref().unwrap_or(&self.name);

        out.extend(b"PK\x03\x04");
        out.extend(20_u16.to_le_bytes());
        for half in [flags, self.local_method.unwrap_or(method), 0, DAY] {
            out.extend(half.to_le_bytes());
        }
        let stated = if self.descriptor {
            [0; 3]
        } else {
            [
                crc32fast::hash(&self.data),
                number(packed.len()),
                number(self.data.len()),
            ]
        };
        for word in stated {
            out.extend(word.to_le_bytes());
        }
        out.extend(short(local_name.len()).to_le_bytes());
        out.extend(0_u16.to_le_bytes());
        out.extend(local_name);
        out.extend(&packed);
        if self.descriptor {
            out.extend(b"PK\x07\x08");
            for word in [crc, packed_length, length] {
                out.extend(word.to_le_bytes());
            }
        }
        out.extend(&self.gap);

        let made_by: u16 = if self.mode == 0 { 20 } else { 0x0314 };
        directory.extend(b"PK\x01\x02");
        for half in [made_by, 20, flags, method, 0, DAY] {
            directory.extend(half.to_le_bytes());
        }
        for word in [crc, packed_length, length] {
            directory.extend(word.to_le_bytes());
        }
        for half in [
            short(self.name.len()),
            short(self.extra.len()),
            0,
            self.disk,
            0,
        ] {
            directory.extend(half.to_le_bytes());
        }
        directory.extend((self.mode << 16).to_le_bytes());
        directory.extend(self.offset.unwrap_or(offset).to_le_bytes());
        directory.extend(&self.name);
        directory.extend(&self.extra);
    }
}
