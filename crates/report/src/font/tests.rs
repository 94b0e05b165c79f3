#![allow(clippy::unwrap_used)]
use std::collections::BTreeSet;

use super::*;

fn shaped(text: &str) -> Vec<(usize, String, Shaped)> {
    FontSet::bundled()
        .shape(Weight::Regular, text, false)
        .map(|(index, piece, shaped)| (index, piece.to_owned(), (*shaped).clone()))
        .collect()
}

/// Width in thousandths of an em of the Latin family.
fn width(text: &str, weight: Weight, tabular: bool) -> f64 {
    FontSet::bundled().width(text, weight, 1000.0 / MM_PER_POINT, tabular)
}

#[test]
fn the_bundled_fonts_are_read_in_their_order() {
    let names: Vec<_> = (0..4)
        .map(|index| FontSet::bundled().program(index).unwrap().name.clone())
        .collect();
    assert_eq!(
        names,
        [
            "FiraSans-Regular",
            "FiraSans-Bold",
            "BIZUDPGothic-Regular",
            "BIZUDPGothic-Bold"
        ]
    );
    assert_eq!(FontSet::bundled().refused(), []);
    assert!(FontSet::bundled().program(4).is_none());
}

#[test]
fn both_weights_cover_the_trade_and_the_same_characters() {
    for weight in [Weight::Regular, Weight::Bold] {
        let latin = FontSet::bundled()
            .program(usize::from(weight == Weight::Bold))
            .unwrap();
        for character in ' '..='~' {
            assert!(latin.covers(&character.to_string()), "{character}");
        }
        for character in "鎬鎺鐔錵匂茎鑢鋩樋疵鍔鎺刃棟±µμ°→−×éāōūĀŌŪḳẖ²³½¼¾⅞≤≥ΔΩжЖαA1あ々〆".chars()
        {
            assert!(
                Face::of(weight).covers(character),
                "{character} missing in {weight:?}"
            );
        }
    }
    let difference: Vec<char> = (0..0x3_0000)
        .filter_map(char::from_u32)
        .filter(|one| Face::of(Weight::Regular).covers(*one) != Face::of(Weight::Bold).covers(*one))
        .collect();
    assert_eq!(difference, []);
}

#[test]
fn what_cannot_be_drawn_is_spelled_out() {
    let drawn = drawable("a\u{202e}b 𠮷 26⅞\u{a0}in\u{2011}x");
    assert_eq!(drawn.text, "a[U+202E]b [U+20BB7] 26⅞\u{a0}in-x");
    assert_eq!(drawn.missing, BTreeSet::from(['\u{202e}', '𠮷']));
    assert_eq!(
        drawable("長さ 701.5 mm ± 0.4 m\u{304}").missing,
        BTreeSet::new()
    );
    // A mark without a letter, letters from right to left, a selector, a tag, another space.
    let drawn = drawable("\u{304} אב\u{5b8} 字\u{fe00}\u{e0101} a\u{2009}b\u{202f}c");
    assert_eq!(
        drawn.text,
        "[U+0304] [U+05D0][U+05D1][U+05B8] 字[U+FE00][U+E0101] a b\u{a0}c"
    );
    assert_eq!(drawn.missing.len(), 6);
}

#[test]
fn text_is_cut_by_coverage_and_marks_stay_with_their_letters() {
    let parts: Vec<(usize, String)> = shaped("Tōya m\u{304} 鎬、2026-11-25 a\u{300}")
        .into_iter()
        .map(|(index, piece, _)| (index, piece))
        .collect();
    let expected = [
        (0, "Tōya"),
        (0, " "),
        (0, "m\u{304}"),
        (0, " "),
        (2, "鎬"),
        (2, "、"),
        (0, "2026-"),
        (0, "11-"),
        (0, "25"),
        (0, " "),
        (0, "a\u{300}"),
    ];
    assert_eq!(
        parts,
        expected.map(|(index, piece)| (index, piece.to_owned()))
    );
}

