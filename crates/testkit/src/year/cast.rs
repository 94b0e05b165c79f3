//! The invented workshop, its people and its blades: who comes with what, and how it ends.

use crate::mutate::Chance;

/// Name of the workshop.
pub(super) const WORKSHOP: &str = "Millrace Edges (invented)";
/// Who works there.
pub(super) const POLISHER: &str = "Tamsin Orrel";
/// The specialist that blades are sent to.
pub(super) const SPECIALIST: &str = "Old Weir Polishers (invented)";

/// Keys of the blades; the title is the same word.
const KEYS: [&str; 60] = [
    "alder", "bracken", "cinder", "dew", "elder", "fern", "gorse", "hazel", "iris", "jay", "kelp",
    "larch", "mallow", "nettle", "osier", "plover", "quince", "rowan", "sedge", "teal", "umber",
    "vetch", "willow", "yarrow", "ash", "birch", "curlew", "dusk", "eider", "flint", "glade",
    "heath", "ivy", "juniper", "kite", "linnet", "moss", "newt", "otter", "pine", "quartz", "rush",
    "snipe", "thorn", "ulex", "vole", "wren", "yew", "amber", "brook", "clay", "drift", "ember",
    "ford", "gale", "holm", "islet", "jet", "knoll", "lichen",
];
const FIRST: [&str; 8] = [
    "Odo", "Perrin", "Sunniva", "Ilse", "Marek", "Yuna", "Corin", "Beatrix",
];
const LAST: [&str; 8] = [
    "Quayle-Moor",
    "Tallow",
    "Windrush",
    "Hartshill",
    "Saltmarsh",
    "Orchard",
    "Fenwater",
    "Lowgate",
];

/// Whose a blade is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Whose {
    /// Bought to be sold.
    Bought,
    /// A customer's, to go back.
    Customer,
    /// The workshop's own.
    Own,
}

/// What happens with a blade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fate {
    /// It is worked on.
    Plain,
    /// A crack is confirmed: no stone touches it.
    Cracked,
    /// A crack is suspected, and two looks do not find it.
    RuledOut,
    /// The steel that may go is gone; a new examination sets a new budget.
    NewBudget,
    /// The steel that may go is gone; an override lifts the stop.
    BudgetOverridden,
    /// It looks important, and an override lifts the stop.
    ImportanceOverridden,
    /// It goes to the specialist, who says that it may be worked on.
    ReferredAndWorked,
    /// It goes to the specialist, who says that it should rest.
    ReferredAndSetAside,
    /// It goes to the specialist, who has not answered.
    ReferredAndOpen,
}

impl Fate {
    /// Whether passes are logged in the end.
    pub(super) fn is_worked(self) -> bool {
        !matches!(
            self,
            Self::Cracked | Self::ReferredAndSetAside | Self::ReferredAndOpen
        )
    }

    /// Whether the steel that may go runs out on the way.
    pub(super) fn spends_its_budget(self) -> bool {
        matches!(self, Self::NewBudget | Self::BudgetOverridden)
    }

    /// Whether it is sent to the specialist.
    pub(super) fn is_referred(self) -> bool {
        matches!(
            self,
            Self::ReferredAndWorked | Self::ReferredAndSetAside | Self::ReferredAndOpen
        )
    }
}

/// How it ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    /// Sold.
    Sold,
    /// Sold, and put right or withdrawn later.
    SoldAndCorrected {
        /// Withdrawn instead of put right.
        withdrawn: bool,
    },
    /// Given back to its owner.
    Returned,
    /// Still there at the end of the year.
    Stays,
}

/// One blade of the year.
#[derive(Clone, Debug)]
pub(super) struct Role {
    pub(super) number: usize,
    pub(super) key: String,
    pub(super) title: String,
    pub(super) whose: Whose,
    pub(super) fate: Fate,
    pub(super) end: End,
    /// Who sells it or owns it.
    pub(super) from: String,
    /// Who buys it.
    pub(super) buyer: String,
    /// Language of the buyer's papers.
    pub(super) language: &'static str,
    /// Shape, by number.
    pub(super) shape: usize,
    /// Day of the year it comes, from 1.
    pub(super) comes: u32,
    /// Passes to log, where it is worked on.
    pub(super) passes: usize,
    /// Money, in whole units.
    pub(super) price: u32,
    pub(super) currency: &'static str,
    /// Which third of the year it comes in.
    pub(super) batch: usize,
}

/// Fates that are not plain, by the number of the blade within a dozen blades: every dozen has its share.
fn fate(number: usize) -> Fate {
    match number % 60 {
        3 | 23 | 43 => Fate::Cracked,
        5 | 25 | 45 => Fate::RuledOut,
        7 | 47 => Fate::NewBudget,
        27 => Fate::BudgetOverridden,
        9 | 29 => Fate::ImportanceOverridden,
        1 | 31 => Fate::ReferredAndWorked,
        11 => Fate::ReferredAndSetAside,
        51 => Fate::ReferredAndOpen,
        _ => Fate::Plain,
    }
}

