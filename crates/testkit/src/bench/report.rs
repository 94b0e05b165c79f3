//! Seal, render, sign and verify a report of four pages with four photos, beside ReportLab and pyHanko on equal content.

use std::fs;
use std::path::Path;
use std::process::Command;
use std::time::Instant;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use tangmark_core::record::Record;
use tangmark_report::scene::{Draw, Scene, Segment};
use tangmark_report::{Kind, PageSize, RenderInput, scene_of};
use tangmark_trust::memory::Memory;
use tangmark_trust::verdict::{self, Reader};
use tangmark_workshop::demo;

use super::{BenchError, ManyReports, Order, median, time};
use crate::sealed::{ISSUED_AT, MakeError, Trial, fault, key, sign_report};

/// Time in which a report is to be rendered and signed on one core of a quiet machine, in ms.
pub const REPORT_GOAL_MS: f64 = 12.0;
/// Time in which it is to be signed, in ms.
pub const SIGN_GOAL_MS: f64 = 4.0;
/// Memory that many reports are not to exceed, in kB.
pub const MEMORY_GOAL_KB: u64 = 64 * 1024;

/// Points in a millimetre.
const POINTS: f64 = 72.0 / 25.4;
/// Pages of the report; flaws are added until it has them.
pub(super) const PAGES: usize = 4;
/// Photos of the report.
const PHOTOS: usize = 4;

/// Times of making a report.
#[derive(Clone, Debug, Serialize)]
pub struct ReportBench {
    /// Pages.
    pub pages: usize,
    /// Photos.
    pub photos: usize,
    /// Runs of text on the pages.
    pub texts: usize,
    /// Bytes of the sealed record.
    pub record_bytes: usize,
    /// Bytes of the signed PDF.
    pub pdf_bytes: usize,
    /// What the report is for.
    pub kind: String,
    /// Part and its times, in µs on one core.
    pub parts: Vec<(&'static str, Spread)>,
    /// Many reports in a process of their own.
    pub many: Option<ManyReports>,
    /// The other side, where it was run.
    pub other: Option<OtherTimes>,
    /// Its time over ours, both laying out.
    pub times_faster: Option<f64>,
    /// Its time over ours, with every place told to it.
    pub times_faster_placed: Option<f64>,
}

/// Times of one part over all rounds, in µs.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Spread {
    /// The middle one.
    pub median: f64,
    /// The shortest.
    pub least: f64,
    /// The longest.
    pub most: f64,
}

impl Spread {
    fn of(times: Vec<f64>) -> Self {
        let fold = |start: f64, take: fn(f64, f64) -> f64| times.iter().copied().fold(start, take);
        let (least, most) = (fold(f64::INFINITY, f64::min), fold(0.0, f64::max));
        Self {
            median: median(times),
            least,
            most,
        }
    }
}

/// What the script of the other side says.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct OtherTimes {
    /// Median time of one report, in µs of the processor, without the start of Python: the other side lays out its
    /// texts, tables and pictures itself, as ours does.
    pub microseconds: f64,
    /// The same where it is told the place of every mark and lays nothing out.
    pub microseconds_placed: f64,
    /// Bytes of its signed PDF.
    pub pdf_bytes: u64,
    /// Most memory it held, in kB.
    pub peak_memory_kb: u64,
    /// Versions of what it used.
    pub versions: String,
}

/// `render and sign` is what one report of many takes; `together` begins with the sealing of the record, as the other
/// side does.
const PARTS: [&str; 6] = [
    "seal",
    "render",
    "sign",
    "verify",
    "render and sign",
    "together",
];
const TOGETHER: usize = 5;

