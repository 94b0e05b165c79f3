//! Combination to first order, with correlations.

use super::{Correlations, GumError, Input};
use crate::{Estimate, statistics};

/// One line of an uncertainty budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Contribution {
    /// The input.
    pub input: Input,
    /// Change of the output per change of the input; 0 for an input without uncertainty, which is not varied.
    pub sensitivity: f64,
    /// Sensitivity times standard uncertainty, in the unit of the output, with its sign.
    pub contribution: f64,
    /// Share of the combined variance, without the part of correlations.
    pub share: f64,
}

/// A result with its budget.
#[derive(Clone, Debug, PartialEq)]
pub struct Combined {
    /// Value and combined standard uncertainty.
    pub estimate: Estimate,
    /// Effective degrees of freedom; infinite where no input has finite ones.
    ///
    /// Source: Welch–Satterthwaite formula, JCGM 100:2008, equation (G.2b), from memory. It holds for independent
    /// inputs; inputs tied by correlations count as one, with the least of their degrees of freedom: this tool's own
    /// cautious choice, right where they come from the same readings.
    pub effective_dof: f64,
    /// The budget, in the order of the inputs.
    pub budget: Vec<Contribution>,
}

impl Combined {
    /// Returns the coverage factor for a two-sided coverage probability, as 0.95; effective degrees of freedom are
    /// rounded down to a whole number where they are one or more.
    ///
    /// Source: JCGM 100:2008, G.4.1 and G.6.4, from memory.
    pub fn coverage_factor(&self, probability: f64) -> f64 {
        let dof = if self.effective_dof >= 1.0 {
            self.effective_dof.floor()
        } else {
            self.effective_dof
        };
        statistics::student_t_quantile(0.5 + probability / 2.0, dof)
    }

    /// Returns the expanded uncertainty for a two-sided coverage probability, as 0.95.
    pub fn expanded(&self, probability: f64) -> f64 {
        self.coverage_factor(probability) * self.estimate.standard_uncertainty
    }
}

/// Several results from the same inputs.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// The results, each with its budget.
    pub outputs: Vec<Combined>,
    /// Correlation matrix of the results; 0 beside a result without uncertainty.
    pub correlations: Vec<Vec<f64>>,
}

/// Combines inputs through a smooth function, to first order.
///
/// Sensitivities are central differences over one standard uncertainty.
///
/// Source: JCGM 100:2008, 5.1.2 and 5.2.2, equations (10) and (16), and 5.1.3, note 2, from memory.
///
/// # Errors
/// [`GumError`] for inputs, correlations and functions that give no finite result.
pub fn combine(
    inputs: &[Input],
    correlations: &Correlations,
    function: impl Fn(&[f64]) -> f64,
) -> Result<Combined, GumError> {
    let mut joint = combine_all(inputs, correlations, |at| vec![function(at)])?;
    let found = joint.outputs.len();
    joint
        .outputs
        .pop()
        .ok_or(GumError::Count { found, expected: 1 })
}

/// Combines inputs through a function with several outputs, and gives the correlations of these.
///
/// Source: as [`combine`]; JCGM 100:2008, H.2.3 (covariance of outputs), from memory.
///
/// # Errors
/// As [`combine`]; also where the function gives another number of outputs near the inputs.
pub fn combine_all(
    inputs: &[Input],
    correlations: &Correlations,
    function: impl Fn(&[f64]) -> Vec<f64>,
) -> Result<Joint, GumError> {
    examine(inputs)?;
    let mut point: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let values = function(&point);
    finite(&values)?;
    let mut sensitivities = vec![vec![0.0; inputs.len()]; values.len()];
    for (index, input) in inputs.iter().enumerate() {
        let step = input.standard_uncertainty;
        if step == 0.0 {
            continue;
        }
        let (high, low) = (input.value + step, input.value - step);
        let mut side = |place: f64| -> Result<Vec<f64>, GumError> {
            point[index] = place;
            let outputs = function(&point);
            if outputs.len() != values.len() {
                return Err(GumError::Count {
                    found: outputs.len(),
                    expected: values.len(),
                });
            }
            finite(&outputs)?;
            Ok(outputs)
        };
        let (above, below) = (side(high)?, side(low)?);
        point[index] = input.value;
        for (line, (above, below)) in sensitivities.iter_mut().zip(above.iter().zip(&below)) {
            // The step as it was really made: near a large value rounding changes it, and a step lost altogether
            // leaves no slope.
            let slope = (above - below) / (high - low);
            line[index] = if slope.is_finite() { slope } else { 0.0 };
        }
    }
    assemble(inputs, correlations, &values, &sensitivities)
}

