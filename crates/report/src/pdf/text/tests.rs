#![allow(clippy::unwrap_used)]
use std::collections::BTreeMap;

use lopdf::{Dictionary, Document, Object, content::Content};
use tangmark_core::Digest;

use super::*;
use crate::{
    font::{FontSet, MM_PER_POINT, Weight},
    pdf::{Metadata, write},
    scene::{Colour, Draw, Language, Role, RubyPart, Scene},
};

mod broken;

const SIZE: f64 = 9.0;

fn draw(text: &str, line: usize, tabular: bool) -> TextDraw {
    TextDraw {
        x: 20.0,
        y: 20.0 + 8.0 * line as f64,
        size: SIZE,
        weight: if line.is_multiple_of(2) {
            Weight::Regular
        } else {
            Weight::Bold
        },
        colour: Colour::BLACK,
        language: Language::English,
        tabular,
        ruby: RubyPart::None,
        text: text.to_owned(),
    }
}

/// A document with one paragraph for each text, all under one scene's fonts.
fn document(draws: Vec<Vec<TextDraw>>) -> Vec<u8> {
    let mut scene = Scene::default();
    let page = scene.add_page(210.0, 297.0);
    for texts in draws {
        let node = scene.add_node(Role::Paragraph, None);
        scene.put(
            page,
            Some(node),
            texts.into_iter().map(Draw::Text).collect(),
        );
    }
    let metadata = Metadata {
        title: "Trial",
        author: "Workshop of the trial",
        subject: "Text",
        producer: "trial",
        issued_at: "2026-01-02T03:04:05Z",
        id: Digest::of(b"text"),
        sealed: None,
    };
    write(&scene, &metadata).unwrap()
}

fn lines(texts: &[&str], tabular: bool) -> Vec<u8> {
    let draws = texts.iter().enumerate();
    document(
        draws
            .map(|(line, text)| vec![draw(text, line, tabular)])
            .collect(),
    )
}

/// A font as a reader of the file sees it.
struct Reader {
    widths: BTreeMap<u16, f64>,
    texts: BTreeMap<u16, String>,
}

fn numbers(object: &Object) -> f64 {
    f64::from(object.as_float().unwrap())
}

impl Reader {
    fn of(document: &Document, font: &Dictionary) -> Self {
        let look = |object: &Object| document.dereference(object).unwrap().1.clone();
        let cmap = look(font.get(b"ToUnicode").unwrap());
        let cmap = cmap.as_stream().unwrap();
        let cmap = cmap
            .decompressed_content()
            .unwrap_or_else(|_| cmap.content.clone());
        let descendants = look(font.get(b"DescendantFonts").unwrap());
        let descendant = look(&descendants.as_array().unwrap()[0]);
        let array = look(descendant.as_dict().unwrap().get(b"W").unwrap());
        let mut widths = BTreeMap::new();
        for pair in array.as_array().unwrap().chunks(2) {
            let first = u16::try_from(pair[0].as_i64().unwrap()).unwrap();
            for (code, width) in (first..).zip(pair[1].as_array().unwrap()) {
                widths.insert(code, numbers(width));
            }
        }
        Self {
            widths,
            texts: to_unicode(&String::from_utf8(cmap).unwrap()),
        }
    }
}

/// Reads the `bfchar` and `bfrange` parts of a `ToUnicode` map.
fn to_unicode(cmap: &str) -> BTreeMap<u16, String> {
    let words: Vec<&str> = cmap
        .split_whitespace()
        .flat_map(|word| word.split_inclusive('>'))
        .collect();
    let code = |word: &str| u16::from_str_radix(word.trim_matches(['<', '>']), 16).unwrap();
    let text = |word: &str| {
        let hex = word.trim_matches(['<', '>']).to_owned();
        let units: Vec<u16> = hex
            .as_bytes()
            .chunks(4)
            .map(|unit| u16::from_str_radix(std::str::from_utf8(unit).unwrap(), 16).unwrap())
            .collect();
        String::from_utf16(&units).unwrap()
    };
    let mut map = BTreeMap::new();
    let mut part = "";
    let mut held: Vec<&str> = Vec::new();
    for word in words {
        match word {
            "beginbfchar" | "beginbfrange" | "endbfchar" | "endbfrange" => {
                part = word;
                held.clear();
            }
            _ if part == "beginbfchar" && word.starts_with('<') => {
                held.push(word);
                if let [glyph, letters] = held[..] {
                    map.insert(code(glyph), text(letters));
                    held.clear();
                }
            }
            _ if part == "beginbfrange" && word.starts_with('<') => {
                held.push(word);
                if let [first, last, letters] = held[..] {
                    assert_eq!(code(last), code(first), "a range of more than one: {cmap}");
                    map.insert(code(first), text(letters));
                    held.clear();
                }
            }
            _ => {}
        }
    }
    map
}

