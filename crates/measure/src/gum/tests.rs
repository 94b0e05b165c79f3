#![allow(clippy::unwrap_used)]
use super::*;
use crate::Estimate;
use proptest::prelude::*;

fn near(found: f64, expected: f64, half: f64) {
    assert!(
        (found - expected).abs() <= half,
        "{found} is not {expected} ± {half}"
    );
}

fn difference_of_gauges() -> Combined {
    let parts = [
        Input::new(
            "repeatability",
            Estimate::new(215.0, 5.8),
            "25 readings pooled",
        )
        .with_dof(24.0),
        Input::new("comparator, random", Estimate::new(0.0, 3.9), "certificate").with_dof(5.0),
        Input::new(
            "comparator, systematic",
            Estimate::new(0.0, 6.7),
            "certificate",
        )
        .with_dof(8.0),
    ];
    combine(&parts, &Correlations::none(), |at| at.iter().sum()).unwrap()
}

/// End-gauge inputs in nm, °C and 1/°C.
fn gauge() -> [Input; 6] {
    let difference = difference_of_gauges();
    let swing = Input::arcsine("swing", 0.0, 0.5, "cyclic");
    let mean = Estimate::new(-0.1, 0.2) + swing.estimate();
    [
        Input::from_expanded("standard", 50_000_623.0, 75.0, 3.0, "certificate")
            .unwrap()
            .with_dof(18.0),
        Input::new("difference", difference.estimate, "readings")
            .with_dof(difference.effective_dof),
        Input::rectangular("expansion of the standard", 11.5e-6, 2e-6, "handbook"),
        Input::new("deviation from 20 °C", mean, "test bed"),
        Input::rectangular("difference of expansions", 0.0, 1e-6, "judgement")
            .with_dof(doubt_dof(0.1)),
        Input::rectangular("difference of temperatures", 0.0, 0.05, "judgement")
            .with_dof(doubt_dof(0.5)),
    ]
}

fn gauge_length(at: &[f64]) -> f64 {
    let [
        standard,
        difference,
        expansion,
        theta,
        other_expansion,
        other_theta,
    ] = at
    else {
        return f64::NAN;
    };
    standard + difference - standard * (other_expansion * theta + expansion * other_theta)
}

/// Source: JCGM 100:2008, H.1 (calibration of an end gauge); values as quoted in public test files, and recomputed:
/// u = 32 nm (31.7 before rounding), ν = 16.7 → 16, k = 2.92, U = 93 nm, l = 50.000 838 mm, 34 nm with the
/// second-order terms (contributions 11.7 nm and 1.7 nm).
#[test]
fn end_gauge() {
    let difference = difference_of_gauges();
    near(difference.estimate.standard_uncertainty, 9.7, 0.05);
    near(difference.effective_dof, 25.6, 0.3);
    let inputs = gauge();
    near(inputs[3].standard_uncertainty, 0.41, 0.005);
    near(inputs[4].dof, 50.0, 1e-9);
    near(inputs[5].dof, 2.0, 1e-9);
    let result = combine(&inputs, &Correlations::none(), gauge_length).unwrap();
    near(result.estimate.value, 50_000_838.0, 1e-6);
    near(result.estimate.standard_uncertainty, 31.71, 0.05);
    let expected = [25.0, 9.7, 0.0, 0.0, 2.9, 16.6];
    for (line, expected) in result.budget.iter().zip(expected) {
        near(line.contribution.abs(), expected, 0.05);
    }
    near(
        result.budget.iter().map(|line| line.share).sum(),
        1.0,
        1e-12,
    );
    near(result.effective_dof, 16.7, 0.1);
    near(result.coverage_factor(0.99), 2.92, 0.005);
    // The printed 93 nm are 2.92 times the rounded 32 nm.
    near(result.expanded(0.99), 92.5, 0.1);
    let added = second_order_variance(&inputs, gauge_length).unwrap();
    near(
        added.sqrt(),
        (11.8_f64.powi(2) + 1.7_f64.powi(2)).sqrt(),
        0.15,
    );
    let with_second = (result.estimate.standard_uncertainty.powi(2) + added).sqrt();
    near(with_second, 34.0, 0.5);
}

