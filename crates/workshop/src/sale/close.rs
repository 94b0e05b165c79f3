//! What ends a sale or gives a blade back: custody, record, papers, package, stage, each a step that is done once.
//!
//! What was done is read from what is there, never from a flag: so a run that was ended anywhere goes on where it was.

use std::path::{Path, PathBuf};

use serde::Serialize;
use serde_json::{Value, json};
use tangmark_core::record::{
    CustodyKind, Decision, Money, Purpose, RefersTo, Role, Sheet, Term as _,
};
use tangmark_report::Speech;
use tangmark_store::{RecordRow, Store as _};

use super::error::SaleError;
use super::leave;
use super::note::{PapersWish, SaleClosed, SaleNote, SalePaper, Way};
use super::papers::Papers;
use crate::custody_of::own_hand;
use crate::journal::{Noted, Who};
use crate::stage::{Stage, StageOrder};
use crate::steps::{Step, Tell, Walk};
use crate::{Order, Paper, Surroundings, Workshop, WorkshopError};

/// Order to sell a blade or to give it back. What is left out is that of the sale under way.
#[derive(Clone, Debug)]
pub struct CloseOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// Given back, not sold.
    pub back: bool,
    /// Buyer; of a return the owner, by the agreement unless given.
    pub to: Option<&'a str>,
    /// Price.
    pub price: Option<&'a Money>,
    /// Terms, in words; they stay in the journal.
    pub terms: Option<&'a str>,
    /// What is to happen with the blade, where the record is to say so.
    pub decision: Option<Decision>,
    /// Language of the papers; English unless given.
    pub speech: Option<Speech>,
    /// Paper; A4 unless given.
    pub paper: Option<Paper>,
    /// Withheld values that the papers show, named by their place. Nothing is shown that is not named.
    pub reveal: &'a [String],
    /// Folder for papers and package; left out: one in `out/` of the workshop.
    pub out: Option<&'a Path>,
    /// Folder with the memory of keys seen before.
    pub memory: Option<&'a Path>,
    /// Passphrase of the signing key.
    pub passphrase: &'a [u8],
    /// Who sells it, and when.
    pub who: Who<'a>,
}

/// What came of it.
#[derive(Clone, Debug, Serialize)]
pub struct Closed {
    /// Blade.
    pub blade: String,
    /// How it left.
    pub way: Way,
    /// To whom.
    pub to: String,
    /// The day.
    pub on: String,
    /// Name of the transfer record.
    pub record: tangmark_core::Digest,
    /// Its number.
    pub sequence: u32,
    /// Folder of the papers.
    pub out: PathBuf,
    /// Stops that stand on page 1 of the papers.
    pub stops: Vec<String>,
    /// The steps, those done before among them.
    pub steps: Vec<Step>,
    /// What a person should read.
    pub remarks: Vec<String>,
}

