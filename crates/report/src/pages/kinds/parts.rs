//! Parts that more than one kind of report has.

use tangmark_core::{
    record::{Flaw, Level, Pass, Photo, Quantity, Record, Registration, Shows},
    units::Unit,
};
use tangmark_measure::{Estimate, weighing};

use super::super::{Content, custody, flaws, photos, title, words};
use crate::{
    Speech,
    compare::{change::lost, quantities::stated},
    drawing::{self, Drawing},
    font::Weight,
    layout::{Cell, Flow, Span, Table, Width, style},
    speech::{Pair, pair},
};

/// Sets the map of the blade, where there is something to show on it.
pub(super) fn map(flow: &mut Flow, record: &Record) {
    if record.dimensions.is_none() && record.flaws.is_empty() {
        return;
    }
    let width = flow.frame.text_width();
    if let Some(map) = drawing::faces(record, width, flow.speech) {
        flow.gap(5.0);
        map.set(flow);
    }
}

/// Starts the annex on a page of its own, where it has something to say.
pub(super) fn annex_page(flow: &mut Flow, record: &Record) {
    let informs = record
        .findings
        .iter()
        .chain(&record.private_findings)
        .any(|finding| finding.level == Level::Info);
    if !informs && record.runs.is_empty() {
        return;
    }
    flow.next_page();
    words::heading(flow, &pair("Annex", "付録"), 12.0);
    flow.say(
        &pair(
            "Findings that ask for nothing, and what the checks worked with: for whoever wants to follow them. They stand in the words of the check.",
            "対応を要しない所見と、検査が用いた資料。検査の過程を確かめる者のために付す。検査の言葉（英語）のまま示す。",
        ),
        style::BODY,
    );
}

/// Sets the flaws in short: number as on the map, kind, place, size and standing.
pub(super) fn flaws_in_short(flow: &mut Flow, flaws: &[Flaw]) {
    let speech = flow.speech;
    if flaws.is_empty() {
        flow.say(
            &pair(
                "No flaw is in this record. That none was seen does not say that there is none.",
                "この記録に疵はない。認められなかったことは、疵がないことを意味しない。",
            ),
            style::BODY,
        );
        return;
    }
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("no.", "番号"), Width::Fixed(9.0)),
        column(&pair("kind", "種類"), Width::Share(1.5)),
        column(&pair("zone, face", "部位・面"), Width::Share(1.0)),
        words::numbers(
            speech,
            &pair("from datum, mm", "起点から mm"),
            Width::Fixed(24.0),
        ),
        column(&pair("size", "大きさ"), Width::Fixed(38.0)),
        column(&pair("standing", "確認の程度"), Width::Share(1.0)),
    ]);
    for (index, flaw) in flaws.iter().enumerate() {
        let mut places = vec![words::short(speech, flaw.zone)];
        places.extend(flaw.faces.iter().map(|face| words::short(speech, *face)));
        table.rows.push(vec![
            Cell(vec![Span {
                weight: Some(Weight::Bold),
                ..Span::figures((index + 1).to_string())
            }]),
            Cell(words::term(speech, flaw.kind)),
            Cell::plain(places.join(words::comma(speech))),
            Cell::figures(words::bare(&flaw.at)),
            Cell::figures(flaws::size(speech, flaw)),
            // Each language on a line of its own: the column is narrow.
            Cell(vec![Span::bold(words::two_lines(
                speech,
                &words::gloss(flaw.standing),
            ))]),
        ]);
    }
    flow.table(&table);
}

