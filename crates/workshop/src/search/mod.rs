//! Looking for words: in the newest sheets and in the entries of the journal, with the places where they stand.

mod fold;

use serde::Serialize;
use serde_json::Value;
use tangmark_store::{SearchHit, Store as _, machine_made};

use self::fold::{Tokens, found};
use crate::{Workshop, WorkshopError};

/// Most places that are shown of one find.
const MOST_PLACES: usize = 5;
/// Characters shown before and after the words.
const AROUND: usize = 32;
/// Most marks in one text that are told.
const MOST_MARKS: usize = 20;

/// A text in which words were found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FoundPlace {
    /// Where it stands on the sheet or in the entry.
    pub place: String,
    /// The text around the words, cut with `…`.
    pub text: String,
    /// Where the words stand in it: first character and the one after the last, counted in characters from 0.
    pub marks: Vec<[usize; 2]>,
}

/// Something that holds all the words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Found {
    /// Blade, where it is about one.
    pub blade: Option<String>,
    /// Its title.
    pub title: Option<String>,
    /// Number of the entry in the journal; none where it is the newest sheet of the blade.
    pub entry: Option<u64>,
    /// Kind of the entry.
    pub kind: Option<String>,
    /// Day of the entry.
    pub on: Option<String>,
    /// Where the words stand, the fullest first, at most five.
    pub places: Vec<FoundPlace>,
    /// Further places.
    pub more_places: usize,
}

/// What a search found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Searched {
    /// The finds, what was entered last first.
    pub found: Vec<Found>,
    /// There are more than were asked for.
    pub more: bool,
}

impl Workshop {
    /// Looks for words in the newest sheets and in the entries of the journal that are in force: every word has to be
    /// there, from its beginning. Case, macrons and width of letters do not count. At most `limit` finds are opened.
    ///
    /// # Errors
    /// When there is no letter or digit among the words, or too many of them.
    pub fn search(&self, words: &str, limit: usize) -> Result<Searched, WorkshopError> {
        let mut hits = self.store().search(words, limit.saturating_add(1))?;
        let more = hits.len() > limit;
        hits.truncate(limit);
        let wanted: Vec<Tokens> = words.split_whitespace().map(Tokens::of).collect();
        let wanted: Vec<&Tokens> = wanted.iter().filter(|word| !word.is_empty()).collect();
        let found = hits
            .into_iter()
            .map(|hit| self.open_find(hit, &wanted))
            .collect::<Result<_, _>>()?;
        Ok(Searched { found, more })
    }

    fn open_find(&self, hit: SearchHit, wanted: &[&Tokens]) -> Result<Found, WorkshopError> {
        let title = hit
            .blade
            .as_deref()
            .map(|blade| self.store().standing(blade))
            .transpose()?
            .map(|row| row.title);
        let mut places = Vec::new();
        let (mut kind, mut on) = (None, None);
        if let Some(number) = hit.entry {
            let entry = self.store().entry(number)?;
            look("about", &Value::String(entry.subject), wanted, &mut places);
            look("", &entry.body.unwrap_or_default(), wanted, &mut places);
            kind = Some(entry.kind);
            on = Some(entry.on);
        } else {
            let blade = hit.blade.as_deref().unwrap_or_default();
            let draft = self.store().draft(blade)?;
            let body = draft.map(|draft| draft.body).unwrap_or_default();
            look("", &body, wanted, &mut places);
        }
        // What holds more of the words says more; among equals the order of the sheet.
        places.sort_by_key(|(words, _)| std::cmp::Reverse(*words));
        let more_places = places.len().saturating_sub(MOST_PLACES);
        places.truncate(MOST_PLACES);
        Ok(Found {
            blade: hit.blade,
            title,
            entry: hit.entry,
            kind,
            on,
            places: places.into_iter().map(|(_, place)| place).collect(),
            more_places,
        })
    }
}

/// Gathers the texts in which words stand, each with how many of the words.
fn look(place: &str, value: &Value, wanted: &[&Tokens], out: &mut Vec<(usize, FoundPlace)>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                let inner = if place.is_empty() {
                    name.clone()
                } else {
                    format!("{place}.{name}")
                };
                look(&inner, member, wanted, out);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                look(&format!("{place}[{index}]"), item, wanted, out);
            }
        }
        Value::String(text) if !machine_made(name_of(place), text) => {
            let tokens = Tokens::of(text);
            let mut marks = Vec::new();
            let mut words = 0;
            for word in wanted {
                let at = found(&tokens, word);
                words += usize::from(!at.is_empty());
                marks.extend(at);
            }
            if words > 0 {
                out.push((words, cut_out(place, text, marks)));
            }
        }
        _ => {}
    }
}

