//! Plan and passes.

use tangmark_core::record::{Abrasive, Etch, Face, Pass, PassReadings, Plan, Quantity, Record};

use super::words;
use crate::{
    Speech,
    drawing::passes_of,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    let title = pair("Work", "作業");
    if record.plan.is_none() && record.passes.is_empty() {
        words::heading(flow, &title, 12.0);
        flow.say(
            &pair(
                "No plan and no pass is in this record.",
                "この記録に計画も工程もない。",
            ),
            style::BODY,
        );
        return;
    }
    words::heading(flow, &title, 24.0);
    if let Some(plan) = &record.plan {
        set_plan(flow, plan);
    }
    passes(flow, record, &[]);
}

fn set_plan(flow: &mut Flow, plan: &Plan) {
    let speech = flow.speech;
    let mut table = Table::pairs(46.0);
    if let Some(budget) = &plan.steel_budget {
        words::row(
            &mut table,
            speech,
            &pair("steel that may go in all", "研ぎ減らしてよい鋼の総量"),
            vec![Span::plain(words::quantity(budget))],
        );
    }
    if let Some(thinnest) = &plan.thinnest {
        words::row(
            &mut table,
            speech,
            &pair("thinnest at the ridge", "鎬重の下限"),
            vec![Span::plain(words::quantity(thinnest))],
        );
    }
    words::row(
        &mut table,
        speech,
        &pair("what the limits rest on", "限度の根拠"),
        vec![Span::plain(plan.basis.clone())],
    );
    words::table(flow, table);
    stages(flow, plan);
}

fn stages(flow: &mut Flow, plan: &Plan) {
    if plan.stages.is_empty() {
        return;
    }
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let numbers = |title: &Pair| words::numbers(speech, title, Width::Fixed(24.0));
    let mut table = Table::new(vec![
        column(&pair("no.", "番号"), Width::Fixed(7.0)),
        column(&pair("operation", "作業"), Width::Share(1.0)),
        column(&pair("abrasive", "砥石・研磨材"), Width::Share(1.3)),
        column(&pair("zones", "部位"), Width::Share(0.8)),
        numbers(&pair("steel, g", "鋼 g")),
        numbers(&pair("time, min", "時間 min")),
    ]);
    let figures = |quantity: Option<&Quantity>| {
        quantity.map_or_else(
            || Cell::plain(words::NOTHING),
            |quantity| Cell::figures(words::bare(quantity)),
        )
    };
    for (index, stage) in plan.stages.iter().enumerate() {
        table.rows.push(vec![
            Cell::figures((index + 1).to_string()),
            Cell(words::term(speech, stage.operation)),
            Cell::plain(with(speech, stage.abrasive.as_ref())),
            Cell::plain(words::shorts(speech, &stage.zones)),
            figures(stage.steel.as_deref()),
            figures(stage.time.as_deref()),
        ]);
    }
    words::read_once(&mut table);
    words::headed_table(flow, &pair("Planned stages", "計画した工程"), &table);
}

/// Sets the passes of a record and of those before it that are given.
pub(super) fn passes(flow: &mut Flow, record: &Record, earlier: &[Record]) {
    let passes = passes_of(record, earlier);
    if passes.is_empty() {
        flow.gap(2.0);
        let none = if earlier.is_empty() {
            pair("No pass is in this record.", "この記録に工程はない。")
        } else {
            pair("No pass is in these records.", "これらの記録に工程はない。")
        };
        flow.say(&none, style::BODY);
        return;
    }
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("pass", "工程"), Width::Fixed(21.0)),
        column(&pair("operation", "作業"), Width::Share(1.0)),
        column(&pair("abrasive", "砥石・研磨材"), Width::Share(1.1)),
        column(&pair("zones and faces", "部位・面"), Width::Share(0.9)),
        words::numbers(
            speech,
            &pair("mass before, after, g", "質量 前・後 g"),
            Width::Fixed(26.0),
        ),
        column(&pair("remarks", "備考"), Width::Share(1.3)),
    ]);
    for pass in &passes {
        let under_hold = earlier
            .iter()
            .chain([record])
            .flat_map(|record| &record.worked_under_hold)
            .any(|entry| entry.pass == pass.id);
        table.rows.push(vec![
            Cell(vec![Span::figures(format!("{}\n{}", pass.id, pass.on))]),
            Cell(words::term(speech, pass.operation)),
            Cell::plain(with(speech, pass.abrasive.as_ref())),
            Cell::plain(format!(
                "{}{}{}",
                words::shorts(speech, &pass.zones),
                words::semicolon(speech),
                faces(speech, &pass.faces)
            )),
            Cell::figures(masses(pass)),
            Cell(remarks(speech, pass, under_hold)),
        ]);
    }
    words::read_once(&mut table);
    words::headed_table(flow, &pair("Passes", "工程"), &table);
    for pass in &passes {
        let id = &pass.id;
        let readings = [
            (
                pair(
                    format!("Stations before pass {id}"),
                    format!("工程 {id} 前の測点"),
                ),
                &pass.before,
            ),
            (
                pair(
                    format!("Stations after pass {id}"),
                    format!("工程 {id} 後の測点"),
                ),
                &pass.after,
            ),
        ];
        for (title, readings) in readings {
            if let Some(readings) = readings {
                super::dimensions::station_table(flow, &title, &readings.stations);
            }
        }
    }
}

