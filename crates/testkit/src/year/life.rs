//! The life of one blade in the workshop, command by command. It goes on in parts, so that the lives of blades overlap.

use std::fs;

use serde_json::Value;

use super::YearError;
use super::actor::{Actor, Shared, Step};
use super::cast::{self, POLISHER, Role};
use super::ledger::Fact;
use super::shape::{SHAPES, Steel};
use crate::mutate::Chance;

/// A blade as it stands in the invented year.
#[derive(Debug)]
pub(super) struct Life<'s> {
    pub(super) role: Role,
    pub(super) steel: Steel,
    pub(super) chance: Chance,
    pub(super) actor: Actor<'s>,
    /// Day of the year.
    day: u32,
    /// The day of the clock, once an answer to a stop bears it: what follows is of that day.
    today: Option<String>,
    /// Passes that were logged.
    pub(super) passes: usize,
    /// Steel that may go by the plan, in tenths of a gram.
    pub(super) budget: i64,
}

impl<'s> Life<'s> {
    pub(super) fn new(shared: &'s Shared, role: Role, kills: usize) -> Result<Self, YearError> {
        let mut chance = Chance::new(shared.seed, 1000 + role.number as u64);
        let steel = Steel::new(SHAPES[role.shape], &mut chance);
        Ok(Self {
            actor: Actor::new(shared, role.number, Some(&role.key), kills)?,
            day: role.comes,
            today: None,
            passes: 0,
            budget: 0,
            steel,
            chance,
            role,
        })
    }

    /// The day as it is written.
    pub(super) fn on(&self) -> String {
        self.on_in(0)
    }

    /// The day in so many days.
    pub(super) fn on_in(&self, days: u32) -> String {
        let day = || cast::day(self.day + days);
        self.today.clone().unwrap_or_else(day)
    }

    /// Days pass.
    pub(super) fn wait(&mut self, days: u32) {
        self.day += days;
    }

    /// From now on everything is of the day on which the newest record was sealed.
    pub(super) fn catch_up(&mut self) -> Result<(), YearError> {
        let shown = self
            .actor
            .json(&["blade", "show", &self.role.key, "--json"])?;
        let issued = shown["records_sealed"]
            .as_array()
            .and_then(|records| records.last());
        let day = issued.and_then(|record| record["issued_at"].as_str()?.get(..10));
        self.today = day.map(str::to_owned);
        if self.today.is_none() {
            let what = "`blade show --json` without the day of the newest record";
            return Err(YearError::Understood(what.to_owned()));
        }
        Ok(())
    }

    /// An amount of money of the blade's currency, between so many hundredths and as many more.
    pub(super) fn amount(&mut self, least: usize, span: usize) -> String {
        let cents = least + self.chance.below(span);
        match self.role.currency {
            // It has no smaller coin.
            "JPY" => format!("{cents} JPY"),
            other => format!("{}.{:02} {other}", cents / 100, cents % 100),
        }
    }

    pub(super) fn key(&self) -> String {
        self.role.key.clone()
    }

    /// A command about the blade, of this day: `verb BLADE …` with `--on`.
    pub(super) fn step(&self, verb: &[&str], rest: &[&str]) -> Step {
        Step::new(verb)
            .and(&[self.key()])
            .and(rest)
            .and(&["--on".to_owned(), self.on()])
    }

    /// The newest sheet.
    pub(super) fn sheet(&self) -> Result<Value, YearError> {
        self.actor
            .json(&["examine", "show", &self.role.key, "--json"])
    }

    /// Puts a sheet that was changed.
    pub(super) fn put(&mut self, sheet: &Value) -> Result<(), YearError> {
        let file = self.actor.hand.own.join("sheet.json");
        fs::write(&file, sheet.to_string())
            .map_err(|error| YearError::file("write", &file, &error))?;
        let file = file.display().to_string();
        self.actor
            .give(Step::new(&["examine", "put", &file]))
            .map(drop)
    }

    /// Seals the newest sheet.
    pub(super) fn seal(
        &mut self,
        purpose: &'static str,
        verdict: Option<(&str, &str)>,
        more: &[&str],
    ) -> Result<(), YearError> {
        let key = self.key();
        let mut words = vec!["seal", &key, "--for", purpose];
        if let Some((verdict, reason)) = verdict {
            words.extend(["--verdict", verdict, "--reason", reason, "--by", POLISHER]);
        }
        words.extend(more);
        words.extend(["--passphrase-file", "pass.txt"]);
        let step = Step::new(&words).moments(16).fact(Fact::Sealed { purpose });
        self.actor.give(step).map(drop)
    }

    /// Names of the rules whose stops stand.
    pub(super) fn stops(&self) -> Result<Vec<String>, YearError> {
        let checked = self.actor.json(&["check", &self.role.key, "--json"])?;
        let rule = |stop: &Value| stop["rule"].as_str().map(str::to_owned);
        checked["stops"]
            .as_array()
            .map(|stops| stops.iter().filter_map(rule).collect())
            .ok_or_else(|| YearError::Understood("`check --json` without `stops`".to_owned()))
    }

    /// Sets a stage.
    pub(super) fn stage(&mut self, stage: &'static str) -> Result<(), YearError> {
        let on = self.on();
        let step = Step::new(&["stage", "set"])
            .and(&[self.key(), stage.to_owned(), "--on".to_owned(), on.clone()])
            .fact(Fact::Stage { on, stage });
        self.actor.give(step).map(drop)
    }
}
