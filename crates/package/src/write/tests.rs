#![allow(clippy::unwrap_used)]

use std::fs;
use std::ops::ControlFlow;
use std::path::Path;

use super::*;
use crate::open::{self, Limits};
use tangmark_core::Digest;

/// The sealed records of one blade of the samples, with a photo beside them.
fn sample(folder: &Path) -> Content {
    let records = concat!(env!("CARGO_MANIFEST_DIR"), "/../../samples/records");
    let mut content = Content::new();
    for name in ["01-before_work.json", "02-after_work.json"] {
        let bytes = fs::read(format!("{records}/reed-{name}")).unwrap();
        content
            .add_bytes(format!("data/records/{name}"), bytes)
            .unwrap();
    }
    let photo: Vec<u8> = (0..300_000_u32).map(|n| n.to_le_bytes()[0]).collect();
    let file = folder.join("photo");
    fs::write(&file, &photo).unwrap();
    let digest = Digest::of(&photo);
    let source = Source::File {
        path: file,
        length: photo.len() as u64,
        digest,
    };
    content
        .add(format!("data/photos/{digest}.jpg"), source)
        .unwrap();
    content
        .add_bytes("data/HOW-TO-CHECK.txt", "by hand\n")
        .unwrap();
    content
}

fn go(_: Progress) -> ControlFlow<()> {
    ControlFlow::Continue(())
}

fn entries(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn a_folder_holds_the_files_and_their_manifests() {
    let folder = tempfile::tempdir().unwrap();
    let content = sample(folder.path());
    let target = folder.path().join("out/reed");
    let written = content.write_folder(&target, &mut go).unwrap();
    assert_eq!(written.size, content.size());
    assert_eq!(written.not_flushed, None);
    assert_eq!(
        entries(&target),
        [
            "bag-info.txt",
            "bagit.txt",
            "data",
            "manifest-sha256.txt",
            "tagmanifest-sha256.txt"
        ]
    );
    let manifest = fs::read_to_string(target.join("manifest-sha256.txt")).unwrap();
    assert_eq!(manifest.lines().count(), 4);
    for line in manifest.lines() {
        let (digest, path) = line.split_once("  ").unwrap();
        let bytes = fs::read(target.join(path)).unwrap();
        assert_eq!(Digest::of(&bytes).to_string(), digest, "{path}");
    }
    let tags = fs::read_to_string(target.join("tagmanifest-sha256.txt")).unwrap();
    let paths: Vec<&str> = tags.lines().map(|line| &line[66..]).collect();
    assert_eq!(paths, ["bag-info.txt", "bagit.txt", "manifest-sha256.txt"]);
    let info = fs::read_to_string(target.join("bag-info.txt")).unwrap();
    assert_eq!(info, format!("Payload-Oxum: {}.4\n", written.size.bytes));
    assert_eq!(entries(&folder.path().join("out")), ["reed"]);
}

#[test]
fn the_same_content_is_the_same_zip_file_and_other_programs_read_it() {
    let folder = tempfile::tempdir().unwrap();
    let content = sample(folder.path());
    let [one, two] = ["one.zip", "two.zip"].map(|name| folder.path().join(name));
    content.write_zip(&one, "reed-handover", &mut go).unwrap();
    content.write_zip(&two, "reed-handover", &mut go).unwrap();
    let bytes = fs::read(&one).unwrap();
    assert_eq!(bytes, fs::read(&two).unwrap());
    // Python's zipfile checks names, lengths and check sums; it is not of ours.
    let script = "import sys, zipfile\nz = zipfile.ZipFile(sys.argv[1])\nassert z.testzip() is None\n\
                  assert all(i.compress_type == 0 and i.date_time == (1980, 1, 1, 0, 0, 0) and not i.extra for i in z.infolist())\n\
                  names = z.namelist()\nassert names == sorted(names), names\n\
                  assert all(n.startswith('reed-handover/') for n in names)\nz.extractall(sys.argv[2])";
    let out = folder.path().join("unpacked");
    let done = std::process::Command::new("python3")
        .args(["-c", script])
        .args([&one, &out])
        .output()
        .unwrap();
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let plain = folder.path().join("plain");
    content.write_folder(&plain, &mut go).unwrap();
    for path in [
        "bagit.txt",
        "manifest-sha256.txt",
        "data/records/01-before_work.json",
    ] {
        let unpacked = fs::read(out.join("reed-handover").join(path)).unwrap();
        assert_eq!(unpacked, fs::read(plain.join(path)).unwrap(), "{path}");
    }
}

#[test]
fn what_is_there_is_never_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let content = sample(folder.path());
    let file = folder.path().join("file");
    fs::write(&file, "mine").unwrap();
    let empty = folder.path().join("empty");
    fs::create_dir(&empty).unwrap();
    for target in [&file, &empty] {
        for error in [
            content.write_folder(target, &mut go).unwrap_err(),
            content.write_zip(target, "top", &mut go).unwrap_err(),
        ] {
            assert!(matches!(error, WriteError::Exists(_)), "{error}");
        }
    }
    assert_eq!(fs::read(&file).unwrap(), b"mine");
    assert_eq!(entries(folder.path()), ["empty", "file", "photo"]);
}

