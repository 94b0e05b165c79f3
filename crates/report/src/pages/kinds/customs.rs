//! A list for the customs office and the carrier: what the parcel holds, of what it is made, why it travels.

use tangmark_core::record::{
    CustodyKind, Fitting, ProtectedScreen, Purpose, Record, RegistrationKind,
};

use super::super::{Content, cautions, closing, identity, title, words};
use super::{
    eyebrow,
    form::{self, Field},
    parts,
};
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

/// Greatest height of the photos, mm.
const PHOTO: f64 = 38.0;
/// Most photos.
const PHOTOS: usize = 4;
/// Rules of the check of materials that speak of protected species and of borders; its others speak of handling.
const SCREEN: [&str; 9] = [
    "materials.protected",
    "materials.ask-species",
    "materials.mentioned",
    "materials.list-old",
    "materials.screen-differs",
    "materials.not-screened",
    "materials.not-named",
    "materials.carriage-designated",
    "materials.carriage-species",
];

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    title::head(flow, content, &eyebrow(content));
    flow.gap(3.0);
    flow.say(
        &pair(
            "For the customs office and the carrier. It states what the record says and clears nothing: what may travel, how, and with which papers, the authorities and licensed carriers decide.",
            "税関と運送人のために。記録の内容を示すもので、何らの許可も与えない。何をどのように、どの書類を添えて運べるかは、所管の官庁と資格ある運送人が決める。",
        ),
        style::BODY,
    );
    way(flow, record);
    contents(flow, record);
    screened(flow, record);
    age(flow, record);
    papers(flow, record);
    value(flow, record);
    parts::telling_photos(flow, content, PHOTO * flow.fit.spacing, PHOTOS);
    flow.may_turn();
    declare(flow);
    closing::short(flow, content);
}

/// Why it travels, from whom to whom.
fn way(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(flow, &pair("Why it travels", "運ぶ理由"), 30.0);
    let event = (record.purpose == Purpose::Transfer)
        .then(|| form::last_hands(record))
        .flatten();
    let known = match (record.purpose, event.map(|event| event.kind)) {
        (Purpose::Referral, _) => Some(pair(
            "to a specialist for examination, to come back",
            "専門家による調査のため（返送予定）",
        )),
        (_, Some(CustodyKind::Sold | CustodyKind::Bought)) => Some(pair("sale", "売買")),
        (_, Some(CustodyKind::Returned)) => Some(pair(
            "return to the owner after work or examination",
            "作業または調査を終えた所有者への返却",
        )),
        (_, Some(CustodyKind::Lent)) => Some(pair("loan, to come back", "貸出し（返送予定）")),
        (_, Some(CustodyKind::LeftForWork)) => {
            Some(pair("work, to come back", "作業のため（返送予定）"))
        }
        (_, Some(CustodyKind::Given)) => Some(pair("gift", "贈与")),
        (_, Some(CustodyKind::Inherited)) => Some(pair("inheritance", "相続")),
        _ => None,
    };
    if let Some(known) = known {
        flow.paragraph(&words::bold(speech.label(&known)), style::BODY);
    } else {
        flow.say(
            &pair(
                "The record does not say why it travels. Tick what is so.",
                "運ぶ理由の記載は記録にない。該当するものに印を付ける。",
            ),
            style::BODY,
        );
        flow.y += 1.0;
        let reasons = [
            pair("sale", "売買"),
            pair("return to the owner after work", "作業後の所有者への返却"),
            pair(
                "work or examination, to come back",
                "作業または調査のため（返送予定）",
            ),
            pair(
                "loan or exhibition, to come back",
                "貸出し・展示（返送予定）",
            ),
            pair("gift or inheritance", "贈与・相続"),
        ];
        let reasons: Vec<_> = reasons.iter().map(|reason| speech.label(reason)).collect();
        form::ticks(flow, &reasons);
        form::blank_ticks(flow, 1);
    }
    flow.y += 1.0;
    let mut from = Field::of_person(event.and_then(|event| event.from.as_ref()));
    let referred = record.referral.as_ref().map(|referral| &referral.to);
    let to = event
        .and_then(|event| event.to.as_ref())
        .or_else(|| referred.filter(|_| record.purpose == Purpose::Referral));
    // The workshop sends what it refers; its name stands in the record as the issuer's.
    if record.purpose == Purpose::Referral
        && let Some(name) = from.first_mut()
    {
        name.value = Some(record.issuer.name.clone());
    }
    let to = Field::of_person(to);
    let (sent, received) = (pair("Sent by", "差出人"), pair("To", "受取人"));
    form::columns(flow, [(&sent, &from), (&received, &to)]);
}

