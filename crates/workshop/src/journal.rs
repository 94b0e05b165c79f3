//! The journal of the workshop: stages, hours, costs, moves, referrals. Entries are typed here; the store keeps them.
//!
//! Nothing is erased: a correction is a later entry that takes the place of the one it corrects, and a strike-out an
//! entry without content. Who entered what, and when, stands with each.

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use tangmark_core::record::PartialDate;
use tangmark_store::{Change, EntryFilter, EntryRow, NewEntry, Store as _};

use crate::{Surroundings, Workshop, WorkshopError, days};

/// One kind of entry.
pub trait Matter: Serialize + DeserializeOwned {
    /// Name of the kind: lower-case letters and `_`.
    const KIND: &'static str;
}

/// An entry in force.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Noted<T> {
    /// Number in the journal.
    pub number: u64,
    /// Blade.
    pub blade: Option<String>,
    /// What else it is about, such as the key of a fitting.
    pub subject: String,
    /// The day it happened.
    pub on: String,
    /// When it was entered (UTC).
    pub at: String,
    /// Who entered it.
    pub by: String,
    /// The entry it took the place of.
    pub replaces: Option<u64>,
    /// Content.
    pub matter: T,
}

/// When something happened and who enters it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Who<'a> {
    /// The day; left out: today (UTC).
    pub on: Option<&'a str>,
    /// Who; left out: the workshop.
    pub by: Option<&'a str>,
}

impl Who<'_> {
    /// The day, as it goes into an entry or a sheet.
    ///
    /// # Errors
    /// When it is no whole date, has not come yet, or is longer ago than a workshop works.
    pub(crate) fn day(&self, around: &Surroundings<'_>) -> Result<String, WorkshopError> {
        let today = today(around);
        let on = day(self.on.unwrap_or(today))?;
        happened("the day", &on, today)?;
        if days::between(&on, today).is_some_and(|ago| ago > LONGEST_AGO) {
            return Err(WorkshopError::OtherDay {
                what: "the day",
                found: on,
                allowed: format!("at most 100 years before today, {today},"),
            });
        }
        Ok(on)
    }
}

/// An entry of any kind, for listing.
#[derive(Clone, Debug, Serialize)]
pub struct JournalLine {
    /// Number.
    pub number: u64,
    /// Kind.
    pub kind: String,
    /// Blade.
    pub blade: Option<String>,
    /// What else it is about.
    pub subject: String,
    /// The day it happened.
    pub on: String,
    /// Content; none for a strike-out.
    pub content: Option<Value>,
    /// When it was entered (UTC).
    pub at: String,
    /// Who entered it.
    pub by: String,
    /// The entry it took the place of.
    pub replaces: Option<u64>,
    /// The entry that took its place.
    pub replaced_by: Option<u64>,
}

impl From<EntryRow> for JournalLine {
    fn from(row: EntryRow) -> Self {
        Self {
            number: row.number,
            kind: row.kind,
            blade: row.blade,
            subject: row.subject,
            on: row.on,
            content: row.body,
            at: row.at,
            by: row.by,
            replaces: row.replaces,
            replaced_by: row.replaced_by,
        }
    }
}

/// An entry ready to be written, alone or with other changes.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    kind: &'static str,
    blade: Option<String>,
    subject: String,
    on: String,
    body: Value,
    at: String,
    by: String,
    replaces: Option<u64>,
}

impl Entry {
    /// The same entry in place of another one of its kind.
    pub(crate) fn replacing(mut self, number: u64) -> Self {
        self.replaces = Some(number);
        self
    }

    pub(crate) fn as_new(&self) -> NewEntry<'_> {
        NewEntry {
            kind: self.kind,
            blade: self.blade.as_deref(),
            subject: &self.subject,
            on: &self.on,
            body: Some(&self.body),
            at: &self.at,
            by: &self.by,
            replaces: self.replaces,
        }
    }
}

/// Days that a workshop may look back for its own work: 100 years.
const LONGEST_AGO: i64 = 36_525;

/// Today (UTC).
pub(crate) fn today<'a>(around: &'a Surroundings<'_>) -> &'a str {
    let now = around.now.as_str();
    now.get(..10).unwrap_or(now)
}

