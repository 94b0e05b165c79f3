//! Passes that were refused, with all that was entered, so that nothing typed is lost.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use tangmark_core::hold::Stop;

use super::error::PassError;
use super::log::PassOrder;
use crate::journal::{Matter, Noted};
use crate::{Surroundings, Workshop, WorkshopError};

/// Why a pass was refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Refusal {
    /// A stop stood.
    Held,
    /// Somebody else saved the sheet meanwhile.
    Meanwhile,
}

/// A stop that stood when a pass was refused.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct StoodThen {
    rule: String,
    message: String,
}

/// A refused pass, with all that was entered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RefusedPass {
    pub(super) why: Refusal,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) stops: Vec<StoodThen>,
    pub(super) passes: Vec<Map<String, Value>>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) sure: Option<String>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub(super) stay: bool,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) timer: Option<u64>,
    /// The passes that it became later.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) logged: Vec<String>,
}

impl Matter for RefusedPass {
    const KIND: &'static str = "refused_pass";
}

/// A refused pass that was not logged since, for people.
#[derive(Clone, Debug, Serialize)]
pub struct RefusedLine {
    /// Number of the entry that keeps it.
    pub entry: u64,
    /// Day.
    pub on: String,
    /// The rules that stood; none where somebody else saved the sheet meanwhile.
    pub rules: Vec<String>,
    /// The passes as they were entered.
    pub passes: Vec<Map<String, Value>>,
}

impl Workshop {
    /// Lists the refused passes of a blade that were not logged since.
    pub(super) fn refused(&self, blade: &str) -> Result<Vec<RefusedLine>, WorkshopError> {
        let all = self.noted::<RefusedPass>(Some(blade), None)?;
        let open = all
            .into_iter()
            .filter(|noted| noted.matter.logged.is_empty());
        Ok(open
            .map(|noted| RefusedLine {
                entry: noted.number,
                on: noted.on,
                rules: noted
                    .matter
                    .stops
                    .into_iter()
                    .map(|stop| stop.rule)
                    .collect(),
                passes: noted.matter.passes,
            })
            .collect())
    }

    /// The refused pass of an entry, with its blade.
    pub(super) fn refused_entry(
        &self,
        number: u64,
    ) -> Result<(String, Noted<RefusedPass>), WorkshopError> {
        let all = self.noted::<RefusedPass>(None, None)?;
        let found = all
            .into_iter()
            // One that was logged since stands under a newer number.
            .find(|noted| noted.number == number || noted.replaces == Some(number));
        let Some((blade, noted)) = found.and_then(|noted| Some((noted.blade.clone()?, noted)))
        else {
            return Err(PassError::NotRefused { number }.into());
        };
        if noted.matter.logged.is_empty() {
            return Ok((blade, noted));
        }
        let passes = noted.matter.logged;
        Err(PassError::Taken { number, passes }.into())
    }

    /// Keeps what was entered for a pass that is not logged; a second refusal of the same entry keeps no second one.
    pub(super) fn keep_refused(
        &self,
        order: &PassOrder<'_>,
        again: Option<&Noted<RefusedPass>>,
        (why, stops): (Refusal, &[(Stop, &'static str)]),
        around: &Surroundings<'_>,
    ) -> Result<u64, WorkshopError> {
        if let Some(again) = again {
            return Ok(again.number);
        }
        let refused = RefusedPass {
            why,
            stops: stops
                .iter()
                .map(|(stop, _)| StoodThen {
                    rule: stop.rule.clone(),
                    message: stop.message.clone(),
                })
                .collect(),
            passes: order.passes.clone(),
            sure: order.sure.clone(),
            stay: order.stay,
            timer: order.timer,
            logged: Vec::new(),
        };
        self.note(Some(order.blade), "", &refused, &order.who, around)
    }
}
