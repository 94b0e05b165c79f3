//! The steel of the invented blades: a few shapes, what a pass takes of them, and the sections of the sheet that say so.
//!
//! Everything is counted in whole tenths of a gram and hundredths of a millimetre, so that the ledger is exact.

use serde_json::{Value, json};

use crate::mutate::Chance;

/// A shape that blades are made after.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shape {
    pub(crate) kind: &'static str,
    pub(crate) object_type: &'static str,
    construction: &'static str,
    back_form: &'static str,
    datum: &'static str,
    made: (u32, u32),
    tang_form: &'static str,
    tang_end: &'static str,
    /// Length in mm.
    length: i64,
    curvature: i64,
    tang: i64,
    /// Widths at the base and before the point, in hundredths of a millimetre.
    width: (i64, i64),
    thickness: (i64, i64),
    /// Mass in tenths of a gram.
    mass: i64,
}

/// The shapes. All numbers are invented.
pub(crate) const SHAPES: [Shape; 4] = [
    Shape {
        kind: "katana",
        object_type: "sword blade, single-edged, curved",
        construction: "shinogi_zukuri",
        back_form: "iori",
        datum: "back_notch",
        made: (1640, 1720),
        tang_form: "futsu",
        tang_end: "kurijiri",
        length: 694,
        curvature: 160,
        tang: 208,
        width: (3090, 2160),
        thickness: (715, 505),
        mass: 7480,
    },
    Shape {
        kind: "wakizashi",
        object_type: "sword blade, single-edged, curved",
        construction: "shinogi_zukuri",
        back_form: "iori",
        datum: "back_notch",
        made: (1680, 1800),
        tang_form: "futsu",
        tang_end: "kiri",
        length: 462,
        curvature: 90,
        tang: 136,
        width: (2870, 2040),
        thickness: (670, 480),
        mass: 4130,
    },
    Shape {
        kind: "tanto",
        object_type: "dagger blade, single-edged",
        construction: "hira_zukuri",
        back_form: "iori",
        datum: "back_notch",
        made: (1650, 1780),
        tang_form: "futsu",
        tang_end: "kurijiri",
        length: 256,
        curvature: 10,
        tang: 98,
        width: (2610, 1890),
        thickness: (610, 440),
        mass: 1730,
    },
    Shape {
        kind: "yari",
        object_type: "spear head, straight",
        construction: "ryo_shinogi_yari",
        back_form: "none",
        datum: "shoulder",
        made: (1620, 1790),
        tang_form: "rod_tang",
        tang_end: "other",
        length: 178,
        curvature: 0,
        tang: 224,
        width: (2040, 1120),
        thickness: (980, 570),
        mass: 2140,
    },
];

/// The steel of one blade as it stands.
#[derive(Clone, Debug)]
pub(crate) struct Steel {
    pub(crate) shape: Shape,
    pub(crate) mass: i64,
    /// Steel and rust gone since it came, in tenths of a gram.
    pub(crate) gone: i64,
    width: (i64, i64),
    thickness: (i64, i64),
}

impl Steel {
    /// A blade of a shape, a little other than its neighbours.
    pub(crate) fn new(shape: Shape, chance: &mut Chance) -> Self {
        let mut other = |range: usize| i64::try_from(chance.below(range)).unwrap_or(0);
        let shape = Shape {
            length: shape.length + other(12),
            mass: shape.mass + other(150),
            width: (shape.width.0 + other(60), shape.width.1 + other(40)),
            thickness: (shape.thickness.0 + other(25), shape.thickness.1 + other(15)),
            ..shape
        };
        Self {
            shape,
            mass: shape.mass,
            gone: 0,
            width: shape.width,
            thickness: shape.thickness,
        }
    }

    /// A pass takes so many tenths of a gram.
    pub(crate) fn take(&mut self, tenths: i64) {
        self.mass -= tenths;
        self.gone += tenths;
        // Spread over both faces; density of steel 7.82 g/cm³ (from memory). In hundredths of a millimetre.
        let surface = self.shape.length * (self.shape.width.0 + self.shape.width.1) / 100;
        let depth = self.gone * 10_000 / (surface * 782 / 100).max(1);
        self.thickness.0 = self.shape.thickness.0 - 2 * depth;
        self.thickness.1 = self.shape.thickness.1 - 2 * depth;
        self.width.0 = self.shape.width.0 - depth;
        self.width.1 = self.shape.width.1 - depth;
    }

