//! Packages with something wrong in them, made by the thousand: what two readers of the format pages are held against.
//!
//! The changes know the structure: they are made in the records, disclosures, histories, tokens, reports and photos, and in
//! the manifests and the zip file around them. Mostly the manifests are written anew afterwards, and mostly records are
//! signed again, so that the deeper layers are reached. The same seed and number give the same bytes.

mod chance;
mod disclosures;
#[allow(clippy::unnecessary_wraps)] // every kind of change has one form
mod evidence;
#[allow(clippy::unnecessary_wraps)]
mod files;
mod histories;
#[allow(clippy::unnecessary_wraps)]
mod records;
mod reports;
mod sealing;
mod verdict;
mod zips;

use tangmark_core::schema;
use tangmark_package::page;
use tangmark_trust::PublicKey;

pub use chance::{Chance, scramble};
pub use verdict::{ReaderFacts, judged};

use crate::failures::MakeError;
use crate::failures::authority;
use crate::failures::bag::Bag;
use crate::failures::material::Material;
use crate::failures::package::{self, REPORT, SCHEMA};
use crate::failures::zip::Zip;

/// A package, and what was done to it.
#[derive(Clone, Debug)]
pub struct Mutant {
    /// Kinds of change, joined by `+`.
    pub class: String,
    /// The zip file.
    pub zip: Vec<u8>,
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
    ("record-proof", 14, sealing::proof),
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
    report: Vec<u8>,
    root: String,
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

    /// Mutant `number` of a seed.
    ///
    /// # Errors
    /// When a change cannot be made, which is a fault of this project.
    pub fn make(&self, seed: u64, number: u64) -> Result<Mutant, MakeError> {
        let mut chance = Chance::new(seed, number);
        let mut bag = self.sound.clone();
        let zip_change = chance.percent(14);
        let mut classes = Vec::new();
        let changes = if zip_change {
            usize::from(chance.percent(20))
        } else {
            1 + usize::from(chance.percent(25))
        };
        let mut names = Vec::new();
        let mut chosen = Vec::new();
        for _ in 0..changes {
            let (name, change) = pick(&mut chance);
            names.push(name);
            chosen.push(change);
        }
        if chance.percent(30) || names.contains(&"report") {
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
            change(self, &mut chance, &mut bag)?;
            classes.push(*name);
        }
        if !keep_manifests {
            if chance.percent(88) {
                bag.close();
            } else {
                classes.push("manifests-as-before");
            }
        }
        let mut zip: Zip = bag.as_zip();
        let bytes = if zip_change {
            let (name, bytes) = zips::change(&mut chance, &mut zip);
            classes.push(name);
            bytes
        } else {
            zip.write()
        };
        let (reader, keys) = self.reader(&mut chance);
        Ok(Mutant {
            class: classes.join("+"),
            zip: bytes,
            reader,
            keys,
        })
    }

    /// Readers who know different things.
    fn reader(&self, chance: &mut Chance) -> (ReaderFacts, Vec<PublicKey>) {
        let keys = &self.material.keys;
        let mut reader = ReaderFacts {
            fingerprints: Vec::new(),
            authorities: Vec::new(),
            now: "2026-11-25T08:00:00Z".to_owned(),
        };
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
        (reader, known)
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
    fn the_same_seed_makes_the_same_packages() {
        let maker = Maker::new().unwrap();
        let mut classes = std::collections::BTreeSet::new();
        let mut others = 0;
        for number in 0..150 {
            let one = maker.make(7, number).unwrap();
            let again = maker.make(7, number).unwrap();
            assert_eq!((one.zip.clone(), &one.class), (again.zip, &again.class));
            others += usize::from(one.zip != maker.make(8, number).unwrap().zip);
            classes.insert(one.class.split('+').next().unwrap().to_owned());
        }
        assert!(classes.len() > 12, "{classes:?}");
        // Two seeds may make the same now and then, such as the package that nothing was done to.
        assert!(others > 120, "{others}");
    }
}
