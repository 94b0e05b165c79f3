//! The specialist's reply: sealed here from a letter, or by the specialist's own workshop.

use std::path::Path;

use serde::Serialize;
use tangmark_core::hold::StopKind;
use tangmark_core::record::{Answer, AnswerKind, Decision, Purpose, RefersTo, Term as _, Verdict};
use tangmark_store::Store as _;

use super::case::{ReferralCase, subject};
use super::error::ReferError;
use super::note::ReplyNote;
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
    /// a receipt of the specialist would follow the same record, or the record named is no reply.
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

    /// The referral that is answered: an open one without a reply, or one whose reply is sealed and not noted yet.
    fn case_to_answer(&self, order: &ReplyOrder<'_>) -> Result<ReferralCase, WorkshopError> {
        let blade = order.blade;
        let today = "";
        let noted = self.noted::<ReplyNote>(Some(blade), None)?;
        let cases = self.referrals_of(blade, today)?;
        let waits = |case: &ReferralCase| !noted.iter().any(|one| one.matter.record == case.record);
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
        let answered: Vec<String> = answers.iter().map(|(rule, _)| rule.clone()).collect();
        let sealed = if let Some(reply) = &case.reply {
            walk.tell(
                Step::before("record", format!("record {} is the reply", reply.sequence))
                    .with_record(reply.record),
            );
            // What is sealed counts, whatever is said now.
            let record = self.pick(blade, Some(reply.sequence))?.record;
            let (from, verdict) = record
                .decision
                .map_or((from.to_owned(), verdict), |said| (said.by, said.verdict));
            (reply.record, reply.sequence, from, verdict)
        } else {
            self.no_fork(case)?;
            if verdict == Verdict::Work {
                self.all_answered(blade, answers, around)?;
            }
            walk.next().map_err(ReferError::from)?;
            // Whoever reads the record is to know that the blade was not in the specialist's hand.
            let reason = unsent(order, case).map_or_else(
                || text.to_owned(),
                |why| format!("{text} (the blade was not sent: {why})"),
            );
            let answers = answers.iter().map(|(rule, how)| Answer {
                rule: rule.clone(),
                kind: AnswerKind::SpecialistReply,
                how: how.clone(),
                record: Some(case.record),
            });
            let sealed = self.seal(
                &Order {
                    blade,
                    purpose: Purpose::Reply,
                    decision: Some(Decision {
                        verdict,
                        by: from.to_owned(),
                        reason,
                        answers: answers.collect(),
                    }),
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
            (sealed.record, sealed.sequence, from.to_owned(), verdict)
        };
        let (record, sequence, from, verdict) = sealed;
        let letter = letter
            .map(|letter| self.keep_paper_file(record, letter))
            .transpose()?;
        let note = ReplyNote {
            record: case.record,
            reply: record,
            sequence,
            from,
            verdict,
            sealed_elsewhere: false,
            unsent: unsent(order, case),
            letter,
        };
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
        let note = ReplyNote {
            record: case.record,
            reply: kept.row.name,
            sequence: number,
            from: record.issuer.name.clone(),
            verdict: decision.verdict,
            sealed_elsewhere: !self.is_own(record)?,
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
        // A blade that is still away follows the reply when it is back.
        let stage = if case.is_away() {
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
