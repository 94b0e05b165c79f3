//! The card and what goes with it: fingerprint, certificate, key history.

use std::path::{Path, PathBuf};
use std::{fs, io};

use base64::{Engine as _, engine::general_purpose::STANDARD};
use tangmark_store::KeyRow;
use tangmark_trust::history::LARGEST;
use tangmark_trust::{PrivateKey, certificate};

use super::KeysError;
use super::file::{NAME, read_if_there, replace};
use crate::{Workshop, WorkshopError, setup};

impl Workshop {
    /// Writes card, certificate and key history anew into a folder; returns it. Only in `out/card` of the workshop those
    /// that are there are replaced.
    ///
    /// # Errors
    /// When the passphrase does not open the key in force, a folder that is named holds other files of these names, or
    /// it cannot be written.
    pub fn write_card(
        &self,
        folder: Option<&Path>,
        passphrase: &[u8],
    ) -> Result<PathBuf, WorkshopError> {
        let (key, row) = self.signing_key(passphrase)?;
        write_card(self, folder, &key, &row)
    }
}

/// Writes the three files; in `out/card`, the folder when none is named, each is replaced whole.
pub(crate) fn write_card(
    workshop: &Workshop,
    folder: Option<&Path>,
    key: &PrivateKey,
    row: &KeyRow,
) -> Result<PathBuf, WorkshopError> {
    let own = workshop.out_folder().join("card");
    let folder = folder.map_or_else(|| own.clone(), Path::to_owned);
    let name = workshop.name()?;
    let history = workshop.key_history()?;
    let certificate = certificate::self_issued(key, &name, &row.created_at)?;
    let fingerprint = key.public_key().fingerprint().to_string();
    fs::create_dir_all(&folder)
        .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
    let files = [
        ("certificate.pem", pem(&certificate)),
        (NAME, history.text()?),
        (
            "card.txt",
            card_text(&name, &fingerprint, workshop.is_demo()?),
        ),
    ];
    if is_same(&folder, &own) {
        for (file, text) in &files {
            replace(&folder.join(file), text.as_bytes(), 0o644)?;
        }
    } else {
        write_new(&folder, &files)?;
    }
    Ok(folder)
}

/// Whether two paths lead to the same folder.
fn is_same(one: &Path, other: &Path) -> bool {
    matches!((fs::canonicalize(one), fs::canonicalize(other)), (Ok(one), Ok(other)) if one == other)
}

/// Writes files into a folder that is not the workshop's: what is there already stays, or nothing is written.
fn write_new(folder: &Path, files: &[(&str, String)]) -> Result<(), WorkshopError> {
    let mut missing = Vec::new();
    for (file, text) in files {
        let path = folder.join(file);
        match read_if_there(&path, LARGEST)? {
            None => missing.push((path, text)),
            Some(found) if found == text.as_bytes() => {}
            Some(_) => return Err(KeysError::CardThere(path).into()),
        }
    }
    for (path, text) in missing {
        setup::write(&path, text.as_bytes())?;
    }
    Ok(())
}

/// Leaves in `out/card` the key history alone: there is no key in force whose card could be handed out.
pub(super) fn take_card_away(workshop: &Workshop) -> Result<PathBuf, WorkshopError> {
    let folder = workshop.out_folder().join("card");
    let history = workshop.key_history()?;
    for file in ["card.txt", "certificate.pem"] {
        let path = folder.join(file);
        match fs::remove_file(&path) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => {
                return Err(WorkshopError::file("remove", &path, error));
            }
            _ => {}
        }
    }
    fs::create_dir_all(&folder)
        .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
    replace(&folder.join(NAME), history.text()?.as_bytes(), 0o644)?;
    Ok(folder)
}

/// Writes DER as PEM (RFC 7468).
fn pem(der: &[u8]) -> String {
    let mut text = String::from("-----BEGIN CERTIFICATE-----\n");
    let encoded = STANDARD.encode(der);
    for line in encoded.as_bytes().chunks(64) {
        text.push_str(&String::from_utf8_lossy(line));
        text.push('\n');
    }
    text.push_str("-----END CERTIFICATE-----\n");
    text
}

fn card_text(name: &str, fingerprint: &str, demo: bool) -> String {
    let demo = if demo {
        "\nDEMONSTRATION KEY: a throw-away that stands for nobody.\n"
    } else {
        ""
    };
    format!(
        "{name}\n\nFingerprint of our signing key:\n\n    {fingerprint}\n\n\
         Compare all twenty characters with what `tangmark verify` shows for a record or report of ours.\n{demo}"
    )
}
