//! `tangmark intake`.

mod told;

use std::path::{Path, PathBuf};

use clap::builder::PossibleValuesParser;
use clap::{Args, Subcommand};
use tangmark_workshop::intake::{
    CameAs, FormAgreement, FormLook, FormMass, FormParcel, FormPerson, FormPhoto,
    FormRegistration, INTAKE_FORM, IntakeChange, IntakeForm, prompts,
};
use tangmark_workshop::record::{BladeKind, Completeness, Construction, MassState, Role, SurfaceGrade, Term};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;
use crate::who::Who;

/// Enter a blade as it came: parcel, giver, papers, first photos, mass, and for a customer's blade what was agreed
///
/// Everything is entered in one go, or nothing: the blade, its first sheet, its stage. What was agreed with an owner is
/// held against every later pass. Names, numbers and prices are withheld from others when a record is sealed. What to
/// ask of papers and borders is shown in general words; what is allowed is for the authorities to say.
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    subcommand_negates_reqs = true,
    after_help = "Examples:
  tangmark intake heron --as bought --title \"Dagger with horn hilt\" --kind tanto
      --giver \"M. Ashe\" --price \"1200 EUR\" --carrier \"by hand\" --came \"blade in plain scabbard\"
      --photo \"parcel.jpg=The parcel as it came\" --mass \"212.4 g\" --mass-state bare
  tangmark intake reed --as customer --title \"Long sword\" --kind katana --giver \"O. Varga\"
      --work \"Remove active rust, keep the outline\" --steel-limit \"12 g\" --etch no
      --ask \"any crack\" --ceiling \"1900 EUR\" --return-by 2026-06-30 --country JP
  tangmark intake reed --new > reed-intake.toml     a form to fill in
  tangmark intake reed --from reed-intake.toml
  tangmark intake show reed
  tangmark intake asked reed --point \"any crack\" --answer \"looked for, none seen\""
)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: Option<What>,
    /// Key of the blade: lower-case letters, digits, hyphens
    #[arg(required = true)]
    blade: Option<String>,
    /// Print a commented form to fill in; nothing is entered
    #[arg(long, conflicts_with = "from")]
    new: bool,
    /// Take everything from a filled-in form
    #[arg(long, value_name = "FILE", conflicts_with_all = ["title", "kind", "came_as"])]
    from: Option<PathBuf>,
    /// How it came
    #[arg(long = "as", value_name = "WAY", value_parser = PossibleValuesParser::new(CameAs::ALL.map(CameAs::word)))]
    came_as: Option<String>,
    #[command(flatten)]
    said: Box<Said>,
    #[command(flatten)]
    agreement: Box<AgreementSaid>,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// What is said of a blade and its parcel.
