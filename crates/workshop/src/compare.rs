//! Two states of a blade against each other: told, drawn, and as the signed report.

use std::collections::BTreeMap;
use std::fmt;
use std::path::Path;
use std::str::FromStr;

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::Record;
use tangmark_report::{DrawingFile, Kind, Speech, compared_with, comparison_drawings, unsealed};
use tangmark_store::Store as _;

/// A comparison in words and numbers.
pub use tangmark_core::units::Unit;
pub use tangmark_report::{
    AccountTold, EtchTold, FlawTold, Number, PhotoTold, QuantityTold, SizeTold, StateTold,
    StationTold, StepTold, Told, TotalTold,
};

use crate::drawings::DRAWING_WIDTHS;
use crate::output::{NewFile, language_suffix};
use crate::report::PhotoFiles;
use crate::{DrawnFile, Paper, ReportWish, Workshop, WorkshopError};

/// One of the states of a blade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StateName {
    /// A sealed record, by its number in the blade's chain.
    Record(u32),
    /// The sheet as it is now.
    Sheet,
}

impl fmt::Display for StateName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Record(number) => write!(f, "{number}"),
            Self::Sheet => f.write_str("sheet"),
        }
    }
}

impl FromStr for StateName {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text == "sheet" {
            return Ok(Self::Sheet);
        }
        match text.parse::<u32>() {
            Ok(number) if number > 0 => Ok(Self::Record(number)),
            _ => Err("a number of a record from 1 up, or `sheet`, is needed".to_owned()),
        }
    }
}

/// Why two states are not compared.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CompareError {
    /// One state, and none to set against it.
    #[error("blade `{blade}` has no state beside {first}; two states are needed")]
    OneState {
        /// Blade.
        blade: String,
        /// The state there is.
        first: String,
    },
    /// The first state is not before the second.
    #[error("{first} is not before {second}; the earlier state stands first")]
    NotBefore {
        /// Blade.
        blade: String,
        /// The first state that was named.
        first: String,
        /// The second state.
        second: String,
        /// Both in the right order, where there is one.
        turned: Option<Box<[String; 2]>>,
    },
    /// A report that goes back to a record which is not before the one it shows.
    #[error("blade `{blade}` has no record {asked} before record {record}")]
    NotEarlier {
        /// Blade.
        blade: String,
        /// Number asked for.
        asked: u32,
        /// The record that is shown.
        record: u32,
    },
    /// A signed report of a sheet.
    #[error("a signed report shows sealed records, and the sheet of `{0}` is not sealed")]
    SheetNotSealed(String),
    /// No numbers to draw.
    #[error("{first} and {second} of blade `{blade}` have nothing in common that could be drawn")]
    NothingToDraw {
        /// Blade.
        blade: String,
        /// The first state.
        first: String,
        /// The second state.
        second: String,
    },
}

impl CompareError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        match self {
            Self::OneState { blade, .. } => format!(
                "measure the blade again on its sheet with `tangmark examine put`, then `tangmark compare {blade} 1 sheet`"
            ),
            Self::NotBefore {
                blade,
                turned: Some(turned),
                ..
            } => {
                let [first, second] = turned.as_ref();
                format!("turn them round: `tangmark compare {blade} {first} {second}`")
            }
            Self::NotBefore { blade, .. } | Self::NotEarlier { blade, .. } => {
                format!("name an earlier record: `tangmark blade show {blade}` lists them")
            }
            Self::SheetNotSealed(blade) => format!(
                "seal it with `tangmark seal {blade} --for after_work`, or leave `--pdf` out and draw it with `--svg DIR`"
            ),
            Self::NothingToDraw { .. } => {
                "weigh the blade and measure its stations both times; `tangmark compare` without `--svg` tells what there is".to_owned()
            }
        }
    }
}

/// Two states of a blade, read.
#[derive(Debug)]
pub struct TwoStates {
    blade: String,
    names: [StateName; 2],
    before: Record,
    after: Record,
    /// Records after the first and before the second, oldest first.
    between: Vec<Record>,
}

