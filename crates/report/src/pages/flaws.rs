//! The list of flaws, numbered as on the map.

use tangmark_core::record::{Flaw, Record, Sighting};

use super::words;
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    titled(flow, record, &pair("Flaws · kizu 疵", "疵"));
}

/// Sets the flaws, with every look at each, under a heading.
pub(super) fn titled(flow: &mut Flow, record: &Record, title: &Pair) {
    if record.flaws.is_empty() {
        words::heading(flow, title, 20.0);
        flow.say(
            &pair(
                "No flaw is in this record. That none was seen does not say that there is none.",
                "この記録に疵はない。認められなかったことは、疵がないことを意味しない。",
            ),
            style::BODY,
        );
        return;
    }
    let table = table(flow.speech, &record.flaws);
    let keep = table.start() + 8.0;
    words::heading(flow, title, keep);
    flow.say(
        &pair(
            "Numbers as on the map. How much a flaw matters the checks say below, not this list.",
            "番号は刀身図と同じ。疵の軽重はこの表ではなく「検査が求めること」に記す。",
        ),
        style::NOTE,
    );
    flow.y += 0.8;
    words::table(flow, table);
}

fn table(speech: Speech, flaws: &[Flaw]) -> Table {
    let column = |title: &Pair, width| words::column(speech, title, width);
    // Japanese says the measure before the number; both say a word on either side.
    let size_width = match speech {
        Speech::English => 35.0,
        Speech::Japanese => 38.0,
        Speech::Both => 42.0,
    };
    let mut table = Table::new(vec![
        column(&pair("no.", "番号"), Width::Fixed(7.0)),
        column(&pair("kind", "種類"), Width::Share(1.0)),
        column(&pair("zone, face", "部位・面"), Width::Fixed(18.0)),
        words::numbers(
            speech,
            &pair("from datum, mm", "起点から mm"),
            Width::Fixed(21.0),
        ),
        column(&pair("size", "大きさ"), Width::Fixed(size_width)),
        column(
            &pair("standing and looks", "確認の程度・調査"),
            Width::Share(1.9),
        ),
    ]);
    for (index, flaw) in flaws.iter().enumerate() {
        let mut kind = words::term(speech, flaw.kind);
        kind.push(Span::quiet(format!("\n{}", flaw.id)));
        let mut places = vec![words::two_lines(speech, &words::name(flaw.zone))];
        places.extend(flaw.faces.iter().map(|face| words::short(speech, *face)));
        table.rows.push(vec![
            Cell(vec![Span {
                weight: Some(crate::font::Weight::Bold),
                ..Span::figures((index + 1).to_string())
            }]),
            Cell(kind),
            Cell::plain(places.join("\n")),
            Cell::figures(words::bare(&flaw.at)),
            Cell::figures(size(speech, flaw)),
            Cell(standing(speech, flaw)),
        ]);
    }
    table
}

pub(super) fn size(speech: Speech, flaw: &Flaw) -> String {
    let lengths = [
        (&flaw.length, "long", "長さ"),
        (&flaw.width, "wide", "幅"),
        (&flaw.depth, "deep", "深さ"),
        (&flaw.from_edge, "from the edge", "刃先から"),
    ];
    let mut parts: Vec<String> = lengths
        .into_iter()
        .filter_map(|(length, english, japanese)| {
            let length = words::quantity(length.as_ref()?);
            Some(match speech {
                Speech::English => format!("{length} {english}"),
                Speech::Japanese => format!("{japanese} {length}"),
                // The number once, between the two words.
                Speech::Both => format!("{japanese} {length} {english}"),
            })
        })
        .collect();
    parts.extend(flaw.area.as_ref().map(|area| {
        let name = speech.text(&pair("area", "面積"));
        format!("{name} {}", words::quantity(area))
    }));
    parts.extend(
        flaw.count
            .map(|count| speech.text(&pair(format!("{count} of them"), format!("{count} 箇所")))),
    );
    if parts.is_empty() {
        speech.text(&pair("not measured", "未計測"))
    } else {
        parts.join("\n")
    }
}

fn standing(speech: Speech, flaw: &Flaw) -> Vec<Span> {
    let mut spans = words::bold(speech.label(&words::gloss(flaw.standing)));
    let semicolon = words::semicolon(speech);
    let progress = words::gloss(flaw.progress);
    spans.push(Span::plain(semicolon));
    spans.extend(speech.label(&pair(
        format!("progress: {}", progress.en),
        format!("進行：{}", progress.ja),
    )));
    if let Some(through) = flaw.through_temper {
        spans.push(Span::plain(semicolon));
        spans.extend(speech.label(&if through {
            pair("through the temper line", "刃文を越える")
        } else {
            pair("not through the temper line", "刃文を越えない")
        }));
    }
    for look in &flaw.sightings {
        spans.push(Span::quiet(format!("\n{}", sighting(speech, look))));
    }
    if let Some(cause) = &flaw.cause {
        let name = speech.text(&pair("cause, an opinion", "原因（見解）"));
        spans.push(Span::plain(format!(
            "\n{name}{}{cause}",
            words::colon(speech)
        )));
    }
    if let Some(note) = &flaw.note {
        spans.push(Span::plain(format!("\n{note}")));
    }
    if !flaw.photos.is_empty() {
        spans.push(Span::quiet(format!(
            "\n{} {}",
            speech.text(&pair("photo", "写真")),
            keys(speech, &flaw.photos)
        )));
    }
    spans
}

/// One look in one line; in both languages two lines, the Japanese without what it would say again.
fn sighting(speech: Speech, look: &Sighting) -> String {
    let english = || {
        let face = look.face.map_or_else(String::new, |face| {
            format!(", {}", words::short(Speech::English, face))
        });
        let photos = if look.photos.is_empty() {
            String::new()
        } else {
            format!(", photo {}", keys(Speech::English, &look.photos))
        };
        format!(
            "{}: {} with {}, {}{face}, by {}{photos}",
            look.on,
            words::gloss(look.outcome).en,
            words::gloss(look.method).en,
            look.light,
            words::gloss(look.by).en
        )
    };
    let japanese = |whole: bool| {
        let mut parts = vec![format!(
            "{}：{}",
            words::gloss(look.method).ja,
            words::gloss(look.outcome).ja
        )];
        if whole {
            parts.push(look.light.clone());
        }
        parts.extend(look.face.map(|face| words::short(Speech::Japanese, face)));
        parts.push(words::gloss(look.by).ja.into_owned());
        if whole && !look.photos.is_empty() {
            parts.push(format!("写真 {}", keys(Speech::Japanese, &look.photos)));
        }
        parts.join("、")
    };
    match speech {
        Speech::English => english(),
        Speech::Japanese => format!("{} {}", look.on, japanese(true)),
        Speech::Both => format!("{}\n{}", english(), japanese(false)),
    }
}

fn keys(speech: Speech, list: &[tangmark_core::record::Key]) -> String {
    list.iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join(words::comma(speech))
}
