//! The document catalogue: language, colour, metadata, outline and the attached record.

use lopdf::{Dictionary, Document, Object, ObjectId, Stream, dictionary};

use super::{
    Metadata, PdfError, Sealed, content, date::Timestamp, icc, tags::Tree, text_string, xmp,
};
use crate::{
    font::MM_PER_POINT,
    scene::{Bookmark, Scene},
};

/// Completes catalogue, information dictionary and trailer.
pub(super) fn complete(
    document: &mut Document,
    scene: &Scene,
    pages: &[ObjectId],
    metadata: &Metadata<'_>,
    issued: &Timestamp,
    tree: &Tree,
) -> Result<(), PdfError> {
    "1.7".clone_into(&mut document.version);
    let profile = document.add_object(Stream::new(dictionary! { "N" => 3 }, icc::srgb()));
    let intent = dictionary! {
        "Type" => "OutputIntent",
        "S" => "GTS_PDFA1",
        "OutputConditionIdentifier" => text_string("sRGB"),
        "Info" => text_string("sRGB, IEC 61966-2-1"),
        "DestOutputProfile" => profile,
    };
    let packet = Stream::new(
        dictionary! { "Type" => "Metadata", "Subtype" => "XML" },
        xmp::packet(metadata, scene.language, issued).into_bytes(),
    );
    let packet = document.add_object(packet.with_compression(false));
    let attached = metadata
        .sealed
        .map(|sealed| attachments(document, &sealed, issued));
    let outline = outline(document, scene, pages)?;

    let catalog = document.catalog_mut()?;
    catalog.set("Lang", text_string(scene.language.tag()));
    catalog.set("MarkInfo", dictionary! { "Marked" => true });
    catalog.set(
        "ViewerPreferences",
        dictionary! { "DisplayDocTitle" => true },
    );
    catalog.set("StructTreeRoot", tree.root);
    catalog.set("OutputIntents", vec![Object::Dictionary(intent)]);
    catalog.set("Metadata", packet);
    if let Some(attached) = attached {
        catalog.set("AF", attached.files);
        catalog.set(
            "Names",
            dictionary! { "EmbeddedFiles" => dictionary! { "Names" => attached.names } },
        );
    }
    if let Some(outline) = outline {
        catalog.set("Outlines", outline);
        catalog.set("PageMode", "UseOutlines");
    }
    catalog.remove(b"PageLayout");

    let info = document.add_object(dictionary! {
        "Title" => text_string(metadata.title),
        "Author" => text_string(metadata.author),
        "Subject" => text_string(metadata.subject),
        "Creator" => text_string(metadata.producer),
        "Producer" => text_string(metadata.producer),
        "CreationDate" => text_string(&issued.pdf()),
        "ModDate" => text_string(&issued.pdf()),
    });
    document.trailer.set("Info", info);
    // Both halves are the same: the file is written once and never updated.
    let id = Object::String(
        metadata.id.as_bytes().to_vec(),
        lopdf::StringFormat::Hexadecimal,
    );
    document.trailer.set("ID", vec![id.clone(), id]);
    Ok(())
}

/// File name of the disclosures.
const DISCLOSURES: &str = "disclosures.json";
/// File name of the key history.
const HISTORY: &str = "key-history.json";

/// The lists of attached files, as the catalogue holds them.
struct Attachments {
    /// The record first.
    files: Vec<Object>,
    /// Sorted by name (ISO 32000-1, 7.9.6), which puts the record last.
    names: Vec<Object>,
}

/// Attaches the record and what lies beside it.
fn attachments(document: &mut Document, sealed: &Sealed<'_>, issued: &Timestamp) -> Attachments {
    let record = Attached {
        name: sealed.attachment_name,
        bytes: sealed.attachment,
        description: "The sealed record that these pages show",
        relationship: "Source",
    };
    let record = Object::Reference(attach(document, &record, issued));
    let (mut files, mut names) = (vec![record.clone()], Vec::new());
    for (name, bytes, description) in [
        (
            DISCLOSURES,
            sealed.disclosures,
            "Values that the record withholds and these pages show",
        ),
        (
            HISTORY,
            sealed.history,
            "The keys of the workshop: how another one than the record's came to sign these pages",
        ),
    ] {
        let Some(bytes) = bytes else { continue };
        let file = Attached {
            name,
            bytes,
            description,
            relationship: "Supplement",
        };
        let file = Object::Reference(attach(document, &file, issued));
        files.push(file.clone());
        names.extend([text_string(name), file]);
    }
    names.extend([text_string(sealed.attachment_name), record]);
    Attachments { files, names }
}

