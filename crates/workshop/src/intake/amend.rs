//! Changes of what was agreed, and what came of the points to ask at.

use serde::Serialize;
use serde_json::{Value, json};
use tangmark_core::record::{Agreement, BladeKind, Money, Sheet, Term as _};
use tangmark_core::units::Decimal;

use super::form::{FormAgreement, FormParcel, FormPerson, term};
use super::{IntakeError, IntakeNote, agreement, without_prompts};
use crate::books::Account;
use crate::edit::{Edit, Edited};
use crate::journal::{Noted, Who};
use crate::{Surroundings, Workshop, WorkshopError};

/// What is to change; what is left out stays.
#[derive(Clone, Debug, Default)]
pub struct IntakeChange {
    /// Title.
    pub title: Option<String>,
    /// Kind by make, a term.
    pub kind: Option<String>,
    /// Agreement; points to ask at are added.
    pub agreement: FormAgreement,
    /// Parcel, of a blade that was entered by its arrival; what came and what was hidden is added.
    pub parcel: FormParcel,
}

/// A point to ask at and what came of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AskPoint {
    /// Number, from 1.
    pub number: usize,
    /// The point.
    pub point: String,
    /// Days and answers, oldest first.
    pub answers: Vec<(String, String)>,
}

/// An arrival as it is kept.
#[derive(Clone, Debug, Serialize)]
pub struct IntakeShown {
    /// Blade.
    pub blade: String,
    /// Title.
    pub title: String,
    /// The entry of its arrival; none for a blade that was entered as a sheet.
    pub arrival: Option<Noted<IntakeNote>>,
    /// What is agreed with the owner.
    pub agreement: Option<Agreement>,
    /// The points to ask at.
    pub points: Vec<AskPoint>,
    /// What the work has cost so far, where a price ceiling is agreed.
    pub spent: Option<Spent>,
}

/// Cost so far by the books, against the price that was agreed as the most. What was paid for the blade is none of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Spent {
    /// Hours at their price, consumables and other costs, in the currency of the ceiling.
    pub cost: Money,
    /// Agreed as the most.
    pub ceiling: Money,
    /// It is above.
    pub over: bool,
    /// Hours have no price in this currency, and are not in the cost.
    pub without_hours: bool,
}

impl Spent {
    fn of(ceiling: &Money, account: &Account) -> Self {
        let zero = Decimal::ZERO;
        let in_currency = account
            .currencies
            .iter()
            .find(|one| one.currency == ceiling.currency);
        let cost = in_currency.map_or(Some(zero), |one| {
            one.consumables
                .checked_add(one.costs)?
                .checked_add(one.labour)
        });
        // Beyond what a decimal holds it is above any ceiling.
        let over = cost.is_none_or(|cost| cost > ceiling.amount);
        Self {
            cost: Money {
                amount: cost.unwrap_or(ceiling.amount),
                currency: ceiling.currency.clone(),
            },
            ceiling: ceiling.clone(),
            over,
            without_hours: account.minutes > zero
                && account
                    .rate
                    .as_ref()
                    .is_none_or(|rate| rate.hour.currency != ceiling.currency),
        }
    }
}

fn points(agreement: &Agreement) -> Vec<AskPoint> {
    let answers = |point: &str| {
        agreement
            .asked
            .iter()
            .filter(|one| one.point == point)
            .map(|one| (one.on.to_string(), one.answer.clone()))
            .collect()
    };
    agreement
        .stop_and_ask
        .iter()
        .enumerate()
        .map(|(index, point)| AskPoint {
            number: index + 1,
            answers: answers(point),
            point: point.clone(),
        })
        .collect()
}

/// Finds a point by its number or its words.
fn find(points: &[AskPoint], asked: &str) -> Result<String, IntakeError> {
    let asked = asked.trim();
    let found = points.iter().find(|one| one.point == asked).or_else(|| {
        let number: usize = asked.parse().ok()?;
        points.iter().find(|one| one.number == number)
    });
    found
        .map(|one| one.point.clone())
        .ok_or_else(|| IntakeError::NoPoint {
            found: asked.chars().take(80).collect(),
            known: points
                .iter()
                .map(|one| format!("{} \"{}\"", one.number, one.point))
                .collect(),
        })
}

