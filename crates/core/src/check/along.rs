//! Dimensions, places along the blade and what was measured on fittings: limits, order, one against the other.

use super::Problem;
use super::quantities::{between, length_between, readings};
use crate::record::{Dimensions, Length, Sheet, Station, Stretch, Zone};

/// Longest blade or tang that can be meant, in mm: longer ones are a slip of the unit.
const LONGEST_MM: f64 = 3000.0;
/// Farthest peg hole of a hilt from its mouth that can be meant, in mm.
const FARTHEST_PEG_MM: f64 = 500.0;
/// Largest opening of a fitting that can be meant, in mm.
const LARGEST_OPENING_MM: f64 = 200.0;
/// Heaviest blade that can be meant, in g.
const HEAVIEST_G: f64 = 20_000.0;

pub(super) fn check(sheet: &Sheet, problems: &mut Vec<Problem>) {
    let mut found = Finder { problems };
    if let Some(dimensions) = &sheet.dimensions {
        found.dimensions(dimensions);
        found.stations(&dimensions.stations, "/dimensions/stations");
        found.increasing(
            dimensions.back_line.iter().map(|point| &point.at),
            "/dimensions/back_line",
        );
        for (index, groove) in dimensions.grooves.iter().enumerate() {
            found.order(
                &groove.from,
                &groove.to,
                &format!("/dimensions/grooves/{index}"),
            );
        }
        let outline = dimensions.outline.len();
        if (1..3).contains(&outline) {
            found.add(
                "/dimensions/outline",
                format!("{outline} points found, at least 3 are needed"),
                "measure more points, or leave the outline out",
            );
        }
    }
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
    for (index, fitting) in sheet.fittings.iter().enumerate() {
        let Some(fit) = &fitting.fit else { continue };
        for (name, length, most) in [
            ("peg_hole_at", &fit.peg_hole_at, FARTHEST_PEG_MM),
            ("opening_width", &fit.opening_width, LARGEST_OPENING_MM),
            (
                "opening_thickness",
                &fit.opening_thickness,
                LARGEST_OPENING_MM,
            ),
        ] {
            if let Some(length) = length {
                let pointer = format!("/fittings/{index}/fit/{name}");
                length_between(length, &pointer, most, found.problems);
            }
        }
    }
    if let Some(line) = &sheet.temper_line {
        for (name, list) in [("breaks", &line.breaks), ("run_outs", &line.run_outs)] {
            for (index, Stretch { from, to, .. }) in list.iter().enumerate() {
                found.order(from, to, &format!("/temper_line/{name}/{index}"));
            }
        }
    }
    found.within(sheet);
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
                length_between(
                    length,
                    &format!("/dimensions/{name}"),
                    LONGEST_MM,
                    self.problems,
                );
            }
        }
        if let Some(mass) = &dimensions.mass {
            between(mass, "/dimensions/mass", HEAVIEST_G, self.problems);
            if dimensions.mass_state.is_none() {
                self.add(
                    "/dimensions/mass",
                    format!("{} found without `mass_state`, which is needed with it", readings(mass)),
                    "say what was on the scale: mass_state = \"bare\", \"with_collar\" or \"mounted\"",
                );
            }
        }
        if let (Some(point), None) = (&dimensions.point_length, dimensions.point_convention) {
            self.add(
                "/dimensions/point_length",
                format!("{} found without `point_convention`, which is needed with it", readings(point)),
                "say how it was taken: point_convention = \"along_back\", \"square_to_point_line\" or \"to_ridge_end\"",
            );
        }
        if let (Some(blade), Some(overall)) = (&dimensions.blade_length, &dimensions.overall_length)
        {
            let slack = 2.0 * blade.standard().hypot(overall.standard());
            // A slip of the unit is named already.
            if overall.to_f64() + slack < blade.to_f64() && blade.to_f64() <= LONGEST_MM {
                self.add(
                    "/dimensions/overall_length",
                    format!(
                        "{} mm found, less than the blade length of {} mm",
                        overall.value, blade.value
                    ),
                    "check both: the overall length includes the tang",
                );
            }
        }
        if let (Some(length), Some(curvature)) = (&dimensions.blade_length, &dimensions.curvature)
            && curvature.to_f64().abs() > length.to_f64() / 3.0
        {
            self.add(
                "/dimensions/curvature",
                format!(
                    "{} found, which is {} mm on a blade of {} mm: at most a third of the length is allowed",
                    readings(curvature),
                    curvature.value,
                    length.value
                ),
                "check the number and its unit, then correct the one that slipped",
            );
        }
    }

    /// What lies along the blade lies on the blade.
    fn within(&mut self, sheet: &Sheet) {
        let length = sheet
            .dimensions
            .as_ref()
            .and_then(|dimensions| dimensions.blade_length.as_ref());
        let Some(length) = length else { return };
        let mut places: Vec<(String, &Length)> = Vec::new();
        for (index, flaw) in sheet.flaws.iter().enumerate() {
            if flaw.zone != Zone::Tang {
                places.push((format!("/flaws/{index}/at"), &flaw.at));
            }
        }
        if let Some(dimensions) = &sheet.dimensions {
            for (index, station) in dimensions.stations.iter().enumerate() {
                places.push((format!("/dimensions/stations/{index}/at"), &station.at));
            }
            for (index, groove) in dimensions.grooves.iter().enumerate() {
                places.push((format!("/dimensions/grooves/{index}/to"), &groove.to));
            }
        }
        if let Some(line) = &sheet.temper_line {
            for (index, width) in line.widths.iter().enumerate() {
                places.push((format!("/temper_line/widths/{index}/at"), &width.at));
            }
            for (name, list) in [("breaks", &line.breaks), ("run_outs", &line.run_outs)] {
                for (index, stretch) in list.iter().enumerate() {
                    places.push((format!("/temper_line/{name}/{index}/to"), &stretch.to));
                }
            }
        }
        // Three standard uncertainties and the millimetre a rounded reading may be off.
        let end = length.to_f64() + 3.0 * length.standard() + 1.0;
        for (pointer, at) in places {
            if at.to_f64() > end || at.to_f64() < -LONGEST_MM {
                self.add(
                    pointer,
                    format!(
                        "{} found, which is {} mm from the datum: the blade is {} mm long",
                        readings(at),
                        at.value,
                        length.value
                    ),
                    "measure from the datum towards the point, and check the unit",
                );
            }
        }
    }

    fn stations(&mut self, stations: &[Station], pointer: &str) {
        self.increasing(stations.iter().map(|station| &station.at), pointer);
        for (index, station) in stations.iter().enumerate() {
            let parts = [
                ("width", &station.width),
                ("ridge_thickness", &station.ridge_thickness),
                ("back_thickness", &station.back_thickness),
                ("ridge_width", &station.ridge_width),
            ];
            for (name, part) in parts {
                if let Some(part) = part {
                    length_between(
                        part,
                        &format!("{pointer}/{index}/{name}"),
                        LONGEST_MM,
                        self.problems,
                    );
                }
            }
            if let (Some(width), Some(ridge)) = (&station.width, &station.ridge_width)
                && ridge.to_f64() > width.to_f64()
            {
                self.add(
                    format!("{pointer}/{index}/ridge_width"),
                    format!(
                        "{} mm found, wider than the blade there, which is {} mm",
                        ridge.value, width.value
                    ),
                    "check both: the face behind the ridge is part of the width",
                );
            }
        }
    }

    fn increasing<'l>(&mut self, ats: impl Iterator<Item = &'l Length>, pointer: &str) {
        let ats: Vec<&Length> = ats.collect();
        for (index, pair) in ats.windows(2).enumerate() {
            if pair[1].value <= pair[0].value {
                self.add(
                    format!("{pointer}/{}/at", index + 1),
                    format!(
                        "{} mm found after {} mm, more than that is allowed",
                        pair[1].value, pair[0].value
                    ),
                    "list the entries in order from the datum, each place once",
                );
            }
        }
    }

    fn order(&mut self, from: &Length, to: &Length, pointer: &str) {
        if to.value <= from.value {
            self.add(
                format!("{pointer}/to"),
                format!(
                    "{} mm found, not after the start at {} mm",
                    to.value, from.value
                ),
                "swap `from` and `to`, or correct them",
            );
        }
    }
}