/// Sets the passes in short: when, what, with what.
pub(super) fn passes_in_short(flow: &mut Flow, content: &Content<'_>, passes: &[&Pass]) {
    let record = content.record;
    let known = weighings(content.earlier.iter().chain([record]), passes);
    let speech = flow.speech;
    let column = |title: &Pair, width| words::column(speech, title, width);
    let mut table = Table::new(vec![
        column(&pair("on", "日"), Width::Fixed(22.0)),
        column(&pair("operation", "作業"), Width::Share(1.2)),
        column(&pair("with", "用いた物"), Width::Share(1.2)),
        column(&pair("zones", "部位"), Width::Share(1.0)),
        words::numbers(
            speech,
            &pair("steel gone, g", "減った質量 g"),
            Width::Fixed(30.0),
        ),
    ]);
    for (pass, weighed) in passes.iter().zip(known) {
        let with = pass
            .abrasive
            .as_ref()
            .map_or_else(|| words::NOTHING.to_owned(), |used| used.name.clone());
        let gone = weighed.map_or_else(
            || Cell::plain(words::NOTHING),
            |(before, after)| {
                let gone = lost(record, &[(before, after)]);
                Cell::figures(loss(gone, digits(&[(before, after)]), Unit::One))
            },
        );
        table.rows.push(vec![
            Cell::figures(pass.on.to_string()),
            Cell(words::term(speech, pass.operation)),
            Cell::plain(with),
            Cell::plain(words::shorts(speech, &pass.zones)),
            gone,
        ]);
    }
    flow.table(&table);
}

/// Mass before each pass and after it, or nothing where it cannot be told. A pass that was not weighed before began with the
/// last weighing: after the pass before it, else at an examination in `records`.
fn weighings<'a>(
    records: impl Iterator<Item = &'a Record>,
    passes: &[&'a Pass],
) -> Vec<Option<(&'a Quantity, &'a Quantity)>> {
    let all = weighing::of_records(records, passes);
    let read = |place: Option<usize>| Some(&all[place?].mass.0);
    (0..passes.len())
        .map(|pass| {
            let before = read(weighing::before(&all, pass))?;
            Some((before, read(weighing::after(&all, pass))?))
        })
        .collect()
}

/// What all passes together took that were weighed before and after, with its expanded uncertainty; and how many they are.
/// `earlier` are the records before this one.
///
/// Where one pass ends with the reading that the next begins with, that reading drops out of the sum: what went from the
/// first to the last of them is the difference of two weighings.
pub(super) fn steel_gone<'a>(
    record: &'a Record,
    earlier: &'a [Record],
    passes: &[&'a Pass],
) -> Option<(String, usize)> {
    let known = weighings(earlier.iter().chain([record]), passes);
    let weighed: Vec<(&Quantity, &Quantity)> = known.into_iter().flatten().collect();
    let chains = weighed.chunk_by(|first, second| first.1 == second.0);
    let ends: Vec<(&Quantity, &Quantity)> = chains
        .filter_map(|chain| Some((chain.first()?.0, chain.last()?.1)))
        .collect();
    let sum = lost(record, &ends);
    (!weighed.is_empty()).then(|| (loss(sum, digits(&weighed), Unit::Gram), weighed.len()))
}

/// Decimals of the finest of these weighings.
fn digits(weighed: &[(&Quantity, &Quantity)]) -> usize {
    let both = weighed.iter().flat_map(|(before, after)| [before, after]);
    both.map(|mass| mass.value.digits().into())
        .max()
        .unwrap_or(0)
}

/// A loss in grams with its expanded uncertainty; no sign says that it went.
fn loss(gone: Estimate, digits: usize, unit: Unit) -> String {
    stated(gone, digits, unit)
        .trim_start_matches('+')
        .to_owned()
}

/// Sets questions or remarks as the workshop wrote them.
pub(super) fn written(flow: &mut Flow, title: &Pair, items: &[String]) {
    if items.is_empty() {
        return;
    }
    words::subheading(flow, title, 10.0);
    let items: Vec<Vec<Span>> = items
        .iter()
        .map(|item| vec![Span::plain(item.clone())])
        .collect();
    flow.list(&items, style::BODY);
}

/// Sets a drawing under its title.
fn titled(flow: &mut Flow, drawing: Option<Drawing>) {
    let Some(drawing) = drawing else {
        return;
    };
    words::subheading(flow, &drawing.title, 12.0);
    drawing.set(flow);
    flow.gap(1.6);
}

