//! Verifying a file, for people who need no workshop.

use std::path::{Path, PathBuf};

use tangmark_core::record::{Purpose, Record, UtcTime};
use tangmark_trust::history::{self, About, KeyHistory};
use tangmark_trust::memory::{self, Assessment, Memory, MemoryFileError, SeenKey, histories};
use tangmark_trust::verdict::{self, BytesLine, FileKind, Judged, Reader, SignerLine, Weight};
use tangmark_trust::{Fingerprint, PublicKey};

use crate::keys::KeysError;
use crate::rerender::{self, Pages};
use crate::time::{self, RefusedTimestamp};
use crate::{Workshop, WorkshopError, input};

/// Largest file that is looked at, in bytes.
const LARGEST: u64 = 64 << 20;

/// Order to verify a file.
#[derive(Clone, Debug)]
pub struct Verify<'a> {
    /// The file.
    pub file: &'a Path,
    /// Other records of the same blade.
    pub others: &'a [PathBuf],
    /// Key histories handed in with it.
    pub keys: &'a [PathBuf],
    /// Answers of time authorities handed in with it.
    pub timestamps: &'a [PathBuf],
    /// Certificates of time authorities that the reader trusts, beside those of the reader's own workshop.
    pub authorities: &'a [PathBuf],
    /// Fingerprint from the workshop's card, as typed: it must be the signer's or that of another key of its history, and
    /// the key is known from then on.
    pub fingerprint: Option<&'a str>,
    /// Folder with the memory of keys seen before.
    pub memory: Option<&'a Path>,
    /// The reader's own workshop, if there is one.
    pub workshop: Option<&'a Workshop>,
    /// Keep a key that is new in the memory.
    pub remember: bool,
    /// The time now.
    pub now: &'a UtcTime,
}

/// What came of it.
#[derive(Debug)]
pub struct Verified {
    /// The verdict with the record.
    pub judged: Judged,
    /// Whether the pages of an intact report are those of its record; nothing for other files.
    pub pages: Option<Pages>,
    /// The file is a key history, which goes beside a record and is none.
    pub is_key_history: bool,
    /// Timestamps that are none for this file.
    pub refused_timestamps: Vec<RefusedTimestamp>,
    /// The key was new and is remembered now.
    pub remembered: bool,
    /// Why a key that was new could not be remembered; the verdict stands all the same.
    pub not_remembered: Option<MemoryFileError>,
}

