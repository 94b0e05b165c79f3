//! Sealed records and signed reports for trials: invented, made from fixed input, the same every time.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use serde_json::{Value, json};
use tangmark_core::json::canonical_bytes;
use tangmark_core::record::{Quantity, Record};
use tangmark_core::units::Dimension;
use tangmark_core::{Digest, check, schema};
use tangmark_report::{Kind, PageSize, RenderInput, jpeg, render};
use tangmark_trust::{PrivateKey, certificate, pdf, proof};

/// Why a trial record or report could not be made: a fault of the project, in words.
#[derive(Debug, thiserror::Error)]
#[error("{what}: {why}")]
pub struct MakeError {
    /// What was being made.
    pub what: &'static str,
    /// What went wrong.
    pub why: String,
}

/// Turns a fault into a [`MakeError`].
pub fn fault<E: ToString>(what: &'static str) -> impl Fn(E) -> MakeError {
    move |error| MakeError {
        what,
        why: error.to_string(),
    }
}

/// Time of sealing of all trial records.
pub const ISSUED_AT: &str = "2026-03-01T09:30:00Z";

/// The key of all trial records: no secret.
///
/// # Errors
/// Never, as long as the bytes are below the group order.
pub fn key() -> Result<PrivateKey, MakeError> {
    // Made once: its public half costs as much as a signature.
    static KEY: OnceLock<Option<PrivateKey>> = OnceLock::new();
    let made = KEY.get_or_init(|| PrivateKey::from_entropy([0x54; 32]).ok());
    made.clone()
        .ok_or_else(|| fault("trial key")("32 bytes that are no key"))
}

/// A record of one blade, its files of photos, and the report made of them.
#[derive(Clone, Debug)]
pub struct Trial {
    /// The record before sealing.
    pub unsigned: Value,
    /// Files of its photos.
    pub photos: BTreeMap<Digest, Vec<u8>>,
    /// What its report is for.
    pub kind: Kind,
}

fn quantity(text: &str, dimension: Dimension) -> Result<Value, MakeError> {
    let made = Quantity::from_readings(&[text.to_owned()], dimension, None, None);
    serde_json::to_value(made.map_err(fault("quantity"))?).map_err(fault("quantity"))
}

fn mm(text: &str) -> Result<Value, MakeError> {
    quantity(&format!("{text} mm"), Dimension::Length)
}

/// Four widths and thicknesses at one place of a blade that tapers evenly.
fn station(number: u32) -> Result<Value, MakeError> {
    let at = 10 * number;
    let part = |from: u32, fall: u32| {
        let hundredths = from - fall * number;
        mm(&format!("{}.{:02}", hundredths / 100, hundredths % 100))
    };
    Ok(json!({
        "at": mm(&at.to_string())?, "width": part(3040, 13)?, "ridge_thickness": part(720, 3)?,
        "back_thickness": part(640, 2)?,
    }))
}

impl Trial {
    /// The least record with dimensions, with the given number of stations (at most 70).
    ///
    /// # Errors
    /// When the project's own types refuse it.
    pub fn new(stations: u32) -> Result<Self, MakeError> {
        let issuer = key()?.public_key().did_key();
        let stations: Vec<Value> = (0..stations.min(70))
            .map(station)
            .collect::<Result<_, _>>()?;
        let unsigned = json!({
            "schema": { "id": "tangmark-record", "version": 1, "digest": schema::record_digest().to_string() },
            "record_id": "3f1c09d2a7b84e65901d2c3b4a596877",
            "sequence": 1,
            "previous": null,
            "issuer": { "id": issuer, "name": "Workshop at the Weir", "demo": true },
            "purpose": "before_work",
            "issued_at": ISSUED_AT,
            "blade": {
                "id": "trial", "title": "Trial blade, long sword", "object_type": "sword blade",
                "kind_by_length": "katana", "kind_by_make": "katana", "construction": "shinogi_zukuri",
            },
            "dimensions": {
                "datum": "back_notch", "blade_length": mm("703.5")?, "curvature": mm("16.5")?,
                "width_at_base": mm("30.4")?, "width_at_point": mm("21.3")?, "thickness_at_base": mm("7.2")?,
                "stations": stations,
            },
            "decision": {
                "verdict": "work", "by": "I. Weir",
                "reason": "Sound edge, enough steel: rust goes, the pits behind the ridge stay.",
            },
        });
        Ok(Self {
            unsigned,
            photos: BTreeMap::new(),
            kind: Kind::default(),
        })
    }

    /// A record whose sealed bytes are at least `bytes` long, and less than a station longer.
    ///
    /// # Errors
    /// When 70 stations are not enough, or the project's own types refuse the record.
    pub fn of_size(bytes: usize) -> Result<(Self, Vec<u8>), MakeError> {
        for stations in 1..=70 {
            let trial = Self::new(stations)?;
            let sealed = trial.seal()?;
            if sealed.len() >= bytes {
                return Ok((trial, sealed));
            }
        }
        Err(fault("trial record")(format!(
            "70 stations are fewer than {bytes} bytes"
        )))
    }

