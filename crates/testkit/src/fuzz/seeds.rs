//! Where changes start: sealed files, and what the failure cases hold.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use tangmark_core::Digest;

use super::{Known, LONGEST, Target, sealed};
use crate::cases;
use crate::failures::material::Material;
use crate::failures::{self, Case, Kind, MakeError, package};
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
        let mut seeds = Self::new_without_cases()?;
        for case in failures::all()? {
            seeds.add_case(&case);
        }
        Ok(seeds)
    }

    /// Those that nothing is wrong with.
    pub(super) fn new_without_cases() -> Result<Self, MakeError> {
        let material = Material::new()?;
        let mut seeds = Self {
            inputs: BTreeMap::new(),
            known: known(&material)?,
        };
        for case in cases::golden()? {
            seeds.add(Target::Record, case.bytes.clone());
            seeds.add(Target::Proof, case.bytes);
        }
        seeds.add(Target::Pdf, committed_report()?);
        seeds.add(Target::Pdf, failures::sound_report(&material)?);
        for record in &material.records {
            seeds.add(Target::Record, record.bytes.clone());
            seeds.add(Target::Proof, record.bytes.clone());
        }
        let mut sound = package::sound(&material)?;
        seeds.add(Target::Package, sound.zipped());
        // Small ones are tried more often in the same time.
        for path in [package::SCHEMA, package::REPORT] {
            sound.take(path);
        }
        sound.close();
        seeds.add(Target::Package, sound.zipped());
        Ok(seeds)
    }

    fn add(&mut self, target: Target, bytes: Vec<u8>) {
        if bytes.len() <= LONGEST {
            self.inputs.entry(target).or_default().push(bytes);
        }
    }

    fn add_case(&mut self, case: &Case) {
        let target = match case.kind {
            Kind::Json => return,
            Kind::Record => Target::Record,
            Kind::Pdf => Target::Pdf,
            Kind::Package => Target::Package,
            Kind::Keys => Target::History,
        };
        if sealed::is_anew(case) {
            sealed::take_up(case, &mut self.known);
        }
        for (_, bytes) in case
            .files
            .iter()
            .filter(|(name, _)| name.starts_with("keys"))
        {
            self.add(Target::History, bytes.clone());
        }
        // Of the many alike, one in so many.
        let kept = case.number != 14 || case.name.contains("/proof");
        if kept && target != Target::History {
            self.add(target, case.judged().to_vec());
        }
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

fn committed_report() -> Result<Vec<u8>, MakeError> {
    fs::read(cases::samples().join("renderers/1/report.pdf"))
        .map_err(fault("renderers/1/report.pdf"))
}

/// What the project itself sealed: nothing out of a hostile case, or a fault of the reader would excuse itself.
fn known(material: &Material) -> Result<Known, MakeError> {
    let mut known = Known::default();
    for case in cases::golden()? {
        known.add_sealed(&case.bytes);
    }
    known.add_sealed(&committed_report()?);
    known.add_sealed(&failures::sound_report(material)?);
    for (index, record) in material.records.iter().enumerate() {
        known.add_sealed(&record.bytes);
        let report = package::report(material, index + 1);
        known.add_sealed(&package::sign_report(material, &report)?);
        known
            .disclosures
            .extend(record.disclosures.iter().map(|one| one.disclosure.clone()));
    }
    known.add_document(&package::history(material)?.file());
    // With a fraction of a second it was there not later than the second after.
    let times = [package::STAMPED, "2026-05-18T12:00:01Z"];
    known.times.extend(times.map(str::to_owned));
    Ok(known)
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
