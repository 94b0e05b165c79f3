//! The signed PDF of a sealed record: one, or many with the key opened once.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::withhold::RULES;
use tangmark_core::record::{Photo, Record};
use tangmark_report::font::FontSet;
use tangmark_report::{
    Beside, Kind, RenderInput, Revealed, Speech, compared_with, picture_files, render_beside,
    renderer,
};
use tangmark_store::{Attachment, ObjectKind, Role, Store as _};
use tangmark_trust::withhold::{self, Disclosure};
use tangmark_trust::{PrivateKey, PublicKey, certificate, pdf};

use crate::blades::Kept;
use crate::compare::CompareError;
use crate::output::{NewFile, language_suffix};
use crate::{Paper, Workshop, WorkshopError, reveal};

/// What to make a report of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ReportWish {
    /// Number of the record in the blade's chain; the newest one unless given.
    pub sequence: Option<u32>,
    /// Paper.
    pub paper: Paper,
    /// What the report is for.
    pub kind: Kind,
    /// Number of the earlier record that a comparison goes back to; that of the state before work unless given.
    pub against: Option<u32>,
    /// Language.
    pub speech: Speech,
    /// Withheld values to show, named by their place (`agreement.owner.name`, or `agreement` for all below it, or
    /// `all`). Nothing is shown that is not named.
    pub reveal: Vec<String>,
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
    /// Length of the file in bytes.
    pub bytes: usize,
    /// Pages.
    pub pages: usize,
    /// Characters that no font has; they are printed as code points.
    pub missing: Vec<char>,
    /// Photos the record names that the workshop does not hold.
    pub absent_photos: Vec<Digest>,
    /// A sentence for each font of the workshop that turned out to be unusable.
    pub refused_fonts: Vec<String>,
    /// Places of the withheld values that it shows, as JSON Pointers.
    pub revealed: Vec<String>,
    /// What made it.
    pub renderer: RendererLine,
}

/// The renderer of a report: with the same one the same record gives the same bytes.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct RendererLine {
    /// Number of the rules by which pages are set.
    pub version: u32,
    /// SHA-256 over the digests of the fonts that come with it.
    pub fonts: Digest,
}

/// Makes reports one after the other; the key is opened once. Nothing of one report is kept for the next.
#[derive(Debug)]
pub struct Press<'a> {
    workshop: &'a Workshop,
    key: PrivateKey,
    key_created_at: String,
    demo: bool,
    fonts: FontSet,
    /// What is to be told of fonts that are not used.
    refused_fonts: Vec<String>,
    /// The certificate made last, with the issuer's name that stands in it.
    certificate: Option<(String, Vec<u8>)>,
}

