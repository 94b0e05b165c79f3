//! `tangmark refer`.

mod told;

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};
use tangmark_workshop::record::{PartialDate, Verdict};
use tangmark_workshop::refer::{
    BackOrder, OnLoan, OpenReferral, PacketWish, ReceiptOrder, ReceiptSource, ReplyOrder,
    ReplySource, SentOrder, is_pem,
};
use tangmark_workshop::{Workshop, refer};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::papers::{Language, PaperName};
use crate::passphrase;
use crate::show::{self, say};
use crate::surroundings;
use crate::verbs::seal::words;
use crate::verbs::steps;
use crate::who::Who;

/// Refer a blade to a senior specialist: packet, way out and back, receipt, reply
///
/// A blade that is too important, or of which you are not sure, goes to somebody who knows more. `open` writes the referral
/// on the sheet, seals its record and makes the packet; `sent` notes that the blade left, `receipt` how the specialist
/// signed for it, `back` that it is here again, and `reply` what the specialist says. The reply is a record of its own: one
/// that says `work` lifts the stops of importance that it answers, and nothing else does but an override with name and
/// reason.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark refer open lantern --to \"S. Moor\" --question \"Should it be polished at all?\"
      --not-done \"No stone, no etch\" --packed \"blade in storage scabbard\" --return-by 2026-09-30
  tangmark refer sent lantern --carrier \"by hand\"
  tangmark refer receipt lantern --signed-with moor.pem --signature receipt.sig
  tangmark refer receipt lantern --paper \"S. Moor, 4 May 2026\" --scan receipt.jpg
  tangmark refer back lantern
  tangmark refer reply lantern --from \"S. Moor\" --verdict work --text \"Letter of 4 May: a light polish\"
      --answer triage/RULE --how \"Seen in hand: a light polish does no harm\"
  tangmark refer list

Exit codes: 0 done or listed; 1 it failed, and the error says what is done already; 4 the command line is not understood.")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    Open(Open),
    Packet(PacketArguments),
    Sent(Sent),
    Receipt(Receipt),
    Back(Back),
    Reply(Reply),
    List(List),
    Show(Show),
}

/// How the packet is made.
#[derive(Debug, Args)]
struct PacketOptions {
    /// Show a withheld value of the referral record, named by its place such as `referral.to.name`; `2:PLACE` means record 2
    /// (can be repeated)
    #[arg(long, value_name = "PLACE")]
    reveal: Vec<String>,
    /// Language of the packet
    #[arg(long, value_enum, default_value_t = Language::En)]
    language: Language,
    /// Paper of the report
    #[arg(long, value_enum, default_value_t = PaperName::A4)]
    paper: PaperName,
    /// Folder to make for the packet [default: a name in `out/` of the workshop]
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    memory: Option<PathBuf>,
}

impl PacketOptions {
    fn wish<'a>(&'a self, memory: Option<&'a Path>) -> PacketWish<'a> {
        PacketWish {
            reveal: &self.reveal,
            speech: self.language.into(),
            paper: self.paper.into(),
            out: self.out.as_deref(),
            memory,
        }
    }

    fn memory(&self) -> Option<PathBuf> {
        self.memory.clone().or_else(surroundings::data_folder)
    }
}

