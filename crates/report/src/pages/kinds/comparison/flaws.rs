//! Flaws that went, stayed or are new.

use tangmark_core::record::{Flaw, Record, Standing};

use tangmark_measure::Estimate;

use super::super::super::{flaws, words};
use super::quantities::stated;
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

/// What became of a flaw. A flaw keeps its key from record to record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fate {
    /// In the first record and no longer in the second.
    Gone,
    Stayed,
    New,
    /// Looked for again and not found, then or before.
    RuledOut,
}

struct Row<'a> {
    before: Option<&'a Flaw>,
    after: Option<&'a Flaw>,
}

impl Row<'_> {
    fn fate(&self) -> Fate {
        let stands = |flaw: &Flaw| flaw.standing != Standing::RuledOut;
        match (self.before.is_some_and(stands), self.after) {
            (true, None) => Fate::Gone,
            (true, Some(after)) if stands(after) => Fate::Stayed,
            (false, Some(after)) if stands(after) => Fate::New,
            _ => Fate::RuledOut,
        }
    }
}

fn rows<'a>(before: &'a Record, after: &'a Record) -> Vec<Row<'a>> {
    let mut rows: Vec<Row<'a>> = before
        .flaws
        .iter()
        .map(|flaw| Row {
            before: Some(flaw),
            after: after.flaws.iter().find(|other| other.id == flaw.id),
        })
        .collect();
    rows.extend(
        after
            .flaws
            .iter()
            .filter(|flaw| !before.flaws.iter().any(|other| other.id == flaw.id))
            .map(|flaw| Row {
                before: None,
                after: Some(flaw),
            }),
    );
    rows
}

pub(super) fn set(flow: &mut Flow, before: &Record, after: &Record) {
    let speech = flow.speech;
    words::heading(flow, &pair("Flaws before and after", "疵の比較"), 20.0);
    let rows = rows(before, after);
    if rows.is_empty() {
        flow.say(
            &pair(
                "No flaw is in either record. That none was seen does not say that there is none.",
                "どちらの記録にも疵はない。認められなかったことは、疵がないことを意味しない。",
            ),
            style::BODY,
        );
        return;
    }
    flow.say(
        &pair(
            "A flaw keeps its key from record to record. One that is no longer recorded may have been worked out, or not been seen again: read it beside what was examined.",
            "疵の管理番号は記録を通じて変わらない。記録されなくなった疵は、作業で除かれた場合と、再び認められなかった場合がある。調査した箇所と併せて読むこと。",
        ),
        style::NOTE,
    );
    flow.y += 0.8;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("flaw", "疵"), Width::Share(1.2)),
        column(&pair("before", "前"), Width::Share(1.0)),
        column(&pair("after", "後"), Width::Share(1.0)),
        column(&pair("what became of it", "経過"), Width::Share(0.9)),
    ]);
    for row in &rows {
        let Some(flaw) = row.after.or(row.before) else {
            continue;
        };
        let mut name = words::term(speech, flaw.kind);
        name.push(Span::quiet(format!(
            "\n{} · {} · {}",
            flaw.id,
            words::short(speech, flaw.zone),
            words::quantity(&flaw.at)
        )));
        table.rows.push(vec![
            Cell(name),
            state(speech, row.before),
            state(speech, row.after),
            Cell(fate(speech, row)),
        ]);
    }
    flow.table(&table);
}

fn state(speech: Speech, flaw: Option<&Flaw>) -> Cell {
    flaw.map_or_else(
        || Cell::plain(words::NOTHING),
        |flaw| {
            let mut spans = vec![Span::figures(flaws::size(speech, flaw))];
            spans.push(Span::quiet(format!(
                "\n{}",
                speech.text(&words::gloss(flaw.standing))
            )));
            Cell(spans)
        },
    )
}

fn fate(speech: Speech, row: &Row<'_>) -> Vec<Span> {
    let said = match row.fate() {
        Fate::Gone => pair("no longer recorded", "記録なし"),
        Fate::Stayed => pair("still there", "残存"),
        Fate::New => pair("newly recorded", "新たに記録"),
        Fate::RuledOut => pair("ruled out", "再調査で認められず"),
    };
    let mut spans = words::bold(speech.label(&said));
    if let (Some(before), Some(after)) = (row.before, row.after) {
        for (name, first, second) in [
            (pair("length", "長さ"), &before.length, &after.length),
            (pair("depth", "深さ"), &before.depth, &after.depth),
        ] {
            let (Some(first), Some(second)) = (first, second) else {
                continue;
            };
            let change = Estimate::from(&**second) - Estimate::from(&**first);
            let digits = first.value.digits().max(second.value.digits());
            spans.push(Span::figures(format!(
                "\n{} {}",
                speech.text(&name),
                stated(change, digits.into(), second.unit)
            )));
        }
    }
    spans
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::sample;

    #[test]
    fn flaws_go_stay_and_appear_by_their_key() {
        let before = sample::sword().record;
        let mut after = before.clone();
        after.flaws.retain(|flaw| flaw.id.to_string() != "f-5");
        let mut new = before.flaws[0].clone();
        new.id = serde_json::from_value("f-99".into()).unwrap();
        after.flaws.push(new);
        let fates: Vec<(String, Fate)> = rows(&before, &after)
            .iter()
            .map(|row| {
                let flaw = row.after.or(row.before).unwrap();
                (flaw.id.to_string(), row.fate())
            })
            .collect();
        let of = |id: &str| fates.iter().find(|(key, _)| key == id).unwrap().1;
        assert_eq!(of("f-1"), Fate::Stayed);
        assert_eq!(of("f-5"), Fate::Gone);
        assert_eq!(of("f-7"), Fate::RuledOut);
        assert_eq!(of("f-99"), Fate::New);
    }
}
