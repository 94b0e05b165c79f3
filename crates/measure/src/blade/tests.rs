#![allow(clippy::unwrap_used)]
mod properties;

use tangmark_core::record::BackForm;

use super::*;
use crate::Estimate;
use crate::section::{Section, SectionForm};
use crate::volume::{self, Placed};

fn near(found: f64, expected: f64, half: f64) {
    assert!(
        (found - expected).abs() <= half,
        "{found} is not {expected} ± {half}"
    );
}

const BASE: [f64; 4] = [30.0, 7.0, 6.5, 10.0];
const MIDDLE: [f64; 4] = [25.0, 6.0, 5.55, 8.5];
const POINT_LINE: [f64; 4] = [20.0, 5.0, 4.6, 7.0];

fn section([width, thickness, back_thickness, ridge_width]: [f64; 4]) -> Section {
    Section {
        width,
        thickness,
        back_thickness,
        ridge_width,
    }
}

fn station(at: f64, measures: [f64; 4], doubt: f64) -> Station {
    let [width, thickness, back_thickness, ridge_width] =
        measures.map(|value| Estimate::new(value, doubt));
    Station {
        at: Estimate::exact(at),
        width,
        thickness,
        back_thickness,
        ridge_width,
    }
}

fn blade(form: SectionForm, stations: &[(f64, [f64; 4])]) -> Blade {
    let stations = stations.iter().map(|(at, all)| station(*at, *all, 0.0));
    Blade::new(form, stations.collect())
}

fn long_sword() -> Blade {
    let stations = [(0.0, BASE), (332.5, MIDDLE), (665.0, POINT_LINE)];
    let mut blade = blade(SectionForm::Ridged, &stations);
    blade.point = Some(Point {
        length: Estimate::exact(35.0),
        taper: Estimate::exact(1.0),
    });
    blade
}

/// A worked long sword, all results recomputed from the stated inputs: volumes 66 272.79 and 771.17 mm³, perimeters
/// 67.114, 56.097 and 45.082 mm, surface 38 093.68 mm², 526.30 g at 7.85 g/cm³.
#[test]
fn the_worked_long_sword() {
    for (measures, perimeter) in [(BASE, 67.114), (MIDDLE, 56.097), (POINT_LINE, 45.082)] {
        let found = slice(SectionForm::Ridged, section(measures), &Details::PLAIN);
        near(found.perimeter.total(), perimeter, 5e-4);
    }
    for between in [Between::Linear, Between::Monotone] {
        let mut sword = long_sword();
        sword.between = between;
        let model = sword.model().unwrap();
        near(model.between(0.0, 665.0).solid.volume, 66_272.79, 0.005);
        let totals = model.totals();
        near(totals.solid.volume, 66_272.79 + 771.17, 0.01);
        near(totals.surface.total(), 38_093.68, 0.5);
        let figures = sword.figures(Estimate::exact(7.85)).unwrap();
        near(figures.mass.estimate.value, 526.30, 0.005);
        near(figures.mass.estimate.standard_uncertainty, 0.0, 0.0);
    }
}

/// Recomputed: 0.5, 1, 2, 5 and 10 g over that surface; u of a difference of two weighings 0.0147 g is 0.049 µm.
#[test]
fn mean_removal_from_a_loss_of_mass() {
    let (density, surface) = (Estimate::exact(7.85), Estimate::exact(38_093.68));
    for (grams, micrometres) in [
        (0.5, 1.672),
        (1.0, 3.344),
        (2.0, 6.688),
        (5.0, 16.720),
        (10.0, 33.441),
    ] {
        let depth = mean_removal(Estimate::new(grams, 0.0147), density, surface).unwrap();
        near(depth.value, micrometres, 6e-4);
        near(depth.standard_uncertainty, 0.049, 5e-4);
    }
    assert_eq!(mean_removal(density, Estimate::exact(0.0), surface), None);
    assert_eq!(mean_removal(density, density, Estimate::exact(0.0)), None);
}

