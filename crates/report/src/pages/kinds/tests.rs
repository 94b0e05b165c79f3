#![allow(clippy::unwrap_used, clippy::expect_used)]
mod demonstration;
mod stops;

use std::collections::BTreeMap;

use serde_json::{Value, json};
use tangmark_core::{Digest, record::Record, units::Dimension};

use crate::{
    Kind, PageSize, RenderInput, Speech,
    pages::tests::{assert_laid_out_well, texts, words},
    render,
    sample::{self, Sample, read},
    scene::{Child, Role, Scene},
    scene_of,
};

const KINDS: [Kind; 9] = [
    Kind::Condition,
    Kind::Comparison,
    Kind::Buyer,
    Kind::Referral,
    Kind::Identification,
    Kind::Labels,
    Kind::Care,
    Kind::Customs,
    Kind::Receipt,
];
const SPEECHES: [Speech; 3] = [Speech::English, Speech::Japanese, Speech::Both];
const PAPERS: [PageSize; 2] = [PageSize::A4, PageSize::Letter];

/// A record of the same blade, before the one that is shown.
fn before(sample: &Sample) -> Vec<Record> {
    let mut value: Value = serde_json::from_slice(&sample.bytes).unwrap();
    value["sequence"] = 1.into();
    value["purpose"] = "before_work".into();
    // Its pass came after it.
    value["passes"] = json!([]);
    value["worked_under_hold"] = json!([]);
    if value["dimensions"].is_object() {
        value["dimensions"]["mass"] = read("731.00 g", Dimension::Mass);
        value["dimensions"]["mass_state"] = "bare".into();
        value["dimensions"]["overall_length"] = read("905 mm", Dimension::Length);
    } else {
        value["examination"] = json!({
            "by": { "role": "polisher", "name": "A. Tessen" }, "on": "2026-01-02", "light": "daylight", "reason": "before_work",
            "methods": ["naked_eye"], "instruments": [], "examined": ["edge"], "not_examined": [], "surface": "rusted", "completeness": "complete"
        });
    }
    value["flaws"] = json!([{ "id": "gone-1", "kind": "sabi_active", "zone": "back", "faces": ["omote"], "at": read("520 mm", Dimension::Length), "length": read("80 mm", Dimension::Length), "progress": "active", "standing": "confirmed" }]);
    vec![serde_json::from_value(value).unwrap()]
}

fn with_kind<'a>(
    sample: &'a Sample,
    earlier: &'a [Record],
    kind: Kind,
    speech: Speech,
    page: PageSize,
) -> RenderInput<'a> {
    RenderInput {
        page,
        kind,
        speech,
        earlier,
        ..sample.input()
    }
}

fn scene(sample: &Sample, kind: Kind, speech: Speech) -> Scene {
    let earlier = before(sample);
    let input = with_kind(sample, &earlier, kind, speech, PageSize::A4);
    scene_of(&sample.record, &input).unwrap().0
}

/// Every kind of a sample in every language on every paper.
fn each(name: &str, sample: &Sample, mut look: impl FnMut(&str, Kind, Speech, &Scene)) {
    let earlier = before(sample);
    for kind in KINDS {
        for speech in SPEECHES {
            for page in PAPERS {
                let input = with_kind(sample, &earlier, kind, speech, page);
                let scene = scene_of(&sample.record, &input).unwrap().0;
                let name = format!("{name}, {kind:?}, {speech:?}, {page:?}");
                look(&name, kind, speech, &scene);
            }
        }
    }
}

/// Most pages of a kind for the samples here.
fn most_pages(kind: Kind, speech: Speech) -> usize {
    let both = speech == Speech::Both;
    match kind {
        Kind::Condition => 12 + 3 * usize::from(both),
        Kind::Comparison => 6 + 2 * usize::from(both),
        Kind::Buyer => 6 + usize::from(both),
        Kind::Referral => 8 + 2 * usize::from(both),
        Kind::Identification => 1 + usize::from(both),
        Kind::Labels => 1,
        Kind::Care => 2,
        Kind::Receipt => 2 + usize::from(both),
        Kind::Customs => 3,
    }
}

