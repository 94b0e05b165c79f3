//! Demo sheets and audits, for the tests of a plugin.
//!
//! Everything here panics with a reason when something is wrong: it is for tests alone.
#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::missing_panics_doc,
    reason = "a test fails by panicking"
)]

use std::collections::BTreeMap;

use serde_json::{Value, json};
use tangmark_core::record::{
    Header, Issuer, Judgement, PhotoFile, Purpose, Record, SchemaRef, Sheet,
};
use tangmark_core::sheet::{self, SheetFormat};
use tangmark_core::units::{Decimal, Unit};
use tangmark_core::{Digest, schema};
use tangmark_plugin::{Artefact, CheckReply, CheckRequest, Description, Level, Refusal};

/// The moment at which trials take place.
pub const NOW: &str = "2026-06-01T00:00:00Z";

/// Returns the demo sheets by name, in order; photos stand for any file.
pub fn demo_sheets() -> BTreeMap<String, Value> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../samples/sheets");
    std::fs::read_dir(folder)
        .expect("the demo sheets lie in samples/sheets")
        .map(|entry| entry.expect("an entry of samples/sheets").path())
        .filter(|path| path.extension().is_some_and(|end| end == "toml"))
        .map(|path| {
            let name = path.file_stem().unwrap_or_default().to_string_lossy();
            let text = std::fs::read_to_string(&path).expect("a demo sheet can be read");
            (name.into_owned(), sheet(&text))
        })
        .collect()
}

/// Returns one demo sheet.
pub fn demo(name: &str) -> Value {
    demo_sheets()
        .remove(name)
        .unwrap_or_else(|| panic!("no demo sheet is called `{name}`"))
}

/// Reads a sheet written in TOML; photos stand for any file.
pub fn sheet(toml: &str) -> Value {
    let mut any_photo = |path: &str| {
        Ok(PhotoFile {
            digest: Digest::of(path.as_bytes()),
            length: 1,
            media_type: "image/jpeg".to_owned(),
            width_px: 1600,
            height_px: 380,
            orientation: None,
        })
    };
    let read = sheet::read(toml.as_bytes(), SheetFormat::Toml, &mut any_photo)
        .unwrap_or_else(|error| panic!("the sheet cannot be read: {error:?}"));
    serde_json::to_value(&read).expect("a sheet is JSON")
}

/// Makes a record around a sheet, as it would stand in the history of a blade: unsigned, nothing withheld.
pub fn record(sheet: &Value, sequence: u32, purpose: Purpose, issued_at: &str) -> Value {
    let sheet: Sheet = serde_json::from_value(sheet.clone()).expect("a sheet");
    let from = |value: Value| value;
    let header = Header {
        schema: SchemaRef {
            id: "tangmark-record".to_owned(),
            version: 1,
            digest: Digest::of(schema::RECORD_V1.as_bytes()),
        },
        record_id: serde_json::from_value(from(json!(format!("{sequence:032x}")))).expect("an id"),
        sequence,
        previous: (sequence > 1).then(|| Digest::of(&sequence.to_be_bytes())),
        issuer: Issuer {
            id: "did:key:zTrial".to_owned(),
            name: "Trial".to_owned(),
            demo: true,
        },
        purpose,
        issued_at: serde_json::from_value(from(json!(issued_at))).expect("a time"),
    };
    serde_json::to_value(Record::assemble(header, sheet, Judgement::default())).expect("JSON")
}

/// Asks about a sheet without history, settings and tables.
pub fn request(sheet: Value) -> CheckRequest {
    CheckRequest::new(NOW, &"0".repeat(32), sheet)
}

/// Runs a plugin twice on a request and holds its reply against everything the program asks for: the same reply both
/// times, an honest description, findings that fit a record, no word the tool never says.
pub fn judged(
    describe: fn() -> Description,
    check: fn(&CheckRequest) -> Result<CheckReply, Refusal>,
    request: &CheckRequest,
) -> CheckReply {
    let description = describe();
    assert_eq!(description.audit(&description.name), Ok(()));
    let reply = check(request).unwrap_or_else(|refusal| panic!("it refuses: {refusal}"));
    assert_eq!(
        check(request).as_ref(),
        Ok(&reply),
        "the same request gives the same reply"
    );
    assert_eq!(reply.audit(&description, &request.sheet), Ok(()));
    for rule in &description.rules {
        assert!(
            rule.source.chars().count() <= 400,
            "a record holds 400 characters of source: {}",
            rule.id
        );
        wording(&rule.title);
    }
    for finding in &reply.findings {
        wording(&finding.message);
        assert!(finding.source.chars().count() <= 400, "{}", finding.rule);
        for number in &finding.numbers {
            assert!(number.name.chars().count() <= 100, "{}", number.name);
            fits(
                &number.value,
                &number.unit,
                number.standard_uncertainty.as_deref(),
            );
        }
    }
    for quantity in &reply.quantities {
        fits(
            &quantity.value,
            &quantity.unit,
            quantity.standard_uncertainty.as_deref(),
        );
    }
    for artefact in &reply.artefacts {
        artefact_fits(artefact);
    }
    reply
}

