//! The tour: a demonstration workshop with five invented blades, from sheet to verdict, and one from parcel to sale.

mod bench;
mod handover;

use std::path::{Path, PathBuf};

use serde::Serialize;
use tangmark_core::record::{Decision, Level, Purpose, Term as _, UtcTime, Verdict};
use tangmark_core::sheet::SheetFormat;
use tangmark_store::DraftSource;
use tangmark_trust::verdict;

pub use bench::TourBench;
pub use handover::TourHandOver;

use crate::demo::{GIVEN, PHOTOS, SHEETS};
use crate::photos::FoundPhoto;
use crate::setup::write;
use crate::verify::{Verify, verify};
use crate::{
    Kind, Order, ReportWish, Setup, SetupReport, Speech, Surroundings, Workshop, WorkshopError,
    counted, sheets,
};

/// Passphrase of the demonstration key; it protects nothing.
pub const DEMO_PASSPHRASE: &str = "tour";

/// Name of the demonstration workshop.
const DEMO_NAME: &str = "Halloway & Daughter, edge polishers (demonstration)";

/// One blade of the tour.
#[derive(Clone, Debug, Serialize)]
pub struct TourBlade {
    /// Key.
    pub id: String,
    /// Kind by make.
    pub kind: String,
    /// Last decision.
    pub decision: String,
    /// Record files, oldest first.
    pub records: Vec<PathBuf>,
    /// Reports, oldest first.
    pub reports: Vec<PathBuf>,
}

/// One verification of the tour.
#[derive(Clone, Debug, Serialize)]
pub struct TourVerdict {
    /// What is shown.
    pub what: String,
    /// File.
    pub file: PathBuf,
    /// Exit code of `tangmark verify`.
    pub exit_code: u8,
    /// The verdict.
    pub verdict: verdict::Verdict,
}

/// Something that was asked on purpose and refused.
#[derive(Clone, Debug, Serialize)]
pub struct Refusal {
    /// What was asked.
    pub asked: String,
    /// What was answered.
    pub answer: String,
}

/// What the tour made.
#[derive(Clone, Debug, Serialize)]
pub struct TourReport {
    /// The workshop.
    pub workshop: SetupReport,
    /// Passphrase of its key.
    pub passphrase: &'static str,
    /// The certificate of the PDF signatures.
    pub certificate: PathBuf,
    /// Folder with the memory of a stranger.
    pub stranger_memory: PathBuf,
    /// Blades.
    pub blades: Vec<TourBlade>,
    /// Settings and tables that were laid out for the plugins.
    pub given: Vec<PathBuf>,
    /// Charts of the plan of the first blade.
    pub charts: Vec<PathBuf>,
    /// Refusals that were met on purpose.
    pub refusals: Vec<Refusal>,
    /// Verifications.
    pub verdicts: Vec<TourVerdict>,
    /// The first blade, handed over.
    pub handover: Option<TourHandOver>,
    /// A blade more, from the parcel to the sale.
    pub bench: TourBench,
}

struct Stop {
    sheet: &'static str,
    purpose: Purpose,
    verdict: Verdict,
    reason: &'static str,
    /// Reports beside the one of the condition in English.
    more: &'static [(Kind, Speech)],
}

impl Stop {
    /// Key of the blade that the sheet is about.
    fn blade(&self) -> &'static str {
        self.sheet.split('-').next().unwrap_or(self.sheet)
    }
}

const STOPS: &[Stop] = &[
    Stop {
        sheet: "reed-before",
        purpose: Purpose::BeforeWork,
        verdict: Verdict::Work,
        reason: "Sound edge, enough steel; rust goes, deep pits behind the ridge stay.",
        more: &[(Kind::Condition, Speech::Japanese)],
    },
    Stop {
        sheet: "reed-after",
        purpose: Purpose::AfterWork,
        verdict: Verdict::Work,
        reason: "Finished within the agreed limits; ready to go back to its owner.",
        more: &[
            (Kind::Comparison, Speech::English),
            (Kind::Buyer, Speech::Both),
        ],
    },
    Stop {
        sheet: "gorge",
        purpose: Purpose::Intake,
        verdict: Verdict::SetAside,
        reason: "Crack through the edge at 287 mm, seen on both faces: no stone touches it.",
        more: &[(Kind::Labels, Speech::English)],
    },
    Stop {
        sheet: "lantern",
        purpose: Purpose::Referral,
        verdict: Verdict::Refer,
        reason: "Attribution inlaid in gold and an early look: a senior specialist decides first.",
        more: &[(Kind::Referral, Speech::English)],
    },
    Stop {
        sheet: "heron",
        purpose: Purpose::BeforeWork,
        verdict: Verdict::Work,
        reason: "Straight, sound, ordinary; surface rust only.",
        more: &[(Kind::Identification, Speech::Japanese)],
    },
    Stop {
        sheet: "dune",
        purpose: Purpose::BeforeWork,
        verdict: Verdict::Work,
        reason: "Through-hardened, no temper line to lose; stains and one chip.",
        more: &[(Kind::Care, Speech::Both)],
    },
];

