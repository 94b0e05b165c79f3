//! Tang, temper line and grain.

use tangmark_core::record::{Inscription, Quantity, Record, Stretch, Tang, TemperLine};

use super::words;
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Tang · nakago 茎", "茎"), 20.0);
    match &record.tang {
        Some(tang) => set_tang(flow, tang),
        None => flow.say(
            &pair(
                "The tang is not described in this record.",
                "この記録に茎の記述はない。",
            ),
            style::BODY,
        ),
    }
    words::heading(
        flow,
        &pair(
            "Temper line · hamon 刃文, and grain · jihada 地肌",
            "刃文・地肌",
        ),
        20.0,
    );
    match &record.temper_line {
        Some(temper) => set_temper(flow, temper),
        None => flow.say(
            &pair(
                "The temper line is not described in this record.",
                "この記録に刃文の記述はない。",
            ),
            style::BODY,
        ),
    }
    set_grain(flow, record);
}

/// A list of pairs being filled.
struct Pairs {
    speech: Speech,
    table: Table,
}

impl Pairs {
    fn new(speech: Speech) -> Self {
        Self {
            speech,
            table: Table::pairs(46.0),
        }
    }

    fn say(&mut self, english: &'static str, japanese: &'static str, value: Vec<Span>) {
        words::row(
            &mut self.table,
            self.speech,
            &pair(english, japanese),
            value,
        );
    }
}

fn set_grain(flow: &mut Flow, record: &Record) {
    let Some(grain) = &record.grain else {
        flow.gap(1.0);
        flow.say(
            &pair(
                "The grain is not described in this record.",
                "この記録に地肌の記述はない。",
            ),
            style::BODY,
        );
        return;
    };
    let mut pairs = Pairs::new(flow.speech);
    pairs.say(
        "grain, the dominant first",
        "地肌（主なものから）",
        words::terms(flow.speech, &grain.families),
    );
    if let Some(note) = &grain.note {
        pairs.say(
            "remarks on the grain",
            "地肌についての備考",
            vec![Span::plain(note.clone())],
        );
    }
    words::table(flow, pairs.table);
}

fn set_tang(flow: &mut Flow, tang: &Tang) {
    let speech = flow.speech;
    let mut pairs = Pairs::new(speech);
    pairs.say("state", "状態", words::term(speech, tang.state));
    pairs.say("form", "形", words::term(speech, tang.shape));
    if let Some(end) = tang.end {
        pairs.say("end · nakagojiri 茎尻", "茎尻", words::term(speech, end));
    }
    if let Some(marks) = tang.file_marks {
        let mut value = words::term(speech, marks);
        if tang.decorated_file_marks {
            value.push(Span::plain(" · "));
            value.extend(speech.label(&pair(
                "decorated at the top (kesho yasuri 化粧鑢)",
                "化粧鑢",
            )));
        }
        pairs.say("file marks · yasurime 鑢目", "鑢目", value);
    }
    if let Some(marks) = tang.older_file_marks {
        pairs.say("older file marks", "古い鑢目", words::term(speech, marks));
    }
    if let Some(runs_in) = tang.temper_runs_in {
        pairs.say(
            "temper line runs into the tang",
            "茎への焼込み",
            speech.label(&words::yes_no(runs_in)),
        );
    }
    if let Some(patina) = &tang.patina {
        pairs.say(
            "patina, never cleaned",
            "茎の錆（除去しない）",
            vec![Span::plain(patina.clone())],
        );
    }
    let holes = tang.holes.len();
    let plugged = tang.holes.iter().filter(|hole| hole.plugged).count();
    let counted = if holes == 0 {
        pair("none recorded", "記載なし")
    } else {
        pair(
            format!("{holes}, of which {plugged} plugged"),
            format!("{holes}（うち埋め {plugged}）"),
        )
    };
    pairs.say(
        "peg holes · mekugi-ana 目釘孔",
        "目釘孔",
        speech.label(&counted),
    );
    words::table(flow, pairs.table);
    holes_table(flow, tang);
    inscriptions(flow, &tang.inscriptions);
}

fn figures(quantity: &Quantity) -> Cell {
    Cell::figures(words::bare(quantity))
}

fn holes_table(flow: &mut Flow, tang: &Tang) {
    if tang.holes.is_empty() {
        return;
    }
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, Width::Fixed(width));
    let numbers = |title: &Pair, width| words::numbers(speech, title, Width::Fixed(width));
    flow.gap(2.4);
    let mut table = Table::new(vec![
        column(&pair("hole", "孔"), 14.0),
        numbers(&pair("from the datum, mm", "起点から mm"), 36.0),
        numbers(&pair("diameter, mm", "径 mm"), 30.0),
        column(&pair("plugged", "埋め"), 20.0),
    ]);
    for (index, hole) in tang.holes.iter().enumerate() {
        let diameter = hole
            .diameter
            .as_deref()
            .map_or_else(|| Cell::plain(words::NOTHING), figures);
        table.rows.push(vec![
            Cell::figures((index + 1).to_string()),
            figures(&hole.at),
            diameter,
            Cell(speech.label(&words::yes_no(hole.plugged))),
        ]);
    }
    flow.table_at(&table, 0.0, 109.0);
}

