//! A plugin to start from: a crate that builds and whose tests pass.

use std::fs;
use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_plugin::message::is_plugin_name;

use crate::{SHIPPED_PLUGINS, WorkshopError};

/// Names that would mean something else: the beginnings of rules the program looks at, the program, the plugin of tests.
const TAKEN: [&str; 6] = [
    "budget",
    "fatal",
    "importance",
    "price",
    "stress",
    "tangmark",
];

/// What to write, and where.
#[derive(Clone, Debug)]
pub struct Scaffold {
    /// The plugin's name.
    pub name: String,
    /// Folder of the new crate; left out: `plugins/NAME` of the clone that `here` lies in, else `NAME` in `here`.
    pub folder: Option<PathBuf>,
    /// A clone of this program's source; left out: the one `here` lies in, else `built_from`.
    pub source: Option<PathBuf>,
    /// The folder the user works in.
    pub here: PathBuf,
    /// The clone this program was built from, if it is known.
    pub built_from: Option<PathBuf>,
}

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Scaffolded {
    /// The plugin's name.
    pub name: String,
    /// Folder of the crate.
    pub folder: PathBuf,
    /// The clone its crates are taken from.
    pub source: PathBuf,
    /// The crate is a member of the clone's workspace.
    pub inside: bool,
    /// Files, relative to the folder.
    pub files: Vec<String>,
    /// The library that `cargo build --release` makes.
    pub library: PathBuf,
}

/// Writes the crate.
///
/// # Errors
/// A name no plugin may have, a folder that is there already, no clone of the source.
pub fn scaffold(order: &Scaffold) -> Result<Scaffolded, WorkshopError> {
    let name = order.name.as_str();
    let taken = TAKEN.contains(&name) || SHIPPED_PLUGINS.contains(&name);
    if taken || !is_plugin_name(name) {
        return Err(WorkshopError::BadPluginName {
            name: order.name.clone(),
        });
    }
    let around_us = order.here.ancestors().find(|folder| is_source(folder));
    let source = source(order, around_us)?;
    let folder = match (&order.folder, around_us) {
        (Some(folder), _) => order.here.join(folder),
        (None, Some(clone)) => clone.join("plugins").join(name),
        (None, None) => order.here.join(name),
    };
    if fs::symlink_metadata(&folder).is_ok() {
        return Err(WorkshopError::FolderExists(folder));
    }
    let above = folder.parent().unwrap_or(Path::new("/"));
    fs::create_dir_all(above).map_err(|error| WorkshopError::file("make", above, error))?;
    let above = canonical(above)?;
    let inside = above == source.join("plugins");
    let folder = above.join(folder.file_name().unwrap_or_default());

    let target = if inside {
        source.join("target")
    } else {
        folder.join("target")
    };
    let library = target.join(format!("release/libtangmark_{name}.so"));
    let shown = if inside {
        format!("target/release/libtangmark_{name}.so")
    } else {
        format!("./target/release/libtangmark_{name}.so")
    };
    let mut files = vec![
        ("Cargo.toml", manifest(name, &source, inside)?),
        (
            "README.md",
            include_str!("scaffold/README.md.txt").replace("@LIBRARY@", &shown),
        ),
        ("src/lib.rs", include_str!("scaffold/lib.rs.txt").to_owned()),
        (
            "tests/rules.rs",
            include_str!("scaffold/rules.rs.txt").to_owned(),
        ),
    ];
    if !inside {
        // The versions the program itself was tested with; cargo takes out what is not needed.
        let path = source.join("Cargo.lock");
        let lock =
            fs::read_to_string(&path).map_err(|error| WorkshopError::file("read", &path, error))?;
        files.push(("Cargo.lock", lock));
        files.push((".gitignore", "/target\n".to_owned()));
    }
    for (file, text) in &files {
        let path = folder.join(file);
        let inner = path.parent().unwrap_or(&folder);
        fs::create_dir_all(inner).map_err(|error| WorkshopError::file("make", inner, error))?;
        let text = if *file == "Cargo.lock" {
            text.clone()
        } else {
            text.replace("@NAME@", name)
        };
        fs::write(&path, text).map_err(|error| WorkshopError::file("write", &path, error))?;
    }
    Ok(Scaffolded {
        name: order.name.clone(),
        folder,
        source,
        inside,
        files: files.iter().map(|(file, _)| (*file).to_owned()).collect(),
        library,
    })
}

/// Finds the clone: named, around us, built from.
fn source(order: &Scaffold, around_us: Option<&Path>) -> Result<PathBuf, WorkshopError> {
    if let Some(named) = &order.source {
        let named = order.here.join(named);
        if !is_source(&named) {
            let what = format!("`{}` is no clone of this program's source", named.display());
            return Err(WorkshopError::NoSource { what });
        }
        return canonical(&named);
    }
    let built_from = order
        .built_from
        .as_deref()
        .filter(|folder| is_source(folder));
    match around_us.or(built_from) {
        Some(found) => canonical(found),
        None => Err(WorkshopError::NoSource {
            what: "this program's source was not found; a plugin in Rust is built with its crates"
                .to_owned(),
        }),
    }
}

