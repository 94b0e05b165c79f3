//! What the verbs of `tangmark refer` take.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use tangmark_workshop::record::{PartialDate, Verdict};
use tangmark_workshop::refer::PacketWish;

use crate::papers::{Language, PaperName};
use crate::passphrase;
use crate::surroundings;
use crate::who::Entry;

/// How the packet is made, and by whom.
#[derive(Debug, Args)]
pub(super) struct PacketOptions {
    /// Show a withheld value of the referral record, named by its place such as `referral.to.name`; `2:PLACE` means record 2
    /// (can be repeated)
    #[arg(long, value_name = "PLACE")]
    pub(super) reveal: Vec<String>,
    /// Language of the packet
    #[arg(long, value_enum, default_value_t = Language::En)]
    pub(super) language: Language,
    /// Paper of the report
    #[arg(long, value_enum, default_value_t = PaperName::A4)]
    pub(super) paper: PaperName,
    /// Folder to make for the packet [default: a name in `out/` of the workshop]
    #[arg(long, value_name = "DIR")]
    pub(super) out: Option<PathBuf>,
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    pub(super) memory: Option<PathBuf>,
    #[command(flatten)]
    pub(super) entry: Entry,
    #[command(flatten)]
    pub(super) passphrase: passphrase::Source,
}

impl PacketOptions {
    pub(super) fn wish<'a>(&'a self, memory: Option<&'a Path>) -> PacketWish<'a> {
        PacketWish {
            reveal: &self.reveal,
            speech: self.language.into(),
            paper: self.paper.into(),
            out: self.out.as_deref(),
            memory,
        }
    }

    pub(super) fn memory(&self) -> Option<PathBuf> {
        self.memory.clone().or_else(surroundings::data_folder)
    }
}

/// Open a referral: on the sheet, as a sealed record, as a packet to send along
///
/// Each step is told. Ended after any of them and run again with the same words, it goes on where it was.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer open lantern --to \"S. Moor\" --question \"Should it be polished at all?\"
      --not-done \"No stone, no etch\" --packed \"blade in storage scabbard\" --return-by 2026-09-30")]
pub(super) struct Open {
    /// Key of the blade
    pub(super) blade: String,
    /// Name of the specialist
    #[arg(long, value_name = "NAME")]
    pub(super) to: String,
    /// A question (can be repeated)
    #[arg(long = "question", value_name = "TEXT", required = true)]
    pub(super) questions: Vec<String>,
    /// What was not done, and why (can be repeated)
    #[arg(long = "not-done", value_name = "TEXT", required = true)]
    pub(super) not_done: Vec<String>,
    /// What goes along (can be repeated)
    #[arg(long = "packed", value_name = "TEXT")]
    pub(super) packed: Vec<String>,
    /// Conditions of return
    #[arg(long, value_name = "TEXT")]
    pub(super) return_conditions: Option<String>,
    /// Day by which the blade is to be back
    #[arg(long, value_name = "DAY")]
    pub(super) return_by: Option<PartialDate>,
    /// Why it is referred [default: the questions of the record]
    #[arg(long, value_name = "TEXT")]
    pub(super) reason: Option<String>,
    #[command(flatten)]
    pub(super) packet: PacketOptions,
}

/// Make the packet of the open referral once more, in another place
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer packet lantern --out lantern-packet
  tangmark refer packet lantern --language both --paper letter")]
pub(super) struct PacketArguments {
    /// Key of the blade
    pub(super) blade: String,
    #[command(flatten)]
    pub(super) packet: PacketOptions,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum Ground {
    /// Left in custody for a look or for work
    LeftForWork,
    /// Lent
    Lent,
}

/// Note that the blade left for the specialist: custody, stage
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer sent lantern --carrier \"by hand\"
  tangmark refer sent lantern --as lent --on 2026-05-02")]
pub(super) struct Sent {
    /// Key of the blade
    pub(super) blade: String,
    /// On what ground it leaves
    #[arg(long = "as", value_enum, default_value_t = Ground::LeftForWork)]
    pub(super) ground: Ground,
    /// Who carries it, such as "by hand"; stands in the next record, where anyone reads it
    #[arg(long, value_name = "TEXT")]
    pub(super) carrier: Option<String>,
    #[command(flatten)]
    pub(super) entry: Entry,
}

/// Take the specialist's receipt: a receipt record, a signature with a key of their own, or paper
///
/// What can be checked is checked, and what was not checked is said. A signature is one of ECDSA P-256 over `files.txt` of
/// the packet. A receipt record that follows the newest record here goes into the chain once its key was compared with the
/// card of the specialist's workshop (`--fingerprint`).
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer receipt lantern --signed-with receipt.json --fingerprint ABCDE-FGHIJ-KLMNO-PQRST
  tangmark refer receipt lantern --signed-with moor.pem --signature receipt.sig
  tangmark refer receipt lantern --paper \"S. Moor, 4 May 2026\" --scan receipt.jpg")]
