//! The end record, the directory, and the headers before the entries.

use std::collections::BTreeSet;

use super::{Entry, Method, ReadAt};
use crate::open::{Refusal, Rule};
use crate::path::{self, Paths};

const END: u32 = 0x0605_4b50;
const END_LENGTH: u64 = 22;
const DIRECTORY: u32 = 0x0201_4b50;
const DIRECTORY_LENGTH: usize = 46;
const LOCAL: u32 = 0x0403_4b50;
const LOCAL_LENGTH: usize = 30;
const DESCRIPTOR: u32 = 0x0807_4b50;
/// Longest directory that is read, in bytes.
const LONGEST_DIRECTORY: u64 = 16 << 20;
/// Flags: encryption, a data descriptor, strong encryption, names in UTF-8, a masked directory.
const ENCRYPTED: u16 = 1 | 1 << 6 | 1 << 13;
const DESCRIBED: u16 = 1 << 3;
const UTF_8: u16 = 1 << 11;
/// Extra fields: zip64, and a second name.
const ZIP64: u16 = 0x0001;
const SECOND_NAME: u16 = 0x7075;
/// Unix types in the external attributes. Source: POSIX, sys/stat.h (from memory).
const TYPE: u32 = 0o170_000;
const PLAIN: u32 = 0o100_000;
const FOLDER: u32 = 0o040_000;
const LINK: u32 = 0o120_000;

fn short(bytes: &[u8], at: usize) -> u16 {
    bytes
        .get(at..at + 2)
        .and_then(|bytes| bytes.try_into().ok())
        .map_or(0, u16::from_le_bytes)
}

fn long(bytes: &[u8], at: usize) -> u32 {
    bytes
        .get(at..at + 4)
        .and_then(|bytes| bytes.try_into().ok())
        .map_or(0, u32::from_le_bytes)
}

fn bytes_at(source: &dyn ReadAt, start: u64, length: u64) -> Result<Vec<u8>, Refusal> {
    if start
        .checked_add(length)
        .is_none_or(|end| end > source.length())
    {
        return Err(Refusal::new(
            Rule::ZipGaps,
            "",
            format!(
                "bytes {start} to {} are named, the file has {}",
                start.saturating_add(length),
                source.length()
            ),
        ));
    }
    let length = usize::try_from(length).unwrap_or(usize::MAX);
    let mut bytes = vec![0; length];
    source
        .fill(&mut bytes, start)
        .map_err(|error| Refusal::unreadable("", &error))?;
    Ok(bytes)
}

/// Returns the files that a zip file lists, in the order of its directory, and checks everything about them but the data
/// themselves. Paths go into `paths`.
///
/// # Errors
/// The first rule it breaks.
pub(crate) fn list(source: &dyn ReadAt, paths: &mut Paths) -> Result<Vec<Entry>, Refusal> {
    let refused = |rule, found: String| Err(Refusal::new(rule, "", found));
    let Some(end) = source.length().checked_sub(END_LENGTH) else {
        return refused(
            Rule::ZipEnd,
            format!("a file of {} bytes, no zip file", source.length()),
        );
    };
    let record = bytes_at(source, end, END_LENGTH)?;
    if long(&record, 0) != END {
        return refused(
            Rule::ZipEnd,
            "no end record there: no zip file, cut off, or with a comment or other bytes behind it"
                .to_owned(),
        );
    }
    if short(&record, 20) != 0 {
        return refused(
            Rule::ZipEnd,
            format!("a comment of {} bytes", short(&record, 20)),
        );
    }
    let (count, here) = (short(&record, 10), short(&record, 8));
    let (length, start) = (long(&record, 12), long(&record, 16));
    if count == u16::MAX || here == u16::MAX || length == u32::MAX || start == u32::MAX {
        return refused(Rule::ZipForm, "zip64".to_owned());
    }
    if short(&record, 4) != 0 || short(&record, 6) != 0 || count != here {
        return refused(Rule::ZipEnd, "a part of several".to_owned());
    }
    let (length, start) = (u64::from(length), u64::from(start));
    if length > LONGEST_DIRECTORY {
        return refused(Rule::ZipDirectory, format!("{length} bytes"));
    }
    if start.checked_add(length) != Some(end) {
        return refused(
            Rule::ZipGaps,
            format!(
                "a directory from byte {start} to {}, the end record begins at {end}",
                start + length
            ),
        );
    }
    let directory = bytes_at(source, start, length)?;
    let headers = headers(&directory, count)?;
    follow(source, &headers, start, paths)
}

