#![allow(clippy::unwrap_used, clippy::expect_used)]
//! Geometry against known numbers, words, and boxes for every kind of blade and for hostile numbers.

use serde_json::{Value, json};
use tangmark_core::{record::Record, units::Dimension};

mod cut_across;

use super::*;
use crate::{
    PageSize, drawings,
    sample::{self, read},
    scene::Segment,
    true_size_sheets,
};

const SPEECHES: [Speech; 3] = [Speech::English, Speech::Japanese, Speech::Both];

fn mm(text: &str) -> Value {
    read(&format!("{text} mm"), Dimension::Length)
}

fn value_of(sample: &sample::Sample) -> Value {
    serde_json::from_slice(&sample.bytes).unwrap()
}

fn record(value: &Value) -> Record {
    serde_json::from_value(value.clone()).unwrap()
}

/// The sword of the samples before some steel went: 0.3 mm wider, 0.2 mm thicker at every station.
fn sword_before() -> Record {
    let mut value = value_of(&sample::sword());
    value["sequence"] = json!(1);
    value["purpose"] = json!("intake");
    let stations = value["dimensions"]["stations"].as_array_mut().unwrap();
    for station in stations {
        for (name, more) in [("width", 0.3), ("ridge_thickness", 0.2)] {
            let now: f64 = station[name]["value"].as_str().unwrap().parse().unwrap();
            station[name] = mm(&format!("{:.1}", now + more));
        }
    }
    record(&value)
}

/// A sword on which every length is round: 700 mm long, 200 mm of tang, 20 mm of curvature at 350 mm.
fn round_sword() -> Record {
    let mut value = value_of(&sample::sword());
    let dimensions = &mut value["dimensions"];
    for (name, length) in [
        ("blade_length", "700"),
        ("tang_length", "200"),
        ("curvature", "20"),
        ("curvature_at", "350"),
    ] {
        dimensions[name] = mm(length);
    }
    record(&value)
}

fn paths(drawing: &Drawing) -> impl Iterator<Item = &PathDraw> {
    drawing.draws.iter().filter_map(|draw| match draw {
        Draw::Path(path) => Some(path),
        _ => None,
    })
}

/// Straight lines with two ends.
fn lines(drawing: &Drawing) -> Vec<([f64; 2], [f64; 2], &Stroke)> {
    paths(drawing)
        .filter_map(|draw| match (draw.path.segments.as_slice(), &draw.stroke) {
            ([Segment::Move(from), Segment::Line(to)], Some(stroke)) => Some((*from, *to, stroke)),
            _ => None,
        })
        .collect()
}

fn texts(drawing: &Drawing) -> Vec<&str> {
    drawing
        .draws
        .iter()
        .filter_map(|draw| match draw {
            Draw::Text(text) => Some(text.text.as_str()),
            _ => None,
        })
        .collect()
}

fn near(found: f64, wanted: f64) -> bool {
    (found - wanted).abs() < 1e-6
}

/// Every drawing of a record, with its name.
fn all(record: &Record, earlier: &[Record], width: f64, speech: Speech) -> Vec<(String, Drawing)> {
    let before = earlier.first();
    let single = [
        ("faces", faces(record, width, speech)),
        ("back and edge", back_and_edge(record, width, speech)),
        ("sections", sections(record, before, width, speech)),
        ("curvature", curvature(record, width, speech)),
        ("tang", tang(record, width, speech)),
        (
            "loss",
            before.and_then(|before| loss_strip(record, before, width, speech)),
        ),
        ("passes", pass_history(record, earlier, width, speech)),
        ("trade-off", trade_off(record, width, speech)),
        (
            "custody",
            custody(&record.blade, &record.custody, width, speech),
        ),
    ];
    let mut drawn: Vec<(String, Drawing)> = single
        .into_iter()
        .filter_map(|(name, drawing)| Some((name.to_owned(), drawing?)))
        .collect();
    for page in [PageSize::A4, PageSize::Letter] {
        let sheets = true_size(record, page, speech);
        drawn.extend(
            sheets
                .into_iter()
                .enumerate()
                .map(|(index, sheet)| (format!("true size {page:?} {index}"), sheet)),
        );
    }
    drawn
}