/// Closed forms of solid geometry.
#[test]
fn prism_wedge_cone_and_frustum() {
    let bar = [24.0, 6.0, 6.0, 24.0];
    let prism = blade(SectionForm::Ridged, &[(0.0, bar), (100.0, bar)])
        .model()
        .unwrap()
        .totals();
    near(prism.solid.volume, 14_400.0, 1e-9);
    near(prism.solid.centre().unwrap(), 50.0, 1e-12);
    near(prism.surface.back, 600.0, 1e-9);
    near(prism.surface.ridge_face, 4800.0, 1e-9);
    near(prism.surface.ground, 600.0, 1e-9);

    let wide = [24.0, 6.0, 6.0, 0.0];
    let wedge = blade(SectionForm::Wedge, &[(0.0, wide), (80.0, wide)])
        .model()
        .unwrap()
        .totals();
    near(wedge.solid.volume, 72.0 * 80.0, 1e-9);
    near(wedge.surface.ground, 160.0 * 24.0_f64.hypot(3.0), 1e-9);
    near(wedge.surface.back, 480.0, 1e-9);

    // A pyramid by stations, and as a point: a third of area times height, centre a quarter up.
    let base = [20.0, 8.0, 0.0, 10.0];
    let pyramid = blade(SectionForm::Diamond, &[(0.0, base), (60.0, [0.0; 4])])
        .model()
        .unwrap()
        .totals();
    near(pyramid.solid.volume, 80.0 * 60.0 / 3.0, 1e-9);
    near(pyramid.solid.centre().unwrap(), 15.0, 1e-10);
    near(
        pyramid.surface.ground,
        4.0 * 10.0_f64.hypot(4.0) * 30.0,
        1e-9,
    );
    let mut tipped = blade(SectionForm::Diamond, &[(-1.0, base), (0.0, base)]);
    tipped.from = -1.0;
    tipped.point = Some(Point {
        length: Estimate::exact(60.0),
        taper: Estimate::exact(1.0),
    });
    let model = tipped.model().unwrap();
    let (whole, body) = (model.totals(), model.between(-1.0, 0.0));
    near(whole.solid.volume - body.solid.volume, 1600.0, 1e-9);
    near(
        (whole.solid.moment - body.solid.moment) / 1600.0,
        15.0,
        1e-10,
    );
    let summed = model.between(0.0, 60.0);
    near(summed.solid.volume, 1600.0, 1e-9);
    near(
        summed.surface.total(),
        whole.surface.total() - body.surface.total(),
        1e-8,
    );

    // Frustum: h/3 (A + √(AB) + B).
    let half = base.map(|one| one / 2.0);
    let frustum = blade(SectionForm::Diamond, &[(0.0, base), (30.0, half)])
        .model()
        .unwrap()
        .totals();
    near(frustum.solid.volume, 10.0 * (80.0 + 40.0 + 20.0), 1e-9);
}

#[test]
fn the_steel_begins_at_the_datum_or_the_first_station() {
    let stations = [(20.0, BASE), (300.0, MIDDLE)];
    let mut sword = blade(SectionForm::Ridged, &stations);
    let model = sword.model().unwrap();
    assert_eq!(model.ends(), (0.0, 300.0, 300.0));
    // Up to the first station its measures hold.
    near(model.between(0.0, 20.0).solid.volume, 137.5 * 20.0, 1e-9);
    near(model.section_at(10.0).width, 30.0, 0.0);
    sword.from = 50.0;
    assert_eq!(
        sword.model().unwrap().ends().0.to_bits(),
        20.0_f64.to_bits()
    );
    near(
        model.between(400.0, 900.0).solid.volume + model.between(30.0, 20.0).solid.volume,
        0.0,
        0.0,
    );
}

