//! Every rule as data: what it looks for, how heavy it is, where it comes from, why, and what settles it.
//!
//! The part of an id before the first full stop tells who may lift a stop.

pub(crate) mod flaws;
mod others;

use std::borrow::Cow;
use std::sync::LazyLock;

use tangmark_core::record::Term as _;

use flaws::{FLAWS, FlawRule, Weight};

/// A rule of this plugin.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Rule {
    /// Identifier, for example `fatal.hagire`.
    pub(crate) id: String,
    /// One line for people.
    pub(crate) title: String,
    /// Levels that it may have.
    pub(crate) level: &'static str,
    /// Condition in words; the module named in `lib` evaluates it.
    pub(crate) when: Cow<'static, str>,
    /// Why it matters, in plain words.
    pub(crate) reason: Cow<'static, str>,
    /// What would settle it.
    pub(crate) settle: Cow<'static, str>,
    /// Convention and where it comes from, at most 400 characters.
    pub(crate) source: &'static str,
}

pub(crate) const OWN: &str = "this tool's own rule";

/// Slots for the user's own rules that hold a blade.
///
/// Overrides and replies answer a rule by its id, and a plugin describes its ids before it sees settings. Under one
/// common id an override of one of the user's rules would lift every other one; with slots each is answered alone.
pub(crate) const SLOTS: u8 = 9;

static RULES: LazyLock<Vec<Rule>> = LazyLock::new(|| {
    let fatal = FLAWS
        .iter()
        .filter(|rule| rule.weight.may_be_fatal())
        .map(|rule| flaw("fatal", rule));
    let flaws = FLAWS.iter().map(|rule| flaw("flaw", rule));
    let slots = (1..=SLOTS).flat_map(|number| [slot("fatal", number), slot("importance", number)]);
    fatal
        .chain(flaws)
        .chain(others::OTHERS.iter().map(others::Row::rule))
        .chain(slots)
        .collect()
});

static FOR_NOTES: LazyLock<Vec<tangmark_author::Rule>> = LazyLock::new(|| {
    let short = |rule: &'static Rule| tangmark_author::Rule {
        id: &rule.id,
        title: &rule.title,
        source: rule.source,
    };
    RULES.iter().map(short).collect()
});

/// Every rule, in the order of the description.
pub(crate) fn all() -> &'static [Rule] {
    &RULES
}

/// The same, as the notes and the description take them.
pub(crate) fn for_notes() -> &'static [tangmark_author::Rule] {
    &FOR_NOTES
}

/// Finds a rule by its id.
pub(crate) fn find(id: &str) -> Option<&'static Rule> {
    all().iter().find(|rule| rule.id == id)
}

fn slot(family: &str, number: u8) -> Rule {
    let (when, settle) = match family {
        "fatal" => (
            "the condition that the settings give this rule, on a flaw that is not ruled out",
            "two independent looks that do not find the flaw",
        ),
        _ => (
            "the condition that the settings give this rule",
            "a specialist's reply, or an override with name and reason",
        ),
    };
    Rule {
        id: format!("{family}.user-{number}"),
        title: format!("The workshop's own {family} rule {number}"),
        level: "stop",
        when: when.into(),
        reason: "given with the rule".into(),
        settle: settle.into(),
        source: others::USER,
    }
}

