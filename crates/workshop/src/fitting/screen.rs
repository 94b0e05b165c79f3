//! A fitting against the lists of protected materials: the plugin `materials` asked about it alone. Never a clearance.

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::{Artefact, Finding, Key, PartialDate, ProtectedScreen, Run};
use tangmark_host::{PluginOutcome, discover};
use tangmark_plugin::CheckRequest;

use super::card::{sheet_of, value};
use super::{Changes, DoneFitting, FittingError};
use crate::checks::convert;
use crate::journal::Who;
use crate::try_plugin::about;
use crate::{Surroundings, Workshop, WorkshopError, plugins};

/// The plugin that knows protected materials.
const PLUGIN: &str = "materials";
/// Where a finding on the fitting points to in the sheet that holds it alone.
const HERE: &str = "/fittings";

/// What the plugin says of a fitting.
#[derive(Clone, Debug, Serialize)]
pub struct Screened {
    /// The fitting.
    pub fitting: String,
    /// What was noted before.
    pub noted: Option<ProtectedScreen>,
    /// Date of the list that was noted.
    pub noted_list: Option<PartialDate>,
    /// What the plugin finds.
    pub findings: Vec<Finding>,
    /// The rows of the table that it looked at, each with the date of its list.
    pub tables: Vec<Artefact>,
    /// Version of the plugin.
    pub version: String,
    /// SHA-256 over its file.
    pub plugin: Digest,
}

/// What a person found in a list.
#[derive(Clone, Debug)]
pub struct ScreenNote {
    /// What the look gave.
    pub screen: ProtectedScreen,
    /// Date of the list.
    pub list: PartialDate,
}

impl Workshop {
    /// Asks the plugin `materials` about a fitting, as it would be asked about a sheet; nothing is written.
    ///
    /// # Errors
    /// When there is no such fitting, or the plugin is missing, not approved or gives no answer.
    pub fn screen_fitting(
        &self,
        id: &str,
        around: &Surroundings<'_>,
    ) -> Result<Screened, WorkshopError> {
        let known = self.known(id)?;
        let card = &known.card.matter;
        let fault = |fault: String| FittingError::NotScreened {
            id: id.to_owned(),
            fault,
        };
        let sheet = sheet_of(&value(&card.fitting)?, &card.photos);
        let request: CheckRequest = about(sheet, around)?;
        let libraries: Vec<_> = discover(&around.plugin_folders)
            .into_iter()
            .filter(|library| library.name == PLUGIN)
            .collect();
        let given = self.given(std::iter::once(PLUGIN))?;
        let outcomes =
            plugins::host(around).check(&libraries, &self.approvals()?, &request, &given);
        let outcome = outcomes
            .first()
            .ok_or_else(|| fault("it was not found".to_owned()))?;
        let replied = match outcome {
            PluginOutcome::Replied(replied) => replied,
            PluginOutcome::Failed(failed) => return Err(fault(failed.fault.clone()).into()),
        };
        let key = Key::from_name(PLUGIN);
        let (run, _, findings): (Run, _, _) =
            convert(replied, &key, Digest::from_bytes([0; 32])).map_err(fault)?;
        // What speaks of the blade, its air and its carriage says nothing of the fitting alone.
        let own = |finding: &Finding| {
            finding.evidence.iter().any(|place| {
                place
                    .strip_prefix(HERE)
                    .is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
            })
        };
        Ok(Screened {
            fitting: id.to_owned(),
            noted: card.fitting.protected,
            noted_list: card.fitting.protected_as_of.clone(),
            findings: findings.into_iter().filter(own).collect(),
            tables: run.artefacts,
            version: run.version,
            plugin: run.digest,
        })
    }

    /// Notes what a person found in a list of protected materials, with the date of the list.
    ///
    /// # Errors
    /// As [`Workshop::note_fitting`].
    pub fn note_screen(
        &self,
        id: &str,
        note: ScreenNote,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<DoneFitting, WorkshopError> {
        let changes = Changes {
            protected: Some((note.screen, note.list)),
            ..Changes::default()
        };
        self.note_fitting(id, &changes, who, around)
    }
}
