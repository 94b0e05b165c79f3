//! Identity: the nine categories of Object ID, opinions with their authors, papers.

use tangmark_core::record::{Attribution, Blade, Record, Registration, Role};

use super::words;
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(flow, &pair("Identity", "識別情報"), 24.0);
    flow.say(
        &pair(
            "The nine categories of the Object ID standard, in its order.",
            "Object ID 基準の九項目を、その順に記す。",
        ),
        style::NOTE,
    );
    flow.y += 0.8;
    let table = categories(speech, record);
    words::table(flow, table);
    registrations(flow, &record.blade.registrations);
    signs(flow, &record.blade);
}

pub(super) fn categories(speech: Speech, record: &Record) -> Table {
    let blade = &record.blade;
    let mut table = Table::pairs(46.0);
    let mut pair_of = |name: &Pair, value: Vec<Span>| words::row(&mut table, speech, name, value);
    let nothing = || speech.label(&words::not_recorded());
    let listed = |list: Vec<String>| {
        if list.is_empty() {
            nothing()
        } else {
            vec![Span::plain(list.join(words::semicolon(speech)))]
        }
    };
    pair_of(&pair("type of object", "種別"), object_type(speech, blade));
    pair_of(
        &pair("materials and techniques", "材質・技法"),
        materials(speech, blade),
    );
    pair_of(
        &pair("measurements", "寸法"),
        speech.label(&measurements(record)),
    );
    pair_of(
        &pair("inscriptions and markings", "銘文・刻印"),
        inscriptions(speech, record),
    );
    pair_of(
        &pair("distinguishing features", "特徴"),
        blade
            .distinguishing_features
            .as_ref()
            .map_or_else(nothing, |text| vec![Span::plain(text.clone())]),
    );
    pair_of(
        &pair("title", "名称"),
        vec![Span::plain(blade.title.clone())],
    );
    let mut subject: Vec<String> = blade.subject.iter().cloned().collect();
    subject.extend(blade.carvings.iter().cloned());
    pair_of(&pair("subject", "主題"), listed(subject));
    pair_of(
        &pair("date or period", "年代"),
        opinions(speech, &blade.period, limits(speech, blade)),
    );
    pair_of(&pair("maker", "作者"), opinions(speech, &blade.maker, None));
    pair_of(
        &pair("workshop's key of the blade", "工房の管理番号"),
        vec![Span::plain(blade.id.to_string())],
    );
    if !blade.origin.is_empty() {
        pair_of(
            &pair("place of origin", "制作地"),
            opinions(speech, &blade.origin, None),
        );
    }
    if !blade.related.is_empty() {
        pair_of(
            &pair("related material", "関連資料"),
            listed(blade.related.clone()),
        );
    }
    table
}

fn object_type(speech: Speech, blade: &Blade) -> Vec<Span> {
    let semicolon = words::semicolon(speech);
    let said = |words: &Pair| Span::plain(format!("{semicolon}{} ", speech.text(words)));
    let mut spans = vec![
        Span::plain(blade.object_type.clone()),
        said(&pair("by make", "作りの上では")),
    ];
    spans.extend(words::term(speech, blade.kind_by_make));
    if let Some(by_length) = blade.kind_by_length {
        spans.push(said(&pair("by length", "長さの上では")));
        spans.extend(words::term(speech, by_length));
    }
    spans
}

fn materials(speech: Speech, blade: &Blade) -> Vec<Span> {
    let mut spans = words::term(speech, blade.construction);
    if let Some(back) = blade.back_form {
        spans.push(Span::plain(format!(
            " · {} ",
            speech.text(&pair("back", "棟"))
        )));
        spans.extend(words::term(speech, back));
    }
    for item in &blade.materials_and_techniques {
        spans.push(Span::plain(format!(" · {item}")));
    }
    spans
}

fn measurements(record: &Record) -> Pair {
    let Some(dimensions) = &record.dimensions else {
        return words::not_recorded();
    };
    dimensions.blade_length.as_ref().map_or_else(
        || pair("under Measurements", "「計測値」に記す"),
        |length| {
            let length = words::quantity(length);
            pair(
                format!("blade length {length}; all measures under Measurements"),
                format!("長さ {length}。全寸法は「計測値」に記す"),
            )
        },
    )
}

pub(super) fn limits(speech: Speech, blade: &Blade) -> Option<String> {
    let bound = |date: Option<&tangmark_core::record::PartialDate>| {
        date.map_or_else(words::not_recorded, |date| {
            pair(date.to_string(), date.to_string())
        })
    };
    let (from, to) = (
        blade.made_not_before.as_ref(),
        blade.made_not_after.as_ref(),
    );
    if from.is_none() && to.is_none() {
        return None;
    }
    let (first, last) = (bound(from), bound(to));
    Some(speech.text(&pair(
        format!(
            "examiner's limits: not before {}, not after {}",
            first.en, last.en
        ),
        format!("調査者の推定：上限 {}、下限 {}", first.ja, last.ja),
    )))
}

