//! `tangmark intake`.

mod said;
mod told;

use std::path::{Path, PathBuf};

use clap::builder::PossibleValuesParser;
use clap::{Args, Subcommand};
use tangmark_workshop::WorkshopError;
use tangmark_workshop::intake::{
    CameAs, FormParcel, INTAKE_FORM, IntakeChange, IntakeForm, prompts, without_prompts,
};
use tangmark_workshop::record::BladeKind;

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;
use crate::who::Who;
use said::{AgreementSaid, Said, words};

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
      --giver \"M. Ashe\" --price \"1200 EUR\" --carrier \"post\" --came \"blade in plain scabbard\"
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

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    if let Some(What::Prompts { country, json }) = &arguments.what {
        let found = prompts(country).map_err(WorkshopError::from)?;
        if let Some(remark) = without_prompts(country) {
            say(&format!("note: {remark}"));
        }
        return told::tell_prompts(&found, *json);
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
                agreement: agreement.agreed(),
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
            told::tell_remarks(&edited.remarks);
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
    let mut said = arguments.said.form(&arguments.agreement)?;
    let who = arguments.who.who();
    let mut form = match &arguments.from {
        None => {
            said.came_as.clone_from(&arguments.came_as);
            said
        }
        Some(file) => {
            let photos = std::mem::take(&mut said.photos);
            if said != IntakeForm::default() {
                return Err(Failure::usage(
                    "options found beside `--from`; `--on`, `--by`, `--photo` and `--json` are allowed with it",
                    "write the rest into the form",
                ));
            }
            let mut form = IntakeForm::read(file)?;
            form.photos.extend(photos);
            form
        }
    };
    form.on = who.on.map(str::to_owned).or(form.on);
    form.by = who.by.map(str::to_owned).or(form.by);
    Ok(form)
}
