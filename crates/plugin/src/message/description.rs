//! What a plugin says it is.

use serde::{Deserialize, Serialize};

use crate::ABI;

/// What the program tells a plugin when it asks for its description.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DescribeRequest {
    /// ABI number the program speaks.
    pub abi: u32,
    /// Features the program knows; a plugin ignores those it does not know.
    pub features: Vec<String>,
}

/// What a plugin says it is: the answer to `describe`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Description {
    /// ABI number the plugin speaks; equals the number in its function names.
    pub abi: u32,
    /// The plugin's name: the part of its file name between `libtangmark_` and `.so`.
    pub name: String,
    /// The plugin's own version, free text.
    pub version: String,
    /// One line for people.
    pub title: String,
    /// Every rule a finding of this plugin may name.
    pub rules: Vec<RuleDescription>,
    /// Features the plugin knows; the program ignores those it does not know.
    pub features: Vec<String>,
}

/// One rule a plugin judges by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RuleDescription {
    /// Identifier, unique in the plugin; by custom it starts with the plugin's name and a dot.
    pub id: String,
    /// One line for people.
    pub title: String,
    /// Where the rule comes from: a publication and place in it, or "workshop practice".
    pub source: String,
}

impl Description {
    /// Starts a description without rules, for the ABI number of this crate.
    pub fn new(name: &str, version: &str, title: &str) -> Self {
        Self {
            abi: ABI,
            name: name.to_owned(),
            version: version.to_owned(),
            title: title.to_owned(),
            rules: Vec::new(),
            features: Vec::new(),
        }
    }

    /// Adds a rule.
    #[must_use]
    pub fn with_rule(mut self, id: &str, title: &str, source: &str) -> Self {
        self.rules.push(RuleDescription {
            id: id.to_owned(),
            title: title.to_owned(),
            source: source.to_owned(),
        });
        self
    }

    /// Finds a rule by its identifier.
    pub fn rule(&self, id: &str) -> Option<&RuleDescription> {
        self.rules.iter().find(|rule| rule.id == id)
    }
}