/// Verifies a file. Nothing is asked from a network.
///
/// A new key of intact bytes is remembered where the order says so, unless a history rejects it or a timestamp that was
/// handed in is none for the file. Nothing that is remembered is ever replaced: a name that comes with another key, or a
/// key under another name, is told as that, this time and every time until a card settles it. A key is kept as compared
/// only where its fingerprint was typed.
///
/// # Errors
/// When the file cannot be read, or the memory is damaged.
pub fn verify(order: &Verify<'_>) -> Result<Verified, WorkshopError> {
    let bytes = read(order.file)?;
    let others = order
        .others
        .iter()
        .map(|path| read(path))
        .collect::<Result<Vec<_>, _>>()?;
    let handed_in = order
        .keys
        .iter()
        .map(|path| read_history(path))
        .collect::<Result<Vec<_>, _>>()?;
    let mut histories = handed_in.clone();
    if let Some(workshop) = order.workshop {
        histories.extend(workshop.key_histories()?);
    }
    if let Some(folder) = order.memory {
        histories.extend(histories::load(folder)?);
    }
    let mut seen = match order.memory {
        Some(folder) => memory::load(folder)?,
        None => Memory::default(),
    };
    let own_keys = order
        .workshop
        .map(Workshop::keys)
        .transpose()?
        .unwrap_or_default();
    let reader = Reader {
        own_keys: &own_keys,
        memory: &seen,
        now: order.now.as_str(),
        others: &others,
        histories: &histories,
        evidence: &[],
    };
    let alone = verdict::judge(&bytes, &reader);
    let mut kept = kept_beside(order, &alone);
    kept.retain(|bytes| !others.contains(bytes));
    let others: Vec<Vec<u8>> = others.iter().chain(&kept).cloned().collect();
    let reader = Reader {
        others: &others,
        ..reader
    };
    let first = if kept.is_empty() {
        alone
    } else {
        verdict::judge(&bytes, &reader)
    };
    let compared = compared(order, &first, &histories, &seen)?;
    let mut overruled = None;
    if let Some(key) = &compared {
        overruled = overruled_by_card(&first.verdict.signer);
        // Whether there is room for it in the memory is asked when it is kept.
        seen.take_along(key.clone())
            .map_err(MemoryFileError::Entry)?;
    }
    // Whose word a timestamp is depends on the keys of the workshop that the file is of.
    let heard = time::hear(order, &bytes, &first, &histories)?;
    let mut judged = if heard.evidence.is_empty() && compared.is_none() {
        first
    } else {
        verdict::judge(
            &bytes,
            &Reader {
                own_keys: &own_keys,
                memory: &seen,
                now: order.now.as_str(),
                others: &others,
                histories: &histories,
                evidence: &heard.evidence,
            },
        )
    };
    judged.verdict.notices.splice(0..0, overruled);
    let is_key_history = matches!(judged.verdict.bytes, BytesLine::CannotJudge { .. })
        && KeyHistory::read(&bytes).is_ok();
    let is_report = judged.verdict.kind == FileKind::Pdf;
    let pages = (is_report && matches!(judged.verdict.bytes, BytesLine::Intact))
        .then(|| rerender::pages(&bytes, &others))
        .flatten();
    let (remembered, not_remembered) = match &pages {
        // Whoever signs pages that the record does not have is nobody to be known later.
        Some(Pages::OtherPages { .. }) => (false, None),
        _ => match remember(
            order,
            &judged,
            &handed_in,
            compared,
            heard.refused.is_empty(),
        ) {
            Ok(remembered) => (remembered, None),
            Err(error) => (false, Some(error)),
        },
    };
    Ok(Verified {
        judged,
        pages,
        is_key_history,
        refused_timestamps: heard.refused,
        remembered,
        not_remembered,
    })
}

/// The records of its blade that the reader's own workshop keeps and that were sealed before the one in the file, where that
/// one is kept there too; and those that withdraw one. A later record by itself is no reason to doubt an earlier file.
fn kept_beside(order: &Verify<'_>, judged: &Judged) -> Vec<Vec<u8>> {
    let (Some(workshop), Some(record), Some(name)) =
        (order.workshop, &judged.record, judged.verdict.record)
    else {
        return Vec::new();
    };
    // Where the store cannot give them the file is judged by itself, as anywhere else.
    let kept = workshop.records(record.blade.id.as_str());
    let kept = kept.unwrap_or_default();
    if !kept.iter().any(|(there, ..)| *there == name) {
        return Vec::new();
    }
    let withdraws_it = |one: &Record| {
        let target = one.refers_to.as_ref().map(|target| target.record);
        one.purpose == Purpose::Withdrawal && target == Some(name)
    };
    let counts = |one: &Record| one.sequence < record.sequence || withdraws_it(one);
    let beside = kept
        .into_iter()
        .filter(|(there, _, one)| *there != name && counts(one));
    beside.map(|(_, bytes, _)| bytes).collect()
}

/// What the reader was told of the signer before the fingerprint that was typed settled it: once the key is remembered
/// nothing tells it again.
pub(crate) fn overruled_by_card(line: &SignerLine) -> Option<String> {
    let warns = matches!(
        line,
        SignerLine::OtherKeyForName { .. } | SignerLine::OtherNameForKey { .. }
    );
    warns.then(|| format!("without the fingerprint that you typed: {line}"))
}

