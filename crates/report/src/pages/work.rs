//! Plan and passes.

use std::fmt::Write as _;

use tangmark_core::record::{Abrasive, Etch, Pass, Plan, Record, Term as _};

use super::words;
use crate::layout::{Cell, Column, Flow, Span, Table, Width, style};

pub(super) fn set(flow: &mut Flow, record: &Record) {
    if record.plan.is_none() && record.passes.is_empty() {
        flow.heading("Work", 12.0);
        flow.paragraph(
            &[Span::plain("No plan and no pass is in this record.")],
            style::BODY,
        );
        return;
    }
    flow.heading("Work", 24.0);
    if let Some(plan) = &record.plan {
        set_plan(flow, plan);
    }
    passes(flow, record);
}

fn set_plan(flow: &mut Flow, plan: &Plan) {
    let mut table = Table::pairs(46.0);
    if let Some(budget) = &plan.steel_budget {
        table.pair(
            "steel that may go in all",
            vec![Span::plain(words::quantity(budget))],
        );
    }
    if let Some(thinnest) = &plan.thinnest {
        table.pair(
            "thinnest at the ridge",
            vec![Span::plain(words::quantity(thinnest))],
        );
    }
    table.pair(
        "what the limits rest on",
        vec![Span::plain(plan.basis.clone())],
    );
    flow.table(&table);
    if plan.stages.is_empty() {
        return;
    }
    let mut table = Table::new(vec![
        Column::words("no.", Width::Fixed(7.0)),
        Column::words("operation", Width::Share(1.0)),
        Column::words("abrasive", Width::Share(1.3)),
        Column::words("zones", Width::Share(0.8)),
        Column::numbers("steel, g", Width::Fixed(24.0)),
        Column::numbers("time, min", Width::Fixed(24.0)),
    ]);
    let figures = |quantity: Option<&tangmark_core::record::Quantity>| {
        quantity.map_or_else(
            || Cell::plain("–"),
            |quantity| Cell::figures(words::bare(quantity)),
        )
    };
    for (index, stage) in plan.stages.iter().enumerate() {
        table.rows.push(vec![
            Cell::figures((index + 1).to_string()),
            Cell(words::term(stage.operation)),
            Cell::plain(stage.abrasive.as_ref().map_or_else(String::new, abrasive)),
            Cell::plain(
                stage
                    .zones
                    .iter()
                    .map(|zone| words::short(*zone))
                    .collect::<Vec<_>>()
                    .join(", "),
            ),
            figures(stage.steel.as_deref()),
            figures(stage.time.as_deref()),
        ]);
    }
    flow.headed_table("Planned stages", &table);
}

fn passes(flow: &mut Flow, record: &Record) {
    if record.passes.is_empty() {
        flow.gap(2.0);
        flow.paragraph(&[Span::plain("No pass is in this record.")], style::BODY);
        return;
    }
    let mut table = Table::new(vec![
        Column::words("pass", Width::Fixed(21.0)),
        Column::words("operation", Width::Share(1.0)),
        Column::words("abrasive", Width::Share(1.1)),
        Column::words("zones and faces", Width::Share(0.9)),
        Column::numbers("mass before, after, g", Width::Fixed(26.0)),
        Column::words("remarks", Width::Share(1.3)),
    ]);
    for pass in &record.passes {
        let under_hold = record
            .worked_under_hold
            .iter()
            .any(|entry| entry.pass == pass.id);
        let mut remarks: Vec<Span> = Vec::new();
        if under_hold {
            remarks.push(Span::bold("worked under hold\n"));
        }
        remarks.push(Span::plain(pass_remarks(pass).join("\n")));
        let zones: Vec<String> = pass.zones.iter().map(|zone| words::short(*zone)).collect();
        let faces: Vec<String> = pass.faces.iter().map(|face| words::short(*face)).collect();
        let faces = if faces.is_empty() {
            "both faces".to_owned()
        } else {
            faces.join(", ")
        };
        table.rows.push(vec![
            Cell(vec![Span::figures(format!("{}\n{}", pass.id, pass.on))]),
            Cell(words::term(pass.operation)),
            Cell::plain(pass.abrasive.as_ref().map_or_else(String::new, abrasive)),
            Cell::plain(format!("{}; {faces}", zones.join(", "))),
            Cell::figures(masses(pass)),
            Cell(remarks),
        ]);
    }
    flow.headed_table("Passes", &table);
    for pass in &record.passes {
        for (name, readings) in [("before", &pass.before), ("after", &pass.after)] {
            if let Some(readings) = readings {
                super::dimensions::station_table(
                    flow,
                    &format!("Stations {name} pass {}", pass.id),
                    &readings.stations,
                );
            }
        }
    }
}

fn masses(pass: &Pass) -> String {
    let mass = |readings: &Option<tangmark_core::record::PassReadings>| {
        readings
            .as_ref()
            .and_then(|readings| readings.mass.as_ref())
            .map(|mass| words::bare(mass))
    };
    match (mass(&pass.before), mass(&pass.after)) {
        (None, None) => "–".to_owned(),
        (before, after) => format!(
            "{}\n{}",
            before.unwrap_or_else(|| "–".to_owned()),
            after.unwrap_or_else(|| "–".to_owned())
        ),
    }
}

fn pass_remarks(pass: &Pass) -> Vec<String> {
    let mut remarks = Vec::new();
    remarks.extend(pass.strokes.map(|strokes| format!("{strokes} strokes")));
    remarks.extend(pass.time.as_ref().map(|time| words::quantity(time)));
    remarks.extend(pass.etch.as_ref().map(etch));
    remarks.extend(pass.note.clone());
    remarks
}

/// An etch in one line.
pub(super) fn etch(etch: &Etch) -> String {
    let mut text = format!("etch: {}", etch.agent);
    for part in [
        &etch.concentration.as_deref().map(words::quantity),
        &etch.time.as_deref().map(words::quantity),
    ]
    .into_iter()
    .flatten()
    {
        let _ = write!(text, ", {part}");
    }
    let done = |name: &str, done: bool| {
        if done {
            name.to_owned()
        } else {
            format!("not {name}")
        }
    };
    format!(
        "{text}; {}, {}, {}",
        done("neutralised", etch.neutralised),
        done("rinsed", etch.rinsed),
        done("dried", etch.dried)
    )
}

fn abrasive(abrasive: &Abrasive) -> String {
    let mut text = abrasive.name.clone();
    if let Some(stage) = abrasive.stage {
        let _ = write!(text, ", {}", words::short(stage));
    }
    let _ = write!(text, ", {}", abrasive.origin.gloss());
    if let Some(grit) = &abrasive.grit {
        let _ = write!(text, ", {} ({})", grit.number, grit.system.gloss());
    }
    if let Some(median) = &abrasive.d50 {
        let _ = write!(text, ", median grain {}", words::quantity(median));
    }
    text
}
