#![allow(clippy::unwrap_used)]
use super::*;
use crate::{
    layout::page_format::Frame,
    pages::tests::{assert_laid_out_well, texts, words},
    scene::{Draw, Role},
};

const PAPERS: [PageSize; 2] = [PageSize::A4, PageSize::Letter];
const SPEECHES: [Speech; 3] = [Speech::English, Speech::Japanese, Speech::Both];

fn sheet(page: PageSize, speech: Speech) -> LabelSheet<'static> {
    LabelSheet {
        workshop: "Workshop at the Weir",
        made_at: "2026-03-04T05:06:07Z",
        page,
        speech,
        demo: false,
    }
}

const fn label<'a>(key: &'a str, title: &'a str) -> Label<'a> {
    Label {
        key,
        title,
        line: "middle stones since 2026-03-01",
        code: "tangmark:blade:b-0117",
        sharp: true,
    }
}

#[test]
fn labels_fill_pages_in_the_order_given_and_say_what_they_are_for() {
    let keys: Vec<String> = (1..=23).map(|number| format!("b-{number:04}")).collect();
    let labels: Vec<_> = keys.iter().map(|key| label(key, "Short sword")).collect();
    for page in PAPERS {
        for speech in SPEECHES {
            let sheet = sheet(page, speech);
            let (scene, missing) = pages::label_sheet::set(&labels, &sheet, Frame::of(page));
            let case = format!("{page:?}, {speech:?}");
            assert_laid_out_well(&case, &scene);
            assert_eq!(missing, BTreeSet::new());
            assert_eq!(scene.pages.len(), 3, "{case}");
            let on_first: Vec<_> = texts(&scene)
                .into_iter()
                .filter(|(page, text)| *page == 0 && text.text.starts_with("b-0"))
                .map(|(_, text)| text.text.clone())
                .collect();
            // Five rows of two; words in two languages take a row more of the shorter paper.
            let taller = page != PageSize::A4 && speech == Speech::Both;
            assert_eq!(on_first, keys[..if taller { 8 } else { 10 }], "{case}");
            assert!(scene.signature.is_none(), "{case}");
            let all = words(&scene);
            for part in ["Short sword", "middle stones since", "Workshop at the Weir"] {
                assert!(all.contains(part), "{case}: {part}");
            }
            if speech != Speech::Japanese {
                assert!(all.contains("Sharp. Do not touch the steel."), "{case}");
                assert!(all.contains("proves nothing"), "{case}");
            }
            if speech != Speech::English {
                assert!(all.contains("刃物。刀身に触れない。"), "{case}: {all}");
            }
        }
    }
}

#[test]
fn every_label_of_a_demonstration_says_so() {
    let long = Label {
        line: "intake since 2026-03-01, laid aside for the appraiser, who comes in April",
        ..label(
            "b-0117",
            "Long sword with a wide temper line, from the Marrow house by the sea",
        )
    };
    let fitting = Label {
        sharp: false,
        ..long
    };
    for page in PAPERS {
        for speech in SPEECHES {
            let sheet = LabelSheet {
                demo: true,
                ..sheet(page, speech)
            };
            let labels = [long, fitting, label("b-2", "Two")];
            let (scene, _) = pages::label_sheet::set(&labels, &sheet, Frame::of(page));
            let case = format!("{page:?}, {speech:?}");
            assert_laid_out_well(&case, &scene);
            let said = match speech {
                Speech::Japanese => "見本",
                Speech::English | Speech::Both => "demonstration",
            };
            // Under a node: a screen reader reads it out too.
            let told = scene.pages[0].groups.iter().filter(|group| {
                group.node.is_some()
                    && group
                        .draws
                        .iter()
                        .any(|draw| matches!(draw, Draw::Text(text) if text.text.trim_matches([' ', '/']) == said))
            });
            let mark = usize::from(speech == Speech::Japanese);
            assert_eq!(told.count(), labels.len() + mark, "{case}");
            let first = &scene.nodes[scene.roots[0].0];
            assert_eq!(first.role, Role::Paragraph, "{case}");
        }
    }
}

