//! Cases 41 to 47: values that are withheld, and disclosures that do not fit.

use serde_json::{Value, json};
use tangmark_core::record::withhold::RULES;
use tangmark_trust::withhold;

use super::material::{
    Material, as_values, counted, disclosure, disclosure_file, opened, signed_bytes,
};
use super::package::sound;
use super::{Corpus, Kind, MakeError};
use crate::sealed::fault;

/// A record of the corpus beside disclosures, and the same as a package.
fn both(
    corpus: &mut Corpus,
    material: &Material,
    number: u32,
    name: &str,
    disclosures: &[Value],
) -> Result<(), MakeError> {
    let file = disclosure_file(disclosures);
    corpus.add(
        number,
        Kind::Record,
        name,
        vec![
            ("record.json", material.records[2].bytes.clone()),
            ("disclosures.json", file.clone()),
        ],
    );
    let mut bag = sound(material)?;
    bag.put("disclosures/03.json", file);
    bag.close();
    corpus.package(number, name, bag.zipped());
    Ok(())
}

pub(super) fn add(corpus: &mut Corpus, material: &Material) -> Result<(), MakeError> {
    let record = &material.records[2];
    let all = as_values(&record.disclosures);
    let owner = record
        .disclosures
        .iter()
        .find(|one| one.path == "/agreement/owner/name")
        .ok_or_else(|| fault("disclosures")("no owner"))?;
    let [salt, _, _] = opened(owner)?;
    let owner_at = |parts: Value| vec![disclosure("/agreement/owner/name", &parts)];

    both(
        corpus,
        material,
        41,
        "another value",
        &owner_at(json!([salt, "name", "A. Nother"])),
    )?;
    let plain = as_values(std::slice::from_ref(owner));
    both(
        corpus,
        material,
        41,
        "one given twice",
        &[plain.clone(), plain.clone()].concat(),
    )?;
    both(
        corpus,
        material,
        41,
        "at another place than its own",
        &[json!({ "path": "/agreement/owner/address", "disclosure": owner.disclosure })],
    )?;
    let fresh = "AAECAwQFBgcICQoLDA0ODw";
    both(
        corpus,
        material,
        41,
        "one that no digest speaks of",
        &[
            plain.clone(),
            vec![disclosure(
                "/agreement/owner/contact",
                &json!([fresh, "contact", "weir@example.org"]),
            )],
        ]
        .concat(),
    )?;
    // A digest that stands twice is the record's own fault: it is signed that way.
    let twice = material.resealed(2, &material.keys.workshop, |record| {
        let digests = record["agreement"]["owner"]["_sd"].clone();
        record["agreement"]["_sd"] = json!([digests[0], digests[1]]);
    })?;
    corpus.record(41, "a digest that stands twice, signed", twice);

    for (name, parts) in [
        ("named _sd", json!([fresh, "_sd", ["x"]])),
        ("named with three full stops", json!([fresh, "...", "x"])),
        ("a name that is in clear", json!([fresh, "role", "owner"])),
    ] {
        both(corpus, material, 42, name, &owner_at(parts))?;
    }
    // The workshop itself shows and withholds one name: signed, but no record of its schema.
    let shadow = material.resealed(2, &material.keys.workshop, |record| {
        record["agreement"]["owner"]["name"] = json!("E. Sallow");
    })?;
    corpus.add(
        42,
        Kind::Record,
        "a name shown and withheld, signed",
        vec![
            ("record.json", shadow),
            ("disclosures.json", disclosure_file(&plain)),
        ],
    );

    let foreign = material.records[0]
        .disclosures
        .iter()
        .find(|one| one.path == owner.path)
        .ok_or_else(|| fault("disclosures")("no owner"))?;
    both(
        corpus,
        material,
        43,
        "of another record",
        &as_values(std::slice::from_ref(foreign)),
    )?;

    for (name, parts) in [
        ("no salt", json!(["name", "E. Sallow"])),
        (
            "a salt of 8 bytes",
            json!(["AAECAwQFBgc", "name", "E. Sallow"]),
        ),
        ("an empty salt", json!(["", "name", "E. Sallow"])),
    ] {
        both(corpus, material, 44, name, &owner_at(parts))?;
    }

    corpus.add(
        45,
        Kind::Record,
        "a price that can be guessed, salted",
        vec![("record.json", record.bytes.clone())],
    );
    corpus.record(46, "everything withheld", record.bytes.clone());
    both(corpus, material, 47, "everything disclosed", &all)?;
    let mut bag = sound(material)?;
    bag.take("disclosures/03.json");
    bag.close();
    corpus.package(47, "nothing disclosed", bag.zipped());

    // A value that is none of its property: disclosed, it fits its digest and not the schema.
    let mut odd = material.records[2].unsigned.clone();
    if let Some(agreement) = odd["agreement"].as_object_mut() {
        agreement.remove("_sd");
    }
    odd["agreement"]["price_ceiling"] = json!("cheap");
    let (odd, shown) = {
        let mut part = json!({ "agreement": odd["agreement"].clone() });
        if let Some(owner) = part["agreement"]["owner"].as_object_mut() {
            owner.remove("_sd");
        }
        let (part, shown) =
            withhold::withhold(&part, RULES, counted("odd salt")).map_err(fault("withholding"))?;
        odd["agreement"] = part["agreement"].clone();
        (odd, shown)
    };
    let price: Vec<_> = shown
        .into_iter()
        .filter(|one| one.path == "/agreement/price_ceiling")
        .collect();
    let bytes = signed_bytes(&odd, &material.keys.workshop)?;
    let mut bag = sound(material)?;
    for path in [super::package::REPORT, super::package::TIMESTAMP] {
        bag.take(path);
    }
    bag.put(&super::package::record_path(3), bytes);
    bag.put("disclosures/03.json", disclosure_file(&as_values(&price)));
    bag.close();
    corpus.package(41, "a value that its property cannot have", bag.zipped());
    Ok(())
}
