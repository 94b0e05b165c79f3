//! The `abrasives` plugin: how coarse to start, which stones, where to stop.
//!
//! A curve of steel against pits, a sequence of the workshop's own stones, readings to stop at, and rates that every
//! logged pass corrects. It plans; it judges neither the blade nor what may be done to it.
#![forbid(unsafe_code)]

mod budget;
mod gauge;
pub mod grit;
mod held;
mod log;
mod need;
mod plan;
mod price;
mod rates;
mod rules;
mod sequence;
mod settings;
mod stones;
mod surface;
mod tell;
mod tell_readings;
mod tradeoff;

use tangmark_author::passes::{Logged, logged};
use tangmark_author::words::list;
use tangmark_author::{Notes, history};
use tangmark_core::record::{Operation, Reason, Record, Sheet, Term as _, Zone};
use tangmark_measure::Estimate;
use tangmark_plugin::{CheckReply, CheckRequest, Description, Level, Refusal};

use plan::{Bench, Factors, Plan};
use rules::RULES;
use settings::{Pits, Settings};
use stones::{Stone, meant};
use surface::Body;

tangmark_plugin::export!(describe, check);

/// Describes the plugin and its rules.
pub fn describe() -> Description {
    tangmark_author::describe(
        "abrasives",
        env!("CARGO_PKG_VERSION"),
        "How coarse to start, which stones, and where to stop",
        RULES,
    )
}

/// Plans the work on a sheet.
///
/// # Errors
/// A sheet, history, settings or table that cannot be read.
pub fn check(request: &CheckRequest) -> Result<CheckReply, Refusal> {
    let sheet = tangmark_author::sheet(request)?;
    let settings = Settings::read(&request.settings)?;
    let stones = stones::read(&request.tables)?;
    let records = history::records(request)?;
    let passes = logged(&records, &sheet);
    let mut notes = Notes::new(&request.sheet, RULES);
    Work {
        sheet: &sheet,
        records: &records,
        settings: &settings,
        stones: stones.as_deref(),
        passes: &passes,
    }
    .judge(&mut notes);
    Ok(notes.into_reply())
}

struct Work<'a> {
    sheet: &'a Sheet,
    records: &'a [Record],
    settings: &'a Settings,
    stones: Option<&'a [Stone]>,
    passes: &'a [Logged<'a>],
}