#[test]
fn a_text_cut_anywhere_between_pieces_is_as_wide_as_its_parts() {
    let fonts = FontSet::bundled();
    let text = "Kōgorō's ridge 鎬(しのぎ) – 694.0 ± 0.62 mm, m\u{304}a/b-c AVATAR";
    let whole = width(text, Weight::Regular, true);
    let mut at = 0;
    for (_, piece) in fonts.pieces(Weight::Regular, text) {
        at += piece.len();
        let (head, tail) = text.split_at(at);
        let sum = width(head, Weight::Regular, true) + width(tail, Weight::Regular, true);
        assert!((sum - whole).abs() < 1e-6, "{head}|{tail}");
    }
    assert_eq!(at, text.len());
}

#[test]
fn pairs_are_kerned() {
    for weight in [Weight::Regular, Weight::Bold] {
        let apart = width("A", weight, false) + width("V", weight, false);
        assert!(width("AV", weight, false) < apart - 5.0, "{weight:?}");
    }
}

#[test]
fn figures_of_one_width_are_glyphs_of_one_width() {
    for weight in [Weight::Regular, Weight::Bold] {
        let widths: BTreeSet<String> = ('0'..='9')
            .map(|figure| format!("{:.3}", width(&figure.to_string(), weight, true)))
            .collect();
        assert_eq!(widths.len(), 1, "{widths:?}");
        assert!((width("111", weight, true) - width("888", weight, true)).abs() < 1e-9);
        assert!(width("111", weight, false) < width("888", weight, false));
    }
    // An em at 72 pt is one inch.
    assert!((Face::of(Weight::Regular).width("亜", 72.0, false) - 25.4).abs() < 1e-9);
}

/// Anchors of a font, read with a reader of their own: where a mark of a class sits on a base.
fn anchors(base: u16, mark: u16) -> ([i32; 2], [i32; 2]) {
    use ttf_parser::gpos::PositioningSubtable;
    let face = ttf_parser::Face::parse(BUNDLED[0], 0).unwrap();
    let [base, mark] = [base, mark].map(ttf_parser::GlyphId);
    let gpos = face.tables().gpos.unwrap();
    for lookup in gpos.lookups {
        for subtable in lookup.subtables.into_iter::<PositioningSubtable<'_>>() {
            let PositioningSubtable::MarkToBase(table) = subtable else {
                continue;
            };
            if let (Some(base), Some(mark)) =
                (table.base_coverage.get(base), table.mark_coverage.get(mark))
                && let Some((class, own)) = table.marks.get(mark)
                && let Some(place) = table.anchors.get(base, class)
            {
                return (
                    [place.x, place.y].map(i32::from),
                    [own.x, own.y].map(i32::from),
                );
            }
        }
    }
    panic!("no anchors");
}

#[test]
fn a_mark_sits_on_the_anchor_of_its_letter() {
    for (letter, mark) in [
        ('m', '\u{304}'),
        ('h', '\u{331}'),
        ('Q', '\u{302}'),
        ('x', '\u{30a}'),
    ] {
        let text: String = [letter, mark].into_iter().collect();
        let pieces = shaped(&text);
        let [(0, _, shaped)] = pieces.as_slice() else {
            panic!("one piece of one font: {pieces:?}");
        };
        let [base, over] = *shaped.glyphs else {
            panic!("{text}: two glyphs: {shaped:?}");
        };
        let (place, own) = anchors(base.id, over.id);
        // The pen stands behind the letter when the mark is drawn.
        assert_eq!(base.advance + over.right + own[0], place[0], "{text}");
        assert_eq!(over.up + own[1], place[1], "{text}");
        assert_eq!(over.advance, 0, "{text}");
        assert_eq!(shaped.width, base.advance, "{text}");
    }
}

