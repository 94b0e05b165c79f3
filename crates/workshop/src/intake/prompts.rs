//! What to ask when a blade arrives: papers, borders, protected materials, carriage. In general words; what is allowed is
//! for the authorities to say.

use serde::Serialize;

use super::IntakeError;

/// A prompt.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Prompt {
    /// Name; the journal keeps which were shown.
    pub id: &'static str,
    /// Country by its code of two letters (ISO 3166-1), `EU` for its members; none: everywhere.
    pub country: Option<&'static str>,
    /// What it is about.
    pub topic: &'static str,
    /// What to ask or to look for.
    pub text: &'static str,
    /// What it rests on.
    pub source: &'static str,
}

const PRACTICE: &str = "common practice, no source";
const MEMORY: &str = "from memory; the law in force and the authority decide";

macro_rules! prompts {
    ($($id:literal $country:expr, $topic:literal $text:literal $source:expr;)+) => {
        /// Every prompt.
        pub const PROMPTS: &[Prompt] = &[$(Prompt { id: $id, country: $country, topic: $topic, text: $text, source: $source }),+];
    };
}

prompts! {
    "any.edge" None, "unpacking" "Unpack with the edge turned away and the point covered until the blade lies still; look at the parcel before you open it, and photograph damage." PRACTICE;
    "any.owner" None, "ownership" "Ask from whom it comes and since when, and for a paper that says so; a gap that is noted is worth more than a blank." PRACTICE;
    "any.lost" None, "ownership" "Ask whether somebody looked for it in a register of lost objects, and note the day of the search." PRACTICE;
    "any.border" None, "borders" "If it crossed a border, ask for the paper of the country it left and that of the country it entered; both authorities say what was needed then." "common practice after the UNESCO convention of 1970 (illicit trade in cultural property), from memory";
    "any.materials" None, "protected materials" "Look at mounting and box for ivory, horn, tortoiseshell, coral, baleen, ray skin, rosewood, ebony: a protected species may need a permit to be sold or to cross a border. The lists change; ask the authority for the one of the day." "CITES appendices, from memory; screen each fitting with its date";
    "any.carriage" None, "carriage" "Ask carrier, insurer and the authority named by your local code what holds for edged steel before it moves again; declare it truthfully." PRACTICE;
    "any.insured" None, "insurance" "Ask your insurer whether a blade that belongs to somebody else is covered while it lies with you, and up to what value." PRACTICE;
    "jp.card" Some("JP"), "registration" "Is the registration card there? It belongs to one blade and stays with it: compare length, curvature, holes and inscription with the blade. It says nothing of maker or worth." PRACTICE;
    "jp.owner" Some("JP"), "registration" "A change of owner is commonly reported to the board that issued the card, within a short term: ask that board." MEMORY;
    "jp.found" Some("JP"), "registration" "A blade found without a card: ask the police of the place before anything else is done with it." MEMORY;
    "jp.export" Some("JP"), "borders" "Before it leaves the country ask the agency for cultural affairs for the paper it needs; the card then commonly goes back to its board." MEMORY;
    "eu.import" Some("EU"), "borders" "Cultural goods beyond an age or value may need papers to come in, and a licence to go out: ask customs and the authority for cultural goods." "Regulation (EU) 2019/880 and Regulation (EC) 116/2009, from memory";
    "eu.arms" Some("EU"), "carriage" "Whether and how edged steel may be kept, carried and sent differs from country to country: ask the authority of yours." MEMORY;
    "gb.arms" Some("GB"), "carriage" "Law on offensive weapons speaks of curved blades and has exceptions that need proof: ask the authority, and the carrier for its terms." MEMORY;
    "gb.export" Some("GB"), "borders" "Old objects may need a licence to leave: ask the authority before one is promised abroad." MEMORY;
    "us.states" Some("US"), "carriage" "The law differs from state to state and from city to city: ask where you are and where it goes." MEMORY;
    "us.customs" Some("US"), "borders" "Proof of age may matter at the border: ask customs or a licensed broker which paper they take." MEMORY;
}

/// Members of the European Union by their codes (ISO 3166-1), from memory, as of 2026.
const EU: &[&str] = &[
    "AT", "BE", "BG", "CY", "CZ", "DE", "DK", "EE", "ES", "FI", "FR", "GR", "HR", "HU", "IE", "IT",
    "LT", "LU", "LV", "MT", "NL", "PL", "PT", "RO", "SE", "SI", "SK",
];

