//! `tangmark search`.

use std::path::Path;

use clap::Args;
use tangmark_workshop::{Found, FoundPlace, Searched};

use crate::outcome::{Outcome, code, print, print_json};
use crate::show::{self, add, say};
use crate::surroundings;

/// Look for words in all sheets and in the journal: titles, inscriptions, notes, flaws, custody, fittings, costs
///
/// Every word has to be there, from its beginning: `osa` finds `Osafune`. Case, macrons and the width of letters do not
/// count, and kanji are found anywhere: 備前 finds 備前長船. Only newest sheets and entries in force are looked through; what
/// was entered last comes first.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  tangmark search rust tang
  tangmark search 備前
  tangmark search choji --limit 50 --json")]
pub(crate) struct Arguments {
    /// Words that have to be there, all of them
    #[arg(required = true)]
    words: Vec<String>,
    /// Most finds
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u32).range(1..=1000))]
    limit: u32,
    /// Print JSON
    #[arg(long)]
    json: bool,
}

pub(crate) fn run(arguments: &Arguments, workshop: Option<&Path>) -> Outcome {
    let workshop = surroundings::open(workshop)?;
    let limit = usize::try_from(arguments.limit).unwrap_or(usize::MAX);
    let searched = workshop.search(&arguments.words.join(" "), limit)?;
    if arguments.json {
        print_json(&searched)?;
        return Ok(code::GOOD);
    }
    print(&text(&searched))?;
    if searched.found.is_empty() {
        say("nothing found; fewer words, or the beginning of a word, find more");
    } else if searched.more {
        say(&format!(
            "there is more: see it with `--limit {}`",
            limit.saturating_mul(5).min(1000)
        ));
    }
    Ok(code::GOOD)
}

/// The text with the words between `»` and `«`.
fn marked(place: &FoundPlace) -> String {
    let mut shown = String::new();
    for (at, letter) in place.text.chars().enumerate() {
        let ends = place.marks.iter().filter(|[_, end]| *end == at).count();
        let begins = place.marks.iter().filter(|[first, _]| *first == at).count();
        shown.extend(std::iter::repeat_n('«', ends));
        shown.extend(std::iter::repeat_n('»', begins));
        shown.push_str(&show::plain(letter.encode_utf8(&mut [0; 4])));
    }
    let length = place.text.chars().count();
    let ends = place.marks.iter().filter(|[_, end]| *end == length).count();
    shown.extend(std::iter::repeat_n('«', ends));
    shown
}

fn heading(found: &Found) -> String {
    let title = found.title.as_deref().map(|title| show::cut(title, 60));
    let title = title.map_or_else(String::new, |title| format!(": {title}"));
    let blade = found.blade.as_deref();
    let Some(entry) = found.entry else {
        return format!("{}{title}", blade.unwrap_or_default());
    };
    let kind = found.kind.as_deref().unwrap_or_default();
    let on = found.on.as_deref().unwrap_or_default();
    let of = blade.map_or_else(String::new, |blade| format!(", {blade}{title}"));
    format!("entry {entry} ({kind}), {on}{of}")
}

fn text(searched: &Searched) -> String {
    let mut text = String::new();
    for found in &searched.found {
        add!(text, "{}\n", heading(found));
        for place in &found.places {
            add!(text, "  {}: {}\n", show::plain(&place.place), marked(place));
        }
        if found.more_places > 0 {
            let more = show::counted(found.more_places, "further place");
            add!(text, "  and {more}\n");
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_marked_and_nothing_steers_the_terminal() {
        let place = FoundPlace {
            place: "blade.title".to_owned(),
            text: "…a rust\u{1b}[31m rust".to_owned(),
            marks: vec![[3, 7], [13, 17]],
        };
        assert_eq!(marked(&place), "…a »rust«\\u{1b}[31m »rust«");
    }
}
