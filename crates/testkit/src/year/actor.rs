//! Who gives the commands about one blade: runs each, sees that it ends as it should, kills some, looks after a kill,
//! and notes what was acknowledged.

use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{PoisonError, RwLock, RwLockReadGuard};
use std::time::Duration;

use serde_json::Value;

use super::YearError;
use super::hand::{Hand, Kill, KilledAt, Ran};
use super::ledger::{Fact, KillLine, Ledger, Line};
use super::truth;
use crate::mutate::Chance;

/// What all actors share.
#[derive(Debug)]
pub(super) struct Shared {
    pub(super) binary: PathBuf,
    pub(super) folder: PathBuf,
    pub(super) ledger: Ledger,
    /// Held shared by whoever runs a command, alone by whoever looks at the whole after a kill.
    pub(super) quiet: RwLock<()>,
    /// Kills still to be made, beyond what each blade has of its own.
    pub(super) owed: AtomicUsize,
    /// Commands that only look.
    pub(super) looks: AtomicUsize,
    pub(super) seed: u64,
}

/// What to do with a command that was killed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Again {
    /// It does all or nothing: it is given again only if nothing of it is found.
    Look,
    /// It goes on where it stopped: it is given again whatever is found.
    Always,
}

/// One command to be given.
#[derive(Debug)]
pub(super) struct Step {
    words: Vec<String>,
    code: i32,
    /// What it is to say beside its exit code.
    says: Option<String>,
    again: Again,
    fact: Option<Fact>,
    /// Steps of writes it usually takes, so that a kill meets one of them.
    moments: usize,
}

impl Step {
    /// A command that is to end with 0.
    pub(super) fn new<S: AsRef<str>>(words: &[S]) -> Self {
        Self {
            words: words.iter().map(|word| word.as_ref().to_owned()).collect(),
            code: 0,
            says: None,
            again: Again::Look,
            fact: None,
            moments: 2,
        }
    }

    /// More words.
    pub(super) fn and<S: AsRef<str>>(mut self, words: &[S]) -> Self {
        let words = words.iter().map(|word| word.as_ref().to_owned());
        self.words.extend(words);
        self
    }

    /// It is to end with another exit code.
    pub(super) fn code(mut self, code: i32) -> Self {
        self.code = code;
        self
    }

    /// It is to say so on standard error: an exit code alone may stand for another reason.
    pub(super) fn says(mut self, words: String) -> Self {
        self.says = Some(words);
        self
    }

    /// It goes on where it stopped.
    pub(super) fn resumable(mut self) -> Self {
        self.again = Again::Always;
        self
    }

    /// What it brings about.
    pub(super) fn fact(mut self, fact: Fact) -> Self {
        self.fact = Some(fact);
        self
    }

    /// Sees that it said what it was to say.
    fn heard(&self, said: &str) -> Result<(), YearError> {
        match self.says.as_ref().filter(|words| !said.contains(*words)) {
            Some(words) => Err(YearError::Untrue(format!(
                "`{}` ended with {} and did not say `{words}`\n{said}",
                self.words.join(" "),
                self.code
            ))),
            None => Ok(()),
        }
    }

    /// Steps of writes it usually takes.
    pub(super) fn moments(mut self, moments: usize) -> Self {
        self.moments = moments;
        self
    }
}

/// Gives the commands about one blade, or about the workshop.
#[derive(Debug)]
pub(super) struct Actor<'s> {
    pub(super) shared: &'s Shared,
    pub(super) blade: Option<String>,
    pub(super) hand: Hand,
    chance: Chance,
    /// Kills of its own, and how many commands lie between two.
    kills: usize,
    every: usize,
    since: usize,
}

