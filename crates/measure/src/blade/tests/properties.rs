use proptest::prelude::*;

use super::*;
use crate::monte_carlo::{self, Distribution};

/// First-order uncertainties agree with drawing the measures at random.
#[test]
fn budgets_agree_with_draws() {
    let measures = [(0.0, BASE), (300.0, MIDDLE), (600.0, POINT_LINE)];
    let stations = measures.map(|(at, all)| station(at, all, 0.1));
    let mut sword = Blade::new(SectionForm::Ridged, stations.to_vec());
    sword.point = Some(Point {
        length: Estimate::new(35.0, 0.5),
        taper: Estimate::new(0.9, 0.05),
    });
    let figures = sword.figures(Estimate::exact(7.82)).unwrap();
    let mut inputs: Vec<Distribution> = stations
        .iter()
        .flat_map(|one| {
            [
                one.width,
                one.thickness,
                one.back_thickness,
                one.ridge_width,
            ]
        })
        .map(Distribution::from)
        .collect();
    inputs.extend([Estimate::new(35.0, 0.5), Estimate::new(0.9, 0.05)].map(Distribution::from));
    let drawn = |pick: fn(&Totals) -> f64| {
        let outcome = monte_carlo::propagate(&inputs, 2000, 1, |at| {
            let mut sword = sword.clone();
            for (one, values) in sword.stations.iter_mut().zip(at.chunks(4)) {
                one.width.value = values[0];
                one.thickness.value = values[1];
                one.back_thickness.value = values[2];
                one.ridge_width.value = values[3];
            }
            sword.point = Some(Point {
                length: Estimate::exact(at[12]),
                taper: Estimate::exact(at[13]),
            });
            pick(&sword.model().unwrap().totals())
        });
        outcome.unwrap().estimate()
    };
    for (budget, drawn) in [
        (&figures.volume, drawn(|all| all.solid.volume)),
        (&figures.centre, drawn(|all| all.solid.centre().unwrap())),
        (&figures.surface.ground, drawn(|all| all.surface.ground)),
        (&figures.total_surface, drawn(|all| all.surface.total())),
    ] {
        let first_order = budget.estimate;
        // A spread of 2000 draws is known to 1.6 per cent.
        let ratio = drawn.standard_uncertainty / first_order.standard_uncertainty;
        near(ratio, 1.0, 0.06);
        near(
            drawn.value,
            first_order.value,
            0.1 * first_order.standard_uncertainty,
        );
    }
}

fn any_sections() -> impl Strategy<Value = Vec<(f64, [f64; 4])>> {
    prop::collection::vec(
        (
            5.0..120.0_f64,
            15.0..35.0_f64,
            4.0..9.0_f64,
            0.5..1.0_f64,
            0.1..0.6_f64,
        ),
        2..8,
    )
    .prop_map(|rows| {
        let mut at = 0.0;
        rows.into_iter()
            .map(|(step, width, thickness, back, ridge)| {
                let row = (at, [width, thickness, back * thickness, ridge * width]);
                at += step;
                row
            })
            .collect()
    })
}

fn any_form() -> impl Strategy<Value = SectionForm> {
    prop::sample::select(vec![
        SectionForm::Ridged,
        SectionForm::Wedge,
        SectionForm::Diamond,
        SectionForm::Triangle,
        SectionForm::OneSided,
    ])
}

proptest! {
    #[test]
    fn straight_sums_agree_with_the_prismoidal_formula(rows in any_sections(), form in any_form()) {
        let mut sword = blade(form, &rows);
        sword.between = Between::Linear;
        let placed: Vec<Placed> = rows.iter().map(|(at, all)| Placed { at: *at, section: section(*all) }).collect();
        let expected = volume::between_stations(form, &placed);
        prop_assert!((sword.model().unwrap().totals().solid.volume - expected).abs() <= 1e-10 * expected);
    }

    #[test]
    fn the_parts_of_a_blade_add_up(rows in any_sections(), form in any_form(), share in 0.0..1.0_f64, taper in 0.5..2.0_f64) {
        let mut sword = blade(form, &rows);
        sword.point = Some(Point { length: Estimate::exact(30.0), taper: Estimate::exact(taper) });
        sword.grooves.push(Groove { zone: Zone::Ground, from: 10.0, to: 60.0, width: Estimate::exact(3.0), depth: Estimate::exact(0.5) });
        sword.bevel = Estimate::exact(1.0);
        let model = sword.model().unwrap();
        let (from, last, tip) = model.ends();
        let cut = from + share * (last - from);
        let parts = model.between(from, cut) + model.between(cut, last);
        let whole = model.between(from, last);
        prop_assert!((parts.solid.volume - whole.solid.volume).abs() <= 1e-10 * whole.solid.volume);
        prop_assert!((parts.solid.moment - whole.solid.moment).abs() <= 1e-10 * whole.solid.moment);
        // Perimeters are no polynomials: what the quadrature leaves.
        prop_assert!((parts.surface.total() - whole.surface.total()).abs() <= 1e-5 * whole.surface.total());
        let all = whole + model.between(last, tip);
        let closed = model.totals();
        let (summed, bevel) = (all.surface.edge_bevel, closed.surface.edge_bevel);
        prop_assert!((summed - bevel).abs() <= 1e-3 * bevel, "{summed} {bevel}");
        prop_assert!((all.solid.volume - closed.solid.volume).abs() <= 1e-3 * closed.solid.volume);
        prop_assert!((all.surface.total() - closed.surface.total()).abs() <= 1e-3 * closed.surface.total());
    }

    #[test]
    fn units_scale(rows in any_sections(), form in any_form()) {
        // The same blade in cm: a thousandth of the volume, a hundredth of the surface.
        let small: Vec<(f64, [f64; 4])> = rows.iter().map(|(at, all)| (at / 10.0, all.map(|one| one / 10.0))).collect();
        let (mm, cm) = (blade(form, &rows).model().unwrap().totals(), blade(form, &small).model().unwrap().totals());
        prop_assert!((cm.solid.volume * 1e3 - mm.solid.volume).abs() <= 1e-10 * mm.solid.volume);
        prop_assert!((cm.solid.moment * 1e4 - mm.solid.moment).abs() <= 1e-10 * mm.solid.moment);
        prop_assert!((cm.surface.total() * 1e2 - mm.surface.total()).abs() <= 1e-10 * mm.surface.total());
    }

    #[test]
    fn more_stations_come_nearer(bend in 0.1..0.9_f64, form in any_form()) {
        // A blade that tapers along a curve; the volume by 80 stations counts as the truth.
        let measured = |count: u32| {
            let rows: Vec<(f64, [f64; 4])> = (0..=count).map(|k| {
                let share = f64::from(k) / f64::from(count);
                let size = 1.0 - bend * share * share * share;
                (600.0 * share, [30.0 * size, 7.0 * size, 6.0 * size, 9.0 * size])
            }).collect();
            let mut sword = blade(form, &rows);
            let smooth = sword.model().unwrap().totals().solid.volume;
            sword.between = Between::Linear;
            (smooth, sword.model().unwrap().totals().solid.volume)
        };
        let truth = measured(80).0;
        let (coarse, fine) = (measured(4), measured(16));
        prop_assert!((fine.0 - truth).abs() < (coarse.0 - truth).abs());
        prop_assert!((fine.1 - truth).abs() < (coarse.1 - truth).abs());
        prop_assert!((fine.0 - truth).abs() < 2e-4 * truth);
        prop_assert!((coarse.0 - truth).abs() < (coarse.1 - truth).abs(), "smooth beats straight");
    }
}
