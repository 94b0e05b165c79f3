//! A font that is whole where it is looked at first, and broken where it is needed.

use crate::font::{FontSet, Weight};

/// Where a table of a font lies.
fn table(font: &[u8], name: [u8; 4]) -> std::ops::Range<usize> {
    let number = |at: usize| -> usize {
        let four: [u8; 4] = font[at..at + 4].try_into().unwrap();
        usize::try_from(u32::from_be_bytes(four)).unwrap()
    };
    let tables = usize::from(u16::from_be_bytes([font[4], font[5]]));
    let entry = (0..tables)
        .map(|index| 12 + 16 * index)
        .find(|at| font[*at..*at + 4] == name)
        .unwrap();
    number(entry + 8)..number(entry + 8) + number(entry + 12)
}

/// A font that has a character no bundled font has, U+2620, whose outline lies outside of the file.
fn with_a_broken_glyph() -> Vec<u8> {
    let mut font = crate::font::BUNDLED[0].to_vec();
    let [from, to] = [0x23ce_u16, 0x2620];
    let glyph = FontSet::bundled()
        .program(0)
        .unwrap()
        .nominal('\u{23ce}')
        .unwrap();
    // Format 4 of the table cmap: a segment of one character has its code twice, and a difference to its glyph.
    let changes = [
        (from, to),
        (glyph.wrapping_sub(from), glyph.wrapping_sub(to)),
    ];
    let cmap = table(&font, *b"cmap");
    for (old, new) in changes {
        let places: Vec<usize> = cmap
            .clone()
            .step_by(2)
            .filter(|at| font[*at..*at + 2] == old.to_be_bytes())
            .collect();
        assert!(!places.is_empty());
        for at in places {
            font[at..at + 2].copy_from_slice(&new.to_be_bytes());
        }
    }
    // The table loca: where the outline begins and ends.
    let at = table(&font, *b"loca").start + 2 * usize::from(glyph);
    font[at..at + 4].copy_from_slice(&[0xff, 0xff, 0, 0]);
    font
}

#[test]
fn a_font_that_breaks_while_writing_is_left_out_and_named() {
    let mut value = crate::sample::bare();
    value["blade"]["title"] = "Knife with a \u{2620} on its tang".into();
    let sample = crate::sample::Sample::of(&value);
    let fonts = FontSet::with_folder([("own.ttf".to_owned(), with_a_broken_glyph())]);
    assert_eq!(fonts.refused(), []);
    assert_eq!(
        fonts.program_for(Weight::Regular, "\u{2620}"),
        Some(4),
        "the font has the character"
    );
    let rendered = fonts
        .scope(|| crate::render(&sample.record, &sample.input()))
        .unwrap();
    let told: Vec<String> = rendered.refused.iter().map(ToString::to_string).collect();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0].starts_with("font file `own.ttf` cannot be reduced to the characters used (")
            && told[0].ends_with("); use a plain TrueType or OpenType file of the family"),
        "{told:?}"
    );
    assert!(rendered.missing.contains(&'\u{2620}'));
    // As if the font had never been there.
    let without = crate::render(&sample.record, &sample.input()).unwrap();
    assert!(without.pdf == rendered.pdf);
}