fn artefact_fits(artefact: &Artefact) {
    let unit = |code: &str| {
        assert!(
            code.parse::<Unit>().is_ok(),
            "{}: a record does not know the unit `{code}`",
            artefact.id()
        );
    };
    match artefact {
        Artefact::Series(series) => {
            unit(&series.x.unit);
            unit(&series.y.unit);
            assert!(series.points.len() <= crate::notes::RECORD_POINTS);
        }
        Artefact::Table(table) => {
            for code in table.columns.iter().filter_map(|one| one.unit.as_deref()) {
                unit(code);
            }
        }
    }
}

fn fits(value: &str, unit: &str, uncertainty: Option<&str>) {
    assert!(
        unit.parse::<Unit>().is_ok(),
        "a record does not know the unit `{unit}`"
    );
    for text in std::iter::once(value).chain(uncertainty) {
        assert!(
            text.parse::<Decimal>().is_ok(),
            "a record cannot hold `{text}`"
        );
    }
}

/// The tool judges neither who made a blade nor whether handling or law allow a thing.
fn wording(text: &str) {
    for word in text
        .to_lowercase()
        .split(|letter: char| !letter.is_alphabetic())
    {
        assert!(
            !["authentic", "genuine", "safe", "legal"].contains(&word),
            "the tool never says `{word}`: {text}"
        );
    }
}

/// Writes a reply as people read it, for snapshots.
pub fn shown(reply: &CheckReply) -> String {
    let doubt = |uncertainty: &Option<String>| {
        uncertainty
            .as_ref()
            .map_or(String::new(), |u| format!(" (u {u})"))
    };
    let mut lines = Vec::new();
    for finding in &reply.findings {
        let level = match finding.level {
            Level::Info => "info",
            Level::Caution => "CAUTION",
            Level::Stop => "STOP",
        };
        lines.push(format!("{level} {}", finding.rule));
        lines.push(format!("  {}", finding.message));
        lines.push(format!("  at {}", finding.evidence.join(" ")));
        for number in &finding.numbers {
            lines.push(format!(
                "  {} = {}{} {}",
                number.name,
                number.value,
                doubt(&number.standard_uncertainty),
                number.unit
            ));
        }
    }
    for quantity in &reply.quantities {
        lines.push(format!(
            "quantity {} = {}{} {}",
            quantity.name,
            quantity.value,
            doubt(&quantity.standard_uncertainty),
            quantity.unit
        ));
    }
    for artefact in &reply.artefacts {
        match artefact {
            Artefact::Table(table) => {
                lines.push(format!("table {}: {}", table.id, table.title));
                let heads = table.columns.iter().map(|column| match &column.unit {
                    Some(unit) => format!("{} [{unit}]", column.name),
                    None => column.name.clone(),
                });
                lines.push(format!("  {}", heads.collect::<Vec<_>>().join(" | ")));
                lines.extend(
                    table
                        .rows
                        .iter()
                        .map(|row| format!("  {}", row.join(" | "))),
                );
            }
            Artefact::Series(series) => {
                lines.push(format!(
                    "series {}: {} ({} [{}] over {} [{}]), {} points",
                    series.id,
                    series.title,
                    series.y.name,
                    series.y.unit,
                    series.x.name,
                    series.x.unit,
                    series.points.len()
                ));
                lines.extend(series.points.iter().take(40).map(|point| {
                    format!(
                        "  {} {}{}",
                        point.x,
                        point.y,
                        doubt(&point.standard_uncertainty)
                    )
                }));
            }
        }
    }
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use tangmark_core::record::Pass;

    #[test]
    fn demo_sheets_are_read_and_become_history() {
        let all = demo_sheets();
        assert!(all.len() >= 6 && all.contains_key("reed-before"));
        let after = demo("reed-after");
        let sealed = record(&after, 2, Purpose::AfterWork, "2026-05-18T12:00:00Z");
        let mut asked = request(demo("reed-before"));
        asked.history = vec![sealed];
        let records = crate::history::records(&asked).expect("the history can be read");
        let sheet: Sheet = serde_json::from_value(asked.sheet.clone()).expect("a sheet");
        let logged = crate::passes::logged(&records, &sheet);
        let ids: Vec<&str> = logged.iter().map(|one| one.pass.id.as_str()).collect();
        assert_eq!(ids, ["p1", "p2", "p3", "p4"]);
        assert!(
            logged
                .iter()
                .all(|one| one.pointer.is_none() && one.sequence == Some(2))
        );
        let again: Sheet = serde_json::from_value(after).expect("a sheet");
        let both = crate::passes::logged(&records, &again);
        let passes: Vec<&Pass> = both.iter().map(|one| one.pass).collect();
        assert_eq!(passes.len(), 4, "a pass counts once");
        assert_eq!(both[3].pointer.as_deref(), Some("/passes/3"));
    }
}
