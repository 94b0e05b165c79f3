//! Every rule on zip files, by a file that breaks only it; and a writer that can break them.
#![allow(clippy::unwrap_used)]
use std::io::Write as _;

use super::*;
use crate::open::{Refusal, Rule};
use crate::path::Paths;

/// An entry to be written, right or wrong.
#[derive(Clone, Debug)]
pub(crate) struct Raw {
    pub(crate) name: Vec<u8>,
    pub(crate) local_name: Option<Vec<u8>>,
    pub(crate) data: Vec<u8>,
    pub(crate) method: u16,
    pub(crate) flags: u16,
    pub(crate) local_flags: Option<u16>,
    pub(crate) crc: u32,
    pub(crate) length: u32,
    pub(crate) packed: u32,
    pub(crate) local_numbers: Option<[u32; 3]>,
    pub(crate) descriptor: Vec<u8>,
    pub(crate) extra: Vec<u8>,
    pub(crate) local_extra: Vec<u8>,
    pub(crate) external: u32,
    pub(crate) disk: u16,
    pub(crate) gap: Vec<u8>,
}

pub(crate) fn stored(name: &str, data: &[u8]) -> Raw {
    let length = u32::try_from(data.len()).unwrap();
    Raw {
        name: name.as_bytes().to_vec(),
        local_name: None,
        data: data.to_vec(),
        method: 0,
        flags: if name.is_ascii() { 0 } else { 1 << 11 },
        local_flags: None,
        crc: crc32fast::hash(data),
        length,
        packed: length,
        local_numbers: None,
        descriptor: Vec::new(),
        extra: Vec::new(),
        local_extra: Vec::new(),
        external: 0,
        disk: 0,
        gap: Vec::new(),
    }
}

pub(crate) fn deflated(name: &str, data: &[u8]) -> Raw {
    let mut encoder =
        flate2::write::DeflateEncoder::new(Vec::new(), flate2::Compression::default());
    encoder.write_all(data).unwrap();
    let packed = encoder.finish().unwrap();
    Raw {
        packed: u32::try_from(packed.len()).unwrap(),
        data: packed,
        method: 8,
        ..Raw {
            crc: crc32fast::hash(data),
            length: u32::try_from(data.len()).unwrap(),
            ..stored(name, b"")
        }
    }
}

/// End record, which may lie too.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct End {
    pub(crate) disk: u16,
    pub(crate) count_more: u16,
    pub(crate) comment: &'static [u8],
    pub(crate) before: &'static [u8],
    pub(crate) behind_entries: &'static [u8],
    pub(crate) behind_directory: &'static [u8],
    pub(crate) behind: &'static [u8],
}

pub(crate) fn zip(entries: &[Raw], end: End) -> Vec<u8> {
    let mut file = end.before.to_vec();
    let mut directory = Vec::new();
    for entry in entries {
        let offset = u32::try_from(file.len()).unwrap();
        let local_name = entry.local_name.as_ref().unwrap_or(&entry.name);
        let described = entry.flags & 1 << 3 != 0;
        let stated = [entry.crc, entry.packed, entry.length];
        let local = entry
            .local_numbers
            .unwrap_or(if described { [0; 3] } else { stated });
        file.extend(0x0403_4b50_u32.to_le_bytes());
        file.extend(20_u16.to_le_bytes());
        file.extend(entry.local_flags.unwrap_or(entry.flags).to_le_bytes());
        file.extend(entry.method.to_le_bytes());
        file.extend([0, 0, 0x21, 0]);
        file.extend(local.iter().flat_map(|number| number.to_le_bytes()));
        file.extend(u16::try_from(local_name.len()).unwrap().to_le_bytes());
        file.extend(
            u16::try_from(entry.local_extra.len())
                .unwrap()
                .to_le_bytes(),
        );
        file.extend(local_name);
        file.extend(&entry.local_extra);
        file.extend(&entry.data);
        file.extend(&entry.descriptor);
        file.extend(&entry.gap);
        directory.extend(0x0201_4b50_u32.to_le_bytes());
        directory.extend([20, 3, 20, 0]);
        directory.extend(entry.flags.to_le_bytes());
        directory.extend(entry.method.to_le_bytes());
        directory.extend([0, 0, 0x21, 0]);
        directory.extend(stated.iter().flat_map(|number| number.to_le_bytes()));
        directory.extend(u16::try_from(entry.name.len()).unwrap().to_le_bytes());
        directory.extend(u16::try_from(entry.extra.len()).unwrap().to_le_bytes());
        directory.extend([0, 0]);
        directory.extend(entry.disk.to_le_bytes());
        directory.extend([0, 0]);
        directory.extend(entry.external.to_le_bytes());
        directory.extend(offset.to_le_bytes());
        directory.extend(&entry.name);
        directory.extend(&entry.extra);
    }
    file.extend(end.behind_entries);
    let start = u32::try_from(file.len()).unwrap();
    let length = u32::try_from(directory.len()).unwrap();
    let count = u16::try_from(entries.len()).unwrap() + end.count_more;
    file.extend(directory);
    file.extend(end.behind_directory);
    file.extend(0x0605_4b50_u32.to_le_bytes());
    file.extend(end.disk.to_le_bytes());
    file.extend(end.disk.to_le_bytes());
    file.extend(count.to_le_bytes());
    file.extend(count.to_le_bytes());
    file.extend(length.to_le_bytes());
    file.extend(start.to_le_bytes());
    file.extend(u16::try_from(end.comment.len()).unwrap().to_le_bytes());
    file.extend(end.comment);
    file.extend(end.behind);
    file
}