/// What came of drawing two states.
#[derive(Clone, Debug, Serialize)]
pub struct ComparisonDrawn {
    /// The drawings that were written.
    pub files: Vec<DrawnFile>,
    /// A sentence for each font of the workshop that is not used.
    pub refused_fonts: Vec<String>,
    /// Photos of the pairs that are not kept here.
    pub absent_photos: Vec<Digest>,
}

impl TwoStates {
    /// Returns what they say against each other.
    pub fn told(&self, speech: Speech) -> Told {
        Told::of(&self.before, &self.after, &self.between, speech)
    }

    fn shown(name: StateName) -> String {
        match name {
            StateName::Record(number) => format!("record {number}"),
            StateName::Sheet => "the sheet".to_owned(),
        }
    }
}

impl Workshop {
    /// Reads two states of a blade to be compared. The first is the first record that describes the blade unless given; the
    /// second the newest that does, or the sheet where that is the first.
    ///
    /// # Errors
    /// When a state is not there, or the first is not before the second.
    pub fn two_states(
        &self,
        blade: &str,
        first: Option<StateName>,
        second: Option<StateName>,
    ) -> Result<TwoStates, WorkshopError> {
        let (first, second) = match (first, second) {
            (Some(first), Some(second)) => (first, second),
            (first, second) => self.usual_states(blade, first, second)?,
        };
        let StateName::Record(number) = first else {
            return Err(not_before(blade, first, second));
        };
        if let StateName::Record(other) = second
            && other <= number
        {
            return Err(not_before(blade, first, second));
        }
        let before = self.pick(blade, Some(number))?.record;
        let (after, end) = match second {
            StateName::Record(other) => {
                let kept = self.pick(blade, Some(other))?;
                (kept.record, kept.row.sequence)
            }
            StateName::Sheet => (unsealed(self.sheet(blade)?.0)?, u64::MAX),
        };
        let rows = self.store().records(blade)?;
        let between = rows
            .iter()
            .filter(|row| row.sequence > u64::from(number) && row.sequence < end)
            .map(|row| Ok(self.kept(row)?.record))
            .collect::<Result<Vec<Record>, WorkshopError>>()?;
        Ok(TwoStates {
            blade: blade.to_owned(),
            names: [first, second],
            before,
            after,
            between,
        })
    }

    /// What is compared where a state is not named: a receipt or an override says nothing of the steel.
    fn usual_states(
        &self,
        blade: &str,
        first: Option<StateName>,
        second: Option<StateName>,
    ) -> Result<(StateName, StateName), WorkshopError> {
        // Says that there is no record, where there is none.
        self.row(blade, None)?;
        let mut described = Vec::new();
        for row in self.store().records(blade)? {
            let record = self.kept(&row)?.record;
            let says = record.dimensions.is_some()
                || record.examination.is_some()
                || !record.flaws.is_empty();
            if says {
                described.push(record.sequence);
            }
        }
        let first =
            first.unwrap_or_else(|| StateName::Record(described.first().copied().unwrap_or(1)));
        let last = described.last().copied().filter(|last| match first {
            StateName::Record(number) => *last > number,
            StateName::Sheet => true,
        });
        let second = match second.or(last.map(StateName::Record)) {
            Some(second) => second,
            None if self.store().draft(blade)?.is_some() => StateName::Sheet,
            None => {
                return Err(CompareError::OneState {
                    blade: blade.to_owned(),
                    first: TwoStates::shown(first),
                }
                .into());
            }
        };
        Ok((first, second))
    }

