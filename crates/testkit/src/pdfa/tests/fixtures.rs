//! Fixtures made from objects: file, catalogue, metadata, attachment, colour, contents, fields, signature.

use lopdf::{Dictionary, Document, Object, Stream, dictionary};

use super::edits::{
    catalog, dictionary, find, first, in_catalog, inner, named, operation, operations, packet,
    page, stream,
};
use super::{Break, Fixture, objects};

fn extra(document: &mut Document, object: Object) {
    catalog(document).set("Extra", object);
}

fn is_file(dictionary: &Dictionary) -> bool {
    dictionary.has(b"EF")
}

fn is_widget(dictionary: &Dictionary) -> bool {
    named(dictionary, "Subtype", "Widget")
}

fn is_signature(dictionary: &Dictionary) -> bool {
    dictionary.has(b"ByteRange")
}

fn is_image(dictionary: &Dictionary) -> bool {
    named(dictionary, "Subtype", "Image")
}

fn is_embedded(dictionary: &Dictionary) -> bool {
    named(dictionary, "Type", "EmbeddedFile")
}

/// Adds a resource to the first page.
fn resource(document: &mut Document, kind: &str, name: &str, object: Object) {
    let resources = page(document).get(b"Resources").unwrap().clone();
    let mut resources = match resources {
        Object::Reference(id) => dictionary(document, id).clone(),
        Object::Dictionary(resources) => resources,
        _ => panic!("no resources"),
    };
    let mut entries = match resources.get(kind.as_bytes()) {
        Ok(Object::Reference(id)) => document.get_dictionary(*id).unwrap().clone(),
        Ok(Object::Dictionary(entries)) => entries.clone(),
        _ => Dictionary::new(),
    };
    entries.set(name, object);
    resources.set(kind, entries);
    page(document).set("Resources", resources);
}

fn intent(document: &mut Document) -> &mut Dictionary {
    let intents = catalog(document).get_mut(b"OutputIntents").unwrap();
    intents.as_array_mut().unwrap()[0].as_dict_mut().unwrap()
}

fn is_outline_line(dictionary: &Dictionary) -> bool {
    dictionary.has(b"Dest") && dictionary.has(b"Title")
}

fn note(document: &mut Document) {
    let look = document.add_object(Stream::new(
        dictionary! { "Type" => "XObject", "Subtype" => "Form", "BBox" => vec![0.into(), 0.into(), 9.into(), 9.into()], "Resources" => Dictionary::new() },
        Vec::new(),
    ));
    let note = document.add_object(dictionary! {
        "Type" => "Annot", "Subtype" => "Text", "F" => 4, "Contents" => Object::string_literal("a note"),
        "Rect" => vec![9.into(), 9.into(), 18.into(), 18.into()], "AP" => dictionary! { "N" => look },
    });
    let sheet = page(document);
    let mut annotations = match sheet.get(b"Annots") {
        Ok(Object::Array(annotations)) => annotations.clone(),
        _ => Vec::new(),
    };
    annotations.push(note.into());
    sheet.set("Annots", annotations);
}

