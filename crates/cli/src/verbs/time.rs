//! `tangmark time`.

mod authority;
mod post;

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use tangmark_workshop::Workshop;
use tangmark_workshop::time::{
    KeptTimestamp, Stamped, StampedReport, TimeRequest, TimestampOrder, report_request,
    stamp_report,
};
use tangmark_workshop::timestamp::{Authority, Evidence};

use crate::outcome::{Failure, Outcome, code, print, print_json};
use crate::show::{self, say};
use crate::surroundings;

/// Evidence from outside that a record or report existed not later than some time (RFC 3161)
///
/// A signature proves no time: what a record says of it is the issuer's own word. A time authority signs a digest together
/// with the time at which it saw it. `request` writes the question, `add` checks the answer and keeps it beside the record,
/// or inside a report. Nobody learns from a question what the record says: it holds a digest and a random number. Whether
/// an authority is to be trusted is for each reader to say; one that you run yourself proves nothing to others.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark time authority add harbour --certificate harbour.pem --url http://tsa.example/stamp
  tangmark time request reed --out reed.tsq       then carry reed.tsq to the authority
  tangmark time add reed reed.tsr --request reed.tsq
  tangmark time list reed
  tangmark time request --pdf reed-01.pdf --out reed-pdf.tsq
  tangmark time add --pdf reed-01.pdf reed-pdf.tsr --out reed-01-timed.pdf")]
