//! The log of a blade with running sums, and taking the last pass back.

use serde::Serialize;
use serde_json::Value;
use tangmark_core::Digest;
use tangmark_core::record::{
    Face, Header, Issuer, Judgement, Number, Operation, Pass, Purpose, Quantity, Record, SCHEMA_ID,
    SCHEMA_VERSION, SchemaRef, Sheet, Zone, each_pass_once,
};
use tangmark_core::schema;
use tangmark_core::units::Unit;
use tangmark_measure::{Estimate, print, weighing};
use tangmark_report::{DrawingFile, Speech, pass_history};
use tangmark_store::Store as _;

use super::error::PassError;
use super::refused::RefusedLine;
use crate::journal::Who;
use crate::{Surroundings, Workshop, WorkshopError};

/// One pass of the log.
#[derive(Clone, Debug, Serialize)]
pub struct PassLine {
    /// Key.
    pub id: String,
    /// Day.
    pub on: String,
    /// What was done.
    pub operation: Operation,
    /// Zones worked.
    pub zones: Vec<Zone>,
    /// Faces worked; none: both.
    pub faces: Vec<Face>,
    /// Abrasive.
    pub stone: Option<String>,
    /// Strokes.
    pub strokes: Option<u32>,
    /// Time.
    pub time: Option<Quantity>,
    /// Mass before.
    pub before: Option<Quantity>,
    /// Mass after.
    pub after: Option<Quantity>,
    /// Before less after, g; rust is in it. A pass not weighed before began with the last weighing.
    pub went: Option<Number>,
    /// Time of all passes so far.
    pub time_so_far: Option<Number>,
    /// Steel gone so far: first mass less last mass, without what passes that remove rust took where they were weighed.
    pub steel_so_far: Option<Number>,
    /// What went with rust so far.
    pub rust_so_far: Option<Number>,
    /// First sealed record that has it.
    pub record: Option<u32>,
    /// Rules under whose hold it was worked, as the newest record lists them.
    pub under_hold: Vec<String>,
    /// Photos.
    pub photos: usize,
    /// Remarks.
    pub note: Option<String>,
}

/// The log of a blade.
#[derive(Clone, Debug, Serialize)]
pub struct PassList {
    /// Blade.
    pub blade: String,
    /// Revision of the sheet.
    pub revision: u64,
    /// Passes in order.
    pub passes: Vec<PassLine>,
    /// Refused passes that were not logged since.
    pub refused: Vec<RefusedLine>,
}

/// A pass that was taken back.
#[derive(Clone, Debug, Serialize)]
pub struct PassUndone {
    /// Blade.
    pub blade: String,
    /// Revision of the sheet now.
    pub revision: u64,
    /// Key of the pass.
    pub pass: String,
    /// Stage of the blade, which stays as it is.
    pub stage: Option<String>,
    /// What taking it back does to the hold, for people.
    pub remarks: Vec<String>,
}

impl Workshop {
    /// Lists the passes of a blade: those of sealed records that the sheet leaves out, then those of the sheet.
    ///
    /// # Errors
    /// When the blade has no sheet.
    pub fn passes(&self, blade: &str) -> Result<PassList, WorkshopError> {
        let (sheet, revision) = self.sheet(blade)?;
        let records = self.sealed_records(blade)?;
        let refused = self.refused(blade)?;
        Ok(PassList {
            blade: blade.to_owned(),
            revision,
            passes: lines(&sheet, &records),
            refused,
        })
    }

    /// Draws mass and thickness from pass to pass, as SVG `width` mm wide; none where neither was read twice.
    ///
    /// # Errors
    /// When the blade has no sheet.
    pub fn draw_passes(
        &self,
        blade: &str,
        width: f64,
        speech: Speech,
        around: &Surroundings<'_>,
    ) -> Result<Option<DrawingFile>, WorkshopError> {
        let (sheet, _) = self.sheet(blade)?;
        let records = self.sealed_records(blade)?;
        let (fonts, _) = self.fonts()?;
        let header = Header {
            schema: SchemaRef {
                id: SCHEMA_ID.to_owned(),
                version: SCHEMA_VERSION,
                digest: schema::record_digest(),
            },
            record_id: "0".repeat(32).parse()?,
            sequence: records.last().map_or(1, |record| record.sequence + 1),
            previous: None::<Digest>,
            issuer: Issuer {
                id: String::new(),
                name: self.name()?,
                demo: self.is_demo()?,
            },
            purpose: Purpose::InWork,
            issued_at: around.now.clone(),
        };
        let draft = Record::assemble(header, sheet, Judgement::default());
        Ok(fonts.scope(|| pass_history(&draft, &records, width, speech)))
    }

