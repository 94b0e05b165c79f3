//! What the workshop writes down: sheets as the reader of sheets makes them, put together without its text.

use serde_json::{Value, json};
use tangmark_author::trial;
use tangmark_core::record::{Purpose, Quantity};
use tangmark_core::units::Dimension;
use tangmark_plugin::CheckRequest;

use super::workshop::{Instrument, Set};

const BASE: &str = r#"
[blade]
id = "invented"
title = "Invented"
object_type = "sword blade"
kind_by_length = "katana"
kind_by_make = "katana"
construction = "shinogi_zukuri"
back_form = "hira"
materials_and_techniques = ["steel"]

[examination]
by = { role = "polisher", name = "Nobody" }
on = "2026-01-02"
light = "window"
reason = "before_work"
methods = ["naked_eye"]
examined = ["sections"]
surface = "rusted"
completeness = "complete"
"#;

/// Writes for one workshop.
#[derive(Clone, Debug)]
pub(super) struct Writer {
    set: Set,
    base: Value,
}

/// What stays the same on every sheet of a blade.
#[derive(Clone, Copy, Debug)]
pub(super) struct Blade {
    pub(super) length: f64,
    pub(super) point: f64,
    pub(super) temper: f64,
    pub(super) thinnest: f64,
}

fn noted(one: &Instrument) -> Option<f64> {
    one.limit_noted.then_some(one.limit)
}

impl Writer {
    /// Opens the book of a workshop.
    pub(super) fn new(set: Set) -> Self {
        let instrument = |id: &str, unit: &str, one: &Instrument| {
            let limit = noted(one).map_or_else(String::new, |limit| {
                format!("limit_of_error = \"{limit} {unit}\"\n")
            });
            format!(
                "\n[[examination.instruments]]\nid = \"{id}\"\nname = \"{id}\"\nresolution = \"{} {unit}\"\n{limit}",
                one.step
            )
        };
        let base = trial::sheet(&format!(
            "{BASE}{}{}",
            instrument("scale", "g", &set.scale),
            instrument("gauge", "mm", &set.gauge)
        ));
        Self { set, base }
    }

    fn read(text: &str, dimension: Dimension, stated: Option<&str>, limit: Option<f64>) -> Value {
        let made = Quantity::from_readings(&[text.to_owned()], dimension, stated, limit);
        made.ok()
            .and_then(|one| serde_json::to_value(one).ok())
            .unwrap_or_default()
    }

    fn by(mut quantity: Value, instrument: &str) -> Value {
        quantity["instrument"] = json!(instrument);
        quantity
    }

    /// A reading of the gauge, `6.51 mm`.
    pub(super) fn gauged(&self, text: &str) -> Value {
        let limit = noted(&self.set.gauge);
        Self::by(Self::read(text, Dimension::Length, None, limit), "gauge")
    }

    /// A reading of the scale, `741.9 g`.
    pub(super) fn weighed(&self, text: &str) -> Value {
        let limit = noted(&self.set.scale);
        Self::by(Self::read(text, Dimension::Mass, None, limit), "scale")
    }

    /// A length without instrument.
    pub(super) fn length(text: &str) -> Value {
        Self::read(text, Dimension::Length, None, None)
    }

    /// A pass, the `number`th of the blade.
    pub(super) fn pass(
        number: usize,
        operation: &str,
        zones: &[&str],
        before: &Value,
        after: &Value,
    ) -> Value {
        json!({"id": format!("p{number}"), "on": format!("2026-01-{:02}", number + 2), "operation": operation, "zones": zones,
            "before": {"mass": before}, "after": {"mass": after}})
    }

    /// A whole sheet.
    pub(super) fn sheet(
        &self,
        blade: Blade,
        reason: &str,
        mass: &Value,
        stations: &[Value],
        passes: &[Value],
    ) -> Value {
        let mut sheet = self.base.clone();
        sheet["examination"]["reason"] = json!(reason);
        let length = |value: f64| Self::length(&format!("{value:.0} mm"));
        sheet["dimensions"] = json!({"datum": "back_notch", "blade_length": length(blade.length), "point_length": length(blade.point),
            "point_convention": "along_back", "mass": mass, "mass_state": "bare", "stations": stations});
        sheet["temper_line"] = json!({"visibility": "visible",
            "widths": [{"at": Self::length("300 mm"), "face": "omote", "width": Self::length(&format!("{:.1} mm", blade.temper))}]});
        let thinnest = format!("{:.3} mm", blade.thinnest);
        sheet["plan"] = json!({"thinnest": Self::read(&thinnest, Dimension::Length, Some("0.001 mm"), None), "basis": "Invented."});
        if !passes.is_empty() {
            sheet["passes"] = json!(passes);
        }
        sheet
    }

    /// Asks the plugin about the last sheet, the others sealed before it.
    pub(super) fn request(mut sheets: Vec<Value>, settings: Value) -> CheckRequest {
        let mut request = trial::request(sheets.pop().unwrap_or_default());
        request.history = sheets
            .iter()
            .zip(1..)
            .map(|(sheet, sequence)| {
                let purpose = if sequence == 1 {
                    Purpose::BeforeWork
                } else {
                    Purpose::AfterWork
                };
                trial::record(sheet, sequence, purpose, "2026-01-02T12:00:00Z")
            })
            .collect();
        request.settings = settings;
        request
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coverage::workshop::SETS;

    /// The same sheet, once put together here, once read from text.
    #[test]
    fn a_sheet_is_what_the_reader_makes_of_its_text() {
        let set = SETS[1];
        let writer = Writer::new(set);
        let mass = writer.weighed("741.9 g");
        let station = json!({"at": Writer::length("130 mm"), "width": writer.gauged("28.15 mm")});
        let pass = Writer::pass(1, "grind", &["edge"], &mass, &mass);
        let blade = Blade {
            length: 690.0,
            point: 34.0,
            temper: 7.2,
            thinnest: 4.5,
        };
        let found = writer.sheet(blade, "after_work", &mass, &[station], &[pass]);
        let text = BASE.replace("before_work", "after_work")
            + r#"
[[examination.instruments]]
id = "scale"
name = "scale"
resolution = "0.1 g"
limit_of_error = "0.2 g"

[[examination.instruments]]
id = "gauge"
name = "gauge"
resolution = "0.01 mm"
limit_of_error = "0.03 mm"

[dimensions]
datum = "back_notch"
blade_length = "690 mm"
point_length = "34 mm"
point_convention = "along_back"
mass = { text = "741.9 g", instrument = "scale" }
mass_state = "bare"
stations = [{ at = "130 mm", width = { text = "28.15 mm", instrument = "gauge" } }]

[temper_line]
visibility = "visible"
widths = [{ at = "300 mm", face = "omote", width = "7.2 mm" }]

[plan]
thinnest = { text = "4.500 mm", uncertainty = "0.001 mm" }
basis = "Invented."

[[passes]]
id = "p1"
on = "2026-01-03"
operation = "grind"
zones = ["edge"]
before = { mass = { text = "741.9 g", instrument = "scale" } }
after = { mass = { text = "741.9 g", instrument = "scale" } }
"#;
        assert_eq!(found, trial::sheet(&text));
    }
}