/// Refuses a day that has not come. One day ahead is taken: east of Greenwich the next day begins before it does in UTC.
///
/// # Errors
/// When it lies further ahead.
pub(crate) fn happened(what: &'static str, on: &str, today: &str) -> Result<(), WorkshopError> {
    if days::between(today, on).is_some_and(|ahead| ahead > 1) {
        return Err(WorkshopError::OtherDay {
            what,
            found: on.to_owned(),
            allowed: format!("today, {today}, or an earlier day"),
        });
    }
    Ok(())
}

/// Refuses a day by which something is due that lies before the day it was agreed on.
///
/// # Errors
/// When it does.
pub(crate) fn due(what: &'static str, by: &PartialDate, agreed: &str) -> Result<(), WorkshopError> {
    if by.last_day().as_str() < agreed {
        return Err(WorkshopError::OtherDay {
            what,
            found: by.to_string(),
            allowed: format!("{agreed}, the day it was agreed on, or a later day"),
        });
    }
    Ok(())
}

/// Reads a day: a whole date.
///
/// # Errors
/// When it is something else.
pub(crate) fn day(text: &str) -> Result<String, WorkshopError> {
    let whole = text.len() == 10 && text.parse::<PartialDate>().is_ok();
    if whole {
        Ok(text.to_owned())
    } else {
        Err(WorkshopError::BadDay(text.chars().take(40).collect()))
    }
}

fn typed<T: Matter>(row: EntryRow) -> Result<Noted<T>, WorkshopError> {
    let unreadable = |error: serde_json::Error| WorkshopError::Entry {
        number: row.number,
        what: error.to_string(),
    };
    let body = row.body.clone().unwrap_or_default();
    Ok(Noted {
        matter: serde_json::from_value(body).map_err(unreadable)?,
        number: row.number,
        blade: row.blade,
        subject: row.subject,
        on: row.on,
        at: row.at,
        by: row.by,
        replaces: row.replaces,
    })
}

impl Workshop {
    /// Who enters something: the one who is named, else the workshop.
    pub(crate) fn by(&self, who: &Who<'_>) -> Result<String, WorkshopError> {
        who.by.map_or_else(|| self.name(), |by| Ok(by.to_owned()))
    }