#[test]
fn closed_sensitivities_agree_with_differences() {
    let inputs = gauge();
    let standard = inputs[0].value;
    let slopes = [1.0, 1.0, 0.0, 0.0, 0.1 * standard, -11.5e-6 * standard];
    let closed = combine_linear(&inputs, &Correlations::none(), 50_000_838.0, &slopes).unwrap();
    let differences = combine(&inputs, &Correlations::none(), gauge_length).unwrap();
    near(
        closed.estimate.standard_uncertainty,
        differences.estimate.standard_uncertainty,
        1e-6,
    );
    near(closed.effective_dof, differences.effective_dof, 1e-5);
}

/// Source: JCGM 100:2008, H.2 (resistance, reactance, impedance from simultaneous readings); readings from memory,
/// results recomputed, equal to the printed ones.
#[test]
fn simultaneous_resistance_and_reactance() {
    let volt = [5.007, 4.994, 5.005, 4.990, 4.999];
    let ampere = [0.019_663, 0.019_639, 0.019_640, 0.019_685, 0.019_678];
    let radian = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let inputs = [("V", volt), ("I", ampere), ("φ", radian)]
        .map(|(name, readings)| Input::from_readings(name, &readings, "five readings").unwrap());
    let tied = Correlations::from_readings(&[&volt, &ampere, &radian]);
    let joint = combine_all(&inputs, &tied, |at| {
        let impedance = at[0] / at[1];
        vec![impedance * at[2].cos(), impedance * at[2].sin(), impedance]
    })
    .unwrap();
    for (output, (value, uncertainty)) in
        joint
            .outputs
            .iter()
            .zip([(127.732, 0.071), (219.847, 0.2955), (254.260, 0.236)])
    {
        near(output.estimate.value, value, 5e-4);
        near(output.estimate.standard_uncertainty, uncertainty, 6e-4);
        near(output.effective_dof, 4.0, 1e-9);
    }
    near(joint.correlations[0][1], -0.588, 6e-4);
    near(joint.correlations[0][2], -0.485, 6e-4);
    near(joint.correlations[2][1], 0.993, 6e-4);
    near(joint.correlations[1][1], 1.0, 1e-12);
}

/// Source: JCGM 100:2008, H.3.4 (correction predicted by a calibration line); y1, y2, their uncertainties and
/// correlation recomputed from data of memory, before rounding; result −0.1494 °C, u = 0.0041 °C.
#[test]
fn predicted_correction() {
    let line = [
        Input::new("y1", Estimate::new(-0.171_20, 0.002_88), "fit").with_dof(9.0),
        Input::new("y2", Estimate::new(0.002_183, 0.000_669), "fit").with_dof(9.0),
    ];
    let tied = Correlations::none().with(1, 0, -0.930);
    let at_thirty = combine(&line, &tied, |at| at[0] + 10.0 * at[1]).unwrap();
    near(at_thirty.estimate.value, -0.1494, 5e-5);
    near(at_thirty.estimate.standard_uncertainty, 0.0041, 5e-5);
    near(at_thirty.effective_dof, 9.0, 1e-12);
}

#[test]
fn distributions_have_their_spread() {
    let half = 0.6;
    near(
        Input::rectangular("", 1.0, half, "").standard_uncertainty,
        0.346_41,
        1e-5,
    );
    near(
        Input::triangular("", 1.0, half, "").standard_uncertainty,
        0.244_95,
        1e-5,
    );
    near(
        Input::arcsine("", 1.0, half, "").standard_uncertainty,
        0.424_26,
        1e-5,
    );
    assert_eq!(Input::from_expanded("", 1.0, half, 0.0, ""), None);
    assert_eq!(Input::from_readings("", &[1.0], ""), None);
}

