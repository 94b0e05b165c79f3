//! A workshop of many blades: how long lists, a search and opening one blade take, and how the store grows.
//!
//! Each is measured as a call in this process and as a run of the command. Times are those that passed: waiting for
//! the disk is what the user sees.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use serde::Serialize;
use serde_json::{Value, json};
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_store::{
    BladeRow, Change, DraftSource, FolderStore, NewDraft, NewEntry, NewRecord, StandingFilter,
    Store as _,
};
use tangmark_workshop::Workshop;

use super::{BenchError, Order, median};
use crate::mutate::Chance;
use crate::sealed::Trial;
use crate::year::shape::{self, SHAPES, Steel};

/// What a list, a search and opening a blade may take, in ms: what a person takes for at once.
pub const BLADES_GOAL_MS: f64 = 50.0;
/// How much more the last quarter of the blades may cost than the first, each.
pub const GROWTH_GOAL: f64 = 1.2;
/// Blades that are in work; the others were sold or went back.
const IN_WORK: usize = 60;
/// Every so many blades has a sealed record.
const SEALED: usize = 10;
/// Runs of each question; median and 95th of a hundred are told.
const CALLS: usize = 60;
const RUNS: usize = 30;
/// Lines of a list that is asked for.
const LINES: usize = 50;
/// Time of all that is entered.
const NOW: &str = "2026-03-01T09:30:00Z";

/// How long one question took, in ms.
#[derive(Clone, Debug, Serialize)]
pub struct Asked {
    /// The question.
    pub what: &'static str,
    /// A call in this process.
    pub call_ms: Times,
    /// A run of the command, its start included.
    pub run_ms: Times,
}

/// The middle one and the one that 95 in a hundred do not pass.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Times {
    /// Median.
    pub median: f64,
    /// 95th of a hundred.
    pub p95: f64,
}

/// What a quarter of the blades cost, each.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Quarter {
    /// Blades at its end.
    pub blades: usize,
    /// Bytes on the disk for each of its blades.
    pub bytes_each: f64,
    /// Milliseconds to enter each of them.
    pub ms_each: f64,
}

/// What was measured.
#[derive(Clone, Debug, Serialize)]
pub struct BladesBench {
    /// Blades.
    pub blades: usize,
    /// Those with a sealed record.
    pub sealed: usize,
    /// Entries of the journal.
    pub entries: usize,
    /// Questions.
    pub asked: Vec<Asked>,
    /// Growth of the store.
    pub growth: Vec<Quarter>,
}

impl BladesBench {
    /// What is beyond its goal, in words.
    pub fn beyond(&self) -> Vec<String> {
        let mut beyond = Vec::new();
        for asked in &self.asked {
            for (how, times) in [("call", asked.call_ms), ("run", asked.run_ms)] {
                if times.p95 > BLADES_GOAL_MS {
                    beyond.push(format!(
                        "{}, as a {how}: {:.1} ms in 95 of 100, at most {BLADES_GOAL_MS} ms allowed",
                        asked.what, times.p95
                    ));
                }
            }
        }
        let ratio =
            |of: fn(&Quarter) -> f64| Some(of(self.growth.last()?) / of(self.growth.first()?));
        let ratios = [
            ("bytes", ratio(|quarter| quarter.bytes_each)),
            ("time", ratio(|quarter| quarter.ms_each)),
        ];
        for (what, ratio) in ratios {
            if ratio.is_none_or(|ratio| ratio > GROWTH_GOAL) {
                beyond.push(format!(
                    "{what} for each blade of the last quarter: {:.2} times those of the first, at most {GROWTH_GOAL} allowed",
                    ratio.unwrap_or(f64::NAN)
                ));
            }
        }
        beyond
    }

    /// Numbers that were held against a goal.
    pub fn held(&self) -> usize {
        4 * self.asked.len() + 2 * self.growth.len()
    }
}

