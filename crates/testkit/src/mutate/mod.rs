//! Packages and loose files with something wrong in them, made by the thousand: what two readers of the format pages are
//! held against.
//!
//! The first are the failure cases, each made for a rule. In the others the changes know the structure: they are made in
//! the records, disclosures, histories, tokens, reports and photos, and in the manifests and the zip file around them.
//! Mostly the manifests are written anew afterwards, and mostly records are signed again, so that the deeper layers are
//! reached. The same seed and number give the same bytes.

mod bases;
mod chance;
mod disclosures;
#[allow(clippy::unnecessary_wraps)] // every kind of change has one form
mod evidence;
#[allow(clippy::unnecessary_wraps)]
mod files;
mod histories;
mod loose;
mod readings;
#[allow(clippy::unnecessary_wraps)]
mod records;
mod reports;
mod sealing;
mod slip;
mod verdict;
mod zips;

use serde::Serialize;
use tangmark_core::schema;
use tangmark_package::page;
use tangmark_trust::PublicKey;

pub use chance::{Chance, scramble};
pub use slip::Slip;
pub use verdict::{ReaderFacts, judged};

use crate::failures::authority;
use crate::failures::bag::Bag;
use crate::failures::material::Material;
use crate::failures::package::{self, REPORT, SCHEMA};
use crate::failures::zip::Zip;
use crate::failures::{self, Case, MakeError};

/// How what is judged is handed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// A package as one zip file.
    Zip,
    /// A package as a folder.
    Folder,
    /// One record or report, and files beside it.
    Loose,
}

/// What is judged, and what was done to it.
#[derive(Clone, Debug)]
pub struct Mutant {
    /// Kinds of change, joined by `+`.
    pub class: String,
    /// How it is handed in.
    pub form: Form,
    /// Path and bytes of each file: the zip file; or all files of the package; or the file that is judged and then those
    /// beside it.
    pub files: Vec<(String, Vec<u8>)>,
    /// Who reads it.
    pub reader: ReaderFacts,
    /// The keys of the reader's fingerprints.
    pub keys: Vec<PublicKey>,
}

/// A kind of change to the files of a package.
type Change = fn(&Maker, &mut Chance, &mut Bag) -> Result<(), MakeError>;

/// Kinds by name; how often each is taken, in parts of the whole.
const CHANGES: &[(&str, usize, Change)] = &[
    ("sound", 2, |_, _, _| Ok(())),
    ("record-value", 10, records::value),
    ("record-member", 8, records::member),
    ("record-text", 8, records::text),
    ("record-reading", 7, readings::change),
    ("record-proof", 14, sealing::proof),
    ("record-form", 2, sealing::form),
    ("record-head", 6, sealing::head),
    ("chain", 8, sealing::chain),
    ("disclosure", 10, disclosures::change),
    ("history", 9, histories::change),
    ("timestamp", 9, evidence::change),
    ("report", 9, reports::change),
    ("photo", 6, files::photo),
    ("file-bytes", 7, files::bytes),
    ("file-moved", 6, files::moved),
    ("manifest", 6, files::manifest),
    ("tag-file", 3, files::tag),
];

/// Makes mutants.
#[derive(Debug)]
pub struct Maker {
    material: Material,
    sound: Bag,
    /// Chains of the committed records.
    samples: Vec<Bag>,
    report: Vec<u8>,
    root: String,
    cases: Vec<Case>,
}

impl Maker {
    /// Gets the material ready.
    ///
    /// # Errors
    /// When the project's own types refuse what is made.
    pub fn new() -> Result<Self, MakeError> {
        let material = Material::new()?;
        let mut sound = package::sound(&material)?;
        // Long files that say the same in each package come in only some of them.
        let report = sound.take(REPORT);
        sound.take(SCHEMA);
        let root = authority::pem(&authority::root_certificate(&material.keys.root, true));
        Ok(Self {
            samples: bases::samples()?,
            cases: bases::cases(failures::all()?),
            material,
            sound,
            report,
            root,
        })
    }

    /// The package that nothing was done to, with every part.
    pub fn whole(&self) -> Bag {
        let mut bag = self.sound.clone();
        bag.put(REPORT, self.report.clone());
        bag.put(SCHEMA, schema::RECORD_V1.as_bytes());
        bag.close();
        bag
    }

    /// How many of the first mutants are failure cases, the same for each seed.
    pub fn cases(&self) -> u64 {
        self.cases.len() as u64
    }

    /// Mutant `number` of a seed.
    ///
    /// # Errors
    /// When a change cannot be made, which is a fault of this project.
    pub fn make(&self, seed: u64, number: u64) -> Result<Mutant, MakeError> {
        let mut chance = Chance::new(seed, number);
        let case = usize::try_from(number)
            .ok()
            .and_then(|number| self.cases.get(number));
        if let Some(case) = case {
            return Ok(bases::mutant(case, number, self));
        }
        let mut mutant = self.changed(&mut chance)?;
        (mutant.reader, mutant.keys) = self.reader(&mut chance)?;
        Ok(mutant)
    }

