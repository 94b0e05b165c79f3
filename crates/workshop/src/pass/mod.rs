//! The work: passes, the stones they are made with, their timer, and the hold before each.
//!
//! Main path: [`PassWords::block`] → [`Workshop::add_passes`](crate::Workshop::add_passes) → the hold (`guard`) → what is
//! asked about (`question`) → one write (`log`) → where the blade stands ([`Outlook`]).

mod away;
pub mod entered;
mod error;
pub(crate) mod guard;
mod list;
mod log;
mod outlook;
mod prepare;
mod question;
mod refused;
mod stage;
mod stones;
mod stones_add;
mod timer;
mod watched;
mod wear;

pub use entered::{EtchWords, PassWords, read_blocks};
pub use error::PassError;
pub use list::{PassLine, PassList, PassUndone};
pub use log::{PassDone, PassOrder};
pub use outlook::{Outlook, SteelLimit};
pub use question::Questioned;
pub use refused::RefusedLine;
pub use stones::{Stone, StoneTable};
pub use stones_add::StoneAdded;
pub use timer::{Stretch, TimerLine};
pub(crate) use watched::Watched;
pub use watched::{StopGone, UnderHold};
pub use wear::{StoneLine, Wear};

/// Usual caution for natural stones. Common practice, no source.
pub(crate) const SILICA: &str = "the mud of natural stones can hold crystalline silica: work wet, wipe mud up before it dries to dust, never sand dry; \
     your local code decides what is enough";

/// Usual caution for an etch. Common practice, no source.
pub(crate) const ACID: &str = "acids burn and their fumes harm: goggles, gloves and moving air, acid into water and never the other way, keep it off the tang, \
     then neutralise, rinse, dry and oil at once; your local code decides what is enough and where it goes";