impl Work<'_> {
    fn judge(&self, notes: &mut Notes<'_>) {
        let left = budget::judge(
            (self.sheet, self.records),
            self.settings,
            self.passes,
            notes,
        );
        self.tang(notes);
        let body = Body::new(self.sheet);
        let stones = self.stones.unwrap_or(&[]);
        let log = log::observations(
            (self.sheet, self.records),
            self.passes,
            stones,
            body.as_ref().ok(),
        );
        let priors: Vec<rates::Rate> = stones
            .iter()
            .map(|stone| stone.prior(self.settings))
            .collect();
        let learned = rates::learn(&priors, &log, self.settings.wandering());
        if !log.is_empty() {
            tell_readings::rates(stones, self.settings, &log, &learned, notes);
        }
        if self
            .sheet
            .examination
            .as_ref()
            .is_some_and(|one| one.reason == Reason::AfterWork)
        {
            let text = "The examination says that work is finished: no new plan is drawn. The log above stays for the next blade.";
            notes.add(
                "abrasives.finished",
                Level::Info,
                text,
                &["/examination/reason"],
                Vec::new(),
            );
            return;
        }
        match body {
            Ok(body) => self.draw(&body, &learned, log.is_empty(), left, notes),
            Err(why) => notes.add(
                "abrasives.missing",
                Level::Info,
                why,
                &["/dimensions/stations", "/dimensions"],
                Vec::new(),
            ),
        }
    }

    fn draw(
        &self,
        body: &Body,
        learned: &rates::Learned,
        nothing_logged: bool,
        left: Option<Estimate>,
        notes: &mut Notes<'_>,
    ) {
        let stones = self.stones.unwrap_or(&[]);
        let need = need::collect(self.sheet, body, self.settings, self.left_by_last());
        let fairing = self.settings.fairing_mm;
        let curve = tradeoff::curve(&need, body, fairing);
        // What lies outside the zones of the blade's plan stays, unless the workshop says that all pits go.
        let mut inside = need.clone();
        if self.settings.pits != Pits::All {
            inside.fields.retain(|field| field.worked);
        }
        let planned = tradeoff::curve(&inside, body, fairing);
        let bench = Bench {
            sheet: self.sheet,
            body,
            need: &inside,
            stones,
            learned,
            settings: self.settings,
        };
        let chosen = bench.chosen(&planned, left);
        let plan = chosen.and_then(|choice| bench.plan(&choice.depths));
        let percent = self.settings.surface_model_percent;
        let drawn_for = plan.as_ref().and(chosen).map(|choice| (choice, &inside));
        tell::trade_off(&need, &curve, drawn_for, (percent, fairing), notes);
        self.zone_limits(&need, notes);
        self.missing(&need, plan.as_ref(), left, notes);
        if plan.is_some() || !need.fields.is_empty() {
            self.held(notes);
        }
        let Some(plan) = plan else { return };
        let now = log::mass_now(self.sheet, self.passes);
        tell::plan(&plan, &bench, now, notes);
        budget::plan_against(&plan, left, notes);
        let share = match left {
            Some(left) if plan.total().value > 0.0 => (left.value / plan.total().value).max(0.0),
            _ => 1.0,
        };
        let thinnest = self
            .sheet
            .plan
            .as_ref()
            .and_then(|plan| plan.thinnest.as_ref())
            .map(|one| Estimate::from(&one.0));
        let stops = gauge::stops(self.sheet, body, &plan.depths, share, thinnest);
        let scale = self
            .sheet
            .dimensions
            .as_ref()
            .and_then(|one| one.mass.as_ref())
            .map(|mass| gauge::instrument(self.sheet, &mass.0));
        let weighed = now.map(|now| {
            (
                now,
                scale
                    .filter(|name| name != "gauge")
                    .unwrap_or_else(|| "scale".to_owned()),
            )
        });
        tell_readings::gauge(&stops, left, weighed.as_ref(), notes);
        if nothing_logged {
            tell_readings::rates(stones, self.settings, &[], learned, notes);
        }
        if let Some(now) = now {
            tell_readings::forecast(&plan, &bench, now, notes);
        }
        price::add(&plan, stones, notes);
    }

    /// What the last stone left behind, µm, when it was used after the examination.
    fn left_by_last(&self) -> Option<(f64, &str)> {
        let stones = self.stones?;
        let pass = need::last_stone_pass(self.sheet, self.passes)?;
        let stone = &stones[meant(stones, pass.abrasive.as_ref()?)?];
        let (_, damage) = Factors::of(self.settings).depths(stone.grain?.high);
        Some((damage, stone.name.as_str()))
    }

    fn tang(&self, notes: &mut Notes<'_>) {
        let on_tang = |zone: &Zone| *zone == Zone::Tang;
        let mut places: Vec<String> = Vec::new();
        for (index, stage) in self
            .sheet
            .plan
            .iter()
            .flat_map(|plan| &plan.stages)
            .enumerate()
        {
            if stage.zones.iter().any(on_tang)
                && (need::stone_work(stage.operation) || stage.operation == Operation::Derust)
            {
                places.push(format!("/plan/stages/{index}"));
            }
        }
        let flaws = self.sheet.flaws.iter().enumerate();
        let pits: Vec<String> = flaws
            .filter(|(_, flaw)| {
                on_tang(&flaw.zone) && flaw.kind == tangmark_core::record::FlawKind::Pits
            })
            .map(|(index, _)| format!("/flaws/{index}"))
            .collect();
        if !places.is_empty() {
            let text = "The plan of the blade works on the tang. Nothing is planned there: its patina and file marks are evidence and stay. \
                        Take the tang out of the plan.";
            notes.add("abrasives.tang", Level::Caution, text, &places, Vec::new());
        } else if !pits.is_empty() {
            let text = "Pits on the tang are in no plan: the tang stays as it is.";
            notes.add("abrasives.tang", Level::Info, text, &pits, Vec::new());
        }
    }

    /// Zones whose whole surface goes deeper than the user lets it.
    fn zone_limits(&self, need: &need::Need, notes: &mut Notes<'_>) {
        let surface = need.surface.value;
        let over: Vec<String> = need
            .zones
            .iter()
            .filter_map(|zone| {
                let limit = self.settings.zone_limit_um.get(zone.key())?;
                (surface > *limit).then(|| format!("{limit} µm in {}", zone.key()))
            })
            .collect();
        if !over.is_empty() {
            let text = format!(
                "{surface:.1} µm goes over the whole surface ({}), and no more may go than {}: measure the depth of the rust or scratches, or                  leave that zone.",
                need.surface_from,
                list(&over)
            );
            notes.add(
                "abrasives.zone-limit",
                Level::Caution,
                text,
                &["/examination/surface", "/plan"],
                Vec::new(),
            );
        }
    }

    fn held(&self, notes: &mut Notes<'_>) {
        let signs = held::signs(self.sheet);
        if signs.is_empty() {
            return;
        }
        let (words, places): (Vec<String>, Vec<String>) = signs.into_iter().unzip();
        let text = format!(
            "On the sheet: {}. If the blade is held for that, this plan is only for when the hold is answered; no stone touches it before.",
            list(&words)
        );
        notes.add("abrasives.held", Level::Caution, text, &places, Vec::new());
    }

    fn missing(
        &self,
        need: &need::Need,
        plan: Option<&Plan>,
        left: Option<Estimate>,
        notes: &mut Notes<'_>,
    ) {
        let mut words: Vec<String> = need.missing.iter().map(|one| one.0.clone()).collect();
        let mut places: Vec<&str> = need
            .missing
            .iter()
            .map(|one| one.1.as_str())
            .filter(|place| !place.is_empty())
            .collect();
        if !need.fields.is_empty() && self.left_by_last().is_some() {
            words.push(
                "the depth of the pits again, since stones were used after they were measured"
                    .to_owned(),
            );
            places.push("/flaws");
        }
        match self.stones {
            None => words
                .push("the table `stones` with the workshop's stones (`plugins/abrasives/stones.csv` in its folder)".to_owned()),
            Some(stones) if stones.iter().all(|stone| stone.grain.is_none()) => {
                words.push("a grain size (D50) for at least one stone".to_owned());
            }
            Some(_) if plan.is_none() => {
                notes.add(
                    "abrasives.plan",
                    Level::Info,
                    "Nothing has to go by the sheet: no plan, and no stone.",
                    &["/examination/surface", "/flaws"],
                    Vec::new(),
                );
            }
            Some(_) => {}
        }
        if left.is_none() {
            words.push(
                "the steel that may go (plan.steel_budget or agreement.steel_limit)".to_owned(),
            );
            places.push("/plan/steel_budget");
        }
        if self
            .sheet
            .plan
            .as_ref()
            .is_none_or(|plan| plan.thinnest.is_none())
        {
            words.push(
                "the thinnest that the blade may become (plan.thinnest); the user states it"
                    .to_owned(),
            );
            places.push("/plan/thinnest");
        }
        if !words.is_empty() {
            let text = format!("Missing for a better plan: {}.", list(&words));
            notes.add("abrasives.missing", Level::Info, text, &places, Vec::new());
        }
    }
}