/// Nothing lies outside of the box; of drawings made from numbers [`Drawing::of`] sees to that.
fn check_box(name: &str, drawing: &Drawing) {
    for draw in &drawing.draws {
        let Some([left, top, right, bottom]) = extent(draw) else {
            continue;
        };
        assert!(
            left >= -SLACK
                && top >= -SLACK
                && right <= drawing.width + SLACK
                && bottom <= drawing.height + SLACK,
            "{name}: {draw:?} leaves {} × {}",
            drawing.width,
            drawing.height
        );
    }
}

/// Nothing is without words, and no number is none.
fn check(name: &str, drawing: &Drawing) {
    assert!(
        !drawing.draws.is_empty() && !drawing.alternative.is_empty(),
        "{name}"
    );
    for words in [&drawing.title.en, &drawing.title.ja] {
        assert!(!words.is_empty(), "{name}");
    }
    for words in [
        &drawing.alternative,
        &drawing.note.en.to_string(),
        &drawing.note.ja.to_string(),
    ] {
        assert!(
            !words.contains("NaN") && !words.contains("inf "),
            "{name}: {words}"
        );
    }
}

/// Which drawings a record has: those of all kinds named, and so many sheets in true size.
fn drawn_names(singles: &[&str], sheets: [usize; 2]) -> Vec<String> {
    let sheets = ["A4", "Letter"].into_iter().zip(sheets);
    let sheets = sheets
        .flat_map(|(page, count)| (0..count).map(move |index| format!("true size {page} {index}")));
    let singles = singles.iter().map(|name| (*name).to_owned());
    singles.chain(sheets).collect()
}

#[test]
fn every_kind_of_blade_is_drawn_within_its_box() {
    let before = [sword_before()];
    let singles = [
        "faces",
        "back and edge",
        "sections",
        "curvature",
        "tang",
        "loss",
        "passes",
        "custody",
    ];
    let alone: Vec<&str> = singles.into_iter().filter(|name| *name != "loss").collect();
    for speech in SPEECHES {
        let widths: &[f64] = match speech {
            Speech::Both => &[120.0, 166.0, 400.0],
            _ => &[166.0],
        };
        for width in widths.iter().copied() {
            let look = |record: &Record, earlier: &[Record], names: &[String]| {
                let drawn = all(record, earlier, width, speech);
                let found: Vec<&str> = drawn.iter().map(|(name, _)| name.as_str()).collect();
                assert_eq!(found, names, "{width} mm, {speech:?}");
                for (name, drawing) in &drawn {
                    check(name, drawing);
                    let alone = drawing.alone(speech);
                    check(name, &alone);
                    check_box(name, &alone);
                }
            };
            look(
                &sample::sword().record,
                &before,
                &drawn_names(&singles, [4, 4]),
            );
            let spear = sample::spear().record;
            look(&spear, &[], &drawn_names(&["faces"], [1, 1]));
            let many = sample::many_flaws(60).record;
            look(&many, &[], &drawn_names(&alone, [4, 4]));
        }
    }
}

/// What the demo sheets and sealed samples say.
#[test]
fn a_record_without_numbers_is_drawn_as_far_as_it_goes() {
    let bare = record(&sample::bare());
    let drawn = all(&bare, &[], 166.0, Speech::English);
    let names: Vec<&str> = drawn.iter().map(|(name, _)| name.as_str()).collect();
    assert!(
        !names.contains(&"sections") && !names.contains(&"curvature") && !names.contains(&"loss")
    );
    let faces = &drawn.iter().find(|(name, _)| name == "faces").unwrap().1;
    assert!(
        faces.note.en.contains("Dashed lines were not measured and are drawn from typical proportions: blade length, width,"),
        "{}",
        faces.note.en
    );
}

