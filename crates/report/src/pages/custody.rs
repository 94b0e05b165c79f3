//! Custody, agreement, valuation, referral and what else the record speaks of.

use tangmark_core::record::{
    Agreement, CustodyEvent, Money, Record, Referral, Role, SaltedDigest, Valuation,
};

use super::words;
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Custody", "占有と所有の来歴"), 20.0);
    if record.custody.is_empty() {
        flow.say(
            &pair(
                "No event of custody or ownership is in this record.",
                "この記録に占有または所有の移転の記載はない。",
            ),
            style::BODY,
        );
    } else {
        events(flow, &record.custody);
    }
    if let Some(agreement) = &record.agreement {
        set_agreement(flow, agreement);
    }
    if let Some(valuation) = &record.valuation {
        set_valuation(flow, valuation);
    }
    if let Some(referral) = &record.referral {
        set_referral(flow, referral);
    }
    let text = |text: &str| vec![Span::plain(text)];
    if let Some(other) = &record.refers_to {
        let mut pairs = Pairs::new(flow);
        pairs.say(
            &pair("record", "記録"),
            vec![Span::figures(words::digest(&other.record))],
        );
        pairs.say(&pair("statement", "陳述"), text(&other.statement));
        let title = pair(
            "What is said of an earlier record",
            "先の記録についての陳述",
        );
        pairs.set(flow, &title);
    }
    if let Some(change) = &record.key_change {
        let mut pairs = Pairs::new(flow);
        pairs.say(&pair("new key", "新しい鍵"), text(&change.new_key));
        pairs.say(&pair("reason", "理由"), text(&change.reason));
        pairs.set(flow, &pair("Change of the signing key", "署名鍵の変更"));
    }
}

/// A list of pairs being filled.
struct Pairs {
    speech: Speech,
    table: Table,
}

impl Pairs {
    fn new(flow: &Flow) -> Self {
        Self {
            speech: flow.speech,
            table: Table::pairs(46.0),
        }
    }

    fn say(&mut self, name: &Pair, value: Vec<Span>) {
        words::row(&mut self.table, self.speech, name, value);
    }

    /// An amount; nothing where it is neither stated nor may be withheld.
    fn amount(&mut self, name: &Pair, amount: Option<&Money>, withheld: &[SaltedDigest]) {
        match amount {
            Some(amount) => self.say(name, vec![Span::plain(words::money(amount))]),
            None if !withheld.is_empty() => self.say(name, self.speech.label(&words::withheld())),
            None => {}
        }
    }

    fn set(self, flow: &mut Flow, title: &Pair) {
        words::subheading(flow, title, 14.0);
        words::table(flow, self.table);
    }
}

pub(super) fn events(flow: &mut Flow, events: &[CustodyEvent]) {
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("when", "時期"), Width::Fixed(21.0)),
        column(&pair("event", "出来事"), Width::Share(1.0)),
        column(&pair("from and to", "移転元・移転先"), Width::Share(1.3)),
        column(&pair("papers and remarks", "書類・備考"), Width::Share(1.3)),
        column(&pair("price", "価格"), Width::Fixed(22.0)),
    ]);
    for event in events {
        let mut papers: Vec<String> = event
            .documents
            .iter()
            .map(|paper| words::document(speech, paper))
            .collect();
        papers.extend(event.note.clone());
        if papers.is_empty() {
            papers.push(words::NOTHING.to_owned());
        }
        let price = match &event.price {
            Some(price) => vec![Span::plain(words::money(price))],
            None if !event.withheld.is_empty() => speech.label(&words::withheld()),
            None => vec![Span::plain(words::NOTHING)],
        };
        table.rows.push(vec![
            Cell::figures(words::when(speech, &event.when)),
            Cell(words::term(speech, event.kind)),
            Cell(people(speech, event)),
            Cell::plain(papers.join("\n")),
            Cell(price),
        ]);
    }
    words::table(flow, table);
}

fn people(speech: Speech, event: &CustodyEvent) -> Vec<Span> {
    let mut lines: Vec<Vec<Span>> = Vec::new();
    for (name, person) in [
        (pair("from", "元"), &event.from),
        (pair("to", "先"), &event.to),
    ] {
        if let Some(person) = person {
            let mut line = vec![Span::quiet(format!("{} ", speech.text(&name)))];
            line.extend(words::person(speech, person));
            lines.push(line);
        }
    }
    lines.extend(
        event
            .place
            .as_ref()
            .map(|place| vec![Span::plain(place.clone())]),
    );
    if lines.is_empty() {
        lines.push(vec![Span::plain(words::NOTHING)]);
    }
    let mut spans = Vec::new();
    for line in lines {
        if !spans.is_empty() {
            spans.push(Span::plain("\n"));
        }
        spans.extend(line);
    }
    spans
}

