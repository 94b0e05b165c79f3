//! A stop at the bench: one blade more, from the parcel to the sale, with a pass that is refused and a reading that is
//! questioned on the way. What is sealed here is a by-product of the work.

use std::path::PathBuf;

use serde::Serialize;
use serde_json::{Map, Value, json};
use tangmark_core::record::{Money, Purpose, Term as _, Verdict};
use tangmark_report::Speech;

use super::{DEMO_PASSPHRASE, Refusal, decision};
use crate::books::{CurrencyAccount, NewBook};
use crate::intake::{FormMass, FormPerson, IntakeForm};
use crate::pass::PassOrder;
use crate::sale::CloseOrder;
use crate::{Order, Stage, StageOrder, Surroundings, Who, Workshop, WorkshopError, counted};

/// The blade of this stop.
const BLADE: &str = "marten";
/// What is seen and measured of it.
const SEEN: &str = include_str!("marten.toml");
/// What is measured of it when the work is done.
const MEASURED_AGAIN: &str = include_str!("marten-after.toml");
/// The blade of the tour that is held for a crack.
const HELD: &str = "gorge";
/// Who buys it.
const BUYER: &str = "P. Okonkwo-Lind";

/// What happened at the bench.
#[derive(Clone, Debug, Serialize)]
pub struct TourBench {
    /// Blade.
    pub blade: String,
    /// The pass that was refused, since its blade is held.
    pub refused: Option<Refusal>,
    /// The reading that was questioned.
    pub questioned: Option<Refusal>,
    /// Passes that were logged.
    pub passes: Vec<String>,
    /// What changed since the first record, in one line.
    pub compared: String,
    /// Stages it went through, each with its day.
    pub stages: Vec<(String, String)>,
    /// Folder with the papers and the package of the sale.
    pub sold: PathBuf,
    /// Its sealed records.
    pub records: usize,
    /// Its account, for each currency.
    pub account: Vec<CurrencyAccount>,
    /// Time of its passes and of other work on it, minutes.
    pub minutes: String,
}

