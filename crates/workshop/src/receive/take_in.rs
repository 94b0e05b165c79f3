//! Taking a sound package into the store.
//!
//! First everything that can stand by itself: objects, which nobody sees until a record or note names them. Then the
//! records in their order, then what goes with them, then the sheet. So whatever ends it in the middle leaves records that
//! are whole, and the same command once more adds what is missing.

use tangmark_core::record::withhold::RULES;
use tangmark_core::record::{PhotoFile, Record};
use tangmark_core::sheet::dotted;
use tangmark_core::{Digest, check, json};
use tangmark_package::judge::{
    DisclosuresState, KeysState, PackageVerdict, PhotoState, ReportState, TimestampState,
};
use tangmark_package::open::Package;
use tangmark_package::path::Place;
use tangmark_store::{
    Attachment, BladeRow, NewRecord, ObjectKind, PhotoRow, RecordRow, Role, Store as _,
};
use tangmark_trust::history::KeyHistory;
use tangmark_trust::memory::{self, Assessment, SeenKey, histories};
use tangmark_trust::pdf::{self, PdfJudgement};
use tangmark_trust::verdict::SignerLine;
use tangmark_trust::{PublicKey, proof, withhold};

use super::{Incoming, IncomingRecord, Received};
use crate::handover::HandOverError;
use crate::{Surroundings, Workshop, WorkshopError};

/// Longest file that is read whole: a photo or report, in bytes.
const LONGEST: u64 = 256 << 20;

/// Reads a file of a package.
pub(super) fn read(package: &Package, file: &str) -> Result<Vec<u8>, WorkshopError> {
    package.read(file, LONGEST).map_err(|error| {
        HandOverError::Unsound {
            package: file.into(),
            reasons: vec![error.to_string()],
        }
        .into()
    })
}

/// Reads the key histories of a package that hold.
pub(super) fn histories_of(
    package: &Package,
    verdict: &PackageVerdict,
) -> Result<Vec<KeyHistory>, WorkshopError> {
    let sound = verdict.keys.iter();
    sound
        .filter(|(_, judged)| judged.state != KeysState::Refused)
        .map(|(file, _)| Ok(KeyHistory::read(&read(package, file)?)?))
        .collect()
}

/// Reads a file once more; it must be the one that was judged.
fn read_judged(incoming: &Incoming, file: &str) -> Result<Vec<u8>, WorkshopError> {
    let bytes = read(&incoming.package, file)?;
    let judged = incoming.verdict.digests.get(file);
    expect(incoming, file, judged == Some(&Digest::of(&bytes)))?;
    Ok(bytes)
}

/// Reads a record whose proof holds; returns its name with it.
pub(super) fn record_of(bytes: &[u8]) -> Result<(Digest, Record), String> {
    let value =
        json::read_value(bytes, &json::Limits::default()).map_err(|error| error.to_string())?;
    let verified = proof::verify(&value).map_err(|error| error.to_string())?;
    proof::verify_policy(&value, &verified).map_err(|error| error.to_string())?;
    let record = check::record(&value).map_err(|problems| {
        problems.first().map_or_else(String::new, |problem| {
            format!("{}: {}", problem.pointer, problem.what)
        })
    })?;
    Ok((verified.record_digest, record))
}

/// An object of the package and the record it goes with.
struct Tied {
    record: Digest,
    object: Digest,
    role: Role,
}

impl Workshop {
    /// Takes in what a package holds: blade, records, photos, disclosures, reports, key histories, time evidence, and a
    /// sheet made of the newest record. What is here already stays as it is; the same package once more changes nothing.
    ///
    /// The caller has asked, and compared the fingerprint where the signer has to be confirmed ([`Incoming::compare`]). A
    /// signer whose fingerprint was compared is remembered.
    ///
    /// # Errors
    /// When the fingerprint was needed and not compared. When a file of the package changed since it was judged, or something cannot be written. What was written until
    /// then is whole, and receiving again goes on.
    pub fn take_in(
        &self,
        incoming: &Incoming,
        memory_folder: Option<&std::path::Path>,
        around: &Surroundings<'_>,
    ) -> Result<Received, WorkshopError> {
        if incoming.plan.needs_fingerprint && incoming.compared.is_none() {
            return Err(HandOverError::NotCompared {
                package: incoming.path.clone(),
                line: incoming.plan.signer_line.clone(),
            }
            .into());
        }
        let mut received = Received {
            added: incoming.plan.new_records.clone(),
            photos: 0,
            shown: Vec::new(),
            reports: 0,
            histories: 0,
            timestamps: 0,
            sheet: None,
            remarks: Vec::new(),
        };
        let photos = self.keep_photos(incoming)?;
        received.photos = photos.len();
        let mut tied = self.keep_disclosures_of(incoming, &mut received)?;
        tied.extend(self.keep_reports(incoming, &mut received)?);
        tied.extend(self.keep_histories(incoming, memory_folder, &mut received)?);
        tied.extend(self.keep_timestamps(incoming, &mut received)?);
        self.add_records(incoming, around)?;
        for one in &tied {
            self.tie(one)?;
        }
        // A note that is there already says more: where the file came from, and under which name.
        let noted = self.store().photos(&incoming.plan.blade)?;
        for row in photos.into_iter().flatten() {
            if !noted.iter().any(|there| there.digest == row.digest) {
                self.store().add_photo(&row)?;
            }
        }
        self.keep_received_sheet(incoming, around, &mut received)?;
        remember(incoming, memory_folder, around, &mut received)?;
        Ok(received)
    }

