//! Runs plugins, each in a sandboxed process of its own, and judges what they answer.
//!
//! A plugin is a stranger's library. This process never opens one: [`Host`] starts the *runner*
//! (our own binary under a hidden subcommand, which calls [`runner_main`]), hands it the very
//! bytes whose digest was approved, and reads one answer. The runner puts up its barriers before
//! it opens the library, since constructors run then. Whatever a plugin does, the caller gets a
//! [`PluginOutcome`] for it and everything else goes on.
//!
//! Linux only: the barriers are Linux's. What the kernel lacks is told by [`BarrierReport`].
//!
//! Order of a call: [`Host::check`] → `library::read` → `process::converse` ↔ [`runner_main`] →
//! `barriers::raise` → `tangmark_plugin::Loaded` → back in the host: strict reading and audit.
#![forbid(unsafe_code)]

mod approvals;
mod attempt;
mod barriers;
mod frame;
mod host;
mod job;
mod library;
mod limits;
mod outcome;
mod process;
mod question;
mod runner;
mod usage;
mod visit;

pub use approvals::Approvals;
pub use attempt::Attempt;
pub use barriers::{Barrier, BarrierReport, BarrierState};
pub use host::{Described, Given, Host};
pub use library::{Library, discover};
pub use limits::Limits;
pub use outcome::{Failed, FaultKind, PluginOutcome, Replied};
pub use runner::{RUNNER_COMMAND, runner_main};
pub use usage::Used;

#[cfg(feature = "barriers-off-for-tests")]
#[doc(hidden)]
pub use runner::runner_main_with_barriers_down_for_tests;
