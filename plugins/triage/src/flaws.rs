//! Flaws against the table of weights.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use tangmark_author::number;
use tangmark_author::words::{capitalised, list};
use tangmark_core::record::{Flaw, FlawKind, Outcome, Sheet, Standing, Term as _, Zone};
use tangmark_core::units::Unit;
use tangmark_measure::Estimate;
use tangmark_plugin::{Level, NumberDraft};

use crate::chips::{Reach, against_line, left_after, reach};
use crate::ladder::{Rung, rung};
use crate::ledger::{Ledger, Side};
use crate::rules::flaws::{FlawRule, UseCase, View, Weight};
use crate::settings::Settings;
use crate::{rules, temper};

/// Most flaws that one message spells out.
const SPELLED_OUT: usize = 6;

/// Most flaws of which one message tells the next look.
const LADDERS: usize = 3;

/// What a convention makes of a flaw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Verdict {
    level: Level,
    family: &'static str,
    /// The convention of the use that was set, where it made the verdict lighter.
    view: Option<&'static View>,
}

/// Judges every flaw; those of one kind and one verdict share a finding.
pub(crate) fn judge(sheet: &Sheet, settings: &Settings, ledger: &mut Ledger<'_>) {
    let mut groups: BTreeMap<(Level, String), (Verdict, Vec<usize>)> = BTreeMap::new();
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        let verdict = verdict(sheet, flaw, settings.use_case);
        let id = if verdict.family == "flaw.ruled-out" {
            verdict.family.to_owned()
        } else {
            format!("{}.{}", verdict.family, flaw.kind.key())
        };
        groups
            .entry((verdict.level, id))
            .or_insert_with(|| (verdict, Vec::new()))
            .1
            .push(index);
        if rules::flaws::flaw_rule(flaw.kind).weight.may_be_fatal() && verdict.family == "flaw" {
            near_fatal(sheet, flaw, verdict, ledger);
        }
    }
    for ((level, id), (verdict, indexes)) in groups {
        let flaws: Vec<&Flaw> = indexes.iter().map(|index| &sheet.flaws[*index]).collect();
        let pointers: Vec<String> = indexes
            .iter()
            .map(|index| format!("/flaws/{index}"))
            .collect();
        ledger.find(
            &id,
            level,
            &message(sheet, verdict, &flaws),
            &pointers,
            numbers(&flaws),
        );
    }
}

fn verdict(sheet: &Sheet, flaw: &Flaw, use_case: UseCase) -> Verdict {
    if rung(flaw) == Rung::RuledOut {
        return Verdict {
            level: Level::Info,
            family: "flaw.ruled-out",
            view: None,
        };
    }
    let strictest = weighed(sheet, flaw, rules::flaws::flaw_rule(flaw.kind).weight);
    // A convention of the use can only lighten: another kind of weight may be heavier on this one flaw.
    let view = rules::flaws::view(flaw.kind, use_case)
        .map(|view| (view, weighed(sheet, flaw, view.weight)))
        .filter(|(_, held)| held.0 < strictest.0);
    let (level, family) = view.map_or(strictest, |(_, held)| held);
    Verdict {
        level,
        family,
        view: view.map(|(view, _)| view),
    }
}

fn weighed(sheet: &Sheet, flaw: &Flaw, weight: Weight) -> (Level, &'static str) {
    match weight {
        Weight::Fatal => (Level::Stop, "fatal"),
        Weight::FatalPastTemper => match (reach(sheet, flaw), flaw.kind) {
            // How far a broken point goes is seen at once, so that silence must count as a suspicion.
            (Reach::Past | Reach::MayBePast, _) | (Reach::Unknown, FlawKind::KissakiBroken) => {
                (Level::Stop, "fatal")
            }
            (Reach::Unknown, _) | (Reach::Within, FlawKind::KissakiBroken) => {
                (Level::Caution, "flaw")
            }
            (Reach::Within, _) => (Level::Info, "flaw"),
        },
        Weight::FatalUnlessWithin if flaw.through_temper != Some(false) => (Level::Stop, "fatal"),
        Weight::FatalIfSaidPastTemper if flaw.through_temper == Some(true) => {
            (Level::Stop, "fatal")
        }
        Weight::SeriousInEdge if flaw.zone == Zone::Edge => (Level::Caution, "flaw"),
        Weight::FatalIfSaidPastTemper | Weight::FatalUnlessWithin | Weight::Serious => {
            (Level::Caution, "flaw")
        }
        Weight::SeriousInEdge | Weight::Tolerable | Weight::Keep => (Level::Info, "flaw"),
    }
}

fn near_fatal(sheet: &Sheet, flaw: &Flaw, verdict: Verdict, ledger: &mut Ledger<'_>) {
    let id = format!("fatal.{}", flaw.kind.key());
    if let Some(view) = verdict.view {
        let text = format!(
            "{}: {}; without use_case it would stop",
            flaw.id, view.words
        );
        return ledger.nearly(&id, text, "");
    }
    if flaw.kind == FlawKind::Hakobore && !temper::expected(sheet) {
        return;
    }
    if reach(sheet, flaw) == Reach::Unknown {
        let text = format!(
            "{}: whether it goes through the temper line; note `through_temper`, or its depth and the widths of the temper line",
            flaw.id
        );
        return ledger.not_judged(&id, text);
    }
    let text = format!("{} does not go through the temper line", flaw.id);
    match against_line(sheet, flaw) {
        Some((depth, width)) => ledger.quiet(&id, text, (depth, width, Side::Above), "mm"),
        None => ledger.nearly(&id, text, ""),
    }
}

