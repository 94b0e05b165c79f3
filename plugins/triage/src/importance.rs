//! Signs that a blade is too important for the bench alone.

use std::collections::BTreeSet;

use tangmark_core::record::{
    Inscription, InscriptionKind, PartialDate, Registration, RegistrationKind, Sheet, SignKind,
    TangState, Term as _,
};
use tangmark_plugin::Level;

use tangmark_author::words::{counted, list, one_line};

use crate::ledger::Ledger;
use crate::settings::Settings;
use crate::temper::expected;

/// Signs of one group have one cause and count once.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Group {
    Inscription,
    Tang,
    Papers,
    Mark,
    Form,
    Other,
}

/// Judges registrations, signs, inscriptions, tang and period.
pub(crate) fn judge(sheet: &Sheet, settings: &Settings, ledger: &mut Ledger<'_>) {
    registrations(sheet, ledger);
    strong_signs(sheet, ledger);
    let mut weak: Vec<(Group, String, String)> = Vec::new();
    weak_signs(sheet, ledger, &mut weak);
    period(sheet, settings, ledger, &weak);
}

fn registrations(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    use RegistrationKind as R;
    let pointers = |wanted: &dyn Fn(R) -> bool| -> Vec<(String, &Registration)> {
        let all = sheet.blade.registrations.iter().enumerate();
        all.filter(|(_, one)| wanted(one.kind))
            .map(|(index, one)| (format!("/blade/registrations/{index}"), one))
            .collect()
    };
    let mut add = |rule: &str,
                   level: Level,
                   found: Vec<(String, &Registration)>,
                   text: &dyn Fn(&str) -> String| {
        if found.is_empty() {
            return;
        }
        let names: Vec<String> = found
            .iter()
            .map(|(_, one)| format!("{} ({})", one.kind.gloss(), one_line(&one.authority)))
            .collect();
        let places: Vec<String> = found.into_iter().map(|(pointer, _)| pointer).collect();
        ledger.find(rule, level, &text(&list(&names)), &places, Vec::new());
    };
    let by_law = |kind| {
        matches!(
            kind,
            R::NationalTreasure
                | R::ImportantCulturalProperty
                | R::ImportantArtObject
                | R::OtherDesignation
        )
    };
    add(
        "importance.designation",
        Level::Stop,
        pointers(&by_law),
        &|names| {
            format!(
                "Registered as {names}: no work before the authority and a senior specialist have been asked; local law decides."
            )
        },
    );
    let lost = |kind| kind == R::LossRegister;
    add(
        "provenance.loss-register",
        Level::Caution,
        pointers(&lost),
        &|names| {
            format!(
                "An {names} is on the sheet: ask the authority before anything else; nothing is decided here."
            )
        },
    );
    let ordinary = |kind| matches!(kind, R::RegistrationCard | R::PrivateAppraisal | R::Other);
    add(
        "importance.card",
        Level::Info,
        pointers(&ordinary),
        &|names| {
            format!(
                "On the sheet: {names}. Such a paper belongs to the blade and stays with it; by itself it asks for no referral."
            )
        },
    );
}

fn strong_signs(sheet: &Sheet, ledger: &mut Ledger<'_>) {
    let strong = [
        (
            SignKind::DesignationByLaw,
            "importance.designation",
            "Designated under a heritage law, as noted: no work before the authority and a senior specialist have been asked; local law decides.",
        ),
        (
            SignKind::ImportantMakerOnPapers,
            "importance.maker-on-papers",
            "Papers name an important maker: a senior specialist sees it before any work.",
        ),
        (
            SignKind::ExcavatedLook,
            "importance.excavated",
            "It looks as if it came out of the ground: no work and no cleaning before a senior specialist, and where the law asks for it the authority, has seen it.",
        ),
    ];
    for (kind, rule, text) in strong {
        let places = signs(sheet, kind);
        if !places.is_empty() {
            ledger.find(rule, Level::Stop, text, &places, Vec::new());
        }
    }
    let gold = inscriptions(sheet, |kind| kind == InscriptionKind::KinzoganMei);
    if !gold.is_empty() {
        let text = "The tang carries an attribution inlaid in gold: whether it is right is not for the bench to say; a senior specialist \
                    sees it before any work.";
        ledger.find(
            "importance.gold-inlay",
            Level::Stop,
            text,
            &gold,
            Vec::new(),
        );
    }
}