    /// Adds photos, which the record names by digest.
    ///
    /// # Errors
    /// When a file is no JPEG.
    pub fn add_photos(&mut self, files: &[&[u8]]) -> Result<(), MakeError> {
        let mut photos = Vec::new();
        for (index, bytes) in files.iter().enumerate() {
            let header = jpeg::header(bytes).map_err(fault("photo"))?;
            let digest = Digest::of(bytes);
            photos.push(json!({
                "id": format!("photo-{index}"), "shows": "whole", "caption": format!("Trial photo {}", index + 1),
                "original_kept_private": false,
                "original": {
                    "digest": digest.to_string(), "length": bytes.len(), "media_type": "image/jpeg",
                    "width_px": header.width, "height_px": header.height,
                },
            }));
            self.photos.insert(digest, bytes.to_vec());
        }
        self.unsigned["photos"] = Value::Array(photos);
        Ok(())
    }

    /// Adds small pits along the blade, 10 mm apart.
    ///
    /// # Errors
    /// When the project's own types refuse one.
    pub fn add_flaws(&mut self, flaws: u32) -> Result<(), MakeError> {
        let flaw = |number: u32| {
            Ok(json!({
                "id": format!("pits-{number}"), "kind": "pits", "zone": "ground", "faces": ["omote"],
                "at": mm(&(10 * number).to_string())?, "length": mm("2.5")?, "progress": "stable",
                "standing": "suspected",
            }))
        };
        let flaws: Vec<Value> = (1..=flaws).map(flaw).collect::<Result<_, MakeError>>()?;
        self.unsigned["flaws"] = Value::Array(flaws);
        Ok(())
    }

    /// Signs the record, checks it as a reader would, and returns its canonical bytes.
    ///
    /// # Errors
    /// When the record is none of its schema.
    pub fn seal(&self) -> Result<Vec<u8>, MakeError> {
        let signed = proof::sign(&self.unsigned, &key()?, ISSUED_AT).map_err(fault("proof"))?;
        check::record(&signed).map_err(|problems| {
            let told: Vec<String> = problems
                .iter()
                .map(|problem| format!("{}: {}", problem.pointer, problem.what))
                .collect();
            fault("record")(told.join("; "))
        })?;
        canonical_bytes(&signed).map_err(fault("canonical bytes"))
    }

    /// Renders the report of the sealed bytes, unsigned, and says how many pages it has.
    ///
    /// # Errors
    /// When the report cannot be made.
    pub fn render(&self, sealed: &[u8]) -> Result<(Vec<u8>, usize), MakeError> {
        let record: Record = serde_json::from_slice(sealed).map_err(fault("record"))?;
        let fingerprint = key()?.public_key().fingerprint().to_string();
        let input = RenderInput {
            record_bytes: sealed,
            photos: &self.photos,
            page: PageSize::A4,
            demo: true,
            fingerprint: &fingerprint,
            kind: self.kind,
            speech: tangmark_report::Speech::default(),
            earlier: &[],
        };
        let rendered = render(&record, &input).map_err(fault("report"))?;
        Ok((rendered.pdf, rendered.pages))
    }
}

/// Signs a report with the trial key.
///
/// # Errors
/// When the file has no place for a signature.
pub fn sign_report(pdf: Vec<u8>) -> Result<Vec<u8>, MakeError> {
    // Made once, as in a run of many reports: the certificate is signed too.
    static CERTIFICATE: OnceLock<Option<Vec<u8>>> = OnceLock::new();
    let key = key()?;
    let made = CERTIFICATE.get_or_init(|| certificate_of(&key).ok());
    let certificate = made
        .as_ref()
        .ok_or_else(|| fault("certificate")("none for the trial key"))?;
    pdf::fill_signature(pdf, &key, certificate).map_err(fault("signature"))
}

fn certificate_of(key: &PrivateKey) -> Result<Vec<u8>, MakeError> {
    certificate::self_issued(key, "Workshop at the Weir", ISSUED_AT).map_err(fault("certificate"))
}

/// Signs a report with a key of the caller's choosing.
///
/// # Errors
/// When the file has no place for a signature.
pub fn sign_report_with(pdf: Vec<u8>, key: &PrivateKey) -> Result<Vec<u8>, MakeError> {
    let certificate = certificate_of(key)?;
    pdf::fill_signature(pdf, key, &certificate).map_err(fault("signature"))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn trial_records_have_the_size_that_was_asked_for() {
        for size in [4096, 40_960] {
            let (_, sealed) = Trial::of_size(size).unwrap();
            assert!(
                (size..size + 900).contains(&sealed.len()),
                "{} bytes for {size}",
                sealed.len()
            );
        }
        let error = Trial::of_size(10_000_000).unwrap_err();
        assert_eq!(
            error.to_string(),
            "trial record: 70 stations are fewer than 10000000 bytes"
        );
    }
}
