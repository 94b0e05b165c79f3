//! Events of the chain as spans of time, from sealed records and the sheet.

use tangmark_core::record::{
    CustodyEvent, CustodyKind, PartialDate, Person, Record, Role, Sheet, Term as _,
};

/// Days of a year in the count of [`day_of`].
const YEAR: i32 = 372;

/// Counts days in a calendar whose months all have 31 days: the order is exact, a span is right to some days.
pub(crate) fn day_of(text: &str) -> Option<i32> {
    let part = |from: usize, to: usize| text.get(from..to)?.parse::<i32>().ok();
    Some(part(0, 4)? * YEAR + (part(5, 7)? - 1) * 31 + part(8, 10)? - 1)
}

/// A span of time, first and last day included, in the count of [`day_of`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Span {
    /// First day it may be.
    pub(crate) first: i32,
    /// Last day it may be.
    pub(crate) last: i32,
}

impl Span {
    /// The span between two dates, whichever comes first.
    pub(crate) fn between(first: &PartialDate, last: &PartialDate) -> Self {
        let day = |text: String| day_of(&text).unwrap_or(0);
        Self {
            first: day(first.first_day()).min(day(last.first_day())),
            last: day(first.last_day()).max(day(last.last_day())),
        }
    }

    /// The span of one date.
    pub(crate) fn of(date: &PartialDate) -> Self {
        Self::between(date, date)
    }

    /// When the blade was made, by its years on the sheet; `None` where neither is there.
    pub(crate) fn made(sheet: &Sheet) -> Option<Self> {
        let (first, last) = (&sheet.blade.made_not_before, &sheet.blade.made_not_after);
        let only = first.as_ref().or(last.as_ref())?;
        Some(Self::between(
            first.as_ref().unwrap_or(only),
            last.as_ref().unwrap_or(only),
        ))
    }

    /// Every day of this one lies before every day of the other.
    pub(crate) fn surely_before(self, other: Self) -> bool {
        self.last < other.first
    }

    /// Least time from the end of this span to the start of the other, years; negative where they may overlap.
    pub(crate) fn least_years_to(self, other: Self) -> f64 {
        f64::from(other.first - self.last) / f64::from(YEAR)
    }

    /// Greatest time from the start of this span to the end of the other, years.
    pub(crate) fn most_years_to(self, other: Self) -> f64 {
        f64::from(other.last - self.first) / f64::from(YEAR)
    }
}

/// An event of the chain.
#[derive(Clone, Debug)]
pub(crate) struct Event<'a> {
    /// What the sheet or record says.
    pub(crate) said: &'a CustodyEvent,
    /// When.
    pub(crate) span: Span,
    /// Pointer into the sheet; `None` where only a sealed record has it.
    pub(crate) pointer: Option<String>,
    /// Number of the sealed record that has it, the first one.
    pub(crate) sequence: Option<u32>,
}

impl Event<'_> {
    /// Kind.
    pub(crate) fn kind(&self) -> CustodyKind {
        self.said.kind
    }

    /// Changes the owner.
    pub(crate) fn changes_owner(&self) -> bool {
        use CustodyKind as K;
        matches!(self.kind(), K::Sold | K::Given | K::Inherited | K::Bought)
    }

    /// Changes who holds the blade.
    pub(crate) fn changes_holder(&self) -> bool {
        use CustodyKind as K;
        self.changes_owner()
            || matches!(
                self.kind(),
                K::LeftForWork | K::Returned | K::Lent | K::Found | K::Lost
            )
    }

    /// Pointer for a finding; the list stands for an event that only a sealed record has.
    pub(crate) fn place(&self) -> String {
        self.pointer
            .clone()
            .unwrap_or_else(|| "/custody".to_owned())
    }

    /// The event for a message, without names: `“sold” of 1974 to 1975`.
    pub(crate) fn words(&self) -> String {
        format!("“{}” of {}", self.kind().gloss(), self.dates())
    }

    /// Its dates for a message.
    pub(crate) fn dates(&self) -> String {
        let when = &self.said.when;
        if when.earliest == when.latest {
            when.earliest.to_string()
        } else {
            format!("{} to {}", when.earliest, when.latest)
        }
    }
}