    /// The pass that [`Workshop::undo_pass`] would take back.
    ///
    /// # Errors
    /// When the sheet has no pass, or a sealed record holds the last one.
    pub fn last_pass(&self, blade: &str) -> Result<PassLine, WorkshopError> {
        let (sheet, _) = self.sheet(blade)?;
        let records = self.sealed_records(blade)?;
        let last = sheet
            .passes
            .last()
            .ok_or_else(|| PassError::NoPass(blade.to_owned()))?;
        if let Some(record) = first_record(&records, last) {
            return Err(PassError::Sealed {
                blade: blade.to_owned(),
                pass: last.id.to_string(),
                record,
            }
            .into());
        }
        lines(&sheet, &records)
            .pop()
            .ok_or_else(|| PassError::NoPass(blade.to_owned()).into())
    }

    /// Takes the last pass of a sheet back: the sheet gets a revision without it, and nothing is erased. A stop that goes with
    /// it, such as a spent budget, is kept in the journal and told.
    ///
    /// # Errors
    /// As [`Workshop::last_pass`]; when another program saved the sheet meanwhile.
    pub fn undo_pass(
        &self,
        blade: &str,
        by: Option<&str>,
        around: &Surroundings<'_>,
    ) -> Result<PassUndone, WorkshopError> {
        let mut edit = self.edit(blade)?;
        let before = (edit.sheet()?, edit.revision().unwrap_or_default());
        edit.by(&self.by(&Who { on: None, by })?);
        let last = self.last_pass(blade)?;
        let own = |value: &Value| value["id"].as_str() == Some(last.id.as_str());
        if let Some(passes) = edit.body["passes"].as_array_mut() {
            passes.retain(|pass| !own(pass));
            if passes.is_empty()
                && let Some(sheet) = edit.body.as_object_mut()
            {
                sheet.remove("passes");
            }
        }
        without_photos_of(&mut edit.body, &last.id);
        let watched = self.watch(Some(&before), &edit.sheet()?, around);
        for entry in watched.entries {
            edit.add_entry(entry);
        }
        let saved = edit.save(self, &format!("pass {} taken back", last.id), around)?;
        Ok(PassUndone {
            blade: blade.to_owned(),
            revision: saved.revision,
            pass: last.id,
            stage: self.store().standing(blade)?.stage,
            remarks: watched.remarks,
        })
    }

    /// The passes of the sealed records of a blade and those of its sheet, each once as in [`Workshop::passes`]. No record is
    /// opened for it.
    pub(crate) fn all_passes(
        &self,
        blade: &str,
        on_sheet: Vec<Pass>,
    ) -> Result<Vec<Pass>, WorkshopError> {
        let sealed = self
            .store()
            .sealed_passes(blade)?
            .into_iter()
            .map(serde_json::from_value)
            .collect::<Result<Vec<Pass>, _>>()
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        Ok(each_pass_once(
            sealed,
            on_sheet,
            |pass| Some(pass.id.as_str()),
            |pass| Some(pass.on.as_str()),
        ))
    }

    fn sealed_records(&self, blade: &str) -> Result<Vec<Record>, WorkshopError> {
        let history = self.history(blade)?;
        Ok(history.into_iter().map(|kept| kept.record).collect())
    }
}

/// Takes the photos out that came with a pass and that nothing names any more; their files stay in the workshop.
fn without_photos_of(body: &mut Value, pass: &str) {
    let mut rest = body.clone();
    if let Some(sheet) = rest.as_object_mut() {
        sheet.remove("photos");
    }
    let rest = rest.to_string();
    let Some(photos) = body["photos"].as_array_mut() else {
        return;
    };
    photos.retain(|photo| {
        let key = photo["id"].as_str().unwrap_or_default();
        let came_with_it = key.strip_prefix(pass).is_some_and(|tail| {
            tail.strip_prefix('-')
                .is_some_and(|number| number.parse::<u32>().is_ok())
        });
        !came_with_it || rest.contains(&format!("\"{key}\""))
    });
    if photos.is_empty()
        && let Some(sheet) = body.as_object_mut()
    {
        sheet.remove("photos");
    }
}

fn first_record(records: &[Record], pass: &Pass) -> Option<u32> {
    records
        .iter()
        .find(|record| record.passes.iter().any(|one| one.id == pass.id))
        .map(|record| record.sequence)
}

/// The passes of sealed records and of the sheet, each once, see [`each_pass_once`].
pub(super) fn logged<'a>(sheet: &'a Sheet, records: &'a [Record]) -> Vec<&'a Pass> {
    let states = records.iter().map(|record| &record.passes);
    states
        .chain([&sheet.passes])
        .fold(Vec::new(), |all, state| {
            each_pass_once(
                all,
                state.iter().collect(),
                |pass| Some(pass.id.as_str()),
                |pass| Some(pass.on.as_str()),
            )
        })
}

