//! Fixtures made from objects: fonts, structure, tables and lists.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use lopdf::{Dictionary, Document, Object, ObjectId, Stream, StringFormat, dictionary};
use ttf_parser::{Face, GlyphId};

use super::super::facts::unpacked;
use super::super::typefaces::to_unicode;
use super::edits::{dictionary, element, find, first, named, operations};
use super::{Fixture, objects};

fn is_composite(dictionary: &Dictionary) -> bool {
    named(dictionary, "Subtype", "Type0")
}

fn is_descriptor(dictionary: &Dictionary) -> bool {
    named(dictionary, "Type", "FontDescriptor")
}

/// Changes the CID font of the first composite font, wherever it stands.
fn cid_font(document: &mut Document, edit: impl FnOnce(&mut Dictionary)) {
    let id = find(document, is_composite);
    let list = dictionary(document, id)
        .get_mut(b"DescendantFonts")
        .unwrap();
    if let Object::Reference(inner) = list.as_array_mut().unwrap()[0].clone() {
        edit(dictionary(document, inner));
    } else {
        let list = dictionary(document, id)
            .get_mut(b"DescendantFonts")
            .unwrap();
        edit(list.as_array_mut().unwrap()[0].as_dict_mut().unwrap());
    }
}

/// Changes the characters of the first font.
fn characters(document: &mut Document, edit: impl FnOnce(&mut BTreeMap<u16, String>)) {
    let id = find(document, is_composite);
    let table = dictionary(document, id)
        .get(b"ToUnicode")
        .unwrap()
        .as_reference()
        .unwrap();
    let stream: &mut Stream = document
        .get_object_mut(table)
        .unwrap()
        .as_stream_mut()
        .unwrap();
    let mut map = to_unicode(&unpacked(stream).unwrap());
    edit(&mut map);
    let mut text = format!("begincmap\n{} beginbfchar\n", map.len());
    for (code, characters) in map {
        write!(text, "<{code:04X}> <").unwrap();
        for unit in characters.encode_utf16() {
            write!(text, "{unit:04X}").unwrap();
        }
        text.push_str(">\n");
    }
    text.push_str("endbfchar\nendcmap\n");
    stream.set_plain_content(text.into_bytes());
}

fn code_of(map: &BTreeMap<u16, String>, wanted: &str) -> u16 {
    *map.iter()
        .find(|(_, text)| text.as_str() == wanted)
        .unwrap()
        .0
}

/// Shows the glyph for what is missing, with its width and a character for it, so that no other rule is broken.
fn show_missing(document: &mut Document) {
    characters(document, |map| {
        map.insert(0, "x".to_owned());
    });
    let program = document
        .objects
        .values()
        .filter_map(|object| object.as_stream().ok())
        .find(|stream| unpacked(stream).is_ok_and(|bytes| Face::parse(&bytes, 0).is_ok()));
    let bytes = unpacked(program.unwrap()).unwrap();
    let face = Face::parse(&bytes, 0).unwrap();
    let advance = f32::from(face.glyph_hor_advance(GlyphId(0)).unwrap());
    let width = advance * 1000.0 / f32::from(face.units_per_em());
    cid_font(document, |font| {
        let widths = font.get_mut(b"W").unwrap().as_array_mut().unwrap();
        widths.splice(
            0..0,
            [Object::Integer(0), Object::Array(vec![width.into()])],
        );
    });
    let resource = first_font_name(document);
    operations(document, |list| {
        let begins = list.iter().position(|operation| {
            operation.operator == "Tf" && operation.operands[0].as_name().unwrap() == resource
        });
        let shown = list[begins.unwrap()..]
            .iter_mut()
            .find(|operation| matches!(operation.operator.as_str(), "Tj" | "TJ"))
            .unwrap();
        let zero = Object::String(vec![0, 0], StringFormat::Hexadecimal);
        shown.operands = match shown.operator.as_str() {
            "Tj" => vec![zero],
            _ => vec![Object::Array(vec![zero])],
        };
    });
}

