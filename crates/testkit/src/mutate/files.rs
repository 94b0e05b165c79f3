//! Changes to files as files: photos, bytes, places, manifests, tag files.

use super::{Chance, Maker, scramble};
use crate::failures::MakeError;
use crate::failures::bag::Bag;
use crate::failures::pictures::{self, Picture};

/// A photo is another, or one more, or not there.
pub(super) fn photo(maker: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let paths: Vec<&String> = maker.material.photos.keys().collect();
    let Some(path) = chance.pick(&paths) else {
        return Ok(());
    };
    let whole = pictures::jpeg(16, 12, 40)?;
    let tang = pictures::jpeg(12, 16, 90)?;
    let other: Picture = match chance.below(9) {
        0 => pictures::jpeg_of_quality(16, 12, 40, 85)?,
        1 => pictures::turned(&tang, u8::try_from(1 + chance.below(8)).unwrap_or(1)),
        2 => pictures::commented(&whole),
        3 => pictures::png(10, 10),
        4 => pictures::png(11, 10),
        5 => pictures::jpeg(8, 6, 41)?,
        6 => tang,
        7 => pictures::commented(&pictures::turned(&tang, 3)),
        _ => whole,
    };
    match chance.below(8) {
        0 => {
            bag.take(path);
        }
        1 => bag.put(&other.path(), other.bytes),
        2 => bag.put("photos/seller.jpg", other.bytes),
        3 => {
            let mut bytes = bag.data(path);
            scramble(chance, &mut bytes);
            bag.put(path, bytes);
        }
        4 => {
            let bytes = bag.take(path);
            bag.put(&path.replace(".jpg", ".png"), bytes);
        }
        _ => bag.put(path, other.bytes),
    }
    Ok(())
}

fn any<'b>(chance: &mut Chance, bag: &'b Bag) -> Option<&'b String> {
    let paths: Vec<&String> = bag.files.keys().collect();
    chance.pick(&paths).copied()
}

/// Bytes of any file are others.
pub(super) fn bytes(_: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    if let Some(path) = any(chance, bag).cloned()
        && let Some(bytes) = bag.files.get_mut(&path)
    {
        scramble(chance, bytes);
    }
    Ok(())
}

/// A file is elsewhere, gone, doubled, exchanged with another, or new.
pub(super) fn moved(_: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let (Some(one), Some(two)) = (any(chance, bag).cloned(), any(chance, bag).cloned()) else {
        return Ok(());
    };
    let names = [
        "data/extra.txt",
        "data/records/readme.txt",
        "data/records/01-Intake.json",
        "data/records/1-intake.json",
        "data/records/01-lent.json",
        "data/records/00-intake.json",
        "data/proofs/x",
        "data/exports/y/z.json",
        "data/reports/UPPER.pdf",
        "data/reports/x.PDF",
        "data/reports/.pdf",
        "data/keys/ABCDE.json",
        "data/timestamps/03-.tsr",
        "data/timestamps/3-x.tsr",
        "data/disclosures/x.json",
        "data/photos/x.jpg",
        "data/schema/other.json",
        "data/tools/check_record.py",
        "data/tools/other.py",
        "data/format/record-format.md",
        "data/format/sub/x.md",
        "data/verify.html",
        "data/Verify.html",
        "notes.txt",
        "manifest-md5.txt",
        "tagmanifest-md5.txt",
        "manifest-.txt",
        "meta/info.txt",
        "fetch.txt",
        "data/fetch.txt",
        "data/a%0Ab",
        "data/e\u{301}.txt",
        "data/\u{e9}.txt",
        "data/con",
        "data/con .x",
        "data/x./y",
        "data/HOW-TO-CHECK.TXT",
        "data/\u{130}.txt",
        "data/stra\u{df}e.txt",
        "data/\u{1e9e}.txt",
        "data/\u{212a}.txt",
    ];
    match chance.below(7) {
        0 => {
            bag.files.remove(&one);
        }
        1 => {
            let first = bag.files.remove(&one).unwrap_or_default();
            let second = bag.files.remove(&two).unwrap_or_default();
            if one == two {
                bag.files.insert(one, first);
            } else {
                bag.files.insert(one, second);
                bag.files.insert(two, first);
            }
        }
        2 => {
            let bytes = bag.files.get(&one).cloned().unwrap_or_default();
            bag.files.insert(two, bytes);
        }
        _ => {
            let bytes = bag.files.get(&one).cloned().unwrap_or_default();
            if chance.percent(30) {
                bag.files.remove(&one);
            }
            let name = chance.pick(&names).copied().unwrap_or("data/extra.txt");
            bag.files.insert(name.to_owned(), bytes);
        }
    }
    Ok(())
}

