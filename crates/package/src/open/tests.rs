//! Every rule of "What is refused whole", by a package that breaks only it.
#![allow(clippy::unwrap_used)]
use std::fs;
use std::os::unix::fs::symlink;

use super::*;
use crate::fixture::{BAGIT, Files, folder, manifests, zipped};
use tangmark_core::Digest;

const RECORD: &str = "data/records/01-intake.json";

/// A small package with sound manifests; its record is none.
fn files() -> Files {
    let mut files = Files::new();
    files.insert(RECORD.to_owned(), b"{}".to_vec());
    manifests(&mut files);
    files
}

/// Opens as a folder and as a zip file; both must say the same.
fn both(files: &Files, limits: &Limits) -> Result<Package, Refusal> {
    let top = folder(files);
    let one = open(top.path(), limits).map(|_| ());
    let other = open_bytes(zipped(files), limits);
    let broken = |refusal: &Refusal| refusal.rule;
    assert_eq!(
        one.as_ref().map_err(broken),
        other.as_ref().map(|_| &()).map_err(broken)
    );
    other
}

fn rule(change: impl FnOnce(&mut Files)) -> Rule {
    let mut files = files();
    change(&mut files);
    both(&files, &Limits::default()).unwrap_err().rule
}

#[test]
fn a_sound_package_opens_as_folder_and_as_zip_file() {
    let mut files = files();
    files.insert("data/photos/x.jpg".to_owned(), vec![7; 300_000]);
    files.insert("manifest-md5.txt".to_owned(), b"nonsense".to_vec());
    manifests(&mut files);
    let top = folder(&files);
    fs::create_dir(top.path().join("data/empty")).unwrap();
    let file = top.path().with_extension("zip");
    fs::write(&file, zipped(&files)).unwrap();
    for path in [top.path(), &file] {
        let package = open(path, &Limits::default()).unwrap();
        let paths: Vec<&str> = package
            .files()
            .iter()
            .map(|file| file.path.as_str())
            .collect();
        assert_eq!(paths, files.keys().map(String::as_str).collect::<Vec<_>>());
        for entry in package.files() {
            assert_eq!(
                package.read(&entry.path, 1 << 20).unwrap(),
                files[&entry.path]
            );
        }
        assert_eq!(package.other_manifests(), ["manifest-md5.txt"]);
        assert_eq!(
            package.payload_manifest()["data/photos/x.jpg"],
            Digest::of(&vec![7; 300_000])
        );
        assert_eq!(package.tag_manifest().len(), 2);
        assert_eq!(
            package.read("data/photos/x.jpg", 1000).unwrap_err(),
            ReadError::TooLong {
                path: "data/photos/x.jpg".to_owned(),
                length: 300_000,
                most: 1000
            }
        );
        assert_eq!(
            package.read("../x", 1000).unwrap_err(),
            ReadError::NoSuchFile("../x".to_owned())
        );
    }
    fs::remove_file(file).unwrap();
}

#[test]
fn case_50_a_list_of_files_to_fetch_is_refused() {
    assert_eq!(
        rule(|files| {
            files.insert("fetch.txt".to_owned(), Vec::new());
        }),
        Rule::Fetch
    );
    let mut inner = files();
    inner.insert("data/fetch.txt".to_owned(), Vec::new());
    assert!(both(&inner, &Limits::default()).is_ok());
}

#[test]
fn what_every_package_has_must_be_there() {
    for path in [
        bag::DECLARATION,
        bag::PAYLOAD_MANIFEST,
        bag::TAG_MANIFEST,
        RECORD,
    ] {
        assert_eq!(
            rule(|files| {
                files.remove(path);
            }),
            Rule::NotThere,
            "{path}"
        );
    }
    let refusal = open_bytes(
        zipped(&Files::from([("x".to_owned(), Vec::new())])),
        &Limits::default(),
    )
    .unwrap_err();
    assert_eq!(
        refusal.to_string(),
        "package refused: `bagit.txt`: `bagit.txt` is not in the package; `bagit.txt`, `manifest-sha256.txt`, \
         `tagmanifest-sha256.txt` and a record in `data/records/` are needed"
    );
    assert_eq!(
        refusal.hint(),
        "name the folder that holds `bagit.txt`, or ask for the whole package"
    );
}

