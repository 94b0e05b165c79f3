#![allow(clippy::unwrap_used, clippy::expect_used)]
use std::{collections::BTreeSet, path::PathBuf, process::Command};

use lopdf::{Dictionary, Document, Object, ObjectId};
use tangmark_core::Digest;

use crate::{RenderInput, render, sample, sample::Sample, scene::Role};

/// Set to `NAME=FILE`: the test of that name then renders the sample NAME into FILE.
const IN_OTHER_PROCESS: &str = "TANGMARK_REPORT_TO";

#[test]
fn renders_for_another_process() {
    let Some(order) = std::env::var_os(IN_OTHER_PROCESS) else {
        return;
    };
    let order = order.into_string().unwrap();
    let (name, file) = order.split_once('=').unwrap();
    let sample = sample::named(name).unwrap();
    // A report made before must leave no trace in this one.
    render(&sample::spear().record, &sample::spear().input()).unwrap();
    std::fs::write(file, render(&sample.record, &sample.input()).unwrap().pdf).unwrap();
}

#[test]
fn the_same_record_gives_the_same_bytes_here_and_in_another_process() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["sword", "bare"] {
        let sample = sample::named(name).unwrap();
        let here = render(&sample.record, &sample.input()).unwrap().pdf;
        let again = render(&sample.record, &sample.input()).unwrap().pdf;
        assert!(
            here == again,
            "{name}: second render in this process differs"
        );
        let file: PathBuf = folder.path().join(name);
        let order = format!("{name}={}", file.display());
        let status = Command::new(std::env::current_exe().unwrap())
            .args([
                "--exact",
                "pdf::tests::renders_for_another_process",
                "--quiet",
            ])
            .env(IN_OTHER_PROCESS, order)
            .output()
            .unwrap()
            .status;
        assert!(status.success());
        assert!(
            std::fs::read(&file).unwrap() == here,
            "{name}: another process gives other bytes"
        );
    }
}

fn pdf_of(sample: &Sample) -> Vec<u8> {
    render(&sample.record, &sample.input()).unwrap().pdf
}

fn catalog(document: &Document) -> &Dictionary {
    document.catalog().unwrap()
}

/// Follows references until something else comes.
fn look<'a>(document: &'a Document, object: &'a Object) -> &'a Object {
    document.dereference(object).unwrap().1
}

fn entry<'a>(document: &'a Document, dictionary: &'a Dictionary, key: &[u8]) -> &'a Object {
    look(document, dictionary.get(key).unwrap())
}

fn count(haystack: &[u8], needle: &[u8]) -> usize {
    haystack
        .windows(needle.len())
        .filter(|window| *window == needle)
        .count()
}

#[test]
fn one_revision_one_table_nothing_after_the_end() {
    let bytes = pdf_of(&sample::sword());
    assert!(bytes.starts_with(b"%PDF-1.7\n%"));
    assert!(bytes[10..14].iter().all(|byte| *byte > 127));
    assert!(bytes.ends_with(b"%%EOF"));
    for (word, times) in [
        (b"%%EOF".as_slice(), 1),
        (b"startxref", 1),
        (b"\nxref\n", 1),
        (b"trailer", 1),
        (b"/Prev", 7),
        (b"/XRef", 0),
        (b"/ObjStm", 0),
    ] {
        // /Prev stands in the outline only: as often as there are headings less one.
        let found = count(&bytes, word);
        if word == b"/Prev" {
            let document = Document::load_mem(&bytes).unwrap();
            assert!(document.trailer.get(b"Prev").is_err() && found > times);
        } else {
            assert_eq!(found, times, "{}", String::from_utf8_lossy(word));
        }
    }
}

