//! The specialist's reply: sealed here from a letter, or by the specialist's own workshop.

use std::path::Path;

use serde::Serialize;
use tangmark_core::hold::StopKind;
use tangmark_core::record::{
    Answer, AnswerKind, Decision, Purpose, Record, RefersTo, Term as _, Verdict,
};
use tangmark_store::Store as _;

use super::case::{ReferralCase, subject};
use super::error::ReferError;
use super::note::ReplyNote;
use super::receipt::paper_file;
use super::way::stage_after;
use crate::journal::Who;
use crate::stage::Stage;
use crate::steps::{Step, Tell, Walk};
use crate::{Order, Surroundings, Workshop, WorkshopError};

/// Where the reply comes from.
#[derive(Clone, Debug)]
pub enum ReplySource<'a> {
    /// A letter, a call, a visit: it is sealed here.
    Told {
        /// From whom.
        from: &'a str,
        /// What is to happen; `refer`: the specialist keeps the blade, or refers it on.
        verdict: Verdict,
        /// What the reply says.
        text: &'a str,
        /// What it says of each stop, by `plugin/rule`.
        answers: &'a [(String, String)],
        /// The letter.
        letter: Option<&'a Path>,
    },
    /// A record that the specialist's own workshop sealed and that was received, by its number.
    Sealed(u32),
}

/// Order to enter a reply.
#[derive(Clone, Debug)]
pub struct ReplyOrder<'a> {
    /// Blade.
    pub blade: &'a str,
    /// The reply.
    pub source: ReplySource<'a>,
    /// Why the specialist could reply though the blade was not sent, such as by photographs.
    pub unsent: Option<&'a str>,
    /// Passphrase of the signing key; not needed for a reply that was sealed elsewhere.
    pub passphrase: &'a [u8],
    /// Who enters it, and when.
    pub who: Who<'a>,
}

/// What came of it.
#[derive(Clone, Debug, Serialize)]
pub struct Replied {
    /// Blade.
    pub blade: String,
    /// Number of the referral record.
    pub referral: u32,
    /// The reply.
    #[serde(flatten)]
    pub reply: ReplyNote,
    /// Stops that it answers.
    pub answered: Vec<String>,
    /// Stage now.
    pub stage: Stage,
    /// The blade is still with the specialist.
    pub is_away: bool,
    /// The steps.
    pub steps: Vec<Step>,
}

/// Stands in the reason of a reply between its words and why the blade was not sent; a bracket closes it.
const UNSENT: &str = " (the blade was not sent: ";

/// Refuses words that differ from a reply that is sealed: what is typed now would be dropped.
fn same_as_sealed(
    blade: &str,
    said: &Decision,
    text: &str,
    record: &Record,
) -> Result<(), ReferError> {
    let sealed = record.decision.as_ref();
    let answers = |decision: &Decision| {
        let one = |one: &Answer| format!("{}: {}", one.rule, one.how);
        let all: Vec<String> = decision.answers.iter().map(one).collect();
        all.join("; ")
    };
    let of = |what: fn(&Decision) -> String| sealed.map(what).unwrap_or_default();
    let statement = record.refers_to.as_ref().map(|said| said.statement.clone());
    let pairs = [
        ("from", of(|one| one.by.clone()), said.by.clone()),
        (
            "verdict",
            of(|one| one.verdict.key().to_owned()),
            said.verdict.key().to_owned(),
        ),
        ("text", statement.unwrap_or_default(), text.to_owned()),
        ("reason", of(|one| one.reason.clone()), said.reason.clone()),
        (
            "answers",
            sealed.map(answers).unwrap_or_default(),
            answers(said),
        ),
    ];
    match pairs.into_iter().find(|(_, sealed, found)| sealed != found) {
        Some((what, sealed, found)) => Err(ReferError::OtherReply {
            blade: blade.to_owned(),
            record: record.sequence,
            what,
            sealed,
            found,
        }),
        None => Ok(()),
    }
}

/// Why the blade was not sent, where it was not.
fn unsent(order: &ReplyOrder<'_>, case: &ReferralCase) -> Option<String> {
    let why = order.unsent.filter(|_| case.sent_on.is_none());
    why.map(str::to_owned)
}

