//! Materials on the sheet against the table of protected species.

use tangmark_author::words::{capitalised, list};
use tangmark_author::{Notes, text_column};
use tangmark_core::record::{Fitting, Material, ProtectedScreen, Sheet, Term as _};
use tangmark_plugin::{Level, Table};

use crate::months;
use crate::protected::{Appendix, Entry};
use crate::settings::Settings;

/// Looks every material up; returns whether one of them is listed.
pub(crate) fn judge(
    sheet: &Sheet,
    table: &[Entry],
    settings: &Settings,
    now: i32,
    notes: &mut Notes<'_>,
) -> bool {
    let mut used: Vec<&Entry> = Vec::new();
    let mut rows: Vec<Vec<String>> = Vec::new();
    for (index, fitting) in sheet.fittings.iter().enumerate() {
        let found: Vec<&Entry> = table
            .iter()
            .filter(|entry| fitting.materials.contains(&entry.material))
            .collect();
        if !found.is_empty() {
            one(fitting, index, &found, notes);
            screened(fitting, index, &found, notes);
        }
        for entry in &found {
            rows.push(vec![
                fitting.part.key().replace('_', " "),
                entry.material.gloss().to_owned(),
                entry.group.clone(),
                entry.appendix.words().to_owned(),
                entry.as_of.to_string(),
                entry.source.clone(),
                entry.note.clone().unwrap_or_default(),
            ]);
        }
        used.extend(found);
    }
    used.extend(mentioned(sheet, table, notes));
    not_named(sheet, notes);
    old(&used, settings, now, notes);
    if !rows.is_empty() {
        notes.table(Table {
            id: "materials.species".to_owned(),
            title: "Materials looked up in the table of protected species".to_owned(),
            columns: ["fitting", "material", "group", "list", "as of", "source", "note"].map(text_column).to_vec(),
            rows,
            source: "table `protected`, the newest rows of each material; ask your authority all the same".to_owned(),
        });
    }
    used.iter().any(|entry| entry.appendix.is_listed())
}

/// `elephant ivory (appendix I as of 2023-02, from memory)`.
fn said(entry: &Entry) -> String {
    format!(
        "{} ({}, as of {}, {})",
        entry.group,
        entry.appendix.words(),
        entry.as_of,
        entry.source
    )
}

fn one(fitting: &Fitting, index: usize, found: &[&Entry], notes: &mut Notes<'_>) {
    let part = fitting.part.key().replace('_', " ");
    let place = format!("/fittings/{index}/materials");
    let of = |listed: bool| -> Vec<String> {
        found
            .iter()
            .filter(|entry| {
                entry.appendix != Appendix::None && entry.appendix.is_listed() == listed
            })
            .map(|entry| said(entry))
            .collect()
    };
    let listed = of(true);
    if !listed.is_empty() {
        let message = format!(
            "The {part} is of a material that the lists of protected species name: {}. Before it is sold, lent or sent over a border, ask your \
             authority. Note species, part, how the material was told, and any paper that dates its acquisition: age alone proves nothing.",
            list(&listed)
        );
        notes.add(
            "materials.protected",
            Level::Caution,
            message,
            &[&place],
            Vec::new(),
        );
    }
    let ask = of(false);
    if !ask.is_empty() {
        let message = format!(
            "Whether the {part} is of a protected species depends on the animal or plant: {}. Note the species if it can be told, and ask your \
             authority before a border.",
            list(&ask)
        );
        notes.add(
            "materials.ask-species",
            Level::Info,
            message,
            &[&place],
            Vec::new(),
        );
    }
}

fn screened(fitting: &Fitting, index: usize, found: &[&Entry], notes: &mut Notes<'_>) {
    let part = fitting.part.key().replace('_', " ");
    let place = format!("/fittings/{index}");
    match fitting.protected {
        None | Some(ProtectedScreen::NotScreened) => {
            let message = format!(
                "Nobody has noted a look at the lists of protected species for the {part}. Look it up, and note the answer with the date of the list."
            );
            notes.add(
                "materials.not-screened",
                Level::Info,
                message,
                &[place],
                Vec::new(),
            );
        }
        Some(ProtectedScreen::AskAuthority) => {}
        Some(ProtectedScreen::NotFoundInList) => {
            let listed: Vec<&&Entry> = found
                .iter()
                .filter(|entry| entry.appendix.is_listed())
                .collect();
            if listed.is_empty() {
                return;
            }
            let looked = fitting.protected_as_of.as_ref();
            let newer = looked
                .and_then(|date| months::of(date.as_str()))
                .is_some_and(|month| listed.iter().all(|entry| month > entry.month()));
            let names: Vec<String> = listed.iter().map(|entry| said(entry)).collect();
            let (level, words) = match looked {
                Some(date) if newer => (
                    Level::Info,
                    format!(
                        "looked at a list of {date}, which is newer: if it is right, renew the table"
                    ),
                ),
                Some(date) => (
                    Level::Caution,
                    format!("looked at a list of {date}, which is not newer: look again"),
                ),
                None => (
                    Level::Caution,
                    "does not say of what date its list was: look again, and note the date"
                        .to_owned(),
                ),
            };
            let message = format!(
                "The sheet says that the material of the {part} was not found in a list, and the table has {}. The sheet {words}. Ask your \
                 authority all the same.",
                list(&names)
            );
            let places = [
                format!("{place}/protected"),
                format!("{place}/protected_as_of"),
            ];
            notes.add(
                "materials.screen-differs",
                level,
                message,
                &places,
                Vec::new(),
            );
        }
    }
}