#[test]
fn signature_gap_has_the_agreed_spelling() {
    let bytes = pdf_of(&sample::sword());
    let contents = [b"/Contents <".as_slice(), &[b'0'; 16_384], b">"].concat();
    assert_eq!(
        count(&bytes, b"/ByteRange [0 0000000000 0000000000 0000000000]"),
        1
    );
    assert_eq!(count(&bytes, b"/ByteRange"), 1);
    assert_eq!(count(&bytes, &contents), 1);
    assert_eq!(count(&bytes, b"/Contents <"), 1);
    let document = Document::load_mem(&bytes).unwrap();
    let form = entry(&document, catalog(&document), b"AcroForm")
        .as_dict()
        .unwrap();
    assert_eq!(form.get(b"SigFlags").unwrap().as_i64().unwrap(), 3);
    let fields = form.get(b"Fields").unwrap().as_array().unwrap();
    assert_eq!(fields.len(), 1);
    let widget = look(&document, &fields[0]).as_dict().unwrap();
    assert_eq!(widget.get(b"F").unwrap().as_i64().unwrap(), 132);
    assert!(widget.get(b"TU").is_ok());
    let appearance = entry(
        &document,
        entry(&document, widget, b"AP").as_dict().unwrap(),
        b"N",
    )
    .as_stream()
    .unwrap();
    assert_eq!(
        appearance.dict.get(b"Subtype").unwrap().as_name().unwrap(),
        b"Form"
    );
    let signature = entry(&document, widget, b"V").as_dict().unwrap();
    assert_eq!(
        signature.get(b"SubFilter").unwrap().as_name().unwrap(),
        b"ETSI.CAdES.detached"
    );
    assert_eq!(
        signature.get(b"M").unwrap().as_str().unwrap(),
        b"D:20260304050607Z"
    );
    let certified = entry(&document, catalog(&document), b"Perms")
        .as_dict()
        .unwrap()
        .get(b"DocMDP")
        .unwrap();
    assert_eq!(certified, widget.get(b"V").unwrap());
    let reference = signature.get(b"Reference").unwrap().as_array().unwrap()[0]
        .as_dict()
        .unwrap();
    assert_eq!(
        reference
            .get(b"TransformParams")
            .unwrap()
            .as_dict()
            .unwrap()
            .get(b"P")
            .unwrap()
            .as_i64()
            .unwrap(),
        1
    );
}

#[test]
fn words_that_imitate_the_signature_do_not_disturb_it() {
    let mut value = sample::bare();
    let token = "/ByteRange [0 0000000000 0000000000 0000000000] /Contents <00";
    value["blade"]["title"] = token.into();
    value["blade"]["object_type"] = "/ByteRange[0 11111111111 2222222222 3333333333]".into();
    let sample = Sample::of(&value);
    let bytes = pdf_of(&sample);
    assert_eq!(count(&bytes, b"/ByteRange"), 1);
    assert_eq!(count(&bytes, b"/Contents <"), 1);
    assert_eq!(
        attachment(&Document::load_mem(&bytes).unwrap()),
        sample.bytes
    );
}

fn attachment(document: &Document) -> Vec<u8> {
    let files = catalog(document).get(b"AF").unwrap().as_array().unwrap();
    assert_eq!(files.len(), 1);
    let file = look(document, &files[0]).as_dict().unwrap();
    assert_eq!(
        file.get(b"AFRelationship").unwrap().as_name().unwrap(),
        b"Source"
    );
    let stream = entry(document, file.get(b"EF").unwrap().as_dict().unwrap(), b"F")
        .as_stream()
        .unwrap();
    assert_eq!(
        stream.dict.get(b"Subtype").unwrap().as_name().unwrap(),
        b"application/json"
    );
    stream
        .decompressed_content()
        .unwrap_or_else(|_| stream.content.clone())
}

#[test]
fn archival_rules_hold() {
    let sample = sample::sword();
    let document = Document::load_mem(&pdf_of(&sample)).unwrap();
    let catalog = catalog(&document);
    assert_eq!(attachment(&document), sample.bytes);

    let intent = catalog.get(b"OutputIntents").unwrap().as_array().unwrap()[0]
        .as_dict()
        .unwrap();
    assert_eq!(intent.get(b"S").unwrap().as_name().unwrap(), b"GTS_PDFA1");
    let profile = entry(&document, intent, b"DestOutputProfile")
        .as_stream()
        .unwrap();
    assert_eq!(profile.dict.get(b"N").unwrap().as_i64().unwrap(), 3);

    let packet = entry(&document, catalog, b"Metadata").as_stream().unwrap();
    assert!(packet.dict.get(b"Filter").is_err());
    let packet = String::from_utf8(packet.content.clone()).unwrap();
    for part in [
        "<pdfaid:part>3</pdfaid:part>",
        "<pdfaid:conformance>A</pdfaid:conformance>",
        "<pdfuaid:part>1</pdfuaid:part>",
    ] {
        assert!(packet.contains(part), "{part}");
    }

    let mut fonts = 0;
    for object in document.objects.values() {
        let Ok(font) = object.as_dict() else { continue };
        if font
            .get(b"Type")
            .and_then(Object::as_name)
            .is_ok_and(|kind| kind == b"Font")
        {
            assert_eq!(font.get(b"Subtype").unwrap().as_name().unwrap(), b"Type0");
            assert!(font.get(b"ToUnicode").is_ok());
            let descendant = look(
                &document,
                &font.get(b"DescendantFonts").unwrap().as_array().unwrap()[0],
            )
            .as_dict()
            .unwrap();
            assert_eq!(
                descendant.get(b"CIDToGIDMap").unwrap().as_name().unwrap(),
                b"Identity"
            );
            let descriptor = entry(&document, descendant, b"FontDescriptor")
                .as_dict()
                .unwrap();
            assert!(
                entry(&document, descriptor, b"FontFile2")
                    .as_stream()
                    .unwrap()
                    .content
                    .len()
                    > 1000
            );
            fonts += 1;
        }
    }
    // Two weights of two families.
    assert_eq!(fonts, 4);

    // The record's name is the file's identifier.
    let id = document.trailer.get(b"ID").unwrap().as_array().unwrap();
    let name = Digest::of(&sample.bytes);
    assert!(
        id.iter()
            .all(|half| half.as_str().unwrap() == name.as_bytes()),
        "a record without proof is named by its own bytes"
    );
}

