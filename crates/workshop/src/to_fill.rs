//! A sheet to go on with: what the workshop has of a blade, and the template's remarks for what it lacks.

use serde_json::{Map, Value, json};
use tangmark_core::record::{Key, Reason, Term as _};
use tangmark_store::Store as _;

use crate::sheets::template;
use crate::{Workshop, WorkshopError};

/// Stands before the sections that come from the workshop.
const KEPT: &str = "# As the workshop has it.\n";

/// A stretch of the template: all lines of one section, or of a part of it.
struct Stretch<'t> {
    /// Section of the sheet; none for the lines before the first.
    section: Option<&'t str>,
    text: &'t str,
}

/// Name of the section that a line begins, put out or not.
fn begins(line: &str) -> Option<&str> {
    let bare = line.strip_prefix("# ").unwrap_or(line);
    let name = bare.strip_prefix("[[").or_else(|| bare.strip_prefix('['))?;
    let end = name.find(['.', ']'])?;
    let name = name.get(..end)?;
    name.bytes()
        .all(|letter| letter.is_ascii_lowercase() || letter == b'_')
        .then_some(name)
}

/// Takes the template apart. Remarks right above a heading belong to it.
fn stretches(template: &str) -> Vec<Stretch<'_>> {
    let mut starts: Vec<(usize, Option<&str>)> = vec![(0, None)];
    let (mut at, mut remarks) = (0, None);
    for line in template.split_inclusive('\n') {
        if let Some(section) = begins(line) {
            starts.push((remarks.unwrap_or(at), Some(section)));
            remarks = None;
        } else if line.starts_with('#') {
            remarks = remarks.or(Some(at));
        } else {
            remarks = None;
        }
        at += line.len();
    }
    let ends = starts.iter().skip(1).map(|(start, _)| *start);
    let ends: Vec<usize> = ends.chain([template.len()]).collect();
    starts
        .iter()
        .zip(ends)
        .filter_map(|((start, section), end)| {
            Some(Stretch {
                section: *section,
                text: template.get(*start..end)?,
            })
        })
        .collect()
}

/// Writes quantities the short way where that says the same: without a stated uncertainty it is worked out again from
/// the same readings.
fn shorten(value: &Value) -> Value {
    match value {
        Value::Object(members) => short_quantity(members).unwrap_or_else(|| {
            let members = members
                .iter()
                .map(|(name, member)| (name.clone(), shorten(member)));
            Value::Object(members.collect())
        }),
        Value::Array(items) => Value::Array(items.iter().map(shorten).collect()),
        other => other.clone(),
    }
}

fn short_quantity(members: &Map<String, Value>) -> Option<Value> {
    let readings = members.get("as_read")?.as_array()?;
    members.get("standard_uncertainty")?;
    if members.get("uncertainty_from")?.as_str()? == "stated" {
        return None;
    }
    let texts: Vec<&str> = readings
        .iter()
        .map(|reading| reading.get("text")?.as_str())
        .collect::<Option<_>>()?;
    let mut short = Map::new();
    match texts.as_slice() {
        [] => return None,
        [one] => short.insert("text".to_owned(), json!(one)),
        more => short.insert("readings".to_owned(), json!(more)),
    };
    for name in ["instrument", "method"] {
        if let Some(value) = members.get(name) {
            short.insert(name.to_owned(), value.clone());
        }
    }
    match (short.len(), texts.as_slice()) {
        (1, [one]) => Some(json!(one)),
        _ => Some(Value::Object(short)),
    }
}

/// A section as TOML.
fn written(name: &str, value: &Value) -> Result<String, WorkshopError> {
    let fault = |what: String| WorkshopError::Canonical(format!("section `{name}`: {what}"));
    let section = json!({ name: shorten(value) });
    toml::to_string(&section).map_err(|error| fault(error.to_string()))
}

/// Whether the sheet holds no more of a section than an arrival gives: then the template's lines are wanted too.
fn of_arrival(section: &str, value: &Value, body: &Value) -> bool {
    let seen = ["tang", "temper_line", "grain", "flaws"];
    if seen.iter().any(|section| body.get(section).is_some()) {
        return false;
    }
    match section {
        "examination" => value["reason"] == Reason::Intake.key(),
        "dimensions" => value.as_object().is_some_and(|all| {
            all.keys()
                .all(|name| ["datum", "mass", "mass_state"].contains(&name.as_str()))
        }),
        _ => false,
    }
}

/// Puts the mass as it came in the place of the template's.
fn with_mass(text: &str, dimensions: &Value) -> String {
    let mut lines = String::new();
    for line in text.split_inclusive('\n') {
        let kept = ["mass", "mass_state"].into_iter().find_map(|name| {
            line.starts_with(&format!("{name} = ")).then_some(())?;
            let value = dimensions.get(name).map(shorten)?;
            Some(format!("{name} = {}\n", inline(&value)?))
        });
        lines.push_str(kept.as_deref().unwrap_or(line));
    }
    lines
}

/// A value on one line of TOML.
fn inline(value: &Value) -> Option<String> {
    let value: toml::Value = serde_json::from_value(value.clone()).ok()?;
    Some(value.to_string())
}