#[test]
fn every_kind_speaks_every_language_on_every_paper() {
    for name in ["sword", "spear", "bare"] {
        let sample = sample::named(name).unwrap();
        each(name, &sample, |name, kind, speech, scene| {
            assert_laid_out_well(name, scene);
            let (pages, most) = (scene.pages.len(), most_pages(kind, speech));
            assert!(pages <= most, "{name}: {pages} pages, at most {most}");
            assert!(scene.signature.is_some(), "{name}: no place to sign");
        });
    }
}

#[test]
fn every_page_names_record_page_and_key() {
    let sample = sample::sword();
    let name = super::super::words::digest(&Digest::of(&sample.bytes));
    each("sword", &sample, |case, _, _, scene| {
        for page in 0..scene.pages.len() {
            let on_page: String = texts(scene)
                .into_iter()
                .filter(|(index, _)| *index == page)
                .map(|(_, text)| text.text.as_str())
                .collect();
            for part in [name.as_str(), sample::FINGERPRINT] {
                assert!(on_page.contains(part), "{case}, page {page}: {part}");
            }
        }
    });
}

#[test]
fn no_heading_is_left_at_the_foot_of_a_page() {
    for name in ["sword", "many", "spear", "bare"] {
        let sample = sample::named(name).unwrap();
        each(name, &sample, |case, _, _, scene| {
            headings_lead(case, scene);
        });
    }
}

/// Each heading has other words below it on its page.
fn headings_lead(case: &str, scene: &Scene) {
    // The page on which a node begins.
    fn page_of(scene: &Scene, node: &crate::scene::Node) -> Option<usize> {
        node.children.iter().find_map(|child| match child {
            Child::Marks(page, _) => Some(*page),
            Child::Node(id) => page_of(scene, &scene.nodes[id.0]),
        })
    }
    for (index, node) in scene.nodes.iter().enumerate() {
        if !matches!(node.role, Role::Heading2 | Role::Heading3) {
            continue;
        }
        let page = page_of(scene, node).unwrap();
        let next = scene.nodes[index + 1..]
            .iter()
            .filter(|next| !matches!(next.role, Role::Heading2 | Role::Heading3 | Role::Span))
            .find_map(|next| page_of(scene, next));
        assert_eq!(next, Some(page), "{case}: heading node {index}");
    }
}

#[test]
fn the_last_page_is_not_nearly_empty() {
    for name in ["sword", "spear", "bare"] {
        let sample = sample::named(name).unwrap();
        each(name, &sample, |case, kind, _, scene| {
            if scene.pages.len() == 1 || kind == Kind::Condition {
                return;
            }
            let last = scene.pages.len() - 1;
            let blocks = texts(scene)
                .iter()
                .filter(|(page, text)| *page == last && text.y > 20.0 && text.y < 255.0)
                .count();
            assert!(blocks >= 6, "{case}: {blocks} texts on the last page");
        });
    }
}

