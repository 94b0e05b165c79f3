//! Intake: a blade is entered as it came, from the parcel to the first photos, in one go.

mod agreement;
mod amend;
mod body;
mod error;
mod form;
mod prompts;

use serde::{Deserialize, Serialize};
use tangmark_core::record::Key;
use tangmark_store::{Store as _, StoreError};

pub use amend::{AskPoint, IntakeChange, IntakeShown, Spent};
pub use error::IntakeError;
pub use form::{
    CameAs, FormAgreement, FormLook, FormMass, FormParcel, FormPerson, FormPhoto, FormRegistration,
    INTAKE_FORM, IntakeForm,
};
pub use prompts::{PROMPTS, Prompt, prompts, without_prompts};

use crate::journal::{Matter, Who};
use crate::stage::Stage;
use crate::{Surroundings, Workshop, WorkshopError};

/// An entry of the journal on how a blade came.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IntakeNote {
    /// The way it came.
    #[serde(rename = "as")]
    pub came_as: CameAs,
    /// Who carried it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub carrier: Option<String>,
    /// What came in the parcel.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub came: Vec<String>,
    /// What the packing hid.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hid: Vec<String>,
    /// Countries it comes from or goes to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub countries: Vec<String>,
    /// Names of the prompts that were shown.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub prompts_shown: Vec<String>,
}

impl Matter for IntakeNote {
    const KIND: &'static str = "intake";
}

impl IntakeNote {
    /// Adds what is said of the parcel, and the prompts that go with its countries.
    fn add(&mut self, parcel: &FormParcel) -> Result<(), IntakeError> {
        for hid in &parcel.hid {
            body::hidden(hid)?;
        }
        if let Some(carrier) = &parcel.carrier {
            self.carrier = Some(carrier.clone());
        }
        for (list, said) in [
            (&mut self.came, &parcel.came),
            (&mut self.hid, &parcel.hid),
            (&mut self.countries, &parcel.countries),
        ] {
            for one in said {
                if !list.contains(one) {
                    list.push(one.clone());
                }
            }
        }
        self.prompts_shown = prompts(&self.countries)?
            .iter()
            .map(|prompt| prompt.id.to_owned())
            .collect();
        Ok(())
    }
}

/// A blade that was entered.
#[derive(Clone, Debug, Serialize)]
pub struct Intake {
    /// Blade.
    pub blade: String,
    /// The way it came.
    #[serde(rename = "as")]
    pub came_as: CameAs,
    /// Revision of its sheet.
    pub revision: u64,
    /// Numbers of its entries in the journal.
    pub entries: Vec<u64>,
    /// Photos kept.
    pub photos: usize,
    /// Remarks a person should read.
    pub remarks: Vec<String>,
    /// What to ask, in general words.
    pub prompts: Vec<&'static Prompt>,
}

impl Workshop {
    /// Enters a blade as it came: blade, first sheet, photos, journal and stage together, or nothing.
    ///
    /// # Errors
    /// When the blade is here already, something is missing, or what is said is not sound.
    pub fn intake(
        &self,
        blade: &str,
        form: &IntakeForm,
        around: &Surroundings<'_>,
    ) -> Result<Intake, WorkshopError> {
        let key: Key = blade.parse()?;
        if let Some(found) = form.blade.as_deref().filter(|found| *found != blade) {
            return Err(IntakeError::OtherBlade {
                found: found.to_owned(),
                asked: blade.to_owned(),
            }
            .into());
        }
        match self.store().blade(blade) {
            Ok(_) => return Err(IntakeError::There(blade.to_owned()).into()),
            Err(StoreError::UnknownBlade(_)) => {}
            Err(error) => return Err(error.into()),
        }
        let came_as = CameAs::read(form.came_as.as_deref().ok_or(IntakeError::Missing {
            what: "the way it came",
            why: "custody begins with it",
            hint: "write `--as bought`, customer, own, given, inherited, lent or found",
        })?)?;
        body::fits(form, came_as)?;
        let who = Who {
            on: form.on.as_deref(),
            by: form.by.as_deref(),
        };
        let on = who.day(around)?;
        let name = self.name()?;
        let arrival = body::Arrival {
            came_as,
            on: &on,
            workshop: &name,
            by: form.by.as_deref().unwrap_or(&name),
        };
        let mut note = IntakeNote {
            came_as,
            carrier: None,
            came: Vec::new(),
            hid: Vec::new(),
            countries: Vec::new(),
            prompts_shown: Vec::new(),
        };
        note.add(&form.parcel)?;
        let mut edit = Self::begin(blade, body::body(&key, form, &arrival)?);
        if let Some(remark) = without_prompts(&note.countries) {
            edit.remark(remark);
        }
        agreement::check_days(&form.agreement, &edit.body["agreement"], around)?;
        body::photos(&mut edit, &form.photos, &on)?;
        edit.note(self, "", &note, &who, around)?;
        edit.stage(self, Stage::AsReceived, None, &who, around)?;
        if form.construction.is_none() {
            edit.remark("the construction stands as `other` until it is examined");
        }
        if came_as == CameAs::Customer && form.agreement.etch_allowed.is_none() {
            edit.remark("nothing was said of an etch: it stands as not allowed");
        }
        let edited = edit.save(self, "intake", around)?;
        Ok(Intake {
            blade: edited.blade,
            came_as,
            revision: edited.revision,
            entries: edited.entries,
            photos: form.photos.len(),
            remarks: edited.remarks,
            prompts: prompts(&note.countries)?,
        })
    }
}