impl Workshop {
    /// Opens the signing key to make reports.
    ///
    /// # Errors
    /// When the passphrase does not open the key.
    pub fn press(&self, passphrase: &[u8]) -> Result<Press<'_>, WorkshopError> {
        let (key, row) = self.signing_key(passphrase)?;
        let (fonts, refused_fonts) = self.fonts()?;
        Ok(Press {
            fonts,
            refused_fonts,
            workshop: self,
            key,
            key_created_at: row.created_at,
            demo: self.is_demo()?,
            certificate: None,
        })
    }

    /// Returns the fonts of the program with those of the workshop, and a sentence for each file that is not used.
    pub(crate) fn fonts(&self) -> Result<(FontSet, Vec<String>), WorkshopError> {
        let (files, mut refused) = self.font_files()?;
        let fonts = FontSet::with_folder(files);
        refused.extend(fonts.refused().iter().map(ToString::to_string));
        Ok((fonts, refused))
    }

    /// Reads the fonts in `fonts/` of the workshop, which cover what those of the program do not; and says of each file
    /// that is too large that it is left out.
    fn font_files(&self) -> Result<(Vec<FontFile>, Vec<String>), WorkshopError> {
        let folder = self.folder().join("fonts");
        let (mut files, mut refused) = (Vec::new(), Vec::new());
        if !folder.is_dir() {
            return Ok((files, refused));
        }
        let entries = fs::read_dir(&folder)
            .map_err(|error| WorkshopError::file("read the folder", &folder, error))?;
        for entry in entries {
            let path = entry
                .map_err(|error| WorkshopError::file("read the folder", &folder, error))?
                .path();
            let is_font = path.extension().is_some_and(|ending| {
                FONT_ENDINGS
                    .iter()
                    .any(|font| ending.eq_ignore_ascii_case(font))
            });
            if !is_font || !path.is_file() {
                continue;
            }
            let fail = |error| WorkshopError::file("read the font", &path, error);
            let name = path
                .file_name()
                .unwrap_or_default()
                .to_string_lossy()
                .into_owned();
            let length = fs::metadata(&path).map_err(fail)?.len();
            if length > LARGEST_FONT {
                refused.push(format!(
                    "font file `{name}` has {length} bytes, at most {LARGEST_FONT} bytes are allowed"
                ));
                continue;
            }
            files.push((name, fs::read(&path).map_err(fail)?));
        }
        Ok((files, refused))
    }

    /// Makes the signed PDF of a blade's record.
    ///
    /// # Errors
    /// When there is no such record, the file exists, or the passphrase does not open the key.
    pub fn report(
        &self,
        blade: &str,
        wish: &ReportWish,
        passphrase: &[u8],
        out: Option<&Path>,
    ) -> Result<ReportFile, WorkshopError> {
        let file = match out {
            Some(out) => out.to_owned(),
            None => self.report_file(blade, wish, &self.out_folder())?,
        };
        if file.exists() {
            return Err(WorkshopError::Exists(file));
        }
        self.press(passphrase)?.report(blade, wish, &file)
    }

    /// Returns the file in `folder` that a report is written to: blade, record, purpose, then kind and language where
    /// they are not the usual ones. A report with withheld values in it has a name of its own.
    ///
    /// # Errors
    /// When there is no such record.
    pub fn report_file(
        &self,
        blade: &str,
        wish: &ReportWish,
        folder: &Path,
    ) -> Result<PathBuf, WorkshopError> {
        let row = self.row(blade, wish.sequence)?;
        Ok(folder.join(format!(
            "{blade}-{:02}-{}{}.pdf",
            row.sequence,
            row.purpose,
            suffix(wish)
        )))
    }

    /// Reads the files of photos that are to be shown, of each the one file it needs; those not kept here are named.
    pub(crate) fn photo_files<'r>(
        &self,
        shown: impl Iterator<Item = &'r Photo>,
    ) -> Result<PhotoFiles, WorkshopError> {
        let (mut photos, mut absent) = (BTreeMap::new(), Vec::new());
        let store = self.store();
        for photo in shown {
            let files = picture_files(photo);
            let mut at_hand = None;
            for digest in &files {
                if photos.contains_key(digest) || store.object_row(digest)?.is_some() {
                    at_hand = Some(*digest);
                    break;
                }
            }
            match (at_hand, files.first()) {
                (Some(digest), _) => {
                    if let Entry::Vacant(place) = photos.entry(digest) {
                        place.insert(store.object(&digest)?);
                    }
                }
                (None, Some(digest)) => absent.push(*digest),
                (None, None) => {}
            }
        }
        Ok((photos, absent))
    }
    /// Returns the keys of all blades, sorted.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn blade_keys(&self) -> Result<Vec<String>, WorkshopError> {
        let mut keys: Vec<String> = self
            .store()
            .blades()?
            .into_iter()
            .map(|row| row.id)
            .collect();
        keys.sort();
        Ok(keys)
    }

    /// Tells whether a blade has a sealed record.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn has_record(&self, blade: &str) -> Result<bool, WorkshopError> {
        Ok(self.store().tip(blade)?.is_some())
    }
}

/// Name and bytes of a font file.
type FontFile = (String, Vec<u8>);

/// Endings of the files that are taken for fonts.
const FONT_ENDINGS: [&str; 4] = ["otc", "otf", "ttc", "ttf"];
/// Largest font file, in bytes: a large Japanese collection has some twenty million.
const LARGEST_FONT: u64 = 64 << 20;

/// Files of photos by their digest, and the digests of those that are not kept here.
pub(crate) type PhotoFiles = (BTreeMap<Digest, Vec<u8>>, Vec<Digest>);

