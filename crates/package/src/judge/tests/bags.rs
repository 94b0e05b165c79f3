//! Files, manifests, what is refused, what is not looked at, the verifier page and the exit codes.

use super::*;

#[test]
fn a_sound_package_is_whole_as_folder_and_as_zip_file() {
    let files = package(&chain(3));
    let verdict = judged(&files);
    assert_eq!(verdict.exit, 0, "{verdict:#?}");
    assert_eq!(states(&verdict), [RecordState::Intact; 3]);
    assert_eq!(verdict.chain.state, ChainState::Whole);
    assert_eq!(
        (verdict.schema, verdict.page),
        (Some(SchemaState::Fits), PageState::Missing)
    );
    assert_eq!(verdict.bag, BagVerdict::default());
    let subject = verdict.subject.clone().unwrap();
    assert_eq!(subject.file, record_path(3));
    assert_eq!(subject.verdict.completeness.supplied, 3);
    assert_eq!(subject.verdict.completeness.not_supplied, 0);
    let top = folder(&files);
    let memory = memory();
    let told = std::sync::Mutex::new(Vec::new());
    let again = judge_path(top.path(), &reader(&memory), &|at| {
        told.lock().unwrap().push(at);
    });
    assert_eq!(again, verdict);
    let told = told.into_inner().unwrap();
    let most = told.iter().map(|at| at.done).max().unwrap();
    assert_eq!(most, told[0].all);
    // Somebody who knows nobody has to compare the fingerprint.
    let stranger = judge_bytes(zipped(&files), &reader(&Memory::default()));
    assert_eq!(stranger.exit, 2);
    assert_eq!(
        stranger.subject.unwrap().verdict.signer,
        trust::SignerLine::New {
            fingerprint: key(1).public_key().fingerprint().to_string()
        }
    );
}

#[test]
fn the_verdict_has_the_words_of_the_page() {
    let verdict = serde_json::to_value(changed(|files| {
        files.insert("data/proofs/later".to_owned(), Vec::new());
    }))
    .unwrap();
    assert_eq!(verdict["exit"], 0);
    assert_eq!(verdict["refused"], Value::Null);
    assert_eq!(
        verdict["bag"],
        json!({"changed": [], "missing": [], "unlisted": [], "not_looked_at": ["data/proofs/later"], "ignored_manifests": []})
    );
    let record = &verdict["records"][record_path(2)];
    assert_eq!(
        (
            &record["state"],
            &record["number"],
            &record["sequence"],
            &record["standing"]
        ),
        (
            &json!("intact"),
            &json!(2),
            &json!(2),
            &json!("not_in_history")
        )
    );
    assert_eq!(
        verdict["chain"],
        json!({"state": "whole", "supplied": 2, "not_supplied": 0, "reason": null})
    );
    assert_eq!(
        (&verdict["schema"], &verdict["page"]),
        (&json!("fits"), &json!("missing"))
    );
    assert_eq!(verdict["subject"]["signer"]["state"], "known");
    assert_eq!(verdict["subject"]["file"], json!(record_path(2)));
}

#[test]
fn case_50_a_refused_package_says_nothing_else() {
    let mut files = package(&chain(1));
    files.insert("fetch.txt".to_owned(), Vec::new());
    let verdict = judged(&files);
    assert_eq!(verdict.exit, 1);
    assert!(verdict.records.is_empty() && verdict.subject.is_none());
    let refused = serde_json::to_value(&verdict).unwrap()["refused"].clone();
    assert_eq!(
        (&refused["rule"], &refused["path"]),
        (&json!("fetch"), &json!("fetch.txt"))
    );
    assert_eq!(
        refused["hint"],
        "rely on nothing in this package; ask whoever handed it over for one that the workshop wrote"
    );
}

#[test]
fn case_50_data_that_belie_the_directory_refuse_the_package_when_they_are_read() {
    let files = package(&chain(1));
    let mut bytes = zipped(&files);
    // A byte of the schema, whose check sum the directory states.
    let place = bytes
        .windows(4)
        .position(|window| window == b"urn:")
        .unwrap();
    bytes[place] ^= 1;
    let verdict = judge_bytes(bytes, &reader(&memory()));
    assert_eq!(
        verdict.refused.unwrap().refusal.rule,
        crate::open::Rule::ZipData
    );
}

