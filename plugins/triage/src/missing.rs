//! What was not looked at before a stone touches the blade.

use tangmark_core::record::{Examination, Part, Sheet, SightingMethod, TemperVisibility};
use tangmark_plugin::Level;

use tangmark_author::words::one_line;

use crate::ledger::Ledger;
use crate::temper;

/// Part, rule, level, and what is lost without it.
const PARTS: &[(Part, &str, Level, &str)] = &[
    (
        Part::Edge,
        "missing.edge",
        Level::Caution,
        "a crack through it would not be known",
    ),
    (
        Part::Point,
        "missing.point",
        Level::Caution,
        "a crack or a lost temper there would not be known",
    ),
    (
        Part::Tang,
        "missing.tang",
        Level::Caution,
        "signature, file marks and shortening would not be known",
    ),
    (
        Part::TemperLine,
        "missing.temper-line",
        Level::Caution,
        "how much edge may be taken would not be known",
    ),
    (
        Part::Sections,
        "missing.sections",
        Level::Caution,
        "how much steel there is, and later how much went, cannot be told at any place",
    ),
    (
        Part::Mass,
        "missing.mass",
        Level::Caution,
        "how much steel goes cannot be told at all",
    ),
    (
        Part::Straightness,
        "missing.straightness",
        Level::Info,
        "a bend may show only when it is ground, and it is taken out before",
    ),
];

/// Judges the examination.
pub(crate) fn judge(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    let Some(examination) = &sheet.examination else {
        let text = "There is no examination on the sheet: edge, point, tang, temper line, sections and mass are looked at before any work.";
        ledger.find(
            "missing.examination",
            Level::Caution,
            text,
            &["/examination".to_owned()],
            Vec::new(),
        );
        for rule in ["fatal.hagire", "fatal.karasunokuchi", "fatal.temper-lost"] {
            ledger.not_judged(rule, "an examination");
        }
        return;
    };
    for (part, rule, level, loss) in PARTS {
        if *part == Part::TemperLine && !temper::expected(sheet) {
            continue;
        }
        one_part(sheet, examination, *part, (rule, *level, loss), ledger);
    }
    if examination
        .methods
        .iter()
        .all(|method| *method == SightingMethod::NakedEye)
    {
        let text = "Looked at with the naked eye alone: fine cracks show in raking light or with a loupe; look again before work.";
        ledger.find(
            "missing.method",
            Level::Caution,
            text,
            &["/examination/methods".to_owned()],
            Vec::new(),
        );
        ledger.not_judged("fatal.hagire", "a look in raking light or with a loupe");
    }
}

fn one_part(
    sheet: &Sheet,
    examination: &Examination,
    part: Part,
    rule: (&str, Level, &str),
    ledger: &mut Ledger<'_>,
) {
    use tangmark_core::record::Term as _;
    let (id, level, loss) = rule;
    let name = part.gloss();
    if examination.examined.contains(&part) {
        if let Some(field) = without_content(sheet, part) {
            let text = format!(
                "Ticked as examined, but the sheet holds nothing of it: {name}. Without it {loss}."
            );
            ledger.find(
                id,
                level,
                &text,
                &[field.to_owned(), "/examination/examined".to_owned()],
                Vec::new(),
            );
        }
        return;
    }
    let reason = examination
        .not_examined
        .iter()
        .enumerate()
        .find(|(_, one)| one.part == part);
    let (why, pointer) = match reason {
        Some((index, one)) => (
            format!(" ({})", one_line(&one.why)),
            format!("/examination/not_examined/{index}"),
        ),
        None => (String::new(), "/examination/examined".to_owned()),
    };
    let text = format!("Not examined: {name}{why}. Without it {loss}.");
    ledger.find(id, level, &text, &[pointer], Vec::new());
    let unjudged: &[&str] = match part {
        Part::Edge => &["fatal.hagire", "fatal.hakobore"],
        Part::Point => &["fatal.karasunokuchi", "fatal.kissaki_broken"],
        Part::TemperLine => &["fatal.temper-lost"],
        Part::Tang => &["importance.signed", "importance.gold-inlay"],
        Part::Sections => &["care.thinnest", "care.pit-depth"],
        Part::Mass => &["budget.spent"],
        _ => &[],
    };
    for rule in unjudged {
        ledger.not_judged(rule, format!("an examination: {name}"));
    }
}

/// Names the field that should hold what was seen of a part and does not.
fn without_content(sheet: &Sheet, part: Part) -> Option<&'static str> {
    let dimensions = sheet.dimensions.as_ref();
    match part {
        Part::Tang if sheet.tang.is_none() => Some("/tang"),
        Part::TemperLine
            if sheet
                .temper_line
                .as_ref()
                .is_none_or(|line| line.visibility == TemperVisibility::NotExamined) =>
        {
            Some("/temper_line")
        }
        Part::Mass if dimensions.is_none_or(|one| one.mass.is_none()) => Some("/dimensions/mass"),
        Part::Sections
            if dimensions.is_none_or(|one| {
                one.stations.is_empty()
                    && one.thickness_at_base.is_none()
                    && one.thickness_at_point.is_none()
            }) =>
        {
            Some("/dimensions/stations")
        }
        _ => None,
    }
}