    /// Keeps the photo files that records name; returns for each original what is noted of it.
    fn keep_photos(&self, incoming: &Incoming) -> Result<Vec<Option<PhotoRow>>, WorkshopError> {
        let mut rows = Vec::new();
        for (file, judged) in &incoming.verdict.photos {
            if !matches!(judged.state, PhotoState::Original | PhotoState::Copy) {
                continue;
            }
            if self.store().object_row(&judged.digest)?.is_none() {
                let bytes = read_judged(incoming, file)?;
                expect(incoming, file, Digest::of(&bytes) == judged.digest)?;
                self.store().put_object(&bytes, ObjectKind::Photo)?;
            }
            let kept = self.store().object_row(&judged.digest)?;
            rows.push(kept.and_then(|kept| original(incoming, &judged.digest, kept.length)));
        }
        Ok(rows)
    }

    /// Keeps the withheld values that are shown and were not known here.
    fn keep_disclosures_of(
        &self,
        incoming: &Incoming,
        received: &mut Received,
    ) -> Result<Vec<Tied>, WorkshopError> {
        let mut tied = Vec::new();
        for (file, judged) in &incoming.verdict.disclosures {
            if judged.state != DisclosuresState::Fit {
                continue;
            }
            let Some(record) = record_beside(incoming, file) else {
                continue;
            };
            let bytes = read_judged(incoming, file)?;
            let fault =
                |error: withhold::DisclosureError| unsound(incoming, file, error.to_string());
            let shown = withhold::parse_file(&bytes).map_err(fault)?;
            let value = json::read_value(&record.bytes, &json::Limits::default())
                .map_err(|error| unsound(incoming, file, error.to_string()))?;
            withhold::reveal(&value, &shown, RULES).map_err(fault)?;
            let known = if incoming
                .plan
                .known_records
                .contains(&record.record.sequence)
            {
                self.disclosures(&record.name)?
            } else {
                Vec::new()
            };
            let places = shown.iter().map(|one| dotted(&one.path));
            received
                .shown
                .extend(places.map(|place| (record.record.sequence, place)));
            if shown.iter().all(|one| known.contains(one)) {
                continue;
            }
            let object = self.store().put_object(&bytes, ObjectKind::Disclosures)?;
            tied.push(Tied {
                record: record.name,
                object,
                // One object alone has the role; later ones are papers beside it.
                role: if known.is_empty() {
                    Role::Disclosures
                } else {
                    Role::Document
                },
            });
        }
        Ok(tied)
    }

    fn keep_reports(
        &self,
        incoming: &Incoming,
        received: &mut Received,
    ) -> Result<Vec<Tied>, WorkshopError> {
        let mut tied = Vec::new();
        for (file, judged) in &incoming.verdict.reports {
            if !matches!(
                judged.state,
                ReportState::Unaltered | ReportState::Older | ReportState::KeyOpen
            ) {
                continue;
            }
            let bytes = read_judged(incoming, file)?;
            let examined = pdf::examine(&bytes);
            let embedded = examined.record_bytes.as_deref();
            let record = incoming
                .records
                .iter()
                .find(|one| Some(one.bytes.as_slice()) == embedded);
            let sound = examined.judgement == PdfJudgement::Unaltered;
            let Some(record) = record.filter(|_| sound) else {
                return Err(unsound(incoming, file, "it changed while it was read"));
            };
            tied.push(Tied {
                record: record.name,
                object: self.store().put_object(&bytes, ObjectKind::Report)?,
                role: Role::Report,
            });
            received.reports += 1;
        }
        Ok(tied)
    }

    /// Keeps the key histories with the newest record of a key of theirs, and remembers them.
    fn keep_histories(
        &self,
        incoming: &Incoming,
        memory_folder: Option<&std::path::Path>,
        received: &mut Received,
    ) -> Result<Vec<Tied>, WorkshopError> {
        let own = self.keys()?;
        let mut tied = Vec::new();
        for (file, judged) in &incoming.verdict.keys {
            if judged.state != KeysState::Fits {
                continue;
            }
            let bytes = read_judged(incoming, file)?;
            let history = KeyHistory::read(&bytes)?;
            if history.terms().any(|term| own.contains(&term.key)) {
                continue;
            }
            let record = incoming.records.iter().rev().find(|one| {
                PublicKey::from_did(&one.record.issuer.id)
                    .is_ok_and(|key| history.term(&key).is_some())
            });
            let Some(record) = record else { continue };
            if let Some(folder) = memory_folder {
                histories::keep(folder, &history)?;
            }
            tied.push(Tied {
                record: record.name,
                object: self.store().put_object(&bytes, ObjectKind::Document)?,
                role: Role::Document,
            });
            received.histories += 1;
        }
        Ok(tied)
    }

