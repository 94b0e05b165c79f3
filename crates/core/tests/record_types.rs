//! The record's types: closed lists of terms, and a record that fills every field there is.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::BTreeSet;

use serde_json::Value;
use tangmark_core::json::{Limits, canonical_bytes, read_value};
use tangmark_core::record::{
    Answer, AnswerKind, Artefact, ArtefactKind, Column, Decision, Finding, Header, Issuer,
    Judgement, Level, Number, Override, PhotoFile, Proof, Purpose, Record, Run, SCHEMA_ID,
    SCHEMA_VERSION, SchemaRef, Sheet, Verdict, WorkedUnderHold,
};
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_core::units::Unit;
use tangmark_core::{Digest, check, schema};

use common::lists;

#[test]
fn keys_of_a_list_are_unique_and_plain() {
    for list in lists() {
        let keys: BTreeSet<&str> = list.terms.iter().map(|(key, ..)| *key).collect();
        assert_eq!(keys.len(), list.terms.len(), "{}", list.name);
        for (key, ..) in &list.terms {
            let plain = key
                .bytes()
                .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'_');
            assert!(
                plain && key.starts_with(|letter: char| letter.is_ascii_lowercase()),
                "{}: {key}",
                list.name
            );
        }
        let keys: Vec<&str> = list.terms.iter().map(|(key, ..)| *key).collect();
        assert_eq!(keys, list.written, "{}: records hold the keys", list.name);
    }
}

#[test]
fn kanji_hold_no_ascii_and_every_term_has_a_gloss() {
    for list in lists() {
        for (key, kanji, gloss, shown) in &list.terms {
            assert!(
                kanji.chars().all(|letter| !letter.is_ascii()),
                "{}: {key} {kanji}",
                list.name
            );
            assert!(
                !gloss.is_empty() && gloss.trim() == *gloss && gloss.is_ascii(),
                "{}: {key} {gloss}",
                list.name
            );
            assert!(
                shown.starts_with(&key.replace('_', " ")) && shown.contains(kanji),
                "{}: {shown}",
                list.name
            );
        }
    }
}

#[test]
fn terms_are_shown_with_kanji_and_gloss() {
    use tangmark_core::record::{Term as _, *};
    assert_eq!(TemperFamily::Suguha.shown(), "suguha 直刃 (straight)");
    assert_eq!(
        FlawKind::NioiGire.shown(),
        "nioi gire 匂切れ (stretch without temper line)"
    );
    assert_eq!(Verdict::SetAside.shown(), "set aside");
    assert_eq!(
        BladeKind::Sabre.shown(),
        "sabre (curved single-edged sword from elsewhere)"
    );
    assert_eq!(Zone::Edge.shown(), "edge 刃");
}

/// A list that only the schema has, or only the test, would go untested.
#[test]
fn the_lists_here_are_those_of_the_schema() {
    let definitions = schema::record()["$defs"].as_object().unwrap();
    let published: BTreeSet<&str> = definitions
        .iter()
        .filter(|(_, definition)| definition["enum"].is_array())
        .map(|(name, _)| name.as_str())
        .collect();
    let here: BTreeSet<&str> = lists().iter().map(|list| list.name).collect();
    // `Unit` is a list of UCUM codes, which have no kanji.
    assert_eq!(
        published.difference(&here).collect::<Vec<_>>(),
        Vec::<&&str>::new()
    );
    assert_eq!(
        here.difference(&published).collect::<Vec<_>>(),
        Vec::<&&str>::new()
    );
}

