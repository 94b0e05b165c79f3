//! A sheet of labels for blades that lie in the workshop, sealed or not.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::record::{PartialDate, Term as _};
use tangmark_report::{LABEL_CODE_BYTES, Label, LabelSheet, Speech, label_sheet};
use tangmark_store::{StandingFilter, StandingRow, Store as _};

use crate::output::NewFile;
use crate::stage::stage_of;
use crate::{Paper, Surroundings, Workshop, WorkshopError};

/// Most labels of one sheet.
pub const MOST_LABELS: usize = 1000;

/// Which labels are asked for, and how they are set.
#[derive(Clone, Copy, Debug)]
pub struct LabelWish<'a> {
    /// Blades, in the order of the labels.
    pub blades: &'a [String],
    /// Every blade in work.
    pub all_in_work: bool,
    /// File to write; one that exists is never overwritten.
    pub out: &'a Path,
    /// Paper.
    pub paper: Paper,
    /// Language.
    pub speech: Speech,
}

/// A sheet of labels that was written.
#[derive(Clone, Debug, Serialize)]
pub struct LabelsMade {
    /// File.
    pub file: PathBuf,
    /// Blades, in the order of the labels.
    pub blades: Vec<String>,
    /// Pages.
    pub pages: usize,
    /// Text of each code, in the same order.
    pub codes: Vec<String>,
    /// Characters that no font has; they are printed as code points.
    pub missing: Vec<char>,
    /// A sentence for each font of the workshop that turned out to be unusable.
    pub refused_fonts: Vec<String>,
}

/// Why no labels were made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LabelError {
    /// Nothing to label.
    #[error("no blade found, one or more are needed for a sheet of labels")]
    None,
    /// Too many.
    #[error("{found} blades found, at most {MOST_LABELS} are allowed on one sheet of labels")]
    TooMany {
        /// How many.
        found: usize,
    },
    /// One blade twice.
    #[error("blade `{0}` is named twice, once is allowed")]
    Twice(String),
}

impl LabelError {
    /// Returns the exact next step.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::None => "name blades, or take all in work with `--all-in-work`",
            Self::TooMany { .. } => "name the blades, and make several files",
            Self::Twice(_) => "name it once; print the sheet again for a second label",
        }
    }
}

/// What somebody who scans the code learns: key of the blade, workshop, key that signs, newest record.
///
/// Lines with a name before a colon, so that people can read it in any scanner.
fn code(row: &StandingRow, workshop: &str, fingerprint: Option<&str>) -> String {
    let mut text = format!("blade: {}\nworkshop: {workshop}", row.blade);
    let mut add = |line: String| {
        // A name may be so long that not all has room; what identifies the blade stands first.
        if text.len() + 1 + line.len() <= LABEL_CODE_BYTES {
            text.push('\n');
            text.push_str(&line);
        }
    };
    if let Some(tip) = &row.tip {
        add(format!("newest record: {tip}"));
    }
    if let Some(fingerprint) = fingerprint {
        add(format!("key: {fingerprint}"));
    }
    text
}

/// What is to be known at the shelf: stage and day of return.
fn line(row: &StandingRow, speech: Speech) -> String {
    let stage = stage_of(row).map(|stage| match speech {
        Speech::English => stage.gloss().to_owned(),
        Speech::Japanese => stage.japanese().to_owned(),
        Speech::Both => format!("{} / {}", stage.gloss(), stage.japanese()),
    });
    let back = row
        .return_by
        .as_deref()
        .filter(|day| day.parse::<PartialDate>().is_ok())
        .map(|day| match speech {
            Speech::English => format!("back by {day}"),
            Speech::Japanese => format!("返却 {day}"),
            Speech::Both => format!("back by / 返却 {day}"),
        });
    let parts: Vec<String> = stage.into_iter().chain(back).collect();
    parts.join(" · ")
}

