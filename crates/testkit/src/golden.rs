//! Makes the sealed records that golden outputs come from.

use std::fs;
use std::path::{Path, PathBuf};

use tangmark_core::Digest;
use tangmark_workshop::{Surroundings, tour};

/// Time of sealing of every golden record.
const NOW: &str = "2026-06-01T09:30:00Z";

/// Why golden records could not be made.
#[derive(Debug, thiserror::Error)]
pub enum GoldenError {
    /// The tour stopped.
    #[error("the tour stopped: {what}")]
    Tour {
        /// What it said.
        what: String,
        /// Its own next step.
        hint: String,
    },
    /// A file could not be read or written.
    #[error("{path}: {error}")]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        error: std::io::Error,
    },
}

impl GoldenError {
    /// Returns the next step.
    pub fn hint(&self) -> String {
        match self {
            Self::Tour { hint, .. } => hint.clone(),
            Self::File { .. } => "name a folder you may write to with --out".to_owned(),
        }
    }
}

/// Takes the tour in the fresh folder `scratch` with a fixed clock and fixed random bytes, and copies its records
/// to `out`; returns the files.
///
/// Same plugins, same bytes: the digests of the plugins' files stand in the records.
///
/// # Errors
/// When the tour stops or a file cannot be written.
pub fn make(
    out: &Path,
    scratch: &Path,
    runner: &Path,
    plugins: &Path,
    say: &mut dyn FnMut(&str),
) -> Result<Vec<PathBuf>, GoldenError> {
    let mut drawn = 0_u64;
    let mut random = |bytes: &mut [u8]| {
        for chunk in bytes.chunks_mut(32) {
            drawn += 1;
            let block = Digest::of(format!("golden records, block {drawn}").as_bytes());
            chunk.copy_from_slice(&block.as_bytes()[..chunk.len()]);
        }
    };
    let now = NOW.parse().map_err(|error| GoldenError::Tour {
        what: format!("{NOW}: {error}"),
        hint: "write the time as 2026-03-01T09:30:00Z".to_owned(),
    })?;
    let mut around = Surroundings {
        now,
        random: &mut random,
        runner: runner.to_owned(),
        plugin_folders: vec![plugins.to_owned()],
        scratch: std::env::temp_dir(),
    };
    let report = tour::take(scratch, &mut around, say).map_err(|error| GoldenError::Tour {
        what: error.to_string(),
        hint: error.hint(),
    })?;
    fs::create_dir_all(out).map_err(|error| GoldenError::File {
        path: out.to_owned(),
        error,
    })?;
    let mut written = Vec::new();
    for record in report.blades.iter().flat_map(|blade| &blade.records) {
        let to = out.join(record.file_name().unwrap_or_default());
        fs::copy(record, &to).map_err(|error| GoldenError::File {
            path: to.clone(),
            error,
        })?;
        written.push(to);
    }
    Ok(written)
}
