//! What a receiving leaves in the workshop, and what leaves nothing.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::fs;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use serde_json::json;
use tangmark_core::Digest;
use tangmark_core::record::UtcTime;
use tangmark_package::write::Content;
use tangmark_store::{PhotoRow, Store as _};
use tangmark_testkit::cases::samples;
use tangmark_testkit::failures::{self, Kind};
use tangmark_testkit::sealed::{self, Trial};
use tangmark_workshop::receive::{Received, VerifyPackage};
use tangmark_workshop::{Setup, Surroundings, Workshop, WorkshopError};

/// A workshop that receives, in a folder of its own.
struct Receiver {
    folder: tempfile::TempDir,
    workshop: Workshop,
}

fn now() -> UtcTime {
    "2026-11-25T09:30:00Z".parse().unwrap()
}

/// Does something with a clock and numbers that are the same every time.
fn with<T>(folder: &Path, what: impl FnOnce(&mut Surroundings<'_>) -> T) -> T {
    let mut count = 0_u8;
    let mut random = |bytes: &mut [u8]| {
        for byte in bytes {
            count = count.wrapping_mul(5).wrapping_add(11);
            *byte = count;
        }
    };
    what(&mut Surroundings {
        now: now(),
        random: &mut random,
        runner: PathBuf::new(),
        plugin_folders: Vec::new(),
        scratch: folder.to_owned(),
    })
}

impl Receiver {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("workshop");
        let setup = Setup {
            folder: &place,
            name: "Bellmoor Edges",
            passphrase: b"three wet stones",
            demo: true,
        };
        let made = with(folder.path(), |around| Workshop::setup(&setup, around));
        let (workshop, _) = made.unwrap();
        Self { folder, workshop }
    }

    /// Receives a package whose signer's card is at hand.
    fn receive(&self, package: &Path, card: &str) -> Result<Received, WorkshopError> {
        let now = now();
        let order = VerifyPackage {
            package,
            keys: &[],
            authorities: &[],
            fingerprint: None,
            memory: None,
            workshop: Some(&self.workshop),
            now: &now,
        };
        let mut incoming = self.workshop.look_at_package(&order, &|_| ())?;
        incoming.compare(card)?;
        with(self.folder.path(), |around| {
            self.workshop.take_in(&incoming, None, around)
        })
    }

    fn packed(&self, name: &str, content: &Content) -> PathBuf {
        let file = self.folder.path().join(name);
        let mut go_on = |_| ControlFlow::Continue(());
        content
            .write_zip(&file, "trial-handover", &mut go_on)
            .unwrap();
        file
    }
}

/// How many files lie below a folder.
fn files(folder: &Path) -> usize {
    let Ok(entries) = fs::read_dir(folder) else {
        return 0;
    };
    let of = |path: PathBuf| if path.is_dir() { files(&path) } else { 1 };
    entries.map(|entry| of(entry.unwrap().path())).sum()
}

fn card() -> String {
    let key = sealed::key().unwrap().public_key();
    key.fingerprint().to_string()
}

/// A record with one photo, whose caption and stated length are the caller's, and the photo.
fn package(caption: &str, length: Option<u64>) -> (Content, Digest) {
    let photo = fs::read(samples().join("photos/heron-tang.jpg")).unwrap();
    let digest = Digest::of(&photo);
    let mut trial = Trial::new(1).unwrap();
    trial.add_photos(&[&photo]).unwrap();
    trial.unsigned["photos"][0]["caption"] = json!(caption);
    if let Some(length) = length {
        trial.unsigned["photos"][0]["original"]["length"] = json!(length);
    }
    let mut content = Content::new();
    let sealed = trial.seal().unwrap();
    content
        .add_bytes("data/records/01-before_work.json", sealed)
        .unwrap();
    content
        .add_bytes(format!("data/photos/{digest}.jpg"), photo)
        .unwrap();
    (content, digest)
}

#[test]
fn a_note_of_a_photo_that_is_there_stays() {
    let receiver = Receiver::new();
    let (content, digest) = package("Tang", None);
    let file = receiver.packed("one.zip", &content);
    receiver.receive(&file, &card()).unwrap();
    let store = receiver.workshop.store();
    let rows = store.photos("trial").unwrap();
    assert_eq!(rows.len(), 1);
    assert_eq!(rows[0].digest, digest);
    let mine = PhotoRow {
        file_name: "IMG_0412.jpg".to_owned(),
        shows: "tang, as I took it".to_owned(),
        ..rows[0].clone()
    };
    store.add_photo(&mine).unwrap();
    let again = receiver.receive(&file, &card()).unwrap();
    assert_eq!(again.added, Vec::<u32>::new());
    assert_eq!(store.photos("trial").unwrap(), [mine]);
}

/// Nothing that a record may say stops a receiving half-way.
#[test]
fn captions_and_lengths_of_others_stop_no_receiving() {
    let longest = "研".repeat(400);
    for (caption, length) in [
        (longest.as_str(), None),
        ("with a \u{7} bell and a \u{9b} sign", None),
        ("Tang", Some(17)),
    ] {
        let receiver = Receiver::new();
        let (content, digest) = package(caption, length);
        let file = receiver.packed("one.zip", &content);
        let received = receiver.receive(&file, &card()).unwrap();
        assert_eq!(received.added, [1_u32], "{caption}");
        assert_eq!(received.sheet, Some(1), "{:?}", received.remarks);
        let rows = receiver.workshop.store().photos("trial").unwrap();
        let kept = receiver.workshop.store().object_row(&digest).unwrap();
        assert_eq!(rows[0].length, kept.unwrap().length, "{caption}");
    }
}

/// Case 50 and its kin: what no reader should unpack is refused whole, and nothing of it is kept.
#[test]
fn case_50_hostile_packages_are_refused_whole_and_nothing_is_received() {
    let receiver = Receiver::new();
    let store = receiver.workshop.store();
    let objects = receiver.workshop.folder().join("objects");
    let before = files(&objects);
    let mut tried = 0;
    let corpus = failures::all().unwrap();
    for case in corpus
        .iter()
        .filter(|case| case.kind == Kind::Package && matches!(case.number, 48 | 50 | 51))
    {
        let file = receiver.folder.path().join("case.zip");
        fs::write(&file, case.judged()).unwrap();
        let found = receiver.receive(&file, "AAAAA-AAAAA-AAAAA-AAAAA");
        let told = found.unwrap_err().to_string();
        let sound = [
            "all deflated",
            "descriptors behind the data",
            "a manifest of another algorithm",
            "zip: an entry for its folder",
        ];
        // With the wrong card a sound one gets as far as the fingerprint.
        assert_eq!(
            told.contains("the fingerprint typed is"),
            sound.contains(&case.name.as_str()),
            "{}: {told}",
            case.name
        );
        tried += 1;
        assert!(store.blades().unwrap().is_empty(), "{}", case.name);
        assert_eq!(files(&objects), before, "{}", case.name);
    }
    assert!(tried > 60, "{tried}");
}
