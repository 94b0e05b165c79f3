//! Ways round the hold: each is refused with the guard, and seen to succeed where the guard is not there.
//!
//! The plugins and the command that runs them are those built beside this test: `cargo build --profile checked -p
//! tangmark-cli` makes them.
#![allow(clippy::unwrap_used, clippy::expect_used)]

mod again;
mod answers;
mod entering;
mod replaced;
mod spent;

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::{Map, Value};
use tangmark_core::hold::StopKind;
use tangmark_core::record::{Decision, Purpose, Verdict};

use super::super::guard::switch;
use super::super::{PassDone, PassError, PassOrder, PassWords};
use crate::journal::Who;
use crate::setup::Setup;
use crate::{Order, Surroundings, Workshop, WorkshopError, demo};

const PASSPHRASE: &[u8] = b"three wet stones";

/// A workshop in a folder of its own, with copies of the shipped plugins.
struct Bench {
    folder: tempfile::TempDir,
    runner: PathBuf,
    /// The clock of this bench.
    now: &'static str,
    /// Whether plugins are found.
    plugins: bool,
}

/// The folder of the build that this test belongs to.
fn built() -> PathBuf {
    let own = std::env::current_exe().unwrap();
    own.parent().unwrap().parent().unwrap().to_owned()
}

impl Bench {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let plugins = folder.path().join("plugins");
        fs::create_dir(&plugins).unwrap();
        for name in crate::SHIPPED_PLUGINS {
            let file = format!("libtangmark_{name}.so");
            let newest = [built().join("deps").join(&file), built().join(&file)]
                .into_iter()
                .filter(|path| path.is_file())
                .max_by_key(|path| fs::metadata(path).unwrap().modified().unwrap())
                .unwrap_or_else(|| {
                    panic!("{file} is not in {}: build it first", built().display())
                });
            fs::copy(newest, plugins.join(&file)).unwrap();
        }
        let bench = Self {
            runner: built().join("tangmark"),
            folder,
            now: "2026-06-01T09:00:00Z",
            plugins: true,
        };
        assert!(bench.runner.is_file(), "build the command first");
        let setup = Setup {
            folder: &bench.path("w"),
            name: "Reedbank Polishing",
            passphrase: PASSPHRASE,
            demo: false,
        };
        bench.with(|around| Workshop::setup(&setup, around).unwrap());
        for (plugin, file, text) in demo::GIVEN {
            let folder = bench.path("w").join("plugins").join(plugin);
            fs::create_dir_all(&folder).unwrap();
            fs::write(folder.join(file), text).unwrap();
        }
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn workshop(&self) -> Workshop {
        Workshop::open(&self.path("w")).unwrap()
    }

