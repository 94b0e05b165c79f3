//! Steel that went in sealed passes counts, whatever the sheet says.

use serde_json::{Value, json};
use tangmark_author::trial::record;
use tangmark_core::record::Purpose;
use tangmark_plugin::{CheckReply, Level};

use super::common::{asked, found, g, pass, plain};

fn worked(passes: &[Value]) -> Value {
    let mut sheet = plain();
    sheet["passes"] = json!(passes);
    sheet
}

fn sealed(sheet: &Value, sequence: u32) -> Value {
    record(sheet, sequence, Purpose::InWork, "2026-03-20T12:00:00Z")
}

fn after(sheet: &Value, history: &[&Value]) -> CheckReply {
    let history = (1..)
        .zip(history)
        .map(|(number, sheet)| sealed(sheet, number));
    asked(sheet, &json!({}), history.collect())
}

fn level(reply: &CheckReply, rule: &str) -> Option<Level> {
    found(reply, rule).map(|finding| finding.level)
}

fn gone(reply: &CheckReply) -> Option<String> {
    let quantity = reply
        .quantities
        .iter()
        .find(|one| one.name == "steel-gone")?;
    Some(quantity.value.clone())
}

#[test]
fn a_sealed_pass_that_the_sheet_leaves_out_counts() {
    let first = pass("p1", "grind", Some("748.3"), Some("744.3"));
    let second = pass("p2", "grind", Some("744.3"), Some("739.0"));
    let third = pass("p3", "polish", Some("739.0"), Some("738.9"));
    let before = worked(&[first.clone(), second]);
    // Nothing of the steel is on the new sheet but the last tenth of a gram.
    let reply = after(&worked(std::slice::from_ref(&third)), &[&before]);
    assert_eq!(gone(&reply).as_deref(), Some("9.400"));
    assert_eq!(level(&reply, "budget.spent"), Some(Level::Stop));
    let message = &found(&reply, "budget.sealed-passes").unwrap().message;
    assert!(
        message.starts_with("Sealed, and not on the sheet: `p1` (record 1) and `p2` (record 1)."),
        "{message}"
    );
    // The evidence is what the sheet has.
    assert_eq!(
        found(&reply, "budget.spent").unwrap().evidence,
        ["/plan/steel_budget", "/passes/0/after/mass"]
    );
    // An older draft that has the first pass alone.
    let reply = after(&worked(&[first]), &[&before]);
    assert_eq!(gone(&reply).as_deref(), Some("9.300"));
    assert_eq!(level(&reply, "budget.spent"), Some(Level::Stop));
    // A sheet without passes.
    let reply = after(&worked(&[]), &[&before]);
    assert_eq!(level(&reply, "budget.spent"), Some(Level::Stop));
}

#[test]
fn a_pass_that_stands_in_both_counts_once() {
    let one = pass("p1", "grind", Some("748.3"), Some("744.3"));
    let sheet = worked(std::slice::from_ref(&one));
    let reply = after(&sheet, &[&sheet]);
    assert_eq!(gone(&reply).as_deref(), Some("4.000"));
    assert_eq!(level(&reply, "budget.sealed-passes"), None);
}

#[test]
fn masses_that_differ_from_the_sealed_ones_are_told() {
    let before = worked(&[pass("p1", "grind", Some("748.3"), Some("739.0"))]);
    let reply = after(
        &worked(&[pass("p1", "grind", Some("748.3"), Some("747.0"))]),
        &[&before],
    );
    let finding = found(&reply, "budget.sealed-passes").unwrap();
    assert!(
        finding
            .message
            .contains("other masses than the sealed record for `p1`")
    );
    assert_eq!(finding.evidence, ["/passes/0"]);
}

/// Only a later examination together with another budget begins anew; either alone does not.
#[test]
fn new_work_begins_with_a_new_examination_and_a_new_budget() {
    let before = worked(&[pass("p1", "grind", Some("748.3"), Some("739.0"))]);
    let later = json!("2027-05-04");
    for (examined, budget, counts) in [
        (false, false, true),
        (true, false, true),
        (false, true, true),
        (true, true, false),
    ] {
        let mut sheet = worked(&[]);
        if examined {
            sheet["examination"]["on"] = later.clone();
        }
        if budget {
            sheet["plan"]["steel_budget"] = g("6");
        }
        let reply = after(&sheet, &[&before]);
        assert_eq!(
            level(&reply, "budget.spent").is_some(),
            counts,
            "examined anew {examined}, new budget {budget}"
        );
        assert_eq!(level(&reply, "budget.sealed-passes").is_some(), counts);
    }
    // A record in between that began anew ends it for good, also under the first budget's number.
    let mut between = worked(&[]);
    between["examination"]["on"] = later.clone();
    between["plan"]["steel_budget"] = g("6");
    let mut now = worked(&[]);
    now["examination"]["on"] = later;
    let reply = after(&now, &[&before, &between]);
    assert_eq!(level(&reply, "budget.spent"), None);
}

#[test]
fn a_history_that_cannot_be_read_is_refused() {
    let mut request = tangmark_author::trial::request(plain());
    request.history = vec![json!({ "blade": 7 })];
    let refusal = tangmark_triage::check(&request).unwrap_err().to_string();
    assert!(
        refusal.starts_with("record 1 of the blade's history cannot be read"),
        "{refusal}"
    );
}

/// Weighed after only, from 748.3 g at the examination: 2.2 g of rust apart, then 746.1 − 742.6 = 3.5 g and
/// 746.1 − 736.9 = 9.2 g of steel against the 9 g of the plan.
#[test]
fn a_pass_weighed_after_only_began_with_the_last_weighing() {
    let first = pass("p1", "derust", None, Some("746.1"));
    let second = pass("p2", "grind", None, Some("742.6"));
    let third = pass("p3", "grind", None, Some("736.9"));
    let reply = after(&worked(&[first.clone(), second.clone()]), &[]);
    assert_eq!(gone(&reply).as_deref(), Some("3.500"));
    assert_eq!(level(&reply, "budget.spent"), None);
    let reply = after(&worked(&[first, second, third]), &[]);
    assert_eq!(gone(&reply).as_deref(), Some("9.200"));
    assert_eq!(level(&reply, "budget.spent"), Some(Level::Stop));
    // One pass by itself, against the mass of the examination.
    let alone = pass("p1", "grind", None, Some("738.0"));
    let reply = after(&worked(&[alone]), &[]);
    assert_eq!(gone(&reply).as_deref(), Some("10.30"));
    assert_eq!(level(&reply, "budget.spent"), Some(Level::Stop));
    assert!(
        found(&reply, "budget.spent")
            .unwrap()
            .evidence
            .contains(&"/dimensions/mass".to_owned())
    );
}