fn set_agreement(flow: &mut Flow, agreement: &Agreement) {
    let speech = flow.speech;
    let mut pairs = Pairs::new(flow);
    let withheld = &agreement.withheld;
    pairs.say(
        &pair("owner", "所有者"),
        words::person_as(speech, Role::Owner, &agreement.owner),
    );
    pairs.say(
        &pair("work", "作業"),
        vec![Span::plain(agreement.work.clone())],
    );
    if let Some(limit) = &agreement.steel_limit {
        pairs.say(
            &pair("most steel that may go", "研ぎ減らしてよい鋼の上限"),
            vec![Span::plain(words::quantity(limit))],
        );
    }
    let allowed = if agreement.etch_allowed {
        pair("yes", "可")
    } else {
        pair("no", "否")
    };
    pairs.say(&pair("etch allowed", "腐食の可否"), speech.label(&allowed));
    if !agreement.stop_and_ask.is_empty() {
        pairs.say(
            &pair("stop and ask", "中断して確認する事項"),
            vec![Span::plain(agreement.stop_and_ask.join("\n"))],
        );
    }
    if !agreement.asked.is_empty() {
        let answers: Vec<String> = agreement
            .asked
            .iter()
            .map(|one| format!("{} · {} · {}", one.on, one.point, one.answer))
            .collect();
        pairs.say(
            &pair("what came of it", "確認の結果"),
            vec![Span::plain(answers.join("\n"))],
        );
    }
    if let Some(consent) = &agreement.consent {
        pairs.say(
            &pair("consent in writing", "書面による同意"),
            vec![Span::plain(consent.clone())],
        );
    }
    pairs.say(
        &pair("agreed on", "合意日"),
        vec![Span::figures(agreement.on.to_string())],
    );
    if let Some(by) = &agreement.return_by {
        pairs.say(
            &pair("return by", "返却期限"),
            vec![Span::figures(by.to_string())],
        );
    }
    pairs.amount(
        &pair("price ceiling", "価格の上限"),
        agreement.price_ceiling.as_ref(),
        withheld,
    );
    pairs.amount(
        &pair("insured value", "保険価額"),
        agreement.insured_value.as_ref(),
        withheld,
    );
    pairs.set(
        flow,
        &pair("What was agreed with the owner", "所有者との取決め"),
    );
}

fn set_valuation(flow: &mut Flow, valuation: &Valuation) {
    let mut pairs = Pairs::new(flow);
    let text = |text: &str| vec![Span::plain(text)];
    pairs.say(
        &pair("amount", "金額"),
        text(&words::money(&valuation.value)),
    );
    let basis = pairs.speech.label(&words::gloss(valuation.basis));
    pairs.say(&pair("basis", "基準"), basis);
    pairs.say(
        &pair("on", "評価日"),
        vec![Span::figures(valuation.on.to_string())],
    );
    if let Some(until) = &valuation.valid_until {
        pairs.say(
            &pair("valid until", "有効期限"),
            vec![Span::figures(until.to_string())],
        );
    }
    pairs.say(&pair("valuer", "評価者"), text(&valuation.valuer));
    pairs.say(
        &pair("valuer's interest", "評価者の利害関係"),
        text(&valuation.interest),
    );
    if let Some(note) = &valuation.note {
        pairs.say(&pair("how it was reached", "算定の経緯"), text(note));
    }
    pairs.set(flow, &pair("Valuation, an opinion", "評価額（見解）"));
}

fn set_referral(flow: &mut Flow, referral: &Referral) {
    let mut pairs = Pairs::new(flow);
    let to = words::person(pairs.speech, &referral.to);
    let lines = |list: &[String]| {
        let text = if list.is_empty() {
            words::NOTHING.to_owned()
        } else {
            list.join("\n")
        };
        vec![Span::plain(text)]
    };
    pairs.say(&pair("to", "照会先"), to);
    pairs.say(&pair("questions", "質問"), lines(&referral.questions));
    pairs.say(
        &pair("what was not done, and why", "行わなかったことと理由"),
        lines(&referral.not_done),
    );
    if let Some(conditions) = &referral.return_conditions {
        pairs.say(
            &pair("conditions of return", "返却の条件"),
            vec![Span::plain(conditions.clone())],
        );
    }
    if !referral.packed.is_empty() {
        pairs.say(&pair("packed", "梱包した物"), lines(&referral.packed));
    }
    pairs.set(flow, &pair("Referral", "専門家への照会"));
}
