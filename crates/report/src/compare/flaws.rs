//! What became of each flaw, and by which rule the program says so.
//!
//! A flaw keeps its key from record to record; nothing else pairs two flaws. Whether a new one was there before is no
//! measurement: it is read from what was looked at then, how, and what covered the place, and each reading names its rule.

mod rules;

use tangmark_core::record::{Area, Flaw, Length, Pass, Quantity, Record, Standing};
use tangmark_measure::{Against, Estimate};

use super::{
    change::change,
    quantities::{stated, told},
};
use crate::speech::{Pair, pair};

/// What became of a flaw.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Fate {
    /// In the first state and, looked for again, no longer there.
    Gone,
    /// Suspected the first time, looked for again and not found.
    RuledOut,
    /// In the first state; nothing tells whether it is still there.
    NotLookedAt,
    /// Smaller by more than the measurement can tell.
    Smaller,
    /// Still there; no size differs by more than the measurement can tell, or none was measured both times.
    Same,
    /// Smaller in one measure and larger in another.
    Changed,
    /// Larger by more than the measurement can tell.
    Larger,
    /// New in the record; it was hidden, or not looked for, before.
    NewlyVisible,
    /// New in the record; it came about since.
    NewlyMade,
    /// New in the record; nothing tells since when.
    New,
}

impl Fate {
    /// Every fate, in the order in which they are counted.
    pub(crate) const ALL: [Self; 10] = [
        Self::Gone,
        Self::RuledOut,
        Self::Smaller,
        Self::Same,
        Self::Changed,
        Self::Larger,
        Self::NewlyVisible,
        Self::NewlyMade,
        Self::New,
        Self::NotLookedAt,
    ];

    /// Returns its key, for programs.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Gone => "gone",
            Self::RuledOut => "ruled_out",
            Self::NotLookedAt => "not_looked_at",
            Self::Smaller => "smaller",
            Self::Same => "same",
            Self::Changed => "changed",
            Self::Larger => "larger",
            Self::NewlyVisible => "newly_visible",
            Self::NewlyMade => "newly_made",
            Self::New => "new",
        }
    }

    /// Returns it in words.
    pub(crate) fn said(self) -> Pair {
        match self {
            Self::Gone => pair("gone", "消失"),
            Self::RuledOut => pair("ruled out", "再調査で認められず"),
            Self::NotLookedAt => pair("not looked at again", "再調査せず"),
            Self::Smaller => pair("smaller", "縮小"),
            Self::Same => pair("the same", "変化なし"),
            Self::Changed => pair("changed", "変化"),
            Self::Larger => pair("larger", "拡大"),
            Self::NewlyVisible => pair("newly visible", "新たに見えた"),
            Self::NewlyMade => pair("newly made", "新たに生じた"),
            Self::New => pair("new", "新たに記録"),
        }
    }
}

/// A size of a flaw in both states.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SizeChange {
    pub(crate) field: &'static str,
    pub(crate) name: Pair,
    pub(crate) difference: Estimate,
    /// The difference in words: with sign, unit and expanded uncertainty.
    pub(crate) stated: String,
}

impl SizeChange {
    /// Where the second size lies against the first.
    pub(crate) fn against(&self) -> Against {
        told(self.difference)
    }
}

/// A flaw of either state with what became of it.
pub(crate) struct FlawChange<'a> {
    pub(crate) before: Option<&'a Flaw>,
    pub(crate) after: Option<&'a Flaw>,
    pub(crate) fate: Fate,
    /// Key of the rule by which the program says so, for programs.
    pub(crate) rule: &'static str,
    /// The rule, as it applies here.
    pub(crate) why: Pair,
    pub(crate) sizes: Vec<SizeChange>,
}

impl<'a> FlawChange<'a> {
    /// The flaw as the later state has it, else as the earlier one.
    pub(crate) fn flaw(&self) -> Option<&'a Flaw> {
        self.after.or(self.before)
    }
}

/// A fate with the rule that led to it.
type Judged = (Fate, &'static str, Pair);

/// The two states with the passes between them.
struct Case<'a> {
    before: &'a Record,
    after: &'a Record,
    passes: &'a [&'a Pass],
}

