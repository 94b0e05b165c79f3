//! `tangmark seal`.

use std::ffi::{OsStr, OsString};
use std::marker::PhantomData;
use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::{PossibleValue, PossibleValuesParser, TypedValueParser};
use tangmark_workshop::record::{
    Answer, AnswerKind, Decision, Override, Purpose, RefersTo, Term, UtcTime, Verdict,
};
use tangmark_workshop::{Order, TakenOver, Workshop};
use unicode_normalization::UnicodeNormalization as _;

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::passphrase;
use crate::show::{self, say};
use crate::surroundings;

/// Seal the newest sheet of a blade as a signed record
///
/// The record is chained to the one before it. The plugins check the sheet once more; what they find is sealed with it. While a stop stands, work records are
/// refused and the verdict cannot be `work`: `tangmark check` says who may answer. A sealed record is never changed;
/// what was wrong in it is put right by a correction.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark seal reed --for before_work --verdict work --reason \"Sound edge\" --by \"I. Reed\"
  tangmark seal gorge --for intake --verdict set_aside --reason \"Edge crack\" --by \"I. Reed\"
  tangmark seal lantern --for before_work --verdict work --reason \"Cleaning\" --by \"I. Reed\"
      --override triage/RULE --override-name \"S. Moor\" --override-reason \"Seen, may be cleaned\"
  tangmark seal lantern --for reply --verdict work --reason \"Letter of 4 May\" --by \"S. Moor\"
      --answer triage/RULE --answer-how \"Seen in hand: a light polish does no harm\"
  tangmark seal lantern --for receipt --refers-to 2
      --statement \"Received as packed, nothing is missing\"")]
pub(crate) struct Arguments {
    /// Key of the blade
    blade: String,
    /// What the record is for
    #[arg(long = "for", value_name = "PURPOSE", value_parser = TermParser::<Purpose>::new(), hide_possible_values = false)]
    purpose: Purpose,
    /// What is to happen with the blade; needed for intake, work and referral records
    #[arg(long, value_parser = TermParser::<Verdict>::new(), requires_all = ["reason", "by"])]
    verdict: Option<Verdict>,
    /// Why
    #[arg(long, value_name = "TEXT", requires = "verdict")]
    reason: Option<String>,
    /// Who decides
    #[arg(long, value_name = "NAME", requires = "verdict")]
    by: Option<String>,
    /// Lift a stop that may be lifted so, named as `tangmark check` names it; stands on page 1 of every later report
    /// (can be repeated, with name and reason each time)
    #[arg(long = "override", value_name = "PLUGIN/RULE", requires_all = ["override_name", "override_reason"])]
    overrides: Vec<String>,
    /// Who lifts it (can be repeated)
    #[arg(long, value_name = "NAME", requires = "overrides")]
    override_name: Vec<String>,
    /// Why it is lifted (can be repeated)
    #[arg(long, value_name = "TEXT", requires = "overrides")]
    override_reason: Vec<String>,
    /// Answer a stop by the specialist's reply that this record holds, named as `tangmark check` names it; only with
    /// `--for reply` (can be repeated, with the words each time)
    #[arg(long = "answer", value_name = "PLUGIN/RULE", requires_all = ["answer_how", "verdict"])]
    answers: Vec<String>,
    /// What the specialist says of that stop (can be repeated)
    #[arg(long, value_name = "TEXT", requires = "answers")]
    answer_how: Vec<String>,
    /// Number of the earlier record that this one speaks of, as a receipt or a reply does; without it what the sheet says
    /// under `refers_to`
    #[arg(long, value_name = "N", requires = "statement", value_parser = clap::value_parser!(u32).range(1..))]
    refers_to: Option<u32>,
    /// What is said of that record
    #[arg(long, value_name = "TEXT", requires = "refers_to")]
    statement: Option<String>,
    /// File for a copy of the record [default: a name in `out/` of the workshop]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

/// Reads a term of a closed list; `before-work` is read as `before_work`.
#[derive(Clone, Debug)]
pub(crate) struct TermParser<T> {
    values: PossibleValuesParser,
    term: PhantomData<T>,
}

impl<T: Term> TermParser<T> {
    pub(crate) fn new() -> Self {
        let values = T::ALL
            .iter()
            .map(|term| PossibleValue::new(term.key()).help(term.gloss()));
        Self {
            values: PossibleValuesParser::new(values),
            term: PhantomData,
        }
    }
}

impl<T: Term + Send + Sync> TypedValueParser for TermParser<T> {
    type Value = T;

