//! Overrides of what a specialist said to leave alone.

use tangmark_core::hold::{self, StopKind};
use tangmark_core::record::{Finding, Level, Override, Purpose, Record, Verdict};

/// The new overrides, each with what a specialist said to the contrary in its reason: who reads page 1 of a later report
/// has the override there and not the reply. And the same as words for whoever seals.
pub(crate) fn against_replies(
    overrides: &[Override],
    records: &[Record],
    findings: &[Finding],
) -> (Vec<Override>, Vec<String>) {
    let mut cautions = Vec::new();
    let told = overrides
        .iter()
        .map(|entry| {
            let stop = findings
                .iter()
                .filter(|finding| finding.level == Level::Stop)
                .find(|finding| hold::name(finding) == entry.rule);
            let mut entry = entry.clone();
            if let Some(number) = stop.and_then(|stop| set_aside_by(stop, records)) {
                let said = format!("the reply in record {number} said: set aside");
                cautions.push(format!("override of {}: {said}", entry.rule));
                entry.reason = format!("{} ({said})", entry.reason);
            }
            entry
        })
        .collect();
    (told, cautions)
}

/// The number of the newest reply that sets the blade aside over a stop: one on its importance, or one that names it. A
/// later reply that says `work` and names the stop takes its place.
fn set_aside_by(stop: &Finding, records: &[Record]) -> Option<u32> {
    let name = hold::name(stop);
    let speaks = |record: &&Record| record.purpose == Purpose::Reply;
    let replies: Vec<&Record> = hold::in_force(records, None).filter(speaks).collect();
    for record in replies.into_iter().rev() {
        let Some(decision) = &record.decision else {
            continue;
        };
        let names = decision.answers.iter().any(|answer| answer.rule == name);
        match decision.verdict {
            Verdict::Work if names => return None,
            Verdict::SetAside if names || StopKind::of(stop) == StopKind::Importance => {
                return Some(record.sequence);
            }
            _ => {}
        }
    }
    None
}