/// Judges every flaw of either state: those of the first in its order, then the new ones.
pub(crate) fn changes<'a>(
    before: &'a Record,
    after: &'a Record,
    passes: &[&Pass],
) -> Vec<FlawChange<'a>> {
    let case = Case {
        before,
        after,
        passes,
    };
    let found = |flaws: &'a [Flaw], id| flaws.iter().find(|other| other.id == id);
    let known = before
        .flaws
        .iter()
        .map(|flaw| (Some(flaw), found(&after.flaws, flaw.id.clone())));
    let new = after
        .flaws
        .iter()
        .filter(|flaw| found(&before.flaws, flaw.id.clone()).is_none())
        .map(|flaw| (None, Some(flaw)));
    known
        .chain(new)
        .filter_map(|(first, second)| {
            let sizes = match (first, second) {
                (Some(first), Some(second)) => case.sizes(first, second),
                _ => Vec::new(),
            };
            let (fate, rule, why) = case.judged(first, second, &sizes)?;
            Some(FlawChange {
                before: first,
                after: second,
                fate,
                rule,
                why,
                sizes,
            })
        })
        .collect()
}

fn stands(flaw: &Flaw) -> bool {
    flaw.standing != Standing::RuledOut
}

impl Case<'_> {
    fn judged(
        &self,
        first: Option<&Flaw>,
        second: Option<&Flaw>,
        sizes: &[SizeChange],
    ) -> Option<Judged> {
        match (first, second) {
            (Some(first), Some(second)) if stands(first) && stands(second) => {
                Some(Self::still_there(first, second, sizes))
            }
            (Some(first), Some(second)) if stands(first) => {
                Some(self.looked_for_again(first, second))
            }
            (Some(first), None) if stands(first) => Some(self.no_longer_recorded(first)),
            (first, Some(second)) if stands(second) => Some(self.newly_recorded(first, second)),
            // Ruled out before and now, or before and no longer mentioned.
            (Some(_), _) | (None, Some(_)) => Some((
                Fate::RuledOut,
                "ruled-out",
                pair(
                    "recorded as looked for and not found",
                    "調査し、認められなかったと記録",
                ),
            )),
            (None, None) => None,
        }
    }

    /// The sizes that both states have.
    fn sizes(&self, first: &Flaw, second: &Flaw) -> Vec<SizeChange> {
        let length = Option::<Length>::as_deref;
        let area = Option::<Area>::as_deref;
        let measured = [
            (
                "length",
                pair("length", "長さ"),
                length(&first.length),
                length(&second.length),
            ),
            (
                "width",
                pair("width", "幅"),
                length(&first.width),
                length(&second.width),
            ),
            (
                "depth",
                pair("depth", "深さ"),
                length(&first.depth),
                length(&second.depth),
            ),
            (
                "area",
                pair("area", "面積"),
                area(&first.area),
                area(&second.area),
            ),
        ];
        let mut sizes: Vec<SizeChange> = measured
            .into_iter()
            .filter_map(|(field, name, then, now)| self.size(field, name, then?, now?))
            .collect();
        if let (Some(then), Some(now)) = (first.count, second.count) {
            let difference = Estimate::exact(f64::from(now) - f64::from(then));
            let sign = if now > then { "+" } else { "" };
            let stated = format!("{sign}{}", i64::from(now) - i64::from(then)).replace('-', "−");
            sizes.push(SizeChange {
                field: "count",
                name: pair("number", "箇所数"),
                difference,
                stated,
            });
        }
        sizes
    }

    fn size(
        &self,
        field: &'static str,
        name: Pair,
        then: &Quantity,
        now: &Quantity,
    ) -> Option<SizeChange> {
        let difference =
            (then.unit == now.unit).then(|| change((self.before, then), (self.after, now), 0.0))?;
        let digits = then.value.digits().max(now.value.digits());
        Some(SizeChange {
            field,
            name,
            difference,
            stated: stated(difference, digits.into(), now.unit),
        })
    }
}

#[cfg(test)]
mod tests;
