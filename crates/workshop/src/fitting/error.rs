//! What can go wrong with a fitting, each with its next step.

/// Why a fitting could not be entered, moved, measured or judged. Nothing was written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FittingError {
    /// No such fitting in the inventory.
    #[error("fitting `{0}` is not in the inventory of this workshop")]
    Unknown(String),
    /// A key that is taken.
    #[error("fitting `{0}` is in the inventory already")]
    Taken(String),
    /// A text that is empty or too long.
    #[error("the {what} has {found} characters; 1 to {most} are allowed")]
    Text {
        /// What it is.
        what: &'static str,
        /// Characters found.
        found: usize,
        /// Most characters.
        most: usize,
    },
    /// A key that leaves no room for the keys of its photos.
    #[error("the key `{id}` has {} characters, at most {most} are allowed for a fitting", .id.len())]
    LongKey {
        /// The key.
        id: String,
        /// Most characters.
        most: usize,
    },
    /// A place that looks like a blade's key and is none.
    #[error("`{0}` is no blade of this workshop, nor `storage`")]
    NoSuchPlace(String),
    /// It is there already.
    #[error("fitting `{id}` is {place} already, since {since}")]
    SamePlace {
        /// The fitting.
        id: String,
        /// Where it is, in words.
        place: String,
        /// The day it came there.
        since: String,
    },
    /// A move dated before the one before it.
    #[error("the move of fitting `{id}` is dated {found}, but it is {place} since {since}")]
    EarlierMove {
        /// The fitting.
        id: String,
        /// Day given.
        found: String,
        /// Where it is, in words.
        place: String,
        /// The day it came there.
        since: String,
    },
    /// The sheet of a blade has another fitting of this key.
    #[error("the sheet of `{blade}` has a fitting `{id}` that is not of the inventory")]
    InSheet {
        /// The blade.
        blade: String,
        /// The key.
        id: String,
    },
    /// The sheet of a blade has no fitting of this key.
    #[error(
        "the sheet of `{blade}` has no fitting `{id}`; it has {}",
        if known.is_empty() { "none".to_owned() } else { known.join(", ") }
    )]
    NotInSheet {
        /// The blade.
        blade: String,
        /// The key.
        id: String,
        /// Keys there are.
        known: Vec<String>,
    },
    /// How it belongs to a blade was said of a fitting that is with none.
    #[error("`{0}` says how a fitting belongs to a blade, and this one is with none")]
    WithNoBlade(&'static str),
    /// Not the two lengths of an opening.
    #[error("`{0}` is no opening; two lengths with their units are allowed, width x thickness")]
    Opening(String),
    /// Nothing was given to be noted.
    #[error("nothing to note of fitting `{0}` was given")]
    Nothing(String),
    /// A part that no measure decides on.
    #[error("whether a {part} fits is not told by a hole or an opening: this tool cannot judge it")]
    NotJudged {
        /// The part.
        part: String,
    },
    /// Nothing was measured on both sides.
    #[error("there is nothing to draw: {missing}")]
    NothingToDraw {
        /// What is missing.
        missing: String,
    },
    /// A limit outside of what can be meant.
    #[error("the limit `{name}` is {found} mm; {least} to {most} mm is allowed")]
    Limit {
        /// Name of the limit.
        name: &'static str,
        /// What was given.
        found: String,
        /// Least, mm.
        least: f64,
        /// Most, mm.
        most: f64,
    },
    /// It left the sheet of one blade and could not enter that of another.
    #[error("fitting `{id}` is in storage now: it could not go on to `{blade}`: {fault}")]
    LeftInStorage {
        /// The fitting.
        id: String,
        /// The blade it was to go to.
        blade: String,
        /// Why not.
        fault: String,
        /// What to do about that.
        hint: String,
    },
    /// The plugin that knows protected materials gave no answer.
    #[error("the plugin `materials` gave no answer on fitting `{id}`: {fault}")]
    NotScreened {
        /// The fitting.
        id: String,
        /// Why.
        fault: String,
    },
}

impl FittingError {
    /// Returns the exact next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Unknown(_) => "list them with `tangmark fitting list --all`; one that stands in a sheet only is taken over with \
                                 `tangmark fitting adopt BLADE ID`"
                .to_owned(),
            Self::Taken(id) => format!("take another key, or look at that one with `tangmark fitting show {id}`"),
            Self::Text { .. } => {
                "write it out, or say it shorter; `tangmark fitting describe ID --description` holds more".to_owned()
            }
            Self::LongKey { .. } => "take a shorter key: its photos are named after it".to_owned(),
            Self::NoSuchPlace(_) => "list the blades with `tangmark blade list`; a person or a place is written as a name with a \
                                     capital letter or a space, such as --to \"H. Marlow\""
                .to_owned(),
            Self::SamePlace { id, .. } => format!("see its moves with `tangmark fitting show {id}`"),
            Self::EarlierMove { id, .. } => format!(
                "give the day of this move with `--on`, or strike the wrong one out: `tangmark fitting show {id}` gives its number for \
                 `tangmark journal strike N --reason \"…\"`"
            ),
            Self::InSheet { blade, id } => format!(
                "take that one over with `tangmark fitting adopt {blade} {id}`, or take another key"
            ),
            Self::NotInSheet { blade, .. } => format!("see them with `tangmark fitting list --blade {blade}`"),
            Self::WithNoBlade(_) => "leave it out, or name the blade".to_owned(),
            Self::Opening(_) => "write it like --opening \"30.5 mm x 7.2 mm\": from the edge side to the back, then from face to face".to_owned(),
            Self::Nothing(id) => format!("see what can be noted with `tangmark fitting measure --help`; what is noted: `tangmark fitting show {id}`"),
            Self::NotJudged { .. } => "try it on by hand, and once it is with a blade note it: `tangmark fitting measure ID --tried-on DAY --matched fits_now`".to_owned(),
            Self::NothingToDraw { .. } => "measure what is missing with `tangmark fitting measure ID …`, or in the sheet of the blade".to_owned(),
            Self::Limit { .. } => "see the limits with `tangmark fitting limits`".to_owned(),
            Self::LeftInStorage {
                id, blade, hint, ..
            } => format!("{hint}; then `tangmark fitting move {id} --to {blade}`"),
            Self::NotScreened { .. } => "see with `tangmark plugin list` whether it is found and approved; approve the shipped ones with \
                                         `tangmark plugin approve --shipped`"
                .to_owned(),
        }
    }
}
