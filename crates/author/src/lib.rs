//! What plugins written in Rust share, so that each holds nothing but its own rules.
//!
//! - [`Rule`] and [`describe`]: the rules of a plugin as data;
//! - [`Notes`]: collects findings, quantities, curves and tables in the form the program takes;
//! - [`settings`] and [`tables`]: what the user gave the plugin, read with errors that say where;
//! - [`history`] and [`passes`]: the sealed records of the blade, and every pass logged so far;
//! - [`words`]: lists and cut texts for messages;
//! - `trial` (feature): demo sheets and audits for tests.
//!
//! # Examples
//! ```
//! use tangmark_author::{Notes, Rule, describe, rules};
//! use tangmark_plugin::{CheckRequest, Level};
//! use serde_json::json;
//!
//! rules! {
//!     "scale.heavy" "A heavy blade" "common practice, no source";
//! }
//!
//! let sheet = json!({"dimensions": {"mass": {"value": "912"}}});
//! let mut notes = Notes::new(&sheet, RULES);
//! notes.add("scale.heavy", Level::Info, "912 g is much for one hand.", &["/dimensions/mass"], Vec::new());
//! let reply = notes.into_reply();
//! assert_eq!(reply.findings[0].source, "common practice, no source");
//! assert_eq!(reply.audit(&describe("scale", "1.0.0", "Weighs", RULES), &sheet), Ok(()));
//! ```
#![forbid(unsafe_code)]

pub mod history;
mod notes;
pub mod passes;
mod rule;
pub mod settings;
pub mod tables;
#[cfg(feature = "trial")]
pub mod trial;
pub mod words;

pub use history::sheet;
pub use notes::{Notes, column, number, numbers, point, text_column};
pub use rule::{Rule, describe};