pub(crate) struct Arguments {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Authority(authority::Arguments),
    /// Write a request for a timestamp over a record's name, or over the signature of a report
    #[command(after_help = "Examples:
  tangmark time request reed --out reed.tsq
  tangmark time request reed --record 1 --out reed.tsq
  tangmark time request --pdf reed-01.pdf --out reed-pdf.tsq      needs no workshop
  curl -H 'Content-Type: application/timestamp-query' --data-binary @reed.tsq -o reed.tsr http://tsa.example/stamp

Exit codes: 0 written, 1 not.")]
    Request {
        /// Key of the blade
        #[arg(required_unless_present = "pdf", conflicts_with = "pdf")]
        blade: Option<String>,
        /// Number of the record in the blade's chain [default: the newest]
        #[arg(long, value_name = "N", conflicts_with = "pdf", value_parser = clap::value_parser!(u32).range(1..))]
        record: Option<u32>,
        /// A signed report whose signature is to be stamped
        #[arg(long, value_name = "FILE")]
        pdf: Option<PathBuf>,
        /// File to write (`.tsq`); an existing one is not overwritten
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Check an authority's answer, and keep it beside the record it stamps or inside the report
    ///
    /// Everything is checked: that the record or report was stamped and nothing else, the signature, that the certificate is
    /// for timestamps alone and was valid. Inside a report the answer fills room that its signature leaves free: pages and
    /// signature stay byte for byte, the file becomes another one with its own SHA-256.
    #[command(after_help = "Examples:
  tangmark time add reed reed.tsr
  tangmark time add reed reed.tsr --record 1 --request reed.tsq
  tangmark time add --pdf reed-01.pdf reed-pdf.tsr --out reed-01-timed.pdf

Exit codes: 0 added, 1 refused.")]
    Add {
        /// Key of the blade, then the answer (`.tsr`); with --pdf the answer alone
        #[arg(required = true, num_args = 1..=2, value_names = ["BLADE", "ANSWER"])]
        words: Vec<PathBuf>,
        /// Number of the record that must be the stamped one [default: the one that is]
        #[arg(long, value_name = "N", conflicts_with = "pdf", value_parser = clap::value_parser!(u32).range(1..))]
        record: Option<u32>,
        /// The request that was answered: the answer must repeat its random number
        #[arg(long, value_name = "TSQ")]
        request: Option<PathBuf>,
        /// A signed report whose signature was stamped
        #[arg(long, value_name = "FILE", requires = "out")]
        pdf: Option<PathBuf>,
        /// File for the report with the answer inside; an existing one is not overwritten
        #[arg(long, value_name = "FILE", requires = "pdf")]
        out: Option<PathBuf>,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// Ask an authority over the network, and keep its answer beside the record
    ///
    /// The one command that speaks to a network, and only when you call it: it sends the request (a digest and a random
    /// number) to the address of that authority by HTTP, waits at most 30 seconds, and follows no redirection. The answer
    /// protects itself by its signature. An https address is not asked: the command that does it by hand is told instead.
    #[command(after_help = "Examples:
  tangmark time fetch reed --authority harbour
  tangmark time fetch reed --record 1 --authority harbour

Exit codes: 0 the timestamp is kept, 1 it is not.")]
    Fetch {
        /// Key of the blade
        blade: String,
        /// Number of the record in the blade's chain [default: the newest]
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
        record: Option<u32>,
        /// Name of the authority, as added
        #[arg(long, value_name = "NAME")]
        authority: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
    /// List the timestamps of a blade's records
    #[command(after_help = "Examples:
  tangmark time list reed
  tangmark time list reed --json

Exit codes: 0 all of them are sound, 1 one is not.")]
    List {
        /// Key of the blade
        blade: String,
        /// Print JSON
        #[arg(long)]
        json: bool,
    },
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    match &arguments.what {
        What::Authority(arguments) => authority::run(arguments, workshop),
        What::Request {
            blade,
            record,
            pdf,
            out,
            json,
        } => {
            let request = match (blade, pdf) {
                (_, Some(pdf)) => {
                    surroundings::with(|around| Ok(report_request(pdf, out, around.random)?))?
                }
                (Some(blade), None) => {
                    let workshop = surroundings::open(workshop)?;
                    surroundings::with(|around| {
                        Ok(workshop.time_request(blade, *record, out, around)?)
                    })?
                }
                (None, None) => return Err(no_blade()),
            };
            tell_request(&request, *json)
        }
        What::Add {
            words,
            record,
            request,
            pdf,
            out,
            json,
        } => match (pdf, out, words.as_slice()) {
            (Some(pdf), Some(out), [answer]) => {
                let own = own_workshop(workshop)?;
                let stamped = stamp_report(pdf, answer, request.as_deref(), out, own.as_ref())?;
                tell_report(&stamped, *json)
            }
            (None, None, [blade, answer]) => {
                let stamped = surroundings::open(workshop)?.add_timestamp(&TimestampOrder {
                    blade: &blade.to_string_lossy(),
                    answer,
                    record: *record,
                    request: request.as_deref(),
                })?;
                tell_stamped(&stamped, *json)
            }
            _ => Err(no_blade()),
        },
        What::Fetch {
            blade,
            record,
            authority,
            json,
        } => {
            let workshop = surroundings::open(workshop)?;
            let stamped = surroundings::with(|around| {
                Ok(workshop.fetch_timestamp(blade, *record, authority, around, &mut post::post)?)
            })?;
            tell_stamped(&stamped, *json)
        }
        What::List { blade, json } => {
            let kept = surroundings::open(workshop)?.timestamps(blade)?;
            tell_list(blade, &kept, *json)
        }
    }
}

fn no_blade() -> Failure {
    Failure::usage(
        "a blade and an answer, or a report with --pdf and an answer, are needed",
        "see `tangmark time add --help`",
    )
}

/// The workshop whose authorities are trusted; a report is stamped without one too.
fn own_workshop(asked: Option<&Path>) -> Result<Option<Workshop>, Failure> {
    match surroundings::find(asked) {
        None => Ok(None),
        Some(place) => match Workshop::open(&place.folder) {
            Ok(workshop) => Ok(Some(workshop)),
            Err(error) if place.asked => Err(error.into()),
            Err(error) => {
                say(&format!("note: your own workshop is left out: {error}"));
                Ok(None)
            }
        },
    }
}

fn tell_request(request: &TimeRequest, json: bool) -> Outcome {
    let file = show::plain(&request.file.display().to_string());
    if json {
        print_json(request)?;
    } else {
        let what = request.sequence.map_or_else(
            || "the report's signature".to_owned(),
            |number| format!("record {number}"),
        );
        print(&format!(
            "{file}: request to stamp {what}, {}\n",
            request.digest
        ))?;
    }
    say(&format!(
        "next step: carry it to a time authority, such as `curl -H 'Content-Type: application/timestamp-query' --data-binary @{file} -o ANSWER.tsr http://…`, then `tangmark time add`"
    ));
    Ok(code::GOOD)
}

fn tell_stamped(stamped: &Stamped, json: bool) -> Outcome {
    if json {
        print_json(stamped)?;
    } else {
        let state = if stamped.known {
            "kept already"
        } else {
            "kept"
        };
        print(&format!(
            "record {} of {} existed {}\n{state}\n",
            stamped.sequence,
            show::plain(&stamped.blade),
            says(&stamped.evidence)
        ))?;
    }
    for remark in &stamped.remarks {
        say(&format!("note: {}", show::plain(remark)));
    }
    advise(&stamped.evidence);
    Ok(code::GOOD)
}

fn tell_report(stamped: &StampedReport, json: bool) -> Outcome {
    if json {
        print_json(stamped)?;
    } else {
        print(&format!(
            "{}: the report existed {}\nSHA-256 {}\n",
            show::plain(&stamped.file.display().to_string()),
            says(&stamped.evidence),
            stamped.digest
        ))?;
    }
    advise(&stamped.evidence);
    Ok(code::GOOD)
}

fn tell_list(blade: &str, kept: &[KeptTimestamp], json: bool) -> Outcome {
    if json {
        print_json(&kept)?;
    } else if kept.is_empty() {
        say(&format!(
            "no timestamp of a record of {} is kept",
            show::plain(blade)
        ));
    } else {
        let row = |one: &KeptTimestamp| {
            let said = match (&one.evidence, &one.refused) {
                (Some(evidence), _) => says(evidence),
                (None, reason) => format!(
                    "refused: {}",
                    show::plain(reason.as_deref().unwrap_or("unreadable"))
                ),
            };
            vec![format!("record {}", one.sequence), said]
        };
        print(&show::table(&kept.iter().map(row).collect::<Vec<_>>()))?;
    }
    let sound = kept.iter().all(|one| one.evidence.is_some());
    Ok(if sound { code::GOOD } else { code::FAILED })
}

/// What a timestamp says, and whose word it is.
fn says(evidence: &Evidence) -> String {
    let who = match evidence.standing {
        Authority::Trusted => "an authority you trust",
        Authority::Workshop => "run by the workshop itself: its own word, no outside evidence",
        Authority::Unknown => "an authority unknown to you",
    };
    format!(
        "not later than {}, says {} ({who})",
        evidence.time,
        show::quoted(&evidence.authority)
    )
}

fn advise(evidence: &Evidence) {
    if evidence.standing == Authority::Unknown {
        say(
            "hint: add the authority's certificate, as the authority publishes it, with `tangmark time authority add NAME --certificate PEM`",
        );
    }
}