/// The pieces in the parcel.
fn contents(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("no.", "番号"), Width::Fixed(8.0)),
        column(&pair("piece", "品"), Width::Share(1.3)),
        column(
            &pair("material, and how it was told", "材質と判別の根拠"),
            Width::Share(1.3),
        ),
        column(
            &pair("protected materials", "規制対象素材の照合"),
            Width::Share(1.1),
        ),
        column(&pair("measures, mass", "寸法・質量"), Width::Share(1.0)),
    ]);
    let blade = &record.blade;
    let mut piece = vec![
        Span::bold(blade.title.clone()),
        Span::plain(format!("\n{}", blade.object_type)),
    ];
    piece.push(Span::quiet(format!("\n{}", blade.id)));
    let mut made_of = speech.label(&pair("steel, with an edge", "鋼（刃あり）"));
    made_of.extend(
        blade
            .materials_and_techniques
            .iter()
            .map(|what| Span::plain(format!("\n{what}"))),
    );
    table.rows.push(vec![
        Cell::figures("1"),
        Cell(piece),
        Cell(made_of),
        Cell::plain(words::NOTHING),
        Cell(measures(speech, record)),
    ]);
    for (index, fitting) in record.fittings.iter().enumerate() {
        let mut piece = words::bold(words::term(speech, fitting.part));
        piece.push(Span::plain(format!("\n{}", fitting.description)));
        table.rows.push(vec![
            Cell::figures((index + 2).to_string()),
            Cell(piece),
            Cell(materials(speech, fitting)),
            Cell(screen(speech, fitting)),
            Cell(speech.label(&words::not_recorded())),
        ]);
    }
    words::read_once(&mut table);
    words::heading(
        flow,
        &pair("What the parcel holds", "内容品"),
        table.start() + 8.0,
    );
    flow.table(&table);
    flow.gap(1.0);
    let (gross, outer) = (
        [Field::empty(pair(
            "mass of the parcel as packed",
            "梱包後の総質量",
        ))],
        [Field::empty(pair("outer size of the parcel", "梱包の外寸"))],
    );
    let (parcel, size) = (pair("Parcel", "梱包"), pair("Size", "大きさ"));
    form::columns(flow, [(&parcel, &gross), (&size, &outer)]);
}

/// Length and mass of the blade.
fn measures(speech: Speech, record: &Record) -> Vec<Span> {
    let mut lines: Vec<String> = Vec::new();
    let mut say = |name: Pair, value: String| lines.push(format!("{} {value}", speech.text(&name)));
    if let Some(dimensions) = &record.dimensions {
        if let Some(length) = &dimensions.overall_length {
            say(pair("overall", "全長"), words::quantity(length));
        }
        if let Some(length) = &dimensions.blade_length {
            say(pair("blade length", "長さ"), words::quantity(length));
        }
        if let Some(mass) = &dimensions.mass {
            let state = dimensions.mass_state.map_or_else(String::new, |state| {
                format!(
                    "{}{}",
                    words::comma(speech),
                    speech.text(&words::gloss(state))
                )
            });
            say(
                pair("mass", "質量"),
                format!("{}{state}", words::quantity(mass)),
            );
        }
    }
    if lines.is_empty() {
        return speech.label(&words::not_recorded());
    }
    vec![Span::figures(lines.join("\n"))]
}

fn materials(speech: Speech, fitting: &Fitting) -> Vec<Span> {
    let mut spans = if fitting.materials.is_empty() {
        speech.label(&words::not_recorded())
    } else {
        words::terms(speech, &fitting.materials)
    };
    if let Some(evidence) = &fitting.material_evidence {
        spans.push(Span::quiet(format!("\n{evidence}")));
    }
    spans
}

/// What the look at the lists gave, with their day; never a clearance.
fn screen(speech: Speech, fitting: &Fitting) -> Vec<Span> {
    let outcome = fitting.protected.unwrap_or(ProtectedScreen::NotScreened);
    let mut spans = speech.label(&words::gloss(outcome));
    if outcome != ProtectedScreen::NotFoundInList {
        spans = words::bold(spans);
    }
    if let Some(day) = &fitting.protected_as_of {
        let said = pair(format!("list of {day}"), format!("{day} の一覧による"));
        spans.push(Span::quiet(format!("\n{}", speech.text(&said))));
    }
    spans
}

/// What the check of materials found.
fn screened(flow: &mut Flow, record: &Record) {
    let found: Vec<String> = record
        .findings
        .iter()
        .filter(|finding| SCREEN.contains(&finding.rule.as_str()))
        .map(|finding| finding.message.clone())
        .collect();
    let title = pair("What the check of materials says", "材質の検査の所見");
    parts::written(flow, &title, &found);
}

/// Age and origin: opinions with their authors.
fn age(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(
        flow,
        &pair("Age and origin, as opinions", "年代と制作地（見解）"),
        16.0,
    );
    let blade = &record.blade;
    let mut table = Table::pairs(46.0);
    for (name, list, limits) in [
        (
            pair("date or period", "年代"),
            &blade.period,
            identity::limits(speech, blade),
        ),
        (pair("place of origin", "制作地"), &blade.origin, None),
    ] {
        let said = identity::opinions(speech, list, limits);
        words::row(&mut table, speech, &name, said);
    }
    words::table(flow, table);
}

