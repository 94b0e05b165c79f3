//! The rules of a plugin as data.

use tangmark_plugin::Description;

/// A rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    /// Identifier; by custom it begins with the name of the plugin. Beginnings that mean something to the program:
    /// `fatal.`, `importance.` and `budget.` (a stop holds the blade), `price.` (never public).
    pub id: &'static str,
    /// One line for people.
    pub title: &'static str,
    /// Where it comes from, at most 400 characters: a publication and place in it, "common practice, no source", "from
    /// memory", or "this tool's own rule".
    pub source: &'static str,
}

/// Writes the table `RULES`: id, title, source, one rule a line.
#[macro_export]
macro_rules! rules {
    ($($id:literal $title:literal $source:expr;)+) => {
        /// Every rule.
        pub(crate) const RULES: &[$crate::Rule] =
            &[$($crate::Rule { id: $id, title: $title, source: $source }),+];
    };
}

/// Makes the description of a plugin from its rules.
pub fn describe(name: &str, version: &str, title: &str, rules: &[Rule]) -> Description {
    rules
        .iter()
        .fold(Description::new(name, version, title), |start, rule| {
            start.with_rule(rule.id, rule.title, rule.source)
        })
}
