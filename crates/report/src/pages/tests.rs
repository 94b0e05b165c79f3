#![allow(clippy::unwrap_used, clippy::expect_used)]
use std::collections::BTreeMap;

use serde_json::{Value, json};
use tangmark_core::{Digest, record::Record};

use crate::{
    PageSize, RenderError, RenderInput, Speech,
    font::Face,
    jpeg::JpegError,
    render,
    sample::{self, FINGERPRINT, Sample},
    scene::{Draw, Role, Scene, TextDraw},
    scene_of, svg,
};

fn scene(sample: &Sample) -> Scene {
    scene_of(&sample.record, &sample.input()).unwrap().0
}

pub(crate) fn texts(scene: &Scene) -> Vec<(usize, &TextDraw)> {
    let mut texts = Vec::new();
    for (index, page) in scene.pages.iter().enumerate() {
        for draw in page.groups.iter().flat_map(|group| &group.draws) {
            if let Draw::Text(text) = draw {
                texts.push((index, text));
            }
        }
    }
    texts
}

/// Everything a reader sees, in one line.
pub(crate) fn words(scene: &Scene) -> String {
    let mut all = texts(scene)
        .iter()
        .map(|(_, text)| text.text.as_str())
        .collect::<Vec<_>>()
        .join(" ");
    for node in &scene.nodes {
        all.push_str(node.alternative.as_deref().unwrap_or_default());
    }
    all.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Box of a text: page, left, top (of capitals), right, bottom (base line).
fn text_box(text: &TextDraw) -> [f64; 4] {
    let face = Face::of(text.weight);
    let width = face.width(text.text.trim_end(), text.size, text.tabular);
    [
        text.x,
        text.y - face.cap_height(text.size),
        text.x + width,
        text.y,
    ]
}

pub(crate) fn assert_laid_out_well(name: &str, scene: &Scene) {
    let mut boxes: Vec<Vec<([f64; 4], &str)>> = vec![Vec::new(); scene.pages.len()];
    for (page, text) in texts(scene) {
        let place = text_box(text);
        let sheet = &scene.pages[page];
        assert!(
            place[0] > 15.0 && place[2] < sheet.width - 19.9,
            "{name}, page {page}: `{}` crosses the side margin ({place:?})",
            text.text
        );
        assert!(
            place[1] > 9.0 && place[3] < sheet.height - 8.0,
            "{name}, page {page}: `{}` leaves the page ({place:?})",
            text.text
        );
        for character in text.text.chars() {
            assert!(
                Face::of(text.weight).covers(character),
                "{name}: no glyph for {character:?}"
            );
        }
        boxes[page].push((place, &text.text));
    }
    for (page, boxes) in boxes.iter().enumerate() {
        for (index, (a, first)) in boxes.iter().enumerate() {
            for (b, second) in &boxes[index + 1..] {
                let across = a[2].min(b[2]) - a[0].max(b[0]);
                let down = a[3].min(b[3]) - a[1].max(b[1]);
                assert!(
                    across < 0.05 || down < 0.05,
                    "{name}, page {page}: `{first}` and `{second}` lie on each other"
                );
            }
        }
    }
}

#[test]
fn no_text_crosses_another_or_the_margin() {
    for name in ["sword", "many", "spear", "bare"] {
        let sample = sample::named(name).unwrap();
        assert_laid_out_well(name, &scene(&sample));
        let letter = RenderInput {
            page: PageSize::Letter,
            demo: true,
            ..sample.input()
        };
        assert_laid_out_well(name, &scene_of(&sample.record, &letter).unwrap().0);
        for speech in [Speech::Japanese, Speech::Both] {
            let input = RenderInput {
                speech,
                ..sample.input()
            };
            let scene = scene_of(&sample.record, &input).unwrap().0;
            assert_laid_out_well(&format!("{name} {speech:?}"), &scene);
        }
    }
}

#[test]
fn the_longest_words_stay_inside() {
    let mut value: Value = serde_json::from_slice(&sample::sword().bytes).unwrap();
    let long = "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft "
        .repeat(2);
    value["blade"]["title"] = long.trim().into();
    value["issuer"]["name"] = long.trim().into();
    value["decision"]["reason"] = "刃文は小乱れ、匂口深く沸よくつく。".repeat(110).into();
    value["findings"][0]["message"] = "x".repeat(2000).into();
    value["examination"]["note"] = "word ".repeat(790).trim().into();
    value["flaws"][0]["note"] = "a very long remark on one flaw ".repeat(60).trim().into();
    value["photos"][0]["caption"] = "caption ".repeat(49).trim().into();
    let sample = Sample::of(&value);
    let scene = scene(&sample);
    assert_laid_out_well("long", &scene);
    assert!(scene.pages.len() > 8);
}

#[test]
fn page_one_holds_verdict_overrides_and_work_under_hold() {
    let scene = scene(&sample::sword());
    let first: String = texts(&scene)
        .iter()
        .filter(|(page, _)| *page == 0)
        .map(|(_, text)| text.text.as_str())
        .collect();
    for part in [
        "Set aside",
        "Override of triage/rust-active",
        "by A. Tessen on 2026-03-03",
        "Worked under hold: ",
        "pass p-1 while triage/fatal-suspected",
        FINGERPRINT,
    ] {
        assert!(first.contains(part), "{part}: {first}");
    }
}

#[test]
fn every_page_names_record_and_page_number() {
    let sample = sample::sword();
    let scene = scene(&sample);
    let name = super::words::digest(&Digest::of(&sample.bytes));
    let total = scene.pages.len();
    for page in 0..total {
        let words: Vec<&str> = texts(&scene)
            .into_iter()
            .filter(|(index, _)| *index == page)
            .map(|(_, text)| text.text.as_str())
            .collect();
        assert!(
            words.contains(&format!("record {name}").as_str()),
            "page {page}"
        );
        assert!(
            words.contains(&format!("page {} of {total}", page + 1).as_str()),
            "page {page}"
        );
        assert!(!words.iter().any(|word| word.contains("DEMONSTRATION")));
    }
}

#[test]
fn a_demonstration_says_so_on_every_page() {
    let mut value = sample::bare();
    value["issuer"]["demo"] = true.into();
    let scene = scene(&Sample::of(&value));
    for page in 0..scene.pages.len() {
        assert!(
            texts(&scene)
                .iter()
                .any(|(index, text)| *index == page && text.text.starts_with("DEMONSTRATION")),
            "page {page}"
        );
    }
}

#[test]
fn measures_stand_with_unit_and_doubled_uncertainty() {
    let all = words(&scene(&sample::sword()));
    // 703.5 mm read to 0.1 mm: u = 0.1/√12 = 0.029 mm (JCGM 100:2008, 4.3.7), doubled 0.058 mm; it ends where the value does.
    assert!(
        all.contains("blade length · nagasa 長さ 703.50 0.06 mm 703.5 mm"),
        "{all}"
    );
    assert_eq!(all.matches("coverage factor k = 2").count(), 1);
    assert!(
        all.contains("temper in the point 帽子 : stains cover the point; no etch was allowed"),
        "{all}"
    );
    assert!(all.contains("fittings 刀装具 : not named as examined"));
}

#[test]
fn a_fitting_says_where_it_came_from_where_it_is_and_what_was_measured() {
    let all = words(&scene(&sample::sword()));
    for part in [
        "origin: came with the blade",
        "mounted on the blade",
        "opening 30.50",
        "tried on the blade 2026-03-02",
        "slides on to the last two millimetres",
        "origin: taken from elsewhere and added",
        "peg hole 42.00",
        "from the mouth",
        "width of the opening",
        "consent in writing",
        "what came of it",
        "looked for in raking light, none seen",
        "no stone before the owner has seen the rust",
    ] {
        assert!(all.contains(part), "{part}");
    }
}

#[test]
fn withheld_items_are_listed_as_withheld() {
    let all = words(&scene(&sample::sword()));
    for part in [
        "custody event 1: price",
        "custody event 1, receiver: name, address, contact",
        "registration 1: number",
        "the agreement: price ceiling, insured value",
        "photograph tang-1: the original file",
    ] {
        assert!(all.contains(part), "{part}");
    }
    assert!(
        words(&scene(&Sample::of(&sample::bare()))).contains("Nothing is withheld in this record.")
    );
}

#[test]
fn empty_sections_say_that_they_are_empty() {
    let all = words(&scene(&Sample::of(&sample::bare())));
    for part in [
        "No decision in this record",
        "No measurement is in this record.",
        "The tang is not described in this record.",
        "No flaw is in this record.",
        "No fitting is in this record.",
        "No plan and no pass is in this record.",
        "No finding is in this record.",
        "No examination is described in this record.",
        "No photograph is in this record.",
    ] {
        assert!(all.contains(part), "{part}");
    }
}

#[test]
fn sixty_flaws_are_all_numbered_on_map_and_list() {
    let sample = sample::many_flaws(60);
    let scene = scene(&sample);
    let all = words(&scene);
    for number in 1..=60_u32 {
        let times = texts(&scene)
            .iter()
            .filter(|(_, text)| text.text == number.to_string())
            .count();
        // Once on each face, once in the list.
        assert!(times >= 3, "{number}: {times}");
        assert!(
            all.contains(&format!(" {number}: ")),
            "{number} is in the words of the map"
        );
    }
}

#[test]
fn what_was_not_measured_is_named_and_dashed() {
    let all = words(&scene(&sample::spear()));
    assert!(all.contains("Dashed lines were not measured and are drawn from typical proportions: length of the point, taper, tang length, curve of the point, outline of the tang."), "{all}");
    let dashed = |sample: &Sample| {
        let scene = scene(sample);
        let draws = scene
            .nodes
            .iter()
            .position(|node| node.role == Role::Figure)
            .map(|index| {
                scene.pages[0]
                    .groups
                    .iter()
                    .filter(move |group| group.node.is_some_and(|node| node.0 == index))
                    .flat_map(|group| group.draws.clone())
                    .collect::<Vec<_>>()
            });
        draws.unwrap().iter().filter(|draw| matches!(draw, Draw::Path(path) if path.stroke.as_ref().is_some_and(|stroke| !stroke.dash.is_empty() && stroke.width > 0.22))).count()
    };
    let mut value: Value = serde_json::from_slice(&sample::sword().bytes).unwrap();
    let point = |along: &str, across: &str| json!({ "along": sample::read(&format!("{along} mm"), tangmark_core::units::Dimension::Length), "across": sample::read(&format!("{across} mm"), tangmark_core::units::Dimension::Length) });
    value["dimensions"]["outline"] = json!([
        point("-198", "1"),
        point("0", "1"),
        point("703.5", "1"),
        point("600", "-20"),
        point("-198", "-20")
    ]);
    value["flaws"] = json!([]);
    let outlined = Sample {
        photos: sample::sword().photos,
        ..Sample::of(&value)
    };
    assert_eq!(dashed(&outlined), 0);
    // Other drawings show what an outline does not give.
    let first: String = texts(&scene(&outlined))
        .iter()
        .filter(|(page, _)| *page == 0)
        .map(|(_, text)| text.text.as_str())
        .collect();
    assert!(!first.contains("typical proportions"), "{first}");
    assert!(dashed(&sample::spear()) >= 4);
}

#[test]
fn impossible_numbers_leave_the_map_out() {
    for (field, number) in [
        ("blade_length", "900000000 mm"),
        ("curvature", "5000 mm"),
        ("width_at_point", "400000 mm"),
        ("tang_length", "99999999 mm"),
        ("curvature", "-3000 mm"),
    ] {
        let mut value: Value = serde_json::from_slice(&sample::sword().bytes).unwrap();
        value["dimensions"][field] = sample::read(number, tangmark_core::units::Dimension::Length);
        let sample = Sample {
            photos: sample::sword().photos,
            ..Sample::of(&value)
        };
        let scene = scene(&sample);
        assert!(!words(&scene).contains("Blade map"), "{field} {number}");
        assert_laid_out_well(field, &scene);
    }
}

#[test]
fn characters_without_a_glyph_are_spelled_and_reported() {
    let mut value = sample::bare();
    value["blade"]["title"] = "Blade of 𠮷田 \u{202e}reversed".into();
    let sample = Sample::of(&value);
    let rendered = render(&sample.record, &sample.input()).unwrap();
    assert_eq!(
        rendered.missing.into_iter().collect::<String>(),
        "\u{202e}𠮷"
    );
    assert!(words(&scene(&sample)).contains("Blade of [U+20BB7]"));
}

#[test]
fn bytes_of_another_record_are_refused() {
    let (sword, bare) = (sample::sword(), Sample::of(&sample::bare()));
    let error = render(
        &sword.record,
        &RenderInput {
            record_bytes: &bare.bytes,
            ..sword.input()
        },
    )
    .unwrap_err();
    assert_eq!(
        error.to_string(),
        "record bytes do not hold the record to be shown"
    );
    assert_eq!(
        error.hint(),
        "read the record from the same bytes that are attached"
    );
    let error = render(
        &bare.record,
        &RenderInput {
            record_bytes: b"{",
            ..bare.input()
        },
    )
    .unwrap_err();
    assert!(matches!(error, RenderError::Json(_)));
}

#[test]
fn photos_that_are_not_what_they_say_are_refused() {
    let sample = sample::sword();
    let mut photos = sample.photos.clone();
    let digest = *photos.keys().next().unwrap();
    photos.insert(digest, b"other".to_vec());
    let error = render(
        &sample.record,
        &RenderInput {
            photos: &photos,
            ..sample.input()
        },
    )
    .unwrap_err();
    assert_eq!(
        error.to_string(),
        format!(
            "photo {} was given under the digest {digest}",
            Digest::of(b"other")
        )
    );

    let mut value: Value = serde_json::from_slice(&sample.bytes).unwrap();
    let cmyk = crate::jpeg::tests::head(0, 8, 10, 10, 4);
    value["photos"][0]["original"]["digest"] = Digest::of(&cmyk).to_string().into();
    let photos = BTreeMap::from([(Digest::of(&cmyk), cmyk.clone())]);
    let sample = Sample {
        photos,
        ..Sample::of(&value)
    };
    let error = render(&sample.record, &sample.input()).unwrap_err();
    assert!(matches!(
        error,
        RenderError::Photo {
            reason: JpegError::Components(4),
            ..
        }
    ));
    assert_eq!(
        error.to_string(),
        format!(
            "photo {} has 4 colour components (4 is CMYK); 1 (grey) or 3 (colour) are allowed",
            Digest::of(&cmyk)
        )
    );
    assert_eq!(error.hint(), "save the photo as sRGB JPEG and add it again");
}

#[test]
fn a_photo_that_is_missing_leaves_a_frame() {
    let sample = sample::sword();
    let none = BTreeMap::new();
    let (scene, _, _) = scene_of(
        &sample.record,
        &RenderInput {
            photos: &none,
            ..sample.input()
        },
    )
    .unwrap();
    let all = words(&scene);
    assert_eq!(
        all.matches("This picture is not in this copy.").count(),
        6,
        "each in the frame and in its words"
    );
    assert!(scene.images.is_empty());
}

#[test]
fn a_photo_stored_on_its_side_stands_upright() {
    let scene = scene(&sample::sword());
    let images: Vec<_> = scene
        .pages
        .iter()
        .flat_map(|page| &page.groups)
        .flat_map(|group| &group.draws)
        .filter_map(|draw| {
            if let Draw::Image(image) = draw {
                Some(image)
            } else {
                None
            }
        })
        .collect();
    let turned = images.iter().find(|image| image.orientation == 6).unwrap();
    // Stored 160 × 240, shown 240 × 160.
    assert!((turned.width / turned.height - 1.5).abs() < 1e-9);
}

#[test]
fn pages_and_map_come_as_svg_from_the_same_scene() {
    let sample = sample::sword();
    let scene = scene(&sample);
    let page = svg::page(&scene, 0, &ToString::to_string).unwrap();
    assert!(page.contains("width=\"210mm\" height=\"297mm\""));
    assert!(page.contains(">Set aside</text>") && page.contains("lang=\"ja\""));
    assert!(svg::page(&scene, scene.pages.len(), &ToString::to_string).is_none());
    let map = crate::blade_map_svg(&sample.record, 166.0).unwrap();
    assert!(map.contains("role=\"img\" aria-label=\"Map of the blade") && map.contains("hakobore 刃毀れ (chip in the edge), 3.20 mm long, 0.80 mm deep, 41.0 mm from the back notch, edge, omote and ura, confirmed"), "{map}");
}

#[test]
fn every_term_of_the_trade_can_be_drawn() {
    // The schema's descriptions hold key, kanji and gloss of every closed list.
    let schema = tangmark_core::schema::generate_record();
    let text: Value = serde_json::from_str(&schema).unwrap();
    let mut kanji = String::new();
    let mut open = vec![&text];
    while let Some(value) = open.pop() {
        match value {
            Value::Object(fields) => open.extend(fields.values()),
            Value::Array(items) => open.extend(items),
            Value::String(text) => kanji.extend(
                text.chars()
                    .filter(|character| crate::font::is_japanese(*character)),
            ),
            _ => {}
        }
    }
    assert!(kanji.chars().count() > 500);
    assert_eq!(
        crate::font::drawable(&kanji).missing,
        std::collections::BTreeSet::new()
    );
}

#[test]
fn the_record_type_and_the_pages_agree_on_the_sample() {
    let sample = sample::sword();
    let read: Record = serde_json::from_slice(&sample.bytes).unwrap();
    assert_eq!(read, sample.record);
    assert_eq!(
        crate::pictures_wanted(&read).len(),
        3,
        "the private original is not asked for"
    );
}