impl Workshop {
    /// Shows how a blade came and what is agreed.
    ///
    /// # Errors
    /// When it is not known or has no sheet.
    pub fn arrival(&self, blade: &str) -> Result<IntakeShown, WorkshopError> {
        let sheet = self.edit(blade)?.sheet()?;
        let ceiling = sheet
            .agreement
            .as_ref()
            .and_then(|agreement| agreement.price_ceiling.as_ref());
        let spent = ceiling
            .map(|ceiling| Ok::<_, WorkshopError>(Spent::of(ceiling, &self.account(blade, None)?)))
            .transpose()?;
        Ok(IntakeShown {
            spent,
            blade: blade.to_owned(),
            title: sheet.blade.title,
            arrival: self.arrival_entry(blade)?,
            points: sheet.agreement.iter().flat_map(points).collect(),
            agreement: sheet.agreement,
        })
    }

    fn arrival_entry(&self, blade: &str) -> Result<Option<Noted<IntakeNote>>, WorkshopError> {
        Ok(self.noted(Some(blade), None)?.into_iter().next_back())
    }

    /// Changes what was agreed, or what is known of the parcel, in one go.
    ///
    /// # Errors
    /// When nothing is said, or what is said is not sound.
    pub fn amend_intake(
        &self,
        blade: &str,
        change: &IntakeChange,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Edited, WorkshopError> {
        let mut edit = self.edit(blade)?;
        let mut changed = Vec::new();
        if let Some(title) = &change.title {
            edit.body["blade"]["title"] = json!(title);
            changed.push("title");
        }
        if let Some(kind) = &change.kind {
            let kind = term::<BladeKind>("the kind by make", kind)?;
            edit.body["blade"]["kind_by_make"] = json!(kind.key());
            changed.push("kind");
        }
        if change.agreement.is_said() {
            let before = edit.sheet()?;
            let agreement = agreed(&edit, &change.agreement, &who.day(around)?)?;
            agreement::check_days(&change.agreement, &agreement, around)?;
            edit.set("agreement", agreement);
            raised(&before, &edit.sheet()?, change.agreement.consent.as_deref())?;
            changed.push("agreement");
        }
        if change.parcel != FormParcel::default() {
            let old = self
                .arrival_entry(blade)?
                .ok_or_else(|| IntakeError::NoEntry(blade.to_owned()))?;
            let mut note = old.matter.clone();
            note.add(&change.parcel)?;
            if let Some(remark) = without_prompts(&change.parcel.countries) {
                edit.remark(remark);
            }
            edit.renote(self, &old, &note, who.by, around)?;
            changed.push("parcel");
        }
        if changed.is_empty() {
            return Err(IntakeError::Nothing.into());
        }
        let by = self.who_by(who)?;
        edit.by(&by);
        edit.save(
            self,
            &format!("intake: {} changed", changed.join(", ")),
            around,
        )
    }

    /// Notes what came of a point at which to stop and ask: the owner's answer, or that it was looked for and not met.
    ///
    /// # Errors
    /// When no such point is agreed.
    pub fn answer_point(
        &self,
        blade: &str,
        point: &str,
        answer: &str,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Edited, WorkshopError> {
        let mut edit = self.edit(blade)?;
        let sheet = edit.sheet()?;
        let agreement = sheet
            .agreement
            .as_ref()
            .ok_or_else(|| IntakeError::NoAgreement(blade.to_owned()))?;
        let point = find(&points(agreement), point)?;
        let one = json!({ "point": point, "on": who.day(around)?, "answer": answer });
        let mut asked: Vec<Value> = edit.body["agreement"]["asked"]
            .as_array()
            .cloned()
            .unwrap_or_default();
        asked.push(one);
        edit.body["agreement"]["asked"] = Value::Array(asked);
        let by = self.who_by(who)?;
        edit.by(&by);
        edit.save(self, "intake: a point to ask at is answered", around)
    }

    fn who_by(&self, who: &Who<'_>) -> Result<String, WorkshopError> {
        who.by.map_or_else(|| self.name(), |by| Ok(by.to_owned()))
    }
}

/// Refuses a limit for the steel above the one that was agreed while steel has gone already, unless the owner's consent
/// comes with it: a spent limit holds the blade, and a number alone would answer that hold.
fn raised(before: &Sheet, after: &Sheet, consent: Option<&str>) -> Result<(), IntakeError> {
    let limit = |sheet: &Sheet| Some(sheet.agreement.as_ref()?.steel_limit.as_ref()?.value);
    let consented = consent.is_some_and(|consent| !consent.trim().is_empty());
    match (limit(before), limit(after)) {
        (Some(agreed), Some(found))
            if found > agreed && !before.passes.is_empty() && !consented =>
        {
            Err(IntakeError::Raised {
                found: found.to_string(),
                agreed: agreed.to_string(),
                passes: before.passes.len(),
            })
        }
        _ => Ok(()),
    }
}

/// The agreement with what is said; a first one where there was none.
fn agreed(edit: &Edit, said: &FormAgreement, on: &str) -> Result<Value, IntakeError> {
    let Some(old) = edit.body.get("agreement").filter(|old| old.is_object()) else {
        return agreement::agreement(said, &FormPerson::default(), on);
    };
    let mut new = old.clone();
    agreement::amend_agreement(&mut new, said);
    if said.owner != FormPerson::default() {
        agreement::amend_person(&mut new["owner"], &said.owner)?;
    }
    Ok(new)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn sheet(limit: Option<&str>, passes: usize) -> Sheet {
        let pass = |number: usize| json!({ "id": format!("p{number}"), "on": "2026-03-20", "operation": "grind", "zones": ["ground"], "time": "1 h" });
        let mut body = json!({
            "blade": { "id": "reed", "title": "A blade", "object_type": "sword", "kind_by_make": "katana", "construction": "shinogi_zukuri" },
            "agreement": {
                "owner": { "role": "customer", "name": "O. Varga" }, "work": "Polish", "etch_allowed": false,
                "on": "2026-03-01",
            },
            "passes": (1..=passes).map(pass).collect::<Vec<_>>(),
        });
        if let Some(limit) = limit {
            body["agreement"]["steel_limit"] = json!(limit);
        }
        Workshop::begin("reed", body).sheet().unwrap()
    }

    #[test]
    fn a_limit_is_raised_over_passes_with_consent_alone() {
        let agreed = sheet(Some("10 g"), 2);
        let more = sheet(Some("15 g"), 2);
        let refused = raised(&agreed, &more, None).unwrap_err();
        let words = refused.to_string();
        assert!(
            words.starts_with("steel limit 15")
                && words.contains(" g found, at most the agreed 10")
                && words.ends_with("without the owner's consent: the sheet has 2 passes already"),
            "{words}"
        );
        assert!(refused.hint().contains("`--consent TEXT`"));
        raised(&agreed, &more, Some(" ")).unwrap_err();
        raised(&agreed, &more, Some("Letter of 3 May 2026: up to 15 g")).unwrap();
        // Less, none before, and nothing worked yet: a number is enough.
        raised(&more, &agreed, None).unwrap();
        raised(&sheet(None, 2), &more, None).unwrap();
        raised(&sheet(Some("10 g"), 0), &sheet(Some("15 g"), 0), None).unwrap();
    }

    #[test]
    fn a_point_is_found_by_words_or_number() {
        let points: Vec<AskPoint> = ["any crack", "2"]
            .iter()
            .enumerate()
            .map(|(index, point)| AskPoint {
                number: index + 1,
                point: (*point).to_owned(),
                answers: Vec::new(),
            })
            .collect();
        assert_eq!(find(&points, "any crack").unwrap(), "any crack");
        assert_eq!(find(&points, "1").unwrap(), "any crack");
        assert_eq!(find(&points, "2").unwrap(), "2");
        assert_eq!(
            find(&points, "crack").unwrap_err().to_string(),
            "`crack` is no point to stop and ask at, agreed are 1 \"any crack\"; 2 \"2\""
        );
        assert_eq!(
            find(&[], "crack").unwrap_err().to_string(),
            "`crack` is no point to stop and ask at, none is agreed"
        );
    }
}