    fn with<T>(&self, work: impl FnOnce(&mut Surroundings<'_>) -> T) -> T {
        let mut count = 0_u8;
        let mut random = |bytes: &mut [u8]| {
            for byte in bytes {
                count = count.wrapping_add(37).rotate_left(1) ^ 0x5a;
                *byte = count;
            }
        };
        work(&mut Surroundings {
            now: self.now.parse().unwrap(),
            random: &mut random,
            runner: self.runner.clone(),
            plugin_folders: if self.plugins {
                vec![self.path("plugins")]
            } else {
                Vec::new()
            },
            scratch: std::env::temp_dir(),
        })
    }

    fn put(&self, text: &str) -> crate::PutSheet {
        let photos = self.path("photos");
        if !photos.exists() {
            fs::create_dir(&photos).unwrap();
            fs::create_dir(self.path("sheets")).unwrap();
            for (name, bytes) in demo::PHOTOS {
                fs::write(photos.join(name), bytes).unwrap();
            }
        }
        let file = self.path("sheets/sheet.toml");
        fs::write(&file, text).unwrap();
        self.with(|around| self.workshop().put_sheet(&file, None, None, around))
            .unwrap_or_else(|error| panic!("{error}"))
    }

    fn add(&self, blade: &str, pass: Map<String, Value>) -> Result<PassDone, WorkshopError> {
        self.with(|around| self.workshop().add_passes(&order(blade, pass), around))
    }

    fn seal(&self, blade: &str, purpose: Purpose, verdict: Verdict) -> crate::Sealed {
        self.with(|around| {
            let order = Order {
                blade,
                purpose,
                decision: Some(Decision {
                    verdict,
                    by: "A. Polisher".to_owned(),
                    reason: "as the checks say".to_owned(),
                    answers: Vec::new(),
                }),
                overrides: Vec::new(),
                refers_to: None,
                passphrase: PASSPHRASE,
                out: None,
            };
            self.workshop().seal(&order, around)
        })
        .unwrap_or_else(|error| panic!("{error}"))
    }

    /// The passes of the newest sheet.
    fn passes(&self, blade: &str) -> Vec<String> {
        let (sheet, _) = self.workshop().sheet(blade).unwrap();
        sheet
            .passes
            .iter()
            .map(|pass| pass.id.to_string())
            .collect()
    }

    /// Asserts that a pass is refused with the guard for a stop of this kind, that what was entered is kept, that
    /// nothing came onto the sheet, and that the same pass goes through where the guard is not there; takes it back.
    fn refused(&self, blade: &str, kind: StopKind) {
        let before = self.passes(blade);
        let error = self.add(blade, pass()).unwrap_err();
        let WorkshopError::Pass(PassError::Held {
            stops,
            kept: Some(kept),
            ..
        }) = &error
        else {
            panic!("{error}");
        };
        assert_eq!(stops[0].0.kind, kind, "{error}");
        assert!(
            error.hint().contains(kind.answered_by()),
            "{}",
            error.hint()
        );
        assert_eq!(self.passes(blade), before, "nothing came onto the sheet");
        let refused = self.workshop().refused(blade).unwrap();
        let entry = refused.iter().find(|one| one.entry == *kept).unwrap();
        assert_eq!(entry.passes, [pass()], "what was entered is kept");
        let timer = self.with(|around| {
            self.workshop()
                .start_timer(blade, &pass(), &Who::default(), around)
        });
        assert!(
            matches!(timer, Err(WorkshopError::Pass(PassError::Held { .. }))),
            "no timer either"
        );

        let done = switch::without(|| self.add(blade, pass())).unwrap_or_else(|error| {
            panic!("without the guard it goes through: {error}");
        });
        assert_eq!(self.passes(blade).len(), before.len() + 1);
        assert_eq!(done.passes.len(), 1);
        self.with(|around| self.workshop().undo_pass(blade, None, around))
            .unwrap();
        assert_eq!(self.passes(blade), before);
    }

    /// Asserts that a pass is logged, and takes it back.
    fn logged(&self, blade: &str) {
        let before = self.passes(blade);
        self.add(blade, pass())
            .unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(self.passes(blade).len(), before.len() + 1);
        self.with(|around| self.workshop().undo_pass(blade, None, around))
            .unwrap();
    }
}

fn order(blade: &str, pass: Map<String, Value>) -> PassOrder<'_> {
    PassOrder {
        blade,
        passes: vec![pass],
        sure: Some("as read".to_owned()),
        stay: true,
        who: Who::default(),
        timer: None,
    }
}

fn pass() -> Map<String, Value> {
    PassWords {
        operation: Some("grind".to_owned()),
        zones: vec!["ground".to_owned()],
        stone: Some("second foundation stone".to_owned()),
        time: Some("1 h".to_owned()),
        note: Some("entered once".to_owned()),
        ..PassWords::default()
    }
    .block()
    .unwrap()
}

fn sheet(name: &str) -> String {
    let found = demo::SHEETS.iter().find(|sheet| sheet.name == name);
    found.unwrap().text.to_owned()
}

/// Changes a text that must be there.
fn edit(text: &str, from: &str, to: &str) -> String {
    assert_eq!(text.matches(from).count(), 1, "`{from}` stands once");
    text.replacen(from, to, 1)
}

/// The sheet of the cracked blade as it was before anybody saw the crack.
fn before_the_crack() -> String {
    let text = sheet("gorge");
    let from = text.find("[[flaws]]\nid = \"crack-1\"").unwrap();
    let to = text.find("[[flaws]]\nid = \"rust-1\"").unwrap();
    format!("{}{}", &text[..from], &text[to..])
}

#[test]
fn an_older_draft_brought_back_does_not_open_a_sealed_hold() {
    let bench = Bench::new();
    bench.put(&before_the_crack());
    bench.logged("gorge");
    bench.put(&sheet("gorge"));
    bench.seal("gorge", Purpose::Intake, Verdict::SetAside);
    bench.refused("gorge", StopKind::FatalFlaw);
    // By undo, and by a sheet of its own.
    bench.put(&before_the_crack());
    bench.refused("gorge", StopKind::FatalFlaw);
    bench
        .with(|around| {
            let workshop = bench.workshop();
            workshop.undo_sheet("gorge", around)?;
            workshop.undo_sheet("gorge", around)
        })
        .unwrap();
    bench.refused("gorge", StopKind::FatalFlaw);
}