#[test]
fn a_key_is_never_cut_and_a_title_is() {
    let key = "a-key-as-long-as-a-key-may-be-".repeat(3);
    let title = "長い名の刀身と、その拵えと、箱と、書付。".repeat(12);
    let labels = [label(&key, &title)];
    for speech in SPEECHES {
        let sheet = sheet(PageSize::A4, speech);
        let (scene, _) = pages::label_sheet::set(&labels, &sheet, Frame::of(PageSize::A4));
        assert_laid_out_well("long", &scene);
        let all: String = texts(&scene)
            .into_iter()
            .map(|(_, text)| text.text.as_str())
            .collect();
        assert!(all.contains(&key), "{all}");
        assert!(all.contains('…'));
        // The caution stays, whatever the key takes.
        assert!(all.replace(' ', "").contains(match speech {
            Speech::Japanese => "触れない",
            _ => "Donottouchthesteel",
        }));
    }
}

#[test]
fn a_fitting_is_not_called_sharp_and_an_empty_line_leaves_no_gap_in_the_tags() {
    let label = Label {
        sharp: false,
        line: "",
        ..label("fit-3", "Collar")
    };
    let sheet = sheet(PageSize::A4, Speech::English);
    let (scene, _) = pages::label_sheet::set(&[label], &sheet, Frame::of(PageSize::A4));
    assert!(!words(&scene).contains("Sharp"));
    let empty = scene.nodes.iter().filter(|node| node.children.is_empty());
    assert_eq!(empty.count(), 0);
}

#[test]
fn the_same_labels_give_the_same_bytes_and_no_record_is_in_them() {
    let labels = [label("b-1", "One"), label("b-2", "Two")];
    let sheet = sheet(PageSize::A4, Speech::Both);
    let made = label_sheet(&labels, &sheet).unwrap();
    assert_eq!(made.pdf, label_sheet(&labels, &sheet).unwrap().pdf);
    assert_eq!(made.pages, 1);
    let has = |word: &[u8]| made.pdf.windows(word.len()).any(|part| part == word);
    for word in [
        b"/ByteRange".as_slice(),
        b"/EmbeddedFile",
        b"/AcroForm",
        b"/AF ",
    ] {
        assert!(!has(word), "{}", String::from_utf8_lossy(word));
    }
    assert!(has(b"<pdfaid:part>3</pdfaid:part>") && has(b"<pdfuaid:part>1</pdfuaid:part>"));
    assert!(!has(b"dc:identifier"));
    let demo = LabelSheet {
        demo: true,
        ..sheet
    };
    assert!(label_sheet(&labels, &demo).unwrap().pdf != made.pdf);
}

#[test]
fn a_code_is_as_long_as_paper_can_hold_and_no_longer() {
    let most = "x".repeat(LABEL_CODE_BYTES);
    // Version 15 has 4·15 + 17 = 77 modules (ISO/IEC 18004, from memory), one byte more takes the next version.
    assert_eq!(crate::drawing::qr::modules(&most), Some(77));
    assert_eq!(crate::drawing::qr::modules(&format!("{most}x")), Some(81));
    let sheet = sheet(PageSize::A4, Speech::English);
    let with = |code| Label {
        code,
        ..label("b-1", "One")
    };
    assert!(label_sheet(&[with(&most)], &sheet).is_ok());
    let longer = format!("{most}x");
    let error = label_sheet(&[with(&longer)], &sheet).unwrap_err();
    assert_eq!(
        error.to_string(),
        "the code of the label `b-1` has 413 bytes; at most 412 bytes are allowed"
    );
    assert!(matches!(
        label_sheet(&[], &sheet).unwrap_err(),
        RenderError::NoLabels
    ));
}
