//! Withdrawals among the records at hand: told before all else.

use tangmark_core::Digest;
use tangmark_core::record::{Purpose, Record};

use super::Verdict;
use crate::key::quoted_to;

/// Characters of a statement that are told.
const STATEMENT: usize = 600;

/// Puts the withdrawals among the record judged and those beside it before the other notices, in the order of their
/// numbers, and says in the verdict whether this record is one or is withdrawn by one.
pub(super) fn tell(verdict: &mut Verdict, judged: &Record, beside: &[(Digest, Record)]) {
    let own = verdict.record;
    let mut told: Vec<(u32, Digest, String)> = Vec::new();
    let mut beside: Vec<&(Digest, Record)> = beside.iter().collect();
    beside.sort_by_key(|(_, record)| record.sequence);
    for (name, record) in beside {
        if record.purpose != Purpose::Withdrawal || Some(*name) == own {
            continue;
        }
        let target = record.refers_to.as_ref();
        if record.sequence > judged.sequence && target.map(|target| target.record) == own {
            verdict.completeness.withdrawn_by = Some(*name);
        }
        let what = match target {
            None => "withdraws an earlier one".to_owned(),
            Some(target) if Some(target.record) == own => {
                format!(
                    "withdraws this record: {}",
                    quoted_to(STATEMENT, &target.statement)
                )
            }
            Some(target) => format!(
                "withdraws another one, {}: {}",
                target.record,
                quoted_to(STATEMENT, &target.statement)
            ),
        };
        let apart = if record.issuer.id == judged.issuer.id {
            ""
        } else {
            "; another key sealed it, verify it apart"
        };
        let sentence = format!(
            "record {} of this blade, {name}, {what}{apart}",
            record.sequence
        );
        told.push((record.sequence, *name, sentence));
    }
    if judged.purpose == Purpose::Withdrawal {
        verdict.completeness.is_withdrawal = true;
        if let Some(own) = own {
            let sentence = "this record withdraws an earlier one".to_owned();
            told.push((judged.sequence, own, sentence));
        }
    }
    told.sort();
    // Handed in twice it is told once.
    told.dedup();
    let sentences = told.into_iter().map(|(.., sentence)| sentence);
    verdict.notices.splice(0..0, sentences);
}
