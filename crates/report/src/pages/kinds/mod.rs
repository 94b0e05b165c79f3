//! The kinds of report: which sections each has, in which order.

mod buyer;
mod care;
pub(crate) mod comparison;
mod condition;
mod customs;
mod form;
mod identification;
mod labels;
mod parts;
mod receipt;
mod referral;
#[cfg(test)]
mod tests;

use tangmark_core::record::Record;

use super::{Content, words};
use crate::{
    Kind,
    layout::Flow,
    speech::{Pair, pair},
};

/// Sets the pages of the kind that is asked for.
pub(super) fn set(
    flow: &mut Flow,
    content: &Content<'_>,
) -> Result<(), comparison::NothingEarlier> {
    match content.kind {
        Kind::Condition => condition::set(flow, content),
        Kind::Comparison => return comparison::set(flow, content),
        Kind::Buyer => buyer::set(flow, content),
        Kind::Referral => referral::set(flow, content),
        Kind::Identification => identification::set(flow, content),
        Kind::Labels => labels::set(flow, content),
        Kind::Care => care::set(flow, content),
        Kind::Customs => customs::set(flow, content),
        Kind::Receipt => receipt::set(flow, content),
    }
    Ok(())
}

/// Name of the report: of which kind it is, of which record.
pub(super) fn name(record: &Record, kind: Kind, against: Option<u32>) -> Pair {
    let number = record.sequence;
    match kind {
        Kind::Condition => {
            let purpose = words::gloss(record.purpose);
            pair(
                format!("condition record {number}, {}", words::capital(&purpose.en)),
                format!("状態記録 {number}、{}", purpose.ja),
            )
        }
        Kind::Comparison => against.map_or_else(
            || {
                pair(
                    format!("before and after, record {number}"),
                    format!("作業前後の比較、記録 {number}"),
                )
            },
            |first| {
                pair(
                    format!("before and after, record {number} against {first}"),
                    format!("作業前後の比較、記録 {number} と {first}"),
                )
            },
        ),
        Kind::Buyer => pair(
            format!("for whoever takes the blade over, record {number}"),
            format!("譲受人のための報告、記録 {number}"),
        ),
        Kind::Referral => pair(
            format!("referral to a specialist, record {number}"),
            format!("専門家への照会、記録 {number}"),
        ),
        Kind::Identification => pair(
            format!("identification sheet, record {number}"),
            format!("識別票、記録 {number}"),
        ),
        Kind::Labels => pair(
            format!("labels to cut out, record {number}"),
            format!("切り取りラベル、記録 {number}"),
        ),
        Kind::Care => pair(
            format!("care of the blade, record {number}"),
            format!("刀身の手入れ、記録 {number}"),
        ),
        Kind::Customs => pair(
            format!("customs list, record {number}"),
            format!("税関用の内容品目録、記録 {number}"),
        ),
        Kind::Receipt => pair(
            format!("receipt for what changes hands, record {number}"),
            format!("受渡しの受領証、記録 {number}"),
        ),
    }
}

/// The line above the title.
fn eyebrow(content: &Content<'_>) -> Pair {
    let name = name(content.record, content.kind, content.against);
    if content.kind == Kind::Condition {
        let purpose = words::gloss(content.record.purpose);
        let number = content.record.sequence;
        return pair(
            format!("condition record {number} · {}", purpose.en),
            format!("状態記録 {number} · {}", purpose.ja),
        );
    }
    pair(
        name.en.replace(", record ", " · record "),
        name.ja.replace("、記録", " · 記録"),
    )
}