#[test]
fn outlines_agree_with_their_corners() {
    // Area by the corners (shoelace formula) and length by the sides.
    let corners = |points: &[(f64, f64)]| {
        let sides = points.iter().zip(points.iter().cycle().skip(1));
        let (area, length) = sides.fold((0.0, 0.0), |(area, length), (a, b)| {
            (
                area + (a.0 * b.1 - b.0 * a.1) / 2.0,
                length + (b.0 - a.0).hypot(b.1 - a.1),
            )
        });
        (f64::abs(area), length)
    };
    let (b, k, m, s) = (28.0, 7.0, 5.0, 9.0);
    let all = section([b, k, m, s]);
    for (form, points) in [
        (
            SectionForm::Ridged,
            vec![
                (0.0, 0.0),
                (b - s, k / 2.0),
                (b, m / 2.0),
                (b, -m / 2.0),
                (b - s, -k / 2.0),
            ],
        ),
        (
            SectionForm::OneSided,
            vec![(0.0, 0.0), (b - s, k), (b, m), (b, 0.0)],
        ),
        (
            SectionForm::Diamond,
            vec![(0.0, 0.0), (b - s, k / 2.0), (b, 0.0), (b - s, -k / 2.0)],
        ),
        (
            SectionForm::Triangle,
            vec![(0.0, 0.0), (b - s, k), (b, 0.0)],
        ),
    ] {
        let found = slice(form, all, &Details::PLAIN);
        let (area, length) = corners(&points);
        near(found.area, area, 1e-9);
        near(found.perimeter.total(), length, 1e-9);
    }
}

#[test]
fn backs_bulges_and_bevels() {
    let plain = slice(SectionForm::Ridged, section(BASE), &Details::PLAIN);
    let of = |form, rise, counted_in_width| {
        let details = Details {
            back: Back {
                form,
                counted_in_width,
            },
            back_rise: rise,
            ..Details::PLAIN
        };
        slice(SectionForm::Ridged, section(BASE), &details)
    };
    // The roof of two slopes: m·h/2, from memory of the trade.
    let roof = of(BackForm::Iori, 0.2, false);
    near(roof.area - plain.area, 6.5 * 1.3 / 2.0, 1e-12);
    near(roof.perimeter.back, 2.0 * 3.25_f64.hypot(1.3), 1e-12);
    // Counted in the width, the same outline as a narrower section with its roof.
    let narrower = slice(
        SectionForm::Ridged,
        section([30.0 - 1.3, 7.0, 6.5, 10.0]),
        &Details::PLAIN,
    );
    near(
        of(BackForm::Iori, 0.2, true).area,
        narrower.area + 6.5 * 1.3 / 2.0,
        1e-12,
    );
    near(
        of(BackForm::Mitsu, 0.2, false).area - plain.area,
        1.3 * 6.5 * 2.0 / 3.0,
        1e-12,
    );
    near(
        of(BackForm::Maru, 0.2, false).area - plain.area,
        1.3 * 6.5 * 2.0 / 3.0,
        1e-12,
    );
    for form in [BackForm::Iori, BackForm::Mitsu, BackForm::Maru] {
        near(of(form, 0.0, false).area, plain.area, 1e-12);
        near(of(form, 0.0, false).perimeter.back, 6.5, 1e-12);
        assert!(of(form, 0.3, false).perimeter.back > 6.5);
    }
    let shaped = |bulge, bevel| {
        let details = Details {
            bulge,
            bevel,
            ..Details::PLAIN
        };
        slice(SectionForm::Wedge, section([24.0, 6.0, 6.0, 0.0]), &details)
    };
    let face = 24.0_f64.hypot(3.0);
    near(
        shaped(0.01, 0.0).area,
        72.0 + 4.0 / 3.0 * 0.01 * face * face,
        1e-12,
    );
    near(
        shaped(-0.01, 0.0).area,
        72.0 - 4.0 / 3.0 * 0.01 * face * face,
        1e-12,
    );
    // A shallow arc is longer than its chord by 8/3 of the square of its height over the chord.
    near(
        shaped(0.01, 0.0).perimeter.ground / (2.0 * face),
        1.0 + 8.0 / 3.0 * 1e-4,
        1e-7,
    );
    let bevelled = shaped(0.0, 1.5);
    near(bevelled.perimeter.edge_bevel, 3.0, 1e-12);
    near(
        bevelled.perimeter.total(),
        shaped(0.0, 0.0).perimeter.total(),
        1e-12,
    );
    near(shaped(0.0, 99.0).perimeter.ground, 0.0, 0.0);
    // Three edges have two bevels each.
    let details = Details {
        bevel: 1.5,
        ..Details::PLAIN
    };
    let triangle = slice(
        SectionForm::Triangle,
        section([24.0, 10.0, 0.0, 12.0]),
        &details,
    );
    near(triangle.perimeter.edge_bevel, 9.0, 1e-12);
}

