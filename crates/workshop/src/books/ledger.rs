//! Entries of the books: made, corrected, listed.

use serde::Serialize;
use tangmark_core::record::{Money, PartialDate};
use tangmark_core::units::Decimal;
use tangmark_store::Store as _;

use super::sums::plus;
use super::{Amount, BooksError, Cost, Hours, Income, Stock, Sums, Use};
use crate::journal::{Matter, Noted, Who};
use crate::{Surroundings, Workshop, WorkshopError};

/// Longest words of an entry, in characters.
const LONGEST: usize = 400;
/// Longest name of a consumable, in characters.
const LONGEST_ITEM: usize = 120;

/// An entry of the books that is to be made; amounts are as the user wrote them.
#[derive(Clone, Copy, Debug)]
pub enum NewBook<'a> {
    /// Money that went out.
    Cost {
        /// `12.50 EUR`.
        amount: &'a str,
        /// For what.
        what: &'a str,
        /// To whom.
        paid_to: Option<&'a str>,
    },
    /// Money that came in.
    Income {
        /// `480 EUR`.
        amount: &'a str,
        /// For what.
        what: &'a str,
        /// From whom.
        from: Option<&'a str>,
    },
    /// A consumable or part of a stone that was used up.
    Use {
        /// What.
        item: &'a str,
        /// `0.2 kg`, `3`.
        amount: &'a str,
        /// What that cost; else the stock or the table of stones says it.
        cost: Option<&'a str>,
        /// Remarks.
        note: Option<&'a str>,
    },
    /// A consumable that came into the stock.
    Stock {
        /// What.
        item: &'a str,
        /// `1 kg`, `20`.
        amount: &'a str,
        /// What it cost in all.
        cost: Option<&'a str>,
        /// From whom.
        from: Option<&'a str>,
    },
    /// Work outside passes.
    Hours {
        /// `2 h 30 min`.
        time: &'a str,
        /// For what.
        what: &'a str,
    },
}

/// One line of the books.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BookLine {
    /// Number of the entry in the journal.
    pub number: u64,
    /// The day.
    pub on: String,
    /// `cost`, `income`, `use`, `stock` or `hours`.
    pub kind: String,
    /// Blade; none for the workshop as a whole.
    pub blade: Option<String>,
    /// For what, or which consumable.
    pub what: String,
    /// To or from whom.
    pub party: Option<String>,
    /// Money: what was paid, earned, or used up.
    pub money: Option<Money>,
    /// Amount of a consumable, or a time.
    pub amount: Option<Amount>,
    /// Remarks.
    pub note: Option<String>,
    /// Who entered it.
    pub by: String,
}

/// Which lines are asked for; what is left out admits any.
#[derive(Clone, Copy, Debug, Default)]
pub struct BookWish<'a> {
    /// Blade.
    pub blade: Option<&'a str>,
    /// From this day on: `2026`, `2026-11` or `2026-11-25`.
    pub from: Option<&'a str>,
    /// To this day.
    pub to: Option<&'a str>,
}

/// Lines of the books with their sums.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct BookList {
    /// The lines by day, then by number.
    pub lines: Vec<BookLine>,
    /// Entries of costs.
    pub costs: Sums,
    /// Entries of incomes.
    pub income: Sums,
    /// Consumables that were used up.
    pub used: Sums,
    /// Consumables that came into the stock.
    pub stocked: Sums,
    /// Hours outside passes, in minutes.
    pub minutes: Decimal,
}

/// What came of an entry.
#[derive(Clone, Debug, Serialize)]
pub struct BookNoted {
    /// The line as it stands now.
    #[serde(flatten)]
    pub line: BookLine,
    /// The entry it took the place of.
    pub replaces: Option<u64>,
    /// Remarks a person should read.
    pub remarks: Vec<String>,
}

/// A kind of entry as a line.
pub(super) trait AsLine {
    fn fill(self, line: &mut BookLine);
}

