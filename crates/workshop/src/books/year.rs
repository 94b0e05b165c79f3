//! A year of the books, by month and by blade.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::record::{CustodyEvent, CustodyKind, PartialDate, Pass};
use tangmark_core::units::Decimal;
use tangmark_report::{MonthBars, bars_svg};
use tangmark_store::{StandingFilter, Store as _};

use super::account::Parts;
use super::sums::plus;
use super::trades::{Standing, Trade};
use super::{BookLine, BooksError, CurrencyAccount, Sums};
use crate::output::NewFile;
use crate::{Surroundings, Workshop, WorkshopError};

/// Blades that are looked at in one go.
const PAGE: usize = 500;
/// Width of the chart, mm.
const WIDTH: f64 = 166.0;

/// One month of a year: what came in and went out in it, and the hours.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct MonthLine {
    /// `2026-11`.
    pub month: String,
    /// Money that came in: sales and other income.
    pub came: Sums,
    /// Money that went out: purchases, stock, other costs. Consumables that were used up went out when they were bought.
    pub went: Sums,
    /// Passes.
    pub passes: usize,
    /// Time of the passes, minutes.
    pub pass_minutes: Decimal,
    /// Hours outside passes, minutes.
    pub other_minutes: Decimal,
}

/// What a year holds of one blade, or of the workshop as a whole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BladeYear {
    /// Blade; none for the workshop as a whole.
    pub blade: Option<String>,
    /// Title.
    pub title: String,
    /// Time of passes and other hours, minutes.
    pub minutes: Decimal,
    /// Sums, one for each currency, by its code; hours are not reckoned here.
    pub currencies: Vec<CurrencyAccount>,
}

/// The books of one year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct YearBook {
    /// Year.
    pub year: String,
    /// The twelve months.
    pub months: Vec<MonthLine>,
    /// The blades of which something is in the books of the year, by key; the workshop as a whole first.
    pub blades: Vec<BladeYear>,
    /// All that came in.
    pub came: Sums,
    /// All that went out.
    pub went: Sums,
    /// What is left: came − went.
    pub left: Sums,
    /// Passes.
    pub passes: usize,
    /// All hours, minutes.
    pub minutes: Decimal,
    /// Sales and purchases of the year that are not counted, since their records were withdrawn.
    pub remarks: Vec<String>,
}

/// What a year gathers of one blade.
#[derive(Default)]
struct Gathered {
    title: String,
    minutes: Decimal,
    bought: Sums,
    consumables: Sums,
    costs: Sums,
    stocked: Sums,
    sold: Sums,
    income: Sums,
    anything: bool,
}

/// What is said of a blade, by its newest sheet and its sealed passes.
struct Said {
    title: String,
    passes: Vec<Pass>,
    custody: Vec<CustodyEvent>,
}

struct Gatherer {
    year: String,
    months: Vec<MonthLine>,
    /// By blade; the empty key is the workshop as a whole.
    blades: BTreeMap<String, Gathered>,
    remarks: Vec<String>,
}

impl Gatherer {
    fn month(&mut self, day: &str) -> Option<&mut MonthLine> {
        let month = day.strip_prefix(self.year.as_str())?.get(1..3)?;
        let number: usize = month.parse().ok()?;
        self.months.get_mut(number.checked_sub(1)?)
    }

    fn line(&mut self, line: &BookLine) -> Result<(), BooksError> {
        let Some(month) = self.month(&line.on) else {
            return Ok(());
        };
        if let Some(money) = &line.money {
            match line.kind.as_str() {
                "income" => month.came.add(money)?,
                "cost" | "stock" => month.went.add(money)?,
                _ => {}
            }
        }
        let time = line.amount.as_ref().filter(|_| line.kind == "hours");
        let minutes = time.map_or(Decimal::ZERO, |time| time.value);
        month.other_minutes = plus(month.other_minutes, minutes)?;
        let blade = line.blade.clone().unwrap_or_default();
        let gathered = self.blades.entry(blade).or_default();
        gathered.anything = true;
        gathered.minutes = plus(gathered.minutes, minutes)?;
        let sums = match line.kind.as_str() {
            "cost" => &mut gathered.costs,
            "income" => &mut gathered.income,
            "use" => &mut gathered.consumables,
            "stock" => &mut gathered.stocked,
            _ => return Ok(()),
        };
        line.money.as_ref().map_or(Ok(()), |money| sums.add(money))
    }