/// A file to be attached.
struct Attached<'a> {
    name: &'a str,
    bytes: &'a [u8],
    description: &'static str,
    /// What it is to the document. Source: ISO 19005-3, annex E (from memory).
    relationship: &'static str,
}

/// Adds an embedded file, uncompressed where possible, so that even a text editor can read it.
///
/// Source: ISO 19005-3, 6.8 (associated files).
fn attach(document: &mut Document, file: &Attached<'_>, issued: &Timestamp) -> ObjectId {
    let size = i64::try_from(file.bytes.len()).unwrap_or(i64::MAX);
    let dictionary = dictionary! {
        "Type" => "EmbeddedFile",
        "Subtype" => Object::Name(b"application/json".to_vec()),
        "Params" => dictionary! { "Size" => size, "ModDate" => text_string(&issued.pdf()) },
    };
    let compress = super::imitates_signature(file.bytes);
    let stream = document
        .add_object(Stream::new(dictionary, file.bytes.to_vec()).with_compression(compress));
    document.add_object(dictionary! {
        "Type" => "Filespec",
        "F" => text_string(file.name),
        "UF" => text_string(file.name),
        "Desc" => text_string(file.description),
        "AFRelationship" => file.relationship,
        "EF" => dictionary! { "F" => stream, "UF" => stream },
    })
}

/// Adds the outline: sections under the report's title.
fn outline(
    document: &mut Document,
    scene: &Scene,
    pages: &[ObjectId],
) -> Result<Option<ObjectId>, PdfError> {
    let Some((first, rest)) = scene.bookmarks.split_first() else {
        return Ok(None);
    };
    let root = document.new_object_id();
    let top = document.new_object_id();
    let ids: Vec<ObjectId> = rest.iter().map(|_| document.new_object_id()).collect();
    let mut title = entry(scene, pages, first, root)?;
    if let (Some(first), Some(last)) = (ids.first(), ids.last()) {
        title.set("First", *first);
        title.set("Last", *last);
        title.set("Count", i64::try_from(ids.len()).unwrap_or(i64::MAX));
    }
    document.set_object(top, title);
    for (index, (bookmark, id)) in rest.iter().zip(&ids).enumerate() {
        let mut item = entry(scene, pages, bookmark, top)?;
        if let Some(previous) = index.checked_sub(1).and_then(|index| ids.get(index)) {
            item.set("Prev", *previous);
        }
        if let Some(next) = ids.get(index + 1) {
            item.set("Next", *next);
        }
        document.set_object(*id, item);
    }
    let count = i64::try_from(scene.bookmarks.len()).unwrap_or(i64::MAX);
    document.set_object(
        root,
        dictionary! { "Type" => "Outlines", "First" => top, "Last" => top, "Count" => count },
    );
    Ok(Some(root))
}