impl AsLine for Cost {
    fn fill(self, line: &mut BookLine) {
        line.money = Some(self.amount);
        line.what = self.what;
        line.party = self.paid_to;
    }
}

impl AsLine for Income {
    fn fill(self, line: &mut BookLine) {
        line.money = Some(self.amount);
        line.what = self.what;
        line.party = self.from;
    }
}

impl AsLine for Use {
    fn fill(self, line: &mut BookLine) {
        line.money = self.cost;
        line.what = self.item;
        line.amount = Some(self.amount);
        line.note = self.note;
    }
}

impl AsLine for Stock {
    fn fill(self, line: &mut BookLine) {
        line.money = self.cost;
        line.what = self.item;
        line.amount = Some(self.amount);
        line.party = self.from;
    }
}

impl AsLine for Hours {
    fn fill(self, line: &mut BookLine) {
        line.what = self.what;
        line.amount = Some(self.time);
    }
}

pub(super) fn line<T: Matter + AsLine>(entry: Noted<T>) -> BookLine {
    let mut line = BookLine {
        number: entry.number,
        on: entry.on,
        kind: T::KIND.to_owned(),
        blade: entry.blade,
        what: String::new(),
        party: None,
        money: None,
        amount: None,
        note: None,
        by: entry.by,
    };
    entry.matter.fill(&mut line);
    line
}

/// Reads an amount of money above zero.
pub(super) fn money(what: &'static str, text: &str) -> Result<Money, BooksError> {
    let money: Money = text
        .parse()
        .map_err(|error| BooksError::Money { what, error })?;
    if money.amount.is_zero() || money.amount.is_negative() {
        return Err(BooksError::NotAbove {
            what,
            found: text.trim().chars().take(60).collect(),
        });
    }
    Ok(money)
}

/// Reads words of 1 to `most` characters.
fn words(what: &'static str, text: &str, most: usize) -> Result<String, BooksError> {
    let text = text.trim();
    let found = text.chars().count();
    if (1..=most).contains(&found) {
        Ok(text.to_owned())
    } else {
        Err(BooksError::Words { what, found, most })
    }
}

pub(super) fn for_what(text: &str) -> Result<String, BooksError> {
    words("what it is for", text, LONGEST)
}

pub(super) fn party(text: &str) -> Result<String, BooksError> {
    words("name", text, LONGEST)
}

pub(super) fn item_name(text: &str) -> Result<String, BooksError> {
    let text: Vec<&str> = text.split_whitespace().collect();
    words("name of the consumable", &text.join(" "), LONGEST_ITEM)
}

/// First and last day that a wish admits.
pub(super) fn span(wish: &BookWish<'_>) -> Result<(String, String), BooksError> {
    let read = |what: &'static str, text: Option<&str>| {
        text.map(|text| {
            text.parse::<PartialDate>().map_err(|_| BooksError::Day {
                what,
                found: text.chars().take(40).collect(),
            })
        })
        .transpose()
    };
    let from = read("--from", wish.from)?;
    let to = read("--to", wish.to)?;
    let first = from.map_or_else(String::new, |from| from.first_day());
    let last = to.map_or_else(|| "9999-12-31".to_owned(), |to| to.last_day());
    if first > last {
        return Err(BooksError::Span {
            from: first,
            to: last,
        });
    }
    Ok((first, last))
}