/// Open a referral: on the sheet, as a sealed record, as a packet to send along
///
/// Each step is told. Ended after any of them and run again with the same words, it goes on where it was.
#[derive(Debug, Args)]
struct Open {
    /// Key of the blade
    blade: String,
    /// Name of the specialist
    #[arg(long, value_name = "NAME")]
    to: String,
    /// A question (can be repeated)
    #[arg(long = "question", value_name = "TEXT", required = true)]
    questions: Vec<String>,
    /// What was not done, and why (can be repeated)
    #[arg(long = "not-done", value_name = "TEXT", required = true)]
    not_done: Vec<String>,
    /// What goes along (can be repeated)
    #[arg(long = "packed", value_name = "TEXT")]
    packed: Vec<String>,
    /// Conditions of return
    #[arg(long, value_name = "TEXT")]
    return_conditions: Option<String>,
    /// Day by which the blade is to be back
    #[arg(long, value_name = "DAY")]
    return_by: Option<PartialDate>,
    /// Why it is referred [default: the questions of the record]
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,
    #[command(flatten)]
    packet: PacketOptions,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

/// Make the packet of the open referral once more, in another place
#[derive(Debug, Args)]
struct PacketArguments {
    /// Key of the blade
    blade: String,
    #[command(flatten)]
    packet: PacketOptions,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Ground {
    /// Left in custody for a look or for work
    LeftForWork,
    /// Lent
    Lent,
}

/// Note that the blade left for the specialist: custody, stage
#[derive(Debug, Args)]
struct Sent {
    /// Key of the blade
    blade: String,
    /// On what ground it leaves
    #[arg(long = "as", value_enum, default_value_t = Ground::LeftForWork)]
    ground: Ground,
    /// Who carries it
    #[arg(long, value_name = "TEXT")]
    carrier: Option<String>,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Take the specialist's receipt: a receipt record, a signature with a key of their own, or paper
///
/// What can be checked is checked, and what was not checked is said. A signature is one of ECDSA P-256 over `files.txt` of
/// the packet. A receipt record that follows the newest record here goes into the chain once its key was compared with the
/// card of the specialist's workshop (`--fingerprint`).
#[derive(Debug, Args)]
struct Receipt {
    /// Key of the blade
    blade: String,
    /// A receipt record (JSON), or the signer's public key or certificate (PEM)
    #[arg(
        long,
        value_name = "FILE",
        required_unless_present = "paper",
        conflicts_with = "paper"
    )]
    signed_with: Option<PathBuf>,
    /// The signature over `files.txt`, with a key or certificate
    #[arg(long, value_name = "FILE", requires = "signed_with")]
    signature: Option<PathBuf>,
    /// Fingerprint from the card of the specialist's workshop, with a receipt record
    #[arg(
        long,
        value_name = "FINGERPRINT",
        requires = "signed_with",
        conflicts_with = "signature"
    )]
    fingerprint: Option<String>,
    /// Signed on paper: who, and when
    #[arg(long, value_name = "TEXT")]
    paper: Option<String>,
    /// A scan of the paper, to be kept
    #[arg(long, value_name = "FILE", requires = "paper")]
    scan: Option<PathBuf>,
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    memory: Option<PathBuf>,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Note that the blade came back from the specialist
#[derive(Debug, Args)]
struct Back {
    /// Key of the blade
    blade: String,
    /// In what state it came, where that differs from the record
    #[arg(long, value_name = "TEXT")]
    state: Option<String>,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum ReplyVerdict {
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
struct Reply {
    /// Key of the blade
    blade: String,
    /// From whom
    #[arg(long, value_name = "NAME", required_unless_present = "record")]
    from: Option<String>,
    /// What is to happen with the blade
    #[arg(long, value_enum, required_unless_present = "record")]
    verdict: Option<ReplyVerdict>,
    /// What the reply says
    #[arg(long, value_name = "TEXT", required_unless_present = "record")]
    text: Option<String>,
    /// A stop of importance that the reply answers, named as `tangmark check` names it (can be repeated, with the words each
    /// time)
    #[arg(long = "answer", value_name = "PLUGIN/RULE", requires_all = ["how", "text"])]
    answers: Vec<String>,
    /// What the reply says of that stop (can be repeated)
    #[arg(long, value_name = "TEXT", requires = "answers")]
    how: Vec<String>,
    /// The letter, to be kept
    #[arg(long, value_name = "FILE", requires = "text")]
    letter: Option<PathBuf>,
    /// Number of a received record that is the reply
    #[arg(
        long,
        value_name = "N",
        value_parser = clap::value_parser!(u32).range(1..),
        conflicts_with_all = ["from", "verdict", "text"]
    )]
    record: Option<u32>,
    #[command(flatten)]
    who: Who,
    /// Print JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    passphrase: passphrase::Source,
}