/// Tells whether a folder holds this program's source.
fn is_source(folder: &Path) -> bool {
    ["author", "core", "measure", "plugin"]
        .into_iter()
        .all(|name| {
            let manifest = folder.join(format!("crates/{name}/Cargo.toml"));
            fs::read_to_string(manifest)
                .is_ok_and(|text| text.contains(&format!("name = \"tangmark-{name}\"")))
        })
}

fn canonical(path: &Path) -> Result<PathBuf, WorkshopError> {
    fs::canonicalize(path).map_err(|error| WorkshopError::file("find", path, error))
}

fn manifest(name: &str, source: &Path, inside: bool) -> Result<String, WorkshopError> {
    if inside {
        return Ok(include_str!("scaffold/inside.toml.txt").to_owned());
    }
    let mut text = include_str!("scaffold/outside.toml.txt").replace("@NAME@", name);
    for (mark, crate_name) in [
        ("@AUTHOR@", "author"),
        ("@CORE@", "core"),
        ("@MEASURE@", "measure"),
        ("@PLUGIN@", "plugin"),
    ] {
        let path = source.join("crates").join(crate_name);
        let written = path.to_str().ok_or_else(|| WorkshopError::NoSource {
            what: format!(
                "`{}` cannot be written into a Cargo.toml: it is not UTF-8",
                path.display()
            ),
        })?;
        // Quoted as TOML does it, whatever is in the path.
        text = text.replace(mark, &toml::Value::from(written).to_string());
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn clone() -> PathBuf {
        canonical(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")).unwrap()
    }

    fn order(name: &str, here: &Path) -> Scaffold {
        Scaffold {
            name: name.to_owned(),
            folder: None,
            source: None,
            here: here.to_owned(),
            built_from: Some(clone()),
        }
    }

    /// A folder that looks like a clone.
    fn false_clone() -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for name in ["author", "core", "measure", "plugin"] {
            let inner = folder.path().join("crates").join(name);
            fs::create_dir_all(&inner).unwrap();
            fs::write(
                inner.join("Cargo.toml"),
                format!("name = \"tangmark-{name}\""),
            )
            .unwrap();
        }
        folder
    }

    #[test]
    fn outside_a_clone_the_crate_stands_alone() {
        let folder = tempfile::tempdir().unwrap();
        let made = scaffold(&order("marker_2", folder.path())).unwrap();
        assert!(!made.inside);
        assert_eq!(made.source, clone());
        assert_eq!(
            made.files,
            [
                "Cargo.toml",
                "README.md",
                "src/lib.rs",
                "tests/rules.rs",
                "Cargo.lock",
                ".gitignore"
            ]
        );
        let text = fs::read_to_string(made.folder.join("Cargo.toml")).unwrap();
        let manifest: toml::Table = toml::from_str(&text).unwrap();
        let author = manifest["dependencies"]["tangmark-author"]["path"]
            .as_str()
            .unwrap();
        assert!(Path::new(author).join("src/lib.rs").is_file(), "{author}");
        for file in &made.files {
            let text = fs::read_to_string(made.folder.join(file)).unwrap();
            assert!(!text.contains("@N") && !text.contains("@L"), "{file}");
        }
        let again = scaffold(&order("marker_2", folder.path())).unwrap_err();
        assert!(
            again
                .to_string()
                .ends_with("exists already; nothing was written"),
            "{again}"
        );
    }

    #[test]
    fn inside_a_clone_the_crate_is_a_member() {
        let clone = false_clone();
        let here = clone.path().join("crates/core");
        let made = scaffold(&order("marker", &here)).unwrap();
        let root = canonical(clone.path()).unwrap();
        assert!(made.inside);
        assert_eq!(made.folder, root.join("plugins/marker"));
        assert_eq!(
            made.library,
            root.join("target/release/libtangmark_marker.so")
        );
        assert!(!made.folder.join("Cargo.lock").exists());
        let text = fs::read_to_string(made.folder.join("Cargo.toml")).unwrap();
        assert!(text.contains("tangmark-author.workspace = true"), "{text}");
    }

    #[test]
    fn bad_names_and_missing_sources_write_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let long = "a".repeat(41);
        for name in [
            "", "Marker", "9lives", "a-b", "a.b", "../up", "a/b", "price", "fatal", "stress",
            "triage", &long,
        ] {
            let refused = scaffold(&order(name, folder.path())).unwrap_err();
            let said = format!("`{name}` cannot be a plugin's name");
            assert_eq!(refused.to_string(), said);
        }
        let unknown = Scaffold {
            built_from: Some(folder.path().to_owned()),
            ..order("marker", folder.path())
        };
        let refused = scaffold(&unknown).unwrap_err();
        assert!(
            refused.to_string().contains("source was not found"),
            "{refused}"
        );
        assert!(
            refused.hint().contains("--source DIR"),
            "{}",
            refused.hint()
        );
        let named = Scaffold {
            source: Some(PathBuf::from("nowhere")),
            ..order("marker", folder.path())
        };
        let refused = scaffold(&named).unwrap_err();
        assert!(
            refused
                .to_string()
                .ends_with("is no clone of this program's source"),
            "{refused}"
        );
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