/// Names a flaw as a person would: `crack-1 at 287 mm (edge), confirmed, seen in raking light`.
fn spelled(flaw: &Flaw) -> String {
    let looks = |outcome: Outcome| {
        let mut ways: Vec<String> = Vec::new();
        for sighting in flaw
            .sightings
            .iter()
            .filter(|sighting| sighting.outcome == outcome)
        {
            let way = sighting.method.gloss().to_owned();
            if !ways.contains(&way) {
                ways.push(way);
            }
        }
        ways
    };
    let mut parts = vec![format!(
        "{} at {} mm ({})",
        flaw.id,
        flaw.at.value,
        flaw.zone.key()
    )];
    parts.extend(
        flaw.depth
            .as_ref()
            .map(|depth| format!("{} mm deep", depth.value)),
    );
    let (seen, not_seen) = (looks(Outcome::Seen), looks(Outcome::NotSeen));
    parts.push(match flaw.standing {
        Standing::Suspected => "suspected".to_owned(),
        Standing::Confirmed => "confirmed".to_owned(),
        Standing::RuledOut if rung(flaw) != Rung::RuledOut => {
            "called ruled out, without two looks that bear it out".to_owned()
        }
        Standing::RuledOut if not_seen.is_empty() => "ruled out".to_owned(),
        Standing::RuledOut => format!("ruled out: not seen by {}", list(&not_seen)),
    });
    if flaw.standing != Standing::RuledOut && !seen.is_empty() {
        parts.push(format!("seen by {}", list(&seen)));
    }
    parts.join(", ")
}

fn message(sheet: &Sheet, verdict: Verdict, flaws: &[&Flaw]) -> String {
    let mut named: Vec<String> = flaws
        .iter()
        .take(SPELLED_OUT)
        .map(|flaw| spelled(flaw))
        .collect();
    if flaws.len() > SPELLED_OUT {
        named.push(format!("{} more", flaws.len() - SPELLED_OUT));
    }
    let named = named.join("; ");
    let Some(first) = flaws.first() else {
        return named;
    };
    if verdict.family == "flaw.ruled-out" {
        return format!("Looked for again and not found: {named}. No stop from it.");
    }
    let rule = rules::flaws::flaw_rule(first.kind);
    let mut text = format!("{}: {named}.", capitalised(&first.kind.shown()));
    if verdict.level == Level::Stop {
        text.push_str(&stop_text(sheet, rule, flaws));
    } else if let Some(view) = verdict.view {
        let held = if verdict.level == Level::Caution {
            "serious"
        } else {
            "tolerable"
        };
        let _ = write!(
            text,
            " Held {held} for {}: {}; by the strictest convention it is {}. Mind: {}.",
            view.use_case.words(),
            view.words,
            rule.weight.words(),
            rule.advice
        );
    } else if rule.weight == Weight::Keep {
        let _ = write!(text, " Kept: {}.", rule.advice);
    } else {
        let _ = write!(text, " Mind: {}.", rule.advice);
    }
    if verdict.level != Level::Stop {
        text.push_str(&chips_text(sheet, flaws));
    }
    text
}

/// What a stop says after the names: set aside or stop here, what would move it, and what other conventions hold.
fn stop_text(sheet: &Sheet, rule: FlawRule, flaws: &[&Flaw]) -> String {
    let seen = |flaw: &&&Flaw| matches!(rung(flaw), Rung::Seen { .. });
    let mut text = " The trade's lists hold this fatal".to_owned();
    if rule.weight == Weight::FatalPastTemper {
        text.push_str(" when it goes through the temper");
    }
    if flaws.iter().any(|flaw| seen(&flaw)) {
        text.push_str(": no work, the blade is set aside.");
    } else {
        let _ = write!(text, ": stop at the present stage; {}.", rule.advice);
    }
    text.push_str(&chips_text(sheet, flaws));
    let next: Vec<String> = flaws
        .iter()
        .take(LADDERS)
        .map(|flaw| crate::ladder::next(flaw))
        .collect();
    let _ = write!(text, " Looks: {}.", next.join("; "));
    for view in rules::flaws::views(rule.kind).filter(|view| view.use_case == UseCase::Display) {
        let _ = write!(
            text,
            " Conventions differ: for {}, {}; the strictest holds unless the settings say `use_case`.",
            view.use_case.words(),
            view.words
        );
    }
    text
}

/// What taking the chips among the flaws out would leave of the temper line.
fn chips_text(sheet: &Sheet, flaws: &[&Flaw]) -> String {
    let mut text = String::new();
    let chips = flaws
        .iter()
        .filter(|flaw| flaw.kind == FlawKind::Hakobore && temper::expected(sheet));
    for flaw in chips.take(SPELLED_OUT) {
        let Some(left) = left_after(sheet, flaw) else {
            continue;
        };
        let _ = if reach(sheet, flaw) == Reach::MayBePast {
            write!(
                text,
                " Within the measurement it cannot be told of {} whether it goes through: taking it out would leave {left}; a finer \
                 depth and width would settle it.",
                flaw.id
            )
        } else {
            write!(text, " Taking {} out would leave {left}.", flaw.id)
        };
    }
    text
}

fn numbers(flaws: &[&Flaw]) -> Vec<NumberDraft> {
    let mut numbers = Vec::new();
    for flaw in flaws {
        let measures = [
            ("at", Some(&flaw.at)),
            ("depth", flaw.depth.as_ref()),
            ("length", flaw.length.as_ref()),
        ];
        for (name, length) in measures {
            let length = length.map(|length| Estimate::from(&length.0));
            numbers.extend(length.and_then(|length| {
                number(&format!("{} {name}", flaw.id), length, Unit::Millimetre)
            }));
        }
    }
    numbers
}
