#![allow(clippy::unwrap_used)]
use super::*;
use crate::linear::{FitError, polynomial};
use proptest::prelude::*;

fn close(found: f64, expected: f64, relative: f64) {
    assert!(
        (found - expected).abs() <= relative * expected.abs().max(1e-300),
        "{found} is not {expected} (relative {relative})"
    );
}

/// Source: NIST Statistical Reference Datasets, Norris (public domain): y, x, and certified values.
const NORRIS: [(f64, f64); 36] = [
    (0.1, 0.2),
    (338.8, 337.4),
    (118.1, 118.2),
    (888.0, 884.6),
    (9.2, 10.1),
    (228.1, 226.5),
    (668.5, 666.3),
    (998.5, 996.3),
    (449.1, 448.6),
    (778.9, 777.0),
    (559.2, 558.2),
    (0.3, 0.4),
    (0.1, 0.6),
    (778.1, 775.5),
    (668.8, 666.9),
    (339.3, 338.0),
    (448.9, 447.5),
    (10.8, 11.6),
    (557.7, 556.0),
    (228.3, 228.1),
    (998.0, 995.8),
    (888.8, 887.6),
    (119.6, 120.2),
    (0.3, 0.3),
    (0.6, 0.3),
    (557.6, 556.8),
    (339.3, 339.1),
    (888.0, 887.2),
    (998.5, 999.0),
    (778.9, 779.0),
    (10.2, 11.1),
    (117.6, 118.3),
    (228.9, 229.2),
    (668.4, 669.1),
    (449.2, 448.9),
    (0.2, 0.5),
];

fn norris() -> (Vec<Vec<f64>>, Vec<f64>) {
    let (response, places): (Vec<f64>, Vec<f64>) = NORRIS.into_iter().unzip();
    (polynomial(&places, 1), response)
}

/// Source: certified values of NIST StRD Norris.
#[test]
fn norris_as_certified() {
    let (design, response) = norris();
    let fit = ordinary(&design, &response).unwrap();
    close(fit.coefficients[0], -0.262_323_073_774_029, 1e-12);
    close(fit.coefficients[1], 1.002_116_818_020_45, 1e-13);
    close(fit.standard_errors[0], 0.232_818_234_301_152, 1e-12);
    close(fit.standard_errors[1], 0.429_796_848_199_937e-3, 1e-12);
    close(fit.residual_sd, 0.884_796_396_144_373, 1e-12);
    close(fit.r_squared.unwrap(), 0.999_993_745_883_712, 1e-13);
    assert_eq!(fit.dof, 34);
    close(fit.leverages.iter().sum::<f64>(), 2.0, 1e-12);
}

#[test]
fn left_out_errors_are_those_of_refits() {
    let (design, response) = norris();
    let fit = ordinary(&design, &response).unwrap();
    for out in 0..design.len() {
        let (mut rows, mut values) = (design.clone(), response.clone());
        let row = rows.remove(out);
        let value = values.remove(out);
        let refit = ordinary(&rows, &values).unwrap();
        let predicted = refit.predict(&row, 0.95).unwrap().value;
        assert!((fit.left_out_errors[out] - (value - predicted)).abs() < 1e-9);
    }
    let squares: f64 = fit.left_out_errors.iter().map(|e| e * e).sum();
    close(fit.press(), squares, 1e-12);
    close(fit.left_out_rms(), (squares / 36.0).sqrt(), 1e-12);
}

/// A mean with known numbers: 1 to 5, s = √2.5, t(0.975, 4) = 2.776 445 (tables of Student's t).
#[test]
fn a_prediction_by_hand() {
    let fit = ordinary(&vec![vec![1.0]; 5], &[1.0, 2.0, 3.0, 4.0, 5.0]).unwrap();
    let interval = fit.predict(&[1.0], 0.95).unwrap();
    let half = 2.776_445_105 * (2.5_f64 * 1.2).sqrt();
    close(interval.upper - 3.0, half, 1e-8);
    close(3.0 - interval.lower, half, 1e-8);
    assert!(interval.holds(interval.upper) && !interval.holds(interval.upper + 1e-9));
    for bad in [0.0, 1.0, -1.0, f64::NAN] {
        assert!(fit.predict(&[1.0], bad).is_none());
    }
    assert!(fit.predict(&[1.0, 2.0], 0.95).is_none());
    let full = ordinary(&[vec![1.0]], &[2.0]).unwrap();
    assert!(full.predict(&[1.0], 0.95).is_none() && full.left_out_rms().is_infinite());
}