#[test]
fn what_cannot_be_read_cannot_be_checked() {
    let top = folder(&package(&chain(1)));
    let memory = memory();
    let verdict = judge_path(&top.path().join("none"), &reader(&memory), &|_| ());
    assert_eq!(verdict.exit, 3);
    let refused = verdict.refused.unwrap();
    assert!(
        refused.what.starts_with("package refused: "),
        "{}",
        refused.what
    );
}

#[test]
fn a_changed_file_is_rejected() {
    let mut files = package(&chain(2));
    files.insert("data/HOW-TO-CHECK.txt".to_owned(), b"commands".to_vec());
    manifests(&mut files);
    files.insert("data/HOW-TO-CHECK.txt".to_owned(), b"others".to_vec());
    let verdict = judged(&files);
    assert_eq!(
        (verdict.exit, verdict.bag.changed),
        (1, vec!["data/HOW-TO-CHECK.txt".to_owned()])
    );
    let mut files = package(&chain(2));
    files.insert(
        "bagit.txt".to_owned(),
        crate::fixture::BAGIT.replace('\n', "\r\n").into(),
    );
    let verdict = judged(&files);
    assert_eq!(
        (verdict.exit, verdict.bag.changed),
        (1, vec!["bagit.txt".to_owned()])
    );
}

#[test]
fn a_tool_that_was_not_released_is_to_be_confirmed() {
    let mut files = package(&chain(2));
    for (path, text) in aids::AIDS {
        files.insert((*path).to_owned(), text.as_bytes().to_vec());
    }
    manifests(&mut files);
    let verdict = judged(&files);
    let states = verdict.aids.values().map(|one| one.state);
    assert_eq!(
        states.collect::<Vec<_>>(),
        [AidState::Released; aids::AIDS.len()]
    );
    let before = verdict.exit;
    let path = "data/tools/check_record.py";
    files.insert(path.to_owned(), b"print('every step held')".to_vec());
    manifests(&mut files);
    let verdict = judged(&files);
    assert_eq!(verdict.aids[path].state, AidState::Other);
    assert_eq!((before, verdict.exit), (0, 2));
}

#[test]
fn a_listed_file_that_is_not_there_cannot_be_checked() {
    let mut files = package(&chain(2));
    files.insert("data/format/record-format.md".to_owned(), b"page".to_vec());
    manifests(&mut files);
    files.remove("data/format/record-format.md");
    let verdict = judged(&files);
    assert_eq!(
        (verdict.exit, verdict.bag.missing),
        (3, vec!["data/format/record-format.md".to_owned()])
    );
}

#[test]
fn files_that_no_manifest_lists_or_that_have_no_place_are_to_be_confirmed() {
    for path in [
        "data/format/record-format.md",
        "data/notes.txt",
        "notes.txt",
        "bag-info.txt",
        "data/proofs/x",
    ] {
        let mut files = package(&chain(2));
        files.insert(path.to_owned(), b"x".to_vec());
        let verdict = judged(&files);
        assert_eq!(
            (verdict.exit, verdict.bag.unlisted),
            (2, vec![path.to_owned()]),
            "{path}"
        );
    }
    // Extra although it is listed; a manifest of another algorithm is neither.
    let verdict = changed(|files| {
        files.insert("data/notes.txt".to_owned(), b"x".to_vec());
        files.insert("manifest-md5.txt".to_owned(), b"x".to_vec());
    });
    assert_eq!(
        (verdict.exit, verdict.bag.unlisted),
        (2, vec!["data/notes.txt".to_owned()])
    );
    assert_eq!(verdict.bag.ignored_manifests, ["manifest-md5.txt"]);
}

#[test]
fn case_51_manifests_made_anew_do_not_save_a_changed_record() {
    let verdict = changed(|files| {
        let record = files.get_mut(&record_path(2)).unwrap();
        let text = String::from_utf8(record.clone()).unwrap();
        *record = text
            .replace("Long sword `Brook`", "Long sword `Grand`")
            .into();
    });
    assert!(verdict.bag.changed.is_empty());
    assert_eq!(
        states(&verdict),
        [RecordState::Intact, RecordState::Altered]
    );
    assert_eq!(verdict.exit, 1);
    // What stands is spoken of.
    assert_eq!(verdict.subject.unwrap().file, record_path(1));
}

