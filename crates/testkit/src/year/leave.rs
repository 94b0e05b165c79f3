//! A blade leaves: measured again, compared, sealed, sold or given back; and what is put right afterwards.

use serde_json::json;

use super::YearError;
use super::cast::{End, POLISHER};
use super::ledger::Fact;
use super::life::Life;
use super::papers::folder_of;
use super::shape;

impl Life<'_> {
    /// The end of its year.
    pub(super) fn leave(&mut self) -> Result<(), YearError> {
        let worked = self.role.fate.is_worked();
        if worked {
            self.measure_again()?;
        }
        match self.role.end {
            End::Stays => Ok(()),
            End::Sold => self.sell(),
            End::SoldAndCorrected { withdrawn } => {
                self.sell()?;
                self.put_right(withdrawn)
            }
            End::Returned => self.give_back(),
        }
    }

    /// The same measurements again, and the record after the work.
    fn measure_again(&mut self) -> Result<(), YearError> {
        self.wait(1);
        let on = self.on();
        let mut sheet = self.sheet()?;
        sheet["examination"] = shape::examination(&on, "after_work", "full_polish");
        sheet["dimensions"] = self.steel.dimensions();
        let gone = |flaw: &serde_json::Value| flaw["id"] == "rust-1";
        let flaws = sheet["flaws"].as_array().cloned().unwrap_or_default();
        sheet["flaws"] = json!(
            flaws
                .into_iter()
                .filter(|flaw| !gone(flaw))
                .collect::<Vec<_>>()
        );
        self.put(&sheet)?;
        let verdict = ("work", "finished within what was agreed");
        self.seal("after_work", Some(verdict), &[])?;
        self.stage("finished")?;
        self.actor
            .look(&["compare", &self.role.key, "--json"])
            .map(drop)
    }

    fn close(&mut self, more: &[&str], fact: Fact) -> Result<(), YearError> {
        self.wait(2);
        let out = folder_of(&self.role.key);
        let mut rest = more.to_vec();
        rest.extend(["--language", self.role.language, "--out", &out]);
        rest.extend(["--passphrase-file", "pass.txt"]);
        let step = self.step(&["sale", "close"], &rest);
        self.actor
            .give(step.resumable().moments(50).fact(fact))
            .map(drop)
    }

    fn sell(&mut self) -> Result<(), YearError> {
        let price = format!("{} {}", self.role.price * 3, self.role.currency);
        let to = self.role.buyer.clone();
        let fact = Fact::Sold {
            on: self.sale_day(),
            price: price.clone(),
            to: to.clone(),
        };
        self.close(&["--to", &to, "--price", &price], fact)
    }

    fn give_back(&mut self) -> Result<(), YearError> {
        let fact = Fact::Returned {
            on: self.sale_day(),
        };
        self.close(&["--return"], fact)?;
        let on = self.on();
        let amount = self.amount(9_000, 20_000);
        let key = self.key();
        let step = super::actor::Step::new(&[
            "book",
            "income",
            &key,
            &amount,
            "--for",
            "the polish",
            "--on",
            &on,
        ]);
        self.actor
            .give(step.fact(Fact::Income { on, amount }))
            .map(drop)
    }

    /// The day on which [`Life::close`] will close.
    fn sale_day(&self) -> String {
        self.on_in(2)
    }

    fn put_right(&mut self, withdrawn: bool) -> Result<(), YearError> {
        self.wait(5);
        let shown = self
            .actor
            .json(&["blade", "show", &self.role.key, "--json"])?;
        let newest = shown["records_sealed"]
            .as_array()
            .map_or(0, Vec::len)
            .to_string();
        let on = self.on();
        let mut rest = vec!["--record", newest.as_str()];
        rest.extend([
            "--statement",
            "The length of the tang was read off by one mark.",
            "--by",
            POLISHER,
        ]);
        rest.extend(["--passphrase-file", "pass.txt"]);
        if withdrawn {
            rest.push("--withdraw");
        }
        let step = self.step(&["correct"], &rest);
        let fact = Fact::Corrected { on, withdrawn };
        self.actor.give(step.moments(16).fact(fact)).map(drop)
    }
}
