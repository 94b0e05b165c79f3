//! A workshop for tests of what takes several steps: no plugin is found, so every blade is held until triage runs.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::fs;
use std::path::PathBuf;

use crate::setup::Setup;
use crate::{Surroundings, Workshop, demo};

pub(crate) const PASSPHRASE: &[u8] = b"three wet stones";

/// A workshop in a folder of its own.
pub(crate) struct Bench {
    folder: tempfile::TempDir,
    drawn: std::cell::Cell<u64>,
    calls: std::cell::Cell<u64>,
}

impl Bench {
    /// With one of the sample sheets.
    pub(crate) fn with(sheet: &str) -> Self {
        let bench = Self {
            folder: tempfile::tempdir().unwrap(),
            drawn: std::cell::Cell::new(1),
            calls: std::cell::Cell::new(0),
        };
        let setup = Setup {
            folder: &bench.path("w"),
            name: "Reedbank Polishing",
            passphrase: PASSPHRASE,
            demo: false,
        };
        bench.around(|around| Workshop::setup(&setup, around).unwrap());
        fs::create_dir(bench.path("photos")).unwrap();
        fs::create_dir(bench.path("sheets")).unwrap();
        for (name, bytes) in demo::PHOTOS {
            fs::write(bench.path("photos").join(name), bytes).unwrap();
        }
        let found = demo::SHEETS.iter().find(|one| one.name == sheet).unwrap();
        let file = bench.path("sheets/sheet.toml");
        fs::write(&file, found.text).unwrap();
        bench.around(|around| {
            bench
                .workshop()
                .put_sheet(&file, None, None, around)
                .unwrap()
        });
        bench
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn workshop(&self) -> Workshop {
        Workshop::open(&self.path("w")).unwrap()
    }

    /// Every call has a minute of its own, and bytes that none before had.
    pub(crate) fn around<T>(&self, work: impl FnOnce(&mut Surroundings<'_>) -> T) -> T {
        self.calls.set(self.calls.get() + 1);
        let (hour, minute) = (9 + self.calls.get() / 60, self.calls.get() % 60);
        let mut random = |bytes: &mut [u8]| {
            for chunk in bytes.chunks_mut(8) {
                self.drawn.set(self.drawn.get() + 1);
                let mixed = self.drawn.get().wrapping_mul(0x9e37_79b9_7f4a_7c15);
                chunk.copy_from_slice(&mixed.to_le_bytes()[..chunk.len()]);
            }
        };
        work(&mut Surroundings {
            now: format!("2026-06-01T{hour:02}:{minute:02}:00Z")
                .parse()
                .unwrap(),
            random: &mut random,
            runner: PathBuf::from("none"),
            plugin_folders: Vec::new(),
            scratch: std::env::temp_dir(),
        })
    }
}
