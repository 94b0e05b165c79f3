//! Combination to first order, with correlations; the second-order terms apart.

use super::Input;
use crate::{Estimate, statistics};

/// Why a budget cannot be drawn up.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum GumError {
    /// An input that is not finite, or without degrees of freedom.
    #[error(
        "input `{name}` has the {what} {found}: a finite value, an uncertainty of 0 or more and degrees of freedom above 0 are allowed; read it again"
    )]
    Input {
        /// Name of the input.
        name: String,
        /// What is wrong.
        what: &'static str,
        /// What was found.
        found: f64,
    },
    /// A correlation that cannot be.
    #[error(
        "the correlation {found} of inputs {first} and {second} cannot be: two different inputs of {inputs} and a number from -1 to 1 are allowed"
    )]
    Correlation {
        /// First input, from 0.
        first: usize,
        /// Second input, from 0.
        second: usize,
        /// What was found.
        found: f64,
        /// How many inputs there are.
        inputs: usize,
    },
    /// Correlations that contradict each other.
    #[error(
        "the correlations contradict each other: the variance of output {output} comes out as {found}; take them from the same readings"
    )]
    Contradiction {
        /// Output, from 0.
        output: usize,
        /// The variance found.
        found: f64,
    },
    /// A function without a finite value near the inputs.
    #[error(
        "output {output} is {found} near the inputs: the function must be finite within one standard uncertainty of every input"
    )]
    Function {
        /// Output, from 0.
        output: usize,
        /// What was found.
        found: f64,
    },
    /// Sensitivities or outputs in another number than needed.
    #[error(
        "{found} numbers were given where {expected} are needed: give one sensitivity per input, and the same outputs every time"
    )]
    Count {
        /// How many were found.
        found: usize,
        /// How many are needed.
        expected: usize,
    },
}

/// Correlation coefficients between inputs, zero where none is set.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Correlations(Vec<(usize, usize, f64)>);

impl Correlations {
    /// No correlations.
    pub fn none() -> Self {
        Self::default()
    }

    /// Sets the coefficient of two inputs, counted from 0; a later one counts instead of an earlier one.
    #[must_use]
    pub fn with(mut self, first: usize, second: usize, coefficient: f64) -> Self {
        let (low, high) = (first.min(second), first.max(second));
        self.0.retain(|(a, b, _)| (*a, *b) != (low, high));
        self.0.push((low, high, coefficient));
        self
    }

    /// Takes the coefficients of all pairs from simultaneous readings, one list per input. Lists that do not vary
    /// stay without correlation.
    ///
    /// Source: JCGM 100:2008, 5.2.3, from memory.
    pub fn from_readings(readings: &[&[f64]]) -> Self {
        let mut all = Self::none();
        for (first, one) in readings.iter().enumerate() {
            for (second, other) in readings.iter().enumerate().skip(first + 1) {
                if let Some(coefficient) = statistics::correlation(one, other) {
                    all = all.with(first, second, coefficient);
                }
            }
        }
        all
    }

    fn examine(&self, inputs: usize) -> Result<(), GumError> {
        let allowed = |(first, second, found): &(usize, usize, f64)| {
            first != second && *second < inputs && (-1.0..=1.0).contains(found)
        };
        match self.0.iter().find(|one| !allowed(one)) {
            None => Ok(()),
            Some((first, second, found)) => Err(GumError::Correlation {
                first: *first,
                second: *second,
                found: *found,
                inputs,
            }),
        }
    }
}

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

fn examine(inputs: &[Input]) -> Result<(), GumError> {
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

fn finite(outputs: &[f64]) -> Result<(), GumError> {
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
        let apart: f64 = part.iter().map(|one| one * one).sum();
        // Full correlation may cancel to nothing but rounding.
        if variance < -1e-9 * apart {
            return Err(GumError::Contradiction {
                output,
                found: variance,
            });
        }
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

/// Returns the variance that the next terms of the series add to the first-order one, for independent inputs with
/// symmetric distributions. It can be negative.
///
/// Wanted where the function bends strongly or a first-order term vanishes, as with a product of two deviations
/// about zero. Derivatives are taken as differences over one standard uncertainty.
///
/// Source: JCGM 100:2008, 5.1.2, note, from memory: Σᵢ Σⱼ (½ fᵢⱼ² + fᵢ fᵢⱼⱼ) u²(xᵢ) u²(xⱼ).
///
/// # Errors
/// [`GumError`] for inputs and functions that give no finite result.
pub fn second_order_variance(
    inputs: &[Input],
    function: impl Fn(&[f64]) -> f64,
) -> Result<f64, GumError> {
    examine(inputs)?;
    let at = |moves: &[(usize, f64)]| {
        let mut point: Vec<f64> = inputs.iter().map(|input| input.value).collect();
        for (index, steps) in moves {
            point[*index] += steps * inputs[*index].standard_uncertainty;
        }
        function(&point)
    };
    let centre = at(&[]);
    let mut terms = Vec::new();
    for i in 0..inputs.len() {
        let (up, down) = (at(&[(i, 1.0)]), at(&[(i, -1.0)]));
        let slope = (up - down) / 2.0;
        for j in 0..inputs.len() {
            let (mixed, third) = if i == j {
                let far = at(&[(i, 2.0)]) - at(&[(i, -2.0)]);
                (up - 2.0 * centre + down, (far - 2.0 * (up - down)) / 2.0)
            } else {
                let corner = |one: f64, other: f64| at(&[(i, one), (j, other)]);
                let (a, b) = (corner(1.0, 1.0), corner(1.0, -1.0));
                let (c, d) = (corner(-1.0, 1.0), corner(-1.0, -1.0));
                let bend_up = a - 2.0 * up + b;
                let bend_down = c - 2.0 * down + d;
                ((a - b - c + d) / 4.0, (bend_up - bend_down) / 2.0)
            };
            terms.push(0.5 * mixed * mixed + slope * third);
        }
    }
    let added = statistics::sum(terms);
    finite(&[added])?;
    Ok(added)
}