/// One header of the directory.
struct Header<'d> {
    name: &'d [u8],
    flags: u16,
    method: u16,
    crc: u32,
    packed: u32,
    length: u32,
    external: u32,
    offset: u64,
}

fn headers(directory: &[u8], count: u16) -> Result<Vec<Header<'_>>, Refusal> {
    let mut headers = Vec::with_capacity(usize::from(count));
    let mut rest = directory;
    while !rest.is_empty() {
        let sound = rest.len() >= DIRECTORY_LENGTH && long(rest, 0) == DIRECTORY;
        let name_end = DIRECTORY_LENGTH + usize::from(short(rest, 28));
        let extra_end = name_end + usize::from(short(rest, 30));
        let whole = extra_end + usize::from(short(rest, 32));
        if !sound || rest.len() < whole {
            let found = format!("no whole header after {} of them", headers.len());
            return Err(Refusal::new(Rule::ZipDirectory, "", found));
        }
        let name = &rest[DIRECTORY_LENGTH..name_end];
        let refused = |rule, found: &str| Refusal::new(rule, &String::from_utf8_lossy(name), found);
        extra(&rest[name_end..extra_end]).map_err(|found| refused(Rule::ZipForm, found))?;
        let (packed, length, offset) = (long(rest, 20), long(rest, 24), long(rest, 42));
        if [packed, length, offset].contains(&u32::MAX) {
            return Err(refused(Rule::ZipForm, "zip64"));
        }
        if short(rest, 34) != 0 {
            return Err(refused(Rule::ZipEnd, "a part of several"));
        }
        headers.push(Header {
            name,
            flags: short(rest, 8),
            method: short(rest, 10),
            crc: long(rest, 16),
            packed,
            length,
            external: long(rest, 38),
            offset: u64::from(offset),
        });
        rest = &rest[whole..];
    }
    if headers.len() != usize::from(count) {
        let found = format!("{} entries, the end record says {count}", headers.len());
        return Err(Refusal::new(Rule::ZipDirectory, "", found));
    }
    Ok(headers)
}

/// Looks through extra fields for those that change what an entry is.
fn extra(mut fields: &[u8]) -> Result<(), &'static str> {
    while !fields.is_empty() {
        let next = 4 + usize::from(short(fields, 2));
        if fields.len() < next {
            return Err("extra fields that are not whole");
        }
        match short(fields, 0) {
            ZIP64 => return Err("zip64"),
            SECOND_NAME => return Err("a second name"),
            _ => fields = &fields[next..],
        }
    }
    Ok(())
}