impl Workshop {
    /// Makes an entry of the books, of a blade or, without one, of the workshop as a whole.
    ///
    /// # Errors
    /// When an amount, the words, the day or the blade is not what it should be; nothing is written then.
    pub fn book(
        &self,
        blade: Option<&str>,
        new: &NewBook<'_>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<BookNoted, WorkshopError> {
        if let Some(blade) = blade {
            self.store().blade(blade)?;
        }
        match *new {
            NewBook::Cost {
                amount,
                what,
                paid_to,
            } => {
                let entry = Cost {
                    amount: money("cost", amount)?,
                    what: for_what(what)?,
                    paid_to: paid_to.map(party).transpose()?,
                };
                self.entered(blade, "", &entry, Vec::new(), who, around)
            }
            NewBook::Income { amount, what, from } => {
                let entry = Income {
                    amount: money("income", amount)?,
                    what: for_what(what)?,
                    from: from.map(party).transpose()?,
                };
                self.entered(blade, "", &entry, Vec::new(), who, around)
            }
            NewBook::Use {
                item,
                amount,
                cost,
                note,
            } => {
                let cost = cost.map(|cost| money("cost", cost)).transpose()?;
                let note = note.map(for_what).transpose()?;
                let (entry, remarks) =
                    self.used_up(&item_name(item)?, Amount::read(amount)?, cost, note, None)?;
                self.entered(blade, &entry.item, &entry, remarks, who, around)
            }
            NewBook::Stock {
                item,
                amount,
                cost,
                from,
            } => {
                let amount = Amount::read(amount)?;
                let item = item_name(item)?;
                let shelf = self.shelf(None)?;
                shelf.fits(&item, &amount)?;
                let entry = Stock {
                    item: shelf.name(&item).map_or(item, str::to_owned),
                    amount,
                    cost: cost.map(|cost| money("cost", cost)).transpose()?,
                    from: from.map(party).transpose()?,
                };
                self.entered(blade, &entry.item, &entry, Vec::new(), who, around)
            }
            NewBook::Hours { time, what } => {
                let entry = Hours {
                    time: Amount::read_time(time)?,
                    what: for_what(what)?,
                };
                self.entered(blade, "", &entry, Vec::new(), who, around)
            }
        }
    }

    fn entered<T: Matter + AsLine>(
        &self,
        blade: Option<&str>,
        subject: &str,
        matter: &T,
        remarks: Vec<String>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<BookNoted, WorkshopError> {
        let number = self.note(blade, subject, matter, who, around)?;
        Ok(BookNoted {
            line: line(self.noted_at::<T>(number)?),
            replaces: None,
            remarks,
        })
    }

    /// All lines of a blade, or all there are, by day and number.
    pub(super) fn book_lines(&self, blade: Option<&str>) -> Result<Vec<BookLine>, WorkshopError> {
        let mut lines: Vec<BookLine> = Vec::new();
        lines.extend(self.noted::<Cost>(blade, None)?.into_iter().map(line));
        lines.extend(self.noted::<Income>(blade, None)?.into_iter().map(line));
        lines.extend(self.noted::<Use>(blade, None)?.into_iter().map(line));
        lines.extend(self.noted::<Stock>(blade, None)?.into_iter().map(line));
        lines.extend(self.noted::<Hours>(blade, None)?.into_iter().map(line));
        lines.sort_by(|one, other| (&one.on, one.number).cmp(&(&other.on, other.number)));
        Ok(lines)
    }

    /// Lists entries of the books in force, with their sums.
    ///
    /// # Errors
    /// When there is no such blade, or the days are none.
    pub fn book_list(&self, wish: &BookWish<'_>) -> Result<BookList, WorkshopError> {
        if let Some(blade) = wish.blade {
            self.store().blade(blade)?;
        }
        let (first, last) = span(wish)?;
        let mut list = BookList::default();
        for line in self.book_lines(wish.blade)? {
            if line.on < first || line.on > last {
                continue;
            }
            list.count(&line)?;
            list.lines.push(line);
        }
        Ok(list)
    }
}

impl BookList {
    /// Adds a line to its sum.
    pub(super) fn count(&mut self, line: &BookLine) -> Result<(), BooksError> {
        let sum = match line.kind.as_str() {
            Cost::KIND => &mut self.costs,
            Income::KIND => &mut self.income,
            Use::KIND => &mut self.used,
            Stock::KIND => &mut self.stocked,
            _ => {
                if let Some(time) = &line.amount {
                    self.minutes = plus(self.minutes, time.value)?;
                }
                return Ok(());
            }
        };
        line.money.as_ref().map_or(Ok(()), |money| sum.add(money))
    }
}