/// Resource name of the first composite font on the first page.
fn first_font_name(document: &Document) -> Vec<u8> {
    let id = find(document, is_composite);
    let page = *document.get_pages().values().next().unwrap();
    let fonts = document.get_page_resources(page).unwrap();
    let resources = fonts
        .0
        .cloned()
        .or_else(|| {
            fonts
                .1
                .first()
                .map(|id| document.get_dictionary(*id).unwrap().clone())
        })
        .unwrap();
    let entries = document
        .dereference(resources.get(b"Font").unwrap())
        .unwrap()
        .1
        .as_dict()
        .unwrap();
    entries
        .iter()
        .find(|(_, font)| font.as_reference().is_ok_and(|font| font == id))
        .unwrap()
        .0
        .clone()
}

/// The element that holds all others.
fn top(document: &Document) -> ObjectId {
    find(document, element("Document"))
}

fn all(document: &Document, role: &'static str) -> Vec<ObjectId> {
    let wanted = element(role);
    document
        .objects
        .iter()
        .filter(|(_, object)| object.as_dict().is_ok_and(&wanted))
        .map(|(id, _)| *id)
        .collect()
}

/// A cell that holds nothing but marks of its own.
fn plain_cell(document: &Document) -> ObjectId {
    let cells = all(document, "TD").into_iter().find(|id| {
        let kids = document.get_dictionary(*id).unwrap().get(b"K").unwrap();
        kids.as_array()
            .is_ok_and(|kids| !kids.is_empty() && kids.iter().all(|kid| kid.as_i64().is_ok()))
    });
    cells.unwrap()
}

