//! One change of a blade: its sheet, its photos and entries of the journal, written together or not at all.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Serialize;
use serde_json::{Map, Value};
use tangmark_core::Digest;
use tangmark_core::json::canonical_bytes;
use tangmark_core::record::Sheet;
use tangmark_core::sheet::SheetFormat;
use tangmark_store::{
    BladeRow, Change, DraftSource, NewDraft, NewEntry, ObjectKind, PhotoRow, Store as _,
};

use crate::journal::{Entry, Matter, Noted, Who};
use crate::photos::{self, FoundPhoto};
use crate::sheets::read_bytes;
use crate::{Surroundings, Workshop, WorkshopError};

/// A change in the making. Nothing is written before [`Edit::save`].
#[derive(Debug)]
pub(crate) struct Edit {
    blade: String,
    /// Revision the change is made on; none for a new blade.
    revision: Option<u64>,
    /// The sheet as it would be put: quantities may be written short, as in a sheet.
    pub(crate) body: Value,
    /// Photo files by the name under which the body has them.
    files: BTreeMap<String, FoundPhoto>,
    entries: Vec<Entry>,
    /// Who makes it, where that was said.
    by: Option<String>,
    remarks: Vec<String>,
}

/// What a change wrote.
#[derive(Clone, Debug, Serialize)]
pub struct Edited {
    /// Blade.
    pub blade: String,
    /// Revision of its sheet.
    pub revision: u64,
    /// Numbers of the entries in the journal.
    pub entries: Vec<u64>,
    /// Remarks a person should read.
    pub remarks: Vec<String>,
}

impl Workshop {
    /// Begins a change of a blade on its newest sheet.
    pub(crate) fn edit(&self, blade: &str) -> Result<Edit, WorkshopError> {
        let row = self.store().blade(blade)?;
        let draft = self
            .store()
            .draft(&row.id)?
            .ok_or_else(|| WorkshopError::NoSheet(blade.to_owned()))?;
        Ok(Edit {
            blade: row.id,
            revision: Some(draft.entry.revision),
            body: draft.body,
            files: BTreeMap::new(),
            entries: Vec::new(),
            by: None,
            remarks: Vec::new(),
        })
    }

    /// Begins the first sheet of a blade; saving it is refused when the blade has one already.
    pub(crate) fn begin(blade: &str, body: Value) -> Edit {
        Edit {
            blade: blade.to_owned(),
            revision: None,
            body,
            files: BTreeMap::new(),
            entries: Vec::new(),
            by: None,
            remarks: Vec::new(),
        }
    }
}

impl Edit {
    /// The blade.
    pub(crate) fn blade(&self) -> &str {
        &self.blade
    }

    /// Revision of the sheet the change is made on.
    pub(crate) fn revision(&self) -> Option<u64> {
        self.revision
    }

    /// Appends to a list of the sheet, such as `passes` or `custody`.
    pub(crate) fn push(&mut self, section: &str, item: Value) {
        if let Some(list) = self.list(section) {
            list.push(item);
        }
    }

    /// A list of the sheet, empty where it has none. `None` where the sheet has something else there, which reading it
    /// tells.
    pub(crate) fn list(&mut self, section: &str) -> Option<&mut Vec<Value>> {
        let members = self.members()?;
        members
            .entry(section)
            .or_insert_with(|| Value::Array(Vec::new()))
            .as_array_mut()
    }

    /// Sets a section of the sheet.
    pub(crate) fn set(&mut self, section: &str, value: Value) {
        if let Some(members) = self.members() {
            members.insert(section.to_owned(), value);
        }
    }

    /// Takes a section out of the sheet.
    pub(crate) fn take(&mut self, section: &str) -> Option<Value> {
        self.members()?.remove(section)
    }

    fn members(&mut self) -> Option<&mut Map<String, Value>> {
        self.body.as_object_mut()
    }

    /// Adds a photo: `photo` is its entry in the sheet without `file`.
    ///
    /// # Errors
    /// When the file cannot be read or is no photo.
    pub(crate) fn photo(&mut self, file: &Path, photo: Value) -> Result<(), WorkshopError> {
        self.read_photo(file, photo).map(drop)
    }