fn flaw(family: &str, rule: &FlawRule) -> Rule {
    let key = rule.kind.key();
    let (level, when) = match (family, rule.weight) {
        ("fatal", Weight::Fatal) => ("stop", format!("a flaw `{key}`, not ruled out")),
        ("fatal", Weight::FatalPastTemper) => (
            "stop",
            format!(
                "a flaw `{key}`, not ruled out, through the temper line: by the sheet's word, or deeper than the line is wide there; \
                 undecided counts as through"
            ),
        ),
        ("fatal", Weight::FatalUnlessWithin) => (
            "stop",
            format!(
                "a flaw `{key}`, not ruled out, unless the sheet says that it does not go through the temper line"
            ),
        ),
        ("fatal", _) => (
            "stop",
            format!(
                "a flaw `{key}`, not ruled out, that the sheet says goes through the temper line"
            ),
        ),
        (_, Weight::Tolerable | Weight::Keep) => ("info", format!("a flaw `{key}`, not ruled out")),
        (_, Weight::SeriousInEdge) => (
            "caution or info",
            format!("a flaw `{key}`, not ruled out; a caution in the edge"),
        ),
        (_, weight) if weight.may_be_fatal() => (
            "caution or info",
            format!("a flaw `{key}`, not ruled out, that is not fatal here"),
        ),
        _ => ("caution", format!("a flaw `{key}`, not ruled out")),
    };
    let reason = match (family, rule.weight) {
        ("fatal", _) => "the lists used in the trade end the work here: no polish brings it back",
        (_, Weight::Keep) => "a trace of the blade's life: it is neither corrected nor taken out",
        (_, Weight::Tolerable) => "common; worth knowing before steel is spent on it",
        _ => "it may grow, open or hide something worse as steel goes",
    };
    Rule {
        id: format!("{family}.{key}"),
        title: rule.kind.shown(),
        level,
        when: when.into(),
        reason: reason.into(),
        settle: rule.advice.into(),
        source: rule.source(),
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use std::collections::BTreeSet;
    use std::fmt::Write as _;

    /// Writes every rule as a page of Markdown.
    fn page() -> String {
        let mut page = "# Rules of triage\n\nWritten from the table in `src/rules/`; `BLESS=1` writes it anew.\n\n\
            | rule | level | when | why | what settles it | source |\n|---|---|---|---|---|---|\n"
            .to_owned();
        for rule in all() {
            // Writing to a text cannot fail.
            let _ = writeln!(
                page,
                "| `{}` {} | {} | {} | {} | {} | {} |",
                rule.id, rule.title, rule.level, rule.when, rule.reason, rule.settle, rule.source
            );
        }
        page.push_str("\n## Flaws by use\n\nWhere conventions differ by what a blade is for (`use_case`). Without it the strictest holds.\n\n\
            | flaw | use | held as | convention | source |\n|---|---|---|---|---|\n");
        for view in flaws::VIEWS {
            let _ = writeln!(
                page,
                "| `{}` | {} | {} | {} | {} |",
                view.kind.key(),
                view.use_case.words(),
                view.weight.words(),
                view.words,
                view.source
            );
        }
        page
    }

    #[test]
    fn rules_are_unique_and_described_in_bounds() {
        let ids: BTreeSet<&str> = all().iter().map(|rule| rule.id.as_str()).collect();
        assert_eq!(ids.len(), all().len());
        assert_eq!(crate::describe().audit("triage"), Ok(()));
        for rule in all() {
            assert!(
                rule.source.chars().count() <= 400,
                "the record holds 400 characters: {}",
                rule.id
            );
            for text in [&rule.when, &rule.reason, &rule.settle] {
                assert!(
                    !text.is_empty() && !text.ends_with('.'),
                    "{}: {text}",
                    rule.id
                );
            }
            let holds = ["fatal.", "importance.", "budget."]
                .iter()
                .any(|family| rule.id.starts_with(family));
            assert!(holds || !rule.level.contains("stop"), "{}", rule.id);
        }
    }

    #[test]
    fn no_rule_speaks_a_verdict_the_tool_does_not_give() {
        for rule in all() {
            let text = format!("{} {} {}", rule.title, rule.reason, rule.settle);
            for word in ["authentic", "genuine", "safe", "legal"] {
                assert!(
                    !text
                        .to_lowercase()
                        .split(|letter: char| !letter.is_alphabetic())
                        .any(|one| one == word),
                    "{}",
                    rule.id
                );
            }
        }
    }

    #[test]
    fn the_page_is_the_table() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/RULES.md");
        if std::env::var_os("BLESS").is_some() {
            std::fs::write(path, page()).unwrap();
        }
        assert!(
            std::fs::read_to_string(path).unwrap() == page(),
            "RULES.md is not what the rules say: BLESS=1 writes it anew"
        );
    }
}