#[test]
fn both_spellings_of_a_letter_look_the_same() {
    for (composed, apart) in [
        ("é", "e\u{301}"),
        ("ō", "o\u{304}"),
        ("ẖ", "h\u{331}"),
        ("Ǖ", "U\u{308}\u{304}"),
    ] {
        let looks = |text: &str| -> Vec<_> {
            let glyphs = shaped(text).into_iter().flat_map(|(index, _, shaped)| {
                let placed: Vec<_> = shaped
                    .glyphs
                    .iter()
                    .map(|glyph| (index, glyph.id, glyph.advance, glyph.right, glyph.up))
                    .collect();
                placed
            });
            glyphs.collect()
        };
        assert_eq!(looks(composed), looks(apart), "{composed}");
        assert_eq!(drawable(apart).missing, BTreeSet::new());
    }
}

#[test]
fn glyphs_are_told_with_the_characters_they_stand_for() {
    for text in ["office", "m\u{304}a", "ẖ", "e\u{301}x", "fi", "AVAT"] {
        for (_, piece, shaped) in shaped(text) {
            let told: String = shaped.clusters(&piece).map(|(_, words)| words).collect();
            assert_eq!(told, piece);
            assert!(
                shaped
                    .clusters(&piece)
                    .all(|(glyphs, words)| !glyphs.is_empty() && !words.is_empty()),
                "{text}"
            );
        }
    }
    let pieces = shaped("fi");
    let [(_, piece, ligature)] = pieces.as_slice() else {
        panic!("one piece: {pieces:?}");
    };
    assert_eq!(ligature.clusters(piece).count(), ligature.glyphs.len());
}

#[test]
fn broken_and_forbidden_fonts_are_named_and_left_out() {
    let mut forbidden = BUNDLED[0].to_vec();
    set_embedding(&mut forbidden, 0x0002);
    let mut whole = BUNDLED[0].to_vec();
    set_embedding(&mut whole, 0x0100);
    let mut short = BUNDLED[2].to_vec();
    short.truncate(3000);
    let fonts = FontSet::with_folder([
        ("whole.ttf".to_owned(), whole),
        ("empty.ttf".to_owned(), Vec::new()),
        ("forbidden.otf".to_owned(), forbidden),
        ("short.ttf".to_owned(), short),
        ("words.ttf".to_owned(), b"not a font at all".repeat(30)),
    ]);
    let told: Vec<String> = fonts.refused().iter().map(ToString::to_string).collect();
    assert_eq!(told.len(), 5, "{told:?}");
    assert!(
        told[0].starts_with(
            "font file `empty.ttf` is no OpenType or TrueType font that can be read ("
        ),
        "{told:?}"
    );
    assert_eq!(
        told[1],
        "font file `forbidden.otf` forbids being embedded in a document (fsType of its OS/2 table); use a font whose licence and fsType allow it"
    );
    assert!(
        told[4].starts_with("font file `words.ttf` is no"),
        "{told:?}"
    );
    assert!(
        told[3].starts_with("font file `whole.ttf` forbids being reduced"),
        "{told:?}"
    );
    // The bundled fonts stand as if there was no folder.
    assert_eq!(fonts, *FontSet::bundled());
}

/// Groups that claim every number there is, a thousand times over, are read no further than Unicode goes.
#[test]
fn a_table_of_characters_without_end_is_read_to_its_end() {
    let groups: Vec<[u32; 3]> = vec![[0, u32::MAX, 1]; 1000];
    let file = |format: u16| {
        let name = format!("{format}.ttf");
        (name, with_characters(BUNDLED[0], format, &groups))
    };
    let fonts = FontSet::with_folder([file(12), file(13)]);
    assert_eq!(fonts.refused(), []);
    let covers = |index: usize, character: char| {
        let program = fonts.program(index).unwrap();
        program.covers(&character.to_string())
    };
    // A glyph for each character as far as there are glyphs, and one glyph for all characters.
    let last = char::from_u32(u32::from(glyphs(BUNDLED[0])) - 2).unwrap();
    let next = char::from_u32(u32::from(last) + 1).unwrap();
    assert!(covers(4, 'A') && covers(4, last) && !covers(4, next));
    assert!(covers(5, 'A') && covers(5, '\u{10ffff}'));
}