pub(super) const FIXTURES: &[Fixture] = &[
    objects("F5", "no identifier", |document| {
        document.trailer.remove(b"ID");
    }),
    objects("F11", "a stream in another file", |document| {
        let stream = Stream::new(
            dictionary! { "F" => Object::string_literal("other.bin") },
            Vec::new(),
        );
        let id = document.add_object(stream);
        extra(document, id.into());
    }),
    objects("F12", "a stream packed by LZW", |document| {
        let stream = Stream::new(dictionary! { "Filter" => "LZWDecode" }, vec![0x80, 0x0b]);
        let id = document.add_object(stream);
        extra(document, id.into());
    }),
    objects("F12", "a stream that cannot be unpacked", |document| {
        let stream = Stream::new(dictionary! { "Filter" => "FlateDecode" }, vec![1, 2, 3]);
        let id = document.add_object(stream);
        extra(document, id.into());
    }),
    objects("F14", "a name that is no UTF-8", |document| {
        extra(document, Object::Name(vec![0xff]));
    }),
    objects("F15", "a number beyond 32 bits", |document| {
        extra(document, Object::Integer(3_000_000_000));
    }),
    objects("F15", "a string of 40000 bytes", |document| {
        extra(document, Object::string_literal(vec![b'a'; 40_000]));
    }),
    objects("F16", "a page too large", |document| {
        page(document).set(
            "MediaBox",
            vec![0.into(), 0.into(), 20_000.into(), 800.into()],
        );
    }),
    Fixture {
        rule: "F17",
        what: "an object nothing leads to",
        how: Break::Loose(|document| {
            document.add_object(dictionary! { "Type" => "Page" });
        }),
    },
    objects("C1", "no language", |document| {
        catalog(document).remove(b"Lang");
    }),
    objects("C2", "the file name as title", |document| {
        in_catalog(document, "ViewerPreferences").set("DisplayDocTitle", false);
    }),
    objects("C3", "suspects", |document| {
        in_catalog(document, "MarkInfo").set("Suspects", true);
    }),
    objects("C3", "not marked", |document| {
        in_catalog(document, "MarkInfo").set("Marked", false);
    }),
    objects("C4", "no outline", |document| {
        catalog(document).remove(b"Outlines");
    }),
    objects("C4", "another count", |document| {
        in_catalog(document, "Outlines").set("Count", 99);
    }),
    objects("C5", "a place to open at", |document| {
        let id = *document.get_pages().values().next().unwrap();
        catalog(document).set("OpenAction", vec![id.into(), "Fit".into()]);
    }),
    objects("C6", "a link to elsewhere", |document| {
        first(document, is_outline_line, |line| {
            line.set("A", dictionary! { "S" => "URI", "URI" => Object::string_literal("https://example.org") });
        });
    }),
    objects("C6", "a script by name", |document| {
        in_catalog(document, "Names").set(
            "JavaScript",
            dictionary! { "Names" => Vec::<Object>::new() },
        );
    }),
    objects("C7", "a layer", |document| {
        let layer = document.add_object(
            dictionary! { "Type" => "OCG", "Name" => Object::string_literal("hidden") },
        );
        catalog(document).set(
            "OCProperties",
            dictionary! { "OCGs" => vec![layer.into()], "D" => Dictionary::new() },
        );
    }),
    objects("C8", "a transition", |document| {
        page(document).set("Trans", dictionary! { "S" => "Wipe" });
    }),
    objects("C9", "usage rights", |document| {
        in_catalog(document, "Perms").set("UR3", Dictionary::new());
    }),
    objects("M1", "no XML by its name", |document| {
        first(
            document,
            |found| named(found, "Type", "Metadata"),
            |found| found.set("Subtype", "Text"),
        );
    }),
    objects("M1", "packed", |document| {
        let id = find(document, |found| named(found, "Type", "Metadata"));
        let stream = document
            .get_object_mut(id)
            .unwrap()
            .as_stream_mut()
            .unwrap();
        stream.allows_compression = true;
        stream.compress().unwrap();
    }),
    objects("M2", "a tag without its end", |document| {
        packet(document, "</rdf:RDF>", "");
    }),
    objects("M2", "an encoding in the header", |document| {
        packet(document, "id=\"W5M0", "encoding=\"UTF-8\" id=\"W5M0");
    }),
    objects("M3", "level B", |document| {
        packet(document, "conformance>A<", "conformance>B<");
    }),
    objects("M4", "another part", |document| {
        packet(document, "<pdfuaid:part>1<", "<pdfuaid:part>2<");
    }),
    objects("M5", "no title at all", |document| {
        packet(
            document,
            "<dc:title>",
            "<dc:title><rdf:Alt><rdf:li/></rdf:Alt></dc:title><dc:type>",
        );
        packet(
            document,
            "</dc:title>\n<dc:description>",
            "</dc:type>\n<dc:description>",
        );
        let id = document
            .trailer
            .get(b"Info")
            .unwrap()
            .as_reference()
            .unwrap();
        dictionary(document, id).remove(b"Title");
    }),
    objects("M6", "another title", |document| {
        let id = document
            .trailer
            .get(b"Info")
            .unwrap()
            .as_reference()
            .unwrap();
        dictionary(document, id).set("Title", Object::string_literal("Another title"));
    }),
    objects("M6", "another date", |document| {
        let id = document
            .trailer
            .get(b"Info")
            .unwrap()
            .as_reference()
            .unwrap();
        dictionary(document, id).set("ModDate", Object::string_literal("D:20270301093000Z"));
    }),
    objects("M7", "a schema that nothing describes", |document| {
        packet(
            document,
            "<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/",
            "<pdfaSchema:namespaceURI>http://example.org/",
        );
    }),
    objects("A1", "one name only", |document| {
        first(document, is_file, |file| {
            file.remove(b"UF");
        });
    }),
    objects("A2", "no relationship", |document| {
        first(document, is_file, |file| {
            file.remove(b"AFRelationship");
        });
    }),
    objects("A3", "no media type", |document| {
        first(document, is_embedded, |file| {
            file.remove(b"Subtype");
        });
    }),
    objects("A4", "another length", |document| {
        first(document, is_embedded, |file| {
            inner(file, "Params").set("Size", 1);
        });
    }),
    objects("A4", "no date", |document| {
        first(document, is_embedded, |file| {
            inner(file, "Params").remove(b"ModDate");
        });
    }),
    objects("A5", "not associated", |document| {
        catalog(document).remove(b"AF");
    }),
    objects("A6", "data and not source", |document| {
        first(document, is_file, |file| file.set("AFRelationship", "Data"));
    }),
    objects("K1", "an intent of another kind", |document| {
        intent(document).set("S", "GTS_PDFX");
    }),
    objects("K1", "the profile under another key", |document| {
        let intent = intent(document);
        let profile = intent.remove(b"DestOutputProfile").unwrap();
        intent.set("DestinationOutputProfile", profile);
    }),
    objects("K2", "a profile cut off", |document| {
        stream(
            document,
            |found| found.has(b"N"),
            |bytes| bytes.truncate(bytes.len() - 4),
        );
    }),
    objects("K2", "four channels stated", |document| {
        first(
            document,
            |found| found.has(b"N"),
            |profile| profile.set("N", 4),
        );
    }),
    objects("K3", "a colour for presses", |document| {
        operations(document, |list| {
            list.insert(
                0,
                operation("k", vec![0.into(), 0.into(), 0.into(), 1.into()]),
            );
        });
    }),
    objects("K3", "a picture for presses", |document| {
        first(document, is_image, |image| {
            image.set("ColorSpace", "DeviceCMYK");
        });
    }),
    objects("K4", "interpolated", |document| {
        first(document, is_image, |image| image.set("Interpolate", true));
    }),
    objects("K5", "another width", |document| {
        first(document, is_image, |image| image.set("Width", 41));
    }),
    objects("K5", "one channel", |document| {
        first(document, is_image, |image| {
            image.set("ColorSpace", "DeviceGray");
        });
    }),
    objects("K6", "a transfer function", |document| {
        resource(
            document,
            "ExtGState",
            "Extra",
            dictionary! { "TR" => "Identity" }.into(),
        );
    }),
    objects("K7", "half transparent", |document| {
        resource(
            document,
            "ExtGState",
            "Extra",
            dictionary! { "ca" => 0.5_f32 }.into(),
        );
    }),
    objects("K7", "a transparency group", |document| {
        page(document).set("Group", dictionary! { "S" => "Transparency" });
    }),
    objects("K8", "a page of another file", |document| {
        first(
            document,
            |found| named(found, "Subtype", "Form"),
            |form| {
                form.set("Ref", dictionary! { "Page" => 0 });
            },
        );
    }),
    objects("P1", "an operator nobody knows", |document| {
        operations(document, |list| {
            list.insert(0, operation("polish", Vec::new()));
        });
    }),
    objects("P2", "a state that is not there", |document| {
        operations(document, |list| {
            list.insert(0, operation("gs", vec!["Nowhere".into()]));
        });
    }),
    objects("P3", "saved and not restored", |document| {
        operations(document, |list| list.push(operation("q", Vec::new())));
    }),
    objects("P3", "saved too deep", |document| {
        operations(document, |list| {
            for (operator, times) in [("q", 29), ("Q", 29)] {
                list.extend((0..times).map(|_| operation(operator, Vec::new())));
            }
        });
    }),
    objects("P4", "a box without a meaning", |document| {
        operations(document, |list| {
            let side = |length: i64| Object::Integer(length);
            list.push(operation("re", vec![side(1), side(1), side(9), side(9)]));
            list.push(operation("f", Vec::new()));
        });
    }),
    objects("P5", "a mark without an end", |document| {
        operations(document, |list| {
            let last = list
                .iter()
                .rposition(|operation| operation.operator == "EMC")
                .unwrap();
            list.remove(last);
        });
    }),
    objects("P5", "an artifact inside of content", |document| {
        operations(document, |list| {
            let content = list.iter().position(|operation| {
                operation.operator == "BDC"
                    && operation.operands[0].as_name().unwrap() != b"Artifact"
            });
            let at = content.unwrap() + 1;
            list.insert(at, operation("EMC", Vec::new()));
            list.insert(at, operation("BMC", vec!["Artifact".into()]));
        });
    }),
    objects("P6", "a number twice", |document| {
        operations(document, |list| {
            let properties = dictionary! { "MCID" => 0 };
            list.push(operation("BDC", vec!["P".into(), properties.into()]));
            list.push(operation("EMC", Vec::new()));
        });
    }),
    objects("P7", "an intent of its own", |document| {
        operations(document, |list| {
            list.insert(0, operation("ri", vec!["Vivid".into()]));
        });
    }),
    objects("N1", "a note", note),
    objects("N2", "hidden", |document| {
        first(document, is_widget, |widget| widget.set("F", 134));
    }),
    objects("N2", "not printed", |document| {
        first(document, is_widget, |widget| widget.set("F", 128));
    }),
    objects("N3", "no appearance", |document| {
        first(document, is_widget, |widget| {
            widget.remove(b"AP");
        });
    }),
    objects("N4", "no words", |document| {
        first(document, is_widget, |widget| {
            widget.remove(b"TU");
        });
    }),
    objects("N5", "not linked back", |document| {
        first(document, is_widget, |widget| {
            widget.remove(b"StructParent");
        });
    }),
    objects("N5", "in a paragraph", |document| {
        first(document, super::edits::element("Form"), |form| {
            form.set("S", "P");
        });
    }),
    objects("N6", "tabs by rows", |document| {
        page(document).set("Tabs", "R");
    }),
    objects("N7", "appearances wanted", |document| {
        in_catalog(document, "AcroForm").set("NeedAppearances", true);
    }),
    objects("N7", "a form of another kind", |document| {
        in_catalog(document, "AcroForm").set("XFA", Object::string_literal("<xdp/>"));
    }),
    objects("N8", "no size", |document| {
        first(document, is_widget, |widget| {
            widget.set("Rect", vec![Object::Integer(0); 4]);
        });
    }),
    objects("G1", "a second field", |document| {
        let field = document
            .add_object(dictionary! { "FT" => "Sig", "T" => Object::string_literal("second") });
        let fields = in_catalog(document, "AcroForm").get_mut(b"Fields").unwrap();
        fields.as_array_mut().unwrap().push(field.into());
    }),
    objects("G4", "form filling allowed", |document| {
        first(document, is_signature, |signature| {
            let reference = signature
                .get_mut(b"Reference")
                .unwrap()
                .as_array_mut()
                .unwrap();
            inner(reference[0].as_dict_mut().unwrap(), "TransformParams").set("P", 2);
        });
    }),
    objects("G4", "not certified", |document| {
        catalog(document).remove(b"Perms");
    }),
    objects("G5", "another kind", |document| {
        first(document, is_signature, |signature| {
            signature.set("SubFilter", "adbe.pkcs7.detached");
        });
    }),
    objects("G6", "may be rewritten", |document| {
        in_catalog(document, "AcroForm").set("SigFlags", 1);
    }),
];