    /// As [`Edit::photo`]; returns the digest of the file.
    pub(crate) fn read_photo(
        &mut self,
        file: &Path,
        photo: Value,
    ) -> Result<Digest, WorkshopError> {
        let folder = file.parent().unwrap_or(Path::new("."));
        let name = file
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        let found = photos::read(folder, &name).map_err(WorkshopError::Photo)?;
        let digest = found.facts.digest;
        self.found_photo(found, photo);
        Ok(digest)
    }

    /// Adds a photo whose file was kept as an object of the workshop under a name.
    ///
    /// # Errors
    /// When there is no such object, or it is no photo.
    pub(crate) fn kept_photo(
        &mut self,
        workshop: &Workshop,
        (digest, name): (&Digest, String),
        photo: Value,
    ) -> Result<(), WorkshopError> {
        let bytes = workshop.store().object(digest)?;
        let found = FoundPhoto::of(name, bytes).map_err(WorkshopError::Photo)?;
        self.found_photo(found, photo);
        Ok(())
    }

    fn found_photo(&mut self, found: FoundPhoto, mut photo: Value) {
        let token = format!("{}:{}", self.files.len(), found.file_name);
        photo["file"] = Value::String(token.clone());
        self.files.insert(token, found);
        self.push("photos", photo);
    }

    /// Keeps the files of the photos that were added as objects of the workshop, without the sheet that names them.
    ///
    /// # Errors
    /// When an object cannot be written.
    pub(crate) fn keep_photos(&self, workshop: &Workshop) -> Result<(), WorkshopError> {
        for found in self.files.values() {
            workshop
                .store()
                .put_object(&found.bytes, ObjectKind::Photo)?;
        }
        Ok(())
    }

    /// Adds an entry of the journal about this blade.
    pub(crate) fn note<T: Matter>(
        &mut self,
        workshop: &Workshop,
        subject: &str,
        matter: &T,
        who: &Who<'_>,
        around: &Surroundings<'_>,
    ) -> Result<(), WorkshopError> {
        let entry = workshop.entry(Some(&self.blade), subject, matter, who, around)?;
        self.entries.push(entry);
        Ok(())
    }

    /// Adds an entry that takes the place of an older one of its kind about this blade; day and subject stay.
    pub(crate) fn renote<T: Matter>(
        &mut self,
        workshop: &Workshop,
        old: &Noted<T>,
        matter: &T,
        by: Option<&str>,
        around: &Surroundings<'_>,
    ) -> Result<(), WorkshopError> {
        let blade = Some(self.blade.as_str());
        let entry = workshop.entry_on(blade, &old.subject, matter, (&old.on, by), around)?;
        self.entries.push(entry.replacing(old.number));
        Ok(())
    }

    /// Adds an entry made ready elsewhere.
    pub(crate) fn add_entry(&mut self, entry: Entry) {
        self.entries.push(entry);
    }

    /// Says who makes the change; left out, it is whoever enters its first entry, or the workshop.
    pub(crate) fn by(&mut self, name: &str) {
        self.by = Some(name.to_owned());
    }

    /// Adds a remark for the person who asked.
    pub(crate) fn remark(&mut self, remark: impl Into<String>) {
        self.remarks.push(remark.into());
    }

    /// Reads the sheet as it would be kept.
    ///
    /// # Errors
    /// Problems of form and meaning, by their place in the sheet.
    pub(crate) fn sheet(&self) -> Result<Sheet, WorkshopError> {
        Ok(self.read()?.0)
    }

    fn read(&self) -> Result<(Sheet, BTreeMap<Digest, FoundPhoto>), WorkshopError> {
        let bytes = canonical_bytes(&self.body)
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        let file = format!("the sheet of `{}`", self.blade);
        read_bytes(&bytes, SheetFormat::Json, &file, &mut |name| {
            self.files
                .get(name)
                .cloned()
                .ok_or_else(|| format!("`{name}` was not given"))
        })
        .map_err(|error| match error {
            // Lines of a text that nobody wrote would mislead.
            WorkshopError::Sheet { file, error } => WorkshopError::Sheet {
                file,
                error: error.without_lines(),
            },
            other => other,
        })
    }

