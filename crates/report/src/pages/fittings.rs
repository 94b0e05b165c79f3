//! Fittings: what they are, whether they belong to the blade, and what was measured for the fit.

use tangmark_core::record::{Fitting, Record};

use super::words;
use crate::{
    Speech,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Fittings · tosogu 刀装具", "刀装具"), 20.0);
    if record.fittings.is_empty() {
        flow.say(
            &pair("No fitting is in this record.", "この記録に刀装具はない。"),
            style::BODY,
        );
        return;
    }
    let speech = flow.speech;
    let column = |title: &Pair, share| words::column(speech, title, Width::Share(share));
    let mut table = Table::new(vec![
        column(&pair("part", "部位"), 0.9),
        column(&pair("description and condition", "記述・状態"), 1.5),
        column(&pair("materials", "材質"), 1.1),
        column(&pair("belongs to the blade", "刀身との適合"), 0.7),
        column(&pair("protected materials", "規制対象の素材"), 0.9),
    ]);
    table.rows.extend(
        record
            .fittings
            .iter()
            .map(|fitting| fitting_row(speech, fitting)),
    );
    words::table(flow, table);
    flow.gap(1.4);
    flow.say(
        &pair(
            "A look at a list of protected materials is no clearance: ask the authority before a fitting changes hands or crosses a border.",
            "一覧との照合は許可に代わらない。刀装具の引渡しまたは国外への持出し・持込みの前に、官庁に照会すること。",
        ),
        style::NOTE,
    );
}

fn fitting_row(speech: Speech, fitting: &Fitting) -> Vec<Cell> {
    let mut description = vec![Span::plain(fitting.description.clone())];
    if let Some(condition) = &fitting.condition {
        description.push(Span::quiet(format!(
            "\n{}{}{condition}",
            speech.text(&pair("condition", "状態")),
            words::colon(speech)
        )));
    }
    let mut materials = words::terms(speech, &fitting.materials);
    if let Some(evidence) = &fitting.material_evidence {
        let told = match speech {
            Speech::English => "told by ",
            Speech::Japanese => "判断の根拠：",
            Speech::Both => "told by / 判断の根拠：",
        };
        materials.push(Span::quiet(format!("\n{told}{evidence}")));
    }
    let screen = fitting
        .protected
        .map_or_else(|| pair("not looked up", "未照合"), words::gloss);
    let mut screen = words::two_lines(speech, &screen);
    if let Some(list) = &fitting.protected_as_of {
        let said = pair(format!("list of {list}"), format!("{list} の一覧"));
        screen.push_str(words::comma(speech));
        screen.push_str(&speech.text(&said));
    }
    let mut part = words::term(speech, fitting.part);
    part.push(Span::quiet(format!("\n{}", fitting.id)));
    vec![
        Cell(part),
        Cell(description),
        Cell(materials),
        Cell(belongs(speech, fitting)),
        Cell::plain(screen),
    ]
}

/// Whether it belongs to the blade, how it came to it, where it is, and what was measured for the fit.
fn belongs(speech: Speech, fitting: &Fitting) -> Vec<Span> {
    let mut spans = vec![Span::plain(words::two_lines(
        speech,
        &words::gloss(fitting.matched),
    ))];
    let mut add = |words: &Pair| spans.push(Span::quiet(format!("\n{}", speech.text(words))));
    if let Some(origin) = fitting.origin {
        add(&pair(
            format!("origin: {}", words::gloss(origin).en),
            format!("由来：{}", words::gloss(origin).ja),
        ));
    }
    if let Some(kept) = fitting.kept {
        add(&words::gloss(kept));
    }
    let Some(fit) = &fitting.fit else {
        return spans;
    };
    if let Some(at) = &fit.peg_hole_at {
        let at = words::quantity(at);
        add(&pair(
            format!("peg hole {at} from the mouth"),
            format!("目釘孔は口から {at}"),
        ));
    }
    let opening = match (&fit.opening_width, &fit.opening_thickness) {
        (Some(width), Some(thickness)) => {
            let (width, thickness) = (words::quantity(width), words::quantity(thickness));
            Some(pair(
                format!("opening {width} by {thickness}"),
                format!("穴の幅 {width}、厚さ {thickness}"),
            ))
        }
        (Some(width), None) => Some(pair(
            format!("width of the opening {}", words::quantity(width)),
            format!("穴の幅 {}", words::quantity(width)),
        )),
        (None, Some(thickness)) => Some(pair(
            format!("thickness of the opening {}", words::quantity(thickness)),
            format!("穴の厚さ {}", words::quantity(thickness)),
        )),
        (None, None) => None,
    };
    if let Some(opening) = opening {
        add(&opening);
    }
    if let Some(on) = &fit.tried_on {
        add(&pair(
            format!("tried on the blade {on}"),
            format!("合わせた日 {on}"),
        ));
    }
    if let Some(note) = &fit.note {
        spans.push(Span::quiet(format!("\n{note}")));
    }
    spans
}
