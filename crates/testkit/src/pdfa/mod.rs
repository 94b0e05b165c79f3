//! Checks of a report against the rules of PDF/A-3a, PDF/UA-1 and its own, over lopdf.
//!
//! What a report must keep is written down rule by rule: `RULES`. Each rule has a number, the clause it comes from, and
//! a fixture in the tests that breaks this rule and no other. Clauses marked "from memory" were not looked up; the others
//! are those that a validator named for files that broke them.

mod colour;
mod content;
mod document;
mod facts;
mod file;
mod files;
mod fonts;
mod forms;
mod metadata;
mod objects;
mod signature;
mod structure;
mod tables;
mod tree;
mod typefaces;

#[cfg(test)]
mod tests;

use std::fmt;

pub use facts::Facts;

/// What a rule found: where and what, one line each.
pub type Told = Vec<String>;

/// One rule.
#[derive(Clone, Copy)]
pub struct Rule {
    /// Number of the rule, for tests and messages: a letter for what it looks at, then a number.
    pub id: &'static str,
    /// Where it comes from.
    pub clause: &'static str,
    /// What must hold.
    pub says: &'static str,
    /// Looks for what breaks it.
    check: fn(&Facts<'_>, &mut Told),
}

/// A rule that does not hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Number of the rule.
    pub rule: &'static str,
    /// Where it comes from.
    pub clause: &'static str,
    /// What must hold.
    pub says: &'static str,
    /// Where and how it is broken.
    pub what: String,
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} ({}): {}: {}",
            self.rule, self.clause, self.says, self.what
        )
    }
}

/// All rules, in the order in which they are looked at.
pub fn rules() -> impl Iterator<Item = &'static Rule> {
    [
        file::RULES,
        objects::RULES,
        document::RULES,
        metadata::RULES,
        files::RULES,
        colour::RULES,
        content::RULES,
        fonts::RULES,
        forms::RULES,
        signature::RULES,
        structure::RULES,
        tables::RULES,
    ]
    .into_iter()
    .flatten()
}

/// Most lines that one rule tells of one file; more help nobody.
const MOST_TOLD: usize = 5;

/// Checks a file against all rules; nothing is told of a file that keeps them.
pub fn check(bytes: &[u8]) -> Vec<Finding> {
    Facts::run(bytes, looked_at)
}

fn looked_at(facts: &Facts<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    // Of a file that cannot be read, or not without a key, nothing else can be said.
    let closed = facts.unreadable.is_some() || facts.pages.is_empty();
    for rule in rules().take(if closed { 2 } else { usize::MAX }) {
        let mut told = Told::new();
        (rule.check)(facts, &mut told);
        let more = told.len().saturating_sub(MOST_TOLD);
        told.truncate(MOST_TOLD);
        if more > 0 {
            told.push(format!("and {more} more"));
        }
        findings.extend(told.into_iter().map(|what| Finding {
            rule: rule.id,
            clause: rule.clause,
            says: rule.says,
            what,
        }));
    }
    findings
}
