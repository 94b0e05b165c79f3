//! Correlations between inputs, and what can be wrong with a budget.

use crate::statistics;

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
        "the correlations of input {input} contradict those of the inputs before it: no readings can have them all; take them from the same readings"
    )]
    Contradiction {
        /// Input, from 0.
        input: usize,
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

/// What rounding may leave of a correlation matrix: coefficients are known to some digits only.
const TOGETHER: f64 = 1e-6;

/// Correlation coefficients between inputs, zero where none is set.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Correlations(pub(super) Vec<(usize, usize, f64)>);

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

    /// Looks at every coefficient, and whether they can stand together.
    pub(super) fn examine(&self, inputs: usize) -> Result<(), GumError> {
        let allowed = |(first, second, found): &(usize, usize, f64)| {
            first != second && *second < inputs && (-1.0..=1.0).contains(found)
        };
        match self.0.iter().find(|one| !allowed(one)) {
            None => self.together(),
            Some((first, second, found)) => Err(GumError::Correlation {
                first: *first,
                second: *second,
                found: *found,
                inputs,
            }),
        }
    }

    /// Decomposes the matrix of the inputs named here into L·Lᵀ, which fails where it is not one of correlations.
    fn together(&self) -> Result<(), GumError> {
        let mut named: Vec<usize> = self.0.iter().flat_map(|one| [one.0, one.1]).collect();
        named.sort_unstable();
        named.dedup();
        let place = |input: &usize| named.binary_search(input).unwrap_or(0);
        let mut rest = vec![vec![0.0; named.len()]; named.len()];
        for (index, row) in rest.iter_mut().enumerate() {
            row[index] = 1.0;
        }
        for (first, second, coefficient) in &self.0 {
            let (i, j) = (place(first), place(second));
            (rest[i][j], rest[j][i]) = (*coefficient, *coefficient);
        }
        for pivot in 0..named.len() {
            let left = rest[pivot][pivot];
            let line = rest[pivot].clone();
            let beyond = line
                .iter()
                .skip(pivot + 1)
                .fold(0.0, |most, one| f64::max(most, one.abs()));
            // Full correlation leaves nothing, and then nothing may hang on it.
            if left < -TOGETHER || (left <= TOGETHER && beyond > TOGETHER.sqrt()) {
                return Err(GumError::Contradiction {
                    input: named[pivot],
                });
            }
            if left <= TOGETHER {
                continue;
            }
            for row in pivot + 1..named.len() {
                let factor = line[row] / left;
                for (value, part) in rest[row].iter_mut().zip(&line) {
                    *value -= factor * part;
                }
            }
        }
        Ok(())
    }
}