#[test]
fn each_kind_says_what_it_is_for() {
    let sample = sample::sword();
    let says: [(Kind, &[&str], &[&str]); 9] = [
        (
            Kind::Condition,
            &[
                "CONDITION RECORD 2 · STATE BEFORE WORK",
                "What the checks ask for",
                "Annex",
                "By its length the blade is a long sword.",
                "1 asks to stop, 1 asks for caution and 1 informs.",
            ],
            &[
                "状態記録 2",
                "検査が求めること",
                "付録",
                "停止を求めるもの 1 件",
            ],
        ),
        (
            Kind::Comparison,
            &[
                "BEFORE AND AFTER · RECORD 2",
                "measures changed by more than the measurement can tell",
                "Flaw by flaw",
                "no longer recorded; its place was looked at again",
                "newly made",
                "Steel account",
                "not measured again : overall length",
            ],
            &[
                "作業前後の比較",
                "減少",
                "新たに生じた",
                "鋼の収支",
                "再計測せず",
            ],
        ),
        (
            Kind::Buyer,
            &[
                "What it is said to be, and by whom",
                "opinion of",
                "1 of 1 passes were weighed before and after; together they took 0.15",
                "withheld or not stated",
                "the agreement: price ceiling, insured value",
                "Never clean its patina.",
                "tangmark verify FILE.pdf",
            ],
            &[
                "見解とその見解者",
                "非開示または記載なし",
                "茎の錆は決して落とさない",
            ],
        ),
        (
            Kind::Referral,
            &[
                "Receipt for the custody",
                "Given by",
                "Received by",
                "Condition on handing over",
                "What was not done",
                "stains cover the point",
                "Ask the authority before the blade moves",
                "Why it may be important",
                "a paper of an earlier century lies with the scabbard",
                "What was seen, and how",
                "depth gauge",
                "Who held it",
                "With a key of your own",
                "packing-and-receipt.txt",
            ],
            &["預り証", "渡す者", "受ける者", "行わなかったこと"],
        ),
        (
            Kind::Identification,
            &[
                "type of object",
                "materials and techniques",
                "measurements",
                "inscriptions and markings",
                "distinguishing features",
                "title",
                "subject",
                "date or period",
                "maker",
                "Groove on one face",
                "703.50 ± 0.06 mm",
                "report it to the police at once",
            ],
            &[
                "警察、保険、税関",
                "銘文・刻印",
                "特徴",
                "直ちに本票と写真を添えて警察に",
            ],
        ),
        (
            Kind::Labels,
            &[
                "Sharp. Do not touch the steel.",
                "oiled on",
                "b-0117",
                sample::FINGERPRINT,
            ],
            &["刃物。刀身に触れない。", "油引き"],
        ),
        (
            Kind::Care,
            &[
                "Never clean, brush, oil thickly or etch it.",
                "No polishing compound",
                "even dark brown, finer towards the end",
                "common practice, no source",
                "a licensed polisher decide",
                "Rust that goes on is recorded on this blade.",
            ],
            &[
                "茎の錆は時代と手を語り",
                "研磨剤、紙やすり",
                "進行中の錆が記録",
                "登録証は刀身に付く",
            ],
        ),
        (
            Kind::Customs,
            &[
                "CUSTOMS LIST · RECORD 2",
                "It states what the record says and clears nothing",
                "The record does not say why it travels.",
                "steel, with an edge",
                "may be protected: ask the authority",
                "list of 2025-02",
                "not looked up",
                "loupe, nodes under the lacquer",
                "opinion of",
                "no. withheld or not stated",
                "Not shown in this copy.",
                "a blade is declared as a blade",
                "the authorities and licensed carriers decide",
            ],
            &[
                "税関用の内容品目録",
                "何らの許可も与えない",
                "規制対象の可能性あり",
                "番号は非開示または記載なし",
                "ありのままの申告",
            ],
        ),
        (
            Kind::Receipt,
            &[
                "RECEIPT FOR WHAT CHANGES HANDS · RECORD 2",
                "this is a form, to be filled in by hand",
                "Stop: A crack through the hardened edge is suspected",
                "Worked under hold",
                "Given by",
                "Received by",
                "Handed over",
                "one-piece collar with slanting file marks",
                "receipt, Workshop at the Weir, 2026-03-01, no. 26-031",
                "price, where both want it on this paper",
                "8 flaws are recorded in it",
                "clears nothing that the law asks for",
            ],
            &[
                "受渡しの受領証",
                "渡す者",
                "受ける者",
                "疵 8 箇所",
                "法令の求めるものを免じない",
            ],
        ),
    ];
    let without_spaces = |text: &str| text.replace([' ', '\u{a0}'], "");
    for (kind, english, japanese) in says {
        for (speech, parts) in [
            (Speech::English, vec![english]),
            (Speech::Japanese, vec![japanese]),
        ] {
            let all = without_spaces(&words(&scene(&sample, kind, speech)));
            for part in parts.into_iter().flatten() {
                assert!(
                    all.contains(&without_spaces(part)),
                    "{kind:?}, {speech:?}: `{part}` in {all}"
                );
            }
        }
    }
}