/// A text object of a page: its words, and how far the pen went, in points.
#[derive(Debug, PartialEq)]
struct Shown {
    words: String,
    advance: f64,
}

/// Reads the texts of the first page as a reader of PDF does: ISO 32000-1, 9.4.4, 9.10 and 14.9.4.
fn shown(pdf: &[u8]) -> Vec<Shown> {
    let document = Document::load_mem(pdf).unwrap();
    let page = *document.get_pages().values().next().unwrap();
    let fonts: BTreeMap<Vec<u8>, Reader> = document
        .get_page_fonts(page)
        .unwrap()
        .into_iter()
        .map(|(name, font)| (name, Reader::of(&document, font)))
        .collect();
    let content = Content::decode(&document.get_page_content(page)).unwrap();
    let mut texts = Vec::new();
    let mut font = None;
    let mut size = 0.0;
    let mut actual: Vec<Option<String>> = Vec::new();
    for operation in content.operations {
        let operands = &operation.operands;
        match operation.operator.as_str() {
            "BT" => texts.push(Shown {
                words: String::new(),
                advance: 0.0,
            }),
            "Tf" => {
                font = fonts.get(operands[0].as_name().unwrap());
                size = numbers(&operands[1]);
            }
            "BDC" => {
                let text = operands[1].as_dict().unwrap().get(b"ActualText").ok();
                let text = text.map(|text| {
                    let units: Vec<u16> = text.as_str().unwrap()[2..]
                        .chunks(2)
                        .map(|unit| u16::from_be_bytes([unit[0], unit[1]]))
                        .collect();
                    String::from_utf16(&units).unwrap()
                });
                if let (Some(text), Some(last)) = (&text, texts.last_mut()) {
                    last.words.push_str(text);
                }
                actual.push(text);
            }
            "EMC" => {
                actual.pop().unwrap();
            }
            "Tj" | "TJ" => {
                let last = texts.last_mut().unwrap();
                let font = font.unwrap();
                let items = match &operands[0] {
                    Object::Array(items) => items.clone(),
                    one => vec![one.clone()],
                };
                for item in items {
                    let Object::String(codes, _) = item else {
                        last.advance -= numbers(&item) / 1000.0 * size;
                        continue;
                    };
                    for code in codes.chunks(2) {
                        let code = u16::from_be_bytes([code[0], code[1]]);
                        last.advance += font.widths[&code] / 1000.0 * size;
                        if actual.iter().all(Option::is_none) {
                            last.words.push_str(&font.texts[&code]);
                        }
                    }
                }
            }
            _ => {}
        }
    }
    texts
}

/// Invented lines, and pangrams that are common property.
const LINES: [&str; 12] = [
    "The quick brown fox jumps over the lazy dog: AVATAR, Tōya, office, fi ffl",
    "2026-11-25, 1111.11 mm, 694.0 ± 0.62 mm, −0.11 → 26⅞ in, ≤ 11° ½ µm",
    "いろはにほへと ちりぬるを、「刃文は小乱れ」。錵深く、匂口冴える。",
    "ridge 鎬 (shinogi), tang 茎 (nakago); 長さ 701.5 mm",
    "m\u{304}a\u{304}, h\u{331}h, n\u{303}n\u{301}, x\u{30a}\u{301} and q\u{323}",
    "Μέγεθος λεπίδας · Съешь же ещё этих мягких булок",
    "micro µ and mu μ, ohm Ω and omega Ω, é and e\u{301}",
    "[U+05D0] [U+202E] \\ ( ) < > & \" '",
    "ＡＢＣ 全角 １２３ ｶﾅ ー々〆",
    "11 111 1111 11111 1-1/1·1_1",
    " leading and trailing ",
    "a",
];

