//! Cases 48 to 51: photos that are others, and packages that no reader should unpack.

use super::bag::{Bag, TOP};
use super::material::Material;
use super::package::{REPORT, record_path, sound};
use super::pictures;
use super::zip::{Entry, Zip};
use super::{Corpus, MakeError};
use crate::sealed::fault;

fn close(mut bag: Bag) -> Vec<u8> {
    bag.close();
    bag.zipped()
}

/// Paths of the photos by their order: whole, tang, copy and papers are told apart by what they are.
fn photo_paths(material: &Material) -> Result<[String; 2], MakeError> {
    let whole = pictures::jpeg(16, 12, 40)?.path();
    let tang = pictures::turned(&pictures::jpeg(12, 16, 90)?, 6).path();
    for path in [&whole, &tang] {
        if !material.photos.contains_key(path) {
            return Err(fault("photos")(format!("{path} is not among them")));
        }
    }
    Ok([whole, tang])
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    photos(corpus, material)?;
    paths(corpus, material)?;
    zips(corpus, material)?;
    let flipped = |bytes: &[u8]| {
        let mut bytes = bytes.to_vec();
        if let Some(byte) = bytes.get_mut(200) {
            *byte ^= 1;
        }
        bytes
    };
    // 51: the manifests fit what was changed.
    for (name, path) in [
        ("a record", record_path(2)),
        ("the newest record", record_path(3)),
        ("the report", REPORT.to_owned()),
        ("the schema", super::package::SCHEMA.to_owned()),
    ] {
        let mut bag = sound(material)?;
        let changed = flipped(&bag.data(&path));
        bag.put(&path, changed.clone());
        corpus.package(
            51,
            &format!("{name} changed, manifests written anew"),
            close(bag),
        );
        let mut bag = sound(material)?;
        bag.put(&path, changed);
        corpus.package(
            51,
            &format!("{name} changed, manifests as they were"),
            bag.zipped(),
        );
    }
    Ok(())
}

fn photos(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let [whole, tang] = photo_paths(material)?;
    let original = pictures::jpeg(16, 12, 40)?;
    let tang_file = pictures::turned(&pictures::jpeg(12, 16, 90)?, 6);
    let turned_again = pictures::turned(&pictures::jpeg(12, 16, 90)?, 8);
    for (name, path, bytes) in [
        (
            "another photo of the record in its place",
            &whole,
            tang_file.bytes.clone(),
        ),
        (
            "the same picture written anew",
            &whole,
            pictures::jpeg_of_quality(16, 12, 40, 85)?.bytes,
        ),
        (
            "a remark put in",
            &whole,
            pictures::commented(&original).bytes,
        ),
        ("turned", &tang, turned_again.bytes),
        ("made smaller", &whole, pictures::jpeg(8, 6, 40)?.bytes),
        ("no picture at all", &whole, b"no picture".to_vec()),
    ] {
        let mut bag = sound(material)?;
        bag.put(path, bytes);
        corpus.package(48, name, close(bag));
    }
    let mut bag = sound(material)?;
    bag.take(&whole);
    corpus.package(49, "a photo left out", close(bag));
    let mut bag = sound(material)?;
    bag.files.remove(&format!("data/{whole}"));
    corpus.package(49, "a photo missing that the manifest lists", bag.zipped());
    let extra = pictures::jpeg(9, 9, 10)?;
    let mut bag = sound(material)?;
    bag.put(&extra.path(), extra.bytes.clone());
    corpus.package(49, "a photo that no record names", close(bag));
    let mut bag = sound(material)?;
    bag.put(&extra.path(), extra.bytes);
    corpus.package(49, "a photo that no manifest lists", bag.zipped());
    let mut bag = sound(material)?;
    bag.put("photos/seller.jpg", pictures::jpeg(9, 9, 10)?.bytes);
    corpus.package(49, "a photo of another name", close(bag));
    let mut bag = sound(material)?;
    bag.put("proofs/later.txt", b"x".to_vec());
    corpus.package(49, "a file of a later version", close(bag));
    Ok(())
}