/// The sheet to go on with.
fn to_fill(blade: &Key, body: &Value) -> Result<String, WorkshopError> {
    let template = template(blade);
    let mut text = String::new();
    let mut done: Vec<&str> = Vec::new();
    let mut sections: Vec<&str> = Vec::new();
    for stretch in stretches(&template) {
        let Some(section) = stretch.section else {
            text.push_str(stretch.text);
            continue;
        };
        sections.push(section);
        match body.get(section) {
            Some(value) if of_arrival(section, value, body) => {
                if section == "dimensions" {
                    text.push_str(&with_mass(stretch.text, value));
                } else {
                    text.push_str(stretch.text);
                }
            }
            Some(value) => {
                if !done.contains(&section) {
                    done.push(section);
                    text.push_str(KEPT);
                    text.push_str(&written(section, value)?);
                    text.push('\n');
                }
            }
            None => text.push_str(stretch.text),
        }
    }
    for (section, value) in body.as_object().into_iter().flatten() {
        if !sections.contains(&section.as_str()) {
            text.push('\n');
            text.push_str(KEPT);
            text.push_str(&written(section, value)?);
        }
    }
    Ok(text)
}

impl Workshop {
    /// Returns the newest sheet of a blade as TOML to go on with: what there is, and the template for what lacks. Nothing
    /// where the blade is not here or has no sheet.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn sheet_to_fill(&self, blade: &Key) -> Result<Option<String>, WorkshopError> {
        let draft = match self.store().draft(blade.as_str()) {
            Ok(draft) => draft,
            Err(tangmark_store::StoreError::UnknownBlade(_)) => None,
            Err(error) => return Err(error.into()),
        };
        draft.map(|draft| to_fill(blade, &draft.body)).transpose()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::TEMPLATE;
    use tangmark_core::Digest;
    use tangmark_core::record::{PhotoFile, Sheet};
    use tangmark_core::sheet::{SheetFormat, from_value, read};

    fn sheet(text: &str) -> Sheet {
        let mut photo = |path: &str| {
            Ok(PhotoFile {
                digest: Digest::of(path.as_bytes()),
                length: 1,
                media_type: "image/jpeg".to_owned(),
                width_px: 1600,
                height_px: 380,
                orientation: None,
            })
        };
        read(text.as_bytes(), SheetFormat::Toml, &mut photo)
            .unwrap_or_else(|error| panic!("{error}\n{text}"))
    }

    fn again(body: &Value) -> (String, Sheet) {
        let key: Key = body["blade"]["id"].as_str().unwrap().parse().unwrap();
        let text = to_fill(&key, body).unwrap();
        let read = sheet(&text);
        (text, read)
    }

    #[test]
    fn a_sheet_that_is_written_to_go_on_with_says_the_same() {
        let samples = [
            include_str!("../../../samples/sheets/reed-before.toml"),
            include_str!("../../../samples/sheets/reed-after.toml"),
            include_str!("../../../samples/sheets/gorge.toml"),
            include_str!("../../../samples/sheets/lantern.toml"),
            include_str!("../../../samples/sheets/heron.toml"),
            include_str!("../../../samples/sheets/dune.toml"),
        ];
        for sample in samples {
            let before = sheet(sample);
            let (text, after) = again(&before.to_json().unwrap());
            assert_eq!(before, after, "{text}");
        }
    }

    #[test]
    fn what_came_stays_and_what_lacks_is_there_to_be_filled_in() {
        let body = json!({
            "blade": { "id": "reed", "title": "Long sword", "object_type": "sword", "kind_by_make": "katana",
                "construction": "other" },
            "dimensions": { "datum": "back_notch", "mass": { "text": "748.3 g", "instrument": "scale" }, "mass_state": "with_collar" },
            "examination": { "by": { "role": "polisher" }, "on": "2026-02-20", "light": "lamp", "reason": "intake",
                "methods": ["naked_eye"], "examined": ["mass"], "surface": "rusted", "completeness": "complete",
                "instruments": [{ "id": "scale", "name": "scale", "resolution": "0.1 g" }] },
            "custody": [{ "kind": "bought", "when": "2026-02-20", "price": "1200 EUR" }],
        });
        let kept = from_value(body).unwrap_or_else(|error| panic!("{error}"));
        let kept = kept.to_json().unwrap();
        let (text, after) = again(&kept);
        assert!(text.contains("mass_state = \"with_collar\""), "{text}");
        assert!(text.contains("748.3 g") && text.contains("# [[flaws]]"));
        let examination = after.examination.unwrap();
        assert_eq!(examination.reason, Reason::BeforeWork, "{text}");
        assert_eq!(after.custody.len(), 1);
        assert_eq!(
            after.custody[0].price.as_ref().unwrap().to_string(),
            "1200 EUR"
        );
        assert!(after.tang.is_some(), "from the template, to be looked at");
    }

    #[test]
    fn the_template_comes_apart_by_sections() {
        let all = stretches(TEMPLATE);
        let joined: String = all.iter().map(|stretch| stretch.text).collect();
        assert_eq!(joined, TEMPLATE);
        let sections: Vec<&str> = all.iter().filter_map(|stretch| stretch.section).collect();
        for section in [
            "blade",
            "examination",
            "dimensions",
            "tang",
            "flaws",
            "passes",
            "photos",
        ] {
            assert!(sections.contains(&section), "{section}");
        }
    }
}
