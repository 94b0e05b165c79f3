//! Strict reading, schema, canonical bytes, digest and curve, each apart and together.

use std::process::Command;

use serde::Serialize;
use serde_json::Value;
use tangmark_core::json::{Limits, canonical_bytes, read_value};
use tangmark_core::{Digest, schema};
use tangmark_trust::{PublicKey, proof};

use super::{BenchError, Order, median, time};
use crate::sealed::{Trial, key};

/// Parts of a verification, in the order of the table.
const PARTS: [&str; 8] = [
    "strict read",
    "schema",
    "canonical bytes",
    "digest",
    "key (square root)",
    "curve",
    "together, without schema",
    "together",
];

/// One record's times.
#[derive(Clone, Debug, Serialize)]
pub struct RecordTimes {
    /// Sealed bytes.
    pub bytes: usize,
    /// Part and the median of its times, in µs on one core.
    pub parts: Vec<(&'static str, f64)>,
    /// Rate of all but the schema over OpenSSL's rate of verifications, where OpenSSL was run.
    pub of_openssl: Option<f64>,
}

/// Times of verification.
#[derive(Clone, Debug, Serialize)]
pub struct VerifyBench {
    /// Records, the smaller first.
    pub records: Vec<RecordTimes>,
    /// OpenSSL's verifications of ECDSA P-256 in one second: median of the rounds.
    pub openssl_per_second: Option<f64>,
    /// What OpenSSL calls itself.
    pub openssl_version: Option<String>,
}

struct Subject {
    sealed: Vec<u8>,
    value: Value,
    canonical: Vec<u8>,
    message: [u8; 64],
    signature: [u8; 64],
}

pub(super) fn run(order: &Order<'_>, say: &mut dyn FnMut(&str)) -> Result<VerifyBench, BenchError> {
    let mut subjects = Vec::new();
    for size in [4096, 40_960] {
        let (_, sealed) = Trial::of_size(size)?;
        let value =
            read_value(&sealed, &Limits::default()).map_err(|_| BenchError::Step(PARTS[0]))?;
        let canonical = canonical_bytes(&value).map_err(|_| BenchError::Step(PARTS[2]))?;
        let message = [0x5a; 64];
        let signature = key()?.sign(&message);
        subjects.push(Subject {
            sealed,
            value,
            canonical,
            message,
            signature,
        });
    }
    let mut times: Vec<[Vec<f64>; 8]> = vec![Default::default(); subjects.len()];
    let mut rates = Vec::new();
    // The schema is compiled once in a process; its first use is not what is measured.
    let validator = schema::record_validator().ok_or(BenchError::Step(PARTS[1]))?;
    for round in 0..order.rounds {
        say(&format!(
            "verification, round {} of {}",
            round + 1,
            order.rounds
        ));
        for (subject, times) in subjects.iter().zip(&mut times) {
            for (part, times) in times.iter_mut().enumerate() {
                times.push(one(order, subject, validator, part)?);
            }
            if let Some(program) = order.openssl {
                rates.push(openssl_rate(program)?);
            }
        }
    }
    let openssl_per_second = (!rates.is_empty()).then(|| median(rates));
    let records = subjects
        .iter()
        .zip(times)
        .map(|(subject, times)| {
            let medians: Vec<f64> = times.into_iter().map(median).collect();
            RecordTimes {
                bytes: subject.sealed.len(),
                of_openssl: openssl_per_second.map(|rate| 1e6 / medians[6] / rate),
                parts: PARTS.into_iter().zip(medians).collect(),
            }
        })
        .collect();
    let openssl_version = order.openssl.map(version).transpose()?;
    Ok(VerifyBench {
        records,
        openssl_per_second,
        openssl_version,
    })
}

fn one(
    order: &Order<'_>,
    subject: &Subject,
    validator: &jsonschema::Validator,
    part: usize,
) -> Result<f64, BenchError> {
    let limits = Limits::default();
    let public = key()?.public_key();
    let read = || read_value(std::hint::black_box(&subject.sealed), &limits);
    // Read, canonical bytes, digests, key and curve, policy, and whether these are the sealed bytes.
    let all_but_schema = |value: &Value| {
        let verified = proof::verify(value);
        verified.is_ok_and(|verified| {
            proof::verify_policy(value, &verified).is_ok() && verified.canonical == subject.sealed
        })
    };
    let step = PARTS[part];
    match part {
        0 => time(order.slice, || read().is_ok(), step),
        1 => time(
            order.slice,
            || validator.is_valid(std::hint::black_box(&subject.value)),
            step,
        ),
        2 => time(
            order.slice,
            || canonical_bytes(std::hint::black_box(&subject.value)).is_ok(),
            step,
        ),
        3 => {
            let expected = Digest::of(&subject.canonical);
            time(
                order.slice,
                || Digest::of(std::hint::black_box(&subject.canonical)) == expected,
                step,
            )
        }
        4 => {
            // By its point: a name that was read just before is remembered (in "together" too, as in a chain).
            let point = *public.compressed();
            time(
                order.slice,
                || PublicKey::from_compressed(std::hint::black_box(&point)).is_ok(),
                step,
            )
        }
        5 => time(
            order.slice,
            || public.verify(std::hint::black_box(&subject.message), &subject.signature),
            step,
        ),
        6 => time(
            order.slice,
            || read().is_ok_and(|value| all_but_schema(&value)),
            step,
        ),
        _ => time(
            order.slice,
            || read().is_ok_and(|value| all_but_schema(&value) && validator.is_valid(&value)),
            step,
        ),
    }
}

/// OpenSSL's own measure: verifications of ECDSA P-256 in one second on one core.
fn openssl_rate(program: &std::path::Path) -> Result<f64, BenchError> {
    let said = output(program, &["speed", "-seconds", "3", "ecdsap256"])?;
    // ` 256 bits ecdsa (nistp256)   0.0000s   0.0001s  41043.2  13404.0`: the last number is verify/s.
    let rate = said
        .lines()
        .find(|line| line.contains("nistp256"))
        .and_then(|line| line.split_whitespace().next_back()?.parse().ok());
    rate.ok_or_else(|| BenchError::Program {
        program: program.display().to_string(),
        what: "no line of ecdsa (nistp256) in what it said".to_owned(),
    })
}

fn version(program: &std::path::Path) -> Result<String, BenchError> {
    Ok(output(program, &["version"])?.trim().to_owned())
}

fn output(program: &std::path::Path, arguments: &[&str]) -> Result<String, BenchError> {
    let failed = |what: String| BenchError::Program {
        program: program.display().to_string(),
        what,
    };
    let output = Command::new(program)
        .args(arguments)
        .output()
        .map_err(|error| failed(error.to_string()))?;
    if !output.status.success() {
        return Err(failed(String::from_utf8_lossy(&output.stderr).into_owned()));
    }
    Ok(String::from_utf8_lossy(&output.stdout).into_owned())
}
