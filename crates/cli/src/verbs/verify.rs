//! `tangmark verify`.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use tangmark_workshop::Workshop;
use tangmark_workshop::rerender::Pages;
use tangmark_workshop::time::RefusedTimestamp;
use tangmark_workshop::verdict::{FileKind, SignerLine, Verdict};
use tangmark_workshop::verify::{Verified, Verify, verify};

use crate::outcome::{Failure, Outcome, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;
use crate::verbs::verify_package::{self, Given, Other};

/// Exit code where bytes or signer cannot be judged, or a thing asked for is missing. Failures take it too: 1 would
/// say that the file was altered.
const CANNOT_JUDGE: u8 = 3;
/// Most notices printed; more are counted.
const MOST_NOTICES: usize = 20;

/// Judge a sealed record, a report or a hand-over package: bytes, signer, time, completeness, pages
///
/// Needs no workshop and asks no network. The lines are separate answers; none of them says anything about the steel. The
/// pages of a report, also of one in a package, are drawn again from the record in it and compared byte for byte; pictures
/// that no record names are counted. A key that is new to you is remembered with the name it gave: the next file of the same key and name is then
/// known, another key under that name is told. That says no more than that it is the same key: whose it is only the
/// fingerprint on the workshop's card can tell. What is remembered is never replaced.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark verify reed-01-before_work.json
  tangmark verify reed-02-after_work.pdf --with reed-01-before_work.json
  tangmark verify reed-03-care.json --keys key-history.json
  tangmark verify reed-01-before_work.json --fingerprint ABCDE-FGHIJ-KLMNO-PQRST
  tangmark verify reed-handover.zip --fingerprint ABCDE-FGHIJ-KLMNO-PQRST
  tangmark verify reed-01-before_work.json --timestamp reed-01.tsr --authority harbour.pem
  tangmark verify reed-02-after_work.pdf --no-remember   write nothing
  tangmark verify reed-02-after_work.pdf --json

Exit codes:
  0  the bytes are intact, or the same content is written anew, and you know the signer (your own key, one you
     remember, or its successor)
  1  altered, the record has other pages, a key history rejects the signer, or a timestamp does not fit; this
     outranks all others
  2  intact, but the signer is new to you (remembered from now on), not the one you remember, or to be confirmed
  3  bytes or signer cannot be judged, or something asked for is missing
  4  the command line is not understood")]
pub(crate) struct Arguments {
    /// The record (.json), the report (.pdf), the hand-over package (folder or .zip), or a verifier page (.html)
    file: PathBuf,
    /// Another record of the same blade, to judge completeness (can be repeated)
    #[arg(long, value_name = "FILE")]
    with: Vec<PathBuf>,
    /// A key history that came with it: which keys the workshop signed with, and from when to when (can be repeated)
    ///
    /// A key that you know is followed to the one that sealed the file; a key that was revoked is told. The history of
    /// your own workshop, and those you were given before, are always used.
    #[arg(long, value_name = "FILE")]
    keys: Vec<PathBuf>,
    /// A time authority's answer over this record or the report's signature (can be repeated)
    ///
    /// It says that the file existed not later than a time. A report may carry one inside, which is judged without this.
    #[arg(long, value_name = "TSR")]
    timestamp: Vec<PathBuf>,
    /// Certificates of a time authority that you trust, PEM (can be repeated)
    ///
    /// Take them from the authority, not from whoever handed you the file. Without any an authority is unknown: it may
    /// be run by the workshop itself. The authorities of your own workshop are always used.
    #[arg(long, value_name = "PEM")]
    authority: Vec<PathBuf>,
    /// The fingerprint on the workshop's card: you know that key from then on
    ///
    /// It must be the signer's (of a package: the newest record's), or that of another key in the signer's key history; from
    /// that one the history is followed.
    /// The key is remembered as one that was compared, which `tangmark handover receive` asks for.
    #[arg(long, value_name = "FINGERPRINT")]
    fingerprint: Option<String>,
    /// Folder of the keys you remember [default: your own data folder]
    #[arg(long, value_name = "DIR")]
    memory: Option<PathBuf>,
    /// Write nothing: a key that is new to you stays so
    #[arg(long)]
    no_remember: bool,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

/// The answer as JSON.
#[derive(Serialize)]
struct Answer<'a> {
    /// As it can be shown: not every name of a file is text.
    file: String,
    exit_code: u8,
    #[serde(flatten)]
    verdict: &'a Verdict,
    pages: Option<&'a Pages>,
    refused_timestamps: &'a [RefusedTimestamp],
    remembered: bool,
    next_steps: &'a [String],
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    judge(arguments, workshop).map_err(|failure| failure.with_code(CANNOT_JUDGE))
}

fn judge(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let other = verify_package::kind(&arguments.file);
    if let Some(Other::Page(bytes)) = &other {
        return verify_package::page(&arguments.file, bytes, arguments.json);
    }
    let own = own_workshop(workshop)?;
    let memory = arguments.memory.clone().or_else(surroundings::data_folder);
    if let Some(Other::Package) = other {
        for (given, name) in [
            (!arguments.timestamp.is_empty(), "--timestamp"),
            (!arguments.with.is_empty(), "--with"),
        ] {
            if given {
                return Err(Failure::new(
                    format!(
                        "`{name}` is for a record or a report, this is a hand-over package and has its own"
                    ),
                    format!("verify a record of it, in `data/records/`, with `{name}`"),
                ));
            }
        }
        return verify_package::package(&Given {
            file: &arguments.file,
            keys: &arguments.keys,
            authorities: &arguments.authority,
            fingerprint: arguments.fingerprint.as_deref(),
            memory: memory.as_deref(),
            workshop: own.as_ref(),
            remember: !arguments.no_remember,
            json: arguments.json,
        });
    }
    let verified = verify(&Verify {
        file: &arguments.file,
        others: &arguments.with,
        keys: &arguments.keys,
        fingerprint: arguments.fingerprint.as_deref(),
        timestamps: &arguments.timestamp,
        authorities: &arguments.authority,
        memory: memory.as_deref(),
        workshop: own.as_ref(),
        remember: !arguments.no_remember,
        now: &surroundings::now()?,
    })?;
    let verdict = &verified.judged.verdict;
    let new = verdict.exit_code() == 2 && matches!(verdict.signer, SignerLine::New { .. });
    if new && memory.is_none() && !arguments.no_remember {
        say(
            "note: the key is not remembered: neither $XDG_DATA_HOME nor $HOME is set; name a folder with `--memory DIR`",
        );
    }
    if let Some(fault) = &verified.not_remembered {
        let step = fault
            .hint()
            .map_or_else(String::new, |hint| format!("; {hint}"));
        say(&show::plain(&format!(
            "note: the key is not remembered: {fault}{step}"
        )));
    }
    let steps = next_steps(&verified);
    let refused = &verified.refused_timestamps;
    let judged = verdict.exit_code();
    let judged = verified
        .pages
        .as_ref()
        .map_or(judged, |pages| pages.exit_code(judged));
    let exit_code = if refused.is_empty() { judged } else { 1 };
    for one in refused {
        say(&show::plain(&format!(
            "refused: {}: {}",
            one.file, one.reason
        )));
        say(&format!("hint: {}", one.hint));
    }
    if arguments.json {
        let remembered = verified.remembered;
        print_json(&Answer {
            file: arguments.file.display().to_string(),
            exit_code,
            verdict,
            pages: verified.pages.as_ref(),
            refused_timestamps: refused,
            remembered,
            next_steps: &steps,
        })?;
    } else {
        print(&text(&arguments.file, &verified, &steps))?;
    }
    Ok(exit_code)
}

/// Opens the reader's own workshop, whose keys are known. One that was not asked for by name is optional.
fn own_workshop(asked: Option<&Path>) -> Result<Option<Workshop>, Failure> {
    let Some(place) = surroundings::find(asked) else {
        return Ok(None);
    };
    match Workshop::open(&place.folder) {
        Ok(workshop) => Ok(Some(workshop)),
        Err(error) if place.asked => Err(error.into()),
        Err(error) => {
            say(&format!("note: your own workshop is left out: {error}"));
            Ok(None)
        }
    }
}

fn text(file: &Path, verified: &Verified, steps: &[String]) -> String {
    let verdict = &verified.judged.verdict;
    let kind = match verdict.kind {
        FileKind::Record => "sealed record",
        FileKind::Pdf => "PDF report",
        FileKind::Unknown => "neither a record nor a report",
    };
    let mut text = format!("{}: {kind}\n", show::plain(&file.display().to_string()));
    for notice in verdict.notices.iter().take(MOST_NOTICES) {
        add!(text, "notice: {}\n", show::plain(notice));
    }
    if verdict.notices.len() > MOST_NOTICES {
        add!(
            text,
            "notice: {} more; see `--json`\n",
            verdict.notices.len() - MOST_NOTICES
        );
    }
    text.push('\n');
    let lines = [
        ("bytes", verdict.bytes.to_string()),
        ("signer", verdict.signer.to_string()),
        ("time", verdict.time.to_string()),
        ("completeness", verdict.completeness.to_string()),
    ];
    let mut rows: Vec<Vec<String>> = lines
        .into_iter()
        .map(|(name, line)| vec![format!("{name}:"), show::plain(&line)])
        .collect();
    rows.extend(
        verdict
            .completeness
            .ignored
            .iter()
            .map(|line| vec![String::new(), format!("left out: {}", show::plain(line))]),
    );
    if let Some(pages) = &verified.pages {
        rows.push(vec!["pages:".to_owned(), show::plain(&pages.to_string())]);
    }
    text.push_str(&show::table(&rows));
    let mut facts = Vec::new();
    if let Some(issuer) = &verdict.issuer {
        facts.push(vec![
            "calls itself:".to_owned(),
            format!("`{}`", show::cut(issuer, 120)),
        ]);
    }
    if let Some(fingerprint) = &verdict.fingerprint {
        facts.push(vec!["fingerprint:".to_owned(), fingerprint.clone()]);
    }
    if let Some(record) = &verdict.record {
        facts.push(vec!["record:".to_owned(), record.to_string()]);
    }
    if !facts.is_empty() {
        text.push('\n');
        text.push_str(&show::table(&facts));
    }
    text.push('\n');
    for step in steps {
        add!(text, "next step: {}\n", show::plain(step));
    }
    text
}

/// What the reader does next, a line for each thing that is open.
fn next_steps(verified: &Verified) -> Vec<String> {
    let verdict = &verified.judged.verdict;
    if verified.is_key_history {
        return vec![
            "this is a key history, which says what keys a workshop signed with: give it beside a record, a report or a package of that workshop, with `--keys FILE`"
                .to_owned(),
        ];
    }
    let mut steps = verdict.next_steps();
    if verified.remembered && matches!(verdict.signer, SignerLine::New { .. }) {
        // Right after the step that belongs to the signer.
        let place = usize::from(verdict.bytes.next_step().is_some()) + 1;
        steps.insert(
            place.min(steps.len()),
            format!(
                "`{}` is remembered with this key from now on: a later file of it is known as the same, which does not tell whose key it is",
                show::cut(verdict.issuer.as_deref().unwrap_or_default(), 120)
            ),
        );
    }
    if let Some(step) = verified.pages.as_ref().and_then(Pages::next_step) {
        steps.insert(0, step.to_owned());
    }
    steps
}