impl<'s> Actor<'s> {
    /// An actor of a blade with so many kills to make over its about thirty commands.
    pub(super) fn new(
        shared: &'s Shared,
        number: usize,
        blade: Option<&str>,
        kills: usize,
    ) -> Result<Self, YearError> {
        let name = blade.unwrap_or("workshop");
        let mut chance = Chance::new(shared.seed ^ 0x6b69_6c6c, number as u64);
        // A blade that is worked on has about thirty commands; the first is killed anywhere among its share of them.
        let every = 24 / (kills + 1) + 1;
        let since = chance.below(every);
        Ok(Self {
            hand: Hand::new(&shared.binary, &shared.folder, name)?,
            shared,
            blade: blade.map(str::to_owned),
            chance,
            kills,
            every,
            since,
        })
    }

    /// Hands back kills that were not made, so that others make them.
    pub(super) fn give_back_kills(&mut self) {
        self.shared.owed.fetch_add(self.kills, Ordering::SeqCst);
        self.kills = 0;
    }

    /// The key of the blade, for command lines.
    pub(super) fn key(&self) -> String {
        self.blade.clone().unwrap_or_default()
    }

    /// Runs a command that only looks; it is to end with 0.
    pub(super) fn look<S: AsRef<str>>(&self, words: &[S]) -> Result<Ran, YearError> {
        let words: Vec<String> = words.iter().map(|word| word.as_ref().to_owned()).collect();
        self.shared.looks.fetch_add(1, Ordering::Relaxed);
        let ran = self.hand.run(&words)?;
        if ran.code == Some(0) {
            return Ok(ran);
        }
        Err(YearError::unexpected(&words, 0, &ran))
    }

    /// Runs a command that only looks and prints JSON.
    pub(super) fn json<S: AsRef<str>>(&self, words: &[S]) -> Result<Value, YearError> {
        let ran = self.look(words)?;
        serde_json::from_str(&ran.out).map_err(|error| {
            let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
            YearError::Understood(format!("`{}`: {error}", words.join(" ")))
        })
    }

    /// Gives a command and sees that it ends as it should.
    pub(super) fn give(&mut self, step: Step) -> Result<Ran, YearError> {
        let mut kills = Vec::new();
        if let Some(kill) = self.kill_now(&step) {
            let before = self.state()?;
            let quiet = self.quiet();
            let ran = self.hand.run_and_kill(&step.words, kill)?;
            let Some(at) = ran.killed.clone() else {
                // It ended before: the kill stays to be made.
                return self.acknowledge(step, ran, kills);
            };
            drop(quiet);
            self.kills -= 1;
            self.since = 0;
            self.look_after(&step, &at)?;
            let found = self.state()? != before;
            kills.push(KillLine::new(&at, found));
            if found && step.again == Again::Look {
                let _quiet = self.quiet();
                return self.note(step, ran, kills);
            }
        }
        // Held until it is noted: whoever looks at the whole finds nothing that is done and not in the ledger.
        let _quiet = self.quiet();
        let ran = self.hand.run(&step.words)?;
        self.acknowledge(step, ran, kills)
    }

    fn quiet(&self) -> RwLockReadGuard<'s, ()> {
        let shared = self.shared;
        shared.quiet.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn acknowledge(&self, step: Step, ran: Ran, kills: Vec<KillLine>) -> Result<Ran, YearError> {
        if ran.code != Some(step.code) {
            return Err(YearError::unexpected(&step.words, step.code, &ran));
        }
        step.heard(&ran.err)?;
        self.note(step, ran, kills)
    }

    fn note(&self, step: Step, ran: Ran, kills: Vec<KillLine>) -> Result<Ran, YearError> {
        self.shared.ledger.note(Line {
            number: 0,
            blade: self.blade.clone(),
            words: step.words,
            code: ran.code,
            ms: u64::try_from(ran.passed.as_millis()).unwrap_or(u64::MAX),
            kills,
            fact: step.fact,
        })?;
        Ok(ran)
    }