    fn parse_ref(
        &self,
        command: &clap::Command,
        arg: Option<&clap::Arg>,
        value: &OsStr,
    ) -> Result<T, clap::Error> {
        let value = value.to_str().map_or_else(
            || value.to_owned(),
            |text| OsString::from(text.replace('-', "_")),
        );
        let key = self.values.parse_ref(command, arg, &value)?;
        let found = T::ALL.iter().find(|term| term.key() == key);
        found.copied().ok_or_else(|| {
            command.clone().error(
                clap::error::ErrorKind::InvalidValue,
                "not a term of the list",
            )
        })
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        self.values.possible_values()
    }
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let decision = decision(arguments)?;
    let refers_to = refers_to(arguments, &workshop)?;
    surroundings::with(|around| {
        let overrides = overrides(arguments, &around.now)?;
        let passphrase = arguments.passphrase.existing()?;
        let order = Order {
            blade: &arguments.blade,
            purpose: arguments.purpose,
            decision,
            overrides,
            refers_to,
            passphrase: passphrase.as_bytes(),
            out: arguments.out.as_deref(),
        };
        let sealed = workshop.seal(&order, around)?;
        if let Some(why) = &sealed.no_file {
            say(&format!(
                "note: the record is sealed, but its copy could not be written: {}; write one with `tangmark blade record {} --number {} --out FILE`",
                show::plain(why),
                sealed.blade,
                sealed.sequence
            ));
        }
        for caution in &sealed.cautions {
            say(&format!("caution: {}", show::plain(caution)));
        }
        if let Some(taken_over) = &sealed.taken_over {
            say(&taken_over_text(taken_over));
        }
        if arguments.json {
            print_json(&sealed)?;
            return Ok(code::GOOD);
        }
        if let Some(file) = &sealed.file {
            print(&format!("{}\n", file.display()))?;
        }
        say(&format!(
            "sealed {}; its name is {}",
            sealed.line(),
            sealed.record
        ));
        if sealed.withheld > 0 {
            say(&format!(
                "{} withheld by default; the workshop keeps them",
                show::counted(sealed.withheld, "value")
            ));
        }
        if sealed.under_hold > 0 {
            say(&format!(
                "note: the record names {} of passes worked under hold",
                show::counted(sealed.under_hold, "line")
            ));
        }
        for noted in &sealed.stops_gone {
            let stop = &noted.matter;
            say(&format!(
                "note: the stop {} stood on revision {} and went with revision {}, entered by {} on {} (entry {}), unanswered and \
                 before any record held it: {}",
                stop.rule,
                stop.stood,
                stop.gone,
                show::plain(&noted.by),
                noted.on,
                noted.number,
                show::plain(&stop.message)
            ));
        }
        for noted in &sealed.passes_gone {
            let note = &noted.matter;
            say(&format!(
                "note: pass `{}` came onto the sheet while {} stood unanswered, entered by {} on {} (entry {}), and is not on it any \
                 more: {}",
                show::plain(&note.pass),
                note.rule,
                show::plain(&noted.by),
                noted.on,
                noted.number,
                show::plain(&note.message)
            ));
        }
        Ok(code::GOOD)
    })
}

/// Numbers that nobody measured again look like a second measurement in every later report.
fn taken_over_text(one: &TakenOver) -> String {
    let whose = format!("record {} of `{}`", one.record, show::cut(&one.issuer, 120));
    if one.all() {
        return format!(
            "caution: every quantity that both have ({}) is to the last digit that of {whose}: taken over, not measured again; measure anew and seal that",
            one.both
        );
    }
    format!(
        "note: of {} that both have, {} to the last digit as in {whose}; what was not measured again, take out of the sheet for the next record",
        show::counted(one.both, "quantity"),
        one.equal
    )
}

/// Text that says something: a blank reason is none.
pub(crate) fn words(option: &str, text: &str) -> Result<String, Failure> {
    if text.trim().is_empty() {
        return Err(Failure::usage(
            format!("`{option}` is empty, words are needed"),
            format!("write `{option} \"…\"`"),
        ));
    }
    // A keyboard may send letters and marks apart; a record holds them together.
    Ok(text.nfc().collect())
}

fn decision(arguments: &Arguments) -> Result<Option<Decision>, Failure> {
    let (Some(verdict), Some(reason), Some(by)) =
        (arguments.verdict, &arguments.reason, &arguments.by)
    else {
        return Ok(None);
    };
    Ok(Some(Decision {
        verdict,
        by: words("--by", by)?,
        reason: words("--reason", reason)?,
        answers: answers(arguments)?,
    }))
}

fn refers_to(arguments: &Arguments, workshop: &Workshop) -> Result<Option<RefersTo>, Failure> {
    let (Some(number), Some(statement)) = (arguments.refers_to, &arguments.statement) else {
        return Ok(None);
    };
    Ok(Some(RefersTo {
        record: workshop.record_name(&arguments.blade, number)?,
        statement: words("--statement", statement)?,
    }))
}

fn answers(arguments: &Arguments) -> Result<Vec<Answer>, Failure> {
    let (rules, words_of) = (&arguments.answers, &arguments.answer_how);
    if rules.len() != words_of.len() {
        return Err(Failure::usage(
            format!(
                "{} --answer and {} --answer-how found, as many of each are allowed",
                rules.len(),
                words_of.len()
            ),
            "give the specialist's words with each answer",
        ));
    }
    if !rules.is_empty() && arguments.purpose != Purpose::Reply {
        return Err(Failure::usage(
            format!(
                "`--answer` found with `--for {}`, it is allowed with `--for reply`",
                arguments.purpose.key()
            ),
            "seal the specialist's reply as a record of its own: it lifts the stop for the records after it",
        ));
    }
    rules
        .iter()
        .zip(words_of)
        .map(|(rule, how)| {
            Ok(Answer {
                rule: rule.clone(),
                kind: AnswerKind::SpecialistReply,
                how: words("--answer-how", how)?,
                record: None,
            })
        })
        .collect()
}

fn overrides(arguments: &Arguments, now: &UtcTime) -> Result<Vec<Override>, Failure> {
    let Arguments {
        overrides: rules,
        override_name: names,
        override_reason: reasons,
        ..
    } = arguments;
    if rules.len() != names.len() || rules.len() != reasons.len() {
        return Err(Failure::usage(
            format!(
                "{} --override, {} --override-name and {} --override-reason found, as many of each are allowed",
                rules.len(),
                names.len(),
                reasons.len()
            ),
            "give name and reason with each override",
        ));
    }
    rules
        .iter()
        .zip(names)
        .zip(reasons)
        .map(|((rule, name), reason)| {
            Ok(Override {
                rule: rule.clone(),
                name: words("--override-name", name)?,
                reason: words("--override-reason", reason)?,
                at: now.clone(),
            })
        })
        .collect()
}
