//! What is withheld: named by its place, never by its value.

use tangmark_core::record::{Person, Record, SaltedDigest};

use super::words;
use crate::{
    layout::{Flow, Span, style},
    speech::{Pair, pair},
};

/// Places of the record that hold digests of withheld properties, with what they may hide.
fn places(record: &Record) -> Vec<Pair> {
    let mut places = Places::default();
    places.note(
        &record.withheld,
        pair(
            "the record: valuation, and findings that touch withheld values",
            "記録：評価額、および非開示の値に関わる所見",
        ),
    );
    if let Some(agreement) = &record.agreement {
        places.note(
            &agreement.withheld,
            pair(
                "the agreement: price ceiling, insured value",
                "取決め：価格の上限、保険価額",
            ),
        );
        places.person(
            &agreement.owner,
            &pair("the agreement's owner", "取決めの所有者"),
        );
    }
    opinions(&mut places, record);
    for (index, registration) in record.blade.registrations.iter().enumerate() {
        let number = index + 1;
        places.note(
            &registration.withheld,
            pair(
                format!("registration {number}: number"),
                format!("登録 {number}：番号"),
            ),
        );
    }
    if let Some(examination) = &record.examination {
        places.person(&examination.by, &pair("the examiner", "調査者"));
    }
    custody(&mut places, record);
    for photo in &record.photos {
        places.note(
            &photo.withheld,
            pair(
                format!("photograph {}: the original file", photo.id),
                format!("写真 {}：原ファイル", photo.id),
            ),
        );
    }
    if let Some(referral) = &record.referral {
        places.person(&referral.to, &pair("the specialist", "専門家"));
    }
    places.0
}

#[derive(Default)]
struct Places(Vec<Pair>);

impl Places {
    fn note(&mut self, digests: &[SaltedDigest], text: Pair) {
        if !digests.is_empty() {
            self.0.push(text);
        }
    }

    fn person(&mut self, person: &Person, who: &Pair) {
        self.note(
            &person.withheld,
            pair(
                format!("{}: name, address, contact", who.en),
                format!("{}：氏名、住所、連絡先", who.ja),
            ),
        );
    }
}

fn opinions(places: &mut Places, record: &Record) {
    for (name, list) in [
        (pair("period", "年代"), &record.blade.period),
        (pair("maker", "作者"), &record.blade.maker),
        (pair("origin", "制作地"), &record.blade.origin),
    ] {
        for (index, opinion) in list.iter().enumerate() {
            let number = index + 1;
            let who = pair(
                format!("author of opinion {number} on the {}", name.en),
                format!("{}についての見解 {number} の見解者", name.ja),
            );
            places.person(&opinion.author, &who);
        }
    }
    let inscriptions = record.tang.iter().flat_map(|tang| &tang.inscriptions);
    for (index, inscription) in inscriptions.enumerate() {
        let number = index + 1;
        for opinion in &inscription.opinions {
            let who = pair(
                format!("author of an opinion on inscription {number}"),
                format!("銘文 {number} についての見解の見解者"),
            );
            places.person(&opinion.author, &who);
        }
    }
}

fn custody(places: &mut Places, record: &Record) {
    for (index, event) in record.custody.iter().enumerate() {
        let number = index + 1;
        let event_name = pair(format!("custody event {number}"), format!("来歴 {number}"));
        places.note(
            &event.withheld,
            pair(
                format!("{}: price", event_name.en),
                format!("{}：価格", event_name.ja),
            ),
        );
        for (name, other) in [
            (pair("giver", "渡した者"), &event.from),
            (pair("receiver", "受けた者"), &event.to),
        ] {
            if let Some(other) = other {
                let who = pair(
                    format!("{}, {}", event_name.en, name.en),
                    format!("{}の{}", event_name.ja, name.ja),
                );
                places.person(other, &who);
            }
        }
        for (paper, document) in event.documents.iter().enumerate() {
            let paper = paper + 1;
            places.note(
                &document.withheld,
                pair(
                    format!("{}, paper {paper}: number", event_name.en),
                    format!("{}の書類 {paper}：番号", event_name.ja),
                ),
            );
        }
    }
}

/// Sets the list of what may be withheld.
pub(super) fn set(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Withheld", "非開示の事項"), 14.0);
    let places = places(record);
    if places.is_empty() {
        flow.say(
            &pair(
                "Nothing is withheld in this record.",
                "この記録に非開示の事項はない。",
            ),
            style::BODY,
        );
        return;
    }
    flow.say(
        &pair(
            "The record keeps salted digests in place of these items. Digests without meaning fill up their number, so it cannot be told which item was withheld and which was never stated. Condition, measurements, work and decision can never be withheld.",
            "次の事項は、記録ではソルト付きダイジェストに置き換えてある。数を揃えるため意味のないダイジェストも含むので、非開示か、もともと記載がないかは区別できない。状態、計測値、作業、判断は非開示にできない。",
        ),
        style::NOTE,
    );
    flow.y += 0.8;
    let speech = flow.speech;
    let items: Vec<Vec<Span>> = places.iter().map(|place| speech.label(place)).collect();
    flow.list(&items, style::CELL);
}
