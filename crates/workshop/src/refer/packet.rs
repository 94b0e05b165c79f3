//! The packet that goes with the blade: report, record, photos, hand-over package, and what a receipt is signed over.
//!
//! It is written under a passing name beside its place and renamed, so that a packet that is there is whole.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::Digest;
use tangmark_core::record::{Record, UtcTime};
use tangmark_package::write::Source;
use tangmark_report::{Kind, Speech};
use tangmark_store::{Attachment, ObjectKind, Role, Store as _};

use super::error::ReferError;
use super::words;
use crate::blades::Kept;
use crate::handover::{Giver, HandOverWish, ReportWanted};
use crate::{Paper, Press, ReportWish, Workshop, WorkshopError, input, reveal};

/// The list of files with their digests: what a receipt is signed over.
pub(super) const LIST: &str = "files.txt";
/// What was packed, and how to sign for it.
const SIGNING: &str = "packing-and-receipt.txt";
/// Longest list, in bytes.
const LONGEST_LIST: u64 = 1 << 20;
/// Longest file of a packet, in bytes.
const LONGEST_FILE: u64 = 4 << 30;

/// What to put into a packet.
#[derive(Clone, Copy, Debug)]
pub struct PacketWish<'a> {
    /// Withheld values to show, named by their place. Nothing is shown that is not named.
    pub reveal: &'a [String],
    /// Language of report and words on signing.
    pub speech: Speech,
    /// Paper of the report.
    pub paper: Paper,
    /// Folder to make; left out: a name in `out/` of the workshop.
    pub out: Option<&'a Path>,
    /// Folder with the memory of keys seen before.
    pub memory: Option<&'a Path>,
}

/// A packet that was made.
#[derive(Clone, Debug, Serialize)]
pub struct Packet {
    /// Its folder.
    pub folder: PathBuf,
    /// Files in it.
    pub files: Vec<String>,
    /// SHA-256 over the list of its files: what a receipt is signed over.
    pub list: Digest,
    /// Withheld values that it shows, by number of record and place.
    pub shown: Vec<String>,
    /// Photos of which no file goes in, each with the reason.
    pub left_out: Vec<(String, String)>,
}

/// Where the packet of a referral goes.
pub(super) fn place(workshop: &Workshop, blade: &str, record: u32, out: Option<&Path>) -> PathBuf {
    out.map_or_else(
        || {
            workshop
                .out_folder()
                .join(format!("{blade}-{record:02}-packet"))
        },
        Path::to_owned,
    )
}

/// Looks at what lies where a packet is to be: nothing, or the whole packet of this record, of which the digest of the
/// list is returned.
pub(super) fn there(folder: &Path, record: &Kept) -> Result<Option<Digest>, WorkshopError> {
    match fs::symlink_metadata(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(WorkshopError::file("read", folder, error)),
        Ok(_) => {}
    }
    let other = |what: String| {
        WorkshopError::from(ReferError::OtherPacket {
            folder: folder.to_owned(),
            what,
        })
    };
    if !folder.join(LIST).is_file() {
        return Err(other("something that is no packet is there".to_owned()));
    }
    let list = input::whole(&folder.join(LIST), LONGEST_LIST)?;
    let text = String::from_utf8_lossy(&list).into_owned();
    let mut of_this = false;
    for line in text.lines() {
        let parts = line.split_once("  ");
        let Some((digest, name)) = parts.filter(|(_, name)| is_plain(name)) else {
            return Err(other(format!("its {LIST} is not one of a packet")));
        };
        let bytes = input::whole(&folder.join(name), LONGEST_FILE)?;
        if Digest::of(&bytes).to_string() != digest {
            return Err(other(format!("{name} is not as it was packed")));
        }
        of_this |= bytes == record.bytes;
    }
    if !of_this {
        return Err(other("the packet of another record is there".to_owned()));
    }
    Ok(Some(Digest::of(&list)))
}

/// Whether a path of a list stays inside the packet.
fn is_plain(name: &str) -> bool {
    let parts = Path::new(name).components();
    !name.is_empty()
        && parts
            .into_iter()
            .all(|part| matches!(part, std::path::Component::Normal(_)))
}

