//! Logging passes: the hold first, then the readings, then one write of everything that changes.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::{Map, Value, json};
use tangmark_core::hold::Stop;
use tangmark_core::record::{AbrasiveOrigin, Operation, PartialDate, Pass, Sheet};
use tangmark_store::StoreError;

use super::error::PassError;
use super::guard::{self, keys};
use super::list::logged;
use super::outlook::{Outlook, outlook};
use super::prepare::{self, Filling, Source};
use super::question::{Before, Questioned, questions};
use super::refused::{Refusal, RefusedPass};
use super::stage;
use crate::checks::Judged;
use crate::edit::Edit;
use crate::journal::{self, Noted, Who};
use crate::stage::StageMove;
use crate::{Surroundings, Workshop, WorkshopError};

/// Longest note of a pass, in characters.
const LONGEST_NOTE: usize = 2000;

/// Order to log passes.
#[derive(Clone, Debug)]
pub struct PassOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// The passes as they are entered, see [`super::entered`].
    pub passes: Vec<Map<String, Value>>,
    /// Why readings that are asked about are right all the same.
    pub sure: Option<String>,
    /// Leave the stage of the blade as it is.
    pub stay: bool,
    /// Day and name.
    pub who: Who<'a>,
    /// The timer that ends with it.
    pub timer: Option<u64>,
}

/// What came of it.
#[derive(Clone, Debug, Serialize)]
pub struct PassDone {
    /// Blade.
    pub blade: String,
    /// Revision of the sheet now.
    pub revision: u64,
    /// Keys of the passes.
    pub passes: Vec<String>,
    /// Time of each, as it was written.
    pub times: Vec<Option<String>>,
    /// What was asked about and taken all the same.
    pub taken_as_read: Vec<Questioned>,
    /// Stage that the blade came to.
    pub stage: Option<StageMove>,
    /// Usual cautions for what was done.
    pub cautions: Vec<&'static str>,
    /// Where the blade stands now.
    pub outlook: Option<Outlook>,
    /// Why that could not be told; the passes are logged all the same.
    pub no_outlook: Option<String>,
}

/// What is known before a pass is logged.
struct Bench {
    judged: Judged,
    /// Passes of sealed records that the sheet lacks, oldest first.
    sealed: Vec<Pass>,
}

impl Bench {
    fn new(judged: Judged, sheet: &Sheet) -> Self {
        let sealed = logged(sheet, &judged.records)
            .into_iter()
            .filter(|pass| !sheet.passes.iter().any(|one| one.id == pass.id))
            .cloned()
            .collect();
        Self { judged, sealed }
    }
}

impl Workshop {
    /// Logs passes: the hold is derived anew, readings that cannot be are asked about, and everything that changes
    /// (sheet, photos, stage, timer) is written in one go.
    ///
    /// # Errors
    /// When a stop stands (what was entered is kept), a reading is asked about and `sure` is not said, the sheet does
    /// not take the passes, or somebody else saved it meanwhile (what was entered is kept).
    pub fn add_passes(
        &self,
        order: &PassOrder<'_>,
        around: &Surroundings<'_>,
    ) -> Result<PassDone, WorkshopError> {
        self.log(order, None, around)
    }

    /// Logs the passes of a refused attempt again; `sure` and `stay` add to what was said then.
    ///
    /// # Errors
    /// When the entry keeps none, it was logged since, its timer went on since, and as [`Workshop::add_passes`].
    pub fn add_again(
        &self,
        number: u64,
        sure: Option<&str>,
        stay: bool,
        by: Option<&str>,
        around: &Surroundings<'_>,
    ) -> Result<PassDone, WorkshopError> {
        let (blade, kept) = self.refused_entry(number)?;
        self.timer_as_kept(&blade, &kept)?;
        let refused = &kept.matter;
        let order = PassOrder {
            blade: &blade,
            passes: refused.passes.clone(),
            sure: sure.map(str::to_owned).or_else(|| refused.sure.clone()),
            stay: stay || refused.stay,
            who: Who {
                on: Some(&kept.on),
                by: by.or(Some(&kept.by)),
            },
            timer: refused.timer,
        };
        self.log(&order, Some(&kept), around)
    }

