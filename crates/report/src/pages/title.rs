//! Page 1: which blade, what was decided, the chief measures and the map.

use tangmark_core::record::{Level, Pass, Purpose, Quantity, Record, Verdict};
use tangmark_measure::weighing::{self, Place};

use super::{Content, panel, stops, words};
use crate::{
    font::Weight,
    layout::{Align, Cell, Column, Flow, Span, Style, Table, Width, style},
    scene::Role,
    speech::{Pair, pair},
};

/// Text of the list under the title: small enough for a whole digest on one line.
const SMALL: Style = Style {
    size: 7.0,
    leading: 3.5,
    ..style::CELL
};

/// Sizes of the title that are tried: one that is a little too long is set a little smaller, not on a second line.
const TITLES: [Style; 3] = [
    style::TITLE,
    Style {
        size: 17.0,
        leading: 7.7,
        ..style::TITLE
    },
    Style {
        size: 15.0,
        leading: 6.8,
        ..style::TITLE
    },
];

/// Sets the line above the title, the title, what kind of blade it is, and who issued the record.
pub(super) fn head(flow: &mut Flow, content: &Content<'_>, eyebrow: &Pair) {
    name(flow, content.record, eyebrow);
    flow.y += 1.6;
    let speech = flow.speech;
    let record = content.record;
    let mut table = Table::pairs(30.0);
    table.padding = 0.55;
    table.style = SMALL;
    let mut say = |name: Pair, value: Vec<Span>| words::row(&mut table, speech, &name, value);
    let own_clock = pair("by the issuer's own clock", "発行者の時計による");
    say(
        pair("issued by", "発行者"),
        vec![Span::plain(record.issuer.name.clone())],
    );
    say(
        pair("key fingerprint", "鍵の指紋"),
        vec![Span::figures(content.fingerprint)],
    );
    say(
        pair("issued on", "発行日時"),
        vec![
            Span::figures(words::moment(speech, record.issued_at.as_str())),
            Span::quiet(format!(" {}", speech.text(&own_clock))),
        ],
    );
    say(
        pair("record", "記録"),
        vec![Span::figures(words::digest(&content.name))],
    );
    if let Some(previous) = &record.previous {
        say(
            pair("record before", "前の記録"),
            vec![Span::figures(words::digest(previous))],
        );
    }
    words::names_on_one_line(&mut table, speech, 38.0);
    flow.table(&table);
}

/// Sets the line above the title, the title, and what kind of blade it is.
pub(super) fn name(flow: &mut Flow, record: &Record, eyebrow: &Pair) {
    let speech = flow.speech;
    flow.section = Some(flow.scene.add_node(Role::Section, None));
    let capitals = pair(eyebrow.en.to_uppercase(), eyebrow.ja.clone());
    flow.paragraph(&speech.label(&capitals), style::EYEBROW);
    flow.y += 1.2;
    let width = flow.frame.text_width();
    let title = [Span::plain(record.blade.title.clone())];
    let style = TITLES
        .into_iter()
        .find(|style| flow.lines(&title, *style, width).len() == 1)
        .unwrap_or(style::TITLE);
    let lines = flow.lines(&title, style, width);
    let node = flow.node(Role::Heading1);
    let left = flow.frame.left;
    flow.set_lines(node, &lines, style, left);
    flow.y += 0.8;
    let mut kind = words::term(speech, record.blade.kind_by_make);
    kind.push(Span::plain(" · "));
    kind.extend(words::term(speech, record.blade.construction));
    // Readings stand above their words: they must not touch the title.
    if kind.iter().any(|span| span.ruby.is_some()) {
        flow.y += 1.2;
    }
    flow.paragraph(&kind, style::BODY);
}

/// How many findings of each level there are, as a sentence.
fn tally(record: &Record) -> Pair {
    let count = |level| {
        record
            .findings
            .iter()
            .filter(|finding| finding.level == level)
            .count()
    };
    let (stop, caution, info) = (
        count(Level::Stop),
        count(Level::Caution),
        count(Level::Info),
    );
    let all = stop + caution + info;
    if all == 0 {
        return pair("No finding is in this record.", "この記録に所見はない。");
    }
    let verb = |number: usize, verb: &str| match number {
        0 => format!("none {verb}s"),
        1 => format!("1 {verb}s"),
        _ => format!("{number} {verb}"),
    };
    let findings = if all == 1 { "finding" } else { "findings" };
    pair(
        format!(
            "Of {all} {findings} of the checks {} to stop, {} for caution and {}.",
            verb(stop, "ask"),
            verb(caution, "ask"),
            verb(info, "inform"),
        ),
        format!(
            "検査の所見は {all} 件。停止を求めるもの {stop} 件、注意を促すもの {caution} 件、参考 {info} 件。"
        ),
    )
}

/// The panel that says what happens with the blade, with everything that must stand on page 1.
pub(super) fn decision(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    flow.gap(5.0);
    let speech = flow.speech;
    let mut blocks: Vec<(Vec<Span>, Style)> = Vec::new();
    let said = |blocks: &mut Vec<(Vec<Span>, Style)>, words: &Pair, style| {
        blocks.extend(
            words::sentences(speech, words)
                .into_iter()
                .map(|spans| (spans, style)),
        );
    };
    match &record.decision {
        Some(decision) => {
            let gloss = words::gloss(decision.verdict);
            let done = record.purpose == Purpose::AfterWork && decision.verdict == Verdict::Work;
            let verdict = if done {
                pair("Work done", "作業済み")
            } else {
                pair(words::capital(&gloss.en), gloss.ja)
            };
            blocks.push((speech.label(&verdict), style::VERDICT));
            blocks.push((vec![Span::plain(decision.reason.clone())], style::BODY));
            let by = speech.text(&pair("decided by", "判断者"));
            blocks.push((
                vec![
                    Span::quiet(format!("{by}{}", words::colon(speech))),
                    Span::plain(decision.by.clone()),
                ],
                style::CELL,
            ));
        }
        None => blocks.push((
            speech.label(&pair(
                "No decision in this record",
                "この記録に判断の記載はない",
            )),
            style::VERDICT,
        )),
    }
    said(&mut blocks, &tally(record), style::CELL);
    blocks.extend(stops::stops(content));
    blocks.extend(stops::overrides(speech, record));
    panel::set(flow, &blocks);
}