/// Collects the events of the sheet and of sealed records, each once, in the order of time; equal spans keep the order
/// in which they are listed.
pub(crate) fn collect<'a>(records: &'a [Record], sheet: &'a Sheet) -> Vec<Event<'a>> {
    let mut all: Vec<Event<'a>> = sheet
        .custody
        .iter()
        .enumerate()
        .map(|(index, said)| Event {
            said,
            span: Span::between(&said.when.earliest, &said.when.latest),
            pointer: Some(format!("/custody/{index}")),
            sequence: None,
        })
        .collect();
    for record in records {
        for said in &record.custody {
            match all.iter_mut().find(|known| same(known.said, said)) {
                Some(known) => known.sequence = known.sequence.or(Some(record.sequence)),
                None => all.push(Event {
                    said,
                    span: Span::between(&said.when.earliest, &said.when.latest),
                    pointer: None,
                    sequence: Some(record.sequence),
                }),
            }
        }
    }
    all.sort_by_key(|event| (event.span.first, event.span.last));
    all
}

/// Tells whether two entries are the same event. Names, prices and numbers may be withheld in one of them, and papers
/// may have been added.
fn same(first: &CustodyEvent, second: &CustodyEvent) -> bool {
    let role = |person: &Option<Person>| person.as_ref().map(|one| one.role);
    first.kind == second.kind
        && first.when == second.when
        && role(&first.from) == role(&second.from)
        && role(&first.to) == role(&second.to)
}

/// What two mentions of people have to do with each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Identity {
    /// The same name, or one word of it: the same person or household.
    Same,
    /// Two names without a word in common.
    Different,
    /// A name is missing.
    Unknown,
}

/// Compares two people by name.
pub(crate) fn identity(first: Option<&Person>, second: Option<&Person>) -> Identity {
    let name = |person: Option<&Person>| {
        person
            .and_then(|one| one.name.as_deref())
            .map(str::to_lowercase)
    };
    let (Some(first), Some(second)) = (name(first), name(second)) else {
        return Identity::Unknown;
    };
    let shared = first == second
        || words_of(&first).any(|word| words_of(&second).any(|other| other == word));
    if shared {
        Identity::Same
    } else {
        Identity::Different
    }
}

/// Words of a name that tell people apart.
fn words_of(name: &str) -> impl Iterator<Item = &str> {
    name.split(|letter: char| !letter.is_alphanumeric())
        .filter(|word| {
            word.chars().count() > 1
                && !["family", "house", "the", "of", "and", "von", "van", "de"].contains(word)
        })
}

/// A role that holds a blade for a time and does not own it by itself.
pub(crate) fn holds_for_a_time(role: Role) -> bool {
    matches!(
        role,
        Role::Polisher
            | Role::Carrier
            | Role::Specialist
            | Role::Appraiser
            | Role::FittingMaker
            | Role::Insurer
    )
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn date(text: &str) -> PartialDate {
        text.parse().unwrap()
    }

    fn named(name: &str) -> Person {
        serde_json::from_value(serde_json::json!({"role": "owner", "name": name})).unwrap()
    }

    #[test]
    fn spans_are_certain_or_not() {
        let (year, next) = (Span::of(&date("1974")), Span::of(&date("1975-01")));
        assert!(year.surely_before(next) && !next.surely_before(year) && !year.surely_before(year));
        assert!(year.least_years_to(next) < 0.01 && year.most_years_to(next) > 1.0);
        assert_eq!(
            Span::between(&date("1975"), &date("1974")).first,
            Span::of(&date("1974")).first
        );
        let five = Span::of(&date("1970-01-01")).least_years_to(Span::of(&date("1975-01-01")));
        assert!((five - 5.0).abs() < 1e-9);
        assert_eq!(day_of("soon"), None);
    }

    #[test]
    fn people_are_told_apart_by_name() {
        let one = |name: &str| named(name);
        let compare = |first: &str, second: &str| identity(Some(&one(first)), Some(&one(second)));
        assert_eq!(compare("Odile Varga", "Varga family"), Identity::Same);
        assert_eq!(compare("Odile Varga", "Imre Halloway"), Identity::Different);
        assert_eq!(compare("Reed family", "Dune family"), Identity::Different);
        assert_eq!(compare("刃", "刃"), Identity::Same);
        assert_eq!(identity(None, Some(&one("A B"))), Identity::Unknown);
    }
}