    /// A package that things were done to, or files out of one; of the reader nothing is said yet.
    fn changed(&self, chance: &mut Chance) -> Result<Mutant, MakeError> {
        let of_samples = chance.percent(12);
        let mut bag = match chance.pick(&self.samples) {
            Some(samples) if of_samples => samples.clone(),
            _ => self.sound.clone(),
        };
        let mut classes = Vec::new();
        if of_samples {
            classes.push("samples");
        }
        let zip_change = chance.percent(12);
        let form = match chance.below(100) {
            _ if zip_change => Form::Zip,
            0..=19 => Form::Loose,
            20..=26 => Form::Folder,
            _ => Form::Zip,
        };
        let changes = if zip_change {
            usize::from(chance.percent(20))
        } else {
            1 + usize::from(chance.percent(25))
        };
        let mut names = Vec::new();
        let mut chosen = Vec::new();
        for _ in 0..changes {
            let (name, change) = pick(chance);
            names.push(name);
            chosen.push(change);
        }
        if !of_samples && chance.percent(30) || names.contains(&"report") {
            bag.put(REPORT, self.report.clone());
        }
        if chance.percent(12) {
            bag.put(SCHEMA, schema::RECORD_V1.as_bytes());
        }
        if chance.percent(4) {
            bag.put("verify.html", page::page().as_bytes());
        }
        bag.close();
        // Changes of manifests are the last word on them.
        let mut keep_manifests = false;
        for (name, change) in names.iter().zip(&chosen) {
            let late = ["manifest", "tag-file"].contains(name);
            if late && !keep_manifests && chance.percent(90) {
                bag.close();
            }
            keep_manifests |= late;
            change(self, chance, &mut bag)?;
            classes.push(*name);
        }
        if form == Form::Loose {
            classes.push("loose");
            if let Some(files) = loose::taken(chance, &bag, names.contains(&"report")) {
                return Ok(Mutant::new(&classes, form, files));
            }
        }
        if !keep_manifests {
            if chance.percent(88) {
                bag.close();
            } else {
                classes.push("manifests-as-before");
            }
        }
        if form == Form::Folder {
            classes.push("folder");
            let files = bag.files.into_iter().collect();
            return Ok(Mutant::new(&classes, form, files));
        }
        let mut zip: Zip = bag.as_zip();
        let bytes = if zip_change {
            let (name, bytes) = zips::change(chance, &mut zip);
            classes.push(name);
            bytes
        } else {
            zip.write()
        };
        Ok(Mutant::zip(&classes, bytes))
    }

    /// Readers who know different things.
    fn reader(&self, chance: &mut Chance) -> Result<(ReaderFacts, Vec<PublicKey>), MakeError> {
        let keys = &self.material.keys;
        let mut reader = ReaderFacts::default();
        let mut known = Vec::new();
        if chance.percent(45) {
            let all = [&keys.workshop, &keys.workshop, &keys.second, &keys.stranger];
            let key = all[chance.below(all.len())].public_key();
            reader.fingerprints.push(key.fingerprint().to_string());
            known.push(key);
        }
        if chance.percent(45) {
            reader.authorities.push(self.root.clone());
        }
        if chance.percent(25) {
            for _ in 0..=chance.below(2) {
                let (_, file) = histories::made(self, chance)?;
                reader.histories.push(file);
            }
        }
        Ok((reader, known))
    }
}

impl Mutant {
    fn new(classes: &[&str], form: Form, files: Vec<(String, Vec<u8>)>) -> Self {
        Self {
            class: classes.join("+"),
            form,
            files,
            reader: ReaderFacts::default(),
            keys: Vec::new(),
        }
    }

    fn zip(classes: &[&str], bytes: Vec<u8>) -> Self {
        Self::new(classes, Form::Zip, vec![("package.zip".to_owned(), bytes)])
    }
}

fn pick(chance: &mut Chance) -> (&'static str, Change) {
    let all: usize = CHANGES.iter().map(|(_, parts, _)| parts).sum();
    let mut left = chance.below(all);
    for (name, parts, change) in CHANGES {
        if left < *parts {
            return (name, *change);
        }
        left -= parts;
    }
    ("sound", |_, _, _| Ok(()))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn the_same_seed_makes_the_same_files() {
        let maker = Maker::new().unwrap();
        let mut classes = std::collections::BTreeSet::new();
        let mut forms = Vec::new();
        let mut others = 0;
        let first = maker.cases();
        assert!(first > 250, "{first}");
        for number in [0, first - 1].into_iter().chain(first..first + 150) {
            let one = maker.make(7, number).unwrap();
            let again = maker.make(7, number).unwrap();
            assert_eq!((&one.files, &one.class), (&again.files, &again.class));
            others += usize::from(one.files != maker.make(8, number).unwrap().files);
            classes.extend(one.class.split('+').map(str::to_owned));
            forms.push(one.form);
        }
        assert!(classes.len() > 16, "{classes:?}");
        // Two seeds may make the same now and then, such as the package that nothing was done to.
        assert!(others > 120, "{others}");
        for form in [Form::Zip, Form::Folder, Form::Loose] {
            assert!(forms.contains(&form), "{form:?}");
        }
    }

    #[test]
    fn some_readers_have_histories() {
        let maker = Maker::new().unwrap();
        let first = maker.cases();
        let made = (first..first + 60).map(|number| maker.make(7, number).unwrap());
        let histories: usize = made.map(|mutant| mutant.reader.histories.len()).sum();
        assert!(histories > 8, "{histories}");
    }

    #[test]
    fn a_line_tells_what_the_library_opens_on_the_way() {
        let maker = Maker::new().unwrap();
        let mut bag = maker.whole();
        bag.close();
        let line = judged(0, &Mutant::zip(&["sound"], bag.zipped()), None).unwrap();
        let line: serde_json::Value = serde_json::from_str(&line).unwrap();
        let verdict = &line["verdict"];
        let shown = &verdict["revealed"]["data/disclosures/03.json"];
        assert_eq!(shown["/agreement/owner/name"], "E. Sallow");
        assert_eq!(shown["/valuation"]["value"]["amount"], "4800");
        let key = maker.material.keys.workshop.public_key().did_key();
        assert_eq!(verdict["pages_keys"][format!("data/{REPORT}")], key);
    }
}
