//! Rules about fonts: embedded, measured as they say, and readable as text.

use std::collections::BTreeMap;

use lopdf::{Dictionary, Object};
use ttf_parser::{Face, GlyphId};

use super::facts::{nothing, text, unpacked};
use super::typefaces::Fonts;
use super::{Facts, Rule, Told};

/// Rules about fonts.
pub(super) const RULES: &[Rule] = &[
    Rule {
        id: "T1",
        clause: "ISO 19005-3, 6.2.11.4.1, and ISO 14289-1, 7.21.4, from memory",
        says: "every font that is shown is embedded, and its program can be read",
        check: embedded,
    },
    Rule {
        id: "T2",
        clause: "ISO 19005-3, 6.2.11.2, from memory; composite fonts only: a rule of this project",
        says: "fonts are composite fonts with one CID font each, named alike",
        check: dictionaries,
    },
    Rule {
        id: "T3",
        clause: "ISO 19005-3, 6.2.11.3.1 and 6.2.11.3.3, from memory",
        says: "codes are glyph numbers: the CMap is Identity-H or Identity-V, the collection Adobe-Identity",
        check: encodings,
    },
    Rule {
        id: "T4",
        clause: "ISO 19005-3, 6.2.11.3.2, from memory",
        says: "a CID font of TrueType outlines maps codes to glyphs",
        check: glyph_map,
    },
    Rule {
        id: "T5",
        clause: "ISO 19005-3, 6.2.11.5, and ISO 14289-1, 7.21.5, from memory",
        says: "widths are those of the font program, within a thousandth of an em",
        check: widths,
    },
    Rule {
        id: "T6",
        clause: "ISO 19005-3, 6.2.11.7.2, and ISO 14289-1, 7.21.7, from memory",
        says: "every code that is shown has a character",
        check: characters,
    },
    Rule {
        id: "T7",
        clause: "ISO 19005-3, 6.2.11.7.3, from memory",
        says: "characters are not of private use",
        check: private_use,
    },
    Rule {
        id: "T8",
        clause: "ISO 19005-3, 6.2.11.8, and ISO 14289-1, 7.21.8, from memory",
        says: "the glyph for what is missing is never shown, and every glyph that is shown is in the font",
        check: missing,
    },
    Rule {
        id: "T9",
        clause: "nothing is shown blank: a rule of this project",
        says: "a character that is no space has an outline",
        check: outlines,
    },
    Rule {
        id: "T10",
        clause: "ISO 32000-1, 9.6.4, from memory",
        says: "names of reduced fonts begin with six capital letters and a plus sign, alike in all dictionaries",
        check: tags,
    },
    Rule {
        id: "T11",
        clause: "ISO 32000-1, 9.8.1, from memory",
        says: "a font descriptor holds flags, box, angle, ascent, descent, capital height and stem",
        check: descriptors,
    },
    Rule {
        id: "T12",
        clause: "ISO 19005-3, 6.2.11.4.2, from memory",
        says: "a CIDSet, where there is one, names every glyph of the font",
        check: cid_sets,
    },
];

fn embedded(facts: &Facts<'_>, told: &mut Told) {
    let fonts = Fonts::read(facts);
    for font in &fonts.fonts {
        match &font.program {
            None => told.push(format!("{}: no program", font.place)),
            Some(program) => {
                if let Err(error) = Face::parse(program, 0) {
                    told.push(format!("{}: {error}", font.place));
                }
            }
        }
    }
}

fn dictionaries(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        let kind = facts.name(font.dictionary, "Subtype");
        let inner = facts.name(font.below, "Subtype");
        let typed = [font.dictionary, font.below]
            .iter()
            .all(|dictionary| facts.name(dictionary, "Type") == Some(b"Font"));
        let composite = kind == Some(b"Type0")
            && matches!(inner, Some(b"CIDFontType0" | b"CIDFontType2"))
            && facts.array(font.dictionary, "DescendantFonts").len() == 1;
        if !typed || !composite || facts.name(font.dictionary, "BaseFont").is_none() {
            told.push(font.place);
        }
    }
}

fn encodings(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        let encoding = facts
            .name(font.dictionary, "Encoding")
            .map(text)
            .unwrap_or_default();
        let collection = facts
            .dictionary(font.below, "CIDSystemInfo")
            .unwrap_or(nothing());
        let named = [("Registry", b"Adobe".as_slice()), ("Ordering", b"Identity")]
            .iter()
            .all(|(key, value)| facts.string(collection, key) == Some(value));
        if !["Identity-H", "Identity-V"].contains(&encoding.as_str()) || !named {
            told.push(format!("{}: `{encoding}`", font.place));
        }
    }
}

fn glyph_map(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        if facts.name(font.below, "Subtype") != Some(b"CIDFontType2") {
            continue;
        }
        let map = facts.get(font.below, "CIDToGIDMap");
        let good = map.is_some_and(|map| {
            map.as_stream().is_ok() || map.as_name().is_ok_and(|name| name == b"Identity")
        });
        if !good {
            told.push(font.place);
        }
    }
}

/// Widths by code, from `/W` (ISO 32000-1, 9.7.4.3, from memory).
fn stated_widths(facts: &Facts<'_>, cid_font: &Dictionary) -> BTreeMap<u16, f32> {
    let mut found = BTreeMap::new();
    let mut items = facts.array(cid_font, "W").iter();
    while let (Some(first), Some(second)) = (items.next(), items.next()) {
        let Some(first) = first
            .as_i64()
            .ok()
            .and_then(|code| u16::try_from(code).ok())
        else {
            break;
        };
        if let Object::Array(widths) = facts.follow(second) {
            for (code, width) in (first..=u16::MAX).zip(widths) {
                found.insert(code, width.as_float().unwrap_or(f32::NAN));
            }
        } else {
            let last = second
                .as_i64()
                .ok()
                .and_then(|code| u16::try_from(code).ok());
            let width = items.next().and_then(|width| width.as_float().ok());
            for code in first..=last.unwrap_or(first) {
                found.insert(code, width.unwrap_or(f32::NAN));
            }
        }
    }
    found
}

