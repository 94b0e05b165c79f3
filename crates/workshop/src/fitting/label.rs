//! Labels to tie to fittings.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::record::Term as _;
use tangmark_report::{LABEL_CODE_BYTES, Label, LabelSheet, Speech, label_sheet};

use super::{Card, Place};
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

/// What somebody who scans the code learns, in lines with a name before a colon.
fn code(id: &str, workshop: &str) -> String {
    let whole = format!("fitting: {id}\nworkshop: {workshop}");
    // A name may be so long that it has no room.
    if whole.len() <= LABEL_CODE_BYTES {
        whole
    } else {
        format!("fitting: {id}")
    }
}

/// What is to be known at the shelf: the part, and where it belongs.
fn line(card: &Card, place: &Place, speech: Speech) -> String {
    let part = card.fitting.part;
    let (en, ja) = match place {
        Place::Blade { blade, .. } => (format!("with {blade}"), format!("{blade} に付属")),
        Place::Storage => ("storage".to_owned(), "保管".to_owned()),
        Place::Out { with } => (format!("out: {with}"), format!("預け先：{with}")),
    };
    let english = format!("{} · {en}", part.key().replace('_', " "));
    let japanese = format!("{} · {ja}", part.japanese());
    match speech {
        Speech::English => english,
        Speech::Japanese => japanese,
        Speech::Both => format!("{english} / {japanese}"),
    }
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
            let line = line(card, &known.place(), speech);
            texts.push((id.as_str(), card.title.clone(), line, code(id, &workshop)));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_has_room_whatever_the_workshop_is_called() {
        assert_eq!(
            code("guard-1", "Reedbank Polishing"),
            "fitting: guard-1\nworkshop: Reedbank Polishing"
        );
        assert_eq!(code("guard-1", &"刀".repeat(200)), "fitting: guard-1");
    }
}
