//! How much one plugin may say. Lengths of texts are in Unicode scalar values.
//!
//! Source: own choice. None is above what a record holds (`schemas/tangmark-record-1.schema.json`),
//! so that what passes here can be sealed.

/// Longest name of a plugin, and its longest version.
pub const PLUGIN: usize = 40;
/// Longest name of a rule, quantity, artefact or feature.
pub const NAME: usize = 64;
/// Longest title.
pub const TITLE: usize = 120;
/// Longest name of a number or column.
pub const LABEL: usize = 100;
/// Longest name of an axis: its uncertainty stands in a column of its own, with a longer name.
pub const AXIS: usize = 75;
/// Longest message of a finding.
pub const MESSAGE: usize = 2_000;
/// Longest source of a rule, finding or quantity.
pub const SOURCE: usize = 400;
/// Most digits of a decimal number before the full stop.
pub const WHOLE_DIGITS: usize = 12;
/// Most digits of a decimal number after the full stop.
pub const FRACTION_DIGITS: usize = 9;
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
pub const QUANTITIES: usize = 200;
/// Most artefacts in a reply.
pub const ARTEFACTS: usize = 20;
/// Most points of a series.
pub const POINTS: usize = 2_000;
/// Most columns of a table.
pub const COLUMNS: usize = 20;
/// Most rows of a table.
pub const ROWS: usize = 1_000;
