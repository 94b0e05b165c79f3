//! The outside world: time, randomness, our own binary, folders.

use std::env;
use std::ffi::OsStr;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use tangmark_workshop::record::UtcTime;
use tangmark_workshop::{Surroundings, Workshop};

use crate::outcome::Failure;

/// Names the folder of the workshop where no `--workshop` is given.
const WORKSHOP_VARIABLE: &str = "TANGMARK_WORKSHOP";
/// Names folders with plugins, divided as in `PATH`.
const PLUGINS_VARIABLE: &str = "TANGMARK_PLUGINS";

/// Returns the time now in whole seconds of UTC.
pub(crate) fn now() -> Result<UtcTime, Failure> {
    let clock = |what: String| {
        Failure::new(
            format!("the clock of this computer cannot be used: {what}"),
            "set the clock",
        )
    };
    let seconds = jiff::Timestamp::now().as_second();
    let now = jiff::Timestamp::from_second(seconds).map_err(|error| clock(error.to_string()))?;
    now.to_string()
        .parse()
        .map_err(|error: tangmark_workshop::record::ScalarError| clock(error.to_string()))
}

/// Gives `work` the surroundings of a use-case.
pub(crate) fn with<T>(
    work: impl FnOnce(&mut Surroundings<'_>) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let fail = |error: getrandom::Error| {
        Failure::new(
            format!("the system gives no random bytes: {error}"),
            "run it on a system with a random source",
        )
    };
    // A first draw, so that a system without a random source is told before anything begins.
    getrandom::fill(&mut [0; 16]).map_err(fail)?;
    let mut random = |bytes: &mut [u8]| {
        // A key made of anything but fresh bytes would be worse than none.
        if let Err(error) = getrandom::fill(bytes) {
            panic!("the system stopped giving random bytes: {error}");
        }
    };
    let runner = env::current_exe().map_err(|error| {
        Failure::new(
            format!("this program cannot find its own file: {error}"),
            "name it by its full path",
        )
    })?;
    let plugin_folders = plugin_folders(env::var_os(PLUGINS_VARIABLE).as_deref(), &runner);
    work(&mut Surroundings {
        now: now()?,
        random: &mut random,
        runner,
        plugin_folders,
        scratch: env::temp_dir(),
    })
}

/// Folders with plugins, the first wins: those named by the user, beside the binary, and where an install puts them.
fn plugin_folders(named: Option<&OsStr>, binary: &Path) -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> = named
        .into_iter()
        .flat_map(env::split_paths)
        .filter(|path| !path.as_os_str().is_empty())
        .collect();
    if let Some(beside) = binary.parent() {
        folders.push(beside.to_owned());
        if let Some(above) = beside.parent() {
            folders.push(above.join("lib/tangmark/plugins"));
        }
    }
    folders
}

/// Where the workshop is and how that was found out.
#[derive(Debug)]
pub(crate) struct Place {
    /// The folder.
    pub(crate) folder: PathBuf,
    /// The user named it on this command line.
    pub(crate) asked: bool,
}

/// Finds the workshop's folder: `--workshop`, the current folder, `$TANGMARK_WORKSHOP`.
pub(crate) fn find(asked: Option<&Path>) -> Option<Place> {
    if let Some(folder) = asked {
        return Some(Place {
            folder: folder.to_owned(),
            asked: true,
        });
    }
    let here = Path::new(".");
    // A workshop that lost its index is one still: `store rebuild` has to find it.
    if here.join("workshop.db").is_file()
        || (here.join("objects").is_dir() && here.join("keys").is_dir())
    {
        return Some(Place {
            folder: here.to_owned(),
            asked: false,
        });
    }
    let named = env::var_os(WORKSHOP_VARIABLE).filter(|text| !text.is_empty())?;
    Some(Place {
        folder: named.into(),
        asked: false,
    })
}

/// Returns the workshop's folder or says how to name it.
pub(crate) fn folder(asked: Option<&Path>) -> Result<PathBuf, Failure> {
    find(asked).map(|place| place.folder).ok_or_else(|| {
        Failure::new(
            "no workshop: the current folder holds no `workshop.db`",
            "go into the workshop's folder, name it with `--workshop DIR` or $TANGMARK_WORKSHOP, or make one with \
             `tangmark setup DIR --name \"…\"`",
        )
    })
}

/// Opens the workshop.
pub(crate) fn open(asked: Option<&Path>) -> Result<Workshop, Failure> {
    let folder = folder(asked)?;
    if !folder.is_dir() {
        return Err(Failure::new(
            format!("no workshop: there is no folder `{}`", folder.display()),
            "name the folder that holds `workshop.db` with `--workshop DIR` or $TANGMARK_WORKSHOP",
        ));
    }
    Ok(Workshop::open(&folder)?)
}

/// The user's own data folder, where keys seen before are remembered.
///
/// Source: XDG Base Directory Specification 0.8 (from memory): `$XDG_DATA_HOME` when it is an absolute path, else
/// `~/.local/share`.
pub(crate) fn data_folder() -> Option<PathBuf> {
    let named = env::var_os("XDG_DATA_HOME")
        .map(PathBuf::from)
        .filter(|path| path.is_absolute());
    let home = env::var_os("HOME")
        .map(PathBuf::from)
        .filter(|path| path.is_absolute());
    named
        .or_else(|| Some(home?.join(".local/share")))
        .map(|folder| folder.join("tangmark"))
}

/// Writes a new file; an existing one is never overwritten.
pub(crate) fn write_new(path: &Path, text: &str) -> Result<(), Failure> {
    let mut file = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .map_err(|error| {
            if error.kind() == std::io::ErrorKind::AlreadyExists {
                Failure::new(
                    format!("{} exists already; it is not overwritten", path.display()),
                    "name another file with `--out FILE`",
                )
            } else {
                Failure::file("write", path, &error)
            }
        })?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.sync_all())
        .map_err(|error| {
            let _ = std::fs::remove_file(path);
            Failure::file("write", path, &error)
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plugins_are_looked_for_in_three_places() {
        let folders = plugin_folders(
            Some("/a:/b:".as_ref()),
            Path::new("/opt/tangmark/bin/tangmark"),
        );
        let expected = [
            "/a",
            "/b",
            "/opt/tangmark/bin",
            "/opt/tangmark/lib/tangmark/plugins",
        ];
        assert_eq!(folders, expected.map(PathBuf::from));
        assert_eq!(plugin_folders(None, Path::new("/bin/x")).len(), 2);
    }
}