/// Combines inputs where value and sensitivities of the output are known in closed form.
///
/// # Errors
/// As [`combine`]; also where there is not one sensitivity per input.
pub fn combine_linear(
    inputs: &[Input],
    correlations: &Correlations,
    value: f64,
    sensitivities: &[f64],
) -> Result<Combined, GumError> {
    examine(inputs)?;
    if sensitivities.len() != inputs.len() {
        return Err(GumError::Count {
            found: sensitivities.len(),
            expected: inputs.len(),
        });
    }
    finite(&[value])?;
    finite(sensitivities)?;
    let mut joint = assemble(inputs, correlations, &[value], &[sensitivities.to_vec()])?;
    let found = joint.outputs.len();
    joint
        .outputs
        .pop()
        .ok_or(GumError::Count { found, expected: 1 })
}

pub(super) fn examine(inputs: &[Input]) -> Result<(), GumError> {
    for input in inputs {
        let wrong = if !input.value.is_finite() {
            Some(("value", input.value))
        } else if !(input.standard_uncertainty >= 0.0 && input.standard_uncertainty.is_finite()) {
            Some(("standard uncertainty", input.standard_uncertainty))
        } else if input.dof.is_nan() || input.dof <= 0.0 {
            Some(("degrees of freedom", input.dof))
        } else {
            None
        };
        if let Some((what, found)) = wrong {
            return Err(GumError::Input {
                name: input.name.clone(),
                what,
                found,
            });
        }
    }
    Ok(())
}

pub(super) fn finite(outputs: &[f64]) -> Result<(), GumError> {
    match outputs.iter().position(|one| !one.is_finite()) {
        None => Ok(()),
        Some(output) => Err(GumError::Function {
            output,
            found: outputs[output],
        }),
    }
}

fn assemble(
    inputs: &[Input],
    correlations: &Correlations,
    values: &[f64],
    sensitivities: &[Vec<f64>],
) -> Result<Joint, GumError> {
    correlations.examine(inputs.len())?;
    let parts: Vec<Vec<f64>> = sensitivities
        .iter()
        .map(|line| {
            let pairs = line.iter().zip(inputs);
            pairs
                .map(|(slope, input)| slope * input.standard_uncertainty)
                .collect()
        })
        .collect();
    let covariance = |first: &[f64], second: &[f64]| {
        let own = first.iter().zip(second).map(|(a, b)| a * b);
        let shared = correlations.0.iter().map(|(i, j, coefficient)| {
            coefficient * (first[*i] * second[*j] + first[*j] * second[*i])
        });
        statistics::sum(own.chain(shared))
    };
    let mut outputs = Vec::with_capacity(values.len());
    for (output, (part, line)) in parts.iter().zip(sensitivities).enumerate() {
        let variance = covariance(part, part);
        // Full correlation may cancel to nothing but rounding.
        let variance = variance.max(0.0);
        let budget = inputs
            .iter()
            .zip(line)
            .zip(part)
            .map(|((input, slope), part)| Contribution {
                input: input.clone(),
                sensitivity: *slope,
                contribution: *part,
                share: if variance > 0.0 {
                    part * part / variance
                } else {
                    0.0
                },
            });
        outputs.push(Combined {
            estimate: Estimate::new(values[output], variance.sqrt()),
            effective_dof: effective_dof(inputs, correlations, part, variance),
            budget: budget.collect(),
        });
    }
    let matrix = parts.iter().zip(&outputs).map(|(first, one)| {
        let line = parts.iter().zip(&outputs).map(|(second, other)| {
            let scale = one.estimate.standard_uncertainty * other.estimate.standard_uncertainty;
            if scale > 0.0 {
                (covariance(first, second) / scale).clamp(-1.0, 1.0)
            } else {
                0.0
            }
        });
        line.collect()
    });
    let correlations = matrix.collect();
    Ok(Joint {
        outputs,
        correlations,
    })
}

/// Joins correlated inputs to groups, and applies the formula to the groups.
fn effective_dof(
    inputs: &[Input],
    correlations: &Correlations,
    parts: &[f64],
    variance: f64,
) -> f64 {
    let mut group: Vec<usize> = (0..inputs.len()).collect();
    let mut own: Vec<f64> = parts.iter().map(|part| part * part).collect();
    let tied = || {
        let pairs = correlations.0.iter();
        pairs.filter(|(i, j, r)| *r != 0.0 && parts[*i] != 0.0 && parts[*j] != 0.0)
    };
    for (first, second, _) in tied() {
        let (keep, drop) = (group[*first], group[*second]);
        for one in &mut group {
            if *one == drop {
                *one = keep;
            }
        }
    }
    let mut dof = vec![f64::INFINITY; inputs.len()];
    for (index, input) in inputs.iter().enumerate() {
        let target = group[index];
        if target != index {
            own[target] += own[index];
            own[index] = 0.0;
        }
        if parts[index] != 0.0 {
            dof[target] = dof[target].min(input.dof);
        }
    }
    for (first, second, coefficient) in tied() {
        own[group[*first]] += 2.0 * coefficient * parts[*first] * parts[*second];
    }
    let doubt: f64 = own.iter().zip(&dof).map(|(one, dof)| one * one / dof).sum();
    if doubt > 0.0 {
        variance * variance / doubt
    } else {
        f64::INFINITY
    }
}
