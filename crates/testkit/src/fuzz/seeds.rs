//! Where changes start: sealed files, and what the failure cases hold.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use tangmark_core::Digest;

use super::{Known, LONGEST, Target};
use crate::cases;
use crate::failures::material::Material;
use crate::failures::{self, Kind, MakeError, package};
use crate::sealed::fault;

/// Inputs by target, and all that was sealed in them.
#[derive(Clone, Debug)]
pub struct Seeds {
    inputs: BTreeMap<Target, Vec<Vec<u8>>>,
    known: Known,
}

impl Seeds {
    /// Seeds from the committed records and report, and from the failure cases.
    ///
    /// # Errors
    /// When a file cannot be read or a case cannot be made.
    pub fn new() -> Result<Self, MakeError> {
        let mut inputs: BTreeMap<Target, Vec<Vec<u8>>> = BTreeMap::new();
        let mut known = Known::default();
        let mut add = |target: Target, bytes: Vec<u8>| {
            if bytes.len() <= LONGEST {
                inputs.entry(target).or_default().push(bytes);
            }
        };
        for case in cases::golden()? {
            known.add_sealed(&case.bytes);
            add(Target::Record, case.bytes.clone());
            add(Target::Proof, case.bytes);
        }
        let report = fs::read(cases::samples().join("renderers/1/report.pdf"))
            .map_err(fault("renderers/1/report.pdf"))?;
        known.add_sealed(&report);
        add(Target::Pdf, report);
        let material = Material::new()?;
        let report = failures::sound_report(&material)?;
        known.add_sealed(&report);
        add(Target::Pdf, report);
        for record in &material.records {
            known.add_sealed(&record.bytes);
            add(Target::Record, record.bytes.clone());
            add(Target::Proof, record.bytes.clone());
        }
        let mut sound = package::sound(&material)?;
        add(Target::Package, sound.zipped());
        // Small ones are tried more often in the same time.
        for path in [package::SCHEMA, package::REPORT] {
            sound.take(path);
        }
        sound.close();
        add(Target::Package, sound.zipped());
        for case in failures::all()? {
            let target = match case.kind {
                Kind::Json => continue,
                Kind::Record => Target::Record,
                Kind::Pdf => Target::Pdf,
                Kind::Package => Target::Package,
                Kind::Keys => Target::History,
            };
            // What the cases hold was sealed by somebody of theirs: it may be called intact.
            for (name, bytes) in &case.files {
                if name.starts_with("keys") {
                    known.add_document(bytes);
                    add(Target::History, bytes.clone());
                } else if bytes.len() <= LONGEST
                    && Path::new(name)
                        .extension()
                        .is_some_and(|ending| ending == "pdf" || ending == "json")
                {
                    known.add_sealed(bytes);
                }
            }
            if target == Target::Package {
                known_in(&case.files[0].1, &mut known);
            }
            // Of the many alike, one in so many.
            let kept = case.number != 14 || case.name.contains("/proof");
            if kept && target != Target::History {
                add(target, case.files[0].1.clone());
            }
        }
        Ok(Self { inputs, known })
    }

    /// The inputs of a target.
    pub fn of(&self, target: Target) -> &[Vec<u8>] {
        self.inputs.get(&target).map_or(&[], Vec::as_slice)
    }

    /// All that may be called intact.
    pub fn known(&self) -> &Known {
        &self.known
    }
}

/// Takes up the records inside a package of the corpus.
fn known_in(zip: &[u8], known: &mut Known) {
    use tangmark_package::open::{Limits, open_bytes};
    let Ok(package) = open_bytes(zip.to_vec(), &Limits::default()) else {
        return;
    };
    for file in package.files() {
        if file.path.starts_with("data/records/")
            && let Ok(bytes) = package.read(&file.path, 16 << 20)
        {
            known.add_sealed(&bytes);
        }
    }
}

/// Writes the seeds of all targets below a folder, named by digest; returns how many files there are.
///
/// # Errors
/// When a file cannot be written.
pub fn write(out: &Path) -> Result<usize, MakeError> {
    let seeds = Seeds::new()?;
    let mut written = 0;
    for target in Target::ALL {
        let folder = out.join(target.name());
        fs::create_dir_all(&folder).map_err(fault("seeds"))?;
        for input in seeds.of(target) {
            let name = Digest::of(input).to_string();
            fs::write(folder.join(&name[..16]), input).map_err(fault("seeds"))?;
            written += 1;
        }
    }
    Ok(written)
}