#[test]
fn another_version_of_bag_is_refused() {
    let change = |files: &mut Files| {
        files.insert("bagit.txt".to_owned(), BAGIT.replace("1.0", "0.97").into());
    };
    assert_eq!(rule(change), Rule::Declaration);
}

#[test]
fn manifests_that_cannot_be_read_are_refused() {
    for path in [bag::PAYLOAD_MANIFEST, bag::TAG_MANIFEST] {
        let change = |files: &mut Files| {
            files.insert(path.to_owned(), b"x\n".to_vec());
        };
        assert_eq!(rule(change), Rule::Manifest, "{path}");
    }
}

#[test]
fn case_50_paths_in_manifests_are_paths_of_the_package() {
    let listed = |path: &str| {
        rule(|files| {
            let manifest = files.get_mut(bag::PAYLOAD_MANIFEST).unwrap();
            manifest.extend(format!("{}  {path}\n", Digest::of(b"")).bytes());
        })
    };
    assert_eq!(listed("data/../x"), Rule::PathForm);
    assert_eq!(listed("data/records/01-INTAKE.json"), Rule::SamePath);
    assert_eq!(listed("data/records"), Rule::SamePath);
    assert_eq!(listed("data/records/01-intake.json/x"), Rule::SamePath);
}

#[test]
fn case_50_paths_that_are_one_on_some_system_are_refused() {
    let change = |files: &mut Files| {
        files.insert("data/x".to_owned(), Vec::new());
        files.insert("data/X".to_owned(), Vec::new());
    };
    assert_eq!(rule(change), Rule::SamePath);
    let change = |files: &mut Files| {
        files.insert("data/a\u{308}".to_owned(), Vec::new());
    };
    assert_eq!(rule(change), Rule::PathNormal);
    let change = |files: &mut Files| {
        files.insert("data/aux.txt".to_owned(), Vec::new());
    };
    assert_eq!(rule(change), Rule::PathDevice);
}

#[test]
fn packages_beyond_the_limits_are_refused() {
    let small = Limits {
        paths: 9,
        file: 1000,
        large_file: 2000,
        all: 4000,
    };
    let with = |more: &[(&str, usize)]| {
        let mut files = files();
        for (path, length) in more {
            files.insert((*path).to_owned(), vec![0; *length]);
        }
        both(&files, &small)
            .map(|_| ())
            .map_err(|refusal| refusal.rule)
    };
    assert_eq!(with(&[]), Ok(()));
    assert_eq!(with(&[("data/x", 1000)]), Ok(()));
    assert_eq!(with(&[("data/x", 1001)]), Err(Rule::TooLong));
    assert_eq!(with(&[("data/photos/x", 2000)]), Ok(()));
    assert_eq!(with(&[("data/photos/x", 2001)]), Err(Rule::TooLong));
    assert_eq!(
        with(&[("data/photos/x", 2000), ("data/photos/y", 2000)]),
        Err(Rule::AllTooLong)
    );
    // Four files, two folders; three more paths are allowed.
    assert_eq!(with(&[("a", 0), ("b", 0), ("c", 0)]), Ok(()));
    assert_eq!(
        with(&[("a", 0), ("b", 0), ("c/d", 0)]),
        Err(Rule::TooManyPaths)
    );
    assert_eq!(
        Limits::default(),
        Limits {
            paths: 20_000,
            file: 16 << 20,
            large_file: 256 << 20,
            all: 8 << 30
        }
    );
}

