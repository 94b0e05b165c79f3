#![allow(clippy::unwrap_used)]

use super::{text, view};
use crate::pdf::fixture::{Draft, number, signed, stream};

const TABLE: &[u8] = b"/CMapType 2 def\n1 begincodespacerange\n<0000> <FFFF>\nendcodespacerange\n\
3 beginbfchar\n<0001> <0041>\n<0002> <00660066>\n<0003> <5200>\nendbfchar\n1 beginbfchar\n<0004> <D83DDE00>\nendbfchar\n";

/// A draft with one font and the given drawing.
fn drawing(content: &[u8]) -> Draft {
    let mut draft = Draft::new();
    draft.replace(
        number::PAGE,
        "/Resources<<>>",
        "/Resources<</Font<</F1 11 0 R>>/XObject<</P 13 0 R>>>>",
    );
    draft.replace(
        number::PAGE,
        "/MediaBox[0 0 200 200]",
        "/MediaBox[0 0 595.276 841.89]",
    );
    draft.set(
        number::NEXT,
        "<</Type/Font/Subtype/Type0/BaseFont/ABCDEF+Invented-Regular/ToUnicode 12 0 R>>",
    );
    draft.set_bytes(12, stream("", TABLE));
    draft.set_bytes(13, stream("/Filter/DCTDecode", b"\xff\xd8picture"));
    draft.set_bytes(number::CONTENT, stream("", content));
    draft.replace(
        number::INFO,
        "/Title(Report)",
        "/Title<FEFF5200>/Producer(renderer 1)",
    );
    draft
}

fn words(content: &[u8]) -> String {
    let found = view(&drawing(content).write()).unwrap();
    assert_eq!(found.pages.len(), 1);
    found.pages[0].words.clone()
}

#[test]
fn a_report_says_who_set_it_and_on_what_paper() {
    let found = view(&drawing(b"").write()).unwrap();
    assert_eq!(found.title.as_deref(), Some("\u{5200}"));
    assert_eq!(found.producer.as_deref(), Some("renderer 1"));
    assert_eq!(found.pages[0].size, [595_276, 841_890]);
    assert!(found.fonts.iter().eq(["Invented-Regular"]));
    assert!(found.pictures.iter().eq([b"\xff\xd8picture".as_slice()]));
}

#[test]
fn words_are_those_of_the_fonts_tables() {
    assert_eq!(words(b"BT /F1 9 Tf 1 2 Td <00010002>Tj ET"), "Aff\n");
    assert_eq!(
        words(b"BT /F1 9 Tf [<0001>-12.5<0003>]TJ ET\nBT <0004>Tj ET 0 0 m 1 1 l S"),
        "A\u{5200}\n\u{1f600}\n"
    );
    // A code without characters, and a string without a font.
    assert_eq!(words(b"BT /F1 9 Tf <0009>Tj ET"), "\u{fffd}\n");
    assert_eq!(words(b"BT /F2 9 Tf <0001>Tj ET"), "\u{fffd}\n");
}

#[test]
fn words_given_beside_the_codes_stand_once() {
    assert_eq!(
        words(b"/P<</MCID 0>>BDC BT /F1 9 Tf /Span<</ActualText<FEFF00410042>>>BDC <0001>Tj <0002>Tj EMC <0003>Tj ET EMC"),
        "AB\u{5200}\n"
    );
    assert_eq!(
        words(b"/Span<</ActualText(x)>>BDC /Span<</ActualText(y)>>BDC BT /F1 9 Tf <0001>Tj ET EMC EMC"),
        "x\n"
    );
}

#[test]
fn what_is_no_drawing_ends_the_words() {
    assert_eq!(words(b"BT /F1 9 Tf <0001>Tj ET ) BT <0001>Tj ET"), "A\n");
    assert_eq!(text::string(b"\xfe\xff\xd8\x00"), "\u{fffd}");
    assert_eq!(text::string(b"caf\xe9"), "caf\u{e9}");
}

#[test]
fn files_of_another_form_are_not_looked_at() {
    assert!(view(b"").is_none());
    assert!(view(b"%PDF-1.7\n%%EOF").is_none());
    assert!(view(&signed()[1..]).is_none());
    let mut endless = drawing(b"");
    endless.replace(number::PAGES, "/Kids[3 0 R]", "/Kids[2 0 R]");
    assert!(view(&endless.write()).is_none());
    let mut bomb = drawing(b"");
    let packed = crate::pdf::fixture::deflate(&vec![b' '; (32 << 20) + 1]);
    bomb.set_bytes(number::CONTENT, stream("/Filter/FlateDecode", &packed));
    assert!(view(&bomb.write()).is_none());
}