/// The sword, sold: with all that may be withheld shown.
fn sold() -> Sample {
    let base = sample::sword();
    let mut value: Value = serde_json::from_slice(&base.bytes).unwrap();
    value["purpose"] = "transfer".into();
    value["findings"] = json!([]);
    value["worked_under_hold"] = json!([]);
    value["overrides"] = json!([]);
    value["custody"].as_array_mut().unwrap().push(json!({
        "kind": "sold", "maps_to": ["crm:E8_Acquisition"], "when": { "earliest": "2026-05-04", "latest": "2026-05-04" },
        "from": { "role": "owner", "name": "L. Marrow", "address": "4 Quay Lane, Port Example" },
        "to": { "role": "buyer", "name": "Ines Calder" },
        "price": { "amount": "1200", "currency": "EUR" }
    }));
    value["valuation"] = json!({ "value": { "amount": "1500", "currency": "EUR" }, "basis": "insurance", "on": "2026-05-01", "valuer": "A. Valuer", "interest": "none" });
    value["blade"]["registrations"] = json!([
        { "kind": "registration_card", "authority": "prefectural board (invented)", "number": "Demo 40312" },
        { "kind": "other_designation", "authority": "a ministry (invented)" }
    ]);
    Sample {
        photos: base.photos,
        ..Sample::of(&value)
    }
}

#[test]
fn what_is_shown_stands_in_receipt_and_customs_list() {
    let sample = sold();
    each("sold", &sample, |case, _, _, scene| {
        assert_laid_out_well(case, scene);
    });
    let say = |kind, speech| words(&scene(&sample, kind, speech)).replace('\u{a0}', " ");
    let receipt = say(Kind::Receipt, Speech::English);
    for part in [
        "2026-05-04",
        "L. Marrow",
        "4 Quay Lane, Port Example",
        "Ines Calder",
        "1200 EUR",
        "ordinary registration card, prefectural board (invented), Demo 40312",
    ] {
        assert!(receipt.contains(part), "{part}: {receipt}");
    }
    assert!(
        !receipt.contains("where both want it on this paper"),
        "{receipt}"
    );
    // A valuation is no matter of the two who sign.
    assert!(!receipt.contains("1500"), "{receipt}");
    let customs = say(Kind::Customs, Speech::English);
    for part in [
        "Why it travels sale",
        "Ines Calder",
        "price of this change of hands 1200 EUR",
        "1500 EUR ; agreed for insurance, 2026-05-01, A. Valuer",
        "Ask the authority that made it before the blade moves.",
    ] {
        let plain = |text: &str| text.replace(' ', "");
        assert!(plain(&customs).contains(&plain(part)), "{part}: {customs}");
    }
    for hidden in ["Tick what is so", "Not shown in this copy"] {
        assert!(!customs.contains(hidden), "{hidden}: {customs}");
    }
    let japanese = say(Kind::Customs, Speech::Japanese);
    assert!(
        japanese.contains("文化財法令による指定の記載がある"),
        "{japanese}"
    );
}

#[test]
fn papers_promise_nothing_that_the_authorities_decide() {
    for sample in [sample::sword(), sold()] {
        for kind in [
            Kind::Customs,
            Kind::Receipt,
            Kind::Identification,
            Kind::Referral,
        ] {
            let all = words(&scene(&sample, kind, Speech::English)).to_lowercase();
            for word in [
                "authentic",
                "genuine",
                "safe to",
                "is legal",
                "is allowed",
                "may be exported",
            ] {
                assert!(!all.contains(word), "{kind:?}: {word}");
            }
        }
    }
}