pub(super) fn run(order: &Order<'_>, say: &mut dyn FnMut(&str)) -> Result<ReportBench, BenchError> {
    let (trial, sealed) = four_pages()?;
    let (rendered, pages) = trial.render(&sealed)?;
    let signed = sign_report(rendered.clone())?;
    let scene = scene(&trial, &sealed)?;
    let content = content(&trial, &sealed, &scene, order.scratch)?;
    let own = [key()?.public_key()];
    let memory = Memory::default();
    let reader = Reader {
        own_keys: &own,
        memory: &memory,
        now: ISSUED_AT,
        others: &[],
        histories: &[],
        evidence: &[],
    };
    let sound = || verdict::judge(&signed, &reader).verdict.exit_code() == 0;
    let mut times: [Vec<f64>; 6] = Default::default();
    let mut others = Vec::new();
    for round in 0..order.rounds {
        say(&format!("reports, round {} of {}", round + 1, order.rounds));
        for ((part, name), times) in PARTS.into_iter().enumerate().zip(&mut times) {
            times.push(match part {
                0 => time(order.slice, || trial.seal().is_ok(), name)?,
                1 => time(order.slice, || trial.render(&sealed).is_ok(), name)?,
                2 => time(order.slice, || sign_report(rendered.clone()).is_ok(), name)?,
                3 => time(order.slice, sound, name)?,
                4 => time(order.slice, || printed(&trial, &sealed).is_ok(), name)?,
                _ => time(order.slice, || whole(&trial).is_ok(), name)?,
            });
        }
        if let Some(python) = order.python {
            others.push(other(python, &content)?);
        }
    }
    let parts: Vec<(&'static str, Spread)> = PARTS.into_iter().zip(times.map(Spread::of)).collect();
    let together = parts[TOGETHER].1.median;
    let other = others.last().cloned().map(|last| OtherTimes {
        microseconds: median(others.iter().map(|other| other.microseconds).collect()),
        microseconds_placed: median(
            others
                .iter()
                .map(|other| other.microseconds_placed)
                .collect(),
        ),
        ..last
    });
    let many = order
        .testkit
        .filter(|_| order.reports > 0)
        .map(|testkit| many_apart(testkit, order.reports, say))
        .transpose()?;
    Ok(ReportBench {
        pages,
        photos: scene.images.len(),
        texts: texts(&scene).count(),
        record_bytes: sealed.len(),
        pdf_bytes: signed.len(),
        kind: format!("{:?}", trial.kind).to_lowercase(),
        times_faster: other.as_ref().map(|other| other.microseconds / together),
        times_faster_placed: other
            .as_ref()
            .map(|other| other.microseconds_placed / together),
        parts,
        many,
        other,
    })
}

/// Makes many reports in a process that does nothing else, so that its memory is theirs alone.
fn many_apart(
    testkit: &Path,
    reports: usize,
    say: &mut dyn FnMut(&str),
) -> Result<ManyReports, BenchError> {
    say(&format!("{reports} reports in a process of their own"));
    let failed = |what: String| BenchError::Program {
        program: testkit.display().to_string(),
        what,
    };
    let output = Command::new(testkit)
        .args(["reports", "--json", "--count", &reports.to_string()])
        .output()
        .map_err(|error| failed(error.to_string()))?;
    if !output.status.success() {
        return Err(failed(String::from_utf8_lossy(&output.stderr).into_owned()));
    }
    serde_json::from_slice(&output.stdout)
        .map_err(|error| failed(format!("its answer is not understood: {error}")))
}

/// As one report of many: the record is sealed, the key is open.
fn printed(trial: &Trial, sealed: &[u8]) -> Result<Vec<u8>, MakeError> {
    sign_report(trial.render(sealed)?.0)
}

fn whole(trial: &Trial) -> Result<Vec<u8>, MakeError> {
    let sealed = trial.seal()?;
    sign_report(trial.render(&sealed)?.0)
}

/// A record whose report for a buyer has exactly [`PAGES`] pages and [`PHOTOS`] photos: flaws are added until it has.
pub(super) fn four_pages() -> Result<(Trial, Vec<u8>), MakeError> {
    let files: Vec<&[u8]> = demo::PHOTOS
        .iter()
        .take(PHOTOS)
        .map(|(_, bytes)| *bytes)
        .collect();
    let mut trial = Trial::new(6)?;
    trial.kind = Kind::Buyer;
    trial.add_photos(&files)?;
    let mut last = 0;
    for flaws in 1..=60 {
        trial.add_flaws(flaws)?;
        let sealed = trial.seal()?;
        let (_, pages) = trial.render(&sealed)?;
        if pages == PAGES && shows_all_photos(&trial, &sealed)? {
            return Ok((trial, sealed));
        }
        last = pages;
    }
    Err(fault("trial report")(format!(
        "{PAGES} pages with {PHOTOS} photos wanted; 60 flaws make {last} pages"
    )))
}

fn shows_all_photos(trial: &Trial, sealed: &[u8]) -> Result<bool, MakeError> {
    let scene = scene(trial, sealed)?;
    let draws = scene.pages.iter().flat_map(|page| &page.groups);
    let shown = draws
        .flat_map(|group| &group.draws)
        .filter(|draw| matches!(draw, Draw::Image(_)));
    Ok(scene.images.len() == PHOTOS && shown.count() >= PHOTOS)
}

fn scene(trial: &Trial, sealed: &[u8]) -> Result<Scene, MakeError> {
    let record: Record = serde_json::from_slice(sealed).map_err(fault("record"))?;
    let fingerprint = key()?.public_key().fingerprint().to_string();
    let input = RenderInput {
        record_bytes: sealed,
        photos: &trial.photos,
        page: PageSize::A4,
        demo: true,
        fingerprint: &fingerprint,
        kind: trial.kind,
        speech: tangmark_report::Speech::default(),
        earlier: &[],
    };
    Ok(scene_of(&record, &input).map_err(fault("report"))?.0)
}

fn texts(scene: &Scene) -> impl Iterator<Item = &Draw> {
    let draws = scene
        .pages
        .iter()
        .flat_map(|page| &page.groups)
        .flat_map(|group| &group.draws);
    draws.filter(|draw| matches!(draw, Draw::Text(_)))
}

/// Writes what the other side is to show: the same texts, photos and paths, with our places in points from the lower
/// left.
fn content(
    trial: &Trial,
    sealed: &[u8],
    scene: &Scene,
    scratch: &Path,
) -> Result<std::path::PathBuf, MakeError> {
    let write = |name: &str, bytes: &[u8]| {
        let path = scratch.join(name);
        fs::write(&path, bytes).map_err(fault("content of the report"))?;
        Ok::<_, MakeError>(path)
    };
    let mut photos = serde_json::Map::new();
    for (digest, bytes) in &trial.photos {
        let path = write(&format!("{digest}.jpg"), bytes)?;
        photos.insert(digest.to_string(), json!(path));
    }
    let record = write("record.json", sealed)?;
    let mut pages = Vec::new();
    for page in &scene.pages {
        let mut marks: Vec<Value> = Vec::new();
        for draw in page.groups.iter().flat_map(|group| &group.draws) {
            match draw {
                Draw::Text(text) => marks.push(json!({
                    "text": text.text, "x": text.x * POINTS, "y": (page.height - text.y) * POINTS,
                    "size": text.size, "bold": text.weight != tangmark_report::font::Weight::Regular,
                })),
                Draw::Image(image) => marks.push(json!({
                    "photo": image.digest.to_string(), "x": image.x * POINTS,
                    "y": (page.height - image.y - image.height) * POINTS,
                    "width": image.width * POINTS, "height": image.height * POINTS,
                })),
                Draw::Path(path) => marks.push(json!({
                    "path": segments(&path.path, page.height), "fill": path.fill.is_some(),
                    "stroke": path.stroke.is_some(),
                })),
            }
        }
        pages.push(
            json!({ "width": page.width * POINTS, "height": page.height * POINTS, "marks": marks }),
        );
    }
    let fonts = Path::new(env!("CARGO_MANIFEST_DIR")).join("../report/fonts");
    let content = json!({
        "record": record, "photos": photos, "pages": pages,
        "regular": fonts.join("BIZUDPGothic-Regular.ttf"), "bold": fonts.join("BIZUDPGothic-Bold.ttf"),
    });
    write("content.json", content.to_string().as_bytes())
}

/// A path as letters and points.
fn segments(path: &tangmark_report::scene::Path, height: f64) -> Vec<Value> {
    let at = |point: [f64; 2]| [point[0] * POINTS, (height - point[1]) * POINTS];
    path.segments
        .iter()
        .map(|segment| match *segment {
            Segment::Move(to) => json!(["m", at(to)]),
            Segment::Line(to) => json!(["l", at(to)]),
            Segment::Curve(one, two, to) => json!(["c", at(one), at(two), at(to)]),
            Segment::Close => json!(["h"]),
        })
        .collect()
}

fn other(python: &Path, content: &Path) -> Result<OtherTimes, BenchError> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("bench/reportlab_pyhanko.py");
    let failed = |what: String| BenchError::Program {
        program: python.display().to_string(),
        what,
    };
    let start = Instant::now();
    let output = Command::new(python)
        .arg(&script)
        .arg(content)
        .output()
        .map_err(|error| failed(error.to_string()))?;
    if !output.status.success() {
        return Err(failed(String::from_utf8_lossy(&output.stderr).into_owned()));
    }
    let times: OtherTimes = serde_json::from_slice(&output.stdout)
        .map_err(|error| failed(format!("its answer is not understood: {error}")))?;
    // A wrong unit in the script would flatter us.
    if times.microseconds > start.elapsed().as_secs_f64() * 1e6 {
        return Err(failed("it reports more time than it took".to_owned()));
    }
    Ok(times)
}
