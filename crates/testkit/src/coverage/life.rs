//! One invented blade through its polishes: what truly happened, and what the workshop wrote down.

use serde_json::{Value, json};
use tangmark_plugin::CheckRequest;

use super::pages::{Blade, Writer};
use super::steel::Part::{self, Edge, Ground, Point, Ridge};
use super::steel::{Across, Steel, Stroke};
use super::stream::Stream;
use super::workshop::{InUse, Set};

/// Full polishes that are logged.
const POLISHES: usize = 3;
/// Polishes beyond which nobody looks.
const BEYOND: usize = 400;
/// Standard deviation of the rate of one polish, as a share of the mean.
const RATE_SPREAD: f64 = 0.25;
/// How much of a polish's deviation from the mean the next one keeps: rates drift.
const RATE_MEMORY: f64 = 0.3;
/// What both come to at one station, where each stone also bites unevenly; stated to the plugin, found by a test.
const LOCAL_SPREAD: f64 = 0.29;
/// See [`LOCAL_SPREAD`].
const LOCAL_MEMORY: f64 = 0.22;
/// Standard deviation of where the stones start about the notch, mm: the worked surface is not quite what is logged.
const START_SPREAD: f64 = 22.0;
/// Standard uncertainty of the worked surface that the workshop states, per cent.
const SURFACE_PERCENT: f64 = 4.0;

/// What truly happened.
#[derive(Clone, Debug)]
pub(super) struct Truth {
    /// Steel gone in passes that do not remove rust, g.
    pub(super) steel: f64,
    /// Rust gone, g.
    pub(super) rust: f64,
    /// Mean depth, µm.
    pub(super) depth: f64,
    /// Loss at the stations, mm: field, place, loss.
    pub(super) local: Vec<(&'static str, f64, f64)>,
    /// Full polishes that still fit at the last station, a part of one with them.
    pub(super) left: f64,
}

/// A blade's life.
#[derive(Clone, Debug)]
pub(super) struct Life {
    /// Truth.
    pub(super) truth: Truth,
    /// What the plugin is asked.
    pub(super) request: CheckRequest,
}

/// Rates that drift from one polish to the next.
struct Rates {
    base: f64,
    level: f64,
    /// Where the stones start on this blade, mm from the notch.
    from: f64,
}

impl Rates {
    fn next(&mut self, stream: &mut Stream) -> f64 {
        let fresh = (1.0 - RATE_MEMORY * RATE_MEMORY).sqrt();
        self.level = RATE_MEMORY * self.level + fresh * stream.normal();
        // Lognormal about a mean of `base`, so that no polish adds steel.
        let spread = (1.0 + RATE_SPREAD * RATE_SPREAD).ln();
        self.base * (spread.sqrt() * self.level - spread / 2.0).exp()
    }
}

struct Bench<'a> {
    set: Set,
    writer: &'a Writer,
    scale: InUse,
    gauge: InUse,
    density: f64,
    places: Vec<f64>,
}

impl Bench<'_> {
    fn weigh(&mut self, steel: &Steel, rust: f64, wet: bool, stream: &mut Stream) -> Value {
        self.scale.new_session(stream);
        let mut mass = steel.volume() * self.density * 1e-3 + rust;
        mass += self.set.film * stream.normal() + self.set.repeat * stream.normal();
        if wet {
            let (mean, spread) = self.set.wet;
            mass += (mean + spread * stream.normal()).max(0.0);
        }
        let shown = self.scale.shown(mass);
        let text = format!("{shown:.*} g", self.scale.digits());
        self.writer.weighed(&text)
    }

    fn stations(&mut self, steel: &Steel, stream: &mut Stream) -> Vec<Value> {
        self.gauge.new_session(stream);
        let read = |place: f64, pick: fn(&Across) -> f64, stream: &mut Stream| {
            let at = place + self.set.placement * stream.normal();
            let shown = self.gauge.shown(pick(&steel.across(at)));
            let text = format!("{shown:.*} mm", self.gauge.digits());
            self.writer.gauged(&text)
        };
        let station = |place: &f64| {
            json!({
                "at": Writer::length(&format!("{place} mm")),
                "width": read(*place, |one| one.width, stream),
                "ridge_thickness": read(*place, |one| one.ridge_thickness, stream),
                "back_thickness": read(*place, |one| one.back_thickness, stream),
                "ridge_width": read(*place, |one| one.ridge_width, stream),
            })
        };
        self.places.iter().map(station).collect()
    }

    fn sheet(
        &mut self,
        blade: Blade,
        reason: &str,
        (steel, rust): (&Steel, f64),
        log: &[Value],
        stream: &mut Stream,
    ) -> Value {
        let mass = self.weigh(steel, rust, false, stream);
        let stations = self.stations(steel, stream);
        self.writer.sheet(blade, reason, &mass, &stations, log)
    }
}

