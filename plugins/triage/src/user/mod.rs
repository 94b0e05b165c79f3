//! Rules of the workshop's own, from `[[rule]]` tables of the settings.
//!
//! A rule with a fault stops the whole plugin before it judges anything: a rule that is misread must not pass for one
//! that found nothing. Rules that contradict themselves or each other are findings, since the others can still be used.

mod answer;
mod condition;
mod fields;
mod judge;
mod review;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use serde_json::{Map, Value};
use tangmark_author::words::{cut, one_line};
use tangmark_plugin::{Level, Refusal, message::limits};

pub(crate) use judge::judge;

use condition::{Condition, Reader};
use fields::Scope;

use crate::rules;

/// Most rules of the user's own.
const MOST_RULES: usize = 50;
/// Members of a rule.
const MEMBERS: [&str; 6] = ["id", "when", "level", "reason", "settle", "source"];
/// Longest reason, settling look and source, in characters.
const LONGEST: usize = 300;

/// A rule of the user's own.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct OwnRule {
    id: String,
    /// Id under which findings are made: described before any settings are known.
    described: String,
    level: Level,
    when: Condition,
    reason: String,
    settle: Option<String>,
    source: Option<String>,
}

/// Reads the rules.
///
/// # Errors
/// A refusal that names every fault with the rule and the place in it.
pub(crate) fn read(given: &[Value]) -> Result<Vec<OwnRule>, Refusal> {
    let mut faults = Vec::new();
    let mut own: Vec<OwnRule> = Vec::new();
    if given.len() > MOST_RULES {
        faults.push(format!(
            "{} rules; at most {MOST_RULES} are allowed",
            given.len()
        ));
    }
    for (index, value) in given.iter().take(MOST_RULES).enumerate() {
        let Some(rule) = one(index, value, &mut faults) else {
            continue;
        };
        if own.iter().any(|other| other.id == rule.id) {
            faults.push(format!(
                "rule {} `{}`, id: an earlier rule has it; each rule needs one of its own",
                index + 1,
                rule.id
            ));
            continue;
        }
        own.push(rule);
    }
    if faults.is_empty() {
        return Ok(own);
    }
    let text = format!(
        "the workshop's own rules cannot be used: {}. Correct them in the settings of triage",
        faults.join("; ")
    );
    Err(Refusal::new(cut(&one_line(&text), limits::MESSAGE)))
}

fn one(index: usize, value: &Value, faults: &mut Vec<String>) -> Option<OwnRule> {
    let number = index + 1;
    let Some(members) = value.as_object() else {
        faults.push(format!(
            "rule {number} is no table; write it under [[rule]]"
        ));
        return None;
    };
    let before = faults.len();
    let name = members
        .get("id")
        .and_then(Value::as_str)
        .unwrap_or("without id");
    let place = format!("rule {number} `{}`", cut(name, limits::NAME));
    for other in members
        .keys()
        .filter(|key| !MEMBERS.contains(&key.as_str()))
    {
        faults.push(format!(
            "{place}: `{other}` is not known; {} are",
            MEMBERS.join(", ")
        ));
    }
    let id = text(members, "id", true, &place, faults);
    let described = id.as_deref().and_then(|id| described(id, &place, faults));
    let reason = text(members, "reason", true, &place, faults);
    let settle = text(members, "settle", false, &place, faults);
    let source = text(members, "source", false, &place, faults);
    let level = level(members, described.as_deref(), &place, faults);
    let when = if let Some(when) = members.get("when") {
        Reader::new(faults).condition(when, &Scope::sheet(), &format!("{place}, when"), 1)
    } else {
        faults.push(format!("{place}: `when` is needed"));
        None
    };
    if described
        .as_deref()
        .is_some_and(|id| id.starts_with("fatal."))
        && let Some(when) = &when
        && !matches!(when, Condition::Each { list, .. } if list == "/flaws")
    {
        // Two looks lift such a stop, and looks belong to a flaw: on anything else nobody could answer it.
        faults.push(format!(
            "{place}, when: a rule that begins with `fatal.` asks `each = \"/flaws\"`, since looks at a flaw lift it"
        ));
    }
    if faults.len() > before {
        return None;
    }
    Some(OwnRule {
        id: id?,
        described: described?,
        level: level?,
        when: when?,
        reason: reason?,
        settle,
        source,
    })
}

