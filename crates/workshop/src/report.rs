//! The signed PDF of a sealed record.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_report::{PageSize, RenderInput, render};
use tangmark_store::{Attachment, ObjectKind, Role, Store as _};
use tangmark_trust::{certificate, pdf};

use crate::setup::write;
use crate::{Workshop, WorkshopError};

/// Paper of a report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// ISO A4.
    #[default]
    A4,
    /// US Letter.
    Letter,
}

/// A report that was made.
#[derive(Clone, Debug, Serialize)]
pub struct ReportFile {
    /// Blade.
    pub blade: String,
    /// Record it shows.
    pub record: Digest,
    /// File.
    pub file: PathBuf,
    /// Pages.
    pub pages: usize,
    /// Characters that no font has; they are printed as code points.
    pub missing: Vec<char>,
    /// Photos the record names that the workshop does not hold.
    pub absent_photos: Vec<Digest>,
}

impl Workshop {
    /// Makes the signed PDF of a blade's record, the newest one unless `sequence` is given.
    ///
    /// # Errors
    /// When there is no such record or the passphrase does not open the key.
    pub fn report(
        &self,
        blade: &str,
        sequence: Option<u32>,
        paper: Paper,
        passphrase: &[u8],
        out: Option<&Path>,
    ) -> Result<ReportFile, WorkshopError> {
        let kept = self.pick(blade, sequence)?;
        let record = &kept.record;
        let file = if let Some(out) = out {
            out.to_owned()
        } else {
            let folder = self.out_folder();
            fs::create_dir_all(&folder)
                .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
            let purpose = &kept.row.purpose;
            folder.join(format!("{blade}-{:02}-{purpose}.pdf", record.sequence))
        };
        if file.exists() {
            return Err(WorkshopError::Exists(file));
        }
        let (key, row) = self.signing_key(passphrase)?;
        let mut photos = BTreeMap::new();
        let mut absent_photos = Vec::new();
        for photo in &record.photos {
            let Some(shown) = photo
                .original
                .as_ref()
                .or(photo.derivatives.first().map(|made| &made.file))
            else {
                continue;
            };
            match self.store().object_row(&shown.digest)? {
                Some(_) => {
                    photos.insert(shown.digest, self.store().object(&shown.digest)?);
                }
                None => absent_photos.push(shown.digest),
            }
        }
        let fingerprint = key.public_key().fingerprint().to_string();
        let rendered = render(
            record,
            &RenderInput {
                record_bytes: &kept.bytes,
                photos: &photos,
                page: match paper {
                    Paper::A4 => PageSize::A4,
                    Paper::Letter => PageSize::Letter,
                },
                demo: self.is_demo()?,
                fingerprint: &fingerprint,
                kind: tangmark_report::Kind::default(),
                speech: tangmark_report::Speech::default(),
                earlier: &[],
            },
        )
        .map_err(|error| WorkshopError::Render(error.to_string()))?;
        let certificate = certificate::self_issued(&key, &record.issuer.name, &row.created_at)?;
        let signed = pdf::fill_signature(rendered.pdf, &key, &certificate)?;
        let object = self.store().put_object(&signed, ObjectKind::Report)?;
        self.store().attach(&Attachment {
            record: kept.row.name,
            object,
            role: Role::Report,
        })?;
        write(&file, &signed)?;
        Ok(ReportFile {
            blade: blade.to_owned(),
            record: kept.row.name,
            file,
            pages: rendered.pages,
            missing: rendered.missing.into_iter().collect(),
            absent_photos,
        })
    }
}
