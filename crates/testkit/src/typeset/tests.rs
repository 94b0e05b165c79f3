//! A page without faults, and one with each.
#![allow(clippy::unwrap_used)]
use std::collections::BTreeMap;

use tangmark_core::record::Record;
use tangmark_report::scene::{Colour, Path, PathDraw, Stroke};
use tangmark_report::{Kind, PageSize, RenderInput, Speech, scene_of};

use super::*;
use crate::sealed::Trial;

fn scene() -> Scene {
    let trial = Trial::new(3).unwrap();
    let sealed = trial.seal().unwrap();
    let record: Record = serde_json::from_slice(&sealed).unwrap();
    let input = RenderInput {
        record_bytes: &sealed,
        photos: &BTreeMap::new(),
        page: PageSize::A4,
        demo: true,
        fingerprint: "AAAAA-BBBBB-CCCCC-DDDDD",
        kind: Kind::Condition,
        speech: Speech::English,
        earlier: &[],
    };
    scene_of(&record, &input).unwrap().0
}

fn kinds(scene: &Scene) -> Vec<FaultKind> {
    let mut kinds: Vec<FaultKind> = faults(scene).iter().map(|fault| fault.kind).collect();
    kinds.sort();
    kinds.dedup();
    kinds
}

/// The draws of the last group of the first page that has words.
fn words(scene: &mut Scene) -> &mut Vec<Draw> {
    let groups = scene.pages[0].groups.iter_mut();
    let with_words = |draws: &[Draw]| draws.iter().any(|draw| matches!(draw, Draw::Text(_)));
    &mut groups
        .rev()
        .find(|group| with_words(&group.draws))
        .unwrap()
        .draws
}

fn first_text(scene: &mut Scene) -> &mut TextDraw {
    words(scene)
        .iter_mut()
        .find_map(|draw| match draw {
            Draw::Text(text) => Some(text),
            _ => None,
        })
        .unwrap()
}

#[test]
fn a_report_has_no_faults_and_each_planted_one_is_found() {
    let good = scene();
    assert_eq!(faults(&good), []);

    let mut moved = good.clone();
    let other = texts(&good, 0)[0].text.clone();
    let text = first_text(&mut moved);
    (text.x, text.y) = (other.x + 0.5, other.y + 0.5);
    assert!(kinds(&moved).contains(&FaultKind::TextOnText));

    let mut out = good.clone();
    first_text(&mut out).x = 2.0;
    assert!(kinds(&out).contains(&FaultKind::Margin));
    assert!(kinds(&out).contains(&FaultKind::Outside));

    let mut unknown = good.clone();
    first_text(&mut unknown).text = "\u{10fffd}".to_owned();
    assert!(kinds(&unknown).contains(&FaultKind::Glyph));

    let mut line = good.clone();
    words(&mut line).push(Draw::Path(PathDraw {
        path: Path::line(100.0, 100.0, 260.0, 100.0),
        fill: None,
        stroke: Some(Stroke::solid(Colour::BLACK, 0.2)),
    }));
    assert_eq!(kinds(&line), [FaultKind::Outside]);

    let figure = good
        .nodes
        .iter()
        .position(|node| node.role == Role::Figure && node.bounds.is_some());
    let figure = figure.unwrap();
    let mut unboxed = good.clone();
    unboxed.nodes[figure].bounds = None;
    assert_eq!(kinds(&unboxed), [FaultKind::NoBox]);

    let mut large = good.clone();
    large.nodes[figure].bounds = Some([20.0, 20.0, 170.0, 250.0]);
    let found = kinds(&large);
    assert!(found.contains(&FaultKind::TextOnFigure), "{found:?}");

    let mut twice = good.clone();
    let copy = twice.nodes[figure].clone();
    twice.nodes.push(copy);
    assert!(kinds(&twice).contains(&FaultKind::FigureOnFigure));
}

/// A page with two words and their readings, nothing else: draws in the order word, reading, word, reading.
fn two_words(readings: [f64; 2]) -> Scene {
    let mut scene = scene();
    let pattern = first_text(&mut scene).clone();
    scene.nodes.clear();
    scene.roots.clear();
    scene.pages.truncate(1);
    scene.pages[0].groups.clear();
    let draw = |ruby, x: f64, y: f64| {
        Draw::Text(TextDraw {
            text: "word".to_owned(),
            size: 10.0,
            x,
            y,
            ruby,
            ..pattern.clone()
        })
    };
    let paragraph = scene.add_node(Role::Paragraph, None);
    let draws = [50.0, 90.0]
        .into_iter()
        .zip(readings)
        .flat_map(|(word, reading)| {
            [
                draw(RubyPart::Base, word, 100.0),
                draw(RubyPart::Reading, reading, 98.0),
            ]
        });
    scene.put(0, Some(paragraph), draws.collect());
    scene
}

#[test]
fn a_reading_may_touch_its_word_and_nothing_else() {
    assert_eq!(faults(&two_words([50.0, 90.0])), []);
    // The reading of the first word lies on the second.
    let planted = two_words([90.0, 140.0]);
    assert_eq!(kinds(&planted), [FaultKind::TextOnText]);
    // Two readings on one word.
    let planted = two_words([50.0, 50.0]);
    assert_eq!(faults(&planted).len(), 2, "{:?}", faults(&planted));
    // The same places without words for readings.
    let mut plain = two_words([50.0, 90.0]);
    for draw in plain.pages[0]
        .groups
        .iter_mut()
        .flat_map(|group| &mut group.draws)
    {
        if let Draw::Text(text) = draw {
            text.ruby = RubyPart::None;
        }
    }
    assert_eq!(kinds(&plain), [FaultKind::TextOnText]);
}