/// Source: the nine categories of the Object ID checklist (ICOM, archives.icom.museum/object-id).
#[test]
fn every_category_of_object_id_is_filled_or_said_to_be_missing() {
    let names = [
        ("type of object", "種別"),
        ("materials and techniques", "材質・技法"),
        ("measurements", "寸法"),
        ("inscriptions and markings", "銘文・刻印"),
        ("distinguishing features", "特徴"),
        ("title", "名称"),
        ("subject", "主題"),
        ("date or period", "年代"),
        ("maker", "作者"),
    ];
    let bare = sample::named("bare").unwrap();
    for speech in SPEECHES {
        let table = super::super::identity::categories(speech, &bare.record);
        let said: Vec<[String; 2]> = table
            .rows
            .iter()
            .map(|row| {
                [0, 1].map(|index| row[index].0.iter().map(|span| span.text.as_str()).collect())
            })
            .collect();
        for (index, (english, japanese)) in names.iter().enumerate() {
            let [name, value] = &said[index];
            assert!(
                (speech == Speech::Japanese || name.contains(english))
                    && (speech == Speech::English || name.contains(japanese)),
                "{speech:?}: {name}"
            );
            assert!(!value.trim().is_empty(), "{speech:?}: {name}");
        }
        // Of a bare record: measures, inscriptions, features, subject; period and maker are opinions.
        let missing = |word: &str| {
            said.iter()
                .filter(|[_, value]| value.contains(word))
                .count()
        };
        let (recorded, opinion) = match speech {
            Speech::Japanese => ("記載なし", "見解の記載なし"),
            _ => ("not recorded", "no opinion recorded"),
        };
        let both = usize::from(speech == Speech::Japanese) * 2;
        assert_eq!(missing(recorded), 4 + both, "{speech:?}");
        assert_eq!(missing(opinion), 2, "{speech:?}");
    }
}

#[test]
fn a_comparison_without_an_earlier_record_says_what_to_do() {
    let sample = sample::sword();
    let input = with_kind(
        &sample,
        &[],
        Kind::Comparison,
        Speech::English,
        PageSize::A4,
    );
    let error = render(&sample.record, &input).unwrap_err();
    assert_eq!(
        error.to_string(),
        "record 2 has no earlier record of the blade that could be compared with it; before and after needs one"
    );
    assert!(error.hint().contains("--record"));
    // A record that describes no state is none to compare with.
    let bare: Record = serde_json::from_value(sample::bare()).unwrap();
    let earlier = [bare];
    let input = with_kind(
        &sample,
        &earlier,
        Kind::Comparison,
        Speech::English,
        PageSize::A4,
    );
    assert!(render(&sample.record, &input).is_err());
}

#[test]
fn the_newest_state_before_work_is_what_is_compared() {
    let sample = sample::sword();
    let numbered = |sequence: u32, purpose: &str| {
        let mut value: Value = serde_json::from_slice(&sample.bytes).unwrap();
        value["sequence"] = sequence.into();
        value["purpose"] = purpose.into();
        serde_json::from_value::<Record>(value).unwrap()
    };
    let chosen =
        |records: &[Record]| super::comparison::base(records, None).map(|record| record.sequence);
    assert_eq!(chosen(&[]), None);
    let chain: Vec<Record> = [
        (1, "intake"),
        (2, "before_work"),
        (3, "in_work"),
        (4, "override"),
    ]
    .into_iter()
    .map(|(sequence, purpose)| numbered(sequence, purpose))
    .collect();
    assert_eq!(chosen(&chain), Some(2));
    assert_eq!(
        chosen(&[numbered(1, "transfer"), numbered(2, "after_work")]),
        Some(2)
    );
}

