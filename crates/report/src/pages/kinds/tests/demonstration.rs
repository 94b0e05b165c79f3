//! That a page or a label is of no real blade can be heard and seen.

use super::*;
use crate::scene::Draw;

#[test]
fn that_it_is_a_demonstration_is_read_out_first() {
    let sample = sample::sword();
    let texts_of = |group: &crate::scene::Group| -> String {
        let texts = group.draws.iter().filter_map(|draw| match draw {
            Draw::Text(text) => Some(text.text.as_str()),
            _ => None,
        });
        texts.collect()
    };
    for kind in KINDS {
        for (speech, mark) in [
            (Speech::English, "DEMONSTRATION"),
            (Speech::Japanese, "見本"),
            (Speech::Both, "DEMONSTRATION"),
        ] {
            let earlier = before(&sample);
            let input = RenderInput {
                demo: true,
                ..with_kind(&sample, &earlier, kind, speech, PageSize::A4)
            };
            let scene = scene_of(&sample.record, &input).unwrap().0;
            let first = &scene.nodes[scene.roots[0].0];
            assert_eq!(first.role, Role::Paragraph, "{kind:?}, {speech:?}");
            // Words of the other language stand in a node below it.
            let told: Vec<String> = first
                .children
                .iter()
                .filter_map(|child| match child {
                    Child::Marks(page, group) => Some((*page, *group)),
                    Child::Node(id) => match scene.nodes[id.0].children[0] {
                        Child::Marks(page, group) => Some((page, group)),
                        Child::Node(_) => None,
                    },
                })
                .map(|(page, group)| {
                    assert_eq!(page, 0);
                    texts_of(&scene.pages[page].groups[group])
                })
                .collect();
            assert!(
                told.concat().contains(mark),
                "{kind:?}, {speech:?}: {told:?}"
            );
        }
    }
}

#[test]
fn every_label_says_demonstration_and_what_cuts_in_both_languages() {
    let sample = sample::sword();
    for page in PAPERS {
        let input = RenderInput {
            demo: true,
            ..with_kind(&sample, &[], Kind::Labels, Speech::Both, page)
        };
        let scene = scene_of(&sample.record, &input).unwrap().0;
        let all: Vec<&str> = texts(&scene)
            .into_iter()
            .map(|(_, text)| text.text.as_str())
            .collect();
        let times = |word: &str| all.iter().filter(|text| text.contains(word)).count();
        // Box, tag, two bags, two shelves.
        assert_eq!(
            [times("demonstration"), times("Sharp."), times("刃物。")],
            [6, 6, 6],
            "{page:?}: {all:?}"
        );
    }
}
