//! The options of an arrival, and how they become a form.

use std::path::PathBuf;

use clap::Args;
use clap::builder::PossibleValuesParser;
use tangmark_workshop::intake::{
    FormAgreement, FormLook, FormMass, FormParcel, FormPerson, FormPhoto, FormRegistration,
    IntakeForm,
};
use tangmark_workshop::record::{
    BladeKind, Completeness, Construction, MassState, Role, Shows, SurfaceGrade, Term,
};

use crate::outcome::Failure;

/// What is said of a blade and its parcel.
#[derive(Debug, Args)]
pub(super) struct Said {
    /// The name people use for it
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// Kind by make, such as katana, tanto, sabre or other
    #[arg(long, value_name = "WORD", value_parser = words::<BladeKind>())]
    kind: Option<String>,
    /// Construction [default: other, until it is examined]
    #[arg(long, value_name = "WORD", value_parser = words::<Construction>())]
    construction: Option<String>,
    /// Type of object in plain words [default: that of the kind]
    #[arg(long, value_name = "TEXT")]
    object_type: Option<String>,
    /// Who sold, gave, lent or left it; withheld when a record is sealed
    #[arg(long, value_name = "NAME", help_heading = "Giver and parcel")]
    giver: Option<String>,
    /// Part the giver plays [default: that of the way it came]
    #[arg(long, value_name = "WORD", value_parser = words::<Role>(), help_heading = "Giver and parcel")]
    giver_role: Option<String>,
    /// Postal address
    #[arg(long, value_name = "TEXT", help_heading = "Giver and parcel")]
    giver_address: Option<String>,
    /// Telephone or mail
    #[arg(long, value_name = "TEXT", help_heading = "Giver and parcel")]
    giver_contact: Option<String>,
    /// Price paid, for a blade you bought; withheld when a record is sealed
    #[arg(long, value_name = "AMOUNT CODE", help_heading = "Giver and parcel")]
    price: Option<String>,
    /// Who carried it
    #[arg(long, value_name = "TEXT", help_heading = "Giver and parcel")]
    carrier: Option<String>,
    /// What came in the parcel (can be repeated)
    #[arg(long, value_name = "TEXT", help_heading = "Giver and parcel")]
    came: Vec<String>,
    /// What the packing hid, as a part and why, or in plain words (can be repeated)
    #[arg(long, value_name = "PART=WHY|TEXT", help_heading = "Giver and parcel")]
    hid: Vec<String>,
    /// Country it comes from or goes to, two letters; shows what to ask there (can be repeated)
    #[arg(long, value_name = "CODE", help_heading = "Giver and parcel")]
    country: Vec<String>,
    /// Where it was received, in general words
    #[arg(long, value_name = "TEXT", help_heading = "Giver and parcel")]
    place: Option<String>,
    /// Paper that came, such as "receipt; issuer=The seller; on=2026-01-30; number=17" (can be repeated)
    #[arg(long, value_name = "PAPER", help_heading = "Papers and photos")]
    paper: Vec<String>,
    /// Registration or appraisal, such as "registration_card; authority=…; on=1974-05; number=…" (can be repeated)
    #[arg(long, value_name = "REGISTRATION", help_heading = "Papers and photos")]
    registration: Vec<String>,
    /// Photo with its caption, and what it shows before a colon: "tang.jpg=tang: Tang as it came" (can be repeated)
    #[arg(
        long,
        value_name = "FILE[=[SHOWS:]CAPTION]",
        help_heading = "Papers and photos"
    )]
    photo: Vec<String>,
    /// Mass as it came, with its unit
    #[arg(long, value_name = "READING", help_heading = "Mass and first look")]
    mass: Option<String>,
    /// What was on the scale
    #[arg(long, value_name = "WORD", value_parser = words::<MassState>(), help_heading = "Mass and first look")]
    mass_state: Option<String>,
    /// The scale
    #[arg(long, value_name = "TEXT", help_heading = "Mass and first look")]
    scale: Option<String>,
    /// Smallest step of the scale, with its unit
    #[arg(long, value_name = "STEP", help_heading = "Mass and first look")]
    scale_step: Option<String>,
    /// Limit of error of the scale, half-width, with its unit
    #[arg(long, value_name = "LIMIT", help_heading = "Mass and first look")]
    scale_limit: Option<String>,
    /// Light of a first look; with it goes `--surface`, and an examination for arrival is made of both
    #[arg(long, value_name = "TEXT", help_heading = "Mass and first look")]
    light: Option<String>,
    /// Surface as a whole at the first look
    #[arg(long, value_name = "WORD", value_parser = words::<SurfaceGrade>(), help_heading = "Mass and first look")]
    surface: Option<String>,
    /// How much of the blade is there [default: complete]
    #[arg(long, value_name = "WORD", value_parser = words::<Completeness>(), help_heading = "Mass and first look")]
    completeness: Option<String>,
    /// Part looked at (can be repeated)
    #[arg(long, value_name = "PART", help_heading = "Mass and first look")]
    looked_at: Vec<String>,
    /// Remark on the first look
    #[arg(long, value_name = "TEXT", help_heading = "Mass and first look")]
    look_note: Option<String>,
}