/// Makes the packet of a referral record and keeps the list of its files with the record.
pub(super) fn make(
    workshop: &Workshop,
    blade: &str,
    kept: &Kept,
    wish: &PacketWish<'_>,
    press: &mut Press<'_>,
    now: &UtcTime,
) -> Result<Packet, WorkshopError> {
    let number = kept.record.sequence;
    let folder = place(workshop, blade, number, wish.out);
    if fs::symlink_metadata(&folder).is_ok() {
        return Err(WorkshopError::Exists(folder));
    }
    let parent = folder
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    fs::create_dir_all(parent)
        .map_err(|error| WorkshopError::file("make the folder", parent, error))?;
    let part = tempfile::Builder::new()
        .prefix(".packet-")
        .suffix(".part")
        .permissions(std::os::unix::fs::PermissionsExt::from_mode(0o777))
        .tempdir_in(parent)
        .map_err(|error| WorkshopError::file("write", &folder, error))?;
    let mut writing = Writing {
        root: part.path(),
        digests: BTreeMap::new(),
    };

    let reveal = reveal::of_record(number, wish.reveal);
    let stem = format!("{blade}-{number:02}-{}", kept.row.purpose);
    writing.add(&format!("{stem}.json"), &kept.bytes)?;
    let chosen = {
        let known = workshop.disclosures(&kept.row.name)?;
        let choice = reveal::Choice {
            sequence: number,
            public: &kept.value,
            known: &known,
        };
        reveal::choose(&[choice], &reveal::only_of(number, &reveal))?
            .pop()
            .unwrap_or_default()
    };
    let report = ReportWish {
        sequence: Some(number),
        paper: wish.paper,
        kind: Kind::Referral,
        speech: wish.speech,
        ..ReportWish::default()
    };
    let made = press.make(blade, kept, &report, &chosen)?;
    writing.add(&format!("{stem}.pdf"), &made.bytes)?;

    let giver = Giver {
        memory: wish.memory,
        now,
    };
    let package = HandOverWish {
        reveal: reveal.clone(),
        report: ReportWanted::None,
        speech: wish.speech,
        paper: wish.paper,
        ..HandOverWish::default()
    };
    let prepared = workshop.prepare_handover(blade, &package, &giver, None)?;
    for (path, source) in prepared.files() {
        if let Some(name) = path.strip_prefix("data/photos/") {
            writing.add(&format!("photos/{name}"), &bytes_of(source)?)?;
        }
    }
    let zip = format!("{}.zip", crate::handover::package_name(blade));
    prepared.write(&part.path().join(&zip), &mut |_| ControlFlow::Continue(()))?;
    writing.count(&zip)?;

    let list = writing.list();
    writing.write(LIST, list.as_bytes())?;
    let digest = Digest::of(list.as_bytes());
    let said = words::signing(&words::Signing {
        record: &kept.record,
        zip: &zip,
        list: &digest,
        speech: wish.speech,
    });
    writing.write(SIGNING, said.as_bytes())?;
    let mut files: Vec<String> = writing.digests.keys().cloned().collect();
    files.extend([LIST.to_owned(), SIGNING.to_owned()]);
    files.sort();
    // Kept before the packet has its name: a receipt can come for every packet that was there.
    let object = workshop
        .store()
        .put_object(list.as_bytes(), ObjectKind::Document)?;
    workshop.store().attach(&Attachment {
        record: kept.row.name,
        object,
        role: Role::Document,
    })?;
    flush(part.path()).map_err(|error| WorkshopError::file("write", &folder, error))?;
    if fs::symlink_metadata(&folder).is_ok() {
        return Err(WorkshopError::Exists(folder));
    }
    fs::rename(part.path(), &folder)
        .map_err(|error| WorkshopError::file("write", &folder, error))?;
    // It has its name: there is nothing left to remove.
    let _ = part.keep();
    // That the name outlives a loss of power as well is more than some disks can promise.
    let _ = File::open(parent).and_then(|parent| parent.sync_all());
    let summary = prepared.summary();
    Ok(Packet {
        folder,
        files,
        list: digest,
        shown: summary
            .records
            .iter()
            .flat_map(|record| {
                let named = |place: &String| format!("{}:{place}", record.sequence);
                record.shown.iter().map(named)
            })
            .collect(),
        left_out: summary
            .photos_left_out
            .iter()
            .map(|photo| (photo.photo.clone(), photo.why.clone()))
            .collect(),
    })
}

/// The bytes of a file of a package, which must have their digest.
fn bytes_of(source: &Source) -> Result<Vec<u8>, WorkshopError> {
    match source {
        Source::Bytes(bytes) => Ok(bytes.clone()),
        Source::File {
            path,
            length,
            digest,
        } => {
            let bytes = input::whole(path, *length)?;
            if Digest::of(&bytes) == *digest {
                return Ok(bytes);
            }
            Err(WorkshopError::file(
                "read",
                path,
                io::Error::other("its bytes are not those that were kept"),
            ))
        }
    }
}

/// A packet that is being written.
struct Writing<'a> {
    root: &'a Path,
    digests: BTreeMap<String, Digest>,
}

impl Writing<'_> {
    /// Writes a file that stands in the list.
    fn add(&mut self, name: &str, bytes: &[u8]) -> Result<(), WorkshopError> {
        self.write(name, bytes)?;
        self.digests.insert(name.to_owned(), Digest::of(bytes));
        Ok(())
    }

    /// Puts a file that was written into the list.
    fn count(&mut self, name: &str) -> Result<(), WorkshopError> {
        let path = self.root.join(name);
        let bytes = input::whole(&path, LONGEST_FILE)?;
        self.digests.insert(name.to_owned(), Digest::of(&bytes));
        Ok(())
    }

    fn write(&self, name: &str, bytes: &[u8]) -> Result<(), WorkshopError> {
        let path = self.root.join(name);
        let fail = |error| WorkshopError::file("write", &path, error);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(fail)?;
        }
        let mut file = File::create_new(&path).map_err(fail)?;
        file.write_all(bytes)
            .and_then(|()| file.sync_all())
            .map_err(fail)
    }

    /// One line for each file, as `sha256sum -c` reads it.
    fn list(&self) -> String {
        self.digests
            .iter()
            .fold(String::new(), |mut list, (name, digest)| {
                let _ = writeln!(list, "{digest}  {name}");
                list
            })
    }
}

fn flush(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        if entry.file_type()?.is_dir() {
            flush(&entry.path())?;
        }
    }
    File::open(folder)?.sync_all()
}

/// What was packed, as the record lists it.
pub(super) fn packed(record: &Record) -> &[String] {
    record
        .referral
        .as_ref()
        .map_or(&[], |referral| &referral.packed)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn of_a_kept_file_no_more_is_read_than_was_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("photo.jpg");
        fs::write(&path, b"four").unwrap();
        let source = Source::File {
            path: path.clone(),
            length: 4,
            digest: Digest::of(b"four"),
        };
        assert_eq!(bytes_of(&source).unwrap(), b"four");
        let said = || bytes_of(&source).unwrap_err().to_string();
        fs::write(&path, b"five").unwrap();
        assert!(said().contains("not those that were kept"), "{}", said());
        // What grew is refused for its length, and not read to its end first.
        fs::write(&path, b"four and more").unwrap();
        assert!(said().contains("at most 4 bytes"), "{}", said());
    }
}