fn inscriptions(speech: Speech, record: &Record) -> Vec<Span> {
    let list = record
        .tang
        .as_ref()
        .map_or(&[][..], |tang| tang.inscriptions.as_slice());
    if list.is_empty() {
        return speech.label(&words::not_recorded());
    }
    let mut spans = Vec::new();
    for (index, inscription) in list.iter().enumerate() {
        if index > 0 {
            spans.push(Span::plain(words::semicolon(speech)));
        }
        spans.extend(words::term(speech, inscription.kind));
        for part in [&inscription.reading, &inscription.transliteration]
            .into_iter()
            .flatten()
        {
            spans.push(Span::plain(format!(" · {part}")));
        }
    }
    spans
}

/// Opinions are never facts: each names its author, basis and confidence.
pub(super) fn opinions(speech: Speech, list: &[Attribution], limits: Option<String>) -> Vec<Span> {
    let mut spans = Vec::new();
    let (semicolon, said) = (words::semicolon(speech), |words: Pair| speech.text(&words));
    for opinion in list {
        if !spans.is_empty() {
            spans.push(Span::plain("\n"));
        }
        spans.push(Span::plain(opinion.statement.clone()));
        spans.extend(opinion_of(speech, &opinion.author));
        let on = opinion
            .on
            .as_ref()
            .map_or_else(String::new, |on| format!("{}{on}", words::comma(speech)));
        spans.push(Span::quiet(format!(
            "{on}{semicolon}{} {}{semicolon}{} {}",
            said(pair("rests on", "根拠")),
            opinion.basis,
            said(pair("confidence", "確度")),
            said(words::gloss(opinion.confidence)),
        )));
    }
    if let Some(limits) = limits {
        if !spans.is_empty() {
            spans.push(Span::plain("\n"));
        }
        spans.push(Span::plain(limits));
    }
    if spans.is_empty() {
        speech.label(&pair("no opinion recorded", "見解の記載なし"))
    } else {
        spans
    }
}

/// Names whose opinion something is.
pub(super) fn opinion_of(speech: Speech, author: &tangmark_core::record::Person) -> Vec<Span> {
    let said = match speech {
        Speech::English => " – opinion of ",
        Speech::Japanese => "――見解：",
        Speech::Both => " – opinion of / 見解： ",
    };
    let mut spans = vec![Span::quiet(said)];
    spans.extend(words::person_as(speech, Role::Appraiser, author));
    spans
}

pub(super) fn registrations(flow: &mut Flow, list: &[Registration]) {
    if list.is_empty() {
        return;
    }
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("kind", "種別"), Width::Share(1.1)),
        column(&pair("authority", "発行者"), Width::Share(1.0)),
        column(&pair("date", "年月日"), Width::Fixed(22.0)),
        column(&pair("number", "番号"), Width::Fixed(30.0)),
        column(
            &pair("grade, and what it states", "等級・記載事項"),
            Width::Share(1.2),
        ),
    ]);
    for entry in list {
        let number = match &entry.number {
            Some(number) => vec![Span::plain(number.clone())],
            None if !entry.withheld.is_empty() => speech.label(&words::withheld()),
            None => speech.label(&words::not_recorded()),
        };
        let states = states(speech, entry);
        table.rows.push(vec![
            Cell(words::term(speech, entry.kind)),
            Cell::plain(entry.authority.clone()),
            Cell::figures(words::date(speech, entry.on.as_ref())),
            Cell(number),
            Cell::plain(if states.is_empty() {
                words::NOTHING.to_owned()
            } else {
                states.join(words::semicolon(speech))
            }),
        ]);
    }
    words::read_once(&mut table);
    words::headed_table(
        flow,
        &pair("Registrations and papers", "登録・証書"),
        &table,
    );
}

/// The grade a paper gives and what it states of the blade.
fn states(speech: Speech, entry: &Registration) -> Vec<String> {
    let mut states: Vec<String> = entry.grade.iter().cloned().collect();
    let Some(stated) = &entry.states else {
        return states;
    };
    let mut say = |name: Pair, value: Option<String>| {
        states.extend(value.map(|value| format!("{} {value}", speech.text(&name))));
    };
    say(
        pair("length", "長さ"),
        stated.blade_length.as_deref().map(words::readings),
    );
    say(
        pair("curvature", "反り"),
        stated.curvature.as_deref().map(words::readings),
    );
    say(
        pair("peg holes", "目釘孔"),
        stated.peg_holes.map(|holes| holes.to_string()),
    );
    say(pair("inscription", "銘"), stated.inscription.clone());
    states
}

pub(super) fn signs(flow: &mut Flow, blade: &Blade) {
    if blade.signs.is_empty() {
        return;
    }
    let speech = flow.speech;
    words::subheading(
        flow,
        &pair("Signs of importance seen", "認められた重要性の徴候"),
        8.0,
    );
    let items: Vec<Vec<Span>> = blade
        .signs
        .iter()
        .map(|sign| {
            let mut item = words::bold(speech.label(&words::gloss(sign.kind)));
            item.push(Span::bold(words::colon(speech)));
            item.push(Span::plain(sign.note.clone()));
            item
        })
        .collect();
    flow.list(&items, style::CELL);
}