/// Lists and reads everything.
fn read(file: &Vec<u8>) -> Result<Vec<(String, Vec<u8>)>, Refusal> {
    let entries = list(file, &mut Paths::new(100))?;
    let mut files = Vec::new();
    for entry in &entries {
        let mut bytes = Vec::new();
        stream(file, entry, &mut |block| bytes.extend_from_slice(block))?;
        files.push((entry.path.clone(), bytes));
    }
    Ok(files)
}

fn pair() -> [Raw; 2] {
    [
        stored("top/a", b"one"),
        deflated("top/b", &b"two ".repeat(99)),
    ]
}

/// The rule that a change to the second entry breaks.
fn broken(change: impl Fn(&mut Raw)) -> Rule {
    let mut entries = pair();
    change(&mut entries[1]);
    read(&zip(&entries, End::default())).unwrap_err().rule
}

fn end_broken(end: End) -> Rule {
    read(&zip(&pair(), end)).unwrap_err().rule
}

#[test]
fn stored_deflated_and_described_entries_are_read() {
    let mut entries = vec![stored("top/", b""), stored("top/x/", b"")];
    entries.extend(pair());
    for signed in [true, false] {
        let mut entry = deflated(if signed { "top/c" } else { "top/d" }, b"three");
        entry.flags |= 1 << 3;
        if signed {
            entry.descriptor.extend(0x0807_4b50_u32.to_le_bytes());
        }
        for number in [entry.crc, entry.packed, entry.length] {
            entry.descriptor.extend(number.to_le_bytes());
        }
        entries.push(entry);
    }
    entries.push(stored("top/ä", b""));
    entries[3].extra = vec![0x55, 0x54, 1, 0, 7];
    entries[3].external = 0o100_644 << 16;
    entries[0].external = 0o040_755 << 16 | 0x10;
    let files = read(&zip(&entries, End::default())).unwrap();
    let names: Vec<&str> = files.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(names, ["a", "b", "c", "d", "ä"]);
    assert_eq!(files[1].1, b"two ".repeat(99));
    assert_eq!(files[2].1, b"three");
}

#[test]
fn entries_may_stand_in_the_directory_in_another_order() {
    // Two files, the directory of which is turned round.
    let file = zip(&pair(), End::default());
    let end = file.len() - 22;
    let start = usize::try_from(u32::from_le_bytes(
        file[end + 16..end + 20].try_into().unwrap(),
    ))
    .unwrap();
    let half = start + (end - start) / 2;
    let mut turned = file[..start].to_vec();
    turned.extend(&file[half..end]);
    turned.extend(&file[start..half]);
    turned.extend(&file[end..]);
    assert_eq!(read(&turned).unwrap().len(), 2);
}

#[test]
fn case_50_bytes_that_belong_to_no_entry_are_refused() {
    let end = End::default();
    for end in [
        End {
            before: b"#!",
            ..end
        },
        End {
            behind_entries: b"x",
            ..end
        },
        End {
            behind_directory: b"x",
            ..end
        },
    ] {
        assert_eq!(end_broken(end), Rule::ZipGaps, "{end:?}");
    }
    assert_eq!(
        end_broken(End {
            behind: b"x",
            ..end
        }),
        Rule::ZipEnd
    );
    assert_eq!(
        end_broken(End {
            comment: b"x",
            ..end
        }),
        Rule::ZipEnd
    );
    assert_eq!(broken(|entry| entry.gap = b"x".to_vec()), Rule::ZipGaps);
    assert_eq!(broken(|entry| entry.packed += 1), Rule::ZipGaps);
    assert_eq!(broken(|entry| entry.packed -= 1), Rule::ZipGaps);
}

