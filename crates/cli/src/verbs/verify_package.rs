//! `tangmark verify` of a hand-over package, and of a verifier page.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

use serde::Serialize;
use tangmark_workshop::Workshop;
use tangmark_workshop::receive::page::{self, Known};
use tangmark_workshop::receive::verdict::{AidState, PackageVerdict, PhotoState, Refused};
use tangmark_workshop::receive::{
    OtherSigner, Progress, VerifiedPackage, VerifyPackage, verify_package,
};
use tangmark_workshop::rerender::Pages;

use crate::outcome::{Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;

/// Longest page that is looked at, in bytes.
const LONGEST_PAGE: u64 = 16 << 20;
/// Most lines of one kind; more are counted.
const MOST: usize = 40;

/// What a file is, beside a record or report.
pub(super) enum Other {
    /// A folder or a zip file.
    Package,
    /// An HTML page.
    Page(Vec<u8>),
}

/// Tells a package or page by its first bytes; a file that cannot be read is none, and is told elsewhere.
pub(super) fn kind(path: &Path) -> Option<Other> {
    if path.is_dir() {
        return Some(Other::Package);
    }
    if !path.is_file() {
        return None;
    }
    let mut bytes = Vec::new();
    let mut file = File::open(path).ok()?;
    file.by_ref().take(16).read_to_end(&mut bytes).ok()?;
    if bytes.starts_with(b"PK") {
        return Some(Other::Package);
    }
    if bytes.to_ascii_lowercase().starts_with(b"<!doctype html") {
        file.take(LONGEST_PAGE).read_to_end(&mut bytes).ok()?;
        return Some(Other::Page(bytes));
    }
    None
}

/// What `tangmark verify` was given beside the file.
pub(super) struct Given<'a> {
    pub(super) file: &'a Path,
    pub(super) keys: &'a [PathBuf],
    pub(super) authorities: &'a [PathBuf],
    pub(super) fingerprint: Option<&'a str>,
    pub(super) memory: Option<&'a Path>,
    pub(super) workshop: Option<&'a Workshop>,
    pub(super) remember: bool,
    pub(super) json: bool,
}

/// The answer as JSON.
#[derive(Serialize)]
struct Answer<'a> {
    /// As it can be shown: not every name of a file is text.
    file: String,
    #[serde(flatten)]
    verdict: &'a PackageVerdict,
    pages: &'a BTreeMap<String, Pages>,
    signers: &'a [OtherSigner],
    remembered: bool,
    next_steps: &'a [String],
}

/// Judges a package.
pub(super) fn package(given: &Given<'_>) -> Outcome {
    let told = Mutex::new(show::progress("megabytes read"));
    let watch = |at: Progress| {
        // Two threads that tell at once: one is enough.
        if let Ok(mut told) = told.try_lock() {
            told(at.done >> 20, at.all >> 20);
        }
    };
    let order = VerifyPackage {
        package: given.file,
        keys: given.keys,
        authorities: given.authorities,
        fingerprint: given.fingerprint,
        memory: given.memory,
        workshop: given.workshop,
        now: &surroundings::now()?,
    };
    let verified = verify_package(&order, &watch)?;
    let mut remembered = false;
    if let (Some(folder), true) = (given.memory, given.remember) {
        match verified.remember(folder) {
            Ok(new) => remembered = new,
            // The verdict stands all the same.
            Err(fault) => {
                let step = fault
                    .hint()
                    .map_or_else(String::new, |hint| format!("; {hint}"));
                say(&show::plain(&format!(
                    "note: the key is not remembered: {fault}{step}"
                )));
            }
        }
    }
    let verdict = &verified.verdict;
    if given.json {
        print_json(&Answer {
            file: given.file.display().to_string(),
            verdict,
            pages: &verified.pages,
            signers: &verified.signers,
            remembered,
            next_steps: &verified.next_steps(),
        })?;
    } else if let Some(refused) = &verdict.refused {
        print(&refused_text(given.file, refused))?;
        say(&format!("hint: {}", refused.hint));
    } else {
        print(&text(given.file, &verified))?;
    }
    Ok(verdict.exit)
}

fn refused_text(file: &Path, refused: &Refused) -> String {
    format!(
        "{}: hand-over package, refused whole\n\n{}\n",
        show::plain(&file.display().to_string()),
        show::plain(&refused.what)
    )
}

