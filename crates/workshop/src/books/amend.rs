//! Corrections of entries of the books: a new entry takes the place of the old one.

use tangmark_store::Store as _;

use super::ledger::{AsLine, BookNoted, for_what, item_name, line, money, party};
use super::{Amount, BooksError, Cost, CostFrom, Hours, Income, Stock, Use};
use crate::journal::{Matter, Who};
use crate::{Surroundings, Workshop, WorkshopError};

/// Changes of an entry of the books; what is left out stays.
#[derive(Clone, Copy, Debug, Default)]
pub struct BookAmendment<'a> {
    /// Amount of money, of a consumable.
    pub amount: Option<&'a str>,
    /// For what.
    pub what: Option<&'a str>,
    /// To or from whom.
    pub party: Option<&'a str>,
    /// The consumable.
    pub item: Option<&'a str>,
    /// What it cost.
    pub cost: Option<&'a str>,
    /// The time.
    pub time: Option<&'a str>,
}

impl Workshop {
    /// Corrects an entry of the books: a new one takes its place. Day and blade stay unless `who` names another day.
    ///
    /// # Errors
    /// When it is no entry of the books in force, has no such field, or a value is not what it should be.
    pub fn amend_book(
        &self,
        number: u64,
        change: &BookAmendment<'_>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<BookNoted, WorkshopError> {
        let row = self.store().entry(number)?;
        let gone = match (&row.body, row.replaced_by) {
            (None, _) => Some("it strikes out another".to_owned()),
            (_, Some(by)) => Some(format!("entry {by} took its place")),
            _ => None,
        };
        if let Some(how) = gone {
            return Err(BooksError::NotInForce { number, how }.into());
        }
        let named = [
            ("amount", change.amount),
            ("purpose", change.what),
            ("name", change.party),
            ("consumable", change.item),
            ("cost of its own", change.cost),
            ("time", change.time),
        ];
        if who.on.is_none() && named.iter().all(|(_, value)| value.is_none()) {
            return Err(BooksError::NothingToAmend(number).into());
        }
        let has: &[&str] = match row.kind.as_str() {
            Cost::KIND | Income::KIND => &["amount", "purpose", "name"],
            Use::KIND => &["amount", "consumable", "cost of its own", "purpose"],
            Stock::KIND => &["amount", "consumable", "cost of its own", "name"],
            Hours::KIND => &["time", "purpose"],
            kind => {
                let kind = kind.to_owned();
                return Err(BooksError::NotBooks { number, kind }.into());
            }
        };
        let alien = named
            .iter()
            .find(|(field, value)| value.is_some() && !has.contains(field));
        if let Some((field, _)) = alien {
            return Err(BooksError::NoField {
                kind: row.kind,
                field,
            }
            .into());
        }
        match row.kind.as_str() {
            Cost::KIND => {
                let mut entry = self.noted_at::<Cost>(number)?.matter;
                put(&mut entry.amount, change.amount, |text| money("cost", text))?;
                put(&mut entry.what, change.what, for_what)?;
                put(&mut entry.paid_to, change.party, |name| {
                    party(name).map(Some)
                })?;
                self.renoted(number, &entry, Vec::new(), who, around)
            }
            Income::KIND => {
                let mut entry = self.noted_at::<Income>(number)?.matter;
                put(&mut entry.amount, change.amount, |text| {
                    money("income", text)
                })?;
                put(&mut entry.what, change.what, for_what)?;
                put(&mut entry.from, change.party, |name| party(name).map(Some))?;
                self.renoted(number, &entry, Vec::new(), who, around)
            }
            Use::KIND => self.amend_use(number, change, who, around),
            Stock::KIND => {
                let mut entry = self.noted_at::<Stock>(number)?.matter;
                put(&mut entry.amount, change.amount, Amount::read)?;
                put(&mut entry.item, change.item, item_name)?;
                put(&mut entry.cost, change.cost, |text| {
                    money("cost", text).map(Some)
                })?;
                put(&mut entry.from, change.party, |name| party(name).map(Some))?;
                self.shelf(Some(number))?.fits(&entry.item, &entry.amount)?;
                self.renoted(number, &entry, Vec::new(), who, around)
            }
            _ => {
                let mut entry = self.noted_at::<Hours>(number)?.matter;
                put(&mut entry.time, change.time, Amount::read_time)?;
                put(&mut entry.what, change.what, for_what)?;
                self.renoted(number, &entry, Vec::new(), who, around)
            }
        }
    }

    /// A use whose amount or consumable changes costs what that costs now, unless the cost was given.
    fn amend_use(
        &self,
        number: u64,
        change: &BookAmendment<'_>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<BookNoted, WorkshopError> {
        let old = self.noted_at::<Use>(number)?.matter;
        let mut amount = old.amount;
        put(&mut amount, change.amount, Amount::read)?;
        let mut item = old.item;
        put(&mut item, change.item, item_name)?;
        let mut note = old.note;
        put(&mut note, change.what, |text| for_what(text).map(Some))?;
        let same = change.amount.is_none() && change.item.is_none();
        let cost = match change.cost {
            Some(text) => Some(money("cost", text)?),
            None if same || old.cost_from == Some(CostFrom::Given) => old.cost,
            None => None,
        };
        let kept = change.cost.is_none() && same && cost.is_some();
        let (mut entry, remarks) = self.used_up(&item, amount, cost, note, Some(number))?;
        if kept {
            entry.cost_from = old.cost_from;
        }
        self.renoted(number, &entry, remarks, who, around)
    }

    fn renoted<T: Matter + AsLine>(
        &self,
        number: u64,
        matter: &T,
        remarks: Vec<String>,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<BookNoted, WorkshopError> {
        let new = self.renote(number, matter, who, around)?;
        Ok(BookNoted {
            line: line(self.noted_at::<T>(new)?),
            replaces: Some(number),
            remarks,
        })
    }
}

/// Puts a new value in the place of an old one, where there is a new one.
fn put<T>(
    field: &mut T,
    text: Option<&str>,
    read: impl FnOnce(&str) -> Result<T, BooksError>,
) -> Result<(), BooksError> {
    if let Some(text) = text {
        *field = read(text)?;
    }
    Ok(())
}