/// Name of the member that a place ends with: that of the list for one of its items.
fn name_of(place: &str) -> &str {
    let name = place.rsplit('.').next().unwrap_or_default();
    name.split('[').next().unwrap_or_default()
}

/// Cuts a text to what stands around the first words found in it.
fn cut_out(place: &str, text: &str, mut marks: Vec<[usize; 2]>) -> FoundPlace {
    marks.sort_unstable();
    marks.dedup();
    let letters: Vec<char> = text.chars().collect();
    let [first, end] = marks.first().copied().unwrap_or([0, 0]);
    let from = first.saturating_sub(AROUND);
    // A mark that is longer than a line is still shown whole.
    let to = (end.max(from + 2 * AROUND) + AROUND).min(letters.len());
    let lead = usize::from(from > 0);
    let mut shown: String = if from > 0 { "…" } else { "" }.to_owned();
    shown.extend(letters.get(from..to).unwrap_or_default());
    if to < letters.len() {
        shown.push('…');
    }
    let marks = marks
        .into_iter()
        .filter(|[_, end]| *end <= to)
        .map(|[first, end]| [first - from + lead, end - from + lead])
        .take(MOST_MARKS)
        .collect();
    FoundPlace {
        place: place.to_owned(),
        text: shown,
        marks,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use serde_json::json;

    use super::*;

    fn places(value: &Value, words: &str) -> Vec<FoundPlace> {
        let wanted: Vec<Tokens> = words.split_whitespace().map(Tokens::of).collect();
        let wanted: Vec<&Tokens> = wanted.iter().collect();
        let mut out = Vec::new();
        look("", value, &wanted, &mut out);
        out.sort_by_key(|(words, _)| std::cmp::Reverse(*words));
        out.into_iter().map(|(_, place)| place).collect()
    }

    #[test]
    fn places_are_dotted_and_words_are_marked() {
        let body = json!({
            "blade": { "title": "Short sword" },
            "tang": { "inscriptions": [{ "reading": "備前長船", "transliteration": "Bizen Osafune" }] },
            "flaws": [{ "note": "A bizen-like stain" }],
        });
        let at = |words: &str| -> Vec<(String, Vec<[usize; 2]>)> {
            places(&body, words)
                .into_iter()
                .map(|place| (place.place, place.marks))
                .collect()
        };
        let reading = "tang.inscriptions[0].reading".to_owned();
        let romaji = "tang.inscriptions[0].transliteration".to_owned();
        assert_eq!(at("備前"), [(reading, vec![[0, 2]])]);
        assert_eq!(at("OSAFU"), [(romaji.clone(), vec![[6, 11]])]);
        // The fullest first.
        assert_eq!(
            at("bizen osafune"),
            [
                (romaji, vec![[0, 5], [6, 13]]),
                ("flaws[0].note".to_owned(), vec![[2, 7]])
            ]
        );
    }

    #[test]
    fn what_the_index_leaves_out_is_no_place() {
        let body = json!({
            "custody": [{
                "to": { "name": "A. Buyer", "role": "buyer" },
                "maps_to": ["crm:E10"],
                "note": "after all",
            }],
            "photos": [{ "file": "a".repeat(64), "digest": "a" }],
        });
        let at = |words: &str| -> Vec<String> {
            let found = places(&body, words).into_iter();
            found.map(|place| place.place).collect()
        };
        assert_eq!(at("A. Buyer"), ["custody[0].to.name", "custody[0].to.role"]);
        assert_eq!(at("a"), ["custody[0].to.name"]);
        assert!(at("crm").is_empty());
    }

    #[test]
    fn long_texts_are_cut_around_the_words() {
        let body = json!({ "note": format!("{} rust {}", "x".repeat(100), "y".repeat(200)) });
        let [place] = &places(&body, "rust")[..] else {
            panic!("one place")
        };
        let [[first, end]] = place.marks[..] else {
            panic!("one mark")
        };
        let letters: Vec<char> = place.text.chars().collect();
        let marked: String = letters[first..end].iter().collect();
        assert_eq!(marked, "rust");
        assert!(place.text.starts_with('…') && place.text.ends_with('…'));
        assert!(letters.len() <= 3 * AROUND + 2, "{}", letters.len());
    }
}