/// A weight of 3 is the same as three equal observations, but for the degrees of freedom.
#[test]
fn weights_count_like_repeats() {
    let design = polynomial(&[0.0, 1.0, 2.0, 4.0], 1);
    let response = [0.1, 1.3, 1.8, 4.2];
    let by_weight = weighted(&design, &response, &[1.0, 3.0, 1.0, 1.0]).unwrap();
    let repeated = polynomial(&[0.0, 1.0, 1.0, 1.0, 2.0, 4.0], 1);
    let by_repeat = ordinary(&repeated, &[0.1, 1.3, 1.3, 1.3, 1.8, 4.2]).unwrap();
    for index in 0..2 {
        close(
            by_weight.coefficients[index],
            by_repeat.coefficients[index],
            1e-12,
        );
        let unscaled = by_weight.covariance_unscaled[index][index];
        close(unscaled, by_repeat.covariance_unscaled[index][index], 1e-12);
    }
    close(by_weight.leverages[1], 3.0 * by_repeat.leverages[1], 1e-12);
    close(
        by_weight.r_squared.unwrap(),
        by_repeat.r_squared.unwrap(),
        1e-12,
    );
}

#[test]
fn what_cannot_be_fitted_is_refused() {
    let design = polynomial(&[0.0, 1.0, 2.0], 1);
    assert!(matches!(
        weighted(&design, &[1.0, 2.0, 3.0], &[1.0, 0.0, 1.0]),
        Err(FitError::NotFinite { row: 1, .. })
    ));
    assert!(matches!(
        weighted(&design, &[1.0, 2.0, 3.0], &[1.0]),
        Err(FitError::Uneven { row: 1, .. })
    ));
    for response in [&[1.0, 2.0][..], &[1.0, 2.0, 3.0, 4.0]] {
        assert!(matches!(
            ordinary(&design, response),
            Err(FitError::Uneven { .. })
        ));
    }
    assert!(matches!(huber(&[], &[]), Err(FitError::TooFew { .. })));
    assert!(matches!(
        huber(&design, &[1.0, f64::NAN, 2.0]),
        Err(FitError::NotFinite { .. })
    ));
    let same = vec![vec![1.0, 2.0]; 4];
    assert!(matches!(
        huber(&same, &[1.0, 2.0, 3.0, 4.0]),
        Err(FitError::Dependent { column: 1 })
    ));
}

/// The equations that define the estimate: Σ ψ(r/σ) x = 0 and σ = median|r| / Φ⁻¹(3/4).
#[test]
fn huber_solves_its_equations() {
    let places: Vec<f64> = (0..25).map(f64::from).collect();
    let design = polynomial(&places, 1);
    let mut response: Vec<f64> = places
        .iter()
        .map(|x| 5.0 - 0.4 * x + (x * 2.1).sin())
        .collect();
    response[3] += 12.0;
    response[20] -= 30.0;
    let fit = huber(&design, &response).unwrap();
    for column in 0..2 {
        let score: f64 = design
            .iter()
            .zip(&fit.residuals)
            .map(|(row, r)| row[column] * (r / fit.scale).clamp(-HUBER_T, HUBER_T))
            .sum();
        assert!(score.abs() < 1e-8, "{score}");
    }
    let spread = median(fit.residuals.iter().map(|r| r.abs()).collect());
    close(fit.scale, spread / 0.674_489_750_196_081_7, 1e-9);
    assert!(fit.weights[20] < 0.1 && fit.weights[3] < 0.2);
    assert!((fit.coefficients[1] + 0.4).abs() < 0.05);
    let at = fit.at(&[1.0, 0.0]).unwrap();
    close(at.value, fit.coefficients[0], 1e-12);
    close(at.standard_uncertainty, fit.standard_errors[0], 1e-12);
}

#[test]
fn without_spread_the_fit_is_exact() {
    let design = polynomial(&[0.0, 1.0, 2.0, 3.0, 4.0], 1);
    let fit = huber(&design, &[1.0, 3.0, 5.0, 7.0, 9.0]).unwrap();
    assert!(fit.scale.abs() < f64::EPSILON);
    close(fit.coefficients[1], 2.0, 1e-12);
    assert!(
        fit.standard_errors
            .iter()
            .all(|error| error.abs() < f64::EPSILON)
    );
    let mean = huber(&vec![vec![1.0]; 4], &[0.0; 4]).unwrap();
    assert!(mean.coefficients[0].abs() < f64::EPSILON);
}

proptest! {
    #[test]
    fn huber_follows_shifts_and_units(noise in prop::collection::vec(-1.0..1.0_f64, 20), factor in 0.01..100.0_f64, slope in -5.0..5.0_f64) {
        let places: Vec<f64> = (0..20).map(f64::from).collect();
        let design = polynomial(&places, 1);
        if let Ok(plain) = huber(&design, &noise) {
            let moved: Vec<f64> = noise.iter().zip(&places).map(|(n, x)| factor * n + slope * x + 7.0).collect();
            let other = huber(&design, &moved).unwrap();
            prop_assert!((other.coefficients[1] - (factor * plain.coefficients[1] + slope)).abs() < 1e-6 * (1.0 + factor));
            prop_assert!((other.scale - factor * plain.scale).abs() < 1e-6 * factor);
            prop_assert!((other.standard_errors[1] - factor * plain.standard_errors[1]).abs() < 1e-6 * factor);
        }
    }
}