/// Numbers that make no blade are left out or make no drawing; no mark leaves its box, and nothing panics.
#[test]
fn hostile_numbers_stay_in_the_box() {
    let lengths = ["0", "-0.1", "1", "2500", "123456789"];
    let fields = [
        "blade_length",
        "curvature",
        "curvature_at",
        "width_at_base",
        "width_at_point",
        "thickness_at_base",
        "back_thickness_at_base",
        "thickness_at_point",
        "point_length",
        "edge_notch_depth",
        "back_notch_depth",
        "tang_length",
    ];
    let before = [sword_before()];
    let base = value_of(&sample::sword());
    let mut drawn = 0;
    let mut look = |what: &str, value: &Value| {
        for (name, drawing) in all(&record(value), &before, 166.0, Speech::English) {
            check(&format!("{what}, {name}"), &drawing);
            drawn += 1;
        }
    };
    for field in fields {
        for length in lengths {
            let mut value = base.clone();
            value["dimensions"][field] = mm(length);
            look(&format!("{field} {length}"), &value);
        }
        let mut value = base.clone();
        value["dimensions"].as_object_mut().unwrap().remove(field);
        look(&format!("no {field}"), &value);
    }
    for length in lengths {
        let mut value = base.clone();
        for name in [
            "at",
            "width",
            "ridge_thickness",
            "back_thickness",
            "ridge_width",
        ] {
            value["dimensions"]["stations"][3][name] = mm(length);
        }
        value["tang"]["holes"][0]["at"] = mm(length);
        value["tang"]["holes"][1]["diameter"] = mm(length);
        value["flaws"][2]["at"] = mm(length);
        value["flaws"][2]["length"] = mm(length);
        value["temper_line"]["widths"][2]["at"] = mm(length);
        value["temper_line"]["widths"][3]["width"] = mm(length);
        value["temper_line"]["run_outs"] = json!([{ "from": mm(length), "to": mm("100") }]);
        value["dimensions"]["grooves"][0]["from"] = mm(length);
        value["dimensions"]["grooves"][0]["width"] = mm(length);
        value["dimensions"]["back_line"] = json!([
            { "at": mm("0"), "height": mm("0") },
            { "at": mm("300"), "height": mm(length) },
            { "at": mm("703.5"), "height": mm("0") }
        ]);
        look(&format!("many {length}"), &value);
        value["dimensions"]["outline"] = json!([
            { "along": mm("-100"), "across": mm("3") },
            { "along": mm(length), "across": mm(length) },
            { "along": mm("700"), "across": mm("-20") }
        ]);
        look(&format!("outline {length}"), &value);
    }
    let mut value = base.clone();
    value["dimensions"]["back_line"] = json!([
        { "at": mm("600"), "height": mm("1") },
        { "at": mm("300"), "height": mm("12") },
        { "at": mm("100"), "height": mm("2") }
    ]);
    look("a back line that falls", &value);
    let long = "長".repeat(300);
    let mut value = base.clone();
    value["tang"]["inscriptions"][0]["reading"] = json!(long);
    value["blade"]["title"] = json!("W".repeat(200));
    look("long words", &value);
    // The check is worth nothing when everything was refused.
    assert!(drawn > 500, "{drawn}");
}

/// A flaw at the very end of the tang, or at the tip, is drawn whole.
#[test]
fn signs_at_the_ends_of_the_blade_are_drawn() {
    let mut value = value_of(&sample::sword());
    for (flaw, [at, zone, standing]) in [
        ["-198", "tang", "ruled_out"],
        ["703.5", "point", "ruled_out"],
    ]
    .into_iter()
    .enumerate()
    {
        value["flaws"][flaw]["at"] = mm(at);
        value["flaws"][flaw]["zone"] = json!(zone);
        value["flaws"][flaw]["standing"] = json!(standing);
    }
    let record = record(&value);
    // At this width the blade reaches from one side to the other.
    for width in [166.0, (703.5 + 198.0) / 6.0] {
        assert!(faces(&record, width, Speech::English).is_some(), "{width}");
    }
    assert_eq!(true_size(&record, PageSize::A4, Speech::English).len(), 4);
}

