//! Labels to tie to fittings.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::record::Term as _;
use tangmark_report::{Label, LabelSheet, Speech, label_sheet};

use crate::output::{NewFile, Paper};
use crate::{Surroundings, Workshop, WorkshopError};

/// A sheet of labels that was written.
#[derive(Clone, Debug, Serialize)]
pub struct FittingLabels {
    /// The file.
    pub file: PathBuf,
    /// The fittings, in order.
    pub fittings: Vec<String>,
    /// Number of pages.
    pub pages: usize,
    /// Characters that no font has; they stand as code points.
    pub missing: Vec<char>,
    /// A sentence for each font of the workshop that is not used.
    pub refused_fonts: Vec<String>,
}

impl Workshop {
    /// Writes a PDF with one label for each of the fittings named. No file is overwritten.
    ///
    /// # Errors
    /// When there is no such fitting, or the file is there already or cannot be written.
    pub fn label_fittings(
        &self,
        ids: &[String],
        file: &Path,
        paper: Paper,
        speech: Speech,
        around: &Surroundings<'_>,
    ) -> Result<FittingLabels, WorkshopError> {
        let workshop = self.name()?;
        let mut texts = Vec::with_capacity(ids.len());
        for id in ids {
            let known = self.known(id)?;
            let card = &known.card.matter;
            let part = card.fitting.part.shown();
            let line = format!("{part}; {}", known.place().words().replace('`', ""));
            texts.push((
                id.as_str(),
                card.title.clone(),
                line,
                format!("fitting {id}"),
            ));
        }
        let labels: Vec<Label<'_>> = texts
            .iter()
            .map(|(id, title, line, code)| Label {
                key: id,
                title,
                line,
                code,
                sharp: false,
            })
            .collect();
        let sheet = LabelSheet {
            workshop: &workshop,
            made_at: around.now.as_str(),
            page: paper.into(),
            speech,
            demo: self.is_demo()?,
        };
        let (fonts, mut refused_fonts) = self.fonts()?;
        let rendered = fonts
            .scope(|| label_sheet(&labels, &sheet))
            .map_err(WorkshopError::Render)?;
        refused_fonts.extend(rendered.refused.iter().map(ToString::to_string));
        NewFile::open(file)?.write(&rendered.pdf)?;
        Ok(FittingLabels {
            file: file.to_owned(),
            fittings: ids.to_vec(),
            pages: rendered.pages,
            missing: rendered.missing.into_iter().collect(),
            refused_fonts,
        })
    }
}
