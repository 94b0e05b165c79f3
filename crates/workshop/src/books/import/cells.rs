//! What stands in a cell, turned into what the sheet has for it.

use serde_json::{Value, json};
use tangmark_core::check::nearest;
use tangmark_core::record::{Money, PartialDate};
use tangmark_core::units::import::with_unit;
use tangmark_core::units::reading::read_signed;
use tangmark_core::units::{Decimal, Dimension};

use super::super::sums::coin_digits;
use super::map::{Dates, Numbers};
use super::places::Holds;
use super::targets::Target;

/// Why a cell is not taken: what is wrong, and the next step.
pub(super) type Fault = (String, String);

/// Most terms that are listed in a hint.
const MOST_TERMS: usize = 12;

fn short(text: &str) -> String {
    let mut cut: String = text.chars().take(60).collect();
    if cut.len() < text.len() {
        cut.push('…');
    }
    cut
}

/// How the cells of a table are written.
#[derive(Clone, Debug)]
pub(super) struct Writing {
    pub(super) numbers: Numbers,
    pub(super) dates: Dates,
    pub(super) currency: Option<String>,
}

impl Writing {
    /// Turns a cell into what a place of the sheet holds, in the short form of sheets.
    pub(super) fn value(&self, cell: &str, target: &Target) -> Result<Value, Fault> {
        let worded = target.words.get(cell.trim()).map_or(cell, String::as_str);
        match &target.holds {
            Holds::List(inner) => {
                let parts: Vec<&str> = match &target.split {
                    Some(by) => cell.split(by.as_str()).collect(),
                    None => vec![cell],
                };
                let parts = parts
                    .into_iter()
                    .map(str::trim)
                    .filter(|part| !part.is_empty());
                let values = parts.map(|part| {
                    let worded = target.words.get(part).map_or(part, String::as_str);
                    self.one(worded, inner, target)
                });
                Ok(Value::Array(values.collect::<Result<_, _>>()?))
            }
            holds => self.one(worded, holds, target),
        }
    }

    fn one(&self, cell: &str, holds: &Holds, target: &Target) -> Result<Value, Fault> {
        match holds {
            Holds::Quantity(dimension) => self.quantity(cell, *dimension, target),
            Holds::Money => self
                .money(cell, target)
                .map(|money| json!(money.to_string())),
            Holds::Date => self.dates.read(cell).map(Value::String),
            Holds::Span => {
                let (first, last) = cell.split_once("..").unwrap_or((cell, cell));
                let (first, last) = (self.dates.read(first)?, self.dates.read(last)?);
                Ok(json!(format!("{first}..{last}")))
            }
            Holds::Term(terms) => {
                let plain = |text: &str| text.trim().to_lowercase().replace([' ', '-'], "_");
                let found = terms.iter().find(|term| {
                    term.key == plain(cell) || (!term.kanji.is_empty() && term.kanji == cell.trim())
                });
                if let Some(term) = found {
                    return Ok(json!(term.key));
                }
                let keys: Vec<String> = terms.iter().map(|term| term.key.to_owned()).collect();
                let near = nearest(cell, &keys);
                let some: Vec<&str> = keys.iter().take(MOST_TERMS).map(String::as_str).collect();
                let more = if keys.len() > MOST_TERMS { ", …" } else { "" };
                Err((
                    format!(
                        "`{}` found, a term of the list is allowed{}",
                        short(cell),
                        near.map_or_else(String::new, |near| format!(", such as `{near}`"))
                    ),
                    format!(
                        "say in the map which term it is, as in words = {{ \"{}\" = \"{}\" }}; terms are {}{more}",
                        short(cell),
                        near.unwrap_or("…"),
                        some.join(", ")
                    ),
                ))
            }
            Holds::Key => cell
                .trim()
                .parse::<tangmark_core::record::Key>()
                .map(|key| json!(key))
                .map_err(|error| {
                    (
                        error.to_string(),
                        "write lower-case letters, digits and hyphens, at most 40".to_owned(),
                    )
                }),
            Holds::YesNo => match cell.trim().to_lowercase().as_str() {
                "yes" | "true" | "1" => Ok(json!(true)),
                "no" | "false" | "0" => Ok(json!(false)),
                _ => Err((
                    format!("`{}` found, yes or no is allowed", short(cell)),
                    format!(
                        "say in the map what it means: words = {{ \"{}\" = \"yes\" }}",
                        short(cell)
                    ),
                )),
            },
            Holds::Whole => {
                let number = self.numbers.plain(cell)?;
                number
                    .parse::<u32>()
                    .map(|number| json!(number))
                    .map_err(|_| {
                        (
                            format!("`{}` found, a whole number is allowed", short(cell)),
                            "write it with digits alone".to_owned(),
                        )
                    })
            }
            Holds::Words | Holds::List(_) => Ok(json!(format!("{}{cell}", target.prefix))),
        }
    }