#[test]
fn accessibility_rules_hold() {
    let document = Document::load_mem(&pdf_of(&sample::sword())).unwrap();
    let catalog = catalog(&document);
    assert_eq!(catalog.get(b"Lang").unwrap().as_str().unwrap(), b"en");
    assert!(
        catalog
            .get(b"MarkInfo")
            .unwrap()
            .as_dict()
            .unwrap()
            .get(b"Marked")
            .unwrap()
            .as_bool()
            .unwrap()
    );
    assert!(
        catalog
            .get(b"ViewerPreferences")
            .unwrap()
            .as_dict()
            .unwrap()
            .get(b"DisplayDocTitle")
            .unwrap()
            .as_bool()
            .unwrap()
    );
    let root = entry(&document, catalog, b"StructTreeRoot")
        .as_dict()
        .unwrap();
    let numbers = entry(
        &document,
        entry(&document, root, b"ParentTree").as_dict().unwrap(),
        b"Nums",
    )
    .as_array()
    .unwrap();
    assert_eq!(
        numbers.len(),
        2 * (document.get_pages().len() + 1),
        "one entry a page and one for the signature"
    );
    for page in document.get_pages().values() {
        let page = document.get_object(*page).unwrap().as_dict().unwrap();
        assert_eq!(page.get(b"Tabs").unwrap().as_name().unwrap(), b"S");
        assert!(page.get(b"StructParents").is_ok());
    }
    let mut roles: Vec<Vec<u8>> = Vec::new();
    for object in document.objects.values() {
        let Ok(element) = object.as_dict() else {
            continue;
        };
        if element
            .get(b"Type")
            .and_then(Object::as_name)
            .is_ok_and(|kind| kind == b"StructElem")
        {
            let role = element.get(b"S").unwrap().as_name().unwrap();
            if role == b"Figure" {
                assert!(
                    element.get(b"Alt").is_ok()
                        && element
                            .get(b"A")
                            .unwrap()
                            .as_dict()
                            .unwrap()
                            .get(b"BBox")
                            .is_ok()
                );
            }
            if role == b"TH" {
                assert!(
                    element
                        .get(b"A")
                        .unwrap()
                        .as_dict()
                        .unwrap()
                        .get(b"Scope")
                        .is_ok()
                );
            }
            roles.push(role.to_vec());
        }
    }
    let times = |role: &str| {
        roles
            .iter()
            .filter(|found| found.as_slice() == role.as_bytes())
            .count()
    };
    assert_eq!((times("Document"), times("H1"), times("Form")), (1, 1, 1));
    // Drawings, photographs (one of them an empty frame), QR code: each that was set is in the file.
    let sample = sample::sword();
    let (scene, ..) = crate::scene_of(&sample.record, &sample.input()).unwrap();
    let set = scene.nodes.iter().filter(|node| node.role == Role::Figure);
    assert_eq!(times("Figure"), set.count());
    assert!(times("Figure") > 6);
    assert!(times("H2") >= 12 && times("Table") > 10 && times("LBody") > 5 && times("Span") > 10);
}

