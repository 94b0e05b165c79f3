//! What a person says of a blade that arrived: on the command line, or in a form filled in once.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tangmark_core::record::Term;

use super::IntakeError;
use crate::{WorkshopError, input};

/// A commented form to fill in.
pub const INTAKE_FORM: &str = include_str!("form.toml");

/// How a blade came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CameAs {
    /// Bought by the workshop.
    Bought,
    /// Left by its owner for work.
    Customer,
    /// The workshop's own, here before its records.
    Own,
    /// Given to the workshop.
    Given,
    /// Inherited.
    Inherited,
    /// Lent.
    Lent,
    /// Found.
    Found,
}

impl CameAs {
    /// Every way.
    pub const ALL: [Self; 7] = [
        Self::Bought,
        Self::Customer,
        Self::Own,
        Self::Given,
        Self::Inherited,
        Self::Lent,
        Self::Found,
    ];

    /// Returns the word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bought => "bought",
            Self::Customer => "customer",
            Self::Own => "own",
            Self::Given => "given",
            Self::Inherited => "inherited",
            Self::Lent => "lent",
            Self::Found => "found",
        }
    }

    pub(super) fn read(text: &str) -> Result<Self, IntakeError> {
        let known = Self::ALL.into_iter().find(|one| one.word() == text);
        known.ok_or_else(|| IntakeError::Word {
            what: "the way a blade came",
            found: cut(text),
            allowed: Self::ALL.map(Self::word).join(", "),
        })
    }
}

/// A person of the form.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FormPerson {
    /// Part played, a term.
    pub role: Option<String>,
    /// Name.
    pub name: Option<String>,
    /// Postal address.
    pub address: Option<String>,
    /// Telephone or mail.
    pub contact: Option<String>,
}

/// The parcel.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FormParcel {
    /// Who carried it.
    pub carrier: Option<String>,
    /// What came in it.
    pub came: Vec<String>,
    /// What the packing hid: a part and why, such as `tang=in the hilt`, or plain words.
    pub hid: Vec<String>,
    /// Countries it comes from or goes to, by code.
    pub countries: Vec<String>,
    /// Where it was received, in general words.
    pub place: Option<String>,
}

/// What was agreed with the owner.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FormAgreement {
    /// Owner, where it is not the giver.
    pub owner: FormPerson,
    /// What is to be done.
    pub work: Option<String>,
    /// Most steel that may go, with its unit.
    pub steel_limit: Option<String>,
    /// Whether an etch is allowed.
    pub etch_allowed: Option<bool>,
    /// Points at which to stop and ask.
    pub stop_and_ask: Vec<String>,
    /// What the owner agreed to in writing.
    pub consent: Option<String>,
    /// Day of the agreement.
    pub on: Option<String>,
    /// Day of return.
    pub return_by: Option<String>,
    /// Price ceiling, such as `1900 EUR`.
    pub price_ceiling: Option<String>,
    /// Insured value.
    pub insured_value: Option<String>,
}

impl FormAgreement {
    /// Whether anything is said.
    pub(super) fn is_said(&self) -> bool {
        *self != Self::default()
    }
}

/// A registration or appraisal that came with it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FormRegistration {
    /// Kind, a term.
    pub kind: String,
    /// Authority or issuer.
    pub authority: String,
    /// Date.
    pub on: Option<String>,
    /// Number.
    pub number: Option<String>,
    /// Grade.
    pub grade: Option<String>,
}

/// A photo.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FormPhoto {
    /// File.
    pub file: PathBuf,
    /// Caption.
    pub caption: Option<String>,
    /// What it shows, a term.
    pub shows: Option<String>,
}

/// A first look, before the blade is examined.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FormLook {
    /// Light.
    pub light: Option<String>,
    /// Surface as a whole, a term.
    pub surface: Option<String>,
    /// How much of the blade is there, a term; left out: complete.
    pub completeness: Option<String>,
    /// Parts looked at, terms.
    pub looked_at: Vec<String>,
    /// Remarks.
    pub note: Option<String>,
}

/// The scale and what it read.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FormMass {
    /// Reading with its unit.
    pub reading: Option<String>,
    /// What was on the scale, a term.
    pub state: Option<String>,
    /// The scale.
    pub scale: Option<String>,
    /// Smallest step it shows, with its unit.
    pub step: Option<String>,
    /// Its limit of error, half-width, with its unit.
    pub limit_of_error: Option<String>,
}