    /// Mass when it came, in tenths of a gram.
    pub(crate) fn first_mass(&self) -> i64 {
        self.shape.mass
    }

    /// Mass as it is read, such as `748.3 g`.
    pub(crate) fn reading(&self) -> String {
        grams(self.mass)
    }

    /// Places of the stations, in mm from the datum.
    fn stations(&self) -> [i64; 4] {
        let last = self.shape.length - self.shape.length / 18 - 6;
        [0, last / 3, 2 * last / 3, last]
    }

    fn at(&self, ends: (i64, i64), at: i64) -> i64 {
        let last = self.stations()[3];
        ends.0 + (ends.1 - ends.0) * at / last.max(1)
    }

    /// Width at the second station, for a reading after a pass: place and value.
    pub(crate) fn gauge(&self) -> (String, String, String) {
        let at = self.stations()[1];
        (
            format!("{at} mm"),
            millimetres(self.at(self.width, at)),
            millimetres(self.at(self.thickness, at)),
        )
    }

    /// What stands below `dimensions`.
    pub(crate) fn dimensions(&self) -> Value {
        let caliper = |text: String| json!({ "text": text, "instrument": "caliper" });
        let rule = |text: String| json!({ "text": text, "instrument": "rule" });
        let stations: Vec<Value> = self
            .stations()
            .iter()
            .map(|at| {
                json!({
                    "at": format!("{at} mm"),
                    "width": caliper(millimetres(self.at(self.width, *at))),
                    "ridge_thickness": caliper(millimetres(self.at(self.thickness, *at))),
                })
            })
            .collect();
        let shape = &self.shape;
        let mut dimensions = json!({
            "datum": shape.datum,
            "blade_length": rule(format!("{} mm", shape.length)),
            "overall_length": rule(format!("{} mm", shape.length + shape.tang)),
            "width_at_base": caliper(millimetres(self.width.0)),
            "thickness_at_base": caliper(millimetres(self.thickness.0)),
            "tang_length": rule(format!("{} mm", shape.tang)),
            "mass": { "text": self.reading(), "instrument": "scale" },
            "mass_state": "bare",
            "stations": stations,
        });
        if shape.curvature > 0 {
            let text = format!("{}.{} mm", shape.curvature / 10, shape.curvature % 10);
            dimensions["curvature"] = rule(text);
        }
        dimensions
    }

    /// What stands below `tang`.
    pub(crate) fn tang(&self) -> Value {
        json!({
            "shape": self.shape.tang_form,
            "end": self.shape.tang_end,
            "file_marks": "katte_sagari",
            "state": "ubu",
            "patina": "even brown",
            "holes": [{ "at": { "text": "52 mm", "instrument": "rule" }, "diameter": { "text": "5.20 mm", "instrument": "caliper" } }],
            "inscriptions": [{ "kind": "mumei" }],
        })
    }

    /// What stands below `blade`, beside key and title.
    pub(crate) fn blade(&self) -> Value {
        json!({
            "object_type": self.shape.object_type,
            "kind_by_make": self.shape.kind,
            "construction": self.shape.construction,
            "back_form": self.shape.back_form,
            "materials_and_techniques": ["steel, hardened edge"],
            "made_not_before": self.shape.made.0.to_string(),
            "made_not_after": self.shape.made.1.to_string(),
        })
    }
}

/// Tenths of a gram as they are read.
pub(crate) fn grams(tenths: i64) -> String {
    format!("{}.{} g", tenths / 10, (tenths % 10).abs())
}

fn millimetres(hundredths: i64) -> String {
    format!("{}.{:02} mm", hundredths / 100, (hundredths % 100).abs())
}

/// What stands below `examination` on a day.
pub(crate) fn examination(on: &str, reason: &str, surface: &str) -> Value {
    json!({
        "by": { "role": "polisher", "name": super::cast::POLISHER },
        "on": on,
        "where": "workshop, north bench",
        "light": "north window and one bare lamp",
        "reason": reason,
        "methods": ["naked_eye", "raking_light", "loupe", "sight_along"],
        "examined": ["edge", "ground", "ridge", "back", "point", "tang", "temper_line", "point_temper", "straightness", "mass", "sections", "grain", "fittings"],
        "surface": surface,
        "completeness": "complete",
        "instruments": [
            { "id": "rule", "name": "steel rule, 1 m", "resolution": "0.5 mm", "limit_of_error": "0.2 mm" },
            { "id": "caliper", "name": "caliper", "resolution": "0.01 mm", "limit_of_error": "0.03 mm" },
            { "id": "scale", "name": "bench scale", "resolution": "0.1 g", "limit_of_error": "0.2 g" },
        ],
    })
}