/// Takes the blade from the parcel to the sale.
pub(super) fn at_the_bench(
    workshop: &Workshop,
    around: &mut Surroundings<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<TourBench, WorkshopError> {
    let who = Who::default();
    let entered = workshop.intake(BLADE, &form(), around)?;
    say(&format!(
        "{BLADE}: came as bought, entered with its parcel and {} in the journal",
        counted(entered.entries.len(), "entry")
    ));
    look(workshop, SEEN, around)?;
    seal(
        workshop,
        Purpose::BeforeWork,
        "Sound edge, rust on both faces.",
        around,
        say,
    )?;

    let refused = refusal(
        &format!("log a pass on {HELD}"),
        workshop.add_passes(&pass(HELD, "412.6 g", "412.0 g", "45 min"), around),
        say,
    );
    workshop.move_stage(BLADE, Stage::FirstPass, &StageOrder::default(), around)?;
    let questioned = refusal(
        &format!("log a pass on {BLADE} after which it is heavier"),
        workshop.add_passes(&pass(BLADE, "171.4 g", "174.1 g", "40 min"), around),
        say,
    );
    let mut passes = Vec::new();
    for (before, after, time) in [
        ("171.4 g", "170.1 g", "40 min"),
        ("170.1 g", "169.6 g", "1 h 10 min"),
    ] {
        let done = workshop.add_passes(&pass(BLADE, before, after, time), around)?;
        say(&format!(
            "{BLADE}: pass {} logged, {time}, {after} after it",
            done.passes.join(", ")
        ));
        passes.extend(done.passes);
    }
    look(workshop, MEASURED_AGAIN, around)?;
    seal(
        workshop,
        Purpose::AfterWork,
        "Rust gone, outline kept.",
        around,
        say,
    )?;
    let stage = StageOrder {
        note: Some("rust gone, outline kept"),
        ..StageOrder::default()
    };
    workshop.move_stage(BLADE, Stage::Finished, &stage, around)?;
    let compared = workshop.two_states(BLADE, None, None)?;
    let compared = compared.told(Speech::English).summary;
    say(&format!(
        "{BLADE}: compared with its first record: {compared}"
    ));

    let cost = NewBook::Cost {
        amount: "18.40 EUR",
        what: "parcel, insured",
        paid_to: None,
    };
    workshop.book(Some(BLADE), &cost, &who, around)?;
    let sold = sell(workshop, around, say)?;
    let account = workshop.account(BLADE, None)?;
    for line in &account.currencies {
        say(&format!(
            "{BLADE}: bought for {} {currency}, sold for {}, costs {}; {} {currency} left before the hours are paid",
            line.bought,
            line.sold,
            line.costs,
            line.margin,
            currency = line.currency
        ));
    }
    let way = workshop.stage_way(BLADE, around)?;
    Ok(TourBench {
        blade: BLADE.to_owned(),
        refused,
        questioned,
        passes,
        compared,
        stages: way
            .way
            .iter()
            .map(|step| (step.stage.key().to_owned(), step.from.clone()))
            .collect(),
        sold,
        records: workshop.records(BLADE)?.len(),
        minutes: account.minutes.to_string(),
        account: account.currencies,
    })
}

/// What stands on the form of its arrival.
fn form() -> IntakeForm {
    let text = |text: &str| Some(text.to_owned());
    IntakeForm {
        came_as: text("bought"),
        title: text("Dagger “Marten”"),
        kind: text("tanto"),
        giver: FormPerson {
            name: text("Harbour Street Estate Sale"),
            ..FormPerson::default()
        },
        price: text("310 EUR"),
        mass: FormMass {
            reading: text("171.4 g"),
            state: text("bare"),
            scale: text("bench scale"),
            step: text("0.1 g"),
            limit_of_error: text("0.2 g"),
        },
        ..IntakeForm::default()
    }
}

/// Puts what is seen and measured onto the sheet. Rust that passes took is no flaw any more.
fn look(workshop: &Workshop, seen: &str, around: &Surroundings<'_>) -> Result<(), WorkshopError> {
    let day = around.now.as_str().get(..10).unwrap_or_default();
    let seen: Map<String, Value> = toml::from_str(&seen.replace("DAY", day))
        .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
    let mut edit = workshop.edit(BLADE)?;
    edit.take("flaws");
    for (section, value) in seen {
        match (
            edit.body.get_mut("blade").and_then(Value::as_object_mut),
            value,
        ) {
            (Some(there), Value::Object(value)) if section == "blade" => there.extend(value),
            (_, value) => edit.set(&section, value),
        }
    }
    edit.save(workshop, "looked at", around).map(drop)
}

fn seal(
    workshop: &Workshop,
    purpose: Purpose,
    reason: &str,
    around: &mut Surroundings<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<(), WorkshopError> {
    let order = Order {
        blade: BLADE,
        purpose,
        decision: Some(decision(Verdict::Work, reason)),
        overrides: Vec::new(),
        refers_to: None,
        passphrase: DEMO_PASSPHRASE.as_bytes(),
        out: None,
    };
    let sealed = workshop.seal(&order, around)?;
    say(&format!("{BLADE}: looked at, and sealed {}", sealed.line()));
    Ok(())
}

/// A pass with a weighing on both sides.
fn pass<'a>(blade: &'a str, before: &str, after: &str, time: &str) -> PassOrder<'a> {
    let mass = |text: &str| json!({ "mass": { "text": text, "instrument": "scale" } });
    let block = [
        ("operation", json!("derust")),
        ("zones", json!(["ground", "edge"])),
        ("stone", json!("soft finger stone with oil")),
        ("time", json!(time)),
        ("before", mass(before)),
        ("after", mass(after)),
    ];
    PassOrder {
        blade,
        passes: vec![
            block
                .map(|(name, value)| (name.to_owned(), value))
                .into_iter()
                .collect(),
        ],
        sure: None,
        stay: false,
        who: Who::default(),
        timer: None,
    }
}

/// Tells what was asked on purpose and what was answered; nothing where it was not refused.
fn refusal<T>(
    asked: &str,
    answer: Result<T, WorkshopError>,
    say: &mut dyn FnMut(&str),
) -> Option<Refusal> {
    let answer = answer.err()?.to_string();
    let first = answer.lines().next().unwrap_or_default();
    say(&format!("asked to {asked}, refused: {first}"));
    Some(Refusal {
        asked: asked.to_owned(),
        answer,
    })
}

/// Sells it: custody, record, papers, package.
fn sell(
    workshop: &Workshop,
    around: &mut Surroundings<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<PathBuf, WorkshopError> {
    let price = Money {
        amount: 520_u32.into(),
        currency: "EUR".to_owned(),
    };
    let order = CloseOrder {
        blade: BLADE,
        back: false,
        to: Some(BUYER),
        price: Some(&price),
        terms: None,
        decision: None,
        speech: Some(Speech::English),
        paper: None,
        reveal: &[],
        out: None,
        memory: None,
        passphrase: DEMO_PASSPHRASE.as_bytes(),
        who: Who::default(),
    };
    let closed = workshop.close_sale(&order, &mut |_| (), around)?;
    say(&format!(
        "{BLADE}: sold; record {} sealed, {} in one go, papers and package in {}",
        closed.sequence,
        counted(closed.steps.len(), "step"),
        closed.out.display()
    ));
    Ok(closed.out)
}