#[test]
fn words_and_widths_come_back_from_the_file() {
    for tabular in [false, true] {
        let found = shown(&lines(&LINES, tabular));
        assert_eq!(found.len(), LINES.len());
        for (line, (found, text)) in found.iter().zip(LINES).enumerate() {
            assert_eq!(found.words, text);
            let TextDraw { weight, .. } = draw(text, line, tabular);
            let set = FontSet::bundled().width(text, weight, SIZE, tabular) / MM_PER_POINT;
            assert!(
                (found.advance - set).abs() < 0.002,
                "`{text}` was set {set} pt wide and is drawn {} pt wide",
                found.advance
            );
        }
    }
}

#[test]
fn a_glyph_that_stands_for_two_texts_says_which() {
    // Glyphs are shared by U+03BC and U+00B5 or not, as the font likes; composed and decomposed letters share theirs.
    let pdf = lines(&["\u{e9}", "", "e\u{301}"], false);
    let words: Vec<String> = shown(&pdf).into_iter().map(|shown| shown.words).collect();
    assert_eq!(words, ["\u{e9}", "", "e\u{301}"]);
    let content = Document::load_mem(&pdf).unwrap();
    let page = content.get_pages()[&1];
    let content = String::from_utf8_lossy(&content.get_page_content(page)).into_owned();
    assert_eq!(content.matches("ActualText").count(), 1, "{content}");
}

#[test]
fn other_programs_read_the_same_words() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("text.pdf");
    std::fs::write(&file, lines(&LINES, true)).unwrap();
    let command = std::process::Command::new("pdftotext")
        .args(["-raw", "-enc", "UTF-8"])
        .args([file.as_os_str(), "-".as_ref()])
        .output();
    // A machine without that program says nothing; the reader above has read the same file.
    let Ok(output) = command else { return };
    let words = String::from_utf8(output.stdout).unwrap();
    let found: Vec<&str> = words
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty() && *line != "\u{c}")
        .collect();
    let expected: Vec<&str> = LINES.iter().map(|line| line.trim()).collect();
    assert_eq!(found, expected);
}

#[test]
fn a_reading_is_a_ruby_of_base_and_text() {
    let part = |text: &str, ruby: RubyPart, y: f64| TextDraw {
        ruby,
        language: Language::Japanese,
        y,
        ..draw(text, 0, false)
    };
    let pdf = document(vec![vec![
        draw("the ", 0, false),
        part("鎬", RubyPart::Base, 20.0),
        part("しのぎ", RubyPart::Reading, 17.0),
        part("地", RubyPart::Base, 20.0),
        part("じ", RubyPart::Reading, 17.0),
    ]]);
    let document = Document::load_mem(&pdf).unwrap();
    let kinds = |kind: &str| {
        document
            .objects
            .values()
            .filter_map(|object| object.as_dict().ok())
            .filter(|element| {
                element
                    .get(b"S")
                    .and_then(Object::as_name)
                    .is_ok_and(|name| name == kind.as_bytes())
            })
            .cloned()
            .collect::<Vec<_>>()
    };
    assert_eq!(
        [kinds("Ruby").len(), kinds("RB").len(), kinds("RT").len()],
        [2, 2, 2]
    );
    for ruby in kinds("Ruby") {
        assert_eq!(ruby.get(b"Lang").and_then(Object::as_str).unwrap(), b"ja");
        let children = ruby.get(b"K").and_then(Object::as_array).unwrap();
        let names: Vec<&[u8]> = children
            .iter()
            .map(|child| {
                document
                    .dereference(child)
                    .unwrap()
                    .1
                    .as_dict()
                    .unwrap()
                    .get(b"S")
                    .unwrap()
                    .as_name()
                    .unwrap()
            })
            .collect();
        assert_eq!(names, [b"RB", b"RT"]);
    }
}

#[test]
fn fonts_of_a_folder_give_the_same_bytes_in_any_order() {
    let file = |name: &str, index: usize| (name.to_owned(), crate::font::BUNDLED[index].to_vec());
    let write =
        |files: Vec<(String, Vec<u8>)>| FontSet::with_folder(files).scope(|| lines(&LINES, false));
    let one = write(vec![file("a.ttf", 0), file("b.ttf", 2)]);
    let two = write(vec![file("b.ttf", 2), file("a.ttf", 0)]);
    assert!(one == two);
}