#[test]
fn grooves_take_steel_and_give_surface() {
    let plain = long_sword().model().unwrap().totals();
    let mut sword = long_sword();
    let groove = |from, to| Groove {
        zone: Zone::RidgeFace,
        from,
        to,
        width: Estimate::exact(6.0),
        depth: Estimate::exact(1.5),
    };
    sword.grooves = vec![groove(-30.0, 400.0), groove(100.0, 400.0)];
    let grooved = sword.model().unwrap().totals();
    // 2/3 of width times depth, over 400 mm and 300 mm of blade.
    near(plain.solid.volume - grooved.solid.volume, 6.0 * 700.0, 1e-8);
    let arc = 3.0 * (2.0_f64.sqrt() + 1.0_f64.asinh());
    near(
        grooved.surface.ridge_face - plain.surface.ridge_face,
        (arc - 6.0) * 700.0,
        1e-8,
    );
    near(grooved.surface.ground, plain.surface.ground, 1e-8);
}

#[test]
fn a_tang_hangs_behind_the_datum() {
    let tang = tang_bar(200.0, &[(27.0, 6.8), (22.0, 5.65), (17.0, 4.5)]).unwrap();
    near(tang.volume, 25_243.33, 0.005);
    near(
        tang_bar(90.0, &[(4.0, 3.0), (4.0, 3.0)])
            .unwrap()
            .centre()
            .unwrap(),
        -45.0,
        1e-12,
    );
    // A wedge in plan: the centre of a triangle lies a third from its base.
    near(
        tang_bar(90.0, &[(4.0, 3.0), (0.0, 3.0)])
            .unwrap()
            .centre()
            .unwrap(),
        -30.0,
        1e-12,
    );
    assert_eq!(tang_bar(90.0, &[(4.0, 3.0)]), None);
    let whole = long_sword().model().unwrap().totals().solid + tang;
    near(whole.volume, 92_287.29, 0.01);
    assert!(
        whole.centre().unwrap()
            < long_sword()
                .model()
                .unwrap()
                .totals()
                .solid
                .centre()
                .unwrap()
    );
    assert_eq!(Solid::default().centre(), None);
}

/// Two stations of a bar: V = L·(w₁ + w₂)/2·t with all slopes in closed form.
#[test]
fn uncertainty_of_a_bar() {
    let bar = |width: f64| Station {
        at: Estimate::exact(0.0),
        width: Estimate::new(width, 0.05),
        thickness: Estimate::exact(6.0),
        back_thickness: Estimate::exact(6.0),
        ridge_width: Estimate::exact(0.0),
    };
    let mut last = bar(24.0);
    last.at = Estimate::new(100.0, 0.2);
    let mut wedge = Blade::new(SectionForm::Wedge, vec![bar(24.0), last]);
    let figures = wedge.figures(Estimate::new(7.8, 0.02)).unwrap();
    // V = 300·(w₁ + w₂)/2 in mm³; the place of the end weighs with the area, 72 mm².
    let own = (2.0 * (150.0 * 0.05_f64).powi(2) + (72.0 * 0.2_f64).powi(2)).sqrt();
    near(figures.volume.estimate.value, 7200.0, 1e-9);
    near(figures.volume.estimate.standard_uncertainty, own, 1e-6);
    let mass = (own * 7.8e-3).hypot(7.2 * 0.02);
    near(figures.mass.estimate.standard_uncertainty, mass, 1e-6);
    assert_eq!(figures.mass.budget.len(), 4);
    near(figures.correlations[0][1], own * 7.8e-3 / mass, 1e-6);
    // Shared by both stations the doubt does not average out.
    wedge.offsets.width = 0.05;
    let shared = wedge.figures(Estimate::exact(7.8)).unwrap().volume.estimate;
    near(shared.standard_uncertainty, own.hypot(300.0 * 0.05), 1e-6);
    // The back is 6 mm wide: a shared thickness of 0.02 mm is a third of a per cent of it.
    wedge.offsets = Offsets {
        width: 0.0,
        thickness: 0.02,
    };
    let back = wedge
        .figures(Estimate::exact(7.8))
        .unwrap()
        .surface
        .back
        .estimate;
    near(back.value, 600.0, 1e-9);
    near(
        back.standard_uncertainty,
        (100.0 * 0.02_f64).hypot(6.0 * 0.2),
        1e-6,
    );
}