    fn quantity(&self, cell: &str, dimension: Dimension, target: &Target) -> Result<Value, Fault> {
        let text = with_unit(&self.numbers.plain(cell)?, target.unit.as_deref());
        read_signed(&text, dimension).map_err(|error| {
            let hint = if target.unit.is_none() {
                format!(
                    "{}; a unit for the whole column is named in the map: unit = \"…\"",
                    error.hint()
                )
            } else {
                error.hint()
            };
            (error.to_string(), hint)
        })?;
        Ok(target.method.as_ref().map_or_else(
            || json!(text),
            |method| json!({ "text": text, "method": method }),
        ))
    }

    /// Reads an amount of money: `1200 EUR`, `EUR 1200`, `€ 1.200,00`, or a bare number in the currency of the column.
    pub(super) fn money(&self, cell: &str, target: &Target) -> Result<Money, Fault> {
        let mut amount = cell.trim().to_owned();
        let mut currency = target.currency.clone().or_else(|| self.currency.clone());
        for (sign, code) in [("€", "EUR"), ("£", "GBP"), ("円", "JPY")] {
            if let Some(rest) = amount
                .strip_prefix(sign)
                .or_else(|| amount.strip_suffix(sign))
            {
                currency = Some(code.to_owned());
                amount = rest.trim().to_owned();
            }
        }
        let is_code =
            |word: &str| word.len() == 3 && word.bytes().all(|byte| byte.is_ascii_uppercase());
        let words = amount.clone();
        if let Some((code, rest)) = words.split_once(' ').filter(|(code, _)| is_code(code)) {
            currency = Some(code.to_owned());
            rest.trim().clone_into(&mut amount);
        } else if let Some((rest, code)) = words.rsplit_once(' ').filter(|(_, code)| is_code(code))
        {
            currency = Some(code.to_owned());
            rest.trim().clone_into(&mut amount);
        }
        let fault =
            |what: &str, hint: &str| (format!("`{}` found, {what}", short(cell)), hint.to_owned());
        let amount: Decimal = self.numbers.plain(&amount)?.parse().map_err(|_| {
            fault(
                "an amount of money is allowed",
                "write it like 1200 or 1200 EUR, and state `decimal` and `thousands` of the table in the map",
            )
        })?;
        let currency = currency.ok_or_else(|| {
            fault(
                "no currency is known for it",
                "name one in the map: currency = \"EUR\" under [table], or in the column",
            )
        })?;
        let coins = coin_digits(&currency);
        let amount = in_coins(amount, coins).ok_or_else(|| {
            let allowed = match coins {
                0 => "no digits".to_owned(),
                most => format!("at most {most} digits"),
            };
            fault(
                &format!("{allowed} after the decimal mark are allowed in {currency}"),
                "say in the map what stands before decimals and between thousands (decimal = \",\" and thousands = \".\" where 1.200 is one thousand two hundred), or check the cell",
            )
        })?;
        Ok(Money { amount, currency })
    }
}

