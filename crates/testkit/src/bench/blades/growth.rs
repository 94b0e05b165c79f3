//! Entering the blades, and what each quarter of them costs.

use std::fs;
use std::path::Path;
use std::time::Instant;

use serde_json::{Value, json};
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_store::{
    BladeRow, Change, DraftSource, FolderStore, NewDraft, NewEntry, NewRecord, Store as _,
};

use super::{Quarter, broken};
use crate::bench::BenchError;
use crate::mutate::Chance;
use crate::sealed::Trial;
use crate::year::shape::{self, SHAPES, Steel};

/// Blades that are in work; the others were sold or went back.
const IN_WORK: usize = 60;
/// Every so many blades has a sealed record.
const SEALED: usize = 10;
/// Time of all that is entered.
const NOW: &str = "2026-03-01T09:30:00Z";

/// The key of a blade.
pub(super) fn key(number: usize) -> String {
    format!("reedling-{number:05}")
}

/// Enters the blades in four quarters; returns what each quarter cost, and how many records and entries there are.
pub(super) fn enter(
    folder: &Path,
    blades: usize,
    say: &mut dyn FnMut(&str),
) -> Result<(Vec<Quarter>, usize, usize), BenchError> {
    let (mut growth, mut sealed, mut entries) = (Vec::new(), 0, 0);
    let mut bytes = size(folder).map_err(broken)?;
    for quarter in 0..4 {
        let (from, to) = (blades * quarter / 4, blades * (quarter + 1) / 4);
        // Closed after each quarter: what SQLite keeps beside the index while it is open is no growth.
        let store = FolderStore::open(folder).map_err(broken)?;
        // What is to be entered is made before the time runs: it is no work of the store.
        let mut passed = 0.0;
        for number in from..to {
            let blade = Blade::new(number, blades)?;
            let start = Instant::now();
            entries += blade.enter(&store)?;
            passed += start.elapsed().as_secs_f64();
            sealed += usize::from(blade.record.is_some());
        }
        drop(store);
        let now = size(folder).map_err(broken)?;
        let each = |sum: f64| sum / to.saturating_sub(from).max(1) as f64;
        growth.push(Quarter {
            blades: to,
            bytes_each: each(now.saturating_sub(bytes) as f64),
            ms_each: each(passed * 1e3),
        });
        bytes = now;
        say(&format!("blades: {to} of {blades} entered"));
    }
    Ok((growth, sealed, entries))
}

/// A blade to be entered.
struct Blade {
    row: BladeRow,
    sheet: Value,
    stage: Value,
    hours: Value,
    cost: Value,
    record: Option<Vec<u8>>,
}

impl Blade {
    fn new(number: usize, blades: usize) -> Result<Self, BenchError> {
        let mut chance = Chance::new(1, number as u64);
        let id = key(number);
        let steel = Steel::new(SHAPES[number % SHAPES.len()], &mut chance);
        let title = format!("Blade “Reedling” {number}");
        let sheet = sheet_of(&id, &title, &steel, number)?;
        // Those in work lie spread among the others.
        let in_work = number.is_multiple_of((blades / IN_WORK).max(1));
        let stage = json!({ "stage": if in_work { "middle" } else { "sold" }, "ended": !in_work });
        let record = number
            .is_multiple_of(SEALED)
            .then(|| {
                let mut trial = Trial::new(4)?;
                trial.unsigned["record_id"] = Value::from(format!("{number:032x}"));
                trial.unsigned["blade"]["id"] = Value::from(id.clone());
                trial.unsigned["blade"]["title"] = Value::from(title.clone());
                trial.seal()
            })
            .transpose()?;
        Ok(Self {
            row: BladeRow {
                id,
                title,
                created_at: NOW.to_owned(),
            },
            sheet,
            stage,
            hours: json!({ "time": "2 h", "for": "photographs and packing" }),
            cost: json!({ "amount": "12.50 EUR", "for": "oil, paper, a box" }),
            record,
        })
    }

    /// Enters it; returns the entries of the journal.
    fn enter(&self, store: &FolderStore) -> Result<usize, BenchError> {
        let draft = NewDraft {
            blade: &self.row.id,
            expected_revision: None,
            body: &self.sheet,
            saved_at: NOW,
            source: DraftSource::Command,
            note: "",
            by: "A. Polisher",
        };
        let bodies = [
            ("stage", &self.stage),
            ("bench_hours", &self.hours),
            ("bench_cost", &self.cost),
        ];
        let entries = bodies.map(|(kind, body)| NewEntry {
            kind,
            blade: Some(&self.row.id),
            subject: "",
            on: "2026-02-28",
            body: Some(body),
            at: NOW,
            by: "I. Weir",
            replaces: None,
        });
        let change = Change {
            blade: Some(&self.row),
            draft: Some(draft),
            entries: &entries,
            ..Change::default()
        };
        store.apply(&change).map_err(broken)?;
        if let Some(bytes) = &self.record {
            let record = NewRecord {
                bytes,
                sealed_at: NOW,
                draft_revision: Some(1),
                disclosures: None,
            };
            store.append_record(&record).map_err(broken)?;
        }
        Ok(entries.len())
    }
}

/// A sheet with a few passes, in the long form of the record.
fn sheet_of(id: &str, title: &str, steel: &Steel, number: usize) -> Result<Value, BenchError> {
    let mut steel = steel.clone();
    let mut blade = steel.blade();
    blade["id"] = json!(id);
    blade["title"] = json!(title);
    let mut tang = steel.tang();
    if number % 40 == 7 {
        // Every fortieth bears invented signs, so that there is something to be found by them.
        tang["inscriptions"] = json!([{ "kind": "shu_mei", "side": "omote", "reading": "葦原水車", "note": "red lacquer, worn" }]);
    }
    let dimensions = steel.dimensions();
    let passes: Vec<Value> = (1..=number % 6)
        .map(|pass| {
            let before = steel.reading();
            steel.take(4);
            json!({
                "id": format!("p{pass}"), "on": "2026-02-20", "operation": "grind", "zones": ["ground", "edge"],
                "time": "1 h 30 min", "note": "even, wet, no heat",
                "before": { "mass": { "text": before, "instrument": "scale" } },
                "after": { "mass": { "text": steel.reading(), "instrument": "scale" } },
            })
        })
        .collect();
    let sheet = json!({
        "blade": blade,
        "examination": shape::examination("2026-02-18", "before_work", "rusted"),
        "dimensions": dimensions,
        "tang": tang,
        "temper_line": shape::temper_line(),
        "flaws": shape::flaws("2026-02-18"),
        "plan": shape::plan(120, "4.00 mm"),
        "passes": passes,
    });
    let mut no_photo = |name: &str| Err(format!("`{name}`: there is no photo"));
    let read = sheet::read(
        sheet.to_string().as_bytes(),
        SheetFormat::Json,
        &mut no_photo,
    );
    read.map_err(broken)?.to_json().map_err(broken)
}

/// Bytes of all files below a folder.
fn size(folder: &Path) -> Result<u64, std::io::Error> {
    let mut sum = 0;
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let facts = entry.metadata()?;
        sum += if facts.is_dir() {
            size(&entry.path())?
        } else {
            facts.len()
        };
    }
    Ok(sum)
}