/// The values of the trade that a record must be able to say, typed by hand.
///
/// Source: common practice of the trade and its handbooks, in part from memory.
const TRADE: &[(&str, &str)] = &[
    (
        "TemperFamily",
        "suguha hoso_suguha chu_suguha hiro_suguha ito_suguha notare ko_notare o_notare asaki_notare gunome togari choji \
         juka_choji saka_choji kawazu_choji midare ko_midare o_midare saka_midare hitatsura toran sudare kikusui hyotan \
         sanbonsugi mimigata yahazu uma_no_ha",
    ),
    ("TemperVisibility", "none_visible lost not_applicable"),
    ("TemperStart", "yaki_otoshi yaki_dashi mizukage"),
    (
        "PointTemperForm",
        "ko_maru o_maru jizo kaen ichimai yakizume hakikake midare_komi notare_komi none",
    ),
    ("TurnBack", "fukai asai none"),
    (
        "GrainFamily",
        "itame ko_itame o_itame mokume masame ayasugi nashiji konuka chirimen muji nagare hadatachi",
    ),
    (
        "Activity",
        "nie nioi ara_nie ashi yo kinsuji inazuma sunagashi chikei tobiyaki yubashiri utsuri bo_utsuri midare_utsuri \
         nijuba uchinoke hotsure kuichigai_ba muneyaki",
    ),
    (
        "TangShape",
        "futsu kiji_momo furisode tanago_bara funagata gohei other",
    ),
    (
        "TangEnd",
        "kurijiri ha_agari_kurijiri kiri iriyama_gata kengyo sasa other",
    ),
    (
        "FileMarks",
        "kiri katte_sagari katte_agari sujikai o_sujikai takanoha gyaku_takanoha higaki sensuki worn",
    ),
    (
        "TangState",
        "ubu machi_okuri suriage o_suriage naginata_naoshi nagamaki_naoshi tachi_naoshi saiha_suspected",
    ),
    (
        "InscriptionKind",
        "zaimei mumei tachi_mei katana_mei niji_mei naga_mei nengo gaku_mei orikaeshi_mei hame_mei kiritsuke_mei \
         kinzogan_mei shu_mei kinpun_mei kao chumon_mei tameshi_mei saidan_mei kie_mei",
    ),
    ("MeiView", "shoshin shomei gimei undecided"),
    (
        "FlawKind",
        "hagire karasunokuchi kissaki_broken hakobore boshi_none nioi_gire saiha yakemi hagarami tsuki_no_wa mikazuki \
         shinae fukure fukure_yabure ware kitae_ware hada_ware tate_ware mune_ware shinogi_ware ha_ware umegane kirikomi \
         ji_are shingane tsukare ha_jimi shimi kake_dashi sabi_active sabi_stable pits magari nejire yakiba_kuzure \
         notch_worn",
    ),
    (
        "FittingPart",
        "tsuba seppa habaki fuchi kashira menuki mekugi same tsuka_ito saya shirasaya kurigata koiguchi kojiri sageo \
         kozuka kogatana kogai soritsuno",
    ),
    (
        "Material",
        "iron shakudo shibuichi sentoku copper gold silver ray_skin baleen ebony rosewood horn coral mother_of_pearl leather",
    ),
    (
        "Construction",
        "shinogi_zukuri hira_zukuri shobu_zukuri kiriha_zukuri kata_kiriha kanmuri_otoshi unokubi_zukuri osoraku_zukuri \
         moroha_zukuri ken_zukuri kissaki_moroha naginata_zukuri naginata_naoshi nagamaki_naoshi su_yari sankaku_yari \
         ryo_shinogi_yari jumonji_yari kata_kama_yari kikuchi_yari",
    ),
    ("BackForm", "iori hira mitsu maru"),
    (
        "BladeKind",
        "tanto wakizashi katana tachi ko_wakizashi o_wakizashi sunnobi_tanto sunzumari_tanto odachi kodachi chisagatana \
         nodachi ken yari naginata nagamaki sabre",
    ),
    (
        "CurvatureKind",
        "muzori torii_zori koshi_zori saki_zori uchi_zori takenoko_zori",
    ),
    (
        "PointClass",
        "ko_kissaki chu_kissaki o_kissaki ikubi_kissaki kamasu_kissaki",
    ),
    ("Fukura", "fukura_tsuku fukura_kareru"),
];

#[test]
fn every_value_of_the_trade_can_be_said() {
    let lists = lists();
    let mut missing = Vec::new();
    let mut seen = 0;
    for (name, keys) in TRADE {
        let list = lists
            .iter()
            .find(|list| list.name == *name)
            .unwrap_or_else(|| panic!("no list {name}"));
        for key in keys.split_whitespace() {
            seen += 1;
            if !list.terms.iter().any(|(term, ..)| *term == key) {
                missing.push(format!("{name}: {key}"));
            }
        }
    }
    assert_eq!(missing, Vec::<String>::new());
    assert!(seen > 230, "{seen} values were looked for");
}

fn full_sheet() -> Sheet {
    let mut photo = |path: &str| {
        Ok(PhotoFile {
            digest: Digest::of(path.as_bytes()),
            length: 9,
            media_type: "image/jpeg".to_owned(),
            width_px: 20,
            height_px: 10,
            orientation: Some(6),
        })
    };
    sheet::read(
        include_bytes!("full-sheet.toml"),
        SheetFormat::Toml,
        &mut photo,
    )
    .unwrap_or_else(|error| panic!("{error}\nhint: {}", error.hint()))
}

