//! What was agreed with the owner, against the passes: the day of return, and the points at which to stop and ask.
//!
//! Etches are judged in `etch`, steel in `budget`, money by the plugin `valuation`.

use tangmark_author::words::list;
use tangmark_core::record::{Agreement, Pass, Sheet};
use tangmark_plugin::Level;

use crate::ledger::Ledger;

/// Judges passes against the agreement. Passes of an earlier piece of work, before its day, are none of it.
pub(crate) fn judge(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    let Some(agreement) = &sheet.agreement else {
        return;
    };
    let passes: Vec<(usize, &Pass)> = sheet
        .passes
        .iter()
        .enumerate()
        .filter(|(_, pass)| pass.on.last_day() >= agreement.on.first_day())
        .collect();
    if passes.is_empty() {
        return;
    }
    return_day(agreement, &passes, ledger);
    ask_first(agreement, &passes, ledger);
}

fn return_day(agreement: &Agreement, passes: &[(usize, &Pass)], ledger: &mut Ledger<'_>) {
    let Some(back) = &agreement.return_by else {
        return;
    };
    let late: Vec<&(usize, &Pass)> = passes
        .iter()
        .filter(|(_, pass)| pass.on.first_day() > back.last_day())
        .collect();
    let Some((_, last)) = late.last() else {
        return;
    };
    let text = format!(
        "Agreed is the return by {back}, and {} after it, the last on {}: ask the owner for another day and note it.",
        logged(late.len()),
        last.on
    );
    let places: Vec<String> = std::iter::once("/agreement/return_by".to_owned())
        .chain(late.iter().map(|(index, _)| format!("/passes/{index}/on")))
        .collect();
    ledger.find(
        "agreement.return-day",
        Level::Caution,
        &text,
        &places,
        Vec::new(),
    );
}

fn ask_first(agreement: &Agreement, passes: &[(usize, &Pass)], ledger: &mut Ledger<'_>) {
    let open: Vec<(usize, &String)> = agreement
        .stop_and_ask
        .iter()
        .enumerate()
        .filter(|(_, point)| agreement.asked.iter().all(|one| one.point != **point))
        .collect();
    if open.is_empty() {
        return;
    }
    let points: Vec<String> = open
        .iter()
        .map(|(_, point)| format!("\"{point}\""))
        .collect();
    let text = format!(
        "Agreed with the owner to stop and ask at {}: {}, and nothing says what came of it. Look for it, ask where it is met, and note the \
         answer.",
        list(&points),
        logged(passes.len())
    );
    let places: Vec<String> = open
        .iter()
        .map(|(index, _)| format!("/agreement/stop_and_ask/{index}"))
        .collect();
    ledger.find(
        "agreement.ask-first",
        Level::Caution,
        &text,
        &places,
        Vec::new(),
    );
}

fn logged(passes: usize) -> String {
    match passes {
        1 => "1 pass is logged".to_owned(),
        more => format!("{more} passes are logged"),
    }
}
