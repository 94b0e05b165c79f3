//! Many reports one after the other, each of another record: time and memory, and whether memory grows.

use std::time::Instant;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::{processor_time, report::four_pages, status_kb};
use crate::sealed::{MakeError, Trial, fault, sign_report};

/// Reports after which memory is read first: until then pools fill.
const WARM: usize = 20;

/// What many reports took.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct ManyReports {
    /// Reports made.
    pub reports: usize,
    /// Pages of each.
    pub pages: usize,
    /// Bytes of all PDFs together.
    pub pdf_bytes: u64,
    /// Time to render and sign one, in ms of the processor on one core, mean of all.
    pub each_ms: f64,
    /// Time that passed in all, in s, with the sealing of the records.
    pub passed_s: f64,
    /// Memory held after the first reports (`VmRSS`), in kB, where the system tells it.
    pub held_at_start_kb: Option<u64>,
    /// Memory held after the last.
    pub held_at_end_kb: Option<u64>,
    /// Most memory held until the first were made (`VmHWM`), in kB.
    pub peak_at_start_kb: Option<u64>,
    /// Most memory held in all.
    pub peak_kb: Option<u64>,
}

impl ManyReports {
    /// Memory that was held more at the end than at the start, in kB.
    pub fn growth_kb(&self) -> Option<u64> {
        Some(self.held_at_end_kb?.saturating_sub(self.held_at_start_kb?))
    }
}

/// Makes `reports` reports of four pages with four photos; `tell` is called after each with the number made.
///
/// Each record is another one, so that nothing that is kept from one report can help the next by chance.
///
/// # Errors
/// When a report cannot be made.
pub fn many(reports: usize, tell: &mut dyn FnMut(usize)) -> Result<ManyReports, MakeError> {
    let (mut trial, _) = four_pages()?;
    let mut made = ManyReports {
        reports,
        pages: super::report::PAGES,
        pdf_bytes: 0,
        each_ms: 0.0,
        passed_s: 0.0,
        held_at_start_kb: None,
        held_at_end_kb: None,
        peak_at_start_kb: None,
        peak_kb: None,
    };
    let start = Instant::now();
    let mut worked = 0.0;
    for number in 1..=reports {
        another(&mut trial, number);
        let sealed = trial.seal()?;
        let before = processor_time();
        let (pdf, pages) = trial.render(&sealed)?;
        let signed = sign_report(pdf)?;
        worked += processor_time().saturating_sub(before).as_secs_f64();
        if pages != made.pages {
            let found = format!("{pages} pages, {} wanted", made.pages);
            return Err(fault("trial report")(found));
        }
        made.pdf_bytes += u64::try_from(signed.len()).unwrap_or(u64::MAX);
        drop(signed);
        if number == WARM.min(reports) {
            made.held_at_start_kb = status_kb("VmRSS:");
            made.peak_at_start_kb = status_kb("VmHWM:");
        }
        tell(number);
    }
    made.held_at_end_kb = status_kb("VmRSS:");
    made.peak_kb = status_kb("VmHWM:");
    made.passed_s = start.elapsed().as_secs_f64();
    made.each_ms = worked * 1000.0 / reports.max(1) as f64;
    Ok(made)
}

/// Makes another record of a trial: other id, other title, other words.
fn another(trial: &mut Trial, number: usize) {
    trial.unsigned["record_id"] = Value::from(format!("{number:032x}"));
    trial.unsigned["blade"]["title"] = Value::from(format!("Trial blade {number:05}, long sword"));
    if let Some(photo) = trial.unsigned.pointer_mut("/photos/0/caption") {
        *photo = Value::from(format!("Trial photo of blade {number:05}"));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn many_reports_are_counted() {
        let mut told = Vec::new();
        let made = many(3, &mut |number| told.push(number)).unwrap();
        assert_eq!(told, [1, 2, 3]);
        assert_eq!((made.reports, made.pages), (3, 4));
        assert!(made.pdf_bytes > 3 * 100_000 && made.each_ms > 0.0);
    }

    #[test]
    fn each_report_is_of_another_record() {
        let (mut trial, first) = four_pages().unwrap();
        another(&mut trial, 1);
        let one = trial.seal().unwrap();
        another(&mut trial, 2);
        let two = trial.seal().unwrap();
        assert!(first != one && one != two);
    }
}