fn faces(speech: Speech, faces: &[Face]) -> String {
    if faces.is_empty() {
        speech.text(&pair("both faces", "両面"))
    } else {
        words::shorts(speech, faces)
    }
}

fn masses(pass: &Pass) -> String {
    let mass = |readings: Option<&PassReadings>| {
        readings
            .and_then(|readings| readings.mass.as_deref())
            .map_or_else(|| words::NOTHING.to_owned(), words::bare)
    };
    if pass.before.is_none() && pass.after.is_none() {
        words::NOTHING.to_owned()
    } else {
        format!(
            "{}\n{}",
            mass(pass.before.as_ref()),
            mass(pass.after.as_ref())
        )
    }
}

fn remarks(speech: Speech, pass: &Pass, under_hold: bool) -> Vec<Span> {
    let mut lines: Vec<Vec<Span>> = Vec::new();
    if under_hold {
        let said = pair("worked under hold", "停止中の作業");
        lines.push(words::bold(speech.label(&said)));
    }
    lines.extend(
        pass.strokes.map(|strokes| {
            speech.label(&pair(format!("{strokes} strokes"), format!("{strokes} 回")))
        }),
    );
    let mut plain = |text: Option<String>| {
        lines.extend(text.map(|text| vec![Span::plain(text)]));
    };
    plain(pass.time.as_deref().map(words::quantity));
    plain(pass.etch.as_ref().map(|used| {
        format!(
            "{}{}{}",
            speech.text(&pair("etch", "腐食")),
            words::colon(speech),
            etch(speech, used)
        )
    }));
    plain(pass.note.clone());
    if lines.is_empty() {
        return vec![Span::plain(words::NOTHING)];
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

/// An etch in one line.
pub(super) fn etch(speech: Speech, etch: &Etch) -> String {
    let mut parts = vec![etch.agent.clone()];
    parts.extend(etch.concentration.as_deref().map(words::quantity));
    parts.extend(etch.time.as_deref().map(words::quantity));
    let steps = [
        (etch.neutralised, "neutralised", "中和"),
        (etch.rinsed, "rinsed", "水洗"),
        (etch.dried, "dried", "乾燥"),
    ];
    let steps: Vec<String> = steps
        .into_iter()
        .map(|(done, english, japanese)| {
            speech.text(&if done {
                pair(english, format!("{japanese}済み"))
            } else {
                pair(format!("not {english}"), format!("{japanese}せず"))
            })
        })
        .collect();
    let comma = words::comma(speech);
    format!(
        "{}{}{}",
        parts.join(comma),
        words::semicolon(speech),
        steps.join(comma)
    )
}

fn with(speech: Speech, used: Option<&Abrasive>) -> String {
    used.map_or_else(|| words::NOTHING.to_owned(), |used| abrasive(speech, used))
}

fn abrasive(speech: Speech, abrasive: &Abrasive) -> String {
    let mut parts = vec![abrasive.name.clone()];
    parts.extend(abrasive.stage.map(|stage| words::short(speech, stage)));
    parts.push(speech.text(&words::gloss(abrasive.origin)));
    parts.extend(abrasive.grit.as_ref().map(|grit| {
        let system = speech.text(&words::gloss(grit.system));
        if speech == Speech::Japanese {
            format!("{}（{system}）", grit.number)
        } else {
            format!("{} ({system})", grit.number)
        }
    }));
    parts.extend(abrasive.d50.as_deref().map(|median| {
        let name = speech.text(&pair("median grain", "平均粒径（中央値）"));
        format!("{name} {}", words::quantity(median))
    }));
    parts.join(words::comma(speech))
}