    /// Writes the change: all of it or nothing. `remark` stands in the history of the sheet.
    ///
    /// # Errors
    /// Problems of the sheet; a conflict when somebody else saved in between.
    pub(crate) fn save(
        self,
        workshop: &Workshop,
        remark: &str,
        around: &Surroundings<'_>,
    ) -> Result<Edited, WorkshopError> {
        let (sheet, found) = self.read()?;
        let new_blade = self.revision.is_none().then(|| BladeRow {
            id: self.blade.clone(),
            title: sheet.blade.title.clone(),
            created_at: around.now.as_str().to_owned(),
        });
        let entries: Vec<NewEntry<'_>> = self.entries.iter().map(Entry::as_new).collect();
        let by = match (&self.by, entries.first()) {
            (Some(by), _) => by.clone(),
            (None, Some(entry)) => entry.by.to_owned(),
            (None, None) => workshop.own_name()?,
        };
        let kept = workshop.write_sheet(
            &sheet,
            &found,
            &Write {
                blade: new_blade.as_ref(),
                expected: self.revision,
                source: DraftSource::Command,
                remark,
                by: &by,
                entries: &entries,
            },
            around,
        )?;
        let mut remarks = self.remarks;
        remarks.extend(kept.remarks);
        Ok(Edited {
            blade: self.blade,
            revision: kept.revision,
            entries: kept.entries,
            remarks,
        })
    }
}

/// How a sheet is written.
pub(crate) struct Write<'a> {
    /// The blade, where it may be new.
    pub(crate) blade: Option<&'a BladeRow>,
    /// Revision the change was made on.
    pub(crate) expected: Option<u64>,
    pub(crate) source: DraftSource,
    pub(crate) remark: &'a str,
    pub(crate) by: &'a str,
    pub(crate) entries: &'a [NewEntry<'a>],
}

/// What was written.
pub(crate) struct Written {
    pub(crate) revision: u64,
    pub(crate) entries: Vec<u64>,
    pub(crate) photos: usize,
    pub(crate) remarks: Vec<String>,
}

impl Workshop {
    /// Keeps a sheet with its photos and entries: the files of the photos first, then all rows in one go.
    pub(crate) fn write_sheet(
        &self,
        sheet: &Sheet,
        found: &BTreeMap<Digest, FoundPhoto>,
        write: &Write<'_>,
        around: &Surroundings<'_>,
    ) -> Result<Written, WorkshopError> {
        let mut rows = Vec::new();
        let mut remarks = Vec::new();
        for photo in &sheet.photos {
            let Some(file) = photo
                .original
                .as_ref()
                .and_then(|original| found.get(&original.digest))
            else {
                continue;
            };
            self.store().put_object(&file.bytes, ObjectKind::Photo)?;
            if let Some(made) = &file.made {
                self.store().put_object(&made.bytes, ObjectKind::Photo)?;
            }
            rows.push(PhotoRow {
                digest: file.facts.digest,
                blade: sheet.blade.id.as_str().to_owned(),
                media_type: file.facts.media_type.clone(),
                length: file.facts.length,
                width: file.facts.width_px,
                height: file.facts.height_px,
                shows: photo.caption.clone(),
                taken_at: None,
                file_name: file.file_name.clone(),
            });
            let told = file.remarks.iter();
            remarks.extend(told.map(|remark| format!("photo `{}` {remark}", photo.id)));
        }
        let body = sheet
            .to_json()
            .map_err(|error| WorkshopError::Canonical(error.to_string()))?;
        let changed = self.store().apply(&Change {
            blade: write.blade,
            photos: &rows,
            draft: Some(NewDraft {
                blade: sheet.blade.id.as_str(),
                expected_revision: write.expected,
                body: &body,
                saved_at: around.now.as_str(),
                source: write.source,
                note: write.remark,
                by: write.by,
            }),
            entries: write.entries,
            seen: None,
        })?;
        Ok(Written {
            revision: changed.revision.unwrap_or_default(),
            entries: changed.entries,
            photos: rows.len(),
            remarks,
        })
    }
}
