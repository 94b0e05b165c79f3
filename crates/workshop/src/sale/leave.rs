//! What may leave: a blade that is here, that is the workshop's to sell, and with the stops that stand on it.

use tangmark_core::hold::{self, Stop};
use tangmark_core::record::{CustodyKind, Money, Purpose, Sheet, Term as _};
use tangmark_store::Store as _;

use super::close::{CloseOrder, event};
use super::error::SaleError;
use super::note::{SaleNote, Way};
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
        hold::may_seal(Purpose::Transfer, order.decision.as_ref(), &stops)?;
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
        let last = sheet.custody.iter().rev().find(|event| {
            matches!(
                event.kind,
                CustodyKind::Sold
                    | CustodyKind::Returned
                    | CustodyKind::Bought
                    | CustodyKind::LeftForWork
                    | CustodyKind::Given
                    | CustodyKind::Inherited
            )
        });
        let sales = self.noted::<SaleNote>(Some(blade), None)?;
        if let (Some(last), Some(sale)) = (last, sales.last())
            && let Some(closed) = &sale.matter.closed
            && last.kind == event(sale.matter.way)
            && last.to.as_ref().and_then(|to| to.name.as_deref()) == Some(&sale.matter.to)
        {
            return Err(SaleError::Left {
                blade: blade.to_owned(),
                way: sale.matter.way.word(),
                to: sale.matter.to.clone(),
                on: sale.on.clone(),
                record: closed.sequence,
            }
            .into());
        }
        if let Some(case) = self.open_case(blade)?
            && case.is_away()
        {
            return Err(SaleError::AtSpecialist {
                blade: blade.to_owned(),
                to: case.to,
            }
            .into());
        }
        Ok(())
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
    let price = |price: Option<&Money>| price.map_or_else(|| "none".to_owned(), Money::to_string);
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
        ("the day", sale.on.clone(), order.who.on.map(str::to_owned)),
    ];
    for (what, kept_as, found) in pairs {
        if let Some(found) = found.filter(|found| *found != kept_as) {
            return Err(Box::new(SaleError::UnderWay {
                blade: blade.to_owned(),
                way: kept.way.word(),
                to: kept.to.clone(),
                on: sale.on.clone(),
                what,
                kept: kept_as,
                found,
                entry: sale.number,
            }));
        }
    }
    Ok(())
}