fn lines(sheet: &Sheet, records: &[Record]) -> Vec<PassLine> {
    let passes = logged(sheet, records);
    let weighings = weighing::weighings(records, sheet, &passes);
    let read = |place: Option<usize>| Some(Estimate::from(&weighings[place?].mass.0));
    let mut time_so_far: Option<Estimate> = None;
    passes
        .iter()
        .enumerate()
        .map(|(index, &pass)| {
            if let Some(time) = &pass.time {
                let so_far = time_so_far.unwrap_or_else(|| Estimate::exact(0.0));
                time_so_far = Some(so_far + Estimate::from(&time.0));
            }
            let (steel, rust) = gone(sheet, records, &passes[..=index]);
            let mass = |readings: &Option<tangmark_core::record::PassReadings>| {
                let mass = readings.as_ref()?.mass.as_ref()?;
                Some(mass.0.clone())
            };
            let (before, after) = (mass(&pass.before), mass(&pass.after));
            let went = read(weighing::before(&weighings, index))
                .zip(read(weighing::after(&weighings, index)))
                .and_then(|(before, after)| number("went", before - after, Unit::Gram));
            PassLine {
                id: pass.id.to_string(),
                on: pass.on.to_string(),
                operation: pass.operation,
                zones: pass.zones.clone(),
                faces: pass.faces.clone(),
                stone: pass.abrasive.as_ref().map(|stone| stone.name.clone()),
                strokes: pass.strokes,
                time: pass.time.as_ref().map(|time| time.0.clone()),
                before,
                after,
                went,
                time_so_far: time_so_far.and_then(|time| number("time", time, Unit::Minute)),
                steel_so_far: steel.and_then(|steel| number("steel gone", steel, Unit::Gram)),
                rust_so_far: rust.and_then(|rust| number("rust gone", rust, Unit::Gram)),
                record: first_record(records, pass),
                under_hold: records
                    .last()
                    .into_iter()
                    .flat_map(|record| &record.worked_under_hold)
                    .filter(|line| line.pass == pass.id)
                    .map(|line| line.rule.clone())
                    .collect(),
                photos: pass.photos.len(),
                note: pass.note.clone(),
            }
        })
        .collect()
}

fn number(name: &str, estimate: Estimate, unit: Unit) -> Option<Number> {
    let printed = print::printed(estimate, 3).ok()?;
    Some(Number {
        name: name.to_owned(),
        value: printed.value,
        unit,
        standard_uncertainty: printed.standard_uncertainty,
    })
}

/// Steel and rust gone in the first passes of a log.
fn gone(
    sheet: &Sheet,
    records: &[Record],
    passes: &[&Pass],
) -> (Option<Estimate>, Option<Estimate>) {
    let all = weighing::weighings(records, sheet, passes);
    let Some(went) = weighing::went(&all, passes, 0) else {
        return (None, None);
    };
    let rust = (went.rust_passes > 0).then(|| weighing::sum(&all, &went.rust));
    (Some(weighing::sum(&all, &went.steel())), rust)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use serde_json::json;
    use tangmark_core::sheet;

    fn pass(id: &str, operation: &str, before: &str, after: &str) -> Value {
        json!({ "id": id, "on": "2026-04-01", "operation": operation, "zones": ["ground"], "time": "90 min",
            "before": { "mass": before }, "after": { "mass": after } })
    }

    #[test]
    fn sums_run_and_rust_is_kept_apart() {
        let sheet = sheet::from_value(json!({
            "blade": { "id": "reed", "title": "Reed", "object_type": "sword blade", "kind_by_make": "katana", "construction": "shinogi_zukuri", "materials_and_techniques": ["steel"] },
            "passes": [pass("p1", "derust", "748.3 g", "746.1 g"), pass("p2", "grind", "746.1 g", "742.6 g"),
                pass("p3", "polish", "742.6 g", "741.9 g")],
        }))
        .unwrap();
        let lines = lines(&sheet, &[]);
        let of = |line: &PassLine| {
            let text = |number: &Option<Number>| {
                number.as_ref().map(|one| {
                    let doubt = one.standard_uncertainty.map(|doubt| doubt.to_string());
                    format!("{} ± {}", one.value, doubt.unwrap_or_default())
                })
            };
            (
                text(&line.steel_so_far),
                text(&line.rust_so_far),
                text(&line.went),
            )
        };
        let text = |text: &str| Some(text.to_owned());
        // 0.1 g steps: u = 0.1/√12 = 0.029 g each, two of them 0.041 g, four 0.058 g (rust does not cancel in p2).
        assert_eq!(
            of(&lines[0]),
            (
                text("0.000 ± "),
                text("2.200 ± 0.041"),
                text("2.200 ± 0.041")
            )
        );
        assert_eq!(of(&lines[1]).0, text("3.500 ± 0.041"), "p1 before cancels");
        assert_eq!(of(&lines[2]).0, text("4.200 ± 0.041"));
        assert_eq!(
            lines[2].time_so_far.as_ref().unwrap().value.to_string(),
            "270.00"
        );
    }

    #[test]
    fn photos_of_a_pass_go_with_it_unless_something_names_them() {
        let mut body = json!({ "photos": [{ "id": "p3-1" }, { "id": "p3-2" }, { "id": "p31-1" }, { "id": "p3-x" }],
            "flaws": [{ "photos": ["p3-2"] }] });
        without_photos_of(&mut body, "p3");
        let left: Vec<&str> = body["photos"]
            .as_array()
            .unwrap()
            .iter()
            .map(|one| one["id"].as_str().unwrap())
            .collect();
        assert_eq!(left, ["p3-2", "p31-1", "p3-x"]);
    }
}
