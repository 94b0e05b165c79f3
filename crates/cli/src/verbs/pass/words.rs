//! What is said of a pass on the command line.

use std::path::PathBuf;

use clap::Args;
use serde_json::{Map, Value};
use tangmark_workshop::WorkshopError;
use tangmark_workshop::pass::{EtchWords, PassWords};

use crate::outcome::Failure;

/// What is said of a pass.
#[derive(Debug, Args)]
pub(super) struct Words {
    /// What was done, a term of `tangmark schema terms operation`; follows from the stage of the stone or from `--etch`
    #[arg(long = "do", value_name = "OPERATION")]
    operation: Option<String>,
    /// Zone worked: edge, ground, ridge, back, point (can be repeated)
    #[arg(long, value_name = "ZONE")]
    zone: Vec<String>,
    /// Face worked: omote, ura, edge_side, back_side (can be repeated) [default: both]
    #[arg(long, value_name = "FACE")]
    face: Vec<String>,
    /// Stone, by its name in `tangmark stone list`
    #[arg(long, value_name = "NAME")]
    stone: Option<String>,
    /// How long, with its unit
    #[arg(long, value_name = "TIME")]
    time: Option<String>,
    /// Strokes
    #[arg(long, value_name = "N")]
    strokes: Option<u32>,
    /// Mass before, with its unit; several readings apart by `;`
    #[arg(long, value_name = "MASS")]
    before_mass: Option<String>,
    /// Mass after, with its unit; several readings apart by `;`
    #[arg(long, value_name = "MASS")]
    after_mass: Option<String>,
    /// Key of the scale on the sheet [default: that of the last weighing]
    #[arg(long, value_name = "ID")]
    scale: Option<String>,
    /// Reading along the blade before: place, then width=, ridge=, back= (can be repeated)
    #[arg(long, value_name = "READING")]
    before_reading: Vec<String>,
    /// Reading along the blade after: place, then width=, ridge=, back= (can be repeated)
    #[arg(long, value_name = "READING", visible_alias = "after-reading")]
    reading: Vec<String>,
    /// Key of the gauge on the sheet [default: that of the last reading along the blade]
    #[arg(long, value_name = "ID")]
    gauge: Option<String>,
    /// Agent of an etch, such as an acid
    #[arg(long, value_name = "AGENT")]
    etch: Option<String>,
    /// Its concentration, such as `3 %`
    #[arg(long, value_name = "SHARE", requires = "etch")]
    etch_concentration: Option<String>,
    /// Its time on the steel
    #[arg(long, value_name = "TIME", requires = "etch")]
    etch_time: Option<String>,
    /// Neutralised afterwards
    #[arg(long, requires = "etch")]
    neutralised: bool,
    /// Rinsed afterwards
    #[arg(long, requires = "etch")]
    rinsed: bool,
    /// Dried and oiled afterwards
    #[arg(long, requires = "etch")]
    dried: bool,
    /// Photo, taken into the workshop and bound by its digest (can be repeated)
    #[arg(long, value_name = "FILE")]
    photo: Vec<PathBuf>,
    /// Caption of each photo, in their order (can be repeated)
    #[arg(long, value_name = "TEXT", requires = "photo")]
    caption: Vec<String>,
    /// Remarks
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
}

impl Words {
    /// The pass in the form in which it is entered.
    pub(super) fn block(&self) -> Result<Map<String, Value>, Failure> {
        let words = self.words()?;
        words
            .block()
            .map_err(|error| WorkshopError::from(error).into())
    }

    fn words(&self) -> Result<PassWords, Failure> {
        if self.caption.len() > self.photo.len() {
            return Err(Failure::usage(
                format!(
                    "{} --caption and {} --photo found, no more captions than photos are allowed",
                    self.caption.len(),
                    self.photo.len()
                ),
                "give each photo at most one caption, in the same order",
            ));
        }
        let mut captions = self.caption.iter().cloned();
        Ok(PassWords {
            operation: self.operation.clone(),
            zones: self.zone.clone(),
            faces: self.face.clone(),
            stone: self.stone.clone(),
            time: self.time.clone(),
            strokes: self.strokes,
            before_mass: self.before_mass.clone(),
            after_mass: self.after_mass.clone(),
            scale: self.scale.clone(),
            before: self.before_reading.clone(),
            after: self.reading.clone(),
            gauge: self.gauge.clone(),
            etch: self.etch.as_ref().map(|agent| EtchWords {
                agent: agent.clone(),
                concentration: self.etch_concentration.clone(),
                time: self.etch_time.clone(),
                neutralised: self.neutralised,
                rinsed: self.rinsed,
                dried: self.dried,
            }),
            photos: self
                .photo
                .iter()
                .map(|file| (file.clone(), captions.next()))
                .collect(),
            note: self.note.clone(),
        })
    }
}