#[allow(clippy::needless_pass_by_value, reason = "handed to `map_err`")]
fn broken(what: impl ToString) -> BenchError {
    BenchError::Program {
        program: "blades".to_owned(),
        what: what.to_string(),
    }
}

pub(super) fn run(order: &Order<'_>, say: &mut dyn FnMut(&str)) -> Result<BladesBench, BenchError> {
    let folder = order.scratch.join("blades");
    let store = FolderStore::create(&folder).map_err(broken)?;
    store
        .set_setting("workshop_name", Some("Workshop of many blades (invented)"))
        .map_err(broken)?;
    drop(store);
    let (growth, sealed, entries) = enter(&folder, order.blades, say)?;
    let workshop = Workshop::open(&folder).map_err(broken)?;
    let asked = ask(&workshop, order, &folder, say)?;
    Ok(BladesBench {
        blades: order.blades,
        sealed,
        entries,
        asked,
        growth,
    })
}

fn key(number: usize) -> String {
    format!("reedling-{number:05}")
}

/// Enters the blades in four quarters; returns what each quarter cost, and how many records and entries there are.
fn enter(
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
        let in_work = number % (blades / IN_WORK).max(1) == 0;
        let stage = json!({ "stage": if in_work { "middle" } else { "sold" }, "ended": !in_work });
        let record = (number % SEALED == 0)
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

/// A question: what it is called, the call, and the words of the command.
type Question<'a> = (
    &'static str,
    Box<dyn Fn() -> Result<usize, BenchError> + 'a>,
    Vec<String>,
);

/// Asks each question often, in turn, so that an hour in which the machine is busy meets all of them.
fn ask(
    workshop: &Workshop,
    order: &Order<'_>,
    folder: &Path,
    say: &mut dyn FnMut(&str),
) -> Result<Vec<Asked>, BenchError> {
    let questions = questions(workshop, order.blades);
    let mut calls = vec![Vec::new(); questions.len()];
    let mut runs = vec![Vec::new(); questions.len()];
    for round in 0..=CALLS {
        for ((what, call, words), (calls, runs)) in
            questions.iter().zip(calls.iter_mut().zip(&mut runs))
        {
            let start = Instant::now();
            let found = call()?;
            let passed = start.elapsed().as_secs_f64() * 1e3;
            let wanted = usize::from(!what.ends_with("nothing"));
            if found.min(1) != wanted {
                return Err(broken(format!("{what}: {found} found")));
            }
            let run = (round <= RUNS)
                .then(|| command(order, folder, words))
                .transpose()?;
            // The first of each warms up.
            if round > 0 {
                calls.push(passed);
                runs.extend(run);
            }
        }
        if round % 20 == 0 {
            say(&format!("blades: asked {round} times of {CALLS}"));
        }
    }
    let asked = questions.iter().zip(calls.into_iter().zip(runs));
    Ok(asked
        .map(|((what, _, _), (calls, runs))| Asked {
            what,
            call_ms: Times::of(calls),
            run_ms: Times::of(runs),
        })
        .collect())
}

fn questions(workshop: &Workshop, blades: usize) -> Vec<Question<'_>> {
    let one = key(blades / 2);
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
    let listed = move |ended: Option<bool>, limit| {
        let filter = StandingFilter {
            ended,
            limit,
            ..StandingFilter::default()
        };
        let rows = workshop.store().standings(&filter).map_err(broken)?;
        Ok(rows.len())
    };
    let search = |asked: String| -> Box<dyn Fn() -> Result<usize, BenchError> + '_> {
        Box::new(move || {
            Ok(workshop
                .store()
                .search(&asked, LINES)
                .map_err(broken)?
                .len())
        })
    };
    let lines = LINES.to_string();
    vec![
        (
            "list of what is in work",
            Box::new(move || listed(Some(false), usize::MAX)),
            words(&["stage", "list"]),
        ),
        (
            "list of 50 blades",
            Box::new(move || listed(None, LINES)),
            words(&["blade", "list", "--limit", &lines]),
        ),
        (
            "search for one blade",
            search(one.clone()),
            words(&["search", &one]),
        ),
        (
            "search for signs",
            search("葦原".to_owned()),
            words(&["search", "葦原"]),
        ),
        (
            "search for a common word",
            search("rust".to_owned()),
            words(&["search", "rust"]),
        ),
        (
            "search that finds nothing",
            search("marshlight".to_owned()),
            words(&["search", "marshlight"]),
        ),
        (
            "one blade opened",
            {
                let one = one.clone();
                Box::new(move || {
                    let (_, revision) = workshop.sheet(&one).map_err(broken)?;
                    let records = workshop.records(&one).map_err(broken)?;
                    Ok(records.len() + usize::from(revision > 0))
                })
            },
            words(&["blade", "show", &one]),
        ),
    ]
}

