//! Which blades a fitting goes on, by its peg hole and its opening against the tang and the section at the notch.
//!
//! The rules are this tool's own (common practice, no source); the comparison is guarded by the uncertainty, k = 2.

use serde::Serialize;
use tangmark_core::record::{
    Datum, Dimensions, FittingFit, FittingPart, Length, Sheet, Tang, Term as _,
};
use tangmark_core::units::Decimal;
use tangmark_measure::Estimate;
use tangmark_measure::decision::Within;
use tangmark_measure::print::{Printed, printed};
use tangmark_measure::seat::{self, Comparison};
use tangmark_report::{Seat, SeatOpening, SeatPeg, Speech, seat_drawing};
use tangmark_store::{StandingFilter, Store as _};

use super::{Card, FittingError, LimitLine, LimitName, Limits, Place};
use crate::output::NewFile;
use crate::{DRAWING_WIDTHS, Workshop, WorkshopError};

/// What the numbers say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// All of them fit, by more than the uncertainty.
    Fits,
    /// The measures cannot tell, or are missing.
    CannotTell,
    /// One of them does not fit, by more than the uncertainty.
    DoesNotFit,
}

/// One measure of a fitting against a blade. Lengths in mm; `u` are standard uncertainties (k = 1).
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FitCheck {
    /// What was compared.
    pub what: String,
    /// Of the fitting.
    pub fitting: Decimal,
    /// Of the blade.
    pub blade: Decimal,
    /// Play, or distance of the hilt's hole beyond that of the tang.
    pub difference: Decimal,
    /// Standard uncertainty of the difference.
    pub u: Decimal,
    /// Least difference that fits.
    pub least: Decimal,
    /// Greatest difference that fits.
    pub most: Decimal,
    /// What it says.
    pub answer: Answer,
    /// In words.
    pub says: String,
}

/// A fitting against one blade.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FitLine {
    /// Blade.
    pub blade: String,
    /// Its title.
    pub title: String,
    /// What all of it says.
    pub answer: Answer,
    /// Every comparison that could be made.
    pub checks: Vec<FitCheck>,
    /// What is to be measured, or read finer, so that it can be told.
    pub missing: Vec<String>,
    /// What else a person should know.
    pub notes: Vec<String>,
}

/// A fitting against blades.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fitted {
    /// The fitting.
    pub fitting: String,
    /// Part.
    pub part: String,
    /// The limits that were used.
    pub limits: Vec<LimitLine>,
    /// Blades: first those it fits, then those where it cannot be told.
    pub blades: Vec<FitLine>,
}

/// A drawing of a fitting against a blade that was written.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FitDrawing {
    /// The file.
    pub file: std::path::PathBuf,
    /// What it shows, in words.
    pub shows: String,
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
}

/// What a part goes over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Goes {
    /// Limit of its play.
    limit: LimitName,
    /// Over the blade above the notch, else over the tang below it.
    over_blade: bool,
    /// It has a peg hole that must meet one of the tang.
    pegged: bool,
    /// Its mouth stands at the notch itself, with nothing between.
    at_notch: bool,
}

impl Goes {
    fn of(part: FittingPart) -> Option<Self> {
        let plain = |limit| Self {
            limit,
            over_blade: false,
            pegged: false,
            at_notch: false,
        };
        Some(match part {
            FittingPart::Habaki => Self {
                over_blade: true,
                ..plain(LimitName::Collar)
            },
            FittingPart::Seppa => plain(LimitName::Washer),
            FittingPart::Tsuba | FittingPart::Guard => plain(LimitName::Guard),
            FittingPart::Fuchi => plain(LimitName::Hilt),
            FittingPart::Tsuka | FittingPart::Grip | FittingPart::Shaft => Self {
                pegged: true,
                ..plain(LimitName::Hilt)
            },
            FittingPart::Shirasaya => Self {
                pegged: true,
                at_notch: true,
                ..plain(LimitName::Hilt)
            },
            _ => return None,
        })
    }
}

/// Whether a hole or an opening decides on a part.
pub(super) fn is_judged(part: FittingPart) -> bool {
    Goes::of(part).is_some()
}