/// A blade of 700 mm at 1 : 6 is 116.67 mm on paper, a tang of 200 mm 33.33 mm; at 1 : 4 a blade is 175 mm.
#[test]
fn lengths_on_paper_are_lengths_over_the_scale() {
    let sword = round_sword();
    for (width, scale) in [(166.0, 6.0), (225.0, 4.0)] {
        let drawing = faces(&sword, width, Speech::English).unwrap();
        assert!(texts(&drawing).contains(&format!("scale 1 : {scale}").as_str()));
        // The ruler runs from the datum to the tip.
        let ruler = lines(&drawing)
            .into_iter()
            .find(|(from, to, _)| near(from[1], to[1]) && near(to[0] - from[0], 700.0 / scale));
        let (from, _, _) = ruler.unwrap_or_else(|| panic!("no ruler of {}", 700.0 / scale));
        assert!(near(from[0], 200.0 / scale));
    }
}

/// The sagitta drawn is the sori at the scale of heights, its foot at its place on the chord.
#[test]
fn the_sagitta_is_the_sori() {
    let drawing = curvature(&round_sword(), 166.0, Speech::English).unwrap();
    let (scale, times) = (5.0, 4.0);
    assert!(
        drawing
            .note
            .en
            .starts_with("Scale 1 : 5 along the chord; heights drawn 4 times as large as that."),
        "{}",
        drawing.note.en
    );
    let all = lines(&drawing);
    let chord = all
        .iter()
        .find(|(from, to, _)| near(from[1], to[1]) && near(to[0] - from[0], 700.0 / scale));
    let (datum, _, _) = chord.unwrap();
    let sagitta = all.iter().find(|(from, to, stroke)| {
        near(from[0], to[0]) && stroke.colour == style::INDIGO && stroke.dash.is_empty()
    });
    let (foot, apex, _) = sagitta.unwrap();
    assert!(
        near(foot[1] - apex[1], 20.0 * times / scale),
        "{foot:?} {apex:?}"
    );
    assert!(near(foot[0] - datum[0], 350.0 / scale));
    // Plane geometry: (700²/4 + 20²)/(2·20) = 3072.5 mm.
    assert!(
        drawing.alternative.contains("radius of 307"),
        "{}",
        drawing.alternative
    );
    // A hollow back bends the other way.
    let mut value = value_of(&sample::sword());
    value["dimensions"]["curvature"] = mm("-3");
    let inward = curvature(&record(&value), 166.0, Speech::English).unwrap();
    let all = lines(&inward);
    let (foot, apex, _) = all
        .iter()
        .find(|(from, to, stroke)| near(from[0], to[0]) && stroke.colour == style::INDIGO)
        .unwrap();
    assert!(apex[1] > foot[1]);
    assert!(
        inward.alternative.contains(", inward"),
        "{}",
        inward.alternative
    );
}

#[test]
fn holes_stand_at_their_places_in_their_size() {
    let record = sample::sword().record;
    let drawing = tang(&record, 166.0, Speech::English).unwrap();
    let scale = 1.5;
    assert!(texts(&drawing).contains(&"scale 1 : 1.5"));
    let circles: Vec<[f64; 4]> = paths(&drawing)
        .filter(|draw| draw.stroke.is_some())
        .filter_map(|draw| draw.path.bounds())
        .collect();
    for (at, diameter) in [(62.0, 7.5), (118.0, 6.8)] {
        let middle = (198.0 - at) / scale;
        let found = circles.iter().filter(|[left, top, right, bottom]| {
            ((left + right) / 2.0 - middle).abs() < 0.01
                && (right - left - diameter / scale).abs() < 0.01
                && (bottom - top - diameter / scale).abs() < 0.01
        });
        assert_eq!(found.count(), 2, "on both faces, {at} mm");
    }
    let plugged = "Ø 6.80 mm at 118.0 mm, plugged";
    assert!(
        drawing.alternative.contains(plugged),
        "{}",
        drawing.alternative
    );
    assert!(
        texts(&drawing)
            .iter()
            .any(|text| text.starts_with("Ø 6.80 mm at 118.0"))
    );
}