impl Times {
    fn of(mut times: Vec<f64>) -> Self {
        times.sort_by(f64::total_cmp);
        let at = (times.len() * 95).div_ceil(100).saturating_sub(1);
        Self {
            p95: times.get(at).copied().unwrap_or(f64::NAN),
            median: median(times),
        }
    }
}

/// Runs the command once; returns the time in ms.
fn command(order: &Order<'_>, folder: &Path, words: &[String]) -> Result<f64, BenchError> {
    let program = |what: String| BenchError::Program {
        program: order.runner.display().to_string(),
        what,
    };
    let start = Instant::now();
    let output = Command::new(order.runner)
        .arg("--workshop")
        .arg(folder)
        .args(words)
        .env_clear()
        .env("XDG_DATA_HOME", order.scratch)
        .output()
        .map_err(|error| program(error.to_string()))?;
    let passed = start.elapsed().as_secs_f64() * 1e3;
    if output.status.success() {
        return Ok(passed);
    }
    let said = String::from_utf8_lossy(&output.stderr);
    Err(program(format!("`{}`: {said}", words.join(" "))))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_95th_is_one_of_the_slow_ones() {
        let times = Times::of((1..=100).rev().map(f64::from).collect());
        assert!((times.median - 50.5).abs() < 1e-9 && (times.p95 - 95.0).abs() < 1e-9);
    }

    #[test]
    fn blades_are_entered_in_quarters_and_found() {
        let folder = tempfile::tempdir().unwrap();
        drop(FolderStore::create(&folder.path().join("w")).unwrap());
        let (growth, sealed, entries) = enter(&folder.path().join("w"), 100, &mut |_| ()).unwrap();
        assert_eq!((growth.len(), sealed, entries), (4, 10, 300));
        assert!(
            growth
                .iter()
                .all(|quarter| quarter.bytes_each > 1000.0 && quarter.ms_each > 0.0)
        );
        let workshop = Workshop::open(&folder.path().join("w")).unwrap();
        for (what, call, _) in questions(&workshop, 100) {
            let found = call().unwrap();
            assert_eq!(
                found.min(1),
                usize::from(!what.ends_with("nothing")),
                "{what}"
            );
        }
    }

    #[test]
    fn what_is_beyond_its_goal_is_told() {
        let quarter = |bytes_each| Quarter {
            blades: 1,
            bytes_each,
            ms_each: 1.0,
        };
        let slow = Times {
            median: 10.0,
            p95: 50.1,
        };
        let fast = Times {
            median: 10.0,
            p95: 49.9,
        };
        let mut bench = BladesBench {
            blades: 4,
            sealed: 0,
            entries: 0,
            asked: vec![Asked {
                what: "list",
                call_ms: fast,
                run_ms: fast,
            }],
            growth: vec![quarter(100.0), quarter(119.0)],
        };
        assert!(bench.beyond().is_empty());
        bench.asked[0].run_ms = slow;
        bench.growth[1] = quarter(121.0);
        let beyond = bench.beyond();
        assert_eq!(beyond.len(), 2, "{beyond:?}");
        assert!(beyond[0].starts_with("list, as a run: 50.1 ms"));
    }
}
