//! The messages of plugin ABI 1 and the audit of what a plugin answered.
//!
//! The program is strict with a plugin: an unknown member is refused. A plugin is lenient with the
//! program: it ignores members and features it does not know, so that both can grow without a new
//! ABI number. Each side names one invented feature, so that nobody forgets to ignore them.

mod artefact;
mod audit;
mod description;
pub mod limits;
mod reply;
mod request;
mod text;

pub use artefact::{Artefact, Axis, Column, Point, Series, Table};
pub use audit::Lie;
pub use description::{DescribeRequest, Description, RuleDescription};
pub use reply::{CheckReply, FindingDraft, Level, NumberDraft, QuantityDraft, Refusal};
pub use request::CheckRequest;
pub use text::is_plugin_name;