#[test]
fn nothing_is_left_over_from_the_libraries() {
    let bytes = pdf_of(&sample::sword());
    let document = Document::load_mem(&bytes).unwrap();
    let mut reached: BTreeSet<ObjectId> = BTreeSet::new();
    let mut open: Vec<&Object> = document.trailer.iter().map(|(_, value)| value).collect();
    while let Some(object) = open.pop() {
        match object {
            Object::Reference(id) if reached.insert(*id) => {
                open.push(document.get_object(*id).unwrap());
            }
            Object::Array(items) => open.extend(items),
            Object::Dictionary(dictionary) => {
                open.extend(dictionary.iter().map(|(_, value)| value));
            }
            Object::Stream(stream) => open.extend(stream.dict.iter().map(|(_, value)| value)),
            _ => {}
        }
    }
    assert_eq!(reached.len(), document.objects.len());
    assert_eq!(
        reached.iter().map(|id| id.0).max().unwrap() as usize,
        document.objects.len()
    );
    for word in [
        b"printpdf".as_slice(),
        b"lopdf",
        b"FOGRA",
        b"JavaScript",
        b"OpenAction",
        b"/OCProperties",
        b"/URI",
    ] {
        assert_eq!(count(&bytes, word), 0, "{}", String::from_utf8_lossy(word));
    }
}

#[test]
fn every_mark_is_content_or_artifact() {
    let document = Document::load_mem(&pdf_of(&sample::many_flaws(60))).unwrap();
    for page in document.get_pages().values() {
        let operations = document
            .get_and_decode_page_content(*page)
            .unwrap()
            .operations;
        let mut depth = 0;
        let mut kinds = BTreeSet::new();
        for operation in operations {
            match operation.operator.as_str() {
                "BDC" => {
                    let properties = operation.operands[1].as_dict().unwrap();
                    depth += 1;
                    if depth > 1 {
                        // Words whose glyphs alone do not read right: nothing else nests.
                        assert_eq!(depth, 2);
                        assert_eq!(operation.operands[0].as_name().unwrap(), b"Span");
                        assert!(properties.get(b"ActualText").is_ok());
                        assert!(properties.get(b"MCID").is_err());
                        continue;
                    }
                    let artifact = operation.operands[0].as_name().unwrap() == b"Artifact";
                    assert_eq!(artifact, properties.get(b"MCID").is_err());
                    if artifact {
                        kinds.insert(properties.get(b"Type").unwrap().as_name().unwrap().to_vec());
                    }
                }
                "EMC" => depth -= 1,
                "Tj" | "TJ" | "S" | "f" | "B" | "b" | "Do" => {
                    assert!(
                        depth > 0,
                        "{} outside of marked content",
                        operation.operator
                    );
                }
                _ => {}
            }
        }
        assert_eq!(depth, 0, "what is begun is ended");
        assert!(
            kinds.contains(b"Pagination".as_slice()),
            "each page has a footer"
        );
    }
}

#[test]
fn photos_are_embedded_as_they_came() {
    let sample = sample::sword();
    let document = Document::load_mem(&pdf_of(&sample)).unwrap();
    let embedded: BTreeSet<Digest> = document
        .objects
        .values()
        .filter_map(|object| object.as_stream().ok())
        .filter(|stream| {
            stream
                .dict
                .get(b"Filter")
                .and_then(Object::as_name)
                .is_ok_and(|filter| filter == b"DCTDecode")
        })
        .map(|stream| Digest::of(&stream.content))
        .collect();
    assert_eq!(embedded, sample.photos.keys().copied().collect());
}

#[test]
fn the_mark_of_a_demonstration_is_the_first_element_of_the_tags() {
    let sample = sample::sword();
    let first_of = |demo: bool| {
        let input = RenderInput {
            demo,
            ..sample.input()
        };
        let document = Document::load_mem(&render(&sample.record, &input).unwrap().pdf).unwrap();
        let root = entry(&document, catalog(&document), b"StructTreeRoot")
            .as_dict()
            .unwrap();
        let whole = entry(&document, root, b"K").as_dict().unwrap();
        let first = &entry(&document, whole, b"K").as_array().unwrap()[0];
        let first = look(&document, first).as_dict().unwrap();
        // Words on page 1 that belong to the element itself.
        let page = first.get(b"Pg").and_then(Object::as_reference).ok();
        let on_first = page == document.get_pages().get(&1).copied();
        let role = first.get(b"S").unwrap().as_name().unwrap().to_vec();
        (role, on_first)
    };
    assert_eq!(first_of(true), (b"P".to_vec(), true));
    assert_eq!(first_of(false).0, b"Sect");
}