#[derive(Debug, Args)]
struct Said {
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
    #[arg(long, value_name = "FILE[=[SHOWS:]CAPTION]", help_heading = "Papers and photos")]
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
struct AgreementSaid {
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

#[derive(Debug, Subcommand)]
enum What {
    /// Show how a blade came, what is agreed, and which points to ask at are open
    #[command(after_help = "Examples:
  tangmark intake show reed
  tangmark intake show reed --json")]
    Show {
        /// Key of the blade
        blade: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Change what was agreed or what is known of the parcel; what was there before stays in the history
    ///
    /// What is given takes the place of what was there; points to ask at, what came and what was hidden are added.
    #[command(after_help = "Examples:
  tangmark intake amend reed --return-by 2026-08-31
  tangmark intake amend reed --steel-limit \"15 g\" --consent \"Letter of 3 May 2026: up to 15 g\"
  tangmark intake amend heron --owner \"O. Varga\" --work \"Clean and oil\" --etch no
  tangmark intake amend heron --country JP --came \"card in an envelope\"")]
    Amend {
        /// Key of the blade
        blade: String,
        /// The name people use for it
        #[arg(long, value_name = "TEXT")]
        title: Option<String>,
        /// Kind by make
        #[arg(long, value_name = "WORD", value_parser = words::<BladeKind>())]
        kind: Option<String>,
        /// Who carried it
        #[arg(long, value_name = "TEXT")]
        carrier: Option<String>,
        /// What came in the parcel too (can be repeated)
        #[arg(long, value_name = "TEXT")]
        came: Vec<String>,
        /// What the packing hid too (can be repeated)
        #[arg(long, value_name = "PART=WHY|TEXT")]
        hid: Vec<String>,
        /// Country it comes from or goes to (can be repeated)
        #[arg(long, value_name = "CODE")]
        country: Vec<String>,
        #[command(flatten)]
        agreement: Box<AgreementSaid>,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Note what came of a point at which to stop and ask: the owner's answer, or that it was looked for and not met
    #[command(after_help = "Examples:
  tangmark intake asked reed --point \"any crack\" --answer \"looked for in raking light, none seen\"
  tangmark intake asked reed --point 2 --answer \"by telephone: let them stand\" --on 2026-03-09")]
    Asked {
        /// Key of the blade
        blade: String,
        /// The point, by its words or its number
        #[arg(long, value_name = "POINT|N")]
        point: String,
        /// What came of it
        #[arg(long, value_name = "TEXT")]
        answer: String,
        #[command(flatten)]
        who: Who,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show what to ask when a blade arrives from a country or goes there
    #[command(after_help = "Examples:
  tangmark intake prompts
  tangmark intake prompts --country JP --country DE --json")]
    Prompts {
        /// Country, two letters (can be repeated)
        #[arg(long, value_name = "CODE")]
        country: Vec<String>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

/// Reads a term as it stands in a sheet; the words are listed by `tangmark schema terms`.
fn words<T: Term>() -> impl Fn(&str) -> Result<String, String> + Clone + Send + Sync {
    |text: &str| {
        let key = text.replace('-', "_");
        if T::ALL.iter().any(|term| term.key() == key) {
            return Ok(key);
        }
        let keys: Vec<&str> = T::ALL.iter().map(|term| term.key()).collect();
        Err(format!("the words are {}", keys.join(", ")))
    }
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    if let Some(What::Prompts { country, json }) = &arguments.what {
        return told::tell_prompts(&prompts(country), *json);
    }
    let blade = arguments.blade.as_deref().unwrap_or_default();
    if arguments.new {
        print(&INTAKE_FORM.replacen(
            "as = \"bought\"",
            &format!("blade = \"{blade}\"\nas = \"bought\""),
            1,
        ))?;
        say(&format!(
            "fill it in, then `tangmark intake {} --from FILE`",
            show::plain(blade)
        ));
        return Ok(code::GOOD);
    }
    let workshop = surroundings::open(workshop)?;
    match &arguments.what {
        None => {
            let form = form(arguments)?;
            let done = surroundings::with(|around| Ok(workshop.intake(blade, &form, around)?))?;
            if arguments.json {
                print_json(&done)?;
                return Ok(code::GOOD);
            }
            told::tell_intake(&done)
        }
        Some(What::Show { blade, json }) => {
            let shown = workshop.arrival(blade)?;
            if *json {
                print_json(&shown)?;
            } else {
                print(&told::shown(&shown))?;
            }
            Ok(code::GOOD)
        }
        Some(What::Amend {
            blade,
            title,
            kind,
            carrier,
            came,
            hid,
            country,
            agreement,
            who,
            json,
        }) => {
            let change = IntakeChange {
                title: title.clone(),
                kind: kind.clone(),
                agreement: agreed(agreement),
                parcel: FormParcel {
                    carrier: carrier.clone(),
                    came: came.clone(),
                    hid: hid.clone(),
                    countries: country.clone(),
                    place: None,
                },
            };
            let edited = surroundings::with(|around| {
                Ok(workshop.amend_intake(blade, &change, &who.who(), around)?)
            })?;
            if *json {
                print_json(&edited)?;
                return Ok(code::GOOD);
            }
            print(&format!(
                "blade {}: changed, sheet revision {}\n",
                edited.blade, edited.revision
            ))?;
            say(&format!(
                "look at it with `tangmark intake show {}`; hold the work against it with `tangmark check {}`",
                edited.blade, edited.blade
            ));
            Ok(code::GOOD)
        }
        Some(What::Asked {
            blade,
            point,
            answer,
            who,
            json,
        }) => {
            let (edited, shown) = surroundings::with(|around| {
                let edited = workshop.answer_point(blade, point, answer, &who.who(), around)?;
                Ok((edited, workshop.arrival(blade)?))
            })?;
            if *json {
                print_json(&edited)?;
                return Ok(code::GOOD);
            }
            told::tell_asked(&edited, &shown)
        }
        Some(What::Prompts { .. }) => Ok(code::GOOD),
    }
}

/// The form as it was filled in, or as the options say it.
fn form(arguments: &Arguments) -> Result<IntakeForm, Failure> {
    let person = arguments.who.who();
    if let Some(file) = &arguments.from {
        let mut form = IntakeForm::read(file)?;
        let said = said(arguments)?;
        let bare = IntakeForm {
            on: None,
            by: None,
            photos: Vec::new(),
            ..said.clone()
        };
        if bare != IntakeForm::default() {
            return Err(Failure::usage(
                "options found beside `--from`; `--on`, `--by`, `--photo` and `--json` are allowed with it",
                "write the rest into the form",
            ));
        }
        form.on = said.on.or(form.on);
        form.by = said.by.or(form.by);
        form.photos.extend(said.photos);
        return Ok(form);
    }
    let mut form = said(arguments)?;
    form.on = person.on.map(str::to_owned);
    form.by = person.by.map(str::to_owned);
    Ok(form)
}

fn said(arguments: &Arguments) -> Result<IntakeForm, Failure> {
    let Arguments {
        came_as,
        said,
        agreement,
        who,
        ..
    } = arguments;
    let who = who.who();
    Ok(IntakeForm {
        blade: None,
        came_as: came_as.clone(),
        on: who.on.map(str::to_owned),
        by: who.by.map(str::to_owned),
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
        agreement: agreed(agreement),
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

fn agreed(said: &AgreementSaid) -> FormAgreement {
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
    use tangmark_workshop::record::Shows;
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
            ("b/t.jpg".to_owned(), some("tang"), "Tang = rusty".to_owned())
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