    /// Whether this command is to be killed, and how.
    fn kill_now(&mut self, step: &Step) -> Option<Kill> {
        self.since += 1;
        if self.since < self.every {
            return None;
        }
        if self.kills == 0 {
            let take = |owed: usize| owed.checked_sub(1);
            let owed = &self.shared.owed;
            owed.fetch_update(Ordering::SeqCst, Ordering::SeqCst, take)
                .ok()?;
            self.kills = 1;
            self.every = self.every.min(8);
        }
        if self.chance.percent(80) {
            Some(Kill::Moment(self.moment(step.moments)))
        } else {
            let ms = 5 + self.chance.below(step.moments * 150);
            Some(Kill::After(Duration::from_millis(ms as u64)))
        }
    }

    /// The step of a write to kill at. A write of rows alone has two, before and after the commit: the first counts for more.
    fn moment(&mut self, moments: usize) -> usize {
        match moments {
            0..=2 => 1 + usize::from(!self.chance.percent(70)),
            many => 1 + self.chance.below(many),
        }
    }

    /// Looks at the whole after a kill: the store is sound, and everything acknowledged is there.
    fn look_after(&self, step: &Step, at: &KilledAt) -> Result<(), YearError> {
        let _alone = self
            .shared
            .quiet
            .write()
            .unwrap_or_else(PoisonError::into_inner);
        let told = |error: YearError| {
            let words = step.words.join(" ");
            YearError::AfterKill {
                words,
                at: at.name().to_owned(),
                what: error.to_string(),
            }
        };
        self.look(&["store", "check"]).map_err(told)?;
        truth::acknowledged(self).map_err(told)
    }

    /// What can be seen of the blade, or of the workshop: whether a command did anything shows here.
    fn state(&self) -> Result<String, YearError> {
        let key = self.key();
        let asked: Vec<Vec<&str>> = if self.blade.is_some() {
            vec![
                vec!["journal", "list", &key, "--whole", "--json"],
                vec!["examine", "history", &key, "--json"],
                vec!["blade", "show", &key, "--json"],
            ]
        } else {
            vec![
                vec!["journal", "list", "--whole", "--json"],
                vec!["key", "show", "--json"],
                vec!["stone", "list", "--json"],
                vec!["plugin", "list", "--json"],
            ]
        };
        let mut state = String::new();
        for words in asked {
            let words: Vec<String> = words.into_iter().map(str::to_owned).collect();
            // A blade that is not there yet has no state.
            state.push_str(&without_judgement(self.hand.run(&words)?.out));
        }
        Ok(state)
    }
}

/// What is shown of a blade, but for what the last judgement left: a command notes that before it does its own work.
fn without_judgement(shown: String) -> String {
    let Ok(Value::Object(mut blade)) = serde_json::from_str(&shown) else {
        return shown;
    };
    for name in ["held", "stops"] {
        blade.remove(name);
    }
    Value::Object(blade).to_string()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn what_a_judgement_notes_is_no_work_that_was_done() {
        let shown = |stops: &str| {
            format!(r#"{{ "id": "reed", "held": null, "stops": {stops}, "revision": 3 }}"#)
        };
        assert_eq!(
            without_judgement(shown("null")),
            without_judgement(shown("2"))
        );
        let later = shown("null").replace("3 }", "4 }");
        assert_ne!(without_judgement(later), without_judgement(shown("null")));
        assert_eq!(without_judgement("no blade".to_owned()), "no blade");
    }

    #[test]
    fn an_exit_code_alone_questions_no_reading() {
        let step = Step::new(&["pass", "add"]).code(1);
        step.heard("error: anything").unwrap();
        let step = step.says("after.mass: 753.3 g found".to_owned());
        step.heard("error: pass `pass-3`, after.mass: 753.3 g found, at most 748.6 g is allowed")
            .unwrap();
        let error = step.heard("error: no blade `reed`").unwrap_err();
        assert!(
            error
                .to_string()
                .starts_with("`pass add` ended with 1 and did not say `after.mass"),
            "{error}"
        );
    }
}
