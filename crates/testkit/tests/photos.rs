//! The committed demo photos are what the generator makes, and stay small.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::fs;
use std::path::PathBuf;

use tangmark_testkit::photos;

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../samples/photos")
}

/// One close-up (crack, rust, temper line) and one tang (gold, holes, file marks): together they
/// use every part of the renderer; all fourteen would only take longer.
#[test]
fn committed_photos_are_what_the_generator_makes() {
    for file in ["gorge-crack.jpg", "lantern-tang.jpg"] {
        let committed = fs::read(folder().join(file)).unwrap();
        let rendered = photos::render(file).unwrap();
        assert!(
            rendered == committed,
            "{file}: {} bytes rendered, {} committed, and they differ: run `cargo run --release -p tangmark-testkit -- photos --out samples/photos`",
            rendered.len(),
            committed.len()
        );
    }
}

#[test]
fn committed_index_is_what_the_generator_lists() {
    let committed = fs::read(folder().join("index.json")).unwrap();
    assert_eq!(
        String::from_utf8(photos::index_json().unwrap()).unwrap(),
        String::from_utf8(committed).unwrap()
    );
}

#[test]
fn folder_holds_the_listed_baseline_jpegs_and_nothing_else() {
    let mut total = 0;
    let mut names = vec!["README.md".to_owned(), "index.json".to_owned()];
    for entry in photos::index() {
        let bytes = fs::read(folder().join(entry.file)).unwrap();
        let frame = frame_header(&bytes);
        assert_eq!(
            frame,
            (0xc0, entry.height, entry.width),
            "{}: marker, height, width",
            entry.file
        );
        assert!(
            bytes.len() < 130_000,
            "{}: {} bytes",
            entry.file,
            bytes.len()
        );
        total += bytes.len();
        names.push(entry.file.to_owned());
    }
    assert!(total < 1_600_000, "all photos: {total} bytes");
    names.sort();
    let mut found: Vec<String> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    found.sort();
    assert_eq!(found, names);
}

#[test]
fn unknown_photo_is_refused_with_the_way_to_the_names() {
    let error = photos::render("nothing.jpg").unwrap_err();
    assert_eq!(error.to_string(), "nothing.jpg: no demo photo of this name");
    assert_eq!(
        error.hint().as_deref(),
        Some("the names are listed in index.json beside the photos")
    );
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let file = folder().join("README.md/photos");
    let error = photos::write_all(&file).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("README.md/photos: cannot be written:"),
        "{error}"
    );
    assert!(
        error
            .hint()
            .unwrap()
            .starts_with("name a folder you may write to with --out")
    );
}

#[test]
fn some_photos_carry_what_a_camera_writes_and_one_a_profile() {
    let holds = |bytes: &[u8], words: &str| {
        bytes
            .windows(words.len())
            .any(|window| window == words.as_bytes())
    };
    let mut with_camera = Vec::new();
    for entry in photos::index() {
        let bytes = fs::read(folder().join(entry.file)).unwrap();
        let words: Vec<bool> = photos::CAMERA_WORDS
            .iter()
            .map(|words| holds(&bytes, words))
            .collect();
        let copied = tangmark_report::jpeg::copy(&bytes).unwrap();
        for words in photos::CAMERA_WORDS {
            assert!(!holds(&copied.bytes, words), "{}: {words}", entry.file);
        }
        assert!(
            words.iter().all(|held| *held == words[0]),
            "{}: {words:?}",
            entry.file
        );
        if words[0] {
            with_camera.push(entry.file);
            // Two pictures begin in the file, the thumbnail and the photo; one in the copy.
            let starts = |bytes: &[u8]| {
                bytes
                    .windows(3)
                    .filter(|window| **window == [0xff, 0xd8, 0xff])
                    .count()
            };
            assert_eq!(
                (starts(&bytes), starts(&copied.bytes)),
                (2, 1),
                "{}",
                entry.file
            );
        }
        assert_eq!(copied.differs(), words[0], "{}", entry.file);
        assert_eq!(copied.profile.is_some(), entry.file == "reed-temper.jpg");
        assert_eq!(copied.profile_left_out, None);
    }
    assert_eq!(with_camera, ["reed-before.jpg", "gorge-crack.jpg"]);
}

/// Walks the segments to the frame header: marker, height, width (ITU-T T.81, B.2.2).
fn frame_header(bytes: &[u8]) -> (u8, u16, u16) {
    let word = |at: usize| u16::from_be_bytes([bytes[at], bytes[at + 1]]);
    let mut at = 2;
    loop {
        assert_eq!(bytes[at], 0xff, "no marker at byte {at}");
        let marker = bytes[at + 1];
        if (0xc0..=0xcf).contains(&marker) && marker != 0xc4 && marker != 0xc8 && marker != 0xcc {
            return (marker, word(at + 5), word(at + 7));
        }
        at += 2 + usize::from(word(at + 2));
    }
}