/// A manifest says something else, or says it otherwise.
pub(super) fn manifest(_: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let name = if chance.percent(70) {
        "manifest-sha256.txt"
    } else {
        "tagmanifest-sha256.txt"
    };
    let Some(bytes) = bag.files.get(name) else {
        return Ok(());
    };
    let text = String::from_utf8_lossy(bytes).into_owned();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let at = chance.below(lines.len());
    let Some(line) = lines.get(at).cloned() else {
        return Ok(());
    };
    let mut text = match chance.below(16) {
        0 => {
            lines.remove(at);
            None
        }
        1 => {
            lines.push(line);
            None
        }
        2 => {
            lines[at] = line.to_uppercase();
            None
        }
        3 => {
            lines[at] = line.replacen("  ", " ", 1);
            None
        }
        4 => {
            lines[at] = line.replacen("  ", " *", 1);
            None
        }
        5 => {
            lines[at] = line.replacen("  ", "   ", 1);
            None
        }
        6 => {
            lines[at] = format!("{}  data/not-here.txt", &line[..64.min(line.len())]);
            None
        }
        7 => {
            let other = lines[(at + 1) % lines.len()].clone();
            lines[at] = format!(
                "{}{}",
                &other[..64.min(other.len())],
                line.get(64..).unwrap_or_default()
            );
            None
        }
        8 => {
            lines[at] = line.replacen("data/", "data%2F", 1);
            None
        }
        9 => {
            lines[at] = format!("{}  ../x", &line[..64.min(line.len())]);
            None
        }
        10 => {
            lines.reverse();
            None
        }
        11 => Some(lines.join("\r\n") + "\r\n"),
        12 => Some(lines.join("\n")),
        13 => Some(format!("\u{feff}{}\n", lines.join("\n"))),
        14 => Some(format!("{}\n\n", lines.join("\n"))),
        _ => {
            let mut bytes = text.clone().into_bytes();
            scramble(chance, &mut bytes);
            bag.files.insert(name.to_owned(), bytes);
            if chance.percent(80) && name.starts_with("manifest") {
                bag.close_tags();
            }
            return Ok(());
        }
    };
    let text = text.take().unwrap_or_else(|| lines.join("\n") + "\n");
    bag.files.insert(name.to_owned(), text.into_bytes());
    if chance.percent(80) && name.starts_with("manifest") {
        bag.close_tags();
    }
    Ok(())
}

/// `bagit.txt`, `bag-info.txt` and the like.
pub(super) fn tag(_: &Maker, chance: &mut Chance, bag: &mut Bag) -> Result<(), MakeError> {
    let name = ["bagit.txt", "bag-info.txt", "bagit.txt"][chance.below(3)];
    let texts = [
        "BagIt-Version: 1.0\r\nTag-File-Character-Encoding: UTF-8\r\n",
        "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8",
        "BagIt-Version: 1.0\nTag-File-Character-Encoding: utf-8\n",
        "BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n",
        "BagIt-Version: 1.0 \nTag-File-Character-Encoding: UTF-8\n",
        "\u{feff}BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
        "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n\n",
        "BagIt-Version: 1.0\r\nTag-File-Character-Encoding: UTF-8\n",
        "",
    ];
    match chance.below(4) {
        0 => {
            bag.files.remove(name);
        }
        1 => {
            if let Some(bytes) = bag.files.get_mut(name) {
                scramble(chance, bytes);
            }
        }
        _ => {
            let text = chance.pick(&texts).copied().unwrap_or_default();
            bag.files.insert(name.to_owned(), text.as_bytes().to_vec());
        }
    }
    if chance.percent(80) {
        bag.close_tags();
    }
    Ok(())
}