impl Workshop {
    /// Writes a sheet of labels to cut out and tie on.
    ///
    /// # Errors
    /// When a blade is not known, there are none or too many, or the file cannot be written.
    pub fn labels(
        &self,
        wish: &LabelWish<'_>,
        around: &Surroundings<'_>,
    ) -> Result<LabelsMade, WorkshopError> {
        let mut rows = Vec::new();
        for (index, blade) in wish.blades.iter().enumerate() {
            if wish.blades[..index].contains(blade) {
                return Err(LabelError::Twice(blade.clone()).into());
            }
            rows.push(self.store().standing(blade)?);
        }
        if wish.all_in_work {
            let in_work = self.store().standings(&StandingFilter {
                ended: Some(false),
                limit: MOST_LABELS + wish.blades.len() + 1,
                ..StandingFilter::default()
            })?;
            rows.extend(
                in_work
                    .into_iter()
                    .filter(|row| !wish.blades.contains(&row.blade)),
            );
        }
        if rows.is_empty() {
            return Err(LabelError::None.into());
        }
        if rows.len() > MOST_LABELS {
            return Err(LabelError::TooMany { found: rows.len() }.into());
        }
        let name = self.name()?;
        // A key that was revoked is no reason to trust anything.
        let history = self.key_history_if_there()?;
        let fingerprint = history
            .as_ref()
            .map(tangmark_trust::history::KeyHistory::in_force)
            .filter(|term| term.revoked.is_none())
            .map(|term| term.key.fingerprint().to_string());
        let codes: Vec<String> = rows
            .iter()
            .map(|row| code(row, &name, fingerprint.as_deref()))
            .collect();
        let lines: Vec<String> = rows.iter().map(|row| line(row, wish.speech)).collect();
        let labels: Vec<Label<'_>> = rows
            .iter()
            .zip(&codes)
            .zip(&lines)
            .map(|((row, code), line)| Label {
                key: &row.blade,
                title: &row.title,
                line,
                code,
                sharp: true,
            })
            .collect();
        let sheet = LabelSheet {
            workshop: &name,
            made_at: around.now.as_str(),
            page: wish.paper.into(),
            speech: wish.speech,
            demo: self.is_demo()?,
        };
        let file = NewFile::open(wish.out)?;
        let (fonts, mut refused_fonts) = self.fonts()?;
        let made = fonts
            .scope(|| label_sheet(&labels, &sheet))
            .map_err(WorkshopError::Render)?;
        file.write(&made.pdf)?;
        refused_fonts.extend(made.refused.iter().map(ToString::to_string));
        Ok(LabelsMade {
            file: wish.out.to_owned(),
            pages: made.pages,
            missing: made.missing.into_iter().collect(),
            refused_fonts,
            blades: rows.into_iter().map(|row| row.blade).collect(),
            codes,
        })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_code_holds_what_identifies_the_blade_first() {
        let mut row = crate::stage::empty_row("reed");
        row.tip = Some(tangmark_core::Digest::of(b"x"));
        let all = code(&row, "Reedbank", Some("AAAAA-BBBBB-CCCCC-DDDDD"));
        assert_eq!(
            all,
            format!(
                "blade: reed\nworkshop: Reedbank\nnewest record: {}\nkey: AAAAA-BBBBB-CCCCC-DDDDD",
                row.tip.unwrap()
            )
        );
        // The longest name of a workshop leaves room for the key of the blade and what else fits.
        let long = code(&row, &"刃".repeat(120), Some("AAAAA-BBBBB-CCCCC-DDDDD"));
        assert!(long.starts_with("blade: reed\n") && long.len() <= LABEL_CODE_BYTES);
        assert!(!long.contains("newest record") && long.ends_with("DDDDD"));
    }

    #[test]
    fn the_line_says_stage_and_day_of_return() {
        let mut row = crate::stage::empty_row("reed");
        assert_eq!(line(&row, Speech::English), "");
        row.stage = Some("middle".to_owned());
        row.return_by = Some("2026-06-30".to_owned());
        assert_eq!(
            line(&row, Speech::English),
            "middle stones · back by 2026-06-30"
        );
        assert_eq!(line(&row, Speech::Japanese), "名倉 · 返却 2026-06-30");
    }
}