fn weak_signs(sheet: &Sheet, ledger: &mut Ledger<'_>, weak: &mut Vec<(Group, String, String)>) {
    use InscriptionKind as I;
    let signed = |kind| {
        matches!(
            kind,
            I::Zaimei
                | I::TachiMei
                | I::KatanaMei
                | I::NijiMei
                | I::NagaMei
                | I::GakuMei
                | I::OrikaeshiMei
                | I::HameMei
                | I::Kao
        )
    };
    let japanese = expected(sheet);
    let mut sign = |group: Group, rule: &str, word: &str, text: &str, places: Vec<String>| {
        let Some(first) = places.first().cloned() else {
            return;
        };
        ledger.find(rule, Level::Caution, text, &places, Vec::new());
        weak.push((group, word.to_owned(), first));
    };
    sign(
        Group::Inscription,
        "importance.signed",
        "signed",
        "Signed: have the signature read before work; whether it is right is an opinion, not this tool's.",
        inscriptions(sheet, signed),
    );
    sign(
        Group::Inscription,
        "importance.dated",
        "dated",
        "Dated: have the date read before work.",
        inscriptions(sheet, |kind| kind == I::Nengo),
    );
    let original = sheet
        .tang
        .as_ref()
        .is_some_and(|tang| tang.state == TangState::Ubu)
        && japanese;
    let place = if original {
        vec!["/tang/state".to_owned()]
    } else {
        Vec::new()
    };
    sign(
        Group::Tang,
        "importance.unshortened",
        "the tang is original",
        "The tang is original and not shortened: one weak sign; its patina is never cleaned.",
        place,
    );
    for (kind, group, rule, word, text) in [
        (
            SignKind::OldPapers,
            Group::Papers,
            "importance.old-papers",
            "old papers",
            "Papers of an earlier century: have them read before work, and keep them with the blade.",
        ),
        (
            SignKind::TempleOrShrineMark,
            Group::Mark,
            "importance.temple-or-shrine",
            "mark of a temple or shrine",
            "Mark of a temple or shrine: ask where it comes from before work.",
        ),
        (
            SignKind::RareForm,
            Group::Form,
            "importance.rare-form",
            "a form seldom seen",
            "A form seldom seen: show it to somebody who knows it before work.",
        ),
        (
            SignKind::NamedBlade,
            Group::Mark,
            "importance.named",
            "a name of its own",
            "The blade has a name of its own: find out what it rests on before work.",
        ),
        (
            SignKind::Other,
            Group::Other,
            "importance.other-sign",
            "another sign",
            "Another sign was noted: read the note before work.",
        ),
    ] {
        sign(group, rule, word, text, signs(sheet, kind));
    }
    for (kind, text) in [
        (
            SignKind::GapInWartime,
            "No provenance for 1933 to 1945: ask for papers before work and before any sale; local law decides.",
        ),
        (
            SignKind::NoExportPapers,
            "Left a country after 1970 without papers: ask for papers before work and before any sale; local law decides.",
        ),
    ] {
        let places = signs(sheet, kind);
        if !places.is_empty() {
            ledger.find("provenance.gap", Level::Caution, text, &places, Vec::new());
        }
    }
}