fn full_record() -> Record {
    let time = "2026-03-10T09:00:00Z".parse().unwrap();
    let number = Number {
        name: "taper".to_owned(),
        value: "0.77".parse().unwrap(),
        unit: Unit::One,
        standard_uncertainty: Some("0.01".parse().unwrap()),
    };
    let finding = Finding {
        plugin: "dimensions".parse().unwrap(),
        rule: "taper.width".to_owned(),
        level: Level::Info,
        message: "taper 0.77".to_owned(),
        evidence: vec!["/dimensions/width_at_base".to_owned()],
        numbers: vec![number.clone()],
        source: "this tool's own rule".to_owned(),
    };
    let column = Column {
        name: "at".to_owned(),
        unit: Some(Unit::Millimetre),
        cells: vec!["0.0".to_owned()],
    };
    let judgement = Judgement {
        runs: vec![Run {
            plugin: "dimensions".parse().unwrap(),
            version: "1.0.0".to_owned(),
            digest: Digest::of(b"library"),
            input: Digest::of(b"input"),
            settings: vec!["section_model_percent = 4.0".to_owned()],
            fault: Some("stopped half way".to_owned()),
            quantities: vec![number],
            artefacts: vec![Artefact {
                kind: ArtefactKind::Series,
                title: "widths".to_owned(),
                columns: vec![column],
            }],
        }],
        findings: vec![finding.clone()],
        private_findings: vec![Finding {
            evidence: vec!["/valuation".to_owned()],
            ..finding
        }],
        decision: Some(Decision {
            verdict: Verdict::Refer,
            by: "Imre Halloway".to_owned(),
            reason: "important".to_owned(),
            answers: vec![Answer {
                rule: "triage/importance.papers".to_owned(),
                kind: AnswerKind::FollowsTheStop,
                how: "sent on".to_owned(),
                record: Some(Digest::of(b"record")),
            }],
        }),
        overrides: vec![Override {
            rule: "triage/budget.reached".to_owned(),
            name: "Imre Halloway".to_owned(),
            reason: "owner agreed".to_owned(),
            at: "2026-03-01T00:00:00Z".parse().unwrap(),
        }],
        worked_under_hold: vec![WorkedUnderHold {
            pass: "p1".parse().unwrap(),
            rule: "triage/budget.reached".to_owned(),
            message: "spent".to_owned(),
        }],
    };
    let key = "zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv";
    let header = Header {
        schema: SchemaRef {
            id: SCHEMA_ID.to_owned(),
            version: SCHEMA_VERSION,
            digest: schema::record_digest(),
        },
        record_id: "00112233445566778899aabbccddeeff".parse().unwrap(),
        sequence: 2,
        previous: Some(Digest::of(b"previous")),
        issuer: Issuer {
            id: format!("did:key:{key}"),
            name: "Demonstration".to_owned(),
            demo: true,
        },
        purpose: Purpose::Referral,
        issued_at: time,
    };
    let mut record = Record::assemble(header, full_sheet(), judgement);
    record.proof = Some(Proof {
        kind: "DataIntegrityProof".to_owned(),
        cryptosuite: "ecdsa-jcs-2019".to_owned(),
        created: record.issued_at.clone(),
        verification_method: format!("did:key:{key}#{key}"),
        proof_purpose: "assertionMethod".to_owned(),
        proof_value: format!("z{}", "2".repeat(87)),
    });
    record
}

#[test]
fn a_full_record_keeps_everything_through_its_bytes() {
    let record = full_record();
    let value = serde_json::to_value(&record).unwrap();
    let bytes = canonical_bytes(&value).unwrap();
    let read = read_value(&bytes, &Limits::default()).unwrap();
    assert_eq!(read, value);
    // Its withheld values stand in clear, and no plugin was asked about it.
    let back = check::opened(&read).unwrap_or_else(|problems| panic!("{problems:#?}"));
    assert_eq!(back, record);
    assert_eq!(back.sheet(), full_sheet());
    assert_eq!(
        canonical_bytes(&serde_json::to_value(&back).unwrap()).unwrap(),
        bytes
    );
}

/// Every property of the schema stands somewhere in the full record, so the round trip leaves none out.
#[test]
fn the_full_record_fills_every_field_of_the_schema() {
    let value = serde_json::to_value(full_record()).unwrap();
    let root = schema::record();
    let mut filled = BTreeSet::new();
    walk(root, root, "Record", &value, &mut filled);
    let mut missing = Vec::new();
    let definitions = root["$defs"]
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, definition)| (name.as_str(), definition));
    for (name, definition) in definitions.chain([("Record", root)]) {
        for property in definition["properties"]
            .as_object()
            .into_iter()
            .flat_map(|properties| properties.keys())
        {
            // Digests of withheld values are tested where values are withheld.
            if !property.starts_with("_sd") && !filled.contains(&format!("{name}.{property}")) {
                missing.push(format!("{name}.{property}"));
            }
        }
    }
    assert_eq!(missing, Vec::<String>::new());
    assert!(filled.len() > 250, "{} fields", filled.len());
}

fn walk(root: &Value, schema: &Value, name: &str, value: &Value, filled: &mut BTreeSet<String>) {
    for inner in [&schema["allOf"], &schema["anyOf"]]
        .into_iter()
        .filter_map(Value::as_array)
        .flatten()
    {
        walk(root, inner, name, value, filled);
    }
    if let Some(target) = schema["$ref"]
        .as_str()
        .and_then(|target| target.strip_prefix("#/$defs/"))
    {
        return walk(root, &root["$defs"][target], target, value, filled);
    }
    match value {
        Value::Object(members) => {
            for (property, member) in members {
                let inner = &schema["properties"][property.as_str()];
                if inner.is_object() {
                    filled.insert(format!("{name}.{property}"));
                    walk(root, inner, name, member, filled);
                }
            }
        }
        Value::Array(items) => items
            .iter()
            .for_each(|item| walk(root, &schema["items"], name, item, filled)),
        _ => {}
    }
}
