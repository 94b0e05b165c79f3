//! A bench to run the built command on, in a folder of its own.
#![allow(clippy::unwrap_used, clippy::expect_used)]
#![allow(dead_code, reason = "not every test file uses all of it")]

mod once;

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::Value;
use tempfile::TempDir;

/// Passphrase of the workshops made here.
pub(crate) const PASSPHRASE: &str = "three wet stones\n";

/// What a command left.
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Ran {
    /// Returns standard output as JSON, in which no name may be given twice.
    pub(crate) fn json(&self) -> Value {
        if let Err(error) = serde_json::from_str::<once::Once>(&self.out) {
            panic!("no JSON: {error}\n{}\n{}", self.out, self.err);
        }
        serde_json::from_str(&self.out)
            .unwrap_or_else(|error| panic!("no JSON: {error}\n{}\n{}", self.out, self.err))
    }

    /// Asserts the exit code.
    pub(crate) fn code(self, code: i32) -> Self {
        assert_eq!(
            self.code, code,
            "stdout:\n{}\nstderr:\n{}",
            self.out, self.err
        );
        self
    }
}

/// The plugins that come with the program.
const SHIPPED: [&str; 7] = [
    "abrasives",
    "custody",
    "dimensions",
    "materials",
    "removal",
    "triage",
    "valuation",
];

/// A folder with copies of the shipped plugins, a passphrase file and, once made, a workshop `w`.
pub(crate) struct Bench {
    pub(crate) folder: TempDir,
    binary: PathBuf,
}