/// The records whose photos a report of a kind shows.
fn records_with_photos<'r>(
    record: &'r Record,
    kind: Kind,
    earlier: &'r [Record],
    against: Option<u32>,
) -> impl Iterator<Item = &'r Record> {
    let own = !matches!(kind, Kind::Labels | Kind::Care | Kind::Receipt);
    let before = match kind {
        Kind::Comparison => compared_with(earlier, against),
        _ => None,
    };
    own.then_some(record).into_iter().chain(before)
}

/// A report that was made and kept, and is still to be written for people.
pub(crate) struct MadeReport {
    /// What is told of it; its file is not named yet.
    pub(crate) report: ReportFile,
    pub(crate) bytes: Vec<u8>,
}

/// The fingerprint of the key that sealed a record, which stands on the pages whichever key signs them.
fn fingerprint_of(record: &Record) -> Result<String, WorkshopError> {
    let key = PublicKey::from_did(record.issuer.id.as_str())?;
    Ok(key.fingerprint().to_string())
}

/// What is shown although the record withholds it.
struct Shown {
    record: Record,
    file: String,
    places: Vec<String>,
}

impl Press<'_> {
    /// Returns a sentence for each font of the workshop that is not used.
    pub fn refused_fonts(&self) -> &[String] {
        &self.refused_fonts
    }

    /// Makes the signed PDF of a blade's record and writes it to `file`, whole or not at all.
    ///
    /// # Errors
    /// When there is no such record, the file exists or cannot be written; nothing is made then.
    pub fn report(
        &mut self,
        blade: &str,
        wish: &ReportWish,
        file: &Path,
    ) -> Result<ReportFile, WorkshopError> {
        let kept = self.workshop.pick(blade, wish.sequence)?;
        self.expect_own(&kept)?;
        let chosen = self.choose(&kept, &wish.reveal)?;
        // Before the work: what cannot be written need not be made or kept.
        let target = NewFile::open(file)?;
        let made = self.make(blade, &kept, wish, &chosen)?;
        target.write(&made.bytes)?;
        Ok(ReportFile {
            file: file.to_owned(),
            ..made.report
        })
    }

    /// Makes the signed PDF of a record with the chosen values in it, and keeps it in the store.
    pub(crate) fn make(
        &mut self,
        blade: &str,
        kept: &Kept,
        wish: &ReportWish,
        chosen: &[Disclosure],
    ) -> Result<MadeReport, WorkshopError> {
        self.expect_own(kept)?;
        let earlier = self.workshop.before(blade, kept)?;
        if let (Kind::Comparison, Some(asked)) = (wish.kind, wish.against)
            && compared_with(&earlier, Some(asked)).is_none()
        {
            return Err(CompareError::NotEarlier {
                blade: blade.to_owned(),
                asked,
                record: kept.record.sequence,
            }
            .into());
        }
        let shown = open(kept, chosen)?;
        let revealed = shown.as_ref().map(|shown| Revealed {
            record: &shown.record,
            disclosures: shown.file.as_bytes(),
        });
        let record = shown.as_ref().map_or(&kept.record, |shown| &shown.record);
        let (photos, absent_photos) = self.workshop.photo_files(
            records_with_photos(record, wish.kind, &earlier, wish.against)
                .flat_map(|record| &record.photos),
        )?;
        let input = RenderInput {
            record_bytes: &kept.bytes,
            photos: &photos,
            page: wish.paper.into(),
            demo: self.demo,
            fingerprint: &fingerprint_of(&kept.record)?,
            kind: wish.kind,
            speech: wish.speech,
            earlier: &earlier,
        };
        let history = self.history_beside(&kept.record)?;
        let beside = Beside {
            revealed,
            history: history.as_deref().map(str::as_bytes),
            against: wish.against,
        };
        let rendered = self
            .fonts
            .scope(|| render_beside(&kept.record, &beside, &input))
            .map_err(WorkshopError::Render)?;
        drop(photos);
        let certificate = self.certificate(&kept.record.issuer.name)?;
        let signed = pdf::fill_signature(rendered.pdf, &self.key, &certificate)?;
        if history.is_some() {
            // A history that does not lead to this key would make a report that every reader calls altered.
            let record_key = PublicKey::from_did(kept.record.issuer.id.as_str())?;
            let issued_at = kept.record.issued_at.as_str();
            pdf::examine(&signed).joining_history(&record_key, issued_at)?;
        }
        let store = self.workshop.store();
        let object = store.put_object(&signed, ObjectKind::Report)?;
        store.attach(&Attachment {
            record: kept.row.name,
            object,
            role: Role::Report,
        })?;
        let renderer = renderer();
        let report = ReportFile {
            blade: blade.to_owned(),
            record: kept.row.name,
            file: PathBuf::new(),
            bytes: signed.len(),
            pages: rendered.pages,
            missing: rendered.missing.into_iter().collect(),
            absent_photos,
            refused_fonts: rendered.refused.iter().map(ToString::to_string).collect(),
            revealed: shown.map(|shown| shown.places).unwrap_or_default(),
            renderer: RendererLine {
                version: renderer.version,
                fonts: renderer.fonts,
            },
        };
        Ok(MadeReport {
            report,
            bytes: signed,
        })
    }

    /// The key history that goes into the report of a record which an earlier key sealed; nothing where this key did.
    fn history_beside(&self, record: &Record) -> Result<Option<String>, WorkshopError> {
        if record.issuer.id == self.key.public_key().did_key() {
            return Ok(None);
        }
        Ok(Some(self.workshop.key_history()?.text()?))
    }

    /// Only the workshop that sealed a record signs reports of it.
    fn expect_own(&self, kept: &Kept) -> Result<(), WorkshopError> {
        if self.workshop.is_own(&kept.record)? {
            return Ok(());
        }
        Err(WorkshopError::NotOwnRecord {
            blade: kept.row.blade.clone(),
            record: kept.record.sequence,
            issuer: kept.record.issuer.name.clone(),
        })
    }

    /// The disclosures of the values that a report is to show.
    fn choose(&self, kept: &Kept, names: &[String]) -> Result<Vec<Disclosure>, WorkshopError> {
        let known = self.workshop.disclosures(&kept.row.name)?;
        let choice = reveal::Choice {
            sequence: kept.record.sequence,
            public: &kept.value,
            known: &known,
        };
        let mut chosen = reveal::choose(&[choice], names)?;
        Ok(chosen.pop().unwrap_or_default())
    }

    /// The key's certificate under the name in the record; the same as long as the name is.
    fn certificate(&mut self, name: &str) -> Result<Vec<u8>, WorkshopError> {
        if let Some((made_for, der)) = &self.certificate
            && made_for == name
        {
            return Ok(der.clone());
        }
        let der = certificate::self_issued(&self.key, name, &self.key_created_at)?;
        self.certificate = Some((name.to_owned(), der.clone()));
        Ok(der)
    }
}

