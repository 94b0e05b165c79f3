//! Consistency inside a sheet: keys, references, order along the blade, sightings.

use std::collections::BTreeSet;

use super::Problem;
use crate::record::{
    CustodyEvent, Dimensions, Flaw, Key, Measured as _, Outcome, PartialDate, Sheet,
    SightingMethod, Standing, Station, Stretch, Zone,
};

/// Longest blade or tang that can be meant, in mm: longer ones are a slip of the unit.
const LONGEST_MM: f64 = 3000.0;
/// Heaviest blade that can be meant, in g.
const HEAVIEST_G: f64 = 20_000.0;

pub(super) fn check(sheet: &Sheet, problems: &mut Vec<Problem>) {
    let mut found = Finder { problems };
    found.keys(sheet);
    found.references(sheet);
    if let Some(dimensions) = &sheet.dimensions {
        found.dimensions(dimensions);
    }
    found.along_the_blade(sheet);
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        found.flaw(flaw, index);
    }
    for (index, event) in sheet.custody.iter().enumerate() {
        found.custody(event, index);
    }
    found.examination(sheet);
    for (index, pass) in sheet.passes.iter().enumerate() {
        for (side, readings) in [("before", &pass.before), ("after", &pass.after)] {
            if let Some(readings) = readings {
                found.stations(
                    &readings.stations,
                    &format!("/passes/{index}/{side}/stations"),
                );
            }
        }
    }
    let blade = &sheet.blade;
    if let (Some(first), Some(last)) = (&blade.made_not_before, &blade.made_not_after) {
        found.date_order(first, last, "/blade/made_not_before");
    }
}

struct Finder<'a> {
    problems: &'a mut Vec<Problem>,
}