/// The section a fitting goes over, as far as the sheet has it.
struct Section {
    width: Option<Estimate>,
    thickness: Option<Estimate>,
    missing: Vec<String>,
}

fn estimate(length: Option<&Length>) -> Option<Estimate> {
    length.map(|length| Estimate::from(&**length))
}

/// The blade at the notch: its own fields, else the station there.
fn at_notch(dimensions: &Dimensions) -> (Option<Estimate>, Option<Estimate>) {
    let here = dimensions
        .stations
        .iter()
        .find(|station| station.at.value.is_zero());
    let width = dimensions
        .width_at_base
        .as_ref()
        .or_else(|| here?.width.as_ref());
    let thickness = dimensions
        .thickness_at_base
        .as_ref()
        .or_else(|| here?.ridge_thickness.as_ref());
    (estimate(width), estimate(thickness))
}

impl Section {
    fn of(sheet: &Sheet, over_blade: bool) -> Self {
        let blade = sheet.blade.id.as_str();
        let needs = |field: &str| format!("`dimensions.{field}` in the sheet of `{blade}`");
        let Some(dimensions) = &sheet.dimensions else {
            return Self {
                width: None,
                thickness: None,
                missing: vec![needs("width_at_base"), needs("thickness_at_base")],
            };
        };
        let (width, thickness) = at_notch(dimensions);
        let mut missing = Vec::new();
        if width.is_none() {
            missing.push(needs("width_at_base"));
        }
        if thickness.is_none() {
            missing.push(needs("thickness_at_base"));
        }
        let width = if over_blade {
            width
        } else {
            let edge = estimate(dimensions.edge_notch_depth.as_ref());
            let back = estimate(dimensions.back_notch_depth.as_ref());
            if edge.is_none() {
                missing.push(needs("edge_notch_depth"));
            }
            if back.is_none() {
                missing.push(needs("back_notch_depth"));
            }
            width
                .zip(edge.zip(back))
                .map(|(width, (edge, back))| seat::tang_width(width, edge, back))
        };
        Self {
            width,
            thickness,
            missing,
        }
    }
}

/// Digits after the full stop of a number in a list, mm.
const DIGITS: usize = 2;

fn decimal(value: f64) -> Decimal {
    tangmark_measure::print::fixed(value, DIGITS).unwrap_or_default()
}

impl FitCheck {
    fn of(what: String, fitting: Estimate, blade: Estimate, compared: &Comparison) -> Self {
        let [least, most] = compared.allowed;
        let shown = printed(compared.difference, DIGITS).unwrap_or(Printed {
            value: Decimal::default(),
            standard_uncertainty: None,
        });
        Self {
            fitting: decimal(fitting.value),
            blade: decimal(blade.value),
            difference: shown.value,
            u: shown.standard_uncertainty.unwrap_or_default(),
            least: decimal(least),
            most: decimal(most),
            answer: match compared.answer {
                Within::Inside => Answer::Fits,
                Within::Undecided => Answer::CannotTell,
                Within::Below | Within::Above => Answer::DoesNotFit,
            },
            says: String::new(),
            what,
        }
    }
}

/// What is said of the play of an opening.
fn play_words(compared: &Comparison) -> String {
    let difference = tangmark_measure::print::with_expanded(compared.difference, "mm");
    let [_, most] = compared.allowed;
    let by = decimal(compared.beyond().abs());
    match compared.answer {
        Within::Inside => format!("fits: play {difference}, 0 to {most} mm is allowed"),
        Within::Below => {
            format!("too tight by {by} mm: play {difference}, 0 to {most} mm is allowed")
        }
        Within::Above => {
            format!("too loose by {by} mm: play {difference}, 0 to {most} mm is allowed")
        }
        Within::Undecided => format!(
            "cannot be told: play {difference}, 0 to {most} mm is allowed ({} % likely to fit)",
            percent(compared)
        ),
    }
}