    pub(super) fn log(
        &self,
        order: &PassOrder<'_>,
        again: Option<&Noted<RefusedPass>>,
        around: &Surroundings<'_>,
    ) -> Result<PassDone, WorkshopError> {
        let mut edit = self.edit(order.blade)?;
        let before = edit.sheet()?;
        let now = around.now.as_str();
        let today = now.get(..10).unwrap_or(now);
        let day = journal::day(order.who.on.unwrap_or(today))?;

        let sealed_ids: BTreeSet<String> = self
            .records(order.blade)?
            .iter()
            .flat_map(|(_, _, record)| keys(&record.passes))
            .collect();
        let (ids, entered) = put(self, order, &mut edit, &before, &day, sealed_ids)?;
        let keep = |edit: &Edit, why: Refusal, stops: &[(Stop, &'static str)]| {
            edit.keep_photos(self)?;
            self.keep_refused((order, &day, &entered), again, (why, stops), around)
        };
        let sheet = edit.sheet()?;

        let judged = self.judge_kept(&before, edit.revision().unwrap_or_default(), around)?;
        let stops = guard::stops(&judged);
        if !stops.is_empty() {
            let kept = keep(&edit, Refusal::Held, &stops)?;
            return Err(PassError::Held {
                blade: order.blade.to_owned(),
                what: "pass is logged",
                stops,
                kept: Some(kept),
            }
            .into());
        }
        if let Some((pass, stops)) = self.held_within(&sheet, &ids, &edit, around)? {
            let kept = keep(&edit, Refusal::Held, &stops)?;
            return Err(PassError::HeldWithin {
                blade: order.blade.to_owned(),
                pass,
                stops,
                kept,
            }
            .into());
        }
        let bench = Bench::new(judged, &before);
        let mut asked = asked(&sheet, &ids, &bench, today);
        let away = self.away(order.blade, today)?;
        if let Some(away) = &away {
            let timer = self.open_timer(order.blade)?;
            // A timer that is paused stopped at the latest when the blade left.
            let ended = order.timer.is_some() && timer.is_some_and(|open| !open.matter.runs());
            asked.extend(new(&sheet, &ids).filter_map(|pass| away.question(pass, ended)));
        }
        if !asked.is_empty() {
            let Some(sure) = order
                .sure
                .as_deref()
                .map(str::trim)
                .filter(|why| !why.is_empty())
            else {
                return Err(PassError::Questioned { questions: asked }.into());
            };
            reason(&mut edit, &asked, sure)?;
        }

        // What is logged afterwards brings no blade back.
        let stage = if order.stay || away.is_some() {
            None
        } else {
            stage::follow(self, &mut edit, (&sheet, &ids), &order.who, around)?
        };
        // However often it was paused since, it is the same timer.
        if let Some(number) = order.timer
            && let Some(open) = self.timer_now(number)?
            && !open.matter.is_logged()
        {
            let ended = open.matter.ended(&ids.join(", "), &around.now);
            edit.renote(self, &open, &ended, order.who.by, around)?;
        }
        if let Some(again) = again {
            let logged = RefusedPass {
                logged: ids.clone(),
                ..again.matter.clone()
            };
            edit.renote(self, again, &logged, order.who.by, around)?;
        }
        if let Some(by) = order.who.by {
            edit.by(by);
        }
        let remark = format!("pass {}", ids.join(", "));
        // Photos are kept as objects in any case, so that those of a pass that is not logged are there.
        edit.keep_photos(self)?;
        let saved = match edit.save(self, &remark, around) {
            Ok(saved) => saved,
            Err(WorkshopError::Store(StoreError::DraftConflict { .. })) => {
                let kept = self.keep_refused(
                    (order, &day, &entered),
                    again,
                    (Refusal::Meanwhile, &[]),
                    around,
                )?;
                return Err(PassError::Meanwhile {
                    blade: order.blade.to_owned(),
                    kept,
                }
                .into());
            }
            Err(error) => return Err(error),
        };
        let told = self
            .sheet(order.blade)
            .and_then(|(sheet, revision)| Ok((self.judge_kept(&sheet, revision, around)?, sheet)))
            .map(|(after, sheet)| outlook(&sheet, &after.report, &bench.judged.report));
        let (outlook, no_outlook) = match told {
            Ok(outlook) => (Some(outlook), None),
            Err(error) => (None, Some(error.to_string())),
        };
        Ok(PassDone {
            blade: order.blade.to_owned(),
            revision: saved.revision,
            times: new(&sheet, &ids).map(time_of).collect(),
            cautions: cautions(&sheet, &ids),
            passes: ids,
            taken_as_read: asked,
            stage,
            outlook,
            no_outlook,
        })
    }

    /// The first of the new passes that would be worked under a stop once those before it are on the sheet, by their days.
    fn held_within(
        &self,
        sheet: &Sheet,
        ids: &[String],
        edit: &Edit,
        around: &Surroundings<'_>,
    ) -> Result<Option<Within>, WorkshopError> {
        let is_new = |pass: &Pass| ids.iter().any(|id| id == pass.id.as_str());
        let places = sheet.passes.iter().enumerate();
        let places = places
            .filter(|(_, pass)| is_new(pass))
            .map(|(place, _)| place);
        for place in places.skip(1) {
            let mut so_far = sheet.clone();
            so_far.passes.truncate(place);
            let later = sheet.passes.iter().skip(place);
            so_far
                .passes
                .extend(later.filter(|pass| !is_new(pass)).cloned());
            let revision = edit.revision().unwrap_or_default();
            let stops = guard::stops(&self.judge_sheet(&so_far, revision, around)?);
            if !stops.is_empty() {
                return Ok(Some((sheet.passes[place].id.to_string(), stops)));
            }
        }
        Ok(None)
    }
}

/// A pass, and the stops that would stand before it.
type Within = (String, Vec<(Stop, &'static str)>);

/// Keys of passes, and the passes as they were entered.
type Filled = (Vec<String>, Vec<Map<String, Value>>);

/// Writes the entered passes onto the sheet, each at the place of its day; returns their keys, and the passes as they were
/// entered with photos named by their objects: a file may be gone when they are logged again.
fn put(
    workshop: &Workshop,
    order: &PassOrder<'_>,
    edit: &mut Edit,
    sheet: &Sheet,
    day: &str,
    sealed: BTreeSet<String>,
) -> Result<Filled, WorkshopError> {
    let stones = workshop.stones()?;
    let mut taken = sealed;
    taken.extend(keys(&sheet.passes));
    let named = workshop.named_passes(order.blade)?;
    let mut ids = Vec::with_capacity(order.passes.len());
    let mut entered = order.passes.clone();
    for (block, kept) in order.passes.iter().zip(&mut entered) {
        let prepared = prepare::prepare(
            block.clone(),
            &Filling {
                sheet,
                stones: &stones,
                day,
                taken: &taken,
                named: &named,
            },
        )?;
        let listed = kept.get_mut("photos").and_then(Value::as_array_mut);
        let mut listed = listed
            .into_iter()
            .flatten()
            .filter(|one| one.get("file").is_some_and(Value::is_string));
        for (source, photo) in prepared.photos {
            let own = listed.next();
            match source {
                Source::Kept(digest, name) => edit.kept_photo(workshop, (&digest, name), photo)?,
                Source::File(file) => {
                    let digest = edit.read_photo(&file, photo)?;
                    if let Some(own) = own {
                        let name = file.file_name().unwrap_or_default().to_string_lossy();
                        own["file"] = json!(name);
                        own[prepare::KEPT] = json!(digest.to_string());
                    }
                }
            }
        }
        let id = prepared.pass["id"].as_str().unwrap_or_default().to_owned();
        taken.insert(id.clone());
        ids.push(id);
        insert(edit, Value::Object(prepared.pass));
    }
    Ok((ids, entered))
}

/// Puts a pass behind the last one that is not of a later day.
fn insert(edit: &mut Edit, pass: Value) {
    let date = |pass: &Value| -> Option<PartialDate> { pass["on"].as_str()?.parse().ok() };
    let Some(own) = date(&pass) else {
        edit.push("passes", pass);
        return;
    };
    if let Some(passes) = edit.list("passes") {
        let place = passes
            .iter()
            .rposition(|one| date(one).is_none_or(|date| date.first_day() <= own.last_day()))
            .map_or(0, |last| last + 1);
        passes.insert(place, pass);
    }
}

/// The new passes of a sheet.
fn new<'a>(sheet: &'a Sheet, ids: &'a [String]) -> impl Iterator<Item = &'a Pass> {
    sheet
        .passes
        .iter()
        .filter(|pass| ids.iter().any(|id| id == pass.id.as_str()))
}

fn time_of(pass: &Pass) -> Option<String> {
    let time = pass.time.as_ref()?;
    Some(time.as_read.first()?.text.clone())
}

/// What has to be asked about the new passes.
fn asked(sheet: &Sheet, ids: &[String], bench: &Bench, today: &str) -> Vec<Questioned> {
    let all: Vec<&Pass> = bench.sealed.iter().chain(&sheet.passes).collect();
    let mut asked = Vec::new();
    for (place, pass) in all.iter().enumerate() {
        let is_new = |pass: &Pass| ids.iter().any(|id| id == pass.id.as_str());
        if !is_new(pass) {
            continue;
        }
        // Passes of the same file may be entered in one go, in the order of their days.
        let later: Vec<&Pass> = all[place + 1..]
            .iter()
            .copied()
            .filter(|pass| !is_new(pass))
            .collect();
        asked.extend(questions(
            pass,
            &Before {
                passes: &all[..place],
                later: &later,
                dimensions: sheet.dimensions.as_ref(),
                today,
            },
        ));
    }
    asked
}

/// Writes why readings that were asked about are right into the note of their pass.
///
/// # Errors
/// When both together are longer than a note may be: nothing of what was said is cut.
fn reason(edit: &mut Edit, asked: &[Questioned], sure: &str) -> Result<(), PassError> {
    let passes = edit.body["passes"].as_array_mut().into_iter().flatten();
    for pass in passes {
        let of = |one: &&Questioned| pass["id"].as_str() == Some(one.pass.as_str());
        let fields: Vec<&str> = asked
            .iter()
            .filter(of)
            .map(|one| one.field.as_str())
            .collect();
        if fields.is_empty() {
            continue;
        }
        let own = pass["note"]
            .as_str()
            .map(|note| format!("{note} "))
            .unwrap_or_default();
        let note = format!("{own}Taken as read ({}): {sure}", fields.join("; "));
        let found = note.chars().count();
        if found > LONGEST_NOTE {
            return Err(PassError::LongNote {
                pass: pass["id"].as_str().unwrap_or_default().to_owned(),
                found,
                allowed: LONGEST_NOTE,
            });
        }
        pass["note"] = json!(note);
    }
    Ok(())
}

/// The usual cautions for what was done; common practice, no source, and local codes decide.
fn cautions(sheet: &Sheet, ids: &[String]) -> Vec<&'static str> {
    let passes: Vec<&Pass> = new(sheet, ids).collect();
    let any = |test: &dyn Fn(&Pass) -> bool| passes.iter().any(|pass| test(pass));
    let mut said = Vec::new();
    if any(&|pass| {
        pass.abrasive
            .as_ref()
            .is_some_and(|abrasive| abrasive.origin == AbrasiveOrigin::Natural)
    }) {
        said.push(super::SILICA);
    }
    if any(&|pass| pass.operation == Operation::Etch) {
        said.push(super::ACID);
    }
    said
}

#[cfg(test)]
mod tests;