fn widths(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        let Some(face) = font
            .program
            .as_ref()
            .and_then(|program| Face::parse(program, 0).ok())
        else {
            continue;
        };
        let stated = stated_widths(facts, font.below);
        let default = facts
            .get(font.below, "DW")
            .and_then(|width| width.as_float().ok())
            .unwrap_or(1000.0);
        for code in &font.codes {
            let Some(advance) = face.glyph_hor_advance(GlyphId(*code)) else {
                continue;
            };
            let wanted = f32::from(advance) * 1000.0 / f32::from(face.units_per_em());
            let found = stated.get(code).copied().unwrap_or(default);
            if found.is_nan() || (found - wanted).abs() > 1.0 {
                told.push(format!(
                    "{}: glyph {code}: {found}, it is {wanted}",
                    font.place
                ));
            }
        }
    }
}

fn characters(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        for code in &font.codes {
            let text = font
                .characters
                .get(code)
                .map(String::as_str)
                .unwrap_or_default();
            let bad = text.is_empty() || text.contains(['\0', '\u{feff}', '\u{fffe}', '\u{fffd}']);
            if bad {
                told.push(format!("{}: glyph {code}", font.place));
            }
        }
    }
}

fn private_use(facts: &Facts<'_>, told: &mut Told) {
    let private =
        |character: char| matches!(character, '\u{e000}'..='\u{f8ff}' | '\u{f0000}'..='\u{10ffff}');
    for font in Fonts::read(facts).fonts {
        for code in font.codes.difference(&font.replaced) {
            let text = font
                .characters
                .get(code)
                .map(String::as_str)
                .unwrap_or_default();
            if text.chars().any(private) {
                told.push(format!("{}: glyph {code}", font.place));
            }
        }
    }
}

fn missing(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        let glyphs = font
            .program
            .as_ref()
            .and_then(|program| Face::parse(program, 0).ok())
            .map(|face| face.number_of_glyphs());
        for code in &font.codes {
            if *code == 0 || glyphs.is_some_and(|glyphs| *code >= glyphs) {
                told.push(format!("{}: glyph {code}", font.place));
            }
        }
    }
}

fn outlines(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        let Some(face) = font
            .program
            .as_ref()
            .and_then(|program| Face::parse(program, 0).ok())
        else {
            continue;
        };
        for code in font
            .codes
            .iter()
            .filter(|code| (1..face.number_of_glyphs()).contains(*code))
        {
            let text = font
                .characters
                .get(code)
                .map(String::as_str)
                .unwrap_or_default();
            let blank = text.is_empty()
                || text.chars().all(|character| {
                    // What joins or directs others is not seen by itself.
                    character.is_whitespace() || character.is_control()
                        || matches!(character, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2060}'..='\u{2064}' | '\u{fe00}'..='\u{fe0f}')
                });
            if !blank && face.glyph_bounding_box(GlyphId(*code)).is_none() {
                told.push(format!("{}: glyph {code}, `{text}`", font.place));
            }
        }
    }
}

fn tags(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        let names = [
            facts.name(font.dictionary, "BaseFont"),
            facts.name(font.below, "BaseFont"),
            facts.name(font.descriptor, "FontName"),
        ];
        let name = text(names[0].unwrap_or_default());
        let tagged = name.split_once('+').is_some_and(|(tag, rest)| {
            tag.len() == 6
                && tag.chars().all(|letter| letter.is_ascii_uppercase())
                && !rest.is_empty()
        });
        // A CID font of PostScript outlines has the CMap's name behind its own.
        let alike = names[1..]
            .iter()
            .flatten()
            .all(|other| name.as_bytes().starts_with(other));
        if names[0].is_some() && (!tagged || !alike) {
            told.push(format!("{}: {name}", font.place));
        }
    }
}

fn descriptors(facts: &Facts<'_>, told: &mut Told) {
    let wanted = [
        "Flags",
        "FontBBox",
        "ItalicAngle",
        "Ascent",
        "Descent",
        "CapHeight",
        "StemV",
    ];
    for font in Fonts::read(facts).fonts {
        for key in wanted {
            if facts.get(font.descriptor, key).is_none() {
                told.push(format!("{}: no {key}", font.place));
            }
        }
        // Symbolic or not, one of the two (bits 3 and 6).
        let flags = facts.integer(font.descriptor, "Flags").unwrap_or(4);
        if (flags & 4 != 0) == (flags & 32 != 0) {
            told.push(format!("{}: Flags {flags}", font.place));
        }
    }
}

fn cid_sets(facts: &Facts<'_>, told: &mut Told) {
    for font in Fonts::read(facts).fonts {
        let Some(set) = facts.stream(font.descriptor, "CIDSet") else {
            continue;
        };
        let bits = unpacked(set).unwrap_or_default();
        let glyphs = font
            .program
            .as_ref()
            .and_then(|program| Face::parse(program, 0).ok())
            .map_or(0, |face| face.number_of_glyphs());
        let lost = (0..glyphs).find(|glyph| {
            let byte = bits.get(usize::from(glyph / 8)).copied().unwrap_or(0);
            byte & (0x80 >> (glyph % 8)) == 0
        });
        if let Some(glyph) = lost {
            told.push(format!("{}: glyph {glyph}", font.place));
        }
    }
}
