//! What may leave: a blade that is here, that is the workshop's to sell, and with the stops that stand on it.

use tangmark_core::hold::{self, Stop};
use tangmark_core::record::{
    CustodyEvent, CustodyKind, Decision, Money, Purpose, Sheet, Term as _,
};
use tangmark_store::Store as _;

use super::close::{CloseOrder, decision, event};
use super::error::{Begun, SaleError};
use super::note::{SaleNote, Way};
use crate::custody_of;
use crate::journal::Noted;
use crate::{Surroundings, Workshop, WorkshopError};

impl Workshop {
    /// Refuses what may not change hands, and returns the stops that go with it.
    pub(super) fn may_leave(
        &self,
        order: &CloseOrder<'_>,
        sheet: &Sheet,
        under_way: Option<&Noted<SaleNote>>,
        way: Way,
        around: &Surroundings<'_>,
        remarks: &mut Vec<String>,
    ) -> Result<Vec<Stop>, WorkshopError> {
        let blade = order.blade;
        if under_way.is_none() {
            self.is_here(blade, sheet)?;
            after_the_last(sheet, &order.who.day(around)?)?;
            if way == Way::Sale && is_customers(sheet) {
                return Err(SaleError::Customers(blade.to_owned()).into());
            }
        }
        let stops: Vec<Stop> = self
            .check(blade, around)?
            .stops
            .into_iter()
            .map(|(stop, _)| stop)
            .collect();
        let decision = decision(order, under_way);
        hold::may_seal(Purpose::Transfer, decision, &stops)?;
        if let Some(case) = self.open_case(blade)? {
            remarks.push(format!(
                "the referral of record {} to `{}` is still open: enter the reply with `tangmark refer reply {blade}`; where none will come, `tangmark journal list {blade} --kind referral` and `tangmark journal strike N`",
                case.sequence, case.to
            ));
        }
        if !stops.is_empty() {
            remarks.push(format!(
                "the blade is held and changes hands so; on page 1 of every report stands {}",
                stops
                    .iter()
                    .map(|stop| stop.rule.as_str())
                    .collect::<Vec<_>>()
                    .join(", ")
            ));
        }
        let records = self.store().records(blade)?;
        let after = records
            .iter()
            .any(|row| row.purpose == Purpose::AfterWork.key());
        if !sheet.passes.is_empty() && !after {
            remarks.push(
                "passes are logged and no record was sealed after the work: the papers show no state after it but that of the transfer".to_owned(),
            );
        }
        Ok(stops)
    }

    /// A blade that left, or that is with a specialist, is not here to be given.
    fn is_here(&self, blade: &str, sheet: &Sheet) -> Result<(), WorkshopError> {
        if let Some(case) = self.open_case(blade)?
            && case.is_away()
        {
            return Err(SaleError::AtSpecialist {
                blade: blade.to_owned(),
                to: case.to,
            }
            .into());
        }
        let workshop = self.name()?;
        let received = custody_of::received(&self.store().records(blade)?);
        let Some(gone) = custody_of::gone(&sheet.custody, &workshop, received) else {
            return Ok(());
        };
        let to = gone.to.as_ref().and_then(|to| to.name.as_deref());
        let back = custody_of::came_back(blade, &workshop);
        let sales = self.noted::<SaleNote>(Some(blade), None)?;
        let sale = sales.into_iter().rev().find(|sale| {
            gone.kind == event(sale.matter.way)
                && to == Some(&sale.matter.to)
                && gone.when.latest.as_str() == sale.on
        });
        if let Some(sale) = sale
            && let Some(closed) = &sale.matter.closed
        {
            let corrections = self.corrections(blade)?;
            let withdrawal = corrections
                .iter()
                .find(|line| line.withdraws && line.of == closed.record);
            return Err(SaleError::Left {
                blade: blade.to_owned(),
                way: sale.matter.way.word(),
                to: Box::new((sale.matter.to.clone(), sale.on)),
                record: closed.sequence,
                withdrawn_by: withdrawal.map(|line| line.sequence),
                back,
            }
            .into());
        }
        Err(SaleError::Gone {
            blade: blade.to_owned(),
            how: custody_of::words(gone),
            back,
        }
        .into())
    }
}

/// Refuses a day before the newest event of custody: the chain would go back in time.
fn after_the_last(sheet: &Sheet, on: &str) -> Result<(), SaleError> {
    let first_day = |event: &CustodyEvent| event.when.earliest.first_day();
    let last = sheet.custody.iter().max_by_key(|event| first_day(event));
    match last {
        Some(last) if on < first_day(last).as_str() => Err(SaleError::Early {
            on: on.to_owned(),
            kind: last.kind.key(),
            last: first_day(last),
        }),
        _ => Ok(()),
    }
}

/// Whether the blade is somebody else's: an owner left it for work, and no later event made it the workshop's own.
fn is_customers(sheet: &Sheet) -> bool {
    let Some(agreement) = &sheet.agreement else {
        return false;
    };
    let left = sheet
        .custody
        .iter()
        .rposition(|event| event.kind == CustodyKind::LeftForWork);
    let acquired = sheet.custody.iter().rposition(|event| {
        let kinds = [
            CustodyKind::Bought,
            CustodyKind::Given,
            CustodyKind::Inherited,
        ];
        let by_owner = event
            .to
            .as_ref()
            .is_some_and(|to| to.name.is_some() && to.name == agreement.owner.name);
        kinds.contains(&event.kind) && !by_owner
    });
    left >= acquired
}

/// A sale under way is finished as it was begun.
pub(super) fn same_as_begun(
    order: &CloseOrder<'_>,
    sale: &Noted<SaleNote>,
    blade: &str,
) -> Result<(), Box<SaleError>> {
    let kept = &sale.matter;
    let none = || "none".to_owned();
    let price = |price: Option<&Money>| price.map_or_else(none, Money::to_string);
    let decision = |decision: &Decision| {
        let (verdict, by) = (decision.verdict.key(), &decision.by);
        format!("`{verdict}` by {by}: {}", decision.reason)
    };
    let way = if order.back { Way::Return } else { kept.way };
    let pairs = [
        (
            "the way",
            kept.way.word().to_owned(),
            Some(way.word().to_owned()),
        ),
        ("the receiver", kept.to.clone(), order.to.map(str::to_owned)),
        (
            "the price",
            price(kept.price.as_ref()),
            order.price.map(|asked| price(Some(asked))),
        ),
        (
            "the terms",
            kept.terms.clone().unwrap_or_else(none),
            order.terms.map(str::to_owned),
        ),
        (
            "the decision",
            kept.decision.as_ref().map_or_else(none, decision),
            order.decision.as_ref().map(decision),
        ),
        ("the day", sale.on.clone(), order.who.on.map(str::to_owned)),
    ];
    for (what, kept_as, found) in pairs {
        if let Some(found) = found.filter(|found| *found != kept_as) {
            return Err(Box::new(SaleError::UnderWay {
                blade: blade.to_owned(),
                way: kept.way.word(),
                begun: Box::new(Begun {
                    to: kept.to.clone(),
                    on: sale.on.clone(),
                    what,
                    kept: kept_as,
                    found,
                }),
                entry: sale.number,
            }));
        }
    }
    Ok(())
}