impl Bench {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let plugins = folder.path().join("plugins");
        fs::create_dir(&plugins).unwrap();
        for name in SHIPPED {
            let file = format!("libtangmark_{name}.so");
            // Copies of those that tests change, links to the others.
            if ["dimensions", "triage"].contains(&name) {
                fs::copy(built(&file), plugins.join(&file)).unwrap();
            } else {
                std::os::unix::fs::symlink(built(&file), plugins.join(&file)).unwrap();
            }
        }
        fs::write(folder.path().join("pass.txt"), PASSPHRASE).unwrap();
        let binary = PathBuf::from(env!("CARGO_BIN_EXE_tangmark"));
        Self { folder, binary }
    }

    /// Runs the command from a folder of its own from now on: plugins that were built beside it are not found.
    pub(crate) fn away_from_built_plugins(&mut self) {
        let folder = self.path("bin");
        fs::create_dir(&folder).unwrap();
        let here = folder.join("tangmark");
        // No link goes from one file system to another.
        if fs::hard_link(&self.binary, &here).is_err() {
            fs::copy(&self.binary, &here).unwrap();
        }
        self.binary = here;
    }

    /// A bench with a workshop that approves the shipped plugins.
    pub(crate) fn with_workshop(name: &str) -> Self {
        let bench = Self::new();
        bench
            .run(&[
                "setup",
                "w",
                "--name",
                name,
                "--passphrase-file",
                "pass.txt",
            ])
            .code(0);
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Runs the command in the bench's folder.
    pub(crate) fn run(&self, arguments: &[&str]) -> Ran {
        self.run_with(arguments, "")
    }

    /// Runs the command on the workshop.
    pub(crate) fn work(&self, arguments: &[&str]) -> Ran {
        self.run(&[&["--workshop", "w"], arguments].concat())
    }

    /// Runs the command with words on standard input.
    pub(crate) fn run_with(&self, arguments: &[&str], input: &str) -> Ran {
        let mut child = self
            .command(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // A command that does not read its input may be gone already.
        let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
        let output = child.wait_with_output().unwrap();
        Ran {
            code: output.status.code().unwrap_or(-1),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        }
    }

    pub(crate) fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(&self.binary);
        command
            .args(arguments)
            .current_dir(self.folder.path())
            .env_clear()
            .env("TANGMARK_PLUGINS", self.path("plugins"))
            .env("XDG_DATA_HOME", self.path("data"));
        command
    }

    /// A bench with a workshop that has one of the sample sheets.
    pub(crate) fn with_sheet(sheet: &str) -> Self {
        let bench = Self::with_workshop("Reedbank Polishing");
        bench.put(sheet);
        bench
    }

    /// The newest sheet of a blade.
    pub(crate) fn shown(&self, blade: &str) -> Value {
        self.work(&["examine", "show", blade, "--json"])
            .code(0)
            .json()
    }

    /// Entries of the journal, as the words name them.
    pub(crate) fn journal(&self, words: &[&str]) -> Vec<Value> {
        let listed = self.work(&[&["journal", "list", "--json"], words].concat());
        listed.code(0).json().as_array().unwrap().clone()
    }

    /// Writes a file of settings or a table for a plugin.
    pub(crate) fn give(&self, plugin: &str, file: &str, text: &str) {
        let folder = self.path("w/plugins").join(plugin);
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join(file), text).unwrap();
    }

    /// Text of a PDF, or of some of its pages, line by line as a reader finds it.
    pub(crate) fn pdf_text(&self, pages: &[&str], pdf: &str) -> String {
        let output = Command::new("pdftotext")
            .args(pages)
            .args(["-raw", pdf, "-"])
            .current_dir(self.folder.path())
            .output()
            .expect("`pdftotext` is needed for this test: install poppler-utils");
        assert!(output.status.success(), "pdftotext: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// Words of a PDF.
    pub(crate) fn pdf_words(&self, pages: &[&str], pdf: &str) -> String {
        let text = self.pdf_text(pages, pdf);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Puts one of the sample sheets.
    pub(crate) fn put(&self, sheet: &str) -> Ran {
        let path = samples().join("sheets").join(format!("{sheet}.toml"));
        self.work(&["examine", "put", path.to_str().unwrap(), "--json"])
            .code(0)
    }

    /// Puts a sheet of its own text, with the sample photos beside it.
    pub(crate) fn put_text(&self, sheet: &str) -> Ran {
        let photos = self.path("photos");
        if !photos.exists() {
            fs::create_dir(&photos).unwrap();
            for entry in fs::read_dir(samples().join("photos")).unwrap() {
                let from = entry.unwrap().path();
                fs::copy(&from, photos.join(from.file_name().unwrap())).unwrap();
            }
            fs::create_dir(self.path("sheets")).unwrap();
        }
        fs::write(self.path("sheets/edited.toml"), sheet).unwrap();
        self.work(&["examine", "put", "sheets/edited.toml", "--json"])
    }

    /// Seals; returns the file of the record.
    pub(crate) fn seal(&self, blade: &str, purpose: &str, verdict: &str) -> Ran {
        let words = [
            "--reason",
            "as the checks say",
            "--by",
            "A. Polisher",
            "--passphrase-file",
            "pass.txt",
            "--json",
        ];
        self.work(
            &[
                &["seal", blade, "--for", purpose, "--verdict", verdict][..],
                &words,
            ]
            .concat(),
        )
    }
}

/// The samples of the repository.
pub(crate) fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../samples")
}

/// Text of one of the sample sheets.
pub(crate) fn sheet(name: &str) -> String {
    fs::read_to_string(samples().join("sheets").join(format!("{name}.toml"))).unwrap()
}

/// Changes a text that must be there, so that an edited sheet is edited indeed.
pub(crate) fn edit(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "`{from}` stands once");
    text.replacen(from, to, 1)
}

/// Finds a library that was built for the tests: in `deps`, or beside the binary after a build of the plugin itself.
pub(crate) fn built(file: &str) -> PathBuf {
    let beside = Path::new(env!("CARGO_BIN_EXE_tangmark")).parent().unwrap();
    [beside.join("deps").join(file), beside.join(file)]
        .into_iter()
        .filter(|path| path.is_file())
        .max_by_key(|path| fs::metadata(path).unwrap().modified().unwrap())
        .unwrap_or_else(|| panic!("{file} was not built beside {}", beside.display()))
}

/// A text field of a JSON object.
pub(crate) fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name]
        .as_str()
        .unwrap_or_else(|| panic!("no text `{name}` in {value}"))
}
