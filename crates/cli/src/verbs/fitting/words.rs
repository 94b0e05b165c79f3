//! The command line of `tangmark fitting`.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use tangmark_workshop::fitting::{Belonging, Changes, Readings};
use tangmark_workshop::record::{
    FittingOrigin, FittingPart, Kept, Key, Matched, Material, PartialDate, ProtectedScreen,
};

use crate::papers::{Language, PaperName};
use crate::verbs::seal::TermParser;
use crate::who::Entry;

#[derive(Debug, Subcommand)]
pub(super) enum What {
    /// Enter a fitting: with the blade it came with, else in storage
    #[command(after_help = "Examples:
  tangmark fitting add guard-1 --part tsuba --title \"Iron guard with two openings\" --material iron
      --photo guard-front.jpg --photo guard-back.jpg --with reed --kept mounted --matched fits
  tangmark fitting add hilt-7 --part tsuka --title \"Hilt for a long sword\" --material ho
      --material ray_skin
      --told-by \"loupe\" --note \"bought from H. Marlow\"

`tangmark schema terms` lists the parts and materials.")]
    Add {
        /// A key for it: lower-case letters, digits, hyphens, 31 at most
        id: Key,
        /// What part it is
        #[arg(long, value_parser = TermParser::<FittingPart>::new())]
        part: FittingPart,
        /// The name people use for it
        #[arg(long, value_name = "TEXT")]
        title: String,
        /// The blade it came with
        #[arg(long, value_name = "BLADE")]
        with: Option<String>,
        /// From whom it came, or what else is to be said of its coming
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        #[command(flatten)]
        what: Described,
        #[command(flatten)]
        read: Measured,
        #[command(flatten)]
        belongs: Belongs,
        #[command(flatten)]
        entry: Entry,
    },
    /// Take a fitting that stands in the sheet of a blade into the inventory
    #[command(after_help = "Examples:
  tangmark fitting adopt heron collar
  tangmark fitting adopt heron collar --as heron-collar")]
    Adopt {
        /// Key of the blade
        blade: String,
        /// Key of the fitting in its sheet
        id: String,
        /// Another key for it, here and in the sheet
        #[arg(long = "as", value_name = "KEY")]
        new_id: Option<Key>,
        #[command(flatten)]
        entry: Entry,
    },
    /// List fittings and where they are
    #[command(after_help = "Examples:
  tangmark fitting list
  tangmark fitting list --blade reed
  tangmark fitting list --all --csv > fittings.csv

Without an option: those in the workshop. Those that left with a sold or returned blade, or went
out, come with --all.")]
    List {
        /// Those with this blade, also those that stand in its sheet only
        #[arg(long, value_name = "BLADE", conflicts_with_all = ["loose", "all"])]
        blade: Option<String>,
        /// Those in storage
        #[arg(long, conflicts_with = "all")]
        loose: bool,
        /// Every fitting there ever was
        #[arg(long)]
        all: bool,
        /// Print CSV
        #[arg(long, conflicts_with = "json")]
        csv: bool,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show one fitting with every move
    #[command(after_help = "Examples:
  tangmark fitting show guard-1
  tangmark fitting show guard-1 --json")]
    Show {
        /// Key of the fitting
        id: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Move a fitting to a blade, into storage, or out of the workshop
    #[command(after_help = "Examples:
  tangmark fitting move guard-1 --to heron --kept mounted
  tangmark fitting move guard-1 --to storage --note \"replaced by a plainer one\"
  tangmark fitting move guard-1 --to \"H. Marlow, maker of fittings\" --on 2026-04-02

A blade is named by its key; anything else is a person or place, with a capital letter or a space
in it.")]
    Move {
        /// Key of the fitting
        id: String,
        /// Key of a blade, `storage`, or a name, which stays in the journal and stands in no record
        #[arg(long, value_name = "WHERE")]
        to: String,
        /// Remark
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        #[command(flatten)]
        belongs: Belongs,
        #[command(flatten)]
        entry: Entry,
    },
    /// Note what was measured on a fitting, and how it sits on its blade
    #[command(after_help = "Examples:
  tangmark fitting measure guard-1 --opening \"26.9 mm x 7.6 mm\" --uncertainty \"0.02 mm\"
  tangmark fitting measure hilt-7 --peg-hole \"49.8 mm\" --peg-hole \"49.9 mm\" --stack \"8.2 mm\"
  tangmark fitting measure hilt-7 --tried-on 2026-04-02 --matched fits_now

An option that is given several times holds readings of one thing.")]
    Measure {
        /// Key of the fitting
        id: String,
        #[command(flatten)]
        read: Measured,
        #[command(flatten)]
        belongs: Belongs,
        #[command(flatten)]
        entry: Entry,
    },
    /// Describe a fitting anew, or add photos; what is not given stays
    #[command(after_help = "Examples:
  tangmark fitting describe guard-1 --condition \"light rust on the inner face\"
      --photo guard-side.jpg
  tangmark fitting describe hilt-7 --material ho --material ray_skin --told-by \"loupe\"")]
    Describe {
        /// Key of the fitting
        id: String,
        /// The name people use for it
        #[arg(long, value_name = "TEXT")]
        title: Option<String>,
        #[command(flatten)]
        what: Described,
        #[command(flatten)]
        entry: Entry,
    },
    /// Tell which blades a fitting fits, by its peg hole and its opening
    ///
    /// Compares a collar with the blade at the notch, and a guard, washer or hilt with the tang there; the peg hole of a
    /// hilt with the open holes of the tang. Every answer is guarded by the uncertainty (k = 2). The limits are this
    /// tool's own rules: common practice, no source. Try it on by hand all the same, edge covered, and never file a tang.
    #[command(after_help = "Examples:
  tangmark fitting fit guard-1                      against all blades in work
  tangmark fitting fit hilt-7 reed heron --json
  tangmark fitting fit hilt-7 reed --svg hilt-7-on-reed.svg")]
    Fit {
        /// Key of the fitting
        id: String,
        /// Keys of blades [default: all in work]
        blades: Vec<String>,
        /// Draw it against one blade, to scale [default blade: the one it is with]
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
        /// Language of the drawing
        #[arg(long, value_enum, default_value_t = Language::En, requires = "svg")]
        language: Language,
        /// List those it does not fit too
        #[arg(long)]
        all: bool,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Show or set the limits of what fits, in mm
    #[command(after_help = "Examples:
  tangmark fitting limits
  tangmark fitting limits --guard 1.2 --peg 0.5")]
    Limits {
        /// Most play of a collar on the blade
        #[arg(long, value_name = "MM")]
        collar: Option<f64>,
        /// Most play of a washer on the tang
        #[arg(long, value_name = "MM")]
        washer: Option<f64>,
        /// Most play of a guard on the tang
        #[arg(long, value_name = "MM")]
        guard: Option<f64>,
        /// Most play of the mouth of a hilt on the tang
        #[arg(long, value_name = "MM")]
        hilt: Option<f64>,
        /// Most distance between the peg holes of hilt and tang
        #[arg(long, value_name = "MM")]
        peg: Option<f64>,
        #[command(flatten)]
        entry: Entry,
    },
    /// Look a fitting's materials up among protected ones; never a clearance
    ///
    /// Asks the plugin `materials` about this fitting alone, with its dated table or yours. Lists change, and what holds
    /// is for the authorities to say: ask them before a fitting changes hands or crosses a border.
    #[command(after_help = "Examples:
  tangmark fitting screen hilt-7
  tangmark fitting screen hilt-7 --note ask_authority --list 2025-11")]
    Screen {
        /// Key of the fitting
        id: String,
        /// Note what you found in a list yourself
        #[arg(long, value_name = "ANSWER", value_parser = TermParser::<ProtectedScreen>::new(), requires = "list", hide_possible_values = false)]
        note: Option<ProtectedScreen>,
        /// Date of that list: year, year-month or day
        #[arg(long, value_name = "DATE", requires = "note")]
        list: Option<PartialDate>,
        #[command(flatten)]
        entry: Entry,
    },
    /// Write labels to tie to fittings, as a PDF
    #[command(after_help = "Examples:
  tangmark fitting label guard-1 hilt-7 --out labels.pdf
  tangmark fitting label guard-1 --out label.pdf --paper letter --language both")]
    Label {
        /// Keys of the fittings
        #[arg(required = true)]
        ids: Vec<String>,
        /// File to write
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// Paper
        #[arg(long, value_enum, default_value_t = PaperName::A4)]
        paper: PaperName,
        /// Language
        #[arg(long, value_enum, default_value_t = Language::En)]
        language: Language,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

/// What a fitting is.
#[derive(Debug, Args)]
pub(super) struct Described {
    /// Description, where the title does not say enough
    #[arg(long, value_name = "TEXT")]
    description: Option<String>,
    /// Material (can be repeated); it takes the place of those noted before
    #[arg(long = "material", value_parser = TermParser::<Material>::new())]
    materials: Vec<Material>,
    /// How the materials were told
    #[arg(long, value_name = "TEXT")]
    told_by: Option<String>,
    /// Condition
    #[arg(long, value_name = "TEXT")]
    condition: Option<String>,
    /// Photo file, JPEG, PNG or TIFF (can be repeated)
    #[arg(long = "photo", value_name = "FILE")]
    photos: Vec<PathBuf>,
}

/// What is read off a fitting.
#[derive(Debug, Args)]
pub(super) struct Measured {
    /// Distance of the centre of a hilt's peg hole from its mouth (can be repeated)
    #[arg(long, value_name = "LENGTH")]
    peg_hole: Vec<String>,
    /// Opening: edge side to back, then face to face, such as "26.9 mm x 7.6 mm" (can be repeated)
    #[arg(long, value_name = "LENGTH x LENGTH")]
    opening: Vec<String>,
    /// What lies between the notch of the blade and the mouth of a mounted hilt: washers and guard together (can be repeated)
    #[arg(long, value_name = "LENGTH")]
    stack: Vec<String>,
    /// Standard uncertainty (k = 1) of these lengths; without it the step of the readings counts
    #[arg(long, value_name = "LENGTH")]
    uncertainty: Option<String>,
    /// How they were taken
    #[arg(long, value_name = "TEXT")]
    method: Option<String>,
    /// Day it was tried on the blade
    #[arg(long, value_name = "DATE")]
    tried_on: Option<String>,
    /// Remark on the fit
    #[arg(long, value_name = "TEXT")]
    fit_note: Option<String>,
}

/// How a fitting belongs to its blade.
#[derive(Debug, Args)]
pub(super) struct Belongs {
    /// Whether it fits, as tried by hand
    #[arg(long, value_parser = TermParser::<Matched>::new(), hide_possible_values = false)]
    matched: Option<Matched>,
    /// How it came to the blade
    #[arg(long, value_parser = TermParser::<FittingOrigin>::new(), hide_possible_values = false)]
    origin: Option<FittingOrigin>,
    /// Where it is kept
    #[arg(long, value_parser = TermParser::<Kept>::new(), hide_possible_values = false)]
    kept: Option<Kept>,
}

impl Described {
    pub(super) fn changes(&self) -> Changes {
        Changes {
            description: self.description.clone(),
            materials: self.materials.clone(),
            material_evidence: self.told_by.clone(),
            condition: self.condition.clone(),
            photos: self.photos.clone(),
            ..Changes::default()
        }
    }
}

impl Measured {
    pub(super) fn readings(&self) -> Readings {
        Readings {
            peg_hole: self.peg_hole.clone(),
            opening: self.opening.clone(),
            stack: self.stack.clone(),
            uncertainty: self.uncertainty.clone(),
            method: self.method.clone(),
            tried_on: self.tried_on.clone(),
            note: self.fit_note.clone(),
        }
    }
}

impl Belongs {
    pub(super) fn belonging(&self) -> Belonging {
        Belonging {
            matched: self.matched,
            origin: self.origin,
            kept: self.kept,
        }
    }
}