/// 50: paths, manifests and tag files that are refused.
fn paths(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let bag = sound(material)?;
    let with_path = |path: &str| {
        let mut zip = bag.as_zip();
        zip.entries.push(Entry::stored(path, b"x"));
        zip.write()
    };
    let inside = |path: &str| with_path(&format!("{TOP}/data/{path}"));
    for (name, path) in [
        ("a part of two full stops", "../out.txt"),
        ("a part of one full stop", "./in.txt"),
        ("an empty part", "a//b.txt"),
        ("a backslash", "a\\b.txt"),
        ("a colon", "c:b.txt"),
        ("a question mark", "b?.txt"),
        ("a control character", "b\u{7}.txt"),
        ("a full stop at the end", "b."),
        ("a space at the end", "b "),
        ("a reserved name", "con.txt"),
        ("a reserved name in capitals", "COM1.txt"),
        ("text in form D", "e\u{301}.txt"),
        ("the same but for capitals", "how-to-check.TXT"),
        ("a file where a folder is", "records"),
    ] {
        corpus.package(50, name, inside(path));
    }
    corpus.package(50, "a path from the root", with_path("/etc/out.txt"));
    corpus.package(50, "out of the top folder", with_path("../out.txt"));
    corpus.package(50, "a second top folder", with_path("other/data/x.txt"));
    corpus.package(
        50,
        "a part of 121 bytes",
        inside(&format!("{}.txt", "a".repeat(117))),
    );
    corpus.package(
        50,
        "a path of 241 bytes",
        inside(&"aaaaaaaaaa/".repeat(24)[..236]),
    );

    for (name, path, text) in [
        (
            "a fetch.txt",
            "fetch.txt",
            "http://example.org/x 1 data/x\n",
        ),
        (
            "another version of BagIt",
            "bagit.txt",
            "BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n",
        ),
        (
            "another encoding",
            "bagit.txt",
            "BagIt-Version: 1.0\nTag-File-Character-Encoding: ISO-8859-1\n",
        ),
    ] {
        let mut bag = bag.clone();
        bag.files.insert(path.to_owned(), text.as_bytes().to_vec());
        bag.close_tags();
        corpus.package(50, name, bag.zipped());
    }
    let mut none = bag.clone();
    none.files.remove("bagit.txt");
    none.close_tags();
    corpus.package(50, "no bagit.txt", none.zipped());
    let mut none = Bag::default();
    none.put("HOW-TO-CHECK.txt", b"x".to_vec());
    none.close();
    corpus.package(50, "no records", none.zipped());

    let manifest = String::from_utf8_lossy(&bag.files["manifest-sha256.txt"]).into_owned();
    let first = manifest.lines().next().unwrap_or_default().to_owned();
    for (name, text) in [
        ("a line twice", format!("{manifest}{first}\n")),
        ("capitals in a digest", manifest.to_uppercase()),
        ("a digest cut", manifest.replacen(&first[..4], "", 1)),
        (
            "a line for a tag file",
            format!("{}  bagit.txt\n{manifest}", &first[..64]),
        ),
        (
            "a line that leads out",
            format!("{}  data/../x\n{manifest}", &first[..64]),
        ),
        ("an empty line", format!("\n{manifest}")),
        ("no line end", manifest.trim_end().to_owned()),
    ] {
        let mut bag = bag.clone();
        bag.files
            .insert("manifest-sha256.txt".to_owned(), text.into_bytes());
        bag.close_tags();
        corpus.package(50, &format!("manifest with {name}"), bag.zipped());
    }
    let mut none = bag.clone();
    none.files.remove("manifest-sha256.txt");
    none.close_tags();
    corpus.package(50, "no manifest", none.zipped());
    let mut more = bag;
    more.files
        .insert("manifest-md5.txt".to_owned(), b"anything\n".to_vec());
    more.close_tags();
    corpus.package(50, "a manifest of another algorithm", more.zipped());
    Ok(())
}

/// 50: zip files that are refused.
fn zips(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let bag = sound(material)?;
    let last = |change: &dyn Fn(&mut Entry)| {
        let mut zip = bag.as_zip();
        if let Some(entry) = zip.entries.last_mut() {
            change(entry);
        }
        zip.write()
    };
    let whole = |change: &dyn Fn(&mut Zip)| {
        let mut zip = bag.as_zip();
        change(&mut zip);
        zip.write()
    };
    let long = |entry: &Entry| u32::try_from(entry.data.len()).unwrap_or(0);
    corpus.package(
        50,
        "all deflated",
        whole(&|zip| {
            zip.entries
                .iter_mut()
                .for_each(|entry| entry.deflated = true);
        }),
    );
    corpus.package(
        50,
        "descriptors behind the data",
        whole(&|zip| {
            zip.entries.iter_mut().for_each(|entry| {
                entry.deflated = true;
                entry.descriptor = true;
            });
        }),
    );
    for (name, bytes) in [
        (
            "bytes before the first entry",
            whole(&|zip| zip.before = b"MZ".to_vec()),
        ),
        (
            "bytes after the end",
            whole(&|zip| zip.after = b"x".to_vec()),
        ),
        ("a comment", whole(&|zip| zip.comment = b"x".to_vec())),
        (
            "bytes between entries",
            last(&|entry| entry.gap = b"hidden".to_vec()),
        ),
        ("another count", whole(&|zip| zip.counted = Some(2))),
        ("a second disk", whole(&|zip| zip.disk = 1)),
        ("an entry of a second disk", last(&|entry| entry.disk = 1)),
        ("encrypted", last(&|entry| entry.flags = 1)),
        ("another method", last(&|entry| entry.method = Some(12))),
        (
            "another method in the local header",
            last(&|entry| entry.local_method = Some(8)),
        ),
        (
            "another name in the local header",
            last(&|entry| {
                entry.local_name = Some(format!("{TOP}/other.txt").into_bytes());
            }),
        ),
        ("another check sum", last(&|entry| entry.crc = Some(7))),
        (
            "another length",
            last(&|entry| entry.length = Some(long(entry) + 1)),
        ),
        (
            "a bomb",
            last(&|entry| {
                entry.data = vec![b' '; 20 << 20];
                entry.deflated = true;
                entry.length = Some(10);
            }),
        ),
        ("a symbolic link", last(&|entry| entry.mode = 0o120_777)),
        (
            "zip64",
            last(&|entry| {
                entry.length = Some(u32::MAX);
                entry.extra = [&[1, 0, 8, 0][..], &u64::from(long(entry)).to_le_bytes()].concat();
            }),
        ),
        (
            "overlapping entries",
            whole(&|zip| {
                if let Some(entry) = zip.entries.last_mut() {
                    entry.offset = Some(0);
                }
            }),
        ),
        (
            "a name twice",
            whole(&|zip| {
                if let Some(entry) = zip.entries.first().cloned() {
                    zip.entries.push(entry);
                }
            }),
        ),
        ("no entries", Zip::default().write()),
        ("cut off", {
            let bytes = bag.zipped();
            bytes[..bytes.len() - 9].to_vec()
        }),
        (
            "an entry for its folder",
            whole(&|zip| {
                zip.entries
                    .insert(0, Entry::stored(&format!("{TOP}/"), b""));
            }),
        ),
    ] {
        corpus.package(50, &format!("zip: {name}"), bytes);
    }
    Ok(())
}
