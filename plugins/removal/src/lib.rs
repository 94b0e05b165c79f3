//! The `removal` plugin: how much steel is gone, whether that can be told, and how much is left.
//!
//! Before and after (the first sealed state against the sheet) and pass by pass. Readings of one instrument share its
//! error of indication, and every difference counts with that. Nothing here holds a blade: that is for the budget.
#![forbid(unsafe_code)]

mod consistency;
mod detect;
mod local;
mod mass;
mod polishes;
mod remaining;
mod settings;
mod states;
mod surface;

use tangmark_author::Notes;
use tangmark_author::{history, passes, passes::Logged, rules};
use tangmark_core::record::{Instrument, Pass, Record, Sheet};
use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};

use settings::Settings;
use states::State;

tangmark_plugin::export!(describe, check);

const OWN: &str = "this tool's own rule";
const GUM: &str = "difference of readings with the covariance of one instrument (JCGM 100:2008, 5.2.2 and F.1.2.3, from memory)";
const DEPTH: &str = "h = m/(rho S), mass = density x surface x depth; density 7.82 ± 0.05 g/cm3 from memory unless set";
const DETECT: &str =
    "detection limit for constant uncertainty, 2 x 1.645 u (ISO 11843-1, from memory)";
const LEFT: &str = "interval of a ratio by Fieller's argument, from memory; the spread between polishes is a setting";

rules! {
    "removal.steel-gone" "Steel gone, and its mean depth" DEPTH;
    "removal.rust-gone" "Rust gone, kept apart" "common practice, no source: weigh on both sides of removing rust";
    "removal.mass-grew" "Heavier than before" GUM;
    "removal.pass-grew" "Heavier after a pass than before it" GUM;
    "removal.weighings-disagree" "Passes and examinations weigh differently" GUM;
    "removal.local-loss" "Loss at the stations, and what cannot be told" GUM;
    "removal.no-pairs" "No station was measured twice" OWN;
    "removal.thicker-after" "Thicker or wider than before" "difference against its uncertainty, with Šidák's correction for several readings, from memory";
    "removal.mass-and-sections" "Scale against gauge" "volume between stations times density against the difference of masses; E_n as in ISO/IEC 17043, from memory";
    "removal.detectable" "The least removal that can be told" DETECT;
    "removal.thinnest" "What is left to the thinnest admitted" "plan.thinnest against the thinnest station, guarded by 1.645 u (JCGM 106:2012, from memory)";
    "removal.thinnest-not-stated" "How thin it may become is not stated" OWN;
    "removal.temper-line" "What is left to the temper line" OWN;
    "removal.polishes-left" "Full polishes left at the rate so far" LEFT;
}

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    let title = "Steel gone, and how much is left";
    tangmark_author::describe("removal", env!("CARGO_PKG_VERSION"), title, RULES)
}

/// What every rule looks at.
pub(crate) struct Case<'a> {
    sheet: &'a Sheet,
    records: &'a [Record],
    settings: &'a Settings,
    states: Vec<State<'a>>,
    logged: Vec<Logged<'a>>,
}

impl<'a> Case<'a> {
    /// The first sealed state and the sheet's own; `None` without both.
    fn ends(&self) -> Option<(&State<'a>, &State<'a>)> {
        let (first, rest) = self.states.split_first()?;
        Some((first, rest.last().filter(|last| last.is_sheet)?))
    }

    /// The state whose sections give the worked surface: the first that has two.
    fn geometry(&self) -> Option<&State<'a>> {
        self.states
            .iter()
            .find(|state| surface::surfaces(self.sheet, state).is_ok())
            .or(self.states.last())
    }

    /// Passes that take steel.
    fn steel_passes(&self) -> Vec<&'a Pass> {
        self.logged
            .iter()
            .map(|one| one.pass)
            .filter(|pass| pass.operation.takes_steel())
            .collect()
    }

    /// Instruments of the sheet or record that holds a pass.
    fn instruments_of(&self, logged: &Logged<'_>) -> &'a [Instrument] {
        let sealed = logged
            .sequence
            .filter(|_| logged.pointer.is_none())
            .and_then(|number| {
                self.records.iter().rev().find(|one| {
                    one.sequence >= number
                        && one.passes.iter().any(|pass| pass.id == logged.pass.id)
                })
            });
        let examination = match sealed {
            Some(record) => record.examination.as_ref(),
            None => self.sheet.examination.as_ref(),
        };
        examination.map_or(&[], |one| &one.instruments)
    }
}

/// Judges a sheet against the sealed records of the blade.
///
/// # Errors
/// A sheet, a record or settings that cannot be read.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet = tangmark_author::sheet(request)?;
    let settings = Settings::read(&request.settings)?;
    let records = history::records(request)?;
    let case = Case {
        sheet: &sheet,
        records: &records,
        settings: &settings,
        states: states::of(&records, &sheet),
        logged: passes::logged(&records, &sheet),
    };
    let mut notes = Notes::new(&request.sheet, RULES);
    let loss = mass::judge(&case, &mut notes);
    let pairs = local::judge(&case, &mut notes);
    consistency::judge(&case, loss.as_ref(), &pairs, &mut notes);
    remaining::judge(&case, &pairs, &mut notes);
    detect::judge(&case, &mut notes);
    Ok(notes.into_reply())
}
