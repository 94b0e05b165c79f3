//! A package of a thousand records and many photos: how fast it is judged, beside `sha256sum`, and in how much memory.

use std::fs;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Mutex;
use std::time::Instant;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tangmark_core::{Digest, schema};
use tangmark_package::judge::{ChainState, PackageReader, PhotoState, judge_path};
use tangmark_package::write::{Content, Source};
use tangmark_trust::memory::Memory;
use tangmark_trust::proof;

use super::{BenchError, Order, median, peak_memory_kb};
use crate::sealed::{Trial, fault};

/// Records of the trial package.
const RECORDS: usize = 1000;
/// Bytes of each photo.
const PHOTO: usize = 8 << 20;
/// Most memory that judging may take, in kB.
pub const PACKAGE_MEMORY_GOAL_KB: u64 = 64 << 10;
/// Least part of the throughput of `sha256sum`.
pub const PACKAGE_RATE_GOAL: f64 = 0.8;

/// What one process found that judged the package.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct PackageRun {
    /// Exit code of the verdict.
    pub exit: u8,
    /// Records of the chain.
    pub records: usize,
    /// Photos that a record names.
    pub photos: usize,
    /// Whether the chain is whole.
    pub whole: bool,
    /// Until every byte was hashed, in s.
    pub hashed_s: f64,
    /// In all, in s.
    pub passed_s: f64,
    /// Most memory the process held, in kB, where the system tells it.
    pub peak_kb: Option<u64>,
}

/// What judging a package took.
#[derive(Clone, Debug, Serialize)]
pub struct PackageBench {
    /// Records.
    pub records: usize,
    /// Photos.
    pub photos: usize,
    /// Bytes of the photos.
    pub photo_bytes: u64,
    /// Until every byte was hashed, in s: median of the rounds.
    pub hashed_s: f64,
    /// In all, in s: median of the rounds.
    pub passed_s: f64,
    /// Most memory a judging process held, in kB.
    pub peak_kb: Option<u64>,
    /// The same package as one zip file, in all, in s: median of the rounds.
    pub zip_passed_s: f64,
    /// Most memory a process held that judged the zip file, in kB.
    pub zip_peak_kb: Option<u64>,
    /// `sha256sum` over the photos alone, in s: median of the rounds.
    pub sha256sum_s: Option<f64>,
    /// Throughput on the photos, in all, over that of `sha256sum`.
    pub of_sha256sum: Option<f64>,
}

impl PackageBench {
    /// The most memory of all judging processes, in kB, where the system tells it for each.
    pub fn most_kb(&self) -> Option<u64> {
        Some(self.peak_kb?.max(self.zip_peak_kb?))
    }
}

/// Judges the package in this process.
pub fn judge_package(path: &Path) -> PackageRun {
    let start = Instant::now();
    let hashed = Mutex::new(0.0);
    let memory = Memory::default();
    let reader = PackageReader {
        own_keys: &[],
        memory: &memory,
        now: "2026-11-25T08:00:00Z",
        histories: &[],
        authorities: &[],
        own_authorities: &[],
    };
    let verdict = judge_path(path, &reader, &|at| {
        if at.done == at.all
            && let Ok(mut hashed) = hashed.lock()
        {
            *hashed = start.elapsed().as_secs_f64();
        }
    });
    let photos = verdict.photos.values();
    PackageRun {
        exit: verdict.exit,
        records: verdict.chain.supplied,
        photos: photos
            .filter(|photo| photo.state == PhotoState::Original)
            .count(),
        whole: verdict.chain.state == ChainState::Whole,
        hashed_s: hashed.into_inner().unwrap_or_default(),
        passed_s: start.elapsed().as_secs_f64(),
        peak_kb: peak_memory_kb(),
    }
}