fn text(
    members: &Map<String, Value>,
    name: &str,
    needed: bool,
    place: &str,
    faults: &mut Vec<String>,
) -> Option<String> {
    let Some(value) = members.get(name) else {
        if needed {
            faults.push(format!("{place}: `{name}` is needed"));
        }
        return None;
    };
    let text = value
        .as_str()
        .map(|text| one_line(text).trim().trim_end_matches('.').to_owned());
    if let Some(word) = text.as_deref().and_then(verdict) {
        faults.push(format!(
            "{place}: `{name}` says \"{word}\", which no finding says: say what is seen and what to do"
        ));
        return None;
    }
    match text {
        Some(text) if !text.is_empty() && text.chars().count() <= LONGEST => Some(text),
        _ => {
            faults.push(format!(
                "{place}: `{name}` is a text of 1 to {LONGEST} characters"
            ));
            None
        }
    }
}

/// A word by which a text would give a verdict that this tool does not give.
fn verdict(text: &str) -> Option<&'static str> {
    let lower = text.to_lowercase();
    let words: BTreeSet<&str> = lower
        .split(|letter: char| !letter.is_alphabetic())
        .collect();
    ["authentic", "genuine", "safe", "legal"]
        .into_iter()
        .find(|word| words.contains(word))
}

/// The described id for an id of the user's.
fn described(id: &str, place: &str, faults: &mut Vec<String>) -> Option<String> {
    let plain = id.len() <= limits::NAME
        && id.bytes().all(|byte| {
            byte.is_ascii_lowercase() || byte.is_ascii_digit() || b".-_".contains(&byte)
        });
    let holds = ["fatal.user-", "importance.user-"]
        .iter()
        .any(|start| id.starts_with(start));
    let known = rules::find(id).is_some();
    if holds && known {
        return Some(id.to_owned());
    }
    let what = if holds {
        format!(
            "a rule that holds takes one of the numbers 1 to {}, such as `importance.user-1`, so that each is answered alone",
            rules::SLOTS
        )
    } else if known {
        "is a rule of triage itself and would be shadowed; choose another after `user.`".to_owned()
    } else if id
        .strip_prefix("user.")
        .is_some_and(|rest| !rest.is_empty())
        && plain
    {
        return Some("user.rule".to_owned());
    } else {
        format!(
            "begins with `user.`, or to hold the blade with `fatal.user-` or `importance.user-`; a-z, 0-9, `.`, `-` and `_`, at most {} \
             characters",
            limits::NAME
        )
    };
    faults.push(format!("{place}, id: {what}"));
    None
}

fn level(
    members: &Map<String, Value>,
    described: Option<&str>,
    place: &str,
    faults: &mut Vec<String>,
) -> Option<Level> {
    let holds = described.is_some_and(|id| id != "user.rule");
    let given = members
        .get("level")
        .map(|value| value.as_str().unwrap_or("?"));
    match (given, holds) {
        (Some("stop") | None, true) => Some(Level::Stop),
        (Some("info"), false) => Some(Level::Info),
        (Some("caution"), false) => Some(Level::Caution),
        _ if described.is_none() => None,
        (_, true) => {
            faults.push(format!(
                "{place}, level: its id holds the blade, so that only stop is allowed"
            ));
            None
        }
        (_, false) => {
            faults.push(format!(
                "{place}, level: info or caution is needed; a rule that stops begins with `importance.user-` or `fatal.user-`"
            ));
            None
        }
    }
}
