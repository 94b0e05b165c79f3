//! Photo files beside a sealed record, through the built command.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod common;

use std::fs;

use common::{Bench, samples, text};

fn bench() -> Bench {
    let bench = Bench::with_workshop("Reedbank Polishing");
    for sheet in ["reed-before", "gorge"] {
        bench.put(sheet);
    }
    bench.seal("reed", "before_work", "work").code(0);
    for photo in ["reed-before", "reed-tang", "gorge-crack"] {
        let from = samples().join("photos").join(format!("{photo}.jpg"));
        fs::copy(from, bench.path(&format!("{photo}.jpg"))).unwrap();
    }
    bench
}

#[test]
fn the_file_of_a_record_is_found_among_its_photos() {
    let bench = bench();
    let ran = bench.work(&["photo", "reed", "reed-tang.jpg"]).code(0);
    assert!(
        ran.out.starts_with("reed-tang.jpg: beside photo `")
            && ran
                .out
                .ends_with("` of record 1: is the original that the record names\n"),
        "{}",
        ran.out
    );
    let answer = bench
        .work(&["photo", "reed", "reed-before.jpg", "--json"])
        .code(0)
        .json();
    assert_eq!(answer["same"].as_bool(), Some(true));
    assert_eq!(text(&answer, "verdict"), "original");
    let key = text(&answer, "photo").to_owned();

    // Beside the wrong photo.
    let ran = bench
        .work(&["photo", "reed", "reed-tang.jpg", "--photo", &key])
        .code(1);
    assert!(ran.out.contains(": the files are swapped"), "{}", ran.out);

    // Another serial number of the camera.
    let mut bytes = fs::read(bench.path("reed-before.jpg")).unwrap();
    let at = bytes
        .windows(7)
        .position(|window| window == b"HO7-BOD")
        .unwrap();
    bytes[at] = b'X';
    fs::write(bench.path("changed.jpg"), bytes).unwrap();
    let answer = bench
        .work(&["photo", "reed", "changed.jpg", "--json"])
        .code(1)
        .json();
    assert_eq!(text(&answer, "verdict"), "other_metadata");
    assert_eq!(text(&answer, "photo"), key);
}

#[test]
fn what_is_no_photo_of_the_record_is_told() {
    let bench = bench();
    let ran = bench.work(&["photo", "reed", "gorge-crack.jpg"]).code(1);
    assert!(
        ran.out
            .starts_with("gorge-crack.jpg: is like none of the photos that record 1 names ("),
        "{}",
        ran.out
    );
    let ran = bench.work(&["photo", "reed", "pass.txt"]).code(1);
    assert_eq!(
        ran.out,
        "pass.txt: beside the photos of record 1: is not the file that the record names, and is not a JPEG file\n"
    );
    let large = fs::File::create(bench.path("large.jpg")).unwrap();
    large.set_len((256 << 20) + 1).unwrap();
    for (arguments, said) in [
        (
            ["photo", "reed", "large.jpg"].as_slice(),
            "error: large.jpg: 268435457 bytes or more, at most 268435456 bytes are allowed\nhint: ",
        ),
        (
            &["photo", "reed", "/dev/zero"],
            "error: /dev/zero: 268435457 bytes or more, at most 268435456 bytes are allowed\nhint: ",
        ),
        (
            &["photo", "reed", "none.jpg"],
            "error: none.jpg: cannot read: ",
        ),
        (
            &["photo", "gorge", "gorge-crack.jpg"],
            "error: blade `gorge` has no sealed record yet\nhint: ",
        ),
        (
            &["photo", "reed", "reed-tang.jpg", "--photo", "nose"],
            "error: the record names no photo `nose`; it names ",
        ),
    ] {
        let ran = bench.work(arguments).code(1);
        assert!(ran.err.starts_with(said), "{arguments:?}: {}", ran.err);
        assert_eq!(ran.out, "");
    }
    bench.work(&["photo", "reed"]).code(4);
}
