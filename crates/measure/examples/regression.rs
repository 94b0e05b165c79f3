//! Fits tables of numbers and prints what comes out as JSON, one line a file, for comparison with other programs.
//!
//! `cargo run -p tangmark-measure --example regression -- FILE.csv…`
//!
//! The heading of a file is `y`, `weight` and the names of the features; a constant is put in front of the features.
//! Weights serve the weighted fit alone. Predictions are made at every row, for an observation of weight 1.
#![forbid(unsafe_code)]
#![allow(clippy::print_stdout, clippy::print_stderr, clippy::exit)] // a tool for the terminal

use serde_json::{Value, json};
use tangmark_measure::regression::{Interval, Regression, huber, ordinary, weighted};

struct Sample {
    design: Vec<Vec<f64>>,
    response: Vec<f64>,
    weights: Vec<f64>,
}

fn read(path: &str) -> Result<Sample, String> {
    let text = std::fs::read_to_string(path).map_err(|error| format!("{path}: {error}"))?;
    let mut sample = Sample {
        design: Vec::new(),
        response: Vec::new(),
        weights: Vec::new(),
    };
    for (line, row) in text.lines().enumerate().skip(1) {
        let cells: Vec<f64> = row
            .split(',')
            .map(str::parse)
            .collect::<Result<_, _>>()
            .map_err(|error| format!("{path}: line {}: {error}", line + 1))?;
        let [response, weight, features @ ..] = &cells[..] else {
            return Err(format!(
                "{path}: line {}: y and weight are needed",
                line + 1
            ));
        };
        sample.response.push(*response);
        sample.weights.push(*weight);
        sample.design.push(
            std::iter::once(1.0)
                .chain(features.iter().copied())
                .collect(),
        );
    }
    Ok(sample)
}

fn intervals(sample: &Sample, predict: impl Fn(&[f64]) -> Option<Interval>) -> Vec<Value> {
    let at = |row: &Vec<f64>| {
        predict(row).map(|one| json!([one.value, one.standard_error, one.lower, one.upper]))
    };
    sample
        .design
        .iter()
        .map(|row| at(row).unwrap_or(Value::Null))
        .collect()
}

fn squares(sample: &Sample, fit: &Regression) -> Value {
    json!({
        "coefficients": fit.coefficients,
        "standard_errors": fit.standard_errors,
        "residual_sd": fit.residual_sd,
        "r_squared": fit.r_squared,
        "leverages": fit.leverages,
        "left_out_errors": fit.left_out_errors,
        "predictions": intervals(sample, |row| fit.predict(row, 0.95)),
    })
}

fn fitted(path: &str) -> Result<Value, String> {
    let sample = read(path)?;
    let broken = |error| format!("{path}: {error}");
    let plain = ordinary(&sample.design, &sample.response).map_err(broken)?;
    let heavy = weighted(&sample.design, &sample.response, &sample.weights).map_err(broken)?;
    let firm = huber(&sample.design, &sample.response).map_err(broken)?;
    Ok(json!({
        "ordinary": squares(&sample, &plain),
        "weighted": squares(&sample, &heavy),
        "huber": {
            "coefficients": firm.coefficients,
            "standard_errors": firm.standard_errors,
            "scale": firm.scale,
            "weights": firm.weights,
            "rounds": firm.rounds,
        },
    }))
}

fn main() {
    for path in std::env::args().skip(1) {
        match fitted(&path) {
            Ok(found) => println!("{found}"),
            Err(error) => {
                eprintln!("error: {error}");
                eprintln!("hint: give files with the heading y,weight,… and numbers only");
                std::process::exit(1);
            }
        }
    }
}