#[test]
fn no_clock_opens_a_hold() {
    let mut bench = Bench::new();
    bench.put(&sheet("gorge"));
    bench.seal("gorge", Purpose::Intake, Verdict::SetAside);
    // Set back before the looks on the sheet, the clock is told, and nothing is logged either.
    bench.now = "2001-01-01T00:00:00Z";
    let early = bench.add("gorge", pass()).unwrap_err().to_string();
    assert!(early.starts_with("the day of a look"), "{early}");
    assert!(bench.passes("gorge").is_empty());
    for now in [
        "2026-04-01T00:00:00Z",
        "2026-06-01T09:00:01Z",
        "2099-12-31T23:59:59Z",
    ] {
        bench.now = now;
        bench.refused("gorge", StopKind::FatalFlaw);
    }
    // Nor does a day that is said to be another one.
    for day in ["2020-01-01", "2026-03-01"] {
        let dated = PassOrder {
            who: Who {
                on: Some(day),
                by: None,
            },
            ..order("gorge", pass())
        };
        let refused = bench.with(|around| bench.workshop().add_passes(&dated, around));
        assert!(matches!(
            refused,
            Err(WorkshopError::Pass(PassError::Held { .. }))
        ));
        switch::without(|| bench.with(|around| bench.workshop().add_passes(&dated, around)))
            .unwrap();
        bench
            .with(|around| bench.workshop().undo_pass("gorge", None, around))
            .unwrap();
    }
}

/// A way in which triage comes not to run.
type Way<'a> = (&'a str, &'a dyn Fn(&mut Bench));

#[test]
fn without_triage_no_pass_is_logged() {
    let library = "plugins/libtangmark_triage.so";
    let ways: [Way<'_>; 5] = [
        ("not approved", &|bench| {
            bench.workshop().withdraw_plugin("triage").unwrap();
        }),
        ("missing", &|bench| {
            fs::remove_file(bench.path(library)).unwrap();
        }),
        ("no plugins at all", &|bench| bench.plugins = false),
        ("another library in its place", &|bench| {
            fs::copy(
                bench.path("plugins/libtangmark_custody.so"),
                bench.path(library),
            )
            .unwrap();
            bench
                .with(|around| bench.workshop().approve_plugin("triage", around))
                .unwrap();
        }),
        ("it dies", &|bench| {
            bench.runner = Path::new("/bin/false").to_owned();
        }),
    ];
    #[allow(clippy::print_stderr, reason = "names the way that failed")]
    for (way, break_it) in ways {
        let mut bench = Bench::new();
        bench.put(&sheet("heron"));
        bench.logged("heron");
        break_it(&mut bench);
        eprintln!("{way}");
        bench.refused("heron", StopKind::TriageNotRun);
    }
}

const PASS: &str = "\n[[passes]]\nid = \"p1\"\non = \"2026-03-20\"\noperation = \"grind\"\nzones = [\"ground\"]\ntime = \"1 h\"\n";

#[test]
fn passes_that_come_another_way_are_kept_told_and_listed() {
    let bench = Bench::new();
    let worked = format!("{}{PASS}", sheet("gorge"));
    let told = |remarks: &[String]| {
        remarks
            .iter()
            .filter(|remark| {
                remark.starts_with(
                    "pass `p1` came onto the sheet while triage/fatal.hagire stands unanswered",
                )
            })
            .count()
    };
    let put = bench.put(&worked);
    assert_eq!((told(&put.remarks), bench.passes("gorge").len()), (1, 1));
    // A pass that was there before is told once.
    let again = bench.put(&format!("{worked}note = \"again\"\n"));
    assert_eq!(told(&again.remarks), 0);
    // Taken out and brought back by an undo.
    bench.put(&sheet("gorge"));
    let back = bench
        .with(|around| bench.workshop().undo_sheet("gorge", around))
        .unwrap();
    assert_eq!((told(&back.remarks), bench.passes("gorge").len()), (1, 1));

    // Without the guard nobody is told: so the remarks come from it.
    bench.put(&sheet("gorge"));
    let untold = switch::without(|| bench.put(&worked));
    assert_eq!(told(&untold.remarks), 0);
    bench.put(&sheet("gorge"));
    let untold = switch::without(|| {
        bench
            .with(|around| bench.workshop().undo_sheet("gorge", around))
            .unwrap()
    });
    assert_eq!(told(&untold.remarks), 0);

    // Sealing lists it whatever was told.
    let sealed = bench.seal("gorge", Purpose::Intake, Verdict::SetAside);
    assert_eq!(sealed.under_hold, 1);
}