/// What stands below `temper_line`.
pub(crate) fn temper_line() -> Value {
    json!({
        "visibility": "visible",
        "families": ["suguha"],
        "start": "regular",
        "widths": [{ "at": "60 mm", "face": "omote", "width": "6.5 mm" }, { "at": "140 mm", "face": "omote", "width": "6.0 mm" }],
        "point": { "forms": ["ko_maru"], "turn_back": "asai", "turn_back_length": "8 mm" },
        "activities": ["nioi"],
    })
}

/// Rust and one place of pits, as most blades come.
pub(crate) fn flaws(on: &str) -> Vec<Value> {
    let seen = |method: &str| json!([{ "on": on, "by": "polisher", "method": method, "light": "north window", "outcome": "seen" }]);
    vec![
        json!({
            "id": "rust-1", "kind": "sabi_active", "zone": "ground", "faces": ["omote", "ura"],
            "at": "80 mm", "from_edge": "9 mm", "length": "60 mm", "width": "8 mm",
            "progress": "active", "standing": "confirmed", "sightings": seen("naked_eye"),
        }),
        json!({
            "id": "pits-1", "kind": "pits", "zone": "ground", "faces": ["omote"],
            "at": "110 mm", "from_edge": "10 mm", "area": "20 mm2", "count": 3,
            "depth": { "text": "0.04 mm", "uncertainty": "0.01 mm" },
            "progress": "stable", "standing": "confirmed", "sightings": seen("depth_gauge"),
        }),
    ]
}

/// One look at a flaw of the edge.
pub(crate) fn sighting(on: &str, method: &str, outcome: &str) -> Value {
    json!({
        "on": on, "by": "polisher", "method": method, "light": "one bare lamp", "face": "omote", "outcome": outcome,
    })
}

/// A crack through the edge, suspected, with the looks there were.
pub(crate) fn crack(standing: &str, looks: &[(&str, &str, &str)]) -> Value {
    let look = |(on, method, outcome): &(&str, &str, &str)| sighting(on, method, outcome);
    let sightings: Vec<Value> = looks.iter().map(look).collect();
    json!({
        "id": "crack-1", "kind": "hagire", "zone": "edge", "faces": ["omote", "edge_side"],
        "at": "120 mm", "from_edge": "2.0 mm", "length": "0.1 mm", "width": "4.0 mm",
        "progress": "unknown", "standing": standing, "sightings": sightings,
    })
}

/// What stands below `plan`: the steel that may go, in tenths of a gram.
pub(crate) fn plan(budget: i64, thinnest: &str) -> Value {
    json!({
        "steel_budget": { "text": grams(budget), "uncertainty": "0.3 g" },
        "thinnest": { "text": thinnest, "uncertainty": "0.05 mm" },
        "basis": "clear the rust and the shallow pits, leave what is deeper",
        "stages": [
            { "operation": "derust", "zones": ["ground", "edge"] },
            { "operation": "grind", "zones": ["ground", "edge"], "abrasive": { "name": "second foundation stone", "stage": "kaisei", "origin": "synthetic", "grit": { "number": 1000, "system": "jis" } } },
            { "operation": "polish", "zones": ["ground", "edge"], "abrasive": { "name": "fine slate stone", "stage": "koma_nagura", "origin": "natural" } },
        ],
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_are_whole_tenths_and_shrink() {
        let mut steel = Steel::new(SHAPES[0], &mut Chance::new(1, 2));
        let (mass, gauge) = (steel.mass, steel.gauge());
        steel.take(93);
        assert_eq!(steel.mass, mass - 93);
        assert_eq!(grams(7483), "748.3 g");
        assert_eq!(millimetres(3082), "30.82 mm");
        let later = steel.gauge();
        assert!(
            later.1 < gauge.1 && later.2 < gauge.2,
            "{later:?} {gauge:?}"
        );
        // 9.3 g over both faces of a blade of 36,000 mm² are 0.033 mm.
        let depth = (steel.shape.thickness.0 - steel.thickness.0) / 2;
        assert!((2..=4).contains(&depth), "{depth}");
    }
}