/// Whether the prompts of a country, or of the European Union, are for a code.
fn is_for(country: &str, code: &str) -> bool {
    code == country || (country == "EU" && EU.contains(&code))
}

/// Returns the prompts for these countries, those that hold everywhere first. A country without prompts of its own has
/// these alone; see [`without_prompts`].
///
/// # Errors
/// When one of them has not the form of a country's code.
pub fn prompts(countries: &[String]) -> Result<Vec<&'static Prompt>, IntakeError> {
    let form = |text: &str| text.len() == 2 && text.bytes().all(|one| one.is_ascii_uppercase());
    if let Some(other) = countries.iter().find(|one| !form(one)) {
        return Err(IntakeError::Country(other.chars().take(40).collect()));
    }
    let asked = |country: &str| countries.iter().any(|one| is_for(country, one));
    let found = PROMPTS
        .iter()
        .filter(|prompt| prompt.country.is_none_or(asked));
    Ok(found.collect())
}

/// Says which of these countries have no prompts of their own here, so that a code nobody has does not pass unnoticed.
pub fn without_prompts(countries: &[String]) -> Option<String> {
    let known = |code: &String| {
        let mut own = PROMPTS.iter().filter_map(|prompt| prompt.country);
        own.any(|country| is_for(country, code))
    };
    let unknown: Vec<&str> = countries
        .iter()
        .filter(|code| !known(code))
        .map(String::as_str)
        .collect();
    if unknown.is_empty() {
        return None;
    }
    let own = PROMPTS.iter().filter_map(|prompt| prompt.country);
    let mut own: Vec<&str> = own
        .map(|country| match country {
            "EU" => "EU (each of its members)",
            country => country,
        })
        .collect();
    own.dedup();
    Some(format!(
        "there is no prompt for {} here, only the general ones: check the code (ISO 3166-1), and ask the authorities there; \
         countries with prompts of their own: {}",
        unknown.join(", "),
        own.join(", ")
    ))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn ids(countries: &[&str]) -> Vec<&'static str> {
        let countries: Vec<String> = countries.iter().map(|one| (*one).to_owned()).collect();
        let found = prompts(&countries).unwrap();
        found.iter().map(|prompt| prompt.id).collect()
    }

    #[test]
    fn each_country_adds_its_own() {
        let general = ids(&[]);
        assert!(general.iter().all(|id| id.starts_with("any.")));
        let japan = ids(&["JP"]);
        assert!(japan.contains(&"jp.card") && !japan.contains(&"eu.import"));
        assert_eq!(&japan[..general.len()], general);
        let both = ids(&["DE", "JP"]);
        assert!(both.contains(&"jp.card") && both.contains(&"eu.import"));
        assert_eq!(ids(&["XX"]), general);
    }

    #[test]
    fn a_country_without_prompts_is_told_and_what_is_no_code_refused() {
        let told = |codes: &[&str]| {
            let codes: Vec<String> = codes.iter().map(|one| (*one).to_owned()).collect();
            without_prompts(&codes)
        };
        assert_eq!(told(&["JP", "DE", "EU", "GB", "US"]), None);
        assert_eq!(told(&[]), None);
        let words = told(&["ZZ", "JP", "UK"]).unwrap();
        assert!(
            words.contains("no prompt for ZZ, UK here")
                && words.ends_with(": JP, EU (each of its members), GB, US"),
            "{words}"
        );
        for other in ["zz", "jp", "Japan", "", "J1", "日"] {
            let error = prompts(&[other.to_owned()]).unwrap_err();
            assert!(error.to_string().contains("two capital letters"), "{error}");
        }
    }

    #[test]
    fn every_prompt_has_a_source_and_says_nothing_is_allowed() {
        for (index, prompt) in PROMPTS.iter().enumerate() {
            assert!(PROMPTS[..index].iter().all(|one| one.id != prompt.id));
            assert!(
                prompt.source.contains("common practice") || prompt.source.contains("from memory"),
                "{}",
                prompt.id
            );
            for word in ["legal", "allowed", "safe", "genuine", "authentic", "exempt"] {
                let words = prompt.text.to_lowercase();
                assert!(
                    !words
                        .split(|letter: char| !letter.is_alphabetic())
                        .any(|one| one == word),
                    "{}: {word}",
                    prompt.id
                );
            }
        }
    }
}