    /// Draws two states against each other into SVG files in a folder, which is made. No file is overwritten: where one
    /// is there already, none is written.
    ///
    /// # Errors
    /// A width that is too small or too large, states that have nothing to draw, a file that exists already or cannot be
    /// written.
    pub fn draw_two_states(
        &self,
        states: &TwoStates,
        width: f64,
        speech: Speech,
        folder: &Path,
    ) -> Result<ComparisonDrawn, WorkshopError> {
        let [least, most] = DRAWING_WIDTHS;
        if !(least..=most).contains(&width) {
            return Err(WorkshopError::DrawingWidth(width));
        }
        let (photos, absent_photos) = self.photos_of(states)?;
        let (fonts, refused_fonts) = self.fonts()?;
        let (before, after) = (&states.before, &states.after);
        let drawn: Vec<DrawingFile> = fonts.scope(|| {
            comparison_drawings([before, after], &states.between, &photos, width, speech)
        });
        if drawn.is_empty() {
            let [first, second] = states.names.map(TwoStates::shown);
            return Err(CompareError::NothingToDraw {
                blade: states.blade.clone(),
                first,
                second,
            }
            .into());
        }
        let stem = states.stem(&states.blade);
        let language = language_suffix(speech);
        let target =
            |drawing: &DrawingFile| folder.join(format!("{stem}-{}{language}.svg", drawing.name));
        if let Some(taken) = drawn.iter().map(target).find(|path| path.exists()) {
            return Err(WorkshopError::Exists(taken));
        }
        let mut files = Vec::with_capacity(drawn.len());
        for drawing in &drawn {
            let file = target(drawing);
            NewFile::open(&file)?.write(drawing.svg.as_bytes())?;
            files.push(DrawnFile {
                blade: states.blade.clone(),
                record: self.name_of(states)?,
                file,
                title: drawing.title.clone(),
                shows: drawing.alternative.clone(),
                width: drawing.width,
                height: drawing.height,
                missing: drawing.missing.iter().copied().collect(),
            });
        }
        Ok(ComparisonDrawn {
            files,
            refused_fonts,
            absent_photos,
        })
    }

    /// Says what report shows two sealed states, to be made with a [`crate::Press`].
    ///
    /// # Errors
    /// When the second state is the sheet.
    pub fn comparison_wish(
        &self,
        states: &TwoStates,
        paper: Paper,
        speech: Speech,
    ) -> Result<ReportWish, WorkshopError> {
        let [StateName::Record(first), StateName::Record(second)] = states.names else {
            return Err(CompareError::SheetNotSealed(states.blade.clone()).into());
        };
        let kept = self.pick(&states.blade, Some(second))?;
        let earlier = self.before(&states.blade, &kept)?;
        // The report that is made without asking for a record has the same pages and the plainer title.
        let usual = compared_with(&earlier, None).map(|record| record.sequence);
        Ok(ReportWish {
            sequence: Some(second),
            paper,
            kind: Kind::Comparison,
            speech,
            against: (usual != Some(first)).then_some(first),
            ..ReportWish::default()
        })
    }

    /// The record that drawings of two states name: the later one that is sealed.
    fn name_of(&self, states: &TwoStates) -> Result<Digest, WorkshopError> {
        let [first, second] = states.names;
        let number = [second, first].into_iter().find_map(|name| match name {
            StateName::Record(number) => Some(number),
            StateName::Sheet => None,
        });
        Ok(self.row(&states.blade, number)?.name)
    }

    /// The files of the photos of both states that show the same, as far as they are kept here.
    fn photos_of(&self, states: &TwoStates) -> Result<PhotoFiles, WorkshopError> {
        let (mut photos, mut absent) = (BTreeMap::new(), Vec::new());
        let told = states.told(Speech::English).photos;
        let shown = [(&states.before, true), (&states.after, false)];
        for (state, is_first) in shown {
            let keys: Vec<&str> = told
                .iter()
                .map(|pair| if is_first { &pair.before } else { &pair.after })
                .map(String::as_str)
                .collect();
            let named = state
                .photos
                .iter()
                .filter(|photo| keys.contains(&photo.id.as_str()));
            let (kept, missing) = self.photo_files(named)?;
            photos.extend(kept);
            absent.extend(missing);
        }
        Ok((photos, absent))
    }
}

impl TwoStates {
    /// The beginning of the names of files that show both.
    fn stem(&self, blade: &str) -> String {
        let part = |name: StateName| match name {
            StateName::Record(number) => format!("{number:02}"),
            StateName::Sheet => "sheet".to_owned(),
        };
        let [first, second] = self.names.map(part);
        format!("{blade}-{first}-{second}")
    }
}

fn not_before(blade: &str, first: StateName, second: StateName) -> WorkshopError {
    let turned = (first != second).then(|| Box::new([second.to_string(), first.to_string()]));
    CompareError::NotBefore {
        blade: blade.to_owned(),
        first: TwoStates::shown(first),
        second: TwoStates::shown(second),
        turned,
    }
    .into()
}