#[test]
fn case_50_links_are_refused_and_never_followed() {
    let outside = tempfile::tempdir().unwrap();
    fs::write(outside.path().join("secret"), "x").unwrap();
    for target in [
        outside.path().to_owned(),
        outside.path().join("secret"),
        "nowhere".into(),
    ] {
        let top = folder(&files());
        symlink(&target, top.path().join("data/link")).unwrap();
        let refusal = open(top.path(), &Limits::default()).unwrap_err();
        assert_eq!(
            (refusal.rule, refusal.path.as_str()),
            (Rule::Link, "data/link")
        );
    }
    // A link that takes the place of a file after the listing.
    let top = folder(&files());
    let package = open(top.path(), &Limits::default()).unwrap();
    let record = top.path().join(RECORD);
    fs::remove_file(&record).unwrap();
    symlink(outside.path().join("secret"), &record).unwrap();
    let error = package.read(RECORD, 1000).unwrap_err();
    assert!(
        matches!(
            error,
            ReadError::Refused(Refusal {
                rule: Rule::Link,
                ..
            })
        ),
        "{error:?}"
    );
    // A folder above it that becomes a link.
    let top = folder(&files());
    let package = open(top.path(), &Limits::default()).unwrap();
    let records = top.path().join("data/records");
    fs::rename(&records, outside.path().join("records")).unwrap();
    symlink(outside.path().join("records"), &records).unwrap();
    assert!(package.read(RECORD, 1000).is_err());
}

#[test]
fn a_file_that_changes_while_it_is_read_is_noticed() {
    let top = folder(&files());
    let package = open(top.path(), &Limits::default()).unwrap();
    for bytes in [&b"{  }"[..], b"{"] {
        fs::write(top.path().join(RECORD), bytes).unwrap();
        let error = package.read(RECORD, 1000).unwrap_err();
        assert!(
            error.to_string().contains("it changed while it was read"),
            "{error}"
        );
    }
}

#[test]
fn case_50_pipes_are_refused() {
    let top = folder(&files());
    let pipe = top.path().join("data/pipe");
    rustix::fs::mknodat(
        rustix::fs::CWD,
        &pipe,
        rustix::fs::FileType::Fifo,
        rustix::fs::Mode::from_raw_mode(0o600),
        0,
    )
    .unwrap();
    assert_eq!(
        open(top.path(), &Limits::default()).unwrap_err().rule,
        Rule::NotPlain
    );
}

#[test]
fn names_that_are_no_text_are_refused() {
    use std::os::unix::ffi::OsStrExt as _;
    let top = folder(&files());
    let name = std::ffi::OsStr::from_bytes(b"\xff");
    fs::write(top.path().join("data").join(name), "x").unwrap();
    assert_eq!(
        open(top.path(), &Limits::default()).unwrap_err().rule,
        Rule::PathText
    );
}

#[test]
fn what_is_no_package_is_refused_with_a_next_step() {
    let top = tempfile::tempdir().unwrap();
    let refusal = open(&top.path().join("none"), &Limits::default()).unwrap_err();
    assert_eq!(refusal.rule, Rule::Unreadable);
    let file = top.path().join("letter.txt");
    fs::write(&file, "a letter that is long enough for an end record").unwrap();
    assert_eq!(
        open(&file, &Limits::default()).unwrap_err().rule,
        Rule::ZipEnd
    );
    assert_eq!(
        open(top.path(), &Limits::default()).unwrap_err().rule,
        Rule::NotThere
    );
}

#[test]
fn every_rule_says_what_is_allowed() {
    let refusal = Refusal::new(Rule::TooLong, "data/\u{202e}x", "17 bytes");
    assert_eq!(
        refusal.to_string(),
        "package refused: `data/\\u{202e}x`: 17 bytes; at most 16 MiB are allowed, 256 MiB in `data/photos/` and `data/reports/`"
    );
    assert_eq!(serde_json::to_value(Rule::ZipTwice).unwrap(), "zip_twice");
}

mod hostile {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]
        #[test]
        fn changed_zip_files_never_panic(changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6)) {
            let mut bytes = zipped(&files());
            for (at, byte) in changes {
                let at = at.index(bytes.len());
                bytes[at] = byte;
            }
            if let Ok(package) = open_bytes(bytes, &Limits::default()) {
                for file in package.files() {
                    let _ = package.read(&file.path, 1 << 20);
                }
            }
        }
    }
}

#[test]
fn a_pipe_is_refused_and_not_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let pipe = folder.path().join("pipe");
    let mode = rustix::fs::Mode::from_raw_mode(0o600);
    rustix::fs::mknodat(rustix::fs::CWD, &pipe, rustix::fs::FileType::Fifo, mode, 0).unwrap();
    let refusal = open(&pipe, &Limits::default()).unwrap_err();
    assert_eq!(refusal.rule, Rule::NotPlain);
}