/// Opens the values that are to be shown.
fn open(kept: &Kept, chosen: &[Disclosure]) -> Result<Option<Shown>, WorkshopError> {
    if chosen.is_empty() {
        return Ok(None);
    }
    let fault = |error: withhold::DisclosureError| WorkshopError::Disclosure(error.to_string());
    let value = withhold::reveal_in_place(&kept.value, chosen, RULES).map_err(fault)?;
    let record =
        Record::from_json(&value).map_err(|error| WorkshopError::Disclosure(error.to_string()))?;
    Ok(Some(Shown {
        record,
        file: withhold::print_file(chosen).map_err(fault)?,
        places: chosen.iter().map(|one| one.path.clone()).collect(),
    }))
}

/// What a file name says of kind, language and withheld values; nothing of the usual.
fn suffix(wish: &ReportWish) -> String {
    let kind = match wish.kind {
        Kind::Condition => "",
        Kind::Comparison => &wish.against.map_or_else(
            || "-comparison".to_owned(),
            |number| format!("-comparison-{number:02}"),
        ),
        Kind::Buyer => "-buyer",
        Kind::Referral => "-referral",
        Kind::Identification => "-identification",
        Kind::Labels => "-labels",
        Kind::Care => "-care",
        Kind::Customs => "-customs",
        Kind::Receipt => "-receipt",
    };
    let (language, paper) = (language_suffix(wish.speech), wish.paper.suffix());
    let revealed = if wish.reveal.is_empty() {
        ""
    } else {
        "-revealed"
    };
    format!("{kind}{language}{paper}{revealed}")
}
