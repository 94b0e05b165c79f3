//! How much one plugin may say. Lengths of texts are in Unicode scalar values.
//!
//! Source: own choice. A report page holds about 60 lines, a curve on paper shows no more than a
//! few thousand points; the limits leave room above that and keep a record readable.

/// Longest name of a plugin, rule, quantity or artefact.
pub const NAME: usize = 64;
/// Longest title, or name of a number, axis or column.
pub const TITLE: usize = 120;
/// Longest message of a finding.
pub const MESSAGE: usize = 2_000;
/// Longest source of a rule, finding or quantity.
pub const SOURCE: usize = 500;
/// Longest decimal number, in characters.
pub const DECIMAL: usize = 40;
/// Longest UCUM code, in characters.
pub const UNIT: usize = 32;
/// Longest evidence path, in characters.
pub const POINTER: usize = 500;
/// Longest text in a cell of a table.
pub const CELL: usize = 200;
/// Most rules in a description.
pub const RULES: usize = 200;
/// Most features named by one side.
pub const FEATURES: usize = 50;
/// Most findings in a reply.
pub const FINDINGS: usize = 200;
/// Most evidence paths of a finding.
pub const EVIDENCE: usize = 50;
/// Most numbers of a finding.
pub const NUMBERS: usize = 50;
/// Most quantities in a reply.
pub const QUANTITIES: usize = 500;
/// Most artefacts in a reply.
pub const ARTEFACTS: usize = 20;
/// Most points of a series.
pub const POINTS: usize = 5_000;
/// Most columns of a table.
pub const COLUMNS: usize = 20;
/// Most rows of a table.
pub const ROWS: usize = 1_000;