fn period(
    sheet: &Sheet,
    settings: &Settings,
    ledger: &mut Ledger<'_>,
    weak: &[(Group, String, String)],
) {
    const STOP: &str = "importance.early-with-signs";
    let early = settings.early_before_year;
    let year = |date: &Option<PartialDate>| {
        date.as_ref()
            .and_then(|date| date.as_str().get(..4)?.parse::<u16>().ok())
    };
    let (from, to) = (
        year(&sheet.blade.made_not_before),
        year(&sheet.blade.made_not_after),
    );
    let groups: BTreeSet<Group> = weak.iter().map(|(group, _, _)| *group).collect();
    let words: Vec<String> = weak.iter().map(|(_, word, _)| word.clone()).collect();
    let places: Vec<String> = [
        "/blade/made_not_after".to_owned(),
        "/blade/made_not_before".to_owned(),
    ]
    .into_iter()
    .chain(weak.iter().map(|(_, _, place)| place.clone()))
    .collect();
    match (from, to) {
        (_, Some(latest)) if latest < early => {
            let text = format!(
                "Made before {early} in the examiner's view (not after {latest}): one weak sign."
            );
            ledger.find(
                "importance.early",
                Level::Caution,
                &text,
                &places[..2],
                Vec::new(),
            );
            if groups.len() >= 2 {
                let text = format!(
                    "Made before {early} in the examiner's view (not after {latest}), and {}: together these hold the blade until a \
                     senior specialist has seen it.",
                    list(&words)
                );
                ledger.find(STOP, Level::Stop, &text, &places, Vec::new());
            } else {
                ledger.nearly(
                    STOP,
                    format!(
                        "made not after {latest}, with {}",
                        signs_text(&groups, &words)
                    ),
                    format!("{} more", counted(2 - groups.len(), "independent sign")),
                );
            }
        }
        (None, None) if groups.len() >= 2 => {
            ledger.not_judged(STOP, "the years between which the blade may have been made (made_not_before, made_not_after)");
        }
        (Some(earliest), latest) if earliest < early => {
            let end = latest.map_or_else(
                || "with no latest year".to_owned(),
                |latest| format!("to {latest}"),
            );
            let text = format!(
                "It may have been made before {early} ({earliest} {end}): narrow the period down before work."
            );
            ledger.find(
                "importance.early",
                Level::Caution,
                &text,
                &places[..2],
                Vec::new(),
            );
            if groups.len() >= 2 {
                ledger.nearly(
                    STOP,
                    format!("{}, and it may have been made before {early}", list(&words)),
                    format!("{earliest} {end}"),
                );
            }
        }
        (Some(earliest), _) | (None, Some(earliest)) => {
            // Periods are opinions in round numbers: within two generations of the border is worth a line.
            let years = earliest - early;
            if years < 50 {
                let text = format!(
                    "{earliest} is the earliest year on the sheet, and before {early} counts as early"
                );
                ledger.nearly(
                    "importance.early",
                    text,
                    counted(usize::from(years), "year"),
                );
            }
        }
        (None, None) => {
            if groups.len() == 1 {
                ledger.nearly(
                    STOP,
                    format!("{}, and no years on the sheet", list(&words)),
                    "1 independent sign and an early period more",
                );
            }
        }
    }
}

fn signs_text(groups: &BTreeSet<Group>, words: &[String]) -> String {
    if groups.is_empty() {
        "no sign beside its age".to_owned()
    } else {
        format!("{}, which count as one", list(words))
    }
}

fn signs(sheet: &Sheet, kind: SignKind) -> Vec<String> {
    let all = sheet.blade.signs.iter().enumerate();
    all.filter(|(_, sign)| sign.kind == kind)
        .map(|(index, _)| format!("/blade/signs/{index}"))
        .collect()
}

fn inscriptions(sheet: &Sheet, wanted: impl Fn(InscriptionKind) -> bool) -> Vec<String> {
    let all = sheet
        .tang
        .iter()
        .flat_map(|tang| &tang.inscriptions)
        .enumerate();
    all.filter(|(_, one): &(usize, &Inscription)| wanted(one.kind))
        .map(|(index, _)| format!("/tang/inscriptions/{index}"))
        .collect()
}