fn glyphs(font: &[u8]) -> u16 {
    let face = ttf_parser::Face::parse(font, 0).unwrap();
    face.number_of_glyphs()
}

/// A font with another table of characters: one subtable with groups of first character, last character and glyph.
///
/// Source: OpenType specification, cmap table, formats 12 and 13 (from memory).
fn with_characters(font: &[u8], format: u16, groups: &[[u32; 3]]) -> Vec<u8> {
    let count = u32::try_from(groups.len()).unwrap();
    let mut table: Vec<u8> = [0_u16, 1, 3, 10, 0, 12, format, 0]
        .into_iter()
        .flat_map(u16::to_be_bytes)
        .collect();
    let head = [16 + 12 * count, 0, count];
    let numbers = head.into_iter().chain(groups.iter().copied().flatten());
    table.extend(numbers.flat_map(u32::to_be_bytes));
    let mut font = font.to_vec();
    let place = [font.len(), table.len()].map(|number| u32::try_from(number).unwrap());
    let entry = entry(&font, *b"cmap");
    for (index, number) in place.into_iter().enumerate() {
        let at = entry + 8 + 4 * index;
        font[at..at + 4].copy_from_slice(&number.to_be_bytes());
    }
    font.extend(table);
    font
}

/// Where a font's directory has the entry of a table.
fn entry(font: &[u8], table: [u8; 4]) -> usize {
    let tables = usize::from(u16::from_be_bytes([font[4], font[5]]));
    (0..tables)
        .map(|index| 12 + 16 * index)
        .find(|at| font[*at..*at + 4] == table)
        .unwrap()
}

/// Writes the embedding bits of a font.
///
/// Source: OpenType specification, OS/2 table: fsType is the fifth field of two bytes (from memory).
fn set_embedding(font: &mut [u8], bits: u16) {
    let entry = entry(font, *b"OS/2");
    let offset = u32::from_be_bytes(font[entry + 8..entry + 12].try_into().unwrap());
    let at = usize::try_from(offset).unwrap() + 8;
    font[at..at + 2].copy_from_slice(&bits.to_be_bytes());
}

#[test]
fn fonts_of_a_folder_follow_in_the_order_of_their_names() {
    // The bundled fonts under other names stand for somebody's own.
    let file = |name: &str, index: usize| (name.to_owned(), BUNDLED[index].to_vec());
    let one = FontSet::with_folder([file("b.ttf", 2), file("a.ttf", 0)]);
    let two = FontSet::with_folder([file("a.ttf", 0), file("b.ttf", 2)]);
    assert_eq!(one, two);
    assert_ne!(one, *FontSet::bundled());
    assert_eq!(one.program(4).unwrap().name, "FiraSans-Regular");
    // The bundled ones are asked first.
    assert_eq!(one.program_for(Weight::Regular, "A"), Some(0));
    assert_eq!(one.program_for(Weight::Bold, "鎬"), Some(3));
    let (rest, font) = one.without(4, "cannot").unwrap();
    assert_eq!(font.to_string(), "font file `a.ttf` cannot");
    assert_eq!(rest.program(4).unwrap().name, "BIZUDPGothic-Regular");
    assert!(one.without(0, "cannot").is_none());
}

#[test]
fn a_set_is_in_use_for_the_time_of_a_scope() {
    let own = FontSet::with_folder([("a.ttf".to_owned(), BUNDLED[0].to_vec())]);
    assert_eq!(in_use(), *FontSet::bundled());
    own.scope(|| {
        assert_eq!(in_use(), own);
        FontSet::bundled().scope(|| assert_eq!(in_use(), *FontSet::bundled()));
        assert_eq!(in_use(), own);
    });
    assert_eq!(in_use(), *FontSet::bundled());
}

#[test]
fn a_full_memory_changes_nothing() {
    let before = shaped("Kōgorō");
    for number in 0..10_000 {
        width(&format!("x{number}"), Weight::Regular, false);
    }
    assert_eq!(shaped("Kōgorō"), before);
}