    fn keep_timestamps(
        &self,
        incoming: &Incoming,
        received: &mut Received,
    ) -> Result<Vec<Tied>, WorkshopError> {
        let mut tied = Vec::new();
        for (file, judged) in &incoming.verdict.timestamps {
            if judged.state != TimestampState::Fits {
                continue;
            }
            let Some(record) = record_beside(incoming, file) else {
                continue;
            };
            let bytes = read_judged(incoming, file)?;
            tied.push(Tied {
                record: record.name,
                object: self.store().put_object(&bytes, ObjectKind::Timestamp)?,
                role: Role::Timestamp,
            });
            received.timestamps += 1;
        }
        Ok(tied)
    }

    fn add_records(
        &self,
        incoming: &Incoming,
        around: &Surroundings<'_>,
    ) -> Result<(), WorkshopError> {
        let blade = incoming.plan.blade.as_str();
        if !self.store().blades()?.iter().any(|row| row.id == blade) {
            self.store().add_blade(&BladeRow {
                id: blade.to_owned(),
                title: incoming.plan.title.clone(),
                created_at: around.now.as_str().to_owned(),
            })?;
        }
        for one in &incoming.records {
            if incoming.plan.new_records.contains(&one.record.sequence) {
                self.store().append_record(&NewRecord {
                    bytes: &one.bytes,
                    sealed_at: around.now.as_str(),
                    draft_revision: None,
                    disclosures: None,
                })?;
            }
        }
        Ok(())
    }

    /// Ties an object to its record; what was tied before stays once.
    fn tie(&self, tied: &Tied) -> Result<(), WorkshopError> {
        let attachment = Attachment {
            record: tied.record,
            object: tied.object,
            role: tied.role,
        };
        Ok(self.store().attach(&attachment)?)
    }

    pub(super) fn newest_row(&self, blade: &str) -> Result<Option<RecordRow>, WorkshopError> {
        Ok(self.store().tip(blade)?)
    }
}

fn unsound(incoming: &Incoming, file: &str, what: impl std::fmt::Display) -> WorkshopError {
    HandOverError::Unsound {
        package: incoming.path.clone(),
        reasons: vec![format!("{file}: {what}")],
    }
    .into()
}

fn expect(incoming: &Incoming, file: &str, holds: bool) -> Result<(), WorkshopError> {
    if holds {
        return Ok(());
    }
    Err(unsound(incoming, file, "it changed while it was read"))
}

/// The record whose number stands in the name of a file.
fn record_beside<'i>(incoming: &'i Incoming, file: &str) -> Option<&'i IncomingRecord> {
    let (Place::Disclosures(number) | Place::Timestamp(number)) = Place::of(file) else {
        return None;
    };
    let mut records = incoming.records.iter();
    records.find(|one| u64::from(one.record.sequence) == number)
}

/// What is noted of a photo file, where a record names it as an original. Its length is that of the file, whatever the
/// record says.
fn original(incoming: &Incoming, digest: &Digest, length: u64) -> Option<PhotoRow> {
    let photos = incoming.records.iter().flat_map(|one| &one.record.photos);
    let named = photos.into_iter().find_map(|photo| {
        let original: &PhotoFile = photo.original.as_ref()?;
        (original.digest == *digest).then_some((photo, original))
    });
    let (photo, original) = named?;
    Some(PhotoRow {
        digest: *digest,
        blade: incoming.plan.blade.clone(),
        media_type: original.media_type.clone(),
        length,
        width: original.width_px,
        height: original.height_px,
        shows: photo.caption.clone(),
        taken_at: None,
        // The name on the other computer is not in the record.
        file_name: format!("{digest}.{}", crate::handover::ending(&original.media_type)),
    })
}

/// Remembers the signer of the newest record, where the fingerprint was compared.
fn remember(
    incoming: &Incoming,
    folder: Option<&std::path::Path>,
    around: &Surroundings<'_>,
    received: &mut Received,
) -> Result<(), WorkshopError> {
    let (Some(folder), Some(subject)) = (folder, incoming.verdict.subject.as_ref()) else {
        return Ok(());
    };
    let Some(key) = &incoming.compared else {
        return Ok(());
    };
    if subject.verdict.signer == SignerLine::Own {
        return Ok(());
    }
    // The card of a key that is known under another name settles nothing of this name.
    let is_signer = incoming.joined.first() == Some(key);
    let known = memory::load(folder)?.assess(&incoming.plan.signer, key);
    if !is_signer && matches!(known, Assessment::OtherNameForKey { .. }) {
        return Ok(());
    }
    let source = incoming.path.file_name().unwrap_or_default();
    let seen = SeenKey::new(
        &incoming.plan.signer,
        key,
        around.now.as_str(),
        &source.to_string_lossy(),
    )
    .with_card();
    if memory::remember(folder, seen)? {
        received.remarks.push(format!(
            "`{}` is remembered with the key {}",
            incoming.plan.signer,
            key.fingerprint()
        ));
    }
    Ok(())
}
