//! The condition report: what matters first, what only informs in an annex.

use super::super::{
    Content, annex, cautions, closing, custody, dimensions, examination, features, findings,
    fittings, flaws, identity, photos, title, withheld, work,
};
use super::{eyebrow, parts};
use crate::layout::Flow;

pub(super) fn set(flow: &mut Flow, content: &Content<'_>) {
    let record = content.record;
    title::head(flow, content, &eyebrow(content));
    title::decision(flow, content);
    title::chief_measures(flow, record);
    parts::map(flow, record);
    flaws::set(flow, record);
    findings::asking(flow, record);
    examination::set(flow, record);
    dimensions::set(flow, record);
    parts::shape(flow, record, None);
    features::set(flow, record);
    fittings::set(flow, record);
    work::set(flow, record);
    parts::pass_history(flow, content);
    identity::set(flow, record);
    custody::set(flow, record);
    parts::custody_line(flow, record);
    photos::set(flow, content);
    withheld::set(flow, record);
    cautions::all(flow);
    closing::verify(flow, content);
    parts::annex_page(flow, record);
    annex::set(flow, record);
}