#[test]
fn what_cannot_be_a_blade_is_refused() {
    let text = |change: fn(&mut Blade)| {
        let mut sword = long_sword();
        change(&mut sword);
        sword.figures(volume::density()).unwrap_err().to_string()
    };
    assert_eq!(
        text(|sword| sword.stations[1].ridge_width.value = 26.0),
        "the ridge width at 332.5 mm is 26 mm, 0 to 25 mm is allowed: measure it again"
    );
    assert!(text(|sword| sword.stations.truncate(1)).contains("two points or more"));
    assert!(text(|sword| sword.stations.swap(0, 1)).starts_with("the stations: place 0"));
    let roofed = text(|sword| {
        sword.stations[1].ridge_width.value = 24.5;
        sword.back_rise.value = 0.2;
        sword.back.counted_in_width = true;
    });
    assert!(
        roofed.starts_with("the ridge width at 332.5 mm is 24.5 mm, 0 to 23.89 mm"),
        "{roofed}"
    );
    assert!(text(|sword| sword.bulge.value = f64::NAN).contains("bulge"));
    assert!(
        text(|sword| sword.stations[0].at = Estimate::new(0.0, 500.0)).contains("near the inputs")
    );
    assert!(text(|sword| sword.stations[0].width.value = -1.0).contains("-1 mm"));
}

#[test]
fn a_sheet_gives_its_stations() {
    let length = |value: &str| {
        serde_json::json!({
            "as_read": [{ "text": format!("{value} mm"), "unit": "mm" }],
            "value": value, "unit": "mm", "standard_uncertainty": "0.1", "uncertainty_from": "stated",
        })
    };
    let sheet = serde_json::json!({
        "datum": "back_notch",
        "blade_length": length("300"),
        "stations": [
            { "at": length("0"), "width": length("28"), "ridge_thickness": length("6.5"), "back_thickness": length("6"), "ridge_width": length("9") },
            { "at": length("150"), "width": length("26") },
            { "at": length("270"), "width": length("20"), "ridge_thickness": length("5"), "back_thickness": length("4.5"), "ridge_width": length("7") },
        ],
        "grooves": [
            { "face": "ura", "from": length("20"), "to": length("200"), "width": length("6"), "depth": length("1") },
            { "face": "omote", "from": length("20"), "to": length("200"), "width": length("6") },
        ],
    });
    let dimensions = serde_json::from_value(sheet).unwrap();
    let ridged = Blade::of(SectionForm::Ridged, &dimensions, Some(BackForm::Iori));
    assert_eq!((ridged.stations.len(), ridged.grooves.len()), (2, 1));
    assert_eq!(ridged.grooves[0].zone, Zone::RidgeFace);
    assert_eq!(ridged.back.form, BackForm::Iori);
    near(ridged.point.unwrap().length.value, 30.0, 1e-12);
    near(
        ridged.point.unwrap().length.standard_uncertainty,
        0.1,
        1e-12,
    );
    near(ridged.stations[1].width.standard_uncertainty, 0.1, 1e-12);
    let figures = ridged.figures(volume::density()).unwrap();
    assert!(figures.volume.estimate.standard_uncertainty > 0.0);
    let wedge = Blade::of(SectionForm::Diamond, &dimensions, None);
    near(wedge.stations[0].ridge_width.value, 9.0, 1e-12);
    assert_eq!(wedge.grooves[0].zone, Zone::Ground);
}