#[test]
fn what_cannot_be_combined_is_refused() {
    let one = |value: f64| Input::new("a", Estimate::new(value, 0.1), "");
    let none = Correlations::none();
    let text = |inputs: &[Input], tied: &Correlations| {
        combine(inputs, tied, |at| at[0].sqrt())
            .unwrap_err()
            .to_string()
    };
    assert!(text(&[one(f64::NAN)], &none).starts_with("input `a` has the value NaN"));
    assert!(text(&[one(1.0).with_dof(0.0)], &none).contains("degrees of freedom 0"));
    assert!(text(&[one(0.05)], &none).starts_with("output 0 is NaN near the inputs"));
    assert!(text(&[one(1.0)], &none.clone().with(0, 1, 0.5)).contains("inputs 0 and 1"));
    assert!(text(&[one(1.0), one(1.0)], &none.clone().with(0, 1, 1.5)).contains("1.5"));
    let three = [one(1.0), one(1.0), one(1.0)];
    let against = none.with(0, 1, -0.9).with(0, 2, -0.9).with(1, 2, -0.9);
    assert!(matches!(
        combine(&three, &against, |at| at.iter().sum()),
        Err(GumError::Contradiction { input: 2 })
    ));
    // The same matrix is refused where the variance would have come out above zero.
    assert!(combine(&three, &against, |at| at[0]).is_err());
    let full = Correlations::none().with(0, 1, 1.0).with(0, 2, 1.0);
    assert!(combine(&three, &full, |at| at[0]).is_err());
    assert!(combine(&three, &full.with(1, 2, 1.0), |at| at[0]).is_ok());
    let against = Correlations::none();
    assert!(matches!(
        combine_linear(&three, &against, 1.0, &[1.0]),
        Err(GumError::Count {
            found: 1,
            expected: 3
        })
    ));
}

#[test]
fn without_uncertainty_there_is_none() {
    let exact = [Input::new("a", Estimate::exact(3.0), "")];
    let result = combine(&exact, &Correlations::none(), |at| at[0] * 2.0).unwrap();
    assert_eq!(result.estimate, Estimate::exact(6.0));
    assert!(result.effective_dof.is_infinite());
    near(result.coverage_factor(0.95), 1.959_964, 1e-6);
}

/// The square of a normal variable about zero has the variance 2σ⁴, all of it in the second-order term.
#[test]
fn a_square_about_zero() {
    let input = [Input::new("x", Estimate::new(0.0, 0.3), "")];
    near(
        combine(&input, &Correlations::none(), |at| at[0] * at[0])
            .unwrap()
            .estimate
            .standard_uncertainty,
        0.0,
        1e-15,
    );
    near(
        second_order_variance(&input, |at| at[0] * at[0]).unwrap(),
        2.0 * 0.3_f64.powi(4),
        1e-12,
    );
    // x + x³ about zero: f₁ f₁₁₁ u⁴ = 6 u⁴, with the difference quotient for the slope 1 + u².
    let cubic = second_order_variance(&input, |at| at[0] + at[0].powi(3)).unwrap();
    near(cubic, 6.0 * 0.3_f64.powi(4) * 1.09, 1e-9);
}

proptest! {
    #[test]
    fn full_correlation_adds_straight(u in 0.01..2.0_f64, v in 0.01..2.0_f64) {
        let inputs = [Input::new("a", Estimate::new(5.0, u), ""), Input::new("b", Estimate::new(7.0, v), "")];
        let tied = |r: f64| Correlations::none().with(0, 1, r);
        let sum = combine(&inputs, &tied(1.0), |at| at[0] + at[1]).unwrap();
        prop_assert!((sum.estimate.standard_uncertainty - (u + v)).abs() < 1e-9);
        let difference = combine(&inputs, &tied(1.0), |at| at[0] - at[1]).unwrap();
        prop_assert!((difference.estimate.standard_uncertainty - (u - v).abs()).abs() < 1e-6);
    }

    #[test]
    fn independent_inputs_agree_with_plain_propagation(a in 1.0..50.0_f64, b in 1.0..50.0_f64, share in 0.001..0.02_f64) {
        let estimates = [Estimate::new(a, share * a), Estimate::new(b, share * b)];
        let inputs = estimates.map(|one| Input::new("", one, ""));
        let function = |at: &[f64]| at[0] * at[0] / at[1];
        let budget = combine(&inputs, &Correlations::none(), function).unwrap().estimate;
        let plain = crate::estimate::propagate(&estimates, function);
        prop_assert!((budget.standard_uncertainty - plain.standard_uncertainty).abs() <= 1e-9 * plain.standard_uncertainty);
    }

    #[test]
    fn effective_degrees_lie_between_the_least_and_the_sum(u in 0.1..3.0_f64, v in 0.1..3.0_f64, n in 1.0..30.0_f64, m in 1.0..30.0_f64) {
        let inputs = [Input::new("", Estimate::new(0.0, u), "").with_dof(n), Input::new("", Estimate::new(0.0, v), "").with_dof(m)];
        let dof = combine(&inputs, &Correlations::none(), |at| at[0] + at[1]).unwrap().effective_dof;
        prop_assert!(dof >= n.min(m) * (1.0 - 1e-6) && dof <= (n + m) * (1.0 + 1e-6), "{dof}");
    }
}