pub(super) const FIXTURES: &[Fixture] = &[
    objects("T1", "no program", |document| {
        first(document, is_descriptor, |descriptor| {
            descriptor.remove(b"FontFile2");
            descriptor.remove(b"FontFile3");
        });
    }),
    objects("T2", "a simple font by its name", |document| {
        first(document, is_composite, |font| {
            font.set("Subtype", "TrueType");
        });
    }),
    objects("T3", "an encoding of one byte", |document| {
        first(document, is_composite, |font| {
            font.set("Encoding", "WinAnsiEncoding");
        });
    }),
    objects("T3", "another collection", |document| {
        cid_font(document, |font| {
            font.set(
                "CIDSystemInfo",
                dictionary! { "Registry" => Object::string_literal("Adobe"), "Ordering" => Object::string_literal("Japan1"), "Supplement" => 6 },
            );
        });
    }),
    objects("T4", "no map from codes to glyphs", |document| {
        cid_font(document, |font| {
            font.remove(b"CIDToGIDMap");
        });
    }),
    objects("T5", "all widths alike", |document| {
        cid_font(document, |font| {
            font.remove(b"W");
        });
    }),
    objects("T6", "a character lost", |document| {
        characters(document, |map| {
            let code = code_of(map, "e");
            map.remove(&code);
        });
    }),
    objects("T6", "no characters", |document| {
        first(document, is_composite, |font| {
            font.remove(b"ToUnicode");
        });
    }),
    objects("T7", "a character of private use", |document| {
        characters(document, |map| {
            map.insert(code_of(map, "e"), "\u{e000}".to_owned());
        });
    }),
    objects("T8", "the glyph for what is missing", show_missing),
    objects("T9", "a letter that is blank", |document| {
        characters(document, |map| {
            map.insert(code_of(map, " "), "q".to_owned());
        });
    }),
    objects("T10", "no tag", |document| {
        first(document, is_composite, |font| font.set("BaseFont", "Plain"));
    }),
    objects("T11", "no height of capitals", |document| {
        first(document, is_descriptor, |descriptor| {
            descriptor.remove(b"CapHeight");
        });
    }),
    objects("T11", "symbolic and not", |document| {
        first(document, is_descriptor, |descriptor| {
            descriptor.set("Flags", 36);
        });
    }),
    objects("T12", "a set of no glyphs", |document| {
        let set = document.add_object(Stream::new(Dictionary::new(), vec![0]));
        first(document, is_descriptor, |descriptor| {
            descriptor.set("CIDSet", set);
        });
    }),
    objects("S1", "a cell that names the wrong row", |document| {
        let (cell, top) = (plain_cell(document), top(document));
        dictionary(document, cell).set("P", top);
    }),
    objects("S2", "a type of its own", |document| {
        first(document, element("P"), |paragraph| {
            paragraph.set("S", "Paragraph");
        });
    }),
    objects("S2", "a role map", |document| {
        let root = document
            .catalog()
            .unwrap()
            .get(b"StructTreeRoot")
            .unwrap()
            .as_reference()
            .unwrap();
        dictionary(document, root).set("RoleMap", dictionary! { "Paragraph" => "P" });
    }),
    objects("S3", "a section at the top", |document| {
        let top = top(document);
        dictionary(document, top).set("S", "Sect");
    }),
    objects("S4", "marks that no element holds", |document| {
        let cell = plain_cell(document);
        dictionary(document, cell).set("K", Vec::<Object>::new());
    }),
    objects("S4", "marks that are not there", |document| {
        let cell = plain_cell(document);
        let kids = dictionary(document, cell).get_mut(b"K").unwrap();
        kids.as_array_mut().unwrap().push(9_999.into());
    }),
    objects("S5", "two marks changed about", |document| {
        let list = document
            .objects
            .values_mut()
            .filter_map(|object| object.as_array_mut().ok())
            .find(|list| list.len() > 3 && list[0] != list[1]);
        list.unwrap().swap(0, 1);
    }),
    objects("S6", "a level left out", |document| {
        let headings = all(document, "H2");
        for heading in headings {
            dictionary(document, heading).set("S", "H3");
        }
    }),
    objects("S7", "no words", |document| {
        first(document, element("Figure"), |figure| {
            figure.remove(b"Alt");
        });
    }),
    objects("S8", "no box", |document| {
        first(document, element("Figure"), |figure| {
            figure.remove(b"A");
        });
    }),
    objects("S9", "a language that is none", |document| {
        first(document, element("Figure"), |figure| {
            figure.set("Lang", Object::string_literal("in English!"));
        });
    }),
    objects("S10", "kanji in English", |document| {
        for span in all(document, "Span") {
            dictionary(document, span).remove(b"Lang");
        }
    }),
    objects("S11", "a paragraph of nothing", |document| {
        let top = top(document);
        let empty = document.add_object(dictionary! { "Type" => "StructElem", "S" => "P", "P" => top, "K" => Vec::<Object>::new() });
        let kids = dictionary(document, top).get_mut(b"K").unwrap();
        kids.as_array_mut().unwrap().push(empty.into());
    }),
    objects("L1", "a paragraph among cells", |document| {
        let cell = plain_cell(document);
        dictionary(document, cell).set("S", "P");
    }),
    objects("L2", "a cell of two columns", |document| {
        let cell = plain_cell(document);
        dictionary(document, cell).set("A", dictionary! { "O" => "Table", "ColSpan" => 2 });
    }),
    objects("L3", "a head of nothing", |document| {
        first(document, element("TH"), |cell| {
            cell.remove(b"A");
        });
    }),
    objects("L4", "no head", |document| {
        for cell in all(document, "TH") {
            dictionary(document, cell).set("S", "TD");
        }
    }),
    objects("L5", "a paragraph in an item", |document| {
        first(document, element("LBody"), |body| body.set("S", "P"));
    }),
    objects("L6", "no numbering", |document| {
        for list in all(document, "L") {
            dictionary(document, list).remove(b"A");
        }
    }),
];