/// A loss is marked only where it is more than twice its standard uncertainty.
#[test]
fn a_loss_is_marked_when_it_can_be_told() {
    let now = sample::sword().record;
    let told = loss_strip(&now, &sword_before(), 166.0, Speech::English).unwrap();
    let said = told.alternative.replace('\u{a0}', " ");
    // Readings of one tenth: each is known to 0.029 mm. The width goes down by 1.1 mm to the next station, 90 mm on, so 1 mm
    // of doubt of the place is 0.0122 mm each time: U = 2·√(2·(0.0289² + 0.0122²)) = 0.089 mm. The back goes down by 0.2 mm,
    // 0.0022 mm each time: 0.082 mm.
    assert!(
        said.contains("0.300 ± 0.089 mm at 0 mm (gone)")
            && said.contains("0.000 ± 0.082 mm at 0 mm (cannot be told)"),
        "{said}"
    );
    // The other way round there is more steel than before, and no mark.
    let grown = loss_strip(&sword_before(), &now, 166.0, Speech::English).unwrap();
    assert!(
        grown.alternative.contains("(more than before)") && !grown.alternative.contains("(gone)")
    );
    let black = |drawing: &Drawing| {
        paths(drawing)
            .filter(|draw| draw.fill == Some(style::INK))
            .count()
    };
    // One mark stands in the key.
    assert_eq!((black(&told), black(&grown)), (17, 1));
    let mut other = value_of(&sample::sword());
    other["dimensions"]["datum"] = json!("shoulder");
    assert!(loss_strip(&record(&other), &sword_before(), 166.0, Speech::English).is_none());
}

/// Sheets in true size add up to the whole length, meet at the same places, and bear a bar of 100 mm.
#[test]
fn sheets_in_true_size_add_up() {
    let sword = round_sword();
    for (page, [wide, high]) in [
        (PageSize::A4, [297.0, 210.0]),
        (PageSize::Letter, [279.4, 215.9]),
    ] {
        let cut = super::true_size::Cut::of(900.0, wide - 24.0).unwrap();
        let count = cut.count as f64;
        assert!(near(cut.shown * count - 15.0 * (count - 1.0), 900.0));
        assert!(near(cut.start(cut.count - 1) + cut.shown, 900.0) && cut.shown <= wide - 24.0);
        let sheets = true_size(&sword, page, Speech::English);
        assert_eq!(sheets.len(), cut.count);
        let mut joints: Vec<(String, f64)> = Vec::new();
        for (index, sheet) in sheets.iter().enumerate() {
            assert!(near(sheet.width, wide) && near(sheet.height, high));
            let bar = lines(sheet)
                .into_iter()
                .find(|(from, to, _)| near(from[1], to[1]) && near(to[0] - from[0], 100.0));
            assert!(bar.is_some(), "no control bar on sheet {index}");
            let words = texts(sheet).join(" ");
            assert!(
                words.contains(&format!("sheet {} of {}", index + 1, cut.count)),
                "{words}"
            );
            // The place on the blade of each dashed joint line.
            let left = (wide - cut.shown) / 2.0;
            for (from, to, stroke) in lines(sheet) {
                if near(from[0], to[0]) && !stroke.dash.is_empty() && to[1] - from[1] > 50.0 {
                    joints.push((format!("{index}"), from[0] - left + cut.start(index)));
                }
            }
        }
        // Each joint stands on two sheets, at the same place of the blade.
        assert_eq!(joints.len(), 2 * (cut.count - 1));
        let mut places: Vec<f64> = joints.iter().map(|joint| joint.1).collect();
        places.sort_by(f64::total_cmp);
        for pair in places.chunks(2) {
            assert!(near(pair[0], pair[1]), "{places:?}");
        }
    }
    // A blade of twelve metres is a slip of the pen.
    let mut value = value_of(&sample::sword());
    value["dimensions"]["blade_length"] = mm("12000");
    assert!(true_size(&record(&value), PageSize::A4, Speech::English).is_empty());
}

