//! Looks at the user's own rules before they are used: what contradicts itself, and what contradicts each other.

use std::collections::{BTreeMap, BTreeSet};

use super::condition::{Condition, Test};

/// Most branches of a condition that are looked at; beyond it nothing is said.
const BRANCHES: usize = 128;

/// One question of a branch, and whether its answer is to be yes.
#[derive(Clone, Debug)]
enum Literal<'c> {
    Field(&'c str, &'c Test, bool),
    /// Entries of a list of which the inner condition must hold.
    Each(&'c Condition),
}

/// Says why a condition can never hold; `None` when it can, or when it has too many branches to tell.
pub(crate) fn never(condition: &Condition) -> Option<String> {
    let branches = branches(condition, true)?;
    let mut why = None;
    for branch in &branches {
        match contradiction(branch) {
            None => return None,
            Some(reason) => why = why.or(Some(reason)),
        }
    }
    why
}

/// Writes a condition so that two that ask the same in another order read the same.
pub(crate) fn canonical(condition: &Condition) -> String {
    let several = |name: &str, parts: &[Condition]| {
        let parts: BTreeSet<String> = parts.iter().map(canonical).collect();
        // A single part needs no word around it.
        if parts.len() == 1 {
            return parts.into_iter().collect();
        }
        format!(
            "{name}({})",
            parts.into_iter().collect::<Vec<_>>().join(" ")
        )
    };
    match condition {
        Condition::All(parts) => several("all", parts),
        Condition::Any(parts) => several("any", parts),
        Condition::Not(part) => match part.as_ref() {
            Condition::Not(inner) => canonical(inner),
            other => format!("not({})", canonical(other)),
        },
        Condition::Each {
            list,
            at_least,
            when,
        } => {
            format!("each({list} {at_least} {})", canonical(when))
        }
        Condition::Field { field, test } => match test {
            Test::Above(limit) => format!("({field} > {} {})", limit.value, limit.unit.code()),
            Test::Below(limit) => format!("({field} < {} {})", limit.value, limit.unit.code()),
            Test::Before(date) => format!("({field} before {})", date.as_str()),
            Test::After(date) => format!("({field} after {})", date.as_str()),
            Test::Is { values, .. } => {
                let values: BTreeSet<&String> = values.iter().collect();
                format!("({field} is {values:?})")
            }
            Test::Has(term) => format!("({field} has {term})"),
            Test::Missing(missing) => format!("({field} missing {missing})"),
        },
    }
}

/// Splits a condition into branches, each a list of questions that must all be answered as said.
fn branches(condition: &Condition, wanted: bool) -> Option<Vec<Vec<Literal<'_>>>> {
    match (condition, wanted) {
        (Condition::All(parts), true) | (Condition::Any(parts), false) => {
            let mut product: Vec<Vec<Literal<'_>>> = vec![Vec::new()];
            for part in parts {
                let next = branches(part, wanted)?;
                if product.len().saturating_mul(next.len()) > BRANCHES {
                    return None;
                }
                product = product
                    .iter()
                    .flat_map(|left| {
                        next.iter()
                            .map(move |right| left.iter().chain(right).cloned().collect())
                    })
                    .collect();
            }
            Some(product)
        }
        (Condition::Any(parts), true) | (Condition::All(parts), false) => {
            let mut sum = Vec::new();
            for part in parts {
                sum.extend(branches(part, wanted)?);
                if sum.len() > BRANCHES {
                    return None;
                }
            }
            Some(sum)
        }
        (Condition::Not(part), _) => branches(part, !wanted),
        (Condition::Each { when, .. }, true) => Some(vec![vec![Literal::Each(when)]]),
        // That a list has no such entry can always be.
        (Condition::Each { .. }, false) => Some(vec![Vec::new()]),
        (Condition::Field { field, test }, _) => {
            Some(vec![vec![Literal::Field(field, test, wanted)]])
        }
    }
}

/// What a branch has said of one field so far.
#[derive(Debug, Default)]
struct Said<'c> {
    /// Lower bound, as written; whether the bound itself is out.
    low: Option<(f64, bool, String)>,
    high: Option<(f64, bool, String)>,
    values: Option<BTreeSet<&'c str>>,
    has: BTreeSet<&'c str>,
    lacks: BTreeSet<&'c str>,
    after: Option<String>,
    before: Option<String>,
    missing: bool,
    present: bool,
    whole: bool,
}