fn peg_words(compared: &Comparison, number: usize) -> String {
    let difference = tangmark_measure::print::with_expanded(compared.difference, "mm");
    let [_, most] = compared.allowed;
    let by = decimal(compared.beyond().abs());
    let off = format!("off from hole {number} of the tang by {difference}, ±{most} mm is allowed");
    match compared.answer {
        Within::Inside => format!("fits: {off}"),
        Within::Below => format!("too near the mouth by {by} mm: {off}"),
        Within::Above => format!("too far from the mouth by {by} mm: {off}"),
        Within::Undecided => format!(
            "cannot be told: {off} ({} % likely to fit)",
            percent(compared)
        ),
    }
}

fn percent(compared: &Comparison) -> String {
    format!("{:.0}", compared.probability() * 100.0)
}

/// How fine a reading must be so that the comparison can be told.
fn finer(what: &str, compared: &Comparison) -> Option<String> {
    if compared.answer != Within::Undecided {
        return None;
    }
    let [least, most] = compared.allowed;
    Some(if compared.can_be_told() {
        format!("{what}: read it finer, or try it on: it lies too near a limit")
    } else {
        format!(
            "{what}: read both sides finer: U (k = 2) of the difference is {} mm, at most {} mm can tell",
            decimal(compared.difference.expanded()),
            decimal((most - least) / 2.0)
        )
    })
}

/// Judging one fitting.
struct Judge<'a> {
    card: &'a Card,
    goes: Goes,
    limits: Limits,
}

impl<'a> Judge<'a> {
    fn new(card: &'a Card, limits: Limits) -> Result<Self, FittingError> {
        let part = card.fitting.part;
        let goes = Goes::of(part).ok_or_else(|| FittingError::NotJudged {
            part: part.key().replace('_', " "),
        })?;
        Ok(Self { card, goes, limits })
    }

    fn fit(&self) -> FittingFit {
        self.card.fitting.fit.clone().unwrap_or_default()
    }

    /// Where the mouth of a hilt stands, from the notch; nothing where that was not measured.
    fn stack(&self) -> Option<Estimate> {
        if self.goes.at_notch {
            return Some(Estimate::exact(0.0));
        }
        estimate(self.card.stack.as_ref())
    }

    fn against(&self, sheet: &Sheet, title: &str) -> FitLine {
        let mut line = FitLine {
            blade: sheet.blade.id.to_string(),
            title: title.to_owned(),
            answer: Answer::CannotTell,
            checks: Vec::new(),
            missing: Vec::new(),
            notes: Vec::new(),
        };
        if self.goes.pegged {
            self.peg(sheet, &mut line);
        }
        self.opening(sheet, &mut line);
        line.answer = if line
            .checks
            .iter()
            .any(|one| one.answer == Answer::DoesNotFit)
        {
            Answer::DoesNotFit
        } else if line.missing.is_empty()
            && line.checks.iter().all(|one| one.answer == Answer::Fits)
        {
            Answer::Fits
        } else {
            Answer::CannotTell
        };
        let tight = line
            .checks
            .iter()
            .any(|one| one.says.starts_with("too tight"));
        if tight && !self.goes.over_blade {
            line.notes.push(
                "an opening can be made wider; a tang is never filed to make a fitting go on"
                    .to_owned(),
            );
        }
        line
    }

    fn opening(&self, sheet: &Sheet, line: &mut FitLine) {
        let id = self.card.id();
        let fit = self.fit();
        let section = Section::of(sheet, self.goes.over_blade);
        let most = self.limits.mm(self.goes.limit);
        line.missing.extend(section.missing.iter().cloned());
        let steel = if self.goes.over_blade {
            "blade"
        } else {
            "tang"
        };
        for (side, of_fitting, of_blade) in [
            ("width", &fit.opening_width, section.width),
            ("thickness", &fit.opening_thickness, section.thickness),
        ] {
            let Some(of_fitting) = estimate(of_fitting.as_ref()) else {
                let needed = format!(
                    "the opening of `{id}`: `tangmark fitting measure {id} --opening \"… mm x … mm\"`"
                );
                if !line.missing.contains(&needed) {
                    line.missing.push(needed);
                }
                continue;
            };
            let Some(of_blade) = of_blade else { continue };
            let compared = seat::play(of_fitting, of_blade, most);
            let what = format!("{side} of the opening over the {steel} at the notch");
            let mut check = FitCheck::of(what.clone(), of_fitting, of_blade, &compared);
            check.says = play_words(&compared);
            line.checks.push(check);
            line.missing.extend(finer(&what, &compared));
        }
    }