#[test]
fn what_is_no_record_is_altered_in_a_place_for_records() {
    for bytes in [&b"words"[..], b"{}", b"%PDF-1.7", b"", b"[1]", b"\xff"] {
        let verdict = changed(|files| {
            files.insert(record_path(2), bytes.to_vec());
        });
        assert_eq!(states(&verdict)[1], RecordState::Altered, "{bytes:?}");
        assert_eq!(verdict.exit, 1);
        assert!(!verdict.records[&record_path(2)].reasons.is_empty());
    }
}

#[test]
fn a_record_written_anew_has_the_same_content() {
    let verdict = changed(|files| {
        let record = files.get_mut(&record_path(2)).unwrap();
        let value: Value = serde_json::from_slice(record).unwrap();
        *record = serde_json::to_vec_pretty(&value).unwrap();
    });
    assert_eq!(
        states(&verdict),
        [RecordState::Intact, RecordState::SameContent]
    );
    assert_eq!((verdict.exit, verdict.chain.state), (0, ChainState::Whole));
}

#[test]
fn a_verifier_page_of_somebody_else_is_to_be_confirmed() {
    let with = |page: &[u8]| {
        let page = page.to_vec();
        changed(move |files| {
            files.insert("data/verify.html".to_owned(), page);
        })
    };
    let other = with(b"<!doctype html>");
    assert_eq!((other.page, other.exit), (PageState::Other, 2));
    let own = with(crate::page::page().as_bytes());
    let released = crate::page::known(crate::page::page().as_bytes()) != Known::Other;
    assert_eq!(own.page == PageState::Released, released);
}

#[test]
fn case_39_another_schema_file_is_rejected() {
    let verdict = changed(|files| {
        let schema = files
            .get_mut("data/schema/tangmark-record-1.schema.json")
            .unwrap();
        schema.push(b' ');
    });
    assert_eq!(
        (verdict.schema, verdict.exit),
        (Some(SchemaState::Other), 1)
    );
    let none = changed(|files| {
        files.remove("data/schema/tangmark-record-1.schema.json");
    });
    assert_eq!((none.schema, none.exit), (None, 0));
    // A record that names another schema as version 1.
    let mut record = unsigned(Some(&chain(1)[0]));
    record["schema"]["digest"] = json!(Digest::of(b"other").to_string());
    let verdict = changed(|files| {
        files.insert(record_path(2), seal(&record));
    });
    assert_eq!(states(&verdict)[1], RecordState::Altered);
}

#[test]
fn the_verdict_depends_on_nothing_but_bytes_and_reader() {
    let mut files = package(&chain(12));
    for number in 0..40_u8 {
        let bytes = vec![number; 1000 + usize::from(number)];
        files.insert(format!("data/photos/{}.jpg", Digest::of(&bytes)), bytes);
    }
    manifests(&mut files);
    let text = |files: &Files| serde_json::to_string(&judged(files)).unwrap();
    let first = text(&files);
    for _ in 0..5 {
        assert_eq!(text(&files), first);
    }
}

mod hostile {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]
        /// Whatever is changed in the payload, no record that differs is intact, and nothing panics.
        #[test]
        fn no_changed_byte_goes_unnoticed(at in any::<prop::sample::Index>(), change in 1..=255_u8, which in any::<prop::sample::Index>()) {
            let mut files = package(&chain(2));
            let paths: Vec<String> = files.keys().cloned().collect();
            let path = which.get(&paths);
            let bytes = files.get_mut(path).unwrap();
            let at = at.index(bytes.len());
            bytes[at] ^= change;
            let verdict = judged(&files);
            prop_assert!(verdict.exit != 0 || path == "tagmanifest-sha256.txt", "{path} at {at}: {verdict:#?}");
            if path.starts_with("data/records/") {
                prop_assert_eq!(verdict.exit, 1);
            }
        }
    }
}