/// Sets the drawings of the blade's shape, each under its title.
pub(super) fn shape(flow: &mut Flow, record: &Record, before: Option<&Record>) {
    let width = flow.frame.text_width();
    let speech = flow.speech;
    titled(flow, drawing::back_and_edge(record, width, speech));
    titled(flow, drawing::sections(record, before, width, speech));
    titled(flow, drawing::curvature(record, width, speech));
    titled(flow, drawing::tang(record, width, speech));
}

/// Sets the chain of custody along time.
pub(super) fn custody_line(flow: &mut Flow, record: &Record) {
    let width = flow.frame.text_width();
    titled(
        flow,
        drawing::custody(&record.blade, &record.custody, width, flow.speech),
    );
}

/// Sets what went along the blade, and the sections with what went of them.
pub(super) fn loss_drawings(flow: &mut Flow, before: &Record, after: &Record) {
    let width = flow.frame.text_width();
    let speech = flow.speech;
    titled(flow, drawing::loss_strip(after, before, width, speech));
    titled(flow, drawing::sections(after, Some(before), width, speech));
}

/// Sets how mass and thickness went from pass to pass.
pub(super) fn pass_history(flow: &mut Flow, content: &Content<'_>) {
    let width = flow.frame.text_width();
    let history = drawing::pass_history(content.record, content.earlier, width, flow.speech);
    titled(flow, history);
}

/// Every chief measure in one line, each with its name.
pub(super) fn chief_in_a_line(speech: Speech, record: &Record) -> Vec<Span> {
    let measures = title::chief(record);
    if measures.is_empty() {
        return speech.label(&words::not_recorded());
    }
    let list: Vec<String> = measures
        .into_iter()
        .map(|title::Chief { name, on, quantity }| {
            let name = pair(name.en.replace('\n', " · "), name.ja);
            let on = on.map_or_else(String::new, |on| format!("{}{on}", words::comma(speech)));
            format!("{} {}{on}", speech.text(&name), words::quantity(quantity))
        })
        .collect();
    let unsure = pair("± U for k = 2", "± は U（k = 2）");
    vec![
        Span::figures(list.join(words::semicolon(speech))),
        Span::quiet(format!(
            "{}{}",
            words::semicolon(speech),
            speech.text(&unsure)
        )),
    ]
}

/// A registration by its existence: kind, authority, day; its number where it is shown.
pub(super) fn registration_in_a_line(speech: Speech, entry: &Registration) -> String {
    // The gloss, since it says of a private paper that it is an opinion.
    let mut parts = vec![speech.text(&words::gloss(entry.kind))];
    parts.push(entry.authority.clone());
    parts.extend(entry.number.clone().or_else(|| {
        (!entry.withheld.is_empty()).then(|| {
            speech.text(&pair(
                "no. withheld or not stated",
                "番号は非開示または記載なし",
            ))
        })
    }));
    parts.extend(entry.on.as_ref().map(ToString::to_string));
    parts.join(words::comma(speech))
}

/// The photos that tell a blade from others: the whole blade, then inscription and tang; with room for more, the fittings
/// too. None higher than `highest` mm, two in a row.
pub(super) fn telling_photos(flow: &mut Flow, content: &Content<'_>, highest: f64, most: usize) {
    // With little room a flaw tells more than nothing; with more, what goes along does. Never papers: numbers stand on them.
    let last: &[Shows] = if most > 2 {
        &[Shows::Fittings]
    } else {
        &[Shows::TemperLine, Shows::Flaw]
    };
    let first = [Shows::Whole, Shows::Inscription, Shows::Tang, Shows::Point];
    let order = first.into_iter().chain(last.iter().copied());
    let of = |shows: Shows| {
        let photos = content.record.photos.iter();
        photos.filter(move |photo| photo.shows == shows)
    };
    let chosen: Vec<&Photo> = order
        .flat_map(of)
        .filter(|photo| photos::at_hand(content, photo))
        .take(most)
        .collect();
    if chosen.is_empty() {
        flow.gap(2.0);
        flow.say(
            &pair(
                "No photograph is in this copy. Without one a blade is hard to find again.",
                "本書に写真はない。写真がなければ刀身の捜索は難しい。",
            ),
            style::BODY,
        );
        return;
    }
    flow.gap(3.0);
    for row in chosen.chunks(2) {
        photos::in_a_row(flow, content, row, highest);
    }
}

