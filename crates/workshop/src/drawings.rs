//! Drawings of a sealed record as SVG files.

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_report::font::FontSet;
use tangmark_report::{DrawingFile, PageSize, Speech, drawings, true_size_sheets};
use tangmark_store::Store as _;

use crate::report::write_whole;
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
    ) -> Result<Vec<DrawnFile>, WorkshopError> {
        let [least, most] = DRAWING_WIDTHS;
        if !(least..=most).contains(&wish.width) {
            return Err(WorkshopError::DrawingWidth(wish.width));
        }
        let kept = self.pick(blade, wish.sequence)?;
        let mut earlier = Vec::new();
        for row in self.store().records(blade)? {
            if row.sequence < u64::from(kept.record.sequence) {
                earlier.push(self.kept(&row)?.record);
            }
        }
        let (files, _) = self.font_files()?;
        let drawn: Vec<DrawingFile> = FontSet::with_folder(files).scope(|| match wish.true_size {
            None => drawings(&kept.record, &earlier, wish.width, wish.speech),
            Some(Paper::A4) => true_size_sheets(&kept.record, PageSize::A4, wish.speech),
            Some(Paper::Letter) => true_size_sheets(&kept.record, PageSize::Letter, wish.speech),
        });
        if drawn.is_empty() {
            return Err(WorkshopError::NothingToDraw {
                blade: blade.to_owned(),
                record: kept.record.sequence,
                true_size: wish.true_size.is_some(),
            });
        }
        let folder = folder.map_or_else(|| self.out_folder(), Path::to_owned);
        let language = match wish.speech {
            Speech::English => "",
            Speech::Japanese => "-ja",
            Speech::Both => "-both",
        };
        let paper = match wish.true_size {
            Some(Paper::Letter) => "-letter",
            _ => "",
        };
        let target = |drawing: &DrawingFile| {
            let (number, name) = (kept.row.sequence, &drawing.name);
            folder.join(format!("{blade}-{number:02}-{name}{language}{paper}.svg"))
        };
        if let Some(taken) = drawn.iter().map(target).find(|path| path.exists()) {
            return Err(WorkshopError::Exists(taken));
        }
        drawn
            .iter()
            .map(|drawing| {
                let file = target(drawing);
                write_whole(&file, drawing.svg.as_bytes())?;
                Ok(DrawnFile {
                    blade: blade.to_owned(),
                    record: kept.row.name,
                    file,
                    title: drawing.title.clone(),
                    shows: drawing.alternative.clone(),
                    width: drawing.width,
                    height: drawing.height,
                    missing: drawing.missing.iter().copied().collect(),
                })
            })
            .collect()
    }
}