    fn blade(&mut self, blade: &str, said: &Said, trades: &[Trade<'_>]) -> Result<(), BooksError> {
        let mut gathered = self.blades.remove(blade).unwrap_or_default();
        gathered.title.clone_from(&said.title);
        for pass in &said.passes {
            // What is known to the month counts in it; what is known to the year counts in its last.
            let Some(month) = self.month(&pass.on.last_day()) else {
                continue;
            };
            gathered.anything = true;
            month.passes += 1;
            if let Some(time) = &pass.time {
                month.pass_minutes = plus(month.pass_minutes, time.0.value)?;
                gathered.minutes = plus(gathered.minutes, time.0.value)?;
            }
        }
        for trade in trades {
            let event = trade.event;
            let (Some(price), Some(month)) =
                (&event.price, self.month(&event.when.latest.last_day()))
            else {
                continue;
            };
            if !trade.counts() {
                if matches!(trade.standing, Standing::Withdrawn { .. }) {
                    let told = trade.remark(blade);
                    self.remarks
                        .extend(told.map(|told| format!("{blade}: {told}")));
                }
                continue;
            }
            gathered.anything = true;
            if event.kind == CustodyKind::Bought {
                month.went.add(price)?;
                gathered.bought.add(price)?;
            } else {
                month.came.add(price)?;
                gathered.sold.add(price)?;
            }
        }
        self.blades.insert(blade.to_owned(), gathered);
        Ok(())
    }

    fn finish(self) -> Result<YearBook, BooksError> {
        let mut all = YearBook {
            year: self.year,
            months: self.months,
            blades: Vec::new(),
            came: Sums::default(),
            went: Sums::default(),
            left: Sums::default(),
            passes: 0,
            minutes: Decimal::ZERO,
            remarks: self.remarks,
        };
        for month in &all.months {
            all.came.add_all(&month.came)?;
            all.went.add_all(&month.went)?;
            all.passes += month.passes;
            all.minutes = plus(all.minutes, plus(month.pass_minutes, month.other_minutes)?)?;
        }
        all.left.add_all(&all.came)?;
        all.left.take_all(&all.went)?;
        for (blade, one) in self.blades {
            if !one.anything {
                continue;
            }
            let mut costs = one.costs;
            costs.add_all(&one.stocked)?;
            let parts = Parts {
                bought: one.bought,
                consumables: one.consumables,
                costs,
                sold: one.sold,
                income: one.income,
            };
            all.blades.push(BladeYear {
                currencies: parts.currencies(None)?,
                title: one.title,
                minutes: one.minutes,
                blade: (!blade.is_empty()).then_some(blade),
            });
        }
        Ok(all)
    }
}

impl Workshop {
    /// Calls `look` with every blade, by key, and what is said of it.
    fn each_blade(
        &self,
        look: &mut dyn FnMut(&str, Said) -> Result<(), WorkshopError>,
    ) -> Result<(), WorkshopError> {
        let mut after: Option<String> = None;
        loop {
            let page = self.store().standings(&StandingFilter {
                after: after.as_deref(),
                limit: PAGE,
                ..StandingFilter::default()
            })?;
            for row in &page {
                let sheet = self.kept_sheet(&row.blade)?;
                let (on_sheet, custody) =
                    sheet.map_or_else(Default::default, |sheet| (sheet.passes, sheet.custody));
                let said = Said {
                    title: row.title.clone(),
                    passes: self.all_passes(&row.blade, on_sheet)?,
                    custody,
                };
                look(&row.blade, said)?;
            }
            match page.last() {
                Some(last) => after = Some(last.blade.clone()),
                None => return Ok(()),
            }
        }
    }

    /// Returns the books of a year, by month and blade; without a year those of this one.
    ///
    /// # Errors
    /// When the year is none, or a sheet cannot be read.
    pub fn book_year(
        &self,
        year: Option<&str>,
        around: &Surroundings<'_>,
    ) -> Result<YearBook, WorkshopError> {
        let year = year.unwrap_or_else(|| around.now.as_str().get(..4).unwrap_or_default());
        if year.len() != 4 || year.parse::<PartialDate>().is_err() {
            return Err(BooksError::Day {
                what: "year",
                found: year.chars().take(40).collect(),
            }
            .into());
        }
        let mut gatherer = Gatherer {
            year: year.to_owned(),
            months: (1..=12)
                .map(|month| MonthLine {
                    month: format!("{year}-{month:02}"),
                    ..MonthLine::default()
                })
                .collect(),
            blades: BTreeMap::new(),
            remarks: Vec::new(),
        };
        for line in self.book_lines(None)? {
            gatherer.line(&line)?;
        }
        let own = self.name()?;
        self.each_blade(&mut |blade, said| {
            let trades = self.trades(blade, &said.custody, &own)?;
            Ok(gatherer.blade(blade, &said, &trades)?)
        })?;
        Ok(gatherer.finish()?)
    }

    /// Writes what came in and went out in each month of a year as bars, one field for each currency, into a new SVG file.
    ///
    /// # Errors
    /// When nothing is in the books of the year, or the file is there already or cannot be written.
    pub fn draw_year(&self, book: &YearBook, file: &Path) -> Result<PathBuf, WorkshopError> {
        let mut currencies: Vec<&str> = book.came.iter().map(|(currency, _)| currency).collect();
        currencies.extend(book.went.iter().map(|(currency, _)| currency));
        currencies.sort_unstable();
        currencies.dedup();
        let at = |sums: &Sums, currency: &str| sums.get(currency).map_or(0.0, Decimal::to_f64);
        let fields: Vec<MonthBars<'_>> = currencies
            .into_iter()
            .map(|currency| MonthBars {
                unit: currency,
                came: book
                    .months
                    .iter()
                    .map(|month| at(&month.came, currency))
                    .collect(),
                went: book
                    .months
                    .iter()
                    .map(|month| at(&month.went, currency))
                    .collect(),
            })
            .collect();
        let (fonts, _) = self.fonts()?;
        let svg = fonts
            .scope(|| bars_svg(&book.year, &fields, WIDTH))
            .ok_or_else(|| BooksError::EmptyYear(book.year.clone()))?;
        NewFile::open(file)?.write(svg.as_bytes())?;
        Ok(file.to_owned())
    }
}