    /// Makes an entry ready to be written.
    pub(crate) fn entry<T: Matter>(
        &self,
        blade: Option<&str>,
        subject: &str,
        matter: &T,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Entry, WorkshopError> {
        let on = who.day(around)?;
        self.entry_on(blade, subject, matter, (&on, who.by), around)
    }

    /// Makes an entry ready whose day is known already: one that was taken once is not asked about again.
    pub(crate) fn entry_on<T: Matter>(
        &self,
        blade: Option<&str>,
        subject: &str,
        matter: &T,
        (on, by): (&str, Option<&str>),
        around: &Surroundings<'_>,
    ) -> Result<Entry, WorkshopError> {
        Ok(Entry {
            kind: T::KIND,
            blade: blade.map(str::to_owned),
            subject: subject.to_owned(),
            on: on.to_owned(),
            body: serde_json::to_value(matter)
                .map_err(|error| WorkshopError::Canonical(error.to_string()))?,
            at: around.now.as_str().to_owned(),
            by: self.by(&Who { on: None, by })?,
            replaces: None,
        })
    }

    /// Writes an entry; returns its number.
    pub(crate) fn note<T: Matter>(
        &self,
        blade: Option<&str>,
        subject: &str,
        matter: &T,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<u64, WorkshopError> {
        let entry = self.entry(blade, subject, matter, who, around)?;
        self.write_one(&entry)
    }

    /// Writes an entry that takes the place of another one of its kind; returns its number. Day and author stay those of
    /// the first unless `who` names others.
    pub(crate) fn renote<T: Matter>(
        &self,
        number: u64,
        matter: &T,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<u64, WorkshopError> {
        let old = self.store().entry(number)?;
        let on = match who.on {
            Some(_) => who.day(around)?,
            None => old.on,
        };
        let (blade, named) = (old.blade.as_deref(), (on.as_str(), who.by));
        let mut entry = self.entry_on(blade, &old.subject, matter, named, around)?;
        entry.replaces = Some(number);
        self.write_one(&entry)
    }

    fn write_one(&self, entry: &Entry) -> Result<u64, WorkshopError> {
        let numbers = self.write_entries(std::slice::from_ref(entry))?;
        numbers
            .first()
            .copied()
            .ok_or_else(|| WorkshopError::Canonical("an entry has a number".to_owned()))
    }

    /// Writes entries, all or none; returns their numbers.
    pub(crate) fn write_entries(&self, entries: &[Entry]) -> Result<Vec<u64>, WorkshopError> {
        let entries: Vec<NewEntry<'_>> = entries.iter().map(Entry::as_new).collect();
        let change = Change {
            entries: &entries,
            ..Change::default()
        };
        Ok(self.store().apply(&change)?.entries)
    }

    /// Lists the entries in force of one kind, oldest first.
    pub(crate) fn noted<T: Matter>(
        &self,
        blade: Option<&str>,
        subject: Option<&str>,
    ) -> Result<Vec<Noted<T>>, WorkshopError> {
        let filter = EntryFilter {
            kind: Some(T::KIND),
            blade,
            subject,
            whole: false,
        };
        let rows = self.store().entries(&filter)?;
        rows.into_iter().map(typed).collect()
    }

    /// Returns one entry in force of a kind.
    pub(crate) fn noted_at<T: Matter>(&self, number: u64) -> Result<Noted<T>, WorkshopError> {
        let row = self.store().entry(number)?;
        if row.kind != T::KIND {
            return Err(WorkshopError::OtherKind {
                number,
                found: row.kind,
                asked: T::KIND,
            });
        }
        typed(row)
    }

    /// Lists entries of the journal, oldest first; with `whole` also those that were replaced or struck out.
    ///
    /// # Errors
    /// When there is no such blade.
    pub fn journal(
        &self,
        blade: Option<&str>,
        kind: Option<&str>,
        whole: bool,
    ) -> Result<Vec<JournalLine>, WorkshopError> {
        let filter = EntryFilter {
            kind,
            blade,
            subject: None,
            whole,
        };
        let rows = self.store().entries(&filter)?;
        Ok(rows.into_iter().map(JournalLine::from).collect())
    }

    /// Returns an entry with what was there before it and came after it, oldest first.
    ///
    /// # Errors
    /// When there is no such entry.
    pub fn journal_entry(&self, number: u64) -> Result<Vec<JournalLine>, WorkshopError> {
        let mut row = self.store().entry(number)?;
        while let Some(older) = row.replaces {
            row = self.store().entry(older)?;
        }
        let mut all = vec![JournalLine::from(row.clone())];
        while let Some(newer) = row.replaced_by {
            row = self.store().entry(newer)?;
            all.push(JournalLine::from(row.clone()));
        }
        Ok(all)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_day_that_has_not_come_or_is_long_past_is_refused() {
        let mut random = |_: &mut [u8]| {};
        let around = Surroundings {
            now: "2026-11-28T10:00:00Z".parse().unwrap(),
            random: &mut random,
            runner: std::path::PathBuf::new(),
            plugin_folders: Vec::new(),
            scratch: std::path::PathBuf::new(),
        };
        let day = |on: &str| {
            Who {
                on: Some(on),
                by: None,
            }
            .day(&around)
            .map_err(|error| error.to_string())
        };
        for good in ["2026-11-28", "2026-11-29", "2001-02-03", "1926-11-29"] {
            assert_eq!(day(good).as_deref(), Ok(good));
        }
        assert_eq!(Who::default().day(&around).unwrap(), "2026-11-28");
        assert_eq!(
            day("2026-11-30").unwrap_err(),
            "the day: 2026-11-30 found, today, 2026-11-28, or an earlier day is allowed"
        );
        assert_eq!(
            day("1066-10-14").unwrap_err(),
            "the day: 1066-10-14 found, at most 100 years before today, 2026-11-28, is allowed"
        );
        assert!(day("2026-11").is_err());
    }

    #[test]
    fn nothing_is_due_before_it_was_agreed() {
        let due = |by: &str| due("the day of return", &by.parse().unwrap(), "2026-11-28");
        for good in ["2026-11-28", "2026-11", "2026", "2027-01-01"] {
            assert!(due(good).is_ok(), "{good}");
        }
        assert_eq!(
            due("2026-11-27").unwrap_err().to_string(),
            "the day of return: 2026-11-27 found, 2026-11-28, the day it was agreed on, or a later day is allowed"
        );
    }
}