/// Words that name a material beyond doubt.
const WORDS: &[(&str, Material)] = &[
    ("ivory", Material::Ivory),
    ("tortoiseshell", Material::Tortoiseshell),
    ("turtle shell", Material::Tortoiseshell),
    ("baleen", Material::Baleen),
    ("rhinoceros", Material::RhinocerosHorn),
    ("rosewood", Material::Rosewood),
    ("ebony", Material::Ebony),
    ("coral", Material::Coral),
    ("shark skin", Material::SharkSkin),
    ("象牙", Material::Ivory),
    ("鼈甲", Material::Tortoiseshell),
    ("珊瑚", Material::Coral),
    ("紫檀", Material::Rosewood),
    ("黒檀", Material::Ebony),
];

/// Finds protected materials in the free words of the sheet that no list of materials names.
fn mentioned<'a>(sheet: &Sheet, table: &'a [Entry], notes: &mut Notes<'_>) -> Vec<&'a Entry> {
    let mut texts: Vec<(String, &str, &[Material])> = Vec::new();
    for (index, text) in sheet.blade.materials_and_techniques.iter().enumerate() {
        texts.push((
            format!("/blade/materials_and_techniques/{index}"),
            text,
            &[],
        ));
    }
    for (index, text) in sheet.blade.related.iter().enumerate() {
        texts.push((format!("/blade/related/{index}"), text, &[]));
    }
    for (index, fitting) in sheet.fittings.iter().enumerate() {
        texts.push((
            format!("/fittings/{index}/description"),
            &fitting.description,
            &fitting.materials,
        ));
    }
    let mut used = Vec::new();
    for (place, text, named) in texts {
        let text = text.to_lowercase();
        for (word, material) in WORDS {
            let entries: Vec<&Entry> = table
                .iter()
                .filter(|entry| entry.material == *material && entry.appendix.is_listed())
                .collect();
            if named.contains(material) || !has_word(&text, word) || entries.is_empty() {
                continue;
            }
            let message = format!(
                "The words of the sheet speak of “{word}”, and no list of materials names it: {}. If it is there, enter it as the material of a \
                 fitting, so that it is looked up and followed.",
                list(&entries.iter().map(|entry| said(entry)).collect::<Vec<_>>())
            );
            notes.add(
                "materials.mentioned",
                Level::Info,
                message,
                &[&place],
                Vec::new(),
            );
            used.extend(entries);
        }
    }
    used
}

/// Tells whether a text has a word with no letter on either side.
fn has_word(text: &str, word: &str) -> bool {
    let latin = word.is_ascii();
    text.match_indices(word).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        let after = text[at + word.len()..].chars().next();
        !latin
            || ![before, after]
                .into_iter()
                .flatten()
                .any(char::is_alphabetic)
    })
}

fn not_named(sheet: &Sheet, notes: &mut Notes<'_>) {
    let bare: Vec<(usize, &Fitting)> = sheet
        .fittings
        .iter()
        .enumerate()
        .filter(|(_, one)| one.materials.is_empty() || one.materials.contains(&Material::Unknown))
        .collect();
    if bare.is_empty() {
        return;
    }
    let parts: Vec<String> = bare
        .iter()
        .map(|(_, one)| one.part.key().replace('_', " "))
        .collect();
    let places: Vec<String> = bare
        .iter()
        .map(|(index, _)| format!("/fittings/{index}"))
        .collect();
    let message = format!(
        "{}: the material is not named, so neither care nor the lists of protected species can be looked up. Name it, or note that it cannot be told.",
        capitalised(&list(&parts))
    );
    notes.add(
        "materials.not-named",
        Level::Info,
        message,
        &places,
        Vec::new(),
    );
}

fn old(used: &[&Entry], settings: &Settings, now: i32, notes: &mut Notes<'_>) {
    let Some(oldest) = used.iter().min_by_key(|entry| entry.month()) else {
        return;
    };
    let age = now - oldest.month();
    if age <= settings.list_months {
        return;
    }
    let message = format!(
        "The table of protected species that was used is of {}, {age} months ago, and {} are allowed. The lists change at every conference of the \
         parties, about every three years: look at the official ones, and put a newer table `protected` into this plugin's folder.",
        oldest.as_of, settings.list_months
    );
    notes.add(
        "materials.list-old",
        Level::Caution,
        message,
        &["/fittings"],
        Vec::new(),
    );
}

#[cfg(test)]
mod tests {
    use super::has_word;

    #[test]
    fn words_stand_alone() {
        assert!(has_word("an ivory peg", "ivory"));
        assert!(has_word("ivory", "ivory"));
        assert!(!has_word("coralline pattern", "coral"));
        assert!(has_word("目貫は象牙製", "象牙"));
    }
}