pub(super) struct Receipt {
    /// Key of the blade
    pub(super) blade: String,
    /// A receipt record (JSON), or the signer's public key or certificate (PEM)
    #[arg(
        long,
        value_name = "FILE",
        required_unless_present = "paper",
        conflicts_with = "paper"
    )]
    pub(super) signed_with: Option<PathBuf>,
    /// The signature over `files.txt`, with a key or certificate
    #[arg(long, value_name = "FILE", requires = "signed_with")]
    pub(super) signature: Option<PathBuf>,
    /// Fingerprint from the card of the specialist's workshop, with a receipt record
    #[arg(
        long,
        value_name = "FINGERPRINT",
        requires = "signed_with",
        conflicts_with = "signature"
    )]
    pub(super) fingerprint: Option<String>,
    /// Signed on paper: who, and when
    #[arg(long, value_name = "TEXT")]
    pub(super) paper: Option<String>,
    /// A scan of the paper, to be kept: PDF, JPEG, PNG or TIFF
    #[arg(long, value_name = "FILE", requires = "paper")]
    pub(super) scan: Option<PathBuf>,
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    pub(super) memory: Option<PathBuf>,
    #[command(flatten)]
    pub(super) entry: Entry,
}

/// Note that the blade came back from the specialist
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer back lantern
  tangmark refer back lantern --state \"a new scratch beside the ridge\" --on 2026-06-01")]
pub(super) struct Back {
    /// Key of the blade
    pub(super) blade: String,
    /// In what state it came, where that differs from the record
    #[arg(long, value_name = "TEXT")]
    pub(super) state: Option<String>,
    #[command(flatten)]
    pub(super) entry: Entry,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub(super) enum ReplyVerdict {
    /// It may be worked as the reply says
    Work,
    /// It is set aside
    #[value(alias = "set_aside")]
    SetAside,
    /// The specialist keeps it, or refers it on
    Keep,
}

impl From<ReplyVerdict> for Verdict {
    fn from(verdict: ReplyVerdict) -> Self {
        match verdict {
            ReplyVerdict::Work => Self::Work,
            ReplyVerdict::SetAside => Self::SetAside,
            ReplyVerdict::Keep => Self::Refer,
        }
    }
}

/// Enter the specialist's reply: sealed as a record of its own, and followed
///
/// A reply that the specialist sealed and handed over is received first (`tangmark handover receive`) and named here by its
/// number with `--record`. The referral then comes off the sheet: its sealed record holds it.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer reply lantern --from \"S. Moor\" --verdict work
      --text \"Letter of 4 May: a light polish\"
      --answer triage/RULE --how \"Seen in hand: a light polish does no harm\"
  tangmark refer reply lantern --record 3")]
pub(super) struct Reply {
    /// Key of the blade
    pub(super) blade: String,
    /// From whom
    #[arg(long, value_name = "NAME", required_unless_present = "record")]
    pub(super) from: Option<String>,
    /// What is to happen with the blade
    #[arg(long, value_enum, required_unless_present = "record")]
    pub(super) verdict: Option<ReplyVerdict>,
    /// What the reply says
    #[arg(long, value_name = "TEXT", required_unless_present = "record")]
    pub(super) text: Option<String>,
    /// A stop of importance that the reply answers, named as `tangmark check` names it (can be repeated, with the words each
    /// time)
    #[arg(long = "answer", value_name = "PLUGIN/RULE", requires_all = ["how", "text"])]
    pub(super) answers: Vec<String>,
    /// What the reply says of that stop (can be repeated)
    #[arg(long, value_name = "TEXT", requires = "answers")]
    pub(super) how: Vec<String>,
    /// The letter, to be kept
    #[arg(long, value_name = "FILE", requires = "text")]
    pub(super) letter: Option<PathBuf>,
    /// On what the reply rests where the blade was not sent, such as photographs
    #[arg(long, value_name = "WHY")]
    pub(super) unsent: Option<String>,
    /// Number of a received record that is the reply
    #[arg(
        long,
        value_name = "N",
        value_parser = clap::value_parser!(u32).range(1..),
        conflicts_with_all = ["from", "verdict", "text"]
    )]
    pub(super) record: Option<u32>,
    #[command(flatten)]
    pub(super) entry: Entry,
    #[command(flatten)]
    pub(super) passphrase: passphrase::Source,
}

/// List the referrals that are open, what is due first at the top
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer list
  tangmark refer list --all --json")]
pub(super) struct List {
    /// Those that are closed too
    #[arg(long)]
    pub(super) all: bool,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Show the referrals of a blade
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer show lantern")]
pub(super) struct Show {
    /// Key of the blade
    pub(super) blade: String,
    /// Print JSON
    #[arg(long)]
    pub(super) json: bool,
}