impl Finder<'_> {
    fn add(
        &mut self,
        pointer: impl Into<String>,
        what: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.problems.push(Problem::new(pointer, what, hint));
    }

    fn keys(&mut self, sheet: &Sheet) {
        let instruments = sheet
            .examination
            .iter()
            .flat_map(|examination| &examination.instruments);
        self.unique("/flaws", "id", sheet.flaws.iter().map(|flaw| &flaw.id));
        self.unique("/photos", "id", sheet.photos.iter().map(|photo| &photo.id));
        self.unique(
            "/fittings",
            "id",
            sheet.fittings.iter().map(|fitting| &fitting.id),
        );
        self.unique("/passes", "id", sheet.passes.iter().map(|pass| &pass.id));
        self.unique(
            "/examination/instruments",
            "id",
            instruments.map(|instrument| &instrument.id),
        );
    }

    fn unique<'k>(&mut self, list: &str, field: &str, keys: impl Iterator<Item = &'k Key>) {
        let mut seen = BTreeSet::new();
        for (index, key) in keys.enumerate() {
            if !seen.insert(key) {
                self.add(
                    format!("{list}/{index}/{field}"),
                    format!("the key `{key}` is used twice"),
                    "give each entry a key of its own",
                );
            }
        }
    }

    fn references(&mut self, sheet: &Sheet) {
        let photos: BTreeSet<&str> = sheet.photos.iter().map(|photo| photo.id.as_str()).collect();
        let instruments: BTreeSet<&str> = sheet
            .examination
            .iter()
            .flat_map(|examination| &examination.instruments)
            .map(|instrument| instrument.id.as_str())
            .collect();
        let Ok(value) = serde_json::to_value(sheet) else {
            return;
        };
        self.walk_references(&value, "", &photos, &instruments);
    }

    fn walk_references(
        &mut self,
        value: &serde_json::Value,
        pointer: &str,
        photos: &BTreeSet<&str>,
        instruments: &BTreeSet<&str>,
    ) {
        match value {
            serde_json::Value::Object(members) => {
                for (name, member) in members {
                    let inner = format!("{pointer}/{name}");
                    match (name.as_str(), member) {
                        ("instrument", serde_json::Value::String(key))
                            if !instruments.contains(key.as_str()) =>
                        {
                            self.add(
                                inner,
                                format!(
                                    "the instrument `{key}` is not in `examination.instruments`"
                                ),
                                "list the instrument there, with its resolution",
                            );
                        }
                        // The top-level list holds the photos themselves.
                        ("photos", serde_json::Value::Array(keys)) if !pointer.is_empty() => {
                            for (index, key) in keys.iter().enumerate() {
                                if let Some(key) = key.as_str().filter(|key| !photos.contains(key))
                                {
                                    self.add(
                                        format!("{inner}/{index}"),
                                        format!("the photo `{key}` is not in `photos`"),
                                        "list the photo there",
                                    );
                                }
                            }
                        }
                        _ => self.walk_references(member, &inner, photos, instruments),
                    }
                }
            }
            serde_json::Value::Array(items) => {
                for (index, item) in items.iter().enumerate() {
                    self.walk_references(item, &format!("{pointer}/{index}"), photos, instruments);
                }
            }
            _ => {}
        }
    }

    fn dimensions(&mut self, dimensions: &Dimensions) {
        let lengths = [
            ("blade_length", &dimensions.blade_length),
            ("overall_length", &dimensions.overall_length),
            ("width_at_base", &dimensions.width_at_base),
            ("width_at_point", &dimensions.width_at_point),
            ("thickness_at_base", &dimensions.thickness_at_base),
            ("back_thickness_at_base", &dimensions.back_thickness_at_base),
            ("thickness_at_point", &dimensions.thickness_at_point),
            ("point_length", &dimensions.point_length),
            ("edge_notch_depth", &dimensions.edge_notch_depth),
            ("back_notch_depth", &dimensions.back_notch_depth),
            ("tang_length", &dimensions.tang_length),
            ("cross_span", &dimensions.cross_span),
        ];
        for (name, length) in lengths {
            if let Some(length) = length {
                self.between(
                    &format!("/dimensions/{name}"),
                    length.quantity().to_f64(),
                    LONGEST_MM,
                    "mm",
                );
            }
        }
        if let Some(mass) = &dimensions.mass {
            self.between("/dimensions/mass", mass.to_f64(), HEAVIEST_G, "g");
            if dimensions.mass_state.is_none() {
                self.add(
                    "/dimensions/mass",
                    "a mass without `mass_state`",
                    "say what was on the scale: bare, with_collar or mounted",
                );
            }
        }
        if dimensions.point_length.is_some() && dimensions.point_convention.is_none() {
            self.add(
                "/dimensions/point_length",
                "a point length without `point_convention`",
                "say how it was taken: along_back, square_to_point_line or to_ridge_end",
            );
        }
        if let (Some(blade), Some(overall)) = (&dimensions.blade_length, &dimensions.overall_length)
        {
            let slack = 2.0 * (blade.standard().powi(2) + overall.standard().powi(2)).sqrt();
            if overall.to_f64() + slack < blade.to_f64() {
                self.add(
                    "/dimensions/overall_length",
                    format!(
                        "{} mm found, less than the blade length of {} mm",
                        overall.value, blade.value
                    ),
                    "the overall length includes the tang",
                );
            }
        }
        if let (Some(length), Some(curvature)) = (&dimensions.blade_length, &dimensions.curvature)
            && curvature.to_f64().abs() > length.to_f64() / 3.0 {
                self.add(
                    "/dimensions/curvature",
                    format!(
                        "{} mm found on a blade of {} mm, at most a third of the length is allowed",
                        curvature.value, length.value
                    ),
                    "check the unit of the reading",
                );
            }
    }

    fn between(&mut self, pointer: &str, value: f64, most: f64, unit: &str) {
        if value <= 0.0 || value > most {
            self.add(
                pointer,
                format!("{value} {unit} found, more than 0 and at most {most} {unit} is allowed"),
                "check the reading and its unit",
            );
        }
    }

    fn along_the_blade(&mut self, sheet: &Sheet) {
        if let Some(dimensions) = &sheet.dimensions {
            self.stations(&dimensions.stations, "/dimensions/stations");
            let ats: Vec<f64> = dimensions
                .back_line
                .iter()
                .map(|point| point.at.to_f64())
                .collect();
            self.increasing(&ats, "/dimensions/back_line");
            for (index, groove) in dimensions.grooves.iter().enumerate() {
                self.order(
                    groove.from.to_f64(),
                    groove.to.to_f64(),
                    &format!("/dimensions/grooves/{index}"),
                );
            }
            let outline = dimensions.outline.len();
            if (1..3).contains(&outline) {
                self.add(
                    "/dimensions/outline",
                    format!("{outline} points found, at least 3 are needed"),
                    "measure more points, or leave the outline out",
                );
            }
        }
        if let Some(line) = &sheet.temper_line {
            for (name, list) in [("breaks", &line.breaks), ("run_outs", &line.run_outs)] {
                for (index, Stretch { from, to, .. }) in list.iter().enumerate() {
                    self.order(
                        from.to_f64(),
                        to.to_f64(),
                        &format!("/temper_line/{name}/{index}"),
                    );
                }
            }
        }
        let length = sheet
            .dimensions
            .as_ref()
            .and_then(|dimensions| dimensions.blade_length.as_ref());
        let Some(length) = length else { return };
        let end = length.to_f64() + 3.0 * length.standard() + 1.0;
        let beyond = |at: f64| at > end || at < -LONGEST_MM;
        for (index, flaw) in sheet.flaws.iter().enumerate() {
            if flaw.zone != Zone::Tang && beyond(flaw.at.to_f64()) {
                self.add(
                    format!("/flaws/{index}/at"),
                    format!(
                        "{} mm found, the blade is {} mm long",
                        flaw.at.value, length.value
                    ),
                    "measure from the datum towards the point",
                );
            }
        }
        for (index, station) in sheet
            .dimensions
            .iter()
            .flat_map(|dimensions| &dimensions.stations)
            .enumerate()
        {
            if beyond(station.at.to_f64()) {
                self.add(
                    format!("/dimensions/stations/{index}/at"),
                    format!(
                        "{} mm found, the blade is {} mm long",
                        station.at.value, length.value
                    ),
                    "measure from the datum towards the point",
                );
            }
        }
    }

    fn stations(&mut self, stations: &[Station], pointer: &str) {
        let ats: Vec<f64> = stations.iter().map(|station| station.at.to_f64()).collect();
        self.increasing(&ats, pointer);
        for (index, station) in stations.iter().enumerate() {
            let parts = [
                ("width", &station.width),
                ("ridge_thickness", &station.ridge_thickness),
                ("back_thickness", &station.back_thickness),
                ("ridge_width", &station.ridge_width),
            ];
            for (name, part) in parts {
                if let Some(part) = part {
                    self.between(
                        &format!("{pointer}/{index}/{name}"),
                        part.to_f64(),
                        LONGEST_MM,
                        "mm",
                    );
                }
            }
            if let (Some(width), Some(ridge)) = (&station.width, &station.ridge_width)
                && ridge.to_f64() > width.to_f64() {
                    self.add(
                        format!("{pointer}/{index}/ridge_width"),
                        format!(
                            "{} mm found, wider than the blade there ({} mm)",
                            ridge.value, width.value
                        ),
                        "the face behind the ridge is part of the width",
                    );
                }
        }
    }

    fn increasing(&mut self, ats: &[f64], pointer: &str) {
        for (index, pair) in ats.windows(2).enumerate() {
            if pair[1] <= pair[0] {
                self.add(
                    format!("{pointer}/{}/at", index + 1),
                    format!("{} mm found after {} mm", pair[1], pair[0]),
                    "list the entries in order from the datum, each place once",
                );
            }
        }
    }

    fn order(&mut self, from: f64, to: f64, pointer: &str) {
        if to <= from {
            self.add(
                format!("{pointer}/to"),
                format!("{to} mm found, not after the start at {from} mm"),
                "swap `from` and `to`, or correct them",
            );
        }
    }

    fn flaw(&mut self, flaw: &Flaw, index: usize) {
        let looks = |outcome: Outcome| {
            flaw.sightings
                .iter()
                .filter(move |sighting| sighting.outcome == outcome)
        };
        if flaw.standing == Standing::RuledOut {
            let seen = looks(Outcome::Seen).count();
            let negative: BTreeSet<(SightingMethod, &str, &PartialDate)> = looks(Outcome::NotSeen)
                .map(|sighting| (sighting.method, sighting.light.as_str(), &sighting.on))
                .collect();
            if negative.len() < 2 {
                self.add(
                    format!("/flaws/{index}/standing"),
                    format!(
                        "`ruled_out` with {} independent looks that did not see it, 2 are needed",
                        negative.len()
                    ),
                    "independent looks differ in method, light or day; list them under `sightings`",
                );
            }
            if seen > 0 && !negative_after_last_seen(flaw) {
                self.add(
                    format!("/flaws/{index}/standing"),
                    "`ruled_out`, but the latest look saw it".to_owned(),
                    "a flaw that was seen again is confirmed",
                );
            }
        }
        if flaw.standing == Standing::Confirmed && looks(Outcome::Seen).count() == 0 {
            self.add(
                format!("/flaws/{index}/standing"),
                "`confirmed` without a look that saw it",
                "list the look under `sightings` with outcome = \"seen\", or call it suspected",
            );
        }
    }

    fn custody(&mut self, event: &CustodyEvent, index: usize) {
        let fixed = event.kind.maps_to();
        if event.maps_to != fixed {
            self.add(
                format!("/custody/{index}/maps_to"),
                format!(
                    "{:?} found, {fixed:?} is fixed for this kind",
                    event.maps_to
                ),
                "leave `maps_to` out: it follows from `kind`",
            );
        }
        self.date_order(
            &event.when.earliest,
            &event.when.latest,
            &format!("/custody/{index}/when"),
        );
    }

    fn date_order(&mut self, earliest: &PartialDate, latest: &PartialDate, pointer: &str) {
        if earliest.first_day() > latest.last_day() {
            self.add(
                pointer,
                format!("{earliest} found as the earlier date and {latest} as the later"),
                "swap the two dates",
            );
        }
    }

    fn examination(&mut self, sheet: &Sheet) {
        let Some(examination) = &sheet.examination else {
            return;
        };
        for (index, not) in examination.not_examined.iter().enumerate() {
            if examination.examined.contains(&not.part) {
                self.add(
                    format!("/examination/not_examined/{index}/part"),
                    format!(
                        "`{}` stands among the examined parts too",
                        crate::record::Term::key(not.part)
                    ),
                    "a part was examined or it was not: keep one of the two",
                );
            }
        }
    }
}

fn negative_after_last_seen(flaw: &Flaw) -> bool {
    let last_seen = flaw
        .sightings
        .iter()
        .rposition(|sighting| sighting.outcome == Outcome::Seen);
    let last_seen = last_seen.map_or(0, |at| at + 1);
    flaw.sightings[last_seen..]
        .iter()
        .filter(|sighting| sighting.outcome == Outcome::NotSeen)
        .count()
        >= 2
}