#[test]
fn what_ends_in_the_middle_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let content = sample(folder.path());
    let target = folder.path().join("reed");
    for at in 0..5 {
        let mut calls = 0;
        let mut stop = |_: Progress| {
            calls += 1;
            if calls > at {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        };
        let error = content.write_folder(&target, &mut stop).unwrap_err();
        assert!(matches!(error, WriteError::Cancelled), "{error}");
        let mut calls = 0;
        let mut stop = |_: Progress| {
            calls += 1;
            if calls > at {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        };
        let error = content.write_zip(&target, "top", &mut stop).unwrap_err();
        assert!(matches!(error, WriteError::Cancelled), "{error}");
        assert_eq!(entries(folder.path()), ["photo"]);
    }
}

#[test]
fn what_rotted_on_the_disk_is_not_handed_over() {
    let folder = tempfile::tempdir().unwrap();
    let content = sample(folder.path());
    let file = folder.path().join("photo");
    let sound = fs::read(&file).unwrap();
    let mut flipped = sound.clone();
    flipped[77_777] ^= 1;
    let longer = [sound.as_slice(), b"x"].concat();
    for bytes in [&flipped, &longer, &sound[1..].to_vec()] {
        fs::write(&file, bytes).unwrap();
        let target = folder.path().join("reed");
        for error in [
            content.write_folder(&target, &mut go).unwrap_err(),
            content.write_zip(&target, "top", &mut go).unwrap_err(),
        ] {
            assert!(matches!(error, WriteError::Rotten { .. }), "{error}");
        }
        assert_eq!(entries(folder.path()), ["photo"]);
    }
}

#[test]
fn paths_that_no_reader_takes_are_refused() {
    let mut content = Content::new();
    let long = format!("data/{}", "x".repeat(121));
    for path in [
        "data/../up",
        "/data/x",
        "data//x",
        "data/",
        "data/.hidden",
        "data/x.",
        "data/a b",
        "data/a\\b",
        "data/con.txt",
        "data/LPT1",
        "data/straße",
        "records/x",
        long.as_str(),
    ] {
        let error = content.add_bytes(path, "x").unwrap_err();
        assert!(matches!(error, WriteError::Path { .. }), "{path}: {error}");
    }
    content.add_bytes("data/verify.html", "x").unwrap();
    let error = content.add_bytes("data/Verify.html", "x").unwrap_err();
    assert!(
        error.to_string().contains("stands there already"),
        "{error}"
    );
    let long = vec![0; (16 << 20) + 1];
    let error = content.add_bytes("data/long", long).unwrap_err();
    assert!(matches!(error, WriteError::TooLong { .. }), "{error}");
}

#[test]
fn a_package_without_records_or_beyond_the_limits_is_not_begun() {
    let folder = tempfile::tempdir().unwrap();
    let target = folder.path().join("reed");
    let mut content = Content::new();
    content.add_bytes("data/verify.html", "x").unwrap();
    let error = content.write_folder(&target, &mut go).unwrap_err();
    assert!(matches!(error, WriteError::NoRecord), "{error}");

    content
        .add_bytes("data/records/01-intake.json", "{}")
        .unwrap();
    for number in 0..40_u8 {
        let source = Source::File {
            path: folder.path().join("never read"),
            length: 200 << 20,
            digest: Digest::of(&[number]),
        };
        content
            .add(format!("data/photos/{number}.jpg"), source)
            .unwrap();
    }
    // Almost 8 GiB: a folder would do, a zip file would not.
    let error = content.write_zip(&target, "top", &mut go).unwrap_err();
    assert!(
        matches!(
            error,
            WriteError::TooLarge {
                what: "zip file",
                ..
            }
        ),
        "{error}"
    );
    for number in 40..42 {
        let source = Source::File {
            path: folder.path().join("never read"),
            length: 256 << 20,
            digest: Digest::of(b"x"),
        };
        content
            .add(format!("data/photos/{number}.jpg"), source)
            .unwrap();
    }
    let error = content.write_folder(&target, &mut go).unwrap_err();
    assert!(
        matches!(
            error,
            WriteError::TooLarge {
                what: "package",
                ..
            }
        ),
        "{error}"
    );
    assert_eq!(entries(folder.path()), Vec::<String>::new());
}

/// Paths count with their folders, bytes with the tag files, in the writer as in the reader: what is written at the edge can
/// be opened, and what cannot be opened is not written.
#[test]
fn the_writer_takes_what_the_reader_takes() {
    let folder = tempfile::tempdir().unwrap();
    let content = sample(folder.path());
    let bag = content.bag_of(|_| true).unwrap();
    let bytes = bag.values().map(|bytes| bytes.len() as u64).sum();
    // 4 files of the payload, `data`, `data/records` and `data/photos`, 4 tag files.
    let edge = Limits {
        paths: 11,
        all: bytes,
        ..Limits::default()
    };
    content.check_whole(&edge).unwrap();
    open::open_files(bag.clone(), &edge).unwrap();
    let target = folder.path().join("reed");
    content.write_folder(&target, &mut go).unwrap();
    open::open(&target, &edge).unwrap();
    for (limits, rule) in [
        (Limits { paths: 10, ..edge }, open::Rule::TooManyPaths),
        (
            Limits {
                all: bytes - 1,
                ..edge
            },
            open::Rule::AllTooLong,
        ),
    ] {
        let error = content.check_whole(&limits).unwrap_err();
        let told = matches!(
            error,
            WriteError::TooMany { .. } | WriteError::TooLarge { .. }
        );
        assert!(told, "{error}");
        assert_eq!(open::open(&target, &limits).unwrap_err().rule, rule);
        let refusal = open::open_files(bag.clone(), &limits).unwrap_err();
        assert_eq!(refusal.rule, rule);
    }
}

#[test]
fn a_part_of_the_content_is_a_bag_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let content = sample(folder.path());
    let part = content
        .bag_of(|path| path.starts_with("data/records/"))
        .unwrap();
    let package = open::open_files(part, &Limits::default()).unwrap();
    let paths = package.payload_manifest().keys();
    assert_eq!(
        paths.collect::<Vec<_>>(),
        [
            "data/records/01-before_work.json",
            "data/records/02-after_work.json"
        ]
    );
    let read = package
        .read("data/records/01-before_work.json", 1 << 20)
        .unwrap();
    assert_eq!(
        Digest::of(&read),
        package.payload_manifest()["data/records/01-before_work.json"]
    );
    // What rotted is found here too.
    fs::write(folder.path().join("photo"), "x").unwrap();
    let error = content.bag_of(|_| true).unwrap_err();
    assert!(matches!(error, WriteError::Rotten { .. }), "{error}");
}
