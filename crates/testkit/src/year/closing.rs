//! The end of the year: every record, package and paper is verified with the command, the store is looked at, and words
//! are found again.

use std::collections::VecDeque;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use serde::Serialize;
use serde_json::Value;

use super::YearError;
use super::actor::Actor;
use super::hand::Hand;
use super::papers::handed_over;

/// Of so many papers one is verified: each is drawn again for it.
const ONE_PAPER_OF: usize = 6;

/// What was verified, each with exit code 0 of `tangmark verify` in the workshop but for what it asks to confirm: a verifier
/// page not released yet, a record that was withdrawn or withdraws one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Verified {
    /// Sealed records, written out again.
    pub records: usize,
    /// Hand-over packages: one for each blade that was sold or given back.
    pub packages: usize,
    /// PDF reports.
    pub papers: usize,
    /// Packages whose verifier page is not the released one, and nothing else is to be confirmed: so it is between a
    /// change of the page and its release.
    pub page_not_released: usize,
    /// Records and reports of records that were withdrawn or withdraw one, each told as such.
    pub withdrawn: usize,
    /// Titles that the search found.
    pub found: usize,
}

/// Verifies everything.
pub(super) fn verify(workshop: &Actor<'_>, threads: usize) -> Result<Verified, YearError> {
    workshop.look(&["store", "check"])?;
    let folder = &workshop.shared.folder;
    let records = write_out(workshop, &folder.join("records"))?;
    let handed = handed_over(workshop)?;
    let papers: Vec<PathBuf> = handed.reports.into_iter().step_by(ONE_PAPER_OF).collect();
    let all = records.iter().chain(&handed.packages).chain(&papers);
    let (page_not_released, withdrawn) = verify_all(workshop, all.cloned().collect(), threads)?;
    Ok(Verified {
        page_not_released,
        withdrawn,
        records: records.len(),
        packages: handed.packages.len(),
        papers: papers.len(),
        found: search(workshop)?,
    })
}

/// The blades as `blade list` tells them: key, title and number of records.
fn blades(workshop: &Actor<'_>) -> Result<Vec<(String, String, u64)>, YearError> {
    let listed = workshop.json(&["blade", "list", "--json"])?;
    let lines = listed.as_array().or_else(|| listed["blades"].as_array());
    let line = |line: &Value| {
        let text = |name: &str| line[name].as_str().map(str::to_owned);
        Some((text("id")?, text("title")?, line["records"].as_u64()?))
    };
    lines
        .and_then(|lines| lines.iter().map(line).collect())
        .ok_or_else(|| YearError::Understood("`blade list --json`".to_owned()))
}

/// Writes every sealed record out again.
fn write_out(workshop: &Actor<'_>, folder: &Path) -> Result<Vec<PathBuf>, YearError> {
    fs::create_dir_all(folder).map_err(|error| YearError::file("make", folder, &error))?;
    let mut files = Vec::new();
    for (key, _, records) in blades(workshop)? {
        for number in 1..=records {
            let file = folder.join(format!("{key}-{number:02}.json"));
            let out = file.display().to_string();
            workshop.look(&[
                "blade",
                "record",
                &key,
                "--number",
                &number.to_string(),
                "--out",
                &out,
            ])?;
            files.push(file);
        }
    }
    Ok(files)
}

fn verify_all(
    workshop: &Actor<'_>,
    files: VecDeque<PathBuf>,
    threads: usize,
) -> Result<(usize, usize), YearError> {
    let files = Mutex::new(files);
    let (pages, withdrawn) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let shared = workshop.shared;
    let work = |number: usize| -> Result<(), YearError> {
        let hand = Hand::new(&shared.binary, &shared.folder, &format!("verify-{number}"))?;
        let next = || {
            files
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .pop_front()
        };
        while let Some(file) = next() {
            let file = file.display().to_string();
            let words = ["verify", &file, "--no-remember", "--json"].map(str::to_owned);
            let ran = hand.run(&words)?;
            if ran.code == Some(2) && only_the_page(&ran.out) {
                pages.fetch_add(1, Ordering::Relaxed);
            } else if ran.code == Some(2) && only_withdrawn(&ran.out) {
                withdrawn.fetch_add(1, Ordering::Relaxed);
            } else if ran.code != Some(0) {
                return Err(YearError::unexpected(&words, 0, &ran));
            }
        }
        Ok(())
    };
    std::thread::scope(|scope| {
        let work = &work;
        let hands: Vec<_> = (0..threads.max(1))
            .map(|number| scope.spawn(move || work(number)))
            .collect();
        hands.into_iter().try_for_each(|hand| {
            hand.join()
                .unwrap_or_else(|_| Err(YearError::Untrue("a hand stopped".to_owned())))
        })
    })?;
    Ok((pages.into_inner(), withdrawn.into_inner()))
}

/// Whether all that is to be confirmed of a record of the workshop's own is that it was withdrawn or withdraws another.
fn only_withdrawn(verdict: &str) -> bool {
    let verdict: Value = serde_json::from_str(verdict).unwrap_or_default();
    let told = &verdict["completeness"];
    verdict["bytes"]["state"] == "intact"
        && verdict["signer"]["state"] == "own"
        && (told["withdrawn_by"].is_string() || told["is_withdrawal"] == true)
}

/// Whether the verifier page is the only thing of a package that is to be confirmed.
fn only_the_page(verdict: &str) -> bool {
    let verdict: Value = serde_json::from_str(verdict).unwrap_or_default();
    verdict["page"] == "other"
        && verdict["next_steps"]
            .as_array()
            .is_some_and(|steps| steps.len() == 1)
}

/// Looks for each blade by its title; returns how many were found.
fn search(workshop: &Actor<'_>) -> Result<usize, YearError> {
    let mut found = 0;
    for (key, title, _) in blades(workshop)? {
        let said = workshop.look(&["search", &title, "--json"])?.out;
        if !said.contains(&format!("\"{key}\"")) {
            return Err(YearError::Untrue(format!(
                "`search {title}` does not find the blade {key}"
            )));
        }
        found += 1;
    }
    Ok(found)
}