/// Everything said of an arrival. What is left out is not known.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct IntakeForm {
    /// Blade, where the form names it.
    pub blade: Option<String>,
    /// How it came.
    #[serde(rename = "as")]
    pub came_as: Option<String>,
    /// Day of arrival.
    pub on: Option<String>,
    /// Who enters it.
    pub by: Option<String>,
    /// The name people use for it.
    pub title: Option<String>,
    /// Kind by make, a term.
    pub kind: Option<String>,
    /// Construction, a term.
    pub construction: Option<String>,
    /// Type of object in plain words.
    pub object_type: Option<String>,
    /// Seller, owner or giver.
    pub giver: FormPerson,
    /// Price paid, such as `1200 EUR`.
    pub price: Option<String>,
    /// The parcel.
    pub parcel: FormParcel,
    /// What was agreed.
    pub agreement: FormAgreement,
    /// Papers that came, as `custody add --document` reads them.
    pub papers: Vec<String>,
    /// Registrations and appraisals.
    pub registrations: Vec<FormRegistration>,
    /// Photos.
    pub photos: Vec<FormPhoto>,
    /// Mass as received.
    pub mass: FormMass,
    /// First look.
    pub look: FormLook,
}

/// Longest form, in bytes.
const LONGEST_FORM: u64 = 1024 * 1024;

impl IntakeForm {
    /// Reads a form; photos are found beside it.
    ///
    /// # Errors
    /// When it cannot be read, with the line.
    pub fn read(file: &Path) -> Result<Self, WorkshopError> {
        let text = input::text(file, LONGEST_FORM)?;
        let mut form: Self = toml::from_str(&text).map_err(|error| {
            let line = error.span().map_or(1, |span| {
                text.get(..span.start)
                    .map_or(1, |before| before.matches('\n').count() + 1)
            });
            IntakeError::Form {
                file: file.to_owned(),
                what: format!("line {line}: {}", error.message().replace('\n', " ")),
            }
        })?;
        let folder = file.parent().unwrap_or(Path::new("."));
        for photo in &mut form.photos {
            photo.file = folder.join(&photo.file);
        }
        Ok(form)
    }
}

/// Finds a term of a closed list; a hyphen is read as the sign below the line.
pub(super) fn term<T: Term>(what: &'static str, text: &str) -> Result<T, IntakeError> {
    let key = text.trim().replace('-', "_");
    let found = T::ALL.iter().find(|term| term.key() == key);
    found.copied().ok_or_else(|| {
        let keys: Vec<&str> = T::ALL.iter().map(|term| term.key()).collect();
        IntakeError::Word {
            what,
            found: cut(text),
            allowed: keys.join(", "),
        }
    })
}

fn cut(text: &str) -> String {
    text.chars().take(60).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn read(text: &str) -> Result<IntakeForm, WorkshopError> {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("form.toml");
        std::fs::write(&file, text).unwrap();
        IntakeForm::read(&file)
    }

    #[test]
    fn the_printed_form_is_read_and_every_remark_in_it_is_a_line_that_can_be_used() {
        assert!(read(INTAKE_FORM).is_ok());
        // Every line that is put out with `# ` and holds a name and a value is one of the form.
        let used: Vec<&str> = INTAKE_FORM
            .lines()
            .map(|line| {
                let bare = line.strip_prefix("# ").unwrap_or(line);
                let name = bare.split(" = ").next().unwrap_or_default();
                let is_value = bare.contains(" = ")
                    && name
                        .bytes()
                        .all(|letter| letter.is_ascii_lowercase() || letter == b'_');
                if is_value || bare.starts_with('[') {
                    bare
                } else {
                    line
                }
            })
            .collect();
        let form = read(&used.join("\n")).unwrap();
        assert!(form.agreement.is_said() && !form.photos.is_empty());
        assert!(!form.registrations.is_empty() && form.look.surface.is_some());
    }

    #[test]
    fn slips_in_a_form_are_told_with_their_line() {
        let said = |text: &str| read(text).unwrap_err().to_string();
        let unknown = said("as = \"bought\"\ntitel = \"x\"\n");
        assert!(
            unknown.contains("line 2: unknown field `titel`"),
            "{unknown}"
        );
        assert!(said("[agreement]\netch_allowed = \"no\"\n").contains("line 2: "));
    }
}
