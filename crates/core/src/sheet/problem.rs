//! Problems of a sheet with line and field.

use std::collections::BTreeMap;
use std::fmt::{self, Write as _};

use serde::Serialize;

use crate::check::Problem;
use crate::json::Positions;

/// A place in a text, both counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Place {
    /// Line.
    pub line: usize,
    /// Column, in characters.
    pub column: usize,
}

/// One problem.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SheetProblem {
    /// Where in the text, when it came from a text.
    pub place: Option<Place>,
    /// Field, dotted: `flaws[2].depth`.
    pub field: String,
    /// What was found against what is allowed.
    pub what: String,
    /// The next step.
    pub hint: String,
}

impl fmt::Display for SheetProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = self.place {
            write!(f, "line {}, column {}: ", place.line, place.column)?;
        }
        if self.field.is_empty() {
            write!(f, "{}", self.what)
        } else {
            write!(f, "`{}`: {}", self.field, self.what)
        }
    }
}

/// The problems of a sheet; never empty.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, thiserror::Error)]
pub struct SheetError {
    /// Problems in the order of the text.
    pub problems: Vec<SheetProblem>,
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.problems.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{problem}")?;
        }
        Ok(())
    }
}

impl SheetError {
    pub(super) fn single(place: Option<Place>, field: &str, what: String, hint: String) -> Self {
        Self {
            problems: vec![SheetProblem {
                place,
                field: field.to_owned(),
                what,
                hint,
            }],
        }
    }

    /// Places the problems of a JSON document, for example those of [`crate::check::record`].
    pub fn in_json(problems: Vec<Problem>, positions: Positions) -> Self {
        Places::Json(positions).error(problems)
    }

    /// Leaves the lines out, where the text was not written by a person.
    #[must_use]
    pub fn without_lines(mut self) -> Self {
        for problem in &mut self.problems {
            problem.place = None;
        }
        self
    }

    /// Returns the hint of the first problem.
    pub fn hint(&self) -> &str {
        self.problems.first().map_or("", |problem| &problem.hint)
    }
}

/// Where the values of a text stand.
pub(super) enum Places {
    None,
    Json(Positions),
    Toml(BTreeMap<String, Place>),
}

impl Places {
    pub(super) fn error(&self, problems: Vec<Problem>) -> SheetError {
        let mut problems: Vec<SheetProblem> = problems
            .into_iter()
            .map(|problem| SheetProblem {
                place: self.nearest(&problem.pointer),
                field: dotted(&problem.pointer),
                what: problem.what,
                hint: problem.hint,
            })
            .collect();
        problems.sort_by_key(|problem| problem.place.map(|place| (place.line, place.column)));
        SheetError { problems }
    }

    fn nearest(&self, pointer: &str) -> Option<Place> {
        match self {
            Self::None => None,
            Self::Json(positions) => {
                let position = positions
                    .key(pointer)
                    .unwrap_or_else(|| positions.nearest(pointer));
                Some(Place {
                    line: position.line,
                    column: position.column,
                })
            }
            Self::Toml(places) => {
                let mut pointer = pointer;
                loop {
                    if let Some(place) = places.get(pointer) {
                        return Some(*place);
                    }
                    pointer = &pointer[..pointer.rfind('/')?];
                }
            }
        }
    }
}

/// Turns a JSON Pointer into the dotted form people know: `/flaws/2/depth` is `flaws[2].depth`.
pub fn dotted(pointer: &str) -> String {
    let mut field = String::new();
    for part in pointer.split('/').skip(1) {
        if part.bytes().all(|byte| byte.is_ascii_digit()) && !part.is_empty() {
            // Writing to a String cannot fail.
            let _ = write!(field, "[{part}]");
        } else {
            if !field.is_empty() {
                field.push('.');
            }
            field.push_str(&part.replace("~1", "/").replace("~0", "~"));
        }
    }
    field
}