/// Takes the tour in a fresh folder; an earlier tour there is moved aside. `say` is told each step as it is done.
///
/// # Errors
/// When the folder holds anything but an earlier tour, or a step fails.
pub fn take(
    folder: &Path,
    around: &mut Surroundings<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<TourReport, WorkshopError> {
    if let Some(aside) = move_aside(folder)? {
        say(&format!("moved the earlier tour to {}", aside.display()));
    }
    let setup = Setup {
        folder,
        name: DEMO_NAME,
        passphrase: DEMO_PASSPHRASE.as_bytes(),
        demo: true,
    };
    let (workshop, setup) = Workshop::setup(&setup, around)?;
    say(&format!(
        "made a workshop with a throw-away key, fingerprint {}",
        setup.fingerprint
    ));
    let given = lay_out(&workshop)?;
    say(&format!(
        "laid out invented stones, comparables and rules for the plugins: {} below {}",
        counted(given.len(), "file"),
        workshop.folder().join("plugins").display()
    ));
    let mut blades: Vec<TourBlade> = Vec::new();
    let mut refusals = Vec::new();
    let mut charts = Vec::new();
    for stop in STOPS {
        visit(&workshop, stop, &mut blades, &mut refusals, around, say)?;
        if charts.is_empty() {
            charts = plan(&workshop, stop.blade(), around, say)?;
        }
    }
    let stranger_memory = workshop.out_folder().join("stranger");
    let verdicts = show_verdicts(&workshop, &blades, &around.now.clone(), say)?;
    let handover = match blades.first() {
        Some(first) => Some(handover::hand_over(&workshop, first, around, say)?),
        None => None,
    };
    let bench = bench::at_the_bench(&workshop, around, say)?;
    Ok(TourReport {
        certificate: workshop.out_folder().join("card/certificate.pem"),
        workshop: setup,
        passphrase: DEMO_PASSPHRASE,
        stranger_memory,
        blades,
        given,
        charts,
        refusals,
        verdicts,
        handover,
        bench,
    })
}

/// Lays out what the demonstration workshop sets for its plugins.
fn lay_out(workshop: &Workshop) -> Result<Vec<PathBuf>, WorkshopError> {
    let mut files = Vec::new();
    for (plugin, name, text) in GIVEN {
        let folder = workshop.plugin_folder(plugin);
        std::fs::create_dir_all(&folder)
            .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
        let file = folder.join(name);
        write(&file, text.as_bytes())?;
        files.push(file);
    }
    Ok(files)
}

/// Says what the plan of a blade comes to, and writes its charts.
fn plan(
    workshop: &Workshop,
    blade: &str,
    around: &Surroundings<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<Vec<PathBuf>, WorkshopError> {
    let planned = workshop.check(blade, around)?.only(&["abrasives"]);
    for finding in &planned.findings {
        say(&format!("{blade}: plan: {}", finding.message));
    }
    planned.write_charts(&workshop.out_folder().join("plan"))
}

/// Moves an earlier tour out of the way, so that the same command can be given again; anything else is left alone.
fn move_aside(folder: &Path) -> Result<Option<PathBuf>, WorkshopError> {
    let earlier = folder.join("workshop.db").exists()
        && Workshop::open(folder).is_ok_and(|old| old.is_demo().unwrap_or(false));
    if !earlier {
        return Ok(None);
    }
    let Some(name) = folder
        .file_name()
        .map(|name| name.to_string_lossy().into_owned())
    else {
        return Ok(None);
    };
    let free = (1_u32..10_000)
        .map(|number| folder.with_file_name(format!("{name}.{number}")))
        .find(|path| !path.exists());
    let Some(aside) = free else { return Ok(None) };
    std::fs::rename(folder, &aside)
        .map_err(|error| WorkshopError::file("move aside", folder, error))?;
    Ok(Some(aside))
}

fn visit(
    workshop: &Workshop,
    stop: &Stop,
    blades: &mut Vec<TourBlade>,
    refusals: &mut Vec<Refusal>,
    around: &mut Surroundings<'_>,
    say: &mut dyn FnMut(&str),
) -> Result<(), WorkshopError> {
    let text = SHEETS
        .iter()
        .find(|sheet| sheet.name == stop.sheet)
        .map_or("", |sheet| sheet.text);
    let file = format!("{}.toml", stop.sheet);
    let (sheet, found) =
        sheets::read_bytes(text.as_bytes(), SheetFormat::Toml, &file, &mut demo_photo)?;
    let put = workshop.keep_sheet(&sheet, &found, None, DraftSource::Sheet, around)?;
    let blade = put.blade.as_str();
    say(&format!(
        "{blade}: {} with {}",
        sheet.blade.title,
        counted(put.photos, "photo")
    ));
    let checked = workshop.check(blade, around)?;
    let count = |level| {
        checked
            .findings
            .iter()
            .filter(|finding| finding.level == level)
            .count()
    };
    say(&format!(
        "{blade}: checked, {}, {}, {}",
        counted(count(Level::Stop), "stop"),
        counted(count(Level::Caution), "caution"),
        counted(count(Level::Info), "remark")
    ));
    for (held, by) in &checked.stops {
        say(&format!("{blade}: held: {} ({by})", held.message));
    }
    let mut order = Order {
        blade,
        purpose: stop.purpose,
        decision: Some(decision(stop.verdict, stop.reason)),
        overrides: Vec::new(),
        refers_to: None,
        passphrase: DEMO_PASSPHRASE.as_bytes(),
        out: None,
    };
    if !checked.stops.is_empty() {
        // Show that a held blade cannot be sealed for work.
        let refused = Order {
            purpose: Purpose::BeforeWork,
            decision: Some(decision(Verdict::Work, stop.reason)),
            ..order.clone()
        };
        if let Err(error) = workshop.seal(&refused, around) {
            let asked = format!("seal {blade} for work");
            say(&format!(
                "{blade}: asked to seal it for work, refused: {error}"
            ));
            refusals.push(Refusal {
                asked,
                answer: error.to_string(),
            });
        }
        order.overrides = Vec::new();
    }
    let sealed = workshop.seal(&order, around)?;
    say(&format!("{blade}: sealed {}", sealed.line()));
    let mut press = workshop.press(DEMO_PASSPHRASE.as_bytes())?;
    let mut reports = Vec::new();
    let usual = (Kind::default(), Speech::default());
    for (kind, speech) in std::iter::once(&usual).chain(stop.more) {
        let wish = ReportWish {
            kind: *kind,
            speech: *speech,
            ..ReportWish::default()
        };
        let file = workshop.report_file(blade, &wish, &workshop.out_folder())?;
        let report = press.report(blade, &wish, &file)?;
        let name = report.file.file_name().unwrap_or_default();
        say(&format!(
            "{blade}: {}, {}, signed",
            name.display(),
            counted(report.pages, "page")
        ));
        reports.push(report.file);
    }
    if !blades.iter().any(|line| line.id == blade) {
        blades.push(TourBlade {
            id: blade.to_owned(),
            kind: sheet.blade.kind_by_make.key().to_owned(),
            decision: String::new(),
            records: Vec::new(),
            reports: Vec::new(),
        });
    }
    let Some(line) = blades.iter_mut().find(|line| line.id == blade) else {
        return Ok(());
    };
    stop.verdict.key().clone_into(&mut line.decision);
    line.records.extend(sealed.file);
    line.reports.extend(reports);
    Ok(())
}

fn decision(verdict: Verdict, reason: &str) -> Decision {
    Decision {
        verdict,
        by: "Imre Halloway".to_owned(),
        reason: reason.to_owned(),
        answers: Vec::new(),
    }
}

fn demo_photo(name: &str) -> Result<FoundPhoto, String> {
    let file = name.rsplit('/').next().unwrap_or(name);
    let (file_name, bytes) = PHOTOS
        .iter()
        .find(|(photo, _)| *photo == file)
        .ok_or_else(|| format!("`{name}` is no photo of the tour"))?;
    FoundPhoto::of((*file_name).to_owned(), bytes.to_vec())
}

/// Verifies an own record, a stranger's view of it, and a tampered copy.
fn show_verdicts(
    workshop: &Workshop,
    blades: &[TourBlade],
    now: &UtcTime,
    say: &mut dyn FnMut(&str),
) -> Result<Vec<TourVerdict>, WorkshopError> {
    let Some(first) = blades.first() else {
        return Ok(Vec::new());
    };
    let (Some(record), Some(report)) = (first.records.last(), first.reports.last()) else {
        return Ok(Vec::new());
    };
    let folder = workshop.out_folder().join("stranger");
    std::fs::create_dir_all(&folder)
        .map_err(|error| WorkshopError::file("make the folder", &folder, error))?;
    let tampered = folder.join("tampered-record.json");
    let bytes =
        std::fs::read(record).map_err(|error| WorkshopError::file("read", record, error))?;
    write(&tampered, &tamper(&bytes))?;
    let memory = folder.join("memory");

    let others = &first.records[..first.records.len() - 1];
    let cases: [(&str, &Path, Option<&Workshop>); 4] = [
        ("own record, read in this workshop", record, Some(workshop)),
        ("the same record, read by a stranger", record, None),
        ("its report, read by a stranger", report, None),
        ("a copy with one digit changed", &tampered, None),
    ];
    let mut verdicts = Vec::new();
    for (what, file, own) in cases {
        let order = Verify {
            file,
            others,
            keys: &[],
            fingerprint: None,
            timestamps: &[],
            authorities: &[],
            memory: Some(&memory),
            workshop: own,
            remember: false,
            now,
        };
        let verdict = verify(&order)?.judged.verdict;
        say(&format!("verify {what}: exit code {}", verdict.exit_code()));
        verdicts.push(TourVerdict {
            what: what.to_owned(),
            file: file.to_owned(),
            exit_code: verdict.exit_code(),
            verdict,
        });
    }
    Ok(verdicts)
}

/// Changes one digit of the blade's mass, as somebody might who wants the steel back.
fn tamper(bytes: &[u8]) -> Vec<u8> {
    let text = String::from_utf8_lossy(bytes);
    text.replacen("741.9", "747.9", 1).into_bytes()
}
