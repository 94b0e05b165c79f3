//! `tangmark refer`.

mod given;
mod told;

use std::path::Path;

use clap::{Args, Subcommand};
use tangmark_workshop::record::Verdict;
use tangmark_workshop::refer::{
    BackOrder, OnLoan, OpenReferral, ReceiptOrder, ReceiptSource, ReplyOrder, ReplySource,
    SentOrder, is_pem,
};
use tangmark_workshop::{Workshop, refer};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;
use crate::verbs::seal::words;
use crate::verbs::steps;

use given::{Back, Ground, List, Open, PacketArguments, Receipt, Reply, Sent, Show};

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
  tangmark refer reply lantern --from \"S. Moor\" --verdict work
      --text \"Letter of 4 May: a light polish\"
      --answer triage/RULE --how \"Seen in hand: a light polish does no harm\"
  tangmark refer list

Exit codes: 0 done or listed; 1 it failed, and the error says what is done already; 4 the command
line is not understood.")]
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
        let passphrase = arguments.packet.passphrase.existing()?;
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
                who: arguments.packet.entry.who.who(),
            },
            &mut steps::tell,
            around,
        )?;
        if arguments.packet.entry.json {
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
        let passphrase = arguments.packet.passphrase.existing()?;
        let made = workshop.referral_packet(
            &arguments.blade,
            &arguments.packet.wish(memory.as_deref()),
            passphrase.as_bytes(),
            &arguments.packet.entry.who.who(),
            around,
        )?;
        if arguments.packet.entry.json {
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
                who: arguments.entry.who.who(),
            },
            around,
        )?;
        if arguments.entry.json {
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
                who: arguments.entry.who.who(),
            },
            around,
        )?;
        if arguments.entry.json {
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
                who: arguments.entry.who.who(),
            },
            around,
        )?;
        if arguments.entry.json {
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
    let unsent = some_words("--unsent", arguments.unsent.as_ref())?;
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
                unsent: unsent.as_deref(),
                passphrase: passphrase.as_bytes(),
                who: arguments.entry.who.who(),
            },
            &mut steps::tell,
            around,
        )?;
        if arguments.entry.json {
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