fn contradiction(branch: &[Literal<'_>]) -> Option<String> {
    let mut fields: BTreeMap<&str, Said<'_>> = BTreeMap::new();
    for literal in branch {
        match literal {
            Literal::Each(inner) => {
                if let Some(why) = never(inner) {
                    return Some(why);
                }
            }
            Literal::Field(field, test, wanted) => {
                fields.entry(field).or_default().hear(test, *wanted);
            }
        }
    }
    let gone: Vec<&str> = fields
        .iter()
        .filter(|(_, said)| said.missing)
        .map(|(field, _)| *field)
        .collect();
    for (field, said) in &fields {
        let below = |one: &&str| {
            field
                .strip_prefix(*one)
                .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        };
        if said.present
            && let Some(gone) = gone.iter().find(|one| below(one))
        {
            return Some(format!(
                "`{gone}` is to be missing, and something is asked of `{field}`"
            ));
        }
        if let Some(why) = said.impossible(field) {
            return Some(why);
        }
    }
    None
}

impl<'c> Said<'c> {
    fn hear(&mut self, test: &'c Test, wanted: bool) {
        if !matches!(test, Test::Missing(_)) {
            // Every other question needs the field to be there before it is answered either way.
            self.present = true;
        }
        match (test, wanted) {
            (Test::Missing(missing), _) => {
                if *missing == wanted {
                    self.missing = true;
                } else {
                    self.present = true;
                }
            }
            (Test::Above(limit), true) => {
                self.raise(limit.value, true, format!("above {}", limit.text));
            }
            (Test::Below(limit), false) => {
                self.raise(limit.value, false, format!("not below {}", limit.text));
            }
            (Test::Below(limit), true) => {
                self.lower(limit.value, true, format!("below {}", limit.text));
            }
            (Test::Above(limit), false) => {
                self.lower(limit.value, false, format!("not above {}", limit.text));
            }
            (Test::Is { values, .. }, true) => {
                let values: BTreeSet<&str> = values.iter().map(String::as_str).collect();
                self.values = Some(match self.values.take() {
                    Some(old) => old.intersection(&values).copied().collect(),
                    None => values,
                });
            }
            (Test::Is { values, all }, false) if !all.is_empty() => {
                let old = self
                    .values
                    .take()
                    .unwrap_or_else(|| all.iter().map(String::as_str).collect());
                self.values = Some(
                    old.into_iter()
                        .filter(|one| !values.iter().any(|value| value == one))
                        .collect(),
                );
            }
            (Test::Is { values, .. }, false) => {
                if let Some(old) = &mut self.values {
                    old.retain(|one| !values.iter().any(|value| value == one));
                }
            }
            (Test::Has(term), true) => {
                self.has.insert(term);
            }
            (Test::Has(term), false) => {
                self.lacks.insert(term);
            }
            (Test::After(date), true) => {
                let day = date.last_day();
                self.after = self.after.take().max(Some(day));
            }
            (Test::Before(date), true) => {
                let day = date.first_day();
                self.before = match self.before.take() {
                    Some(old) => Some(old.min(day)),
                    None => Some(day),
                };
            }
            // What is not wholly before or after a date may still lie anywhere around it.
            (Test::After(_) | Test::Before(_), false) => {}
        }
        if let Test::Above(limit) | Test::Below(limit) = test {
            self.whole = limit.unit == tangmark_core::units::Unit::One;
        }
    }

    fn raise(&mut self, value: f64, open: bool, text: String) {
        let tighter = self
            .low
            .as_ref()
            .is_none_or(|old| (value, open) > (old.0, old.1));
        if tighter {
            self.low = Some((value, open, text));
        }
    }

    fn lower(&mut self, value: f64, open: bool, text: String) {
        let tighter = self
            .high
            .as_ref()
            .is_none_or(|old| value < old.0 || (value <= old.0 && open && !old.1));
        if tighter {
            self.high = Some((value, open, text));
        }
    }

    fn impossible(&self, field: &str) -> Option<String> {
        if let (Some(low), Some(high)) = (&self.low, &self.high) {
            // Between 4 and 5, both left out, lies no whole number.
            let step = if self.whole { 1.0 } else { 0.0 };
            let least = if low.1 { low.0 + step } else { low.0 };
            let most = if high.1 { high.0 - step } else { high.0 };
            let touch = !self.whole && (low.1 || high.1);
            if least > most || (touch && least >= most) {
                return Some(format!("`{field}` cannot be {} and {}", low.2, high.2));
            }
        }
        if self.whole
            && let Some(high) = &self.high
            && (high.0 < 0.0 || (high.1 && high.0 <= 0.0))
        {
            return Some(format!("`{field}` is a count and cannot be {}", high.2));
        }
        if self.values.as_ref().is_some_and(BTreeSet::is_empty) {
            return Some(format!("no value of `{field}` is left"));
        }
        if let Some(term) = self.has.intersection(&self.lacks).next() {
            return Some(format!("`{field}` is to have {term} and not to have it"));
        }
        match (&self.after, &self.before) {
            (Some(after), Some(before)) if after >= before => Some(format!(
                "`{field}` cannot be after {after} and before {before}"
            )),
            _ => None,
        }
    }
}