/// Registrations by their existence, other papers, and what a designation asks for.
fn papers(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(flow, &pair("Papers", "書類"), 16.0);
    let registrations = &record.blade.registrations;
    let mut items: Vec<Vec<Span>> = registrations
        .iter()
        .map(|entry| vec![Span::plain(parts::registration_in_a_line(speech, entry))])
        .collect();
    let documents = record.custody.iter().flat_map(|event| &event.documents);
    items.extend(documents.map(|paper| vec![Span::plain(words::document(speech, paper))]));
    if items.is_empty() {
        flow.say(
            &pair(
                "No registration and no paper is in this record. Whether one is needed, the authority says.",
                "この記録に登録や書類の記載はない。要否は官庁に確認する。",
            ),
            style::BODY,
        );
    } else {
        flow.list(&items, style::CELL);
    }
    let designated = registrations.iter().any(|entry| {
        matches!(
            entry.kind,
            RegistrationKind::NationalTreasure
                | RegistrationKind::ImportantCulturalProperty
                | RegistrationKind::ImportantArtObject
                | RegistrationKind::OtherDesignation
        )
    });
    if designated {
        let said = pair(
            "A designation under a heritage law is recorded. Ask the authority that made it before the blade moves.",
            "文化財法令による指定の記載がある。刀身を動かす前に、指定した官庁に確認すること。",
        );
        for sentence in words::sentences(speech, &said) {
            flow.paragraph(&words::bold(sentence), style::BODY);
        }
    }
}

/// The value where it is shown; else a line, since customs ask for it all the same.
fn value(flow: &mut Flow, record: &Record) {
    let speech = flow.speech;
    words::heading(flow, &pair("Value", "価額"), 24.0);
    let price = (record.purpose == Purpose::Transfer)
        .then(|| form::last_hands(record))
        .flatten()
        .and_then(|event| event.price.as_ref());
    let mut table = Table::pairs(46.0);
    if let Some(price) = price {
        let name = pair("price of this change of hands", "今回の取引価格");
        words::row(
            &mut table,
            speech,
            &name,
            vec![Span::bold(words::money(price))],
        );
    }
    if let Some(valuation) = &record.valuation {
        let mut said = vec![Span::plain(words::money(&valuation.value))];
        said.push(Span::quiet(format!(
            "{}{}{}{}{}{}",
            words::semicolon(speech),
            speech.text(&words::gloss(valuation.basis)),
            words::comma(speech),
            valuation.on,
            words::comma(speech),
            valuation.valuer
        )));
        let name = pair("valuation, an opinion", "評価額（見解）");
        words::row(&mut table, speech, &name, said);
    }
    if table.rows.is_empty() {
        flow.say(
            &pair(
                "Not shown in this copy. Where the customs office asks for it, write it in, truthfully.",
                "本書には示さない。税関が求める場合は、真実の額を書き入れる。",
            ),
            style::BODY,
        );
        let name = pair("value, currency, what it rests on", "価額・通貨・根拠");
        form::fields(flow, &[Field::empty(name)]);
    } else {
        words::table(flow, table);
    }
}

/// What to mind, and the sender's word.
fn declare(flow: &mut Flow) {
    words::heading(flow, &pair("Declare it as it is", "ありのままの申告"), 60.0);
    let declared = (
        Some(pair("Declaring", "申告")),
        pair(
            "Say truthfully what it is, of what it is made, what it is worth and why it travels: a blade is declared as a blade. Ask the authorities of every country on the way, and the carrier, before it is handed in; not every carrier takes blades.",
            "品名、材質、価額、目的を真実のとおりに述べる。刀身は刀身として申告する。差し出す前に、通過するすべての国の官庁と運送人に確認する。刀身を扱わない運送人もある。",
        ),
    );
    let items = [
        declared,
        cautions::edge(),
        cautions::protected(),
        cautions::carriage(),
    ];
    flow.say_list(&items, style::CELL);
    flow.gap(0.6);
    flow.say(
        &pair(
            "General remarks, common practice, no source. Local code, the authorities and licensed carriers decide.",
            "慣行による一般的な注意である（典拠なし）。各地の法令、所管の官庁、資格ある運送人の判断に従うこと。",
        ),
        style::NOTE,
    );
    flow.gap(1.0);
    let by = [
        Field::empty(pair("place and day", "場所・年月日")),
        Field::empty(pair("name in block letters", "氏名（楷書）")),
    ];
    let sign = [
        Field::empty(pair("signature of the sender", "差出人の署名")),
        Field::empty(pair("number of the carrier's paper", "運送状番号")),
    ];
    let (sender, carrier) = (pair("The sender", "差出人"), pair("Signed", "署名"));
    form::columns(flow, [(&sender, &by), (&carrier, &sign)]);
}
