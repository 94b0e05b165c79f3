//! Sections: what stands beside them from an earlier record, and how large it is drawn.

use super::*;

/// What is shaded in the sections is the difference of the outlines, as many times as the note says.
#[test]
fn the_steel_that_went_is_drawn_between_the_outlines() {
    let now = sample::sword().record;
    let drawing = sections(&now, Some(&sword_before()), 166.0, Speech::English).unwrap();
    assert!(
        drawing
            .note
            .en
            .contains("Dark: steel that went, drawn 10 times as large as it is"),
        "{}",
        drawing.note.en
    );
    assert!(
        drawing.note.en.starts_with("Scale 1 : 1,"),
        "{}",
        drawing.note.en
    );
    let heights: Vec<f64> = paths(&drawing)
        .filter(|draw| draw.fill.is_some())
        .take(2)
        .filter_map(|draw| draw.path.bounds())
        .map(|[_, top, _, bottom]| bottom - top)
        .collect();
    // 30.4 mm wide now, 0.3 mm more before.
    assert!((heights[1] - 30.4).abs() < 1e-6, "{heights:?}");
    assert!(
        (heights[0] - (30.4 + 10.0 * 0.3)).abs() < 1e-6,
        "{heights:?}"
    );
    let alone = sections(&now, None, 166.0, Speech::English).unwrap();
    assert!(!alone.note.en.contains("Dark"), "{}", alone.note.en);
}

fn change(record: &Record, change: impl FnOnce(&mut Value)) -> Record {
    let mut value = serde_json::to_value(record).unwrap();
    change(&mut value);
    self::record(&value)
}

fn said(now: &Record, before: &Record) -> String {
    let drawing = sections(now, Some(before), 166.0, Speech::English).unwrap();
    drawing.alternative
}

/// The same number from another datum is another place.
#[test]
fn sections_from_another_datum_are_drawn_without_what_was_before() {
    let now = sample::sword().record;
    let before = change(&sword_before(), |value| {
        value["dimensions"]["datum"] = json!("shoulder");
    });
    let alone = sections(&now, None, 166.0, Speech::English).unwrap();
    let beside = sections(&now, Some(&before), 166.0, Speech::English).unwrap();
    assert_eq!(beside.draws, alone.draws);
    assert_eq!(
        (beside.alternative, beside.note),
        (alone.alternative, alone.note)
    );
    assert!(said(&now, &sword_before()).contains("lost 0.30 mm"));
}

/// Of two stations that may be the same place the nearer one is taken, whatever the order of the table.
#[test]
fn a_section_stands_beside_the_nearest_one_before() {
    let now = sample::sword().record;
    for further_first in [true, false] {
        let before = change(&sword_before(), |value| {
            let stations = value["dimensions"]["stations"].as_array_mut().unwrap();
            let mut further = stations[0].clone();
            // Zero, read to a whole millimetre: close enough to be the same place.
            further["at"] = read("0.4 mm", Dimension::Length);
            further["at"]["standard_uncertainty"] = json!("0.29");
            further["width"] = mm("39.9");
            stations.insert(usize::from(!further_first), further);
        });
        let said = said(&now, &before);
        assert!(
            said.contains("At 0 mm: 30.4 mm wide, 7.2 mm thick, lost 0.30 mm of width"),
            "{said}"
        );
    }
}

/// All measures grow on paper: none of them by more than can be told from the outline beside it.
#[test]
fn every_corner_counts_for_how_large_losses_are_drawn() {
    let now = sample::sword().record;
    let before = change(&sword_before(), |value| {
        let stations = value["dimensions"]["stations"].as_array_mut().unwrap();
        let ridge = &mut stations[0]["ridge_width"];
        let width: f64 = ridge["value"].as_str().unwrap().parse().unwrap();
        *ridge = mm(&format!("{:.1}", width + 2.0));
    });
    let drawing = sections(&now, Some(&before), 166.0, Speech::English).unwrap();
    assert!(
        drawing.note.en.contains("Dark: steel that went; last line"),
        "{}",
        drawing.note.en
    );
}