/// An amount with no more decimals than its currency has. Zeros that programs write after the coins are left out, but for
/// three digits: those may be a group of thousands.
fn in_coins(amount: Decimal, coins: u8) -> Option<Decimal> {
    if amount.digits() <= coins {
        return Some(amount);
    }
    Decimal::from_ratio_half_even(&amount.to_ratio(), coins)
        .ok()
        .filter(|short| amount.digits() != 3 && short.to_ratio() == amount.to_ratio())
}

impl Numbers {
    /// Turns the numbers of a cell into the form of readings: nothing between thousands, a full stop before decimals.
    pub(super) fn plain(self, cell: &str) -> Result<String, Fault> {
        let cell = cell.trim();
        let mut out = String::new();
        let letters: Vec<char> = cell.chars().collect();
        for (at, letter) in letters.iter().enumerate() {
            let digit = |at: Option<usize>| {
                at.and_then(|at| letters.get(at))
                    .is_some_and(char::is_ascii_digit)
            };
            let between = digit(at.checked_sub(1)) && digit(Some(at + 1));
            let is_space = matches!(letter, ' ' | '\u{a0}' | '\u{202f}');
            let thousands = self
                .thousands
                .is_some_and(|mark| mark == *letter || (mark == ' ' && is_space));
            if between && *letter == self.decimal {
                out.push('.');
            } else if between && thousands {
                let group = letters
                    .iter()
                    .skip(at + 1)
                    .take_while(|one| one.is_ascii_digit());
                if group.count() != 3 {
                    return Err((
                        format!("`{}`: three digits are allowed after the `{letter}` between thousands", short(cell)),
                        "check the cell, or state `decimal` and `thousands` of the table in the map".to_owned(),
                    ));
                }
            } else if between && matches!(letter, '.' | ',') {
                return Err((
                    format!(
                        "`{}`: `{letter}` found between digits, `{}` before decimals is allowed",
                        short(cell),
                        self.decimal
                    ),
                    "check the cell, or state `decimal` and `thousands` of the table in the map"
                        .to_owned(),
                ));
            } else {
                out.push(*letter);
            }
        }
        Ok(out)
    }
}

impl Dates {
    /// Reads a date in the form the map states; a year, a year and month, and year-month-day are always read.
    pub(super) fn read(self, cell: &str) -> Result<String, Fault> {
        let cell = cell.trim();
        if cell.parse::<PartialDate>().is_ok() {
            return Ok(cell.to_owned());
        }
        let fault = || {
            (
                format!("`{}` found, a date written like {} is allowed", short(cell), self.form()),
                "check the cell, or state the form of the table's dates in the map: dates = \"DD.MM.YYYY\"".to_owned(),
            )
        };
        let parts: Vec<&str> = cell.split(self.mark()).collect();
        let number = |part: &str, most: usize| {
            let sound =
                (1..=most).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
            sound.then(|| part.to_owned())
        };
        let (year, month, day) = match (self.order(), &parts[..]) {
            (Order::Year, [year, month, day])
            | (Order::Day, [day, month, year])
            | (Order::Month, [month, day, year]) => (*year, *month, Some(*day)),
            (Order::Year, [year, month]) | (_, [month, year]) => (*year, *month, None),
            _ => return Err(fault()),
        };
        let year = number(year, 4)
            .filter(|year| year.len() == 4)
            .ok_or_else(fault)?;
        let month = number(month, 2).ok_or_else(fault)?;
        let text = match day {
            Some(day) => format!(
                "{year}-{month:0>2}-{:0>2}",
                number(day, 2).ok_or_else(fault)?
            ),
            None => format!("{year}-{month:0>2}"),
        };
        text.parse::<PartialDate>()
            .map(|date| date.to_string())
            .map_err(|_| fault())
    }
}