#[test]
fn parts_of_several_files_are_refused() {
    assert_eq!(
        end_broken(End {
            disk: 1,
            ..End::default()
        }),
        Rule::ZipEnd
    );
    assert_eq!(broken(|entry| entry.disk = 1), Rule::ZipEnd);
}

#[test]
fn a_directory_that_is_not_as_the_end_record_says_is_refused() {
    assert_eq!(
        end_broken(End {
            count_more: 1,
            ..End::default()
        }),
        Rule::ZipDirectory
    );
    let mut file = zip(&pair(), End::default());
    let end = file.len() - 22;
    file[end + 12..end + 16].copy_from_slice(&(17_u32 << 20).to_le_bytes());
    assert_eq!(read(&file).unwrap_err().rule, Rule::ZipDirectory);
}

#[test]
fn zip64_encryption_and_other_methods_are_refused() {
    assert_eq!(broken(|entry| entry.length = u32::MAX), Rule::ZipForm);
    assert_eq!(
        broken(|entry| entry.extra = vec![1, 0, 0, 0]),
        Rule::ZipForm
    );
    assert_eq!(
        broken(|entry| entry.local_extra = vec![1, 0, 0, 0]),
        Rule::ZipForm
    );
    assert_eq!(
        broken(|entry| entry.extra = vec![0x75, 0x70, 0, 0]),
        Rule::ZipForm
    );
    assert_eq!(
        broken(|entry| entry.extra = vec![0x55, 0x54, 9, 0]),
        Rule::ZipForm
    );
    for bit in [0, 6, 13] {
        assert_eq!(broken(|entry| entry.flags |= 1 << bit), Rule::ZipForm);
    }
    assert_eq!(broken(|entry| entry.method = 12), Rule::ZipForm);
    let mut file = zip(&pair(), End::default());
    let end = file.len() - 22;
    file[end + 16..end + 20].copy_from_slice(&u32::MAX.to_le_bytes());
    assert_eq!(read(&file).unwrap_err().rule, Rule::ZipForm);
}

#[test]
fn case_50_a_header_that_contradicts_the_directory_is_refused() {
    assert_eq!(
        broken(|entry| entry.local_name = Some(b"top/x".to_vec())),
        Rule::ZipHeader
    );
    assert_eq!(
        broken(|entry| entry.local_flags = Some(1 << 11)),
        Rule::ZipHeader
    );
    for index in 0..3 {
        let change = |entry: &mut Raw| {
            let mut numbers = [entry.crc, entry.packed, entry.length];
            numbers[index] ^= 1;
            entry.local_numbers = Some(numbers);
        };
        assert_eq!(broken(change), Rule::ZipHeader);
    }
    // A descriptor that says something else.
    let change = |entry: &mut Raw| {
        entry.flags |= 1 << 3;
        entry.descriptor = vec![0; 12];
    };
    assert_eq!(broken(change), Rule::ZipGaps);
    let mut file = zip(&pair(), End::default());
    file[0] = b'X';
    assert_eq!(read(&file).unwrap_err().rule, Rule::ZipHeader);
}

#[test]
fn case_50_overlapping_entries_are_refused() {
    // Both entries of the directory name the first one's place.
    let mut file = zip(
        &[stored("top/a", b"one"), stored("top/a", b"one")],
        End::default(),
    );
    let end = file.len() - 22;
    let second = end - (46 + 5);
    file[second + 42..second + 46].copy_from_slice(&0_u32.to_le_bytes());
    assert_eq!(read(&file).unwrap_err().rule, Rule::ZipGaps);
}

#[test]
fn case_50_a_name_that_stands_twice_is_refused() {
    let entries = [stored("top/a", b"one"), stored("top/a", b"two")];
    assert_eq!(
        read(&zip(&entries, End::default())).unwrap_err().rule,
        Rule::ZipTwice
    );
}

#[test]
fn names_that_programs_read_in_two_ways_are_refused() {
    assert_eq!(
        broken(|entry| entry.name = b"top/\xff".to_vec()),
        Rule::PathText
    );
    assert_eq!(
        broken(|entry| entry.name = "top/ä".as_bytes().to_vec()),
        Rule::PathText
    );
}

#[test]
fn case_50_names_that_leave_the_folder_are_refused() {
    for (name, rule) in [
        ("top/../x", Rule::PathForm),
        ("../x", Rule::PathForm),
        ("/x", Rule::PathForm),
        ("top//x", Rule::PathForm),
        ("top\\x/y", Rule::PathSigns),
        ("nul/x", Rule::PathDevice),
        ("top/nul", Rule::PathDevice),
        ("top/A", Rule::SamePath),
        ("other/x", Rule::ZipTop),
        ("x", Rule::ZipTop),
    ] {
        assert_eq!(
            broken(|entry| entry.name = name.as_bytes().to_vec()),
            rule,
            "{name}"
        );
    }
    assert_eq!(
        read(&zip(&[], End::default())).unwrap_err().rule,
        Rule::ZipTop
    );
}