    fn peg(&self, sheet: &Sheet, line: &mut FitLine) {
        let id = self.card.id();
        let fit = self.fit();
        let from_mouth = estimate(fit.peg_hole_at.as_ref());
        if from_mouth.is_none() {
            line.missing.push(format!(
                "the peg hole of `{id}`: `tangmark fitting measure {id} --peg-hole \"… mm\"`"
            ));
        }
        let stack = self.stack();
        if stack.is_none() {
            line.missing.push(format!(
                "what lies between notch and mouth when `{id}` is mounted (washers and guard): `tangmark fitting measure {id} --stack \"… mm\"`"
            ));
        }
        let holes = holes(sheet.tang.as_ref());
        if holes.is_empty() {
            line.missing.push(format!(
                "an open peg hole: `tang.holes` in the sheet of `{}`",
                sheet.blade.id
            ));
        }
        if sheet
            .tang
            .iter()
            .flat_map(|tang| &tang.holes)
            .any(|hole| hole.plugged)
        {
            line.notes
                .push("a plugged hole of the tang does not count".to_owned());
        }
        if sheet
            .dimensions
            .as_ref()
            .is_some_and(|it| it.datum == Datum::GuardFace)
        {
            line.notes.push(
                "the holes of this tang are measured from the face of the guard: the stack counts from there".to_owned(),
            );
        }
        let (Some(from_mouth), Some(stack)) = (from_mouth, stack) else {
            return;
        };
        let most = self.limits.mm(LimitName::Peg);
        // The hole that meets best speaks for the tang.
        let best = holes
            .iter()
            .map(|(number, hole)| (*number, *hole, seat::peg(from_mouth, stack, *hole, most)))
            .min_by(|a, b| {
                let off = |one: &Comparison| one.difference.value.abs();
                off(&a.2).total_cmp(&off(&b.2))
            });
        if let Some((number, hole, compared)) = best {
            let what = "peg hole of the hilt".to_owned();
            let mut check = FitCheck::of(what.clone(), from_mouth + stack, hole, &compared);
            check.says = peg_words(&compared, number);
            line.checks.push(check);
            line.missing.extend(finer(&what, &compared));
        }
    }

    fn seat<'s>(&'s self, sheet: &'s Sheet) -> Seat<'s> {
        let fit = self.fit();
        let section = Section::of(sheet, self.goes.over_blade);
        let value = |length: &Option<Length>| length.as_ref().map(|it| it.to_f64());
        let opening = value(&fit.opening_width)
            .zip(value(&fit.opening_thickness))
            .zip(section.width.zip(section.thickness));
        let tang_width = Section::of(sheet, false).width;
        let holes = sheet.tang.iter().flat_map(|tang| &tang.holes);
        let holes: Vec<(f64, Option<f64>, bool)> = holes
            .map(|hole| {
                let diameter = hole.diameter.as_ref().map(|it| it.to_f64());
                (hole.at.to_f64().abs(), diameter, hole.plugged)
            })
            .collect();
        let peg = self
            .goes
            .pegged
            .then(|| value(&fit.peg_hole_at).zip(self.stack()))
            .flatten()
            .filter(|_| !holes.is_empty());
        Seat {
            blade: sheet.blade.id.as_str(),
            fitting: self.card.id(),
            peg: peg.map(|(from_mouth, stack)| SeatPeg {
                mouth: stack.value,
                hole: stack.value + from_mouth,
                holes,
                tang: sheet
                    .dimensions
                    .as_ref()
                    .and_then(|it| it.tang_length.as_ref())
                    .map(|it| it.to_f64()),
                width: tang_width.map(|it| it.value),
            }),
            opening: opening.map(|(opening, (width, thickness))| SeatOpening {
                opening: opening.into(),
                section: [width.value, thickness.value],
                of_blade: self.goes.over_blade,
            }),
        }
    }
}