impl Workshop {
    /// Enters the specialist's reply: sealed as a record of its own, noted, and followed. Ended after any step and run
    /// again with the same words, it goes on where it was.
    ///
    /// # Errors
    /// When no referral is open, the blade was not sent and nothing says why it need not be, a reply that says `work` leaves an importance stop unanswered or answers what it may not,
    /// a receipt of the specialist would follow the same record, the record named is no reply, the letter cannot be read, or
    /// a reply is sealed that says something else.
    pub fn referral_reply(
        &self,
        order: &ReplyOrder<'_>,
        tell: &mut Tell<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Replied, WorkshopError> {
        self.referral_reply_to(order, usize::MAX, tell, around)
    }

    pub(crate) fn referral_reply_to(
        &self,
        order: &ReplyOrder<'_>,
        most: usize,
        tell: &mut Tell<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Replied, WorkshopError> {
        let mut walk = Walk::new(tell, most);
        let case = self.case_to_answer(order)?;
        if case.sent_on.is_none() && case.reply.is_none() && order.unsent.is_none() {
            return Err(ReferError::Unsent(order.blade.to_owned()).into());
        }
        let (note, answered) = match &order.source {
            ReplySource::Sealed(number) => {
                let mut found = self.received_reply(&case, *number)?;
                found.0.unsent = unsent(order, &case);
                walk.tell(
                    Step::before("record", format!("record {number} is the reply"))
                        .with_record(found.0.reply),
                );
                found
            }
            ReplySource::Told { .. } => self.told_reply(order, &case, &mut walk, around)?,
        };
        let stage = self.follow(order, &case, &note, &mut walk, around)?;
        Ok(Replied {
            blade: order.blade.to_owned(),
            referral: case.sequence,
            reply: note,
            answered,
            stage,
            is_away: case.is_away(),
            steps: walk.finish(),
        })
    }

    /// The referral that is answered: an open one without a reply, or one whose reply is sealed and not noted yet. A withdrawn reply is none.
    fn case_to_answer(&self, order: &ReplyOrder<'_>) -> Result<ReferralCase, WorkshopError> {
        let blade = order.blade;
        let today = "";
        let noted = self.noted::<ReplyNote>(Some(blade), None)?;
        let cases = self.referrals_of(blade, today)?;
        let waits = |case: &ReferralCase| {
            let reply = case.reply.as_ref().map(|reply| reply.record);
            !noted.iter().any(|one| Some(one.matter.reply) == reply)
        };
        let found = cases.into_iter().rev().find(waits);
        Ok(found.ok_or_else(|| ReferError::NoneOpen(blade.to_owned()))?)
    }

    /// Seals what was told, unless an earlier run did.
    fn told_reply(
        &self,
        order: &ReplyOrder<'_>,
        case: &ReferralCase,
        walk: &mut Walk<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<(ReplyNote, Vec<String>), WorkshopError> {
        let ReplySource::Told {
            from,
            verdict,
            text,
            answers,
            letter,
        } = order.source
        else {
            return Err(ReferError::NoneOpen(case.blade.clone()).into());
        };
        let blade = order.blade;
        // Once the reply is sealed a slip in the name of the file could not be put right.
        let letter = letter.map(paper_file).transpose()?;
        let mut said = Decision {
            verdict,
            by: from.to_owned(),
            // Whoever reads the record is to know that the blade was not in the specialist's hand.
            reason: unsent(order, case)
                .map_or_else(|| text.to_owned(), |why| format!("{text}{UNSENT}{why})")),
            answers: answers
                .iter()
                .map(|(rule, how)| Answer {
                    rule: rule.clone(),
                    kind: AnswerKind::SpecialistReply,
                    how: how.clone(),
                    record: Some(case.record),
                })
                .collect(),
        };
        let mut why = unsent(order, case);
        let (reply, sequence) = if let Some(reply) = &case.reply {
            let record = self.pick(blade, Some(reply.sequence))?.record;
            let sealed = record.decision.as_ref();
            if order.unsent.is_none()
                && let Some(reason) = sealed.and_then(|sealed| sealed.reason.strip_prefix(text))
                && let Some(before) = reason.strip_prefix(UNSENT)
            {
                // Why it was not sent need not be said again.
                why = before.strip_suffix(')').map(str::to_owned);
                said.reason = format!("{text}{reason}");
            }
            same_as_sealed(blade, &said, text, &record)?;
            walk.tell(
                Step::before("record", format!("record {} is the reply", reply.sequence))
                    .with_record(reply.record),
            );
            (reply.record, reply.sequence)
        } else {
            self.no_fork(case)?;
            if verdict == Verdict::Work {
                self.all_answered(blade, answers, around)?;
            }
            walk.next().map_err(ReferError::from)?;
            let sealed = self.seal(
                &Order {
                    blade,
                    purpose: Purpose::Reply,
                    decision: Some(said.clone()),
                    overrides: Vec::new(),
                    refers_to: Some(RefersTo {
                        record: case.record,
                        statement: text.to_owned(),
                    }),
                    passphrase: order.passphrase,
                    out: None,
                },
                around,
            )?;
            let mut step = Step::done("record", format!("sealed {}", sealed.line()))
                .with_record(sealed.record);
            step.file.clone_from(&sealed.file);
            walk.tell(step);
            (sealed.record, sealed.sequence)
        };
        let letter = letter
            .map(|bytes| self.keep_paper(reply, &bytes))
            .transpose()?;
        let note = ReplyNote {
            record: case.record,
            reply,
            sequence,
            from: said.by,
            verdict,
            sealed_elsewhere: false,
            unsent: why,
            letter,
        };
        let answered = said.answers.into_iter().map(|one| one.rule).collect();
        Ok((note, answered))
    }

    /// A reply that says `work` and leaves a stop of importance standing lifts nothing: it is refused before it is sealed.
    fn all_answered(
        &self,
        blade: &str,
        answers: &[(String, String)],
        around: &Surroundings<'_>,
    ) -> Result<(), WorkshopError> {
        let stops = self.check(blade, around)?.stops;
        let rules: Vec<String> = stops
            .into_iter()
            .filter(|(stop, _)| stop.kind == StopKind::Importance)
            .map(|(stop, _)| stop.rule)
            .filter(|rule| !answers.iter().any(|(answered, _)| answered == rule))
            .collect();
        if rules.is_empty() {
            return Ok(());
        }
        Err(ReferError::Unanswered { rules }.into())
    }

    /// A reply that was sealed by the specialist's workshop and received as part of the chain.
    fn received_reply(
        &self,
        case: &ReferralCase,
        number: u32,
    ) -> Result<(ReplyNote, Vec<String>), WorkshopError> {
        let kept = self.pick(&case.blade, Some(number))?;
        let record = &kept.record;
        let refused = |what: String| {
            WorkshopError::from(ReferError::NoReply {
                blade: case.blade.clone(),
                number,
                what,
            })
        };
        if record.purpose != Purpose::Reply {
            return Err(refused(ReferError::purpose(record.purpose, Purpose::Reply)));
        }
        if record.refers_to.as_ref().map(|said| said.record) != Some(case.record) {
            return Err(refused(format!(
                "it does not name the referral record {}",
                case.sequence
            )));
        }
        let Some(decision) = &record.decision else {
            return Err(refused("it says nothing of what is to happen".to_owned()));
        };
        let answered = decision
            .answers
            .iter()
            .map(|one| one.rule.clone())
            .collect();
        let own = self.is_own(record)?;
        let from = if own {
            &decision.by
        } else {
            &record.issuer.name
        };
        let note = ReplyNote {
            record: case.record,
            reply: kept.row.name,
            sequence: number,
            from: from.clone(),
            verdict: decision.verdict,
            sealed_elsewhere: !own,
            unsent: None,
            letter: None,
        };
        Ok((note, answered))
    }

    /// Notes the reply, takes the section off the sheet that the sealed referral holds, and moves the stage, together.
    fn follow(
        &self,
        order: &ReplyOrder<'_>,
        case: &ReferralCase,
        note: &ReplyNote,
        walk: &mut Walk<'_>,
        around: &mut Surroundings<'_>,
    ) -> Result<Stage, WorkshopError> {
        walk.next().map_err(ReferError::from)?;
        let mut edit = self.edit(order.blade)?;
        edit.take("referral");
        edit.note(self, &subject(case.sequence), note, &order.who, around)?;
        let before = self.store().standing(order.blade)?.stage;
        let left = before.as_deref().and_then(Stage::of_key);
        let stage = if let Some(left) = left.filter(|stage| stage.ends()) {
            // What was sold or given back is not brought back by a letter.
            left
        } else if case.is_away() {
            // A blade that is still away follows the reply when it is back.
            Stage::Referred
        } else {
            stage_after(
                note.verdict,
                case.stage_before.as_deref().or(before.as_deref()),
            )
        };
        edit.stage(self, stage, None, &order.who, around)?;
        let saved = edit.save(self, "reply of the specialist", around)?;
        walk.tell(Step::done(
            "follow",
            format!(
                "the reply is noted, the referral is off the sheet (revision {}), stage {}",
                saved.revision,
                stage.key()
            ),
        ));
        Ok(stage)
    }
}