/// Sets who held the blade: every event of custody and ownership.
pub(super) fn held(flow: &mut Flow, record: &Record) {
    words::heading(flow, &pair("Who held it", "占有と所有の来歴"), 16.0);
    if record.custody.is_empty() {
        flow.say(
            &pair(
                "No event of custody or ownership is in this record.",
                "この記録に占有または所有の移転の記載はない。",
            ),
            style::BODY,
        );
        return;
    }
    custody::events(flow, &record.custody);
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    fn pass(before: &str, after: &str) -> Pass {
        weighed(before, after, "0.12")
    }

    fn weighed(before: &str, after: &str, uncertainty: &str) -> Pass {
        let mass = |value: &str| json!({ "mass": { "value": value, "unit": "g", "standard_uncertainty": uncertainty, "uncertainty_from": "instrument", "as_read": [{ "text": value, "unit": "g" }] } });
        serde_json::from_value(json!({ "id": "p", "on": "2026-03-09", "operation": "grind", "zones": ["ground"], "before": mass(before), "after": mass(after) })).unwrap()
    }

    /// 748.30 − 742.60 = 5.70 g: neither pass was weighed before, the blade was at its examination.
    #[test]
    fn a_pass_weighed_after_only_began_with_the_last_weighing() {
        let mut record: Record = serde_json::from_value(crate::sample::bare()).unwrap();
        let (mut first, mut second) = (pass("748.30", "746.10"), pass("746.10", "742.60"));
        let examined = first.before.take().unwrap().mass;
        second.before = None;
        second.id = "q".parse().unwrap();
        let dimensions = json!({ "datum": "back_notch", "mass": examined, "mass_state": "bare" });
        assert_eq!(
            steel_gone(&record, &[], &[&first, &second]).unwrap().1,
            1,
            "the first began with no known mass"
        );
        record.dimensions = Some(serde_json::from_value(dimensions).unwrap());
        record.examination = None;
        assert_eq!(
            steel_gone(&record, &[], &[&first, &second]),
            Some(("5.70\u{a0}±\u{a0}0.34\u{a0}g".to_owned(), 2))
        );
    }

    #[test]
    fn what_passes_took_is_weighed_from_end_to_end() {
        let record: Record = serde_json::from_value(crate::sample::bare()).unwrap();
        let (first, second) = (pass("748.30", "746.10"), pass("746.10", "742.60"));
        // 748.30 − 742.60 = 5.70 g; u = 0.12·√2 = 0.170 g, U = 0.34 g: the reading in the middle drops out.
        assert_eq!(
            steel_gone(&record, &[], &[&first, &second]),
            Some(("5.70\u{a0}±\u{a0}0.34\u{a0}g".to_owned(), 2))
        );
        // 2.20 + 3.40 = 5.60 g; u = 0.12·√4 = 0.24 g, U = 0.48 g.
        let apart = pass("746.00", "742.60");
        assert_eq!(
            steel_gone(&record, &[], &[&first, &apart]).unwrap().0,
            "5.60\u{a0}±\u{a0}0.48\u{a0}g"
        );
        assert_eq!(steel_gone(&record, &[], &[]), None);
        // 748.300 − 748.177 = 0.123 g, as fine as it was read; u = 0.0012·√2 = 0.0017 g, U = 0.0034 g.
        let fine = weighed("748.300", "748.177", "0.0012");
        assert_eq!(
            steel_gone(&record, &[], &[&fine]).unwrap().0,
            "0.123\u{a0}±\u{a0}0.003\u{a0}g"
        );
    }
}