pub(super) fn inscriptions(flow: &mut Flow, list: &[Inscription]) {
    if list.is_empty() {
        return;
    }
    let speech = flow.speech;
    words::subheading(flow, &pair("Inscriptions · mei 銘", "銘"), 14.0);
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("kind", "種類"), Width::Share(1.0)),
        column(&pair("side", "面"), Width::Fixed(30.0)),
        column(&pair("as read", "銘文"), Width::Share(1.2)),
        column(
            &pair("opinions and remarks", "見解・備考"),
            Width::Share(1.3),
        ),
    ]);
    for entry in list {
        let side = entry.side.map_or_else(
            || speech.label(&words::not_recorded()),
            |side| words::term(speech, side),
        );
        let mut reading: Vec<Span> = entry
            .reading
            .iter()
            .map(|reading| Span::bold(reading.clone()))
            .collect();
        if let Some(latin) = &entry.transliteration {
            let gap = if reading.is_empty() { "" } else { "\n" };
            reading.push(Span::plain(format!("{gap}{latin}")));
        }
        table.rows.push(vec![
            Cell(words::term(speech, entry.kind)),
            Cell(side),
            filled(reading),
            filled(remarks(speech, entry)),
        ]);
    }
    words::table(flow, table);
}

/// A cell that shows that it is empty.
fn filled(spans: Vec<Span>) -> Cell {
    if spans.is_empty() {
        Cell::plain(words::NOTHING)
    } else {
        Cell(spans)
    }
}

/// Opinions on an inscription, each with its author, then remarks.
fn remarks(speech: Speech, entry: &Inscription) -> Vec<Span> {
    let mut spans = Vec::new();
    for opinion in &entry.opinions {
        if !spans.is_empty() {
            spans.push(Span::plain("\n"));
        }
        spans.extend(words::term(speech, opinion.view));
        spans.extend(super::identity::opinion_of(speech, &opinion.author));
        let statement = opinion.statement.as_ref().map_or_else(String::new, |text| {
            format!("{}{text}", words::colon(speech))
        });
        spans.push(Span::plain(format!(
            "{}{}{statement}",
            words::comma(speech),
            opinion.on
        )));
    }
    if let Some(note) = &entry.note {
        let gap = if spans.is_empty() { "" } else { "\n" };
        spans.push(Span::plain(format!("{gap}{note}")));
    }
    spans
}

fn set_temper(flow: &mut Flow, temper: &TemperLine) {
    let speech = flow.speech;
    let mut pairs = Pairs::new(speech);
    pairs.say(
        "visibility",
        "見え方",
        speech.label(&words::gloss(temper.visibility)),
    );
    if !temper.families.is_empty() {
        pairs.say(
            "families, the dominant first",
            "刃文（主なものから）",
            words::terms(speech, &temper.families),
        );
    }
    if let Some(start) = temper.start {
        pairs.say("lower start", "焼出しの状態", words::term(speech, start));
    }
    if let Some(point) = &temper.point {
        let mut value = words::terms(speech, &point.forms);
        if let Some(back) = point.turn_back {
            let name = speech.text(&pair("turn-back (kaeri 返り)", "返り"));
            value.push(Span::plain(format!(" · {name} ")));
            value.extend(words::term(speech, back));
        }
        if let Some(length) = &point.turn_back_length {
            value.push(Span::plain(format!(
                "{}{}",
                words::comma(speech),
                words::quantity(length)
            )));
        }
        pairs.say("in the point · boshi 帽子", "帽子", value);
    }
    if !temper.activities.is_empty() {
        pairs.say(
            "activities · hataraki 働き",
            "働き",
            words::terms(speech, &temper.activities),
        );
    }
    if !temper.breaks.is_empty() {
        pairs.say("missing", "刃文の途切れ", stretches(speech, &temper.breaks));
    }
    if !temper.run_outs.is_empty() {
        pairs.say(
            "runs out into the edge",
            "刃先への駆け出し",
            stretches(speech, &temper.run_outs),
        );
    }
    if let Some(note) = &temper.note {
        pairs.say("remarks", "備考", vec![Span::plain(note.clone())]);
    }
    words::table(flow, pairs.table);
    widths(flow, temper);
}

fn widths(flow: &mut Flow, temper: &TemperLine) {
    if temper.widths.is_empty() {
        return;
    }
    let speech = flow.speech;
    let numbers = |title: &Pair, width| words::numbers(speech, title, Width::Fixed(width));
    flow.gap(2.4);
    let mut table = Table::new(vec![
        numbers(&pair("from the datum, mm", "起点から mm"), 36.0),
        words::column(speech, &pair("face", "面"), Width::Fixed(36.0)),
        numbers(&pair("width from the edge, mm", "刃先からの焼幅 mm"), 40.0),
    ]);
    for width in &temper.widths {
        let face = width.face.map_or_else(
            || speech.label(&pair("both", "両面")),
            |face| words::term(speech, face),
        );
        table
            .rows
            .push(vec![figures(&width.at), Cell(face), figures(&width.width)]);
    }
    flow.table_at(&table, 0.0, 118.0);
    flow.gap(2.4);
}

fn stretches(speech: Speech, list: &[Stretch]) -> Vec<Span> {
    let text: Vec<String> = list
        .iter()
        .map(|stretch| {
            let (from, to) = (&stretch.from, &stretch.to);
            let (from, to) = (
                words::with_unit(from.value, from.unit),
                words::with_unit(to.value, to.unit),
            );
            let face = stretch.face;
            let english = face.map_or_else(String::new, |face| {
                format!(" on {}", words::short(Speech::English, face))
            });
            let japanese = face.map_or_else(String::new, |face| {
                format!("（{}）", words::short(Speech::Japanese, face))
            });
            match speech {
                Speech::English => format!("{from} to {to}{english}"),
                Speech::Japanese => format!("{from}～{to}{japanese}"),
                // The face has its kanji beside it.
                Speech::Both => format!("{from} – {to}{english}"),
            }
        })
        .collect();
    vec![Span::plain(text.join(words::semicolon(speech)))]
}