/// The signs in use end before the advice beside them begins, and stay above the margin.
#[test]
fn signs_below_the_sheets_leave_room_for_the_advice() {
    let many = sample::many_flaws(60).record;
    for speech in SPEECHES {
        for page in [PageSize::A4, PageSize::Letter] {
            let sheets = true_size(&many, page, speech);
            let sheet = sheets.first().unwrap();
            let [advice, bottom] = [12.0 + 160.0, sheet.height - 14.0];
            let words: Vec<[f64; 4]> = sheet
                .draws
                .iter()
                .filter(|draw| matches!(draw, Draw::Text(_)))
                .filter_map(extent)
                .collect();
            // Below the words of the control bar, left of the advice.
            let bar = sheet.height - 14.0 - super::true_size::FOOT + 9.0;
            let key: Vec<&[f64; 4]> = words
                .iter()
                .filter(|[left, top, ..]| *top > bar && *left < advice)
                .collect();
            assert!(key.len() >= 11, "{}", key.len());
            for [_, _, right, low] in key {
                assert!(
                    *right <= advice && *low <= bottom,
                    "{speech:?} {page:?}: {right} {low}"
                );
            }
        }
    }
}

/// Passes of earlier records come first, each once.
#[test]
fn passes_are_joined_over_the_records() {
    let gram = |text: &str| read(&format!("{text} g"), Dimension::Mass);
    let pass = |id: &str, before: &str, after: &str, thick: &str| {
        json!({
            "id": id, "on": "2026-03-03", "operation": "polish", "zones": ["ground"],
            "before": { "mass": gram(before) },
            "after": { "mass": gram(after), "stations": [{ "at": mm("200"), "ridge_thickness": mm(thick) }] }
        })
    };
    let mut first = value_of(&sample::sword());
    first["passes"] = json!([pass("p-1", "748.3", "746.1", "6.5")]);
    let mut second = first.clone();
    second["passes"] = json!([
        pass("p-1", "748.3", "746.1", "6.5"),
        pass("p-2", "746.1", "742.6", "6.4")
    ]);
    let (first, second) = (record(&first), record(&second));
    let drawing = pass_history(
        &second,
        std::slice::from_ref(&first),
        166.0,
        Speech::English,
    )
    .unwrap();
    for said in [
        "2 passes. 1: polish 研ぎ, 2026-03-03. 2: polish 研ぎ, 2026-03-03.",
        "mass, g over pass, 3 points. First: 748.3 at 0",
        "Last: 742.6 at 2",
        "thickness at the ridge, 200 mm from the back notch, mm over pass, 2 points. First: 6.5 at 1",
    ] {
        assert!(
            drawing.alternative.contains(said),
            "{}",
            drawing.alternative
        );
    }
    // Of one weighing nothing can be drawn.
    let mut single = value_of(&sample::sword());
    single["passes"][0]["before"] = Value::Null;
    single["passes"][0]
        .as_object_mut()
        .unwrap()
        .remove("before");
    assert!(pass_history(&record(&single), &[], 166.0, Speech::English).is_none());
}

/// What the drawings say to a reader who cannot see them.
#[test]
fn drawings_say_what_they_show() {
    let before = [sword_before()];
    let mut told = String::new();
    for speech in [Speech::English, Speech::Japanese] {
        for file in drawings(&sample::sword().record, &before, 166.0, speech) {
            told += &[file.name, file.title, file.alternative, String::new()].join("\n");
        }
        let sheets = true_size_sheets(&sample::sword().record, PageSize::A4, speech);
        told += &sheets[1].alternative;
        told.push('\n');
    }
    insta::assert_snapshot!(told);
}

/// In each speech its own words, in both the words of both.
#[test]
fn drawings_speak_the_language_asked_for() {
    let record = sample::spear().record;
    let words = |speech| texts(&faces(&record, 166.0, speech).unwrap()).join(" ");
    let [english, japanese, both] = SPEECHES.map(words);
    assert!(
        english.contains("mm from the shoulder") && !english.contains("肩"),
        "{english}"
    );
    assert!(
        japanese.contains("肩からの距離") && !japanese.contains("shoulder"),
        "{japanese}"
    );
    assert!(both.contains("shoulder") && both.contains("肩"), "{both}");
}

/// The same record gives the same bytes.
#[test]
fn drawings_are_the_same_each_time() {
    let record = sample::many_flaws(60).record;
    let once = drawings(&record, &[sword_before()], 166.0, Speech::Both);
    assert!(once.len() >= 7);
    assert_eq!(
        once,
        drawings(&record, &[sword_before()], 166.0, Speech::Both)
    );
}
