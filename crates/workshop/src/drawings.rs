//! Drawings of a sealed record as SVG files.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_report::{DrawingFile, Speech, drawings, true_size_sheets};

use crate::output::{NewFile, language_suffix};
use crate::{Paper, Workshop, WorkshopError};

/// Least and greatest width of a drawing, mm.
pub const DRAWING_WIDTHS: [f64; 2] = [120.0, 400.0];

/// What to draw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawingWish {
    /// Number of the record in the blade's chain; the newest one unless given.
    pub sequence: Option<u32>,
    /// Width of a drawing, mm, within [`DRAWING_WIDTHS`].
    pub width: f64,
    /// Draw the blade in true size on sheets of this paper instead.
    pub true_size: Option<Paper>,
    /// Language.
    pub speech: Speech,
}

/// A drawing that was written.
#[derive(Clone, Debug, Serialize)]
pub struct DrawnFile {
    /// Blade.
    pub blade: String,
    /// Record it shows.
    pub record: Digest,
    /// File.
    pub file: PathBuf,
    /// What it is.
    pub title: String,
    /// What it shows, in words.
    pub shows: String,
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// Characters that no font has; they stand as code points.
    pub missing: Vec<char>,
}

/// What came of drawing a record.
#[derive(Clone, Debug)]
pub struct Drawn {
    /// The drawings that were written.
    pub files: Vec<DrawnFile>,
    /// A sentence for each font of the workshop that is not used.
    pub refused_fonts: Vec<String>,
}

impl Workshop {
    /// Draws what the numbers of a blade's record allow into SVG files in a folder, which is made; without `folder` into
    /// the workshop's `out/`. What went is shown against an earlier record, where there is one. No file is overwritten:
    /// where one is there already, none is written.
    ///
    /// # Errors
    /// When there is no such record, a width that is too small or too large, numbers that allow no drawing, a file that
    /// exists already or cannot be written.
    pub fn draw(
        &self,
        blade: &str,
        wish: &DrawingWish,
        folder: Option<&Path>,
    ) -> Result<Drawn, WorkshopError> {
        let [least, most] = DRAWING_WIDTHS;
        if !(least..=most).contains(&wish.width) {
            return Err(WorkshopError::DrawingWidth(wish.width));
        }
        let kept = self.pick(blade, wish.sequence)?;
        let earlier = self.before(blade, &kept)?;
        let (fonts, refused_fonts) = self.fonts()?;
        let drawn: Vec<DrawingFile> = fonts.scope(|| match wish.true_size {
            None => drawings(&kept.record, &earlier, wish.width, wish.speech),
            Some(paper) => true_size_sheets(&kept.record, paper.into(), wish.speech),
        });
        if drawn.is_empty() {
            return Err(WorkshopError::NothingToDraw {
                blade: blade.to_owned(),
                record: kept.record.sequence,
                true_size: wish.true_size.is_some(),
            });
        }
        let folder = folder.map_or_else(|| self.out_folder(), Path::to_owned);
        let language = language_suffix(wish.speech);
        let paper = wish.true_size.map_or("", Paper::suffix);
        let target = |drawing: &DrawingFile| {
            let (number, name) = (kept.row.sequence, &drawing.name);
            folder.join(format!("{blade}-{number:02}-{name}{language}{paper}.svg"))
        };
        if let Some(taken) = drawn.iter().map(target).find(|path| path.exists()) {
            return Err(WorkshopError::Exists(taken));
        }
        let mut files = Vec::with_capacity(drawn.len());
        for drawing in &drawn {
            let file = target(drawing);
            NewFile::open(&file)?.write(drawing.svg.as_bytes())?;
            files.push(DrawnFile {
                blade: blade.to_owned(),
                record: kept.row.name,
                file,
                title: drawing.title.clone(),
                shows: drawing.alternative.clone(),
                width: drawing.width,
                height: drawing.height,
                missing: drawing.missing.iter().copied().collect(),
            });
        }
        Ok(Drawn {
            files,
            refused_fonts,
        })
    }
}
