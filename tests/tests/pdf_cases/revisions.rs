//! Cases 54 and 55: a further revision that changes what a reader shows.

use std::fmt::Write as _;

use lopdf::{Document, ObjectId};

use super::{altered, find, find_last, object_with, replaced, report};

/// Number that the next new object of a file has: the size of its table.
fn next_number(pdf: &[u8]) -> u32 {
    let trailer = find_last(pdf, b"trailer\n<<");
    number_after(&pdf[trailer..], b"/Size ")
}

/// The number that stands behind a word.
fn number_after(text: &[u8], word: &[u8]) -> u32 {
    let at = find(text, word) + word.len();
    let digits: String = text[at..]
        .iter()
        .take_while(|byte| byte.is_ascii_digit())
        .map(|byte| char::from(*byte))
        .collect();
    digits.parse().unwrap()
}

/// Text of the object of a number.
fn object(pdf: &[u8], number: u32) -> Vec<u8> {
    let head = format!("\n{number} 0 obj\n");
    let start = find(pdf, head.as_bytes()) + head.len();
    let end = start + find(&pdf[start..], b"\nendobj");
    pdf[start..end].to_vec()
}

/// A text with one part of it exchanged; it must be there.
fn with(text: &[u8], part: &str, by: &str) -> Vec<u8> {
    let at = find(text, part.as_bytes());
    replaced(text, at, part.len(), by.as_bytes())
}

/// A stream without a filter.
fn stream(content: &str) -> Vec<u8> {
    let length = content.len();
    format!("<</Length {length}>>\nstream\n{content}\nendstream").into_bytes()
}

/// Appends a revision with objects that are new or have another form, the way editors do (ISO 32000-1, 7.5.6, from
/// memory).
fn revision(pdf: &[u8], objects: &[(u32, Vec<u8>)]) -> Vec<u8> {
    let previous = number_after(&pdf[find_last(pdf, b"startxref\n")..], b"startxref\n");
    let trailer = find_last(pdf, b"trailer\n<<") + 10;
    let end = trailer + find(&pdf[trailer..], b">>\nstartxref");
    let old = next_number(pdf);
    let size = objects
        .iter()
        .map(|(number, _)| number + 1)
        .max()
        .unwrap()
        .max(old);
    let mut out = [pdf, b"\n"].concat();
    let mut rows = String::new();
    for (number, object) in objects {
        let at = out.len();
        out.extend(format!("{number} 0 obj\n").bytes());
        out.extend(object);
        out.extend(b"\nendobj\n");
        write!(rows, "{number} 1\n{at:010} 00000 n \n").unwrap();
    }
    let table = out.len();
    out.extend(format!("xref\n{rows}trailer\n<<").bytes());
    out.extend(with(
        &pdf[trailer..end],
        &format!("/Size {old}"),
        &format!("/Size {size}"),
    ));
    out.extend(format!("/Prev {previous}>>\nstartxref\n{table}\n%%EOF\n").bytes());
    out
}

fn is_a_revision(changed: &[u8]) {
    let bytes = changed.len() - report().len();
    assert_eq!(
        altered(changed),
        [format!(
            "a further revision of {bytes} bytes was added after signing"
        )]
    );
}

/// The file as a reader that takes the newest revision has it.
fn as_read(pdf: &[u8]) -> Document {
    Document::load_mem(pdf).unwrap()
}

/// Case 54, page: a revision that draws over a page. pdfsig calls it valid.
#[test]
fn case_54_a_page_drawn_over_is_told() {
    let (pdf, new) = (report(), next_number(report()));
    let (number, page) = object_with(pdf, b"/Type/Page/");
    let drawn = number_after(&page, b"/Contents ");
    let page = with(
        &page,
        &format!("/Contents {drawn} 0 R"),
        &format!("/Contents[{drawn} 0 R {new} 0 R]"),
    );
    let white = "q 1 g 60 60 500 700 re f Q";
    let changed = revision(pdf, &[(number, page), (new, stream(white))]);
    let document = as_read(&changed);
    let id = document.get_pages()[&1];
    assert_eq!(document.get_page_contents(id).len(), 2);
    let told = document.get_page_content(id);
    assert!(find_last(&told, white.as_bytes()) > 0);
    is_a_revision(&changed);
}

/// Case 54, metadata: a revision that changes the title. pyHanko and pdfsig call it valid.
#[test]
fn case_54_another_title_is_told() {
    let (number, information) = object_with(report(), b"/Producer");
    let start = find(&information, b"/Title<");
    let end = start + find(&information[start..], b">") + 1;
    let information = replaced(&information, start, end - start, b"/Title(Flawless blade)");
    let changed = revision(report(), &[(number, information)]);
    let document = as_read(&changed);
    let title = document.get_dictionary((number, 0)).unwrap().get(b"Title");
    assert_eq!(title.unwrap().as_str().unwrap(), b"Flawless blade");
    is_a_revision(&changed);
}