/// What was agreed with an owner.
#[derive(Debug, Args)]
#[command(next_help_heading = "Agreement, for a customer's blade")]
pub(super) struct AgreementSaid {
    /// What is to be done
    #[arg(long, value_name = "TEXT")]
    work: Option<String>,
    /// Owner [default: the giver]
    #[arg(long, value_name = "NAME")]
    owner: Option<String>,
    /// Part the owner plays
    #[arg(long, value_name = "WORD", value_parser = words::<Role>(), requires = "owner")]
    owner_role: Option<String>,
    /// Postal address of the owner
    #[arg(long, value_name = "TEXT", requires = "owner")]
    owner_address: Option<String>,
    /// Telephone or mail of the owner
    #[arg(long, value_name = "TEXT", requires = "owner")]
    owner_contact: Option<String>,
    /// Most steel that may go, such as "12 g"; work stops there
    #[arg(long, value_name = "MASS")]
    steel_limit: Option<String>,
    /// Whether an etch is allowed [default: no]
    #[arg(long, value_name = "yes|no", value_parser = PossibleValuesParser::new(["yes", "no"]))]
    etch: Option<String>,
    /// Point at which to stop and ask; named at every pass until it is answered (can be repeated)
    #[arg(long, value_name = "POINT")]
    ask: Vec<String>,
    /// What the owner agreed to in writing
    #[arg(long, value_name = "TEXT")]
    consent: Option<String>,
    /// Day of the agreement [default: the day of arrival]
    #[arg(long, value_name = "DAY")]
    agreed_on: Option<String>,
    /// Day of return
    #[arg(long, value_name = "DAY")]
    return_by: Option<String>,
    /// Price ceiling; withheld when a record is sealed
    #[arg(long, value_name = "AMOUNT CODE")]
    ceiling: Option<String>,
    /// Insured value; withheld when a record is sealed
    #[arg(long, value_name = "AMOUNT CODE")]
    insured: Option<String>,
}

/// Reads a term as it stands in a sheet; the words are listed by `tangmark schema terms`.
pub(super) fn words<T: Term>() -> impl Fn(&str) -> Result<String, String> + Clone + Send + Sync {
    |text: &str| {
        let key = text.replace('-', "_");
        if T::ALL.iter().any(|term| term.key() == key) {
            return Ok(key);
        }
        let keys: Vec<&str> = T::ALL.iter().map(|term| term.key()).collect();
        Err(format!("the words are {}", keys.join(", ")))
    }
}

impl Said {
    /// What the options say, as a form.
    pub(super) fn form(&self, agreement: &AgreementSaid) -> Result<IntakeForm, Failure> {
        let said = self;
        Ok(IntakeForm {
            blade: None,
            came_as: None,
            on: None,
            by: None,
            title: said.title.clone(),
            kind: said.kind.clone(),
            construction: said.construction.clone(),
            object_type: said.object_type.clone(),
            giver: FormPerson {
                role: said.giver_role.clone(),
                name: said.giver.clone(),
                address: said.giver_address.clone(),
                contact: said.giver_contact.clone(),
            },
            price: said.price.clone(),
            parcel: FormParcel {
                carrier: said.carrier.clone(),
                came: said.came.clone(),
                hid: said.hid.clone(),
                countries: said.country.clone(),
                place: said.place.clone(),
            },
            agreement: agreement.agreed(),
            papers: said.paper.clone(),
            registrations: said
                .registration
                .iter()
                .map(|text| registration(text))
                .collect::<Result<_, _>>()?,
            photos: said.photo.iter().map(|text| photo(text)).collect(),
            mass: FormMass {
                reading: said.mass.clone(),
                state: said.mass_state.clone(),
                scale: said.scale.clone(),
                step: said.scale_step.clone(),
                limit_of_error: said.scale_limit.clone(),
            },
            look: FormLook {
                light: said.light.clone(),
                surface: said.surface.clone(),
                completeness: said.completeness.clone(),
                looked_at: said.looked_at.clone(),
                note: said.look_note.clone(),
            },
        })
    }
}