/// The word of a state, as the package page has it.
fn word(state: &impl Serialize) -> String {
    match serde_json::to_value(state) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

fn text(file: &Path, verified: &VerifiedPackage) -> String {
    let VerifiedPackage {
        verdict,
        pages,
        signers,
        ..
    } = verified;
    let mut text = format!(
        "{}: hand-over package\n",
        show::plain(&file.display().to_string())
    );
    for file in &verdict.withdrawals {
        add!(text, "notice: {file} withdraws another record\n");
    }
    if let Some(subject) = &verdict.subject {
        let line = &subject.verdict;
        for notice in line.notices.iter().take(MOST) {
            add!(text, "notice: {}\n", show::plain(notice));
        }
        add!(text, "\nthe newest record, {}:\n", subject.file);
        let rows = [
            ("bytes:", line.bytes.to_string()),
            ("signer:", line.signer.to_string()),
            ("time:", line.time.to_string()),
            ("completeness:", line.completeness.to_string()),
        ];
        text.push_str(&table(rows));
        if let Some(fingerprint) = &line.fingerprint {
            add!(text, "\nfingerprint:  {fingerprint}\n");
        }
    } else {
        text.push_str("\nthere is no record to speak of\n");
    }
    parts(verdict, pages, &mut text);
    others(signers, &mut text);
    beside(verdict, &mut text);
    add!(
        text,
        "\nexit code {}: {}\n",
        verdict.exit,
        match verdict.exit {
            0 => "nothing is rejected, and you know the signer of the newest record",
            1 => "something is rejected",
            2 => "nothing is rejected, something is to be confirmed by you",
            _ => "something cannot be checked",
        }
    );
    for step in verified.next_steps() {
        add!(text, "next step: {}\n", show::plain(&step));
    }
    text.push_str(
        "next step: hold the blade against what the records say of it; a signature says nothing about the steel\n",
    );
    text
}

fn table<const N: usize>(rows: [(&str, String); N]) -> String {
    let rows: Vec<Vec<String>> = rows
        .into_iter()
        .map(|(name, line)| vec![name.to_owned(), show::plain(&line)])
        .collect();
    show::table(&rows)
}

/// A line of a part: file, state, what else is to be said.
type Line = (String, String, Option<String>);

fn list(title: &str, lines: Vec<Line>, text: &mut String) {
    if lines.is_empty() {
        return;
    }
    add!(text, "\n{title}:\n");
    let more = lines.len().saturating_sub(MOST);
    let rows: Vec<Vec<String>> = lines
        .into_iter()
        .take(MOST)
        .map(|(file, state, said)| {
            let said = said.map(|said| show::plain(&said)).unwrap_or_default();
            let name = file.strip_prefix("data/").unwrap_or(&file).to_owned();
            vec![format!("  {name}"), state, said]
        })
        .collect();
    text.push_str(&show::table(&rows));
    if more > 0 {
        add!(text, "  and {more} more; see `--json`\n");
    }
}

fn parts(verdict: &PackageVerdict, pages: &BTreeMap<String, Pages>, text: &mut String) {
    let records = verdict.records.iter().map(|(file, one)| {
        let mut state = word(&one.state);
        if let Some(standing) = one.standing {
            add!(state, ", {}", word(&standing));
        }
        let said = one.reasons.first().cloned().or_else(|| {
            let issuer = show::cut(one.issuer.as_deref()?, 120);
            Some(format!("`{issuer}` {}", one.fingerprint.as_deref()?))
        });
        (file.clone(), state, said)
    });
    list("records", records.collect(), text);
    let chain = &verdict.chain;
    add!(text, "\nchain: {}", word(&chain.state));
    if let Some(reason) = &chain.reason {
        add!(text, ": {}", show::plain(reason));
    } else if chain.not_supplied > 0 {
        add!(text, ": {} earlier not in the package", chain.not_supplied);
    }
    text.push('\n');
    let shown = verdict.disclosures.iter().map(|(file, one)| {
        let places: Vec<String> = one.places.iter().map(|place| show::dotted(place)).collect();
        let said = one.reason.clone().or_else(|| Some(places.join(", ")));
        (file.clone(), word(&one.state), said)
    });
    list("shown, though withheld from others", shown.collect(), text);
    let photos = verdict.photos.iter().map(|(file, one)| {
        let difference = one.difference.as_ref().map(word);
        (short(file), word(&one.state), difference)
    });
    list("photos", photos.collect(), text);
    let reports = verdict.reports.iter().map(|(file, one)| {
        let said = one.reasons.first().or(one.record.as_ref());
        (file.clone(), word(&one.state), said.cloned())
    });
    list("reports", reports.collect(), text);
    let pages = pages
        .iter()
        .map(|(file, one)| (file.clone(), one.word().to_owned(), Some(one.to_string())));
    list("pages of the reports", pages.collect(), text);
    let keys = verdict
        .keys
        .iter()
        .map(|(file, one)| (file.clone(), word(&one.state), one.reason.clone()));
    list("key histories", keys.collect(), text);
    let timestamps = verdict.timestamps.iter().map(|(file, one)| {
        let said = one.reason.clone().or_else(|| {
            let authority = show::quoted(one.authority.as_deref()?);
            let standing = one.standing.as_ref().map(word)?;
            let time = one.time.as_deref()?;
            Some(format!(
                "not later than {time}, says {authority} ({standing})"
            ))
        });
        (file.clone(), word(&one.state), said)
    });
    list("time evidence", timestamps.collect(), text);
}

/// Who sealed records with another key than that of the newest one.
fn others(signers: &[OtherSigner], text: &mut String) {
    let lines = signers.iter().map(|one| {
        let numbers: Vec<String> = one.records.iter().map(u64::to_string).collect();
        let state = if one.known { "known" } else { "not known" };
        let said = format!("`{}`: {}", show::cut(&one.issuer, 120), one.line);
        (
            format!("record {}", numbers.join(", ")),
            state.to_owned(),
            Some(said),
        )
    });
    list("signers of other records", lines.collect(), text);
}

/// A photo's name is a digest; its beginning is enough to find the file.
fn short(file: &str) -> String {
    let name = file.rsplit('/').next().unwrap_or(file);
    match name.split_once('.') {
        Some((digest, ending)) if digest.len() > 12 => {
            format!("photos/{}….{ending}", &digest[..12])
        }
        _ => file.to_owned(),
    }
}

fn beside(verdict: &PackageVerdict, text: &mut String) {
    let bag = &verdict.bag;
    let all = [
        (&bag.changed, "changed"),
        (&bag.missing, "missing"),
        (&bag.unlisted, "unlisted"),
        (&bag.not_looked_at, "not_looked_at"),
        (&bag.ignored_manifests, "ignored"),
    ];
    let lines = all.into_iter().flat_map(|(files, state)| {
        files
            .iter()
            .map(move |file| (show::plain(file), state.to_owned(), None))
    });
    list("files", lines.collect(), text);
    text.push('\n');
    let schema = verdict.schema.as_ref().map_or("missing".to_owned(), word);
    add!(
        text,
        "schema: {schema}; verifier page: {}\n",
        word(&verdict.page)
    );
    let other: Vec<&str> = verdict
        .aids
        .iter()
        .filter(|(_, one)| one.state == AidState::Other)
        .map(|(file, _)| file.as_str())
        .collect();
    add!(
        text,
        "format pages and tools: {}\n",
        match (verdict.aids.len(), other.as_slice()) {
            (0, _) => "missing".to_owned(),
            (_, []) => "released".to_owned(),
            (_, other) => format!("other: {}", show::plain(&other.join(", "))),
        }
    );
    if verdict.photos_not_packed > 0 {
        add!(
            text,
            "not packed: {} that the records name\n",
            show::counted(verdict.photos_not_packed, "photo file")
        );
    }
    let unsigned = verdict
        .photos
        .values()
        .filter(|photo| photo.state == PhotoState::Unsigned)
        .count();
    if unsigned > 0 {
        add!(
            text,
            "{} that no record names: added or made later\n",
            show::counted(unsigned, "photo file")
        );
    }
    if !verdict.withheld.is_empty() {
        text.push_str("withheld from you in the newest record, at most:\n");
        for one in &verdict.withheld {
            let place = if one.path.is_empty() {
                "the record itself".to_owned()
            } else {
                show::dotted(&one.path)
            };
            add!(
                text,
                "  {place}: {} ({})\n",
                show::counted(one.at_most, "value"),
                one.properties.join(", ")
            );
        }
    }
}

/// The answer about a page, as JSON.
#[derive(Serialize)]
struct PageAnswer<'a> {
    file: String,
    page: &'a str,
    version: Option<u32>,
    exit: u8,
}

/// Says whether a page is one that was released.
pub(super) fn page(file: &Path, bytes: &[u8], json: bool) -> Outcome {
    let (word, version, exit) = match page::known(bytes) {
        Known::Released { version } => ("released", Some(version), code::GOOD),
        Known::Other => ("other", None, 2),
    };
    if json {
        let page = word;
        print_json(&PageAnswer {
            file: file.display().to_string(),
            page,
            version,
            exit,
        })?;
        return Ok(exit);
    }
    let path = show::plain(&file.display().to_string());
    print(&match version {
        Some(version) => {
            format!("{path}: verifier page, version {version}, byte for byte as it was released\n")
        }
        None => {
            format!("{path}: an HTML page, none that was released with this program or before\n")
        }
    })?;
    Ok(exit)
}