/// One polish: several passes, each with a depth and parts of its own, rates drifting from pass to pass.
fn passes(
    rate: f64,
    from: f64,
    stream: &mut Stream,
) -> Vec<(&'static str, &'static [&'static str], Stroke)> {
    let mut drift = 1.0;
    let mut stroke = |parts: &[Part], depth: f64, stream: &mut Stream| {
        drift *= (0.1 * stream.normal()).exp();
        Stroke::draw(parts, depth * rate * drift, from, stream)
    };
    vec![
        (
            "grind",
            &["edge", "ground", "ridge"],
            stroke(&[Edge, Ground, Ridge], 0.60, stream),
        ),
        (
            "grind",
            &["edge", "ground"],
            stroke(&[Edge, Ground], 0.15, stream),
        ),
        (
            "polish",
            &["edge", "ground", "ridge", "point"],
            stroke(&[Edge, Ground, Ridge, Point], 0.25, stream),
        ),
    ]
}

/// Lives one life with one set of instruments.
pub(super) fn live(set: Set, writer: &Writer, seed: u64) -> Life {
    let mut stream = Stream::new(seed);
    let stream = &mut stream;
    let mut steel = Steel::invent(stream);
    let point_line = (steel.length - steel.point).floor();
    // One workshop in two measures on the point line itself, the other a little before it.
    let last = point_line - if stream.unit() < 0.5 { 0.0 } else { 6.0 };
    let mut bench = Bench {
        set,
        writer,
        scale: InUse::new(set.scale, stream),
        gauge: InUse::new(set.gauge, stream),
        density: stream.between(7.77, 7.87),
        places: vec![0.0, 130.0, 260.0, 390.0, 520.0, last],
    };
    let mut rates = Rates {
        base: stream.between(0.012, 0.022),
        level: stream.normal(),
        from: START_SPREAD * stream.normal(),
    };
    let before = steel.clone();
    let at_start = steel.across(last).ridge_thickness;
    // About twice the mean depth goes from the thickness in a polish; room for one to nine more.
    let room = stream.between(1.0, 9.0) + POLISHES as f64;
    let thinnest = ((at_start - 2.1 * rates.base * room) * 1e3).round() / 1e3;
    let blade = Blade {
        length: steel.length,
        point: steel.point,
        temper: steel.temper,
        thinnest,
    };
    let mut rust = stream.between(0.3, 3.0);
    let rust_gone = rust;
    let mut steel_gone = 0.0;
    let mut log: Vec<Value> = Vec::new();
    let first = bench.sheet(blade, "before_work", (&steel, rust), &log, stream);
    let mut sheets = vec![first];
    for polish in 0..POLISHES {
        let rate = rates.next(stream);
        let mut mass = bench.weigh(&steel, rust, false, stream);
        let mut write = |operation: &str, zones: &[&str], before: &Value, after: &Value| {
            log.push(Writer::pass(log.len() + 1, operation, zones, before, after));
        };
        if polish == 0 {
            rust = 0.0;
            let after = bench.weigh(&steel, rust, false, stream);
            write("derust", &["edge", "ground", "ridge"], &mass, &after);
            mass = after;
        }
        for (operation, zones, stroke) in passes(rate, rates.from, stream) {
            let volume = steel.volume();
            steel.work(&stroke, -1e3, 1e4);
            steel_gone += (volume - steel.volume()) * bench.density * 1e-3;
            let after = bench.weigh(&steel, rust, true, stream);
            write(operation, zones, &mass, &after);
            mass = after;
        }
        sheets.push(bench.sheet(blade, "after_work", (&steel, rust), &log, stream));
    }
    let local = bench
        .places
        .iter()
        .flat_map(|at| {
            let (first, last) = (before.across(*at), steel.across(*at));
            [
                ("width", *at, first.width - last.width),
                (
                    "ridge_thickness",
                    *at,
                    first.ridge_thickness - last.ridge_thickness,
                ),
                (
                    "back_thickness",
                    *at,
                    first.back_thickness - last.back_thickness,
                ),
            ]
        })
        .collect();
    let truth = Truth {
        steel: steel_gone,
        rust: rust_gone,
        depth: steel_gone / (bench.density * 1e-3) / steel.worked() * 1e3,
        local,
        left: left(steel, last, thinnest, &mut rates, stream),
    };
    Life {
        truth,
        request: Writer::request(sheets, settings(set)),
    }
}

/// Polishes on at one place until the blade is too thin there.
fn left(mut steel: Steel, at: f64, thinnest: f64, rates: &mut Rates, stream: &mut Stream) -> f64 {
    let mut thickness = steel.across(at).ridge_thickness;
    if thickness <= thinnest {
        return 0.0;
    }
    for polish in 0..BEYOND {
        let rate = rates.next(stream);
        for (_, _, stroke) in passes(rate, rates.from, stream) {
            steel.work(&stroke, at - 20.0, at + 20.0);
        }
        let after = steel.across(at).ridge_thickness;
        if after <= thinnest {
            return polish as f64 + (thickness - thinnest) / (thickness - after);
        }
        thickness = after;
    }
    BEYOND as f64
}

/// What the workshop says of itself.
fn settings(set: Set) -> Value {
    json!({
        "weighing_repeatability_g": set.repeat,
        "residue_g": set.film,
        "scale_repeats": set.scale.stays,
        "gauge_repeats": set.gauge.stays,
        "station_placement_mm": set.placement,
        "surface_percent": SURFACE_PERCENT,
        "rate_spread_percent": LOCAL_SPREAD * 100.0,
        "rate_memory": LOCAL_MEMORY,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the workshop states of its polishes is true: spread and memory from the logarithms of the losses at one station.
    #[test]
    fn the_stated_spread_is_the_true_one() {
        const LONG: usize = 12;
        let (mut near, mut far, mut nears, mut fars) = (0.0, 0.0, 0.0, 0.0);
        for seed in 0..250 {
            let stream = &mut Stream::new(seed);
            let mut steel = Steel::invent(stream);
            let at = steel.length - steel.point - 6.0;
            let mut rates = Rates {
                base: 0.015,
                level: stream.normal(),
                from: 0.0,
            };
            let mut thickness = steel.across(at).ridge_thickness;
            let mut logs = Vec::new();
            for _ in 0..LONG {
                let rate = rates.next(stream);
                for (_, _, stroke) in passes(rate, rates.from, stream) {
                    steel.work(&stroke, at - 20.0, at + 20.0);
                }
                let after = steel.across(at).ridge_thickness;
                logs.push((thickness - after).ln());
                thickness = after;
            }
            for pair in logs.windows(2) {
                near += (pair[0] - pair[1]).powi(2) / 2.0;
                nears += 1.0;
            }
            for pair in logs.windows(LONG / 2) {
                far += (pair[0] - pair[LONG / 2 - 1]).powi(2) / 2.0;
                fars += 1.0;
            }
        }
        let variance: f64 = far / fars;
        let spread = variance.exp_m1().sqrt();
        let memory = 1.0 - near / nears / variance;
        assert!((spread - LOCAL_SPREAD).abs() < 0.02, "{spread}");
        assert!((memory - LOCAL_MEMORY).abs() < 0.06, "{memory} {spread}");
    }
}
