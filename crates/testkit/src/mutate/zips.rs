//! Changes to the zip file around a package.

use super::{Chance, scramble};
use crate::failures::bag::TOP;
use crate::failures::zip::{Entry, Zip};

/// Makes one change; returns its name and the bytes.
pub(super) fn change(chance: &mut Chance, zip: &mut Zip) -> (&'static str, Vec<u8>) {
    if chance.percent(30) {
        let mut bytes = zip.write();
        if chance.percent(50) {
            // Where the structure is: in the directory at the end.
            let tail = bytes.len() - chance.below(3_000).clamp(22, bytes.len());
            let mut end = bytes.split_off(tail);
            scramble(chance, &mut end);
            bytes.extend(end);
        } else {
            scramble(chance, &mut bytes);
        }
        return ("zip-bytes", bytes);
    }
    if chance.percent(35) {
        whole(chance, zip);
    } else {
        let at = chance.below(zip.entries.len());
        entry(chance, zip, at);
    }
    ("zip-structure", zip.write())
}

fn whole(chance: &mut Chance, zip: &mut Zip) {
    match chance.below(15) {
        0 => zip.before = vec![chance.byte()],
        1 => zip.after = vec![chance.byte()],
        2 => zip.comment = b"x".to_vec(),
        3 => zip.counted = Some(u16::try_from(chance.below(30)).unwrap_or(0)),
        4 => zip.disk = 1,
        5 => {
            let at = chance.below(zip.entries.len());
            if let Some(entry) = zip.entries.get(at).cloned() {
                zip.entries.push(entry);
            }
        }
        6 => zip
            .entries
            .iter_mut()
            .for_each(|entry| entry.deflated = true),
        7 => zip
            .entries
            .iter_mut()
            .for_each(|entry| entry.descriptor = true),
        8 => zip.entries.reverse(),
        9 => zip
            .entries
            .insert(0, Entry::stored(&format!("{TOP}/"), b"")),
        10 => zip
            .entries
            .push(Entry::stored(&format!("{TOP}/data/records/"), b"")),
        11 => zip.entries.push(Entry::stored("other/data/x.txt", b"x")),
        12 => zip
            .entries
            .insert(0, Entry::stored(&format!("{TOP}//"), b"")),
        13 => {
            let folders = [
                "data/",
                "data/records//",
                "data/empty/",
                "data//",
                "./",
                "data/../",
            ];
            let folder = chance.pick(&folders).copied().unwrap_or_default();
            zip.entries
                .push(Entry::stored(&format!("{TOP}/{folder}"), b""));
        }
        _ => {
            // A folder that has a length.
            zip.entries
                .push(Entry::stored(&format!("{TOP}/data/empty/"), b"x"));
        }
    }
}

fn entry(chance: &mut Chance, zip: &mut Zip, at: usize) {
    let small = u32::try_from(chance.below(40)).unwrap_or(0);
    let Some(entry) = zip.entries.get_mut(at) else {
        return;
    };
    let length = u32::try_from(entry.data.len()).unwrap_or(0);
    match chance.below(21) {
        0 => entry.deflated = true,
        1 => {
            entry.descriptor = true;
            entry.deflated = chance.percent(50);
        }
        2 => entry.gap = vec![chance.byte(); chance.below(20)],
        3 => entry.crc = Some(small),
        4 => entry.length = Some(length.wrapping_add(small)),
        5 => entry.packed = Some(length.wrapping_sub(small)),
        6 => entry.offset = Some(small),
        7 => entry.flags = 1 << chance.below(16),
        8 => entry.method = Some(u16::try_from(chance.below(14)).unwrap_or(0)),
        9 => entry.local_method = Some(8),
        10 => entry.local_name = Some(format!("{TOP}/x").into_bytes()),
        11 => entry.disk = 1,
        12 => entry.mode = [0o120_777, 0o100_644, 0o040_755, 0o060_644, 0o644][chance.below(5)],
        13 => {
            entry.extra = [1_u16, 0x7075, 0x5455, 0xcafe][chance.below(4)]
                .to_le_bytes()
                .to_vec();
            entry.extra.extend([4, 0, 1, 2, 3, 4]);
            if chance.percent(30) {
                entry.extra.pop();
            }
        }
        14 => {
            entry
                .name
                .push(*chance.pick(b"/ .x\\:\0\xff").unwrap_or(&b'x'));
        }
        15 => {
            let text = String::from_utf8_lossy(&entry.name).to_uppercase();
            entry.name = text.into_bytes();
        }
        16 => {
            entry.data = vec![b' '; 100_000];
            entry.deflated = true;
            entry.length = Some(length);
        }
        17 => {
            entry.name.extend("é".bytes());
            entry.flags = if chance.percent(50) { 0x0800 } else { 0 };
        }
        18 => entry.name.insert(0, b'/'),
        19 => {
            let text =
                String::from_utf8_lossy(&entry.name).replacen('/', "//", 1 + chance.below(2));
            entry.name = text.into_bytes();
        }
        _ => {
            entry.name = format!("{TOP}/../{}", String::from_utf8_lossy(&entry.name)).into_bytes();
        }
    }
}