#[test]
fn case_50_links_and_other_kinds_are_refused() {
    assert_eq!(broken(|entry| entry.external = 0o120_777 << 16), Rule::Link);
    assert_eq!(
        broken(|entry| entry.external = 0o010_644 << 16),
        Rule::NotPlain
    );
    assert_eq!(
        broken(|entry| entry.external = 0o040_755 << 16),
        Rule::NotPlain
    );
    assert_eq!(
        broken(|entry| *entry = stored("top/x/", b"data")),
        Rule::ZipData
    );
}

#[test]
fn folders_hold_nothing_down_to_the_last_byte() {
    for folder in [stored("top/x/", b""), deflated("top/x/", b"")] {
        let file = zip(&[folder, stored("top/a", b"one")], End::default());
        assert_eq!(read(&file).unwrap().len(), 1);
    }
    assert_eq!(
        broken(|entry| *entry = Raw {
            crc: 1,
            ..stored("top/x/", b"")
        }),
        Rule::ZipData
    );
    // Nothing after inflating, and a byte behind the stream.
    let behind = |entry: &mut Raw| {
        *entry = deflated("top/x/", b"");
        entry.data.push(0);
        entry.packed += 1;
    };
    assert_eq!(broken(behind), Rule::ZipData);
    // Stored, with a packed length and none.
    let packed = |entry: &mut Raw| {
        *entry = stored("top/x/", b"x");
        entry.length = 0;
        entry.crc = 0;
    };
    assert_eq!(broken(packed), Rule::ZipData);
}

#[test]
fn case_50_data_other_than_stated_are_refused() {
    assert_eq!(broken(|entry| entry.crc ^= 1), Rule::ZipData);
    assert_eq!(broken(|entry| entry.length += 1), Rule::ZipData);
    assert_eq!(broken(|entry| entry.length -= 1), Rule::ZipData);
    assert_eq!(
        broken(|entry| *entry = Raw {
            length: 9,
            ..stored("top/b", b"two")
        }),
        Rule::ZipData
    );
    assert_eq!(broken(|entry| entry.data[0] = 0xff), Rule::ZipData);
    // Bytes behind the end of the deflate stream, inside the entry.
    let behind = |entry: &mut Raw| {
        entry.data.push(0);
        entry.packed += 1;
    };
    assert_eq!(broken(behind), Rule::ZipData);
    // A stream that ends too early.
    let cut = |entry: &mut Raw| {
        entry.data.pop();
        entry.packed -= 1;
    };
    assert_eq!(broken(cut), Rule::ZipData);
}

#[test]
fn case_50_a_bomb_is_left_at_the_stated_length() {
    let bomb = deflated("top/b", &vec![0; 64 << 20]);
    let small = Raw {
        length: 1000,
        ..bomb.clone()
    };
    let file = zip(&[small], End::default());
    let entries = list(&file, &mut Paths::new(9)).unwrap();
    let mut seen = 0;
    let refusal = stream(&file, &entries[0], &mut |block| seen += block.len()).unwrap_err();
    assert_eq!(refusal.rule, Rule::ZipData);
    assert!(seen <= 1000, "{seen} bytes handed on");
    assert_eq!(
        read(&zip(&[bomb], End::default())).unwrap()[0].1.len(),
        64 << 20
    );
}

#[test]
fn a_file_cut_anywhere_is_refused() {
    let file = zip(&pair(), End::default());
    for end in 0..file.len() {
        assert!(read(&file[..end].to_vec()).is_err(), "cut at {end}");
    }
}

#[test]
fn any_byte_changed_is_refused_or_changes_nothing_that_is_read() {
    let file = zip(&pair(), End::default());
    let sound = read(&file).unwrap();
    for index in 0..file.len() {
        for bit in [0x01, 0x80] {
            let mut changed = file.clone();
            changed[index] ^= bit;
            if let Ok(files) = read(&changed) {
                let data = |files: &[(String, Vec<u8>)]| {
                    files
                        .iter()
                        .map(|(_, bytes)| bytes.clone())
                        .collect::<Vec<_>>()
                };
                // Times, versions and attributes say nothing; no single byte of a name stands in one place only.
                assert_eq!(data(&files), data(&sound), "byte {index}");
                assert_eq!(files, sound, "byte {index}");
            }
        }
    }
}