impl AgreementSaid {
    /// What the options say of an agreement.
    pub(super) fn agreed(&self) -> FormAgreement {
        let said = self;
        FormAgreement {
            owner: FormPerson {
                role: said.owner_role.clone(),
                name: said.owner.clone(),
                address: said.owner_address.clone(),
                contact: said.owner_contact.clone(),
            },
            work: said.work.clone(),
            steel_limit: said.steel_limit.clone(),
            etch_allowed: said.etch.as_deref().map(|etch| etch == "yes"),
            stop_and_ask: said.ask.clone(),
            consent: said.consent.clone(),
            on: said.agreed_on.clone(),
            return_by: said.return_by.clone(),
            price_ceiling: said.ceiling.clone(),
            insured_value: said.insured.clone(),
        }
    }
}

/// Reads `registration_card; authority=…; on=1974-05; number=…`.
fn registration(text: &str) -> Result<FormRegistration, Failure> {
    let mut parts = text.split(';').map(str::trim);
    let mut one = FormRegistration {
        kind: parts.next().unwrap_or_default().to_owned(),
        ..FormRegistration::default()
    };
    for part in parts.filter(|part| !part.is_empty()) {
        let (name, value) = part.split_once('=').unwrap_or((part, ""));
        let value = value.trim().to_owned();
        match name.trim() {
            "authority" => one.authority = value,
            "on" => one.on = Some(value),
            "number" => one.number = Some(value),
            "grade" => one.grade = Some(value),
            _ => {
                return Err(Failure::usage(
                    format!(
                        "`--registration`: `{part}` found; authority, on, number and grade, each with `=` and a value, are allowed"
                    ),
                    "write it like \"registration_card; authority=Board of Education; on=1974-05\"",
                ));
            }
        }
    }
    Ok(one)
}

/// Reads `FILE[=[SHOWS:]CAPTION]`. A word before the colon that is no term belongs to the caption.
fn photo(text: &str) -> FormPhoto {
    let (file, rest) = match text.split_once('=') {
        Some((file, rest)) => (file, Some(rest)),
        None => (text, None),
    };
    let (shows, caption) = match rest.and_then(|rest| rest.split_once(':')) {
        Some((shows, caption)) if Shows::ALL.iter().any(|one| one.key() == shows.trim()) => {
            (Some(shows.trim().to_owned()), Some(caption))
        }
        _ => (None, rest),
    };
    FormPhoto {
        file: PathBuf::from(file),
        caption: caption
            .map(|caption| caption.trim().to_owned())
            .filter(|caption| !caption.is_empty()),
        shows,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_photo_is_a_file_with_a_caption_and_what_it_shows() {
        let read = |text: &str| {
            let one = photo(text);
            (
                one.file.display().to_string(),
                one.shows,
                one.caption.unwrap_or_default(),
            )
        };
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(read("a.jpg"), ("a.jpg".to_owned(), None, String::new()));
        assert_eq!(
            read("a.jpg=As it came: wet"),
            ("a.jpg".to_owned(), None, "As it came: wet".to_owned())
        );
        assert_eq!(
            read("b/t.jpg=tang: Tang = rusty"),
            (
                "b/t.jpg".to_owned(),
                some("tang"),
                "Tang = rusty".to_owned()
            )
        );
    }

    #[test]
    fn a_registration_is_a_kind_with_what_is_known() {
        let one = registration("registration_card; authority=Board; on=1974-05").unwrap();
        assert_eq!(
            (one.kind.as_str(), one.authority.as_str()),
            ("registration_card", "Board")
        );
        assert_eq!(one.on.as_deref(), Some("1974-05"));
        assert!(registration("registration_card; by=Board").is_err());
    }
}
