#![allow(clippy::unwrap_used)]
use super::*;
use proptest::prelude::*;

fn close(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within * expected.abs().max(f64::MIN_POSITIVE),
        "{found} is not {expected} (relative {within})"
    );
}

/// Source: NIST Statistical Reference Datasets, linear regression, Norris (public domain), from public copies.
const NORRIS: [(f64, f64); 36] = [
    (0.2, 0.1),
    (337.4, 338.8),
    (118.2, 118.1),
    (884.6, 888.0),
    (10.1, 9.2),
    (226.5, 228.1),
    (666.3, 668.5),
    (996.3, 998.5),
    (448.6, 449.1),
    (777.0, 778.9),
    (558.2, 559.2),
    (0.4, 0.3),
    (0.6, 0.1),
    (775.5, 778.1),
    (666.9, 668.8),
    (338.0, 339.3),
    (447.5, 448.9),
    (11.6, 10.8),
    (556.0, 557.7),
    (228.1, 228.3),
    (995.8, 998.0),
    (887.6, 888.8),
    (120.2, 119.6),
    (0.3, 0.3),
    (0.3, 0.6),
    (556.8, 557.6),
    (339.1, 339.3),
    (887.2, 888.0),
    (999.0, 998.5),
    (779.0, 778.9),
    (11.1, 10.2),
    (118.3, 117.6),
    (229.2, 228.9),
    (669.1, 668.4),
    (448.9, 449.2),
    (0.5, 0.2),
];

/// Source: certified values of NIST StRD Norris, from public copies.
#[test]
fn norris() {
    let (places, response): (Vec<f64>, Vec<f64>) = NORRIS.into_iter().unzip();
    let fit = solve(&polynomial(&places, 1), &response).unwrap();
    close(fit.coefficients[0], -0.262_323_073_774_029, 1e-12);
    close(fit.coefficients[1], 1.002_116_818_020_45, 1e-13);
    close(fit.standard_error(0).unwrap(), 0.232_818_234_301_152, 1e-12);
    close(
        fit.standard_error(1).unwrap(),
        0.429_796_848_199_937e-3,
        1e-12,
    );
    close(fit.residual_sd, 0.884_796_396_144_373, 1e-12);
    assert_eq!(fit.dof, 34);
    let middle = crate::statistics::mean(&response).unwrap();
    let total: f64 = response.iter().map(|y| (y - middle).powi(2)).sum();
    let rest: f64 = fit.residuals.iter().map(|r| r * r).sum();
    close(1.0 - rest / total, 0.999_993_745_883_712, 1e-12);
}

/// Source: JCGM 100:2008, H.3 (calibration of a thermometer), data from memory; results recomputed, equal to the
/// printed ones.
#[test]
fn thermometer() {
    let read = [
        21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
    ];
    let correction = [
        -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
    ];
    let from_twenty: Vec<f64> = read.iter().map(|t| t - 20.0).collect();
    let fit = solve(&polynomial(&from_twenty, 1), &correction).unwrap();
    let near =
        |found: f64, expected: f64, half: f64| assert!((found - expected).abs() <= half, "{found}");
    near(fit.coefficients[0], -0.1712, 5e-5);
    near(fit.standard_error(0).unwrap(), 0.0029, 5e-5);
    near(fit.coefficients[1], 0.002_18, 5e-6);
    near(fit.standard_error(1).unwrap(), 0.000_67, 5e-6);
    near(fit.correlation(0, 1).unwrap(), -0.930, 5e-4);
    near(fit.residual_sd, 0.0035, 5e-5);
    let at_thirty = fit.at(&[1.0, 10.0]).unwrap();
    near(at_thirty.value, -0.1494, 5e-5);
    near(at_thirty.standard_uncertainty, 0.0041, 5e-5);
    assert_eq!(fit.at(&[1.0]), None);
    assert_eq!(fit.standard_error(2), None);
}

#[test]
fn what_cannot_be_fitted_is_refused() {
    let line = |n: usize| vec![vec![1.0, 2.0]; n];
    assert_eq!(
        solve(&[], &[]).unwrap_err(),
        FitError::TooFew {
            observations: 0,
            coefficients: 0
        }
    );
    assert_eq!(
        solve(&line(1), &[1.0]).unwrap_err(),
        FitError::TooFew {
            observations: 1,
            coefficients: 2
        }
    );
    assert_eq!(
        solve(&line(3), &[1.0; 3]).unwrap_err(),
        FitError::Dependent { column: 1 }
    );
    assert_eq!(
        solve(&[vec![0.0], vec![0.0]], &[1.0; 2]).unwrap_err(),
        FitError::Dependent { column: 0 }
    );
    assert!(matches!(
        solve(&line(3), &[1.0; 2]).unwrap_err(),
        FitError::Uneven { row: 2, .. }
    ));
    let uneven = [vec![1.0, 2.0], vec![1.0], vec![1.0, 3.0]];
    assert_eq!(
        solve(&uneven, &[1.0; 3]).unwrap_err(),
        FitError::Uneven {
            row: 1,
            found: 1,
            expected: 2
        }
    );
    let broken = solve(&[vec![1.0], vec![f64::NAN]], &[1.0; 2]).unwrap_err();
    assert!(
        broken.to_string().starts_with("row 1 holds NaN"),
        "{broken}"
    );
}

#[test]
fn as_many_coefficients_as_observations_pass_through_them() {
    let fit = solve(&polynomial(&[0.0, 1.0, 2.0], 2), &[1.0, 3.0, 9.0]).unwrap();
    for (found, expected) in fit.coefficients.iter().zip([1.0, 0.0, 2.0]) {
        assert!((found - expected).abs() < 1e-12);
    }
    assert_eq!((fit.dof, fit.residual_sd.to_bits()), (0, 0));
}

proptest! {
    #[test]
    fn a_polynomial_finds_itself(coefficients in prop::array::uniform3(-10.0..10.0_f64), scale in 0.01..100.0_f64) {
        let places: Vec<f64> = (0..9).map(|k| scale * f64::from(k)).collect();
        let design = polynomial(&places, 2);
        let response: Vec<f64> = design.iter().map(|row| row.iter().zip(&coefficients).map(|(x, c)| x * c).sum()).collect();
        let fit = solve(&design, &response).unwrap();
        let size = response.iter().fold(1e-3_f64, |most, y| most.max(y.abs()));
        prop_assert!(fit.residual_sd <= 1e-13 * size);
        for (fitted, (found, expected)) in fit.coefficients.iter().zip(&coefficients).enumerate() {
            let power = i32::try_from(fitted).unwrap();
            prop_assert!((found - expected).abs() * (8.0 * scale).powi(power) <= 1e-12 * size, "{found} {expected}");
        }
    }

    #[test]
    fn residuals_stand_square_on_every_column(response in prop::collection::vec(-5.0..5.0_f64, 8)) {
        let design = polynomial(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0], 2);
        let fit = solve(&design, &response).unwrap();
        for column in 0..3 {
            let along: f64 = design.iter().zip(&fit.residuals).map(|(row, r)| row[column] * r).sum();
            prop_assert!(along.abs() < 1e-10, "{along}");
        }
        let squares: f64 = fit.residuals.iter().map(|r| r * r).sum();
        prop_assert!((squares.sqrt() - fit.residual_sd * 5.0_f64.sqrt()).abs() < 1e-11);
    }
}
