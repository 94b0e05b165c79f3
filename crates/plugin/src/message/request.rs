//! What a plugin is asked to judge.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::ABI;

/// Everything a plugin learns. It has no clock, no randomness, no files and no network, so that
/// the same request gives the same reply.
///
/// Unknown members are ignored when reading, see [`super`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CheckRequest {
    /// ABI number the program speaks. Set by the host.
    pub abi: u32,
    /// Features the program knows. Set by the host.
    pub features: Vec<String>,
    /// The moment of the check, RFC 3339 in UTC.
    pub now: String,
    /// Source of any pseudo-random choice: 32 lower-case hexadecimal digits.
    pub seed: String,
    /// The draft, in the shape of a record (see the record schema); sections may be missing.
    pub sheet: Value,
    /// The sealed records of this blade, oldest first.
    pub history: Vec<Value>,
    /// This plugin's settings; an object, empty when the user set none.
    pub settings: Value,
    /// The user's tables (prices, comparables, …) by name; an object.
    pub tables: Value,
}

impl CheckRequest {
    /// Asks for a judgement of `sheet` without history, settings and tables.
    pub fn new(now: &str, seed: &str, sheet: Value) -> Self {
        Self {
            abi: ABI,
            features: Vec::new(),
            now: now.to_owned(),
            seed: seed.to_owned(),
            sheet,
            history: Vec::new(),
            settings: Value::Object(Map::new()),
            tables: Value::Object(Map::new()),
        }
    }
}