/// List the referrals that are open, what is due first at the top
#[derive(Debug, Args)]
struct List {
    /// Those that are closed too
    #[arg(long)]
    all: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// Show the referrals of a blade
#[derive(Debug, Args)]
struct Show {
    /// Key of the blade
    blade: String,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    match &arguments.verb {
        Verb::Open(arguments) => open(arguments, &workshop),
        Verb::Packet(arguments) => packet(arguments, &workshop),
        Verb::Sent(arguments) => sent(arguments, &workshop),
        Verb::Receipt(arguments) => receipt(arguments, &workshop),
        Verb::Back(arguments) => back(arguments, &workshop),
        Verb::Reply(arguments) => reply(arguments, &workshop),
        Verb::List(arguments) => list(arguments, &workshop),
        Verb::Show(arguments) => show(arguments, &workshop),
    }
}

fn all_words(option: &str, texts: &[String]) -> Result<Vec<String>, Failure> {
    texts.iter().map(|text| words(option, text)).collect()
}

fn some_words(option: &str, text: Option<&String>) -> Result<Option<String>, Failure> {
    text.map(|text| words(option, text)).transpose()
}

fn open(arguments: &Open, workshop: &Workshop) -> Outcome {
    let to = words("--to", &arguments.to)?;
    let questions = all_words("--question", &arguments.questions)?;
    let not_done = all_words("--not-done", &arguments.not_done)?;
    let packed = all_words("--packed", &arguments.packed)?;
    let conditions = some_words("--return-conditions", arguments.return_conditions.as_ref())?;
    let reason = some_words("--reason", arguments.reason.as_ref())?
        .unwrap_or_else(|| "Referred with the questions of this record".to_owned());
    let memory = arguments.packet.memory();
    surroundings::with(|around| {
        let passphrase = arguments.passphrase.existing()?;
        let opened = workshop.open_referral(
            &OpenReferral {
                blade: &arguments.blade,
                to: &to,
                questions: &questions,
                not_done: &not_done,
                packed: &packed,
                return_conditions: conditions.as_deref(),
                return_by: arguments.return_by.as_ref(),
                reason: &reason,
                packet: arguments.packet.wish(memory.as_deref()),
                passphrase: passphrase.as_bytes(),
                who: arguments.who.who(),
            },
            &mut |step| steps::tell(step),
            around,
        )?;
        if arguments.json {
            print_json(&told::OpenedAnswer::of(&opened))?;
        } else {
            steps::print_files(&opened.steps)?;
            if let Some(packet) = &opened.packet {
                told::packet(packet);
            }
            say(&format!(
                "next: when the blade leaves, `tangmark refer sent {}`",
                arguments.blade
            ));
        }
        Ok(code::GOOD)
    })
}

fn packet(arguments: &PacketArguments, workshop: &Workshop) -> Outcome {
    let memory = arguments.packet.memory();
    surroundings::with(|around| {
        let passphrase = arguments.passphrase.existing()?;
        let made = workshop.referral_packet(
            &arguments.blade,
            &arguments.packet.wish(memory.as_deref()),
            passphrase.as_bytes(),
            &arguments.who.who(),
            around,
        )?;
        if arguments.json {
            print_json(&made)?;
        } else {
            print(&format!("{}\n", made.folder.display()))?;
            told::packet(&made);
        }
        Ok(code::GOOD)
    })
}

fn sent(arguments: &Sent, workshop: &Workshop) -> Outcome {
    let carrier = some_words("--carrier", arguments.carrier.as_ref())?;
    surroundings::with(|around| {
        let moved = workshop.referral_sent(
            &SentOrder {
                blade: &arguments.blade,
                ground: match arguments.ground {
                    Ground::LeftForWork => OnLoan::ForWork,
                    Ground::Lent => OnLoan::Lent,
                },
                carrier: carrier.as_deref(),
                who: arguments.who.who(),
            },
            around,
        )?;
        if arguments.json {
            print_json(&moved)?;
        } else {
            told::moved(&moved, "left for");
            say(
                "caution: edge covered, dry and oiled, in a case that is longer; what may be carried or sent is decided by your local code and the carrier's own rules",
            );
            say(&format!(
                "next: when it is signed for, `tangmark refer receipt {}`",
                arguments.blade
            ));
        }
        Ok(code::GOOD)
    })
}

fn receipt(arguments: &Receipt, workshop: &Workshop) -> Outcome {
    let paper = some_words("--paper", arguments.paper.as_ref())?;
    let source = match (&arguments.signed_with, &paper) {
        (Some(file), _) if arguments.signature.is_some() || is_pem(file)? => {
            ReceiptSource::Signature {
                key: file,
                signature: arguments.signature.as_deref(),
            }
        }
        (Some(file), _) => ReceiptSource::Record {
            file,
            fingerprint: arguments.fingerprint.as_deref(),
        },
        (None, paper) => ReceiptSource::Paper {
            words: paper.as_deref().unwrap_or_default(),
            scan: arguments.scan.as_deref(),
        },
    };
    let memory = arguments.memory.clone().or_else(surroundings::data_folder);
    surroundings::with(|around| {
        let taken = workshop.take_receipt(
            &ReceiptOrder {
                blade: &arguments.blade,
                source,
                memory: memory.as_deref(),
                who: arguments.who.who(),
            },
            around,
        )?;
        if arguments.json {
            print_json(&taken)?;
        } else {
            told::receipt(&taken)?;
        }
        Ok(code::GOOD)
    })
}

fn back(arguments: &Back, workshop: &Workshop) -> Outcome {
    let state = some_words("--state", arguments.state.as_ref())?;
    surroundings::with(|around| {
        let moved = workshop.referral_back(
            &BackOrder {
                blade: &arguments.blade,
                state: state.as_deref(),
                who: arguments.who.who(),
            },
            around,
        )?;
        if arguments.json {
            print_json(&moved)?;
        } else {
            told::moved(&moved, "came back from");
            say(&format!(
                "next: compare it with the photographs, then `tangmark refer show {}`",
                arguments.blade
            ));
        }
        Ok(code::GOOD)
    })
}

fn reply(arguments: &Reply, workshop: &Workshop) -> Outcome {
    let (rules, hows) = (&arguments.answers, &arguments.how);
    if rules.len() != hows.len() {
        return Err(Failure::usage(
            format!(
                "{} --answer and {} --how found, as many of each are allowed",
                rules.len(),
                hows.len()
            ),
            "give the specialist's words with each answer",
        ));
    }
    let hows = all_words("--how", hows)?;
    let answers: Vec<(String, String)> = rules.iter().cloned().zip(hows).collect();
    let from = some_words("--from", arguments.from.as_ref())?.unwrap_or_default();
    let text = some_words("--text", arguments.text.as_ref())?.unwrap_or_default();
    let source = match (arguments.record, arguments.verdict) {
        (Some(number), _) => ReplySource::Sealed(number),
        (None, verdict) => ReplySource::Told {
            from: &from,
            verdict: verdict.map_or(Verdict::Refer, Verdict::from),
            text: &text,
            answers: &answers,
            letter: arguments.letter.as_deref(),
        },
    };
    surroundings::with(|around| {
        let passphrase = match source {
            ReplySource::Sealed(_) => zeroize::Zeroizing::default(),
            ReplySource::Told { .. } => arguments.passphrase.existing()?,
        };
        let replied = workshop.referral_reply(
            &ReplyOrder {
                blade: &arguments.blade,
                source,
                passphrase: passphrase.as_bytes(),
                who: arguments.who.who(),
            },
            &mut |step| steps::tell(step),
            around,
        )?;
        if arguments.json {
            print_json(&replied)?;
        } else {
            steps::print_files(&replied.steps)?;
            told::reply(&replied);
        }
        Ok(code::GOOD)
    })
}

fn list(arguments: &List, workshop: &Workshop) -> Outcome {
    let now = surroundings::now()?;
    let cases = workshop.referrals(arguments.all, refer::day_of(&now))?;
    if arguments.json {
        print_json(&cases)?;
        return Ok(code::GOOD);
    }
    if cases.is_empty() {
        say("no referral is open");
        return Ok(code::GOOD);
    }
    print(&told::table(&cases))?;
    Ok(code::GOOD)
}

fn show(arguments: &Show, workshop: &Workshop) -> Outcome {
    let now = surroundings::now()?;
    let cases = workshop.referrals_of(&arguments.blade, refer::day_of(&now))?;
    if arguments.json {
        print_json(&cases)?;
        return Ok(code::GOOD);
    }
    if cases.is_empty() {
        say(&format!(
            "blade {} was not referred; open a referral with `tangmark refer open {}`",
            show::plain(&arguments.blade),
            show::plain(&arguments.blade)
        ));
        return Ok(code::GOOD);
    }
    for case in &cases {
        print(&told::case(case))?;
    }
    Ok(code::GOOD)
}