/// Open holes of a tang with their numbers from 1, each from the notch.
fn holes(tang: Option<&Tang>) -> Vec<(usize, Estimate)> {
    let all = tang.into_iter().flat_map(|tang| &tang.holes);
    all.enumerate()
        .filter(|(_, hole)| !hole.plugged)
        .map(|(index, hole)| {
            let at = Estimate::from(&*hole.at);
            (
                index + 1,
                Estimate::new(at.value.abs(), at.standard_uncertainty),
            )
        })
        .collect()
}

impl Workshop {
    /// Tells which blades a fitting fits: those named, or all that are in work. `progress` is told how many are done.
    ///
    /// # Errors
    /// When there is no such fitting or blade, or no hole and no opening decides on this part.
    pub fn fitting_fits(
        &self,
        id: &str,
        blades: &[String],
        progress: &mut dyn FnMut(u64, u64),
    ) -> Result<Fitted, WorkshopError> {
        let known = self.known(id)?;
        let card = &known.card.matter;
        let limits = self.fitting_limits()?;
        let judge = Judge::new(card, limits)?;
        let named = !blades.is_empty();
        let asked: Vec<String> = if named {
            blades.to_vec()
        } else {
            let filter = StandingFilter {
                ended: Some(false),
                ..StandingFilter::default()
            };
            let rows = self.store().standings(&filter)?;
            // One without a sheet has no numbers.
            let with_sheet = rows.into_iter().filter(|row| row.revision.is_some());
            with_sheet.map(|row| row.blade).collect()
        };
        let total = asked.len() as u64;
        let mut lines = Vec::new();
        for (done, blade) in asked.iter().enumerate() {
            let (sheet, _) = self.sheet(blade)?;
            lines.push(judge.against(&sheet, &sheet.blade.title));
            progress(done as u64 + 1, total);
        }
        if !named {
            lines.sort_by(|a, b| a.answer.cmp(&b.answer).then_with(|| a.blade.cmp(&b.blade)));
        }
        let used = LimitName::ALL.into_iter().filter(|name| {
            *name == judge.goes.limit || (judge.goes.pegged && *name == LimitName::Peg)
        });
        Ok(Fitted {
            fitting: card.id().to_owned(),
            part: card.fitting.part.key().to_owned(),
            limits: used.map(|name| limits.line(name)).collect(),
            blades: lines,
        })
    }

    /// Draws a fitting against a blade, to scale, as an SVG file. No file is overwritten.
    ///
    /// # Errors
    /// When nothing of it was measured on both sides, or the file cannot be written.
    pub fn draw_fit(
        &self,
        id: &str,
        blade: &str,
        file: &std::path::Path,
        speech: Speech,
    ) -> Result<FitDrawing, WorkshopError> {
        let known = self.known(id)?;
        let judge = Judge::new(&known.card.matter, self.fitting_limits()?)?;
        let (sheet, _) = self.sheet(blade)?;
        let (fonts, _) = self.fonts()?;
        let [least, most] = DRAWING_WIDTHS;
        let seat = judge.seat(&sheet);
        let drawn = fonts.scope(|| seat_drawing(&seat, 166.0_f64.clamp(least, most), speech));
        let drawn = drawn.ok_or_else(|| {
            let line = judge.against(&sheet, "");
            let missing = line.missing.into_iter().next();
            FittingError::NothingToDraw {
                missing: missing.unwrap_or_else(|| "the lengths make no picture".to_owned()),
            }
        })?;
        NewFile::open(file)?.write(drawn.svg.as_bytes())?;
        Ok(FitDrawing {
            file: file.to_owned(),
            shows: drawn.alternative,
            width: drawn.width,
            height: drawn.height,
        })
    }

    /// The blade a fitting is with, where it is with one.
    ///
    /// # Errors
    /// When there is no such fitting.
    pub fn blade_of_fitting(&self, id: &str) -> Result<Option<String>, WorkshopError> {
        Ok(match self.known(id)?.place() {
            Place::Blade { blade, .. } => Some(blade),
            Place::Storage | Place::Out { .. } => None,
        })
    }
}

#[cfg(test)]
#[path = "fits_tests.rs"]
mod tests;