impl Workshop {
    /// Sells a blade or gives it back. Each step is told as soon as it is done; ended after any of them and run again, with
    /// the same words or none, it goes on where it was, seals nothing twice and overwrites nothing.
    ///
    /// # Errors
    /// Before anything is written: when buyer or price is missing, the blade is a customer's, left already or is with a
    /// specialist, the decision passes over a stop, or the passphrase does not open the key. Later: when a paper cannot be
    /// made or something else is in its place.
    pub fn close_sale(
        &self,
        order: &CloseOrder<'_>,
        tell: &mut Tell<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Closed, WorkshopError> {
        self.close_sale_to(order, usize::MAX, tell, around)
    }

    pub(crate) fn close_sale_to(
        &self,
        order: &CloseOrder<'_>,
        most: usize,
        tell: &mut Tell<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Closed, WorkshopError> {
        let mut walk = Walk::new(tell, most);
        let blade = order.blade;
        let (sheet, _) = self.sheet(blade)?;
        let under_way = self.sale_under_way(blade)?;
        if let Some(sale) = &under_way {
            leave::same_as_begun(order, sale, blade)?;
        }
        let way = under_way
            .as_ref()
            .map_or(if order.back { Way::Return } else { Way::Sale }, |sale| {
                sale.matter.way
            });
        let mut remarks = Vec::new();
        // Whatever would refuse a later step is asked before the first.
        let stops = self.may_leave(order, &sheet, under_way.as_ref(), way, around, &mut remarks)?;
        let mut press = self.press(order.passphrase)?;

        let sale = if let Some(sale) = under_way {
            let words = format!(
                "{} to {} is on the sheet",
                event(way).gloss(),
                sale.matter.to
            );
            walk.tell(Step::before("custody", words));
            sale
        } else {
            walk.next().map_err(SaleError::from)?;
            self.begin_sale(order, &sheet, way, &mut walk, around)?
        };
        let out = order
            .out
            .map_or_else(|| PathBuf::from(&sale.matter.out), Path::to_owned);

        let row = self.transfer_step(order, &sale, &mut walk, around)?;
        let kept = self.kept(&row)?;
        let as_begun = &sale.matter.papers;
        let reveal = if order.reveal.is_empty() {
            as_begun.reveal.as_slice()
        } else {
            order.reveal
        };
        let papers = Papers {
            workshop: self,
            blade,
            kept: &kept,
            way,
            speech: order.speech.unwrap_or_else(|| as_begun.speech()),
            paper: order.paper.unwrap_or_else(|| as_begun.paper()),
            reveal: crate::reveal::of_record(kept.record.sequence, reveal),
            out: &out,
            memory: order.memory,
        };
        let made = papers.make(&mut press, &mut walk, &mut remarks, around)?;
        remarks.extend(self.end_sale(order, &sale, &row, made, &mut walk, around)?);
        Ok(Closed {
            blade: blade.to_owned(),
            way,
            to: sale.matter.to,
            on: sale.on,
            record: row.name,
            sequence: kept.record.sequence,
            out,
            stops: stops.into_iter().map(|stop| stop.rule).collect(),
            steps: walk.finish(),
            remarks,
        })
    }

    /// The sale or return of a blade that was begun and is not complete.
    pub(super) fn sale_under_way(
        &self,
        blade: &str,
    ) -> Result<Option<Noted<SaleNote>>, WorkshopError> {
        let sales = self.noted::<SaleNote>(Some(blade), None)?;
        Ok(sales
            .into_iter()
            .rev()
            .find(|sale| sale.matter.closed.is_none()))
    }

    /// The event on the sheet and the entry in the journal, together.
    fn begin_sale(
        &self,
        order: &CloseOrder<'_>,
        sheet: &Sheet,
        way: Way,
        walk: &mut Walk<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Noted<SaleNote>, WorkshopError> {
        let blade = order.blade;
        let owner = sheet
            .agreement
            .as_ref()
            .and_then(|agreement| agreement.owner.name.as_deref());
        let to = match (way, order.to) {
            (_, Some(to)) => to.to_owned(),
            (Way::Return, None) if owner.is_some() => owner.unwrap_or_default().to_owned(),
            (Way::Return, None) => {
                let lacks = "an owner, and the sheet names none";
                return Err(SaleError::Lacks {
                    way: "return",
                    lacks,
                }
                .into());
            }
            (Way::Sale, None) => {
                let lacks = "a buyer";
                return Err(SaleError::Lacks { way: "sale", lacks }.into());
            }
        };
        let price = match (way, order.price) {
            (Way::Sale, None) => {
                let lacks = "a price";
                return Err(SaleError::Lacks { way: "sale", lacks }.into());
            }
            (Way::Sale, Some(price)) => Some(price.clone()),
            (Way::Return, _) => None,
        };
        let on = order.who.day(around)?;
        let records = self.store().records(blade)?;
        let out = if let Some(out) = order.out {
            std::path::absolute(out).map_err(|error| WorkshopError::file("find", out, error))?
        } else {
            self.out_folder()
                .join(format!("{blade}-{}-{:02}", way.word(), records.len() + 1))
        };
        let mut edit = self.edit(blade)?;
        let mut from = own_hand(&edit.body, &self.name()?);
        // Whatever part the workshop had when the blade came, it gives it on as what it is; the books go by that.
        from["role"] = json!(Role::Polisher.key());
        let mut event = json!({
            "kind": event(way).key(),
            "when": on,
            "from": from,
            "to": receiver(sheet, way, &to),
        });
        if let Some(price) = &price {
            event["price"] = json!({ "amount": price.amount, "currency": price.currency });
        }
        edit.push("custody", event);
        let note = SaleNote {
            way,
            to,
            price,
            terms: order.terms.map(str::to_owned),
            decision: order.decision.clone(),
            records_before: records.len() as u64,
            out: out.display().to_string(),
            papers: PapersWish::of(
                order.speech.unwrap_or_default(),
                order.paper.unwrap_or_default(),
                order.reveal,
            ),
            closed: None,
        };
        edit.note(self, "", &note, &order.who, around)?;
        let saved = edit.save(self, way.word(), around)?;
        walk.tell(Step::done(
            "custody",
            format!(
                "{} to {} is on the sheet, revision {}",
                self::event(way).gloss(),
                note.to,
                saved.revision
            ),
        ));
        self.sale_under_way(blade)?
            .ok_or_else(|| SaleError::NoSale(blade.to_owned()).into())
    }

    /// The sealed record of the transfer.
    fn transfer_step(
        &self,
        order: &CloseOrder<'_>,
        sale: &Noted<SaleNote>,
        walk: &mut Walk<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<RecordRow, WorkshopError> {
        let blade = order.blade;
        let rows = self.store().records(blade)?;
        let sealed = rows.into_iter().find(|row| {
            row.sequence > sale.matter.records_before
                && row.purpose == Purpose::Transfer.key()
                && row.draft_revision.is_some()
        });
        if let Some(row) = sealed {
            walk.tell(
                Step::before("record", format!("record {} is sealed", row.sequence))
                    .with_record(row.name),
            );
            return Ok(row);
        }
        let (sheet, _) = self.sheet(blade)?;
        if !has_event(&sheet, sale) {
            return Err(SaleError::EventGone {
                blade: blade.to_owned(),
                way: sale.matter.way.word(),
                entry: sale.number,
            }
            .into());
        }
        walk.next().map_err(SaleError::from)?;
        let sealed = self.seal(
            &Order {
                blade,
                purpose: Purpose::Transfer,
                decision: decision(order, Some(sale)).cloned(),
                overrides: Vec::new(),
                refers_to: None::<RefersTo>,
                passphrase: order.passphrase,
                out: None,
            },
            around,
        )?;
        let mut step =
            Step::done("record", format!("sealed {}", sealed.line())).with_record(sealed.record);
        step.file.clone_from(&sealed.file);
        walk.tell(step);
        self.row(blade, Some(sealed.sequence))
    }

    /// The stage, and what came of it in the journal. Returns what a person should read.
    fn end_sale(
        &self,
        order: &CloseOrder<'_>,
        sale: &Noted<SaleNote>,
        row: &RecordRow,
        papers: Vec<SalePaper>,
        walk: &mut Walk<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Vec<String>, WorkshopError> {
        let blade = order.blade;
        let stage = match sale.matter.way {
            Way::Sale => Stage::Sold,
            Way::Return => Stage::Returned,
        };
        walk.next().map_err(SaleError::from)?;
        let who = Who {
            on: Some(&sale.on),
            ..order.who
        };
        let moved = StageOrder {
            who,
            ..StageOrder::default()
        };
        let moved = self.move_stage(blade, stage, &moved, around)?;
        let note = SaleNote {
            closed: Some(SaleClosed {
                record: row.name,
                sequence: u32::try_from(row.sequence).unwrap_or(u32::MAX),
                papers,
            }),
            ..sale.matter.clone()
        };
        let entry = self.renote(sale.number, &note, &who, around)?;
        walk.tell(Step::done(
            "stage",
            format!("stage {}, noted as entry {entry}", stage.key()),
        ));
        Ok(moved.remarks)
    }
}

/// What is to happen with the blade: as it is said now, else as the sale under way was begun.
pub(super) fn decision<'a>(
    order: &'a CloseOrder<'_>,
    under_way: Option<&'a Noted<SaleNote>>,
) -> Option<&'a Decision> {
    let begun = under_way.and_then(|sale| sale.matter.decision.as_ref());
    order.decision.as_ref().or(begun)
}

/// The event of custody that a way out is.
pub(super) const fn event(way: Way) -> CustodyKind {
    match way {
        Way::Sale => CustodyKind::Sold,
        Way::Return => CustodyKind::Returned,
    }
}

/// Whether the sheet has the event of a sale.
fn has_event(sheet: &Sheet, sale: &Noted<SaleNote>) -> bool {
    sheet.custody.iter().any(|one| {
        let to = one.to.as_ref().and_then(|to| to.name.as_deref());
        one.kind == event(sale.matter.way)
            && to == Some(sale.matter.to.as_str())
            && one.price == sale.matter.price
            && one.when.latest.as_str() == sale.on
    })
}

/// The buyer, or the owner as the agreement has them.
fn receiver(sheet: &Sheet, way: Way, to: &str) -> Value {
    let owner = sheet.agreement.as_ref().map(|agreement| &agreement.owner);
    if let (Way::Return, Some(owner)) = (way, owner)
        && owner.name.as_deref() == Some(to)
    {
        return json!(owner);
    }
    let role = match way {
        Way::Sale => Role::Buyer,
        Way::Return => Role::Owner,
    };
    json!({ "role": role.key(), "name": to })
}
