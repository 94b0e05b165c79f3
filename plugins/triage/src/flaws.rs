//! Flaws against the table of weights.

use std::collections::BTreeMap;

use tangmark_core::record::{Flaw, FlawKind, Outcome, Sheet, Standing, Term as _, Zone};
use tangmark_core::units::Unit;
use tangmark_measure::decision::{Against, against_estimate};
use tangmark_measure::{Estimate, print};
use tangmark_plugin::{Level, NumberDraft, message::limits};

use crate::ledger::{Ledger, number};
use crate::rules::{self, FlawRule, Weight};
use crate::settings::Settings;
use crate::temper;
use crate::words::{capitalised, list};

/// Most flaws that one message spells out.
const SPELLED_OUT: usize = 6;

/// Judges every flaw; those of one kind and one verdict share a finding.
pub(crate) fn judge(sheet: &Sheet, settings: &Settings, ledger: &mut Ledger<'_>) {
    let mut groups: BTreeMap<(Level, String), Vec<usize>> = BTreeMap::new();
    for (index, flaw) in sheet.flaws.iter().enumerate() {
        let rule = rules::flaw_rule(flaw.kind);
        let (level, family) = verdict(sheet, flaw, rule);
        let id = if family == "flaw.ruled-out" {
            family.to_owned()
        } else {
            format!("{family}.{}", flaw.kind.key())
        };
        groups.entry((level, id)).or_default().push(index);
        if rules::may_be_fatal(rule.weight)
            && level != Level::Stop
            && flaw.standing != Standing::RuledOut
        {
            near_fatal(sheet, flaw, ledger);
        }
        if flaw.kind == FlawKind::Hakobore && flaw.standing != Standing::RuledOut {
            chip_depth(sheet, flaw, index, settings, ledger);
        }
    }
    for ((level, id), indexes) in groups {
        let flaws: Vec<&Flaw> = indexes.iter().map(|index| &sheet.flaws[*index]).collect();
        let pointers: Vec<String> = indexes
            .iter()
            .map(|index| format!("/flaws/{index}"))
            .collect();
        ledger.find(
            &id,
            level,
            &message(level, &id, &flaws),
            &pointers,
            numbers(&flaws),
        );
    }
}

/// How far a flaw goes against the temper line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Reach {
    Past,
    MayBePast,
    Within,
    Unknown,
}

fn verdict(sheet: &Sheet, flaw: &Flaw, rule: FlawRule) -> (Level, &'static str) {
    if flaw.standing == Standing::RuledOut {
        return (Level::Info, "flaw.ruled-out");
    }
    match rule.weight {
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
        Weight::FatalIfSaidPastTemper if flaw.through_temper == Some(true) => {
            (Level::Stop, "fatal")
        }
        Weight::SeriousInEdge if flaw.zone == Zone::Edge => (Level::Caution, "flaw"),
        Weight::FatalIfSaidPastTemper | Weight::Serious => (Level::Caution, "flaw"),
        Weight::SeriousInEdge | Weight::Tolerable | Weight::Keep => (Level::Info, "flaw"),
    }
}

fn reach(sheet: &Sheet, flaw: &Flaw) -> Reach {
    if let Some(through) = flaw.through_temper {
        return if through { Reach::Past } else { Reach::Within };
    }
    if !temper::expected(sheet) {
        return Reach::Within;
    }
    let depth = flaw.depth.as_ref().map(|depth| Estimate::from(&depth.0));
    let width = temper::width_at(sheet, flaw.at.to_f64());
    match (flaw.kind, depth, width) {
        (FlawKind::Hakobore, Some(depth), Some(width)) => match against_estimate(depth, width) {
            Against::Above => Reach::Past,
            Against::Undecided => Reach::MayBePast,
            Against::Below => Reach::Within,
        },
        _ => Reach::Unknown,
    }
}

fn near_fatal(sheet: &Sheet, flaw: &Flaw, ledger: &mut Ledger<'_>) {
    if flaw.kind == FlawKind::Hakobore && !temper::expected(sheet) {
        return;
    }
    let id = format!("fatal.{}", flaw.kind.key());
    match reach(sheet, flaw) {
        Reach::Unknown => ledger.not_judged(
            &id,
            format!(
                "{}: whether it goes through the temper line; note `through_temper`, or its depth and the widths of the temper line",
                flaw.id
            ),
        ),
        _ => ledger.nearly(&id, format!("{} does not go through the temper line", flaw.id)),
    }
}

fn chip_depth(
    sheet: &Sheet,
    flaw: &Flaw,
    index: usize,
    settings: &Settings,
    ledger: &mut Ledger<'_>,
) {
    const RULE: &str = "care.chip-depth";
    if !temper::expected(sheet) {
        return;
    }
    let Some(depth) = flaw.depth.as_ref().map(|depth| Estimate::from(&depth.0)) else {
        return ledger.not_judged(RULE, format!("depth of {}", flaw.id));
    };
    let Some(width) = temper::width_at(sheet, flaw.at.to_f64()) else {
        return ledger.not_judged(RULE, "widths of the temper line");
    };
    let Some(share) = depth.ratio(width) else {
        return;
    };
    let text = format!(
        "{} is {} deep where the temper line is about {} wide; taking it out brings the edge back by its depth over the \
         whole length",
        flaw.id,
        print::with_expanded(depth, "mm"),
        print::with_expanded(width, "mm")
    );
    if share.value + share.expanded() < settings.chip_share_of_temper {
        return ledger.nearly(RULE, text);
    }
    let numbers = [
        number("depth of the chip", depth, Unit::Millimetre),
        number("temper line there", width, Unit::Millimetre),
        number("share of the temper line", share, Unit::One),
    ];
    let pointers = [
        format!("/flaws/{index}/depth"),
        "/temper_line/widths".to_owned(),
    ];
    ledger.find(
        RULE,
        Level::Caution,
        &format!("The chip {text}."),
        &pointers,
        numbers.into_iter().flatten().collect(),
    );
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
        Standing::RuledOut if not_seen.is_empty() => "ruled out".to_owned(),
        Standing::RuledOut => format!("ruled out: not seen by {}", list(&not_seen)),
    });
    if flaw.standing != Standing::RuledOut && !seen.is_empty() {
        parts.push(format!("seen by {}", list(&seen)));
    }
    parts.join(", ")
}

fn message(level: Level, id: &str, flaws: &[&Flaw]) -> String {
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
    if id == "flaw.ruled-out" {
        return format!("Looked for again and not found: {named}. No stop from it.");
    }
    let kind = capitalised(&first.kind.shown());
    let advice = rules::flaw_rule(first.kind).advice;
    let kept = rules::flaw_rule(first.kind).weight == Weight::Keep;
    match level {
        Level::Stop
            if flaws
                .iter()
                .all(|flaw| flaw.standing == Standing::Confirmed) =>
        {
            format!(
                "{kind}: {named}. The trade's lists hold this fatal: no work, the blade is set aside."
            )
        }
        Level::Stop => format!(
            "{kind}: {named}. The trade's lists hold this fatal: stop at the present stage; {advice}. Two independent looks \
             that do not find it lift the stop."
        ),
        _ if kept => format!("{kind}: {named}. Kept: {advice}."),
        _ => format!("{kind}: {named}. Mind: {advice}."),
    }
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
    numbers.truncate(limits::NUMBERS);
    numbers
}