pub(super) fn run(
    order: &Order<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<PackageBench, BenchError> {
    let Some(testkit) = order.testkit else {
        return Err(BenchError::Step("a process of its own"));
    };
    say(&format!(
        "package: {RECORDS} records and {} MB of photos are made",
        order.size_mb
    ));
    let folder = order.scratch.join("package");
    let made = write(&folder, order.size_mb, RECORDS).map_err(fault("trial package"))?;
    let zip = order.scratch.join("package.zip");
    made.zip(&folder, &zip).map_err(fault("trial package"))?;
    let photos = made.photos(&folder);
    let photo_bytes = (photos.len() * PHOTO) as u64;
    let (mut hashed, mut passed, mut other, mut peaks) = (vec![], vec![], vec![], vec![]);
    let (mut zip_passed, mut zip_peaks) = (vec![], vec![]);
    let sound = |run: &PackageRun| {
        // A new signer is to be confirmed; all else is sound.
        let sound = run.exit == 2 && run.whole && run.records == RECORDS;
        let all = sound && run.photos == photos.len();
        all.then_some(())
            .ok_or(BenchError::Step("judging a package"))
    };
    for round in 0..order.rounds {
        say(&format!("package, round {} of {}", round + 1, order.rounds));
        let run = judged(testkit, &folder)?;
        sound(&run)?;
        let zipped = judged(testkit, &zip)?;
        sound(&zipped)?;
        zip_passed.push(zipped.passed_s);
        zip_peaks.extend(zipped.peak_kb);
        hashed.push(run.hashed_s);
        passed.push(run.passed_s);
        peaks.extend(run.peak_kb);
        if order.openssl.is_some() {
            other.push(sha256sum(&photos)?);
        }
    }
    let sha256sum_s = (!other.is_empty()).then(|| median(other));
    let passed_s = median(passed);
    Ok(PackageBench {
        records: RECORDS,
        photos: photos.len(),
        photo_bytes,
        hashed_s: median(hashed),
        passed_s,
        peak_kb: peaks.into_iter().max(),
        zip_passed_s: median(zip_passed),
        zip_peak_kb: zip_peaks.into_iter().max(),
        sha256sum_s,
        of_sha256sum: sha256sum_s.map(|other| other / passed_s),
    })
}

fn program(name: &Path, what: impl std::fmt::Display) -> BenchError {
    BenchError::Program {
        program: name.display().to_string(),
        what: what.to_string(),
    }
}

/// Judges in a process of its own, so that its memory is its own.
fn judged(testkit: &Path, folder: &Path) -> Result<PackageRun, BenchError> {
    let output = Command::new(testkit)
        .arg("judge-package")
        .arg(folder)
        .output()
        .map_err(|error| program(testkit, error))?;
    serde_json::from_slice(&output.stdout).map_err(|error| program(testkit, error))
}

/// Time of `sha256sum` over the photos, in s.
fn sha256sum(photos: &[PathBuf]) -> Result<f64, BenchError> {
    let name = Path::new("sha256sum");
    let start = Instant::now();
    let output = Command::new(name)
        .args(photos)
        .output()
        .map_err(|error| program(name, error))?;
    let passed = start.elapsed().as_secs_f64();
    let lines = output.stdout.split(|byte| *byte == b'\n').count();
    if !output.status.success() || lines != photos.len() + 1 {
        return Err(program(name, "it did not name every photo"));
    }
    Ok(passed)
}

/// A file of the payload manifest.
type Line = (String, Digest);

/// The trial package as it was written into a folder.
struct Made {
    payload: Vec<Line>,
    photos: Vec<Digest>,
}

impl Made {
    /// Its photos.
    fn photos(&self, folder: &Path) -> Vec<PathBuf> {
        let path = |digest: &Digest| folder.join(format!("data/photos/{digest}.jpg"));
        self.photos.iter().map(path).collect()
    }

    /// Writes the same package as one zip file.
    fn zip(&self, folder: &Path, zip: &Path) -> Result<(), Box<dyn std::error::Error>> {
        let mut content = Content::new();
        for (path, digest) in &self.payload {
            let file = folder.join(path);
            let length = fs::metadata(&file)?.len();
            let source = Source::File {
                path: file,
                length,
                digest: *digest,
            };
            content.add(path.as_str(), source)?;
        }
        content.write_zip(zip, "trial-handover", &mut |_| ControlFlow::Continue(()))?;
        Ok(())
    }
}

fn write(
    folder: &Path,
    size_mb: usize,
    records: usize,
) -> Result<Made, Box<dyn std::error::Error>> {
    for inner in ["data/records", "data/photos", "data/schema"] {
        fs::create_dir_all(folder.join(inner))?;
    }
    let count = ((size_mb << 20) / PHOTO).max(1);
    let (mut lines, mut photos): (Vec<Line>, Vec<Digest>) = (Vec::new(), Vec::new());
    for number in 0..count {
        let digest = photo(folder, number as u64)?;
        lines.push((format!("data/photos/{digest}.jpg"), digest));
        photos.push(digest);
    }
    let put = |path: String, bytes: &[u8]| -> Result<Line, std::io::Error> {
        fs::write(folder.join(&path), bytes)?;
        Ok((path, Digest::of(bytes)))
    };
    let mut previous = None;
    for number in 1..=records {
        let (sealed, name) = record(number, previous, &photos, records)?;
        lines.push(put(
            format!("data/records/{number:02}-in_work.json"),
            &sealed,
        )?);
        previous = Some(name);
    }
    let schema_path = "data/schema/tangmark-record-1.schema.json".to_owned();
    lines.push(put(schema_path, schema::RECORD_V1.as_bytes())?);
    let list = |lines: &[Line]| -> String {
        let line = |(path, digest): &Line| format!("{digest}  {path}\n");
        lines.iter().map(line).collect()
    };
    let declaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";
    let tags = [
        put("bagit.txt".to_owned(), declaration.as_bytes())?,
        put("manifest-sha256.txt".to_owned(), list(&lines).as_bytes())?,
    ];
    put("tagmanifest-sha256.txt".to_owned(), list(&tags).as_bytes())?;
    Ok(Made {
        payload: lines,
        photos,
    })
}

/// Writes a photo of bytes that do not repeat, under the name of its digest.
fn photo(folder: &Path, number: u64) -> Result<Digest, std::io::Error> {
    // SplitMix64; source: Steele, Lea and Flood, 2014 (from memory). Any bytes would do.
    let mut state = number.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mut bytes = vec![0_u8; PHOTO];
    for word in bytes.chunks_exact_mut(8) {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = (state ^ state >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
        word.copy_from_slice(&(mixed ^ mixed >> 31).to_le_bytes());
    }
    let digest = Digest::of(&bytes);
    fs::write(folder.join(format!("data/photos/{digest}.jpg")), bytes)?;
    Ok(digest)
}

/// Seals record `number` of the chain. Each names one photo, over and over, so that all are named.
fn record(
    number: usize,
    previous: Option<Digest>,
    photos: &[Digest],
    records: usize,
) -> Result<(Vec<u8>, Digest), Box<dyn std::error::Error>> {
    let mut trial = Trial::new(4)?;
    let record = &mut trial.unsigned;
    record["sequence"] = json!(number);
    record["record_id"] = json!(format!("{number:032x}"));
    record["previous"] = json!(previous.map(|name| name.to_string()));
    record["purpose"] = json!("in_work");
    let per_record = photos.len().div_ceil(records);
    let named = (0..per_record).map(|index| (number - 1 + index * records) % photos.len());
    let entry = |index: usize| {
        json!({
            "id": format!("photo-{index}"), "shows": "whole", "caption": "Trial photo",
            "original_kept_private": false,
            "original": {
                "digest": photos[index].to_string(), "length": PHOTO, "media_type": "image/jpeg",
                "width_px": 4000, "height_px": 3000,
            },
        })
    };
    record["photos"] = Value::Array(named.map(entry).collect());
    let sealed = trial.seal()?;
    let value: Value = serde_json::from_slice(&sealed)?;
    Ok((sealed, proof::record_digest(&value)?))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_memory_of_both_forms_counts() {
        let bench = |peak_kb, zip_peak_kb| PackageBench {
            records: 1,
            photos: 1,
            photo_bytes: 1,
            hashed_s: 1.0,
            passed_s: 1.0,
            peak_kb,
            zip_passed_s: 1.0,
            zip_peak_kb,
            sha256sum_s: None,
            of_sha256sum: None,
        };
        assert_eq!(bench(Some(10), Some(20)).most_kb(), Some(20));
        assert_eq!(bench(Some(30), Some(20)).most_kb(), Some(30));
        // What is not told is not held to be little.
        assert_eq!(bench(None, Some(20)).most_kb(), None);
        assert_eq!(bench(Some(30), None).most_kb(), None);
    }

    #[test]
    fn the_trial_package_is_sound() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("package");
        let made = write(&inner, 16, 20).unwrap();
        let photos = made.photos(&inner);
        assert_eq!(photos.len(), 2);
        let zip = folder.path().join("package.zip");
        made.zip(&inner, &zip).unwrap();
        let zipped = judge_package(&zip);
        assert_eq!((zipped.exit, zipped.records, zipped.photos), (2, 20, 2));
        let run = judge_package(&inner);
        assert_eq!((run.exit, run.records, run.photos), (2, 20, 2));
        assert!(run.whole && run.hashed_s > 0.0 && run.passed_s >= run.hashed_s);
        assert!(sha256sum(&photos).unwrap() > 0.0);
    }
}
