//! What the label of a published value names.

use super::published::QuantityKind;

/// A label as understood.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Understood {
    pub(super) kind: QuantityKind,
    /// Words that are most likely misprints: as found, and as taken.
    pub(super) misprints: Vec<(String, &'static str)>,
}

/// Words worth comparing with; shorter ones are too near to one another.
const KNOWN: [&str; 10] = [
    "blade",
    "curvature",
    "cutting",
    "length",
    "width",
    "height",
    "weight",
    "overall",
    "depth",
    "nagasa",
];

/// Words that say whose length it is, not which.
const OBJECT: [&str; 14] = [
    "of",
    "the",
    "sword",
    "short",
    "long",
    "katana",
    "wakizashi",
    "tachi",
    "tanto",
    "dagger",
    "spear",
    "spearhead",
    "overall",
    "total",
];

/// Understands a label such as `L. of cutting edge`; `remark` is what stands in brackets after the
/// value, as in `Length: 71.70 centimetres (without tang)`.
///
/// Museums' habits, read from published lines: `L. of blade` includes the tang, `L. of cutting edge`
/// and `L. of blade edge` do not. `L. of sword blade` is used for both and stays `Other`.
pub(super) fn understand(label: &str, remark: Option<&str>) -> Understood {
    let mut misprints = Vec::new();
    // `spear (a): H.` names the part before the colon.
    let named = label.trim().trim_end_matches(':');
    let named = named.rsplit(':').next().unwrap_or(named);
    let words: Vec<String> = named
        .split(|c: char| !c.is_alphabetic())
        .filter(|word| !word.is_empty())
        .map(|word| {
            let word = word.to_lowercase();
            let known = KNOWN.into_iter().find(|known| is_misprint(&word, known));
            known.map_or(word.clone(), |known| {
                misprints.push((word, known));
                known.to_owned()
            })
        })
        .collect();
    let has = |word: &str| words.iter().any(|w| w == word);
    let says = |word: &str| remark.is_some_and(|remark| remark.to_lowercase().contains(word));
    let first = words.first().map_or("", String::as_str);
    let length = matches!(first, "l" | "length");
    let only = |allowed: &[&str]| {
        words
            .iter()
            .skip(1)
            .all(|word| allowed.contains(&word.as_str()))
    };
    let kind = if has("curvature") || has("sori") {
        QuantityKind::Curvature
    } else if (has("edge") && (has("cutting") || has("blade")))
        || has("nagasa")
        || (length && says("without tang"))
    {
        QuantityKind::BladeLength
    } else if length && has("blade") && (only(&["of", "the", "blade"]) || says("including tang")) {
        QuantityKind::BladeWithTang
    } else if (length && only(&OBJECT) && (first == "l" || words.len() > 1))
        || (first == "overall" && only(&["length"]))
    {
        // `Length` alone is left open: some give the overall length under it, some the blade's.
        QuantityKind::OverallLength
    } else {
        match first {
            "w" | "width" => QuantityKind::Width,
            "h" | "height" => QuantityKind::Height,
            "wt" | "weight" | "mass" => QuantityKind::Mass,
            _ => QuantityKind::Other,
        }
    };
    Understood { kind, misprints }
}

/// One letter wrong, missing, too many, or two neighbours swapped; a plural is none.
fn is_misprint(word: &str, known: &str) -> bool {
    if word == known || word.strip_suffix('s') == Some(known) {
        return false;
    }
    let (word, known): (Vec<char>, Vec<char>) = (word.chars().collect(), known.chars().collect());
    let head = word
        .iter()
        .zip(&known)
        .take_while(|(one, other)| one == other)
        .count();
    let (word, known) = (&word[head..], &known[head..]);
    let wrong_letter = word.get(1..) == known.get(1..);
    let too_many = word.get(1..) == Some(known);
    let missing = Some(word) == known.get(1..);
    let swapped = word.len() > 1
        && known.len() > 1
        && word[..2] == [known[1], known[0]]
        && word[2..] == known[2..];
    wrong_letter || too_many || missing || swapped
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_name_their_quantity() {
        use QuantityKind::{
            BladeLength, BladeWithTang, Curvature, Height, Mass, Other, OverallLength, Width,
        };
        for (label, remark, kind) in [
            ("L.", None, OverallLength),
            ("Overall length:", None, OverallLength),
            ("L. overall", None, OverallLength),
            ("L. of sword (katana)", None, OverallLength),
            ("L. of short sword (wakizashi)", None, OverallLength),
            ("L. of blade", None, BladeWithTang),
            ("Length of blade", Some("including tang"), BladeWithTang),
            ("L. of cutting edge", None, BladeLength),
            ("L. of blade edge", None, BladeLength),
            ("Length:", Some("without tang"), BladeLength),
            ("Nagasa", None, BladeLength),
            ("D. of curvature", None, Curvature),
            ("D. of blade curvature", None, Curvature),
            ("Curvature:", None, Curvature),
            ("W.", None, Width),
            ("spear (a): H.", None, Height),
            ("Wt.", None, Mass),
            ("L. of sword (katana) blade", None, Other),
            ("blade", None, Other),
            ("Length:", None, Other),
            ("L. of tang", None, Other),
            ("", None, Other),
        ] {
            let understood = understand(label, remark);
            assert_eq!(
                understood,
                Understood {
                    kind,
                    misprints: vec![]
                },
                "{label} {remark:?}"
            );
        }
    }

    #[test]
    fn misprints_are_named() {
        let understood = understand("L. of balde", None);
        assert_eq!(understood.kind, QuantityKind::BladeWithTang);
        assert_eq!(understood.misprints, [("balde".to_owned(), "blade")]);
        let understood = understand("D. of curbvature", None);
        assert_eq!(understood.kind, QuantityKind::Curvature);
        assert_eq!(
            understood.misprints,
            [("curbvature".to_owned(), "curvature")]
        );
        for (word, known) in [
            ("blad", "blade"),
            ("bladde", "blade"),
            ("glade", "blade"),
            ("lbade", "blade"),
        ] {
            assert!(is_misprint(word, known), "{word}");
        }
        for (word, known) in [
            ("blades", "blade"),
            ("blade", "blade"),
            ("bald", "blade"),
            ("bl", "blade"),
            ("", "blade"),
        ] {
            assert!(!is_misprint(word, known), "{word}");
        }
    }
}