/// Goes from the first byte to the directory, entry after entry.
fn follow(
    source: &dyn ReadAt,
    headers: &[Header<'_>],
    directory: u64,
    paths: &mut Paths,
) -> Result<Vec<Entry>, Refusal> {
    let mut order: Vec<usize> = (0..headers.len()).collect();
    order.sort_by_key(|index| headers[*index].offset);
    let mut starts = vec![0; headers.len()];
    let mut at = 0;
    for (place, index) in order.iter().enumerate() {
        let header = &headers[*index];
        let name = String::from_utf8_lossy(header.name).into_owned();
        if header.offset != at {
            let found = format!(
                "it begins at byte {}, the one before ends at {at}",
                header.offset
            );
            return Err(Refusal::new(Rule::ZipGaps, &name, found));
        }
        let next = order
            .get(place + 1)
            .map_or(directory, |next| headers[*next].offset);
        starts[*index] = local(source, header, &name, next)?;
        at = next;
    }
    if at != directory {
        let found = format!("entries end at byte {at}, the directory begins at {directory}");
        return Err(Refusal::new(Rule::ZipGaps, "", found));
    }
    entries(source, headers, &starts, paths)
}

/// Checks the header before an entry and what follows its data; returns where the data begin.
fn local(source: &dyn ReadAt, header: &Header<'_>, name: &str, next: u64) -> Result<u64, Refusal> {
    let refused = |rule, found: &str| Err(Refusal::new(rule, name, found));
    if header.flags & ENCRYPTED != 0 {
        return refused(Rule::ZipForm, "encryption");
    }
    let fixed = bytes_at(source, header.offset, LOCAL_LENGTH as u64)?;
    if long(&fixed, 0) != LOCAL {
        return refused(Rule::ZipHeader, "no header there");
    }
    let (names, extras) = (u64::from(short(&fixed, 26)), u64::from(short(&fixed, 28)));
    let behind = bytes_at(source, header.offset + LOCAL_LENGTH as u64, names + extras)?;
    let (local_name, local_extra) = behind.split_at(usize::try_from(names).unwrap_or(0));
    if local_name != header.name {
        return refused(Rule::ZipHeader, "another name");
    }
    extra(local_extra).map_err(|found| Refusal::new(Rule::ZipForm, name, found))?;
    if short(&fixed, 6) != header.flags || short(&fixed, 8) != header.method {
        return refused(Rule::ZipHeader, "another method or other flags");
    }
    let described = header.flags & DESCRIBED != 0;
    let stated = [header.crc, header.packed, header.length];
    for (index, stated) in stated.into_iter().enumerate() {
        let found = long(&fixed, 14 + 4 * index);
        if found != stated && !(described && found == 0) {
            return refused(Rule::ZipHeader, "another length or check sum");
        }
    }
    let start = header.offset + LOCAL_LENGTH as u64 + names + extras;
    let end = start + u64::from(header.packed);
    let gap = next.checked_sub(end);
    let sound = match (described, gap) {
        (false, gap) => gap == Some(0),
        (true, Some(12)) => descriptor(&bytes_at(source, end, 12)?, stated),
        (true, Some(16)) => {
            let bytes = bytes_at(source, end, 16)?;
            long(&bytes, 0) == DESCRIPTOR && descriptor(&bytes[4..], stated)
        }
        (true, _) => false,
    };
    if !sound {
        let found = format!("its data end at byte {end}, the next part begins at {next}");
        return Err(Refusal::new(Rule::ZipGaps, name, found));
    }
    Ok(start)
}

fn descriptor(bytes: &[u8], stated: [u32; 3]) -> bool {
    [long(bytes, 0), long(bytes, 4), long(bytes, 8)] == stated
}

/// Takes the top folder off the names.
fn entries(
    source: &dyn ReadAt,
    headers: &[Header<'_>],
    starts: &[u64],
    paths: &mut Paths,
) -> Result<Vec<Entry>, Refusal> {
    let (mut entries, mut names, mut top) = (Vec::new(), BTreeSet::new(), None);
    for (header, start) in headers.iter().zip(starts) {
        let lossy = String::from_utf8_lossy(header.name);
        let refused = |rule, found: &str| Err(Refusal::new(rule, &lossy, found));
        let Ok(name) = std::str::from_utf8(header.name) else {
            return refused(Rule::PathText, "a name that is no UTF-8");
        };
        if !name.is_ascii() && header.flags & UTF_8 == 0 {
            return refused(Rule::PathText, "a name that is not marked as UTF-8");
        }
        if !names.insert(name) {
            return refused(Rule::ZipTwice, "a second time");
        }
        let Some((first, rest)) = name.split_once('/') else {
            return refused(Rule::ZipTop, "a file beside the top folder");
        };
        path::check_part(name, first)?;
        if *top.get_or_insert(first) != first {
            return refused(Rule::ZipTop, "a second top folder");
        }
        let method = match header.method {
            0 => Method::Stored,
            8 => Method::Deflate,
            other => return refused(Rule::ZipForm, &format!("method {other}")),
        };
        if method == Method::Stored && header.packed != header.length {
            return refused(Rule::ZipData, "a stored entry with two lengths");
        }
        let kind = header.external >> 16 & TYPE;
        if kind == LINK {
            return refused(Rule::Link, "a symbolic link");
        }
        let folder = rest.is_empty() || rest.ends_with('/');
        if kind != 0 && kind != (if folder { FOLDER } else { PLAIN }) {
            return refused(Rule::NotPlain, "another kind of entry");
        }
        let entry = Entry {
            path: rest.to_owned(),
            start: *start,
            packed: u64::from(header.packed),
            length: u64::from(header.length),
            crc: header.crc,
            method,
        };
        if folder {
            if header.length != 0 {
                return refused(Rule::ZipData, "a folder with data");
            }
            if header.crc != 0 {
                return refused(Rule::ZipData, "a folder with a check sum");
            }
            // What is packed for it must come to nothing, down to the last byte.
            super::stream(source, &entry, &mut |_| ())?;
            if let Some(folder) = rest.strip_suffix('/') {
                paths.folder(folder)?;
            }
            continue;
        }
        paths.file(rest)?;
        entries.push(entry);
    }
    if top.is_none() {
        return Err(Refusal::new(Rule::ZipTop, "", "no entries"));
    }
    Ok(entries)
}