/// Case 54, annotation: a revision that lays a note over the page.
#[test]
fn case_54_a_note_on_the_page_is_told() {
    let (pdf, new) = (report(), next_number(report()));
    let (number, page) = object_with(pdf, b"/Type/Page/");
    let page = with(&page, "/Annots[", &format!("/Annots[{new} 0 R "));
    let note = b"<</Type/Annot/Subtype/FreeText/Rect[0 0 99 99]/Contents(no cracks)>>";
    let changed = revision(pdf, &[(number, page), (new, note.to_vec())]);
    let document = as_read(&changed);
    let notes = document.get_page_annotations(document.get_pages()[&1]);
    assert!(
        notes
            .unwrap()
            .iter()
            .any(|note| note.get(b"Contents").is_ok())
    );
    is_a_revision(&changed);
}

/// Case 54, font: a revision that exchanges a font, so that other words stand on the page.
#[test]
fn case_54_another_font_is_told() {
    let (pdf, new) = (report(), next_number(report()));
    let (number, font) = object_with(pdf, b"/Subtype/Type0");
    // Widths and glyphs are those of another font, the characters other ones.
    let (_, other) = object_with(&pdf[find(pdf, &font) + font.len()..], b"/Subtype/Type0");
    let descendants = |font: &[u8]| {
        let start = find(font, b"/DescendantFonts[");
        String::from_utf8(font[start..].to_vec()).unwrap()
    };
    let characters = number_after(&font, b"/ToUnicode ");
    let font = with(&font, &descendants(&font), &descendants(&other));
    let font = with(
        &font,
        &format!("/ToUnicode {characters} 0 R"),
        &format!("/ToUnicode {new} 0 R"),
    );
    let map = "1 beginbfrange\n<0000> <00ff> <0041>\nendbfrange";
    let changed = revision(pdf, &[(number, font), (new, stream(map))]);
    let document = as_read(&changed);
    let before = as_read(pdf);
    for key in [b"DescendantFonts".as_slice(), b"ToUnicode"] {
        let of = |document: &Document| {
            let font = document.get_dictionary((number, 0)).unwrap();
            font.get(key).unwrap().clone()
        };
        assert_ne!(of(&document), of(&before));
    }
    is_a_revision(&changed);
}

/// Case 54, embedded record: a revision that exchanges it. pdfsig calls it valid.
#[test]
fn case_54_another_embedded_record_is_told() {
    let (number, file) = object_with(report(), b"/Type/EmbeddedFile");
    let file = with(&file, "\"sequence\":1", "\"sequence\":2");
    is_a_revision(&revision(report(), &[(number, file)]));
}

/// Case 55: a second signature, here without a value of its own; both keys are tried in `crates/trust`.
#[test]
fn case_55_a_second_signature_is_told() {
    let (pdf, new) = (report(), next_number(report()));
    let (first, _) = object_with(pdf, b"/FT/Sig");
    let (value, signature) = object_with(pdf, b"/SubFilter/ETSI.CAdES.detached");
    let field = with(&object(pdf, first), "/T(issuer)", "/T(second)");
    let field = with(
        &field,
        &format!("/V {value} 0 R"),
        &format!("/V {} 0 R", new + 1),
    );
    let (catalog, root) = object_with(pdf, b"/Type/Catalog");
    let root = with(
        &root,
        &format!("/Fields[{first} 0 R]"),
        &format!("/Fields[{first} 0 R {new} 0 R]"),
    );
    let page = number_after(&field, b"/P ");
    let sheet = with(
        &object(pdf, page),
        &format!("/Annots[{first} 0 R]"),
        &format!("/Annots[{first} 0 R {new} 0 R]"),
    );
    let changed = revision(
        pdf,
        &[
            (catalog, root),
            (page, sheet),
            (new, field),
            (new + 1, signature),
        ],
    );
    let document = as_read(&changed);
    let form = document.catalog().unwrap().get(b"AcroForm").unwrap();
    let fields = form.as_dict().unwrap().get(b"Fields").unwrap();
    let signatures: Vec<ObjectId> = fields
        .as_array()
        .unwrap()
        .iter()
        .map(|field| {
            let field = document
                .get_dictionary(field.as_reference().unwrap())
                .unwrap();
            field.get(b"V").unwrap().as_reference().unwrap()
        })
        .collect();
    assert_eq!(signatures, [(value, 0), (new + 1, 0)]);
    is_a_revision(&changed);
}