/// Holds the signer, and the other keys of its history, against the fingerprint that the reader typed; what is to be
/// remembered when one agrees. How the reader gets from that key to the signer's the verdict tells.
///
/// Nothing is to be remembered of another key than the signer's that the reader knows under another name: the card is that
/// of somebody else, until that name is explained.
fn compared(
    order: &Verify<'_>,
    judged: &Judged,
    histories: &[KeyHistory],
    seen: &Memory,
) -> Result<Option<SeenKey>, WorkshopError> {
    let Some(typed) = order.fingerprint else {
        return Ok(None);
    };
    let typed: Fingerprint = typed.parse()?;
    let verdict = &judged.verdict;
    // Nothing is known of a key by a file that does not hold.
    let sound = matches!(verdict.bytes, BytesLine::Intact | BytesLine::SameContent);
    let (Some(key), Some(name), true) = (&judged.key, &verdict.issuer, sound) else {
        return Ok(None);
    };
    let joined = judged.joined.as_ref();
    let at_hand: Vec<KeyHistory> = histories
        .iter()
        .chain(joined.map(|(_, history)| history))
        .cloned()
        .collect();
    let mut candidates = vec![*key];
    candidates.extend(joined.map(|(pages, _)| *pages));
    if let About::One(history) = history::about(&at_hand, key) {
        candidates.extend(history.terms().map(|term| term.key));
    }
    let Some(named) = candidates.iter().find(|one| one.fingerprint() == typed) else {
        return Err(KeysError::OtherFingerprint {
            typed: typed.to_string(),
            found: key.fingerprint().to_string(),
        }
        .into());
    };
    if named != key && matches!(seen.assess(name, named), Assessment::OtherNameForKey { .. }) {
        return Ok(None);
    }
    Ok(Some(met(order, name, named).with_card()))
}

/// The key as it is remembered.
fn met(order: &Verify<'_>, name: &str, key: &PublicKey) -> SeenKey {
    let source = order.file.file_name().unwrap_or_default().to_string_lossy();
    SeenKey::new(name, key, order.now.as_str(), &source)
}

fn remember(
    order: &Verify<'_>,
    judged: &Judged,
    handed_in: &[KeyHistory],
    compared: Option<SeenKey>,
    timestamps_fit: bool,
) -> Result<bool, MemoryFileError> {
    let verdict = &judged.verdict;
    let (Some(folder), Some(key), Some(name)) = (order.memory, &judged.key, &verdict.issuer) else {
        return Ok(false);
    };
    if order.remember && matches!(verdict.bytes, BytesLine::Intact | BytesLine::SameContent) {
        // A history is kept beside the key that it names, whatever it says of it: a fork has to be told again.
        let own = order.workshop.and_then(|own| own.key_histories().ok());
        let own = own.unwrap_or_default();
        for history in handed_in {
            if history.term(key).is_some() && !own.contains(history) {
                histories::keep(folder, history)?;
            }
        }
    }
    if !timestamps_fit || verdict.signer.weight() == Weight::Rejected {
        return Ok(false);
    }
    if order.remember
        && let Some(key) = compared
    {
        return memory::remember(folder, key);
    }
    // 2: nothing in the file or its chain was altered, and the signer is new or not the one remembered.
    let sound = verdict.exit_code() == 2;
    if !order.remember || !sound || !matches!(verdict.signer, SignerLine::New { .. }) {
        return Ok(false);
    }
    memory::remember(folder, met(order, name, key))
}

/// Reads a key history that was handed in; which file is refused stands in the error.
pub(crate) fn read_history(path: &Path) -> Result<KeyHistory, WorkshopError> {
    let package = || WorkshopError::from(KeysError::PackageAsHistory(path.to_owned()));
    if path.is_dir() {
        return Err(package());
    }
    // Read once: what a shell hands in cannot be read again.
    let most = history::LARGEST as u64;
    let bytes = input::up_to(path, most)?;
    if bytes.starts_with(b"PK") {
        return Err(package());
    }
    if bytes.len() as u64 > most {
        let path = path.to_owned();
        return Err(WorkshopError::TooLong { path, most });
    }
    KeyHistory::read(&bytes).map_err(|error| {
        KeysError::HandedIn {
            path: path.to_owned(),
            error,
        }
        .into()
    })
}

fn read(path: &Path) -> Result<Vec<u8>, WorkshopError> {
    input::whole(path, LARGEST)
}