fn entry(
    scene: &Scene,
    pages: &[ObjectId],
    bookmark: &Bookmark,
    parent: ObjectId,
) -> Result<Dictionary, PdfError> {
    let page = *pages
        .get(bookmark.page)
        .ok_or(PdfError::Shape("a page of the outline"))?;
    let height = scene
        .pages
        .get(bookmark.page)
        .map_or(0.0, |page| page.height);
    let top = content::narrow((height - bookmark.y) / MM_PER_POINT);
    let destination = vec![
        Object::Reference(page),
        "XYZ".into(),
        Object::Null,
        Object::Real(top),
        Object::Null,
    ];
    Ok(
        dictionary! { "Title" => text_string(&bookmark.title), "Parent" => parent, "Dest" => destination },
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use lopdf::{Dictionary, Document, Object};

    use std::collections::BTreeMap;

    use crate::scene::Image;
    use crate::{Beside, Revealed, render, render_again, render_beside, render_revealing, sample};

    const DISCLOSURES: &[u8] = b"{\"format\": \"invented\"}";

    fn follow<'a>(document: &'a Document, object: &'a Object) -> &'a Object {
        document.dereference(object).unwrap().1
    }

    fn entry<'a>(document: &'a Document, dictionary: &'a Dictionary, key: &str) -> &'a Object {
        follow(document, dictionary.get(key.as_bytes()).unwrap())
    }

    /// Name, relationship and bytes of each associated file.
    fn files(bytes: &[u8]) -> Vec<(String, String, Vec<u8>)> {
        let document = Document::load_mem(bytes).unwrap();
        let catalog = document.catalog().unwrap();
        let files = catalog.get(b"AF").unwrap().as_array().unwrap();
        let text = |object: &Object| String::from_utf8(object.as_str().unwrap().to_vec()).unwrap();
        files
            .iter()
            .map(|file| {
                let file = follow(&document, file).as_dict().unwrap();
                let embedded = file.get(b"EF").unwrap().as_dict().unwrap();
                let stream = entry(&document, embedded, "F").as_stream().unwrap();
                let relationship = file.get(b"AFRelationship").unwrap().as_name().unwrap();
                (
                    text(file.get(b"UF").unwrap()),
                    String::from_utf8(relationship.to_vec()).unwrap(),
                    stream.content.clone(),
                )
            })
            .collect()
    }

    #[test]
    fn disclosures_are_a_second_associated_file_and_the_record_stays_as_sealed() {
        let sample = sample::sword();
        let mut shown = sample.record.clone();
        shown.custody[1].from.as_mut().unwrap().name = Some("Shown by name".to_owned());
        let revealed = Revealed {
            record: &shown,
            disclosures: DISCLOSURES,
        };
        let made = render_revealing(&sample.record, Some(&revealed), &sample.input()).unwrap();
        let record = (
            "record.json".to_owned(),
            "Source".to_owned(),
            sample.bytes.clone(),
        );
        let disclosures = (
            "disclosures.json".to_owned(),
            "Supplement".to_owned(),
            DISCLOSURES.to_vec(),
        );
        assert_eq!(files(&made.pdf), [record.clone(), disclosures]);

        // The tree of names is sorted; a reader looks names up by halving.
        let document = Document::load_mem(&made.pdf).unwrap();
        let names = entry(&document, document.catalog().unwrap(), "Names")
            .as_dict()
            .unwrap();
        let tree = entry(&document, names, "EmbeddedFiles").as_dict().unwrap();
        let names: Vec<&[u8]> = tree
            .get(b"Names")
            .unwrap()
            .as_array()
            .unwrap()
            .iter()
            .step_by(2)
            .map(|name| name.as_str().unwrap())
            .collect();
        assert_eq!(names, [b"disclosures.json".as_slice(), b"record.json"]);

        let plain = render(&sample.record, &sample.input()).unwrap();
        assert_eq!(files(&plain.pdf), [record]);
        assert!(plain.pdf != made.pdf);
    }

    #[test]
    fn a_key_history_lies_beside_the_others_and_alone() {
        let sample = sample::sword();
        let history = b"{\"format\": \"invented history\"}".as_slice();
        let revealed = Revealed {
            record: &sample.record,
            disclosures: DISCLOSURES,
        };
        let names = |beside: &Beside<'_>| {
            let made = render_beside(&sample.record, beside, &sample.input()).unwrap();
            let files = files(&made.pdf);
            let carried = files.iter().find(|(name, ..)| name == "key-history.json");
            assert_eq!(
                carried.map(|(_, relationship, bytes)| (relationship.as_str(), bytes.as_slice())),
                beside.history.map(|bytes| ("Supplement", bytes))
            );
            files
                .into_iter()
                .map(|(name, ..)| name)
                .collect::<Vec<String>>()
                .join(" ")
        };
        for (revealed, history, expected) in [
            (None, None, "record.json"),
            (None, Some(history), "record.json key-history.json"),
            (
                Some(revealed),
                Some(history),
                "record.json disclosures.json key-history.json",
            ),
        ] {
            assert_eq!(
                names(&Beside {
                    revealed,
                    history,
                    against: None
                }),
                expected
            );
        }
    }

    /// A report made again from the pictures it carries is the same report.
    #[test]
    fn pictures_as_they_lie_in_a_report_give_the_same_bytes() {
        let sample = sample::sword();
        let input = sample.input();
        assert!(!input.photos.is_empty());
        let pictures: BTreeMap<_, _> = input
            .photos
            .iter()
            .map(|(digest, bytes)| (*digest, Image::of(bytes, *digest).unwrap()))
            .collect();
        let again = render_again(&sample.record, &Beside::default(), &input, &pictures).unwrap();
        assert!(again.pdf == render(&sample.record, &input).unwrap().pdf);
    }
}
