//! A blade comes: entered with its parcel, looked at, and judged. What holds it is met here, and answered.

use std::fs;

use serde_json::{Value, json};

use super::YearError;
use super::actor::Step;
use super::cast::{Fate, POLISHER, SPECIALIST, Whose};
use super::ledger::Fact;
use super::life::Life;
use super::picture;
use super::shape::{self, crack};
use super::work::most_taken;

impl Life<'_> {
    /// A part of the life: it comes, it is worked on, it leaves.
    pub(super) fn part(&mut self, part: usize) -> Result<(), YearError> {
        match part {
            0 => {
                self.intake()?;
                self.examine()?;
                self.judge()
            }
            1 => {
                if self.role.fate.is_worked() {
                    self.work()?;
                }
                self.beside_the_work()
            }
            _ => {
                self.leave()?;
                self.actor.give_back_kills();
                Ok(())
            }
        }
    }

    /// Enters the blade from a form, as it came out of its parcel.
    fn intake(&mut self) -> Result<(), YearError> {
        picture::write(&self.actor.hand.own.join("came.jpg"), &mut self.chance)?;
        let (on, role) = (self.on(), self.role.clone());
        let price = format!("{} {}", role.price, role.currency);
        let (whose, more) = match role.whose {
            Whose::Bought => ("bought", format!("price = \"{price}\"\n")),
            Whose::Customer => ("customer", String::new()),
            Whose::Own => ("own", String::new()),
        };
        let agreement = match role.whose {
            Whose::Customer => format!(
                "[agreement]\nwork = \"Remove the rust, an even foundation, keep the outline.\"\n\
                 steel_limit = \"60 g\"\netch_allowed = false\non = \"{on}\"\ninsured_value = \"{price}\"\n"
            ),
            _ => String::new(),
        };
        let giver = match role.whose {
            Whose::Own => String::new(),
            _ => format!("[giver]\nname = \"{}\"\n", role.from),
        };
        let form = format!(
            "as = \"{whose}\"\non = \"{on}\"\ntitle = \"Blade “{}”\"\nkind = \"{}\"\n{more}\
             {giver}[parcel]\ncame = [\"blade in a plain scabbard\"]\n\
             [mass]\nreading = \"{}\"\nstate = \"bare\"\nscale = \"bench scale\"\nstep = \"0.1 g\"\n\
             limit_of_error = \"0.2 g\"\n{agreement}\
             [[photos]]\nfile = \"came.jpg\"\ncaption = \"As it came\"\nshows = \"whole\"\n",
            role.title,
            self.steel.shape.kind,
            self.steel.reading(),
        );
        let file = self.actor.hand.own.join("came.toml");
        fs::write(&file, form).map_err(|error| YearError::file("write", &file, &error))?;
        let step = Step::new(&["intake", &role.key, "--from", &file.display().to_string()]);
        let fact = Fact::Entered {
            on,
            whose,
            price: (role.whose == Whose::Bought).then_some(price),
        };
        self.actor.give(step.moments(10).fact(fact)).map(drop)
    }

    /// Fills the sheet with what is seen and measured.
    fn examine(&mut self) -> Result<(), YearError> {
        self.wait(1);
        let on = self.on();
        let mut sheet = self.sheet()?;
        merge(&mut sheet["blade"], self.steel.blade());
        sheet["examination"] = shape::examination(&on, "before_work", "rusted");
        sheet["dimensions"] = self.steel.dimensions();
        sheet["tang"] = self.steel.tang();
        sheet["temper_line"] = shape::temper_line();
        let mut flaws = shape::flaws(&on);
        let looks = [
            (on.as_str(), "raking_light", "seen"),
            (on.as_str(), "stain_line", "seen"),
        ];
        match self.role.fate {
            Fate::Cracked => flaws.push(crack("confirmed", &looks)),
            Fate::RuledOut => flaws.push(crack("suspected", &looks[..1])),
            _ => {}
        }
        sheet["flaws"] = json!(flaws);
        if self.role.fate.is_referred() || self.role.fate == Fate::ImportanceOverridden {
            sheet["tang"]["inscriptions"] = json!([{ "kind": "kinzogan_mei", "side": "omote", "note": "signs in gold, not read" }]);
            sheet["blade"]["made_not_before"] = json!("1290");
            sheet["blade"]["made_not_after"] = json!("1370");
        }
        let most = most_taken(self.role.passes, self.steel.first_mass());
        self.budget = if self.role.fate.spends_its_budget() {
            most / 3 + 8
        } else {
            2 * most + 60
        };
        sheet["plan"] = shape::plan(self.budget, "3.00 mm");
        self.put(&sheet)
    }

    /// Decides; what holds the blade is met with a pass that is refused, and answered.
    fn judge(&mut self) -> Result<(), YearError> {
        self.wait(1);
        match self.role.fate {
            Fate::Plain | Fate::NewBudget | Fate::BudgetOverridden => {}
            Fate::Cracked => {
                let verdict = ("set_aside", "a crack through the edge: no stone touches it");
                self.seal("intake", Some(verdict), &[])?;
                self.try_pass()?;
                return self.stage("set_aside");
            }
            Fate::RuledOut => {
                self.seal("intake", Some(("refer", "a crack is suspected")), &[])?;
                self.try_pass()?;
                self.rule_out()?;
            }
            Fate::ImportanceOverridden => {
                self.try_pass()?;
                let stops = self.stops()?;
                let mut more = Vec::new();
                for rule in &stops {
                    more.extend(["--override", rule, "--override-name", POLISHER]);
                    more.extend([
                        "--override-reason",
                        "the inlay is of last century, by its maker's letter",
                    ]);
                }
                let verdict = ("work", "sound, and the owner wants it polished");
                self.seal("before_work", Some(verdict), &more)?;
                return self.catch_up();
            }
            Fate::ReferredAndWorked | Fate::ReferredAndSetAside | Fate::ReferredAndOpen => {
                self.try_pass()?;
                return self.refer();
            }
        }
        let verdict = ("work", "sound edge, enough steel");
        self.seal("before_work", Some(verdict), &[])?;
        if self.role.fate == Fate::RuledOut {
            // The looks were entered as of their days; nothing more bears the time of the clock.
            self.wait(1);
        }
        Ok(())
    }

    /// Two looks on two days do not find the crack.
    fn rule_out(&mut self) -> Result<(), YearError> {
        self.wait(1);
        let first = self.on();
        self.wait(1);
        let second = self.on();
        let mut sheet = self.sheet()?;
        let flaws = sheet["flaws"].as_array_mut();
        let flaw = flaws.and_then(|flaws| flaws.iter_mut().find(|flaw| flaw["id"] == "crack-1"));
        let Some(flaw) = flaw else {
            return Err(YearError::Untrue("the sheet lost its crack".to_owned()));
        };
        // The look that was sealed stays as it was.
        let looks = [(first, "stain_line"), (second, "loupe")];
        if let Some(sightings) = flaw["sightings"].as_array_mut() {
            sightings.extend(
                looks
                    .iter()
                    .map(|(on, method)| shape::sighting(on, method, "not_seen")),
            );
        }
        flaw["standing"] = json!("ruled_out");
        self.put(&sheet)
    }

    /// To the specialist, and back with an answer, but for the one that has not answered.
    fn refer(&mut self) -> Result<(), YearError> {
        let on = self.on();
        let step = self.step(
            &["refer", "open"],
            &[
                "--to",
                SPECIALIST,
                "--question",
                "Should this blade be polished at all?",
                "--not-done",
                "No stone, no etch, no cleaning of the tang.",
                "--packed",
                "blade in its storage scabbard",
                "--passphrase-file",
                "pass.txt",
            ],
        );
        let fact = Fact::Referred { on };
        self.actor.give(step.resumable().moments(30).fact(fact))?;
        self.wait(3);
        let step = self.step(&["refer", "sent"], &["--carrier", "by hand"]);
        self.actor.give(step.moments(4))?;
        self.wait(2);
        let signed = format!("{SPECIALIST}, {}", self.on());
        let step = self.step(&["refer", "receipt"], &["--paper", &signed]);
        self.actor.give(step.moments(4))?;
        if self.role.fate == Fate::ReferredAndOpen {
            return Ok(());
        }
        self.wait(20);
        self.actor
            .give(self.step(&["refer", "back"], &[]).moments(4))?;
        self.wait(1);
        let stops = self.stops()?;
        let worked = self.role.fate == Fate::ReferredAndWorked;
        let verdict = if worked { "work" } else { "set-aside" };
        let mut rest = vec!["--from", SPECIALIST, "--verdict", verdict];
        rest.extend([
            "--text",
            "Letter: seen in hand.",
            "--passphrase-file",
            "pass.txt",
        ]);
        if worked {
            for rule in &stops {
                rest.extend([
                    "--answer",
                    rule,
                    "--how",
                    "Seen in hand: a light polish does no harm.",
                ]);
            }
        }
        let on = self.on();
        let step = self.step(&["refer", "reply"], &rest);
        self.actor
            .give(step.resumable().moments(20).fact(Fact::Replied { on }))?;
        if worked {
            self.catch_up()?;
            self.seal("before_work", Some(("work", "as the specialist says")), &[])?;
        }
        Ok(())
    }

    /// What is noted beside the passes: hours, things used up, a fitting, an event of earlier years.
    fn beside_the_work(&mut self) -> Result<(), YearError> {
        let key = self.key();
        let number = self.role.number;
        let on = self.on();
        let minutes = 30 + 15 * self.chance.below(6) as u64;
        let step = self.step(
            &["book", "hours"],
            &[
                "--time",
                &format!("{minutes} min"),
                "--for",
                "photographs and packing",
            ],
        );
        self.actor.give(step.fact(Fact::Hours {
            on: on.clone(),
            minutes,
        }))?;
        let amount = self.amount(450, 2000);
        let step = Step::new(&["book", "cost"]).and(&[
            key.clone(),
            amount.clone(),
            "--for".to_owned(),
            "oil, paper, a box".to_owned(),
            "--on".to_owned(),
            on.clone(),
        ]);
        self.actor.give(step.fact(Fact::Cost {
            on: on.clone(),
            amount,
        }))?;
        if number.is_multiple_of(2) && self.role.fate.is_worked() {
            let grams = 20 + self.chance.below(60);
            let amount = format!("{grams} g");
            let step = Step::new(&["book", "use"]).and(&[
                key.clone(),
                "second foundation stone".to_owned(),
                "--amount".to_owned(),
                amount.clone(),
                "--on".to_owned(),
                on.clone(),
            ]);
            let name = "second foundation stone".to_owned();
            self.actor.give(step.fact(Fact::Used {
                on: on.clone(),
                name,
                amount,
            }))?;
        }
        if number.is_multiple_of(3) {
            let id = format!("{key}-guard");
            let step = Step::new(&["fitting", "add"]).and(&[
                &id,
                "--part",
                "tsuba",
                "--title",
                "Iron guard, plain",
                "--material",
                "iron",
                "--with",
                &key,
                "--on",
                &on,
            ]);
            self.actor
                .give(step.moments(3).fact(Fact::Fitting { on: on.clone(), id }))?;
        }
        if number % 4 == 1 {
            let step = Step::new(&["custody", "add"]).and(&[
                key.as_str(),
                "inherited",
                "--not-before",
                "1978",
                "--not-after",
                "1982",
                "--to",
                "the family of the giver",
            ]);
            let kind = "inherited";
            self.actor.give(step.fact(Fact::Custody { on, kind }))?;
        }
        Ok(())
    }
}

/// Puts members of one object into another.
fn merge(into: &mut Value, from: Value) {
    if let (Some(into), Value::Object(from)) = (into.as_object_mut(), from) {
        into.extend(from);
    }
}
