//! What a plugin and the program say to each other, and the C border they say it over.
//!
//! - [`message`]: the messages, and the audit of what a plugin answered;
//! - [`wire`]: the messages as canonical JSON bytes;
//! - [`export!`]: makes the three C functions from two Rust functions;
//! - [`loader`]: opens a library; used by the runner process of `tangmark-host` alone.
//!
//! The border is specified for authors in any language in `schemas/plugin-abi.md`. This is the only
//! crate with `unsafe`; a plugin that uses [`export!`] keeps `#![forbid(unsafe_code)]`.
//!
//! # Examples
//! ```
//! use tangmark_plugin::{CheckReply, CheckRequest, Description, Refusal};
//!
//! fn describe() -> Description {
//!     Description::new("example", "1.0.0", "Says nothing")
//!         .with_rule("example.nothing", "Nothing to say", "workshop practice")
//! }
//!
//! fn check(_request: &CheckRequest) -> Result<CheckReply, Refusal> {
//!     Ok(CheckReply::default())
//! }
//!
//! tangmark_plugin::export!(describe, check);
//! # fn main() {}
//! ```
#![deny(unsafe_op_in_unsafe_fn)]

pub mod border;
pub mod evidence;
mod export;
pub mod loader;
pub mod message;
#[cfg(feature = "stress")]
pub mod stress;
pub mod wire;

pub use loader::Loaded;
pub use message::{
    Artefact, Axis, CheckReply, CheckRequest, Column, DescribeRequest, Description, FindingDraft,
    Level, Lie, NumberDraft, Point, QuantityDraft, Refusal, RuleDescription, Series, Table,
};

/// The number of the plugin ABI spoken here.
///
/// Raised only when a plugin built for the old number could no longer work; independent of the
/// release number and of the record schema. It is part of the names of the three C functions.
pub const ABI: u32 = 1;