/// What a date names first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    Year,
    Day,
    Month,
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn german() -> Numbers {
        Numbers {
            decimal: ',',
            thousands: Some('.'),
        }
    }

    #[test]
    fn numbers_come_to_one_form() {
        for (cell, plain) in [
            ("70,15", "70.15"),
            ("1.234,5 mm", "1234.5 mm"),
            ("2 shaku, 3 sun", "2 shaku, 3 sun"),
            ("ca. 70", "ca. 70"),
        ] {
            assert_eq!(german().plain(cell).unwrap(), plain);
        }
        let (what, _) = german().plain("70.15").unwrap_err();
        assert_eq!(
            what,
            "`70.15`: three digits are allowed after the `.` between thousands"
        );
        let english = Numbers {
            decimal: '.',
            thousands: None,
        };
        let (what, hint) = english.plain("70,15").unwrap_err();
        assert_eq!(
            what,
            "`70,15`: `,` found between digits, `.` before decimals is allowed"
        );
        assert!(hint.contains("decimal"), "{hint}");
        let spaced = Numbers {
            decimal: ',',
            thousands: Some(' '),
        };
        assert_eq!(spaced.plain("1\u{202f}200,50").unwrap(), "1200.50");
    }

    #[test]
    fn money_has_no_more_decimals_than_its_currency() {
        let english = Numbers {
            decimal: '.',
            thousands: None,
        };
        let read = |numbers: Numbers, cell: &str| {
            let writing = Writing {
                numbers,
                dates: Dates::Iso,
                currency: Some("EUR".to_owned()),
            };
            let target = super::super::targets::plain_target("cost.amount").unwrap();
            writing.money(cell, &target).map(|money| money.to_string())
        };
        for (cell, money) in [
            ("1200", "1200 EUR"),
            ("1200.5", "1200.5 EUR"),
            ("1200.5000", "1200.50 EUR"),
            ("1.200 KWD", "1.200 KWD"),
            ("90000.00 JPY", "90000 JPY"),
        ] {
            assert_eq!(read(english, cell).unwrap(), money);
        }
        assert_eq!(read(german(), "1.200").unwrap(), "1200 EUR");
        assert_eq!(read(german(), "€ 1.200,00").unwrap(), "1200.00 EUR");
        for (cell, what) in [
            (
                "1.200",
                "`1.200` found, at most 2 digits after the decimal mark are allowed in EUR",
            ),
            (
                "1.2345",
                "`1.2345` found, at most 2 digits after the decimal mark are allowed in EUR",
            ),
            (
                "45.000 円",
                "`45.000 円` found, no digits after the decimal mark are allowed in JPY",
            ),
        ] {
            let (found, hint) = read(english, cell).unwrap_err();
            assert_eq!(found, what);
            assert!(
                hint.contains("decimal = \",\"") && hint.contains("thousands"),
                "{hint}"
            );
        }
    }

    #[test]
    fn dates_come_to_one_form() {
        let read = |dates: Dates, cell: &str| dates.read(cell).ok();
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(
            read(Dates::DayMonthYearDots, "3.11.2026"),
            some("2026-11-03")
        );
        assert_eq!(read(Dates::DayMonthYearDots, "11.2026"), some("2026-11"));
        assert_eq!(read(Dates::MonthDayYear, "11/03/2026"), some("2026-11-03"));
        assert_eq!(
            read(Dates::YearMonthDaySlashes, "2026/11/3"),
            some("2026-11-03")
        );
        assert_eq!(read(Dates::Iso, "2026"), some("2026"));
        for bad in [
            "31.02.2026",
            "3.11.26",
            "11/03/2026",
            "3. November",
            "",
            "1.2.3.2026",
        ] {
            assert_eq!(read(Dates::DayMonthYearDots, bad), None, "{bad}");
        }
        let (what, _) = Dates::Iso.read("03.11.2026").unwrap_err();
        assert_eq!(
            what,
            "`03.11.2026` found, a date written like YYYY-MM-DD is allowed"
        );
    }
}
