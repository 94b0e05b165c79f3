//! A plugin that misbehaves on purpose, for tests of the host. Never shipped, never searched for.
//!
//! `check` does what the setting `mischief` says (`answers` and `deeds` list the words). What
//! has to happen before there is a request (in a constructor, in `describe`) is ordered by the
//! `ORDER` bytes, which a test overwrites in a copy of the built library.
//!
//! Even this crate has no unsafe code of its own: the macro brings it.
#![forbid(unsafe_code)]

mod answers;
mod deeds;

use std::{hint::black_box, sync::OnceLock};

use serde_json::Value;
use tangmark_plugin::{CheckRequest, Description, stress::RawAnswer, wire};

tangmark_plugin::export_misbehaving!(describe, check, construct);

/// Length of the order, padded with blanks.
const ORDER_LENGTH: usize = 40;

/// Where a test finds the order in the library's bytes.
const ORDER_MARK: &[u8; 24] = b"tangmark stress order : ";

/// What to do before there is a request: `constructor <deed>`, `describe <answer>`, or
/// `called <name>` to be well-behaved under another name.
#[used]
static ORDER: [u8; ORDER_MARK.len() + ORDER_LENGTH] =
    *b"tangmark stress order : none                                    ";

/// What came of the constructor's deed.
static CONSTRUCTED: OnceLock<String> = OnceLock::new();

fn order() -> String {
    // The compiler must not look at the bytes: they differ in a test's copy.
    let bytes: &[u8] = black_box(&ORDER)
        .get(ORDER_MARK.len()..)
        .unwrap_or_default();
    String::from_utf8_lossy(bytes).trim().to_owned()
}

fn construct() {
    if let Some(deed) = order().strip_prefix("constructor ") {
        let outcome = deeds::perform(deed, &Value::Null);
        let _ = CONSTRUCTED.set(outcome.unwrap_or_else(|| format!("no deed `{deed}`")));
    }
}

fn description() -> Description {
    let order = order();
    let name = order.strip_prefix("called ").unwrap_or("stress");
    Description::new(name, "0.1.0", "Misbehaves on purpose").with_rule(
        "stress.report",
        "What came of it",
        "a test of the host",
    )
}

fn describe(_request: &[u8]) -> RawAnswer {
    let mut description = description();
    match order().strip_prefix("describe ") {
        Some("other-abi") => description.abi = 7,
        Some("other-name") => "triage".clone_into(&mut description.name),
        Some("hang") => deeds::hang(),
        _ => {}
    }
    RawAnswer::honest(wire::to_bytes(&description).unwrap_or_default())
}

fn check(bytes: &[u8]) -> RawAnswer {
    let Ok(request) = wire::request_from_bytes::<CheckRequest>(bytes) else {
        return answers::refused("the request cannot be read");
    };
    let mischief = request
        .settings
        .get("mischief")
        .and_then(Value::as_str)
        .unwrap_or("none");
    if mischief == "report-constructor" {
        return answers::report(
            CONSTRUCTED
                .get()
                .map_or("nothing was ordered", String::as_str),
        );
    }
    match deeds::perform(mischief, &request.settings) {
        Some(outcome) => answers::report(&outcome),
        None => answers::answer(mischief, &request),
    }
}
