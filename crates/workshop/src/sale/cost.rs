//! What a blade has cost, from the books: for the price, and for its owner.

use std::fmt::Write as _;

use tangmark_core::record::Money;
use tangmark_core::units::Decimal;
use tangmark_report::Speech;

use crate::books::{Account, BookLine, hours_and_minutes};
use crate::{Workshop, WorkshopError};

impl Workshop {
    /// What the blade has cost so far, one sum for each currency, and what that is made of: bought for, consumables, other
    /// costs, hours at the rate.
    pub(super) fn cost_so_far(
        &self,
        blade: &str,
    ) -> Result<(Vec<Money>, Vec<String>), WorkshopError> {
        let account = self.account(blade, None)?;
        let mut sums = Vec::new();
        let mut made_of = Vec::new();
        for one in &account.currencies {
            let parts = [
                ("bought for", one.bought),
                ("consumables", one.consumables),
                ("other costs", one.costs),
                ("hours", one.labour),
            ];
            let sum = parts
                .iter()
                .try_fold(Decimal::ZERO, |sum, (_, part)| sum.checked_add(*part));
            let Some(amount) = sum.filter(|sum| !sum.is_zero()) else {
                continue;
            };
            let named: Vec<String> = parts
                .iter()
                .filter(|(_, part)| !part.is_zero())
                .map(|(name, part)| format!("{name} {part} {}", one.currency))
                .collect();
            made_of.push(named.join(", "));
            sums.push(Money {
                amount,
                currency: one.currency.clone(),
            });
        }
        made_of.extend(account.remarks);
        Ok((sums, made_of))
    }

    /// Hours and costs for the owner, in words.
    pub(super) fn account_text(
        &self,
        blade: &str,
        speech: Speech,
    ) -> Result<String, WorkshopError> {
        let account = self.account(blade, None)?;
        let workshop = self.name()?;
        Ok(match speech {
            Speech::English => english(&account, &workshop),
            Speech::Japanese => japanese(&account, &workshop),
            Speech::Both => format!(
                "{}\n{}",
                english(&account, &workshop),
                japanese(&account, &workshop)
            ),
        })
    }
}

/// What concerns the owner: what was used and paid for this blade. What it was bought for is not theirs to read.
fn owners<'a>(account: &'a Account, kinds: &'a [&str]) -> impl Iterator<Item = &'a BookLine> {
    account
        .lines
        .iter()
        .filter(move |line| kinds.contains(&line.kind.as_str()))
}

fn rows(account: &Account, kinds: &[&str], none: &str) -> String {
    let mut text = String::new();
    for line in owners(account, kinds) {
        let amount = line
            .amount
            .as_ref()
            .map(|amount| format!(", {}", amount.text));
        let money = line.money.as_ref().map(|money| format!(", {money}"));
        let _ = writeln!(
            text,
            "  {}  {}{}{}",
            line.on,
            line.what,
            amount.unwrap_or_default(),
            money.unwrap_or_default()
        );
    }
    if text.is_empty() {
        text = format!("  {none}\n");
    }
    text
}

fn english(account: &Account, workshop: &str) -> String {
    let labour = account
        .labour
        .as_ref()
        .map(|labour| format!(", {labour}"))
        .unwrap_or_default();
    format!(
        "Account of {title}, blade `{blade}`, by {workshop}

Hours: {all}{labour}
  passes {passes}, other work {other}
{hours}
Used up and paid:
{costs}
Not in it:
{remarks}",
        title = account.title,
        blade = account.blade,
        all = hours_and_minutes(account.minutes),
        passes = hours_and_minutes(account.pass_minutes),
        other = hours_and_minutes(account.other_minutes),
        hours = rows(account, &["hours"], "no other work is entered"),
        costs = rows(account, &["use", "cost"], "nothing is entered"),
        remarks = not_in_it(account, |pair| pair.en),
    )
}

fn japanese(account: &Account, workshop: &str) -> String {
    let labour = account
        .labour
        .as_ref()
        .map(|labour| format!("、{labour}"))
        .unwrap_or_default();
    format!(
        "{title}、刀身 `{blade}` の明細（{workshop}）

作業時間：{all}{labour}
  研ぎ {passes}、その他の作業 {other}
{hours}
材料と費用：
{costs}
含まないもの：
{remarks}",
        title = account.title,
        blade = account.blade,
        all = hours_and_minutes(account.minutes),
        passes = hours_and_minutes(account.pass_minutes),
        other = hours_and_minutes(account.other_minutes),
        hours = rows(account, &["hours"], "記載なし"),
        costs = rows(account, &["use", "cost"], "記載なし"),
        remarks = not_in_it(account, |pair| pair.ja),
    )
}

/// A sentence in both languages.
struct Pair {
    en: String,
    ja: String,
}

/// What the account cannot know, for the owner. What [`Account::remarks`] says is for the workshop: it speaks of entries,
/// options and what the workshop paid for the blade.
fn not_in_it(account: &Account, tongue: fn(Pair) -> String) -> String {
    let mut remarks = Vec::new();
    if account.passes_without_time > 0 {
        let count = account.passes_without_time;
        remarks.push(Pair {
            en: format!("passes whose time was not noted: {count}"),
            ja: format!("時間の記載がない研ぎの工程：{count}"),
        });
    }
    remarks.extend(
        owners(account, &["use"])
            .filter(|line| line.money.is_none())
            .map(|line| Pair {
                en: format!(
                    "what `{}` of {} cost, which is not known",
                    line.what, line.on
                ),
                ja: format!("{} の「{}」の費用（不明）", line.on, line.what),
            }),
    );
    if account.rate.is_none() && !account.minutes.is_zero() {
        remarks.push(Pair {
            en: "the hours as a sum of money: no price of an hour is set".to_owned(),
            ja: "作業時間の金額：一時間の料金が定められていない".to_owned(),
        });
    }
    if remarks.is_empty() {
        remarks.push(Pair {
            en: "nothing that is known of".to_owned(),
            ja: "知られている限りなし".to_owned(),
        });
    }
    remarks.into_iter().fold(String::new(), |mut lines, pair| {
        let _ = writeln!(lines, "  {}", tongue(pair));
        lines
    })
}
