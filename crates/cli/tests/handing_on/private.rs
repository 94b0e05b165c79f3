//! What stays in the workshop when a blade is handed over, whatever is wished.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use super::{another, give, receive, sha256};
use crate::common::{Bench, edit, samples, sheet, text};

/// Every file of a folder.
fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files(&path));
        } else {
            found.push(path);
        }
    }
    found
}

fn holds(file: &Path, part: &[u8]) -> bool {
    let bytes = fs::read(file).unwrap();
    bytes.windows(part.len()).any(|window| window == part)
}

/// The photo of the crack, which carries the place where it was taken.
fn crack() -> Vec<u8> {
    fs::read(samples().join("photos/gorge-crack.jpg")).unwrap()
}

fn photo<'a>(made: &'a Value, name: &str) -> &'a Value {
    let photos = made["photos"].as_array().unwrap();
    let found = photos.iter().find(|photo| text(photo, "photo") == name);
    found.unwrap_or_else(|| panic!("{made}"))
}

/// A workshop with a record of gorge that keeps the photo of the crack private.
fn kept_private() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    let line = "file = \"../photos/gorge-crack.jpg\"\n";
    let private = format!("{line}original_kept_private = true\n");
    bench
        .put_text(&edit(&sheet("gorge"), line, &private))
        .code(0);
    bench.seal("gorge", "intake", "set_aside").code(0);
    bench
}

#[test]
fn a_private_original_stays_whatever_is_wished() {
    let bench = kept_private();
    fs::write(bench.path("crack.jpg"), crack()).unwrap();
    let digest = sha256(&bench, "crack.jpg");
    let wish = ["--photos", "originals", "--json"];
    let made = give(&bench, "gorge", "one", &wish).code(0).json();
    let packed = photo(&made, "crack");
    assert_eq!(text(packed, "part"), "copy");
    let copy = bench.path("one").join(text(packed, "file"));
    assert!(copy.is_file());
    // The others went as they are.
    assert_eq!(text(photo(&made, "tang"), "part"), "original");
    let metadata = &crack()[2..400];
    for file in files(&bench.path("one")) {
        assert!(!holds(&file, metadata), "{}", file.display());
        assert!(!holds(&file, digest.as_bytes()), "{}", file.display());
        let name = file.file_name().unwrap().to_str().unwrap();
        assert!(!name.contains(&digest), "{name}");
    }

    // A later record names the same file and keeps nothing back: it stays all the same.
    bench.put("gorge");
    bench.seal("gorge", "intake", "set_aside").code(0);
    let made = give(&bench, "gorge", "two", &wish).code(0).json();
    let parts = made["photos"].as_array().unwrap().iter();
    let crack: Vec<&str> = parts
        .filter(|photo| text(photo, "photo") == "crack")
        .map(|photo| text(photo, "part"))
        .collect();
    assert_eq!(crack, ["copy"], "{made}");
    for file in files(&bench.path("two")) {
        assert!(!holds(&file, metadata), "{}", file.display());
        let name = file.file_name().unwrap().to_str().unwrap();
        assert!(!name.contains(&digest), "{name}");
    }
}

/// Whoever hands a package on can add a picture, and every list can be written anew: no record names it.
#[test]
fn a_derivative_made_later_is_called_unsigned() {
    let bench = kept_private();
    another(&bench, "b", "Bellmoor Edges");
    let made = give(&bench, "gorge", "one", &["--json"]).code(0).json();
    let copy = fs::read(bench.path("one").join(text(photo(&made, "crack"), "file"))).unwrap();
    let comment = b"\xff\xfe\x00\x07later";
    let later = [&copy[..2], comment, &copy[2..]].concat();
    fs::write(bench.path("later.jpg"), later).unwrap();
    let digest = sha256(&bench, "later.jpg");
    let path = format!("data/photos/{digest}.jpg");
    fs::copy(bench.path("later.jpg"), bench.path("one").join(&path)).unwrap();
    let manifest = bench.path("one/manifest-sha256.txt");
    let listed = fs::read_to_string(&manifest).unwrap();
    let before = sha256(&bench, "one/manifest-sha256.txt");
    fs::write(&manifest, format!("{listed}{digest}  {path}\n")).unwrap();
    let tags = bench.path("one/tagmanifest-sha256.txt");
    let after = sha256(&bench, "one/manifest-sha256.txt");
    let listed = fs::read_to_string(&tags).unwrap();
    fs::write(&tags, listed.replacen(&before, &after, 1)).unwrap();

    let line = ["verify", "one", "--memory", "nobody", "--json"];
    let verdict = bench.run(&line).code(2).json();
    assert_eq!(text(&verdict["photos"][&path], "state"), "unsigned");
    assert_eq!(verdict["bag"]["changed"], serde_json::json!([]));
    // It is told before the blade is received, and is not taken in.
    let known = super::card(&bench, "w");
    let told = receive(&bench, "one", &["--fingerprint", &known]).code(0);
    let words = format!("look at: {path}: unsigned");
    assert!(told.err.contains(&words), "{}", told.err);
    let object = files(&bench.path("b")).into_iter();
    let mut names = object.map(|path| path.display().to_string());
    assert!(!names.any(|name| name.contains(&digest[2..])));
}

/// What is shown to one receiver changes nothing that another can check.
#[test]
fn the_records_are_the_same_bytes_for_every_receiver() {
    let bench = Bench::with_workshop("Reedbank Polishing");
    bench.put("heron");
    bench.seal("heron", "before_work", "work").code(0);
    give(&bench, "heron", "one", &[]).code(0);
    let shown = ["--reveal", "examination.by.name"];
    give(&bench, "heron", "two", &shown).code(0);
    let of = |package: &str, file: &str| fs::read(bench.path(package).join(file)).ok();
    let record = "data/records/01-before_work.json";
    assert!(of("one", record).is_some());
    assert_eq!(of("one", record), of("two", record));
    let disclosures = "data/disclosures/01.json";
    assert!(of("one", disclosures).is_none());
    assert!(of("two", disclosures).is_some());
}