#[test]
fn withheld_values_stand_nowhere() {
    let sample = sample::sword();
    each("sword", &sample, |case, kind, speech, scene| {
        let all = words(scene);
        for salted in ["AAAAAA", "EEEEEE", "LLLLLL"] {
            assert!(!all.contains(salted), "{case}: a salted digest");
        }
        // Whoever made the attribution is withheld; the attribution itself is not.
        if kind == Kind::Buyer && speech == Speech::English {
            assert!(all.contains("name withheld or not stated"), "{case}: {all}");
        }
    });
}

#[test]
fn sixty_flaws_and_the_longest_names_stay_inside() {
    let mut value: Value = serde_json::from_slice(&sample::many_flaws(60).bytes).unwrap();
    let long = "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaft "
        .repeat(2);
    value["blade"]["title"] = long.trim().into();
    value["issuer"]["name"] = long.trim().into();
    value["blade"]["distinguishing_features"] =
        "刃文は小乱れ、匂口深く沸よくつく。".repeat(40).into();
    value["referral"] = json!({ "to": { "role": "specialist", "name": long.trim() }, "questions": ["x".repeat(400), "why ".repeat(90)], "not_done": ["n".repeat(300)], "packed": ["p".repeat(200), long.trim()] });
    let photos = sample::sword().photos;
    let sample = Sample {
        photos,
        ..Sample::of(&value)
    };
    each("long", &sample, |case, kind, _, scene| {
        assert_laid_out_well(case, scene);
        if kind == Kind::Labels {
            assert!(scene.pages.len() <= 2, "{case}");
        }
    });
}

#[test]
fn the_sample_records_of_the_demo_are_shown_in_every_kind() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../samples/records");
    for (name, earlier) in [
        ("reed-02-after_work", Some("reed-01-before_work")),
        ("lantern-01-referral", None),
        ("gorge-01-intake", None),
        ("heron-01-before_work", None),
        ("dune-01-before_work", None),
    ] {
        let bytes = std::fs::read(format!("{folder}/{name}.json")).unwrap();
        let record: Record = serde_json::from_slice(&bytes).unwrap();
        let sample = Sample {
            record,
            bytes,
            photos: BTreeMap::new(),
        };
        let earlier: Vec<Record> = earlier
            .into_iter()
            .map(|name| {
                let bytes = std::fs::read(format!("{folder}/{name}.json")).unwrap();
                serde_json::from_slice(&bytes).unwrap()
            })
            .collect();
        for kind in KINDS {
            if kind == Kind::Comparison && earlier.is_empty() {
                continue;
            }
            for speech in SPEECHES {
                for page in PAPERS {
                    let input = with_kind(&sample, &earlier, kind, speech, page);
                    let scene = scene_of(&sample.record, &input).unwrap().0;
                    let case = format!("{name}, {kind:?}, {speech:?}, {page:?}");
                    assert_laid_out_well(&case, &scene);
                    headings_lead(&case, &scene);
                    let pages = scene.pages.len();
                    let most = match kind {
                        // The annex of a record with every check's tables.
                        Kind::Condition => 22,
                        _ => most_pages(kind, speech),
                    };
                    assert!(pages <= most, "{case}: {pages} pages");
                }
            }
        }
    }
}

#[test]
fn no_kind_claims_what_it_cannot_know_or_shows_codes_of_the_format() {
    for name in ["sword", "many", "spear", "bare"] {
        let sample = sample::named(name).unwrap();
        each(name, &sample, |case, _, _, scene| {
            let all = words(scene).to_lowercase();
            for word in all.split(|character: char| !character.is_alphabetic()) {
                assert!(
                    ![
                        "authentic",
                        "authenticity",
                        "genuine",
                        "safe",
                        "safely",
                        "legal",
                        "legally"
                    ]
                    .contains(&word),
                    "{case}: {word}"
                );
            }
            for words in ["本物", "真作", "真正", "安全", "合法", "適法", "crm:"] {
                assert!(!all.contains(words), "{case}: {words}");
            }
        });
    }
}
