//! The signed PDF of a sealed record.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_report::{Kind, PageSize, RenderInput, Speech, render};
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

/// What to make a report of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ReportWish {
    /// Number of the record in the blade's chain; the newest one unless given.
    pub sequence: Option<u32>,
    /// Paper.
    pub paper: Paper,
    /// What the report is for.
    pub kind: Kind,
    /// Language.
    pub speech: Speech,
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
    /// Makes the signed PDF of a blade's record.
    ///
    /// # Errors
    /// When there is no such record or the passphrase does not open the key.
    pub fn report(
        &self,
        blade: &str,
        wish: &ReportWish,
        passphrase: &[u8],
        out: Option<&Path>,
    ) -> Result<ReportFile, WorkshopError> {
        let kept = self.pick(blade, wish.sequence)?;
        let record = &kept.record;
        let mut earlier = Vec::new();
        for row in self.store().records(blade)? {
            if row.sequence < u64::from(record.sequence) {
                earlier.push(self.kept(&row)?.record);
            }
        }
        let file = if let Some(out) = out {
            out.to_owned()
        } else {
            let folder = self.out_folder();
            fs::create_dir_all(&folder)
                .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
            let purpose = &kept.row.purpose;
            folder.join(format!(
                "{blade}-{:02}-{purpose}{}.pdf",
                record.sequence,
                suffix(wish)
            ))
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
                page: match wish.paper {
                    Paper::A4 => PageSize::A4,
                    Paper::Letter => PageSize::Letter,
                },
                demo: self.is_demo()?,
                fingerprint: &fingerprint,
                kind: wish.kind,
                speech: wish.speech,
                earlier: &earlier,
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

/// What a file name says of kind and language; nothing of the usual ones.
fn suffix(wish: &ReportWish) -> String {
    let kind = match wish.kind {
        Kind::Condition => "",
        Kind::Comparison => "-comparison",
        Kind::Buyer => "-buyer",
        Kind::Referral => "-referral",
        Kind::Identification => "-identification",
        Kind::Labels => "-labels",
        Kind::Care => "-care",
    };
    let language = match wish.speech {
        Speech::English => "",
        Speech::Japanese => "-ja",
        Speech::Both => "-both",
    };
    format!("{kind}{language}")
}