/// A measure that people ask for first.
pub(super) struct Chief<'r> {
    /// Name, in the shape of a column's title.
    pub(super) name: Pair,
    /// Its day, where that is not the one of the examination.
    pub(super) on: Option<String>,
    pub(super) quantity: &'r Quantity,
}

/// The measures that people ask for first.
pub(super) fn chief(record: &Record) -> Vec<Chief<'_>> {
    let Some(dimensions) = &record.dimensions else {
        return Vec::new();
    };
    let list = [
        (
            pair("blade length\nnagasa 長さ", "長さ"),
            dimensions.blade_length.as_deref(),
        ),
        (
            pair("curvature\nsori 反り", "反り"),
            dimensions.curvature.as_deref(),
        ),
        (
            pair("width at the base\nmotohaba 元幅", "元幅"),
            dimensions.width_at_base.as_deref(),
        ),
        (
            pair("thickness at the base\nmotokasane 元重", "元重"),
            dimensions.thickness_at_base.as_deref(),
        ),
    ];
    list.into_iter()
        .filter_map(|(name, quantity)| {
            Some(Chief {
                name,
                on: None,
                quantity: quantity?,
            })
        })
        .chain(last_mass(record))
        .collect()
}

/// The last mass that the record tells: of the examination, or after a pass since, which is then named with its day.
fn last_mass(record: &Record) -> Option<Chief<'_>> {
    let examined = |quantity| Chief {
        name: pair("mass", "質量"),
        on: None,
        quantity,
    };
    let passes: Vec<&Pass> = record.passes.iter().collect();
    let all = weighing::of_records(std::iter::once(record), &passes);
    let Some(last) = all.last() else {
        let mass = record.dimensions.as_ref()?.mass.as_deref()?;
        return Some(examined(mass));
    };
    let (pass, side, of) = match last.place {
        Place::Record(_) | Place::Sheet => return Some(examined(&last.mass.0)),
        Place::Before(pass) => (pass, "before", "前"),
        Place::After(pass) => (pass, "after", "後"),
    };
    let Pass { id, on, .. } = passes[pass];
    Some(Chief {
        name: pair(
            format!("mass {side} pass {id}"),
            format!("質量（工程 {id} の{of}）"),
        ),
        on: Some(on.to_string()),
        quantity: &last.mass.0,
    })
}

/// Sets the chief measures side by side.
pub(super) fn chief_measures(flow: &mut Flow, record: &Record) {
    let known = chief(record);
    if known.is_empty() {
        return;
    }
    flow.gap(5.0);
    let speech = flow.speech;
    let columns = known
        .iter()
        .map(|Chief { name, on, .. }| Column {
            title: std::iter::once(words::two_lines(speech, name))
                .chain(on.clone())
                .collect::<Vec<_>>()
                .join("\n"),
            width: Width::Share(1.0),
            align: Align::Left,
        })
        .collect();
    let mut table = Table::new(columns);
    table.style = Style {
        size: 9.6,
        leading: 4.8,
        ..style::CELL
    };
    let value = |quantity: &Quantity| {
        let (value, uncertainty) =
            words::value_and_uncertainty(quantity.value, quantity.standard_uncertainty);
        let value = Span {
            weight: Some(Weight::Bold),
            ..Span::figures(words::join(value, quantity.unit))
        };
        let uncertainty = Span {
            colour: Some(style::SLATE),
            ..Span::figures(format!("\n±\u{a0}{uncertainty}"))
        };
        Cell(vec![value, uncertainty])
    };
    let cells = known.iter().map(|chief| value(chief.quantity));
    table.rows.push(cells.collect());
    flow.table(&table);
}

#[cfg(test)]
mod mass_tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    #[test]
    fn the_last_weighing_is_shown_with_its_pass() {
        let read = |value: &str| json!({ "value": value, "unit": "g", "standard_uncertainty": "0.12", "uncertainty_from": "instrument", "as_read": [{ "text": value, "unit": "g" }] });
        let mut record: Record = serde_json::from_value(crate::sample::bare()).unwrap();
        record.examination = None;
        let dimensions =
            json!({ "datum": "back_notch", "mass": read("712.40"), "mass_state": "bare" });
        record.dimensions = Some(serde_json::from_value(dimensions).unwrap());
        record.passes.clear();
        let shown = |record: &Record| {
            let last = chief(record).pop().unwrap();
            let said = [last.name.en.into_owned(), last.quantity.value.to_string()];
            (said, last.on)
        };
        let said = |name: &str, value: &str| [name.to_owned(), value.to_owned()];
        assert_eq!(shown(&record), (said("mass", "712.40"), None));
        let pass = json!({ "id": "p1", "on": "2026-04-01", "operation": "grind", "zones": ["ground"], "after": { "mass": read("702.00") } });
        record.passes = vec![serde_json::from_value(pass).unwrap()];
        assert_eq!(
            shown(&record),
            (
                said("mass after pass p1", "702.00"),
                Some("2026-04-01".to_owned())
            )
        );
    }
}