fn whose(number: usize) -> Whose {
    match number % 6 {
        0 | 1 | 4 => Whose::Bought,
        2 | 5 => Whose::Customer,
        _ => Whose::Own,
    }
}

/// Casts the blades of a year. The same seed casts the same.
pub(super) fn cast(blades: usize, seed: u64) -> Vec<Role> {
    let mut sales = 0;
    (0..blades)
        .map(|number| {
            let mut chance = Chance::new(seed, number as u64);
            let fate = fate(number);
            let whose = whose(number);
            let key = match KEYS.get(number) {
                Some(key) => (*key).to_owned(),
                None => format!("{}-{}", KEYS[number % KEYS.len()], 2 + number / KEYS.len()),
            };
            let mut letters = key.chars();
            let title: String = letters
                .next()
                .map(|first| first.to_uppercase().chain(letters).collect())
                .unwrap_or_default();
            let person = |chance: &mut Chance| {
                let first = FIRST[chance.below(FIRST.len())];
                format!("{first} {}", LAST[chance.below(LAST.len())])
            };
            let end = match (whose, fate) {
                (_, Fate::ReferredAndOpen) => End::Stays,
                (Whose::Customer, _) => End::Returned,
                (Whose::Own, _) if number % 12 == 3 => End::Stays,
                // The last of the year are still on the bench.
                _ if number % 20 == 18 => End::Stays,
                _ => {
                    sales += 1;
                    match sales {
                        4 => End::SoldAndCorrected { withdrawn: false },
                        9 => End::SoldAndCorrected { withdrawn: true },
                        _ => End::Sold,
                    }
                }
            };
            let comes = u32::try_from(3 + number * 240 / blades.max(1)).unwrap_or(3);
            Role {
                number,
                title,
                whose,
                fate,
                end,
                from: person(&mut chance),
                buyer: person(&mut chance),
                language: ["en", "ja", "both"][chance.below(3)],
                shape: chance.below(super::shape::SHAPES.len()),
                comes,
                passes: 16 + chance.below(4),
                price: u32::try_from(120 + 10 * chance.below(90)).unwrap_or(120),
                currency: if chance.percent(25) { "JPY" } else { "EUR" },
                batch: number * 3 / blades.max(1),
                key,
            }
        })
        .collect()
}

/// A day of the invented year as it is written, from its number in the year, from 1. The year has no 29 February.
pub(super) fn day(number: u32) -> String {
    const MONTHS: [u32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let mut rest = number.clamp(1, 365) - 1;
    for (month, days) in (1..).zip(MONTHS) {
        if rest < days {
            return format!("{YEAR}-{month:02}-{:02}", rest + 1);
        }
        rest -= days;
    }
    format!("{YEAR}-12-31")
}

/// The invented year: one that is over, so that no day of it lies in the future.
pub(super) const YEAR: u32 = 2025;

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn a_year_of_sixty_blades_has_what_the_job_asks_for() {
        let roles = cast(60, 1);
        let count =
            |wanted: &dyn Fn(&Role) -> bool| roles.iter().filter(|role| wanted(role)).count();
        let sold = |role: &Role| matches!(role.end, End::Sold | End::SoldAndCorrected { .. });
        assert!(count(&sold) >= 25, "{}", count(&sold));
        assert_eq!(count(&|role| role.fate.is_referred()), 4);
        assert_eq!(
            count(&|role| matches!(role.end, End::SoldAndCorrected { .. })),
            2
        );
        let passes: usize = roles
            .iter()
            .filter(|role| role.fate.is_worked())
            .map(|role| role.passes)
            .sum();
        assert!(passes >= 900, "{passes}");
        for whose in [Whose::Bought, Whose::Customer, Whose::Own] {
            assert!(count(&|role| role.whose == whose) >= 10);
        }
        let keys: BTreeSet<&str> = roles.iter().map(|role| role.key.as_str()).collect();
        assert_eq!(keys.len(), 60);
    }

    #[test]
    fn the_same_seed_casts_the_same() {
        assert_eq!(format!("{:?}", cast(60, 7)), format!("{:?}", cast(60, 7)));
        assert_ne!(format!("{:?}", cast(60, 7)), format!("{:?}", cast(60, 8)));
        assert_eq!(cast(130, 1)[125].key, "fern-4");
    }

    #[test]
    fn days_are_days_of_the_year() {
        assert_eq!(day(1), "2025-01-01");
        assert_eq!(day(59), "2025-02-28");
        assert_eq!(day(60), "2025-03-01");
        assert_eq!(day(365), "2025-12-31");
        assert_eq!(day(400), "2025-12-31");
    }
}
